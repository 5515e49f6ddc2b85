"""What stands close to a fan: Bernoulli and momentum by hand, and a handbook's plate."""

from __future__ import annotations

import numpy as np
import pytest
from fluids.fittings import diffuser_sharp

from flownet.enclosure import enclosure as w
from flownet.equations import elements
from flownet.physics import installation as i
from tests.each import every
from tests.network.kind_samples import AREA, FAN_TYPE, drop, fan, inputs, made
from tests.published import rows

DIAMETER = np.sqrt(4 * AREA / np.pi)


@every("x", [0.1, 0.2, 0.25, 1 / 3, 0.5, 1.0])
def test_the_head_in_the_gap_round_the_inlet(x):
    """Continuity: the air enters through the cylinder pi D x; its head rho v^2/2 is lost."""
    gap = np.pi * 1.0 * x
    area = np.pi / 4
    assert i.inlet_clearance(x) == pytest.approx((area / gap) ** 2)


def test_the_inlet_loss_is_near_that_of_a_duct_end_that_faces_a_wall():
    """K over that of a free end, by distance: table of a handbook of resistances, from memory,
    not read again (so to 20 % only): 0.2 1.60, 0.3 0.65, 0.4 0.37, 0.5 0.25, 0.6 0.15."""
    table = {0.2: 1.60, 0.3: 0.65, 0.4: 0.37, 0.5: 0.25, 0.6: 0.15}
    for x, loss in table.items():
        assert i.inlet_clearance(x) == pytest.approx(loss, rel=0.2)


def test_the_jet_pays_for_its_way_through_the_gap():
    """Bernoulli: the head in the gap less that of the jet, which a static curve counts as lost."""
    assert i.outlet_clearance(0.125) == pytest.approx((1 / 0.5) ** 2 - 1)
    assert i.outlet_clearance(0.25) == 0
    assert i.outlet_clearance(2.0) == 0


def test_an_opening_of_twice_the_flow_area_costs_nothing():
    """Common practice, no source; below it the head in the opening counts."""
    assert i.inlet_opening(2.0) == pytest.approx(0)
    assert i.inlet_opening(5.0) == 0
    assert i.inlet_opening(0.5) - i.inlet_opening(1.0) == pytest.approx(4 - 1)


def test_clutter_is_at_least_the_sudden_expansion_behind_it():
    """The momentum balance (Borda-Carnot, by a general library) is a part of the plate's loss."""
    for covered in (0.1, 0.2, 0.4, 0.6):
        behind = diffuser_sharp(np.sqrt(1 - covered), 1.0) / (1 - covered) ** 2
        assert i.clutter(covered) > behind
    assert i.clutter(0.0) == 0


@pytest.mark.parametrize("row", rows("losses", "L3"), ids=str)
def test_clutter_is_a_plate_of_what_is_left_open(row):
    row.check(loss=i.clutter(1 - np.array(row.given["open_ratio"])))


def test_nothing_is_infinite():
    assert i.inlet_clearance(0.0) == i.inlet_clearance(0.01) == 625.0


# --- at a fan ------------------------------------------------------------------------------------


def loss_of(**keys):
    """K beyond that of the bare fan, on its flow area, at a high Reynolds number."""
    velocity = 0.02 / (1.2 * AREA)
    bare, with_it = (drop(made(fan(**k), FAN_TYPE), 0.02).item() for k in ({}, keys))
    return (with_it - bare) / (1.2 * velocity**2 / 2)


def own_loss(element):
    """K of all that stands on a fan, with its shutter open, on its flow area."""
    return element.laws[1].ahead.factor * 2 * AREA**2


def test_losses_add_to_guard_and_shutter_on_the_flow_area():
    free = {"inlet": DIAMETER / 4, "outlet": DIAMETER / 8, "opening": AREA, "clutter": 0.5}
    expected = {"inlet": 1.0, "outlet": 3.0, "opening": 0.75, "clutter": 4.370}
    for key, value in free.items():
        assert loss_of(clearance={key: value}) == pytest.approx(expected[key], rel=1e-3)
    whole = loss_of(clearance=free, guard={"loss": 0.4},
                    shutter={"open_loss": 0.5, "closed_leak": 0.01})  # fmt: skip
    assert whole == pytest.approx(sum(expected.values()) + 0.9, rel=1e-3)


def test_it_can_be_switched_off_and_varies_with_variants():
    tight = {"inlet": DIAMETER / 8}
    assert loss_of(clearance=tight, installation="off") == pytest.approx(0, abs=1e-9)
    found = inputs(fan(clearance=tight), FAN_TYPE).changed(
        {"fan.f.installation": ["on", "off", "on"], "fan.f.clearance.inlet": [
            DIAMETER / 8, DIAMETER / 8, None]})  # fmt: skip
    losses = own_loss(elements.element(found, "fan"))
    assert losses[0] == pytest.approx([4.0, 0.0, 0.0])


def test_a_free_fan_has_no_loss_of_its_own():
    """Entry and exit are in a tested curve: nothing is added for them (ISO 5801)."""
    element = made(fan(), FAN_TYPE)
    assert own_loss(element).item() == 0
    far = loss_of(clearance={"inlet": 10.0, "outlet": 10.0, "opening": 1.0})
    assert far == pytest.approx(0, abs=1e-4)


def test_derivatives_pass_through():
    """A complex step against the closed form d/dx (D/4x)^2 = -D^2/(8 x^3)."""
    step = 1e-30
    found = inputs(fan(clearance={"inlet": 0.03}), FAN_TYPE).changed(
        {"fan.f.clearance.inlet": np.array([0.03 + 1j * step])})  # fmt: skip
    slope = own_loss(elements.element(found, "fan")).imag.item() / step
    assert slope == pytest.approx(-(DIAMETER**2) / (8 * 0.03**3))


def test_less_room_is_less_air():
    """Monotone in a whole enclosure."""
    import flownet  # noqa: PLC0415 - one test solves

    case = w.Enclosure.of(
        w.Compartment(name="box"), FAN_TYPE, fan(),
        w.Vent(name="hole", from_="outside", to="box", area=0.02, loss=2.0),
    )  # fmt: skip
    rooms = [0.1, 0.05, 0.03, 0.02, 0.01, 0.005]
    flow = flownet.solve_many(case, {"fan.f.clearance.inlet": rooms})["fan.f.volume_flow"]
    assert (np.diff(flow) < 0).all()
