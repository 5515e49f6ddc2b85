"""Why a fan type cannot serve at a place before anything is solved; what "any" stands for there.

"any" are the types that supply and shaft allow. Frames are not compared for it: where the design is
open, a hole may be cut anew.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

from flownet.enclosure.contents import Place, ratings
from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.fans import Fan, FanType
from flownet.enclosure.supply_match import Fed, fed
from flownet.findings.fan_data import ROUND_OFF, permitted_shafts, shaft_of
from flownet.results.finding import filled
from flownet.results.tables import Field
from flownet.results.tables import plain as json_value
from flownet.schema import quantities as q
from flownet.schema.errors import CaseError
from flownet.schema.fault import listed
from flownet.schema.fields import NONE, given
from flownet.schema.quantities import Quantity
from flownet.schema.units import SupplyText

REASON_KINDS = {  # of reasons, in the order in which they are told -> as they are counted
    "supply": "supply", "frame": "frame", "shaft": "shaft", "speed": "speed",
    "unsolved": "no solution", "part": "part limit", "air": "air limit", "touch": "touch limit",
    "flow": "flow", "dew": "dew",
    "opposed": "opposed", "unstable": "unstable", "backflow": "backflow", "stall": "stall",
    "extreme-air": "extreme air", "extreme-part": "extreme part", "air-range": "air range",
    "noise": "noise", "life": "life",
}  # fmt: skip
SAME_HOLE = 0.6e-3  # m: hole pitches that differ by less are one, cut-outs fit; our own judgement
SAME_FRAME = 2e-3  # m: frames that differ by less are one size, as 119 and 120 mm; likewise
REASON_NUMBERS = ("value", "bound")
LOOKED_AT = {"supply": ("supply",), "shaft": ("direction",)}  # reason -> keys of a fan it rests on
Values = Mapping[str, tuple[Quantity | None, Any]]


class Reason(NamedTuple):
    """Why a type is excluded, or a remark on one that is not.

    `template` is filled from `values`; `value` and `bound` among them are the number and what it
    is held against.
    """

    kind: str  # a key of REASON_KINDS
    subject: str  # what it is about: fan.left, part.controller
    scenario: str  # where it is so; empty where that does not matter
    template: str
    values: Values = NONE

    def message(self, units: str = "metric") -> str:
        """In words and numbers of the reader."""
        words = filled(self.template, {**self.values, "subject": (None, self.subject)}, units)
        where = f" in {self.scenario}" if self.scenario else ""
        return words + self._apart(units) + where

    def _apart(self, units: str) -> str:
        """How far a value is from a bound that reads the same: ` (0.01 dB apart)`."""
        (quantity, value), (_, bound) = (self.values.get(k, (None, None)) for k in REASON_NUMBERS)
        if quantity is None or bound is None:
            return ""
        shown = quantity.shown(units)
        if shown.number(value) != shown.number(bound):
            return ""
        unit = shown.unit.replace("dBA", "dB")
        return f" ({abs(value - bound) * shown.factor:.1g} {unit}".rstrip() + " apart)"

    def to_dict(self) -> dict[str, Any]:
        """As in JSON; `value` and `bound` in `unit`, None where it is not a matter of numbers."""
        found = {key: self.values.get(key, (None, None)) for key in REASON_NUMBERS}
        numbers = {key: None if quantity is None else json_value(Field("", quantity), value)
                   for key, (quantity, value) in found.items()}  # fmt: skip
        quantity = found["value"][0]
        unit = quantity.json.unit if quantity is not None else None
        return {
            "kind": self.kind, "subject": self.subject, "scenario": self.scenario or None,
            **numbers, "unit": "h" if unit == "hours" else unit, "message": self.message(),
        }  # fmt: skip


@dataclass(frozen=True)
class FanPlaces:
    """Where the type is chosen for, and the case in every scenario that decides."""

    design: Enclosure
    fans: tuple[Fan, ...]  # those that are chosen, without blanked ones
    made: Mapping[str, Enclosure]  # scenario -> the case in it
    frame: tuple[float, float] | str | None  # size and depth [m]; "any"; None: as in place
    asked: tuple[str, ...] = ()  # of each scenario: the entry it comes from

    @property
    def paths(self) -> tuple[str, ...]:
        """The fans by path."""
        return tuple(fan.path for fan in self.fans)

    def fed(self, type_: str, name: str, scenario: str) -> Fed:
        """The data of a type at a place in a scenario."""
        case = self.made[scenario]
        supply = case.things["supply"].get(case.fans[name].supply or "")
        return fed(ratings(case.things["fan_type"], type_), supply)


def told_once(reasons: Iterable[Reason]) -> list[Reason]:
    """One of each: what holds for several places or scenarios is told of the first."""
    found: dict[Any, Reason] = {}
    for reason in reasons:
        key = (reason.kind, reason.template, tuple(sorted(
            (name, str(value)) for name, (_, value) in reason.values.items())))  # fmt: skip
        found.setdefault(key, reason)
    return list(found.values())


def unfit(places: FanPlaces, type_: str) -> list[Reason]:
    """Every reason that excludes a type without a solve: supply, frame, shaft, speed.

    What is so in every scenario is told without one.
    """
    found: list[Reason] = []
    for fan in places.fans:
        for scenario, case in places.made.items():
            data = places.fed(type_, fan.name, scenario)
            here = case.fans[fan.name]
            found += _supply(case, here, data, scenario)
            found += _speed(here, data, scenario)
        found += _frame(places, fan, places.design.things["fan_type"][type_])
        found += _shaft(places.design, fan, places.design.things["fan_type"][type_])
    where = [{other.scenario for other in found if other._replace(scenario=one.scenario) == one}
             for one in found]  # fmt: skip
    return told_once(reason._replace(scenario="") if names == set(places.made) else reason
                     for reason, names in zip(found, where, strict=True))  # fmt: skip


def _supply(case: Enclosure, fan: Fan, data: Fed, scenario: str) -> Iterator[Reason]:
    if suits(data):
        return
    words: dict[str, Any] = {**supply_words(case, fan, data)}
    why = "its data: {own}"
    if data.how != "wrong":
        words["ratio"], why = (q.RATIO, data.speed), "data for {own} scaled by {ratio}"
    yield Reason("supply", fan.path, scenario, f"no rating for {{here}} ({why})", words)


def permits(data: Fed) -> bool:
    """Whether the data sheet itself allows the voltage that the data are scaled to."""
    return data.how == "voltage" and data.rating.voltage_range is not None


def suits(data: Fed) -> bool:
    """Whether data hold on a supply, or are scaled to it as the data sheet allows."""
    return data.how not in ("wrong", "frequency", "voltage") or permits(data)


def supply_words(case: Enclosure, fan: Fan, data: Fed) -> dict[str, tuple[None, str]]:
    """The supply of a place, and that of the data."""
    supply, own = case.things["supply"][fan.supply or ""], data.rating.supply_text
    assert own is not None  # only a stated supply is near, scaled or wrong
    here = SupplyText(supply.voltage, supply.frequency if given(supply.frequency) else 0.0)
    return {"here": (None, here.text()), "own": (None, own.text())}


def _speed(fan: Fan, data: Fed, scenario: str) -> Iterator[Reason]:
    """A speed that is given and not within the range; a control is held in it by itself."""
    span, rated = data.rating.speed_range, data.rating.rated_speed
    if given(fan.rotation) and not given(rated):
        yield Reason("speed", fan.path, scenario, "rated speed not stated, {value} are asked for",
                     {"value": (q.SPEED, fan.rotation)})  # fmt: skip
        return
    if span is None or fan.speed_control is not None or not fan.running:
        return
    ratio = fan.speed if given(fan.speed) else fan.rotation / rated
    if data.how == "voltage" and not given(fan.rotation):
        ratio *= data.speed
    low = ratio < span[0] - ROUND_OFF
    if low or ratio > span[1] + ROUND_OFF:
        yield Reason(
            "speed", fan.path, scenario, "turns at {value} of its rated speed, "
            + ("least" if low else "most") + " {bound}",
            {"value": (q.RATIO, ratio), "bound": (q.RATIO, span[0] if low else span[1])},
        )  # fmt: skip


# --- frame ----------------------------------------------------------------------------------------


def _frame(places: FanPlaces, fan: Fan, other: FanType) -> Iterator[Reason]:
    """What does not fit: the frame that was asked for, and not deeper; else the screws, or a hole
    that is too small, and the depth that is free; the frame where none of these says it.

    NaN of a size that is not known fits.
    """

    def off(template: str, value: float, bound: float) -> Reason:
        return Reason("frame", fan.path, "", template,
                      {"value": (q.LENGTH, value), "bound": (q.LENGTH, bound)})  # fmt: skip

    frame, own, free = other.frame, places.design.rating(fan), fan.clearance
    if isinstance(places.frame, tuple) and frame is not None:
        if abs(frame[0] - places.frame[0]) > SAME_FRAME:
            yield off("frame {value}, the place has {bound}", frame[0], places.frame[0])
        if frame[1] > places.frame[1] + SAME_HOLE:
            yield off("{value} deep, the place takes {bound}", frame[1], places.frame[1])
    if places.frame is not None:
        return
    found = []
    if abs(other.hole_pitch - own.hole_pitch) > SAME_HOLE:
        found.append(off("hole pitch {value}, the place has {bound}", other.hole_pitch,
                         own.hole_pitch))  # fmt: skip
    elif other.cutout > own.cutout + SAME_HOLE:
        found.append(off("cut-out {value}, the place has {bound}", other.cutout, own.cutout))
    if own.frame is not None and frame is not None:
        if free is not None and frame[1] >= (most := own.frame[1] + free.inlet + free.outlet):
            found.append(off("{value} deep, {bound} are free", frame[1], most))
        if not found and abs(frame[0] - own.frame[0]) > SAME_FRAME:
            found.append(off("frame {value}, the place has {bound}", frame[0], own.frame[0]))
    yield from found


def _shaft(design: Enclosure, fan: Fan, other: FanType) -> Iterator[Reason]:
    shaft = shaft_of(design, fan)
    allowed = permitted_shafts(other)
    if shaft and shaft not in allowed:
        words = {
            "shaft": shaft, "allowed": listed(allowed),
            "bearing": f"its {other.bearing} bearing is" if other.bearing else "it is",
        }  # fmt: skip
        yield Reason("shaft", fan.path, "", "shaft {shaft}, {bearing} for {allowed} shafts only",
                     {name: (None, word) for name, word in words.items()})  # fmt: skip


# --- "any" ----------------------------------------------------------------------------------------


class Unfit(NamedTuple):
    """A type that a place of "any" cannot use, so that it was not tried."""

    path: str
    type: str
    reasons: tuple[Reason, ...]

    def to_dict(self) -> dict[str, Any]:
        """As in JSON."""
        return {"path": self.path, "type": self.type,
                "reasons": [reason.to_dict() for reason in self.reasons]}  # fmt: skip


def unfit_at(
    case: Enclosure, path: str, names: Iterable[str], varied: Collection[Place],
    asked: Iterable[str],
) -> Iterator[Unfit]:  # fmt: skip
    """Types that a fan of a path could not use where it can run, each with every reason that does
    not rest on what else is varied."""
    states = dict.fromkeys(stated(case, one) for one in asked) or ("base",)
    made = {name: case.under(name) for name in states}
    opened = {
        place.name for place in case.places(path)
        if Place("fan", place.name, "state") in varied
        or any(each.fans[place.name].state != "blanked" for each in (case, *made.values()))
    }  # fmt: skip
    fed = any(place.kind == "supply" for place in varied)
    for type_ in names:
        found = [
            reason for name in case.fans if name in opened
            for reason in unfit(FanPlaces(case, (case.fans[name],), made, "any"), type_)
            if reason.kind in LOOKED_AT and not (reason.kind == "supply" and fed)
            and not any(Place("fan", name, key) in varied for key in LOOKED_AT[reason.kind])
        ]  # fmt: skip
        if found:
            yield Unfit(path, type_, tuple(found))


def kept(where: str, names: Sequence[str], out: Sequence[Unfit]) -> tuple[str, ...]:
    """The types that are left; CaseError where there are none."""
    barred = {item.type for item in out}
    found = tuple(name for name in names if name not in barred)
    if not found:
        raise CaseError(
            f'{where}: "any" of {len(names)} types, and none can be used there '
            f"({counted(out)}); such as {out[0].type}: {out[0].reasons[0].message()}; give a "
            "catalogue with types for this supply and shaft, or list the types"
        )
    return found


def counted(out: Sequence[Unfit]) -> str:
    """`39 supply, 1 shaft`: by the first reason of each."""
    kinds = [item.reasons[0].kind for item in out]
    words = REASON_KINDS.items()
    return ", ".join(f"{kinds.count(kind)} {word}" for kind, word in words if kind in kinds)


def sentence(out: Sequence[Unfit]) -> str:
    """What was not tried, of all places that are alike in it."""
    groups: dict[tuple[tuple[str, str], ...], list[str]] = {}
    for path in dict.fromkeys(item.path for item in out):
        own = [item for item in out if item.path == path]
        key = tuple((item.type, item.reasons[0].kind) for item in own)
        groups.setdefault(key, []).append(path.removesuffix(".type"))
    told = []
    for key, paths in groups.items():
        own = [item for item in out if item.path == f"{paths[0]}.type"]
        verb = "s are" if len(key) > 1 else " is"
        told.append(f"{len(key)} type{verb} not tried at {listed(paths)} ({counted(own)})")
    return "; ".join(told)


def stated(case: Enclosure, entry: str) -> str:
    """A scenario without its outages, which change no supply that is there."""
    parts = [part.strip() for part in entry.split("+")]
    return "+".join(part for part in parts if part in case.scenarios) or "base"
