"""What a verdict covers: constructed cases against the definitions of what is void."""

from __future__ import annotations

import math
from types import SimpleNamespace

import numpy as np
import pytest

import flownet
from flownet import Compartment, Enclosure, Fan, FanType, Leak, Limits, Opening, Part, Supply
from flownet.enclosure.supply_match import VOLTAGES
from flownet.judging.assessment import NONE, OVER, STATUSES, UNSOLVED, VOID, Runs, assess, assessed
from flownet.judging.opposed import facing
from flownet.judging.voids import AIR, STALL, Void, counted, fan_out
from flownet.results.limits import Limit
from flownet.schema import quantities as q
from flownet.schema.quantities import DIFFERENCE, HOURS, TEMPERATURE
from flownet.studies.runs import Run, evaluate
from flownet.studies.verdicts import Closeness, _near, closeness, closeness_of
from tests.studies.fan_boxes import AREA, DENSITY, air, box, hole, kind, out
from tests.test_cases import load

HUMP = {"flow": "0 30 55 75 90 110 140 182 m3/h", "rise": "112 84 62 64 66 60 38 0 Pa"}
DIPPED = FanType(name="hump", curve=HUMP, flow_area=AREA, reference_density=DENSITY)
STRAIGHT = kind("straight", lambda x: 60 * (1 - x / 0.05), 0.05)
WARM = Part(name="p", in_="box", power=20.0)


def limited(*things, factor=1e4, limit="90 degC", **rest):
    """A box with a hole and a limit that holds unless said otherwise."""
    return Enclosure.of(air(), Compartment(name="box", air_limit=limit), WARM,
                        hole("in", "outside", "box", factor), *things, **rest)  # fmt: skip


def words(case, **named):
    return flownet.solve(case, **named).void


# --- each reason ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("volts", "reason"),
    [
        (24.0, {}), (24.0 * VOLTAGES[1], {}), (24.0 * VOLTAGES[0], {}),
        (48.0, {"supply": ["fan.a"]}), (11.0, {"supply": ["fan.a"]}),
    ],
)  # fmt: skip
def test_data_of_24_volts_on_other_direct_current(volts, reason):
    """Half to 1.15 times the rated voltage may be scaled: the project's own range, as declared."""
    fan = kind("dc", lambda x: 60 * (1 - x / 0.05), 0.05, supply="24 V dc")
    case = limited(fan, Supply(name="s", voltage=volts), out("a", "dc", supply="s"))
    solution = flownet.solve(case)
    assert solution.void == reason
    severities = [f.severity for f in solution.findings if f.rule == "supply-mismatch"]
    assert severities == (["error"] if reason else ["warning"] * (volts != 24.0))
    assert all(item.holds for item in solution.limits)
    ranking = flownet.rank(case, "total.volume_flow")
    assert ranking.to_dict()["void"] == reason
    assert ranking.head().startswith("void: fan.a ") == bool(reason)
    found = flownet.compare(case)
    assert found.cell("base").status == ("void" if reason else "ok")
    assert ("void: fan.a on a supply" in found.verdict) == bool(reason)


def test_a_fan_that_stands_on_a_wrong_supply_makes_nothing_void():
    fan = kind("dc", lambda x: 60 * (1 - x / 0.05), 0.05, supply="24 V dc")
    case = limited(fan, Supply(name="s", voltage=48.0), STRAIGHT, out("b", "straight"),
                   out("a", "dc", supply="s", state="stopped"))  # fmt: skip
    assert words(case) == {}


def test_fans_head_on_and_side_by_side():
    """Two that blow into a middle with no way out but a leak; two in one wall, one turned round."""
    middle = [
        air(), *(Compartment(name=n) for n in ("left", "mid", "right")), STRAIGHT,
        *(Fan(name=n, from_=n, to="mid", type="straight") for n in ("left", "right")),
        *(Opening(name=n, from_="outside", to=n, area=0.02) for n in ("left", "right")),
        Leak(name="gap", from_="mid", to="outside", flow_at=(0.002, 50.0)),
    ]  # fmt: skip
    assert words(Enclosure.of(*middle)) == {"opposed": ["fan.left", "fan.right"]}
    way = Opening(name="way", from_="mid", to="outside", area=0.02)
    assert words(Enclosure.of(*middle, way)) == {}
    turned = limited(STRAIGHT, out("a", "straight"), out("b", "straight", mounted="reversed"))
    assert words(turned)["opposed"] == ["fan.a", "fan.b"]
    batch = flownet.solve_many(turned, {"fan.b.state": ["running", "blanked", "running"]})
    assert [opposed(batch.select(i)) for i in range(3)] == [True, False, True]
    assert [item.runs.tolist() for item in facing(batch)] == [[True, False, True]]


@pytest.mark.parametrize("reversed_", [(), ("a",), ("b",), ("a", "b")])
def test_of_two_fans_out_of_a_box_with_a_leak_one_turned_round_blows_against_the_other(reversed_):
    """Through the same wall, or one drawn in from it and one out: turned, it undoes the other."""
    gap = Leak(name="gap", from_="box", to="outside", flow_at=(0.002, 50.0))
    mounted = {name: "reversed" if name in reversed_ else "forward" for name in "ab"}
    one_turned = len(reversed_) == 1
    for start, end in (("box", "outside"), ("outside", "box")):
        made = Enclosure.of(
            air(), Compartment(name="box"), STRAIGHT, gap,
            Fan(name="a", from_="box", to="outside", type="straight", mounted=mounted["a"]),
            Fan(name="b", from_=start, to=end, type="straight", mounted=mounted["b"]),
        )  # fmt: skip
        assert opposed(flownet.solve(made)) == one_turned


@pytest.mark.parametrize(("share", "head_on"), [(0.09, True), (0.11, False)])
@pytest.mark.parametrize("out_of", [False, True])
def test_a_way_of_a_tenth_of_the_fans_is_next_to_none(share, head_on, out_of):
    """A sharp-edged hole (loss 1/0.61^2) beside two fans of 80 cm2 each."""
    turn = -1 if out_of else 1
    middle = [
        air(), *(Compartment(name=n) for n in ("left", "mid", "right")), STRAIGHT,
        *(Fan(name=n, type="straight", **dict(zip(("from_", "to"), (n, "mid")[::turn],
                                                  strict=True))) for n in ("left", "right")),
        *(Opening(name=n, from_="outside", to=n, area=0.02) for n in ("left", "right")),
        Opening(name="way", from_="mid", to="outside", area=share * 2 * AREA, loss=1 / 0.61**2),
    ]  # fmt: skip
    made = Enclosure.of(*middle)
    assert words(made) == ({"opposed": ["fan.left", "fan.right"]} if head_on else {})
    batch = flownet.solve_many(made, {"outside.temperature": [290.0, 300.0]})
    found = [(item.fans, item.places, item.inward, item.runs.tolist()) for item in facing(batch)]
    assert found == [((0, 1), (1,), not out_of, [head_on] * 2)]


def test_what_was_not_solved_faces_nothing():
    turned = limited(STRAIGHT, out("a", "straight"), out("b", "straight", mounted="reversed"))
    batch = flownet.solve_many(turned, {"part.p.power": [20.0, 5e5, 20.0]})
    assert batch.ok.tolist() == [True, False, True]  # more than 500 K above the outside
    assert [item.runs.tolist() for item in facing(batch)] == [[True, False, True]]


def opposed(solution):
    return "opposed" in solution.void


def test_over_pressure_that_pushes_a_fan_back():
    """100 Pa outside against a fan of 60 Pa at zero flow."""
    windward = flownet.Outside(name="wind", temperature="20 degC", over_pressure="100 Pa")
    case = limited(windward, STRAIGHT, factor=1e3).with_changes({})
    fan = Fan(name="a", from_="box", to="outside.wind", type="straight")
    case = Enclosure.of(*[i for named in case.things.values() for i in named.values()], fan)
    solution = flownet.solve(case)
    assert solution.volume_flow("fan.a") < 0
    assert solution.void == {"backflow": ["fan.a"]}


def test_air_that_nobody_believes_counts_at_the_outlet_of_a_branch_too():
    """m cp dT = P: 20 W in 1e-4 kg/s are 199 K, at the outlet of a fan with the part in its air."""
    assert AIR == (213.15, 423.15)
    slow = kind("slow", lambda x: 60 * (1 - x / 1e-4), 1e-4)
    case = Enclosure.of(
        air(), Compartment(name="box"), slow, hole("in", "outside", "box", 1e3),
        Fan(name="a", from_="box", to="outside", type="slow"),
        Part(name="p", in_="fan.a", power=20.0, resistance=0.01, limit="500 degC"),
    )  # fmt: skip
    solution = flownet.solve(case)
    assert solution["compartment.box.temperature"] < AIR[1] < solution["fan.a.outlet_temperature"]
    assert solution.void == {"extreme-air": ["fan.a"]}
    gain = 20.0 / (1006.0 * solution.mass_flow("fan.a"))
    assert solution["fan.a.outlet_temperature"] - 293.15 == pytest.approx(gain, rel=0.01)


# --- stall, in service and in an outage ----------------------------------------------------------


def dipped(name, **more):
    """A fan with a dip and a back-draught shutter, so that one that stands lets little back."""
    return out(name, "hump", shutter={"open_loss": 0.5, "closed_leak": 0.02}, **more)


def pair(**rest):
    """Two of them on a hole so small that one alone is in its dip too."""
    return limited(DIPPED, dipped("a"), dipped("b"), factor=1e6, limit="300 degC", **rest)


def test_stall_is_void_where_every_fan_runs_and_tight_where_one_is_out():
    case = pair(scenarios={"night": {"fan.b.state": "blanked"}, "slow": {"fan.b.speed": 0}})
    found = flownet.compare(case, scenarios=["base", "fan.b-out", "night", "slow"])
    regions = {name: found.cell(name).troubled for name in found.scenarios}
    assert regions["base"] == {"fan.a": "stall", "fan.b": "stall"}
    assert found.cell("base").void == {STALL: ["fan.a", "fan.b"]}
    for name in ("fan.b-out", "night", "slow"):
        cell = found.cell(name)
        assert regions[name] == {"fan.a": "stall"}
        assert (cell.status, cell.void, cell.in_dip) == ("tight", {}, {STALL: ["fan.a"]})
        assert cell.word == "tight, stall"
        assert cell.margin > 5
        alone = flownet.solve(case, scenario=name)
        assert alone.void == {}
        stalls = [f.severity for f in alone.findings if f.rule == "fan-stall"]
        assert stalls == ["warning"]
    assert found.verdict.startswith("base holds everywhere except base (void: ")
    assert flownet.headroom(case, "outside.temperature", scenario="night").today.holds


def test_headroom_ends_and_a_sweep_counts_where_stall_begins():
    """The last peak of the curve is at 90 m3/h, by its points."""
    case = limited(DIPPED, dipped("a"), factor=6e4, limit="300 degC")
    found = flownet.headroom(case, "opening.in.loss")
    assert found.first.after.void == {STALL: ["fan.a"]}
    there = flownet.solve(case, changes={"opening.in.loss": found.value})
    assert there.volume_flow("fan.a") == pytest.approx(90 / 3600, rel=1e-5)
    values = [found.value * share for share in (0.5, 0.99, 1.01, 1.5)]
    swept = flownet.sweep(case, {"opening.in.loss": values})
    assert swept["status"].tolist() == ["ok", "ok", "void", "void"]
    assert swept.tally.holds == 2
    assert "2 are void" in swept.verdicts()[0]


@pytest.mark.parametrize(
    ("name", "outage"),
    [("base", False), ("hot", False), ("swap", True), ("spare-up", False)],
)
def test_a_spare_that_stands_in_the_design_is_no_outage(name, outage):
    case = limited(DIPPED, dipped("a"), dipped("spare", state="stopped"),
                   dipped("place", state="blanked"), factor=1e6, limit="300 degC",
                   scenarios={"hot": {"outside.temperature": "40 degC"},
                              "swap": {"fan.spare.state": "running", "fan.a.state": "stopped"},
                              "spare-up": {"fan.spare.state": "running"}})  # fmt: skip
    solution = flownet.solve(case, scenario=name)
    assert any(row.region == "stall" for row in solution.fans.values())
    assert bool(solution.case.applied.failed) == outage
    assert (STALL in solution.void) != outage


def test_a_change_that_stops_a_fan_is_a_design():
    pairs = evaluate(pair(), [
        Run(changes={"fan.b.state": "stopped"}), Run("fan.b-out"),
        Run("fan.b-out", changes={"fan.b.state": "running"}),
    ])  # fmt: skip
    stand = pairs.stand
    assert [STATUSES[code] for code in stand.status] == ["void", "tight", "void"]


# --- how it is told ------------------------------------------------------------------------------


def test_void_and_over_says_both():
    case = limited(DIPPED, out("a", "hump"), factor=1e6, limit="20.5 degC")
    stand = assessed(flownet.solve(case))
    assert stand.status[0] == VOID
    assert stand.each[:, 0].tolist() == [OVER]
    assert stand.margin[0] < 0
    (said,) = flownet.compare(case).verdicts()
    assert "void: fan.a in stall" in said
    assert "on paper worst -" in said
    assert flownet.headroom(case, "outside.temperature").verdict.startswith(
        "Void (fan.a in stall; on paper compartment.box breaks its 20.5 degC)")  # fmt: skip


def test_no_fan_at_all_and_no_limit():
    bare = box(1e3)
    assert assessed(flownet.solve(bare)).voids == ()
    assert flownet.compare(bare).cell("base").void == {}
    assert words(box(1e3, STRAIGHT, out("a", "straight", speed=0.0))) == {}
    assert flownet.compare(box(1e3)).verdict == "base has no limit to hold"


def run_of(*margins, void=(), out=False, bound=350.0):
    """One run with temperature limits of these margins, and reasons for void."""
    limits = tuple(
        Limit("part", f"part.{i}", np.array([bound - m]), np.array([bound]), np.array([m]),
              TEMPERATURE, DIFFERENCE) for i, m in enumerate(margins)
    )  # fmt: skip
    yes = np.array([True])
    found = tuple(Void(word, "fan.a", yes) for word in void)
    return assess(Runs(limits, yes, np.array([5.0]), np.array([300.0]), found, np.array([out])))


@pytest.mark.parametrize(
    ("margins", "void", "out", "status", "holds"),
    [
        ((6.0,), (), False, "ok", True), ((5.0,), (), False, "ok", True),
        ((4.99,), (), False, "tight", True), ((0.0,), (), False, "tight", True),
        ((-0.01,), (), False, "over", False), ((math.nan,), (), False, "unknown", False),
        ((6.0, 4.0), (), False, "tight", True), ((), (), False, "unknown", False),
        ((6.0,), (STALL,), False, "void", False), ((6.0,), (STALL,), True, "tight", True),
        ((4.0,), (STALL,), True, "tight", True), ((-1.0,), (STALL,), True, "over", False),
        ((6.0,), ("backflow",), True, "void", False), ((6.0,), ("opposed",), True, "void", False),
        ((6.0,), (STALL, "backflow"), True, "void", False),
    ],
)  # fmt: skip
def test_each_status_by_what_alone_makes_it(margins, void, out, status, holds):
    stand = run_of(*margins, void=void, out=out)
    assert STATUSES[stand.status[0]] == status
    assert stand.holds.tolist() == [holds]
    assert list(stand.reasons(0)) == [w for w in void if not (out and w == STALL)]
    assert list(stand.in_dip(0)) == [w for w in void if out and w == STALL]
    known = [m for m in margins if not math.isnan(m)]
    assert stand.margin[0] == pytest.approx(min(known, default=math.nan), nan_ok=True)
    assert (stand.deciding(0) is None) == (not known)
    assert (stand.miss[0] == math.inf) == (status in ("void", "unknown"))
    if status == "over":
        assert stand.miss[0] == pytest.approx(-min(margins) / 50.0, abs=1e-6)  # of 350 - 300 K


def test_stall_is_counted_but_in_an_outage():
    batch = flownet.solve_many(pair(), {"fan.b.state": ["running", "stopped"]})
    for failed, wanted in (((), [True, True]), (("b",), [True, False]), (("a",), [True, True])):
        found = counted(batch, failed)
        assert found[STALL].tolist() == wanted
        assert fan_out(batch, failed).tolist() == [False, failed == ("b",)]


@pytest.mark.parametrize(
    ("near", "told"),
    [((1, 0, 0, 0.2), True), ((1, 1, 0, 0.2), False), ((1, 0, 1, 0.2), False),
     ((1, 0, 0, math.inf), False), ((math.inf, 0, 0, 0.2), True)],
)  # fmt: skip
def test_a_miss_says_all_where_everything_is_solved_and_sound(near, told):
    assert Closeness(*near).told == told


@pytest.mark.parametrize(
    ("failing", "asked", "wanted"),
    [
        ([("a", OVER, 0.2), ("b", OVER, 0.3)], "abc", (2, 0, 0, 0.3)),
        ([("a", OVER, 0.2), ("a", OVER, 0.1)], "abc", (1, 0, 0, 0.2)),
        ([("a", OVER, 0.2)], "a", (math.inf, 0, 0, 0.2)),
        ([("a", UNSOLVED, math.inf), ("a", OVER, 0.1), ("b", VOID, math.inf)], "abc",
         (2, 1, 1, 0.1)),
        ([("a", VOID, 9.0), ("b", VOID, 9.0)], "abc", (2, 0, 2, -math.inf)),
        ([], "abc", (0, 0, 0, -math.inf)),
    ],
)  # fmt: skip
def test_how_far_a_design_is_from_holding(failing, asked, wanted):
    assert closeness_of(failing, asked) == wanted


def test_near_is_what_numbers_tell_or_what_holds_somewhere():
    def cell(asked, status, miss):
        return SimpleNamespace(asked=asked, status=status, miss=miss, holds=status == "ok")

    void, over, ok = cell("a", "void", math.inf), cell("b", "over", 0.1), cell("c", "ok", -0.1)
    assert [_near(cells) for cells in ([], [over], [void], [void, over], [void, ok], [over, ok])] \
        == [False, True, False, False, True, True]  # fmt: skip


# --- the order -----------------------------------------------------------------------------------


def test_a_life_that_breaks_is_worse_than_a_temperature_that_holds_where_both_are_void():
    """On a supply without data: halves of a life of 40 000 h at 40 degC pass 30 000 h by 50."""
    life = {"hours": 40000, "at": "40 degC", "kind": "L10"}
    odd = kind("odd", lambda x: 60 * (1 - x / 0.05), 0.05, supply="24 V dc", life=life)
    places = {name: {"outside.temperature": f"{warm} degC"}
              for name, warm in (("cool", 20), ("warm", 35), ("hot", 50))}  # fmt: skip
    case = limited(odd, Supply(name="s", voltage=48.0), out("a", "odd", supply="s"),
                   Limits(fan_life_hours=30000), limit="60 degC", scenarios=places)  # fmt: skip
    found = flownet.compare(case, scenarios=["cool", "warm", "hot"])
    units = [cell.margin_quantity.name for cell in found.column("base")]
    assert {cell.status for cell in found.column("base")} == {"void"}
    assert units == [DIFFERENCE.name, DIFFERENCE.name, HOURS.name]
    assert [cell.order for cell in found.column("base")] == [2, 1, 0]
    rows = flownet.sweep(case, {"outside.temperature": [308.15, 323.15, 293.15]})
    assert [row["row"] for row in rows.tally.worst] == [1, 0, 2]
    assert rows.tally.best["row"] == 2


def test_comes_closest_by_failing_scenarios_then_by_the_largest_share():
    found = flownet.compare(load("bench-supply"))
    assert found.verdict.startswith("no variant holds everywhere; larger-fan comes closest: it")
    order = sorted(found.variants, key=lambda name: closeness(found.column(name)))
    assert order[0] == "larger-fan"
    assert closeness(found.column("loud"))[0] == math.inf
    assert closeness(found.column("larger-fan"))[0] == 1
    three = flownet.compare(load("drive-cabinet"), variants=["three-fans"])
    assert len([cell for cell in three.column("three-fans") if not cell.holds]) == 3
    assert closeness(three.column("three-fans"))[0] == 1  # each-fan-out is one


def test_the_largest_miss_is_a_share_of_what_must_change():
    """-2 K of 20 K allowed are 10 %; the outside alone at the limit: no number says how far."""
    bound, outside = np.array([320.0, 320.0, 295.0]), np.array([300.0, 310.0, 300.0])
    margin = np.array([-2.0, -2.0, -6.0])
    limit = Limit("part", "part.p", bound - margin, bound, margin, TEMPERATURE, DIFFERENCE)
    noise = limit._replace(limit="noise", bound=np.full(3, 50.0), margin=np.array([-5.0, 1, 1]))
    runs = Runs((limit, noise), np.ones(3, bool), np.full(3, 5.0), outside, (), np.zeros(3, bool))
    stand = assess(runs)
    assert stand.miss[0] == pytest.approx(10 ** (5 / 50) - 1, abs=1e-6)
    assert stand.miss[1] == pytest.approx(0.2)
    assert stand.miss[2] == math.inf
    assert stand.row.tolist() == [0, 0, 0]
    absent = noise._replace(bound=np.full(3, np.nan), margin=np.full(3, np.nan))  # not asked for
    assert assess(runs._replace(limits=(limit, absent))).miss == pytest.approx([0.1, 0.2, np.inf])


def one(kind_, bound, margin, outside=300.0):
    """One run with one limit."""
    numbers = (np.array([float(x)]) for x in (bound - margin, bound, margin))
    limit = Limit(kind_, "x", *numbers, TEMPERATURE, DIFFERENCE)
    yes, no = np.array([True]), np.array([False])
    return assess(Runs((limit,), yes, np.array([5.0]), np.array([outside]), (), no))


@pytest.mark.parametrize(("kind_", "bound", "margin", "miss"), [
    ("flow", 0.02, -0.005, 0.25), ("life", 4e4, -1e4, 0.25), ("flow", 0.02, 0.005, -0.25),
    ("part", 295.0, -5e-4, -math.inf), ("part", 295.0, -2e-3, math.inf),
    ("part", 300.0, -2e-3, math.inf), ("part", 300.0, 2.0, -math.inf),
    ("part", 300.5, -0.25, 0.5), ("noise", 50.0, 0.0, 0.0), ("dew", 2.0, -1.0, 0.5),
])  # fmt: skip
def test_by_what_share_a_limit_is_missed(kind_, bound, margin, miss):
    """Of a flow, of hours; below zero where it holds, if only by rounding (1e-3 K); no number says
    it where the air outside, at 300 K, is as warm as the bound."""
    assert one(kind_, bound, margin).miss == pytest.approx([miss], abs=1e-6)


@pytest.mark.parametrize(("margins", "row", "order"), [
    ((1.0, 1.0 - 3e-7), 0, (0, 1)), ((1.0, 1.0 - 2e-6), 1, (1, 0)), ((1.0, 1.0), 0, (0, 1)),
])  # fmt: skip
def test_margins_that_differ_by_round_off_are_alike(margins, row, order):
    """By less than half of 1e-6: of two limits the first decides, of two runs the first is the
    worst."""
    found = run_of(*margins)
    assert (found.row.tolist(), found.margin.tolist()) == ([row], [margins[row]])
    limit = Limit("part", "x", 0.0, np.full(2, 350.0), np.array(margins), TEMPERATURE, DIFFERENCE)
    no, wide = np.zeros(2, bool), np.full(2, 5.0)
    both = assess(Runs((limit,), ~no, wide, np.full(2, 300.0), (), no))
    assert both.order.tolist() == list(order)


def test_ten_thousand_runs_and_missing_margins():
    """Against one at a time; NaN margins with a bound are unknown, without one no limit."""
    count, rng = 10_000, np.random.default_rng(5)
    margin = rng.normal(0.0, 10.0, (6, count))
    margin[rng.random((6, count)) < 0.1] = np.nan
    bound = np.where(rng.random((6, count)) < 0.1, np.nan, 350.0)
    limits = tuple(
        Limit("part" if i < 4 else "noise", f"part.{i}", 0.0, bound[i], np.where(
            np.isnan(bound[i]), np.nan, margin[i]), TEMPERATURE, DIFFERENCE) for i in range(6)
    )  # fmt: skip
    ok, stall = rng.random(count) < 0.95, rng.random(count) < 0.1
    out_ = rng.random(count) < 0.5
    stand = assess(Runs(limits, ok, np.full(count, 5.0), np.full(count, 300.0),
                        (Void(STALL, "fan.a", stall),), out_))  # fmt: skip
    assert sorted(stand.order) == list(range(count))
    for run_ in range(200):
        margins = [item.margin[run_] for item in limits if not np.isnan(item.bound[run_])]
        warm = [i.margin[run_] for i in limits[:4] if not np.isnan(i.bound[run_])]
        wanted = (
            "unsolved" if not ok[run_] else "void" if stall[run_] and not out_[run_]
            else "over" if any(m < 0 for m in margins)
            else "unknown" if not margins or any(m != m for m in margins)  # noqa: PLR0124
            else "tight" if stall[run_] or any(m < 5 for m in warm) else "ok"
        )  # fmt: skip
        assert STATUSES[stand.status[run_]] == wanted
    assert (stand.each[np.isnan(bound)] == NONE).all()


@pytest.mark.parametrize(
    ("level", "hours", "warm", "decides"),
    [(42.0, 49e3, 40.0, 0), (40.4, 49e3, 40.0, 1), (42.0, 49e3, 50.1, 2), (39.0, 51e3, 49.0, 2)],
)
def test_what_is_broken_by_the_largest_share_decides(level, hours, warm, decides):
    """2 dB of 40 are 5 %, 0.4 dB 1 %, 1000 h of 50 000 2 %; a broken temperature before both."""
    limits = tuple(
        Limit(kind_, kind_, np.array([value]), np.array([bound]), np.array([margin]), of, by)
        for kind_, value, bound, margin, of, by in (
            ("noise", level, 40.0, 40.0 - level, q.LEVEL, q.LEVEL_DIFFERENCE),
            ("life", hours, 50e3, hours - 50e3, q.HOURS, q.HOURS),
            ("air", warm + 273.15, 323.15, 50.0 - warm, q.TEMPERATURE, q.DIFFERENCE),
        )
    )
    yes, no = np.array([True]), np.array([False])
    found = assess(Runs(limits, yes, np.array([3.0]), np.array([298.15]), (), no))
    assert found.row.tolist() == [decides]
