"""The air of the site: thin air, and water that condenses."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from flownet.findings.facts import column, streams, temperature_at
from flownet.findings.rule import Said, rule, say
from flownet.physics import air
from flownet.results.solution import Solution
from flownet.results.streams import inflow
from flownet.schema.component import given


def is_high(solution: Solution) -> bool:
    """Whether the air pressure is that of a place so high that its air is thin."""
    return bool(solution.site["pressure"] < air.site_pressure(thin_air["high"]))


@rule
def thin_air(solution: Solution) -> Iterator[Said]:
    """One note where the site is high."""
    if is_high(solution):
        pressure = solution.site["pressure"]
        ratio = pressure / air.SEA_LEVEL_PRESSURE
        yield say("outside", pressure=pressure, share=ratio, times=1 / ratio)


class Damp(NamedTuple):
    """Surroundings that carry water."""

    place: str
    dew_point: float


@rule
def condensation(solution: Solution) -> Iterator[Said]:
    """Everything colder than the dampest surroundings' dew point."""
    damp = _dampest(solution)
    if damp is None:
        return
    moving = streams(solution)
    for name, cold in column(solution.compartments, "temperature").items():
        if cold < damp.dew_point:
            heat = inflow(moving, name) * air.HEAT_CAPACITY * (damp.dew_point - cold)
            yield say(f"compartment.{name}", "is", "below", hint=heat > 0 and "heat", cold=cold,
                      heat=heat, dew=damp.dew_point, place=damp.place)  # fmt: skip
    for path, cold in _cold_faces(solution):
        if cold < damp.dew_point:
            yield say(path, "meets", "below", "wet", cold=cold, dew=damp.dew_point,
                      place=damp.place)  # fmt: skip


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
