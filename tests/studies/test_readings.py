"""Readings beside predictions: shares, bands, what explains them, and every fault of a file."""

from __future__ import annotations

import math
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

import flownet
from flownet.pages import render
from flownet.pages.page import Page
from flownet.schema import quantities as q
from flownet.schema.errors import CaseError
from flownet.studies.readings import deviations, explanations, separate
from tests.each import each, named
from tests.studies.measured import CABINET, box, read_off
from tests.test_cases import load

WARM = "compartment.box.temperature"


def closed(**rest):
    """A closed box: its rise is power over UA, 110 W / 11 W/K = 10 K."""
    return flownet.Enclosure.of(
        flownet.Outside(temperature="25 degC"), flownet.Compartment(name="box"),
        flownet.Part(name="p", in_="box", power="110 W"),
        flownet.Wall(name="w", from_="box", to="outside", area="2 m2", u_value="5.5 W/(m2 K)"),
        **rest,
    )  # fmt: skip


def row(reading, unit="degC", uncertainty=1.0, point=WARM, **more):
    return {"point": point, "reading": reading, "reading_unit": unit,
            "uncertainty": uncertainty, **more}  # fmt: skip


def test_a_deviation_is_a_share_of_the_rise_in_every_unit():
    """38 instead of 35 degC: 3 K of a rise of 10 K, however it is written."""
    for reading, unit, uncertainty in ((38.0, "degC", 1.0), (100.4, "degF", 1.8), (311.15, "K", 1)):
        found = flownet.check_readings(closed(), [row(reading, unit, uncertainty)])
        assert found.shares == pytest.approx([0.3], abs=1e-6)
        assert found.readings.wide == pytest.approx([1.0])
        assert found.to_dict()["readings"][0]["difference"] == pytest.approx(3.0)
    assert "+30 % of its rise above outside (25.0 degC)" in found.verdict
    assert "(77.0 degF), +5.4 degF" in found.verdicts("us")[0]


@pytest.mark.parametrize(("power", "share"), [(4.4, math.nan), (6.6, 0.1 / 0.6)])
def test_a_share_of_less_than_half_a_kelvin_says_nothing(power, share):
    """Power over 11 W/K: 0.4 and 0.6 K over outside; 0.3 Pa are something to share by."""
    case = closed().with_changes({"part.p.power": power})
    found = flownet.check_readings(case, [row(25.0 + power / 11 + 0.1)])
    assert found.shares == pytest.approx([share], rel=1e-3, nan_ok=True)
    calm = box().with_changes({"vent.in.loss": 0.02})
    (read,) = read_off(calm, ["vent.in.drop"])
    assert 0.05 < read["reading"] < 0.5
    found = flownet.check_readings(calm, [{**read, "reading": 1.5 * read["reading"]}])
    assert found.shares == pytest.approx([0.5], rel=1e-6)


def explained(what, chi_square, freedom, counted=1):
    return explanations.Explanation(what, chi_square, counted, freedom)


def test_a_sensor_sits_where_it_fits_best_and_two_of_a_kind_may_be_interchanged(monkeypatch):
    """At a usual point of its quantity that is not its own: here the nearest by its number."""
    warm, press = q.TEMPERATURE, q.PRESSURE
    known = {"a.1.temperature": (warm, 1.0), "a.2.temperature": (warm, 2.0),
             "a.7.temperature": (warm, 7.0), "a.2.margin": (warm, 1.1), "a.3.drop": (press, 3.0),
             "a.4.temperature": (warm, 4.0)}  # fmt: skip
    points = ["a.4.temperature", "a.3.drop", "a.2.temperature", "a.1.temperature"]
    readings = SimpleNamespace(points=points, kinds=[known[path][0] for path in points])
    monkeypatch.setattr(
        explanations,
        "_sensors",
        lambda _, where, words: explanations.Explanation(
            words, sum(abs(known[points[i]][1] - known[path][1]) for i, path in where.items()), 2, 2
        ),
    )
    compared = SimpleNamespace(readings=readings, drawn=known, known=known)
    assert [each.what for each in explanations._elsewhere(compared)] == [
        "sensor of a.4.temperature sits at a.2.temperature",
        "sensors of a.4.temperature and a.2.temperature are interchanged",
        "sensors of a.4.temperature and a.1.temperature are interchanged",
        "sensor of a.2.temperature sits at a.1.temperature",
        "sensors of a.2.temperature and a.1.temperature are interchanged",
        "sensor of a.1.temperature sits at a.2.temperature"]  # fmt: skip


def test_what_explains_is_shown_with_whether_it_does():
    """Of 100 as stated what leaves less than half, or explains; of no reading left nobody knows."""
    some = [explained("none left", 1.0, 0), explained("one left", 3.0, 1),
            explained("much", 49.0, 8), explained("more", 51.0, 8)]  # fmt: skip
    case = closed()
    found = SimpleNamespace(explanations=some, stated=100.0, solution=SimpleNamespace(case=case))
    page, data = deviations._explained(found)
    assert [words() for words in page.columns[0].values] == ["none left", "one left", "much"]
    assert page.columns[3].values == ["-", "all", "no"]
    assert data.columns[0].values == [each.what for each in some]
    assert data.columns[4].values == [False, True, False, False]
    few = SimpleNamespace(explanations=some[3:], stated=100.0, solution=found.solution)
    assert len(list(deviations._explained(few))) == 1


@pytest.mark.parametrize(("ranks", "alike"), [((3.0, 4.9, 5.1), 1), ((3.0, 3.0, 4.0), 2)])
def test_explanations_within_2_of_the_best_are_as_good(ranks, alike):
    some = [explained(f"e{i}", rank - 2, 8) for i, rank in enumerate(ranks)]
    found = SimpleNamespace(explanations=some, stated=100.0, predicted=np.zeros(9))
    first, *rest = deviations._why(found, "metric")
    assert first.startswith("e0 explains all (chi-square 1, from 100 as it is stated)")
    told = "; ".join(f"e{i + 1}" for i in range(alike))
    assert rest == [f"the readings do not tell it from: {told}"]


def test_the_band_is_that_of_the_tolerances():
    """The rise is proportional to the load, and to nothing else that is off: 10 % of 10 K is 1 K;
    with 0.75 K of the reading 1.25 K are allowed."""
    case = closed(
        studies={
            "tolerance": {
                "part.p.load": {
                    "within": 0.1,
                    "relative": True,
                    "shape": "normal",
                    "together": False,
                }
            }
        }
    )
    for reading, outside in ((36.2, False), (36.3, True)):
        found = flownet.check_readings(case, [row(reading, uncertainty=0.75)], defaults=False)
        assert found.band == pytest.approx([1.0], rel=1e-3)
        assert found.allowed == pytest.approx([1.25], rel=1e-3)
        assert found.outside.tolist() == [outside]


TRUTHS = {
    "fan.left blows the other way": {"fan.left.mounted": "reversed"},
    "fan.right stands still": {"fan.right.state": "stopped"},
    "supply.mains on 60 Hz": {"supply.mains.frequency": "60 Hz"},
    "filter.intake loaded otherwise": {"filter.intake.fouling": 2.8},
    "vent.side covered": {"vent.side.state": "blanked"},
    "leak.door-seal leaks more or less": {"leak.door-seal.flow_at.0": 0.012},
    "part.controller more or less heat": {"part.controller.load": 1.9},
    "outside air warmer or cooler": {"outside.temperature": 313.15},
}


@pytest.mark.parametrize("truth", TRUTHS)
def test_what_is_otherwise_than_stated_is_found_first(truth):
    case = load("drive-cabinet")
    rows = read_off(case, CABINET, TRUTHS[truth], seed=3, scenario="hot")
    found = flownet.check_readings(case, rows, scenario="hot")
    first = found.explanations[0]
    assert (first.what, first.explains) == (truth, True)
    assert found.verdicts()[1].startswith(truth)
    for some in found.explanations:  # H. Akaike, IEEE Trans. Automatic Control 19, 1974, 716-723
        assert some.rank == pytest.approx(some.chi_square + 2 * some.counted)
    if first.number is not None:
        ((path, value),) = TRUTHS[truth].items()
        stated = case.under("hot")[path]
        assert abs(first.changes[path] - value) < 0.25 * abs(value - stated)


def test_sensors_in_each_others_place_and_elsewhere():
    case = load("drive-cabinet")
    rows = read_off(case, CABINET, seed=5)
    low, high = (CABINET.index(f"part.{name}.temperature") for name in ("choke", "controller"))
    rows[low]["reading"], rows[high]["reading"] = rows[high]["reading"], rows[low]["reading"]
    found = flownet.check_readings(case, rows).explanations[0]
    assert (found.explains, found.counted, found.changes) == (True, 2, {})
    assert found.what.endswith("interchanged")
    elsewhere = read_off(case, ["part.contactors.temperature"])[0]["reading"]
    rows = read_off(case, CABINET, seed=5)
    rows[CABINET.index("compartment.lower.temperature")]["reading"] = elsewhere
    found = flownet.check_readings(case, rows).explanations[0]
    assert found.what == "sensor of compartment.lower.temperature sits at " \
                         "part.contactors.temperature"  # fmt: skip


def test_outside_air_a_little_warmer_is_found_though_a_coarse_step_passes_it():
    rows = [row(46.0, uncertainty=0.5, point="site.temperature"),
            row(53.6, uncertainty=0.8, point="compartment.upper.temperature"),
            row(49.5, uncertainty=0.8, point="compartment.lower.temperature")]  # fmt: skip
    found = flownet.check_readings(load("drive-cabinet"), rows, scenario="hot")
    assert found.explanations[0].what == "outside air warmer or cooler"
    assert found.explanations[0].changes["outside.temperature"] == pytest.approx(319.0, abs=0.3)


def test_a_margin_has_no_share_and_no_sensor_sits_at_the_heat_of_a_wall():
    rows = [row(20.0, "W", 1.0, "fan.left.power"), row(5.0, "K", 1.0, "part.controller.margin")]
    found = flownet.check_readings(load("drive-cabinet"), rows)
    assert np.isnan(found.shares).tolist() == [False, True]
    power = flownet.solve(load("drive-cabinet"))["fan.left.power"]
    assert found.shares[0] == pytest.approx(20.0 / power - 1)
    assert not any("sits at" in each.what for each in found.explanations)


TOGETHER = {"filter.intake.fouling": 2.5, "vent.side.state": "blanked"}


def test_two_causes_at_once_are_found_where_one_does_not_explain_all(monkeypatch):
    """A third that is not looked for leaves what no two explain; the step that two must bring is
    the chi-square that one number takes away by chance, 5 % over ten pairs: 7.879 (tables of
    chi-square, 0.5 %, one degree of freedom)."""
    pairs, asked = explanations._pairs, list[tuple[Any, ...]]()
    monkeypatch.setattr(explanations, "_pairs", lambda *given: asked.append(given) or pairs(*given))
    case = load("drive-cabinet")
    found = flownet.check_readings(case, read_off(case, CABINET, TOGETHER, seed=3))
    (both,) = [each for each in found.explanations if each.explains]
    alone = min(each.chi_square for each in found.explanations if not each.both)
    assert both.changes.keys() == TOGETHER.keys()
    assert both.changes["vent.side.state"] == "blanked"
    assert both.changes["filter.intake.fouling"] == pytest.approx(2.5, abs=0.4)
    assert (both.counted, both.freedom) == (2, len(CABINET) - 2)
    assert alone - both.chi_square > 7.879
    for more, told in ((7.0, 0), (7.9, 1)):  # or over one or two pairs less
        assert len([*pairs(*asked[0][:-1], both.chi_square + more)]) == told
    assert found.verdicts()[1].startswith("two causes together explain all")
    with monkeypatch.context() as none:
        none.setattr(explanations.Explanation, "explains", False)
        assert not [*pairs(*asked[0][:-1], alone)]
    other = {"fan.right.state": "stopped", "wall.upper.u_value": 9.0}
    rows = read_off(case, CABINET, other, seed=3, scenario="hot")
    found = flownet.check_readings(case, rows, scenario="hot")
    assert not any(each.explains for each in found.explanations)
    assert found.verdicts()[1].startswith("nothing that was tried alone or in pairs explains it")


def test_two_causes_leave_one_of_three_readings_and_are_of_different_things(monkeypatch):
    """Three closed boxes, each with a part of 21 K by P (1/(U A) + R): of 1.6, 0.6 and 1 times that
    two loads say all; all loads and one of them again are no two things."""
    case = flownet.Enclosure.of(flownet.Outside(temperature="25 degC"), *(
        thing for n in "abc" for thing in (
            flownet.Compartment(name=n),
            flownet.Part(name=n, in_=n, power="110 W", resistance="0.1 K/W"),
            flownet.Wall(name=n, from_=n, to="outside", area="2 m2", u_value="5.5 W/(m2 K)"))
    ))  # fmt: skip
    rows = [row(25.0 + 21 * load, uncertainty=0.2, point=f"part.{n}.temperature")
            for n, load in zip("abc", (1.6, 0.6, 1.0), strict=True)]  # fmt: skip
    solved, tried = explanations._solved, list[set[str]]()
    monkeypatch.setattr(explanations, "_solved", lambda case, compared, groups: (
        tried.extend({one.path for one in group} for group in groups),
        solved(case, compared, groups))[1])  # fmt: skip
    first = flownet.check_readings(case, rows, defaults=False).explanations[0]
    assert (first.explains, first.freedom) == (True, 1)
    assert first.changes == pytest.approx({"part.a.load": 1.6, "part.b.load": 0.6}, abs=0.02)
    pairs = [pair for pair in tried if len(pair) > 1]
    assert {"part.*.load", "outside.temperature"} in pairs
    assert not any({"part.*.load", f"part.{n}.load"} in pairs for n in "abc")


def test_how_far_each_number_is_looked_for():
    """A mat from clean to 20 times what it is, a hole to a tenth and ten times, a leak to a hundred
    times; a supply 30 % less to 20 % more, heat none to twice, the outside 15 K either way."""
    case = load("drive-cabinet").with_changes(
        {"filter.intake.fouling": 2.0, "part.choke.load": 0.5}
    )
    asked = SimpleNamespace(points=["part.choke.temperature", "vent.side.velocity"])
    found = {one.path: one.values for one in explanations._tried(case, asked)}
    ends = {path: (values[0], values[-1]) for path, values in found.items() if len(values) > 1}
    assert ends == {
        "filter.intake.fouling": pytest.approx((1.0, 40.0)),
        "filter.push-mat.fouling": pytest.approx((1.0, 20.0)),
        "leak.door-seal.flow_at.0": pytest.approx(case["leak.door-seal.flow_at.0"] * np.array(
            [0.1, 100.0])),
        "opening.cables.area": pytest.approx(case["opening.cables.area"] * np.array([0.1, 10.0])),
        "supply.mains.voltage": pytest.approx((0.7 * 230, 1.2 * 230)),
        "part.*.load": pytest.approx((0.0, 2.0)), "part.choke.load": pytest.approx((0.0, 1.0)),
        "outside.temperature": pytest.approx(case["outside.temperature"] + np.array([-15, 15])),
    } | {path: ends[path] for path in ends if path.startswith("vent.")}  # fmt: skip
    other = [one.values for one in explanations._tried(case, asked) if "frequency" in one.path]
    assert other == [["60 Hz"]]
    for path, values in found.items():
        if len(values) > 1:
            middle = np.asarray(values)[8]
            wanted = math.sqrt(np.prod(ends[path])) if "load" not in path and "." in path and not \
                path.startswith(("outside", "supply")) else sum(ends[path]) / 2  # fmt: skip
            assert middle == pytest.approx(wanted), path
    vent = {"vent.side.fouling": 3.0}
    (loaded,) = [one for one in explanations._tried(case.with_changes(vent), asked)
                 if one.path == "vent.side.fouling"]  # fmt: skip
    assert (loaded.values[0], loaded.values[-1]) == pytest.approx((1.0, 60.0))
    half = case.with_changes({"filter.intake.fouling": 0.5})
    (clean,) = [one for one in explanations._tried(half, asked)
                if one.path == "filter.intake.fouling"]  # fmt: skip
    assert (clean.values[0], clean.values[-1]) == pytest.approx((0.5, 10.0))


USUAL = {  # K or a fixed part in SI, and a share: common practice, no source
    "temperature": (1.0, 0.0), "outlet_temperature": (1.0, 0.0), "air_temperature": (1.0, 0.0),
    "drop": (1.0, 0.02), "rise": (1.0, 0.02), "pressure": (1.0, 0.02), "velocity": (0.05, 0.05),
    "volume_flow": (0.0003, 0.05), "speed_ratio": (0.0, 0.01), "fan_power": (0.5, 0.02),
}  # fmt: skip


def test_a_further_reading_is_as_exact_as_is_usual():
    """Its fixed part and its share of the value together; what is read or has no value is none."""
    known = {f"x.y.{key}": (q.RATIO, -4.0) for key in USUAL} | {
        "x.y.margin": (q.RATIO, 1.0), "x.z.drop": (q.RATIO, 0.0), "x.z.rise": (None, 3.0),
        "x.z.velocity": (q.RATIO, math.nan), "x.read.drop": (q.RATIO, 1.0)}  # fmt: skip
    free = SimpleNamespace(at=lambda x, paths: (np.full(len(paths), -4.0), np.eye(len(paths))))
    found = separate._further(free, np.zeros(1), known, ["x.read.drop"])
    assert {each.path: each.usual for each in found} == {
        f"x.y.{key}": pytest.approx(fixed + 4 * share) for key, (fixed, share) in USUAL.items()
    }
    assert [each.value for each in found] == [-4.0] * len(USUAL)


def test_a_further_reading_needs_what_the_others_leave():
    """Along the direction they say 1/s = 0.8; ln 2 = 1.96 s for all: of a gradient g within
    1.96 g / sqrt((1.96/ln 2)^2 - 0.8^2), listed by how much coarser than usual that may be."""
    weak = separate.Weak(0.8, np.array([0.6, -0.8]))
    rest = math.sqrt((1.959964 / math.log(2)) ** 2 - 0.64)

    def one(path, gradient, usual):
        return separate._Further(path, q.RATIO, 1.0, np.array(gradient), usual)

    some = [one("b", [1.0, 0.0], 0.1), one("a", [0.0, 1.0], 0.1), one("blind", [0.8, 0.6], 0.1),
            one("c", [1.0, 0.0], 9.0), one("fine", [0.0, 1.0], 2.5 * 1.959964 / rest * 0.8 * 2.1),
            one("just", [0.0, 1.0], 5 * 1.959964 / rest * 0.8 * 0.99)]  # fmt: skip
    found = separate._ordered(some, weak)
    assert [each.path for each in found] == ["a", "b", "just"]
    assert [each.within for each in found] == pytest.approx(
        [1.959964 * g / rest for g in (0.8, 0.6, 0.8)], rel=1e-6)  # fmt: skip
    assert found[0].row == pytest.approx([0.0, rest / 0.8], rel=1e-6)


@pytest.mark.parametrize(("at", "ends"), [(0, (1.0, 3.0)), (1, (1.0, 7.0)), (2, (3.0, 7.0))])
def test_a_closer_look_lies_between_the_neighbours_of_the_best(at, ends):
    tried = explanations._Tried("", "part.p.load", [1.0, 3.0, 7.0], at).closer(3)
    assert tried.values == pytest.approx([ends[0], sum(ends) / 2, ends[1]])


def test_chi_square_leaves_out_what_a_tolerance_takes_up():
    """One reading 3 off by 1 (one standard deviation), which a tolerance moves by 2: the least of
    (3 - 2 x)^2 + x^2 is 9/5; of two that it moves alike and that are off alike 18/9."""
    for count, wanted in ((1, 9 / 5), (2, 18 / 9)):
        points = [f"a.{i}.drop" for i in range(count)]
        readings = SimpleNamespace(points=points, values=np.full(count, 8.0),
                                   wide=np.full(count, 1.959964))  # fmt: skip
        known = dict.fromkeys(points, (q.PRESSURE, 5.0))
        compared = explanations.Compared(readings, known, dict.fromkeys(points, np.array([2.0])))
        assert compared.stated == pytest.approx(wanted, rel=1e-6)
        both = compared.chi_square(np.array([[5.0, np.nan]] * count), points)
        assert both == pytest.approx([wanted, math.inf], rel=1e-6)


@pytest.mark.parametrize(("value", "reach", "values"), [
    (20.0, 1.0, (10.0, 15.0, 20.0, 30.0, 40.0)), (10.0, 2.0, (10.0, 10.0, 10.0, 20.0, 40.0)),
    (60.0, 0.5, (40.0, 50.0, 60.0, 70.0, 80.0)),
])  # fmt: skip
def test_values_about_one_are_steps_of_those_that_were_tried_first(value, reach, values):
    """Steps of 10, 20 and 40 each way, never beyond the ends; a word stays."""
    wide = explanations._Tried("", "part.p.load", np.array([10.0, 20.0, 40.0, 80.0]))
    assert explanations._about(wide, value, reach).values == pytest.approx(values)
    word = wide._replace(values=["60 Hz"])
    assert explanations._about(word, "60 Hz", reach) is word


def test_the_best_of_two_is_where_both_together_leave_least():
    group = [explanations._Tried("", path, [1.0] * n) for path, n in (("a", 2), ("b", 3))]
    left = np.array([9.0, 8.0, 7.0, 6.0, 2.0, 3.0])
    one, other = explanations._best(group, left, np.zeros((4, 6)))
    assert (one.at, other.at, one.chi_square, other.chi_square) == (1, 1, 2.0, 2.0)
    assert one.predicted.shape == (4, 6)


@pytest.mark.parametrize(("left", "freedom", "explains"), [
    (3.84, 1, True), (3.85, 1, False), (5.99, 2, True), (6.0, 2, False), (0.0, 0, False),
])  # fmt: skip
def test_what_explains_leaves_what_chance_leaves_in_95_of_100(left, freedom, explains):
    """3.841 and 5.991 (tables of chi-square, 5 %); nothing is checked without a reading left."""
    assert explained("x", left, freedom).explains == explains
    assert explained("x", left, freedom, 2).rank == left + 4


def test_heat_is_looked_for_in_all_parts_where_several_give_it_and_in_each_that_is_read():
    case = load("drive-cabinet")
    hot = [name for name, part in case.parts.items() if part.power > 0 or part.output > 0]
    assert len(hot) > 1
    read = SimpleNamespace(points=[f"part.{hot[1]}.temperature", "vent.side.velocity"])
    assert explanations._heated(case, read) == ["part.*", f"part.{hot[1]}"]
    cold = case.with_changes({f"part.{n}.load": 0.0 for n in hot})
    assert explanations._heated(cold, read) == explanations._heated(case, read)
    one = closed()
    assert explanations._heated(one, SimpleNamespace(points=[WARM])) == []
    assert explanations._heated(one, SimpleNamespace(points=["part.p.temperature"])) == ["part.p"]


def test_exact_readings_of_what_tolerances_move_together_are_tested_too():
    """Flow and speed in one vent answer to every tolerance alike, but for its area."""
    case = box()
    rows = read_off(case, ("vent.in.volume_flow", "vent.in.drop", "fan.out.rise"))
    rows = [{**each, "uncertainty": 1e-9} for each in rows]
    assert flownet.check_readings(case, rows).agrees
    rows[0]["reading"] *= 1.5
    assert 1 < flownet.check_readings(case, rows).stated < 1e20


def test_what_lies_outside_is_never_cut():
    off = [row(45.0, point=f"compartment.c{i}.temperature") for i in range(20)]
    near = [row(25.0, point=f"compartment.c{i}.temperature") for i in range(20, 40)]
    boxes = [thing for i in range(40) for thing in (
        flownet.Compartment(name=f"c{i}"),
        flownet.Wall(name=f"w{i}", from_=f"c{i}", to="outside", area=1, u_value=5),
    )]  # fmt: skip
    case = flownet.Enclosure.of(flownet.Outside(temperature="25 degC"), *boxes)
    found = flownet.check_readings(case, off + near)
    text, some = "\n".join(render.text(found.sheet, Page())), (range(20), range(20, 40))
    assert [sum(f"c{i}.temp" in text for i in each) for each in some] == [20, 12]


def test_readings_that_agree_need_no_explanation():
    case = load("drive-cabinet")
    found = flownet.check_readings(case, read_off(case, CABINET, seed=2))
    assert found.agrees
    assert found.explanations == ()
    assert found.verdict.startswith("10 readings: all lie within the 95 % band")


# --- the file -------------------------------------------------------------------------------------

HEAD = "point,reading,reading_unit,uncertainty"
FAULTS = """\ufeff# a remark
point,reading,reading_unit,uncertainty,note
compartment.box.temperature,warm,degC,1,
part.p.temperatur,41,degC,1,

vent.in.drop,"4,1",Pa,1,
vent.in.volume_flow,nan,m3/h,1,
fan.out.rise,12,m3/h,-1,
fan.out.volume_flow,60,m3/h,-1,
fan.out.region,1,Pa,1,
vent.in.velocity,1,m/s,,
part.p.air_temperature,41,degC,1,
part.p.air_temperature,42,degC,1,
part.p.temperature,41,degC,1,a,b
total.volume_flow,,m3/h,,not read
"""


def test_every_fault_of_a_file_is_told_at_once_by_its_line(tmp_path):
    (tmp_path / "r.csv").write_text(FAULTS, encoding="utf-8")
    with pytest.raises(CaseError) as told:
        flownet.check_readings(box(), tmp_path / "r.csv")
    found = dict(fault.removeprefix("r.csv: line ").split(": ", 1) for fault in told.value.faults
                 if fault.startswith("r.csv: line 8") is False)  # fmt: skip
    assert list(found) == ["3", "4", "6", "7", "9", "10", "11", "13", "14"]
    for line, words in {
        "3": "is not a number", "4": 'did you mean "part.p.temperature"?', "6": 'write "4.1 Pa"',
        "7": "is not a finite number", "9": "uncertainty: must be above 0 (got -1)",
        "10": "is a word, no number", "11": "uncertainty: is blank",
        "13": "stands in line 12 already", "14": "6 cells under 5 columns",
    }.items():  # fmt: skip
        assert words in found[line], (line, found[line])
    assert sum(fault.startswith("r.csv: line 8: ") for fault in told.value.faults) == 2


@each(named([
    ("", "is empty; the columns are point, reading"), (f"{HEAD}\n", "no rows"),
    (f"{HEAD}\nvent.in.drop,,Pa,\n", "no reading in 1 row"),
    ("point;reading;reading_unit;uncertainty\n", 'line 1: columns are separated by ";"'),
    ("point,reading,unit,uncertainty\n", 'no column "reading_unit"'),
    (f'{HEAD}\nvent.in.drop,"4,Pa,1\n', "line 2: "),
    (f"{HEAD}\noutside.temperature,4,degC,1\n", 'did you mean "site.temperature"?'),
    (f"{HEAD}\nvent.in.drop,4,,1\n", "reading_unit: is blank"),
    (f"{HEAD}\nvent.in.drop,4,Pa,1e-300\n", "uncertainty: must be above 0"),
    (f"{HEAD}\npart.nobody.temperature,4,K,1\n", "no such result; there are part.p"),
    (f"{HEAD},seen,seen\n", 'column "seen" stands twice'),
    (HEAD + "\nvent.no.drop,4,Pa,1" * 10_000, "line 52: this and what follows is not looked"),
]), "text said")  # fmt: skip
def test_a_file_that_says_nothing_is_told(text, said, tmp_path):
    (tmp_path / "r.csv").write_text(text)
    with pytest.raises(CaseError) as told:
        flownet.check_readings(box(), tmp_path / "r.csv")
    assert said in str(told.value)


@each(named([("metric", "a pressure is wanted, such as "),
             ("us", "a pressure is wanted, in inH2O")]), "units said")  # fmt: skip
def test_a_unit_that_is_blank_is_asked_for_in_those_that_are_read(units, said, tmp_path):
    (tmp_path / "r.csv").write_text(f"{HEAD}\nvent.in.drop,4,,1\n")
    with pytest.raises(CaseError) as told:
        flownet.check_readings(box(), tmp_path / "r.csv", units=units)
    assert f"reading_unit: is blank; {said}" in str(told.value)


def test_a_sheet_to_fill_in_is_taken_as_it_is(tmp_path):
    """Columns of a sheet are kept, rows that were not measured are counted; a speed in rpm is a
    ratio to the rated one: 2430 of 2700 rpm are 0.9."""
    (tmp_path / "r.csv").write_text(
        "point,predicted,low,high,unit,reading,reading_unit,uncertainty,note\n"
        "fan.left.speed_ratio,1,,,,2430,rpm,27,strobe\n"
        "total.volume_flow,0.06,0.05,0.07,m3/s,,m3/h,,no hood\n"
        "filter.intake.drop,28,24,31,Pa,0.11,inH2O,0.01,\n"
    )
    found = flownet.check_readings(load("drive-cabinet"), tmp_path / "r.csv")
    assert found.readings.left_out == 1
    assert found.readings.values == pytest.approx([0.9, 0.11 * 249.08891])  # Pa in an inch of water
    assert found.readings.wide[0] == pytest.approx(0.01)
    kept = found.rows()[0]
    assert (kept["note"], kept["low_in_file"], kept["predicted"]) == ("strobe", "", 1.0)
