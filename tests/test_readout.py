"""What a solution says of a state, against hand computation from its flows and temperatures.

The laws are those of textbooks: continuity m = rho v A, the ideal gas (R = 287.05 J/(kg K)),
Reynolds number rho v D/mu, heat carried m cp (T - T0), resistances in series, levels as energies.
Flows and temperatures themselves are checked elsewhere.
"""

from __future__ import annotations

import dataclasses
from typing import Any

import numpy as np
import pytest

from flownet.enclosure.branches import Duct, Opening, Slot, Vent
from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.fans import Fan, FanType
from flownet.enclosure.heat import Exchange, Part, Wall
from flownet.enclosure.surroundings import Compartment, Limits, Outside
from flownet.results.solution import Solution
from flownet.schema.component import Thing
from flownet.solving.solve import solve

CP = 1006.0
PRESSURE = 90e3  # Pa of the site
T0 = 303.15
FAN = FanType(
    name="line", curve=((0.0, 100.0), (0.1, 0.0)), flow_area=0.01, power=24.0, origin="invented",
    rated_speed=50.0, noise_dBA=44.0, noise={"kind": "pressure", "distance": 1.0},
    life={"hours": 40000.0, "at": 313.15, "factor_per_10K": 1.5},
)  # fmt: skip


def density(temperature: Any, pressure: float = PRESSURE) -> Any:
    return pressure / (287.05 * temperature)


def viscosity(temperature: Any) -> Any:
    """Sutherland's law of the US Standard Atmosphere 1976."""
    return 1.458e-6 * temperature**1.5 / (temperature + 110.4)


def chain(*things: Thing, **slot: Any) -> Enclosure:
    """Outside, a compartment, seven channels with heat, a compartment, a fan (invented data)."""
    card: dict[str, Any] = {"gap": 0.01, "width": 0.15, "length": 0.2, "power": 210.0}
    items = (
        Outside(temperature=T0, pressure=PRESSURE), FAN, Compartment(name="low"),
        Compartment(name="high"), Vent(name="in", from_="outside", to="low", area=0.02, loss=2.0),
        Slot(name="card", **({"from_": "low", "to": "high", "count": 7} | card | slot)),
        Part(name="load", in_="high", power=150.0, load=2.0),
        Fan(name="out", from_="high", to="outside", type="line"),
    )  # fmt: skip
    by_name = {(item.KIND, item.name): item for item in (*items, *things)}
    return Enclosure.of(*by_name.values())


def turned(case: Enclosure) -> Solution:
    """The same with the air the other way."""
    return solve(case, changes={"fan.out.mounted": "reversed"})


# --- branches ------------------------------------------------------------------------------------


@pytest.mark.parametrize("way", [solve, turned])
def test_heated_channels(way):
    """Their air at the mean of both ends, flow and velocity at the upstream density, one of seven
    channels (continuity), Reynolds number on the hydraulic diameter 4 A/U."""
    found = way(chain())
    row = found.branches["slot.card"]
    low, high = (found[f"compartment.{n}.temperature"] for n in ("low", "high"))
    upstream = low if row.mass_flow > 0 else high
    outlet = upstream + 210.0 / (CP * abs(row.mass_flow))
    assert row.outlet_temperature == pytest.approx(outlet, abs=1e-3)
    assert row.heat == pytest.approx(210.0)
    mean = (upstream + outlet) / 2
    assert row.density == pytest.approx(density(mean), rel=1e-6)
    assert row.volume_flow == pytest.approx(row.mass_flow / density(upstream), rel=1e-9)
    area, wetted = 0.01 * 0.15, 2 * (0.01 + 0.15)
    assert row.velocity == pytest.approx(row.volume_flow / (7 * area), rel=1e-9)
    one = abs(row.mass_flow) / 7
    reynolds = one / area * (4 * area / wetted) / viscosity(mean)
    assert row.reynolds == pytest.approx(reynolds, rel=1e-6)


@pytest.mark.parametrize("way", [solve, turned])
def test_plain_holes(way):
    """Their air is that of the side it comes from; D = sqrt(4 A/pi)."""
    found = way(chain())
    row = found.branches["vent.in"]
    upstream = T0 if row.mass_flow > 0 else found["compartment.low.temperature"]
    assert row.density == pytest.approx(density(upstream), rel=1e-9)
    assert row.velocity == pytest.approx(row.mass_flow / (density(upstream) * 0.02), rel=1e-9)
    reynolds = abs(row.mass_flow) / 0.02 * np.sqrt(4 * 0.02 / np.pi) / viscosity(upstream)
    assert row.reynolds == pytest.approx(reynolds, rel=1e-9)
    assert (row.heat, row.outlet_temperature) == (0.0, pytest.approx(upstream))
    assert row.drop == pytest.approx(np.sign(row.mass_flow) * 2 * density(upstream)
                                     * row.velocity**2 / 2, rel=1e-3)  # fmt: skip


def test_drops_and_rise_close_the_way_through():
    """Bernoulli with losses: the fan's rise is what vent, channels, mat and guard lose; and of
    each of two elements in one stream its own loss, on its own area."""
    things = (
        Fan(name="out", from_="high", to="outside", type="line", guard={"loss": 3.0}),
        Opening(name="mat", on="fan.out", area=0.015, loss=4.0),
    )
    found = solve(chain(*things))
    assert found["fan.out.drop"] == pytest.approx(
        3.0 * density(found["compartment.high.temperature"]) * found["fan.out.velocity"] ** 2 / 2,
        rel=1e-3,
    )
    assert found["opening.mat.velocity"] * 0.015 == pytest.approx(found["fan.out.velocity"] * 0.01)
    assert found["opening.mat.drop"] / found["fan.out.drop"] == pytest.approx(
        4 / 3 * (0.01 / 0.015) ** 2, rel=1e-3
    )
    lost = sum(found[f"{path}.drop"] for path in ("vent.in", "slot.card", "fan.out", "opening.mat"))
    assert found["fan.out.rise"] == pytest.approx(lost, rel=1e-9)
    assert found["compartment.low.pressure"] == pytest.approx(-found["vent.in.drop"], rel=1e-9)
    assert found["opening.mat.heat"] == 0.0
    assert found["fan.out.heat"] == pytest.approx(found["fan.out.power"], rel=1e-9)


def test_what_is_closed_has_no_drop_and_no_outlet():
    """It carries nothing; a fan that stands has no rise, loses pressure, and takes no power."""
    spare = Vent(name="spare", from_="low", to="outside", area=0.01, loss=1.0, state="blanked")
    idle = Fan(name="idle", from_="high", to="outside", type="line", state="stopped")
    shut = Fan(name="shut", from_="high", to="outside", type="line", state="blanked")
    choked = Fan(name="choked", from_="high", to="outside", type="line")
    lid = Vent(name="lid", on="fan.choked", area=0.01, loss=1.0, state="blanked")
    slow = Fan(name="slow", from_="high", to="outside", type="line", speed=1e-9)
    wheel = dataclasses.replace(FAN, name="wheel", freewheel_loss=5.0)
    free = Fan(name="free", from_="high", to="outside", type="wheel", state="freewheeling")
    found = solve(chain(spare, idle, shut, choked, lid, slow, wheel, free))
    assert found.branches["fan.free"].state == "freewheeling"
    assert found["fan.free.rise"] == 0.0
    assert (found.fans["fan.choked"].region, found.fans["fan.slow"].region) == (
        "blanked", "stopped")  # fmt: skip
    assert found.branches["fan.slow"].state == "stopped"
    assert found.branches["fan.out"].state == "running"
    for path in ("vent.spare", "fan.shut"):
        row = found.branches[path]
        assert np.isnan([row.drop, row.outlet_temperature]).all()
        assert row.mass_flow == 0.0
    fan = found.fans["fan.idle"]
    assert (fan.rise, fan.power, fan.region) == (0.0, 0.0, "stopped")
    assert np.isnan([fan.noise, fan.life]).all()
    assert found["fan.idle.drop"] == pytest.approx(found["compartment.high.pressure"], rel=1e-9)
    assert found.fans["fan.shut"].region == "blanked"
    assert np.isnan(found.fans["fan.shut"].air_temperature)


# --- the whole -----------------------------------------------------------------------------------


def test_totals_count_all_that_comes_in_wherever_it_does():
    """A vent drawn as an outlet lets air in under a strong exhaust; motor, slot and parts; the
    rise of what leaves, by mass (conservation of mass and energy)."""
    door = Vent(name="door", from_="high", to="outside", area=0.004, loss=2.0)
    spill = Vent(name="spill", from_="outside", to="mid", area=0.003, loss=1.0)
    blow = Fan(name="blow", from_="low", to="mid", type="line")
    found = solve(chain(door, spill, Compartment(name="mid"), blow))
    assert found.mass_flow("vent.door") < 0
    assert found.mass_flow("vent.spill") < 0
    drawn = found.mass_flow("vent.in") - found.mass_flow("vent.door")
    assert found["total.mass_flow"] == pytest.approx(drawn, rel=1e-9)
    assert found["total.volume_flow"] == pytest.approx(drawn / density(T0), rel=1e-9)
    out = {"fan.out": 1, "vent.spill": -1}
    warm = [(sign * found.mass_flow(path), found[f"{path}.outlet_temperature"])
            for path, sign in out.items()]  # fmt: skip
    mean = sum(flow * (t - T0) for flow, t in warm) / sum(flow for flow, _ in warm)
    assert found["total.air_rise"] == pytest.approx(mean, rel=1e-9)
    motors = sum(24.0 * density(found[f"compartment.{n}.temperature"]) / 1.2
                 for n in ("low", "high"))  # fmt: skip
    assert found["total.fan_power"] == pytest.approx(motors, rel=1e-6)
    assert found["total.heat"] == pytest.approx(210.0 + 300.0 + motors, rel=1e-6)
    assert drawn * CP * mean == pytest.approx(found["total.heat"], rel=1e-6)


@pytest.mark.parametrize("wall", [353.15, 283.15])
def test_heat_through_a_ducts_wall_counts_as_through_walls(wall):
    """Energy: heat of the sources = heat carried out by air + heat out through walls; a warm duct
    brings heat in, so that it counts as less than none out."""
    duct = Duct(name="in", from_="outside", to="low", length=3.0, diameter=0.16, u_value=9.0,
                wall_temperature=wall)  # fmt: skip
    panel = Wall(name="door", from_="high", to="outside", area=1.5, u_value=5.0)
    inner = Wall(name="shelf", from_="high", to="low", area=0.5, u_value=3.0)
    swap = Exchange(name="gap", between=("high", "low"), flow=0.001)
    coil = Part(name="coil", in_="duct.in", power=20.0)
    found = solve(chain(duct, panel, inner, swap, coil), changes={"vent.in.state": "blanked"})
    low, high = (found[f"compartment.{n}.temperature"] for n in ("low", "high"))
    flow = found.mass_flow("duct.in")
    gained = CP * flow * (found["duct.in.outlet_temperature"] - T0)
    assert found["duct.in.heat"] == pytest.approx(gained, rel=1e-6)
    gained -= 20.0  # what is left came through its wall
    lost = 1.5 * 5.0 * (high - T0)
    assert found["wall.door.heat"] == pytest.approx(lost, rel=1e-9)
    assert found["wall.shelf.heat"] == pytest.approx(1.5 * (high - low), rel=1e-9)
    mean = (density(low) + density(high)) / 2
    assert found["exchange.gap.heat"] == pytest.approx(CP * 0.001 * mean * (high - low), rel=1e-9)
    assert found["total.wall_heat"] == pytest.approx(lost - gained, rel=1e-6)
    carried = CP * flow * found["total.air_rise"]
    assert found["total.heat"] == pytest.approx(carried + lost - gained, rel=1e-6)


def test_places():
    """Level and pressure at it, limit, margin; the site."""
    high = Compartment(name="high", outline=(0.1, 0.6, 0.4, 0.8), air_limit=333.15)
    found = solve(chain(high))
    row = found.compartments["high"]
    assert (row.level, row.limit) == (pytest.approx(1.0), pytest.approx(333.15))
    assert row.margin == pytest.approx(333.15 - row.temperature)
    assert found["compartment.low.level"] == 0.0
    assert (found["site.pressure"], found["site.temperature"]) == (PRESSURE, T0)
    assert found["site.density"] == pytest.approx(density(T0), rel=1e-12)
    assert found["balance.stable"]


# --- fans ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("way", [solve, turned])
def test_a_fan_at_its_inlet(way):
    """Its life in the air it breathes (a constant factor per 10 K), which is not the outside air
    of a fan that blows out; power by the density there; rise by its curve."""
    found = way(chain())
    row, flow = found.fans["fan.out"], found.mass_flow("fan.out")
    inlet = found["compartment.high.temperature"] if flow > 0 else T0
    assert row.air_temperature == pytest.approx(inlet, abs=1e-9)
    assert row.life == pytest.approx(40000 * 1.5 ** ((313.15 - inlet) / 10), rel=1e-9)
    assert (row.life_kind, row.region, row.speed_ratio) == ("L10", "normal", 1.0)
    assert row.power == pytest.approx(24.0 * density(inlet) / 1.2, rel=1e-9)
    volume = abs(flow) / density(inlet)
    assert row.rise == pytest.approx((100 - 1000 * volume) * density(inlet) / 1.2, rel=1e-9)


@pytest.mark.parametrize("mounted", ["forward", "reversed"])
def test_regions_of_a_curve_with_a_dip(mounted):
    """Below the last hump, above it, past the last point, behind zero: by the fan's own volume
    flow the way it blows, whichever way it is mounted."""
    hump = FanType(name="hump", curve=((0.0, 60.0), (0.02, 40.0), (0.04, 52.0), (0.08, 0.0)),
                   flow_area=0.01, origin="invented")  # fmt: skip
    sign = 1 if mounted == "forward" else -1
    inner, outer = ("box", "outside.there")[::sign]
    cases = {"stall": 46.0, "normal": 20.0, "past-free-delivery": -30.0, "backflow": 90.0}
    for region, against in cases.items():
        made = Enclosure.of(
            Outside(temperature=293.15), Outside(name="there", over_pressure=against), hump,
            Compartment(name="box"),
            Opening(name="wide", from_="outside", to="box", area=0.5),
            Fan(name="f", from_=inner, to=outer, type="hump", mounted=mounted),
        )  # fmt: skip
        found = solve(made)
        assert found.fans["fan.f"].region == region
        assert found.fans["fan.f"].life_kind is None  # its type states no life
        blown = sign * found.volume_flow("fan.f")
        within = {"stall": (0, 0.04), "normal": (0.04, 0.08), "past-free-delivery": (0.08, 1),
                  "backflow": (-1, 0)}[region]  # fmt: skip
        assert within[0] < blown < within[1]


def test_a_fan_whose_way_is_shut_takes_no_power_and_makes_no_noise():
    """What no air carries away is not put in: the heat of all is that of the other parts."""
    shut = Vent(name="hood", on="fan.out", area=0.02, loss=2.0, state="blanked")
    found = solve(chain(Fan(name="b", from_="high", to="outside", type="line"), shut))
    assert (found["fan.out.region"], found["fan.out.rise"], found["fan.out.power"]) == (
        "blanked", 0.0, 0.0,
    )  # fmt: skip
    assert np.isnan([found["fan.out.noise"], found["fan.out.life"]]).all()
    assert found["fan.b.noise_share"] == pytest.approx(1.0)
    assert found["fan.b.power"] > 0


def test_noise_and_first_failure_count_the_fans_that_run():
    """Levels as energies, at the distance asked for; 20 log10(2) from 1 to 2 m, 50 log10(n); two
    equal L10 lives with slope b: L10 2^(-1/b)."""
    fans = [Fan(name=n, from_="high", to="outside", type="line", speed=0.8) for n in ("out", "b")]
    idle = Fan(name="idle", from_="high", to="outside", type="line", state="stopped")
    limits = Limits(noise_distance=2.0, noise_dBA=50.0, fan_life_hours=9000.0, weibull_slope=2.0,
                    duty="intermittent", running_share=0.5)  # fmt: skip
    found = solve(chain(*fans, idle, limits))
    one = 44.0 - 20 * np.log10(2) + 50 * np.log10(0.8)
    assert found["fan.b.noise"] == pytest.approx(one, abs=1e-9)
    assert found["fan.b.noise_share"] == pytest.approx(0.5, rel=1e-9)
    assert np.isnan(found["fan.idle.noise_share"])
    assert found["total.noise"] == pytest.approx(one + 10 * np.log10(2), abs=1e-9)
    assert found["total.noise_distance"] == 2.0
    life = found["fan.b.life"]
    assert found["total.first_failure"] == pytest.approx(life / np.sqrt(2), rel=1e-9)
    held = {(item.limit, item.subject): item for item in found.limits}
    noise = held["noise", "total.noise"]
    assert noise.margin == pytest.approx(50.0 - found["total.noise"])
    assert held["life", "fan.b"].value == pytest.approx(2 * life)  # hours of service
    assert held["life", "fan.b"].margin == pytest.approx(2 * life - 9000.0)
    assert ("life", "fan.idle") not in held


@pytest.mark.parametrize("mounted", ["forward", "reversed"])
def test_at_shut_off_a_fan_is_judged_by_no_sign_of_round_off(mounted):
    """No way in: the fan turns against a closed box, and stands in the air it would draw."""
    shut = Vent(name="in", from_="outside", to="low", area=0.02, loss=2.0, state="blanked")
    wall = Wall(name="shell", from_="high", to="outside", area=4.0, u_value=5.0)
    base = Wall(name="base", from_="low", to="outside", area=4.0, u_value=5.0)
    case = chain(shut, wall, base, power=0.0)
    for load in np.linspace(0.2, 1.0, 5):
        found = solve(case, changes={"part.load.load": load, "fan.out.mounted": mounted})
        assert abs(found["fan.out.mass_flow"]) < 1e-8
        inside = found["compartment.high.temperature"]
        assert found["fan.out.air_temperature"] == (inside if mounted == "forward" else T0)
        assert found["fan.out.region"] not in ("backflow", "past-free-delivery")
        still = solve(found.case, changes={"fan.out.state": "stopped"})  # nor one that stands
        inside = still["compartment.high.temperature"]
        assert still["fan.out.air_temperature"] == (inside if mounted == "forward" else T0)
