"""What is said of supplies, outages, levels, losses and heat, against figures worked by hand."""

from __future__ import annotations

import dataclasses
import math

import pytest

from tests.findings import samples
from tests.findings import samples_use as s
from tests.findings.build import about, numbers, part_limit


def test_direct_current_is_scaled_by_its_voltage():
    """18 of 24 V: 0.75 of the speed, 0.5625 of the pressure, 50 log10(0.75) = -6.2 dB."""
    found = numbers(s.fed("18 V", None, **s.DIRECT), "supply-mismatch")
    assert found["ratio"] == pytest.approx(0.75)
    assert found["square"] == pytest.approx(0.5625)
    assert found["noise"] == "-6.2 dB"


@pytest.mark.parametrize("found", [
    s.fed("115 V", "60 Hz"), s.fed("24 V", "50 Hz", **s.DIRECT), s.fed("9 V", None, **s.DIRECT),
])  # fmt: skip
def test_what_no_scaling_reaches_is_said_to_be_so(found):
    (said,) = about(found, "supply-mismatch")
    assert "no scaling leads from one to the other" in said.message()


def test_a_shared_supply_names_both_sides():
    (said,) = about(s.outage("fan.second-out", "each-fan-out"), "shared-supply")
    assert said.subject == "supply.mains"
    assert "feeds fan.second, which fails in this scenario, and fan.roof" in said.message()
    assert "supply.mains-out" in said.advice()
    (alone,) = about(s.outage("fan.second-out", "each-fan-out", alone=True), "shared-supply")
    assert (said.severity, alone.severity) == ("warning", "note")


def test_an_outage_is_told_how_much_harder_others_are():
    (said,) = about(s.outage("fan.second-out", "hot", "dirty", "each-fan-out"),
                    "outage-not-at-worst")  # fmt: skip
    assert said.message() == (
        "fan.second-out is tried with 25.0 degC outside (others go up to 40.0 degC) and a "
        "fouling of 1 (others go up to 2)"
    )


def test_what_a_nameplate_would_be_as_heat():
    """600 W out at 0.9: 600 (1/0.9 - 1) = 66.7 W; an efficiency of 0.11 taken for a loss share."""
    found = numbers(s.heating(power="600 W", power_basis="nameplate"), "power-not-heat")
    assert found["heat"] == pytest.approx(600 * (1 / 0.9 - 1))
    found = numbers(s.heating(output="600 W", efficiency=0.11), "power-not-heat")
    assert found["heat"] == pytest.approx(600 * (1 / 0.11 - 1))
    assert found["meant"] == pytest.approx(600 * (1 / 0.89 - 1))  # 74 W


def test_a_level_of_free_air_is_told_with_what_is_left():
    (assumed,) = about(s.heard(s.AT), "noise-free-air")
    (said,) = about(s.heard(s.AT, "free air"), "noise-free-air")
    assert "is taken as one of free air; installed it is louder, and 4.0 dB" in assumed.message()
    assert "is that of free air" in said.message()


def test_limit_and_type_are_both_asked_for_their_distance():
    subjects = [said.subject for said in about(s.heard(None, distance=None),
                                               "noise-distance-missing")]  # fmt: skip
    assert subjects == ["fan_type.axial.noise_dBA", "limits.noise_dBA"]


def test_a_dead_fan_says_what_the_other_sort_of_rotor_lets_back():
    """At one pressure flows go as 1/sqrt(K): K = 10 stuck (default), 4 turned by the air."""
    area = 95e-4
    for more, own, other, how in (
        ({}, 10.0, s.WHEEL, "more"), ({"state": "freewheeling"}, s.WHEEL, 10.0, "less"),
    ):  # fmt: skip
        scenario = "hot" if more else "fan.second-out"
        solution = s.outage(scenario, through=-0.01, **more)
        density = float(solution.branches["fan.second"].density)
        drop = own * density * (0.01 / density / area) ** 2 / 2
        found = numbers(s.outage(scenario, through=-0.01, drop=drop, **more), "fan-out")
        assert found["flow"] == pytest.approx(0.01 / density)
        assert found["how"] == how
        assert found["other"] == pytest.approx(found["flow"] * math.sqrt(own / other))
    (plain,) = about(s.outage("fan.second-out", through=-0.01, type="plain"), "fan-out")
    assert "about" not in plain.message()


@pytest.mark.parametrize(("drive", "told"), [(80.4, False), (80.6, True), (79.4, True)])
def test_another_state_tells_its_worst_margin_where_that_differs_by_half_a_kelvin(drive, told):
    """10 K here, with the drive at 80 of 90 degC."""
    other = samples.elsewhere("stall", 30.0)
    other = dataclasses.replace(other, limits=(part_limit("drive", drive, 90.0),))
    found = numbers(samples.beside(other), "other-operating-point")
    assert (found["flow"], found["now"]) == pytest.approx((30 / 3600, 55 / 3600))
    assert ("then" in found) == told
    if told:
        assert (found["then"], found["margin"]) == pytest.approx((90.0 - drive, 10.0))
