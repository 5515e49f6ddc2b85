"""Rules on what the solver finds: they must see what the equations say without help."""

from __future__ import annotations

import pytest

from flownet.enclosure.branches import Opening, Vent
from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.fans import Fan
from flownet.enclosure.heat import Part
from flownet.enclosure.surroundings import Compartment
from flownet.solving.solve import solve
from tests.each import each, named
from tests.findings import samples
from tests.findings.build import DIRTY, HUMP, WARM, about, axial, panel, things


def solution(scenario="base", scenarios=DIRTY, **changed):
    """The cabinet solved; `changed` as in `things`."""
    return solve(Enclosure.of(*things(**changed).values(), scenarios=scenarios), scenario=scenario)


def rules(found):
    return {finding.rule for finding in found.findings}


@each(named(["base", "dirty"]))
def test_a_sound_cabinet_is_silent(scenario):
    assert rules(solution(scenario)) == set()


def test_a_weak_fan_beside_a_strong_one_is_driven_backwards():
    """It turns where the strong one alone holds more than the weak one's shut-off pressure."""
    narrow = Vent(name="narrow", from_="outside", to="lower", area="60 cm2", loss=2.5)
    small = axial("small", curve={"flow": "0 30 60 m3/h", "rise": "15 10 0 Pa"})
    weak = samples.roof(name="weak", type="small", state="blanked")
    made = {"intake": narrow, "small": small, "scenarios": {}}
    alone = solution(weak=weak, **made)
    assert alone["compartment.upper.pressure"] < -15.0
    both = solution(weak=samples.roof(name="weak", type="small"), **made)
    (found,) = about(both, "fan-backflow")
    assert found.subject == "fan.weak"
    assert found.values["flow"][1] == pytest.approx(-both["fan.weak.volume_flow"])


def test_a_tight_intake_holds_a_fan_in_its_stall_range():
    tight = Vent(name="tight", from_="outside", to="lower", area="20 cm2", loss=2.5)
    found = solution(intake=tight, type=axial(curve=HUMP), scenarios={})
    assert 0 < found["fan.roof.volume_flow"] < 50 / 3600
    assert "fan-stall" in rules(found)


def test_a_strong_fan_pushes_a_small_one_past_its_free_delivery():
    small = axial("small", curve={"flow": "0 30 60 m3/h", "rise": "15 10 0 Pa"})
    front = samples.roof(name="front", from_="outside", to="lower", type="small")
    found = solution(intake=None, front=front, small=small, scenarios={})
    assert found["fan.front.volume_flow"] > 60 / 3600
    assert "fan-past-free-delivery" in rules(found)


def test_a_sealed_box_is_told_from_a_ventilated_one():
    box = {
        "box": Compartment(name="box"), "side": panel(name="side", from_="box"),
        "heat": Part(name="heat", in_="box", power="30 W"),
    }  # fmt: skip
    (found,) = about(solution(**box), "no-through-air")
    assert found.subject == "compartment.box"
    assert found.values["heat"][1] == pytest.approx(30.0)
    assert found.values["rise"][1] == pytest.approx(30.0 / 5.5)  # P / (U A), 1 m2


def test_two_fans_head_on():
    turned = samples.roof(mounted="reversed", pressure_factor=0.5)
    front = samples.roof(name="front", from_="outside", to="lower")
    assert "fans-opposed" in rules(solution(intake=None, front=front, roof=turned, scenarios={}))


def test_two_fans_head_on_are_found_beside_a_small_gap_not_beside_a_vent():
    """A hole of a tenth of both fans' flow area (95 cm2 each) is no way out; 60 cm2 are."""
    turned = samples.roof(mounted="reversed")
    front = samples.roof(name="front", from_="outside", to="lower")
    for area, opposed in (("10 cm2", True), ("60 cm2", False)):
        gap = Opening(name="gap", from_="upper", to="outside", area=area)
        found = solution(intake=None, front=front, roof=turned, gap=gap, scenarios={})
        assert ("fans-opposed" in rules(found)) == opposed


def test_a_fan_mounted_backwards_beside_others_sends_their_air_round():
    """Mass: what the turned fan blows in, the others blow out above what the filter lets in."""
    turned = samples.roof(name="turned", mounted="reversed")
    found = solution(turned=turned, scenarios={})
    (told,) = about(found, "fans-opposed")
    assert told.subject == "fan.turned"
    assert told.values["flow"][1] == pytest.approx(-found["fan.turned.volume_flow"])
    assert told.values["flow"][1] > 0
    assert found["fan.roof.mass_flow"] == pytest.approx(
        found["filter.intake.mass_flow"] - found["fan.turned.mass_flow"], rel=1e-6
    )
    assert "mounted backwards" in told.message()
    pull = samples.roof(name="push", from_="outside", to="upper")  # push and pull: meant so
    assert "fans-opposed" not in rules(solution(push=pull, scenarios={}))


def test_draught_against_a_weak_fan():
    """Hot air in a cabinet 1.8 m high, blown down by a fan at a quarter of its speed."""
    low = Vent(name="low", from_="lower", to="outside", area="450 cm2", loss=2.5, at="0 0 mm")
    down = samples.roof(mounted="reversed", at="400 1800 mm", speed=0.25)
    found = solution(intake=None, low=low, roof=down, scenarios={})
    assert found["fan.roof.volume_flow"] < 0
    assert "draught-against-fan" in rules(found)


def test_an_outage_in_the_list_of_limits_is_an_error():
    named = samples.limits(scenarios=["each-fan-out"])
    found = solution("fan.roof-out", limits=named)
    assert {f.severity for f in about(found, "limit-air")} == {"error"}
    assert WARM["upper"] < found["compartment.upper.temperature_degC"]


@each(named([1e-6, 1e-4, 1e-2, 1.0]))
def test_a_fan_that_hardly_turns_lacks_no_outlet(speed):
    """A vent of 100 cm2 with K = 3 is worth 100/(0.61 sqrt 3) = 95 cm2, however slow the air is."""
    case = Enclosure.of(
        Compartment(name="box"), axial(), Fan(name="in", from_="outside", to="box", type="axial",
                                              speed=speed),
        Vent(name="out", from_="box", to="outside", area="100 cm2", loss=3),
    )  # fmt: skip
    assert about(solve(case), "outlet-missing") == []
