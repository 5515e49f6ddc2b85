"""The choice of a fan: single solves of every type, closed forms of every reason, the order."""

from __future__ import annotations

import dataclasses
import math
from concurrent.futures import ProcessPoolExecutor
from functools import cache
from types import SimpleNamespace

import numpy as np
import pytest

import flownet
from flownet import Compartment, FanType, Limits, Part
from flownet.enclosure.surroundings import Body, Supply
from flownet.findings import find
from flownet.judging.assessment import STATUSES
from flownet.physics.air import HEAT_CAPACITY
from flownet.schema.errors import CaseError, NoSolution
from flownet.studies.choice.eligibility import FanPlaces, Reason, _frame, _speed
from flownet.studies.choice.fan_result import Candidate
from flownet.studies.choice.fan_solved import NO_NUMBERS, Solved
from flownet.studies.choose import _nearness, _order, choose
from flownet.studies.compare import expanded, scenarios_of
from flownet.studies.verdicts import Closeness
from tests.studies.fan_boxes import AREA, DENSITY, TEMPERATURE, air, hole, kind, out
from tests.test_cases import load
from tests.test_fan_catalogue import BASES, ROWS

BENCH = {"frame": "any"}
DEMOS = {
    "telecom-shelf": ("telecom-shelf", "fan.*", {}),
    "bench-supply": ("bench-supply", "rear", BENCH),
    "three-fans": ("drive-cabinet", "*", {"variant": "three-fans", "scenarios": ["hot+dirty"]}),
    "rest-up": ("telecom-shelf", "fan.*",
                {"scenarios": ["hot+dirty+fan.left-out-rest-up", "base"]}),
}  # fmt: skip


@cache
def made(name):
    case, fan, words = DEMOS[name]
    return choose(load(case), fan, catalogue=ROWS, **words)


@pytest.fixture(scope="module", params=list(DEMOS))
def found(request):
    return request.param, made(request.param)


@pytest.fixture(scope="module")
def bench():
    return made("bench-supply")


def by_hand(name, found, type_):
    """The case with a type put into it by hand, and the scenarios that decide."""
    case, _, words = DEMOS[name]
    source = load(case)
    more = {t.name: t for t in ROWS.values()}
    things = dict(source.things) | {"fan_type": {**source.things["fan_type"], **more}}
    design = dataclasses.replace(source, things=things).under(variant=words.get("variant", "base"))
    design = design.with_changes({f"{path}.type": type_ for path in found.fans})
    return design, expanded(design, scenarios_of(design, words.get("scenarios")), ["base"])[0]


@cache
def alone(name, type_):
    """A type solved singly in every scenario: {scenario: solution}."""
    design, rows = by_hand(name, made(name), type_)
    return {scenario: flownet.solve(design, scenario=scenario) for scenario in rows}


def holds(solution, fans):
    """Whether a fan engineer who reads the whole solution would accept it."""
    spans = {path: solution.case.rating(solution.case.fans[path[4:]]).air_range for path in fans}
    warm = {path: solution.fans[path].air_temperature for path in fans}
    turning = [path for path in fans if solution.fans[path].region not in ("stopped", "blanked")]
    return (
        all(item.holds for item in solution.limits)
        and all(row.region not in ("stall", "backflow") for row in solution.fans.values())
        and all(spans[p] is None or spans[p][0] <= warm[p] <= spans[p][1] for p in turning)
    )


# --- every type by hand -------------------------------------------------------------------------


def test_what_was_solved_is_what_single_solves_say(found):
    name, choice = found
    assert len(choice.candidates) + len(choice.excluded) >= len(BASES)
    assert len(choice.solved.types) >= 2
    for type_ in choice.solved.types[::5]:
        item, single = choice.candidate(type_), alone(name, type_)
        assert item.accepted == all(holds(s, choice.fans) for s in single.values()), type_
        own = item.numbers
        margins = {s: one.totals.worst_margin for s, one in single.items()}
        assert own.margin == pytest.approx(min(margins.values()), abs=1e-5)
        worst = single[own.scenario]
        assert own.margin == pytest.approx(worst.totals.worst_margin, abs=1e-5)
        subject = next(x for x in worst.limits if x.subject == own.subject)
        assert subject.margin == pytest.approx(worst.worst.margin, abs=1e-5)
        assert own.volume_flow == pytest.approx(
            min(one.totals.volume_flow for one in single.values()), rel=1e-6
        )
        assert own.noise == pytest.approx(max(one.totals.noise for one in single.values()))
        power = [sum(one.fans[p].power for p in choice.fans if one.fans[p].power > 0)
                 for one in single.values()]  # fmt: skip
        assert own.power == pytest.approx(max(power), rel=1e-6)
        lives = [one.fans[p].life for one in single.values() for p in choice.fans]
        assert own.life == pytest.approx(np.nanmin(lives), rel=1e-6)
        told = [reason for reason in item.reasons if reason.kind in ("part", "air", "noise")]
        assert {reason.subject for reason in told} == {
            x.subject for one in single.values() for x in one.limits
            if not x.holds and x.limit != "life"}  # fmt: skip
        for reason in told:
            limit = next(x for x in single[reason.scenario].limits if x.subject == reason.subject)
            assert number(reason) == pytest.approx(limit.value, abs=1e-4)
            assert number(reason, "bound") == pytest.approx(limit.bound, rel=1e-9)


def test_what_was_not_solved_is_excluded_by_what_findings_say_too():
    """Supply, shaft and speed have findings of their own on a solution with the type in place; one
    type of each sort, those that have a solution."""
    choice, sorts = made("telecom-shelf"), {}
    rules = {"supply": "supply-mismatch", "shaft": "bearing-unsuited",
             "speed": "speed-below-minimum"}  # fmt: skip
    for item in [item for item in choice.excluded if not item.solved]:
        kinds = frozenset(reason.kind for reason in item.reasons)
        assert kinds <= {*rules, "frame"}
        if kinds in sorts or "40x" in item.type:  # a fan of 40 mm in a shelf for 92 mm
            continue
        design, rows = by_hand("telecom-shelf", choice, item.type)
        sorts[kinds] = {f.rule for f in find(flownet.solve(design, scenario=rows[0]))}
    for kinds, said in sorts.items():
        assert {kind_ for kind_, rule in rules.items() if rule in said} == kinds - {"frame"}
    assert {kind_ for kinds in sorts for kind_ in kinds} == {"supply", "shaft", "frame"}


def test_solutions_behind_a_choice_are_whole(bench):
    whole = bench.solution("axial-92-q", "hot")
    assert whole.case.fans["rear"].type == "axial-92-q"
    assert whole.scenario == "hot"
    with pytest.raises(CaseError, match="excluded without a solve"):
        bench.solution("axial-119x38-230v", "hot")
    with pytest.raises(CaseError, match="was no candidate; did you mean"):
        bench.candidate("axial-92-qq")
    with pytest.raises(CaseError, match="was not solved; there are hot"):
        bench.solution("axial-92-q", "cold")


def test_processes_give_the_same_answer(bench):
    with ProcessPoolExecutor(2) as executor:
        other = choose(load("bench-supply"), "rear", catalogue=ROWS, executor=executor, **BENCH)
    assert other.to_dict() == bench.to_dict()


# --- every reason by a closed form --------------------------------------------------------------


def law(flow):
    """A straight fan curve [Pa]."""
    return 60.0 * (1 - flow / 0.04)


def enclosure(*types, limits=None, fans=None, parts=(), limit=None, **rest):
    """A box with a square-law hole of 1e5 Q^2 and fans that blow in."""
    fans = fans or [out("a", types[0].name, from_="outside", to="box")]
    given = {"air_limit": limit} if limit else {}
    return flownet.Enclosure.of(
        air(), Compartment(name="box", **given), hole("way", "box", "outside", 1e5),
        Supply(name="mains", voltage="230 V", frequency="50 Hz"), *types, *fans, *parts,
        *([Limits(**limits)] if limits else []), **rest,
    )  # fmt: skip


def working_flow(factor=1e5, count=1):
    """Where `count` fans of `law` side by side meet `factor` Q^2 (a quadratic)."""
    a, b, c = factor * count * count, 60.0 / 0.04, -60.0
    return (-b + math.sqrt(b * b - 4 * a * c)) / (2 * a)


def only(case, type_="t", fan="a", **words):
    """The reasons against a type, by kind."""
    item = choose(case, fan, **words).candidate(type_)
    return {reason.kind: reason for reason in item.reasons}


def number(reason, name="value"):
    return reason.values[name][1]


def test_noise_of_two_equal_fans_is_three_decibels_more():
    """Energies add: L + 10 log10 2; less 20 log10 of the distance (any acoustics textbook)."""
    type_ = kind("t", law, 0.04, noise_dBA=50, noise={"kind": "pressure", "distance": 1.0},
                 price=7.0)  # fmt: skip
    fans = [out(n, "t", from_="outside", to="box") for n in ("a", "b")]
    assert choose(enclosure(type_, fans=fans), "*").best.numbers.price == 14.0
    limits = {"noise_dBA": 40.0, "noise_distance": 2.0}
    case = enclosure(type_, fans=fans, limits=limits)
    reason = only(case, fan="*")["noise"]
    expected = 50 + 10 * math.log10(2) - 20 * math.log10(2)
    assert number(reason) == pytest.approx(expected, abs=1e-9)
    assert number(reason, "bound") == 40.0
    assert reason.message() == f"{expected:.1f} dBA at 2 m, limit 40.0 dBA in base"
    assert only(enclosure(type_, fans=fans, limits={**limits, "noise_dBA": expected + 0.1}),
                fan="*") == {}  # fmt: skip


def test_a_bound_that_reads_like_the_value_says_how_far_it_is():
    type_ = kind("t", law, 0.04, noise_dBA=58.01, noise={"kind": "pressure", "distance": 1.0})
    reason = only(enclosure(type_, limits={"noise_dBA": 58.0, "noise_distance": 1.0}))["noise"]
    assert reason.message() == "58.0 dBA at 1 m, limit 58.0 dBA (0.01 dB apart) in base"


@pytest.mark.parametrize("sort", ["L10", "mean"])
def test_life_by_its_factor_at_the_air_that_enters(sort):
    """hours * factor^((T - T_air)/10 K); the fan draws outside air, whose temperature is given."""
    life = {"hours": 40000, "at": 303.15, "kind": sort, "factor_per_10K": 1.5}
    case = enclosure(kind("t", law, 0.04, life=life), limits={"fan_life_hours": 100000})
    expected = 40000 * 1.5 ** ((303.15 - TEMPERATURE) / 10)
    reason = only(case)["life"]
    assert number(reason) == pytest.approx(expected, rel=1e-9)
    assert number(reason, "warm") == pytest.approx(TEMPERATURE)
    assert f"{sort} life" in reason.message()
    enough = enclosure(kind("t", law, 0.04, life=life), limits={"fan_life_hours": expected - 1})
    item = choose(enough, "a").candidate("t")
    assert item.accepted
    assert ("life is a mean" in str([r.message() for r in item.remarks])) == (sort == "mean")
    for duty, share, factor in (("intermittent", 0.5, 2), ("intermittent", None, 1),
                                ("continuous", 0.5, 1)):  # fmt: skip
        given = {"running_share": share} if share else {}
        part_time = enclosure(kind("t", law, 0.04, life=life), limits={"duty": duty, **given})
        numbers = choose(part_time, "a").best.numbers
        assert (numbers.life, numbers.life_kind) == (pytest.approx(factor * expected), sort)
    still = enclosure(kind("t", law, 0.04, life=life), limits={"scenarios": ["off"]},
                      scenarios={"off": {"fan.a.state": "stopped"}})  # fmt: skip
    numbers = choose(still, "a").candidate("t").numbers
    assert (math.isnan(numbers.life), numbers.life_kind) == (True, "")


def test_air_beyond_its_range():
    """The fan draws outside air, whose temperature is given."""
    hot = kind("t", law, 0.04, air_range=(250.0, TEMPERATURE - 2))
    reason = only(enclosure(hot))["air-range"]
    assert number(reason) == pytest.approx(TEMPERATURE)
    assert number(reason, "bound") == TEMPERATURE - 2
    assert "above" in reason.message()
    cold = kind("t", law, 0.04, air_range=(TEMPERATURE + 5, 350.0))
    assert "below" in only(enclosure(cold))["air-range"].message()
    assert only(enclosure(kind("t", law, 0.04, air_range=(250.0, 350.0)))) == {}


def test_a_chosen_fan_has_the_data_of_a_type_and_a_neighbour_its_own():
    """Both draw outside air; the type that is tried and the one that stands differ in range."""
    tried = kind("t", law, 0.04, air_range=(250.0, TEMPERATURE - 2))
    stands = kind("own", law, 0.04, air_range=(250.0, TEMPERATURE - 3))
    fans = [out(n, "own", from_="outside", to="box") for n in ("a", "b")]
    case = enclosure(stands, tried, fans=fans)
    solved = choose(case, "a").solved
    reason = only(case)["air-range"]
    assert (reason.subject, number(reason, "bound")) == ("fan.a", TEMPERATURE - 2)
    row = list(solved.types).index("t")
    for path, high in (("fan.a", 2), ("fan.b", 3)):
        assert solved.rating(row, 0, path).air_range == (250.0, TEMPERATURE - high)


def test_flow_that_is_needed():
    """Where a straight curve meets a square law: a quadratic."""
    type_ = kind("t", law, 0.04)
    expected = working_flow()
    reason = only(enclosure(type_, limits={"flow": 1.01 * expected}))["flow"]
    assert number(reason) == pytest.approx(expected, rel=1e-6)
    assert number(reason, "bound") == pytest.approx(1.01 * expected)
    assert only(enclosure(type_, limits={"flow": 0.99 * expected})) == {}


def test_a_limit_of_air_or_part_by_the_heat_balance():
    """T = T_out + P/(m cp), the part P R above it; conservation of energy."""
    part = Part(name="p", in_="box", power=200.0, resistance=0.1, limit=TEMPERATURE + 20)
    case = enclosure(kind("t", law, 0.04), parts=[part], limit=TEMPERATURE + 5)
    choice = choose(case, "a")
    reasons = {r.kind: r for r in choice.candidate("t").reasons}
    mass = choice.solution("t", "base").mass_flow("fan.a")
    warm = TEMPERATURE + 200.0 / (mass * HEAT_CAPACITY)
    assert mass / DENSITY == pytest.approx(working_flow(), rel=0.05)  # thinner air on the way out
    assert number(reasons["air"]) == pytest.approx(warm, abs=1e-3)
    assert number(reasons["air"], "over") == pytest.approx(warm - TEMPERATURE - 5, abs=1e-3)
    assert number(reasons["part"]) == pytest.approx(warm + 20.0, abs=1e-3)
    assert reasons["air"].subject == "compartment.box"
    assert reasons["part"].subject == "part.p"


HUMP = {"flow": "0 30 55 75 90 110 140 182 m3/h", "rise": "112 84 62 64 66 60 38 0 Pa"}


def test_stall_left_of_the_last_peak():
    """The last local maximum is the point at 90 m3/h, at half speed 45 m3/h (fan laws)."""
    hump = FanType(name="t", curve=HUMP, flow_area=AREA, reference_density=DENSITY)
    for speed, factor in ((1.0, 1.0), (0.5, 0.8)):
        fan = out("a", "t", from_="outside", to="box", speed=speed, flow_factor=factor)
        case = enclosure(hump, fans=[fan]).with_changes({"opening.way.loss": 200.0})
        reason = only(case)["stall"]
        assert number(reason, "bound") == pytest.approx(speed * factor * 90 / 3600, rel=1e-9)
        assert number(reason) == pytest.approx(flownet.solve(case).volume_flow("fan.a"))
        assert 0 < number(reason) < number(reason, "bound")
    assert "stall" not in only(enclosure(hump))


def test_stall_while_another_is_out_is_told_and_tight():
    """Two in series meet 120 Pa at 110 m3/h, right of the last peak (90); one alone is left of it,
    at most where 128 500 Q^2 meets 65 Pa, 81 m3/h, in one scenario of two."""
    hump = kind("t", law, 0.04, curve=HUMP)
    fans = [out("a", "t", from_="outside", to="box"), out("b", "t", from_="box", to="last")]
    case = flownet.Enclosure.of(
        air(), Compartment(name="box", air_limit="60 degC"), Compartment(name="last"), hump, *fans,
        hole("way", "last", "outside", 128500.0), Limits(scenarios=("base", "fan.b-out")),
    )  # fmt: skip
    item = choose(case, "a").best
    assert [(r.subject, r.scenario) for r in item.remarks if r.kind == "stall"] == [
        ("fan.a", "fan.b-out")]  # fmt: skip
    assert item.numbers.tight
    alone = flownet.solve(case, scenario="fan.b-out")
    assert alone.fans["fan.a"].region == "stall"
    assert alone.volume_flow("fan.a") < 81 / 3600


def test_changes_come_last_in_every_scenario():
    """The fan draws outside air."""
    case = enclosure(kind("t", law, 0.04), limits={"scenarios": ["warm"]},
                     scenarios={"warm": {"outside.temperature": 300.0}})  # fmt: skip
    found = choose(case, "a", changes={"outside.temperature": 310.0})
    assert found.best.numbers.air == pytest.approx(310.0)
    assert found.solution("t", "warm").site["temperature"] == pytest.approx(310.0)


def test_a_neighbour_driven_backwards_counts_too():
    """The weak one has 20 Pa at most; the strong one alone would hold more across it."""
    strong, weak = kind("s", lambda x: 100 * (1 - x / 0.05), 0.05), kind("w", law, 0.04)
    small = dataclasses.replace(weak, name="w", curve=((0.0, 20.0), (0.02, 0.0)))
    fans = [out("a", "w", from_="outside", to="box"), out("b", "w", from_="outside", to="box")]
    case = enclosure(small, strong, fans=fans).with_changes({"opening.way.loss": 1e3})
    reasons = only(case, "s")
    assert reasons["backflow"].subject == "fan.b"
    flow = choose(case, "a").solution("s", "base").volume_flow("fan.b")
    assert number(reasons["backflow"]) == pytest.approx(-flow)
    assert flow < 0


SUPPLIES = {  # supply of the data -> how it fits 230 V 50 Hz
    "230 V 50 Hz": None, "24 V dc": "no rating for 230 V 50 Hz (its data: 24 V dc)",
    "230 V 60 Hz": "no rating for 230 V 50 Hz (data for 230 V 60 Hz scaled by 0.833)",
}  # fmt: skip


@pytest.mark.parametrize("own", SUPPLIES)
def test_supply(own):
    case = enclosure(kind("t", law, 0.04, supply=own),
                     fans=[out("a", "t", from_="outside", to="box", supply="mains")])  # fmt: skip
    reasons = only(case)
    assert [r.message() for r in reasons.values()] == ([SUPPLIES[own]] if SUPPLIES[own] else [])
    rated = kind("t", law, 0.04, supply="24 V dc", rating={"mains": {"supply": "230 V 50 Hz"}})
    assert only(enclosure(rated, fans=list(case.fans.values()))) == {}


def test_a_voltage_is_scaled_only_where_the_data_sheet_permits_it():
    def reasons(**more):
        type_ = kind("t", law, 0.04, supply="24 V dc", **more)
        fan = out("a", "t", from_="outside", to="box", supply="low")
        case = enclosure(type_, Supply(name="low", voltage="18 V"), fans=[fan])
        return choose(case, "a").candidate("t")

    barred, free = reasons(), reasons(voltage_range="12 28 V")
    assert [r.message() for r in barred.reasons] == [
        "no rating for 18 V dc (data for 24 V dc scaled by 0.75)"
    ]
    assert free.accepted
    assert "scaled with the voltage" in free.remarks[-1].message() or any(
        "scaled with the voltage" in r.message() for r in free.remarks
    )


FRAMES = [  # what the candidate has, what is said about it
    ({"hole_pitch": 0.105, "frame": (0.120, 0.025), "cutout": 0.1}, {}, []),
    ({"hole_pitch": 0.0825, "frame": (0.092, 0.038)}, {},
     ["hole pitch 82.5 mm, the place has 104.8 mm"]),
    ({"hole_pitch": 0.0825}, {"frame": "any"}, []),
    ({"frame": (0.092, 0.025)}, {"frame": "92 x 38 mm"}, []),
    ({"frame": (0.092, 0.0384)}, {"frame": "92 x 38 mm"}, []),  # half a millimetre is no matter
    ({"frame": (0.092, 0.051)}, {"frame": "92 x 38 mm"}, ["51 mm deep, the place takes 38 mm"]),
    ({"frame": (0.119, 0.038)}, {"frame": (0.092, 0.038)}, ["frame 119 mm, the place has 92 mm"]),
    ({}, {}, []),
]  # fmt: skip


def test_frame():
    here = kind("here", law, 0.04, hole_pitch=0.1048, frame=(0.119, 0.038), cutout=0.116)
    fan = out("a", "here", from_="outside", to="box", clearance={"inlet": 0.02, "outlet": 0.03})
    for has, words, said in FRAMES:
        item = choose(enclosure(here, kind("t", law, 0.04, **has), fans=[fan]), "a", **words)
        found = item.candidate("t")
        assert [r.message() for r in found.reasons] == said
        if not has:
            assert any("not compared" in r.message() for r in found.remarks)


FREE = {"inlet": 0.01, "outlet": 0.01}


SIZES = [  # of the type in place, of the other, what is free, what does not fit
    ({}, {"frame": (0.2, 0.04)}, FREE, []), ({"frame": (0.1, 0.04)}, {}, FREE, []),
    ({"frame": (0.1, 0.04)}, {"frame": (0.1015, 0.04)}, FREE, []),
    ({"frame": (0.1, 0.04)}, {"frame": (0.103, 0.04)}, FREE, [(0.103, 0.1)]),
    ({"frame": (0.1, 0.04)}, {"frame": (0.1022, 0.04)}, FREE, [(0.1022, 0.1)]),
    ({"frame": (0.1, 0.04)}, {"frame": (0.097, 0.04)}, None, [(0.097, 0.1)]),
    ({"frame": (0.1, 0.04)}, {"frame": (0.1, 0.0599)}, FREE, []),
    ({"frame": (0.1, 0.04)}, {"frame": (0.1, 0.0601)}, FREE, [(0.0601, 0.06)]),
    ({"frame": (0.1, 0.04)}, {"frame": (0.1, 0.2)}, None, []),
    ({"frame": (0.1, 0.04)}, {"frame": (0.1, 0.2)}, {"inlet": 0.01}, []),
    ({"frame": (0.1, 0.04)}, {"frame": (0.1, 0.2)}, {"outlet": 0.01}, []),
    ({"hole_pitch": 0.1}, {}, None, []), ({}, {"hole_pitch": 0.1}, None, []),
    ({"hole_pitch": 0.1}, {"hole_pitch": 0.1005}, None, []),
    ({"hole_pitch": 0.1}, {"hole_pitch": 0.0993}, None, [(0.0993, 0.1)]),
    ({"cutout": 0.1}, {}, None, []), ({}, {"cutout": 0.2}, None, []),
    ({"cutout": 0.1}, {"cutout": 0.1005}, None, []), ({"cutout": 0.1}, {"cutout": 0.05}, None, []),
    ({"cutout": 0.1}, {"cutout": 0.1007}, None, [(0.1007, 0.1)]),
    ({"hole_pitch": 0.1, "cutout": 0.1}, {"hole_pitch": 0.11, "cutout": 0.2}, None, [(0.11, 0.1)]),
]  # fmt: skip


def test_a_frame_is_told_by_what_both_state():
    """Sizes by hand: a depth against what is free before and behind, 40 + 10 + 10 mm."""
    for own, other, clearance, sizes in SIZES:
        fan = out("a", "here", from_="outside", to="box", clearance=clearance)
        case = enclosure(kind("here", law, 0.04, **own), kind("t", law, 0.04, **other), fans=[fan])
        places = FanPlaces(case, (case.fans["a"],), {"base": case}, None)
        found = list(_frame(places, case.fans["a"], case.things["fan_type"]["t"]))
        told = [(number(r), number(r, "bound")) for r in found]
        assert told == [pytest.approx(pair) for pair in sizes], (own, other)


def a_place(speed=math.nan, rotation=math.nan, *, control=None, running=True):
    return SimpleNamespace(speed=speed, rotation=rotation, speed_control=control, running=running,
                           path="fan.a")  # fmt: skip


def the_data(span=(0.5, 1.0), rated=50.0, how="", ratio=1.0, volts=None):
    rating = SimpleNamespace(speed_range=span, rated_speed=rated, voltage_range=volts)
    return SimpleNamespace(rating=rating, how=how, speed=ratio)


SPEEDS = [
    (a_place(0.5), the_data(), None), (a_place(0.49), the_data(), (0.49, 0.5)),
    (a_place(1.0), the_data(), None), (a_place(1.01), the_data(), (1.01, 1.0)),
    (a_place(rotation=24.0), the_data(), (0.48, 0.5)),
    (a_place(rotation=60.0), the_data(), (1.2, 1.0)),
    (a_place(rotation=60.0), the_data(rated=math.nan), (60.0, None)),
    (a_place(0.4), the_data(rated=math.nan), (0.4, 0.5)), (a_place(0.4), the_data(span=None), None),
    (a_place(0.4, control="c"), the_data(), None), (a_place(0.4, running=False), the_data(), None),
    (a_place(0.6), the_data(how="voltage", ratio=0.75), (0.45, 0.5)),
    (a_place(0.8), the_data(how="voltage", ratio=0.75), None),
    (a_place(rotation=30.0), the_data(how="voltage", ratio=0.75), None),
    (a_place(0.6), the_data(how="near", ratio=0.75), None),
    (a_place(rotation=0.2 * 3), the_data((0.1, 0.2), 3.0), None),  # 0.2 * 3 / 3 > 0.2
    (a_place(0.9 / 0.75), the_data((0.9, 1.0), how="voltage", ratio=0.75), None),  # < 0.9
]  # fmt: skip


def test_a_speed_that_is_given_lies_in_the_range():
    for fan, data, told in SPEEDS:
        found = list(_speed(fan, data, "base"))
        numbers = [(number(r), number(r, "bound") if "bound" in r.values else None) for r in found]
        wanted = [] if told is None else [(pytest.approx(told[0]), told[1])]
        assert numbers == wanted, (fan, data)


@pytest.mark.parametrize("turned", [False, True])
def test_a_fan_that_is_driven_backwards_says_by_how_much(turned):
    """100 Pa of wind against 60 Pa at rest; its flow the way it blows is below zero."""
    ends = ("outside.wind", "box") if turned else ("box", "outside.wind")
    more = {"mounted": "reversed"} if turned else {}
    fans = [out("a", "t", from_=ends[0], to=ends[1], **more)]
    wind = flownet.Outside(name="wind", temperature=TEMPERATURE, over_pressure=100.0)
    case = enclosure(kind("t", law, 0.04), wind, fans=fans)
    reason = only(case)["backflow"]
    flow = flownet.solve(case).volume_flow("fan.a")
    assert number(reason) == pytest.approx(abs(flow))
    assert (flow > 0) == turned


def candidate(name, *, off=None, kinds=("noise",), unjudged=False, **numbers):
    reasons = tuple(Reason(kind_, "fan.a", "", "", {}) for kind_ in kinds)
    return Candidate(name, 0, reasons, (), NO_NUMBERS._replace(**numbers), True, unjudged, off)


CLOSE, FAR = Closeness(1, 0, 0, 0.1), Closeness(2, 0, 0, 0.1)


NEARER = [
    ({"off": FAR}, {"off": None}), ({"off": CLOSE}, {"off": FAR}),
    ({"off": CLOSE, "kinds": ("noise",), "margin": -9.0},
     {"off": CLOSE, "kinds": ("noise", "life"), "margin": 9.0}),
    ({"off": None, "kinds": ("frame",), "margin": -9.0},
     {"off": None, "kinds": ("noise",), "margin": 9.0}),
    ({"off": CLOSE, "margin": 2.0}, {"off": CLOSE, "margin": 1.0}),
    ({"off": CLOSE, "margin": -2.0}, {"off": CLOSE}),
]  # fmt: skip
BETTER = [
    ("noise", {"noise": 50.0}, {"noise": 40.0, "unjudged": True}),
    ("noise", {"noise": 40.0}, {"noise": 41.0}), ("noise", {"noise": 40.0}, {"margin": 9.0}),
    ("power", {"power": 4.0}, {"power": 5.0}), ("price", {"price": 4.0}, {"price": 5.0}),
    ("temperature", {"margin": 5.0}, {"margin": 4.0}), ("life", {"life": 5.0}, {"life": 4.0}),
    ("life", {"life": 4.0, "life_kind": "L10"}, {"life": 5.0, "life_kind": "mean"}),
    ("price", {"price": 4.0, "margin": 2.0}, {"price": 4.0, "margin": 1.0}),
    ("price", {"price": 4.0, "margin": -2.0}, {"price": 4.0}),
    ("price", {"price": 4.0, "life_kind": "mean"}, {"price": 5.0, "life_kind": "L10"}),
]  # fmt: skip


def test_which_comes_first():
    """Each by one thing alone, against the order of names."""
    for first, then in NEARER:
        assert _nearness(candidate("z", **first)) < _nearness(candidate("a", **then)), first
    for best, first, then in BETTER:
        assert _order(candidate("z", **first), best) < _order(candidate("a", **then), best), first


NOT_KNOWN, FAILS, FINE = (STATUSES.index(word) for word in ("unknown", "over", "ok"))


def test_how_far_a_type_is_from_serving_counts_what_is_known():
    """In the first scenario, failing by 3 K; a limit without a value counts where it is named."""
    for status, named, fails in ((FAILS, [], 1), (NOT_KNOWN, [], 0), (NOT_KNOWN, ["a"], 1)):
        stand = SimpleNamespace(holds=np.array([False, True]), miss=np.array([3.0, -1.0]),
                                status=np.array([status, FINE]))  # fmt: skip
        solved = SimpleNamespace(assessment=stand, index=np.array([[0], [1]]),
                                 scenarios=("a", "b"), asked=("a", "b"))  # fmt: skip
        reasons = [Reason("frame", "fan.a", name, "", {}) for name in named]
        found = Solved.closeness(solved, 0, reasons)
        assert (found.failing, found.miss) == (fails, 3.0 if fails else -math.inf), (status, named)


def test_the_hottest_is_told_first_and_the_fans_that_are_chosen_together():
    """Two scenarios; the less a sign is, the worse: what is worst, where, of whom, who shows it."""
    none = math.inf
    signs = {
        "part": {"p": [-1, -5], "q": [-10, -2], "fine": [none, none]},
        "life": {"fan.a": [-1, none], "fan.b": [none, -9], "fan.c": [-20, none]},
        "unstable": {"x": [0, none], "y": [0, 0]},
    }
    solved = SimpleNamespace(
        places=SimpleNamespace(paths=("fan.a", "fan.b")), _unsolved=lambda _: (),
        signs={kind: {name: np.array(row, float)[:, None] for name, row in rows.items()}
               for kind, rows in signs.items()},
        _reason=lambda _, row, kind, worst, some, there: (row, kind, worst, some, there),
    )  # fmt: skip
    assert list(Solved.reasons(solved, 0)) == [
        (0, "part", "q", ["q"], ["q"]), (1, "part", "p", ["p"], ["p"]),
        (1, "life", "fan.b", ["fan.a", "fan.b"], ["fan.b"]),
        (0, "life", "fan.c", ["fan.c"], ["fan.c"]),
        (0, "unstable", "x", ["x", "y"], ["x", "y"]),
    ]  # fmt: skip


SHAFTS = [
    ("up", {"bearing": "sleeve"}, True), ("left", {"bearing": "sleeve"}, False),
    ("up", {"bearing": "ball"}, False), ("up", {"shaft": ["horizontal"]}, True),
    ("up", {"bearing": "sleeve", "shaft": ["horizontal", "vertical"]}, False),
    ("left", {"shaft": ["vertical"]}, True), (None, {"bearing": "sleeve"}, False),
]  # fmt: skip


def test_shaft():
    """A sleeve bearing is for a lying shaft; a list of the data sheet goes before."""
    for direction, type_, barred in SHAFTS:
        fan = out("a", "t", from_="outside", to="box", direction=direction)
        case = enclosure(kind("t", law, 0.04, **type_), Body(view="front"), fans=[fan])
        assert set(only(case)) == ({"shaft"} if barred else set()), (direction, type_)


def test_speed_below_its_range():
    type_ = kind("t", law, 0.04, speed_range=(0.5, 1.0))
    fan = out("a", "t", from_="outside", to="box", speed=0.3)
    scenario = {"full": {"fan.a.speed": 0.8}}
    reason = only(enclosure(type_, fans=[fan], scenarios=scenario))["speed"]
    assert (number(reason), number(reason, "bound")) == (0.3, 0.5)
    assert reason.scenario == "base"
    fast = only(enclosure(type_, fans=[out("a", "t", from_="outside", to="box", speed=1.2)]))
    assert fast["speed"].message() == "turns at 1.2 of its rated speed, most 1"


def test_no_solution_and_no_sound_case():
    part = Part(name="p", in_="box", power=50.0)
    case = enclosure(kind("t", law, 0.04), parts=[part], limit="90 degC",
                     scenarios={"shut": {"opening.way.state": "blanked",
                                         "fan.a.state": "blanked"}})  # fmt: skip
    choice = choose(case, "a")
    (reason,) = choice.candidate("t").reasons
    assert (reason.kind, reason.scenario) == ("unsolved", "shut")
    assert "an island with heat" in reason.message()
    assert math.isnan(choice.candidate("t").numbers.margin)
    assert "; t comes closest: no solution" in choice.verdict  # it was solved in the other
    with pytest.raises(NoSolution):
        choice.solution("t", "shut")
    turned = out("a", "t", from_="outside", to="box", rotation="2000 rpm")
    odd = dataclasses.replace(kind("odd", law, 0.04), rated_speed=math.nan)
    both = choose(enclosure(kind("t", law, 0.04), odd, fans=[turned]), "a")
    assert [r.message() for r in both.candidate("odd").reasons] == [
        "rated speed not stated, 2000 rpm are asked for"
    ]
    assert both.best.type == "t"
