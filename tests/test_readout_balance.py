"""Figures of the balance of a state, against hand computation."""

from __future__ import annotations

import sys
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from flownet import solve
from flownet.columns import Inputs
from flownet.enclosure.branches import Duct, Opening, Vent
from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.fans import Fan, FanType
from flownet.enclosure.heat import Part
from flownet.enclosure.surroundings import Compartment, Outside
from flownet.equations.assemble import assemble
from flownet.equations.branch import branches
from flownet.equations.state import Promise, Step
from flownet.equations.topology import Structure
from flownet.solver import tolerances
from flownet.solver.acceptance import kept, largest_pressure, measured, power, pressure_floor
from tests.test_readout import CP, PRESSURE, T0, chain, density


def test_figures_of_the_balance_are_what_is_left_over():
    """A state by hand: imbalances of mass, pressure and energy, over the largest flow, the largest
    pressure and all heat; the step beside them over the largest flow."""
    hole: dict[str, Any] = {"area": 0.02, "loss": 2.0}
    structure = Structure.of(case := Enclosure.of(
        Outside(temperature=T0, pressure=PRESSURE), Compartment(name="box"),
        Compartment(name="side"), Vent(name="a", from_="outside", to="box", **hole),
        Vent(name="b", from_="box", to="side", **hole),
        Vent(name="c", from_="side", to="outside", **hole),
        Part(name="load", in_="box", power=80.0), Part(name="more", in_="side", power=20.0),
    ))  # fmt: skip
    model = assemble(Inputs.of(case), structure)
    flow, warm = {"a": 0.030, "b": 0.029, "c": 0.0285}, {"box": T0 + 2.0, "side": T0 + 1.5}
    pressure = {"box": -3.0, "side": -6.0}
    state = model.state(
        np.array([[flow[path.partition(".")[2]]] for path in structure.branches]),
        *(np.array([[of[n]] for n in structure.compartments]) for of in (pressure, warm)),
    )
    assert pressure_floor(model).item() == 1e-6  # Pa: nothing has a height
    step = Step(np.full((3, 1), 6e-5), np.zeros((2, 1)), np.full((2, 1), 0.25))
    found = measured(model, state, step)
    assert found.mass.item() == pytest.approx(0.001 / 0.030, rel=1e-9)
    assert found.flow_step.item() == pytest.approx(6e-5 / 0.030, rel=1e-9)
    assert found.warm_step.item() == 0.25
    left = 80.0 - CP * 0.030 * 2.0, 20.0 + CP * 0.029 * 0.5
    assert found.energy.item() == pytest.approx(sum(map(abs, left)) / 100.0, rel=1e-3)
    air = {"a": T0, "b": T0 + 2.0, "c": T0 + 1.5}
    drops = {n: 2.0 * m**2 / (2 * density(air[n]) * 0.02**2) for n, m in flow.items()}
    gaps = abs(3.0 - drops["a"]), abs(3.0 - drops["b"]), abs(-6.0 - drops["c"])
    assert found.pressure.item() == pytest.approx(max(gaps) / max(6.0, *drops.values()), rel=1e-3)
    assert structure.branches[found.worst_branch.item()] == "vent.c"
    assert structure.compartments[found.worst_compartment.item()] == "side"
    assert found.hottest.item() == pytest.approx(2.0)
    cold = state._replace(temperature=np.minimum(state.temperature, T0) - 1.0)
    assert measured(model, cold, step).hottest.item() == 0.0


@pytest.mark.parametrize(("start", "end"), [(0.3, 0.9), (0.6, 0.65), (0.2, 1.0)])
@pytest.mark.parametrize(("low", "high"), [(1.0, 80.0), (80.0, 1.0)])
def test_pressures_are_weighed_against_columns_of_air_too(start, end, low, high):
    """Nothing flows and no pressure stands: what counts is (rho0 - rho) g dz, in an open branch or
    between its end and the middle of a compartment."""
    tall = {"low": (0.0, 0.0, 0.4, 0.6), "high": (0.0, 0.6, 0.4, 0.8)}  # middles 0.3 and 1.0
    hole: dict[str, Any] = {"area": 0.02, "loss": 2.0}
    structure = Structure.of(case := Enclosure.of(
        Outside(temperature=T0, pressure=PRESSURE),
        *(Compartment(name=name, outline=outline) for name, outline in tall.items()),
        Vent(name="a", from_="outside", to="low", at=(0.2, 0.25), **hole),
        Duct(name="b", from_="low", to="high", length=1.0, diameter=0.1,
             route=((0.2, start), (0.2, end))),
        Vent(name="c", from_="high", to="outside", at=(0.2, 1.1), **hole),
        Vent(name="d", from_="high", to="outside", at=(0.2, 9.0), state="blanked", **hole),
    ))  # fmt: skip
    model = assemble(Inputs.of(case), structure)
    warm = {"low": T0 + low, "high": T0 + high}
    still, none = np.zeros((4, 1)), np.zeros((2, 1))
    state = model.state(still, none, np.array([[warm[n]] for n in structure.compartments]))
    mean = (warm["low"] + warm["high"]) / 2
    below, above, within = (9.80665 * (density(T0) - density(t)) for t in (*warm.values(), mean))
    duct = below * (start - 0.3), within * (end - start), -above * (end - 1.0)
    gaps = below * 0.05, abs(sum(duct)), above * 0.1
    scale = max(below * 0.05, above * 0.1, *np.abs(duct))
    found = measured(model, state, Step(still, none, none)).pressure.item()
    assert found == pytest.approx(max(gaps) / scale, rel=1e-3)
    # the tallest column, of 8 m, ends at a vent; what 8 roundings of it leave is 1e-9 of the least
    rounding = 8 * sys.float_info.epsilon * 9.80665 * density(T0) * 8.0
    assert pressure_floor(model).item() == pytest.approx(rounding / 1e-9, rel=1e-9)


@pytest.mark.parametrize(("opened", "most"), [((1, 1, 1), 9.0), ((1, 1, 0), 6.0), ((0, 1, 0), 4.0)])
def test_a_steep_branch_leaves_the_rounding_of_its_flow_times_its_slope(opened, most):
    """The drop of a flow is known no better than the flow is: slope times flow, of what is open."""
    none = np.zeros((3, 1))
    model = SimpleNamespace(outside_density=np.full((3, 1), 1.2), columns_of_air=(none, none),
                            climb=none, open=np.array(opened)[:, None])  # fmt: skip
    air = SimpleNamespace(density=none + 1.1, at_start=none + 1.1, at_end=none + 1.1)
    here = SimpleNamespace(air=air, slope=np.array([[3e9], [1e9], [1e9]]), element_drops=none)
    state = SimpleNamespace(mass_flow=np.array([[2.0], [-4.0], [9.0]]), pressure=none)
    found = largest_pressure(model, state, here).item()  # type: ignore[arg-type]
    assert found == pytest.approx(tolerances.ROUNDING * most * 1e9, rel=1e-9)
    model.climb = none + 0.5
    rounding = 8 * sys.float_info.epsilon * 9.80665 * 1.2 * 0.5
    assert pressure_floor(model).item() == pytest.approx(rounding / 1e-9, rel=1e-9)  # type: ignore[arg-type]


def test_all_heat_put_in_counts_motors_and_the_walls_of_ducts():
    """210 W and 300 W, the motor by its density, and what a duct's wall gives off, whichever way:
    m cp (T_w - T) (1 - exp(-U A/(m cp)))."""
    for wall in (353.15, 273.15):
        duct = Duct(name="in", from_="outside", to="low", length=3.0, diameter=0.16, u_value=9.0,
                    wall_temperature=wall)  # fmt: skip
        case = chain(duct).with_changes({"vent.in.state": "blanked"})
        structure = Structure.of(case)
        model = assemble(Inputs.of(case), structure)
        warm = {"low": T0 + 5.0, "high": T0 + 20.0}
        flow = np.array([[0.0 if path == "vent.in" else 0.03] for path in structure.branches])
        column = np.array([[warm[name]] for name in structure.compartments])
        here = branches(model, model.state(flow, 0 * column, column))
        capacity = 0.03 * CP
        gained = capacity * (wall - T0) * (1 - np.exp(-9.0 * np.pi * 0.16 * 3.0 / capacity))
        motor = 24.0 * density(warm["high"]) / 1.2
        wanted = 210.0 + 300.0 + motor + abs(gained)
        assert power(model, here).item() == pytest.approx(wanted, rel=1e-6)


BOUNDS = {"mass": 1e-9, "pressure": 1e-9, "energy": 1e-6, "warm_step": 1e-6, "flow_step": 1e-8}


@pytest.mark.parametrize("name", BOUNDS)
def test_the_promise_holds_up_to_its_bounds(name):
    """As the page on theory states them."""
    figures = Promise(*(np.zeros(2) for _ in Promise._fields))
    size = BOUNDS[name] * np.array([0.99, 1.01])
    assert kept(figures._replace(**{name: size})).tolist() == [True, False]


def test_air_drawn_in_has_the_volume_of_the_place_it_comes_from():
    """Mass over p/(R T) of either outside, though one way is written from inside to out."""
    line = FanType(name="line", curve=((0.0, 60.0), (0.05, 0.0)), flow_area=0.01)
    found = solve(Enclosure.of(
        Outside(temperature=293.15, pressure=101325.0), Compartment(name="box"), line,
        Outside(name="aisle", temperature=323.15),
        Fan(name="a", from_="box", to="outside", type="line"),
        Opening(name="in", from_="outside", to="box", area=0.004),
        Opening(name="back", from_="box", to="outside.aisle", area=0.006),
    ))  # fmt: skip
    cool, warm = found.mass_flow("opening.in"), -found.mass_flow("opening.back")
    assert min(cool, warm) > 0
    volume = (cool * 293.15 + warm * 323.15) * 287.05 / 101325.0
    assert found.totals.volume_flow == pytest.approx(volume, rel=1e-4)
