"""Which changes are tried, one at a time, then several together, on the evaluation of a choice.

All are solved first in the scenarios in which the case fails as it is; what still fails there holds
nowhere, whatever the others say, and only the rest is solved in them too. What was not solved in
every scenario is never said to hold.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from concurrent.futures import Executor
from typing import Any, NamedTuple

import numpy as np

from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.toml_text import present
from flownet.equations.topology import root_places
from flownet.judging.assessment import OK, STATUSES, THERMAL, TIGHT, UNKNOWN, UNSOLVED, Assessment
from flownet.schema.arrays import Array, Integers
from flownet.schema.quantities import Quantity
from flownet.solving.solve import Progress
from flownet.studies.choice.axes import Space
from flownet.studies.choice.evaluate import Evaluation, later
from flownet.studies.designs import Axis
from flownet.studies.runs import Outcomes, Run
from flownet.studies.suggesting.steps import ProposedChange

Made = tuple[ProposedChange, ...]  # one change, or several together
BEST = 20  # single changes of which pairs are made
LED = 5  # sets of changes that are made larger by one
CLOSEST = 3  # of what does not hold that are told
COMPLETED = 8  # of these that are solved everywhere
SHORT_BY = {"part": 10.0, "air": 10.0, "noise": 3.0}  # K, dB: weighs as a bound missed whole
VOID_WEIGHS, UNSOLVED_WEIGHS = 1e2, 1e3  # in the same measure
TIGHT_WEIGHS, UNKNOWN_WEIGHS = 1e-3, 1.0


class TriedChange(NamedTuple):
    """A change, or several together, and what became of it; SI, NaN where there is no value."""

    made: Made
    holds: bool  # every limit in every scenario, and for a case that is tight with its margin
    everywhere: bool  # solved in every scenario
    status: str  # of the worst pair that was solved, a word of STATUSES
    limit: str  # what decides there: of a void pair the reason
    subject: str
    scenario: str
    margin: float
    margin_quantity: Quantity
    noise: float  # the most of the scenarios solved [dBA]
    air: float  # drawn in where the case decides as it is [m3/s]
    score: float  # orders as a comparison does

    @property
    def words(self) -> str:
        """`area of filter.intake x 1.5, and a back-draught shutter on fan.left`."""
        return ", and ".join(each.words for each in self.made)

    @property
    def changes(self) -> dict[str, Any]:
        """Ready for `with_changes`."""
        return {path: value for each in self.made for path, value in each.changes.items()}

    @property
    def edits(self) -> dict[str, Any]:
        """What of it no variant can say."""
        return {path: value for each in self.made for path, value in each.edits.items()}

    @property
    def void(self) -> dict[str, list[str]]:
        """What makes it void: reason -> subjects."""
        others = ["another fan"] * (self.limit == "opposed")
        return {self.limit: [self.subject, *others]} if self.status == "void" else {}

    @property
    def price(self) -> float:
        """Of what is bought for it; NaN where that is not known of all."""
        return float(sum(each.price for each in self.made))

    @property
    def effort(self) -> tuple[Any, ...]:
        """The less the sooner: the largest of its changes first."""
        return len(self.made), *sorted((each.effort for each in self.made), reverse=True)

    @property
    def rank(self) -> tuple[Any, ...]:
        """The less the sooner: how it is done, whether it has its margin, then the rest of the
        effort, and the margin."""
        work = sorted((each.effort[0] for each in self.made), reverse=True)
        return len(work), work, self.status != STATUSES[OK], self.effort, -self.margin


class ChangeSearch(Evaluation):
    """Changes of a case as rows, the first of them none, and what became of them so far."""

    def __init__(
        self, case: Enclosure, some: Iterable[ProposedChange], asked: Sequence[str],
        executor: Executor | None = None, progress: Progress | None = None,
    ) -> None:  # fmt: skip
        """`some`: least effort first."""
        self.some, self.progress = list(some), progress
        self.sets: list[Made] = []  # what is made in each row
        self.left_out: list[str] = []  # why something that holds is none to propose
        self.passed = 0  # pairs that the bar has counted
        self.short: dict[tuple[str, int], float] = {}  # of a scenario and row: see `shortfall`
        self.air: dict[tuple[str, int], float] = {}  # likewise, drawn in [m3/s]
        self.unknown: dict[str, None] = {}  # what of the case as it is has a limit and no value
        values: dict[str, list[Any]] = {}
        for path, value in (pair for each in self.some for pair in each.changes.items()):
            known = values.setdefault(path, [present(case, path)])
            known += [] if value in known else [value]
        axes = (Axis(path, tuple(found), places=tuple(case.places(path)))
                for path, found in values.items())  # fmt: skip
        super().__init__(Space(case, tuple(axes), frozenset()), asked, executor=executor)
        self.finish(self._added([()]))
        self.wanted = OK if self.least(0) >= TIGHT else TIGHT  # index into STATUSES
        self.failing = [scene.name for k, scene in enumerate(self.scenes)
                        if self.applies[0, k] and self.status[0, k] < self.wanted]  # fmt: skip
        self.base = self.tried(0)
        self.some = [each for each in self.some if self._acts(each)]

    # --- what is tried ----------------------------------------------------------------------------

    def singles(self) -> list[TriedChange]:
        """Every change by itself, in the order of effort."""
        return self._solved([(each,) for each in self.some])

    def larger(self) -> list[TriedChange]:
        """Each of the best sets so far with one more of the best changes."""
        ones = self._best(BEST, 1)
        most = max(map(len, self.sets))
        known: dict[frozenset[Any], Made] = {}
        for row in ones if most == 1 else self._best(LED, most):
            for (one,) in (self.sets[other] for other in ones):
                if all(_together(one, each) for each in self.sets[row]):
                    made = (*self.sets[row], one)
                    known.setdefault(frozenset(each.group for each in made), made)
        return self._solved(list(known.values()))

    def closest(self) -> list[TriedChange]:
        """Of all that brings anything the nearest to holding, solved in every scenario."""
        some, names = self._best(COMPLETED), [scene.name for scene in self.scenes]
        self.finish(np.array(some, int))
        some.sort(key=lambda row: (self.lacking(names, row), row))
        return [self.tried(row) for row in some[:CLOSEST] if self.least(row) != UNSOLVED]

    def _acts(self, each: ProposedChange) -> bool:
        """Whether what is written anew could help: a scenario is one in which the case fails, and a
        part brings its heat not to what is too hot already."""
        words = {word for name in self.failing for word in name.split("+")}
        kind, _, about = self.base.subject.partition(".")
        place = about if kind == "compartment" else root_places(self.space.case).get(about, "")
        hot = self.base.limit in THERMAL
        return not any(
            name not in words if thing == "scenario" else hot and value == place and name != about
            for path, value in each.edits.items() for thing, name in [path.split(".")[:2]]
        )  # fmt: skip

    def _best(self, most: int, size: int = 0) -> list[int]:
        """Rows by which least is short, without those that hold, which are none to propose; of
        sizes of one change the best; `size`: only sets of so many changes that a variant can say.
        """
        found: dict[tuple[Any, ...], int] = {}
        short = [self.lacking(self.failing, row) for row in range(len(self.sets))]
        for row in sorted(range(1, len(short)), key=lambda row: (short[row], row)):
            made = self.sets[row]
            asked = not size or (len(made) == size and not made[0].edits)
            if asked and short[row] < short[0] and not self.tried(row).holds:
                found.setdefault(tuple(each.group for each in made), row)
        return list(found.values())[:most]

    # --- solved -----------------------------------------------------------------------------------

    def _added(self, sets: Sequence[Made]) -> Integers:
        """Sets of changes as further rows."""
        self.sets += sets
        changes = [{path: value for each in made for path, value in each.changes.items()}
                   for made in sets]  # fmt: skip
        return self.add(np.array([
            [float(axis.values.index(own.get(axis.path, axis.values[0]))) for axis in
             self.space.axes] for own in changes]))  # fmt: skip

    def _solved(self, sets: Sequence[Made]) -> list[TriedChange]:
        """Sets of changes where the case fails; what fails nowhere there, in the others too."""
        if not sets:
            return []
        rows = self._added(sets)
        fails = [scene.name in self.failing for scene in self.scenes]
        for wanted in (True, False):
            lost = [not wanted and self.least(row) < self.wanted for row in rows.tolist()]
            alive = self.applies[rows] & ~np.array(lost)[:, None]
            some = [(k, rows[here]) for k, here in enumerate(alive.T) if fails[k] == wanted]
            before = self.passed
            self.passed += sum(len(here) for _, here in some)
            self.take(some, later(self.progress, before, self.passed))
        return [self.tried(row) for row in rows.tolist()]

    def setups(self, k: int, rows: Integers) -> tuple[list[Run], Integers]:
        """As for a choice; rows that make another case of it as runs of that."""
        cases = [self.sets[row][0].case if row else None for row in rows.tolist()]
        own = np.array([case is not None for case in cases], bool)
        runs, plain = super().setups(k, rows[~own])
        places = np.cumsum(own) + plain.max(initial=-1)
        places[~own] = plain
        return [*runs, *(Run(self.scenes[k].name, of=case) for case in cases if case)], places

    def keep(self, k: int, rows: Integers, pairs: Outcomes, stand: Assessment) -> None:
        """As for a choice; what is short, and how much air comes in, beside."""
        super().keep(k, rows, pairs, stand)
        keys = [(self.scenes[k].name, row) for row in rows.tolist()]
        self.short.update(zip(keys, shortfall(stand, pairs.tight).tolist(), strict=True))
        self.air.update(zip(keys, pairs["total.volume_flow"].tolist(), strict=True))
        if rows.tolist() == [0]:
            self.unknown |= {item.subject: None for item, (code,) in
                             zip(stand.limits, stand.each, strict=True)
                             if code == UNKNOWN and pairs.ok[0]}  # fmt: skip

    # --- what is known of a row -------------------------------------------------------------------

    def lacking(self, names: Iterable[str], row: int) -> float:
        """How much is short in all in some scenarios."""
        return sum(self.short.get((name, row), 0.0) for name in names)

    def least(self, row: int) -> int:
        """The worst status of a row in scenarios so far, index into STATUSES."""
        here = self.status[row, self.applies[row] & (self.status[row] >= 0)]
        return int(np.min(here, initial=OK)) if self.applies[row].any() else UNSOLVED

    def tried(self, row: int) -> TriedChange:
        """What became of it."""
        kept, status = self.kept[row], self.least(row)
        everywhere = bool((self.applies[row] <= (self.status[row] >= 0)).all())
        return TriedChange(
            self.sets[row], everywhere and status >= self.wanted, everywhere, STATUSES[status],
            *self.worst(row), float(kept.noise), self.air.get((self.worst(0)[2], row), np.nan),
            float(kept.score),
        )  # fmt: skip


def shortfall(stand: Assessment, tight: Array) -> Array:
    """(runs,) by how much limits are missed in all, of what is void or not solved far more, of what
    is tight a little: what of several changes comes nearer is looked for by it, nothing judged.

    tight : (runs,) array, `limits.margin` [K]
    """
    found = np.zeros(len(stand.status))
    for item in stand.limits:
        scale = SHORT_BY.get(item.limit, np.abs(item.bound))
        found += np.nan_to_num(np.maximum(-item.margin, 0.0) / scale)
        if item.limit in THERMAL:
            found += TIGHT_WEIGHS * np.nan_to_num(np.maximum(tight - item.margin, 0.0))
    found += UNKNOWN_WEIGHS * (stand.each == UNKNOWN).sum(axis=0)
    for voids, weight in ((stand.voids, VOID_WEIGHS), (stand.dips, TIGHT_WEIGHS)):
        for void in voids:
            found += weight * void.runs
    return np.where(stand.status == UNSOLVED, UNSOLVED_WEIGHS, found)


def _together(one: ProposedChange, other: ProposedChange) -> bool:
    """Whether two changes are about different things: none sets what the other does, and none
    closes what the other changes."""
    shut = [{path.removesuffix("state") for path, value in each.changes.items()
             if value == "blanked"} for each in (one, other)]  # fmt: skip
    return not one.changes.keys() & other.changes.keys() and not any(
        path.startswith(tuple(things)) for things, each in zip(shut, (other, one), strict=True)
        for path in each.changes)  # fmt: skip
