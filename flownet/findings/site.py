"""The air of the site: thin air, and water that condenses."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any, NamedTuple

from flownet.findings.facts import (
    STANDARD_DENSITY,
    column,
    inflow,
    percent,
    streams,
    temperature_at,
)
from flownet.findings.registry import OUR_OWN, Said, rule, say
from flownet.physics import air
from flownet.results.solution import Solution
from flownet.schema import quantities as q
from flownet.schema.fields import given

HIGH = 500.0  # m above sea level


def is_high(solution: Solution) -> bool:
    """Whether the air pressure is that of a place above 500 m."""
    return bool(solution.site["pressure"] < air.site_pressure(HIGH))


@rule(
    name="thin-air",
    severity="note",
    title="thin air carries less heat",
    cause="At constant speed a fan moves nearly the same volume of thin air, because fan pressure "
    "and turbulent losses fall together with the density. Mass flow, and with it the heat a "
    "kelvin carries away, falls too.",
    try_="Judge the temperatures, not the volume flow. The density is counted in fans, drops, heat "
    "carried and resistances over velocity: take no further altitude factor into them. It is not "
    "counted in a fixed resistance (see resistance-at-sea-level) or a given U of a wall.",
    thresholds="site pressure below that of {high}",
    source="US Standard Atmosphere 1976; fan laws, ISO 5801",
    numbers={"high": (q.ALTITUDE, HIGH)},
)
def thin_air(solution: Solution) -> Iterator[Said]:
    """One note where the site is high."""
    if is_high(solution):
        ratio = solution.site["pressure"] / air.SEA_LEVEL_PRESSURE
        yield say(
            "outside", "at {pressure} air weighs {share} of its sea-level value: the same volume "
            "flow carries that share of the heat, or warms {times} times as much",
            pressure=(q.SITE_PRESSURE, solution.site["pressure"]), share=percent(ratio),
            times=(q.RATIO, 1 / ratio),
        )  # fmt: skip


class Damp(NamedTuple):
    """Surroundings that carry water."""

    place: str
    dew_point: float


@rule(
    name="condensation",
    severity="warning",
    title="water can condense",
    cause="A place is colder than the dew point of the outside air that gets there; water settles "
    "on what is as cold as that.",
    try_="Keep the inside above the dew point, by common practice about 5 K above the outside air: "
    "a heater, fans off while it is cold, insulation on the cold side.",
    thresholds="air of a compartment, a duct wall, or the far side of a wall below the dew point "
    "of any surroundings with humidity given; nothing is tested without relative_humidity or "
    "dew_point",
    source="Magnus formula, WMO-No. 8, annex 4.B; which surfaces are wet first: "
    f"{OUR_OWN}, on the safe side",
)
def condensation(solution: Solution) -> Iterator[Said]:
    """Everything colder than the dampest surroundings' dew point."""
    damp = _dampest(solution)
    if damp is None:
        return
    shown: dict[str, Any] = {"dew": (q.TEMPERATURE, damp.dew_point), "place": (None, damp.place)}
    moving = streams(solution)
    for name, cold in column(solution.compartments, "temperature").items():
        if cold < damp.dew_point:
            heat = inflow(moving, name) * air.HEAT_CAPACITY * (damp.dew_point - cold)
            hint = "At this flow it takes {heat}, and what walls lose, to reach the dew point."
            yield say(
                f"compartment.{name}",
                "{subject} is at {cold}, below the dew point {dew} of {place}",
                hint if heat > 0 else "", cold=(q.TEMPERATURE, cold), heat=(q.POWER, heat), **shown,
            )  # fmt: skip
    for path, cold in _cold_faces(solution):
        if cold < damp.dew_point:
            yield say(
                path, "{subject} meets {cold}, below the dew point {dew} of {place}: its face may "
                "get wet", cold=(q.TEMPERATURE, cold), **shown,
            )  # fmt: skip


def _dampest(solution: Solution) -> Damp | None:
    """The surroundings with the highest dew point among those that state their humidity."""
    found = []
    for name, place in solution.case.things["outside"].items():
        dew = place.dew_point
        if given(place.relative_humidity):
            dew = float(air.dew_point(place.temperature, place.relative_humidity))
        if given(dew):
            found.append(Damp(f"outside.{name}" if name else "the outside air", dew))
    return max(found, key=lambda damp: damp.dew_point, default=None)


def _cold_faces(solution: Solution) -> Iterator[tuple[str, float]]:
    """Duct walls and the far sides of walls, with their temperature."""
    case = solution.case
    for duct in case.things["duct"].values():
        if given(duct.wall_temperature) and duct.state != "blanked":
            yield duct.path, float(duct.wall_temperature)
    for wall in case.walls.values():
        yield wall.path, temperature_at(solution, wall.to)


def density_ratio(solution: Solution) -> float:
    """Site density over 1.2 kg/m3; NaN without one."""
    return float(solution.site.get("density", math.nan)) / STANDARD_DENSITY
