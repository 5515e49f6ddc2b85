"""Worked examples of others as whole cases: from what a user writes to what a solve answers."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from flownet.enclosure.branches import Duct, Opening, Slot, Vent
from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.fans import Fan, FanType
from flownet.enclosure.heat import Part
from flownet.enclosure.surroundings import Compartment, Outside
from flownet.results.solution import Solution
from flownet.schema.component import Thing
from flownet.solving.solve import solve
from tests.published import Row, rows

GRAVITY = 9.80665
FOOT, INCH = 0.3048, 0.0254
CFM = FOOT**3 / 60


def site(density: float, temperature: float = 293.15) -> Outside:
    """Surroundings whose air has a source's density: ideal gas."""
    return Outside(temperature=temperature, pressure=density * 287.05 * temperature)


# --- parts ---------------------------------------------------------------------------------------


def on_air(degrees: float, **part: Any) -> Solution:
    """A part in a compartment through which so much air is blown that it keeps its temperature."""
    air = Outside(temperature=273.15 + degrees)
    steady = FanType(name="large", curve=((0.0, 100.0), (50.0, 0.0)), flow_area=4.0,
                     origin="invented")  # fmt: skip
    return solve(Enclosure.of(
        air, steady, Compartment(name="room"), Part(name="p", in_="room", **part),
        Fan(name="in", from_="outside", to="room", type="large"),
        Opening(name="out", from_="room", to="outside", area=40.0),
    ))  # fmt: skip


def power_at(row: Row, stations: Any, hottest: float) -> float:
    """Heat at which the first station is as warm as asked for: its rise is in proportion."""
    one = on_air(row.given["air"], power=1.0, chain=stations).parts["p"]
    return (hottest - row.given["air"]) / float(one.temperature - one.air_temperature)


@pytest.mark.parametrize("row", rows("parts", "J1", "J2", "J3", "J5"), ids=str)
def test_heat_through_a_chain_of_resistances(row):
    """What a junction may give, alone or mounted; what its stations then are at."""
    g = row.given
    hottest = g.get("junction", g.get("case"))
    for how in ("alone", "mounted"):
        if how not in g:
            continue
        power = power_at(row, g[how], hottest)
        row.check(**{f"power_{how}": power})
        found = on_air(g["air"], power=power, chain=g[how])
        stations = [found[f"part.p.{name}.temperature"] - 273.15 for name, _ in g[how]]
        if "case" in row.expected:
            row.check(case=stations[1])
        if "jump" in row.expected:
            row.check(jump=stations[0] - stations[1])


@pytest.mark.parametrize("row", rows("parts", "J3s"), ids=str)
def test_the_sink_that_a_regulator_needs(row):
    """A part that sits on a sink: the sink's resistance at which the junction is at its limit."""
    g = row.given
    chain = (("junction", g["junction_to_case"]), ("case", g["case_to_sink"]))
    air = Outside(temperature=273.15 + g["air"])

    def junction(sink: float) -> float:
        return solve(Enclosure.of(
            air, Compartment(name="room"), Part(name="sink", in_="room", resistance=sink),
            Part(name="p", in_="part.sink", power=g["power"], chain=chain),
            FanType(name="large", curve=((0.0, 100.0), (50.0, 0.0)), flow_area=4.0,
                    origin="invented"),
            Fan(name="in", from_="outside", to="room", type="large"),
            Opening(name="out", from_="room", to="outside", area=40.0),
        ))["part.p.temperature"] - 273.15  # fmt: skip

    cold, warm = junction(1.0), junction(2.0)
    row.check(sink=1.0 + (g["junction"] - cold) / (warm - cold))


@pytest.mark.parametrize("row", rows("parts", "K5", "K5r"), ids=str)
def test_air_that_leaves_a_hollow_board(row):
    """A slot with heat; a fan that is steep enough holds the flow to a tenth of a percent."""
    g = row.given
    steep = FanType(name="steep", curve=((0.0, 4e3), (2 * g["flow"], 0.0)), flow_area=0.01,
                    reference_density=g["density"], origin="invented")  # fmt: skip
    items: list[Thing] = [
        site(g["density"], 273.15 + g["inlet"]), steep, Compartment(name="box"),
        Slot(name="board", from_="box", to="outside", power=g["power"],
             **{key: g[key] for key in ("gap", "width", "length")}),
        Fan(name="f", from_="outside", to="box", type="steep"),
    ]  # fmt: skip
    case = Enclosure.of(*items)
    for _ in range(3):
        ratio = solve(case).volume_flow("fan.f") / g["flow"]
        case = case.with_changes({"fan.f.flow_factor": case["fan.f.flow_factor"] / ratio})
    found = solve(case)
    assert found.volume_flow("fan.f") == pytest.approx(g["flow"], rel=1e-4)
    row.check(outlet=found["slot.board.outlet_temperature"] - 273.15)


# --- heat and air --------------------------------------------------------------------------------


@pytest.mark.parametrize("row", rows("air", "C7"), ids=str)
def test_boards_and_their_fan(row):
    """The air that 10 K take is what a solve has times its rise over 10 K; the fan's share is what
    the air warms in it."""
    g = row.given
    fan = FanType(name="f", curve=((0.0, 60.0), (0.02, 0.0)), flow_area=0.01, power=g["fan"],
                  reference_density=1.2, origin="invented")  # fmt: skip
    found = solve(Enclosure.of(
        site(1.2), fan, Compartment(name="box"), Part(name="boards", in_="box", power=g["boards"]),
        Fan(name="f", from_="outside", to="box", type="f"),
        Opening(name="out", from_="box", to="outside", area=0.01),
    ))  # fmt: skip
    rise = found["total.air_rise"]
    row.check(mass_flow=found["total.mass_flow"] * rise / g["rise"],
              fan_share=(found["fan.f.outlet_temperature"] - 293.15) / rise)  # fmt: skip


@pytest.mark.parametrize("row", rows("fans", "F1"), ids=str)
def test_fan_table_against_duct(row):
    """A textbook's operating point: fan table, duct, elbows, damper."""
    g = row.given
    water = g["water_density"] * GRAVITY * INCH
    curve = [(q * CFM, p * water) for q, p in zip(g["fan_flow"], g["fan_rise"], strict=True)]
    found = solve(Enclosure.of(
        site(g["density"], 298.15), Compartment(name="hood"),
        FanType(name="f", curve=curve, flow_area=0.05, reference_density=g["density"],
                origin="table of the source"),
        Duct(name="d", from_="outside", to="hood", diameter=g["diameter"] * INCH,
             length=g["length"] * FOOT, roughness=g["roughness"],
             loss=g["losses"] + g["kinetic_factor"]),
        Fan(name="f", from_="hood", to="outside", type="f"),
    ))  # fmt: skip
    row.check(flow=found.volume_flow("fan.f") / CFM, rise=found["fan.f.rise"] / water)


# --- air through resistances ---------------------------------------------------------------------


def pushed(density: float, over_pressure: float, *things: Thing) -> Solution:
    """Air from an outside at a pressure through branches."""
    high = Outside(name="high", temperature=293.15, over_pressure=over_pressure)
    return solve(Enclosure.of(site(density), high, *things))


@pytest.mark.parametrize("row", rows("networks", "N7"), ids=str)
def test_ladder_of_ducts(row):
    """Ducts 2 to 9 by their 4 f L/D; what one unit of flow in all becomes in each."""
    g = row.given
    area = np.pi / 4 * g["diameter"] ** 2
    ends = ["h-o", "h-a", "a-o", "a-b", "b-o", "b-c", "c-d", "d-o"]
    place = {"h": "outside.high", "o": "outside"}
    ways = [tuple(place.get(end, end) for end in pair.split("-")) for pair in ends]
    ways[2], ways[4] = ("a", "d"), ("b", "c")
    ducts = [
        Vent(name=f"d{i + 2}", from_=a, to=b, area=area,
             loss=4 * g["friction_factor"] * length / g["diameter"])
        for i, ((a, b), length) in enumerate(zip(ways, g["length"], strict=True))
    ]  # fmt: skip
    found = pushed(g["density"], 50.0, *(Compartment(name=name) for name in "abcd"), *ducts)
    flows = np.array([found.volume_flow(f"vent.d{i}") for i in range(2, 8)])
    row.check(flow=flows / found["total.volume_flow"] * g["flow"])


@pytest.mark.parametrize("row", rows("networks", "F7"), ids=str)
def test_fan_pressure_for_an_air_duct(row):
    """Two ducts as their losses; by the square law, from the flow at a pressure near the printed
    one."""
    g = row.given
    width, height = g["outlet_sides"]
    hydraulic = 2 * width * height / (width + height)
    inlet = 4 * g["fanning"] * (g["inlet_length"] / g["inlet_diameter"] + g["transition"])
    outlet = 4 * g["fanning"] * g["outlet_length"] / hydraulic
    found = pushed(
        g["density"], 1000.0, Compartment(name="between"),
        Vent(name="in", from_="outside.high", to="between",
             area=np.pi / 4 * g["inlet_diameter"] ** 2, loss=inlet + g["inlet_losses"]),
        Vent(name="out", from_="between", to="outside", area=width * height,
             loss=outlet + g["outlet_losses"]),
    )  # fmt: skip
    row.check(pressure=1000.0 * (g["flow"] / found["total.volume_flow"]) ** 2)


@pytest.mark.parametrize("row", rows("networks", "F8"), ids=str)
def test_vent_of_a_dryer(row):
    """Air of a given weight pushed through a pipe and its fittings."""
    g = row.given
    pound_a_cubic_foot = 0.45359237 / FOOT**3
    loss = g["friction_factor"] * g["length"] / g["diameter"] + g["losses"]
    head = g["pressure"] * INCH * g["water_weight"] * pound_a_cubic_foot * GRAVITY
    found = pushed(
        g["air_weight"] * pound_a_cubic_foot, head, Compartment(name="drum"),
        Opening(name="wide", from_="outside.high", to="drum", area=10.0),
        Vent(name="pipe", from_="drum", to="outside", loss=loss,
             area=np.pi / 4 * (g["diameter"] * FOOT) ** 2),
    )  # fmt: skip
    row.check(flow=found.volume_flow("vent.pipe") / FOOT**3)


@pytest.mark.parametrize("row", rows("networks", "D4"), ids=str)
def test_equal_slots_behind_a_fan(row):
    """Each a loss on its area; the fan's parabola as losses behind an outside at its shut-off
    pressure. The turning flow is 1e-6 of the drop: hence fast air."""
    g, density = row.given, 1.2
    count = int(g["slots"])
    slots = [Vent(name=f"s{i}", from_="in", to="outside", area=0.001,
                  loss=2 * g["resistance"] * 0.001**2 / density) for i in range(count)]  # fmt: skip
    fan = Vent(name="fan", from_="outside.high", to="in", area=0.01,
               loss=2 * g["curve"] * 0.01**2 / density)  # fmt: skip
    found = pushed(density, g["shut_off"], Compartment(name="in"), *slots, fan)
    flows = [found.volume_flow(f"vent.s{i}") for i in range(count)]
    assert flows == pytest.approx([row.expected["flow"]] * count, rel=1e-5)
    assert flows == pytest.approx([flows[0]] * count, rel=1e-12)
