"""What a search for headroom finds."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

from flownet.enclosure.enclosure import Enclosure
from flownet.results.solution import Limit, extra
from flownet.results.tables import Field, html_table, plain
from flownet.schema import quantities as q
from flownet.studies.headroom.points import REFUSED, Name, Point, row
from flownet.studies.headroom.search import Crossing, Turn
from flownet.studies.headroom.subject import Subject


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
    sentences: Callable[[Headroom, str], Iterator[str]]  # what is said of it, in units

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
        return tuple(self.sentences(self, units))

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


def tightest(found: Sequence[Headroom]) -> int:
    """Which has the least room: broken today first, then the nearest break."""
    return min(range(len(found)), key=lambda i: float(f"{found[i].room:.6e}"))  # ties: the first
