"""Order among combinations: which is best by one measure, and which none is better than by two."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from flownet.schema.arrays import Array, Integers

ALIKE = 6  # decimals of a measure that count; the rest is round-off


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
