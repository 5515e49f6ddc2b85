"""What is said of supplies, outages, levels, losses and heat, against figures worked by hand."""

from __future__ import annotations

import dataclasses
import math

import pytest

from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.surroundings import Limits, Outside
from flownet.findings.filters import _loads
from flownet.results.solution import Solution
from tests.findings import samples, samples_returning
from tests.findings import samples_use as s
from tests.findings.build import (
    FLOWS,
    about,
    axial,
    noise_limit,
    numbers,
    part_limit,
    solved,
    things,
)


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
        made = s.outage(scenario, through=-0.01, drop=drop, **more)
        found = numbers(made, "fan-out")
        assert found["flow"] == pytest.approx(0.01 / density)
        assert f"lets {how} back" in about(made, "fan-out")[0].message()
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
    assert ("better" in found) == told
    if told:
        assert (found["better"], found["margin"]) == pytest.approx((90.0 - drive, 10.0))


@pytest.mark.parametrize(("voltage", "hertz", "fan", "row", "words", "severity"), [
    ("230 V", "60 Hz", {}, {}, "ratio of the frequencies", "warning"),
    ("230 V", "60 Hz", {"speed": "2400 rpm"}, {}, "stated in rpm", "warning"),
    ("240 V", "50 Hz", {}, {}, "slip of its motor", "warning"),
    ("240 V", "50 Hz", {}, {"rated_speed": None}, "used as they are", "warning"),
    ("240 V", "50 Hz", {"speed": "2400 rpm"}, {}, "stated in rpm", "warning"),
    ("115 V", "60 Hz", {}, {}, "no scaling leads", "error"),
    ("115 V", "60 Hz", {"speed": "2400 rpm"}, {}, "no scaling leads", "error"),
    ("18 V", None, {}, s.DIRECT, "ratio of the voltages", "warning"),
    ("18 V", None, {"speed": "2400 rpm"}, s.DIRECT, "stated in rpm", "warning"),
])  # fmt: skip
def test_how_data_for_another_supply_are_used(voltage, hertz, fan, row, words, severity):
    (said,) = about(s.fed(voltage, hertz, fan, **row), "supply-mismatch")
    assert words in said.message()
    assert said.severity == severity


def test_a_stopped_fan_on_another_supply_voids_nothing():
    (said,) = about(s.fed("115 V", "60 Hz", {"state": "stopped"}), "supply-mismatch")
    assert said.severity == "warning"


def test_levels_that_are_stated_and_assumed_are_told_as_those_of_free_air():
    """Two types, one of which says so; the other is taken so."""
    made = things(
        type=axial(noise=s.AT, noise_condition="free air"), other=axial("other", noise=s.AT),
        second=samples.roof(name="second", type="other"),
        limits=Limits(noise_dBA=50, noise_distance="1 m", scenarios=["base", "dirty"]),
    )  # fmt: skip
    (said,) = about(solved(made, flows={**FLOWS, "fan.second": 0.0},
                           limits=(noise_limit(48.0, 50.0),)), "noise-free-air")  # fmt: skip
    assert said.values["types"][1] == "fan_type.axial and fan_type.other"
    assert "is that of free air" in said.message()
    broken = s.heard(s.AT, level=51.0)
    assert "broken already" in about(broken, "noise-free-air")[0].message()


@pytest.mark.parametrize(("path", "value", "loads"), [
    ("filter.intake.fouling", {"low": 1.0, "high": 2.0}, True),
    ("filter.intake.fouling", {"low": 2.0, "high": 1.0}, True),
    ("filter.intake.fouling", {"low": 0.5, "high": 1.0}, False),
    ("filter.intake.fouling", (0.5, 2.0), True), ("filter.intake.fouling", (0.5, 1.0), False),
    ("filter.intake.fouling", (-1.0, 2.0), True), ("filter.intake.fouling", -1.0, False),
    ("filter.intake.area", 2.0, False), ("vent.side.fouling", 2.0, False),
])  # fmt: skip
def test_what_loads_a_filter(path, value, loads):
    assert _loads(solved().case, path, value) == loads


def test_a_sweep_may_load_a_filter():
    for fouling, told in ((2.0, False), (1.0, True)):
        case = Enclosure.of(*things().values(), studies={"sweep": {"load": {
            "filter.intake.fouling": (1.0, fouling)}}})  # fmt: skip
        made = dataclasses.replace(solved(scenarios={}), case=case)
        assert bool(about(made, "loaded-filter-not-tried")) == told


def test_only_one_harder_condition_is_told_where_it_is_one():
    (hot,) = about(s.outage("fan.second-out", "hot", "each-fan-out"), "outage-not-at-worst")
    (dirty,) = about(s.outage("fan.second-out", "dirty", "each-fan-out"), "outage-not-at-worst")
    for said, words in ((hot, "outside (others"), (dirty, "fouling of 1 (others")):
        assert words in said.message()
        assert said.message().count("others") == 1


@pytest.mark.parametrize(("efficiency", "words"), [(1.0, "gives no heat"), (0.11, "of heat for")])
def test_an_efficiency_of_one_leaves_no_heat(efficiency, words):
    (said,) = about(s.heating(output="600 W", efficiency=efficiency), "power-not-heat")
    assert words in said.message()


def weak(*beside: str) -> Solution:
    """A fan that stands in the roof, with others that run there."""
    more = {name: samples.roof(name=name) for name in beside}
    made = things(weak=samples.roof(name="weak", state="stopped"), **more)
    return solved(made, flows={**FLOWS, "fan.weak": -0.02, **{f"fan.{n}": 0.01 for n in more}})


def chilled(flow: float) -> Solution:
    """A compartment 0.4 K below the dew point of 19.4 degC."""
    outside = Outside(temperature="35 degC", relative_humidity=0.4)
    warm, flows = {"lower": 19.0, "upper": 40.0}, dict.fromkeys(FLOWS, flow)
    return solved(things(outside=outside), warm=warm, flows=flows)


@pytest.mark.parametrize(("sample", "rule", "words"), [
    (lambda: samples.vented(loss=250.0), "loss-area-suspect", "no more air"),
    (lambda: samples.vented(loss=0.04), "loss-area-suspect", "larger than itself"),
    (samples.beside_turned, "fans-opposed", "fan.turned blows the other way than fan.roof"),
    (samples.beside_turned, "fans-opposed", "go round there"),
    (weak, "fan-out", "that fan.roof moves back"),
    (lambda: weak("second"), "fan-out", "that fan.roof and fan.second move back"),
    (lambda: samples_returning.stirred(0.02), "air-returns-inside", "fan.stir moves has passed it"),
    (lambda: chilled(0.03), "condensation", "At this flow"),
    (lambda: chilled(0.001), "condensation", "At this flow"),
    (lambda: chilled(0.0), "condensation", "Keep the inside"),
])  # fmt: skip
def test_what_is_said_follows_the_case(sample, rule, words):
    (found,) = about(sample(), rule)
    assert words in found.message() + found.advice()


def test_two_equal_parts_are_told_by_what_the_hotter_gets():
    told = [each.values["it"][1] for each in about(samples.alike(), "resistance-at-sea-level")]
    assert told == ["it gets", "they get up to"]


def test_two_fans_that_are_turned_blow_the_other_way():
    made = things(**{n: samples.roof(name=n, mounted="reversed") for n in ("one", "two")})
    flows = {**FLOWS, "fan.one": 0.001, "fan.two": 0.001}
    (found,) = about(solved(made, flows=flows), "fans-opposed")
    assert found.message() == "fan.one and fan.two blow the other way than fan.roof beside: " + (
        "mounted backwards")  # fmt: skip
