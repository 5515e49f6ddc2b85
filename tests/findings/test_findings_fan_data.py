"""What is said of fans and their data sheets, against figures worked by hand."""

from __future__ import annotations

import pytest

from tests.findings import samples_fans
from tests.findings.build import about, numbers


def test_a_sleeve_bearing_upright_is_named_with_its_air():
    (found,) = about(samples_fans.one({"bearing": "sleeve"}, {"direction": "up"}),
                     "bearing-unsuited")  # fmt: skip
    assert found.message() == (
        "fan.roof stands with its shaft vertical in air of 31.6 degC; fan_type.axial has a sleeve "
        "bearing and is for horizontal shafts only"
    )


def test_how_far_the_air_is_out_of_its_range():
    found = numbers(samples_fans.one({"air_range": "-10 60 degC"}, warm={"upper": 62.5}),
                    "fan-air-range")  # fmt: skip
    assert found["away"] == pytest.approx(2.5)
    assert found["side"] == "above"
    cold = numbers(samples_fans.one({"air_range": "35 60 degC"}), "fan-air-range")
    assert cold["away"] == pytest.approx(35.0 - 31.6)
    assert cold["side"] == "below"


def test_a_speed_out_of_range_is_told_with_the_end_it_passes():
    low, high = (numbers(samples_fans.at_speed(r), "speed-below-minimum") for r in (0.15, 1.05))
    assert (low["ratio"], low["bound"], low["side"]) == (0.15, 0.3, "below")
    assert (high["ratio"], high["bound"], high["side"]) == (1.05, 1.0, "above")


def test_total_pressure_is_less_the_velocity_pressure_at_the_flow_area():
    """rho (Q/A)^2/2 (ISO 5801): 0.03 kg/s at 31.6 degC through 95 cm2."""
    found = numbers(samples_fans.one({"curve_pressure": "total"}), "curve-total-pressure")
    density = 101325.0 / (287.05 * 304.75)
    flow = 0.03 / density
    assert found["flow"] == pytest.approx(flow)
    assert found["lost"] == pytest.approx(density / 2 * (flow / 0.0095) ** 2)


def test_life_figures_are_named_by_their_kind():
    (found,) = about(samples_fans.two("mean"), "life-kinds-mixed")
    assert found.message() == (
        "the life of fan.second is a mean, that of fan.roof L10: they are not comparable"
    )
