"""Solutions made by hand: invented data, numbers that a cabinet could have."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

import numpy as np

import flownet.findings  # noqa: F401 - its rules are what a solution is asked for
from flownet.enclosure.branches import Baffle, Filter
from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.fans import Fan, FanType
from flownet.enclosure.heat import Part, Wall
from flownet.enclosure.surroundings import Body, Compartment, Limits, Outside, Supply
from flownet.results import tables as s
from flownet.results.finding import Finding
from flownet.results.limits import Limit
from flownet.results.solution import Solution
from flownet.results.tables import Field, Table
from flownet.schema import quantities as q
from flownet.schema.component import Thing
from flownet.solving.attempt import JUDGE

ZERO = 273.15
GAS = 287.05  # J/(kg K), dry air
CP = 1006.0  # J/(kg K)
SEA_LEVEL = 101325.0  # Pa
CURVE = {"flow": "0 40 80 120 160 m3/h", "rise": "70 62 50 30 0 Pa"}
HUMP = {"flow": "0 35 50 80 110 m3/h", "rise": "60 42 46 30 0 Pa"}  # dips at 35, peaks at 50 m3/h


def axial(name: str = "axial", **changed: Any) -> FanType:
    """A fan type with everything a data sheet should say."""
    given: dict[str, Any] = {
        "curve": CURVE, "reference_density": "1.2 kg/m3", "rated_speed": "2700 rpm",
        "frame": "119 x 38 mm", "flow_area": "95 cm2", "supply": "230 V 50 Hz", "power": "18 W",
        "noise_dBA": 44, "life": {"hours": 50000, "at": "40 degC", "factor_per_10K": 1.5},
    }  # fmt: skip
    return FanType(name=name, **{**given, **changed})


def things(**changed: Thing | None) -> dict[str, Thing]:
    """A cabinet without a fault by short names; `name=None` leaves one out, others come on top."""
    sound: dict[str, Thing] = {
        "body": Body(size="800 x 1800 x 400 mm"),
        "outside": Outside(temperature="25 degC"),
        "supply": Supply(name="mains", voltage="230 V", frequency="50 Hz"),
        "lower": Compartment(name="lower", outline="0 0 800 900 mm", air_limit="50 degC"),
        "upper": Compartment(name="upper", outline="0 900 800 900 mm", air_limit="50 degC"),
        "intake": Filter(
            name="intake", from_="outside", to="lower", area="450 cm2", at="0 150 mm",
            velocity_drop={"velocity": "0.5 1 2 m/s", "drop": "18 42 108 Pa"},
        ),
        "shelf": Baffle(
            name="shelf", from_="lower", to="upper", open_area="200 cm2", cross_section="0.32 m2"
        ),
        "type": axial(),
        "roof": Fan(
            name="roof", from_="upper", to="outside", type="axial", supply="mains",
            at="400 1800 mm", direction="up",
        ),
        "drive": Part(
            name="drive", in_="upper", power="180 W", limit="90 degC", resistance="0.2 K/W"
        ),
        "limits": Limits(scenarios=["base", "dirty"]),
    }  # fmt: skip
    made = {**sound, **changed}
    return {name: thing for name, thing in made.items() if thing is not None}


DIRTY = {"dirty": {"filter.*.fouling": 2.0}}
STANDING = {"blanked": "blanked"}  # region of a fan by its state; else it is stopped
FLOWS = {"filter.intake": 0.03, "baffle.shelf": 0.03, "fan.roof": 0.03}
WARM = {"lower": 25.0, "upper": 31.6}


def rows(fields: tuple[Field, ...], values: Mapping[str, Mapping[str, Any]]) -> Table:
    """A table of results from its rows; what is left out is missing."""

    def column(field: Field) -> Any:
        missing = -1 if field.words else math.nan
        found = [row.get(field.name, missing) for row in values.values()]
        if field.words:
            return np.array([field.words.index(v) if isinstance(v, str) else v for v in found], int)
        return np.array(found, float)

    return Table(fields, tuple(values), {f.name: column(f) for f in fields})


def solved(
    made: Mapping[str, Thing] | None = None,
    *,
    flows: Mapping[str, float] = FLOWS,
    warm: Mapping[str, float] = WARM,
    gauge: Mapping[str, float] | None = None,
    branches: Mapping[str, Mapping[str, Any]] | None = None,
    fans: Mapping[str, Mapping[str, Any]] | None = None,
    parts: Mapping[str, Mapping[str, Any]] | None = None,
    walls: Mapping[str, Mapping[str, Any]] | None = None,
    limits: tuple[Limit, ...] = (),
    scenario: str = "base",
    scenarios: Mapping[str, Mapping[str, Any]] | None = None,
    points: int | None = None,
    **totals: float,
) -> Solution:
    """A solution of these things with the numbers given.

    `flows` are mass flows [kg/s]; temperatures are in degC; the rest is SI and fills or overrides
    the rows of the tables by path.
    """
    scenarios = DIRTY if scenarios is None else scenarios
    items = things() if made is None else made
    case = Enclosure.of(*items.values(), title="invented", scenarios=scenarios).under(scenario)
    outside = case.outside.temperature
    pressure = site_pressure(case)
    return Solution(
        judge=JUDGE,
        compartments=rows(s.COMPARTMENT, {
            name: {
                "temperature": warm.get(name, math.nan) + ZERO,
                "mean_temperature": warm.get(name, math.nan) + ZERO,
                "pressure": (gauge or {}).get(name, -5.0),
            }
            for name in case.compartments
        }),
        branches=rows(s.BRANCH, _branches(case, pressure, flows, warm, branches or {})),
        fans=rows(s.FAN, _fans(case, warm, fans or {})),
        parts=rows(s.PART, {
            name: {"heat": part.power, **_part_row(part, warm), **(parts or {}).get(name, {})}
            for name, part in case.parts.items()
        }),
        stations=rows(s.STATION, {}),
        walls=rows(s.WALL, {
            name: {"heat": 20.0, **(walls or {}).get(name, {})} for name in case.walls
        }),
        exchanges=rows(s.HEAT, {name: {"heat": 5.0} for name in case.things["exchange"]}),
        site={"pressure": pressure, "temperature": outside, "density": pressure / (GAS * outside),
              "dew_point": case.outside.dew_point},
        totals_={
            "heat": 198.0, "wall_heat": 0.0, "volume_flow": 0.0253, "mass_flow": 0.03,
            "air_rise": 6.6, "fan_power": 18.0, "noise": 44.0, "noise_distance": 1.0,
            "worst_margin": 10.0, "first_failure": 60000.0, "dew_margin": math.nan, **totals,
        },
        balance_={
            "mass_residual": 1e-12, "pressure_residual": 1e-11, "energy_residual": 1e-9,
            "temperature_step": 1e-8, "flow_step": 1e-9, "iterations": 7, "stable": True,
        },
        limits=limits,
        case=case,
        points=points,
    )  # fmt: skip


def site_pressure(case: Enclosure) -> float:
    """That given, or of a few altitudes of the US Standard Atmosphere 1976, table I."""
    if case.outside.pressure == case.outside.pressure:
        return case.outside.pressure
    known = {1000.0: 89876.0, 2000.0: 79501.0, 3000.0: 70121.0}
    return known.get(case.outside.altitude, SEA_LEVEL)


def _branches(
    case: Enclosure, pressure: float, flows: Mapping[str, float], warm: Mapping[str, float],
    given: Mapping[str, Mapping[str, Any]],
) -> dict[str, dict[str, Any]]:  # fmt: skip
    found = {}
    for path, item in case.branches.items():
        host = case.branches[getattr(item, "on", None) or path]
        flow = flows.get(getattr(item, "on", None) or path, math.nan)
        source = host.from_ if flow >= 0 else host.to
        upstream = warm.get(str(source), case.outside.temperature - ZERO) + ZERO
        density = pressure / (GAS * upstream)
        found[path] = {
            "state": getattr(item, "state", "open"), "mass_flow": flow,
            "volume_flow": flow / density, "velocity": 1.0, "drop": math.copysign(10.0, flow),
            "heat": 0.0, "density": density, "reynolds": 5000.0, "outlet_temperature": upstream,
            **given.get(path, {}),
        }  # fmt: skip
    return found


def _fans(
    case: Enclosure, warm: Mapping[str, float], given: Mapping[str, Mapping[str, Any]]
) -> dict[str, dict[str, Any]]:
    usual = {"rise": 40.0, "speed_ratio": 1.0, "power": 18.0, "noise": 44.0, "life_kind": "L10"}
    return {
        f"fan.{name}": {
            **usual, "region": "normal" if fan.running else STANDING.get(fan.state, "stopped"),
            "air_temperature": warm.get(str(fan.from_), case.outside.temperature - ZERO) + ZERO,
            "life": 60000.0, **given.get(f"fan.{name}", {}),
        }
        for name, fan in case.fans.items()
    }  # fmt: skip


def _part_row(part: Part, warm: Mapping[str, float]) -> dict[str, float]:
    air = warm.get(part.in_, 30.0) + ZERO
    resistance = part.resistance if part.resistance == part.resistance else 0.0
    power = part.power if part.power == part.power else 0.0
    return {"heat": power, "air_temperature": air, "temperature": air + power * resistance}


def part_limit(name: str, value: float, bound: float) -> Limit:
    """A limit of a part, from temperatures in degC."""
    return Limit(
        "part", f"part.{name}", value + ZERO, bound + ZERO, bound - value, q.TEMPERATURE,
        q.DIFFERENCE,
    )  # fmt: skip


def air_limit(name: str, value: float, bound: float) -> Limit:
    """A limit of a compartment's air, from temperatures in degC."""
    return part_limit(name, value, bound)._replace(limit="air", subject=f"compartment.{name}")


def noise_limit(value: float, bound: float) -> Limit:
    """A limit of the noise of all fans."""
    return Limit("noise", "total.noise", value, bound, bound - value, q.LEVEL, q.LEVEL_DIFFERENCE)


def touch_limit(name: str, value: float, bound: float) -> Limit:
    """A limit of a wall's outer face, in degC."""
    value, bound = value + ZERO, bound + ZERO
    return Limit("touch", f"wall.{name}", value, bound, bound - value, q.TEMPERATURE, q.DIFFERENCE)


def dew_limit(value: float, bound: float) -> Limit:
    """A limit of what is left to the dew point."""
    return Limit("dew", "total.dew_margin", value, bound, value - bound, q.DIFFERENCE, q.DIFFERENCE)


def flow_limit(value: float, bound: float) -> Limit:
    """A limit of the air drawn in."""
    return Limit("flow", "total.volume_flow", value, bound, value - bound, q.VOLUME_FLOW,
                 q.VOLUME_FLOW)  # fmt: skip


def life_limit(name: str, value: float, bound: float) -> Limit:
    """A limit of a fan's life."""
    return Limit("life", f"fan.{name}", value, bound, value - bound, q.HOURS, q.HOURS)


def about(solution: Solution, rule: str) -> list[Finding]:
    """The findings of one rule."""
    return [found for found in solution.findings if found.rule == rule]


def numbers(solution: Solution, rule: str) -> dict[str, Any]:
    """The values of the only finding of a rule, without their quantities."""
    (found,) = about(solution, rule)
    return {name: value for name, (_, value) in found.values.items()}


def panel(**changed: Any) -> Wall:
    """A wall of the upper compartment."""
    return Wall(**{"name": "door", "from_": "upper", "to": "outside", "area": "1 m2",
                   "u_value": "5.5 W/(m2 K)", **changed})  # fmt: skip
