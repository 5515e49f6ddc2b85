"""Fans against the network: crossings, fan laws and combinations that have a closed form."""

from __future__ import annotations

import json
import math
import sys
from types import SimpleNamespace

import numpy as np
import pytest

from flownet import CaseError, Compartment, Enclosure, Fan, Filter, Leak, Opening, Part, solve
from flownet.studies.fans import curves, lines
from flownet.studies.fans.curve import dip as dip_of
from flownet.studies.fans.curves import _lines, combined, fan_curves
from flownet.studies.fans.groups import FanGroup, _one_path, chain_of, members
from flownet.studies.fans.lines import CONTINUED, DIP, STATED
from flownet.studies.fans.results import loaded
from tests import published
from tests.studies.fan_boxes import DENSITY, air, box, hole, kind, out, path
from tests.test_cases import load

TOP, FREE = 100.0, 0.05  # Pa, m3/s of the fans here
ROUNDED = 1e-4  # Pa, by which a square law is rounded off near zero flow
DIPPED = {"flow": "0 30 55 75 90 110 140 182 m3/h", "rise": "112 84 62 64 66 60 38 0 Pa"}


def straight(flow):
    return TOP * (1 - flow / FREE)


def square(flow):
    return TOP * (1 - (flow / FREE) ** 2)


LINE, PARABOLA = kind("line", straight, FREE), kind("parabola", square, FREE, 401)


def at(line, flow):
    """The rise of a line at a flow."""
    order = np.argsort(line.flow)
    return float(np.interp(flow, line.flow[order], line.rise[order]))


# --- one fan ------------------------------------------------------------------------------------


def test_a_straight_fan_meets_a_square_law_where_the_quadratic_says():
    """k Q^2 = p0 (1 - Q/Q0): Q = (-b + sqrt(b^2 + 4 k p0)) / (2 k), b = p0/Q0."""
    factor, b = 6e4, TOP / FREE
    expected = (-b + math.sqrt(b * b + 4 * factor * TOP)) / (2 * factor)
    found = fan_curves(solve(box(factor, LINE, out("f", "line"))))
    (point,) = found.points
    assert point.flow == pytest.approx(expected, rel=1e-5)
    assert point.rise == pytest.approx(factor * expected**2, rel=1e-5)
    assert (point.region, point.rotation) == ("normal", pytest.approx(50.0))
    (line,) = found.lines
    assert line.rise == pytest.approx(
        np.where(line.kind == CONTINUED, line.rise, straight(line.flow)), abs=1e-9
    )


def test_the_line_of_the_network_does_not_know_the_fan():
    """The same air path behind a straight curve, a parabola and one with a dip, at any speed."""
    factor = 4e4
    dipped = kind("dipped", straight, FREE, curve=DIPPED)
    for fan_type, speed in ((LINE, 1.0), (PARABOLA, 0.6), (dipped, 1.0)):
        fan = out("f", fan_type.name, speed=speed, guard={"loss": 0.7})
        (system,) = fan_curves(solve(box(factor, fan_type, fan))).systems
        assert (system.words, system.loaded) == ("", False)  # there is no filter
        assert len(system.flow) > 40
        guard = 0.7 * DENSITY / (2 * 0.008**2)
        assert system.rise == pytest.approx(
            (factor + guard) * system.flow**2, rel=1e-4, abs=ROUNDED
        )
        assert system.flow[0] == system.rise[0] == 0.0  # no draught: no flow asks for no pressure


def test_where_draught_acts_a_system_curve_begins_at_a_flow_that_was_solved():
    (clean, loaded) = fan_curves(solve(load("drive-cabinet"))).systems
    assert min(clean.flow[0], loaded.flow[0]) > 0


@pytest.mark.parametrize("row", published.rows("fans", "A3"), ids=str)
def test_a_drawn_curve_follows_the_fan_law_of_speed(row):
    """The rated point of the source is a point of the curve; at the other speed it is where the
    source puts it, to its printed digits."""
    given, expected = row.given, row.expected
    flow, rise = 1e-5 * given["rated_flow"], given["rated_pressure"]  # a ratio: any unit does
    curve = ((0.0, 2 * rise), (flow, rise), (2 * flow, 0.0))
    fan_type = kind("f", straight, FREE, curve=curve, rated_speed=given["speed"])
    speed = given["new_speed"] / given["speed"]
    found = fan_curves(solve(box(1.0, fan_type, out("f", "f", speed=speed))))
    there = at(found.lines[0], speed * flow)
    assert speed * flow == pytest.approx(1e-5 * expected["flow"], rel=1e-3)
    assert there == pytest.approx(expected["pressure"], abs=0.005)  # half the last digit
    assert found.points[0].rotation == pytest.approx(given["new_speed"])


def test_a_drawn_curve_follows_the_density_of_the_air_drawn():
    """At one volume flow the rise goes with the density: fan law, ISO 5801 and AMCA 201."""
    high = Enclosure.of(
        air(pressure=80000.0, temperature=313.15), Compartment(name="box"),
        hole("in", "outside", "box", 4e4), LINE, out("f", "line"),
    )  # fmt: skip
    found = fan_curves(solve(high))
    thin = 80000.0 / (287.05 * 313.15)
    assert found.about["fan.f"].density == pytest.approx(thin)
    assert at(found.lines[0], 0.02) == pytest.approx(straight(0.02) * thin / DENSITY, rel=1e-9)


def test_a_curve_says_where_it_is_measured_extrapolated_and_in_its_dip():
    """The last peak is 66 Pa at 90 m3/h; left of the valley 66 Pa lies between 30 and 55 m3/h."""
    fan = kind("dipped", straight, FREE, curve=DIPPED)
    (line,) = fan_curves(solve(box(4e4, fan, out("f", "dipped")))).lines
    assert line.peak == pytest.approx(90 / 3600)
    dip = line.flow[line.kind == DIP] * 3600
    assert 30 < dip.min() < 55
    assert dip.max() == pytest.approx(90, abs=2)
    assert line.flow[line.kind == CONTINUED].min() == pytest.approx(182 / 3600)
    assert set(line.kind) == {STATED, CONTINUED, DIP}
    assert at(line, dip.min() / 3600) == pytest.approx(66.0, rel=0.01)


# --- several fans -------------------------------------------------------------------------------


def ratio_parallel(a):
    """Q2/Q1 of two parabolas p0 (1 - (q/q0)^2) on k Q^2, a = k q0^2/p0: both are 1/sqrt(...)."""
    return math.sqrt((a + 1) / (a + 1 / 4))


def ratio_series(a):
    return math.sqrt((a + 1) / (a / 2 + 1))


@pytest.mark.parametrize("a", [0.1, 3.0, 20.0])
def test_two_equal_fans_in_parallel_gain_what_the_closed_form_says(a):
    factor = a * TOP / FREE**2
    gain = combined(solve(box(factor, PARABOLA, out("a", "parabola"), out("b", "parabola"))))
    assert gain.arrangement == "parallel"
    assert gain.flow_gain == pytest.approx(ratio_parallel(a) - 1, abs=2e-4)
    assert gain.rise_gain == pytest.approx(ratio_parallel(a) ** 2 - 1, abs=4e-4)  # k Q^2
    assert gain.rule == pytest.approx(1.0)


def test_two_fans_in_parallel_bring_32_percent_and_not_100():
    """An example in a trade note: +32 % for two equal fans on a square-law system. Its inputs are
    not known to us: common practice, no source. By the closed form it is the system with
    k q0^2/p0 = 0.760, on which one fan alone moves three quarters of its free flow."""
    a = (1 - 1.32**2 / 4) / (1.32**2 - 1)
    assert 1 / math.sqrt(a + 1) == pytest.approx(0.754, abs=1e-3)
    factor = a * TOP / FREE**2
    found = solve(box(factor, PARABOLA, out("a", "parabola"), out("b", "parabola")))
    words = fan_curves(found).gain.words()
    assert "rule of thumb +100 % flow, here +32 % (136 to 179 m3/h); pressure +74 %" in words


@pytest.mark.parametrize("a", [0.1, 1.0, 20.0])
def test_two_equal_fans_in_series_gain_what_the_closed_form_says(a):
    push = Fan(name="push", from_="outside", to="mid", type="parabola")
    found = fan_curves(solve(path(a * TOP / FREE**2, PARABOLA, push, out("pull", "parabola"))))
    gain = found.gain
    assert gain.arrangement == "series"
    assert gain.flow_gain == pytest.approx(ratio_series(a) - 1, abs=2e-4)
    assert gain.rise_gain == pytest.approx(ratio_series(a) ** 2 - 1, abs=4e-4)
    assert gain.rule == pytest.approx(1.0)
    assert found.fans == ("fan.push", "fan.pull")  # in the direction of the air
    known = found.together.flow < 0.99 * FREE
    assert set(found.together.kind[known]) == {STATED}  # as both fans are there
    beyond = found.together.flow[found.together.kind == CONTINUED]
    assert beyond.min() == pytest.approx(FREE, rel=1e-9)  # where the last measured piece ends
    flow = np.linspace(0, 0.9 * FREE, 20)
    added = [at(found.together, x) for x in flow]
    assert added == pytest.approx(2 * square(flow), rel=1e-4)


def test_a_weak_fan_beside_a_strong_one_is_driven_backwards_and_lowers_the_flow():
    """p_A = 100 - 1e4 Q|Q| and p_B = 48 - 4e4 Q|Q| on 4e4 Q|Q|, closed form worked by hand:
    64 Pa, +0.06 and -0.02 m3/s; A alone moves sqrt(100/5e4) m3/s at 80 Pa."""
    back = 4e4 * 2 * 0.008**2 / DENSITY
    strong = kind("strong", lambda x: 100 - 1e4 * x * x, 0.1, 401)
    weak = kind("weak", lambda x: 48 - 4e4 * x * x, math.sqrt(48 / 4e4), 401, backflow_loss=back)
    found = fan_curves(solve(box(4e4, strong, weak, out("a", "strong"), out("b", "weak"))))
    a, b, whole = found.points
    assert (a.flow, b.flow) == pytest.approx((0.06, -0.02), rel=1e-4)
    assert (whole.flow, whole.rise) == pytest.approx((0.04, 64.0), rel=1e-4)
    assert b.region == "backflow"
    assert at(found.together, 0.04) == pytest.approx(64.0, rel=1e-3)
    assert at(found.systems[0], 0.04) == pytest.approx(64.0, rel=1e-3)
    gain = found.gain
    assert gain.best == "fan.a"
    assert (gain.flow_alone, gain.rise_alone) == pytest.approx((math.sqrt(100 / 5e4), 80), rel=1e-4)
    assert gain.flow_gain == pytest.approx(0.04 / math.sqrt(100 / 5e4) - 1, abs=2e-4)
    assert len(found.lines) == 2


def test_a_line_of_fans_in_series_reaches_past_the_last_point_of_each():
    """Of unlike fans, with air that joins between them: 15 % past, each counted in the flow through
    the first, as the solution shares it out."""
    gap = Leak(name="gap", from_="outside", to="mid", flow_at=(2e-3, 50.0))
    push = Fan(name="push", from_="outside", to="mid", type="line", flow_factor=0.5)
    found = fan_curves(solution := solve(path(4e4, LINE, push, gap, out("pull", "line"))))
    share = solution.volume_flow("fan.pull") / solution.volume_flow("fan.push")
    assert share > 1.01
    assert found.fans == ("fan.push", "fan.pull")
    assert found.together.flow.max() == pytest.approx(1.15 * max(FREE / 2, FREE / share))
    weak = out("pull", "line", flow_factor=0.3)
    other = fan_curves(solution := solve(path(4e4, LINE, push, gap, weak)))
    share = solution.volume_flow("fan.pull") / solution.volume_flow("fan.push")
    for line, least in ((found.together, FREE / 2), (other.together, 0.3 * FREE / share)):
        (end,) = np.flatnonzero(np.isclose(line.flow, least, rtol=1e-9))
        assert (line.kind[:end] == STATED).all()
        assert (line.kind[end:] == CONTINUED).all()


@pytest.mark.parametrize("far", [0.0, 0.2])
def test_equal_fans_side_by_side_reach_as_far_as_is_asked(far):
    """Each half as far; 15 % past the last point of both at least."""
    solution = solve(box(4e4, LINE, out("a", "line"), out("b", "line")))
    (group,) = chain_of(solution)
    whole = lines.side_by_side(solution, group, lines.curves(solution, (group,)), far)
    assert whole.flow.max() == pytest.approx(max(far, 2 * 1.15 * FREE))
    assert at(whole, 0.04) == pytest.approx(straight(0.02), rel=1e-6)


def test_unlike_fans_side_by_side_are_added_below_no_pressure_too():
    """By each curve alone, down to a tenth of what they hold at rest together."""
    steep = kind("steep", lambda x: 80 * (1 - x / 0.04), 0.04)
    solution = solve(box(1e4, LINE, steep, out("a", "line"), out("b", "steep")))
    (group,) = chain_of(solution)
    known = lines.curves(solution, (group,))
    whole = lines.side_by_side(solution, group, known)
    assert whole.rise.max() == pytest.approx(TOP, rel=0.01)
    assert whole.rise.min() == pytest.approx(-TOP / 10, rel=0.02)
    flow = np.linspace(0.0, 0.1, 4001)
    for rise in (-7.0, -3.0, 20.0, 70.0):
        each = [np.interp(-rise, -curve.rise(flow), flow) for curve in known.values()]
        assert at(whole, sum(each)) == pytest.approx(rise, abs=0.1)
    within, beyond = whole.kind[np.searchsorted(whole.flow, (0.07, 1.02 * 0.09))]
    assert (within, beyond) == (STATED, CONTINUED)


def test_two_and_two_are_told_without_a_rule():
    pushing = [Fan(name=n, from_="outside", to="mid", type="line") for n in ("p", "q")]
    found = fan_curves(solve(path(4e4, LINE, *pushing, out("a", "line"), out("b", "line"))))
    assert found.fans == ("fan.p", "fan.q", "fan.a", "fan.b")
    assert found.gain.arrangement == "both"
    assert math.isnan(found.gain.rule)
    assert "rule" not in found.gain.words()
    (whole,) = found.whole
    assert at(found.together, whole.flow) == pytest.approx(whole.rise, rel=1e-4)
    assert whole.rise == pytest.approx(4e4 * whole.flow**2, rel=1e-4)


@pytest.mark.parametrize(("first", "second", "more", "guards"), [
    (straight, lambda x: 0.7 * straight(x), {}, (0.4, 2.0)),
    (straight, straight, {"mounted": "reversed"}, (0.4, 2.0)),
    (straight, lambda x: 0.7 * straight(x), {"mounted": "reversed"}, (0.0, 1.5)),
])  # fmt: skip
def test_fans_with_unlike_guards_either_way_round_lie_on_their_line(first, second, more, guards):
    """Equal fans that pass unlike flows too: each loses K rho (Q/A)^2/2 in its guard."""
    types = kind("first", first, FREE), kind("second", second, FREE)
    fans = [out(n, type_.name, **more, **({"guard": {"loss": k}} if k else {}))
            for n, type_, k in zip("ab", types, guards, strict=True)]  # fmt: skip
    found = fan_curves(solve(box(1e4, *types, *fans)))
    (whole,) = found.whole
    assert whole.flow > FREE
    assert at(found.together, whole.flow) == pytest.approx(whole.rise, rel=1e-3)
    assert at(found.systems[0], whole.flow) == pytest.approx(whole.rise, rel=1e-3)
    a, b = found.points[:2]
    net = [p.rise - k * DENSITY * (p.flow / 0.008) ** 2 / 2
           for p, k in zip((a, b), guards, strict=True)]  # fmt: skip
    assert net[0] == pytest.approx(net[1], rel=1e-4)


def test_unlike_fans_that_happen_to_pass_one_flow_are_added_at_each_pressure():
    """60 Pa at 0.02 m3/s each, on 37 500 Q^2; at 30 Pa they pass 0.035 and 0.03 m3/s."""
    steep = kind("steep", lambda x: 120 * (1 - x / 0.04), 0.04)
    found = fan_curves(solve(box(37500, LINE, steep, out("a", "line"), out("b", "steep"))))
    (whole,) = found.whole
    assert (whole.flow, whole.rise) == pytest.approx((0.04, 60.0), rel=1e-4)
    assert at(found.together, 0.065) == pytest.approx(30.0, rel=1e-3)
    assert at(found.together, 0.0075 + 0.04 * (1 - 85 / 120)) == pytest.approx(85.0, rel=1e-3)


def test_fans_that_are_alike_at_the_end_alone_are_no_equal_fans():
    """Both hold 40 Pa at 0.03 m3/s, where they work, and nothing at 0.05; at rest 100 and 60."""
    steep, weak = (kind(name, straight, FREE, curve=((0.0, top), (0.03, 40.0), (0.05, 0.0)))
                   for name, top in (("steep", 100.0), ("weak", 60.0)))  # fmt: skip
    solution = solve(box(40 / 0.06**2, steep, weak, out("a", "steep"), out("b", "weak")))
    (group,) = chain_of(solution)
    assert group.fans[0].flow == pytest.approx(group.fans[1].flow, rel=1e-3)
    known = lines.curves(solution, (group,))
    whole, flow = lines.side_by_side(solution, group, known), np.linspace(0.0, 0.05, 2001)
    for rise in (50.0, 30.0):
        each = [np.interp(-rise, -curve.rise(flow), flow) for curve in known.values()]
        assert at(whole, sum(each)) == pytest.approx(rise, abs=0.1)


# --- the parts of a line -------------------------------------------------------------------------


def test_what_a_point_of_a_curve_is():
    curve = lines.WorkingCurve(straight, 2.0, (0.5, 1.0))
    kinds = curve.kind(np.array([-1e-6, 0.0, 0.5, 0.7, 1.0, 1.5, 2.0, 2.0 + 1e-6]))
    assert kinds.tolist() == [CONTINUED, 0, 0, DIP, 0, 0, 0, CONTINUED]
    near = curve.kind(np.array([-5e-13, 2.0 * (1 + 5e-10), -2e-12, 2.0 * (1 + 2e-9)]))
    assert near.tolist() == [STATED, STATED, CONTINUED, CONTINUED]  # but for round-off
    plain = lines.WorkingCurve(straight, 2.0, None)
    assert plain.kind(np.array([0.7])).tolist() == [STATED]


@pytest.mark.parametrize(
    ("rise", "peak", "dip"),
    [
        (lambda x: (x - 1) ** 2, 2.0, (0.0, 2.0)),
        (lambda x: np.where(x < 1, 2, 1) * (x - 1) ** 2, 2.0, (1 - 0.5**0.5, 2.0)),
        (lambda x: x + 3.0, 2.0, (0.0, 2.0)),
    ],
)  # fmt: skip
def test_a_dip_begins_where_the_curve_is_as_high_as_its_last_peak(rise, peak, dip):
    flow = np.linspace(0.0, peak, lines.CURVE_POINTS)
    assert dip_of(flow, rise(flow)) == pytest.approx(dip, abs=2.0 / lines.CURVE_POINTS)


def test_of_three_points_the_first_is_as_high_as_the_last_peak():
    assert dip_of(np.arange(3.0), np.array([5.0, 1.0, 4.0])) == (0.0, 2.0)
    assert dip_of(np.arange(3.0), np.array([3.0, 1.0, 4.0])) == (0.0, 2.0)
    assert dip_of(np.arange(4.0), np.array([5.0, 4.0, 1.0, 4.0])) == (1.0, 3.0)


def test_a_fan_that_holds_a_flow_is_a_thousand_times_as_strong():
    """At 0.8 of its speed 0.04 m3/s are 0.05 of the curve; past it, ten times as much is lost."""
    row = kind("t", straight, FREE, windmill_loss=1.5)
    case = box(4e4, row, out("a", "t", speed=0.8))
    (working,) = members(chain_of(solve(case)))
    made = curves._stiff(case, working, 0.04)
    assert made.curve == ((0.0, 1000 * TOP), (pytest.approx(0.05), 0.0))
    assert made.windmill_loss == pytest.approx(1e4 * TOP * (row.flow_area / 0.05) ** 2)
    assert (made.curve_pressure, made.power) == ("static", row.power)
    hole_ = curves._absent(case, working)
    assert (hole_.power, hole_.backflow_loss, hole_.flow_area) == (0.0, 0.0, row.flow_area)
    assert hole_.curve[0][1] < 1e-3
    assert hole_.curve[1][0] > 100


def test_the_largest_flow_at_a_level_is_on_the_last_falling_piece():
    """Between the points (0, 3), (1, 1), (2, 2), (3, 0), by hand."""
    flow, net = np.arange(4.0), np.array([3.0, 1.0, 2.0, 0.0])
    found = lines._largest(flow, net, np.array([2.5, 2.0, 1.5, 0.5, 5.0, -1.0]))
    assert found == pytest.approx([0.25, 2.0, 2.25, 2.75, np.nan, np.nan], nan_ok=True)


@pytest.mark.parametrize(
    ("flows", "shares"), [((3.0, -1.0), (0.75, 0.25)), ((0.0, 0.0), (0.5, 0.5)), ((2.0,), (1.0,))]
)
def test_a_pressure_of_a_group_counts_each_fan_by_its_flow(flows, shares):
    group = FanGroup(tuple(SimpleNamespace(flow=flow) for flow in flows))
    assert group.weights == pytest.approx(shares)


def test_the_air_of_a_fan_is_what_it_passes_unless_it_is_driven_back():
    """What comes round to its inlet is in it: 0.11 kg/s of 0.1 m3/s."""
    solved = SimpleNamespace(volume_flow=lambda _: 0.1, mass_flow=lambda _: 0.11)
    for flow, wanted in ((0.1, 1.1), (-0.1, 1.2)):
        fan = SimpleNamespace(path="fan.a", flow=flow, density=1.2)
        assert lines.density(solved, fan) == pytest.approx(wanted)


def test_a_line_reaches_past_all_that_its_fans_work_at():
    """A tenth further than the least and the largest flow, and 15 % past the last point."""
    solution = solve(box(4e4, LINE, out("a", "line"), out("b", "line")))
    chain = chain_of(solution)
    known = lines.curves(solution, chain)
    for flows, ends in (((-0.03, 0.09), (-0.033, 0.099)), ((0.01, 0.02), (0.0, 1.15 * FREE))):
        working = [fan._replace(flow=flow) for fan, flow in
                   zip(chain[0].fans, flows, strict=True)]  # fmt: skip
        (line,) = _lines(solution, chain, known, working)
        assert (line.flow.min(), line.flow.max()) == pytest.approx(ends)
        assert line.fans == ("fan.a", "fan.b")


def test_fans_of_one_type_at_unlike_speeds_have_lines_of_their_own():
    fans = [out("a", "line"), out("b", "line", speed=0.8), out("c", "line", flow_factor=0.9),
            out("d", "line", pressure_factor=0.9)]  # fmt: skip
    found = fan_curves(solve(box(1e4, LINE, *fans)))
    assert [line.fans for line in found.lines] == [(f"fan.{n}",) for n in "abcd"]
    tops = [at(line, 0.0) for line in found.lines]
    assert tops == pytest.approx([TOP, 0.64 * TOP, TOP, 0.9 * TOP], rel=1e-6)
    (whole,) = found.whole
    assert at(found.together, whole.flow) == pytest.approx(whole.rise, rel=1e-3)


# --- which fans work together -------------------------------------------------------------------


def chain(*things, factor=4e4):
    return [group.paths for group in chain_of(solve(path(factor, LINE, *things)))]


def test_fans_are_in_series_only_where_all_air_passes_both():
    push = Fan(name="push", from_="outside", to="mid", type="line")
    pull = out("pull", "line")
    assert chain(push, pull) == [("fan.push",), ("fan.pull",)]
    assert chain(push, pull, hole("gap", "outside", "box", 4e7)) == [("fan.push",), ("fan.pull",)]
    assert len(chain(push, pull, hole("vent", "outside", "box", 1e4))) == 1
    other = Fan(name="other", from_="mid", to="outside", type="line")
    assert len(chain(push, pull, other)) == 1


def test_the_fans_that_give_most_power_to_the_air_are_drawn():
    """Flow times pressure: a straight line of rise gives most at half of its free flow."""
    boxes = (Compartment(name=name) for name in ("free", "half"))
    holes = (hole("free", "outside", "free", 5e3), hole("half", "outside", "half", 8e4))
    fans = [Fan(name=name, from_=name, to="outside", type="line") for name in ("free", "half")]
    solution = solve(Enclosure.of(air(), LINE, *boxes, *holes, *fans))
    assert solution.volume_flow("fan.half") == pytest.approx(FREE / 2, rel=0.01)
    assert solution.volume_flow("fan.free") > 1.5 * solution.volume_flow("fan.half")
    assert [group.paths for group in chain_of(solution)] == [("fan.half",)]


def test_a_fan_with_nothing_but_a_leak_is_one_and_a_still_one_is_in_no_series():
    gap = Leak(name="gap", from_="outside", to="box", flow_at=(0.01, 50.0))
    alone = solve(Enclosure.of(air(), Compartment(name="box"), LINE, gap, out("a", "line")))
    assert [group.paths for group in chain_of(alone)] == [("fan.a",)]
    push = Fan(name="push", from_="outside", to="mid", type="line")
    solution = solve(path(4e4, LINE, push, out("pull", "line")))
    one, other = chain_of(solution)
    assert one.flow == pytest.approx(solution.volume_flow("fan.push"))
    assert _one_path(solution, one, other)
    for flow in (0.0, -0.01):
        still = [FanGroup((group.fans[0]._replace(flow=flow),)) for group in (one, other)]
        assert not _one_path(solution, still[0], other)
        assert not _one_path(solution, one, still[1])


@pytest.mark.parametrize(("share", "groups"), [(0.08, 2), (0.13, 1)])
def test_a_tenth_of_the_flow_beside_fans_in_series_is_no_path_of_its_own(share, groups):
    """A hole beside passes this share of what the fans do at the same pressure."""
    push = Fan(name="push", from_="outside", to="mid", type="line")
    things = [push, out("pull", "line")]
    whole = solve(path(4e4, LINE, *things, hole("gap", "outside", "box", 4e6)))
    drop, fan = abs(whole.branches["opening.gap"].drop), whole.mass_flow("fan.pull") / DENSITY
    factor = drop / (share * fan) ** 2
    for _ in range(6):
        whole = solve(path(4e4, LINE, *things, hole("gap", "outside", "box", factor)))
        beside, passed = (whole.mass_flow(p) for p in ("opening.gap", "fan.push"))
        factor *= (beside / passed / share) ** 2
    assert abs(beside / passed) == pytest.approx(share, rel=0.02)
    assert len(chain_of(whole)) == groups


def test_one_fan_can_be_asked_for_and_the_others_are_part_of_the_network():
    """Beside a fan that holds Q2 the network asks k (Q + Q2)^2; worked for the crossing."""
    found = fan_curves(solve(box(3e4, LINE, out("a", "line"), out("b", "line"))), fan="b")
    assert (found.fans, found.others) == (("fan.b",), ("fan.a",))
    assert found.together is None
    assert found.gain is None
    (point,) = found.points
    assert at(found.systems[0], point.flow) == pytest.approx(point.rise, rel=1e-4)
    assert found.systems[0].rise[0] > 0.3 * point.rise  # the other fan holds pressure already


def test_what_cannot_be_drawn_is_said():
    single = solve(box(3e4, LINE, out("a", "line")))
    with pytest.raises(CaseError, match=r'no fan "c" runs here; did you mean "fan\.a"'):
        fan_curves(single, fan="c")
    with pytest.raises(CaseError, match=r"fan\.a works with no other fan"):
        combined(single)
    still = solve(box(3e4, LINE, out("a", "line", state="stopped"), hole("o", "outside", "box", 1)))
    with pytest.raises(CaseError, match="no fan runs here"):
        fan_curves(still)


# --- filters ------------------------------------------------------------------------------------


def filtered(fouling=1.0, scenarios=None):
    mat = Filter(name="mat", from_="outside", to="mid", area=0.05, fouling=fouling,
                 velocity_drop={"velocity": "0.5 1 m/s", "drop": "20 50 Pa"})  # fmt: skip
    return path(2e4, LINE, mat, out("f", "line"), scenarios=scenarios or {})


@pytest.mark.parametrize(
    ("case", "words", "fouling"),
    [
        (filtered(), "filters loaded: fouling 2, no scenario says it", 2.0),
        (filtered(scenarios={"hot": {"outside.temperature": 310.0},
                             "old": {"filter.*.fouling": 2.5}}),
         'filters loaded as in scenario "old", fouling 2.5', 2.5),
        (filtered(3.0), "filters loaded as solved, fouling 3", 3.0),
    ],
)  # fmt: skip
def test_a_loaded_filter_is_that_of_the_case_or_twice_as_much(case, words, fouling):
    found = fan_curves(solve(case))
    clean, loaded = found.systems
    assert (clean.words, loaded.words) == ("filters clean", words)
    by_hand = [solve(case, changes={"filter.mat.fouling": f}) for f in (1.0, fouling)]
    assert [p.flow for p in found.points] == pytest.approx(
        [one["fan.f.volume_flow"] for one in by_hand], rel=1e-9
    )
    # the whole difference at one flow is that of the mat, which is (fouling - 1) times clean
    drop = by_hand[0]["filter.mat.drop"]
    flow = by_hand[0]["fan.f.volume_flow"]
    assert at(loaded, flow) - at(clean, flow) == pytest.approx((fouling - 1) * drop, rel=2e-3)


@pytest.mark.parametrize(("fouling", "state", "full"), [
    (1.5, "fitted", True), (1.0, "fitted", False), (0.9, "fitted", False), (1.5, "removed", False),
])  # fmt: skip
def test_what_is_said_first_is_the_state_that_was_solved(fouling, state, full):
    case = filtered(fouling).with_changes({"filter.mat.state": state})
    assert loaded(case) == full


# --- the result ---------------------------------------------------------------------------------


def test_it_becomes_json_and_a_frame(monkeypatch):
    found = fan_curves(solve(load("drive-cabinet"), scenario="hot"))
    made = json.loads(json.dumps(found.to_dict(), allow_nan=False))
    assert (made["command"], made["scenario"]) == ("curves", "hot")
    assert made["gain"]["arrangement"] == "parallel"
    assert len(made["points"]) == 6
    assert made["points"][2]["speed_rpm"] is None
    assert len(made["systems"][0]["flow_m3_s"]) == len(made["systems"][0]["rise_Pa"])
    monkeypatch.setitem(sys.modules, "pandas", SimpleNamespace(DataFrame=lambda rows: rows))
    assert found.to_frame() == found.to_dict()["points"]
    assert repr(found).startswith("<FanCurves of fan.left, fan.right: +")
    assert found._repr_html_().count("<tr>") == 7


@pytest.mark.parametrize("variant", ["three-fans", "blow-in"])
def test_the_lines_of_a_demo_meet_where_it_works(variant):
    """With heat and draught too: solver, curve and line of the network tell one point."""
    solution = solve(load("drive-cabinet"), scenario="hot", variant=variant)
    found = fan_curves(solution)
    whole = found.whole[0]
    assert whole.flow == pytest.approx(sum(abs(solution.volume_flow(p)) for p in found.fans))
    line = found.together or found.lines[0]
    assert at(line, whole.flow) == pytest.approx(whole.rise, rel=1e-3)
    for system, point in zip(found.systems, found.whole, strict=True):
        assert at(system, point.flow) == pytest.approx(point.rise, rel=1e-3)


def test_unlike_fans_at_unlike_heights_work_where_their_common_line_says():
    """Warm air helps the upper fan by (rho0 - rho) g 1.5 m: at the sum of both flows the line has
    the mean of both rises, weighted by their flows."""
    small = kind("small", lambda flow: 60.0 * (1 - flow / 0.03), 0.03)
    found = solve(Enclosure.of(
        air(), Compartment(name="box", outline=(0, 0, 1, 2)), LINE, small,
        Part(name="load", in_="box", power=900.0),
        Opening(name="in", from_="outside", to="box", area=0.01, at=(0, 1)),
        out("a", "line", at=(0.0, 0.25)), out("b", "small", at=(0.0, 1.75)),
    ))  # fmt: skip
    flow, rise = ([found[f"fan.{name}.{key}"] for name in "ab"] for key in ("volume_flow", "rise"))
    draught = (DENSITY - found["fan.a.density"]) * 9.80665 * 1.5
    assert rise[0] - rise[1] == pytest.approx(draught, rel=1e-3)
    assert abs(draught) > 0.5
    mean = (flow[0] * rise[0] + flow[1] * rise[1]) / sum(flow)
    line = fan_curves(found).together
    assert at(line, sum(flow)) == pytest.approx(mean, rel=1e-3)
