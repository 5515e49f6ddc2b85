"""A course in time: temperatures and flows, what happened when, which limit was reached."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np

from flownet.enclosure.enclosure import Enclosure
from flownet.judging.assessment import THERMAL
from flownet.judging.voids import told
from flownet.pages.caption import Caption
from flownet.pages.duration import duration
from flownet.pages.page import counted
from flownet.pages.result import Result
from flownet.pages.sheet import Column, Listing, Sentence, Sheet, by_rows
from flownet.results.limits import Limit
from flownet.results.solution import Solution
from flownet.results.tables import Field, OfCase, plain
from flownet.schema import quantities as q
from flownet.schema.arrays import Array
from flownet.schema.fault import listed
from flownet.schema.quantities import Quantity
from flownet.studies.verdicts import bound

STILL_RATE = 0.01 / 60  # K/s, below which a temperature is called at rest: our own choice
AT_ONCE = 0.05  # s
AS_LITTLE = 0.05  # K, of margins and of outside air that are told as one: our own choice


class Event(NamedTuple):
    """What happens at a time."""

    time: float  # [s]
    over: float  # [s] in which it comes about; 0: at once
    text: str  # `fan.left stops`


class Crossing(NamedTuple):
    """A limit that a value passes."""

    subject: str  # part.rectifier
    limit: str  # part, air, flow, noise
    bound: float  # SI
    time: float  # [s]
    rising: bool  # whether it is broken from then on, else it holds again


class VoidSpell(NamedTuple):
    """What makes numbers void, first and last time; a `dip`, a fan in stall while another is out,
    does not."""

    word: str  # as in `flownet.judging.voids`
    subject: str
    begin: float  # [s]
    end: float  # [s]
    dip: bool


@dataclass(frozen=True, repr=False, eq=False)
class Transient(OfCase, Result):
    """One course in time; `courses[path]` is SI, one value for each of `times`."""

    case: Enclosure  # in its scenario and variant, before anything happens
    name: str | None  # of its timeline; None: events that stand in no file
    until: float  # [s]
    times: Array  # (n,) s, from 0 to `until`; twice where something jumps
    courses: Mapping[str, Array]  # result path -> (n,) SI
    quantities: Mapping[str, Quantity]  # of each course
    events: tuple[Event, ...]
    crossings: tuple[Crossing, ...]  # by time
    highest: Mapping[str, tuple[float, float]]  # subject -> value (SI) and time [s]
    start: Solution
    end: Solution
    limits: tuple[Limit, ...]  # value, bound and margin over `times`; lives are not among them
    cold: bool = False  # whether it starts with all at outside temperature
    void: tuple[VoidSpell, ...] = ()
    turns: tuple[tuple[float, str], ...] = ()  # s, words: where flows ended and others came
    notes: tuple[str, ...] = ()  # what was taken for stores that nothing gives, and more

    @property
    def first(self) -> Crossing | None:
        """The first limit that is reached; None where none is."""
        return next((each for each in self.crossings if each.rising), None)

    @property
    def over(self) -> list[Limit]:
        """Limits that are broken from the start, the farthest first; as numbers."""
        at_start = [item.map(lambda values: float(values[0])) for item in self.limits]
        return sorted((item for item in at_start if item.broken), key=lambda item: item.margin)

    def __repr__(self) -> str:
        return f'<Transient "{self.case.title}" {self.scenario}: {self.verdict}>'

    # --- in words --------------------------------------------------------------------------------

    def verdicts(self, units: str = "metric") -> tuple[str, ...]:
        """In sentences; the first says which limit is reached when, what makes it void first."""
        first, *rest = self._sentences(units)
        lead, later = self._void(units)
        return (f"{lead}{first}", *filter(None, (later, *rest)))

    def _void(self, units: str) -> tuple[str, str]:
        """What makes the first sentence void, to stand before it; and what comes later."""
        until = self.first.time if self.first is not None and not self.over else self.until
        found = [each for each in self.void if not each.dip]
        told_of = ["", ""]
        for late in (False, True):
            reasons: dict[str, list[str]] = {}
            some = [each for each in found if (each.begin > until) == late]
            for each in some:
                reasons.setdefault(each.word, []).append(each.subject)
            if some:
                since = min(each.begin for each in some)
                when = f"from {duration(since)} on" if since > 0 else "from the start"
                told_of[late] = f"void {when}: {told(reasons, units)}"
        return told_of[0] and f"{told_of[0]}; on paper ", told_of[1]

    def _sentences(self, units: str) -> Iterator[str]:
        known = [item for item in self.limits if np.isfinite(item.margin).any()]
        if not known:
            yield f"no limit is held against a result in {duration(self.until)}"
        elif self.over:
            yield self._over(units)
            if self.first is not None:
                yield self.reached(self.first, units)
        elif self.first is not None:
            yield self.reached(self.first, units)
        else:
            yield self._closest(known, units)
        yield from self._again()
        for each in (each for each in self.void if each.dip):
            words = told({each.word: [each.subject]}, units)
            yield f"{words} while another fan is out, from {duration(each.begin)} on"
        if self.turns:
            said = [f"{words} after {duration(time)}" for time, words in sorted(self.turns)]
            yield listed(said, 3)

    def reached(self, item: Crossing, units: str = "metric") -> str:
        """`part.rectifier reaches 110 degC 4 min 12 s after fan.left stops`."""
        limit = next(each for each in self.limits if (each.limit, each.subject) == item[1::-1])
        value = bound(limit._replace(bound=item.bound), units)
        verb = "falls below" if limit.at_least else "reaches"
        return f"{item.subject} {verb} {value} {self.when(item.time)}"

    def when(self, time: float) -> str:
        """`4 min 12 s after fan.left stops`, by the last that happened before."""
        before = [each for each in self.events if each.time <= time]
        later = [each for each in self.events if each.time > time]
        if not before:
            start = " of a cold start" if self.cold else ""
            more = f", before {later[0].text}" if later else ""
            return f"after {duration(time)}{start}{more}"
        last = [each for each in before if each.time == before[-1].time]
        words = listed([each.text for each in last])
        since = time - last[0].time
        if last[0].over:
            return f"{duration(since)} after the start of: {words}"
        return f"{duration(since)} after {words}" if since > AT_ONCE else f"at once as {words}"

    def _over(self, units: str) -> str:
        worst = self.over[0]
        short = "short of" if worst.at_least else "over"
        by = worst.margin_quantity.shown(units).text(-worst.margin)
        more = f", and {len(self.over) - 1} more" if len(self.over) > 1 else ""
        return f"{worst.subject} is {by} {short} {bound(worst, units)} from the start{more}"

    def _closest(self, known: Sequence[Limit], units: str) -> str:
        """The limit with the least room, of temperatures if there are any."""
        some = [item for item in known if item.limit in THERMAL] or known
        item = min(some, key=lambda each: float(np.nanmin(each.margin)))
        row = int(np.nanargmin(item.margin))
        left = item.margin_quantity.shown(units).text(float(item.margin[row]))
        when = "at the start" if row == 0 else f"after {duration(self.times[row])}"
        ends = bool(item.margin[-1] < item.margin[row] + AS_LITTLE)
        return (f"no limit reached in {duration(self.until)}; {item.subject} comes closest, "
                f"{left} left {when}{self.trend(item, units) if row and ends else ''}")  # fmt: skip

    def trend(self, item: Limit, units: str = "metric") -> str:
        """`, still rising by 0.4 K a minute`, of a temperature at the end."""
        if item.limit not in THERMAL or len(self.times) < 2:
            return ""
        rate = (item.value[-1] - item.value[-2]) / (self.times[-1] - self.times[-2])
        if abs(rate) < STILL_RATE:
            return ", at rest at the end"
        word = "rising" if rate > 0 else "falling"
        return f", still {word} by {q.DIFFERENCE.shown(units).text(abs(rate) * 60)} a minute"

    def _again(self) -> Iterator[str]:
        """What of the limits that were reached holds again, or goes on."""
        others = {each.subject for each in self.crossings if each.rising}
        if self.first is not None:
            others.discard(self.first.subject)
        if others:
            count = counted(len(others), "other limit")
            yield f"{count} reached later: {listed(sorted(others), 4)}"
        holding = {each.subject: each for each in self.crossings}
        back = [f"{each.subject} after {duration(each.time)}" for each in holding.values()
                if not each.rising]  # fmt: skip
        if back:
            yield f"within its limit again: {listed(back, 3)}"

    # --- as a sheet ------------------------------------------------------------------------------

    @property
    def caption(self) -> Caption:
        """That of the start, with all temperatures that the outside air goes through."""
        air, made = self.courses["outside.temperature"], Caption.of(self.start)
        low, high = float(air.min()), float(air.max())
        return made.but(outside=low, warmest=high) if high - low > AS_LITTLE else made

    @property
    def sheet(self) -> Sheet:
        """Limits, those that are reached first; what happens; courses as data."""
        state = " | ".join(filter(None, (self.name and f"timeline {self.name}", self.variant,
                                         self.scenario)))  # fmt: skip
        entry = self.entry()
        return Sheet(
            "transient", self.caption.but(scope=""), self.verdicts,
            [self._table, self._happens(), self._rows()],
            [Sentence("  note: ", words) for words in self.notes],
            facts={"verdict": self.verdict, **entry, "timelines": [entry]},
        ).captioned(variant=state, scenario="")  # fmt: skip

    def entry(self) -> dict[str, Any]:
        """What JSON has of it: times, courses with their unit, events, crossings."""
        courses = {
            quantity.key(path): [plain(Field("", quantity), value) for value in self.courses[path]]
            for path, quantity in self.quantities.items()
        }
        highest = {subject: {**self._valued(subject, value), "time_s": time}
                   for subject, (value, time) in self.highest.items()}  # fmt: skip
        return {
            "name": self.name, "variant": self.variant, "scenario": self.scenario,
            "start": "cold" if self.cold else "steady", "until_s": self.until,
            "times_s": [float(time) for time in self.times], "courses": courses,
            "events": [{"time_s": e.time, "over_s": e.over, "text": e.text} for e in self.events],
            "crossings": [
                {"subject": c.subject, "limit": c.limit, "time_s": c.time, "rising": bool(c.rising)}
                for c in self.crossings
            ],
            "highest": highest, "notes": list(self.notes),
            "void": [each._asdict() for each in self.void],
            "turns": [{"time_s": time, "text": words} for time, words in self.turns],
        }  # fmt: skip

    def _valued(self, subject: str, value: float) -> dict[str, Any]:
        limit = next((item for item in self.limits if item.subject == subject), None)
        quantity = q.TEMPERATURE if limit is None else limit.quantity
        return {quantity.key("value"): plain(Field("", quantity), value)}

    def _table(self, units: str) -> Listing:
        """One row a limit: reached ones by their time, then those with the least margin."""
        over = {(item.limit, item.subject) for item in self.over}

        def reached(item: Limit) -> float:
            key = item.limit, item.subject
            times = (each.time for each in self.crossings if each.rising and each[1::-1] == key)
            return -1.0 if key in over else next(times, np.inf)

        some = [item for item in self.limits if np.isfinite(item.margin).any()]
        some.sort(key=lambda item: (
            reached(item), item.limit not in THERMAL, float(np.nanmin(item.margin))))  # fmt: skip
        rows, kinds = [int(np.nanargmin(item.margin)) for item in some], [i.quantity for i in some]
        worst = [(float(i.value[r]), float(i.bound[r]), float(i.margin[r]))
                 for i, r in zip(some, rows, strict=True)]  # fmt: skip
        when = ["from the start" if time < 0 else duration(time) if time < np.inf else "-"
                for time in map(reached, some)]  # fmt: skip
        return Listing("limits", (
            Column("Limits", [item.subject for item in some]),
            Column("start", [float(item.value[0]) for item in some], kinds),
            Column("worst", [value for value, _, _ in worst], kinds),
            Column("at", [duration(self.times[row]) for row in rows], right=True),
            Column("limit", [bound for _, bound, _ in worst], kinds, form="bound"),
            Column("margin", [margin for _, _, margin in worst],
                   [item.margin_quantity for item in some], form="+"),
            Column("reached", when, right=True),
        ))  # fmt: skip

    def _happens(self) -> Listing:
        """What happens when."""
        return Listing("happens", (
            Column("At", [duration(each.time) for each in self.events]),
            Column("", [each.text for each in self.events]),
        ), use="page" if self.events else "")  # fmt: skip

    def _rows(self) -> Listing:
        """Every course, one row a time."""
        heads = [("time", q.TIME), *self.quantities.items()]
        columns = [self.times, *(self.courses[path] for path in self.quantities)]
        return by_rows("course", heads, list(zip(*columns, strict=True)), "rows")
