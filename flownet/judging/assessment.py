"""How runs stand: the one place that decides which limit counts, by how much, and what is void.

Whatever judges a solution or many of them reads this: never a margin against zero.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any, NamedTuple

import numpy as np

from flownet.judging.voids import STALL, Void, fan_out, voids
from flownet.results.batch import SolutionBatch, single
from flownet.results.limits import HELD_TO, Limit
from flownet.results.limits import THERMAL as THERMAL  # noqa: PLC0414 - read beside it
from flownet.results.solution import Solution
from flownet.schema.arrays import Array, Integers

STATUSES: tuple[str, ...] = ("unsolved", "void", "over", "unknown", "tight", "ok")  # worst first
UNSOLVED, VOID, OVER, UNKNOWN, TIGHT, OK = range(len(STATUSES))
NONE = len(STATUSES)  # of a limit that a run has not
HOLDS: tuple[int, ...] = (TIGHT, OK)
ALIKE = 6  # decimals of a margin (K, dB, h) that rank; the rest is round-off
DECIBELS = 50.0  # per decade of fan speed: common practice, no source


class Runs(NamedTuple):
    """What runs are judged by; (runs,) each."""

    limits: tuple[Limit, ...]  # arrays over runs, NaN where a run has not this one
    ok: Array  # which were solved
    tight: Array  # `limits.margin`: a temperature margin below it is tight [K]
    outside: Array  # [K]
    voids: tuple[Void, ...]
    out: Array  # whether a fan that runs in the design is out


class Assessment(NamedTuple):
    """(runs,) each, but `each`: (limits, runs)."""

    limits: tuple[Limit, ...]
    each: Integers  # index into STATUSES of every limit; NONE where a run has not this one
    row: Integers  # which of `limits` decides; -1 where there is none
    margin: Array  # of that limit, in its own unit; NaN without
    miss: Array  # largest share by which a limit is missed; infinite where no number says it
    status: Integers  # index into STATUSES
    order: Integers  # 0 for the worst run of all: not solved, void, broken, then least margin
    voids: tuple[Void, ...]
    dips: tuple[Void, ...]  # fans in stall while another is out: told, and tight at best

    @property
    def broken(self) -> Array:
        """(runs,) whether a limit is broken, be it on paper."""
        found: Array = (self.each == OVER).any(axis=0)
        return found

    @property
    def holds(self) -> Array:
        """(runs,) whether every limit is known to hold, and nothing makes that void."""
        return np.isin(self.status, HOLDS)

    def deciding(self, run: int) -> Limit | None:
        """The limit that decides, over all runs."""
        return self.limits[self.row[run]] if self.row[run] >= 0 else None

    def reasons(self, run: int) -> dict[str, list[str]]:
        """What makes a run void: reason -> subjects, causes first."""
        return _at_run(self.voids, run)

    def in_dip(self, run: int) -> dict[str, list[str]]:
        """Fans in stall for as long as another is out, in the same form."""
        return _at_run(self.dips, run)


def _at_run(found: Iterable[Void], run: int) -> dict[str, list[str]]:
    made: dict[str, list[str]] = {}
    for item in found:
        if item.runs[run]:
            made.setdefault(item.word, []).append(item.subject)
    return made


def assess(runs: Runs) -> Assessment:
    """How every run stands.

    A broken temperature limit decides; else a broken one of another kind, that which is broken by
    the largest share of its bound; else the temperature limit with the least margin. A void run
    keeps its margin, which then counts for nothing.
    """
    limits, count = runs.limits, len(runs.ok)
    thermal = np.array([item.limit in THERMAL for item in limits], bool)
    margins, bounds = (np.array([getattr(item, key).real for item in limits]).reshape(-1, count)
                       for key in ("margin", "bound"))  # fmt: skip
    each = _each(runs, thermal, margins, bounds)
    row = _row(each, thermal, margins, bounds)
    margin = _at(margins, row, np.nan)
    counted, dips = _divided(runs)
    status = np.min(each, axis=0, initial=NONE)
    status = np.where(status == NONE, UNKNOWN, status)
    status = np.where(_any(dips, count) & (status == OK), TIGHT, status)
    status = np.where(_any(counted, count), VOID, status)
    status = np.where(runs.ok, status, UNSOLVED)
    miss = np.max(_misses(runs, margins, bounds), axis=0, initial=-np.inf)
    miss = np.where(np.isin(status, (UNSOLVED, VOID, UNKNOWN)), np.inf, np.round(miss, ALIKE))
    order = _order(status, ~np.append(thermal, False)[row], margin, np.min(each, 0, initial=NONE))
    return Assessment(limits, each, row, margin, miss, status, order, counted, dips)


def assessed(what: Solution | SolutionBatch) -> Assessment:
    """How one solution stands, a single run, or every variant of a batch."""
    batch = single(what) if isinstance(what, Solution) else what

    def wide(values: Any) -> Array:
        return np.broadcast_to(np.real(values), len(batch))

    limits = tuple(item.map(wide) for item in batch.limits)
    return assess(Runs(
        limits, batch.ok, wide(batch.inputs_.columns["limits"]["margin"][0]),
        wide(batch.site["temperature"]), tuple(voids(batch)),
        fan_out(batch, batch.inputs_.enclosure.applied.failed),
    ))  # fmt: skip


def _each(runs: Runs, thermal: Array, margins: Array, bounds: Array) -> Integers:
    tight = thermal[:, None] & (margins < runs.tight)
    broken, holds = (
        np.array([getattr(item, key) for item in runs.limits], bool).reshape(margins.shape)
        for key in ("broken", "holds")
    )
    known = np.select([broken, tight, holds], [OVER, TIGHT, OK], UNKNOWN)
    return np.where(np.isnan(bounds), NONE, known)


def _row(each: Integers, thermal: Array, margins: Array, bounds: Array) -> Integers:
    with np.errstate(divide="ignore", invalid="ignore"):
        shares = margins / np.abs(bounds)
    warm, other = _least(margins, thermal), _least(shares, ~thermal)
    broken = (_at(each, other, NONE) == OVER) & (_at(each, warm, NONE) != OVER)
    return np.where((warm < 0) | broken, other, warm)


def _misses(runs: Runs, margins: Array, bounds: Array) -> Array:
    """Each by what must change: a share of the allowed rise over outside, speed, hours, flow.

    Below zero where the limit holds; infinite where the outside air alone breaks it.
    """
    rise = bounds - runs.outside
    least, noise = (np.array(found, bool).reshape(-1, 1) for found in (
        [item.at_least for item in runs.limits], [item.limit == "noise" for item in runs.limits],
    ))  # fmt: skip
    with np.errstate(all="ignore"):
        speed = 10 ** (-margins / DECIBELS) - 1
        hopeless = np.where(margins < -HELD_TO["air"], np.inf, -np.inf)
        warm = np.where(rise > 0, -margins / rise, hopeless)
        found = np.select([noise, least], [speed, -margins / bounds], warm)
    return np.where(np.isnan(margins), -np.inf, found)


def _order(status: Integers, cold: Array, margin: Array, paper: Integers) -> Integers:
    """Of equal ones the first is the worst; of void ones a broken limit on paper, of any kind, is
    worse than one that is kept."""
    order = np.empty(len(status), int)
    keys = (np.round(np.nan_to_num(margin), ALIKE), cold, paper != OVER, status)
    order[np.lexsort(keys)] = np.arange(len(status))
    return order


def _divided(runs: Runs) -> tuple[tuple[Void, ...], tuple[Void, ...]]:
    """What makes runs void, and stall in an outage, which does not."""
    found: tuple[list[Void], list[Void]] = [], []
    for item in runs.voids:
        aside = runs.out & (item.word == STALL)
        for kept, here in zip(found, (item.runs & ~aside, item.runs & aside), strict=True):
            if here.any():
                kept.append(item._replace(runs=here))
    return tuple(found[0]), tuple(found[1])


def _any(found: Sequence[Void], count: int) -> Array:
    every: Array = np.any([np.zeros(count, bool), *(item.runs for item in found)], axis=0)
    return every


def _least(values: Array, rows: Array) -> Integers:
    """(runs,) the row with the least value among some; -1 where none has one."""
    if not rows.any():
        return np.full(values.shape[1], -1)
    shown = np.where(rows[:, None] & ~np.isnan(values), values, np.inf)
    return np.where(np.isinf(shown).all(axis=0), -1, first_least(shown))


def first_least(values: Array) -> Integers:
    """The first row with the least value, alike to `ALIKE` decimals: the rest is round-off."""
    found: Integers = np.argmin(np.round(values, ALIKE), axis=0)
    return found


def _at(values: Array, row: Integers, nothing: float) -> Array:
    found: Array = np.vstack([values, np.full(values.shape[1], nothing)])[row, np.arange(len(row))]
    return found
