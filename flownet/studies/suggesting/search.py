"""Which changes are tried, one at a time, then several together.

All are solved first in the scenarios in which the case fails as it is; what still fails there holds
nowhere, whatever the others say, and only the rest is solved in them too. What was not solved in
every scenario is never said to hold.
"""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from flownet.enclosure.enclosure import Enclosure
from flownet.equations.topology import root_places
from flownet.judging.assessment import THERMAL
from flownet.schema.arrays import Integers
from flownet.solving.solve import Progress
from flownet.studies.choice.evaluate import NOT_TRIED
from flownet.studies.suggesting.kinds import ProposedChange
from flownet.studies.suggesting.trial import Trial, TriedChange, Wanted, wanted

Numbered = tuple[tuple[ProposedChange, ...], int]  # changes, and the row of both together
BEST = 20  # single changes of which pairs are made
LED = 5  # sets of changes that are made larger by one
CLOSEST, COMPLETED = 3, 8  # of what does not hold: told; solved everywhere


@dataclass
class ChangeSearch:
    """A case, the changes that are tried in it, and what became of them so far."""

    case: Enclosure
    some: Sequence[ProposedChange]  # least effort first
    asked: Sequence[str]
    executor: Executor | None = None
    progress: Progress | None = None
    passed: int = 0  # pairs that the bar has counted
    solved_apart: int = 0  # pairs of cases of their own
    sets: list[Numbered] = field(default_factory=list)  # what was tried, with its rows

    def __post_init__(self) -> None:
        self.plain = [each for each in self.some if each.case is None]
        self.trial = Trial(self.case, self.plain, self.asked, self.executor)
        base = self.trial.add(self.trial.row()[None])
        self.trial.run(base, prune=False, progress=self.progress)
        self.wanted: Wanted = wanted(self.trial)
        self.base, self.unknown = self._of((), 0), self.trial.unknown
        self.some = [each for each in self.some if not each.edits or self._acts(each)]

    @property
    def solved(self) -> int:
        """Pairs of a change and a scenario."""
        return self.trial.solved + self.solved_apart

    def singles(self) -> list[TriedChange]:
        """Every change by itself, in the order of effort."""
        found = {id(tried.made[0]): tried for tried in self._solved([(e,) for e in self.plain])}
        for each in self.some:
            if each.case is not None:
                found[id(each)] = self._edited(each)
        return [found[id(each)] for each in self.some]

    def larger(self) -> list[TriedChange]:
        """Each of the best sets so far with one more of the best changes."""
        ones = self._best([each for each in self.sets if len(each[0]) == 1], BEST)
        most = max((len(made) for made, _ in self.sets), default=0)
        led = [each for each in self.sets if len(each[0]) == most]
        known: dict[frozenset[Any], tuple[ProposedChange, ...]] = {}
        for made, _ in ones if most == 1 else self._best(led, LED):
            for (one,), _ in ones:
                if all(_together(one, each) for each in made):
                    key = frozenset(each.group for each in (*made, one))
                    known.setdefault(key, (*made, one))
        return self._solved(list(known.values()))

    def closest(self) -> list[TriedChange]:
        """Of all that brings anything the nearest to holding, solved in every scenario."""
        trial, some = self.trial, self._best(self.sets, COMPLETED)
        rows = np.array(sorted(row for _, row in some), int)
        for k, scene in enumerate(trial.scenes):
            if scene.name not in self.wanted.failing:
                open_ = trial.applies[rows, k] & (trial.status[rows, k] == NOT_TRIED)
                trial.take(k, rows[open_], None)
        names = [scene.name for scene in trial.scenes]
        some.sort(key=lambda each: (trial.lacking(names, each[1]), each[1]))
        return [self._of(*each) for each in some[:CLOSEST]]

    def _acts(self, each: ProposedChange) -> bool:
        """Whether what is written anew could help: a scenario is one in which the case fails, and a
        part brings its heat not to what is too hot already."""
        words = {word for name in self.wanted.failing for word in name.split("+")}
        kind, _, about = self.base.subject.partition(".")
        place = about if kind == "compartment" else root_places(self.case).get(about, "")
        for path, value in each.edits.items():
            thing, name = path.split(".")[:2]
            hotter = value == place and name != about
            if (thing == "scenario" and name not in words) or (
                hotter and self.base.limit in THERMAL
            ):
                return False
        return True

    def _of(self, made: tuple[ProposedChange, ...], row: int) -> TriedChange:
        return self.trial.tried(row, made, self.wanted)

    def _solved(self, sets: Sequence[tuple[ProposedChange, ...]]) -> list[TriedChange]:
        """Sets of changes where the case fails; what fails nowhere there, in the others too."""
        if not sets:
            return []
        trial = self.trial
        rows = trial.add(np.array([trial.row(*made) for made in sets]))
        fails = [scene.name in self.wanted.failing for scene in trial.scenes]
        total = self.passed + len(rows) * sum(fails)
        for k in sorted(range(len(fails)), key=lambda k: not fails[k]):
            here = trial.applies[rows, k]
            alive = rows[here if fails[k] else here & ~self._lost(rows)]
            trial.take(k, alive, self._bar(total))
            self.passed += len(alive)
        made = list(zip(sets, rows.tolist(), strict=True))
        self.sets += made
        return [self._of(*each) for each in made]

    def _lost(self, rows: Integers) -> Any:
        """(rows,) whether something is known that makes each of them no proposal."""
        return np.array([self.trial.least(row) < self.wanted.least for row in rows.tolist()], bool)

    def _bar(self, total: int) -> Progress | None:
        told, before = self.progress, self.passed
        return told and (lambda done, _: told(before + done, max(total, before + done)))

    def _best(self, some: Sequence[Numbered], most: int) -> list[Numbered]:
        """Those by which least is short; of sizes of one change the best."""
        short = {row: self.trial.lacking(self.wanted.failing, row) for _, row in some}
        found: dict[tuple[Any, ...], Numbered] = {}
        for made, row in sorted(some, key=lambda each: (short[each[1]], each[1])):
            if short[row] < self.base.short:
                found.setdefault(tuple(each.group for each in made), (made, row))
        return list(found.values())[:most]

    def _edited(self, each: ProposedChange) -> TriedChange:
        """A change that makes another case of it, where the case fails, else everywhere."""
        assert each.case is not None
        trial = Trial(each.case, (), self.asked, self.executor)
        trial.failing = self.wanted.failing
        row = trial.add(trial.row()[None])
        fails = [scene.name in trial.failing for scene in trial.scenes]
        for k in sorted(range(len(fails)), key=lambda k: not fails[k]):
            if fails[k] or trial.least(0) >= self.wanted.least:
                trial.take(k, row, None)
        self.solved_apart += trial.solved
        return trial.tried(0, (each,), self.wanted)


def _together(one: ProposedChange, other: ProposedChange) -> bool:
    """Whether two changes are about different things: none sets what the other does, and none
    closes what the other changes."""
    if one.changes.keys() & other.changes.keys():
        return False
    for first, then in ((one, other), (other, one)):
        for path, value in first.changes.items():
            thing = path.removesuffix("state")
            if value == "blanked" and any(other.startswith(thing) for other in then.changes):
                return False
    return True
