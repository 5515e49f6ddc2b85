"""Results of a case with exact derivatives, to tolerances and to numbers that a fit may move."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from flownet.columns import Inputs
from flownet.enclosure.changes import steps
from flownet.enclosure.contents import Place
from flownet.enclosure.enclosure import Enclosure
from flownet.results.batch import SolutionBatch
from flownet.schema import quantities as q
from flownet.schema.arrays import Array
from flownet.schema.errors import CaseError, placed
from flownet.schema.fault import Fault
from flownet.schema.fields import Number
from flownet.schema.quantities import Quantity
from flownet.solver.sensitivity import derivatives
from flownet.solver.tolerances import STEP
from flownet.solving.attempt import attempted, judged
from flownet.studies.headroom_subject import Subject, subject
from flownet.studies.tolerances import Spread, difference

FIT_SPAN = 1000.0  # times today's value, and a part of it: no fit looks further
CLEAN_MAT = 1.0  # least fouling of a fit, unless it is less today
BLOCK_DIGITS = ".5g"  # of a value in a block for the case file
PLAIN = {q.TEMPERATURE: 10.0, q.LEVEL: 10.0, q.ALTITUDE: 1000.0}  # steps where no share says much


class Linear(NamedTuple):
    """Results at one state, SI."""

    values: Array  # (results,)
    slopes: Array  # (results, numbers)


class SolvedCase:
    """A case on which readings are taken, solved."""

    def __init__(self, case: Enclosure, near: Inputs | None = None) -> None:
        """`near`: inputs of one that differs in little; CaseError and NoSolution as `solve`."""
        self.case = case
        self._tried = attempted(Inputs.of(case, near), check=True)

    @property
    def batch(self) -> SolutionBatch:
        """All results, a batch of one."""
        return judged(self._tried.inputs, self._tried.model, self._tried.found)

    def linear(self, places: Sequence[Place], paths: Sequence[str]) -> Linear:
        """Results and their derivatives to these numbers."""
        tried = self._tried
        parts = [
            np.array([np.broadcast_to(moved.value(path), len(part)) for path in paths])
            for part, moved in derivatives(tried.inputs, tried.model, tried.found, list(places))
        ]
        if not parts:
            batch = self.batch
            return Linear(np.array([batch[path][0] for path in paths]), np.zeros((len(paths), 0)))
        every = np.concatenate(parts, axis=1)
        return Linear(every[:, 0].real.copy(), np.imag(every) / STEP)


def drawn(solved: SolvedCase, moved: Sequence[Spread], paths: Sequence[str]) -> Linear:
    """Results, and their changes (results, tolerances) by one standard deviation of each: exact
    derivatives, linear."""
    members = [(each, member) for each in moved for member in each.members]
    linear = solved.linear([member.place for _, member in members], paths)
    deviations = np.array([each.deviation(member) for each, member in members])
    owner = np.array([[each is one for one in moved] for each, _ in members], float)
    each_one = owner.reshape(len(members), len(moved))
    return Linear(linear.values, (linear.slopes * deviations) @ each_one)


# --- what is free ---------------------------------------------------------------------------------


class Unknown(NamedTuple):
    """One number, or several that are moved together, as `x` = 0 at today's value.

    `step`: value is today's plus x steps; 0: x is the logarithm of value over today's value.
    """

    subject: Subject
    places: tuple[Place, ...]  # every number that it moves
    shares: Array  # (places,) how far for 1 of it
    step: float  # SI
    ends: tuple[float, float]  # SI
    searched: tuple[bool, bool]  # whether it is the search that ends there, and not the key

    @property
    def path(self) -> str:
        """As it was asked for."""
        return self.subject.path

    @property
    def quantity(self) -> Quantity:
        """Of its value; of numbers that differ today it is a factor on each."""
        return self.subject.quantity

    def value(self, x: float) -> float:
        """SI, by its place on the scale of the fit."""
        today = self.subject.present
        return today + self.step * x if self.step else today * math.exp(x)

    def x(self, value: float) -> float:
        """The place of a value."""
        today = self.subject.present
        return (value - today) / self.step if self.step else math.log(value / today)

    def changes(self, value: float) -> dict[str, float]:
        """What sets it to a value."""
        return {path: float(each) for path, each in self.subject.changes(np.array(value)).items()}

    def written(self, value: float) -> dict[str, str | float]:
        """The same as a case file has it, to five digits."""
        shown = self.subject.role.quantity.metric
        short = {path: f"{shown.of(v):{BLOCK_DIGITS}}" for path, v in self.changes(value).items()}
        return {path: f"{text} {shown.unit}" if shown.unit else float(text)
                for path, text in short.items()}  # fmt: skip

    def moved(self, x: float, units: str) -> str:
        """`+10 %`, or `-2.0 K` of what is moved by steps."""
        if self.step:
            return difference(self.quantity).shown(units).text(x * self.step, "+")
        return f"{100 * math.expm1(x):+.2g} %"


class Unknowns:
    """All that is free in one case; x is (unknowns,)."""

    def __init__(self, case: Enclosure, each: Sequence[Unknown]) -> None:
        self.case, self.each = case, tuple(each)
        self._inputs = Inputs.of(case)
        self._states: dict[bytes, SolvedCase] = {}

    @property
    def ends(self) -> tuple[Array, Array]:
        """Lowest and highest x."""
        low, high = np.array([[one.x(end) for end in one.ends] for one in self.each]).T
        return low, high

    def values(self, x: Array) -> list[float]:
        """Of each [SI]."""
        return [one.value(float(place)) for one, place in zip(self.each, x, strict=True)]

    def changes(self, x: Array) -> dict[str, float]:
        """What sets all of them."""
        return {path: value for one, own in zip(self.each, self.values(x), strict=True)
                for path, value in one.changes(own).items()}  # fmt: skip

    def state(self, x: Array) -> SolvedCase:
        """The case there, solved once; CaseError and NoSolution as `solve`."""
        if (key := x.tobytes()) not in self._states:
            made = self.case.with_changes(self.changes(x))
            self._states[key] = SolvedCase(made, self._inputs)
        return self._states[key]

    def at(self, x: Array, paths: Sequence[str]) -> Linear:
        """Results there, SI, and their slopes to each x; errors as `state`."""
        there = self.state(x).linear([place for one in self.each for place in one.places], paths)
        parts = np.split(there.slopes, np.cumsum([len(one.places) for one in self.each])[:-1], 1)
        slopes = [part @ one.shares * (one.step or value)
                  for one, part, value in zip(self.each, parts, self.values(x), strict=True)
        ]  # fmt: skip
        return Linear(there.values, np.column_stack(slopes))


def unknowns(case: Enclosure, free: Sequence[str]) -> Unknowns:
    """Each path of what is free; CaseError with every fault."""
    made, faults, owner = list[Unknown](), list[Fault](), dict[Place, str]()
    for path in free:
        with placed(faults=faults):
            made.append(one := _unknown(case, path))
            for place in one.places:
                if owner.setdefault(place, path) != path or free.count(path) > 1:
                    both = "stands twice" if owner[place] == path else \
                        f"{place.path} is in {owner[place]} already"  # fmt: skip
                    raise CaseError(Fault(path, both))
    if faults:
        raise CaseError([fault.at("free") for fault in dict.fromkeys(faults)])
    return Unknowns(case, made)


def _unknown(case: Enclosure, path: str) -> Unknown:
    of = subject(case, path)
    if of.whole:
        raise CaseError(f"{path}: is a whole number, which no fit can move; try each with --set")
    today, (low, high) = of.present, of.allowed
    if of.key == "fouling" and not of.factor:
        low = max(low, min(CLEAN_MAT, today))
    step = PLAIN.get(of.quantity, 0.0)
    if not step and (today <= 0 or low < 0 or (low == 0 and math.isfinite(high))):
        wide = (high - low) / math.log(10)
        step = wide if math.isfinite(wide) else abs(today) or 1.0
    far = (today - FIT_SPAN * step, today + FIT_SPAN * step) if step else \
        (today / FIT_SPAN, today * FIT_SPAN)  # fmt: skip
    one = Unknown(of, (), np.array([]), step, (max(low, far[0]), min(high, far[1])),
                  (low < far[0], high > far[1]))  # fmt: skip
    reached = [each for each in steps(case, one.changes(today))
               if isinstance(each.role, Number) and not math.isnan(each.value)]  # fmt: skip
    shares = np.array([each.value if of.factor else 1.0 for each in reached], float)
    return one._replace(places=tuple(each.place for each in reached), shares=shares)
