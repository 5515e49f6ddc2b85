"""Order among combinations: which is best by one measure, and which none is better than by two."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from flownet.judging.assessment import ALIKE
from flownet.schema.arrays import Array, Integers
from flownet.studies.choice.evaluate import Evaluation

BROKEN = 1e6  # more than any measure
NOTHING = 1e9  # instead of infinity, which has no spread


def merit(measure: Array, score: Array, accepted: Array) -> Array:
    """(combinations,) what is minimised: the measure of what holds, else how far it is off."""
    off = BROKEN + np.where(np.isfinite(score), -score, NOTHING)
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


class TrialTable(NamedTuple):
    """Trials side by side: (combinations,) arrays, the less of a measure the better."""

    rows: Array
    score: Array
    accepted: Array
    measures: dict[str, Array]

    def order(self, best: Sequence[str], among: Integers) -> Integers:
        """Those given, the best first."""
        measures = [self.measures[name][among] for name in best]
        found: Integers = among[ranked(measures, self.score[among])]
        return found

    def front(self, pair: Sequence[str], among: Integers) -> tuple[Integers, Integers]:
        """Of those given the ones that none is better than, and how many are alike to each."""
        first, second = (self.measures[name][among] for name in pair)
        rows, alike = front(first, second, self.score[among])
        return among[rows], alike


def table_of(trials: Sequence[Evaluation]) -> TrialTable:
    """What holds was solved in every scenario that applies; a design without a fan that runs is
    silent."""
    rows = np.concatenate([trial.rows for trial in trials])
    whole = np.concatenate([
        ~trial.out & trial.applies.any(axis=1) & (trial.done | ~trial.applies).all(axis=1)
        for trial in trials
    ])  # fmt: skip
    space = trials[0].space
    noise = np.concatenate([trial.noise for trial in trials])
    noise = np.where(np.isnan(noise) & (space.running(rows) == 0), -np.inf, noise)
    noise = np.where(space.noisy(rows), noise, np.nan)
    measures = {
        "noise": noise, "power": np.concatenate([trial.power for trial in trials]),
        "temperature": -np.concatenate([trial.warm for trial in trials]),
        "price": space.prices(rows),
    }  # fmt: skip
    return TrialTable(rows, np.concatenate([trial.score for trial in trials]), whole, measures)
