"""Operating points of enclosures: against symmetry, time, and a closed form with heat."""

from __future__ import annotations

import sys
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

import flownet
from flownet.columns import Inputs
from flownet.enclosure.branches import Filter, Opening, Vent
from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.fans import Fan, FanType
from flownet.enclosure.heat import Part, Recirculation
from flownet.enclosure.surroundings import Body, Compartment, Outside
from flownet.equations.assemble import assemble
from flownet.equations.branch import branch_state
from flownet.equations.topology import Structure
from flownet.solver.jacobian import Pattern
from flownet.solver.multiple import operating_points

ROOT = Path(__file__).parents[2]
INERTANCE = 40.0  # 1/m, length over area of every branch
HUMP = {"flow": "0 30 55 75 90 110 140 182 m3/h", "rise": "112 84 62 64 69 60 38 0 Pa"}
LOADED = 3.0


def box(fouling=LOADED, left="running", second=1.0, **losses):
    """A box without heat: a filter that feeds two fans with a dip. Invented data."""
    fan = {"from_": "box", "to": "outside", "type": "humped"}
    return Enclosure.of(
        Outside(temperature="20 degC"), Compartment(name="box"),
        FanType(name="humped", curve=HUMP, flow_area="79 cm2", power="0 W", **losses),
        Filter(
            name="mat", from_="outside", to="box", area="0.05 m2", fouling=fouling,
            velocity_drop={"velocity": "0.5 1 2 m/s", "drop": "13 29 70 Pa"},
        ),
        Fan(name="left", state=left, **fan), Fan(name="right", pressure_factor=second, **fan),
        title="invented",
    )  # fmt: skip


# --- symmetry -----------------------------------------------------------------------------------


@cache
def points(fouling=LOADED, second=1.0):
    return flownet.operating_points(box(fouling, second=second))


def fan_flows(point):
    return np.array([point.solution.mass_flow(f"fan.{name}") for name in ("left", "right")])


def test_equal_fans_mirror_each_other():
    """What one can do beside the other, the other can do beside it: symmetry of the enclosure."""
    found = points()
    assert len(found) >= 3
    flows = np.array([fan_flows(point) for point in found])
    for pair, point in zip(flows, found, strict=True):
        other = np.argmin(abs(flows - pair[::-1]).max(axis=1))
        np.testing.assert_allclose(flows[other], pair[::-1], rtol=1e-6)
        assert found[other].stable == point.stable


def test_every_point_keeps_the_promise_of_a_result():
    """Mass of the box, and the bounds that every result states."""
    for point in points():
        balance = point.solution.balance
        assert balance.mass_residual <= 1e-9
        assert balance.pressure_residual <= 1e-9
        assert balance.flow_step <= 1e-8
        drawn = point.solution.mass_flow("filter.mat")
        assert fan_flows(point).sum() == pytest.approx(drawn, rel=1e-9)


def test_the_first_is_what_solve_finds():
    found, solved = points(), flownet.solve(box())
    assert [point.reached_from_rest for point in found] == [True] + [False] * (len(found) - 1)
    expected = [solved.mass_flow("fan.left"), solved.mass_flow("fan.right")]
    np.testing.assert_array_equal(fan_flows(found[0]), expected)
    assert solved.points == 1 + len(solved.others)
    assert solved.points == len(found)
    assert solved.to_dict()["operating_points"] == {"count": len(found), "stable": True}


def test_stable_ones_come_before_unstable_ones():
    """After the one from rest; an unstable one has a fan on a rising piece of its curve."""
    found = points()
    calm = [point.stable for point in found[1:]]
    assert calm == sorted(calm, reverse=True)
    assert all(point.rising for point in found if not point.stable)
    assert any(not point.stable for point in found)


def test_a_dip_that_its_own_branch_outweighs_makes_one_state():
    """Guards as steep as the dip stand in the fans' own air: drop less rise never falls, and where
    it never falls there is one flow (Millar 1951)."""
    guarded = box().with_changes({"fan.left.guard.loss": 60.0, "fan.right.guard.loss": 60.0})
    assert flownet.solve(guarded).points == 1
    (only,) = flownet.operating_points(guarded)
    assert only.stable
    assert not only.rising


# --- time ---------------------------------------------------------------------------------------


class Air:
    """The inertia of the air in a filter and two fans, 40 1/m each, at one temperature."""

    def __init__(self, **case):
        made = box(**case)
        self.structure = Structure.of(made)
        self.model = assemble(Inputs.of(made), self.structure)
        self.warm = self.model.at_rest(1).temperature
        order = ("filter.mat", "fan.left", "fan.right")
        self.rows = [self.structure.branches.index(name) for name in order]

    def drops(self, left, right):
        flow = np.zeros((3, 1))
        flow[self.rows, 0] = left + right, left, right
        s = self.structure
        here = branch_state(self.model, flow, self.warm[s.warm_start], self.warm[s.warm_end])
        return here.drop[self.rows, 0]


def rates(drop):
    """Of the flows of both fans; the filter belongs to both loops."""
    inertance = INERTANCE * np.array([[2.0, 1.0], [1.0, 2.0]])
    return np.linalg.solve(inertance, [-drop[1] - drop[0], -drop[2] - drop[0]])


def later(air, begin, seconds=400.0):
    """Flows of the fans after a time, by scipy."""
    path = solve_ivp(
        lambda _, m: rates(air.drops(*m)), (0, seconds), begin, method="LSODA",
        rtol=1e-6, atol=1e-10,
    )  # fmt: skip
    return path.y[:, -1]


def test_start_from_rest_ends_where_time_leads():
    """Unequal fans; equal ones stay alike in exact arithmetic, and are nudged."""
    end = later(Air(second=0.97), [1e-9, 0.0])
    np.testing.assert_allclose(fan_flows(points(second=0.97)[0]), end, rtol=1e-4)


@pytest.mark.parametrize("second", [1.0, 0.97])
def test_a_fan_that_was_off_ends_where_time_leads(second):
    """From the state reached from rest: the left fan stands, everything settles, it runs again."""
    found = points(second=second)
    still = later(Air(left="stopped", second=second), fan_flows(found[0]))
    assert still[0] < 0  # air comes back through it
    end = later(Air(second=second), still)
    (led,) = [point for point in found if "fan.left" in point.after_restart]
    np.testing.assert_allclose(fan_flows(led), end, rtol=1e-4)


def test_a_loading_filter_ends_where_time_leads():
    """Fouling grows from 1 within 2,000 s, some thousand times slower than the air settles; the
    filter's drop is proportional to it."""
    fouling, second = 4.0, 0.9
    air = Air(fouling=1.0, second=second)

    def rate(t, m):
        grown = 1 + (fouling - 1) * min(t / 2000.0, 1.0)
        return rates(air.drops(*m) * [grown, 1, 1])

    path = solve_ivp(
        rate, (0, 2500.0), later(air, [0.0, 0.0]), method="LSODA", rtol=1e-6, atol=1e-10,
        max_step=10.0,
    )  # fmt: skip
    (led,) = [point for point in points(fouling, second) if point.by_loading]
    np.testing.assert_allclose(fan_flows(led), path.y[:, -1], rtol=1e-3)


def test_a_clean_filter_has_nothing_to_load():
    assert {point.by_loading for point in points(fouling=1.0)} == {None}


# --- heat ---------------------------------------------------------------------------------------

WIND, WATTS, HEIGHT, HOLE = 1.3, 80.0, 1.0, "150 cm2"


def chimney():
    """A heated box with a low and a high opening, and more pressure outside the high one."""
    return Enclosure.of(
        Body(size="400 x 1200 x 400 mm"), Outside(temperature="20 degC", pressure="101325 Pa"),
        Outside(name="wind", temperature="20 degC", over_pressure=f"{WIND} Pa"),
        Compartment(name="box", outline="0 0 400 1200 mm"),
        Opening(name="low", from_="outside", to="box", area=HOLE, at="0 100 mm"),
        Opening(name="high", from_="box", to="outside.wind", area=HOLE, at="0 1100 mm"),
        Part(name="load", in_="box", power=f"{WATTS} W"),
        title="invented",
    )  # fmt: skip


def test_draught_against_pressure_has_the_states_of_the_closed_form():
    """Air up through the box if lift beats the pressure outside, down if not: for some pressures
    both are possible. Lift (rho_0 - rho) g h, ideal gas, heat m cp dT; each hole loses
    m^2 / (2 rho Cd^2 A^2) at the density of the air that comes in, Cd = 0.61."""
    cp, gas, warm, area = 1006.0, 287.05, 293.15, 150e-4 * 0.61
    cold = 101325 / (gas * warm)

    def surplus(m, up):
        hot = 101325 / (gas * (warm + WATTS / (cp * m)))
        losses = m * m / (2 * area * area) * (1 / cold + 1 / hot)
        lift = (cold - hot) * 9.80665 * HEIGHT
        return lift - WIND - losses if up else WIND - lift - losses

    expected = [brentq(surplus, 1e-3, 0.1, args=(True,), xtol=1e-14)]
    grid = np.geomspace(1e-3, 0.1, 500)
    down = np.array([surplus(m, False) for m in grid])
    for k in np.flatnonzero(down[:-1] * down[1:] < 0):
        expected.append(-brentq(surplus, grid[k], grid[k + 1], args=(False,), xtol=1e-14))
    calm = [min(expected), max(expected)]  # the one between, down but slower, runs away either way
    assert len(expected) == 3
    found = flownet.operating_points(chimney())
    flows = [point.solution.mass_flow("opening.low") for point in found]
    for flow in calm:
        np.testing.assert_allclose(min(flows, key=lambda f: abs(f - flow)), flow, rtol=5e-4)
    for flow in flows:
        assert min(abs(flow - e) for e in expected) < 5e-4 * abs(flow)
    assert sum(point.stable for point in found) == 2


# --- bounded ------------------------------------------------------------------------------------


def test_without_a_dip_nothing_is_counted_unless_asked_for():
    case = flownet.load_case(ROOT / "cases" / "bench-supply")
    assert flownet.solve(case).to_dict()["operating_points"]["count"] is None
    (only,) = flownet.operating_points(case)
    assert only.solution.to_dict()["operating_points"]["count"] == 1
    assert only.searched[0].startswith("no fan has a dip")


def test_in_a_very_large_enclosure_a_solve_does_not_search(monkeypatch):
    """Its bound lowered below the one compartment of the box."""
    monkeypatch.setattr(sys.modules["flownet.solving.solve"], "SEARCHED", 0)
    found = flownet.solve(box())
    assert found.points is None
    assert found.others == ()
    assert found.to_dict()["operating_points"]["count"] is None


def test_what_may_be_missed_is_said():
    first = points()[0]
    assert any("may miss" in words for words in first.searched)
    assert first.to_dict()["operating_point"]["searched"] == list(first.searched)


# --- words --------------------------------------------------------------------------------------


def test_a_solution_names_the_states_beside_it():
    """The flow that is named is that of the other state."""
    solved, found = flownet.solve(box()), points()
    told = [f for f in solved.findings if f.rule == "other-operating-point"]
    others = [point for point in found if point.stable and not point.reached_from_rest]
    assert len(told) == min(3, len(others))
    named = told[0].values["flow"][1]
    near = [abs(point.solution.volume_flow(told[0].subject)) for point in others]
    assert min(abs(named - flow) for flow in near) < 1e-6 * named
    assert "could also settle at" in told[0].message()


def test_a_fan_that_could_blow_backwards_is_named_so():
    """A weak fan beside a strong one, each with a dip: seen in one of the other states."""
    case = box(fouling=7.0, second=0.53, backflow_loss=1.0)
    here = flownet.solve(case)
    other = next(each for each in here.others if each.stable)
    assert here.stable
    assert other.volume_flow("fan.right") < 0
    words = [f.message() for f in here.findings if f.rule == "other-operating-point"]
    assert len(words) == 1
    back = -other.volume_flow("fan.right") * 3600
    assert f"fan.right at {back:.3g} m3/h backwards" in words[0]


def test_marches_from_random_temperatures_come_to_the_state_where_air_is_mixed():
    """One opening low, one high, heat between: one state, and every march must end there."""
    case = Enclosure.of(
        Outside(temperature=300.0), Compartment(name="box", outline=(0, 0, 0.5, 1.0)),
        Vent(name="low", from_="outside", to="box", area=0.01, loss=3.0, at=(0.2, 0.1)),
        Vent(name="high", from_="box", to="outside", area=0.01, loss=3.0, at=(0.2, 0.9)),
        Recirculation(name="back", from_="vent.high", to="vent.low", fraction=0.2),
        Part(name="load", in_="box", power=100.0), title="invented",
    )  # fmt: skip
    structure = Structure.of(case)
    model = assemble(Inputs.of(case), structure)
    known = flownet.solve(case)
    warm = np.array([[known["compartment.box.temperature"]]])
    rest = model.at_rest(1)
    mixed = model.unknown_temperatures(rest)[1:]
    begun = model.state(rest.mass_flow, rest.pressure[:1], np.concatenate([warm, mixed]))
    found = operating_points._marched(model, Pattern(structure), begun, 8)
    assert found.mass_flow.shape[1] == 8
    np.testing.assert_allclose(found.temperature[0], warm[0, 0], atol=1e-4)
