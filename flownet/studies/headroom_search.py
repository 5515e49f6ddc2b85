"""Where limits begin and cease to hold: of a scan, every change narrowed down.

Each round tries values within all brackets together and keeps, of each, the part next to today's
value in which holding changes first.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Generator, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import chain, islice, pairwise
from typing import Any, NamedTuple

import numpy as np

from flownet.enclosure.enclosure import Enclosure
from flownet.judging.assessment import STATUSES, THERMAL, TIGHT, Assessment
from flownet.judging.voids import told
from flownet.pages.sheet import Column, Listing
from flownet.results.limits import Limit
from flownet.results.tables import Field, plain
from flownet.schema import quantities as q
from flownet.schema.arrays import Array
from flownet.schema.fields import NONE
from flownet.schema.quantities import Quantity
from flownet.studies.headroom_subject import Subject
from flownet.studies.outcome import SOUND, margin_unit
from flownet.studies.runs import Outcomes, Run, apart
from flownet.studies.searches import solved
from flownet.studies.verdicts import bound

NO_LIMIT = (
    "no limit is given: give a part its limit, a compartment or slot its air_limit, or [limits]"
)
REFUSED = "refused"  # a value that the case does not allow
BRACKET_POINTS = 16  # points within a bracket, a round
NARROWINGS = 6
MARGIN_JUMP = 1e-3  # K in the last bracket, beyond which a margin jumps; a share of other bounds
EXTREME = "extreme-air"  # follows from other causes of void
TURN = 0.05  # K by which a margin must turn to be called not monotone
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

    @property
    def margin_quantity(self) -> Quantity:
        """What this is measured in."""
        return self.limit.margin_quantity if self.limit else q.RATIO

    @property
    def decides(self) -> str:
        """What the limit that decides is about."""
        return self.limit.subject if self.limit else ""

    def trouble(self, units: str) -> str:
        """What is wrong with it, in words."""
        limit = self.limit
        if self.status == "void":
            over = f"; on paper {limit_breaks(limit, units)}" if limit and limit.broken else ""
            return f"void ({told(self.void, units)}{over})"
        if self.status == "over" and limit is not None:
            size = limit.margin_quantity.shown(units).text(abs(limit.margin))
            word = "short of" if limit.at_least else "over"
            return f"{limit.subject} is {size} {word} its {bound(limit, units)}"
        return "no limit can be judged"

    @property
    def level(self) -> float:
        """The least temperature margin [K], else the margin of the limit that decides."""
        warm = [m for (kind, _), m in self.margins.items() if kind in THERMAL]
        return min(warm, default=self.margin)


def limit_breaks(limit: Limit, units: str) -> str:
    """`part.controller breaks its 60 degC`."""
    word = "falls below" if limit.at_least else "breaks"
    return f"{limit.subject} {word} its {bound(limit, units)}"


def points_data(points: Sequence[Point], of: Quantity) -> Listing:
    """Points as in JSON; their values in the unit of `unit`."""
    limits = [point.limit for point in points]
    return Listing("scan", (
        Column("value", [point.value for point in points], [of] * len(points)),
        Column("unit", [of.json.unit or None] * len(points)),
        Column("status", [point.status for point in points]),
        Column("limit", [limit.limit if limit else None for limit in limits]),
        Column("subject", [point.decides or None for point in points]),
        Column("margin", [point.margin for point in points],
               [point.margin_quantity for point in points]),
        Column("margin_unit", [margin_unit(point.margin_quantity) if point.limit else None
                               for point in points]),
        Column("air_rise", [point.air_rise for point in points], q.DIFFERENCE),
        Column("hottest_air", [point.hottest_air for point in points], q.TEMPERATURE),
        Column("hottest_air_in", [point.hottest_air_in or None for point in points]),
        Column("void", [{word: list(subjects) for word, subjects in point.void.items()}
                        for point in points]),
        Column("why", [point.why or None for point in points]),
        *(Column(f"{path}.drop", [point.drops[path] for point in points], q.PRESSURE)
          for path in points[0].drops),
    ), "data")  # fmt: skip


@dataclass(frozen=True)
class Bench:
    """Tries values of a key in one case."""

    case: Enclosure  # in its scenario and variant, with changes
    subject: Subject
    filters: tuple[str, ...]  # whose drop is watched
    ignored: Collection[Name] = ()  # limits that cannot be judged today

    def points(self, values: Sequence[float] | Array) -> list[Point]:
        """One point a value, in order, all solved together."""
        return tried([self], values)[0]

    def runs(self, values: Sequence[float] | Array) -> list[Run]:
        """What must be solved for these values."""
        if not len(values):
            return []
        changes = self.subject.changes(np.asarray(values, float))
        return list(apart(self.case, changes, len(values)))

    def read(self, pairs: Outcomes, values: Sequence[float] | Array) -> list[Point]:
        """The points of these values, solved as these pairs."""
        if not len(values):
            return []
        stand, rise, (warm, hottest_in) = pairs.stand, pairs["total.air_rise"], pairs.hottest
        drops, lost = {path: pairs[f"{path}.drop"] for path in self.filters}, unjudged(pairs)
        found = []
        for i, value in enumerate(np.asarray(values, float).tolist()):
            margins = {(item.limit, item.subject): margin for item in stand.limits
                       if not math.isnan(margin := float(item.margin[i]))}  # fmt: skip
            found.append(Point(
                value, _status(pairs, stand, i, lost[i] - set(self.ignored), bool(margins)),
                _deciding(stand, i), margins, float(rise[i]), float(warm[i]), hottest_in[i],
                {path: float(column[i]) for path, column in drops.items()}, pairs.status[i],
                stand.reasons(i), stand.in_dip(i),
            ))  # fmt: skip
        return found


def tried(benches: Sequence[Bench], values: Sequence[float] | Array) -> list[list[Point]]:
    """The points of the same values on several benches, all solved together."""
    found = solved([bench.runs(values) for bench in benches])
    return [bench.read(pairs, values) for bench, pairs in zip(benches, found, strict=True)]


def _status(pairs: Outcomes, stand: Assessment, pair: int, lost: set[Name], some: bool) -> str:
    """As a comparison says it, but for limits that could not be judged today either."""
    if not pairs.made(pair):
        return REFUSED
    code: str = STATUSES[stand.status[pair]]
    if code in ("unsolved", "void", "over"):
        return code
    if lost or not some:
        return "unknown"
    tight = TIGHT in stand.each[:, pair] or bool(stand.in_dip(pair))
    return "tight" if tight else "ok"


def unjudged(pairs: Outcomes) -> list[set[Name]]:
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


# --- changes of holding ---------------------------------------------------------------------------


class FilterChange(NamedTuple):
    """When to change one filter."""

    path: str  # filter.intake
    today: float  # drop across it at today's value [Pa]
    drop: float  # at the value where the first limit breaks [Pa]
    gauge: float  # what is read there before anything is out: to set a pressure switch by [Pa]
    sure: bool  # no smaller value on the way there has as large a drop

    def to_dict(self, there: Point | None) -> dict[str, Any]:
        """As in JSON; `there`: where the first limit breaks."""
        numbers = {
            ("drop_today", q.PRESSURE): self.today, ("change_at", q.PRESSURE): self.gauge,
            ("drop_there", q.PRESSURE): self.drop,
            ("alarm", q.TEMPERATURE): there.hottest_air if there else math.nan,
        }  # fmt: skip
        return {
            "filter": self.path,
            **{kind.key(name): plain(Field("", kind), x) for (name, kind), x in numbers.items()},
            "alarm_in": there.hottest_air_in if there else None, "sure": self.sure,
        }  # fmt: skip


class LimitCrossing(NamedTuple):
    """Where holding changes, going away from today's value."""

    value: float
    before: Point  # the nearer one to today's value, next to the crossing
    after: Point
    jumps: bool  # no value in between has a margin of zero
    beyond: Point | None = None  # clearly beyond, by about a printed digit

    @property
    def cause(self) -> Point:
        """The point that tells what is wrong: clearly beyond, where at the very edge, with hardly
        any flow, something else is void that passes or follows from it."""
        edge, clear = self.after, self.beyond
        if clear is None or not clear.void or edge.status == "over":
            return edge
        first = next(iter(edge.void), None)
        return clear if first == EXTREME or first not in clear.void else edge

    def ends(self, units: str, whole: bool) -> str:
        """What ends the range in which all limits hold."""
        point = self.cause
        if point.status == "over" and point.limit is not None:
            jump = ", at a jump of the flow" if self.jumps and not whole else ""
            return f"{limit_breaks(point.limit, units)}{jump}"
        if point.status == "void":
            return f"it is {point.trouble(units)}"
        if point.status == "unknown":
            return "a limit has no value any more, so that nobody knows whether it holds"
        what = "the case allows no more" if point.status == REFUSED else "there is no solution"
        return f"{what} ({point.why.splitlines()[0]})"

    @property
    def breaks(self) -> bool:
        """Whether limits cease to hold here; else they hold from here on."""
        return self.before.holds


def crossings(
    outward: Sequence[Point], whole: bool = False, rounds: int = NARROWINGS
) -> Generator[list[float], list[Point], tuple[list[LimitCrossing], list[float]]]:
    """Every change of holding along points that lead away from today's value, and values clearly
    beyond each; it is sent the points of the values that it asks for."""
    brackets = [(a, b) for a, b in pairwise(outward) if a.holds != b.holds]
    steps = [(b.value, 0.0 if whole else (b.value - a.value) / (BRACKET_POINTS + 1))
             for a, b in brackets]  # fmt: skip
    for _ in range(rounds):
        inner = [_inside(a.value, b.value, whole) for a, b in brackets]
        if not any(inner):
            break
        points = iter((yield [*chain(*inner)]))
        brackets = [
            next((c, d) for c, d in pairwise([a, *islice(points, len(values)), b])
                 if c.holds != d.holds)
            for (a, b), values in zip(brackets, inner, strict=True)
        ]  # fmt: skip
    near = [b.value + step if abs(end - b.value) > abs(step) else end
            for (_, b), (end, step) in zip(brackets, steps, strict=True)]  # fmt: skip
    return [_ahead(_crossing(a, b, whole), outward[0].value) for a, b in brackets], near


def _ahead(item: LimitCrossing, start: float) -> LimitCrossing:
    """A crossing at the start of the way, where rounding would put it behind that."""
    behind = (item.value - start) * (item.after.value - start) < 0
    return item._replace(value=start) if behind else item


def _inside(near: float, far: float, whole: bool) -> list[float]:
    """Values to try between both, in their order."""
    found: list[float] = np.linspace(near, far, BRACKET_POINTS + 2)[1:-1].tolist()
    if not whole:
        return found
    rounded = dict.fromkeys(float(round(value)) for value in found)
    return [value for value in rounded if min(near, far) < value < max(near, far)]


def _crossing(before: Point, after: Point, whole: bool) -> LimitCrossing:
    """The zero of the margin that changes its sign, on the line through both ends.

    Of a count, the end where all limits hold.
    """
    good, bad = (before, after) if before.holds else (after, before)
    if bad.status != "over":
        return LimitCrossing(good.value, before, after, False)
    assert bad.limit is not None  # that is over
    name = bad.limit.limit, bad.limit.subject
    over, left = bad.margins[name], good.margins.get(name, np.inf)
    size = 1.0 if bad.limit.limit in THERMAL else abs(bad.limit.bound) or 1.0
    if whole or left - over > MARGIN_JUMP * size:
        return LimitCrossing(good.value, before, after, True)
    share = left / (left - over)  # below 0 where rounding alone holds the good end
    return LimitCrossing(good.value + share * (bad.value - good.value), before, after, False)


class Turn(NamedTuple):
    """Where a margin turns, as near as the scan tells."""

    value: float
    margin: float  # as `Point.level`
    largest: bool  # else the smallest


def turns(scan: Sequence[Point]) -> Iterator[Turn]:
    """The largest and the smallest margin that counts, where it is at neither end."""
    solved = [point for point in scan if not point.void and not np.isnan(point.level)]
    if len(solved) < 3:
        return
    levels = np.array([point.level for point in solved])
    ends = levels[0], levels[-1]
    top, bottom = int(levels.argmax()), int(levels.argmin())
    if levels[top] - max(ends) > TURN:
        yield Turn(solved[top].value, float(levels[top]), True)
    if min(ends) - levels[bottom] > TURN:
        yield Turn(solved[bottom].value, float(levels[bottom]), False)
