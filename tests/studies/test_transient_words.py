"""When what happens in a course, and what is said of it, on numbers worked by hand."""

from __future__ import annotations

import math
from itertools import pairwise
from types import SimpleNamespace

import numpy as np
import pytest

from flownet.enclosure.fans import Fan, FanType
from flownet.enclosure.heat import Part
from flownet.results.limits import Limit
from flownet.schema import quantities as q
from flownet.schema.errors import CaseError, NoSolution
from flownet.solver.switching import Switch
from flownet.studies import ride_through
from flownet.studies.ride_through import Ride
from flownet.studies.timeline import (
    Happening,
    Moving,
    Stage,
    _told,
    asides,
    curves,
    happening,
    happenings,
    read_inputs,
    stages,
)
from flownet.studies.transient import switched
from flownet.studies.transient_result import Crossing, Event, Transient, VoidSpell
from tests.studies.test_transient import OUTSIDE, box, source


def spell(*switches):
    return SimpleNamespace(switches=[Switch(*each) for each in switches])


def switch(time, speeds=(0.0, 1.0), fan="a", by="compartment.box"):
    return time, fan, by, speeds


@pytest.mark.parametrize(("before", "endless"), [
    ([spell(switch(9.5, (1.0, 0.0)))], True), ([spell(switch(8.9, (1.0, 0.0)))], False),
    ([spell(switch(9.5, (0.0, 1.0)))], False), ([spell(switch(9.5, (1.0, 0.0), "b"))], False),
    ([spell(switch(9.5, (1.0, 0.0))), spell()], True),
    ([spell(switch(9.5, (1.0, 0.0))), spell(), spell()], False),
])  # fmt: skip
def test_a_fan_that_switches_back_within_a_second_does_so_without_end(before, endless):
    """It feels what it follows within 1 s; of the last three stretches."""
    some = [*before, spell(switch(10.0))]
    if endless:
        with pytest.raises(NoSolution, match=r"after 10 s: fan\.a switches to and fro .* by comp"):
            list(switched(some))
    else:
        (event,) = switched(some)
        assert event == Event(10.0, 0.0, "fan.a starts as compartment.box asks")


def test_switches_of_one_time_are_told_together():
    some = [spell(switch(5.0), switch(5.0, fan="b"), switch(5.0, (1.0, 0.0), "c"),
                  switch(5.0, (0.5, 0.8), "d"), switch(5.0, (0.4, 0.8), "e"),
                  switch(5.0, (0.4, 0.81234), "f"),
                  switch(5.0, fan="g", by="outside"))]  # fmt: skip
    assert [event.text for event in switched(some)] == [
        "fan.a and fan.b start as compartment.box asks", "fan.c stops as compartment.box asks",
        "fan.d and fan.e go to speed 0.8 as compartment.box asks",
        "fan.f goes to speed 0.812 as compartment.box asks",
        "fan.g starts as outside asks"]  # fmt: skip


@pytest.mark.parametrize("more", [0, 1])
def test_a_thousand_switches_are_enough(more):
    some = [spell(*[switch(float(i)) for i in range(900)]), spell(switch(9e3)),
            *[spell(switch(1e4 + i)) for i in range(99 + more)]]  # fmt: skip
    if more:
        with pytest.raises(NoSolution, match="more than 1000 times"):
            list(switched(some))
    else:
        assert len(list(switched(some))) == 1


# --- stretches -----------------------------------------------------------------------------------


def test_a_course_is_cut_where_something_begins_or_bends():
    """An event at 10 s, a ramp from 20 to 25 s that a step at 24 s ends, a course with a bend at
    15 s that ends at 30 s; what comes after the end is none of it."""
    case = box(source())
    events = [
        Happening(10.0, 0.0, {"part.p.load": 0.5}),
        Happening(20.0, 5.0, {"part.p.load": 1.0}),
        Happening(24.0, 0.0, {"part.p.load": 2.0}),
        Happening(41.0, 0.0, {"part.p.load": 9.0}),
    ]
    given = [Moving("outside.temperature", np.array([0.0, 15.0, 30.0]),
                    OUTSIDE + np.array([0.0, 6.0, 3.0]))]  # fmt: skip
    found = list(stages(case, events, given, 40.0))
    ends = [0.0, 10.0, 15.0, 20.0, 24.0, 25.0, 30.0, 40.0]
    assert [(one.begin, one.end) for one in found] == [*pairwise(ends)]
    assert [[each.path for each in one.moving] for one in found] == [
        *[["outside.temperature"]] * 3, ["outside.temperature", "part.p.load"],
        *[["outside.temperature"]] * 2, []]  # fmt: skip
    loads = [one.case["part.p.load"] for one in found]
    assert loads == [1.0, 0.5, 0.5, 0.5, 2.0, 2.0, 2.0]
    assert found[-1].case["outside.temperature"] == OUTSIDE + 3
    ramp = found[3].moving[1]
    assert (ramp.times.tolist(), ramp.values.tolist()) == ([20.0, 25.0], [0.5, 1.0])
    assert found[3].at_end["part.p.load"] == pytest.approx(0.9)
    assert found[3].at_end["outside.temperature"] == pytest.approx(OUTSIDE + 6 - 9 / 5)
    assert [one.told for one in found] == [
        (), ((0.0, "part.p.load becomes 0.5"),), (), ((5.0, "part.p.load goes to 1 over 5 s"),),
        ((0.0, "part.p.load becomes 2"),), (), ()]  # fmt: skip


@pytest.mark.parametrize(("points", "cut", "longest"), [(50, 50, math.inf), (51, 1, 0.5)])
def test_of_many_points_a_step_passes_over_none(points, cut, longest):
    """Up to 50 each begins a stretch; more bound the steps, by their least distance."""
    times = np.arange(points) * 1.0
    times[1] = 0.5
    given = [Moving("outside.temperature", times, np.full(points, OUTSIDE))]
    found = list(stages(box(source()), [], given, 1000.0))
    assert len(found) == cut
    assert Stage(0.0, 1.0, None, tuple(given), ()).longest == longest


# --- what is given -------------------------------------------------------------------------------


def pair_of_parts():
    return box(source(), Part(name="r", in_="box", power=10.0))


@pytest.mark.parametrize(("event", "made"), [
    ("60 s: part.p.load=0.5", (60.0, 0.0, {"part.p.load": 0.5})),
    (" 1 min over 2 min : part.p.load = 0.5 ; outside.temperature=30 degC",
     (60.0, 120.0, {"part.p.load": 0.5, "outside.temperature": 303.15})),
    ({"after": 60, "set": {"part.p.load": 2}}, (60.0, 0.0, {"part.p.load": 2.0})),
    ({"after": 9.0, "over": 3.0, "set": {"part.*.load": 2}}, (9.0, 3.0, {"part.*.load": 2.0})),
    ({"set": {"wall.a.area": 2.0}}, (0.0, 0.0, {"wall.a.area": 2.0})),
    ("80 s: part.p.load=0.5", (80.0, 0.0, {"part.p.load": 0.5})),
])  # fmt: skip
def test_an_event_is_a_mapping_or_a_text(event, made):
    """Up to the end, 80 s."""
    assert happening(pair_of_parts(), event, 80.0) == made


@pytest.mark.parametrize(("event", "file", "faults"), [
    (7, False, ["takes a mapping"]), ("60 s", False, ["a time and what is set then is wanted"]),
    ("60 s: part.p.load", False, ["a time and what"]), ("60 s: =5", False, ["a time and what"]),
    ("60 s: part.p.load=1; part.p.load=2", False, ["part.p.load: stands twice"]),
    ({"set": {"part.p.load": 1}}, True, ["after: must be given"]),
    ({"aftr": 5, "set": {}}, False, ['aftr: unknown key; did you mean "after"?', "set: takes"]),
    ({"after": -1, "set": {"part.p.load": 1}}, False, ["after: "]),
    ({"after": 81, "over": -1, "set": 5}, False,
     ["over: ", "after: comes after the end, 1 min 20 s (got 1 min 21 s)",
      "set: takes paths and values"]),
    ({"after": 5, "over": 1, "set": {"limits.duty": "continuous", "part.p.lod": 1}}, False,
     ["set.limits.duty: is no number and cannot change gradually", "set.part.p.lod: "]),
    ({"after": 5, "set": {"limits.duty": "continuous", "part.p.load": -1}}, False,
     ["set.part.p.load: "]),
])  # fmt: skip
def test_every_fault_of_an_event_is_told(event, file, faults):
    with pytest.raises(CaseError) as told:
        happening(pair_of_parts(), event, 80.0, file=file)
    found = [str(fault) for fault in told.value.faults]
    assert len(found) == len(faults)
    for fault, start in zip(found, faults, strict=True):
        assert fault.startswith(start), fault


def test_events_are_in_the_order_of_time_and_set_nothing_twice_at_once():
    case = pair_of_parts()
    some = ["9 s: part.p.load=1", "2 s: part.*.load=2", "9 s: part.r.load=1"]
    assert [(each.after, *each.set) for each in happenings(case, some, 80.0)] == [
        (2.0, "part.*.load"), (9.0, "part.p.load"), (9.0, "part.r.load")]  # fmt: skip
    with pytest.raises(CaseError) as told:
        happenings(case, [*some, "9 s: part.*.load=3"], 80.0)
    for fault, name, other in zip(told.value.faults, "pr", (0, 2), strict=True):
        words = f"events.3: part.{name}.load is set at 9 s by events.{other} as well"
        assert str(fault).startswith(words)
    with pytest.raises(CaseError) as told:
        happenings(case, ["x", *some, 7], 80.0)
    assert [str(fault).partition(":")[0].partition(".t")[0] for fault in told.value.faults] == [
        "events.0", "events.4"]  # fmt: skip


def test_courses_are_read_with_the_unit_of_their_column(tmp_path):
    (file := tmp_path / "a.csv").write_text(
        "# a remark\ntime[min], outside.temperature[degC] ,part.p.load\n0,20,1\n1.5,30,0.5\n"
    )
    assert read_inputs(pair_of_parts(), file) == {
        "outside.temperature": ([0.0, 90.0], [pytest.approx(293.15), pytest.approx(303.15)]),
        "part.p.load": ([0.0, 90.0], [1.0, 0.5])}  # fmt: skip


HEAD = "time[s],part.p.load\n"


@pytest.mark.parametrize(("text", "faults"), [
    ("", ["is empty"]), (HEAD, ["begins with"]), ("tim[s],part.p.load\n0,1\n", ["begins with"]),
    ("time[s],part.p.load[\n0,1\n", ["begins with"]),
    ("time[s],part.p.load,part.p.load\n0,1,1\n", ["part.p.load: stands over two columns"]),
    ("time[s],limits.duty\n0,1\n", ["limits.duty: is no number"]),
    (f"{HEAD}0,1\n2,1,1\n1,1\n1,1\n-3,1\n2,x\n",
     ["line 3: 3 cells under 2 columns", "line 5: time: must rise", "line 6: time: ", "line 7: "]),
    ("time,part.p.load\n0,1\n", ["line 2: time: "]),
])  # fmt: skip
def test_every_fault_of_courses_is_told_by_its_line(text, faults, tmp_path):
    (file := tmp_path / "a.csv").write_text(text)
    with pytest.raises(CaseError) as told:
        read_inputs(pair_of_parts(), file)
    found = [str(fault).removeprefix("a.csv: ") for fault in told.value.faults]
    assert len(found) == len(faults)
    for fault, start in zip(found, faults, strict=True):
        assert fault.startswith(start), fault


def test_a_course_of_several_is_one_of_each():
    found = curves(pair_of_parts(), {"part.*.load": ([0, 5], [1, 2]), "part.p.power": ([3], [4])})
    assert [(each.path, each.times.tolist(), each.values.tolist()) for each in found] == [
        ("part.p.load", [0.0, 5.0], [1.0, 2.0]), ("part.r.load", [0.0, 5.0], [1.0, 2.0]),
        ("part.p.power", [3.0], [4.0])]  # fmt: skip


@pytest.mark.parametrize(("times", "values", "said"), [
    ([0, 1], [1], "takes as many values as times (got 1, 2)"), ([], [], "takes as many"),
    ([[0, 1]], [[1, 2]], "takes as many"), ([0, 1, 1], [1, 2, 3], "times must rise"),
    ([0, 1, 2], [1, -1, 1], "part.p.load: "),
])  # fmt: skip
def test_a_course_that_is_none_is_refused(times, values, said):
    with pytest.raises(CaseError) as told:
        curves(pair_of_parts(), {"part.p.load": (times, values)})
    assert said in str(told.value)


@pytest.mark.parametrize(("event", "told"), [
    (Happening(5.0, 60.0, {"part.p.load": 0.5}), ["part.p.load goes to 0.5 over 1 min"]),
    (Happening(5.0, 0.0, {"part.p.load": 2.0, "outside.temperature": 303.15}),
     ["part.p.load becomes 2", "outside.temperature becomes 30 degC"]),
    (Happening(5.0, 0.0, {"fan.a.state": "stopped"}), ["fan.a stops"]),
    (Happening(5.0, 0.0, {"fan.*.state": "running"}), ["fan.a and fan.b start"]),
    (Happening(5.0, 0.0, {"fan.*.speed": 0.5}), ["fan.*.speed becomes 0.5"]),
])  # fmt: skip
def test_what_begins_to_happen_in_words(event, told):
    kind = FanType(name="t", curve={"flow": "0 60 m3/h", "rise": "40 0 Pa"}, flow_area="60 cm2")
    fans = [Fan(name=name, from_="box", to="outside", type="t") for name in "ab"]
    assert list(_told(box(source(), kind, *fans), event)) == told


def test_what_is_left_out_and_what_changes_nothing_is_told_aside():
    case, load = pair_of_parts(), {"part.p.load": 2.0}
    given = curves(case, {"part.r.load": ([0, 5, 9], [1, 3, 2])})
    events = [Happening(t, 0.0, load) for t in (5.0, 9.0)]
    assert list(asides(case, events, given, 9.0, ["a", "b"])) == [
        "follows its course, whatever the scenario says of it: part.r.load 1 to 3",
        "comes at the end or later and is left out: part.p.load becomes 2",
        "changes nothing, since it is so already: a and b"]  # fmt: skip
    assert list(asides(case, events[:1], (), 9.0, [])) == []


# --- words ---------------------------------------------------------------------------------------

EVENTS = (Event(60.0, 0.0, "fan.a stops"), Event(60.0, 0.0, "fan.b stops"),
          Event(90.0, 30.0, "part.p.load goes to 2 over 30 s"))  # fmt: skip


@pytest.mark.parametrize(("time", "cold", "told"), [
    (30.0, False, "after 30 s, before fan.a stops"),
    (30.0, True, "after 30 s of a cold start, before fan.a stops"),
    (60.0, False, "at once as fan.a stops and fan.b stops"),
    (60.04, False, "at once as fan.a stops and fan.b stops"),
    (60.06, False, "0.1 s after fan.a stops and fan.b stops"),
    (90.0, False, "0 s after the start of: part.p.load goes to 2 over 30 s"),
    (100.0, False, "10 s after the start of: part.p.load goes to 2 over 30 s"),
])  # fmt: skip
def test_a_time_is_told_by_the_last_that_happened_before(time, cold, told):
    """At once: within 0.05 s."""
    assert Transient.when(SimpleNamespace(events=EVENTS, cold=cold), time) == told


def held(kind, values, margin):
    """A limit over times."""
    values, margin = np.array(values, float), np.array(margin, float)
    return Limit(kind, "part.p", values, values + margin, margin, q.TEMPERATURE, q.DIFFERENCE)


@pytest.mark.parametrize(("kind", "last", "told"), [
    ("part", 300.0095, ", at rest at the end"), ("part", 299.9905, ", at rest at the end"),
    ("part", 300.012, ", still rising by 0.01 K a minute"), ("flow", 310.0, ""),
    ("air", 303.0, ", still rising by 3.0 K a minute"),
    ("touch", 297.0, ", still falling by 3.0 K a minute"),
])  # fmt: skip
def test_a_temperature_is_at_rest_below_a_hundredth_of_a_kelvin_a_minute(kind, last, told):
    made = SimpleNamespace(times=np.array([0.0, 10.0, 70.0]))
    assert Transient.trend(made, held(kind, [0.0, 300.0, last], [1.0, 1.0, 1.0])) == told
    one = SimpleNamespace(times=np.array([0.0]))
    assert Transient.trend(one, held(kind, [300.0], [1.0])) == ""


@pytest.mark.parametrize(("margins", "told"), [
    ({"part": [9.0, 3.0, 5.0]}, "3.0 K margin after 1 min"),
    ({"part": [2.0, 3.0, 5.0]}, "2.0 K margin at the start"),
    ({"part": [9.0, 3.0, 3.04]}, "3.0 K margin after 1 min, and on"),
    ({"part": [9.0, 3.0, 3.06]}, "3.0 K margin after 1 min"),
    ({"flow": [9.0, 1.0, 5.0], "part": [9.0, 8.0, 4.0]}, "4.0 K margin after 2 min, and on"),
    ({"part": [math.nan, 3.0, math.nan]}, "3.0 K margin after 1 min"),
])  # fmt: skip
def test_the_closest_is_a_temperature_where_it_is_least(margins, told):
    """How it goes on is told where it ends within 0.05 K of its least margin."""
    made = SimpleNamespace(until=120.0, times=np.array([0.0, 60.0, 120.0]),
                           trend=lambda item, units: ", and on")  # fmt: skip
    known = [held(kind, [300.0] * 3, margin) for kind, margin in margins.items()]
    assert Transient._closest(made, known, "metric") == (
        f"no limit reached in 2 min; part.p comes closest, {told}")  # fmt: skip


def crossing(subject, time, rising=True):
    return Crossing(subject, "part", 350.0, time, rising)


@pytest.mark.parametrize(("crossings", "told"), [
    ([crossing("a", 5.0)], []),
    ([crossing("a", 5.0), crossing("b", 6.0), crossing("c", 7.0), crossing("b", 9.0)],
     ["2 other limits reached later: b and c"]),
    ([crossing("a", 5.0), crossing("a", 8.0, rising=False)],
     ["within its limit again: a after 8 s"]),
    ([crossing("a", 5.0), crossing("a", 8.0, rising=False), crossing("a", 9.0)], []),
    ([crossing("a", 8.0, rising=False)], ["within its limit again: a after 8 s"]),
])  # fmt: skip
def test_what_is_reached_later_and_what_holds_again(crossings, told):
    first = next((each for each in crossings if each.rising), None)
    made = SimpleNamespace(crossings=crossings, first=first)
    assert list(Transient._again(made)) == told
    assert Transient.first.fget(made) == first


@pytest.mark.parametrize(("first", "over", "void", "told"), [
    (None, [], [], ("", "")),
    (crossing("a", 50.0), [], [("stall", 60.0, False)], ("", "void from 1 min on: x in stall")),
    (crossing("a", 50.0), [], [("stall", 50.0, False)],
     ("void from 50 s on: x in stall; on paper ", "")),
    (crossing("a", 50.0), [object()], [("stall", 60.0, False)],
     ("void from 1 min on: x in stall; on paper ", "")),
    (None, [], [("stall", 0.0, False), ("backflow", 5.0, False)],
     ("void from the start: x driven backwards, x in stall; on paper ", "")),
    (None, [], [("stall", 0.0, True)], ("", "")),
])  # fmt: skip
def test_what_is_void_before_the_first_limit_comes_first(first, over, void, told):
    made = SimpleNamespace(first=first, over=over, until=100.0, void=[
        VoidSpell(word, "x", begin, 99.0, dip) for word, begin, dip in void])  # fmt: skip
    assert Transient._void(made, "metric") == told


def test_what_is_over_from_the_start_the_farthest_first():
    limits = [held("part", [300.0] * 2, [margin, 5.0]) for margin in (-1.0, 2.0, -3.0)]
    found = Transient.over.fget(SimpleNamespace(limits=limits))
    assert [item.margin for item in found] == [-3.0, -1.0]


# --- rides ---------------------------------------------------------------------------------------


def ride(variant, time, scenario="fan.a-out", why=""):
    return Ride(scenario, variant, time, "part.p", why)


def test_rides_are_told_by_the_shortest_of_each_variant():
    """An hour is looked at."""
    some = [ride("base", 70.0), ride("base", 45.0, "fan.b-out"), ride("base", math.nan, "x"),
            ride("big", math.inf), ride("hot", 0.0), ride("odd", math.nan, why="no"),
            ride("late", 0.0, why="broken before")]  # fmt: skip
    assert [each.text for each in some] == [
        "1 min 10 s part.p", "45 s part.p", "no course", "1 h and more", "at once part.p",
        "no course", "broken before"]  # fmt: skip
    assert ride_through.told(some) == (
        "shortest ride through an outage: big 1 h and more (fan.a-out), base 45 s part.p "
        "(fan.b-out), hot at once part.p (fan.a-out) and late broken before "
        "(fan.a-out)")  # fmt: skip
    assert (ride_through.told(None), ride_through.told([])) == ("", ride_through.NO_OUTAGE)
    assert ride_through.told([some[2]]) == ""
    table, _ = ride_through.rides_tables(some, ["base", "big"])
    assert [column.values for column in table.columns] == [
        ["fan.a-out", "fan.b-out", "x"], ["1 min 10 s part.p", "45 s part.p", "no course"],
        ["1 h and more", "-", "-"]]  # fmt: skip
