"""Changes solved: those of one enclosure together, on the evaluation that a choice uses."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from concurrent.futures import Executor
from dataclasses import replace
from typing import Any, NamedTuple

import numpy as np

from flownet.enclosure.enclosure import Enclosure
from flownet.findings import RULES
from flownet.judging.assessment import OK, STATUSES, THERMAL, TIGHT, UNKNOWN, UNSOLVED, Assessment
from flownet.results.solution import Solution
from flownet.results.streams import is_outside, streams
from flownet.schema import quantities as q
from flownet.schema import units
from flownet.schema.arrays import Array, Integers
from flownet.schema.quantities import Quantity
from flownet.solving.solve import Progress
from flownet.studies.choice.axes import Space
from flownet.studies.choice.evaluate import Evaluation
from flownet.studies.designs import Axis
from flownet.studies.runs import Outcomes, Run, evaluate
from flownet.studies.suggesting.kinds import ProposedChange

SHORT_BY = {"part": 10.0, "air": 10.0, "noise": 3.0}  # K, dB: weighs as a bound missed whole
VOID_WEIGHS, UNSOLVED_WEIGHS = 1e2, 1e3  # in the same measure
TIGHT_WEIGHS, UNKNOWN_WEIGHS = 1e-3, 1.0
PAST_FILTER = "the air would come in past the filter that is required"
TURNED = "the air would turn round where a recirculation is given, which says nothing of that way"


class TriedChange(NamedTuple):
    """A change, or several together, and what became of it; SI, NaN where there is no value."""

    made: tuple[ProposedChange, ...]
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
    short: float  # what is missed in all where the case fails as it is, see `shortfall`
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


class Trial(Evaluation):
    """Rows of changes, the first of them none."""

    def __init__(self, case: Enclosure, some: Sequence[ProposedChange], asked: Sequence[str],
                 executor: Executor | None) -> None:  # fmt: skip
        values: dict[str, list[Any]] = {}
        for path, value in (pair for each in some for pair in each.changes.items()):
            known = values.setdefault(path, [_now(case, path)])
            known += [] if value in known else [value]
        axes = (Axis(path, tuple(found), places=tuple(case.places(path)))
                for path, found in values.items())  # fmt: skip
        super().__init__(Space(case, tuple(axes), frozenset()), asked, executor=executor)
        self.short: dict[str, Array] = {}  # scenario -> (rows,) see `shortfall`
        self.air: dict[str, Array] = {}  # likewise, drawn in [m3/s]
        self.wholes: dict[bool, Outcomes] = {}  # the case as it is where it fails, and elsewhere
        self.failing: Sequence[str] = ()  # scenarios that are solved apart from the others

    def row(self, *some: ProposedChange) -> Array:
        """Changes as a row of the space."""
        changes = {path: value for each in some for path, value in each.changes.items()}
        return np.array([float(axis.values.index(changes.get(axis.path, axis.values[0])))
                         for axis in self.space.axes])  # fmt: skip

    def stand(
        self, k: int, rows: Integers, progress: Progress | None
    ) -> tuple[Outcomes, Assessment]:
        """As for a choice; what is short, and how much air comes in, is kept beside."""
        alone = rows.tolist() == [0]
        pairs, stand = self._at_once(k) if alone else super().stand(k, rows, progress)
        short = shortfall(stand, pairs.tight)
        for kept, found in ((self.short, short), (self.air, pairs["total.volume_flow"])):
            before = kept.get(name := self.scenes[k].name, np.zeros(0))
            more = len(self.rows) - len(before)
            kept[name] = np.pad(before, (0, more), constant_values=np.nan)
            kept[name][rows] = found
        return pairs, stand

    def _at_once(self, k: int) -> tuple[Outcomes, Assessment]:
        """The case as it is in one scenario; those that fail, and the others, are solved together
        when one is asked for."""
        fails = (name := self.scenes[k].name) in self.failing
        names = [each.name for each in self.scenes if (each.name in self.failing) == fails]
        if fails not in self.wholes:
            runs = [Run(each) for each in names]
            self.wholes[fails] = evaluate(self.space.case, runs, executor=self.executor)
            self.solved += len(runs)
        whole, at = self.wholes[fails], names.index(name)
        here = slice(at, at + 1)
        one = replace(whole, run=whole.run[here], member=whole.member[here],
                      batch=whole.batch[here], place=whole.place[here])  # fmt: skip
        self.reasons |= dict.fromkeys(words for words in one.status if words)
        return one, one.stand

    def lacking(self, names: Iterable[str], row: int) -> float:
        """How much is short in all in some scenarios."""
        return float(sum(np.nan_to_num(_at(self.short.get(name), row)) for name in names))

    @property
    def unknown(self) -> list[str]:
        """What has a limit in the case as it is, and nowhere a value to hold against it."""
        return list(dict.fromkeys(
            item.subject for whole in self.wholes.values()
            for item, codes in zip(whole.stand.limits, whole.stand.each, strict=True)
            if ((codes == UNKNOWN) & whole.ok).any()))  # fmt: skip

    def least(self, row: int) -> int:
        """The worst status of a row in scenarios so far, index into STATUSES."""
        here = self.status[row, self.applies[row] & (self.status[row] >= 0)]
        return int(np.min(here, initial=OK)) if self.applies[row].any() else UNSOLVED

    def tried(self, row: int, made: tuple[ProposedChange, ...], wanted: Wanted) -> TriedChange:
        """What is known of a row."""
        kept, status = self.kept[row], self.least(row)
        limit, subject, scenario = self.named(kept.limit, kept.scene)
        quantities = [quantity for _, quantity in self.limits.values()]
        everywhere = bool((self.applies[row] <= (self.status[row] >= 0)).all())
        return TriedChange(
            made, everywhere and status >= wanted.least, everywhere, STATUSES[status], limit,
            subject, scenario, float(kept.margin),
            quantities[kept.measured] if kept.measured >= 0 else q.DIFFERENCE,
            float(kept.noise), _at(self.air.get(wanted.scenario), row),
            self.lacking(wanted.failing, row), float(kept.score),
        )  # fmt: skip


class Wanted(NamedTuple):
    """What is asked of changes, from the case as it is."""

    least: int  # index into STATUSES, in every scenario
    failing: tuple[str, ...]  # scenarios in which the case is less than that
    scenario: str  # the one that decides


def wanted(trial: Trial) -> Wanted:
    """By the first row, which is the case as it is."""
    least = OK if trial.least(0) >= TIGHT else TIGHT
    failing = tuple(scene.name for k, scene in enumerate(trial.scenes)
                    if trial.applies[0, k] and trial.status[0, k] < least)  # fmt: skip
    return Wanted(least, failing, trial.named(-1, trial.kept.scene[0])[2])


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


def _at(values: Array | None, row: int) -> float:
    return float(values[row]) if values is not None and row < len(values) else np.nan


def _now(case: Enclosure, path: str) -> Any:
    """What stands at a path, as a change takes it."""
    value, place = case[path], case.places(path)[0]
    if place.key == "speed" and np.isnan(value):  # it is given in rpm
        return units.write(case[f"{place.kind}.{place.name}.rotation"], q.SPEED)
    return value


def watched(case: Enclosure) -> bool:
    """Whether a case asks where its air comes in."""
    return case.limits.intake_filter == "required" or bool(case.things["recirculation"])


def astray(now: Solution | str, then: Solution | str, turned: bool) -> str:
    """Why a state is none to propose; empty: nothing against it.

    now : Solution or str
        The case as it is; what it has already, where it is sound, is no reason. Text: it is not.
    turned : bool
        Whether a fan is turned round for it: then outlets and intakes that stay where they are
        change their parts, which a given recirculation does not follow.
    """
    missing = RULES["filter-missing"]
    if isinstance(then, str):
        return ""
    if any(missing(then)) and (isinstance(now, str) or not any(missing(now))):
        return PAST_FILTER
    loops = [loop for loop in then.case.things["recirculation"].values() if loop.fraction > 0]
    outlets, intakes = {loop.from_ for loop in loops}, {loop.to for loop in loops}
    back = any((is_outside(each.source) and each.path in outlets)
               or (is_outside(each.target) and each.path in intakes)
               for each in streams(then))  # fmt: skip
    return TURNED if turned and back else ""
