"""Hand-made solutions: the numbers are chosen to be printed and belong to no real cabinet."""

from __future__ import annotations

import dataclasses
import math
from typing import Any

from flownet.enclosure.branches import Filter, Slot, Vent
from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.fans import Fan, FanType
from flownet.enclosure.heat import Part, Wall
from flownet.enclosure.surroundings import Compartment, Outside, Supply
from flownet.results import tables as s
from flownet.results.limits import Limit
from flownet.results.solution import Solution
from flownet.schema import quantities as q
from flownet.solving.attempt import JUDGE
from tests.pictures.sample import KELVIN as ZERO
from tests.pictures.sample import table


def cabinet(fans: int = 2) -> Enclosure:
    """Two compartments, a filter below, fans above."""
    curve = {"flow": "0 60 110 170 m3/h", "rise": "78 52 44 0 Pa"}
    return Enclosure.of(
        Outside(temperature="50 degC", altitude="900 m"),
        Supply(name="mains", voltage="230 V", frequency="50 Hz"),
        Compartment(name="lower", air_limit="55 degC"),
        Compartment(name="upper"),
        Filter(
            name="intake", from_="outside", to="lower", area="450 cm2",
            velocity_drop={"velocity": "0.5 1 m/s", "drop": "18 42 Pa"},
        ),
        Vent(name="side", from_="upper", to="outside", area="200 cm2", loss=2.5),
        Vent(name="mesh", on="filter.intake", area="450 cm2", loss=1.0),
        Slot(name="card", from_="lower", to="upper", area="100 cm2", loss=6.0, power="20 W"),
        FanType(
            name="axial", curve=curve, rated_speed="2800 rpm", flow_area="95 cm2", power="19 W"
        ),
        *(
            Fan(name=f"f{i}", from_="upper", to="outside", type="axial", supply="mains")
            for i in range(1, fans + 1)
        ),
        Wall(name="door", from_="upper", to="outside", area="1.4 m2", u_value="5.5 W/(m2 K)"),
        Part(name="rectifier", in_="upper", power="180 W", limit="110 degC", resistance="0.3 K/W"),
        Part(name="controller", in_="upper", power="8 W", limit="60 degC", resistance="1 K/W"),
        title="Packing-line drive cabinet",
    )  # fmt: skip


def part_limit(name: str, value: float, bound: float) -> Limit:
    """A limit of a part, from temperatures in degC."""
    return Limit(
        "part", f"part.{name}", value + ZERO, bound + ZERO, bound - value, q.TEMPERATURE,
        q.DIFFERENCE,
    )  # fmt: skip


def solved(fans: int = 2, **changed: Any) -> Solution:
    """A solution of `cabinet`; `changed` replaces its fields."""
    case = cabinet(fans)
    flow = {"state": "open", "heat": 0.0, "density": 0.981, "reynolds": 9000.0}
    branches = {
        "vent.side": flow | {"volume_flow": -36 / 3600, "drop": -4.0},
        "vent.mesh": flow | {"volume_flow": 118 / 3600, "drop": 2.0},
        "filter.intake": flow | {"state": "fitted", "volume_flow": 118 / 3600, "drop": 31.0},
        "slot.card": flow | {
            "state": "empty", "volume_flow": 118 / 3600, "drop": 9.0, "heat": 20.0,
            "outlet_temperature": 61.2 + ZERO,
        },
    }  # fmt: skip
    fan_rows = {}
    for index, path in enumerate(f"fan.{name}" for name in case.fans):
        branches[path] = flow | {"state": "running", "volume_flow": 79 / 3600}
        fan_rows[path] = {
            "rise": 36.0, "region": "normal" if index else "backflow", "speed_ratio": 1.0,
            "air_temperature": 56.4 + ZERO, "power": 16.0, "noise": 44.0, "noise_share": 1 / fans,
            "life": 25700.0, "life_kind": "L10",
        }  # fmt: skip
    parts = {
        "rectifier": {"heat": 180.0, "temperature": 104.0 + ZERO, "limit": 110.0 + ZERO},
        "controller": {"heat": 8.0, "temperature": 61.5 + ZERO, "limit": 60.0 + ZERO},
    }
    compartments = {
        "lower": {"temperature": 50.2 + ZERO, "limit": 55.0 + ZERO, "margin": 4.8},
        "upper": {"temperature": 56.4 + ZERO},
    }
    lower = Limit(
        "air", "compartment.lower", 50.2 + ZERO, 55.0 + ZERO, 4.8, q.TEMPERATURE, q.DIFFERENCE
    )
    noise = Limit("noise", "total.noise", 49.8, 55.0, 5.2, q.LEVEL, q.LEVEL_DIFFERENCE)
    life = Limit("life", "fan.f1", 25700.0, 40000.0, -14300.0, q.HOURS, q.HOURS)
    made = Solution(
        judge=JUDGE,
        compartments=table(s.COMPARTMENT, compartments),
        branches=table(s.BRANCH, branches),
        fans=table(s.FAN, fan_rows),
        parts=table(s.PART, parts),
        stations=table(s.STATION, {}),
        walls=table(s.WALL, {"door": {"heat": 31.0}}),
        exchanges=table(s.HEAT, {}),
        site={"pressure": 91e3, "temperature": 50 + ZERO, "density": 0.981,
              "dew_point": math.nan},
        totals_={
            "heat": 376.0, "wall_heat": 31.0, "volume_flow": 154 / 3600, "mass_flow": 0.042,
            "air_rise": 8.2, "fan_power": 32.0, "noise": 49.8, "noise_distance": 1.0,
            "worst_margin": -1.5, "first_failure": 20000.0, "dew_margin": math.nan,
        },
        balance_={
            "mass_residual": 2e-12, "pressure_residual": 5e-11, "energy_residual": 3e-9,
            "temperature_step": 1e-6, "flow_step": 1e-9, "iterations": 7, "stable": True,
        },
        limits=(
            part_limit("rectifier", 104.0, 110.0), lower, noise, life,
            part_limit("controller", 61.5, 60.0),
        ),
        case=case,
    )  # fmt: skip
    return dataclasses.replace(made, **changed)
