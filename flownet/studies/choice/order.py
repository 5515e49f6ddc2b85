"""What choices are ordered by: measures; which is best by one, which none beats in two."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from flownet.judging.assessment import ALIKE, OVER, THERMAL, UNKNOWN, UNSOLVED, VOID, Assessment
from flownet.schema import quantities as q
from flownet.schema.arrays import Array, Integers
from flownet.schema.quantities import Quantity

BROKEN = 1e6  # more than any measure
UNBOUNDED = 1e9  # instead of infinity, which has no spread
OTHERS, NO_VALUE, HEAT_FIRST, ON_PAPER = 1e3, 5e2, 1e6, 1e7  # see `score`


class Measure(NamedTuple):
    """One word of `best`."""

    quantity: Quantity
    first: str  # how the best by it is called
    of_fan: str  # the number of a fan type that it is
    of_option: str = ""  # the number of a combination that it is; empty: none is ordered by it


MEASURES = {
    "temperature": Measure(q.DIFFERENCE, "largest temperature margin", "margin",
                           "temperature_margin"),
    "noise": Measure(q.LEVEL, "quietest", "noise", "noise"),
    "power": Measure(q.POWER, "least fan power", "power", "power"),
    "price": Measure(q.PRICE, "lowest price", "price", "price"),
    "life": Measure(q.HOURS, "longest life", "life"),
}  # fmt: skip
RANKING = ("noise", "power", "temperature", "price")  # as a `[choice]` lists them


def score(stand: Assessment) -> Array:
    """(pairs,) one number that orders pairs as a comparison does: not solved, then void, then a
    broken temperature limit by its margin [K], then another broken limit by its share of the bound,
    then limits without a value, then what holds by its margin."""
    hot = np.array([*(item.limit in THERMAL for item in stand.limits), False], bool)[stand.row]
    bounds = np.array([item.bound for item in stand.limits]).reshape(-1, len(stand.row))
    bound = np.full(len(stand.row), np.nan)
    if len(stand.limits):
        bound = np.take_along_axis(bounds, np.maximum(stand.row, 0)[None], axis=0)[0]
    share = np.nan_to_num(stand.margin / np.abs(bound))
    margin = np.nan_to_num(stand.margin, posinf=OTHERS)
    found = np.where(hot, margin, OTHERS + margin)
    found = np.where(stand.status == UNKNOWN, -NO_VALUE, found)
    over = np.where(hot, margin - HEAT_FIRST, share - OTHERS)
    broken = (stand.status == OVER) | ((stand.status == VOID) & stand.broken)
    found = np.where(broken, over, found)
    found = np.where(stand.status == VOID, found - ON_PAPER, found)
    return np.where(stand.status == UNSOLVED, -np.inf, found)


def merit(measure: Array, score: Array, accepted: Array) -> Array:
    """(combinations,) what is minimised: the measure of what holds, else how far it is off."""
    off = BROKEN + np.where(np.isfinite(score), -score, UNBOUNDED)
    known = np.where(np.isnan(measure), BROKEN / 2, measure)
    return np.where(accepted, np.maximum(known, -BROKEN), off)


def ranked(measures: Sequence[Array], score: Array) -> Integers:
    """Combinations, the best first.

    Parameters
    ----------
    measures : of (combinations,) arrays
        Less is better, the first decides; NaN (not known) comes last.
    score : (combinations,) array
        Decides among equals: more is better; then the order they are in.
    """
    keys = [_rounded(measure) for measure in measures]
    found: Integers = np.lexsort((-np.round(score, ALIKE), *reversed(keys)))
    return found


def front(first: Array, second: Array, score: Array) -> tuple[Integers, Integers]:
    """Combinations that none is better than, and how many are equal to each in both measures.

    One is better than another where it is not worse in either measure and less in one. Of equal
    ones that with the highest score stands for all; NaN is not among them. By the first measure.
    """
    known = np.flatnonzero(~np.isnan(first) & ~np.isnan(second))
    if not len(known):
        return np.zeros(0, int), np.zeros(0, int)
    order = known[ranked([first[known], second[known]], score[known])]
    pairs = np.stack([_rounded(first[order]), _rounded(second[order])], axis=1)
    fresh = np.ones(len(order), bool)
    fresh[1:] = (pairs[1:] != pairs[:-1]).any(axis=1)
    heads = np.flatnonzero(fresh)
    alike = np.diff([*heads, len(order)])
    second_ = pairs[heads, 1]
    before = np.concatenate([[np.inf], np.minimum.accumulate(second_)[:-1]])
    best = second_ < before
    return order[heads[best]], alike[best]


def _rounded(measure: Array) -> Array:
    return np.where(np.isnan(measure), np.inf, np.round(measure, ALIKE) + 0.0)
