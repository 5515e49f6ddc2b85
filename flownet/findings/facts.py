"""What several rules ask of a solution.

A number that is missing is NaN; comparisons with it are false, so that a rule keeps silent.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from typing import Any, NamedTuple

import numpy as np

from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.fans import Fan, FanType
from flownet.enclosure.scenarios import expand
from flownet.physics import air
from flownet.results.batch import remembered
from flownet.results.solution import Solution
from flownet.results.streams import is_outside, outside_name
from flownet.results.tables import AT_REST, Table
from flownet.schema.fields import given
from flownet.solver import network


class Working(NamedTuple):
    """A fan that is not blanked, with its data as scaled to its speed and air."""

    path: str
    item: Fan
    rating: FanType
    speed: float  # ratio to rated speed
    density: float  # of the air on the side it is mounted to draw from [kg/m3]
    flow: float  # volume flow the way it blows [m3/s]
    rise: float  # pressure rise the way it blows [Pa]
    region: str | None

    @property
    def source(self) -> str:
        """The place it is mounted to draw from."""
        return self.item.to if self.item.mounted == "reversed" else self.item.from_

    @property
    def target(self) -> str:
        """The place it is mounted to blow to."""
        return self.item.from_ if self.item.mounted == "reversed" else self.item.to

    @property
    def head(self) -> float:
        """Velocity pressure of its flow on its flow area [Pa]."""
        velocity = self.flow / self.rating.flow_area
        return self.density * velocity * velocity / 2

    @property
    def last_flow(self) -> float:
        """Flow at the last point of its curve, at its speed [m3/s]."""
        return self.at_speed(self.rating.curve[-1][0])

    @property
    def shut_off(self) -> float:
        """Pressure rise at zero flow, at its speed and density [Pa]."""
        thinner = self.density / reference_density(self.rating)
        return self.item.pressure_factor * thinner * self.speed**2 * self.rating.curve[0][1]

    def at_speed(self, flow: float) -> float:
        """A flow of its curve at the speed it turns."""
        return flow * self.speed * self.item.flow_factor


# --- numbers and words --------------------------------------------------------------------------


def number_at(table: Table, name: str, field: str) -> float:
    """A number of a table; NaN where the row is not there or the value is missing."""
    return float(getattr(table[name], field)) if name in table else math.nan


def word_at(table: Table, name: str, field: str) -> str | None:
    """A word of a table; None where there is none."""
    return getattr(table[name], field) if name in table else None


def area_across(case: Enclosure, item: Any) -> float:
    """Of the air in a branch, of all channels of a slot [m2]; NaN of a leak."""
    if item.KIND == "slot":
        return float(item.count * (item.area if given(item.area) else item.gap * item.width))
    if item.KIND == "duct" and item.section is None:
        return math.pi / 4 * float(item.diameter) ** 2
    if item.KIND == "duct":
        return float(item.section[0] * item.section[1])
    if item.KIND == "fan":
        return float(case.rating(item).flow_area)
    return float(getattr(item, "cross_section" if item.KIND == "baffle" else "area", math.nan))


# --- the case -----------------------------------------------------------------------------------


def groups(places: Iterable[str], links: Iterable[tuple[str, str]]) -> list[list[str]]:
    """Places that links join, together; links to other places count for nothing."""
    at = {place: number for number, place in enumerate(places)}
    inner = [(at[a], at[b]) for a, b in links if a in at and b in at]
    start, end = np.array(inner, int).reshape(-1, 2).T
    found: dict[int, list[str]] = {}
    for place, first in zip(at, network.groups(len(at), start, end).tolist(), strict=True):
        found.setdefault(first, []).append(place)
    return list(found.values())


def types_in_use(case: Enclosure) -> dict[str, FanType]:
    """Data of every fan that is not blanked, by path: `fan_type.axial`."""
    rated = [case.rating(fan) for fan in case.fans.values() if fan.state != "blanked"]
    return {row.path: row for row in rated}


def reference_density(rating: FanType) -> float:
    """Density of a curve's air; 1.2 kg/m3 where none is stated."""
    stated = rating.reference_density
    return stated if given(stated) else air.STANDARD_DENSITY


def must_hold(solution: Solution) -> bool:
    """Whether `limits.scenarios` asks for the limits in this scenario; true without such a list."""
    case, named = solution.case, solution.case.limits.scenarios
    here = "+".join(names_of(solution.scenario))
    return not named or any(here in expanded(case, "+".join(names_of(each))) for each in named)


def names_of(scenario: str) -> list[str]:
    """The scenarios that one joins by `+`."""
    return [name.strip() for name in scenario.split("+")]


def expanded(case: Enclosure, entry: str) -> list[str]:
    """What an entry of `limits.scenarios` stands for; fans that are out now run in others of it."""
    if "each-" not in entry or not case.fans:
        return [entry]
    return expand(case.with_changes({"fan.*.state": "running"}), entry)


# --- the solution -------------------------------------------------------------------------------


def temperature_at(solution: Solution, place: str) -> float:
    """Temperature of the air of a compartment or surroundings [K]; NaN if unknown."""
    if not is_outside(place):
        return number_at(solution.compartments, place, "temperature")
    return float(solution.case.things["outside"][outside_name(place)].temperature)


@remembered
def working_fans(solution: Solution) -> tuple[Working, ...]:
    """Every fan that is not blanked."""
    return tuple(_working(solution))


def _working(solution: Solution) -> Iterator[Working]:
    case, pressure = solution.case, solution.site["pressure"]
    for fan in case.fans.values():
        if fan.state == "blanked":
            continue
        rating, back = case.rating(fan), fan.mounted == "reversed"
        warm = temperature_at(solution, fan.to if back else fan.from_)
        flow = number_at(solution.branches, fan.path, "volume_flow")
        yield Working(
            fan.path, fan, rating, _speed(solution, fan, rating),
            float(air.density(warm, pressure)), -flow if back else flow,
            number_at(solution.fans, fan.path, "rise"), word_at(solution.fans, fan.path, "region"),
        )  # fmt: skip


def running_fans(solution: Solution) -> list[Working]:
    """Fans whose motor turns; one whose speed follows a temperature may stand."""
    return [fan for fan in working_fans(solution) if fan.region not in AT_REST]


def _speed(solution: Solution, fan: Fan, rating: FanType) -> float:
    """Speed ratio of the result; what the case says where the result has none."""
    found = number_at(solution.fans, fan.path, "speed_ratio")
    if given(found):
        return found
    if not fan.running:
        return 0.0
    turned = fan.rotation / rating.rated_speed
    return turned if given(turned) else (fan.speed if given(fan.speed) else 1.0)


def with_air_limit(case: Enclosure) -> list[Any]:
    """What can have an `air_limit`: compartments and slots."""
    return [*case.compartments.values(), *case.things["slot"].values()]


def coldest_outside(case: Enclosure) -> float:
    """Lowest temperature of all surroundings [K]."""
    named: Mapping[str, Any] = case.things["outside"]
    return min(float(place.temperature) for place in named.values())
