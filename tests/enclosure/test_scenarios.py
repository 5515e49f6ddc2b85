"""Scenarios and variants by name: joined, ready-made outages, and those that stand for several."""

from __future__ import annotations

import pytest

from flownet.enclosure.apply import covered
from flownet.enclosure.scenarios import expand, variant_changes
from flownet.schema.errors import CaseError
from tests.each import every
from tests.every_kind import everything

CASE = everything()


def states(case):
    return [fan.state for fan in case.fans.values()]


def test_a_scenario_is_its_changes():
    hot = CASE.under("hot")
    assert hot.outside.temperature == pytest.approx(323.15)
    assert hot == CASE.with_changes({"outside.temperature": "50 degC"})
    assert CASE.under() == CASE
    assert (hot.applied.scenario, hot.applied.variant) == ("hot", "base")
    assert hot.applied.changes == {"outside.temperature": 323.15}


def test_scenarios_join_from_left_to_right_and_later_wins():
    assert CASE.under("hot+cool").outside.temperature == pytest.approx(293.15)
    assert CASE.under("cool+hot").outside.temperature == pytest.approx(323.15)
    both = CASE.under(" hot + dirty ")
    assert (both.outside.temperature, both["filter.mat.fouling"]) == (pytest.approx(323.15), 2.0)
    assert both.applied.scenario == "hot+dirty"


def test_a_variant_comes_before_a_scenario():
    case = everything(
        scenarios={"calm": {"fan.*.speed": 0.5}}, variants={"fast": {"fan.*.speed": 1.2}}
    )
    assert case.under("calm", "fast")["fan.left.speed"] == 0.5
    assert case.under(variant="fast")["fan.left.speed"] == 1.2
    assert case.under("calm", "fast").applied[:2] == ("calm", "fast")


def test_what_was_applied_before_is_remembered():
    """A change, then a variant, then two scenarios one after the other."""
    made = CASE.with_changes({"fan.left.guard.loss": 0.1, "fan.right.speed": 0.8})
    made = made.under("hot", "slow").under("dirty")
    assert made.applied.scenario == "hot+dirty"
    assert made.applied.variant == "slow"
    assert made.applied.changes == {
        "fan.left.guard.loss": 0.1, "fan.*.speed": 0.7, "outside.temperature": 323.15,
        "filter.*.fouling": 2.0,
    }  # fmt: skip
    assert CASE.with_changes(made.applied.changes) == made


def test_outages_are_those_of_the_fans_that_run_then():
    """In a variant that opens a place, or after a scenario that changes a supply."""
    assert states(CASE.under("supply.mains-out")) == ["stopped", "stopped", "blanked"]
    assert states(CASE.under("supply.battery-out")) == ["running", "running", "blanked"]
    three = CASE.under("fan.spare-out", "three-fans")
    assert states(three) == ["running", "running", "stopped"]
    case = everything(scenarios={"moved": {"fan.right.supply": "battery"},
                                 "one": {"fan.left.state": "blanked"}})  # fmt: skip
    assert states(case.under("moved+supply.mains-out")) == ["stopped", "running", "blanked"]
    assert states(case.under("one+supply.mains-out")) == ["blanked", "stopped", "blanked"]
    assert states(case.under("one+fan.left-out")) == ["blanked", "running", "blanked"]


def test_each_outage_is_one_scenario_for_every_fan_or_supply():
    assert expand(CASE, "each-fan-out") == ["fan.left-out", "fan.right-out"]
    assert expand(CASE, "hot + each-fan-out+dirty") == [
        "hot+fan.left-out+dirty", "hot+fan.right-out+dirty",
    ]  # fmt: skip
    assert expand(CASE, "each-supply-out") == ["supply.mains-out"]
    assert expand(CASE.under(variant="three-fans"), "each-supply-out") == [
        "supply.mains-out", "supply.battery-out",
    ]  # fmt: skip
    assert expand(CASE, "each-fan-out+each-fan-out") == [
        "fan.left-out+fan.right-out", "fan.right-out+fan.left-out",
    ]  # fmt: skip
    assert expand(CASE, "hot") == ["hot"]
    assert expand(CASE, "nowhere+each-supply-out") == ["nowhere+supply.mains-out"]
    assert expand(CASE, "supply.mains-out+each-fan-out") == []  # nothing runs that could fail


@every(
    ("scenario", "sentence"),
    [
        ("hto", 'no scenario "hto"; did you mean "hot"?'),
        ("hot+qqq", 'scenario "hot+qqq": no scenario "qqq"; known: base, hot, cool, dirty, '
         "fan.left-out"),
        ("fan.lef-out", 'did you mean "fan.left-out"?'),
        ("each-fan-out", "each-fan-out stands for several scenarios; name one of them"),
        ("hot+each-supply-out", "each-supply-out stands for several scenarios"),
        ("", 'no scenario ""'),
    ],
)  # fmt: skip
def test_a_name_that_is_not_one_scenario_is_refused(scenario, sentence):
    with pytest.raises(CaseError) as error:
        CASE.under(scenario)
    assert sentence in str(error.value)


def test_a_variant_must_be_known():
    assert variant_changes(CASE, "base") == {}
    with pytest.raises(CaseError, match='variant "slo": no such variant; did you mean "slow"'):
        CASE.under(variant="slo")
    with pytest.raises(CaseError, match="known: base, slow, three-fans"):
        CASE.under(variant="quite-other")


@every(
    ("first", "then", "left"),
    [
        ({"fan.left.speed": 1}, {"fan.left.speed": 2}, {"fan.left.speed": 2}),
        ({"fan.left.speed": 1, "limits.margin": 5}, {"fan.*.speed": 2},
         {"limits.margin": 5, "fan.*.speed": 2}),
        ({"fan.*.speed": 1}, {"fan.left.speed": 2}, {"fan.*.speed": 1, "fan.left.speed": 2}),
        ({"fan.*t.speed": 1}, {"fan.*.speed": 2}, {"fan.*.speed": 2}),
        ({"fan.*.speed": 1}, {"fan.*t.speed": 2}, {"fan.*.speed": 1, "fan.*t.speed": 2}),
        ({"fan.left.guard.loss": 1}, {"fan.left.guard": {}}, {"fan.left.guard": {}}),
        ({"fan.left.guard.loss": 1}, {"fan.*.guard": {}}, {"fan.*.guard": {}}),
        ({"fan.left.guard": {}}, {"fan.left.guard.loss": 1},
         {"fan.left.guard": {}, "fan.left.guard.loss": 1}),
        ({"filter.mat.at.1": 1}, {"filter.mat.at": (1, 2)}, {"filter.mat.at": (1, 2)}),
        ({"limits.margin": 5}, {"limits.flow": 1}, {"limits.margin": 5, "limits.flow": 1}),
        ({"fan.left.speed": 1}, {"fan.left.speed": 2, "fan.*.speed": 3}, {"fan.*.speed": 3}),
    ],
)  # fmt: skip
def test_what_has_no_effect_any_more_is_left_out(first, then, left):
    assert list(covered(CASE, first, then).items()) == list(left.items())


@every(
    ("joined", "name"),
    [("hot+hot", "hot"), ("hot+dirty + hot", "hot"), ("fan.left-out+fan.left-out", "fan.left-out")],
)
def test_a_name_stands_once_in_a_join(joined, name):
    with pytest.raises(CaseError) as found:
        CASE.under(joined)
    assert found.value.faults == (f'scenario "{joined}": {name} stands twice; name it once',)


def test_variants_are_not_joined_as_scenarios_are():
    case = everything(variants={"slow": {"fan.left.speed": 0.5}, "dirty": {"filter.*.fouling": 2}})
    with pytest.raises(CaseError, match=r'variant "slow\+dirty": variants are not joined by \+'):
        variant_changes(case, "slow+dirty")
    with pytest.raises(CaseError, match=r'no such variant; did you mean "slow"'):
        variant_changes(case, "slo")
