"""Fan curves: between their points, by the fan laws, and beyond both ends."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.interpolate import CubicHermiteSpline, PchipInterpolator
from scipy.optimize import brentq

from flownet.equations import laws
from flownet.physics.air import Air
from tests.network.law_samples import CURVES, air, column, fan
from tests.published import rows


def measured(row: int) -> tuple[np.ndarray, np.ndarray]:
    flow, rise = np.array(CURVES[row]).T
    return flow, rise


def oracle(row: int) -> Any:
    """The curve between its points as scipy has it, end slopes held at or below zero."""
    flow, rise = measured(row)
    if len(flow) == 2:
        return lambda q: np.interp(q, flow, rise)
    slopes = PchipInterpolator(flow, rise).derivative()(flow)
    slopes[[0, -1]] = np.minimum(slopes[[0, -1]], 0.0)
    return CubicHermiteSpline(flow, rise, slopes)


def test_fan_curve_is_the_monotone_one():
    """At rated speed and 1.2 kg/m3 the rise is scipy's monotone interpolation of the points."""
    law, here = fan(), Air(*(column(x) for x in (1.2, 1.8e-5, 1.2, 1.2)))
    for row in range(len(CURVES)):
        flow, _ = measured(row)
        for q in np.concatenate([flow, np.linspace(0, flow[-1], 41)]):
            found = law.rise(np.full((len(CURVES), 1), 1.2 * q), here)[row, 0]
            np.testing.assert_allclose(found, oracle(row)(q), rtol=1e-12, atol=1e-11)


@given(
    gaps=st.lists(st.floats(1e-3, 1e-1), min_size=1, max_size=7),
    rises=st.lists(st.floats(0.0, 500.0), min_size=8, max_size=8),
    data=st.data(),
)
@settings(max_examples=60, deadline=None, derandomize=True)
def test_no_false_dip_between_points(gaps, rises, data):
    """Between two points the curve stays between their pressures, whatever the points."""
    flow = np.concatenate([[0.0], np.cumsum(gaps)])
    table = list(zip(flow, rises, strict=False))
    law, here = fan([table, CURVES[0]]), Air(*(column(x) for x in (1.2, 1.8e-5, 1.2, 1.2)))
    piece = data.draw(st.integers(0, len(gaps) - 1))
    share = data.draw(st.floats(0.0, 1.0))
    q = flow[piece] + share * (flow[piece + 1] - flow[piece])
    found = law.rise(np.full((2, 1), 1.2 * q), here)[0, 0]
    low, high = sorted(rises[piece : piece + 2])
    assert low - 1e-9 <= found <= high + 1e-9


def test_beyond_its_points_a_fan_falls_on():
    """Past both ends: the end slope, and K rho v^2/2 of what is beyond (closed form); K is large
    enough for a standing rotor to be steeper than the end slope at free flow."""
    density, area = 1.1, 0.0095
    law = fan(speed=0.8, flow_factor=1.05, pressure=0.93, windmill=40.0, backflow=0.6)
    here = Air(*(column(x) for x in (density, 1.8e-5, density, density)))
    for row in range(len(CURVES)):
        flow, rise = measured(row)
        slopes = [oracle(row)(q + 1e-9) - oracle(row)(q - 1e-9) for q in (1e-9, flow[-1] - 1e-9)]
        steep = np.array(slopes) / 2e-9
        scale, head = 0.8 * 1.05, 0.93 * density / 1.2 * 0.8**2
        for beyond in (1e-3, 0.02):
            q = scale * flow[-1] + beyond
            wanted = head * (rise[-1] + steep[1] * beyond / scale)
            wanted -= 40.0 * density * (beyond / area) ** 2 / 2
            found = law.rise(np.full((5, 1), density * q), here)[row, 0]
            np.testing.assert_allclose(found, wanted, rtol=1e-5, atol=1e-5)
            wanted = head * (rise[0] - steep[0] * beyond / scale)
            wanted += 0.6 * density * (beyond / area) ** 2 / 2
            found = law.rise(np.full((5, 1), -density * beyond), here)[row, 0]
            np.testing.assert_allclose(found, wanted, rtol=1e-5, atol=1e-5)


def test_a_steep_end_slope_fades():
    """Past free delivery the rise over the drop of a standing rotor begins with the slope it has
    there (closed form: b / (1 + |slope| w / b)), and falls to nothing, never below."""
    density, area, loss = 1.2, 0.0095, 0.05
    law, here = fan(windmill=loss), Air(*(column(x) for x in (density, 1.8e-5, density, density)))
    for row in (0, 1, 3, 4):  # the other one ends nearly level
        flow, rise = measured(row)
        last, standing = flow[-1], loss * density * (flow[-1] / area) ** 2 / 2
        end = (oracle(row)(last - 1e-9) - oracle(row)(last)) / 1e-9 * -last
        over, slope = rise[-1] + standing, end + 2 * standing  # of the rise over the standing rotor
        assert slope < 0
        for times in (0.6, 0.9):  # within its points, while those of another end
            found = law.rise(np.full((5, 1), density * times * last), here)[row, 0]
            assert found == pytest.approx(oracle(row)(times * last), rel=1e-9)
        for times in (1.0, 1.001, 1.5, 3.0, 100.0, 1e6):
            wanted = over / (1 - slope * (times - 1) / over) - standing * times**2
            found = law.rise(np.full((5, 1), density * times * last), here)[row, 0]
            assert found == pytest.approx(wanted, rel=1e-4, abs=1e-4)
            assert found > -standing * times**2 * (1 + 1e-4)


def test_where_a_standing_rotor_loses_nothing_the_end_slope_goes_on():
    """From a last point of 0 Pa on there is nothing to fade: a straight line."""
    density = 1.2
    law, here = fan(windmill=0.0), Air(*(column(x) for x in (density, 1.8e-5, density, density)))
    for row in (row for row, points in enumerate(CURVES) if points[-1][1] == 0):
        last = measured(row)[0][-1]
        slope = -oracle(row)(last - 1e-9) / 1e-9
        for times in (1.1, 3.0):
            found = law.rise(np.full((5, 1), density * times * last), here)[row, 0]
            assert found == pytest.approx(slope * (times - 1) * last, rel=1e-4, abs=1e-4)


def test_rise_never_grows_beyond_the_points():
    """Outside its points no fan helps more the more flows."""
    law, here = fan(), air()
    free = (here.at_start * law.free_flow).max()
    for flows in (np.linspace(-1.0, 0.0, 200), np.linspace(free, 1.0, 200)):
        rise = np.array([law.rise(np.full((5, 1), flow), here) for flow in flows])
        assert (np.diff(rise, axis=0) <= 0).all()


def test_stall_ends_at_the_last_local_maximum():
    """Curves with a rising piece stall up to where the last of them ends; others never do."""
    law = fan(speed=0.5, flow_factor=1.1)
    wanted = np.array([0.03, np.nan, np.nan, 0.01, 0.024]) * 0.5 * 1.1
    np.testing.assert_allclose(law.stall_flow[:, 0], wanted, rtol=1e-14)
    np.testing.assert_array_equal(law.dipped[:, 0], ~np.isnan(wanted))
    free = np.array([0.0472, 0.0472, 0.06, 0.03, 0.03]) * 0.5 * 1.1
    np.testing.assert_allclose(law.free_flow[:, 0], free, rtol=1e-14)


def test_stopped_fan_rises_nothing():
    """Exactly nothing, and its marks are not given."""
    law = fan(running=False)
    for flow in (-0.1, 0.0, 0.1):
        drop, slope = law(np.full((5, 1), flow), air())
        assert not drop.any()
        assert not slope.any()
    assert np.isnan(law.free_flow).all()
    assert np.isnan(law.stall_flow).all()
    assert not law.dipped.any()


def test_fan_takes_the_density_it_is_mounted_to_draw_from():
    """Hot air behind it, cold before it: a breath of either through it leaves its rise as it is."""
    shut_off = column(*(table[0][1] for table in CURVES))
    hot_behind = air(293.15, 363.15)
    for flow in (1e-9, -1e-9):
        breath = np.full((5, 1), flow)
        for sign, density in ((1.0, hot_behind.at_start), (-1.0, hot_behind.at_end)):
            ratio = fan(sign=sign).rise(breath, hot_behind) / shut_off * 1.2
            np.testing.assert_allclose(ratio, np.broadcast_to(density, ratio.shape), rtol=1e-6)


def test_reversed_fan_is_the_mirror_image():
    """Mounted the other way, with both ends exchanged, it does the same backwards."""
    here = air()
    swapped = here._replace(at_start=here.at_end, at_end=here.at_start)
    for flow in (-0.05, -1e-3, 0.0, 1e-3, 0.02, 0.2):
        ahead, back = fan()(column(flow), here), fan(sign=-1.0)(column(-flow), swapped)
        np.testing.assert_array_equal(ahead[0], -back[0])
        np.testing.assert_array_equal(ahead[1], back[1])


@pytest.mark.parametrize("row", rows("fans", "F1"), ids=str)
def test_fan_against_a_duct(row):
    """A textbook's operating point: fan table, duct, elbows, damper."""
    g = row.given
    cubic_foot_a_minute, inch_of_water = 0.3048**3 / 60, g["water_density"] * 9.80665 * 0.0254
    flows = cubic_foot_a_minute * np.array(g["fan_flow"])
    table = list(zip(flows, inch_of_water * np.array(g["fan_rise"]), strict=True))
    diameter, density = 0.0254 * g["diameter"], g["density"]
    area = np.pi / 4 * diameter**2
    viscosity = g["kinematic_viscosity"] * density
    here = Air(*(column(x) for x in (density, viscosity, density, density)))
    blower = fan([table])._replace(pressure_scale=column(1 / density))
    loss = g["losses"] + g["kinetic_factor"]
    series = (
        blower,
        laws.Square.of(column(loss), column(area)),
        laws.DuctFriction(
            column(0.3048 * g["length"]), column(diameter), column(area),
            column(g["roughness"] / diameter), column(64.0),
        ),
    )  # fmt: skip
    flow = brentq(lambda m: laws.in_series(series, column(m), here)[0].item(), 1e-3, 1.0)
    rise = blower.rise(column(flow), here).item()
    row.check(flow=flow / density / cubic_foot_a_minute, rise=rise / inch_of_water)
