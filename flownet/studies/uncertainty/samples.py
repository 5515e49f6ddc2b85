"""Many samples of one case solved in runs, of which only arrays of results are kept."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from concurrent.futures import Executor
from typing import NamedTuple

import numpy as np

from flownet.enclosure.enclosure import Enclosure
from flownet.judging.voids import counted
from flownet.results.batch import SolutionBatch
from flownet.results.solution import PREFIXES, Limit
from flownet.results.tables import TOTALS
from flownet.schema.arrays import Array
from flownet.schema.fields import NONE
from flownet.schema.quantities import Quantity
from flownet.solve import BLOCK, Progress, solve_many

RUN = 8 * BLOCK  # samples whose whole solutions are held at once
GIVEN = ("limit", "level", "noise_distance")  # what a table repeats of the inputs


class Samples(NamedTuple):
    """Results as arrays, NaN where a sample was not solved or has no such value."""

    quantities: Mapping[str, Quantity]  # result path -> what it is
    values: Mapping[str, Array]  # result path -> (samples,)
    limits: tuple[Limit, ...]  # arrays over samples
    status: tuple[str, ...]  # empty where solved, else what went wrong
    voids: Mapping[str, Array] = NONE  # what makes samples void -> (samples,) bool

    @property
    def sound(self) -> Array:
        """(samples,) which nothing makes void."""
        none = np.zeros(len(self.status), bool)
        return np.asarray(~np.any([none, *self.voids.values()], axis=0))

    @property
    def ok(self) -> Array:
        """(samples,) which were solved."""
        return np.array([not words for words in self.status], bool)


def solve_samples(
    made: Enclosure, drawn: Mapping[str, Array], count: int, executor: Executor | None,
    progress: Progress | None,
) -> Samples:  # fmt: skip
    """Every sample; blocks have a fixed size, so that every executor returns the same numbers."""
    quantities: dict[str, Quantity] = {}
    values: dict[str, Array] = {}
    limits: dict[tuple[str, str], Limit] = {}
    status: tuple[str, ...] = ()
    void: dict[str, Array] = {}
    for start in range(0, count, RUN):
        here = slice(start, min(start + RUN, count))
        batch = solve_many(
            made, {path: column[here] for path, column in drawn.items()},
            executor=executor, progress=_shifted(progress, start, count),
        )  # fmt: skip
        for path, quantity, column in _numbers(batch):
            quantities[path] = quantity
            values.setdefault(path, np.full(count, np.nan))[here] = column
        for item in batch.limits:
            key = item.limit, item.subject
            into = limits.setdefault(key, _empty(item, count))
            for name in ("value", "bound", "margin"):
                getattr(into, name)[here] = getattr(item, name)
        for word, runs in counted(batch, made.applied.failed).items():
            void.setdefault(word, np.zeros(count, bool))[here] = runs
        status += batch.status
    kept = {path: column for path, column in values.items() if not np.isnan(column).all()}
    return Samples(quantities, kept, tuple(limits.values()), status, void)


def _numbers(batch: SolutionBatch) -> Iterator[tuple[str, Quantity, Array]]:
    """Every number that a solve finds, by its path."""
    for field in TOTALS:
        if field.name not in GIVEN and field.quantity is not None:
            yield f"total.{field.name}", field.quantity, batch.totals_[field.name]
    for name, kind in PREFIXES.items():
        table = getattr(batch, name)
        for row, label in enumerate(table.names):
            for field in table.fields:
                if field.quantity is not None and field.name not in GIVEN:
                    path = f"{kind}{label}.{field.name}"
                    yield path, field.quantity, table.columns[field.name][row]


def _empty(item: Limit, count: int) -> Limit:
    value, bound, margin = (np.full(count, np.nan) for _ in range(3))
    return item._replace(value=value, bound=bound, margin=margin)


def _shifted(progress: Progress | None, start: int, count: int) -> Progress | None:
    if progress is None:
        return None
    return lambda done, total: progress(start + done, count)
