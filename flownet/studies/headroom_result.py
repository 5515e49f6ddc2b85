"""What a search for headroom finds, and what it says of it."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property, partial
from typing import Any

import numpy as np

from flownet.enclosure.enclosure import Enclosure
from flownet.judging.voids import told
from flownet.pages import render
from flownet.pages.caption import Caption
from flownet.pages.page import MISSING, STYLES
from flownet.pages.result import Result
from flownet.pages.sheet import Column, Listing, Sentence, Sheet, Tabled
from flownet.pages.table import ROWS
from flownet.results.limits import Limit
from flownet.results.solution import Solution
from flownet.results.tables import Field, plain
from flownet.schema import quantities as q
from flownet.schema.fault import listed
from flownet.solving.solve import broken_in_layers
from flownet.studies.headroom_layers import LayeredEdge, edge_in_layers
from flownet.studies.headroom_search import (
    NO_LIMIT,
    REFUSED,
    FilterChange,
    LimitCrossing,
    Name,
    Point,
    Turn,
    points_data,
)
from flownet.studies.headroom_subject import Subject
from flownet.studies.outcome import place_facts
from flownet.studies.verdicts import divided, number

UNMOVED = 1e-6  # of levels, for a key that the tightest limit does not feel


@dataclass(frozen=True, repr=False, eq=False)
class Headroom(Result):
    """How far a key can go: what breaks above and below today's value, and where."""

    case: Enclosure  # in its scenario and variant, with changes
    subject: Subject
    low: float  # ends of the range that was tried
    high: float
    today: Point
    scan: tuple[Point, ...]  # by value
    up: tuple[LimitCrossing, ...]  # changes of holding above today's value, going up
    down: tuple[LimitCrossing, ...]  # below, going down
    turns: tuple[Turn, ...]  # where the margin is not monotone
    unknown: tuple[Name, ...]  # limits without a value today: left out of the search
    there: Point | None  # solved again at `value`; None: nothing changes in the range
    filters: tuple[FilterChange, ...]
    gauge: Mapping[str, float]  # across each filter that loads, at `value` with nothing out [Pa]
    solution: Solution  # today
    at_edge: Solution | None = None  # at `edge`

    @property
    def key(self) -> str:
        """What was moved."""
        return self.subject.path

    @property
    def first(self) -> LimitCrossing | None:
        """The change that counts: where limits break (or, broken today, where they hold).

        Above today's value if there is one, else below, a value that is not allowed counting last;
        of a case that is broken, the nearer one.
        """
        found = [side[0] for side in (self.up, self.down) if side]
        if not self.today.holds:
            return min(found, key=self._away, default=None)
        return min(found, key=lambda item: item.after.status == REFUSED, default=None)

    def _away(self, item: LimitCrossing) -> float:
        return abs(item.value - self.subject.present)

    def at(self, item: LimitCrossing, units: str = "metric") -> str:
        """Where holding changes, rounded to the side on which all limits hold."""
        return self.subject.apart(item.value, self.subject.present, units, self._side(item))

    def _side(self, item: LimitCrossing) -> int:
        """On which all limits hold: -1 below, 1 above."""
        return -1 if (item in self.up) == item.breaks else 1

    @property
    def value(self) -> float:
        """Where it is, SI (of a factor, its size); NaN where nothing changes in the range."""
        return self.first.value if self.first else math.nan

    @property
    def limit(self) -> Limit | None:
        """The limit that breaks there; None where nothing does, or no solution is left."""
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

    @cached_property
    def broken_in_layers(self) -> tuple[Limit, ...]:
        """Limits that hold today and break where compartments are divided."""
        return tuple(broken_in_layers(self.solution)) if self.today.holds else ()

    @property
    def edge(self) -> Point | None:
        """Before the first limit breaks, else where the least margin is; None: broken today."""
        if not self.today.holds:
            return None
        held = [point for point in self.scan if point.holds]
        return self.first.before if self.first else min(held, key=lambda point: point.level)

    @cached_property
    def edge_in_layers(self) -> LayeredEdge | None:
        """How far it can go in layers, where that is less than `edge`."""
        if self.edge is None or self.at_edge is None or self.broken_in_layers:
            return None
        return edge_in_layers(self.at_edge, self.case, self.subject, self.edge.value)

    def __repr__(self) -> str:
        return f'<Headroom "{self.case.title}" {self.verdict}>'

    @property
    def sheet(self) -> Sheet:
        """What filters do, some values of the scan or all; data."""
        tables: list[Tabled] = [self._filters] if self.filters and self.there else []
        tables += [partial(self._scan, use="short"), partial(self._scan, use="all"),
                   points_data(self.scan, self.subject.quantity)]  # fmt: skip
        return Sheet("headroom", Caption.of(self.case), self.verdicts, tables, facts=self._facts())

    def _filters(self, units: str) -> Listing:
        """Pressures and temperatures at which an alarm could watch, beside those of today; rounded
        down, so that all limits hold there."""
        some, today, there = self.filters, self.today, self.there
        assert there is not None
        now = [*(item.today for item in some), today.hottest_air, today.air_rise]
        then = [*(item.drop for item in some), there.hottest_air, there.air_rise]
        out = ", with the outage" if any(item.gauge != item.drop for item in some) else ""
        names = [f"drop of {item.path}{out}" for item in some]
        names += [f"air in {there.hottest_air_in}", "air rise"]
        quantities = [*[q.PRESSURE] * len(some), q.TEMPERATURE, q.DIFFERENCE]
        last = q.PRESSURE.shown(units).decimals([item.drop for item in some])
        then = [kind.shown(units).past(x, -1, last if kind == q.PRESSURE else None)
                for x, kind in zip(then, quantities, strict=True)]  # fmt: skip
        return Listing("alarms", (Column("", names), Column("today", now, quantities),
                                  Column("change", then, quantities)))  # fmt: skip

    def _scan(self, units: str, use: str) -> Listing:
        """The scan, thinned out to a dozen rows, with today's value and where limits break."""
        points, there = self._shown(use), self.there
        values = [point.value for point in points]
        remarks = ["limit" if point is there else "today" if point is self.today else ""
                   for point in points]  # fmt: skip
        sides = [self.first is not None and point is there and self._side(self.first)
                 for point in points]  # fmt: skip
        left = len(self.scan) - len(points) + (there is not None)
        return Listing("values", (
            Column(self.key, self.subject.texts(values, units, sides)),
            Column("margin", [point.margin if point.limit else MISSING for point in points],
                   [point.margin_quantity for point in points], form="+"),
            Column("status", [point.word for point in points],
                   styles=[STYLES.get(point.status, "") for point in points]),
            Column("decides", [point.decides or MISSING for point in points]),
            Column("", remarks),
        ), use, (Sentence("  ", f"... {left} more (--all)"),) if left else (), apart=False,
           whole=True)  # fmt: skip

    def _shown(self, use: str) -> list[Point]:
        count = len(self.scan)
        own = [] if self.there is None else [self.there]
        picked = set(range(count))
        if use == "short" and count > ROWS:
            at = next(i for i, point in enumerate(self.scan) if point is self.today)
            evenly = np.linspace(0, count - 1, ROWS - len(own)).round().astype(int).tolist()
            evenly[min(range(len(evenly)), key=lambda i: abs(evenly[i] - at))] = at
            picked = set(evenly)
        return sorted([*(self.scan[i] for i in sorted(picked)), *own], key=lambda p: p.value)

    def _facts(self) -> dict[str, Any]:
        limit = self.limit
        return {
            "key": self.key, "factor": self.subject.factor,
            **place_facts(self.case),
            "verdict": list(self.verdicts()), "unit": self.subject.quantity.json.unit or None,
            "low": self._plain(self.low), "high": self._plain(self.high),
            "value": self._plain(self.value), "holds_today": self.today.holds,
            "limit": limit.limit if limit else None, "subject": limit.subject if limit else None,
            "today": self._row(self.today), "there": self._row(self.there) if self.there else None,
            "up": [self._crossing(item) for item in self.up],
            "down": [self._crossing(item) for item in self.down],
            "in_layers": self.edge_in_layers.to_dict() if self.edge_in_layers else None,
            "turns": [{"value": self._plain(t.value), "largest": t.largest} for t in self.turns],
            "unknown": [subject for _, subject in self.unknown],
            "filters": [item.to_dict(self.there) for item in self.filters],
        }  # fmt: skip

    def _plain(self, value: float) -> Any:
        return plain(Field("", self.subject.quantity), value)

    def _row(self, point: Point) -> dict[str, Any]:
        return render.records(points_data([point], self.subject.quantity))[0]

    def _crossing(self, item: LimitCrossing) -> dict[str, Any]:
        beyond = item.after if item.breaks else item.before
        return {
            "value": self._plain(item.value), "then": "breaks" if item.breaks else "holds",
            "status": beyond.status, "subject": beyond.decides or None, "jumps": item.jumps,
            "why": beyond.why or None,
        }  # fmt: skip


# --- words ----------------------------------------------------------------------------------------


def _sentences(found: Headroom, units: str) -> Iterator[str]:
    """The verdict first."""
    if not found.today.margins and not found.unknown:
        yield f"{found.key}: {NO_LIMIT}"
        return
    if found.today.status == "unknown" and found.first is None:
        yield f"no limit can be judged: {_unknown(found)} has no value"
        return
    edge = found.edge_in_layers
    yield ", ".join([_verdict(found, units), *([edge.words(units)] if edge else []),
                     *divided(found.broken_in_layers, units, "today ")])  # fmt: skip
    if found.today.holds:
        at = "" if found.subject.factor else f", at {_present(found, units)}"
        dip = f"; {told(found.today.in_dip, units)} while another fan is out"
        yield (f"today{at}: margin {number(found.today, units)} at {found.today.decides}"
               f"{dip if found.today.in_dip else ''}")  # fmt: skip
    yield from _others(found, units)
    for turn in found.turns:
        size = "largest" if turn.largest else "smallest"
        yield (f"the margin is not monotone: it is {size} near "
               f"{found.subject.text(turn.value, units)}")  # fmt: skip
    if found.unknown:
        yield f"not judged, because it has no value: {_unknown(found)}"
    if doubtful := [item.path for item in found.filters if not item.sure]:
        yield (f"the drop across {listed(doubtful)} is as large at a smaller value: watch the "
               "temperature instead")  # fmt: skip


def _present(found: Headroom, units: str) -> str:
    """Today's value, in as many digits as tell it from that where limits break."""
    here = found.subject.present
    return found.subject.apart(here, here if found.first is None else found.first.value, units)


def _unknown(found: Headroom) -> str:
    return listed([subject for _, subject in found.unknown])


def _verdict(found: Headroom, units: str) -> str:
    if found.today.holds:
        return _breaks(found, units) if found.first else _nothing(found, units)
    text = found.today.trouble(units).replace("void", "Void", found.today.status == "void")
    today = "today" if found.subject.factor else f"at today's {_present(found, units)}"
    if found.first is None:
        return f"{text} {today}; no value of {found.key} {_range(found, units)} makes all hold"
    at, way = found.at(found.first, units), "up" if found.first in found.up else "down"
    dry = found.subject.dries(at, found.limit, units)
    return f"{text} {today}; all limits hold from {found.key} {at} {way}{dry}"


def _breaks(found: Headroom, units: str) -> str:
    """How far it can go, which limit breaks, and what that means for filters."""
    first = found.first
    assert first is not None
    said = f"{_reach(found, first, units)} before {first.ends(units, found.subject.whole)}"
    if not found.filters or found.there is None or first not in found.up:
        return said
    out = any(item.gauge != item.drop for item in found.filters)
    pressure, warm = q.PRESSURE.shown(units), q.TEMPERATURE.shown(units)
    pressures = [f"{pressure.text(pressure.past(item.gauge, -1))} across "
                 + ("it" if len(found.filters) == 1 else item.path)
                 for item in found.filters]  # fmt: skip
    alarm = warm.text(warm.past(found.alarm, -1))
    vents = all(item.path.startswith("vent.") for item in found.filters)
    what = ("clean the vent" if vents else "change the filter") + "s" * (len(found.filters) > 1)
    calm = ", read while nothing is out" * out
    return (f"{said}: {what} at {listed(pressures)}{calm}, or at an alarm of {alarm} in "
            f"compartment.{found.there.hottest_air_in}")  # fmt: skip


def _reach(found: Headroom, item: LimitCrossing, units: str) -> str:
    subject, value = found.subject, found.at(item, units)
    if subject.key == "fouling" and not subject.factor and item in found.up:
        names = [item.path for item in found.filters] or [subject.path.removesuffix(".fouling")]
        own = "its" if len(names) == 1 else "their"
        return f"{listed(names)} can load to {value} times {own} clean drop at the same flow"
    way = "rise" if item in found.up else "fall"
    today = "today's value" if subject.factor else _present(found, units)
    text = f"{value} today's value" if subject.factor else value
    return f"{subject.path} can {way} to {text}" + ("" if subject.factor else f" (today {today})")


def _nothing(found: Headroom, units: str) -> str:
    """Nothing breaks: the least margin, and where."""
    solved = [point for point in found.scan if point.limit is not None]
    least = min(solved, key=lambda point: point.level)
    left = least.margin_quantity.shown(units).text(least.margin)
    said = f"nothing breaks for {found.key} {_range(found, units)}: "
    if max(point.level for point in solved) - least.level < UNMOVED:
        return f"{said}it does not change the least margin, {left} at {least.decides}"
    where = found.subject.text(least.value, units)
    return f"{said}least margin {left} at {least.decides}, at {where}"


def _range(found: Headroom, units: str) -> str:
    low, high = (found.subject.text(value, units) for value in (found.low, found.high))
    return f"from {low} to {high}"


def _others(found: Headroom, units: str) -> Iterator[str]:
    """Crossings beyond the first, the other side, and ends without a break."""
    for side, way in ((found.up, "above"), (found.down, "below")):
        for item in side:
            if item is not found.first:
                at = found.at(item, units)
                yield (f"{way} {at} {item.ends(units, found.subject.whole)}" if item.breaks
                       else f"all limits hold again {way} {at}")  # fmt: skip
    if not found.first or not found.today.holds:
        return
    for side, end, way in ((found.up, found.high, "up"), (found.down, found.low, "down")):
        if not side and end != found.subject.present:
            yield f"nothing breaks {way} to {found.subject.text(end, units)}"
