"""The value of one key at which the first limit breaks."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from typing import Any, NamedTuple

import numpy as np

from flownet.attempt import changed
from flownet.enclosure.enclosure import Changes, Enclosure
from flownet.judging.assessment import ALIKE, THERMAL
from flownet.judging.voids import told
from flownet.results.solution import Limit, extra
from flownet.results.tables import Field, html_table, plain
from flownet.schema import argument_checks
from flownet.schema import quantities as q
from flownet.schema.arrays import Array
from flownet.schema.errors import NoSolution
from flownet.schema.quantities import Quantity
from flownet.solve import Progress, broken_in_layers, solve
from flownet.studies.headroom_search import (
    REFUSED,
    Bench,
    Crossing,
    Name,
    Point,
    Turn,
    crossings,
    grid,
    turns,
    unjudged,
)
from flownet.studies.headroom_subject import Subject, span, subject
from flownet.studies.runs import Setup, solve_pairs
from flownet.studies.verdicts import bound, divided, listed

SAME = 1e-6  # of levels, for a key that the tightest limit does not feel
NOWHERE = (
    "no limit is given: give a part its limit, a compartment or slot its air_limit, or [limits]"
)


class FilterChange(NamedTuple):
    """When to change one filter."""

    path: str  # filter.intake
    today: float  # drop across it at today's value [Pa]
    drop: float  # at the value where the first limit breaks [Pa]
    sure: bool  # no smaller value on the way there has as large a drop


@dataclass(frozen=True, repr=False, eq=False)
class Headroom:
    """How far a key can go: what breaks above and below today's value, and where."""

    case: Enclosure  # in its scenario and variant, with changes
    subject: Subject
    low: float  # ends of the range that was tried
    high: float
    today: Point
    scan: tuple[Point, ...]  # by value
    up: tuple[Crossing, ...]  # changes of holding above today's value, going up
    down: tuple[Crossing, ...]  # below, going down
    turns: tuple[Turn, ...]  # where the margin is not monotone
    unknown: tuple[Name, ...]  # limits without a value today: left out of the search
    there: Point | None  # solved again at `value`; None: nothing changes in the range
    filters: tuple[FilterChange, ...]

    @property
    def key(self) -> str:
        """What was moved."""
        return self.subject.path

    @property
    def first(self) -> Crossing | None:
        """The change that counts: where limits break (or, broken today, where they hold).

        Above today's value if there is one, else below, a value that is not allowed counting last;
        of a case that is broken, the nearer one.
        """
        found = [side[0] for side in (self.up, self.down) if side]
        if not self.today.holds:
            return min(found, key=self._away, default=None)
        return min(found, key=lambda item: item.after.status == REFUSED, default=None)

    def _away(self, item: Crossing) -> float:
        return abs(item.value - self.subject.present)

    @property
    def value(self) -> float:
        """Where it is, SI (of a factor, its size); NaN where nothing changes in the range."""
        return self.first.value if self.first else math.nan

    @property
    def limit(self) -> Limit | None:
        """The limit that breaks there; None where nothing does, or where no solution is left."""
        if self.first is None:
            return self.today.limit if self.today.status == "over" else None
        edge = self.first.after if self.first.breaks else self.first.before
        return edge.limit if edge.status == "over" else None

    @property
    def room(self) -> float:
        """From today's value to where limits break, either way; 0 broken, inf not in the range."""
        if not self.today.holds:
            return 0.0
        found = [self._away(side[0]) for side in (self.up, self.down)
                 if side and side[0].after.status != REFUSED]  # fmt: skip
        return min(found, default=math.inf)

    @property
    def alarm(self) -> float:
        """Temperature of the hottest compartment air where a filter must be changed [K], or NaN."""
        return self.there.hottest_air if self.filters and self.there else math.nan

    def verdicts(self, units: str = "metric") -> tuple[str, ...]:
        """In sentences; the first says which limit breaks where."""
        return tuple(_sentences(self, units))

    @property
    def verdict(self) -> str:
        """The first of them."""
        return self.verdicts()[0]

    def __repr__(self) -> str:
        return f'<Headroom "{self.case.title}" {self.verdict}>'

    def _repr_html_(self) -> str:
        """The scan, for notebooks."""
        rows = [(self.subject.text(p.value), p.margin_text(), p.word, p.decides)
                for p in self.scan]  # fmt: skip
        return html_table(repr(self), (self.key, "margin", "status", "decides"), rows)

    def rows(self) -> list[dict[str, Any]]:
        """The scan as plain rows, in the units of their JSON keys."""
        return [row(point, self.subject) for point in self.scan]

    def to_frame(self) -> Any:
        """A pandas DataFrame, one row a value; ImportError without pandas, an extra."""
        return extra("pandas").DataFrame(self.rows())

    def to_dict(self) -> dict[str, Any]:
        """As in JSON; values of the key in `unit`."""
        applied, limit = self.case.applied, self.limit
        return {
            "command": "headroom", "key": self.key, "factor": self.subject.factor,
            "scenario": None if applied.scenario == "base" else applied.scenario,
            "variant": None if applied.variant == "base" else applied.variant,
            "verdict": list(self.verdicts()), "unit": self.subject.quantity.json.unit or None,
            "low": self._plain(self.low), "high": self._plain(self.high),
            "value": self._plain(self.value), "holds_today": self.today.holds,
            "limit": limit.limit if limit else None, "subject": limit.subject if limit else None,
            "today": row(self.today, self.subject),
            "there": row(self.there, self.subject) if self.there else None,
            "up": [self._crossing(item) for item in self.up],
            "down": [self._crossing(item) for item in self.down],
            "turns": [{"value": self._plain(t.value), "largest": t.largest} for t in self.turns],
            "unknown": [subject for _, subject in self.unknown],
            "filters": [self._filter(item) for item in self.filters], "scan": self.rows(),
        }  # fmt: skip

    def _plain(self, value: float) -> Any:
        return plain(Field("", self.subject.quantity), value)

    def _crossing(self, item: Crossing) -> dict[str, Any]:
        beyond = item.after if item.breaks else item.before
        return {
            "value": self._plain(item.value), "then": "breaks" if item.breaks else "holds",
            "status": beyond.status, "subject": beyond.decides or None, "jumps": item.jumps,
            "why": beyond.why or None,
        }  # fmt: skip

    def _filter(self, item: FilterChange) -> dict[str, Any]:
        pressure, warm = q.PRESSURE, q.TEMPERATURE
        return {
            "filter": item.path, pressure.key("drop_today"): plain(Field("", pressure), item.today),
            pressure.key("change_at"): plain(Field("", pressure), item.drop),
            warm.key("alarm"): plain(Field("", warm), self.alarm),
            "alarm_in": self.there.hottest_air_in if self.there else None, "sure": item.sure,
        }  # fmt: skip


def row(point: Point, subject: Subject) -> dict[str, Any]:
    """A point as in JSON; the value in the unit of `unit`."""
    shown = subject.quantity
    limit = point.limit
    unit = limit.margin_quantity.json.unit if limit else None
    found = {
        "value": plain(Field("", shown), point.value), "unit": shown.json.unit or None,
        "status": point.status, "limit": limit.limit if limit else None,
        "subject": point.decides or None,
        "margin": plain(Field("", limit.margin_quantity), limit.margin) if limit else None,
        "margin_unit": "h" if unit == "hours" else unit,
        q.DIFFERENCE.key("air_rise"): plain(Field("", q.DIFFERENCE), point.air_rise),
        q.TEMPERATURE.key("hottest_air"): plain(Field("", q.TEMPERATURE), point.hottest_air),
        "hottest_air_in": point.hottest_air_in or None,
        "void": {word: list(subjects) for word, subjects in point.void.items()},
        "why": point.why or None,
    }  # fmt: skip
    for path, drop in point.drops.items():
        found[q.PRESSURE.key(f"{path}.drop")] = plain(Field("", q.PRESSURE), drop)
    return found


def headroom(
    case: Enclosure, key: str, *, scenario: str = "base", variant: str = "base",
    changes: Changes | None = None, upto: Any = None, executor: Executor | None = None,
    progress: Progress | None = None,
) -> Headroom:  # fmt: skip
    """How far a key can go before the first limit breaks, above and below today's value.

    A range is scanned in one batch, 33 values; every change of holding is narrowed down and set
    where the margin of the limit that breaks is zero. A range in which limits break and hold again
    between two neighbours of the scan is not seen.

    Parameters
    ----------
    case : Enclosure
    key : str
        Input path of a number, `*` for several: all get one value, or, where they differ today, a
        common factor.
    scenario, variant : str
        Names in the case, as for `solve`.
    changes : mapping, optional
        Input path -> value, applied before the search; they make today's values.
    upto : float or str, optional
        Value to search up (or down) to: SI, or text with a unit. Default: both ways, as far as the
        table of ranges goes.
    executor : concurrent.futures.Executor, optional
        Solves blocks; every executor returns the same numbers.
    progress : callable(done, total), optional
        Of the scan.

    Raises
    ------
    CaseError
        A path that is no number or has no value today, an `upto` that does not fit it, unknown
        names.
    NoSolution
        No solution at today's value.
    """
    argument_checks.check("headroom", case, Enclosure)
    argument_checks.check_path("headroom: key", key, "outside.temperature")
    made = changed(case, scenario, variant, changes)
    moved = subject(made, key)
    return searched(made, moved, span(moved, made, upto), executor, progress)


def searched(
    case: Enclosure, moved: Subject, ends: tuple[float, float], executor: Executor | None = None,
    progress: Progress | None = None,
) -> Headroom:  # fmt: skip
    """The headroom of a case as it is, between two values."""
    now = solve_pairs(case, [Setup()])
    if not now.ok[0]:
        solve(case)  # says what is wrong, with the right kind of error
        raise NoSolution(now.status[0])
    unknown = unjudged(now)[0]
    watched = [place.path.removesuffix(".fouling") for place in moved.places
               if place.key == "fouling"]  # fmt: skip
    watched = [path for path in watched if np.isfinite(now[f"{path}.drop"][0])]
    bench = Bench(case, moved, tuple(watched), executor, unknown)
    scan = bench.points(grid(ends[0], moved.present, ends[1], moved.whole), progress)
    at = next(i for i, point in enumerate(scan) if point.value == moved.present)
    sides = [crossings(bench, outward, moved.whole) for outward in (scan[at:], scan[at::-1])]
    found = Headroom(
        case, moved, *ends, scan[at], tuple(scan), tuple(sides[0]), tuple(sides[1]),
        tuple(turns(scan)), tuple(sorted(unknown)), None, (),
    )  # fmt: skip
    return _with_there(found, bench)


def _with_there(found: Headroom, bench: Bench) -> Headroom:
    """With what is solved again where limits break, and when to change filters."""
    first = found.first
    if first is None:
        return found
    there = bench.points([first.value])[0]
    if found.limit is not None and not first.jumps:
        there = _at_limit(there, found.limit)
    serve = found.today.holds and first in found.up and first.after.status in ("over", "void")
    filters = [_change(path, found, there, first) for path in bench.filters] if serve else []
    return replace(found, there=there, filters=tuple(filters))


def _at_limit(there: Point, limit: Limit) -> Point:
    """The point with the limit that breaks there as the one that decides: its margin is zero."""
    margin = there.margins.get((limit.limit, limit.subject))
    if margin is None:
        return there
    value = limit.bound + margin if limit.at_least else limit.bound - margin
    status = "ok" if limit.limit not in THERMAL else "tight"
    if abs(margin) < 10.0**-ALIKE * max(1.0, abs(limit.bound)):  # round-off
        there = there._replace(status=status)
    return there._replace(limit=limit._replace(value=value, margin=margin))


def _change(path: str, found: Headroom, there: Point, first: Crossing) -> FilterChange:
    before = [point.drops[path] for point in found.scan
              if found.today.value <= point.value < first.value]  # fmt: skip
    return FilterChange(path, found.today.drops[path], there.drops[path],
                        all(drop < there.drops[path] for drop in before))  # fmt: skip


def close_up(
    found: Headroom, values: Sequence[float] | Array
) -> tuple[list[Point], dict[Name, Quantity]]:
    """Further values of the key, solved as those of the scan were, for a picture of the answer;
    and what the margin of each limit is measured in."""
    bench = Bench(found.case, found.subject, tuple(found.today.drops), ignored=found.unknown)
    now = solve_pairs(found.case, [Setup()])
    quantities = {(item.limit, item.subject): item.margin_quantity for item in now.limits}
    return bench.points(values), quantities


def tightest(found: Sequence[Headroom]) -> int:
    """Which has the least room: broken today first, then the nearest break."""
    return min(range(len(found)), key=lambda i: float(f"{found[i].room:.6e}"))  # ties: the first


# --- words ----------------------------------------------------------------------------------------


def _sentences(found: Headroom, units: str) -> Iterator[str]:
    """The verdict first."""
    if not found.today.margins and not found.unknown:
        yield f"{found.key}: {NOWHERE}"
        return
    if found.today.status == "unknown" and found.first is None:
        yield f"no limit can be judged: {_unknown(found)} has no value"
        return
    yield _verdict(found, units)
    if found.today.holds:
        at = "" if found.subject.factor else f", at {_present(found, units)}"
        dip = f"; {told(found.today.in_dip, units)} while another fan is out"
        yield (f"today{at}: {found.today.margin_text(units)} left at {found.today.decides}"
               f"{dip if found.today.in_dip else ''}")  # fmt: skip
        yield from divided(broken_in_layers(solve(found.case)), units, "today ")
    yield from _others(found, units)
    for turn in found.turns:
        size = "largest" if turn.largest else "smallest"
        yield (f"the margin is not monotone: it is {size} near "
               f"{found.subject.text(turn.value, units)}")  # fmt: skip
    if found.unknown:
        yield f"not judged, because it has no value: {_unknown(found)}"
    yield from _unsure(found)


def _present(found: Headroom, units: str) -> str:
    """Today's value, in as many digits as tell it from that where limits break."""
    present = found.subject.present
    return found.subject.apart(
        present, present if found.first is None else found.first.value, units
    )


def _unknown(found: Headroom) -> str:
    return listed([subject for _, subject in found.unknown])


def _verdict(found: Headroom, units: str) -> str:
    if found.today.holds:
        return _breaks(found, units) if found.first else _nothing(found, units)
    text = _trouble(found.today, units)
    factor = found.subject.factor
    today = "today" if factor else f"at today's {_present(found, units)}"
    if found.first is None:
        return f"{text} {today}; no value of {found.key} {_range(found, units)} makes all hold"
    way = "up" if found.first in found.up else "down"
    at = found.subject.text(found.first.value, units)
    return f"{text} {today}; all limits hold from {found.key} {at} {way}"


def _breaks(found: Headroom, units: str) -> str:
    """How far it can go, which limit breaks, and what that means for filters."""
    first = found.first
    assert first is not None
    said = f"{_reach(found, first, units)} before {_beyond(found, first, units)}"
    if not found.filters or found.there is None or first not in found.up:
        return said
    pressures = [f"{_pressure(item.drop, units)} across "
                 + ("it" if len(found.filters) == 1 else item.path)
                 for item in found.filters]  # fmt: skip
    alarm = q.TEMPERATURE.shown(units).text(found.alarm)
    vents = all(item.path.startswith("vent.") for item in found.filters)
    what = ("clean the vent" if vents else "change the filter") + "s" * (len(found.filters) > 1)
    return (f"{said}: {what} at {listed(pressures)}, or at an alarm of {alarm} in "
            f"compartment.{found.there.hottest_air_in}")  # fmt: skip


def _reach(found: Headroom, item: Crossing, units: str) -> str:
    subject, value = found.subject, found.subject.text(item.value, units)
    if subject.key == "fouling" and not subject.factor and item in found.up:
        names = [item.path for item in found.filters] or [subject.path.removesuffix(".fouling")]
        own = "its" if len(names) == 1 else "their"
        return f"{listed(names)} can load to {value} times {own} clean drop at the same flow"
    way = "rise" if item in found.up else "fall"
    today = "today's value" if subject.factor else _present(found, units)
    text = f"{value} today's value" if subject.factor else value
    return f"{subject.path} can {way} to {text}" + ("" if subject.factor else f" (today {today})")


def _beyond(found: Headroom, item: Crossing, units: str) -> str:
    """What ends the range in which all limits hold."""
    point = item.cause
    if point.status == "over" and point.limit is not None:
        jump = ", at a jump of the flow" if item.jumps and not found.subject.whole else ""
        return f"{_limit_breaks(point.limit, units)}{jump}"
    if point.status == "void":
        return f"it is {_trouble(point, units)}"
    if point.status == "unknown":
        return "a limit has no value any more, so that nobody knows whether it holds"
    what = "the case allows no more" if point.status == REFUSED else "there is no solution"
    return f"{what} ({point.why.splitlines()[0]})"


def _on_paper(point: Point, units: str) -> str:
    """What is broken besides where the numbers are void."""
    over = point.limit is not None and point.limit.broken
    return f"; on paper {_limit_breaks(point.limit, units)}" if over and point.limit else ""


def _limit_breaks(limit: Limit, units: str) -> str:
    """`part.controller breaks its 60 degC`."""
    word = "falls below" if limit.at_least else "breaks"
    return f"{limit.subject} {word} its {bound(limit, units)}"


def _nothing(found: Headroom, units: str) -> str:
    """Nothing breaks: how little is left, and where."""
    solved = [point for point in found.scan if point.limit is not None]
    least = min(solved, key=lambda point: point.level)
    assert least.limit is not None
    left = least.limit.margin_quantity.shown(units).text(least.margin)
    said = f"nothing breaks for {found.key} {_range(found, units)}: "
    if max(point.level for point in solved) - least.level < SAME:
        return f"{said}it does not change the least room, {left} at {least.decides}"
    return (
        f"{said}least room {left} at {least.decides}, at {found.subject.text(least.value, units)}"
    )


def _range(found: Headroom, units: str) -> str:
    low, high = (found.subject.text(value, units) for value in (found.low, found.high))
    return f"from {low} to {high}"


def _trouble(point: Point, units: str) -> str:
    if point.status == "void":
        return f"void ({told(point.void, units)}{_on_paper(point, units)})"
    if point.status == "over" and point.limit is not None:
        limit = point.limit
        size = limit.margin_quantity.shown(units).text(abs(limit.margin))
        word = "short of" if limit.at_least else "over"
        return f"{limit.subject} is {size} {word} its {bound(limit, units)}"
    return "no limit can be judged"


def _others(found: Headroom, units: str) -> Iterator[str]:
    """Crossings beyond the first, the other side, and ends without a break."""
    for side, way in ((found.up, "above"), (found.down, "below")):
        for item in side:
            if item is not found.first:
                yield _told(found, item, way, units)
    if not found.first or not found.today.holds:
        return
    for side, end, way in ((found.up, found.high, "up"), (found.down, found.low, "down")):
        if not side and end != found.subject.present:
            yield f"nothing breaks {way} to {found.subject.text(end, units)}"


def _told(found: Headroom, item: Crossing, way: str, units: str) -> str:
    at = found.subject.text(item.value, units)
    if not item.breaks:
        return f"all limits hold again {way} {at}"
    return f"{way} {at} {_beyond(found, item, units)}"


def _unsure(found: Headroom) -> Iterator[str]:
    doubtful = [item.path for item in found.filters if not item.sure]
    if doubtful:
        yield (f"the drop across {listed(doubtful)} is as large at a smaller value: watch the "
               "temperature instead")  # fmt: skip


def _pressure(value: float, units: str) -> str:
    text: str = q.PRESSURE.shown(units).text(value)
    return text
