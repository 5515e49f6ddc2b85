"""What comes of single values of a key, tried many at a time."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np

from flownet.enclosure.enclosure import Enclosure
from flownet.judging.assessment import STATUSES, THERMAL, TIGHT, Assessment
from flownet.results.solution import Limit
from flownet.results.tables import Field, plain
from flownet.schema import quantities as q
from flownet.schema.arrays import Array
from flownet.schema.fields import NONE
from flownet.solve import Progress
from flownet.studies.assessment import assess_pairs
from flownet.studies.headroom.subject import Subject
from flownet.studies.outcome import SOUND, _hottest, _hottest_place
from flownet.studies.runs import Pairs, Setup, solve_pairs

REFUSED = "refused"  # a value that the case does not allow
Name = tuple[str, str]  # limit and subject


class Point(NamedTuple):
    """One value of the key and how the case stands there; SI, NaN where there is no value."""

    value: float
    status: str  # ok, tight, over, unknown, void, unsolved, refused
    limit: Limit | None  # the limit that decides
    margins: Mapping[Name, float]  # of every limit that applies
    air_rise: float  # [K]
    hottest_air: float  # [K]
    hottest_air_in: str  # the compartment
    drops: Mapping[str, float]  # across the filters that are watched [Pa]
    why: str  # of what was not solved
    void: Mapping[str, Sequence[str]] = NONE  # what makes it void: reason -> subjects
    in_dip: Mapping[str, Sequence[str]] = NONE  # fans in stall while another is out, likewise

    @property
    def holds(self) -> bool:
        """Whether every limit that could be judged today holds here too, and nothing is void."""
        return self.status in SOUND

    @property
    def word(self) -> str:
        """Its status as it is read, `void: stall`."""
        return ": ".join([self.status, *list(self.void)[:1]])

    @property
    def margin(self) -> float:
        """Of the limit that decides, in its own unit."""
        return float(self.limit.margin) if self.limit else float("nan")

    def margin_text(self, units: str = "metric") -> str:
        """`+1.5 K`; `-` where there is none."""
        if self.limit is None or not math.isfinite(self.margin):
            return "-"
        text: str = self.limit.margin_quantity.shown(units).text(self.margin, "+")
        return text

    @property
    def decides(self) -> str:
        """What the limit that decides is about."""
        return self.limit.subject if self.limit else ""

    @property
    def level(self) -> float:
        """The least temperature margin [K], else the margin of the limit that decides."""
        warm = [m for (kind, _), m in self.margins.items() if kind in THERMAL]
        return min(warm, default=self.margin)


@dataclass(frozen=True)
class Bench:
    """Tries values of a key in one case."""

    case: Enclosure  # in its scenario and variant, with changes
    subject: Subject
    filters: tuple[str, ...]  # whose drop is watched
    executor: Executor | None = None
    ignored: Collection[Name] = ()  # limits that cannot be judged today

    def points(self, values: Sequence[float] | Array, progress: Progress | None = None
               ) -> list[Point]:  # fmt: skip
        """One point a value, in order, all solved together."""
        column = np.asarray(values, float)
        if not column.size:
            return []
        pairs = self._pairs([Setup(changes=self.subject.changes(column))], progress)
        if pairs.faults[0]:  # one that is not allowed spoils the columns of all
            single = [Setup(changes=self.subject.changes(column[i])) for i in range(len(column))]
            pairs = self._pairs(single, progress)
        return _read(pairs, column, self.filters, self.ignored)

    def _pairs(self, setups: Sequence[Setup], progress: Progress | None) -> Pairs:
        return solve_pairs(self.case, setups, executor=self.executor, progress=progress)


def _read(
    pairs: Pairs, values: Array, filters: Sequence[str], ignored: Collection[Name]
) -> list[Point]:
    stand, rise = assess_pairs(pairs), pairs["total.air_rise"]
    warm, place = pairs.per_pair(_hottest), pairs.per_pair(_hottest_place)
    drops, lost = {path: pairs[f"{path}.drop"] for path in filters}, unjudged(pairs)
    found = []
    for i, value in enumerate(values.tolist()):
        margins = {(item.limit, item.subject): float(item.margin[i]) for item in stand.limits}
        margins = {name: margin for name, margin in margins.items() if not math.isnan(margin)}
        there = {path: float(column[i]) for path, column in drops.items()}
        found.append(Point(
            value, _status(pairs, stand, i, lost[i] - set(ignored), bool(margins)),
            _deciding(stand, i), margins, float(rise[i]), float(warm[i]),
            _name(pairs, i, place[i]), there, pairs.status[i], stand.reasons(i), stand.in_dip(i),
        ))  # fmt: skip
    return found


def _status(pairs: Pairs, stand: Assessment, pair: int, lost: set[Name], some: bool) -> str:
    """As a comparison says it, but for limits that could not be judged today either."""
    if not pairs.made(pair):
        return REFUSED
    code = STATUSES[stand.status[pair]]
    if code in ("unsolved", "void", "over"):
        return code
    if lost or not some:
        return "unknown"
    tight = TIGHT in stand.each[:, pair] or bool(stand.in_dip(pair))
    return "tight" if tight else "ok"


def unjudged(pairs: Pairs) -> list[set[Name]]:
    """Of each pair, the limits that apply and whose margin is not known; all where unsolved."""
    found: list[set[Name]] = [set() for _ in range(len(pairs))]
    for item in pairs.limits:
        missing = np.isnan(item.margin)
        for i in np.flatnonzero(missing & ~np.isnan(item.bound)):
            found[i].add((item.limit, item.subject))
    return found


def _deciding(stand: Assessment, pair: int) -> Limit | None:
    item = stand.deciding(pair)
    if item is None:
        return None
    value, bound, margin = (float(x[pair]) for x in (item.value, item.bound, item.margin))
    return item._replace(value=value, bound=bound, margin=margin)


def _name(pairs: Pairs, pair: int, row: float) -> str:
    if np.isnan(row):
        return ""
    return str(pairs.batches[pairs.batch[pair]].compartments.names[int(row)])


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
