"""Pictures of sweeps: nothing overlaps, lines go through the values, the limit is where it is."""

from __future__ import annotations

import dataclasses

import matplotlib as mpl
import numpy as np
import pytest
from matplotlib.figure import Figure

import flownet
from flownet import draw
from flownet.errors import CaseError
from flownet.report import look
from flownet.report.figures import sweep as figures
from flownet.report.isolines import isolines
from flownet.report.scene import Shape
from flownet.report.scene_contour import LIMIT
from flownet.report.scene_sweep import FRAME, sweep_scene
from flownet.studies.sweep import sweep
from tests.report.picture_checks import clashes, foreign_fonts, misplaced
from tests.test_cases import load

mpl.use("Agg")
SPEED = "fan.*.speed"
PART = "part.rectifier.temperature"


@pytest.fixture(scope="module")
def case():
    return load("drive-cabinet")


@pytest.fixture(scope="module")
def one(case):
    return sweep(case, {SPEED: "0.5 to 1.0 in 11"}, scenario="hot")


@pytest.fixture(scope="module")
def few(case):
    vary = {SPEED: "0.5 to 1.0 in 9", "filter.intake.fouling": [1.0, 1.1, 2.0, 4.0]}
    return sweep(case, vary, scenario="hot")


@pytest.fixture(scope="module")
def many(case):
    return sweep(case, {SPEED: "0.5 to 1.0 in 9", "outside.temperature": "25 to 50 degC in 8"})


@pytest.fixture(scope="module")
def words(case):
    return sweep(case, {"fan.*.type": ["axial-119-s", "axial-92-a"],
                        "fan.left.state": ["running", "stopped", "blanked"]})  # fmt: skip


@pytest.mark.parametrize("units", ["metric", "us"])
@pytest.mark.parametrize("of", [None, PART, "total.volume_flow", "total.noise"])
@pytest.mark.parametrize("name", ["one", "few", "many", "words"])
def test_no_text_overlaps_another_or_leaves_the_page(name, of, units, request):
    found = request.getfixturevalue(name)
    figure = figures.figure(found, of=of, units=units)
    assert misplaced(figure) == ([], [])
    assert foreign_fonts(figure) == set()
    assert clashes(sweep_scene(found, of, units)) == []


def open_lines(scene, width):
    return [s for s in scene.items if isinstance(s, Shape) and not s.closed and s.width == width
            and s.edge == look.INK]  # fmt: skip


def test_a_line_goes_through_the_values_in_proportion(one):
    scene = sweep_scene(one, "total.volume_flow")
    (line,) = open_lines(scene, look.LINE)
    xs, ys = np.array(line.points).T
    assert (xs - xs[0]) / (xs[-1] - xs[0]) == pytest.approx((one[SPEED] - 0.5) / 0.5)
    flow = one["total.volume_flow"]
    assert (ys - ys[0]) / (ys[-1] - ys[0]) == pytest.approx((flow - flow[0]) / (flow[-1] - flow[0]))


def test_the_limit_is_heavy_and_lies_between_what_holds_and_what_does_not(one):
    scene = sweep_scene(one)
    (line,), (limit,) = open_lines(scene, look.LINE), open_lines(scene, look.WALL)
    height = limit.points[0][1]
    holds = [y >= height for _, y in line.points]
    assert holds == (one["total.worst_margin"] >= 0).tolist()
    assert "over the limit" in [w.text for w in scene.words]


def test_each_value_of_a_second_key_names_its_line(few):
    scene = sweep_scene(few, PART)
    assert len(open_lines(scene, look.LINE)) == 4
    told = [w.text for w in scene.words]
    assert "filter.intake.fouling" in told
    assert {"1", "1.1", "2", "4"} <= set(told)
    assert "limit 125 °C" in told


def test_the_heavy_line_of_a_map_is_where_the_margin_is_none(many):
    scene = sweep_scene(many)
    limits = open_lines(scene, LIMIT)
    speeds = sorted(set(many[SPEED]))
    warm = sorted(set(many["outside.temperature"]))
    margin = many["total.worst_margin"].reshape(len(speeds), len(warm))
    wanted = isolines(speeds, warm, margin.tolist(), 0.0)
    assert len(limits) == len(wanted) == 1
    frame = next(s for s in scene.items if isinstance(s, Shape) and s.closed
                 and s.rect.wide == pytest.approx(FRAME.wide + look.THIN))  # fmt: skip
    x0, y0 = frame.points[0]
    for (x, y), (speed, outside) in zip(limits[0].points, wanted[0], strict=True):
        assert (x - x0) / FRAME.wide == pytest.approx((speed - 0.5) / 0.5, abs=1e-9)
        assert (y - y0) / FRAME.tall == pytest.approx((outside - warm[0]) / 25.0, abs=1e-9)
    assert "Heavy: the limit. Hatched: it is broken." in [w.text for w in scene.words]


def test_a_limit_that_is_varied_itself_is_not_drawn(case):
    found = sweep(case, {SPEED: [0.8, 1.0], "part.rectifier.limit": ["100 degC", "120 degC"]})
    assert found.bound(PART) is None
    assert found.bound("total.worst_margin") == 0.0
    assert open_lines(sweep_scene(found, PART), look.WALL) == []


def test_a_limit_far_away_is_told_in_words(case):
    found = sweep(case, {SPEED: [0.9, 1.0]}, keep=["part.choke.temperature"])
    told = " ".join(w.text for w in sweep_scene(found, "part.choke.temperature").words)
    assert "lies above the frame: it is kept everywhere." in told


def test_another_limit_that_breaks_is_told_below_the_worst_margin(case):
    """The worst margin is of temperatures; at 1.5 times the speed the noise is too much."""
    vary = {SPEED: [0.9, 1.0, 1.5]}
    found = sweep(case, vary)
    assert (found["decides"][2], found["status"][2]) == ("total.noise", "over")
    told = [w.text for w in sweep_scene(found).words]
    assert "1 value breaks a limit that is no temperature and is not drawn: total.noise." in told
    quiet = " ".join(w.text for w in sweep_scene(sweep(case, {SPEED: [0.9, 1.0]})).words)
    assert "not drawn" not in quiet


def test_a_row_without_a_value_is_a_gap():
    box = load("bench-supply")
    found = sweep(box, {"outside.temperature": "10 to 30 degC in 5"})
    whole = sweep_scene(found)
    assert len(open_lines(whole, look.LINE)) == 1
    table = dict(found.table)
    table["total.worst_margin"] = table["total.worst_margin"].copy()
    table["total.worst_margin"][2] = np.nan
    broken = sweep_scene(dataclasses.replace(found, table=table))
    assert [len(s.points) for s in open_lines(broken, look.LINE)] == [2, 2]
    assert "1 without a value: a gap in the line." in [w.text for w in broken.words]


def test_samples_of_one_key_are_put_in_order(case):
    found = sweep(case, {SPEED: "0.6 to 1.0"}, design="latin", samples=9)
    (line,) = open_lines(sweep_scene(found, "total.volume_flow"), look.LINE)
    xs = [x for x, _ in line.points]
    assert xs == sorted(xs)


def test_it_is_drawn_on_given_axes_or_a_new_figure(one):
    figure = Figure()
    ax = figure.add_subplot()
    assert draw.sweep(one, ax=ax, of="total.volume_flow") is ax
    assert draw.sweep(one).get_figure() is not figure


@pytest.mark.parametrize(
    ("vary", "more", "of", "said"),
    [
        ({SPEED: [1.0]}, {}, None, "one or two varied keys have a picture"),
        ({SPEED: [0.9, 1.0]}, {}, "status", "is a word"),
        ({SPEED: [0.9, 1.0]}, {}, "total.heat", "not kept"),
        ({SPEED: "0.6 to 1", "outside.temperature": "20 to 30 degC"},
         {"design": "latin", "samples": 4}, None, "take a grid"),
    ],
)  # fmt: skip
def test_what_has_no_picture_is_said(case, vary, more, of, said):
    with pytest.raises(CaseError, match=said):
        draw.sweep(sweep(case, vary, **more), of=of)
    with pytest.raises(TypeError, match="takes a Sweep"):
        draw.sweep(flownet.solve(case))


def test_several_results_are_a_line_each(case):
    """Of what was kept by name, all that have one key; through the values, named at their ends."""
    found = sweep(case, {SPEED: "0.5 to 1.0 in 5"}, keep=["part.*.temperature"])
    scene = sweep_scene(found)
    assert clashes(scene) == []
    words = {word.text for word in scene.words}
    assert {"rectifier", "controller", f"part.*.temperature over {SPEED}"} <= words
    dots = [item for item in scene.items if isinstance(item, Shape) and len(item.points) == 16]
    assert len(dots) == 7 * 5
    middles = sorted({round(sum(y for _, y in dot.points) / 16, 3) for dot in dots})
    values = np.array([found[column.path] for column in found.layout.kept])
    across = np.sort(np.unique(values.round(9)))
    assert np.corrcoef(middles, across)[0, 1] == pytest.approx(1.0, abs=1e-6)
    alone = sweep_scene(found, "part.choke.temperature")
    assert any(word.text.startswith("part.choke.temperature over") for word in alone.words)
    wide = sweep(case, {SPEED: [0.5, 1.0], "outside.temperature": [300.0, 310.0]},
                 keep=["part.*.temperature"])  # fmt: skip
    with pytest.raises(CaseError, match="7 results over two varied keys"):
        sweep_scene(wide, "part.*.temperature")
    assert any(word.text.startswith("part.choke.temp") for word in sweep_scene(wide).words)
