"""One fan curve as it is read: its line is the one the solver takes, its dip is found."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.interpolate import PchipInterpolator

import flownet
from flownet.schema.errors import CaseError
from flownet.studies.fans.curve import curve_of_file, fan_curve
from tests.test_fan_catalogue import ROWS


def made(curve, **more):
    return flownet.FanType(name="f", flow_area="0.0079 m2", curve=curve, **more)


DIPPED = {"flow": "0 60 85 110 140 170 m3/h", "rise": "78 52 47 49 30 0 Pa"}


@pytest.mark.parametrize("name", list(ROWS)[::5])
def test_the_line_is_the_monotone_one_through_the_points(name):
    """Away from the two ends, whose slopes are held, that of scipy's monotone interpolation."""
    row = ROWS[name]
    found = fan_curve(row)
    flow, rise = np.array(row.curve).T
    inner = (found.flow >= flow[1]) & (found.flow <= flow[-2])
    want = PchipInterpolator(flow, rise)(found.flow[inner])
    np.testing.assert_allclose(found.rise[inner], want, rtol=1e-9, atol=1e-9)
    np.testing.assert_allclose([found.at(x) for x in flow], rise, atol=1e-9)
    assert (np.diff(found.rise[found.flow >= (found.peak if found.dip else 0)]) < 1e-9).all()


def test_the_dip_is_where_one_pressure_has_several_flows():
    found = fan_curve(made(DIPPED))
    assert found.peak == pytest.approx(110 / 3600)
    assert found.lowest == pytest.approx((85 / 3600, 47.0))
    low, high = found.dip
    assert high == found.peak
    assert found.at(low) == pytest.approx(49.0, abs=0.2)
    assert low < found.lowest[0]
    smooth = fan_curve(made({"flow": "0 60 110 170 m3/h", "rise": "78 52 44 0 Pa"}))
    assert smooth.dip is None
    assert np.isnan(smooth.lowest).all()


def test_total_pressure_is_made_static_with_the_outlet_velocity():
    """p_static = p_total - rho (Q/A)^2/2 (ISO 5801), at every point."""
    row = made(DIPPED, curve_pressure="total", reference_density="1.15 kg/m3")
    found = fan_curve(row)
    assert found.static
    for (flow, rise), (_, total) in zip(found.fitted, found.points, strict=True):
        assert rise == pytest.approx(total - 1.15 / 2 * (flow / 0.0079) ** 2)
    assert found.at(0.0) == 78.0


def test_the_line_is_what_the_solver_works_on():
    """A fan on its curve in a case at its own density and speed, within that of interpolation."""
    row = ROWS["axial-119x38-230v"]
    case = flownet.Enclosure.of(
        flownet.Outside(temperature=f"{101325 / 287.05 / 1.2} K"),
        flownet.Compartment(name="box"),
        flownet.Opening(name="in", from_="outside", to="box", area="70 cm2"),
        row,
        flownet.Fan(name="out", from_="box", to="outside", type=row.name),
    )
    solved = flownet.solve(case)
    rise = solved.fans["fan.out"].rise
    assert rise == pytest.approx(fan_curve(row).at(solved.volume_flow("fan.out")), rel=1e-4)


def test_a_file_keeps_total_pressure_and_an_unknown_density_is_assumed():
    values = {"curve": ((0.0, 80.0), (0.03, 0.0)), "curve_pressure": "total"}
    found = curve_of_file(values, "x.csv")
    assert not found.static
    assert not found.density_given
    assert found.density == 1.2
    assert (found.name, found.points, found.fitted) == ("x.csv", *[values["curve"]] * 2)
    assert np.isnan(found.rotation)


# --- catalogues by themselves -------------------------------------------------------------------


def test_fan_types_of_a_catalogue_with_like_and_ratings(tmp_path):
    text = (
        '[fan_type.a]\nflow_area = "80 cm2"\npower = "3 W"\n'
        'curve = { flow = "0 50 m3/h", rise = "30 0 Pa" }\n'
        '[fan_type.a.rating.sixty]\nsupply = "230 V 60 Hz"\npower = "4 W"\n'
        '[fan_type.b]\nlike = "a"\npower = "5 W"\n[slot_type.x]\ngap = "2 mm"\n'
    )
    (tmp_path / "f.toml").write_text(text)
    found = flownet.load_fan_types(tmp_path / "f.toml")
    assert [(name, row.power) for name, row in found.items()] == [
        ("a", 3.0), ("a.rating.sixty", 4.0), ("b", 5.0),
        ("b.rating.sixty", 4.0)]  # fmt: skip
    (tmp_path / "f.toml").write_text(text.replace("80 cm2", "80 Pa").replace("like", "lik"))
    with pytest.raises(CaseError) as caught:
        flownet.load_fan_types(tmp_path / "f.toml")
    said = "\n".join(caught.value.faults)
    assert "f.toml: fan_type.a.flow_area" in said
    assert 'f.toml: fan_type.b.lik: unknown key; did you mean "like"?' in said
    with pytest.raises(CaseError, match=r"no\.toml: no such file"):
        flownet.load_fan_types(tmp_path / "no.toml")
