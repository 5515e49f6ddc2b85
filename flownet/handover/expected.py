"""What a case says to who fits and tests the enclosure: points to read, with their bands, and what
each wrong thing would read.

Bands are those of `readings`: exact derivatives to every tolerance, linear, 95 %. Each fault is a
change of the case that is solved at the state of the test.
"""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np

from flownet import __version__
from flownet.enclosure.contents import Changes
from flownet.enclosure.enclosure import Enclosure
from flownet.findings.facts import Working, running_fans
from flownet.handover.sentences import inward
from flownet.results.solution import Solution
from flownet.results.streams import is_outside
from flownet.schema import quantities as q
from flownet.schema.fields import given
from flownet.schema.quantities import Quantity
from flownet.studies.readings.explanations import SWITCHED, other_mains
from flownet.studies.readings.slopes import SolvedCase, drawn
from flownet.studies.runs import Run, evaluate
from flownet.studies.samples import NORMAL_95
from flownet.studies.tolerances import Spread, spreads

READING_COLUMNS = ("point", "predicted", "low", "high", "unit", "reading", "reading_unit",
                   "uncertainty", "note")  # fmt: skip
CSV_MARK = "# Readings of the test, flownet "  # the first line of each file of ours
ROTATION_WITHIN, CURRENT_WITHIN = 0.05, 0.15  # of the data: common practice, no source
MOST_PARTS = 8  # that are read, those with least margin
MOST_OF_A_KIND = 3  # fans, filters, vents, leaks of which each fault is solved
LOADED, LEAKING = 2.0, 10.0  # times the drop of a mat, the flow of a seal: what a fault is taken as
STATES_TRIED = {"filter": "fitted", "vent": "open", "leak": "open"}
PRESSURES, SPEEDS = 2, 3  # points that the table of faults shows, and one temperature


class TestPoint(NamedTuple):
    """One reading that is expected; SI."""

    name: str  # V1
    path: str  # of the result; empty: a figure of the data sheet, which no result is
    what: str
    where: str
    quantity: Quantity
    predicted: float
    low: float = math.nan
    high: float = math.nan
    scale: float = 1.0  # rated speed: a ratio is read in rpm
    place: tuple[float, float] | None = None  # in the view [m]

    @property
    def kind(self) -> str:
        """V, A, N, P, T."""
        return self.name[:1]

    @property
    def warm(self) -> bool:
        """Whether it is judged as a rise above the air that comes in."""
        return self.quantity == q.TEMPERATURE

    @property
    def sign(self) -> int:
        """-1 of what is told the other way round: air that goes `to` > `from`, below outside."""
        return -1 if self.kind in "VP" and self.predicted < 0 else 1

    def word(self, value: float) -> str:
        """`low` or `high` outside of its band as it is told, `back` of air that turns; or empty."""
        if self.kind == "V" and value * self.predicted < 0:
            return "back"
        low, high = sorted((self.sign * self.low, self.sign * self.high))
        return "low" if self.sign * value < low else "high" if self.sign * value > high else ""


class WrongState(NamedTuple):
    """Something that is wrong, and what each point would read with it [SI]; NaN: no solution."""

    what: str
    look: str  # what to look for
    changes: Changes
    values: Mapping[str, float] = {}  # by path


@dataclass(frozen=True, repr=False, eq=False)
class Expected:
    """What is read at the state of the test, and with each wrong thing."""

    solution: Solution
    points: tuple[TestPoint, ...]
    faults: tuple[WrongState, ...]
    spreads: tuple[Spread, ...]
    left_out: int  # parts that have a temperature and are not among the points

    @property
    def case(self) -> Enclosure:
        """In its scenario and variant."""
        return self.solution.case

    @property
    def outside(self) -> float:
        """The air that comes in [K]."""
        return float(self.solution.site["temperature"])

    @property
    def columns(self) -> tuple[TestPoint, ...]:
        """The points that the table of faults shows."""
        found = {kind: [each for each in self.points if each.kind == kind] for kind in "PVT"}
        airs = [each for each in found["T"] if each.path.startswith("compartment.")]
        warmest = max(airs, key=lambda each: each.predicted, default=None)
        pressures = sorted(found["P"], key=lambda each: -abs(each.predicted))[:PRESSURES]
        return (*(each for each in found["P"] if each in pressures), *found["V"][:SPEEDS],
                *([warmest] if warmest else []))  # fmt: skip

    def csv(self, units: str | None = None) -> str:
        """The points with blanks for readings, as `readings` takes them once they are filled in."""
        return "".join(_csv(self, units or self.case.units))


def expected(made: Enclosure, *, defaults: bool) -> Mapping[str, Any]:
    """What `Expected` takes, of a case in its state of the test; as `commission`."""
    solved = SolvedCase(made)
    solution = solved.batch.select(0)
    wanted, left_out = _points(solution)
    moved = spreads(made, defaults)
    points = _banded(solved, wanted, moved)
    return {"solution": solution, "points": points, "faults": _solved(solution, points),
            "spreads": moved, "left_out": left_out}  # fmt: skip


# --- points ---------------------------------------------------------------------------------------


def _points(solution: Solution) -> tuple[list[TestPoint], int]:
    """Every point in the order of the sheet, without bands; how many parts are left out."""
    fans = running_fans(solution)
    found = [*_of_fans(solution, fans), *_currents(fans), *_pressures(solution)]
    vents = (f"vent.{name}" for name, item in solution.case.things["vent"].items()
             if item.on is None and item.state == "open")  # fmt: skip
    found += [_of(solution, "V", path, "velocity", q.VELOCITY, f"Air speed, {path}",
                  "over its gross area") for path in vents]  # fmt: skip
    intakes = inward(solution)
    intake = max(intakes, key=lambda path: intakes[path], default="")
    found.append(TestPoint("T", "site.temperature", "Air that comes in", f"before {intake}, shaded"
                           if intake else "outside, shaded", q.TEMPERATURE,
                           solution.site["temperature"], place=getattr(
                               solution.case.branches.get(intake), "at", None)))  # fmt: skip
    found += [_of(solution, "T", f"compartment.{name}", "temperature", q.TEMPERATURE,
                  f"Air, {name}", "free air, out of jets")
              for name in solution.compartments]  # fmt: skip
    if math.isfinite(solution.totals.air_rise):
        found.append(TestPoint("T", "total.air_rise", "Air that leaves",
                               "mean over all outlets", q.DIFFERENCE,
                               solution.totals.air_rise))  # fmt: skip
    parts = _parts(solution)
    found += [_of(solution, "T", f"part.{name}", "temperature", q.TEMPERATURE, name,
                  "on its surface, pressed on") for name in parts[:MOST_PARTS]]  # fmt: skip
    return _named(each for each in found if math.isfinite(each.predicted)), \
        max(len(parts) - MOST_PARTS, 0)  # fmt: skip


def _named(points: Iterator[TestPoint]) -> list[TestPoint]:
    """V1, V2, T0, T1: numbered within their letter; the air that comes in is T0."""
    count, made = dict[str, int](T=-1), []
    for each in points:
        count[each.kind] = count.get(each.kind, 0) + 1
        made.append(each._replace(name=f"{each.kind}{count[each.kind]}"))
    return made


def _of(
    solution: Solution, letter: str, path: str, field: str, quantity: Quantity, what: str,
    where: str,
) -> TestPoint:  # fmt: skip
    kind, _, name = path.partition(".")
    item = solution.case.things[kind][name]
    value = getattr(solution.branches[path] if kind not in ("compartment", "part")
                    else getattr(solution, f"{kind}s")[name], field)  # fmt: skip
    place = getattr(item, "at", None)
    if kind == "compartment" and item.outline is not None:
        x, y, width, height = item.outline
        place = (x + width * (0.22 if letter == "P" else 0.5), y + height / 2)
    return TestPoint(letter, f"{path}.{field}", what, where, quantity, float(value), place=place)


def _of_fans(solution: Solution, fans: Sequence[Working]) -> Iterator[TestPoint]:
    """Air speed and rotation of each."""
    for fan in fans:
        yield _of(solution, "V", fan.path, "velocity", q.VELOCITY, f"Air speed, {fan.path}",
                  "mean of 5 points over its flow area")  # fmt: skip
    for fan in fans:
        if given(rated := fan.rating.rated_speed):
            yield TestPoint(
                "N", f"{fan.path}.speed_ratio", f"Speed of rotation, {fan.path}",
                "optical", q.SPEED, rated * fan.speed, scale=rated)  # fmt: skip


def _currents(fans: Sequence[Working]) -> Iterator[TestPoint]:
    """Of the data sheet, at rated speed: no result, but what is read first."""
    for fan in fans:
        if given(fan.rating.current):
            at = "" if math.isclose(fan.speed, 1.0) else "; of the data sheet at rated speed"
            yield TestPoint("A", "", f"Current, {fan.path}", f"clamp on one lead{at}", q.CURRENT,
                            fan.rating.current)  # fmt: skip


def _pressures(solution: Solution) -> Iterator[TestPoint]:
    """Across every filter, and of every compartment against outside."""
    idle = still(solution)
    for path in (f"filter.{name}" for name in solution.case.things["filter"]):
        if path not in idle:
            yield _of(solution, "P", path, "drop", q.PRESSURE, f"Drop of {path}",
                      "one tube on each side")  # fmt: skip
    for name, row in solution.compartments.items():
        yield _of(solution, "P", f"compartment.{name}", "pressure", q.PRESSURE,
                  f"{name} {'below' if row.pressure < 0 else 'above'} outside",
                  "outside at the same height")  # fmt: skip


def _parts(solution: Solution) -> list[str]:
    """Parts whose own surface can be read, least margin first: no station inside of a part."""
    found = [name for name, row in solution.parts.items()
             if math.isfinite(row.temperature) and not solution.case.parts[name].chain]  # fmt: skip
    return sorted(found, key=lambda name: np.nan_to_num(solution.parts[name].margin, nan=math.inf))


def _banded(
    solved: SolvedCase, points: Sequence[TestPoint], moved: Sequence[Spread]
) -> tuple[TestPoint, ...]:  # fmt: skip
    """With what 95 of 100 enclosures lie within."""
    paths = [each.path for each in points if each.path]
    linear = drawn(solved, moved, paths)
    wide = dict(zip(paths, NORMAL_95 * np.linalg.norm(linear.slopes, axis=1), strict=True))
    made = []
    for each in points:
        own = float(wide.get(each.path, 0.0)) * each.scale
        if each.kind == "A":
            own = CURRENT_WITHIN * each.predicted
        elif each.kind == "N":
            own = max(own, ROTATION_WITHIN * each.predicted)
        made.append(each._replace(low=each.predicted - own, high=each.predicted + own))
    return tuple(made)


# --- faults ---------------------------------------------------------------------------------------


def _solved(solution: Solution, points: Sequence[TestPoint]) -> tuple[WrongState, ...]:
    """Each fault with what every point would read."""
    tried = list(_faults(solution))
    pairs = evaluate(solution.case, [Run(changes=each.changes) for each in tried])
    paths = [each.path for each in points if each.path]
    values = {path: pairs[path] for path in paths} if tried else {}
    return tuple(each._replace(values={path: float(values[path][i]) for path in paths},
                               look="No solution. " * bool(pairs.status[i]) + each.look)
                 for i, each in enumerate(tried))  # fmt: skip


def _faults(solution: Solution) -> Iterator[WrongState]:
    """What can be wrong after fitting, in the order in which a tester finds it."""
    case, some, idle = solution.case, slice(MOST_OF_A_KIND), still(solution)
    for fan in running_fans(solution)[some]:
        other = "forward" if fan.item.mounted == "reversed" else "reversed"
        way = "in" if is_outside(fan.target) else "out" if is_outside(fan.source) \
            else f"towards {fan.source}"  # fmt: skip
        yield WrongState(f"{fan.path} blows {way}", "Frame turned round: see its label.",
                         {f"{fan.path}.mounted": other})  # fmt: skip
        yield WrongState(f"{fan.path} stands still", "Terminals, supply, blocked rotor, alarm.",
                    {f"{fan.path}.state": "stopped"})  # fmt: skip
    for name, supply in case.things["supply"].items():
        for hertz in other_mains(case, name):
            yield WrongState(f"{hertz:g} Hz in place of {supply.frequency:g} Hz",
                        "Measure the frequency. Life and noise are other than planned.",
                        {f"supply.{name}.frequency": f"{hertz:g} Hz"})  # fmt: skip
    of = {kind: [(f"{kind}.{name}", item) for name, item in case.things[kind].items()
                 if item.state == state and f"{kind}.{name}" not in idle][some]
          for kind, state in STATES_TRIED.items()}  # fmt: skip
    for path, item in of["filter"]:
        yield WrongState(f"{path} at twice its drop", "Wrong mat, packing film left on, or loaded.",
                    {f"{path}.fouling": LOADED * item.fouling})  # fmt: skip
    for path, _ in of["vent"]:
        yield WrongState(f"{path} covered", "Take the cover off.",
                    {f"{path}.state": SWITCHED["vent"][1]})  # fmt: skip
    for path, item in of["leak"]:
        yield WrongState(f"{path} leaks {LEAKING:g} times", "Door not shut, seal out of its place.",
                    {f"{path}.flow_at.0": LEAKING * item.flow_at[0]})  # fmt: skip


# --- the file of readings -------------------------------------------------------------------------


def _csv(found: Expected, units: str) -> Iterator[str]:
    """Remarks, headings, a row a point; figures of data sheets, which no result is, as remarks."""
    yield f"{CSV_MARK}{__version__}, inputs {found.case.digest.removeprefix('sha256:')[:16]}\n"
    yield "# Fill in reading and uncertainty (95 of 100 lie within, in the unit of the reading).\n"
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(READING_COLUMNS)
    for each in found.points:
        shown = each.quantity.shown(units)
        numbers = [f"{shown.of(value):.6g}" for value in (each.predicted, each.low, each.high)]
        turned = "; minus" if each.sign < 0 else ""
        note = f"{each.name}: {each.what}; {each.where}{turned}"
        row = [each.path, *numbers, shown.unit, "", shown.unit, "", note]
        if each.path:
            writer.writerow(row)
        else:
            yield f"# {note}: {' '.join(numbers[:1])} {shown.unit}, {' to '.join(numbers[1:])}\n"
    yield text.getvalue()


def still(solution: Solution) -> set[str]:
    """Branches that no air passes, such as a mat on a place that is blanked."""
    return {path for path, row in solution.branches.items() if not abs(row.mass_flow) > 0}
