"""Outages by name: how a fan can fail, what each changes, and the names that stand for many."""

from __future__ import annotations

import pytest

from flownet.enclosure.fans import Fan, FanType
from flownet.enclosure.outages import EACH, SHUTTER, outage, outage_names
from flownet.enclosure.scenarios import expand, scenario_changes
from flownet.schema.errors import CaseError
from tests.each import every
from tests.every_kind import everything

CASE = everything()


def test_every_fan_and_supply_has_its_outages():
    names = outage_names(CASE)
    assert {"fan.left-out", "fan.left-shut", "fan.left-blanked", "supply.mains-out"} <= set(names)
    assert {f"{name}-rest-up" for name in names if not name.endswith("-rest-up")} <= set(names)
    assert all(outage(CASE, name).name == name for name in names)
    assert outage(CASE, "fan.nobody-out") is None
    assert outage(CASE, "supply.mains-shut") is None
    assert outage(CASE, "hot") is None


def test_a_fan_fails_open_shut_or_blanked():
    assert scenario_changes(CASE, "fan.left-out") == {"fan.left.state": "stopped"}
    assert scenario_changes(CASE, "fan.left-blanked") == {"fan.left.state": "blanked"}
    assert CASE.fans["left"].shutter is None
    shut = CASE.under("fan.left-shut").fans["left"]
    assert (shut.state, shut.shutter.open_loss, shut.shutter.closed_leak) == (
        "stopped", SHUTTER["open_loss"], SHUTTER["closed_leak"],
    )  # fmt: skip
    own = CASE.fans["right"].shutter
    assert own is not None
    assert CASE.under("fan.right-shut").fans["right"].shutter == own
    for way in ("shut", "blanked", "out-rest-up"):
        assert scenario_changes(CASE, f"fan.spare-{way}") == {}  # its hole is closed as it is


def fast(**fan):
    axial = CASE.things["fan_type"]["axial"]
    values = {"curve": axial.curve, "flow_area": axial.flow_area, "rated_speed": 40.0}
    return everything(
        FanType(name="quick", **values, speed_range=(0.3, 1.2)),
        Fan(name="right", from_="high", to="outside", type="quick", **fan),
    )


def test_the_rest_goes_to_the_top_of_its_speed_range():
    changes = scenario_changes(fast(), "fan.left-out-rest-up")
    assert changes["fan.left.state"] == "stopped"
    assert changes["fan.right.speed"] == 1.2
    assert fast().under("fan.left-out-rest-up")["fan.right.speed"] == 1.2
    alone = scenario_changes(fast(), "fan.right-out-rest-up")
    assert "fan.right.speed" not in alone


def test_a_speed_in_rpm_is_compared_with_the_rated_one():
    assert scenario_changes(fast(rotation=40.0), "fan.left-out-rest-up")["fan.right.speed"] == 1.2
    assert "fan.right.speed" not in scenario_changes(fast(rotation=50.0), "fan.left-out-rest-up")
    made = fast(rotation=40.0).under("fan.left-out-rest-up").fans["right"]
    assert (made.speed, made.rotation != made.rotation) == (1.2, True)


def test_a_speed_that_follows_a_temperature_no_longer_does():
    """Its curve is level at the top; a point that is above it stays."""
    control = {"by": "outside", "temperature": (300.0, 320.0), "speed": (0.5, 1.3)}
    case = fast(speed_control=control)
    made = case.under("fan.left-out-rest-up").fans["right"].speed_control
    assert made.speed == (1.2, 1.3)
    assert made.temperature == (300.0, 320.0)


def test_nothing_is_slowed_down():
    assert "fan.right.speed" not in scenario_changes(fast(speed=1.5), "fan.left-out-rest-up")


def test_each_form_is_one_scenario_for_every_fan_that_runs():
    for way in ("out", "shut", "blanked"):
        for up in ("", "-rest-up"):
            assert expand(CASE, f"hot+each-fan-{way}{up}") == [
                f"hot+fan.left-{way}{up}", f"hot+fan.right-{way}{up}",
            ]  # fmt: skip
    assert expand(CASE, "each-supply-out-rest-up") == ["supply.mains-out-rest-up"]
    assert set(EACH) >= {"each-fan-out", "each-supply-out", "each-fan-shut"}
    with pytest.raises(CaseError, match="each-fan-shut stands for several scenarios"):
        CASE.under("each-fan-shut")


@every(("scenario", "hint"), [
    ("fan.left-blankd", 'did you mean "fan.left-blanked"'),
    ("fan.left-shutt", 'did you mean "fan.left-shut"'),
    ("fan.left-out-rest-upp", 'did you mean "fan.left-out-rest-up"'),
    ("each-fan-shutt", 'did you mean "each-fan-shut"'),
])  # fmt: skip
def test_an_unknown_outage_gets_the_nearest_name(scenario, hint):
    with pytest.raises(CaseError, match=hint):
        CASE.under(scenario)


@every("name", ["left-out", "a-out", "each-fan-shut", "each-supply-out-rest-up"])
def test_scenarios_that_read_like_an_outage_are_reserved(name):
    with pytest.raises(CaseError, match="reserved for outages"):
        everything(scenarios={name: {"outside.temperature": 300.0}})


def test_anything_else_may_be_called_so():
    """An outage ends in its way, so no name of a fan can be taken for one."""
    names = ("left-out", "left-shut", "base", "right-out-rest-up")
    case = everything(*(Fan(name=name, from_="high", to="outside", type="axial") for name in names),
                      scenarios={"hot-shut": {"outside.temperature": 300.0}})  # fmt: skip
    for scenario, failed in (
        ("fan.left-out", "left"), ("fan.left-out-out", "left-out"), ("fan.base-out", "base"),
        ("fan.left-shut-shut", "left-shut"), ("fan.right-out-rest-up", "right"),
        ("fan.right-out-rest-up-out", "right-out-rest-up"),
    ):  # fmt: skip
        stopped = [fan.name for fan in case.under(scenario).fans.values() if fan.state == "stopped"]
        assert stopped == [failed]
    assert case.under("hot-shut").outside.temperature == 300.0
