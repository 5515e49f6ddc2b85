"""Headroom against closed forms, against solving again, and what it says where there is none."""

from __future__ import annotations

import math
import re
from types import SimpleNamespace

import numpy as np
import pytest

import flownet
from flownet.enclosure.branches import Opening
from flownet.enclosure.contents import Place
from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.heat import Part, Wall
from flownet.enclosure.surroundings import Compartment, Outside
from flownet.pages import render
from flownet.pages.page import Page
from flownet.results.limits import Limit
from flownet.schema import quantities as q
from flownet.schema.errors import CaseError, NoSolution
from flownet.schema.fields import Number
from flownet.solving.attempt import changed
from flownet.studies import headroom_layers
from flownet.studies.headroom import _at_limit, _without_outages, close_up, tightest
from flownet.studies.headroom_result import Headroom
from flownet.studies.headroom_search import (
    LimitCrossing,
    Point,
    Turn,
    _crossing,
    _inside,
    crossings,
    turns,
)
from flownet.studies.headroom_subject import ABSENT, SCAN_STEPS, Subject, grid, span, subject
from tests.each import each
from tests.test_cases import load

OUTSIDE, LIMIT = 298.15, 328.15  # K
AREA, U_VALUE = 2.0, 5.5  # m2, W/(m2 K)


def closed_box(*more, **part):
    """Heat leaves through a wall only."""
    return flownet.Enclosure.of(
        flownet.Outside(temperature=OUTSIDE), flownet.Compartment(name="box", air_limit=LIMIT),
        flownet.Part(name="p", in_="box", **{"power": 110.0, **part}),
        flownet.Wall(name="w", from_="box", to="outside", area=AREA, u_value=U_VALUE), *more,
    )  # fmt: skip


SHUT_OFF, FREE = 60.0, 0.03  # Pa, m3/s: a fan with a straight curve


def blown_box(power="300 W", limit="58 degC", fan=None, **limits):
    """A fan draws air through a filter, and there is no other way and no other loss."""
    return flownet.Enclosure.of(
        flownet.Outside(temperature="35 degC"), flownet.Compartment(name="box", air_limit=limit),
        flownet.Filter(name="mat", from_="outside", to="box", area="0.04 m2",
                       velocity_drop={"velocity": "0.2 1 m/s", "drop": "4 25 Pa"}),
        flownet.FanType(name="straight", origin="invented data", rated_speed="2500 rpm",
                        flow_area="0.01 m2", supply="24 V dc",
                        curve={"flow": f"0 {FREE} m3/s", "rise": f"{SHUT_OFF} 0 Pa"}),
        flownet.Supply(name="dc", voltage="24 V"),
        flownet.Fan(name="f", from_="box", to="outside", type="straight", supply="dc",
                    **(fan or {})),
        flownet.Part(name="p", in_="box", power=power, limit="400 degC", resistance="0.01 K/W"),
        flownet.Limits(**limits),
    )  # fmt: skip


# --- closed forms --------------------------------------------------------------------------------


def test_power_and_ambient_of_a_closed_box():
    """Heat balance of a closed box: power = U A (air - outside)."""
    power = flownet.headroom(closed_box(), "part.p.power")
    assert power.value == pytest.approx(U_VALUE * AREA * (LIMIT - OUTSIDE), rel=1e-9)
    assert (power.limit.limit, power.limit.subject) == ("air", "compartment.box")
    assert power.today.margin == pytest.approx(LIMIT - OUTSIDE - 110.0 / (U_VALUE * AREA))
    load_ = flownet.headroom(closed_box(), "part.p.load")
    assert load_.value == pytest.approx(3.0, rel=1e-9)  # 330 W over 110 W
    ambient = flownet.headroom(closed_box(), "outside.temperature")
    assert ambient.value == pytest.approx(LIMIT - 110.0 / (U_VALUE * AREA), abs=1e-7)


def test_a_resistance_and_a_wall_that_shrinks():
    """Part over air: limit = air + R P; less wall: U A rise = P, so it breaks as A falls."""
    case = closed_box(limit="70 degC", resistance="0.1 K/W")
    found = flownet.headroom(case, "part.p.resistance")
    air = OUTSIDE + 110.0 / (U_VALUE * AREA)
    assert found.value == pytest.approx((343.15 - air) / 110.0, rel=1e-8)
    assert found.limit.subject == "part.p"
    wall = flownet.headroom(closed_box(), "wall.w.area")
    assert not wall.up
    assert wall.value == pytest.approx(110.0 / U_VALUE / (LIMIT - OUTSIDE), rel=1e-8)
    assert wall.verdict.startswith("wall.w.area can fall to ")
    assert "nothing breaks up to " in wall.verdicts()[2]


def test_a_key_that_the_tightest_limit_does_not_feel():
    """Two closed boxes apart from each other: 1 W in the second, 5 W at most, warms it by 0.5 K."""
    other = (
        flownet.Compartment(name="shed", air_limit=LIMIT),
        flownet.Part(name="q", in_="shed", power=1.0),
        flownet.Wall(name="far", from_="shed", to="outside", area=AREA, u_value=U_VALUE),
    )
    found = flownet.headroom(closed_box(*other), "part.q.power")
    assert found.first is None
    assert found.verdict == (
        "nothing breaks for part.q.power from 0.1 W to 5 W: it does not change the least margin, "
        "20.0 K at compartment.box")  # fmt: skip
    assert flownet.headroom(closed_box(power=1.0), "part.p.power").verdict == (
        "nothing breaks for part.p.power from 0.1 W to 5 W: least margin 29.5 K at "
        "compartment.box, at 5 W")  # fmt: skip


def test_a_filter_is_changed_at_the_rise_the_fan_has_left():
    """One loop: the drop of the filter is the rise of the fan on its straight curve, at the flow
    that carries the heat at the allowed rise. cp of air between 300 and 350 K lies in 1005 to
    1010 J/(kg K) (from memory, tables of ideal-gas air), so the flow is known within 0.3 %.
    """
    found = flownet.headroom(blown_box(), "filter.mat.fouling")
    solved = flownet.solve(blown_box(), changes={"filter.mat.fouling": found.value})
    (change,) = found.filters
    assert change.drop == pytest.approx(solved["filter.mat.drop"], abs=1e-6)
    mass_flow = 300.0 / (1007.0 * 23.0)  # 58 degC less 35 degC
    assert solved["fan.f.mass_flow"] == pytest.approx(mass_flow, rel=4e-3)
    density = 101325.0 / (287.05 * 331.15)  # ideal gas; a fan's rise goes with density
    rise = SHUT_OFF * (1.0 - mass_flow / density / FREE) * density / 1.2
    assert change.drop == pytest.approx(rise, rel=6e-3)
    assert change.sure
    assert change.today < change.drop
    assert found.alarm == pytest.approx(331.15, abs=1e-6)
    (told,) = found.to_dict()["filters"]
    assert told["alarm_degC"] == pytest.approx(58.0)
    assert (told["change_at_Pa"], told["alarm_in"]) == (change.drop, "box")
    assert len(found.to_dict()["scan"]) == len(found.rows()) == 33
    assert found._repr_html_().count("<tr>") == 4 + 13  # alarms of the filter, a dozen of the scan
    assert "136.4 degF" in found.verdicts("us")[0]
    assert found.there.air_rise == pytest.approx(23.0, abs=1e-6)
    assert "or at an alarm of 58.0 degC in compartment.box" in found.verdict
    text = "\n".join(render.text(found.sheet, Page()))
    assert "... 22 more (--all)" in text  # 33 values and the limit, less 12 rows
    (row,) = re.findall(r"drop of filter.mat .*  ([\d.]+) Pa\n", text)
    assert found.verdict.count(f"at {row} Pa across it") == 1
    assert change.drop - 0.1 < float(row) <= change.drop
    assert found.verdict.startswith("filter.mat can load to ")


# --- solved again --------------------------------------------------------------------------------


def test_the_tightest_has_the_least_room():
    """Broken today first; of equal ones, to six digits, the first."""
    for rooms, place in (((3.0, 2.0, 0.0), 2), ((3.0, 2.0), 1), ((math.inf, 3.0), 1),
                         ((2.0, 2.0 - 1e-9), 0)):  # fmt: skip
        assert tightest([SimpleNamespace(room=room) for room in rooms]) == place


@pytest.mark.parametrize(("name", "key", "scenario", "changes"), [
    ("drive-cabinet", "filter.*.fouling", "hot", None),
    ("drive-cabinet", "outside.altitude", "hot", None),
    ("drive-cabinet", "fan.*.speed", "hot", None),
    ("drive-cabinet", "part.*.load", "hot", {"part.choke.load": 0.9}),  # a factor
    ("telecom-shelf", "slot.card-5.power", "base", {"outside.temperature": 318.15}),
])  # fmt: skip
def test_the_worst_margin_is_zero_where_it_is_solved_again(name, key, scenario, changes):
    case = load(name)
    found = flownet.headroom(case, key, scenario=scenario, changes=changes)
    assert found.today.holds
    assert found.first.breaks
    assert not found.first.jumps
    again = flownet.solve(
        case, scenario=scenario, changes={**(changes or {}), **found.subject.changes(found.value)}
    )
    assert again["total.worst_margin"] == pytest.approx(0.0, abs=1e-6)
    worst = min((i for i in again.limits if i.limit in ("part", "air")), key=lambda i: i.margin)
    assert worst.subject == found.limit.subject
    if found.filters:
        assert again[f"{found.filters[0].path}.drop"] == pytest.approx(found.filters[0].drop)
        warm = max(row.temperature for row in again.compartments.values())
        assert warm == pytest.approx(found.alarm, abs=1e-6)


def test_a_margin_that_turns_is_called_so():
    """A vent that first relieves the fans, then steals the air that should pass the filter."""
    case = load("drive-cabinet")
    found = flownet.headroom(case, "vent.side.area", scenario="hot")
    (turn,) = found.turns
    assert turn.largest
    margins = [
        flownet.solve(case, scenario="hot", changes={"vent.side.area": area})["total.worst_margin"]
        for area in (found.low, turn.value, found.high)
    ]
    assert margins[1] > max(margins[0], margins[2])
    assert margins[1] == pytest.approx(turn.margin, abs=1e-6)
    assert any("the margin is not monotone: it is largest near" in w for w in found.verdicts())
    assert not flownet.headroom(case, "outside.temperature").turns


def test_what_is_broken_today_holds_from_somewhere():
    case = load("drive-cabinet")
    found = flownet.headroom(case, "vent.side.area", scenario="hot", changes={
        "vent.side.area": "400 cm2", "part.controller.limit": "58.5 degC"})  # fmt: skip
    assert not found.today.holds
    assert (found.room, found.filters) == (0.0, ())
    holds, breaks = found.down  # the vent helps, then it is too small again
    assert not holds.breaks
    assert breaks.breaks
    assert found.first is holds
    assert "over its" in found.verdict
    assert found.verdict.endswith(" down")
    assert found.verdicts()[1].startswith("below ")
    for item in found.down:
        again = flownet.solve(case, scenario="hot", changes={
            "vent.side.area": item.value, "part.controller.limit": "58.5 degC"})  # fmt: skip
        assert again["total.worst_margin"] == pytest.approx(0.0, abs=1e-6)


# --- the search ----------------------------------------------------------------------------------


def waving(margin):
    """A bench whose one margin is a function of the value."""

    def point(value):
        size = float(margin(value))
        limit = Limit("part", "part.p", 0.0, 300.0, size, q.TEMPERATURE, q.DIFFERENCE)
        status = "over" if size < 0 else "ok"
        return Point(value, status, limit, {("part", "part.p"): size}, 0.0, 300.0, "", {}, "")

    return SimpleNamespace(points=lambda values: [point(float(v)) for v in values])


def crossed(bench, outward, **rest):
    """What a search finds on a bench, with the points clearly beyond."""
    asks, answer = crossings(outward, **rest), None
    while True:
        try:
            answer = bench.points(asks.send(answer))
        except StopIteration as end:
            found, near = end.value
            return [item._replace(beyond=clear)
                    for item, clear in zip(found, bench.points(near), strict=True)]  # fmt: skip


def test_every_crossing_of_the_scan_is_found():
    """Zeros of the cosine; it breaks, holds again, breaks."""
    bench = waving(np.cos)
    found = crossed(bench, bench.points(grid(0.0, 0.0, 8.0)))
    assert [item.value for item in found] == pytest.approx([math.pi / 2 * n for n in (1, 3, 5)])
    assert [item.breaks for item in found] == [True, False, True]
    back = crossed(bench, bench.points(grid(-8.0, 0.0, 0.0))[::-1])
    assert [item.value for item in back] == pytest.approx([-item.value for item in found])


def test_a_jump_is_no_zero():
    """The last value that holds is given."""
    bench = waving(lambda value: 2.0 if value <= math.e else -1.0)
    (found,) = crossed(bench, bench.points(grid(0.0, 0.0, 8.0)))
    assert found.jumps
    assert found.value == found.before.value == pytest.approx(math.e, abs=1e-6)
    assert found.value <= math.e


def test_a_count_is_a_whole_number():
    """The cosine breaks between 1 and 2, holds again from 5 on, breaks between 7 and 8."""
    bench = waving(np.cos)
    values = grid(0.0, 0.0, 8.0, whole=True)
    assert values == [float(n) for n in range(9)]
    found = crossed(bench, bench.points(values), whole=True)
    assert [item.value for item in found] == [1.0, 5.0, 7.0]
    assert set(grid(1.0, 7.0, 1000.0, whole=True)) >= {1.0, 7.0, 1000.0}
    slots = flownet.headroom(load("telecom-shelf"), "slot.card-1.count", upto=60)
    assert all(point.value.is_integer() for point in slots.scan)


def test_a_count_breaks_after_the_last_whole_number_that_holds():
    """A straight line, 10 - n/7, breaks after the last whole n below 70."""
    bench = waving(lambda value: 10.0 - value / 7.0)
    (found,) = crossed(bench, bench.points(grid(1.0, 1.0, 1000.0, whole=True)), whole=True)
    assert (found.value, found.after.value) == (70.0, 71.0)


# --- what is not known, not allowed, not solved --------------------------------------------------


def test_an_unknown_limit_is_not_taken_for_holding():
    """A fan without a sound level: a noise limit that nobody can judge."""
    only = blown_box(limit=None, noise_dBA=50)
    case = only.with_changes({"part.p.limit": None})
    assert math.isnan(flownet.solve(case)["total.noise"])
    found = flownet.headroom(case, "filter.mat.fouling")
    assert not found.today.holds
    assert found.today.status == "unknown"
    assert found.unknown == (("noise", "total.noise"),)
    assert found.verdict.startswith("no limit can be judged")
    beside = flownet.headroom(blown_box(noise_dBA=50), "filter.mat.fouling")
    assert beside.value == flownet.headroom(blown_box(), "filter.mat.fouling").value
    assert beside.verdicts()[-1] == "not judged, because it has no value: total.noise"


def test_air_that_nobody_believes_is_an_end_before_there_is_no_solution():
    """A fan that stands in a box without height moves nothing: its heat has no way out. On the way
    there the air is hotter than the 150 degC that our own choice allows."""
    case = blown_box(power="2 W", limit="900 degC").with_changes({"part.p.limit": None})
    found = flownet.headroom(case, "fan.f.speed", upto=0)
    assert found.first.after.void == {"extreme-air": ["compartment.box", "fan.f"]}
    assert found.first.after.hottest_air == pytest.approx(423.15, abs=0.01)
    assert found.scan[0].status == "unsolved"
    assert "it is void (" in found.verdict
    assert found.limit is None
    assert 0 < found.value < 0.1
    with pytest.raises((CaseError, NoSolution)):
        flownet.headroom(case, "fan.f.speed", changes={"fan.f.speed": 0.0}, upto=1.0)


@pytest.mark.parametrize(
    ("edge", "clear", "told"),
    [
        (["extreme-air"], ["backflow"], "backflow"), (["stall"], ["backflow", "stall"], "stall"),
        (["extreme-air"], ["extreme-air"], "extreme-air"), (["stall"], ["backflow"], "backflow"),
        (["stall"], [], "stall"), ([], ["backflow"], "backflow"),
    ],
)  # fmt: skip
def test_the_cause_at_a_knife_edge_is_that_clearly_beyond(edge, clear, told):
    """Where the flow passes zero the air is hottest: that follows, and passes again."""
    base = flownet.headroom(blown_box(), "filter.mat.fouling").today
    after, beyond = (
        base._replace(status="void" if words else "unsolved", void={w: ["fan.f"] for w in words})
        for words in (edge, clear)
    )
    found = LimitCrossing(1.0, base, after, False, beyond)
    assert next(iter(found.cause.void)) == told
    if edge == clear == ["extreme-air"]:  # at the very edge it is that of hardly any air
        assert found.cause is beyond
    assert found._replace(beyond=None).cause is after
    assert found._replace(after=base._replace(status="over")).cause.status == "over"


@each({"as wide as a printed digit": (0.005, "stall"), "a knife's edge": (1e-7, "backflow")})
def test_the_cause_is_what_a_solve_says_a_printed_digit_beyond_the_limit(width, told):
    """Not that of the next value of the scan, a thirtieth of the range away."""
    fine = flownet.headroom(blown_box(), "filter.mat.fouling").today

    def point(value):
        word = "" if value > 0.9 else "stall" if value > 0.9 - width else "backflow"
        void = {word: ["fan.f"]} if word else {}
        return fine._replace(value=value, status="void" if word else "ok", void=void)

    bench = SimpleNamespace(points=lambda values: [point(float(v)) for v in values])
    (found,) = crossed(bench, bench.points(grid(0.0, 1.0, 1.0))[::-1])
    assert next(iter(found.cause.void)) == told


def test_a_value_that_the_case_does_not_allow_is_an_end():
    """Temperatures of a speed control must rise."""
    control = {"by": "outside", "temperature": "30 50 degC", "speed": (0.5, 1.0)}
    case = blown_box(fan={"speed_control": control}, limit="90 degC")
    found = flownet.headroom(case, "fan.f.speed_control.temperature.0", upto="60 degC")
    assert found.first.after.status == "refused"
    assert "the case allows no more (" in found.verdict
    assert found.value == pytest.approx(323.15, abs=1e-5)
    assert found.value < 323.15
    with pytest.raises(CaseError, match="follows a temperature"):
        flownet.headroom(case, "fan.*.speed")


def test_a_value_close_to_that_of_today_has_the_digits_that_tell_them_apart():
    """A closed box: power = U A (limit - outside), 0.3 W above today's."""
    power = U_VALUE * AREA * (LIMIT - OUTSIDE)
    found = flownet.headroom(closed_box(power=power - 0.3), "part.p.power")
    assert found.verdict.startswith("part.p.power can rise to 330 W (today 329.7 W) before")


@pytest.mark.parametrize(("key", "power"), [
    ("part.p.power", 110.0), ("outside.temperature", 110.0), ("wall.w.area", 110.0),
    ("wall.w.u_value", 200.0), ("part.p.power", 400.0), ("wall.w.area", 391.0),
])  # fmt: skip
def test_all_limits_hold_at_the_value_as_it_is_printed(key, power):
    """Taken off the page and solved again; not rounded past the limit."""
    case = closed_box(power=power)
    found = flownet.headroom(case, key)
    printed = found.at(found.first)
    assert printed in found.verdict
    (row,) = [line for line in render.text(found.sheet, Page()) if line.endswith("limit")]
    for value in (printed, row.strip().split("  ")[0]):
        assert flownet.solve(case, changes={key: value}).limits[0].margin >= -1e-9


def test_noise_can_break_first():
    """All fans of one type: its level moves the sum by as much, to the limit of 55 dBA."""
    case = load("drive-cabinet")
    found = flownet.headroom(case, "fan_type.axial-119-b.noise_dBA")
    level = flownet.solve(case)["total.noise"]
    assert found.value - found.subject.present == pytest.approx(55.0 - level, abs=1e-6)
    assert (found.limit.limit, found.limit.subject) == ("noise", "total.noise")
    assert found.there.decides == "total.noise"
    assert found.there.margin == pytest.approx(0.0, abs=1e-6)
    assert "before total.noise breaks its 55 dBA" in found.verdict


def test_a_speed_in_rpm_is_a_ratio_too():
    case = blown_box(fan={"speed": "2000 rpm"})
    found = flownet.headroom(case, "fan.f.speed")
    assert found.subject.present == pytest.approx(0.8)
    assert found.today.margin == pytest.approx(flownet.solve(case)["total.worst_margin"], abs=1e-6)


@pytest.mark.parametrize(
    ("key", "more", "said"),
    [
        ("fan.left.state", {}, "fan.left.state: is no number"),
        ("", {}, "key: a key is wanted"),
        ("fan.left.type", {}, "fan.left.type: is a type"),
        ("outside.temprature", {}, 'did you mean "temperature"'),
        ("filter.intak.fouling", {}, 'did you mean "intake"'),
        ("fan.left.guard", {}, "name one, such as fan.left.guard.loss"),
        ("part.drive-sink.resistance", {}, "has no value to start from"),
        ("part.*.power", {}, "part.NAME.load scales any heat"),
        ("outside.temperature", {"upto": "3 m"}, "upto: outside.temperature: "),
        ("outside.temperature", {"upto": 900.0}, "upto: outside.temperature: "),
        ("outside.temperature", {"upto": "35 degC"}, "a value other than today's is wanted"),
        ("outside.temperature", {"scenario": "hott"}, 'did you mean "hot"'),
        ("fan_type.axial-119-b.power", {"changes": {"fan_type.axial-119-b.power": 0.0}},
         "say how far to go with upto"),
        ("part.*.limit", {}, "has no value to start from"),
        ("compartment.*.air_limit", {"changes": {"compartment.upper.air_limit": 330.0}},
         "stands for different values (55.0 degC to 56.9 degC)"),
        ("part.choke.*", {}, 'has no key "*"'),
    ],
)  # fmt: skip
def test_wrong_keys_are_said(key, more, said):
    with pytest.raises(CaseError) as error:
        flownet.headroom(load("drive-cabinet"), key, **more)
    assert said in str(error.value)


# --- what comes out ------------------------------------------------------------------------------


def test_a_key_that_is_not_given_starts_from_what_then_holds():
    """Sea level without altitude or pressure (US Standard Atmosphere 1976); no heat in a part
    without a power: 2 m2 x 5.5 W/(m2 K) x 30 K hold 330 W, 110 of them in another part."""
    site = flownet.headroom(blown_box(), "outside.altitude")
    assert site.subject.present == 0.0
    more = flownet.Part(name="more", in_="box")
    found = flownet.headroom(closed_box(more), "part.more.power", upto="500 W")
    assert found.subject.present == 0.0
    assert found.value == pytest.approx(220.0, abs=0.1)


def test_without_its_outages_a_case_keeps_its_scenario_and_its_own_changes():
    """One of what the scenario sets too, one of another key; the fan that was out runs again."""
    case, own = load("drive-cabinet"), {"outside.temperature": 300.0, "fan.right.speed": 0.7}
    found = _without_outages(changed(case, "hot+fan.left-out", "base", own))
    assert found.fans["left"].state == "running"
    assert found == case.under("hot").with_changes(own)
    assert _without_outages(changed(case, "hot", "base", own)) is None


def test_a_gauge_is_read_while_all_fans_run():
    """At the value that breaks a limit in the outage, solved again with and without it."""
    case, key = load("drive-cabinet"), "filter.intake.fouling"
    found = flownet.headroom(case, key, scenario="fan.left-out")
    at = {key: found.first.value}
    for scenario, read in (("base", found.gauge), ("fan.left-out", found.there.drops)):
        there = flownet.solve(case, scenario=scenario, changes=at)
        assert read == pytest.approx({path: there[f"{path}.drop"] for path in read}, rel=1e-6)
    assert found.gauge != pytest.approx(found.there.drops, rel=0.05)


def test_a_tall_door_in_layers_is_the_eight_lower_ones_written_out():
    """Of `compare` and `headroom` too: met in one layer, the door would leave hot air under the
    roof. Against the same box with eight doors, one above the other."""

    def cubicle(*doors):
        return Enclosure.of(
            Compartment(name="box", outline="0 0 600 1300 mm", depth="400 mm"), *doors,
            Part(name="drive", in_="box", power="180 W", resistance="0.15 K/W", limit="80 degC"),
            Wall(name="sides", from_="box", to="outside", area="1.5 m2", u_value="5 W/(m2 K)"),
            Outside(name="", temperature="33 degC"),
        )  # fmt: skip

    def door(name, height, y, share):
        return Opening(name=name, from_="outside", to="box", loss=12.0, area=0.09 * share,
                       height=height, at=(0.0, y))  # fmt: skip

    one = cubicle(door("door", 0.75, 0.6, 1.0))
    eight = cubicle(*(door(f"d{k}", 0.75 / 8, 0.225 + 0.75 * (k + 0.5) / 8, 1 / 8)
                      for k in range(8)))  # fmt: skip
    assert flownet.solve(one).layered.broken == ()
    assert flownet.compare(one).in_layers == {}  # and not that of the door in one layer:
    assert flownet.solve(one, changes={"compartment.box.layers": 4}).limits[0].broken
    edge = flownet.headroom(one, "part.drive.power").edge_in_layers
    for value, holds in ((edge.value, True), (1.01 * edge.value, False)):
        there = {"part.drive.power": value, "compartment.box.layers": 4}
        assert flownet.solve(eight, changes=there).limits[0].holds == holds


def test_what_breaks_only_in_layers_is_said():
    """A tall sealed box with its heat at the top: one temperature holds, four layers do not."""
    outline = {"outline": "0 0 400 1200 mm", "depth": "300 mm"}
    wall = {"u_value": "5 W/(m2 K)", "faces": ["front", "back", "left", "right", "top"]}
    drive = {"power": "100 W", "limit": "70 degC", "resistance": "0.2 K/W", "at": "200 1000 mm"}
    case = Enclosure.of(
        Compartment(name="box", **outline), Wall(name="shell", from_="box", to="outside", **wall),
        Part(name="drive", in_="box", **drive),
    )  # fmt: skip
    key = "part.drive.power"
    every = (
        flownet.headroom(case, key, upto="150 W"), flownet.sweep(case, {key: [50.0, 100.0]}),
        flownet.uncertainty(case, samples=20, seed=1),
    )  # fmt: skip
    for found in every:
        assert any("4 layers" in text and "part.drive" in text for text in found.verdicts())
    assert all("4 layers" in every[i].verdict for i in (0, 2))  # the first line is true
    calm = flownet.headroom(case.with_changes({key: 10.0}), key, upto="20 W")
    assert not any("layers" in text for text in calm.verdicts())
    edge = flownet.headroom(case.with_changes({key: 30.0}), key, upto="400 W")
    there = {key: edge.first.before.value, "compartment.box.layers": 4}
    divided = min(flownet.solve(case, changes=there).limits, key=lambda item: item.margin)
    assert not edge.broken_in_layers
    assert edge.edge_in_layers.broken[0].margin == pytest.approx(divided.margin, abs=1e-6)
    reached = edge.edge_in_layers.value  # up to there it holds, and hardly further
    for value, holds in ((reached, True), (1.02 * reached, False)):
        at = flownet.solve(case, changes={key: value, "compartment.box.layers": 4})
        assert all(item.holds for item in at.limits) == holds
    assert 30.0 < reached < edge.value
    assert edge.to_dict()["in_layers"]["value"] == reached
    assert "4 layers" in edge.verdict
    short = flownet.headroom(case.with_changes({key: 30.0}), key, upto=0.99 * edge.value)
    assert short.first is None  # nothing breaks mixed, up to there
    assert short.edge_in_layers.value == pytest.approx(reached, rel=0.02)
    assert "4 layers" in short.verdict
    key = "wall.shell.u_value"  # downwards: layers ask for a better wall than one temperature
    edge = flownet.headroom(case.with_changes({key: 30.0}), key)
    assert edge.first is None
    reached = edge.edge_in_layers.value
    for value, holds in ((reached, True), (0.95 * reached, False)):
        at = flownet.solve(case, changes={key: value, "compartment.box.layers": 4})
        assert all(item.holds for item in at.limits) == holds
    wide = case.with_changes({"part.drive.limit": 400.0, "part.drive.power": 30.0})
    calm = flownet.uncertainty(wide, samples=20, seed=1)
    divided = flownet.solve(wide, changes={"compartment.box.layers": 4}).limits[0]
    lost = flownet.solve(wide).limits[0].margin - divided.margin
    assert calm.lost_in_layers["part", "part.drive"] == pytest.approx(lost, abs=1e-6)
    assert "4 layers" in calm.verdict


# --- the parts of the search ---------------------------------------------------------------------


@pytest.mark.parametrize(("present", "last"), [(100.0, 110.0), (10.0, 0.0), (0.01, 0.02)])
def test_the_value_up_to_which_layers_hold_is_found_within_a_hundredth(present, last, monkeypatch):
    """A margin ln(0.43 / (0.1 + way)), by its definition zero after 0.33 of the way."""

    def margin(value):
        return math.log(0.43 / (0.1 + (value - present) / (last - present)))

    def limit(value):
        bound = LIMIT - margin(value), LIMIT, margin(value)
        return Limit("part", "part.p", *bound, q.TEMPERATURE, q.DIFFERENCE)

    made = SimpleNamespace(broken=(limit(last),), changes={})
    monkeypatch.setattr(headroom_layers, "in_layers", lambda end: made)
    monkeypatch.setattr(headroom_layers, "Solution", SimpleNamespace)
    monkeypatch.setattr(headroom_layers, "piled", lambda case: case)
    monkeypatch.setattr(headroom_layers, "again", lambda case, changes: SimpleNamespace(
        limits=(limit(case["key"]),)))  # fmt: skip
    moved = SimpleNamespace(present=present, whole=False, changes=lambda value: {"key": value})
    case = SimpleNamespace(with_changes=lambda changes: changes)
    found = headroom_layers.edge_in_layers(None, case, moved, last)
    assert (found.value - present) / (last - present) == pytest.approx(0.325, abs=0.01)
    assert margin(found.value) >= 0


@pytest.mark.parametrize(
    ("ends", "below"),
    [((0.0, 5.0, 10.0), 16), ((0.0, 0.1, 10.0), 8), ((0.0, 9.9, 10.0), 24), ((0.0, 0.0, 8.0), 0),
     ((0.0, 8.0, 8.0), 32), ((-4.0, 1.0, 12.0), 10)],
)  # fmt: skip
def test_a_scan_has_33_values_evenly_on_both_sides_of_today(ends, below):
    """At least eight on either side, where there is one; by hand."""
    low, here, high = ends
    found = grid(*ends)
    assert len(found) == SCAN_STEPS + 1
    assert found[below] == here
    parts = found[: below + 1], found[below:]
    for part, (start, stop) in zip(parts, ((low, here), (here, high)), strict=True):
        assert part == pytest.approx(np.linspace(start, stop, len(part)))


@pytest.mark.parametrize(("near", "far"), [(0.0, 34.0), (34.0, 0.0), (-1.0, 2.4), (3.0, 4.0)])
def test_values_within_a_bracket_lie_between_its_ends_in_their_order(near, far):
    found = _inside(near, far, whole=False)
    assert found == pytest.approx([near + (far - near) * k / 17 for k in range(1, 17)])
    whole = _inside(near, far, whole=True)
    assert whole == sorted(whole, reverse=near > far)
    between = {k for k in range(-5, 40) if min(near, far) < k < max(near, far)}
    assert set(whole) <= between
    assert between <= set(whole) or len(whole) >= 14


def at(value, margin=math.nan, *, status="", kind="part", bound=350.0, margins=None):
    """A point of a scan with one limit."""
    limit = None
    if not math.isnan(margin):
        limit = Limit(kind, "part.p", bound - margin, bound, margin, q.TEMPERATURE, q.DIFFERENCE)
    word = status or ("ok" if margin >= 0 else "over")
    every = {(kind, "part.p"): margin} if margins is None else margins
    return Point(value, word, limit, every, 0.0, 0.0, "", {}, "", {"stall": []} if
                 word == "void" else {})  # fmt: skip


@pytest.mark.parametrize(
    ("before", "after", "whole", "value", "jumps"),
    [
        (at(1.0, 3e-4), at(2.0, -1e-4), False, 1.75, False),
        (at(2.0, 3e-4), at(1.0, -1e-4), False, 1.25, False),
        (at(1.0, -1e-4), at(3.0, 3e-4), False, 1.5, False),
        (at(1.0, 0.9e-3), at(2.0, -0.2e-3), False, 1.0, True),
        (at(1.0, 0.7e-3), at(2.0, -0.2e-3), False, 1 + 7 / 9, False),
        (at(1.0, -0.2e-3), at(2.0, 0.9e-3), False, 2.0, True),
        (at(1.0, 3e-4), at(2.0, -1e-4), True, 1.0, True),
        (at(1.0, 0.03, kind="noise", bound=50.0), at(2.0, -0.01, kind="noise", bound=50.0), False,
         1.75, False),
        (at(1.0, 0.05, kind="noise", bound=50.0), at(2.0, -0.01, kind="noise", bound=50.0), False,
         1.0, True),
        (at(1.0, 0.9e-3, kind="dew", bound=0.0), at(2.0, -0.2e-3, kind="dew", bound=0.0), False,
         1.0, True),
        (at(1.0, 3e-4, kind="dew", bound=0.0), at(2.0, -1e-4, kind="dew", bound=0.0), False,
         1.75, False),
        (at(1.0, 3e-4, margins={}), at(2.0, -1e-4), False, 1.0, True),
        (at(1.0, 3e-4), at(2.0, 1.0, status="void"), False, 1.0, False),
        (at(1.0, 3e-4), at(2.0, status="unsolved"), False, 1.0, False),
        (at(1.0, 3e-4), at(2.0, -1e-4, status="void"), False, 1.0, False),
    ],
)  # fmt: skip
def test_a_crossing_is_the_zero_of_the_margin_on_the_line_through_both_ends(
    before, after, whole, value, jumps
):
    """By hand; a margin that jumps by more than 1e-3 K, or of a bound (of 1 where that
    is zero), has no zero."""
    found = _crossing(before, after, whole)
    assert (found.value, found.jumps) == (pytest.approx(value), jumps)
    assert found.breaks == before.holds


@pytest.mark.parametrize(
    ("kind", "bound", "margin", "value", "status"),
    [("part", 350.0, 3e-4, 349.9997, "tight"), ("part", 350.0, -4e-4, 350.0004, "over"),
     ("noise", 50.0, -4e-5, 50.00004, "ok"), ("noise", 50.0, 6e-5, 49.99994, "over"),
     ("flow", 0.02, -9e-7, 0.0199991, "ok"), ("flow", 0.02, 2e-6, 0.020002, "over")],
)  # fmt: skip
def test_at_its_limit_a_point_holds_by_a_margin_of_nothing(kind, bound, margin, value, status):
    """Nothing is a millionth of the bound, or of 1 where that is less; a level has no margin that
    is tight. What the point has no margin of stays."""
    limit = at(1.0, 1.0, kind=kind, bound=bound).limit
    there = at(1.0, -5.0)._replace(margins={(kind, "part.p"): margin})
    found = _at_limit(there, limit)
    assert (found.status, found.limit.margin) == (status, margin)
    assert found.limit.value == pytest.approx(value, rel=1e-12)
    assert _at_limit(there, limit._replace(subject="part.q")) is there


@pytest.mark.parametrize(
    ("margins", "wanted"),
    [
        ([1, 2, 3], []), ([3, 2, 1], []), ([1, 2, 1], [(1, 2, True)]),
        ([1, 1.06, 1], [(1, 1.06, True)]), ([1, 1.04, 1], []), ([1, 1.2, 1.16], []),
        ([1.16, 1.2, 1], []), ([2, 1, 2], [(1, 1, False)]), ([1, 0.96, 1], []),
        ([1, 0.94, 1.1], [(1, 0.94, False)]), ([0, 2, -2, 0], [(1, 2, True), (2, -2, False)]),
        ([1, 2], []), ([1, math.nan, 2, 1], [(2, 2, True)]), ([1, math.nan, 2], []),
    ],
)  # fmt: skip
def test_a_margin_turns_where_its_most_or_least_is_at_neither_end(margins, wanted):
    """By more than 0.05 K."""
    points = [at(float(i), float(m), status="unsolved" if math.isnan(m) else "")
              for i, m in enumerate(margins)]  # fmt: skip
    assert list(turns(points)) == [Turn(*each) for each in wanted]
    void = [*points, at(9.0, 50.0, status="void"), *points[-1:]]
    assert not any(turn.margin == 50.0 for turn in turns(void))


def speedy(**fans):
    """Two fans of one type with a range of speeds."""
    things = [item for named in blown_box().things.values() for item in named.values()
              if item.KIND not in ("fan", "fan_type")]  # fmt: skip
    kind = flownet.FanType(
        name="straight",
        origin="invented data",
        rated_speed="2500 rpm",
        flow_area="0.01 m2",
        supply="24 V dc",
        speed_range=(0.4, 1.2),
        curve={"flow": f"0 {FREE} m3/s", "rise": f"{SHUT_OFF} 0 Pa"},
    )
    made = [flownet.Fan(name=name, from_="box", to="outside", type="straight", **keys)
            for name, keys in fans.items()]  # fmt: skip
    return Enclosure.of(*things, kind, *made)


@pytest.mark.parametrize(
    ("case", "key", "ends"),
    [
        (speedy(a={}), "fan.a.speed", (0.4, 1.2)),
        (blown_box(), "fan.f.speed", (0.1, 1.5)),
        (speedy(a={"speed": 0.8}, b={"speed": 0.9}), "fan.*.speed", (0.4 / 0.8, 1.2 / 0.9)),
        (blown_box().with_changes({"filter.mat.fouling": 5.0}), "filter.mat.fouling", (1.0, 15.0)),
        (blown_box(noise_dBA=50.0), "limits.noise_dBA", (30.0, 70.0)),
        (closed_box(efficiency=0.9, output=100.0, power=math.nan), "part.p.efficiency", None),
        (blown_box(), "outside.altitude", (0.0, 5000.0)),
        (blown_box(), "outside.temperature", (308.15 - 60, 308.15 + 60)),
        (closed_box(), "part.p.power", (11.0, 550.0)),
        (blown_box().with_changes({"filter.mat.fouling": 0.6}), "filter.mat.fouling", (0.6, 10.0)),
    ],
)  # fmt: skip
def test_how_far_a_key_is_tried(case, key, ends):
    moved = subject(case, key)
    low, high = span(moved, case, None)
    assert (low, high) == pytest.approx(ends or moved.allowed)


@pytest.mark.parametrize(
    ("upto", "ends"), [(2.0, (1.0, 2.0)), (0.5, (0.5, 1.0)), (1.0, None), (math.inf, None)]
)
def test_a_range_goes_from_today_to_where_it_is_asked_for(upto, ends):
    case = speedy(a={"speed": 1.0})
    moved = subject(case, "fan.a.speed")
    if ends is None:
        with pytest.raises(CaseError, match="upto: "):
            span(moved, case, upto)
    else:
        assert span(moved, case, upto) == ends


@pytest.mark.parametrize(
    ("today", "up", "down", "first", "room"),
    [
        (at(5.0, 1.0), [7.0], [4.0], 7.0, 1.0), (at(5.0, 1.0), [], [4.0], 4.0, 1.0),
        (at(5.0, 1.0), [7.0], [], 7.0, 2.0), (at(5.0, 1.0), [], [], None, math.inf),
        (at(5.0, -1.0), [7.0], [4.0], 4.0, 0.0), (at(5.0, -1.0), [5.5], [4.0], 5.5, 0.0),
        (at(5.0, 1.0), ["7"], [1.0], 1.0, 4.0), (at(5.0, 1.0), ["7"], [], 7.0, math.inf),
    ],
)  # fmt: skip
def test_the_first_change_is_above_where_there_is_one_and_the_nearer_of_a_broken_case(
    today, up, down, first, room
):
    """A value that is not allowed (as text here) counts last, and is no room."""

    def side(values):
        return tuple(
            LimitCrossing(float(v), today, at(float(v), -today.margin, status="refused" if
                                         isinstance(v, str) else ""), False) for v in values
        )  # fmt: skip

    moved = SimpleNamespace(present=5.0, path="x")
    found = Headroom(
        None, moved, 0.0, 9.0, today, (), side(up), side(down), (), (), None, (), {}, None
    )
    assert (found.first.value if found.first else None) == first
    assert found.room == room
    assert found.value == pytest.approx(math.nan if first is None else first, nan_ok=True)


def test_a_factor_keeps_every_number_in_its_range():
    """Numbers of 2 and 4 within 1 to 8: a half to twice as much."""
    role = Number(q.RATIO, low=1.0, high=8.0)
    moved = Subject("x", (), role, 1.0, {"a": 2.0, "b": 4.0, "none": 0.0})
    assert moved.allowed == (0.5, 2.0)
    assert moved.changes(np.array([0.5, 2.0]))["b"].tolist() == [2.0, 8.0]
    assert moved.read("0.5", None) == 0.5
    with pytest.raises(CaseError, match="factor on each"):
        moved.read("-0.5", None)
    plain_ = Subject("x", (), role, 3.0)
    assert (plain_.allowed, plain_.factor) == ((1.0, 8.0), False)


@pytest.mark.parametrize(
    ("raw", "value"), [("+ 10 K", OUTSIDE + 10), ("- 10 K", OUTSIDE - 10), ("30 degC", 303.15)]
)
def test_how_far_may_be_said_from_today_on(raw, value):
    case = closed_box()
    moved = subject(case, "outside.temperature")
    assert moved.read(raw, case) == pytest.approx(value)
    assert span(moved, case, raw) == pytest.approx((min(OUTSIDE, value), max(OUTSIDE, value)))


def test_further_values_for_a_picture_are_those_of_solves():
    case = blown_box(noise_dBA=90.0, fan={"speed": 0.9})
    case = case.with_changes({"fan_type.straight.noise_dBA": 50.0})
    found = flownet.headroom(case, "filter.mat.fouling")
    points, quantities = close_up(found, [2.0, 3.5])
    assert [point.value for point in points] == [2.0, 3.5]
    for point in points:
        there = flownet.solve(case, changes={"filter.mat.fouling": point.value})
        assert point.margin == pytest.approx(there["total.worst_margin"], abs=1e-6)
        assert point.drops["filter.mat"] == pytest.approx(there["filter.mat.drop"], rel=1e-6)
    assert quantities == {
        ("air", "compartment.box"): q.DIFFERENCE, ("part", "part.p"): q.DIFFERENCE,
        ("noise", "total.noise"): q.LEVEL_DIFFERENCE,
    }  # fmt: skip


def test_json_tells_what_breaks_where():
    """Each entry against the parts of the result; broken today, in a scenario and a variant."""
    case = closed_box()
    things = [item for named in case.things.values() for item in named.values()]
    case = Enclosure.of(*things, scenarios={"hot": {"outside.temperature": 310.0}},
                        variants={"strong": {"part.p.power": 300.0}})  # fmt: skip
    names = ("limit", "subject", "value", "holds_today")
    made = flownet.headroom(case, "part.p.power").to_dict()
    assert (made["scenario"], made["variant"]) == (None, None)
    wanted = U_VALUE * AREA * (LIMIT - OUTSIDE)
    assert [made[n] for n in names] == ["air", "compartment.box", pytest.approx(wanted), True]
    (up,) = made["up"]
    assert up == {"value": pytest.approx(wanted), "then": "breaks", "status": "over",
                  "subject": "compartment.box", "jumps": False, "why": None}  # fmt: skip
    assert (made["down"], made["today"]["value"], made["unit"]) == ([], 110.0, "W")
    assert (made["today"]["unit"], made["scan"][0]["unit"]) == ("W", "W")
    assert made["today"]["hottest_air_in"] == "box"
    assert made["today"]["hottest_air_degC"] == pytest.approx(OUTSIDE + 10 - 273.15)
    there = made["there"]
    assert (there["limit"], there["subject"], there["margin_unit"]) == (
        "air",
        "compartment.box",
        "K",
    )
    assert there["margin"] == pytest.approx(0.0, abs=1e-5)
    broken = flownet.headroom(case, "part.p.power", scenario="hot", variant="strong")
    made = broken.to_dict()
    assert (made["scenario"], made["variant"]) == ("hot", "strong")
    wanted = U_VALUE * AREA * (LIMIT - 310.0)
    assert [made[n] for n in names] == ["air", "compartment.box", pytest.approx(wanted), False]
    (down,) = made["down"]
    assert (down["then"], down["status"], down["subject"]) == ("holds", "over", "compartment.box")
    assert math.isnan(broken.alarm)
    assert broken.room == 0.0
    free = flownet.headroom(case, "part.p.power", upto=120.0).to_dict()
    assert [free[n] for n in names] == [None, None, None, True]
    stuck = flownet.headroom(case, "part.p.power", variant="strong", scenario="hot", upto=400.0)
    assert stuck.limit.subject == "compartment.box"  # broken all along
    assert stuck.to_dict()["there"] is None


@pytest.mark.parametrize(("value", "other", "side", "told"), [
    (329.74, 330.0, 0, "329.7 W"), (329.96, 330.0, 0, "329.96 W"), (330.0, 300.0, 0, "330 W"),
    (329.74, 300.0, -1, "329 W"), (329.24, 300.0, 1, "330 W"), (330.0 - 3e-7, 330.0, 0, "330 W"),
    (330.0 - 3e-6, 330.0, 0, "329.999997 W"),
])  # fmt: skip
def test_a_value_has_as_many_digits_as_tell_it_from_another(value, other, side, told):
    """Three, or up to nine; rounded down or up to the side that is asked for."""
    moved = Subject("part.p.power", (), Number(q.POWER), 330.0)
    assert moved.apart(value, other, side=side) == told


def test_what_a_key_is_without_a_value():
    """A clear sky, a slot without heat, a site at sea level, a part without heat."""
    for (kind, key), value in {("outside", "clearness"): 1.0, ("outside", "altitude"): 0.0,
                               ("part", "power"): 0.0, ("slot", "power"): 0.0}.items():  # fmt: skip
        assert ABSENT[kind, key][0] == value


def of_power(key="power", own=None):
    return Subject(f"part.p.{key}", (Place("part", "p", key),), Number(q.POWER), 330.0, own or {})


@pytest.mark.parametrize(("moved", "kind", "told"), [
    (of_power(), "dew", ": a heater of 30 W keeps the coldest place 2.0 K above the dew point"),
    (of_power(), "air", ""), (of_power("load"), "dew", ""), (of_power(own={"a": 1.0}), "dew", ""),
])  # fmt: skip
def test_power_that_lifts_a_place_above_the_dew_point_is_a_heater(moved, kind, told):
    limit = Limit(kind, "compartment.box", 1.0, 2.0, -1.0, q.DIFFERENCE, q.DIFFERENCE)
    assert moved.dries("30 W", limit, "metric") == told
    assert moved.dries("30 W", None, "metric") == ""


@pytest.mark.parametrize(("own", "values", "sides", "told"), [
    (None, [0.5, 1.0], None, ["0.500", "1.000"]),
    (None, [0.5, 0.5000001], None, ["0.5000000", "0.5000001"]),
    (None, [0.5, 0.5 + 1e-12], None, ["0.500000000"] * 2),
    ({"a": 1.0}, [0.5, 1.0], None, ["0.500 times", "1.000 times"]),
    (None, [0.5449, 0.5561], [1, -1], ["0.545", "0.556"]),
])  # fmt: skip
def test_a_column_has_the_decimals_that_tell_its_values_apart(own, values, sides, told):
    """Nine at most; rounded down or up where a side is asked for."""
    moved = Subject("fan.a.speed", (), Number(q.RATIO), 0.5, own or {})
    assert moved.texts(values, sides=sides) == told


@pytest.mark.parametrize(("changes", "key", "said"), [
    ({"outside.pressure": 9e4}, "outside.altitude",
     "has no value to start from; outside.pressure is given instead"),
    ({"part.p.power": None, "part.p.output": 90.0, "part.p.efficiency": 0.9}, "part.p.power",
     "has no value to start from; its heat is given by output and efficiency"),
    ({}, "part.p.limit", "has no value to start from; name one that has, or give it a value first"),
])  # fmt: skip
def test_what_stands_instead_of_a_key_is_said(changes, key, said):
    case = closed_box().with_changes(changes)
    with pytest.raises(CaseError) as told:
        subject(case, key)
    assert said in str(told.value)
    moved = subject(blown_box(), "fan.f.speed")
    with pytest.raises(CaseError, match="a ratio to rated speed is wanted"):
        moved.read("2000 rpm", blown_box())


@pytest.mark.parametrize(("ends", "whole", "values"), [
    ((0.0, 8.0, 32.0), False, [*range(33)]), ((0.0, 1.0, 32.0), False, None),
    ((0.0, 0.0, 32.0), False, [*range(33)]), ((0.0, 32.0, 32.0), False, [*range(33)]),
    ((1.0, 3.0, 4.4), True, [1.0, 2.0, 3.0, 4.0]), ((0.6, 2.0, 3.0), True, [1.0, 2.0, 3.0]),
])  # fmt: skip
def test_a_scan_goes_evenly_to_both_sides_of_today(ends, whole, values):
    """At least eight steps to either side, where there is one."""
    found = grid(*ends, whole)
    if values is None:
        values = [*(np.arange(8) / 8), *(1 + 31 * np.arange(25) / 24)]
    assert found == pytest.approx(values)
