"""What is read at the state of the test, with its bands, and what each wrong thing would read.

Bands are those of `readings`: exact derivatives to every tolerance, linear, 95 %. Each fault is a
change of the case that is solved at the state of the test.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np

from flownet.enclosure.contents import Changes
from flownet.enclosure.enclosure import Enclosure
from flownet.findings.facts import running_fans
from flownet.handover.sentences import inward
from flownet.results.solution import Solution
from flownet.results.streams import is_outside
from flownet.schema import quantities as q
from flownet.schema.fields import get
from flownet.studies.readings.explanations import SWITCHED, other_mains
from flownet.studies.readings.slopes import SolvedCase, drawn
from flownet.studies.runs import Run, evaluate
from flownet.studies.samples import NORMAL_95
from flownet.studies.tolerances import Spread, spreads

MOST_PARTS = 8  # that are read, those with least margin
MOST_OF_A_KIND = 3  # fans, filters, vents, leaks of which each fault is solved
LOADED, LEAKING = 2.0, 10.0  # times the drop of a mat, the flow of a seal: what a fault is taken as
PRESSURES, SPEEDS = 2, 3  # points that the table of faults shows, and one temperature
LETTERS = {  # of points: what they read, how near to the data (common practice, no source)
    "V": (q.VELOCITY, 0.0), "A": (q.CURRENT, 0.15), "N": (q.SPEED, 0.05), "P": (q.PRESSURE, 0.0),
    "T": (q.TEMPERATURE, 0.0),
}  # fmt: skip
AIR_HEAD, FORCE_HEAD, RISE_HEAD = "Air speed", "Pressure", "Rise above T0 in the steady state"
READ = (  # letter, kind, result of it, head of the group, what is read, where
    ("V", "fan", "velocity", AIR_HEAD, "Air speed, {path}",
     "mean of 5 points over its flow area"),
    ("V", "vent", "velocity", AIR_HEAD, "Air speed, {path}", "over its gross area"),
    ("A", "fan", "", "Current, by the data sheet", "Current, {path}",
     "clamp on one lead; at rated speed"),
    ("N", "fan", "speed_ratio", "Speed of rotation", "Speed of rotation, {path}", "optical"),
    ("P", "filter", "drop", FORCE_HEAD, "Drop of {path}", "one tube on each side"),
    ("P", "compartment", "pressure", FORCE_HEAD, "{name} {side} outside",
     "outside at the same height"),
    ("T", "site", "temperature", "The air that comes in", "Air that comes in",
     "{intake}, shaded"),
    ("T", "compartment", "temperature", RISE_HEAD, "Air, {name}", "free air, out of jets"),
    ("T", "total", "air_rise", RISE_HEAD, "Air that leaves", "mean over all outlets"),
    ("T", "part", "temperature", RISE_HEAD, "{name}", "on its surface, pressed on"),
)  # fmt: skip
WRONG = (  # kind, key, word that it gets or times its value, what is wrong, what to look for
    ("fan", "mounted", "", "{path} blows {way}", "Label on the wrong side: turn the frame round."),
    ("fan", "state", SWITCHED["fan"][1], "{path} stands still",
     "Terminals, supply, blocked rotor, alarm."),
    ("supply", "frequency", "", "{path} on {value}",
     "Measure the frequency. Life and noise are other than planned."),
    ("filter", "fouling", LOADED, "{path} at {times:g} times its drop",
     "Wrong mat, packing film left on, or loaded."),
    ("vent", "state", SWITCHED["vent"][1], "{path} covered", "Take the cover off."),
    ("leak", "flow_at.0", LEAKING, "{path} leaks {times:g} times",
     "Door not shut, seal out of its place."),
)  # fmt: skip


class TestPoint(NamedTuple):
    """One reading that is expected; SI."""

    name: str  # V1
    path: str  # of the result; empty: a figure of the data sheet, which no result is
    of: str  # whose it is: `fan.left`
    head: str
    what: str
    where: str
    predicted: float
    low: float = math.nan
    high: float = math.nan
    scale: float = 1.0  # rated speed: a ratio is read in rpm

    @property
    def quantity(self) -> q.Quantity:
        return q.DIFFERENCE if self.of == "total" else LETTERS[self.name[0]][0]

    @property
    def rises(self) -> bool:
        """Whether a temperature is judged as a rise above the air that comes in, T0."""
        return self.quantity == q.TEMPERATURE and self.name != "T0"

    @property
    def sign(self) -> int:
        """-1 of what is told the other way round: air that goes `to` > `from`, below outside."""
        return -1 if self.name[0] in "VP" and self.predicted < 0 else 1

    def word(self, value: float) -> str:
        """`low` or `high` outside of its band as it is told, `back` of air that turns; or empty."""
        if self.name[0] == "V" and value * self.predicted < 0:
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
    def columns(self) -> tuple[TestPoint, ...]:
        """The points that the table of faults shows: largest pressures, air speeds, warmest air."""
        first = sorted(self.points, key=lambda each: -abs(each.predicted))
        pressures = [each for each in first if each.name[0] == "P"][:PRESSURES]
        airs = [each for each in first if each.of.startswith("compartment.") and each.rises][:1]
        speeds = [each for each in self.points if each.name[0] == "V"][:SPEEDS]
        return (*sorted(pressures, key=self.points.index), *speeds, *airs)


def expected(made: Enclosure, *, defaults: bool) -> Mapping[str, Any]:
    """What `Expected` takes, of a case in its state of the test; as `commission`."""
    solved = SolvedCase(made)
    solution, moved = solved.batch.select(0), spreads(made, defaults)
    margins = {name: np.nan_to_num(row.margin, nan=math.inf)
               for name, row in solution.parts.items()
               if math.isfinite(row.temperature) and not made.parts[name].chain}  # fmt: skip
    parts = sorted(margins, key=lambda name: margins[name])  # whose own surface can be read
    points = _banded(solved, list(_points(solution, parts[:MOST_PARTS])), moved)
    return {"solution": solution, "points": points, "faults": _solved(solution, points),
            "spreads": moved, "left_out": len(parts[MOST_PARTS:])}  # fmt: skip


# --- points ---------------------------------------------------------------------------------------


def _points(solution: Solution, parts: Sequence[str]) -> Iterator[TestPoint]:
    """Every point in the order of the sheet, without its band, numbered within its letter."""
    things, intakes, idle = solution.case.things, inward(solution), still(solution)
    fans = {fan.item.name: fan.rating for fan in running_fans(solution)}
    intake = max(intakes, key=lambda path: intakes[path], default="")
    named = {
        "fan": fans, "filter": [name for name in things["filter"] if f"filter.{name}" not in idle],
        "vent": [name for name, item in things["vent"].items()
                 if item.on is None and item.state == "open"],
        "compartment": solution.case.compartments, "part": parts, "site": [""], "total": [""],
    }  # fmt: skip
    count = dict[str, int](T=-1)  # the air that comes in is T0
    for letter, kind, field, head, what, where in READ:
        for name in named[kind]:
            path = f"{kind}.{name}" if name else kind
            scale = fans[name].rated_speed if letter == "N" else 1.0
            value = float(solution[f"{path}.{field}"] if field else fans[name].current) * scale
            if not math.isfinite(value):
                continue
            count[letter] = count.get(letter, 0) + 1
            words = {"path": path, "name": name, "side": "below" if value < 0 else "above",
                     "intake": f"before {intake}" if intake else "outside"}  # fmt: skip
            yield TestPoint(
                f"{letter}{count[letter]}", f"{path}.{field}" if field else "",
                intake if kind == "site" else path, head, what.format(**words),
                where.format(**words), value, scale=scale,
            )  # fmt: skip


def _banded(
    solved: SolvedCase, points: Sequence[TestPoint], moved: Sequence[Spread]
) -> tuple[TestPoint, ...]:  # fmt: skip
    """With what 95 of 100 enclosures lie within."""
    paths, made = [each.path for each in points if each.path], []
    linear = drawn(solved, moved, paths)
    wide = dict(zip(paths, NORMAL_95 * np.linalg.norm(linear.slopes, axis=1), strict=True))
    for each in points:
        own = max(float(wide.get(each.path, 0.0)) * each.scale,
                  LETTERS[each.name[0]][1] * each.predicted)  # fmt: skip
        made.append(each._replace(low=each.predicted - own, high=each.predicted + own))
    return tuple(made)


def still(solution: Solution) -> set[str]:
    """Branches that no air passes, such as a mat on a place that is blanked."""
    return {path for path, row in solution.branches.items() if not abs(row.mass_flow) > 0}


# --- faults ---------------------------------------------------------------------------------------


def _solved(solution: Solution, points: Sequence[TestPoint]) -> tuple[WrongState, ...]:
    """Each fault with what every point would read."""
    tried = list(_faults(solution))
    pairs = evaluate(solution.case, [Run(changes=each.changes) for each in tried])
    values = {each.path: pairs[each.path] for each in points if each.path and tried}
    return tuple(each._replace(values={path: float(row[i]) for path, row in values.items()},
                               look="No solution. " * bool(pairs.status[i]) + each.look)
                 for i, each in enumerate(tried))  # fmt: skip


def _faults(solution: Solution) -> Iterator[WrongState]:
    """What can be wrong after fitting, of the first things of each kind that it can befall."""
    case, idle = solution.case, still(solution)
    fans = {fan.path: fan for fan in running_fans(solution)}
    moving = {path for path, item in case.branches.items() if path not in idle
              and getattr(item, "state", "") in ("fitted", "open")}  # fmt: skip
    able = {*fans, *moving, *(f"supply.{name}" for name in case.things["supply"])}
    for kind, key, value, what, look in WRONG:
        every = [(path, item) for name, item in case.things[kind].items()
                 if (path := f"{kind}.{name}") in able
                 and not (getattr(item, "on", None) or "").startswith(f"{kind}.")]  # fmt: skip
        for path, item in every[:MOST_OF_A_KIND]:
            way, tried = "", [value if isinstance(value, str) else value * get(item, key)]
            if key == "mounted":
                tried = ["forward" if item.mounted == "reversed" else "reversed"]
                start, end = fans[path].source, fans[path].target
                way = "in" if is_outside(end) else "out" if is_outside(start) else f"to {start}"
            elif key == "frequency":
                tried = [f"{hertz:g} Hz" for hertz in other_mains(case, item.name)]
            for each in tried:
                told = what.format(path=path, way=way, value=each, times=value)
                yield WrongState(told, look, {f"{path}.{key}": each})
