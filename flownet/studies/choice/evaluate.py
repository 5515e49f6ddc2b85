"""Combinations held against their limits, scenario by scenario.

The scenario that breaks most comes first, and a combination that broke a limit is not solved
again: it can never be accepted, so nothing is lost. What is kept of a combination are a few
numbers, whatever the number of scenarios.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, field
from typing import Any, NamedTuple

import numpy as np

from flownet.columns import Inputs
from flownet.enclosure import combinations
from flownet.enclosure.apply import covered, outlasts
from flownet.enclosure.changes import as_columns, steps
from flownet.enclosure.enclosure import Enclosure
from flownet.judging.assessment import OVER, THERMAL, UNKNOWN, UNSOLVED, VOID, Assessment
from flownet.schema import quantities as q
from flownet.schema.arrays import Array, Integers
from flownet.schema.errors import CaseError
from flownet.schema.quantities import Quantity
from flownet.solving.solve import BLOCK, Progress
from flownet.studies.choice.axes import Space, unique_rows
from flownet.studies.choice.scenario_groups import scenes_of
from flownet.studies.runs import Outcomes, Run, evaluate

CHUNK = 16 * BLOCK  # pairs at a time: bounded memory
NEXT = BLOCK // 2  # combinations that are completed before scores are compared again
SAMPLE = 128  # combinations that tell which scenario is the hardest
FEW = 4 * SAMPLE  # up to these no order is looked for
SAME = 1e-6  # of a score: nearer than this, round-off would decide
OTHERS, NO_VALUE, HEAT, PAPER = 1e3, 5e2, 1e6, 1e7  # see `score`
STATES = (".state", ".speed")  # of a fan: what decides whether it runs


class Verdicts(NamedTuple):
    """(pairs,) each: what one scenario says of combinations."""

    score: Array
    margin: Array
    limit: Integers  # of the trial's list: what decides; -1: none
    measured: Integers  # the limit that the margin is of, on paper where something makes it void
    fine: Array
    miss: Array  # largest share by which a limit is missed
    status: Integers  # index into STATUSES
    noise: Array
    power: Array
    warm: Array


class Task(NamedTuple):
    """What every part of a choice goes by."""

    space: Space
    best: tuple[str, ...]
    asked: tuple[str, ...]
    prune: bool
    seed: int
    executor: Executor | None
    progress: Progress | None

    def trial(self, rows: Array) -> Evaluation:
        """Combinations, not solved yet."""
        return Evaluation(self.space, rows, self.asked, self.executor, self.progress)


@dataclass(eq=False)
class Evaluation:
    """Combinations and what is known of them so far."""

    space: Space
    rows: Array  # (combinations, axes)
    asked: Sequence[str]
    executor: Executor | None
    progress: Progress | None
    limits: list[tuple[str, str, Quantity]] = field(default_factory=list)
    reasons: dict[str, None] = field(default_factory=dict)  # why something has no solution
    solved: int = 0  # pairs
    skipped: int = 0  # pairs that were not, their combination being out

    def __post_init__(self) -> None:
        count = len(self.rows)
        self.scenes, refused = scenes_of(self.space, self.rows, self.asked)
        self.entries = list(dict.fromkeys(scene.asked for scene in self.scenes))
        self.entry = [self.entries.index(scene.asked) for scene in self.scenes]
        self.applies = np.zeros((count, len(self.scenes)), bool)
        for k, scene in enumerate(self.scenes):
            self.applies[scene.rows, k] = True
        self.done = np.zeros_like(self.applies)
        shape = (count, len(self.entries))  # of those asked for: where it fails, and why
        self.fails, self.unsolved, self.void = (np.zeros(shape, bool) for _ in range(3))
        self.miss = np.full(count, -np.inf)  # the largest so far, of what fails with a number
        self.score = np.full(count, np.inf)
        self.margin = np.full(count, np.nan)
        self.limit, self.measured, self.scene = np.full((3, count), -1)  # of the worst pair
        self.out_limit, self.out_scene = np.full(count, -1), np.full(count, -1)  # the first broken
        self.noise, self.power = np.full(count, np.nan), np.full(count, np.nan)
        self.warm = np.full(count, np.nan)
        self.out = np.zeros(count, bool)
        for row, why in refused.items():
            self.out[row], self.score[row] = True, -np.inf
            self.fails[row], self.unsolved[row] = True, True
            self.reasons[why] = None

    # --- all of them -----------------------------------------------------------------------------

    def run(self, *, prune: bool = True, seed: int = 0) -> None:
        """Every scenario; `prune`: only for combinations that have broken nothing before."""
        order = self._order(seed)
        total, passed = int(self.applies.sum()), 0
        for k in order:
            rows = self.scenes[k].rows
            if prune:
                rows = rows[~self.out[rows]]
            for start in range(0, len(rows), CHUNK):
                part = rows[start : start + CHUNK]
                self.take(k, part, self._later(passed, total))
                passed += len(part)
            dropped = len(self.scenes[k].rows) - len(rows)
            self.skipped += dropped
            passed += dropped

    def _later(self, passed: int, total: int) -> Progress | None:
        """The bar of one chunk as a part of the whole; a pair solved once may stand for several."""
        told = self.progress
        return told and (lambda done, _: told(min(passed + done, total), total))

    def _order(self, seed: int) -> list[int]:
        """Scenarios, first the one that breaks most of a sample, then most of the rest."""
        count = len(self.rows)
        left = list(range(len(self.scenes)))
        if count <= FEW or len(left) < 2:
            return left
        sample = np.sort(np.random.default_rng(seed).choice(count, SAMPLE, replace=False))
        broken = np.zeros((SAMPLE, len(left)), bool)
        for k in left:
            here = np.isin(sample, self.scenes[k].rows)
            broken[here, k] = ~self._verdicts(k, sample[here], None).fine
        order: list[int] = []
        alive = np.ones(SAMPLE, bool)
        while left:
            counts = broken[alive][:, left].sum(axis=0)
            best = left.pop(int(np.argmax(counts)))
            order.append(best)
            alive &= ~broken[:, best]
        return order

    def complete(self, count: int) -> Integers:
        """The combinations that come closest, solved in every scenario, the closest first.

        Further scenarios only bring one farther away: what is behind `count` finished ones now
        stays behind them.
        """
        while True:
            finished: Array = np.all(self.done | ~self.applies, axis=1)
            order = self.nearest()
            best = order[finished[order]][:count]
            bar = int(np.flatnonzero(order == best[-1])[0]) if len(best) == count else len(order)
            open_ = order[:bar][~finished[order[:bar]]]
            if not len(open_):
                return best
            next_ = open_[:NEXT]
            for k in range(len(self.scenes)):
                rows = np.sort(next_[self.applies[next_, k] & ~self.done[next_, k]])
                self.skipped -= len(rows)
                self.take(k, rows, None)

    def closeness(self, row: int) -> tuple[float, ...]:
        """How far a combination is from holding, as a comparison orders variants, then by score."""
        return tuple(float(key[row]) for key in self._keys)

    @property
    def _keys(self) -> tuple[Array, ...]:
        counts = (self.unsolved.sum(axis=1), self.void.sum(axis=1))
        return self.failing, *counts, self.miss, -self.score

    @property
    def failing(self) -> Integers:
        """(combinations,) in how many of the scenarios asked for; all of them where in every one
        that applies, else a design without fans, which none can fail, would be the nearest."""
        applies = np.zeros_like(self.fails)
        for k, entry in enumerate(self.entry):
            applies[:, entry] |= self.applies[:, k]
        nowhere = np.all(self.fails | ~applies, axis=1)
        return np.where(nowhere, len(self.entries), self.fails.sum(axis=1))

    def nearest(self) -> Integers:
        """All, the nearest first."""
        found: Integers = np.lexsort(self._keys[::-1])
        return found

    def named(self, limit: int, scene: int) -> tuple[str, str, str]:
        """Limit, subject and scenario by their numbers; empty where there is none."""
        what = self.limits[limit][:2] if limit >= 0 else ("", "")
        return *what, self.scenes[scene].name if scene >= 0 else ""

    # --- one scenario ----------------------------------------------------------------------------

    def take(self, k: int, rows: Integers, progress: Progress | None) -> None:
        """Solve some combinations in one scenario, and keep what it says."""
        if not len(rows):
            return
        found = self._verdicts(k, rows, progress)
        before = self.score[rows]
        same = np.isclose(found.score, before, rtol=0, atol=SAME) & (k < self.scene[rows])
        worse = same | (found.score < before - SAME)  # of equal ones the first that is listed
        at = rows[worse]
        self.score[at], self.margin[at] = found.score[worse], found.margin[worse]
        self.limit[at], self.measured[at] = found.limit[worse], found.measured[worse]
        self.scene[at] = k
        bad = ~found.fine
        entry, told = self.entry[k], bad.copy()
        self.fails[rows[bad], entry] = True
        for kept, status in ((self.unsolved, UNSOLVED), (self.void, VOID)):
            kept[rows[found.status == status], entry] = True
            told &= found.status != status
        self.miss[rows[told]] = np.maximum(self.miss[rows[told]], found.miss[told])
        first = bad & ~self.out[rows]
        self.out_limit[rows[first]], self.out_scene[rows[first]] = found.limit[first], k
        self.out[rows[first]] = True
        self.noise[rows] = np.fmax(self.noise[rows], found.noise)
        self.power[rows] = np.fmax(self.power[rows], found.power)
        self.warm[rows] = np.fmin(self.warm[rows], found.warm)
        self.done[rows, k] = True

    def _verdicts(self, k: int, rows: Integers, progress: Progress | None) -> Verdicts:
        """What equals another combination in all that the scenario leaves is solved once."""
        setups: list[Run] = []
        places, offset = np.full(len(rows), -1), 0
        for changes, here in self.scenes[k].among(rows):
            found, which = self._setups(self.rows[rows[here]], changes)
            places[here] = offset + which
            setups += found
            offset += int(which.max()) + 1
        pairs = evaluate(self.space.case, setups, executor=self.executor, progress=progress)
        self.solved += len(pairs)
        in_outage, dips = self._read(pairs, out=True)
        if not dips:
            return Verdicts(*(values[places] for values in in_outage))
        out, running = self._out(k, rows), self._read(pairs, out=False)[0]
        return Verdicts(*(np.where(out, a[places], b[places])
                          for a, b in zip(in_outage, running, strict=True)))  # fmt: skip

    def _out(self, k: int, rows: Integers) -> Array:
        """(rows,) whether the scenario stops a fan that runs in the combination."""
        case, found = self.space.case, np.zeros(len(rows), bool)
        for changes, here in self.scenes[k].among(rows):
            every = self.space.columns(self.rows[rows[here]])
            own = {path: value for path, value in every.items() if path.endswith(STATES)}
            before, after = (
                Inputs.of(case).stepped(list(steps(case, as_columns(case, made))), len(here))
                for made in (own, covered(case, own, changes))
            )
            found[here] = (before.running & ~after.running).any(axis=0)
        return found

    def _setups(self, rows: Array, changes: Mapping[str, Any]) -> tuple[list[Run], Integers]:
        """Combinations under a scenario, and which of its pairs each of them is."""
        case = self.space.case
        left = [i for i, axis in enumerate(self.space.axes) if outlasts(case, axis.path, changes)]
        first, which = unique_rows(rows[:, left])
        every = self.space.columns(rows[first])
        own = {self.space.axes[i].path: every[self.space.axes[i].path] for i in left}
        return list(_sound(case, covered(case, own, changes), len(first))), which

    def _read(self, pairs: Outcomes, *, out: bool) -> tuple[Verdicts, bool]:
        """What pairs say, with a fan out in all or in none; whether any is in stall with one out"""
        stand = pairs.assessed(np.full(len(pairs), out))
        limit, measured = self._limits(stand)
        for why in dict.fromkeys(words for words in pairs.status if words):
            self.reasons[why] = None
        made = Verdicts(
            score(stand), stand.margin, limit, measured, stand.holds, stand.miss, stand.status,
            *(pairs[f"total.{name}"] for name in ("noise", "fan_power", "worst_margin")),
        )  # fmt: skip
        return made, bool(stand.dips)

    def _limits(self, stand: Assessment) -> tuple[Integers, Integers]:
        """(pairs,) what decides, in the trial's own list: what makes void, else a limit; and the
        limit that the margin is of."""
        items = [(item.limit, item.subject, item.margin_quantity) for item in stand.limits]
        reasons = [(item.word, item.subject, q.DIFFERENCE) for item in stand.voids]
        known = {key[:2]: i for i, key in enumerate(self.limits)}
        for item in (*items, *reasons):
            if item[:2] not in known:
                known[item[:2]] = len(self.limits)
                self.limits.append(item)
        measured = np.array([*(known[item[:2]] for item in items), -1], int)[stand.row]
        found = measured
        for item, void in zip(reversed(reasons), reversed(stand.voids), strict=True):
            found = np.where(void.runs, known[item[:2]], found)  # the first cause in the end
        solved = stand.status != UNSOLVED
        return np.where(solved, found, -1), np.where(solved, measured, -1)


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
    over = np.where(hot, margin - HEAT, share - OTHERS)
    broken = (stand.status == OVER) | ((stand.status == VOID) & stand.broken)
    found = np.where(broken, over, found)
    found = np.where(stand.status == VOID, found - PAPER, found)
    return np.where(stand.status == UNSOLVED, -np.inf, found)


def _sound(case: Enclosure, columns: dict[str, Any], count: int) -> Iterator[Run]:
    """These combinations as one setup; split where one of them is unsound, which stands alone."""
    setup = Run("base", "base", columns)
    if count > 1:
        try:
            combinations.check(case, list(steps(case, as_columns(case, columns))))
        except CaseError:
            half = count // 2
            yield from _sound(case, _cut(columns, slice(0, half), count), half)
            yield from _sound(case, _cut(columns, slice(half, count), count), count - half)
            return
    yield setup


def _cut(columns: dict[str, Any], part: slice, count: int) -> dict[str, Any]:
    return {
        path: value[part] if isinstance(value, np.ndarray) and len(value) == count else value
        for path, value in columns.items()
    }
