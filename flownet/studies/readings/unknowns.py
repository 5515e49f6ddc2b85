"""Numbers of a case that a fit may move: their bounds, and the scale on which they are moved."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from flownet.enclosure.changes import steps
from flownet.enclosure.contents import Place
from flownet.enclosure.enclosure import Enclosure
from flownet.schema import quantities as q
from flownet.schema.arrays import Array
from flownet.schema.errors import CaseError, placed
from flownet.schema.fault import Fault
from flownet.schema.fields import Number
from flownet.schema.quantities import Quantity
from flownet.studies.headroom_subject import Subject, subject
from flownet.studies.readings.slopes import Linear, SolvedCase

FIT_SPAN = 1000.0  # times today's value, and a part of it: no fit looks further
CLEAN_MAT = 1.0  # least fouling of a fit, unless it is less today
PLAIN = {q.TEMPERATURE: 10.0, q.LEVEL: 10.0, q.ALTITUDE: 1000.0}  # steps where no share says much
BLOCK_DIGITS = ".5g"  # of a value in a block for the case file


class Unknown(NamedTuple):
    """One number, or several that are moved together, as `x` = 0 at today's value.

    `by_ratio`: x is the logarithm of value over today's value; else value is today's plus x steps.
    """

    subject: Subject
    reached: tuple[tuple[Place, float], ...]  # every number that it moves, and how far for 1 of it
    by_ratio: bool
    step: float  # SI
    ends: tuple[float, float]  # SI

    @property
    def path(self) -> str:
        """As it was asked for."""
        return self.subject.path

    @property
    def quantity(self) -> Quantity:
        """Of its value; of numbers that differ today it is a factor on each."""
        return self.subject.quantity

    def own_end(self, end: int) -> bool:
        """Whether it is the key itself that ends there (-1 below, 1 above), and not the search."""
        today = self.subject.present
        far = today * FIT_SPAN**end if self.by_ratio else today + FIT_SPAN * self.step * end
        return bool(self.ends[int(end > 0)] != far)

    def value(self, x: float) -> float:
        """SI, by its place on the scale of the fit."""
        today = self.subject.present
        return today * math.exp(x) if self.by_ratio else today + self.step * x

    def x(self, value: float) -> float:
        """The place of a value."""
        today = self.subject.present
        return math.log(value / today) if self.by_ratio else (value - today) / self.step

    def slope(self, x: float) -> float:
        """Change of the value with x."""
        return self.value(x) if self.by_ratio else self.step

    def changes(self, value: float) -> dict[str, float]:
        """What sets it to a value."""
        return {path: float(each) for path, each in self.subject.changes(np.array(value)).items()}

    def written(self, value: float) -> dict[str, str | float]:
        """The same as a case file has it, to five digits."""
        shown = self.subject.role.quantity.metric
        short = {path: f"{shown.of(v):{BLOCK_DIGITS}}" for path, v in self.changes(value).items()}
        return {path: f"{text} {shown.unit}" if shown.unit else float(text)
                for path, text in short.items()}  # fmt: skip

    def moved(self, share: float, units: str) -> str:
        """`+10 %`, or `-2.0 K` of what is moved by steps."""
        if self.by_ratio:
            return f"{100 * math.expm1(share):+.2g} %"
        change = q.DIFFERENCE if self.quantity == q.TEMPERATURE else self.quantity
        return change.shown(units).text(share * self.step, "+")


class Unknowns(NamedTuple):
    """All that is free in one case."""

    solved: SolvedCase
    each: tuple[Unknown, ...]

    @property
    def ends(self) -> tuple[Array, Array]:
        """(unknowns,) lowest and highest x."""
        low, high = np.array([[one.x(end) for end in one.ends] for one in self.each]).T
        return low, high

    def values(self, x: Array) -> list[float]:
        """Of each [SI]."""
        return [one.value(float(place)) for one, place in zip(self.each, x, strict=True)]

    def changes(self, x: Array) -> dict[str, float]:
        """What sets all of them."""
        return {path: value for one, own in zip(self.each, self.values(x), strict=True)
                for path, value in one.changes(own).items()}  # fmt: skip

    def at(self, x: Array, paths: Sequence[str]) -> Linear:
        """Results there, SI, and their slopes to each x; CaseError and NoSolution as `solve`."""
        places = [place for one in self.each for place, _ in one.reached]
        there = self.solved.changed(self.changes(x), places, paths)
        shares = np.zeros((len(places), len(x)))
        first = 0
        for i, one in enumerate(self.each):
            own = np.array([share for _, share in one.reached]) * one.slope(float(x[i]))
            shares[first : first + len(own), i] = own
            first += len(own)
        return Linear(there.values, there.slopes @ shares)


def unknowns(solved: SolvedCase, free: Sequence[str]) -> Unknowns:
    """Each path of what is free; CaseError with every fault."""
    made, faults, owner = list[Unknown](), list[Fault](), dict[Place, str]()
    for path in free:
        with placed(faults=faults):
            made.append(one := _unknown(solved.case, path))
            for place, _ in one.reached:
                if place in owner:
                    raise CaseError(Fault(path, f"{place.path} is in {owner[place]} already"))
                owner[place] = path
    if faults:
        raise CaseError([fault.at("free") for fault in faults])
    return Unknowns(solved, tuple(made))


def _unknown(case: Enclosure, path: str) -> Unknown:
    of = subject(case, path)
    if of.whole:
        raise CaseError(f"{path}: is a whole number, which no fit can move; try each with --set")
    low, high = of.allowed
    if of.key == "fouling":
        low = max(low, min(CLEAN_MAT, of.present)) if not of.factor else low
    today = of.present
    by_ratio = today > 0 and low >= 0 and of.quantity not in PLAIN \
        and (low > 0 or math.isinf(high))  # fmt: skip
    step = 1.0
    if by_ratio:
        low, high = max(low, today * FIT_SPAN**-1), min(high, today * FIT_SPAN)
    else:
        step = PLAIN.get(of.quantity, (high - low) / math.log(10) if math.isfinite(high - low)
                         else abs(today) or 1.0)  # fmt: skip
        low, high = max(low, today - FIT_SPAN * step), min(high, today + FIT_SPAN * step)
    reached = tuple(
        (each.place, float(each.value) if of.factor else 1.0)
        for each in steps(case, {p: float(v) for p, v in of.changes(np.array(today)).items()})
        if isinstance(each.role, Number) and not math.isnan(each.value)
    )
    return Unknown(of, reached, by_ratio, step, (low, high))
