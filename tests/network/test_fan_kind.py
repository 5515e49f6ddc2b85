"""Fans of an enclosure: their type, speed, mounting and state, against the published fan laws."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from flownet.enclosure import enclosure as w
from flownet.equations import elements
from flownet.physics import air as properties
from flownet.results.tables import STATES
from tests.each import every
from tests.network.kind_samples import (
    AREA,
    CURVE,
    FAN_TYPE,
    air,
    blown,
    drop,
    fan,
    inputs,
    loss,
    made,
)
from tests.published import rows


def rated(row: Any, **keys: Any) -> w.FanType:
    """A fan whose curve passes its rated point, at its speed and density."""
    g = row.given
    flow, rise = g["rated_flow"], g.get("rated_pressure", 1.0)
    return w.FanType(
        name="axial", curve=[(0.0, 1.4 * rise), (flow, rise), (2 * flow, 0.0)], flow_area=1.0,
        power=g.get("rated_power", 0.0), rated_speed=g.get("speed", 1000.0) / 60, **keys,
    )  # fmt: skip


@pytest.mark.parametrize("row", rows("fans", "A3", "A4"), ids=str)
def test_fan_laws_of_speed(row):
    """Flow, pressure and power at another speed."""
    ratio = row.given["new_speed"] / row.given["speed"]
    element = made(fan(rotation=row.given["new_speed"] / 60), rated(row))
    assert element.speed.item() == pytest.approx(ratio)
    flow = row.given["rated_flow"] * ratio
    power = 1.2 * element.motor_power.item()
    row.check(flow=element.fan.free_flow.item() / 2, pressure=blown(element, flow), power=power)


@pytest.mark.parametrize("row", rows("fans", "A6", "A6p"), ids=str)
def test_fan_laws_of_density(row):
    """The same flow at the same speed, pressure and power as the density."""
    cold, hot = (
        float(properties.density(273.15 + row.given[key], 101325.0))
        for key in ("temperature", "new_temperature")
    )
    element = made(fan(), rated(row, reference_density=cold))
    flow = row.given["rated_flow"]
    found = {
        "flow": element.fan.free_flow.item() / 2,
        "pressure": blown(element, flow, air(at_start=hot)),
        "power": hot * element.motor_power.item(),
    }
    row.check(**{name: found[name] for name in row.expected})


@pytest.mark.parametrize("row", rows("fans", "A9"), ids=str)
def test_fan_laws_of_speed_and_density(row):
    """A test at equal Reynolds number in denser air."""
    g = row.given
    ratio = g["density"] / g["new_density"]
    turned = fan(rotation=g["new_speed"] / 60)
    element = made(turned, rated(row, reference_density=g["density"]))
    assert element.speed.item() == pytest.approx(ratio, rel=1e-4)
    flow = element.fan.free_flow.item() / 2
    row.check(flow=flow, pressure=blown(element, flow, air(at_start=g["new_density"])))


@pytest.mark.parametrize("row", rows("fans", "A10", "A10f"), ids=str)
def test_cube_law(row):
    """Power as the cube of flow in the same system."""
    g = row.given
    if "new_flow" in g:
        element = made(fan(speed=g["new_flow"] / g["rated_flow"]), rated(row))
        row.check(power=1.2 * element.motor_power.item())
    else:
        element = made(fan(speed=(g["new_power"] / g["rated_power"]) ** (1 / 3)), rated(row))
        assert 1.2 * element.motor_power.item() == pytest.approx(g["new_power"])
        row.check(flow=element.fan.free_flow.item() / 2)


def test_factors_scale_the_curve():
    """pressure_factor its pressure, flow_factor its flow."""
    element = made(fan(pressure_factor=0.9, flow_factor=1.1), FAN_TYPE)
    for flow, rise in CURVE:
        assert blown(element, 1.1 * flow) == pytest.approx(0.9 * rise, abs=1e-9)


def test_total_pressure_becomes_static():
    """Less rho (Q/A)^2/2 at the points; past its own points it is the static curve of them."""
    points = [(flow, rise + 20.0) for flow, rise in CURVE]
    total = w.FanType(name="axial", curve=points, curve_pressure="total", flow_area=AREA,
                      reference_density=1.1)  # fmt: skip
    by_hand = [(q, max(p - 1.1 * (q / AREA) ** 2 / 2, 0.0)) for q, p in points]
    assert min(p for _, p in by_hand) > 0
    static = w.FanType(name="axial", curve=by_hand, flow_area=AREA, reference_density=1.1)
    one, other = made(fan(), total), made(fan(), static)
    for flow in np.linspace(-0.01, 0.06, 29):
        assert blown(one, flow) == pytest.approx(blown(other, flow), rel=1e-12, abs=1e-12)
    dip = [(0.0, 50.0), (0.02, 50.5), (0.04, 0.0)]  # rises in total, falls in static pressure
    keys = {"name": "axial", "curve": dip, "flow_area": AREA}
    assert made(fan(), w.FanType(**keys)).fan.dipped.item()
    assert not made(fan(), w.FanType(**keys, curve_pressure="total")).fan.dipped.item()


@every(
    ("how", "state", "rotor"),
    [
        ({"state": "stopped"}, "stopped", 10.0), ({"speed": 0.0}, "stopped", 10.0),
        ({"rotation": 0.0}, "stopped", 10.0), ({"state": "freewheeling"}, "freewheeling", 4.0),
    ],
)  # fmt: skip
def test_a_fan_that_does_not_run_is_a_loss(how, state, rotor):
    """K rho v^2/2 on the flow area both ways, with its guard; no power, no rise."""
    element = made(fan(**how, guard={"loss": 0.6}), FAN_TYPE)
    assert STATES[element.state.item()] == state
    assert element.speed.item() == element.motor_power.item() == 0.0
    for flow in (1.0, -1.0):
        assert abs(loss(element, flow)) == pytest.approx(rotor + 0.6, rel=1e-6)
        assert blown(element, flow) == 0.0


def test_running_fan_has_its_guard_alone():
    """What the laws make of a running fan: guard less rise."""
    element = made(fan(guard={"loss": 0.6}), FAN_TYPE)
    velocity = CURVE[1][0] / AREA
    wanted = 0.6 * 1.2 * velocity**2 / 2 - CURVE[1][1]
    assert drop(element, 1.2 * CURVE[1][0]).item() == pytest.approx(wanted, rel=1e-6)


@every("mounted", ["forward", "reversed"])
def test_shutter_closes_against_its_fan(mounted):
    """Open loss the way it blows, 1/(0.61 leak)^2 against it; both with the stopped rotor."""
    shutter = {"open_loss": 0.5, "closed_leak": 0.01}
    element = made(fan(state="stopped", mounted=mounted, shutter=shutter), FAN_TYPE)
    ahead = 1.0 if mounted == "forward" else -1.0
    assert abs(loss(element, ahead)) == pytest.approx(10.5, rel=1e-6)
    assert abs(loss(element, -ahead)) == pytest.approx(10 + 1 / 0.0061**2, rel=1e-6)
    assert element.reversed.item() == (mounted == "reversed")


def test_motor_heat_stays_in_the_air_or_not():
    """All of its power, or none."""
    inside, outside = (
        made(
            fan(), w.FanType(name="axial", curve=CURVE, flow_area=AREA, power=19.0, motor_in_air=x)
        )
        for x in (True, False)
    )
    assert 1.2 * inside.motor_power.item() == 1.2 * outside.motor_power.item()
    assert 1.2 * inside.motor_heat.item() == pytest.approx(19.0)
    assert outside.motor_heat.item() == 0.0


def test_blanked_fan_neither_heats_nor_turns():
    """Closed, without power."""
    element = made(fan(state="blanked"), FAN_TYPE)
    assert element.closed.item()
    assert element.motor_power.item() == element.speed.item() == 0.0
    assert STATES[element.state.item()] == "blanked"


def test_a_rating_brings_its_own_curve():
    """On its supply a fan works on the matching rating's points."""
    sixty = {"supply": "230 V 60 Hz", "curve": [(0.0, 104.0), (0.055, 0.0)]}
    kind = w.FanType(name="axial", curve=CURVE, flow_area=AREA, supply="230 V 50 Hz",
                     rating={"sixty": sixty})  # fmt: skip
    mains = [w.Supply(name=f"m{hertz}", voltage=230.0, frequency=hertz) for hertz in (50, 60)]
    base = inputs(fan(supply="m50"), kind, *mains)
    both = base.changed({"fan.f.supply": ["m50", "m60"]}, 2)
    element = elements.element(both, "fan")
    rise = element.fan.rise(np.zeros((1, 2)), air(2))
    np.testing.assert_allclose(rise, [[78.0, 104.0]])


def test_what_the_supply_does_to_the_speed_is_on_top_of_the_ratio():
    """Common practice, no source: a 24 V dc fan turns in proportion to its voltage."""
    kind = w.FanType(name="axial", curve=CURVE, flow_area=AREA, supply="24 V dc")
    for volts in (24.0, 18.0):
        element = made(fan(supply="s", speed=0.8), kind, w.Supply(name="s", voltage=volts))
        assert element.speed.item() == pytest.approx(0.8 * volts / 24.0)


def test_a_speed_of_next_to_nothing_stands():
    for speed, state in ((1e-13, "stopped"), (1e-6, "running")):
        assert STATES[made(fan(speed=speed), FAN_TYPE).state.item()] == state
