"""What rules ask of a solution: streams, circles, sides, heights, words; by hand."""

from __future__ import annotations

import dataclasses
import math
from types import SimpleNamespace
from typing import Any

import pytest

from flownet.enclosure.branches import Duct, Filter, Leak, Opening, Slot, Vent
from flownet.enclosure.surroundings import Compartment
from flownet.findings import facts
from flownet.findings.draught import Levels, main_stream
from flownet.findings.filters import unfiltered
from flownet.results.streams import (
    Stream,
    _way_back,
    carried,
    closing,
    inflow,
    is_still,
    open_branches,
    returns,
    streams,
)
from tests.each import each, named
from tests.findings import samples as s
from tests.findings import samples_use as u
from tests.findings.build import (
    FLOWS,
    GAS,
    SEA_LEVEL,
    ZERO,
    about,
    axial,
    numbers,
    part_limit,
    solved,
    things,
)

VENT = {"area": "50 cm2", "loss": 2.5}
DROPS = {"velocity": "0.5 2 m/s", "drop": "18 108 Pa"}


def moving(*links: tuple[str, str, float]) -> list[Stream]:
    """Streams with the names of their ends: `a>b`."""
    return [Stream(f"{a}>{b}", None, a, b, flow) for a, b, flow in links]  # type: ignore[arg-type]


# --- streams ------------------------------------------------------------------------------------


def test_a_stream_goes_the_way_of_its_air():
    made = solved(flows={**FLOWS, "baffle.shelf": -0.02})
    found = {each.path: each for each in streams(made)}
    assert (found["baffle.shelf"].source, found["baffle.shelf"].target) == ("upper", "lower")
    assert (found["fan.roof"].source, found["fan.roof"].target) == ("upper", "outside")
    assert found["baffle.shelf"].mass_flow == 0.02
    assert inflow(streams(made), "lower") == pytest.approx(0.05)
    still = solved(flows={**FLOWS, "baffle.shelf": 0.0, "fan.roof": math.nan})
    assert [each.path for each in streams(still)] == ["filter.intake"]


@each(named(["open", "blanked"]))
def test_a_blanked_element_closes_its_branch(state):
    mouth = Vent(name="mouth", on="fan.roof", state=state, **VENT)
    found = set(open_branches(solved(things(mouth=mouth)).case))
    assert {"filter.intake", "baffle.shelf", "fan.roof"} - found == (
        set() if state == "open" else {"fan.roof"})  # fmt: skip
    assert "vent.mouth" not in found


@each(named([
    (2.9e-6, {"shutter": s.FLAP}, False), (-2.9e-6, {"shutter": s.FLAP}, True),
    (-3.1e-6, {"shutter": s.FLAP}, False), (-2.9e-6, {}, False),
    (2.9e-6, {"shutter": s.FLAP, "mounted": "reversed"}, True),
    (-2.9e-6, {"shutter": s.FLAP, "mounted": "reversed"}, False),
    (2.9e-8, {}, True), (-2.9e-8, {}, True), (3.2e-8, {}, False), (math.nan, {}, False),
]))  # fmt: skip
def test_what_a_branch_leaks_is_no_flow(flow, keys, still):
    """A millionth of 30 g/s; through a shut shutter a ten thousandth of them, backwards only."""
    made = solved(things(weak=s.roof(name="weak", **keys)), flows={**FLOWS, "fan.weak": flow})
    assert is_still(made, "fan.weak") == still
    assert not is_still(made, "filter.intake")


# --- air that comes back ------------------------------------------------------------------------


def test_without_fresh_air_there_is_no_share():
    for fresh, sealed in ((2e-6, True), (3e-6, False)):  # a millionth of all that enters
        ring = moving(("outside", "a", fresh), ("a", "b", 1.0), ("b", "a", 1.0),
                      ("a", "outside", fresh))  # fmt: skip
        assert carried(ring, ()) == ({} if sealed else pytest.approx({"a": 1.0, "b": 1.0}))


@each(named([
    ([("b", "a", 2.0)], ["b>a"], 2.0),
    ([("b", "c", 1.0), ("c", "a", 3.0)], ["b>c"], 1.0),
    ([("b", "c", 3.0), ("c", "a", 1.0)], ["c>a"], 1.0),
    ([("b", "c", 0.5), ("c", "a", 2.0), ("b", "a", 1.0)], ["b>a", "b>c"], 1.5),
    ([("b", "c", 0.004), ("c", "a", 0.005), ("x", "a", 1.0)], ["b>c"], 0.004),
    ([("a", "b", 2.0)], [], 0.0), ([], [], 0.0),
]))  # fmt: skip
def test_the_way_back_is_the_least_flow_that_parts_two_places(links, cut, flow):
    found, total = _way_back(moving(*links), "b", "a")
    assert (list(found), total) == (cut, pytest.approx(flow))


def circle(*, back: float = 0.02, second: float = 0.0, gap: Any = None) -> Any:
    """A fan from lower to upper, a second beside the shelf's flow back, and a gap above."""
    made = things(
        stir=s.roof(name="stir", from_="lower", to="upper"),
        other=s.roof(name="other", from_="upper", to="lower"), shelf=None,
        gap=gap or Opening(name="gap", from_="upper", to="lower", area="50 cm2"),
    )  # fmt: skip
    flow = 0.03 + back + second
    return solved(made, scenarios={}, flows={
        "filter.intake": 0.03, "fan.roof": 0.03, "fan.other": second,
        f"{gap.KIND if gap else 'opening'}.gap": back,
        "fan.stir": flow})  # fmt: skip


def test_of_a_circle_those_fans_count_that_move_the_most_again():
    """Down 10 g/s by one fan, up 60 by the other, of which 30 come back."""
    (more,) = returns(circle(second=0.02))
    assert (more.fans, more.share) == (("fan.stir",), pytest.approx(40 / 70))
    (found,) = returns(circle(second=0.01))
    assert (found.fans, found.source) == (("fan.stir",), "lower")
    assert found.share == pytest.approx(30 / 60)
    assert found.back == ("opening.gap", "fan.other")
    assert found.mass_flow == pytest.approx(0.03)


def test_ways_back_are_closed_where_they_can_be():
    assert closing(circle()) == {"opening.gap.state": "blanked"}
    assert closing(circle(second=0.01)) == {}  # a fan that runs
    assert closing(circle(back=0.003)) == {}  # 9 %
    card = {"name": "gap", "from_": "upper", "to": "lower", "area": "50 cm2", "loss": 2.0}
    gone = circle(gap=Slot(power="20 W", **card))  # the heat of a card would go with it
    assert closing(gone) == {}
    assert closing(circle(gap=Slot(**card))) == {"slot.gap.state": "blanked"}


@each(named([
    ({}, 1), ({"mounted": "reversed", "from_": "upper", "to": "lower"}, 1),
    ({"state": "stopped"}, 0),
    ({"from_": "upper", "to": "lower"}, 0),
]))  # fmt: skip
def test_only_fans_that_turn_and_blow_their_way_send_air_round(keys, found):
    made = things(
        stir=s.roof(**{"name": "stir", "from_": "lower", "to": "upper", **keys}),
        shelf=None,
        gap=Opening(name="gap", from_="upper", to="lower", area="50 cm2"),
    )
    up = -0.05 if keys.get("from_") == "upper" else 0.05
    flows = {"filter.intake": 0.03, "fan.roof": 0.03, "opening.gap": 0.02, "fan.stir": up}
    assert len(returns(solved(made, scenarios={}, flows=flows))) == found


# --- fans ---------------------------------------------------------------------------------------


@each(named([
    ({"speed": 0.7}, 0.6, 0.6), ({"speed": 0.7}, math.nan, 0.7), ({}, math.nan, 1.0),
    ({"speed": "1350 rpm"}, math.nan, 0.5), ({"state": "stopped"}, math.nan, 0.0),
]))  # fmt: skip
def test_the_speed_of_a_fan(keys, found, speed):
    made = solved(things(roof=s.roof(**keys)), fans={"fan.roof": {"speed_ratio": found}})
    (own,) = facts.working_fans(made)
    assert own.speed == pytest.approx(speed)
    assert own.last_flow == pytest.approx(160 / 3600 * speed)


@each(named([
    (Slot, {"count": 7, "gap": 0.01, "width": 0.15}, 7 * 0.0015),
    (Slot, {"count": 2, "area": 3e-3, "loss": 2.0}, 6e-3),
    (Duct, {"diameter": 0.1}, math.pi * 0.05**2), (Duct, {"section": (0.2, 0.3)}, 0.06),
    (Vent, {"area": 0.02, "loss": 2.0}, 0.02), (Leak, {"flow_at": (0.1, 10.0)}, math.nan),
]))  # fmt: skip
def test_the_area_that_air_passes(kind, keys, area):
    length = {"length": 1.0} if kind in (Slot, Duct) else {}
    item = kind(name="x", from_="outside", to="box", **length, **keys)
    assert facts.area_across(None, item) == pytest.approx(area, nan_ok=True)


def test_which_places_hang_together():
    links = [("a", "b"), ("c", "d"), ("b", "c"), ("e", "outside"), ("x", "f")]
    found = facts.groups("abcdef", links)
    assert sorted(map(sorted, found)) == [["a", "b", "c", "d"], ["e"], ["f"]]
    assert facts.groups("abcd", [("a", "b"), ("c", "d"), ("a", "d")]) == [list("abcd")]


# --- draught ------------------------------------------------------------------------------------


def way(fan: str, *links: tuple[str, str, float]) -> list[str]:
    """The main stream of a fan among streams."""
    found = {each.path: each for each in moving(*links)}
    return [each.path for each in main_stream(SimpleNamespace(path=fan), found)]  # type: ignore[arg-type]


@each(named([
    ([("outside", "a", 1.0), ("a", "b", 1.0), ("b", "outside", 1.0)],
     ["outside>a", "a>b", "b>outside"]),
    ([("outside", "a", 1.0), ("outside.x", "a", 2.0), ("a", "b", 3.0), ("b", "outside", 1.0),
      ("b", "outside.x", 2.0)], ["outside.x>a", "a>b", "b>outside.x"]),
    ([("a", "b", 3.0), ("b", "c", 2.0), ("c", "a", 2.0), ("b", "outside", 1.0),
      ("outside", "a", 1.0)], ["a>b", "b>c", "c>a"]),  # round and back to the fan
    ([("outside", "a", 1.0), ("a", "b", 1.0), ("b", "c", 5.0), ("c", "d", 5.0), ("d", "c", 4.0)],
     []),  # into a circle beyond it
    ([("c", "d", 4.0), ("d", "c", 4.0), ("c", "a", 1.0), ("a", "b", 1.0), ("b", "outside", 1.0)],
     []),  # out of one before it
    ([("a", "b", 1.0), ("b", "outside", 1.0)], []),  # from nowhere
    ([("outside", "a", 1.0), ("a", "b", 1.0)], []),
]))  # fmt: skip
def test_the_main_stream_goes_from_outside_to_outside_or_round(links, found):
    assert way("a>b", *links) == found


def lift(path: list[str], made: Any) -> float:
    found = {each.path: each for each in streams(made)}
    return Levels(made).along([found[each] for each in path])


def stack(climb: str, flow: float = 0.03) -> Any:
    """Air enters at 150 mm into 40 degC, passes at 900 mm to 65 degC, leaves from 1800 mm by a
    duct of 1 m."""
    duct = Duct(name="out", from_="upper", to="outside", length="1 m", diameter="80 mm",
                at="0 1800 mm", direction=climb)  # fmt: skip
    made = things(roof=s.roof(state="blanked"), out=duct)
    flows = {"filter.intake": flow, "baffle.shelf": flow, "duct.out": flow, "fan.roof": 0.0}
    return solved(made, flows=flows, warm={"lower": 40.0, "upper": 65.0}, scenarios={})


@each(named([
    ("right", 0.03, (1.8, 1.8)), ("up", 0.03, (1.3, 2.3)), ("down", 0.03, (2.3, 1.3)),
    ("up", -0.03, (1.3, 2.3)),
]))  # fmt: skip
def test_lift_is_that_of_each_piece_of_the_way(climb, flow, ends):
    """Sum of (rho_0 - rho) g dh: 0.75 m at 40, up to the duct and along it at 65 degC; a duct that
    air enters from outside holds air of 25 degC, which lifts nothing."""
    outside, low, high = (SEA_LEVEL / (GAS * (t + ZERO)) for t in (25.0, 40.0, 65.0))
    own = high if flow > 0 else outside
    expected = 9.80665 * ((outside - low) * 0.75 + (outside - high) * (ends[0] - 0.9)
                          + (outside - own) * (ends[1] - ends[0]))  # fmt: skip
    path = ["filter.intake", "baffle.shelf", "duct.out"]
    made = stack(climb, flow)
    found = lift(path if flow > 0 else path[::-1], made)
    assert found == pytest.approx(expected if flow > 0 else -expected, rel=1e-4)


def test_lift_along_a_closed_way():
    """Up at 40 degC from 300 to 1500 mm in a duct, down at 65 degC: the difference of both."""
    duct = Duct(name="riser", from_="lower", to="upper", length="1.2 m", diameter="80 mm",
                at="0 900 mm", direction="up")  # fmt: skip
    gap = Opening(name="gap", from_="upper", to="lower", area="50 cm2", at="0 900 mm")
    made = solved(things(riser=duct, gap=gap), warm={"lower": 40.0, "upper": 65.0}, flows={
        **FLOWS, "duct.riser": 0.02, "opening.gap": 0.02})  # fmt: skip
    low, high = (SEA_LEVEL / (GAS * (t + ZERO)) for t in (40.0, 65.0))
    outside = SEA_LEVEL / (GAS * 298.15)
    # duct at 40, 0.6 m down in upper at 65, 0.6 m down in lower at 40
    expected = 9.80665 * ((outside - low) * (1.2 - 0.6) - (outside - high) * 0.6)
    assert lift(["duct.riser", "opening.gap"], made) == pytest.approx(expected, rel=1e-4)
    assert math.isnan(lift([], made))


# --- filters ------------------------------------------------------------------------------------


def test_ways_beside_a_filter_stand_with_the_largest_first():
    made = things(
        a=Leak(name="a", from_="outside", to="upper", flow_at=["5 m3/h", "10 Pa"]),
        b=Leak(name="b", from_="outside", to="upper", flow_at=["5 m3/h", "10 Pa"]),
    )
    flows = {"filter.intake": 0.02, "baffle.shelf": 0.02, "leak.a": 0.003, "leak.b": 0.007,
             "fan.roof": 0.03}  # fmt: skip
    found = numbers(solved(made, flows=flows), "filter-bypass")
    assert (found["subject"], found["names"]) == ("leak.b", "leak.b and leak.a")
    assert found["share"] == "33 %"


def test_what_a_filter_inside_cleans_is_not_counted():
    """Of 10 g/s that enter below, 4 pass the mat, and of the 6 beside it all leave; what a seam
    lets in is little, and more than a millionth of that."""
    mat = Filter(name="mat", from_="lower", to="upper", area="450 cm2", velocity_drop=DROPS)
    seam = Leak(name="seam", from_="outside", to="upper", flow_at=["5 m3/h", "10 Pa"])
    made = things(intake=Vent(name="open", from_="outside", to="lower", **VENT), mat=mat, seam=seam)
    flows = {"leak.seam": 5e-7, "vent.open": 0.01, "baffle.shelf": 0.006, "filter.mat": 0.004,
             "fan.roof": 0.01}  # fmt: skip
    total, dirty = unfiltered(solved(made, flows=flows))
    passed = {"vent.open": 0.006, "leak.seam": 5e-7}
    assert (total, dirty) == (pytest.approx(0.01 + 5e-7), pytest.approx(passed, rel=1e-4))
    off = dataclasses.replace(mat, state="removed")
    total, dirty = unfiltered(solved({**made, "mat": off}, flows=flows))
    assert dirty == pytest.approx({"vent.open": 0.01, "leak.seam": 5e-7}, rel=1e-4)


def test_a_place_that_nothing_leaves_keeps_the_shares_regular():
    made = things(
        intake=Vent(name="open", from_="outside", to="lower", **VENT),
        dead=Compartment(name="dead"), into=Vent(name="into", from_="outside", to="dead", **VENT),
        mat=Filter(name="mat", on="fan.roof", area="450 cm2", velocity_drop=DROPS),
    )  # fmt: skip
    for dead in (0.0, 0.01):  # what stays in there does not leave without a filter
        flows = {**FLOWS, "vent.open": 0.03, "vent.into": dead}
        total, dirty = unfiltered(solved(made, flows=flows))
        assert (total, dirty) == (0.03 + dead, pytest.approx({"vent.open": 0.03}, rel=1e-6))


# --- other states -------------------------------------------------------------------------------


def states(first: float, second: float) -> Any:
    """Two humped fans beside each other passing so many m3/h."""
    made = things(type=axial(curve=s.HUMP), second=s.roof(name="second"))
    return solved(made, flows={**FLOWS, "fan.second": 0.0}, branches={
        "fan.roof": {"volume_flow": first / 3600}, "fan.second": {"volume_flow": second / 3600}},
        fans={"fan.roof": {"rise": 44.0}, "fan.second": {"rise": 44.0}})  # fmt: skip


@each(named([
    ((40.0, 70.0), "fan.second", [40.0]), ((20.0, 60.0), "fan.roof", [60.0]),
    ((-10.0, 55.0), "fan.roof", []), ((55.0, 57.3), "fan.second", []),
]))  # fmt: skip
def test_the_fan_that_moves_most_is_named_first(then, subject, others):
    """From 55 m3/h each; thresholds at 2 % of 110 m3/h."""
    here = states(55.0, 50.0 if then == (40.0, 70.0) else 55.0)
    found = numbers(dataclasses.replace(here, others=(states(*then),)), "other-operating-point")
    assert found["subject"] == subject
    assert found["flow"] == pytest.approx(abs(then[subject == "fan.second"]) / 3600)
    assert [found[f"at_{n}"] for n in range(len(others))] == pytest.approx(
        [each / 3600 for each in others])  # fmt: skip


HERE, THERE = ((part_limit("drive", warm, 90.0),) for warm in (80.0, 87.0))


# --- through a fan that stands ------------------------------------------------------------------


@each(named([
    ({}, True), ({"intake": Vent(name="open", from_="outside", to="lower", **VENT)}, False),
    ({"mat": Filter(name="mat", on="fan.weak", area="450 cm2", velocity_drop=DROPS)}, False),
    ({"mat": Filter(name="mat", on="fan.weak", area="450 cm2", velocity_drop=DROPS,
                    state="removed")}, True),
]))  # fmt: skip
def test_air_that_comes_back_from_outside_may_pass_the_filter(changed, past):
    made = things(weak=s.roof(name="weak", state="stopped"), **changed)
    flows = {**FLOWS, "vent.open": 0.03, "fan.weak": -0.01}
    (found,) = about(solved(made, flows=flows, scenarios={}), "fan-out")
    assert ("past the filter" in found.message()) == past
    assert found.values["flow"][1] == pytest.approx(0.01 * GAS * 298.15 / SEA_LEVEL)


@each(named([
    (14.0, "stopped", (14 / 8) ** 0.5), (14.0, "freewheeling", (14 / 20) ** 0.5),
    (9.0, "stopped", (9 / 4) ** 0.5),
]))  # fmt: skip
def test_past_the_other_rotor_what_stands_before_it_stays(drop, state, ratio):
    """Rotors of K = 10 and 4, and what else the branch has (14 - 10, or 14 - 4): 1/sqrt(K)."""
    keys = {"through": -0.01, "state": state}
    first = u.outage("hot", **keys)
    density = float(first.branches["fan.second"].density)
    head = density * (0.01 / density / 95e-4) ** 2 / 2
    found = numbers(u.outage("hot", **keys, drop=drop * head), "fan-out")
    assert found["other"] == pytest.approx(found["flow"] * ratio)


def test_a_way_back_through_fans_that_stand_is_theirs_to_tell():
    """The gap back is a fan that stands, from the warm side to the cold one."""
    made = things(
        stir=s.roof(name="stir", from_="lower", to="upper"),
        shelf=None,
        dead=s.roof(name="dead", from_="lower", to="upper", state="stopped"),
    )
    flows = {"filter.intake": 0.03, "fan.roof": 0.03, "fan.stir": 0.05, "fan.dead": -0.02}
    found = solved(made, flows=flows, scenarios={})
    assert about(found, "air-returns-inside") == []
    assert numbers(found, "fan-out")["share"] == "40 %"
    gap = Opening(name="gap", from_="upper", to="lower", area="50 cm2")
    both = solved({**made, "gap": gap}, flows={
        **flows, "fan.dead": -0.012, "opening.gap": 0.008}, scenarios={})  # fmt: skip
    assert numbers(both, "air-returns-inside")["back"] == "fan.dead and opening.gap"
