"""The air of the site: thin air, and water that condenses."""

from __future__ import annotations

import math
from collections.abc import Iterator

from flownet.findings.facts import number_at
from flownet.findings.rule import Said, rule, say
from flownet.physics import air
from flownet.results.dew import coldest_first
from flownet.results.solution import Solution
from flownet.results.streams import inflow, streams
from flownet.schema.fields import given


def is_high(solution: Solution) -> bool:
    """Whether the air pressure is that of a place so high that its air is thin."""
    return bool(solution.site["pressure"] < air.site_pressure(thin_air["high"]))


@rule
def thin_air(solution: Solution) -> Iterator[Said]:
    """One note where the site is high."""
    if is_high(solution):
        pressure = solution.site["pressure"]
        ratio = pressure / air.SEA_LEVEL_PRESSURE
        suns = (wall.sun for wall in solution.case.walls.values() if wall.sun is not None)
        clear = any(not given(sun.irradiance) for sun in suns)
        low = clear and not given(solution.case.outside.clearness)
        yield say("outside", "says", low and "sun", pressure=pressure, share=ratio, times=1 / ratio)


@rule
def condensation(solution: Solution) -> Iterator[Said]:
    """Everything colder than the dampest surroundings' dew point."""
    place, dew = _dampest(solution)
    if not given(dew):
        return
    moving = streams(solution)
    for path, cold in coldest_first(solution).items():
        kind, _, name = path.partition(".")
        if cold >= dew:
            break
        if kind == "compartment":
            heat = inflow(moving, name) * air.HEAT_CAPACITY * (dew - cold)
            yield say(path, "is", "below", hint=heat > 0 and "heat", cold=cold, heat=heat, dew=dew,
                      place=place)  # fmt: skip
        else:
            inner = kind == "wall" and given(number_at(solution.walls, name, "inside_temperature"))
            yield say(path, "face" if inner else "meets", "below", "wet", cold=cold, dew=dew,
                      place=place)  # fmt: skip


def _dampest(solution: Solution) -> tuple[str, float]:
    """The surroundings with the highest dew point [K], of those that state it; NaN without any."""
    found = []
    for name, place in solution.case.things["outside"].items():
        dew = place.dew_point
        if given(place.relative_humidity):
            dew = float(air.dew_point(place.temperature, place.relative_humidity))
        if given(dew):
            found.append((f"outside.{name}" if name else "the outside air", dew))
    return max(found, key=lambda damp: damp[1], default=("", math.nan))
