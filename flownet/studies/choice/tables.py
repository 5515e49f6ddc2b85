"""What every part of a choice goes by, and the measures of what was solved."""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import Executor
from typing import NamedTuple

import numpy as np

from flownet.schema.arrays import Array, Integers
from flownet.solve import Progress
from flownet.studies.choice import dominance
from flownet.studies.choice.space import Space
from flownet.studies.choice.trial import Trial


class Work(NamedTuple):
    """What all parts of a choice go by."""

    space: Space
    best: tuple[str, ...]
    asked: tuple[str, ...]
    prune: bool
    seed: int
    executor: Executor | None
    progress: Progress | None

    def trial(self, rows: Array) -> Trial:
        """Combinations, not solved yet."""
        return Trial(self.space, rows, self.asked, self.executor, self.progress)


class Table(NamedTuple):
    """Trials side by side: (combinations,) arrays, the less of a measure the better."""

    rows: Array
    score: Array
    accepted: Array
    measures: dict[str, Array]


def table_of(trials: Sequence[Trial]) -> Table:
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
    return Table(rows, np.concatenate([trial.score for trial in trials]), whole, measures)


def order(work: Work, table: Table, among: Integers) -> Integers:
    """Those given, the best first."""
    measures = [table.measures[name][among] for name in work.best]
    found: Integers = among[dominance.ranked(measures, table.score[among])]
    return found
