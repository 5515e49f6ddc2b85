"""Exact derivatives held against differences of whole solves: every result to every number.

    python -m tests.derivatives [DEMO ...]

Each number is moved both ways by 1, 1/2 and 1/4 of a step of 1e-4 of its value (one that is zero
and cannot be less: upward only), and the case is solved anew from the state at hand, by steps of
Newton in extended precision (`long double`), so that differences keep their digits. What
derivatives are held against is Richardson's extrapolation of the central (or one-sided)
differences. Whether a pair of result and number can be differenced at all is read off the
differences alone, never off the derivative:

- *kink*: two extrapolations disagree, or the slopes on both sides do (a point of a curve or table,
  a flow about to turn, the edge of a range within a step);
- *faint*: the change of the result drowns in the round-off of the inputs' own columns.
"""

from __future__ import annotations

import dataclasses
import sys
import time
from collections.abc import Collection, Iterator, Sequence
from itertools import pairwise
from typing import Any, NamedTuple

import numpy as np

from flownet.columns import Inputs
from flownet.enclosure.contents import Place
from flownet.enclosure.enclosure import Enclosure
from flownet.equations.assemble import assemble
from flownet.equations.readout import results
from flownet.equations.state import Model, State, Steady
from flownet.equations.topology import Structure
from flownet.results.batch import SolutionBatch
from flownet.results.solution import PREFIXES
from flownet.results.tables import TOTALS
from flownet.schema.component import KINDS
from flownet.schema.fields import Number, roles
from flownet.solver import dividing, steady
from flownet.solver.jacobian import Pattern, System
from flownet.solver.sensitivity import derivatives
from flownet.solver.tolerances import STEP
from tests.test_cases import DEMOS, load

RELATIVE = 1e-6  # what is asked of every derivative
STEP_SIZE, STEP_AT_ZERO = 1e-4, 1e-5
FURTHER = 5  # Newton steps; the last one shows that those before it were enough
SETTLED = 1e-14  # of the largest flow and temperature, by which the last one may move anything
BOTH = np.array([0.0, 1.0, 0.5, 0.25, -1.0, -0.5, -0.25])
UPWARD = BOTH[:4]
TOGETHER = 64  # numbers whose variants are solved side by side
AGREE = RELATIVE / 10  # to which differences must agree with each other
ROUNDING = 4 * np.finfo(float).eps  # of constants that are kept in double precision


class Checked(NamedTuple):
    """Pairs of result and number, how many of each sort, and the largest relative error."""

    held: int  # compared to 1e-6
    idle: int  # no effect, neither by difference nor by derivative
    kinks: int
    faint: int
    unsolved: int  # numbers of which a moved case has no solution
    worst: float
    where: str
    wrong: tuple[str, ...]

    def __add__(self, other: Checked) -> Checked:  # type: ignore[override]
        first = self if self.worst >= other.worst else other
        counts = (a + b for a, b in zip(self[:5], other[:5], strict=True))
        return Checked(*counts, first.worst, first.where, self.wrong + other.wrong)

    def __str__(self) -> str:
        return (
            f"{self.held} pairs held to {RELATIVE:g}, worst {self.worst:.1e} ({self.where}); left "
            f"out: {self.kinks} at a kink ({self.left_out:.2%}), {self.faint} faint, "
            f"{self.unsolved} numbers unsolved; {self.idle} without effect"
        )

    @property
    def left_out(self) -> float:
        """Share of kinks among the pairs in which something happens."""
        return self.kinks / max(self.held + self.kinks, 1)


NOTHING = Checked(0, 0, 0, 0, 0, 0.0, "", ())


def numbers(batch: SolutionBatch) -> tuple[list[str], Any]:
    """Every result that is a number: paths, and values (results, variants) in SI."""
    names, rows = [], []
    for field in TOTALS:
        if field.quantity is not None:
            names.append(f"total.{field.name}")
            rows.append(batch.totals_[field.name])
    for table, prefix in PREFIXES.items():
        found = getattr(batch, table)
        for field in found.fields:
            if field.quantity is not None:
                names += [f"{prefix}{name}.{field.name}" for name in found.names]
                rows += list(found.columns[field.name])
    return names, np.array([np.broadcast_to(row, len(batch)) for row in rows])


def check(case: Enclosure, only: Collection[str] | None = None) -> Checked:
    """All results of a case to all its numbers, or to these only."""
    structure = dividing.structure_of(inputs := Inputs.of(case))
    model = assemble(inputs, structure)
    found = steady.solve(model, Pattern(structure))
    assert found.status == ("",), found.status
    places = [p for p in inputs.number_places() if only is None or p.path in only]
    exact = _exact(inputs, model, found, places)
    total = NOTHING
    for first in range(0, len(places), TOGETHER):
        part = places[first : first + TOGETHER]
        for place, moved in zip(part, _moved(inputs, structure, part, found), strict=True):
            total += _compared(place.path, moved, next(exact))
    return total


def _exact(inputs: Inputs, model: Model, found: Steady, places: Sequence[Place]) -> Iterator[Any]:
    """One column of derivatives a number, in the order of the results."""
    for _, batch in derivatives(inputs, model, found, places):
        yield from (np.imag(numbers(batch)[1]) / STEP).T


class Moved(NamedTuple):
    """The results around one value of a number."""

    names: list[str]
    values: Any  # (results, sides)
    sides: Any  # where, in steps
    size: float  # of a step
    solved: bool


def _moved(
    inputs: Inputs, structure: Structure, places: Sequence[Place], found: Steady
) -> Iterator[Moved]:
    """Whole solves around the value of each number, from the state found there."""
    here = [float(inputs.row(place.path)[0]) for place in places]
    sizes = [STEP_SIZE * abs(x) if x else STEP_AT_ZERO for x in here]
    sides = [BOTH if x or _below(place) else UPWARD for x, place in zip(here, places, strict=True)]
    rows = [x + np.longdouble(h) * s for x, h, s in zip(here, sizes, sides, strict=True)]
    starts = np.cumsum([0, *map(len, rows)])
    fine = _columns(inputs, places, rows, np.longdouble)
    model = assemble(fine, structure)
    at, still = further(model, Pattern(structure), found.state)
    better = dataclasses.replace(found, state=at, status=("",) * fine.variants)
    names, table = numbers(results(fine, model, better, {}))
    for k, size in enumerate(sizes):
        own = slice(starts[k], starts[k + 1])
        yield Moved(names, table[:, own], sides[k], size, bool(still[own].all()))


def _below(place: Place) -> bool:
    """Whether a number can be below zero."""
    role = roles(KINDS[place.kind])[place.key]
    assert isinstance(role, Number)
    return role.low < 0


def _columns(inputs: Inputs, places: Sequence[Place], rows: Sequence[Any], kind: Any) -> Inputs:
    """One number after the other takes its values, in variants side by side. Ranges are not
    looked at: a difference at the upper end of a range needs both sides."""
    width = sum(map(len, rows))
    columns = {
        key: {name: np.repeat(column.astype(kind), width, axis=1) for name, column in made.items()}
        for key, made in inputs.columns.items()
    }
    start = 0
    for place, values in zip(places, rows, strict=True):
        row = inputs.names(place.kind).index(place.name)
        columns[place.kind][place.key][row, start : start + len(values)] = values
        start += len(values)
    return Inputs(inputs.enclosure, columns, inputs.tables, width)


def further(model: Model, pattern: Pattern, state: State) -> tuple[State, Any]:
    """Newton steps in extended precision, and (variants,) whether the last moved nothing more."""
    width = model.variants
    state = State(*(np.repeat(part.astype(np.longdouble), width, axis=1) for part in state))
    inside = pattern.nodes
    for _ in range(FURTHER):
        warm = model.unknown_temperatures(state)
        step = System(model, pattern, state).solve()
        state = model.state(
            state.mass_flow + step.mass_flow, state.pressure[:inside] + step.pressure,
            warm + step.temperature,
        )  # fmt: skip
    moved = [abs(part).max(axis=0) for part in (step.mass_flow, step.temperature)]
    sizes = [abs(part).max(axis=0) for part in (state.mass_flow, state.temperature)]
    return state, np.all([m <= SETTLED * s for m, s in zip(moved, sizes, strict=True)], axis=0)


def slopes(moved: Moved) -> tuple[Any, Any]:
    """(results,) the extrapolated difference, and how far differences disagree with each other."""
    y, h = moved.values, moved.size
    each = [(y[:, k] - y[:, 0]) / (h * moved.sides[k]) for k in range(1, len(moved.sides))]
    if len(each) == 3:  # to one side: errors of the first and the second order go
        first, second = 2 * each[1] - each[0], 2 * each[2] - each[1]
        slope = (4 * second - first) / 3
        return slope, abs(slope - second)
    central = [(each[k] + each[k + 3]) / 2 for k in range(3)]
    bends = [each[k] - each[k + 3] for k in range(3)]
    first, slope = ((4 * b - a) / 3 for a, b in pairwise(central))
    jump = 2 * bends[2] - bends[1]  # of the slope, at the value itself
    return slope, abs(slope - first) + abs(jump)


def _compared(path: str, moved: Moved, exact: Any) -> Checked:
    """One number against all results."""
    if not moved.solved:
        return NOTHING._replace(unsolved=1)
    slope, doubt = slopes(moved)
    y = moved.values
    noise = ROUNDING * np.max(abs(y), axis=1) / moved.size
    known = np.isfinite(y[:, 0])  # others are not there: a fan that stands has no life
    idle = known & (np.maximum(abs(slope), abs(exact)) <= noise)
    kink = known & ~idle & ~(doubt <= AGREE * abs(slope) + noise)
    faint = known & ~idle & ~kink & (noise > RELATIVE * abs(slope))
    held = known & ~idle & ~kink & ~faint
    with np.errstate(all="ignore"):
        error = np.where(held, abs(exact - slope) / abs(slope), 0.0)
    bad = (held & ~(error <= RELATIVE)) | (faint & ~(abs(exact - slope) <= 2 * noise))
    worst = int(np.argmax(error))
    told = tuple(
        f"{moved.names[i]} to {path}: {exact[i]:.9g}, by differences {slope[i]:.9g}"
        for i in np.flatnonzero(bad)
    )
    return Checked(
        int(held.sum()), int(idle.sum()), int(kink.sum()), int(faint.sum()), 0,
        float(error[worst]), f"{moved.names[worst]} to {path}", told,
    )  # fmt: skip


def main(demos: Sequence[str]) -> int:
    """All numbers of these demos; 1 where a derivative is wrong."""
    wrong = 0
    for demo in demos or DEMOS:
        began = time.perf_counter()
        found = check(load(demo))
        print(f"{demo}: {found}; {time.perf_counter() - began:.0f} s")
        for words in found.wrong:
            print("  wrong:", words)
        wrong += len(found.wrong)
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
