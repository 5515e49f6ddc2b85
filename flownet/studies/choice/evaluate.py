"""Combinations held against their limits, scenario by scenario.

The scenario that breaks most comes first, and a combination that broke a limit is not solved
again: it can never be accepted, so nothing is lost. What is kept of a combination are a few
numbers, whatever the number of scenarios.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass
from typing import Any

import numpy as np

from flownet.columns import Inputs
from flownet.enclosure.apply import covered, outlasts
from flownet.enclosure.changes import as_columns, steps
from flownet.judging.assessment import HOLDS, UNSOLVED, VOID, Assessment
from flownet.judging.voids import STALL
from flownet.schema import quantities as q
from flownet.schema.arrays import Array, Integers
from flownet.schema.quantities import Quantity
from flownet.solving.solve import BLOCK, Progress
from flownet.studies.choice.axes import Space, unique_rows
from flownet.studies.choice.order import front, ranked, score
from flownet.studies.choice.scenario_groups import ScenarioGroup, add_scenes
from flownet.studies.runs import Outcomes, Run, apart
from flownet.studies.searches import solved

CHUNK = 16 * BLOCK  # pairs at a time: bounded memory
COMPLETED_NEXT = BLOCK // 2  # combinations that are completed before scores are compared again
SAMPLE = 128  # combinations that tell which scenario is the hardest
FEW = 4 * SAMPLE  # up to these no order is looked for
NOT_TRIED = -1  # in a scenario
NONE = -1  # of the limits, of the scenarios
SAME_SCORE = 1e-6  # of a score: nearer than this, round-off would decide
Lot = tuple[int, Integers]  # a scenario by its number, and combinations
TURNS_BY = (".state", ".speed")  # of a fan: what decides whether it runs


UNTRIED: dict[str, Any] = {  # what is kept of a combination, before anything is solved
    "score": np.inf, "margin": np.nan, "limit": NONE, "scene": NONE,  # of the worst pair
    "measured": NONE,  # the limit that the margin is of, on paper where something makes it void
    "out": False, "out_limit": NONE, "out_scene": NONE,  # the first that was broken
    "miss": -np.inf,  # the largest share by which a limit is missed, where a number says it
    "noise": np.nan, "power": np.nan, "warm": np.nan,  # the most, the most, the least so far
}  # fmt: skip
KEPT_FIELDS = np.dtype([(name, type(value)) for name, value in UNTRIED.items()])


@dataclass(eq=False)
class Evaluation:
    """Combinations, in the order they were added, and what is known of them so far."""

    space: Space
    asked: Sequence[str]
    prune: bool = True  # what has broken a limit is not solved again
    seed: int = 0
    executor: Executor | None = None

    def __post_init__(self) -> None:
        self.rows = np.zeros((0, len(self.space.axes)))  # (combinations, axes)
        self.parts: list[Integers] = []  # the numbers of what was added together
        self.kept = np.recarray(0, KEPT_FIELDS)
        self.named_scenes: dict[str, ScenarioGroup] = {}
        self.applies = np.zeros((0, 0), bool)  # (combinations, scenes)
        self.status = np.zeros((0, 0), np.int8)  # likewise, index into STATUSES; NOT_TRIED
        self.limits: dict[tuple[str, str], tuple[int, Quantity]] = {}  # and what makes void
        self.reasons: dict[str, None] = {}  # why something has no solution
        self.solved = 0  # pairs
        self.skipped = 0  # pairs that were not, their combination being out

    def add(self, rows: Array) -> Integers:
        """Further combinations, not solved yet: their numbers."""
        start, count = len(self.rows), len(rows)
        self.rows = np.concatenate([self.rows, rows])
        some = np.arange(start, start + count)
        self.parts.append(some)
        refused = add_scenes(self.named_scenes, self.space, rows, self.asked, start)
        self.scenes = list(self.named_scenes.values())
        self.entries = list(dict.fromkeys(scene.asked for scene in self.scenes))
        fresh = np.repeat(np.array([tuple(UNTRIED.values())], KEPT_FIELDS), count)
        self.kept = np.concatenate([self.kept, fresh]).view(np.recarray)
        more = (0, count), (0, len(self.scenes) - self.applies.shape[1])
        self.applies = np.pad(self.applies, more)
        self.status = np.pad(self.status, more, constant_values=NOT_TRIED)
        for k, scene in enumerate(self.scenes):
            for _, members in scene.groups.values():
                self.applies[members, k] = True
        bad = list(refused)
        self.kept.out[bad], self.kept.score[bad] = True, -np.inf
        self.status[bad] = UNSOLVED
        self.reasons |= dict.fromkeys(refused.values())
        return some

    # --- all of them -----------------------------------------------------------------------------

    def run(
        self, among: Integers, *, prune: bool | None = None, progress: Progress | None = None
    ) -> None:
        """These in every scenario; `prune`: only what has broken nothing before."""
        prune = self.prune if prune is None else prune
        total, passed = int(self.applies[among].sum()), 0
        for k in self._order(among):
            every = among[self.applies[among, k]]
            rows = every[~self.kept.out[every]] if prune else every
            for start in range(0, len(rows), CHUNK):
                part = rows[start : start + CHUNK]
                self.take([(k, part)], later(progress, passed, total))
                passed += len(part)
            self.skipped += len(every) - len(rows)
            passed += len(every) - len(rows)

    def _order(self, among: Integers) -> list[int]:
        """Scenarios, first the one that breaks most of a sample, then most of the rest."""
        left = list(range(len(self.scenes)))
        if len(among) <= FEW or len(left) < 2:
            return left
        chosen = np.random.default_rng(self.seed).choice(len(among), SAMPLE, replace=False)
        sample = among[np.sort(chosen)]
        broken = np.zeros((SAMPLE, len(left)), bool)
        for k in left:
            here = self.applies[sample, k]
            (pairs,) = self.solve([(k, sample[here])])
            broken[here, k] = ~self.stand(k, sample[here], pairs).holds
        order: list[int] = []
        alive = np.ones(SAMPLE, bool)
        while left:
            counts = broken[alive][:, left].sum(axis=0)
            best = left.pop(int(np.argmax(counts)))
            order.append(best)
            alive &= ~broken[:, best]
        return order

    def complete(self, count: int, among: Integers) -> Integers:
        """Those that come closest, solved in every scenario, the closest first.

        Further scenarios only bring one farther away: what is behind `count` finished ones now
        stays behind them.
        """
        while True:
            order, finished = self.nearest(among), self._finished
            best = order[finished[order]][:count]
            bar = int(np.flatnonzero(order == best[-1])[0]) if len(best) == count else len(order)
            open_ = order[:bar][~finished[order[:bar]]]
            if not len(open_):
                return best
            self.skipped -= self.finish(open_[:COMPLETED_NEXT])

    def finish(self, rows: Integers) -> int:
        """Solve some in the scenarios that they were not tried in; how many pairs."""
        open_ = self.applies[rows] & (self.status[rows] == NOT_TRIED)
        self.take([(k, np.sort(rows[here])) for k, here in enumerate(open_.T)])
        return int(open_.sum())

    @property
    def _finished(self) -> Array:
        found: Array = np.all((self.status != NOT_TRIED) | ~self.applies, axis=1)
        return found

    @property
    def accepted(self) -> Array:
        """(combinations,) what holds, solved in all scenarios that apply, of which there is one."""
        found: Array = ~self.kept.out & self.applies.any(axis=1) & self._finished
        return found

    def measures(self, among: Integers) -> dict[str, Array]:
        """Of these, the less the better; a design without a fan that runs is silent."""
        rows, kept = self.rows[among], self.kept[among].view(np.recarray)
        still = np.isnan(kept.noise) & (self.space.running(rows) == 0)
        noise = np.where(still, -np.inf, kept.noise)
        return {
            "noise": np.where(self.space.noisy(rows), noise, np.nan), "power": kept.power,
            "temperature": -kept.warm, "price": self.space.prices(rows),
        }  # fmt: skip

    def best_first(self, best: Sequence[str], among: Integers) -> Integers:
        """Those given in order."""
        measures = self.measures(among)
        found: Integers = among[ranked([measures[n] for n in best], self.kept.score[among])]
        return found

    def trade_off(self, pair: Sequence[str], among: Integers) -> tuple[Integers, Integers]:
        """Of those given the ones that none is better than, and how many are alike to each."""
        measures = self.measures(among)
        first, second = (measures[name] for name in pair)
        rows, alike = front(first, second, self.kept.score[among])
        return among[rows], alike

    @property
    def off(self) -> tuple[Array, ...]:
        """(combinations,) each: how far they are from holding, as a comparison orders variants,
        then by score."""
        fails = self._in_entries((self.status != NOT_TRIED) & ~np.isin(self.status, HOLDS))
        # all where in every one that applies, else a design without fans, which none can fail,
        # would be the nearest
        nowhere = np.all(fails | ~self._in_entries(self.applies), axis=1)
        failing = np.where(nowhere, len(self.entries), fails.sum(axis=1))
        counts = (self._in_entries(self.status == why).sum(axis=1) for why in (UNSOLVED, VOID))
        return failing, *counts, self.kept.miss, -self.kept.score

    def _in_entries(self, pairs: Array) -> Array:
        """(combinations, entries) of those asked for: whether one of its scenarios is so."""
        found = np.zeros((len(pairs), len(self.entries)), bool)
        for k, scene in enumerate(self.scenes):
            found[:, self.entries.index(scene.asked)] |= pairs[:, k]
        return found

    def nearest(self, among: Integers) -> Integers:
        """These, the nearest first."""
        found: Integers = among[np.lexsort([key[among] for key in self.off[::-1]])]
        return found

    def named(self, limit: int, scene: int) -> tuple[str, str, str]:
        """Limit, subject and scenario by their numbers; empty where there is none."""
        what = list(self.limits)[limit] if limit >= 0 else ("", "")
        return *what, self.scenes[scene].name if scene >= 0 else ""

    def worst(self, row: int) -> tuple[str, str, str, float, Quantity]:
        """Limit, subject and scenario of the worst pair of one; the margin there, its quantity."""
        kept, quantities = self.kept[row], [quantity for _, quantity in self.limits.values()]
        return (*self.named(kept.limit, kept.scene), float(kept.margin),
                quantities[kept.measured] if kept.measured >= 0 else q.DIFFERENCE)  # fmt: skip

    # --- one scenario ----------------------------------------------------------------------------

    def take(self, some: Sequence[Lot], progress: Progress | None = None) -> None:
        """Solve some combinations, and keep what each scenario says of them."""
        some = [lot for lot in some if len(lot[1])]
        for (k, rows), pairs in zip(some, self.solve(some, progress), strict=True):
            self.keep(k, rows, pairs, self.stand(k, rows, pairs))

    def keep(self, k: int, rows: Integers, pairs: Outcomes, stand: Assessment) -> None:
        """What one scenario says of some combinations."""
        limit, measured = self._limits(stand)
        kept, found, bad = self.kept, score(stand), ~stand.holds
        before = kept.score[rows]
        same = np.isclose(found, before, rtol=0, atol=SAME_SCORE) & (k < kept.scene[rows])
        worse = same | (found < before - SAME_SCORE)  # of equal ones the first that is listed
        for name, values in (("score", found), ("margin", stand.margin), ("limit", limit),
                             ("measured", measured), ("scene", np.full(len(rows), k))):  # fmt: skip
            kept[name][rows[worse]] = values[worse]
        told = bad & ~np.isin(stand.status, (UNSOLVED, VOID))
        kept.miss[rows[told]] = np.maximum(kept.miss[rows[told]], stand.miss[told])
        first = bad & ~kept.out[rows]
        kept.out_limit[rows[first]], kept.out_scene[rows[first]] = limit[first], k
        kept.out[rows[first]] = True
        for name, path, most in (("noise", "noise", np.fmax), ("power", "fan_power", np.fmax),
                                 ("warm", "worst_margin", np.fmin)):  # fmt: skip
            kept[name][rows] = most(kept[name][rows], pairs[f"total.{path}"])
        self.status[rows, k] = stand.status

    def solve(self, some: Sequence[Lot], progress: Progress | None = None) -> list[Outcomes]:
        """(rows,) of each lot, all as one batch; what equals another combination in all that the
        scenario leaves is solved once."""
        asked = [self.setups(k, rows) for k, rows in some]
        found = solved([runs for runs, _ in asked], self.executor, progress)
        self.solved += sum(map(len, found))
        self.reasons |= dict.fromkeys(words for each in found for words in each.status if words)
        return [pairs.taken(places) for pairs, (_, places) in zip(found, asked, strict=True)]

    def stand(self, k: int, rows: Integers, pairs: Outcomes) -> Assessment:
        """(rows,) a fan in stall is no void where the scenario stops one that runs in the
        combination."""
        stand = pairs.assessed(np.zeros(len(rows), bool))
        if any(item.word == STALL for item in stand.voids):
            stand = pairs.assessed(self._out(k, rows))
        return stand

    def _out(self, k: int, rows: Integers) -> Array:
        """(rows,) whether the scenario stops a fan that runs in the combination."""
        case, found = self.space.case, np.zeros(len(rows), bool)
        for changes, here in self.scenes[k].among(rows):
            every = self.space.columns(self.rows[rows[here]])
            own = {path: value for path, value in every.items() if path.endswith(TURNS_BY)}
            before, after = (
                Inputs.of(case).stepped(list(steps(case, as_columns(case, made))), len(here))
                for made in (own, covered(case, own, changes))
            )
            found[here] = (before.running & ~after.running).any(axis=0)
        return found

    def _limits(self, stand: Assessment) -> tuple[Integers, Integers]:
        """(rows,) what decides, by its number: what makes void, else a limit; and the limit that
        the margin is of."""

        def number(limit: str, subject: str, quantity: Quantity) -> int:
            return self.limits.setdefault((limit, subject), (len(self.limits), quantity))[0]

        listed = [number(x.limit, x.subject, x.margin_quantity) for x in stand.limits]
        measured = np.array([*listed, -1], int)[stand.row]
        found = measured
        for void in reversed(stand.voids):  # the first cause in the end
            found = np.where(void.runs, number(void.word, void.subject, q.DIFFERENCE), found)
        solved = stand.status != UNSOLVED
        return np.where(solved, found, -1), np.where(solved, measured, -1)

    def setups(self, k: int, rows: Integers) -> tuple[list[Run], Integers]:
        """What is solved of some combinations in a scenario, and which of its pairs each is."""
        setups: list[Run] = []
        places, offset = np.full(len(rows), -1), 0
        for changes, here in self.scenes[k].among(rows):
            found, which = self._different(self.rows[rows[here]], changes)
            places[here] = offset + which
            setups += found
            offset += int(which.max()) + 1
        return setups, places

    def _different(self, rows: Array, changes: Mapping[str, Any]) -> tuple[list[Run], Integers]:
        """Combinations that a scenario leaves different, and which of its pairs each of them is."""
        case = self.space.case
        left = [i for i, axis in enumerate(self.space.axes) if outlasts(case, axis.path, changes)]
        first, which = unique_rows(rows[:, left])
        every = self.space.columns(rows[first])
        own = {self.space.axes[i].path: every[self.space.axes[i].path] for i in left}
        return list(apart(case, covered(case, own, changes), len(first))), which


def later(told: Progress | None, passed: int, total: int) -> Progress | None:
    """The bar of one chunk as a part of the whole; a pair solved once may stand for several."""
    return told and (lambda done, _: told(min(passed + done, total), total))
