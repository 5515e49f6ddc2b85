"""Fits to readings: known truths come back, and what readings cannot tell is refused."""

from __future__ import annotations

import dataclasses
import re
import tomllib
from types import SimpleNamespace

import numpy as np
import pytest
from scipy.interpolate import RectBivariateSpline

import flownet
from flownet.schema.errors import CaseError, NoSolution
from flownet.studies.readings import separate
from flownet.studies.readings.calibrate import Calibration, fitted
from flownet.studies.readings.file import known_results, read
from flownet.studies.readings.separate import weakness
from flownet.studies.readings.slopes import Linear, Unknowns, unknowns
from tests.studies.measured import CABINET, box, read_off
from tests.test_cases import CASES, load

TEN = {
    "filter.intake.fouling": 1.7, "leak.door-seal.flow_at.0": 0.002, "vent.side.area": 0.0075,
    "wall.upper.u_value": 4.6, "fan.left.pressure_factor": 0.93, "fan.right.pressure_factor": 1.04,
    "opening.cables.area": 9e-4, "part.choke.resistance": 0.45, "part.controller.load": 1.2,
    "part.power-supply.resistance": 0.7,
}  # fmt: skip
MORE = (*CABINET, "filter.intake.volume_flow", "baffle.shelf.drop", "leak.door-seal.volume_flow",
        "fan.left.rise", "vent.side.volume_flow")  # fmt: skip


def test_ten_unknowns_of_the_drive_cabinet_come_back():
    case = load("drive-cabinet")
    rows = read_off(case, MORE, TEN, scenario="hot")
    found = flownet.calibrate(case, rows, free=list(TEN), scenario="hot")
    assert found.values == pytest.approx(TEN, rel=1e-4)
    assert found.fit.fits
    assert found.fit.freedom == len(MORE) - len(TEN)
    (pairs,) = (each for each in found.sheet.of("page") if each.name == "pairs")
    sizes = [abs(float(text)) for text in pairs.columns[1].values]
    assert sizes == sorted(sizes, reverse=True)  # what hangs together most comes first


class Between(Unknowns):
    """Two unknowns whose states are interpolated between solved ones, so that a fit is cheap."""

    AXIS = np.linspace(-0.6, 0.6, 25)

    def __init__(self, free, points):
        super().__init__(free.case, free.each)
        first, second = (axis.ravel() for axis in np.meshgrid(self.AXIS, self.AXIS, indexing="ij"))
        batch = flownet.solve_many(free.case, {
            one.path: np.array([one.value(each) for each in x])
            for one, x in zip(free.each, (first, second), strict=True)
        })  # fmt: skip
        self.splines = {path: RectBivariateSpline(self.AXIS, self.AXIS, batch[path].reshape(25, 25))
                        for path in points}  # fmt: skip

    def at(self, x, paths):
        found = [[self.splines[path](*x, *order)[0, 0] for order in ((0, 0), (1, 0), (0, 1))]
                 for path in paths]  # fmt: skip
        return Linear(np.array(found)[:, 0], np.array(found)[:, 1:])


def test_a_known_truth_lies_in_the_stated_band_as_often_as_is_said():
    """Each of two unknowns by itself in 95 of 100 of 400 seeds, within three standard deviations of
    a binomial distribution (13 of 400), and as often there is no misfit."""
    case = box()
    truth = {path: case[path] for path in ("vent.in.loss", "part.p.resistance")}
    points = ("vent.in.drop", "fan.out.volume_flow", "compartment.box.temperature",
              "part.p.temperature", "fan.out.rise")  # fmt: skip
    solved = unknowns(case, list(truth))
    free, x = Between(solved, points), np.array([0.11, -0.17])
    for exact, near in zip(solved.at(x, points), free.at(x, points), strict=True):
        assert near == pytest.approx(exact, rel=1e-4, abs=1e-6 * np.abs(exact).max())
    readings = read(read_off(case, points), case, known_results(flownet.solve_many(case, {})))
    noise = np.random.default_rng(1).standard_normal((400, len(points))) / 1.959964
    held, fits = dict.fromkeys(truth, 0), 0
    for each in noise:
        seen = readings._replace(values=readings.values + each * readings.wide)
        found = Calibration(case, seen, free, fitted(free, seen, {}), None)
        fits += found.fit.fits
        for path, (low, high) in found.intervals.items():
            held[path] += low <= truth[path] <= high
    assert all(abs(count - 380) <= 13 for count in (*held.values(), fits)), (held, fits)


@pytest.mark.parametrize(("units", "free"), [
    ("us", ("filter.intake.fouling", "opening.cables.area")),  # side by side between two places
    ("metric", ("part.drive-sink.resistance_factor",)),  # of which nothing that was read knows
    ("metric", ("filter.intake.fouling", "filter.intake.area")),
])  # fmt: skip
def test_what_readings_cannot_tell_is_refused_and_what_would_is_named(units, free):
    """The reading that is named is taken, as exact as is said: then they are told."""
    case = dataclasses.replace(load("drive-cabinet"), units=units)
    rows = read_off(case, CABINET, seed=1)
    with pytest.raises(NoSolution) as refused:
        flownet.calibrate(case, rows, free=free)
    words = str(refused.value)
    assert all(path in words for path in free)
    path, value, within = re.search(
        r"a reading of (\S+) \(([-\d.]+ \S+) here\) within ([\d.]+) ", words
    ).groups()
    number, unit = value.split()
    assert path not in CABINET
    assert unit == {"us": "CFM"}.get(units, unit)
    rows.append({"point": path, "reading": number, "reading_unit": unit, "uncertainty": within})
    found = flownet.calibrate(case, rows, free=free)
    for path in free:
        low, high = found.intervals[path]
        assert low < case[path] < high or found.fit.at_bound.any()
        assert found.fit.at_bound.any() or high / low < 20


def test_two_of_one_kind_hang_together_and_too_few_readings_are_refused():
    case = load("drive-cabinet")
    with pytest.raises(NoSolution, match=r"cannot tell fan\.\*\.pressure_factor from fan"):
        flownet.calibrate(case, read_off(case, CABINET),
                          free=["fan.*.pressure_factor", "fan.*.flow_factor"])  # fmt: skip
    with pytest.raises(NoSolution, match="cannot tell"):
        flownet.calibrate(case, read_off(case, CABINET[:1]),
                          free=["filter.intake.fouling", "vent.side.area"])  # fmt: skip


def test_what_no_reading_moves_with_tells_nothing_and_ranges_go_upwards():
    """A column of zeros; values between the ends of their keys, also from 0 on."""
    weak = weakness(np.array([[1.0, 0.0], [2.0, 0.0]]), np.zeros(2, int))
    assert (weak.told, list(weak.way)) == (0.0, [0.0, 1.0])
    case = load("outdoor-cabinet").with_changes({"recirculation.face.fraction": 0.0})
    (share,) = unknowns(case, ["recirculation.face.fraction"]).each
    low, high = share.ends
    assert 0 <= low < high <= 1
    assert share.step > 0


def test_what_readings_tell_too_coarsely_is_named_with_how_little():
    """Two readings, each of one unknown: singular values by hand; at a bound none is asked."""
    slopes = np.diag([10.0, 0.01])
    weak = weakness(slopes, np.array([0, 0]))
    assert (weak.told, *abs(weak.way)) == pytest.approx((0.01, 0.0, 1.0))
    assert weakness(slopes, np.array([0, 1])) is None


def test_a_misfit_is_said_first_and_widens_the_intervals():
    case = box()
    rows = read_off(case, ("vent.in.drop", "fan.out.volume_flow", "fan.out.rise"))
    good = flownet.calibrate(case, rows, free="vent.in.loss")
    rows[1]["reading"] *= 1.2
    bad = flownet.calibrate(case, rows, free="vent.in.loss")
    assert not bad.fit.fits
    assert bad.verdict.startswith("the readings do not fit the model within their uncertainty")
    spread = [found.intervals["vent.in.loss"] for found in (good, bad)]
    narrow, wide = (high / low for low, high in spread)
    assert wide > narrow**2


def test_values_that_nothing_holds_are_named_and_stand_in_no_block():
    """A drop of 3000 Pa at a mat of 26 Pa; a heat and its resistance where all else is wrong."""
    case = load("drive-cabinet")
    row = {"point": "filter.intake.drop", "reading": 3000, "reading_unit": "Pa", "uncertainty": 1}
    assert flownet.calibrate(case, [row], free="filter.intake.fouling").block == []
    free = ["part.controller.power", "part.controller.resistance"]
    demo = CASES / "drive-cabinet" / "readings.csv"
    said = flownet.calibrate(case, demo, free=free, scenario="hot").verdicts()
    assert said[2].endswith(f"so not known: {' and '.join(free)}")


def test_a_bound_is_told_and_has_no_interval():
    """A mat cannot be cleaner than clean; a value that nothing holds stops a thousandth off."""
    case = load("drive-cabinet")
    rows = read_off(case, CABINET, {"filter.intake.fouling": 0.7})
    found = flownet.calibrate(case, rows, free=["filter.intake.fouling", "wall.upper.u_value"])
    assert found.values["filter.intake.fouling"] == 1.0
    value = found.to_dict()["values"]["filter.intake.fouling"]
    assert (value["low"], value["high"], value["at_bound"]) == (None, None, "lower")
    assert any("is at its lower bound, 1: it" in each for each in found.verdicts())


def test_the_block_makes_the_case_as_measured(tmp_path):
    case = load("drive-cabinet")
    truth = {"filter.intake.fouling": 1.7, "leak.door-seal.flow_at.0": 0.002,
             "part.*.load": 0.9}  # fmt: skip
    rows = read_off(case, CABINET, truth, variant="no-side-vent")
    found = flownet.calibrate(case, rows, free=list(truth), variant="no-side-vent")
    block = "\n".join(["[variant.as-measured]", *found.block])
    assert tomllib.loads(block)["variant"]["as-measured"]["like"] == ["no-side-vent"]
    flownet.save_case(case, tmp_path / "case.toml")
    with (tmp_path / "case.toml").open("a") as file:
        file.write(f"\n{block}\n")
    made = flownet.load_case(tmp_path).under(variant="as-measured")
    for path, value in truth.items():
        each = made.places(path)[0].path
        assert made[each] == pytest.approx(value, rel=1e-4)
        assert case.under(variant="no-side-vent")[each] != made[each]  # it stays as it is
    assert made["vent.side.state"] == "blanked"


@pytest.mark.parametrize(("free", "said"), [
    ("fan.left.state", "is no number"), ("fan.nobody.speed", 'no fan "nobody"'),
    ("vent.side.loss", "has no value to start from"), ("slot.*.count", "matches no slot"),
    (["fan.*.speed", "fan.left.speed"], r"fan\.left\.speed is in fan\.\*\.speed already"),
    ([], "nothing is free"), (["vent.side.area"] * 2, "stands twice"),
])  # fmt: skip
def test_what_cannot_be_free(free, said):
    case = load("drive-cabinet")
    with pytest.raises(CaseError, match=said):
        flownet.calibrate(case, read_off(case, CABINET), free=free)


@pytest.mark.parametrize(("path", "today", "ends", "searched"), [
    ("vent.side.area", 0.006, (6e-6, 6.0), (True, True)),
    ("filter.intake.fouling", 1.0, (1.0, 1000.0), (False, True)),
    ("filter.intake.fouling", 0.5, (0.5, 500.0), (False, True)),
    ("vent.side.open_ratio", 0.4, (0.01, 0.99), (False, False)),
    ("part.choke.power", 0.0, (0.0, 1000.0), (False, True)),
    ("outside.temperature", 300.0, (150.0, 450.0), (False, False)),
    ("fan.left.speed", 1.0, (0.0, 2.0), (False, False)),
    ("part.choke.limit", 350.0, (150.0, 10350.0), (False, True)),  # 1000 steps of 10 K
    ("fan.left.at.1", 0.5, (-499.5, 500.5), (True, True)), ("fan.left.at.1", -2.0,
                                                           (-2002.0, 1998.0), (True, True)),
])  # fmt: skip
def test_how_far_a_number_may_be_moved(path, today, ends, searched):
    """To a thousandth and a thousand times, or a thousand steps of 1 W from nothing, within what
    the key allows; no mat is cleaner than clean, unless it is said to be."""
    (one,) = unknowns(load("drive-cabinet").with_changes({path: today}), [path]).each
    assert (one.ends, one.searched) == (pytest.approx(ends), searched)
    low, high = (one.x(end) for end in one.ends)
    assert [one.value(x) for x in (0.0, low, high)] == pytest.approx([today, *ends])


@pytest.mark.parametrize(("path", "today", "decade"), [
    ("fan.left.speed", 1.0, (0.0, 2.0)), ("outside.over_pressure", 0.0, (-5000.0, 5000.0)),
])  # fmt: skip
def test_a_step_of_a_number_that_may_be_nothing_is_that_of_a_share(path, today, decade):
    """As a number that is free over a decade has ln 10 steps over all it may be."""
    (one,) = unknowns(load("drive-cabinet").with_changes({path: today}), [path]).each
    assert one.step == pytest.approx((decade[1] - decade[0]) / np.log(10))


@pytest.mark.parametrize(("path", "step"), [
    ("outside.temperature", 10.0), ("outside.altitude", 1000.0), ("limits.noise_dBA", 10.0),
])  # fmt: skip
def test_steps_of_what_no_share_says_much_of(path, step):
    """10 K, 1000 m, 10 dB: the project's own."""
    (one,) = unknowns(load("drive-cabinet").with_changes({"outside.altitude": 200.0}), [path]).each
    assert one.step == step
    today = one.subject.present
    assert one.value(0.5) == today + step / 2
    assert one.x(today - step) == pytest.approx(-1.0)


def free(*names):
    return [SimpleNamespace(path=name, moved=lambda x, units: f"{x:+.4f}") for name in names]


MOVE = np.log(1.1)  # by which the largest part is moved to show it


@pytest.mark.parametrize(("slopes", "way", "told"), [
    ([[3.0, 3.0]], [0.5, -0.5],
     "cannot tell a from b: a +0.0953 with b -0.0953 moves every reading by less than 0.001"),
    ([[3.0, 3.0]], [-0.4, 0.5],
     "cannot tell b from a: b +0.0953 with a -0.0762 moves every reading by no more than 0.03"),
    ([[3.0, 9.0]], [0.5, -0.1],
     "cannot tell a from b: a +0.0953 with b -0.0191 moves every reading by no more than 0.06"),
    ([[3.0, 1.0]], [0.5, -0.1],
     "say too little of a: a +0.0953 moves every reading by no more than 0.1"),
    ([[9.0, 0.0, 0.0]], [0.0, 0.6, 0.6],
     "say too little of b and c: b +0.0953 with c +0.0953 moves every reading by less than 0.001"),
    ([[0.022, 5.0]], [1.0, 0.0],
     "say too little of a: a +0.0953 moves every reading by no more than 0.001"),
    ([[1.0, 1.05], [1.0, 1.0]], [0.5, -0.5],
     "cannot tell b from a: b +0.0953 with a -0.0953 moves every reading by no more than 0.002"),
])  # fmt: skip
def test_what_readings_hardly_move_with_is_told_by_a_move_of_a_tenth(slopes, way, told):
    """Worked by hand: slopes times the move, over 1.96; what acts a fifth as much is named."""
    slopes, way = np.array(slopes), np.array(way)
    if way[0] == 0.5 == -way[1] and len(slopes) > 1:
        way = way * [0.999, 1.0]  # so that one of both is the largest
    weak = separate.Weak(0.0, way / np.linalg.norm(way))
    some = free(*"abc"[: len(way)])
    words = separate._reason(some, slopes, weak, "metric").replace("+0.0952", "+0.0953")
    assert words.replace("-0.0952", "-0.0953") == f"the readings {told} of its uncertainty"


@pytest.mark.parametrize(("times", "told"), [
    (49.5, ", or take the same readings 50 times as exactly"), (50.5, ""),
    (1.5, ", or take the same readings 2 times as exactly"),
])  # fmt: skip
def test_readings_can_be_up_to_fifty_times_as_exact(times, told, monkeypatch):
    """So many times what a value within ln 2 asks of them: 1.96 / ln 2 over what they tell."""
    weak = separate.Weak(1.959964 / np.log(2) / times, np.array([1.0]))
    monkeypatch.setattr(separate, "_reason", lambda *_: "why")
    monkeypatch.setattr(separate, "_further", lambda *_: [])
    monkeypatch.setattr(separate, "weakness", lambda *_: weak)
    at = SimpleNamespace(slopes=np.ones((1, 1)), at_bound=np.zeros(1, int), values=np.zeros(1))
    for names, less in (("a", "leave it as the case has it"), ("ab", "free fewer of them")):
        found = separate.inseparable(SimpleNamespace(each=free(*names)), at, weak, {}, [], "metric")
        none = "no further reading as exact as is usual would"
        assert found == f"why; {none}; {less}{told}"


@pytest.mark.parametrize(("slopes", "at_bound", "told", "way"), [
    ([[1.0, 0.0, 0.0]], [0, 0, 0], 0.0, [0, 0.5**0.5, 0.5**0.5]),
    ([[1.0, 2.0], [2.0, 4.0 + 1e-7]], [0, 0], 0.0, [2 / 5**0.5, -1 / 5**0.5]),
    ([[1.0, 2.0], [2.0, 4.0 + 1e-4]], [0, 0], 1e-3, None),  # hardly, and yet two
    ([[1.0, 0.0], [0.0, 0.9]], [0, 0], None, None),
    ([[1.0, 0.0], [0.0, 0.8]], [0, 0], 0.8, [0, 1]),
    ([[1.0, 0.0], [0.0, 0.8]], [0, 1], None, None),
    ([[1.0, 0.0], [0.0, 0.8]], [1, -1], None, None),
    ([[0.8, 0.0], [0.0, 1.0]], [0, 1], 0.8, [1, 0]),
])  # fmt: skip
def test_readings_are_weak_where_a_value_is_known_to_a_tenth_to_ten_times(
    slopes, at_bound, told, way
):
    """1.96 over 0.8 is more than ln 10, over 0.9 less; nearly one direction is one from 1e-6 on."""
    found = weakness(np.array(slopes), np.array(at_bound))
    if told is None:
        assert found is None
    elif way is None:
        assert 0 < found.told < told
    else:
        assert found.told == pytest.approx(told)
        assert abs(found.way @ np.array(way)) == pytest.approx(1.0)
