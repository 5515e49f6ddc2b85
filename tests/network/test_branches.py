"""A branch by itself at flows next to nothing, against docs/theory.md and its decision 3."""

from __future__ import annotations

import math

import numpy as np
import pytest

from flownet.columns import Inputs
from flownet.enclosure.branches import Duct, Opening
from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.fans import Fan, FanType
from flownet.enclosure.heat import Part, Recirculation
from flownet.enclosure.surroundings import Body, Compartment, Outside
from flownet.equations.assemble import assemble
from flownet.equations.branch import branches
from flownet.equations.residual import mixed
from flownet.equations.topology import Structure

CP, OUTSIDE, INSIDE = 1006.0, 293.15, 313.15
BLOWER = FanType(name="f", curve=((0.0, 50.0), (0.05, 0.0)), flow_area=0.01)


def moving(flow: float, *things, inside: float = INSIDE):
    """A model, and a state in which as much passes every branch."""
    inputs = Inputs.of(Enclosure.of(
        Outside(temperature=OUTSIDE), Body(size="1 3 1 m"),
        Compartment(name="box", outline="0 0 1000 100 mm"), *things,
    ))  # fmt: skip
    model = assemble(inputs, Structure.of(inputs.enclosure))
    state = model.at_rest(1)
    warm = np.full((1 + model.structure.mixes, 1), OUTSIDE)
    warm[0] = inside
    return model, model.state(np.full(state.mass_flow.shape, flow), state.pressure[:1], warm)


def flue(power: float = 0.0, **more) -> tuple:
    """An upright duct from the box to the outside above."""
    duct = Duct(name="d", from_="box", to="outside", length=2.0, diameter=0.1,
                route=((0.5, 0.05), (0.5, 2.05)), **more)  # fmt: skip
    return duct, *([Part(name="p", in_="duct.d", power=power)] if power else [])


@pytest.mark.parametrize(("flow", "share"), [
    (0.0, 0.5), (1e-7, 0.5 + math.sqrt(0.125)), (-1e-7, 0.5 - math.sqrt(0.125)), (1e-3, 1.0),
    (-1e-3, 0.0),
])  # fmt: skip
def test_air_in_an_upright_branch_turns_within_1e_7_kg_s(flow, share):
    """From the temperature of one end to that of the other; the push is that of its column."""
    model, state = moving(flow, *flue())
    here = branches(model, state)
    warm = OUTSIDE + share * (INSIDE - OUTSIDE)
    assert here.air.density.item() == pytest.approx(101325.0 / 287.05 / warm, rel=1e-7)
    lacks = 101325.0 / 287.05 * (1 / OUTSIDE - 1 / warm)
    assert here.push.item() == pytest.approx(9.80665 * 2.0 * lacks, rel=1e-6, abs=1e-6)


@pytest.mark.parametrize(("of", "share"), [
    (0.0, 0.5), (1.0, 0.5 + math.sqrt(0.125)), (-1.0, 0.5 - math.sqrt(0.125)), (50.0, 0.9999),
])  # fmt: skip
def test_heat_of_a_branch_goes_with_its_flow(of, share):
    """Of q / (cp 1000 K): half to each end at rest, 15 % backwards at once that, 1 in 10,000 at 50
    times; all of it to one end or the other."""
    power = 200.0
    model, state = moving(of * power / (CP * 1000.0), *flue(power), inside=OUTSIDE)
    here = branches(model, state)
    assert here.to_end.item() == pytest.approx(share * power, rel=2e-5)
    assert here.to_start.item() + here.to_end.item() == pytest.approx(power, rel=1e-12)


def test_every_open_branch_exchanges_a_little_heat():
    """1e-9 kg/s both ways at rest; none through what is closed."""
    for state_, flow in (("open", 1e-9), ("blanked", 0.0)):
        hole = Opening(name="o", from_="box", to="outside", area=0.01, state=state_)
        here = branches(*moving(0.0, hole, Opening(name="z", from_="box", to="outside", area=0.1)))
        heat = CP * flow * (INSIDE - OUTSIDE)
        assert here.to_end[0, 0] == pytest.approx(heat, rel=1e-9)
        assert here.to_start[0, 0] == pytest.approx(-heat, rel=1e-9)


def test_a_mean_temperature_is_cut_off_at_500_k_of_rise():
    """Half of that at most, however little air carries the heat; its outlet is not cut."""
    flow = 200.0 / (CP * 800.0)
    here = branches(*moving(flow, *flue(200.0), inside=OUTSIDE))
    assert here.air.density.item() == pytest.approx(101325.0 / 287.05 / (OUTSIDE + 250.0), rel=1e-6)
    assert here.outlet.item() == pytest.approx(OUTSIDE + 800.0)


@pytest.mark.parametrize(("flow", "share"), [(1.0, 1.0), (1e-6, math.sqrt(0.5)), (0.0, 0.0)])
def test_air_that_comes_round_fades_below_1e_6_kg_s(flow, share):
    """A quarter of it as warm as it leaves; none blown inwards."""
    things = (
        BLOWER, Fan(name="a", from_="box", to="outside", type="f"),
        Opening(name="in", from_="box", to="outside", area=0.01),
        Recirculation(name="r", from_="fan.a", to="opening.in", fraction=0.25),
    )  # fmt: skip
    for way in (1.0, -1.0):
        found = mixed(*moving(way * flow, *things)).item()
        rise = 0.25 * share * (INSIDE - OUTSIDE) if way > 0 else 0.0
        assert found - OUTSIDE == pytest.approx(rise, abs=1e-9)
