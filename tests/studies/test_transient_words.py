"""When what happens in a course, and what is said of it, on numbers worked by hand."""

from __future__ import annotations

import math
from itertools import pairwise
from types import SimpleNamespace

import numpy as np
import pytest

from flownet.results.limits import Limit
from flownet.schema import quantities as q
from flownet.schema.errors import NoSolution
from flownet.solver.switching import Switch
from flownet.studies import ride_through
from flownet.studies.ride_through import Ride
from flownet.studies.timeline import Happening, Moving, Stage, stages
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
