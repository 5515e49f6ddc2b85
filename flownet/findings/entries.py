"""Entries of the case that do not look meant: mixed degrees, a rise as a limit, idle keys."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Iterator
from typing import Any, NamedTuple

from flownet.enclosure.enclosure import Enclosure
from flownet.findings.facts import STANDARD_DENSITY, coldest_outside, types_in_use
from flownet.findings.registry import Said, rule, say
from flownet.physics.air import FREEZING, HEAT_CAPACITY
from flownet.results.solution import Solution
from flownet.schema import quantities as q
from flownet.schema.component import KINDS
from flownet.schema.fault import listed
from flownet.schema.fields import attribute, given, keys

NEAR = 0.05
DEGREES = 1.8  # degF in a K
WATTS = 1 / 1.9  # W and K in a formula for BTU/h and degF: 1 / (3.412 / 1.8)
ABSOLUTE = 100.0  # K: no margin is as large


# --- mixed degrees ------------------------------------------------------------------------------


@rule(
    name="flow-degree-mix",
    severity="warning",
    title="a stated flow looks as if degF and degC were mixed",
    cause="Sizing rules have a constant for degF and another for degC. The stated flow differs "
    "from the heat balance by just the factor between them, or by that of W and degC in a rule for "
    "BTU/h and degF.",
    try_="Work the flow out again from P = rho cp V dT, or set limits.flow to {needed}.",
    thresholds="limits.flow over the flow of the heat balance within 5 % of 1.8 or of 1/1.9; the "
    "balance takes all heat in and the rise from outside air to the lowest air_limit, at the "
    "density of the site or at 1.2 kg/m3",
    source="heat balance; 1 K = 1.8 degF, 1 W = 3.412 BTU/h (NIST SP 811)",
    numbers={"needed": (None, "what it gives")},
)
def flow_degree_mix(solution: Solution) -> Iterator[Said]:
    """A required flow that is off by a factor between units."""
    case, stated = solution.case, solution.case.limits.flow
    holders = (*case.compartments.values(), *case.things["slot"].values())
    limits = [item.air_limit for item in holders if given(item.air_limit)]
    heat, rise = solution.totals.heat, min(limits, default=0.0) - case.outside.temperature
    if not given(stated) or not (heat > 0 and rise > 0):
        return
    mix = mixed_degrees(stated, heat, rise, solution.site["density"])
    if mix is not None:
        yield say(
            "limits.flow", "{subject} {stated} is {ratio} times the heat balance: {heat} and a "
            "rise of {rise} need {needed}; " + mix.reason, stated=(q.VOLUME_FLOW, stated),
            ratio=(q.RATIO, mix.ratio), heat=(q.POWER, heat), rise=(q.DIFFERENCE, rise),
            needed=(q.VOLUME_FLOW, mix.needed),
        )  # fmt: skip


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
        ratio = stated / flow
        if _near(ratio, DEGREES):
            return Mix(ratio, flow, "1.8 is the factor between degF and degC")
        if _near(ratio, WATTS):
            why = "1/1.9 is left when W and degC stand in a rule for BTU/h and degF"
            return Mix(ratio, flow, why)
    return None


def _near(ratio: float, factor: float) -> bool:
    return abs(ratio / factor - 1) <= NEAR


@rule(
    name="rise-looks-absolute",
    severity="warning",
    title="a temperature and a difference look exchanged",
    cause="A limit is a temperature, a margin is a difference. A margin above {most} was probably "
    "meant as a temperature, and a limit below the outside air as a rise above it.",
    try_="Write limits as temperatures and margins as differences in K.",
    thresholds="limits.margin above {most}, or a limit of a part or of air below the temperature "
    "of all surroundings",
    source="no outside air cools below its own temperature",
    numbers={"most": (q.DIFFERENCE, ABSOLUTE)},
)
def rise_looks_absolute(solution: Solution) -> Iterator[Said]:
    """Margins that are temperatures, limits that are rises."""
    case = solution.case
    margin = case.limits.margin
    if margin > ABSOLUTE:
        yield say(
            "limits.margin", "{subject} {margin} looks like an absolute temperature ({meant})",
            "A margin is a difference, such as {usual}.", margin=(q.DIFFERENCE, margin),
            meant=(q.TEMPERATURE, margin), usual=(q.DIFFERENCE, 5.0),
        )  # fmt: skip
    coldest = coldest_outside(case)
    limits = {f"{part.path}.limit": part.limit for part in case.parts.values()}
    holders = (*case.compartments.values(), *case.things["slot"].values())
    limits |= {f"{item.path}.air_limit": item.air_limit for item in holders}
    for path, limit in limits.items():
        if limit < coldest:
            rise = limit - FREEZING
            hint = (
                "If a rise of {rise} is meant, the limit is {meant}."
                if 0 < rise <= ABSOLUTE
                else ""
            )
            yield say(
                path, "{subject} {limit} lies below the outside air ({outside}): no air from there "
                "gets it so cold", hint, limit=(q.TEMPERATURE, limit),
                outside=(q.TEMPERATURE, coldest), rise=(q.DIFFERENCE, rise),
                meant=(q.TEMPERATURE, coldest + rise),
            )  # fmt: skip


# --- keys without effect ------------------------------------------------------------------------

Test = Callable[[Enclosure, Any], bool]


class Idle(NamedTuple):
    """A key that does nothing where `test` holds."""

    kind: str
    key: str
    why: str
    test: Test


def _follows_velocity(part: Any) -> bool:
    return part.resistance_over_velocity is not None or part.resistance_law is not None


def _no_resistance(case: Enclosure, part: Any) -> bool:
    return not (given(part.resistance) or _follows_velocity(part))


def _plain_vent(case: Enclosure, vent: Any) -> bool:
    return not given(vent.open_ratio)


def _given_u(case: Enclosure, wall: Any) -> bool:
    return given(wall.u_value)


def _no_given_sun(case: Enclosure, wall: Any) -> bool:
    return not given(wall.u_value) or (wall.sun is None and not given(wall.solar))


def _followed(case: Enclosure, fan: Any) -> bool:
    """A given speed beside a speed control; 1 is there without being written."""
    stated = "speed" in (fan.given or ()) or fan.speed != 1.0
    return fan.speed_control is not None and stated


IDLE = (
    Idle("part", "position", "only a part in a slot has one",
         lambda case, part: not part.in_.startswith("slot.")),
    Idle("part", "stream", "only a part in a compartment has one",
         lambda case, part: part.in_ not in case.compartments),
    Idle("part", "flow_area", "its resistance does not follow the velocity",
         lambda case, part: not _follows_velocity(part)),
    Idle("part", "resistance_factor", "it has no resistance", _no_resistance),
    Idle("vent", "construction", "it belongs to open_ratio", _plain_vent),
    Idle("vent", "hole", "it belongs to open_ratio", _plain_vent),
    Idle("vent", "hole", "a round-edged grille has one loss at all flows",
         lambda case, vent: given(vent.open_ratio) and vent.construction == "round-edged"),
    Idle("slot", "free_ratio", "a measured card has its own loss",
         lambda case, slot: not given(slot.gap)),
    Idle("slot", "direction", "it needs length beside it",
         lambda case, slot: not given(slot.length)),
    Idle("duct", "direction", "route gives both heights",
         lambda case, duct: duct.route is not None),
    Idle("wall", "thickness", "u_value holds", _given_u),
    Idle("wall", "emissivity", "u_value holds", _given_u),
    Idle("wall", "inside_emissivity", "u_value holds", _given_u),
    Idle("wall", "facing", "u_value holds", _given_u),
    Idle("wall", "height", "u_value holds", _given_u),
    Idle("wall", "outside_film", "it belongs to sun on a wall with u_value", _no_given_sun),
    Idle("enclosure", "up", "a plan has no heights", lambda case, body: body.view == "plan"),
    Idle("limits", "noise_field", "without noise_dBA no limit depends on it",
         lambda case, limits: not given(limits.noise_dBA)),
    Idle("limits", "room_constant", "without noise_dBA no limit depends on it",
         lambda case, limits: not given(limits.noise_dBA)),
    Idle("limits", "duty", "lives count as those of continuous running without running_share",
         lambda case, limits: limits.duty == "intermittent" and not given(limits.running_share)),
    Idle("limits", "running_share", 'it belongs to duty = "intermittent"',
         lambda case, limits: limits.duty != "intermittent"),
    Idle("part", "power_basis", "there is no power", lambda case, part: not given(part.power)),
    Idle("fan", "speed", "speed_control takes its place", _followed),
    Idle("fan_type", "blades", "the blade-pass tone needs rated_speed",
         lambda case, row: not given(row.rated_speed)),
    Idle("fan_type", "noise", "it says what noise_dBA is, and there is none",
         lambda case, row: not given(row.noise_dBA)),
)  # fmt: skip


@rule(
    name="key-without-effect",
    severity="note",
    title="a key has no effect where it stands",
    cause="The key is valid, but what it belongs to is not there, or another key takes its place.",
    try_="Take it out, or add what it needs.",
    thresholds="; ".join(f"{idle.kind}.{idle.key}: {idle.why}" for idle in IDLE),
    source="the equations: these values are not read there",
)
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
            yield say(
                f"{idling[0]}.{idle.key}", "{key} of {names} has no effect here: {why}",
                names=(None, listed(idling)), key=(None, idle.key), why=(None, idle.why),
            )  # fmt: skip


def is_stated(item: Any, key: str) -> bool:
    """Whether a thing gives a key, as far as can be seen: listed as given, or not the default."""
    if key in (item.given or ()):
        return True
    value, default = getattr(item, attribute(key)), keys(KINDS[item.KIND])[key].default
    if default is dataclasses.MISSING or not given(default):
        return given(value)
    return bool(value != default)
