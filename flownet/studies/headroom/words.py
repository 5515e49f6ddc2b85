"""Headroom in sentences: which limit breaks where, what holds again, what is not known."""

from __future__ import annotations

from collections.abc import Iterator

from flownet.judging.voids import told
from flownet.results.solution import Limit
from flownet.schema import quantities as q
from flownet.schema.fault import listed
from flownet.solve import broken_in_layers, solve
from flownet.studies.headroom.points import REFUSED, Point
from flownet.studies.headroom.result import Headroom
from flownet.studies.headroom.search import Crossing
from flownet.studies.verdicts import divided

SAME = 1e-6  # of levels, for a key that the tightest limit does not feel
NOWHERE = (
    "no limit is given: give a part its limit, a compartment or slot its air_limit, or [limits]"
)


def sentences(found: Headroom, units: str) -> Iterator[str]:
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
        return f"{limit_breaks(point.limit, units)}{jump}"
    if point.status == "void":
        return f"it is {_trouble(point, units)}"
    if point.status == "unknown":
        return "a limit has no value any more, so that nobody knows whether it holds"
    what = "the case allows no more" if point.status == REFUSED else "there is no solution"
    return f"{what} ({point.why.splitlines()[0]})"


def _on_paper(point: Point, units: str) -> str:
    """What is broken besides where the numbers are void."""
    over = point.limit is not None and point.limit.broken
    return f"; on paper {limit_breaks(point.limit, units)}" if over and point.limit else ""


def limit_breaks(limit: Limit, units: str) -> str:
    """`part.controller breaks its 60 degC`."""
    word = "falls below" if limit.at_least else "breaks"
    return f"{limit.subject} {word} its {bound(limit, units)}"


def bound(limit: Limit, units: str) -> str:
    """A limit as people write it: 60 degC, not 60.0 degC."""
    number, _, unit = limit.quantity.shown(units).text(float(limit.bound)).rpartition(" ")
    return f"{number.removesuffix('.0')} {unit}".strip()


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
