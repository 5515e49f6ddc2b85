"""A dead fan by closed form: its open hole, a shutter, blanked, and the other sped up."""

from __future__ import annotations

from types import SimpleNamespace

import pytest

import flownet
from flownet.enclosure.fans import Fan
from flownet.enclosure.outages import SHUTTER
from flownet.enclosure.surroundings import Supply
from flownet.schema import quantities as q
from flownet.studies.outages import (
    Failure,
    Outages,
    _alike,
    _changes,
    _conditions,
    _helps,
    _margin,
    outages,
)
from tests.studies.dead_fan import STOPPED, box, crossing
from tests.test_cases import load

CLOSE = 2e-3  # laws turn linear near zero flow, which the closed form leaves out
CLOSED = 1 / (0.61 * SHUTTER["closed_leak"]) ** 2  # K of a sharp-edged hole, contraction 0.61
WAYS = {  # scenario -> loss of what stands, speed of what runs
    "fan.left-out": (STOPPED, 1.0),
    "fan.left-shut": (STOPPED + CLOSED, 1.0),
    "fan.left-blanked": (None, 1.0),
    "fan.left-out-rest-up": (STOPPED, 1.25),
    "fan.left-blanked-rest-up": (None, 1.25),
    "fan.left-shut-rest-up": (STOPPED + CLOSED, 1.25),
}


@pytest.mark.parametrize("scenario", WAYS)
def test_one_fan_dead_is_the_crossing_of_its_closed_form(scenario):
    found, wanted = flownet.solve(box(), scenario=scenario), crossing(*WAYS[scenario])
    assert -found["compartment.box.pressure"] == pytest.approx(wanted.suction, rel=CLOSE)
    assert found["fan.right.volume_flow"] == pytest.approx(wanted.running, rel=CLOSE)
    back = 0.03 * wanted.back if "shut" in scenario else CLOSE * wanted.back  # a small leak
    assert -found["fan.left.volume_flow"] == pytest.approx(wanted.back, abs=back + 1e-12)


def test_without_a_speed_range_there_is_nothing_to_speed_up():
    plain = box(speed_range=None)
    slow, fast = (flownet.solve(plain, scenario=f"fan.left-out{up}") for up in ("", "-rest-up"))
    assert fast["fan.right.speed_ratio"] == slow["fan.right.speed_ratio"] == 1.0
    assert fast["fan.right.volume_flow"] == slow["fan.right.volume_flow"]


def test_a_shutter_of_its_own_is_kept():
    """Its open loss, which the closed form leaves out, is next to nothing."""
    own = box(shutter={"open_loss": 1e-6, "closed_leak": 0.2})
    hole = crossing(STOPPED + 1 / (0.61 * 0.2) ** 2)
    for way in ("out", "shut"):
        found = flownet.solve(own, scenario=f"fan.left-{way}")
        assert -found["fan.left.volume_flow"] == pytest.approx(hole.back, rel=5e-3)


def test_the_outage_table_is_the_closed_form():
    """Its flow through the dead fan, the way it blows: back is below zero; both fans are alike."""
    found = outages(box(), variants=["base"])
    assert [item.failed for item in found.failures] == ["fan.left", "fan.right"]
    for item in found.failures:
        assert item.flow == pytest.approx(-crossing(STOPPED).back, rel=CLOSE)
        for name, way in (("out", "out"), ("blanked", "blanked"), ("rest_up", "out-rest-up")):
            wanted = crossing(*WAYS[f"fan.left-{way}"])
            cell = getattr(item, name)
            assert cell.volume_flow == pytest.approx(wanted.running, rel=CLOSE)
    assert found.verdicts() == ("base does not hold even with nothing out (-)",)  # without limits


def test_a_reversed_fan_counts_the_way_it_blows():
    """Both mounted backwards blow in; through the dead one air leaves, against its way."""
    found = outages(box(mounted="reversed"), variants=["base"])
    wanted = crossing(STOPPED).back
    assert [item.flow for item in found.failures] == [pytest.approx(-wanted, rel=CLOSE)] * 2


def test_a_supply_takes_all_its_fans_with_it():
    case = box()
    items = [item for named in case.things.values() for item in named.values() if item.name]
    items = [i for i in items if i.KIND != "fan"] + [case.outside, Supply(name="a", voltage=24.0)]
    fans = [Fan(name=n, from_="box", to="outside", type="axial", supply="a") for n in "xy"]
    alone = Fan(name="z", from_="box", to="outside", type="axial")
    other = flownet.Enclosure.of(*items, *fans, alone, title="three fans, invented data")
    found = outages(other, scenarios=["each-supply-out"])
    assert [i.failed for i in found.failures] == ["fan.x", "fan.y", "fan.z", "supply.a"]
    dead = flownet.solve(other, scenario="supply.a-out")
    total = dead["fan.x.volume_flow"] + dead["fan.y.volume_flow"]
    assert found.failures[-1].flow == pytest.approx(total, rel=1e-6)
    assert found.failures[-1].shut is None


@pytest.mark.parametrize(
    ("asked", "conditions", "kinds"),
    [
        (["hot"], ["hot"], {"fan"}), (["hot", "dirty"], ["hot", "dirty"], {"fan"}),
        (["hot+fan.left-out", "dirty"], ["hot"], {"fan"}),
        (["each-fan-out"], ["base"], {"fan"}), (["base"], ["base"], {"fan"}),
        (["hot+each-supply-out", "dirty+fan.left-out"], ["hot", "dirty"], {"fan", "supply"}),
        (["hot+fan.left-out", "hot+fan.right-out"], ["hot"], {"fan"}),
    ],
)  # fmt: skip
def test_conditions_are_what_is_left_without_what_fails(asked, conditions, kinds):
    assert _conditions(load("drive-cabinet"), asked) == (conditions, kinds)


def way(margin, status):
    return SimpleNamespace(margin=margin, status=status, holds=status in ("ok", "tight"))


@pytest.mark.parametrize(
    ("shut", "changes", "helps"),
    [(None, False, False), (way(-1.0, "over"), False, False), (way(-0.5, "over"), True, False),
     (way(-1.0, "void"), True, False), (way(1.0, "tight"), True, True)],
)  # fmt: skip
def test_a_remedy_changes_something_or_is_enough(shut, changes, helps):
    item = SimpleNamespace(out=way(-1.0, "over"), shut=shut)
    assert (_changes(item, "shut"), _helps(item, "shut")) == (changes, helps)


def test_rows_of_outages_have_each_way_beside_the_other():
    found = outages(load("drive-cabinet"), variants=["base"], scenarios=["hot"])
    assert len(found.failures) == 2
    for row, item in zip(found.rows(), found.failures, strict=True):
        assert (row["variant"], row["scenario"], row["failed"]) == ("base", "hot", item.failed)
        assert row["volume_flow_m3_s"] == pytest.approx(item.flow)
        for name in ("before", "out", "shut", "blanked", "rest_up"):
            cell = getattr(item, name)
            assert row[f"{name}_margin"] == pytest.approx(cell.margin)
            assert (row[f"{name}_status"], row[f"{name}_subject"]) == (cell.status, cell.subject)
        alone = flownet.solve(load("drive-cabinet"), scenario=f"hot+{item.failed}-out")
        assert item.flow == pytest.approx(alone.volume_flow(item.failed), rel=1e-6)


def cell(margin, status="", *, order=0, void=None, dip=None, scenario="hot"):
    status = status or ("ok" if margin > 0 else "over")
    return SimpleNamespace(
        margin=margin, margin_quantity=q.DIFFERENCE, status=status, order=order, void=void or {},
        in_dip=dip or {}, holds=status in ("ok", "tight"), scenario=scenario,
    )  # fmt: skip


def failure(name, out, *, before=3.0, **ways):
    made = {each: None if value is None else cell(value) for each, value in
            ({"shut": None, "blanked": None, "rest_up": -9.0} | ways).items()}  # fmt: skip
    out = out if isinstance(out, SimpleNamespace) else cell(out)
    return Failure("base", "hot", f"fan.{name}", -0.01, cell(before), out, **made)


BAD = "base does not hold with fan.a out (-9.0 K at worst)"


@pytest.mark.parametrize(("failures", "told"), [
    ([], "no fan runs that could fail"),
    ([failure("a", 1.0), failure("b", 2.0)], "base holds with any one out"),
    ([failure("a", cell(1.0, dip={"stall": ["fan.b"]}))],
     "base holds with any one out (fan.b in stall in hot)"),
    ([failure("a", 1.0, before=-2.0), failure("b", 2.0)],
     "base does not hold even with nothing out (-2.0 K)"),
    ([failure("a", -9.0, before=-2.0), failure("b", 2.0)], BAD),
    ([failure("a", -9.0, before=-2.0), failure("b", 2.0, before=-2.0)],
     "base does not hold even with nothing out (-2.0 K)"),
    ([failure("a", -9.0)], BAD),
    ([failure("a", -9.0, rest_up=-8.0)], f"{BAD}; not enough alone: speeding up the others -8.0 K"),
    ([failure("a", -9.0, shut=-9.0, blanked=-7.0, rest_up=-8.0)],
     f"{BAD}; not enough alone: blanking its hole -7.0 K, speeding up the others -8.0 K"),
    ([failure("a", -9.0, shut=1.0, blanked=2.0, rest_up=-8.0)],
     f"{BAD}; a shutter or blanking its hole would be enough"),
    ([failure("a", -9.0, shut=1.0), failure("b", cell(-3.0, order=1), shut=-1.0),
      failure("c", 1.0, shut=-1.0)],
     "base does not hold with fan.a or fan.b out (-9.0 K at worst); not enough alone: a shutter "
     "+1.0 K, speeding up the others -9.0 K"),
    ([failure("a", cell(-3.0, order=1), shut=1.0), failure("b", cell(-9.0), shut=1.0),
      failure("b", cell(-4.0, order=2), shut=1.0)],
     "base does not hold with fan.a or fan.b out (-9.0 K at worst); a shutter would be enough"),
    ([failure("a", cell(-1.0, "unsolved"), rest_up=5.0)],
     "base has no solution with fan.a out; speeding up the others would be enough"),
    ([failure("a", cell(2.0, "void", void={"stall": ["fan.b"]}))],
     "base does not hold with fan.a out (void: fan.b in stall at worst); not enough alone: "
     "speeding up the others -9.0 K"),
])  # fmt: skip
def test_what_a_variant_does_without_one_and_what_would_be_enough(failures, told):
    assert Outages(box(), tuple(failures)).verdicts() == (told,)


@pytest.mark.parametrize(("one", "told"), [
    (None, "-"), (cell(2.0), "+2.0 K"), (cell(2.0, "unsolved"), "unsolved"),
    (cell(2.0, "void", void={"stall": ["fan.b"]}), "+2.0 K void"),
])  # fmt: skip
def test_a_margin_that_counts_nothing_says_so(one, told):
    assert _margin(one, "metric") == told


def test_fans_that_differ_in_name_feed_and_place_at_one_height_are_alike():
    case = box()
    left, right = (_alike(f"fan.{name}", case) for name in ("left", "right"))
    assert left == right
    assert _alike("supply.a", case) == "supply.a"
    slow = case.with_changes({"fan.right.speed": 0.9})
    assert _alike("fan.right", slow) != left
    assert _alike("fan.left", slow) == left
