"""Whole enclosures against closed forms, conservation laws and independent libraries."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import brentq

from flownet.enclosure.branches import Duct, Filter, Opening, Slot, Vent
from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.fans import Fan, FanType
from flownet.enclosure.heat import Exchange, Part, Recirculation, Wall
from flownet.enclosure.surroundings import Body, Compartment, Outside
from flownet.physics import air
from flownet.schema.errors import CaseError, NoSolution
from flownet.solving.solve import solve

CP = air.HEAT_CAPACITY
SEA_LEVEL = 101325.0
LINE = FanType(name="line", curve=((0.0, 100.0), (0.1, 0.0)), flow_area=0.01, origin="invented")
WEAK = FanType(name="weak", curve=((0.0, 30.0), (0.05, 0.0)), flow_area=0.01, origin="invented")


def hole(flow: float, density: float, area: float, loss: float = 0.61**-2) -> float:
    """K rho v^2 / 2 of a mass flow, turbulent."""
    return loss * flow * abs(flow) / (2 * density * area**2)


def density(temperature: float) -> float:
    """Ideal gas at sea level, R = 287.05 J/(kg K)."""
    return SEA_LEVEL / (287.05 * temperature)


def one_box(**changes):
    """A box with an inlet hole, an exhaust fan and 300 W (invented data)."""
    return Enclosure.of(
        Outside(temperature=303.15), Compartment(name="box"), LINE,
        Part(name="load", in_="box", power=300.0),
        Opening(name="inlet", from_="outside", to="box", area=0.01),
        Fan(name="a", from_="box", to="outside", type="line", **changes),
    )  # fmt: skip


def test_one_fan_on_a_hole_meets_the_hand_intersection():
    """Closed form: rho/1.2 (100 - 1000 Q) = K rho0 Q0^2 / 2, both flows of one mass flow; the
    difference is the turning flow, (30/Re)^2 / 2."""
    found = solve(one_box())
    warm = found["compartment.box.temperature"]
    hand = brentq(
        lambda m: density(warm) / 1.2 * (100 - 1000 * m / density(warm))
        - hole(m, density(303.15), 0.01), 1e-6, 0.1,
    )  # fmt: skip
    assert found.mass_flow("fan.a") == pytest.approx(hand, rel=1e-5)
    assert warm == pytest.approx(303.15 + 300 / (CP * hand), abs=1e-4)
    assert found["total.air_rise"] == pytest.approx(300 / (CP * hand), rel=1e-6)


def test_a_reversed_fan_blows_the_other_way_with_the_density_of_its_own_side():
    """Closed form: mounted backwards it draws outside air, its rise acts from `to` to `from`."""
    found = solve(one_box(mounted="reversed"))
    cold, warm = density(303.15), density(found["compartment.box.temperature"])
    hand = brentq(lambda m: cold / 1.2 * (100 - 1000 * m / cold) - hole(m, warm, 0.01), 1e-6, 0.1)
    assert found.mass_flow("fan.a") == pytest.approx(-hand, rel=1e-5)
    assert found.fans["fan.a"].rise > 0


def two_fans(inlet: float):
    """A strong and a weak fan side by side on one box."""
    return Enclosure.of(
        Outside(temperature=293.15), Compartment(name="box"), LINE, WEAK,
        Opening(name="inlet", from_="outside", to="box", area=inlet),
        Fan(name="strong", from_="box", to="outside", type="line"),
        Fan(name="weak", from_="box", to="outside", type="weak"),
    )  # fmt: skip


def test_the_weaker_of_two_fans_is_driven_backwards_behind_a_tight_inlet():
    """Closed form with straight curves: under-pressure p at which all mass flows add up to zero;
    backwards the slope at zero goes on, plus 10 rho (Q/A)^2 / 2, the loss of a stopped rotor."""
    found = solve(two_fans(0.004))
    rho = density(293.15)
    pull = -found["compartment.box.pressure"]
    strong = (100 - pull * 1.2 / rho) / 1000
    back = brentq(
        lambda q: rho / 1.2 * (30 + 600 * q) + 10 * rho * (q / 0.01) ** 2 / 2 - pull, 0, 0.1
    )
    assert found.volume_flow("fan.strong") == pytest.approx(strong, rel=1e-6)
    assert found.volume_flow("fan.weak") == pytest.approx(-back, rel=1e-6)
    assert found.mass_flow("opening.inlet") == pytest.approx(rho * (strong - back), rel=1e-9)
    assert found.fans["fan.weak"].region == "backflow"


def test_a_weak_fan_that_is_driven_backwards_lowers_the_flow():
    """Blanking it raises the inlet flow, as in the two-fan example with closed form (D1)."""
    whole = solve(two_fans(0.004)).mass_flow("opening.inlet")
    blanked = solve(two_fans(0.004), changes={"fan.weak.state": "blanked"})
    assert blanked.mass_flow("opening.inlet") > whole
    assert blanked.mass_flow("fan.weak") == 0


def test_a_running_fan_keeps_the_density_of_its_own_side_in_backflow():
    """Hot box, weak fan driven backwards by cold air: its curve still counts with the box's
    density, its volume flow at its own side with it too; its rotor's loss is that of the cold air
    that comes."""
    case = two_fans(0.004)
    items = [thing for named in case.things.values() for thing in named.values()]
    hot = Enclosure.of(*items, Part(name="load", in_="box", power=1500.0))
    found = solve(hot)
    flow, pull = found.mass_flow("fan.weak"), -found["compartment.box.pressure"]
    rho = density(found["compartment.box.temperature"])
    assert flow < 0
    q = -flow / rho
    rotor = 10 * (flow / 0.01) ** 2 / (2 * density(293.15))
    assert rho / 1.2 * (30 + 600 * q) + rotor == pytest.approx(pull, rel=1e-9)
    assert rho < 0.95 * density(293.15)


def test_a_balanced_bridge_has_no_cross_flow():
    """Closed form (D2): halves in the same ratio leave nothing for the middle."""
    area = {"a": 0.01, "b": 0.02, "c": 0.005, "d": 0.01}
    case = Enclosure.of(
        Outside(name="high", temperature=293.15, over_pressure=100.0), Outside(temperature=293.15),
        Compartment(name="top"), Compartment(name="low"),
        Opening(name="a", from_="outside.high", to="top", area=area["a"], loss=1),
        Opening(name="b", from_="top", to="outside", area=area["b"], loss=1),
        Opening(name="c", from_="outside.high", to="low", area=area["c"], loss=1),
        Opening(name="d", from_="low", to="outside", area=area["d"], loss=1),
        Opening(name="middle", from_="top", to="low", area=0.1, loss=1),
    )  # fmt: skip
    found = solve(case)
    rho = density(293.15)
    whole = np.sqrt(2 * rho * 100 / (1 / 0.01**2 + 1 / 0.02**2))
    assert abs(found.mass_flow("opening.middle")) < 1e-5 * whole
    assert found.mass_flow("opening.a") == pytest.approx(whole, rel=1e-5)
    assert found["compartment.top.pressure"] == pytest.approx(20.0, rel=1e-5)


def test_equal_slots_share_the_flow_to_round_off():
    """Closed form (D4): by symmetry; seven as one branch of count 7 as well."""
    slots = [Slot(name=f"s{i}", from_="in", to="box", gap=0.012, width=0.2, length=0.16)
             for i in range(7)]  # fmt: skip
    rest = [Outside(temperature=303.15), Compartment(name="in"), Compartment(name="box"), LINE,
            Opening(name="hole", from_="outside", to="in", area=0.02),
            Fan(name="a", from_="box", to="outside", type="line")]  # fmt: skip
    each = solve(Enclosure.of(*rest, *slots))
    flows = [each.mass_flow(f"slot.s{i}") for i in range(7)]
    assert flows == pytest.approx([flows[0]] * 7, rel=1e-12)
    lumped = Slot(name="all", from_="in", to="box", gap=0.012, width=0.2, length=0.16, count=7)
    together = solve(Enclosure.of(*rest, lumped))
    assert together.mass_flow("slot.all") == pytest.approx(sum(flows), rel=1e-9)
    assert together.branches["slot.all"].velocity == pytest.approx(
        each.branches["slot.s0"].velocity, rel=1e-9)  # fmt: skip


def draught_box(power=200.0, height=1.0, area=0.02):
    """Two equal holes above each other, heat between (invented data)."""
    return Enclosure.of(
        Outside(temperature=298.15), Compartment(name="box", outline=(0, 0, 0.5, height)),
        Part(name="load", in_="box", power=power),
        Opening(name="low", from_="outside", to="box", area=area, at=(0.25, 0.0)),
        Opening(name="high", from_="box", to="outside", area=area, at=(0.25, height)),
    )  # fmt: skip


def test_natural_draught_meets_its_closed_form():
    """(rho0 - rho) g H = K m^2 / (2 A^2) (1/rho0 + 1/rho), m cp (T - T0) = P: derived from two
    orifices with a density each; the remainder is the turning flow."""
    found = solve(draught_box())
    cold, loss = density(298.15), 0.61**-2

    def gap(flow: float) -> float:
        rho = density(298.15 + 200 / (CP * flow))
        push = (cold - rho) * 9.80665 * 1.0
        return push - loss * flow**2 / (2 * 0.02**2) * (1 / cold + 1 / rho)

    assert found.mass_flow("opening.high") == pytest.approx(brentq(gap, 1e-4, 0.1), rel=1e-4)
    assert found.stable


@pytest.mark.parametrize(
    ("change", "power"),
    [({"power": 400.0}, 1 / 3), ({"height": 2.0}, 1 / 3), ({"area": 0.04}, 2 / 3)],
)
def test_natural_draught_scales_as_theory_says(change, power):
    """Q ~ P^1/3, H^1/3, A^2/3 (Boussinesq, derived); 2.5 % for the density that is not constant."""
    ratio = (
        solve(draught_box(**change))["total.volume_flow"]
        / solve(draught_box())["total.volume_flow"]
    )
    assert ratio == pytest.approx(2**power, rel=0.025)


def test_draught_vanishes_with_height():
    """In a plan view there are no heights: heat with no fan has nowhere to go."""
    case = draught_box()
    items = [thing for kind, named in case.things.items() if kind != "enclosure"
             for thing in named.values()]  # fmt: skip
    with pytest.raises(NoSolution, match="nowhere to go"):
        solve(Enclosure.of(*items, Body(view="plan")))


def test_chimney_of_hot_gas_lifts_as_published():
    """Draught h_w(mm water) = 353 H (1/Ta - 1/Tg) of pure air (H9 with m to infinity, Onkar Singh,
    Applied Thermodynamics ch. 11): pressure in a closed warm column, here 1 m, 100 K warmer."""
    case = Enclosure.of(
        Outside(temperature=300.15), Compartment(name="box", outline=(0, 0, 1, 1)),
        Wall(name="hot", from_="box", to="outside.oven", area=1.0, u_value=50.0),
        Outside(name="oven", temperature=400.15),
        Opening(name="low", from_="outside", to="box", area=1e-2, at=(0.5, 0.0)),
        Duct(name="cap", from_="box", to="outside", at=(0.5, 1.0), length=0.1, diameter=1e-3),
    )  # fmt: skip
    found = solve(case)
    warm = found["compartment.box.temperature"]
    assert warm == pytest.approx(400.15, abs=0.1)
    published = 353 * 1.0 * (1 / 300.15 - 1 / warm) * 9.80665
    assert found.branches["duct.cap"].drop == pytest.approx(published, rel=0.002)


def test_openings_in_series_and_in_parallel():
    """1/A^2 = sum 1/A_i^2 in series, sum of areas in parallel (H12, derived)."""

    def flow(*things):
        case = Enclosure.of(Outside(temperature=293.15), Outside(name="high", over_pressure=40.0),
                            Compartment(name="a"), *things)  # fmt: skip
        return solve(case)["total.mass_flow"]

    series = flow(Opening(name="x", from_="outside.high", to="a", area=0.02),
                  Opening(name="y", from_="a", to="outside", area=0.03))  # fmt: skip
    one = 0.02 * 0.03 / np.hypot(0.02, 0.03)
    assert one == pytest.approx(0.016641, abs=5e-7)
    rho = density(293.15)
    assert series == pytest.approx(0.61 * one * np.sqrt(2 * rho * 40), rel=1e-5)
    many = flow(Opening(name="x1", from_="outside.high", to="a", area=0.01),
                Opening(name="x2", from_="outside.high", to="a", area=0.01),
                Opening(name="y", from_="a", to="outside", area=0.03))  # fmt: skip
    assert many == pytest.approx(series, rel=1e-5)


def test_walls_and_air_share_the_heat():
    """T = T0 + P / (m cp + UA) (D8, derived)."""
    case = one_box()
    items = [thing for named in case.things.values() for thing in named.values()]
    found = solve(
        Enclosure.of(*items, Wall(name="w", from_="box", to="outside", area=2.0, u_value=5.5))
    )
    flow = found.mass_flow("fan.a")
    rise = 300 / (flow * CP + 11.0)
    assert found["compartment.box.temperature"] == pytest.approx(303.15 + rise, abs=1e-4)
    assert found["total.wall_heat"] == pytest.approx(11.0 * rise, rel=1e-5)
    assert found["wall.w.heat"] == pytest.approx(11.0 * rise, rel=1e-5)


def test_a_sealed_box_warms_by_power_over_ua():
    """P / (k A), k = 5.5 W/(m2 K) of painted sheet steel (common practice of panel builders)."""
    case = Enclosure.of(
        Outside(temperature=298.15), Compartment(name="box"),
        Part(name="p", in_="box", power=110.0), Compartment(name="other"), LINE,
        Fan(name="stir", from_="box", to="other", type="line"),
        Opening(name="back", from_="other", to="box", area=0.01),
        Wall(name="w", from_="box", to="outside", area=2.0, u_value=5.5),
    )  # fmt: skip
    found = solve(case)
    assert found["compartment.box.temperature"] == pytest.approx(298.15 + 10.0, abs=1e-3)
    assert found["compartment.other.temperature"] == pytest.approx(298.15 + 10.0, abs=1e-2)
    assert found.mass_flow("fan.stir") > 0


def test_a_box_without_any_branch_loses_its_heat_through_walls_alone():
    """P / (U A) again, for an enclosure in which nothing can flow."""
    case = Enclosure.of(
        Outside(temperature=298.15), Compartment(name="box"),
        Part(name="p", in_="box", power=110.0),
        Wall(name="w", from_="box", to="outside", area=2.0, u_value=5.5),
    )  # fmt: skip
    found = solve(case)
    assert found["compartment.box.temperature"] == pytest.approx(308.15, abs=1e-9)
    assert found["total.volume_flow"] == 0.0


def test_sun_on_a_wall_warms_like_a_hotter_outside():
    """Sol-air temperature: heat in = U A (T0 + q/h - T) (ASHRAE Fundamentals, seen second-hand)."""
    case = Enclosure.of(
        Outside(temperature=298.15), Compartment(name="box"),
        Opening(name="a", from_="outside", to="box", area=1e-3),
        Wall(name="w", from_="box", to="outside", area=1.0, u_value=4.0, solar=300.0),
    )  # fmt: skip
    assert solve(case)["compartment.box.temperature"] == pytest.approx(298.15 + 20.0, abs=1e-3)


def test_streams_mix_by_mass():
    """.03 kg/s at 20 degC and .01 at 60 give 30 degC (D9, derived), here by two outsides."""
    case = Enclosure.of(
        Outside(temperature=293.15), Outside(name="hot", temperature=333.15), Compartment(name="m"),
        LINE, Fan(name="out", from_="m", to="outside", type="line"),
        Opening(name="a", from_="outside", to="m", area=0.003),
        Opening(name="b", from_="outside.hot", to="m", area=0.001),
    )  # fmt: skip
    found = solve(case)
    a, b = found.mass_flow("opening.a"), found.mass_flow("opening.b")
    mixed = (a * 293.15 + b * 333.15) / (a + b)
    assert found["compartment.m.temperature"] == pytest.approx(mixed, abs=1e-4)
    assert a / b == pytest.approx(
        3 * np.sqrt(333.15 / 293.15), rel=1e-4
    )  # square law, each density


def test_recirculation_raises_the_inlet_by_its_series():
    """Inlet rise = phi / (1 - phi) times the rise across the box (derived)."""
    items = [thing for named in one_box().things.values() for thing in named.values()]
    loop = Recirculation(name="r", from_="fan.a", to="opening.inlet", fraction=0.2)
    found = solve(Enclosure.of(*items, loop))
    across = 300 / (CP * found.mass_flow("fan.a"))
    inlet = found["compartment.box.temperature"] - across
    assert inlet - 303.15 == pytest.approx(0.2 / 0.8 * across, rel=1e-4)


@pytest.mark.parametrize("turned", [False, True])
def test_recirculation_is_one_whichever_way_its_branches_are_written(turned):
    """Inlet rise = phi / (1 - phi) times what the box and the motor warm the air by (derived)."""
    kind = FanType(name="line", curve=LINE.curve, flow_area=0.01, power=50.0, reference_density=1.2)
    out, into = (("outside", "box"), ("box", "outside")) if turned else (
        ("box", "outside"), ("outside", "box"))  # fmt: skip
    found = solve(Enclosure.of(
        Outside(temperature=303.15), Compartment(name="box"), kind,
        Part(name="load", in_="box", power=300.0),
        Opening(name="inlet", from_=into[0], to=into[1], area=0.01),
        Fan(name="a", from_=out[0], to=out[1], type="line",
            mounted="reversed" if turned else "forward"),
        Recirculation(name="r", from_="fan.a", to="opening.inlet", fraction=0.2),
    ))  # fmt: skip
    box, flow = found["compartment.box.temperature"], CP * abs(found.mass_flow("fan.a"))
    inlet, motor = box - 300 / flow, 50.0 * density(box) / 1.2
    assert inlet - 303.15 == pytest.approx(0.2 / 0.8 * (300 + motor) / flow, rel=1e-4)


def test_recirculation_stops_when_the_fan_blows_inward():
    items = [
        thing for named in one_box(mounted="reversed").things.values() for thing in named.values()
    ]
    loop = Recirculation(name="r", from_="fan.a", to="opening.inlet", fraction=0.2)
    with_loop, without = solve(Enclosure.of(*items, loop)), solve(Enclosure.of(*items))
    assert with_loop["compartment.box.temperature"] == pytest.approx(
        without["compartment.box.temperature"], abs=1e-6)  # fmt: skip


def test_exchange_moves_heat_and_no_net_air():
    """cp V (rho_i + rho_j)/2 (T_i - T_j): closed form of two boxes, one ventilated."""
    items = [thing for named in one_box().things.values() for thing in named.values()]
    found = solve(Enclosure.of(
        *items, Compartment(name="side"), Part(name="hot", in_="side", power=20.0),
        Exchange(name="x", between=("box", "side"), flow=0.002),
    ))  # fmt: skip
    box, side = (found[f"compartment.{n}.temperature"] for n in ("box", "side"))
    mean = (density(box) + density(side)) / 2
    assert CP * 0.002 * mean * (side - box) == pytest.approx(20.0, rel=1e-6)
    assert found["exchange.x.heat"] == pytest.approx(-20.0, rel=1e-6)


@pytest.mark.parametrize("ends", [("outside", "box"), ("box", "outside")])
def test_a_duct_with_a_warm_wall_follows_its_exponential(ends):
    """T_out = T_w + (T_up - T_w) exp(-U A / (m cp)) (handbook: duct with constant wall), whichever
    way it is written."""
    case = Enclosure.of(
        Outside(temperature=293.15), Compartment(name="box"), LINE,
        Duct(name="d", from_=ends[0], to=ends[1], length=2.0, diameter=0.08,
             wall_temperature=353.15, u_value=8.0),
        Fan(name="a", from_="box", to="outside", type="line"),
    )  # fmt: skip
    found = solve(case)
    number = 8.0 * np.pi * 0.08 * 2.0 / (abs(found.mass_flow("duct.d")) * CP)
    outlet = 353.15 + (293.15 - 353.15) * np.exp(-number)
    assert found["duct.d.outlet_temperature"] == pytest.approx(outlet, abs=1e-6)
    assert found["compartment.box.temperature"] == pytest.approx(outlet, abs=1e-4)


def test_exhaust_comes_round_as_warm_as_its_duct_lets_it_out():
    """The exponential along the duct, then a fifth of that air in what the fan draws in."""
    outside, wall = 293.15, 353.15
    found = solve(Enclosure.of(
        Outside(temperature=outside), Compartment(name="box"), LINE,
        Part(name="p", in_="box", power=200.0),
        Fan(name="a", from_="outside", to="box", type="line"),
        Duct(name="d", from_="box", to="outside", length=2.0, diameter=0.08,
             wall_temperature=wall, u_value=8.0),
        Recirculation(name="r", from_="duct.d", to="fan.a", fraction=0.2),
    ))  # fmt: skip
    flow, box = found.mass_flow("duct.d"), found["compartment.box.temperature"]
    outlet = wall + (box - wall) * np.exp(-8.0 * np.pi * 0.08 * 2.0 / (flow * CP))
    assert found["duct.d.outlet_temperature"] == pytest.approx(outlet, abs=1e-6)
    inlet = outside + 0.2 * (outlet - outside)
    assert box - inlet == pytest.approx(200.0 / (CP * flow), rel=1e-4)


def test_motor_heat_goes_into_the_air_or_not():
    """8 x 10 W and a 25 W fan: 23.8 % of the rise is the fan (25/105; Cengel, question on fans)."""
    warm = FanType(name="line", curve=LINE.curve, flow_area=0.01, power=25.0, reference_density=1.2)
    items = [Outside(temperature=303.15), Compartment(name="box"), warm,
             Part(name="load", in_="box", power=80.0),
             Fan(name="a", from_="outside", to="box", type="line"),
             Opening(name="out", from_="box", to="outside", area=0.01)]  # fmt: skip
    found = solve(Enclosure.of(*items))
    motor = found["fan.a.power"]
    assert motor == pytest.approx(25.0 * density(303.15) / 1.2, rel=1e-6)
    rise = found["compartment.box.temperature"] - 303.15
    assert rise * CP * found.mass_flow("fan.a") == pytest.approx(80.0 + motor, rel=1e-6)
    cold = solve(Enclosure.of(*items), changes={"fan_type.line.motor_in_air": False})
    assert cold["total.heat"] == pytest.approx(80.0, rel=1e-9)


def test_altitude_leaves_volume_flow_and_thins_mass_flow():
    """Fan laws: at one speed and square losses the volume flow stays, the mass flow follows the
    density (US Standard Atmosphere 1976: 70121 Pa at 3000 m); 0.1 % for the turning flow."""
    case = one_box()
    cold = case.with_changes({"part.load.power": 0.0})
    low, high = solve(cold), solve(cold, changes={"outside.altitude": 3000.0})
    assert high["total.volume_flow"] == pytest.approx(low["total.volume_flow"], rel=1e-3)
    ratio = high["total.mass_flow"] / low["total.mass_flow"]
    assert ratio == pytest.approx(70121.14 / 101325.0, rel=1e-3)


def test_half_speed_halves_flow_and_quarters_pressure():
    """Fan laws (ISO 5801): Q ~ n, p ~ n^2, P ~ n^3; -15 dB at half speed (common practice)."""
    kind = FanType(name="line", curve=LINE.curve, flow_area=0.01, power=20.0, noise_dBA=45.0)
    case = Enclosure.of(Outside(temperature=293.15), Compartment(name="box"), kind,
                        Opening(name="in", from_="outside", to="box", area=0.01),
                        Fan(name="a", from_="box", to="outside", type="line"))  # fmt: skip
    cold = case.with_changes({"fan_type.line.motor_in_air": False})
    full, half = solve(cold), solve(cold, changes={"fan.a.speed": 0.5})
    assert half.volume_flow("fan.a") / full.volume_flow("fan.a") == pytest.approx(0.5, rel=1e-4)
    assert half["fan.a.rise"] / full["fan.a.rise"] == pytest.approx(0.25, rel=1e-4)
    assert half["fan.a.power"] / full["fan.a.power"] == pytest.approx(0.125, rel=1e-9)
    assert half["fan.a.noise"] - full["fan.a.noise"] == pytest.approx(-15.05, abs=0.01)


def test_elements_on_a_fan_share_its_air_and_add_their_drops():
    """Conservation: rise = drop of the inlet + drop of the mat, the air the same."""
    items = [thing for named in one_box().things.values() for thing in named.values()]
    mat = Filter(name="mat", on="fan.a", area=0.02, velocity_drop=((1.0, 24.0),))
    found = solve(Enclosure.of(*items, mat))
    assert found.mass_flow("filter.mat") == found.mass_flow("fan.a")
    drops = found.branches["filter.mat"].drop + found.branches["opening.inlet"].drop
    assert found["fan.a.rise"] == pytest.approx(drops + found.branches["fan.a"].drop, rel=1e-9)
    assert found.mass_flow("fan.a") < solve(one_box()).mass_flow("fan.a")


def test_a_dead_end_takes_its_neighbours_temperature_and_no_air():
    items = [thing for named in one_box().things.values() for thing in named.values()]
    way = Vent(name="v", from_="box", to="blind", area=0.01, loss=3.0)
    found = solve(Enclosure.of(*items, Compartment(name="blind"), way))
    assert found.mass_flow("vent.v") == pytest.approx(0.0, abs=1e-12)
    assert found["compartment.blind.temperature"] == pytest.approx(
        found["compartment.box.temperature"], abs=1e-6)  # fmt: skip


def test_fans_that_run_in_vain_are_named_where_heat_stays():
    """By symmetry no air goes from one of two equal fans to the other; that of the other box, of
    the same type, moves air."""
    rooms = [Compartment(name=name) for name in ("box", "top", "side")]
    fans = [Fan(name=name, type="line", from_="outside", to=to)
            for name, to in (("a", "box"), ("b", "top"), ("c", "side"))]  # fmt: skip
    holes = [Opening(name=start, from_=start, to=end, area=0.01)
             for start, end in (("box", "top"), ("side", "outside"))]  # fmt: skip
    load = Part(name="p", in_="box", power=60.0)
    with pytest.raises(NoSolution, match=r"500 K .*fan\.a and fan\.b run and move next to no air"):
        solve(Enclosure.of(Outside(), LINE, *rooms, *fans, *holes, load))
    apart = Opening(name="apart", from_="box", to="outside", area=1e-7)
    with pytest.raises(NoSolution, match=r"fan\.a and fan\.b run and move next to no air"):
        solve(Enclosure.of(Outside(), LINE, *rooms, *fans, *holes, apart, load))
    small = Opening(name="apart", from_="box", to="outside", area=1e-4)
    with pytest.raises(NoSolution) as caught:
        solve(Enclosure.of(Outside(), LINE, *rooms, *fans, *holes, small,
                           Part(name="p", in_="box", power=600.0)))  # fmt: skip
    assert "next to no air" not in str(caught.value)
    shut = Opening(name="shut", from_="box", to="outside", area=1e-7)
    with pytest.raises(NoSolution, match=r"fan\.a runs and moves next to no air"):
        solve(Enclosure.of(Outside(), LINE, rooms[0], fans[0], shut, load))


def test_heat_behind_a_dead_end_is_refused_by_name():
    items = [thing for named in one_box().things.values() for thing in named.values()]
    case = Enclosure.of(*items, Compartment(name="blind"), Part(name="p", in_="blind", power=5.0),
                        Vent(name="v", from_="box", to="blind", area=0.01, loss=3.0))  # fmt: skip
    with pytest.raises(CaseError, match=r"compartment\.blind has nowhere to go"):
        solve(case)


def test_parts_joined_only_through_the_outside_are_solved_each_alone():
    twin = [Compartment(name="b2"), Part(name="load2", in_="b2", power=100.0),
            Opening(name="inlet2", from_="outside", to="b2", area=0.002),
            Fan(name="a2", from_="b2", to="outside", type="line")]  # fmt: skip
    items = [thing for named in one_box().things.values() for thing in named.values()]
    both, alone = solve(Enclosure.of(*items, *twin)), solve(one_box())
    assert both.mass_flow("fan.a") == pytest.approx(alone.mass_flow("fan.a"), rel=1e-9)
    balance = CP * both.mass_flow("fan.a2") * (both["compartment.b2.temperature"] - 303.15)
    assert balance == pytest.approx(100.0, rel=1e-5)
