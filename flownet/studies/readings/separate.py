"""Whether readings can tell unknowns apart, by the singular values of their weighted sensitivities;
where they cannot: which reading, where and how exact, would."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import islice
from typing import NamedTuple

import numpy as np

from flownet.schema.arrays import Array, Integers
from flownet.schema.fault import listed
from flownet.schema.quantities import Quantity
from flownet.studies.readings.file import USUALLY_READ, Known
from flownet.studies.readings.fit import Fit, weakest
from flownet.studies.readings.slopes import Unknown, Unknowns
from flownet.studies.samples import NORMAL_95
from flownet.studies.tolerances import difference

ONE_DIRECTION = 1e-6  # of sensitivities of unit length: below it they are one
COARSEST = math.log(10.0)  # half of an interval that says nothing: a tenth to ten times
USEFUL = math.log(2.0)  # half of the interval that a further reading shall bring
NAMED_PART = 0.2  # of the largest part of a direction: what is less is not named
SHOWN_MOVE = math.log(1.1)  # how far the largest part is moved to show it
NEXT_TO_NOTHING = 0.001  # of an uncertainty: what is less is told as less
PROPOSED = 3  # readings that would help
MOST_TIMES = 50  # by which readings can be more exact
FINEST_READING = 0.2  # of the usual uncertainty of a reading: nobody reads more exactly


class Weak(NamedTuple):
    """A direction in which unknowns move and readings hardly do."""

    told: float  # 1 over the standard deviation along it
    way: Array  # (unknowns,) of unit length


def inseparable(
    free: Unknowns, found: Fit, weak: Weak, known: Known, points: Sequence[str], units: str
) -> str:  # fmt: skip
    """Which unknowns readings cannot tell, and which further readings would, in a sentence.

    `known`: every result; `points`: those that are read.
    """
    some, slopes, at_bound = free.each, found.slopes, found.at_bound
    every = _further(free, found.values, known, points)
    needed, rows, left = list[_Further](), slopes, weakness(slopes, at_bound)
    while left is not None and len(needed) < len(some) and (useful := _ordered(every, left)):
        needed, rows = [*needed, useful[0]], np.vstack([rows, useful[0].row])
        left = weakness(rows, at_bound)
    if left is None and len(needed) == 1:  # any of these by itself
        alone = (each for each in _ordered(every, weak)
                 if weakness(np.vstack([slopes, each.row]), at_bound) is None)  # fmt: skip
        named = [each.words(units) for each in islice(alone, PROPOSED)]
        words = f"a reading of {listed(named, last=', or of ')} would"
    elif left is None:
        words = f"readings of {listed([each.words(units) for each in needed], 5)} together would"
    else:
        less = "free fewer of them" if len(some) > 1 else "leave it as the case has it"
        words = f"no further reading as exact as is usual would; {less}"
    if weak.told * USEFUL * MOST_TIMES > NORMAL_95:
        times = math.ceil(NORMAL_95 / weak.told / USEFUL)
        words += f", or take the same readings {times} times as exactly"
    return f"{_reason(some, slopes, weak, units)}; {words}"


def weakness(slopes: Array, at_bound: Integers) -> Weak | None:
    """What readings say too little of: at all (any unknown), or too coarsely (those that are at no
    bound); None where there is nothing such."""
    sizes = np.linalg.norm(slopes, axis=0)
    if not sizes.all():
        return Weak(0.0, (sizes == 0) / math.sqrt(np.sum(sizes == 0)))
    told, way = weakest(slopes / sizes)
    if told < ONE_DIRECTION:
        way = way / sizes
        return Weak(0.0, way / np.linalg.norm(way))
    free = np.flatnonzero(at_bound == 0)
    if not len(free):
        return None
    told, part = weakest(slopes[:, free])
    way = np.zeros(slopes.shape[1])
    way[free] = part
    return Weak(told, way) if NORMAL_95 / max(told, 1e-300) > COARSEST else None


def _reason(some: Sequence[Unknown], slopes: Array, weak: Weak, units: str) -> str:
    """Which unknowns, and how little readings move with them."""
    way = weak.way * SHOWN_MOVE / np.max(np.abs(weak.way))
    by_each = np.abs(way) * np.linalg.norm(slopes, axis=0)  # what each does alone
    acts = bool(by_each.any())
    by_each = by_each if acts else np.abs(way)
    order = [i for i in np.argsort(-np.abs(way)) if by_each[i] >= NAMED_PART * by_each.max()]
    names, sign = [some[i].path for i in order], math.copysign(1.0, way[order[0]])
    alone, *others = [f"{some[i].path} {some[i].moved(sign * way[i], units)}" for i in order]
    moved = float(np.max(np.abs(slopes @ way))) / NORMAL_95
    least = f"less than {NEXT_TO_NOTHING:g}" if moved < NEXT_TO_NOTHING else \
        f"no more than {moved:.1g}"  # fmt: skip
    what = f"cannot tell {names[0]} from {listed(names[1:], len(names))}" if others and acts else \
        f"say too little of {listed(names, len(names))}"  # fmt: skip
    both = f"{alone} with {listed(others, len(others))}" if others else alone
    return f"the readings {what}: {both} moves every reading by {least} of its uncertainty"


class _Further(NamedTuple):
    """A reading that would help."""

    path: str
    kind: Quantity
    value: float
    gradient: Array  # (unknowns,) on their scales
    usual: float  # uncertainty of 95 %, SI
    within: float = math.nan  # what is needed, likewise

    @property
    def row(self) -> Array:
        """Its sensitivities in standard deviations of what is needed."""
        return self.gradient * NORMAL_95 / self.within

    def words(self, units: str) -> str:
        """`filter.intake.drop (31.2 Pa here) within 2.4 Pa`."""
        shown = difference(self.kind).shown(units)._replace(digits=".2g", least=0)
        here = self.kind.shown(units).text(self.value)
        return f"{self.path} ({here} here) within {shown.text(self.within)}"


def _further(free: Unknowns, x: Array, known: Known, points: Sequence[str]) -> list[_Further]:
    """Every further reading that can be taken, and what it answers to."""
    kinds = {path: quantity for path, (quantity, value) in known.items()
             if path not in points and path.rpartition(".")[2] in USUALLY_READ
             and quantity is not None and math.isfinite(value) and value}  # fmt: skip
    found, there = [], free.at(x, [*kinds])
    for (path, kind), value, own in zip(kinds.items(), *there, strict=True):
        fixed, share = USUALLY_READ[path.rpartition(".")[2]]
        found.append(_Further(path, kind, float(value), own, fixed + share * abs(value)))
    return found


def _ordered(every: Sequence[_Further], weak: Weak) -> list[_Further]:
    """Those that help, first what may be least exact beside what is usual."""
    rest = math.sqrt(max((NORMAL_95 / USEFUL) ** 2 - weak.told**2, 1e-9))
    made = (each._replace(within=float(NORMAL_95 * abs(each.gradient @ weak.way) / rest))
            for each in every)  # fmt: skip
    return sorted(
        (each for each in made if each.within > FINEST_READING * each.usual),
        key=lambda each: (-round(each.within / each.usual, 3), len(each.path), each.path),
    )
