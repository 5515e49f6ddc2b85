"""Entries of the case that do not look meant; some can be seen before a solve."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Iterator
from types import SimpleNamespace
from typing import Any, NamedTuple, cast

from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.overriding import overridden
from flownet.enclosure.slips import (
    MOST_PAIRS,
    NARROW_RAMP,
    SMALLEST,
    TOUCH,
    beyond,
    covered,
    extent,
    narrow_ramps,
    tiny_areas,
)
from flownet.enclosure.surroundings import SUN_KEYS
from flownet.findings.facts import coldest_outside, types_in_use, with_air_limit
from flownet.findings.rule import Said, few, rule, say
from flownet.physics.air import FREEZING, HEAT_CAPACITY, STANDARD_DENSITY
from flownet.results.finding import Finding
from flownet.results.solution import Solution
from flownet.schema import quantities as q
from flownet.schema.component import KINDS
from flownet.schema.fields import attribute, given, keys


@rule(touch=TOUCH)
def outlines_overlap(solution: Solution) -> Iterator[Said]:
    """Pairs of compartments in the same place, the largest overlaps first."""
    if found := covered(solution.case):
        pairs: list[Any] = [
            {"first": each.first.path, "second": each.second.name, "wide": each.width,
             "high": each.height, "part": _part(each.share)} for each in found
        ]  # fmt: skip
        yield say(found[0].first.path, pairs=few(pairs, "at least " * (len(found) >= MOST_PAIRS)))


def _part(share: float) -> str:
    return f"{100 * share:.0f} %" if share >= 0.01 else "under 1 %"


@rule(touch=TOUCH)
def beyond_enclosure(solution: Solution) -> Iterator[Said]:
    """Outlines and positions beyond the size, the farthest first."""
    found, size = beyond(solution.case), extent(solution.case.body)
    if found and size is not None:
        things: list[Any] = [{"path": each.path, "by": each.by} for each in found]
        yield say(found[0].path, wide=size[0], tall=size[1], things=few(things))


@rule(least=f"{1e6 * SMALLEST:g} mm2")
def area_unit_suspect(solution: Solution) -> Iterator[Said]:
    """Areas of branches and fan types that are too small to be meant."""
    for tiny in tiny_areas(solution.case):
        yield say(tiny.path, area=tiny.text)


@rule(narrow=NARROW_RAMP)
def speed_as_mean(solution: Solution) -> Iterator[Said]:
    """Fans that a thermostat switches; of a solution, those between its two speeds."""
    for ramp in narrow_ramps(solution.case):
        follows = solution.followed(ramp.fan)
        if follows is None or ramp.low < follows.temperature < ramp.high:
            yield say(ramp.fan, "says", follows is None and "unsolved", slow=ramp.slow,
                      fast=ramp.fast, ramp=ramp.high - ramp.low)  # fmt: skip


@rule
def wall_thickness_suspect(solution: Solution) -> Iterator[Said]:
    """Panels of which the thickness is beyond what is built."""
    thin, thick = (wall_thickness_suspect[key] / 1000 for key in ("thin", "thick"))
    for wall in solution.case.walls.values():
        computed = given(wall.thickness) and not given(wall.u_value)
        if computed and not thin <= wall.thickness <= thick:
            yield say(f"{wall.path}.thickness", thick_is=f"{1e3 * wall.thickness:g}")


@rule
def variant_overridden(solution: Solution) -> Iterator[Said]:
    """Values of the variant that are lost in the scenario."""
    case, (scenario, variant, *_) = solution.case, solution.case.applied
    for each in overridden(case.source or case, scenario, variant):
        advice = f"{each.hint[0].upper()}{each.hint[1:]}."
        yield say(each.lost[0], hint="own", text=each.message, advice=advice)


DRAWN = (
    outlines_overlap,
    beyond_enclosure,
    area_unit_suspect,
    speed_as_mean,
    wall_thickness_suspect,
)


def of_case(case: Enclosure, *, overriding: bool = False) -> tuple[Finding, ...]:
    """What these rules say before anything is solved: they look at nothing but the case; what is
    drawn and typed, or what is lost between its scenario and variant."""
    unsolved = cast(Solution, SimpleNamespace(case=case, followed=lambda fan: None))
    made = (variant_overridden,) if overriding else DRAWN
    return tuple(each for rule in made for each in rule(unsolved))


DEGREES = 1.8  # degF in a K
WATTS = 1 / 1.9  # W and K in a formula for BTU/h and degF: 1 / (3.412 / 1.8)

# --- mixed degrees ------------------------------------------------------------------------------


@rule
def flow_degree_mix(solution: Solution) -> Iterator[Said]:
    """A required flow that is off by a factor between units."""
    case, stated = solution.case, solution.case.limits.flow
    limits = [item.air_limit for item in with_air_limit(case) if given(item.air_limit)]
    heat, rise = solution.totals.heat, min(limits, default=0.0) - case.outside.temperature
    if given(stated) and heat > 0 and rise > 0:
        mix = mixed_degrees(stated, heat, rise, solution.site["density"])
        if mix is not None:
            yield say("limits.flow", stated=stated, ratio=mix.ratio, heat=heat, rise=rise,
                      needed=(q.VOLUME_FLOW, mix.needed), reason=mix.reason)  # fmt: skip


class Mix(NamedTuple):
    """A stated flow that is off the heat balance by a factor between units."""

    ratio: float  # stated over needed
    needed: float  # by the heat balance [m3/s]
    reason: str


def mixed_degrees(stated: float, heat: float, rise: float, density: float) -> Mix | None:
    """Whether a flow is 1.8 or 1/1.9 of the heat balance, at this density or at 1.2 kg/m3; SI."""
    needed = [heat / (rho * HEAT_CAPACITY * rise) for rho in (density, STANDARD_DENSITY)]
    if _near(stated / needed[0], 1.0):
        return None
    for flow in needed:
        for key, factor in (("degrees", DEGREES), ("watts", WATTS)):
            if _near(stated / flow, factor):
                return Mix(stated / flow, flow, flow_degree_mix.texts[key])
    return None


def _near(ratio: float, factor: float) -> bool:
    return abs(ratio / factor - 1) <= flow_degree_mix["near"]


@rule
def rise_looks_absolute(solution: Solution) -> Iterator[Said]:
    """Margins that are temperatures, limits that are rises."""
    case, most = solution.case, rise_looks_absolute["most"]
    margin, coldest = case.limits.margin, coldest_outside(case)
    if margin > most:
        yield say("limits.margin", "margin", hint="difference", margin=margin,
                  meant=(q.TEMPERATURE, margin), usual=(q.DIFFERENCE, 5.0))  # fmt: skip
    limits = {f"{part.path}.limit": part.limit for part in case.parts.values()}
    limits |= {f"{item.path}.air_limit": item.air_limit for item in with_air_limit(case)}
    for path, limit in limits.items():
        if limit < coldest:
            rise = limit - FREEZING
            yield say(path, "limit", hint=0 < rise <= most and "rise", limit=limit,
                      outside=coldest, rise=rise, meant=coldest + rise)  # fmt: skip


# --- keys without effect ------------------------------------------------------------------------

Test = Callable[[Enclosure, Any], bool]


class Idle(NamedTuple):
    """A key that does nothing where `test` holds."""

    kind: str
    key: str
    why: str
    test: Test


def _followed(case: Enclosure, fan: Any) -> bool:
    """A given speed beside a speed control; 1 is there without being written."""
    stated = "speed" in (fan.given or ()) or fan.speed != 1.0
    return fan.speed_control is not None and stated


def _without(key: str) -> Test:
    return lambda case, item: not given(getattr(item, key))


def _turned(case: Enclosure, wall: Any) -> bool:
    """Whether it matters which way a wall of a given U looks."""
    ends = (case.compartments.get(end) for end in (wall.from_, wall.to))
    clear = wall.sun is not None and not given(wall.sun.irradiance)
    return clear or any(end is not None and end.layers > 1 for end in ends)


def _unseen(case: Enclosure, place: Any) -> bool:
    return not any(wall.to == place.path and not given(wall.u_value)
                   for wall in case.walls.values())  # fmt: skip


IDLE = (
    Idle("part", "position", "only a part in a slot has one",
         lambda case, part: not part.in_.startswith("slot.")),
    Idle("part", "stream", "only a part in a compartment has one",
         lambda case, part: part.in_ not in case.compartments),
    Idle("part", "flow_area", "its resistance does not follow the velocity",
         lambda case, part: not part.follows_velocity),
    Idle("part", "resistance_factor", "it has no resistance",
         lambda case, part: not (given(part.resistance) or part.follows_velocity)),
    Idle("vent", "construction", "it belongs to open_ratio", _without("open_ratio")),
    Idle("vent", "hole", "it belongs to open_ratio", _without("open_ratio")),
    Idle("vent", "hole", "a round-edged grille has one loss at all flows",
         lambda case, vent: given(vent.open_ratio) and vent.construction == "round-edged"),
    Idle("slot", "free_ratio", "a measured card has its own loss, a sink its own openness",
         _without("gap")),
    Idle("slot", "part_heat", "no part stands in it",
         lambda case, slot: all(part.in_ != slot.path for part in case.parts.values())),
    Idle("slot", "direction", "it needs length or a sink beside it",
         lambda case, slot: not given(slot.length) and slot.sink is None),
    Idle("duct", "direction", "route gives both heights",
         lambda case, duct: duct.route is not None),
    *(Idle("wall", key, "u_value holds", lambda case, wall: given(wall.u_value))
      for key in ("thickness", "emissivity", "inside_emissivity", "height")),
    *(Idle("wall", key, "u_value holds, and neither layers nor the sun of a clear sky ask for it",
           lambda case, wall: given(wall.u_value) and not _turned(case, wall))
      for key in ("facing", "tilt")),
    Idle("wall", "outside_film", "it belongs to sun on a wall with u_value",
         lambda case, wall: not given(wall.u_value)
         or (wall.sun is None and not given(wall.solar))),
    *(Idle("outside", key, "no wall with computed films stands under it", _unseen)
      for key in ("sky", "sky_temperature")),
    *(Idle("outside", key, "no wall takes its sun from a clear sky",
           lambda case, place: all(wall.sun is None or given(wall.sun.irradiance)
                                   for wall in case.walls.values())) for key in SUN_KEYS),
    Idle("wall", "azimuth", "it belongs to sun", lambda case, wall: wall.sun is None),
    Idle("enclosure", "up", "a plan has no heights", lambda case, body: body.view == "plan"),
    *(Idle("limits", key, "without noise_dBA no limit depends on it", _without("noise_dBA"))
      for key in ("noise_field", "room_constant")),
    Idle("limits", "duty", "lives count as those of continuous running without running_share",
         lambda case, limits: limits.duty == "intermittent" and not given(limits.running_share)),
    Idle("limits", "running_share", 'it belongs to duty = "intermittent"',
         lambda case, limits: limits.duty != "intermittent"),
    Idle("part", "power_basis", "there is no power", _without("power")),
    Idle("fan", "speed", "speed_control takes its place", _followed),
    Idle("fan_type", "blades", "the blade-pass tone needs rated_speed", _without("rated_speed")),
    Idle("fan_type", "noise", "it says what noise_dBA is, and there is none",
         _without("noise_dBA")),
)  # fmt: skip


@rule(keys="; ".join(f"{idle.kind}.{idle.key}: {idle.why}" for idle in IDLE))
def key_without_effect(solution: Solution) -> Iterator[Said]:
    """Idle keys, together for things of a kind."""
    case = solution.case
    used = set(types_in_use(case))
    for idle in IDLE:
        idling = [
            item.path for item in case.things[idle.kind].values()
            if (idle.kind != "fan_type" or item.path in used)
            and is_stated(item, idle.key) and idle.test(case, item)
        ]  # fmt: skip
        if idling:
            yield say(f"{idling[0]}.{idle.key}", names=idling, key=idle.key, why=idle.why)


def is_stated(item: Any, key: str) -> bool:
    """Whether a thing gives a key, as far as can be seen: listed as given, or not the default."""
    if key in (item.given or ()):
        return True
    value, default = getattr(item, attribute(key)), keys(KINDS[item.KIND])[key].default
    if default is dataclasses.MISSING or not given(default):
        return given(value)
    return bool(value != default)
