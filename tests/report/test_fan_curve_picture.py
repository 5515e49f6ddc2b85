"""The picture of one fan curve: nothing overlaps, points stand where they are, words are true."""

from __future__ import annotations

from itertools import pairwise

import pytest
from matplotlib.figure import Figure

import flownet
from flownet import draw
from flownet.report import look
from flownet.report.figures import fan_curve as figures
from flownet.report.scene import Shape
from flownet.report.scene_fan_curve import FRAME, RING, fan_curve_scene
from flownet.studies.fans.curve import curve_of_file, fan_curve
from tests.report.picture_checks import clashes, foreign_fonts, misplaced
from tests.test_fan_catalogue import ROWS

NAMES = ("axial-119x38-230v", "axial-40x28-48v", "radial-97x33-24v", "axial-40x10-12v-still")
TOTAL = flownet.FanType(
    name="total", flow_area="0.0079 m2", curve_pressure="total",
    curve={"flow": "0 60 110 170 m3/h", "rise": "78 60 40 22 Pa"},
)  # fmt: skip
MANY = {"curve": tuple((i / 1800, 90.0 - 2 * i) for i in range(46))}


def samples():
    found = [fan_curve(ROWS[name]) for name in NAMES]
    return [*found, fan_curve(TOTAL), curve_of_file(MANY, "many.csv")]


@pytest.mark.parametrize("units", ["metric", "us"])
@pytest.mark.parametrize("curve", samples(), ids=lambda curve: curve.name)
def test_no_text_overlaps_another_or_leaves_the_page(curve, units):
    figure = figures.figure(curve, units=units)
    assert misplaced(figure) == ([], [])
    assert foreign_fonts(figure) == set()
    assert clashes(fan_curve_scene(curve, units)) == []


def rings(scene):
    """Centres of the white rings."""
    shapes = [s for s in scene.items if isinstance(s, Shape) and len(s.points) == 24]
    return [tuple(sum(c) / 24 for c in zip(*s.points, strict=True)) for s in shapes]


@pytest.mark.parametrize("curve", samples(), ids=lambda curve: curve.name)
def test_rings_stand_at_the_points(curve):
    found = rings(fan_curve_scene(curve))
    assert len(found) == len(curve.fitted)
    (x0, y0), (x1, _) = found[0], found[-1]
    for (x, y), (flow, rise) in zip(found, curve.fitted, strict=True):
        share = flow / curve.fitted[-1][0]
        assert x == pytest.approx(x0 + share * (x1 - x0))
        assert (y - y0) * (rise - curve.fitted[0][1]) >= 0  # higher is higher
    assert FRAME.wide * 0.85 < x1 - x0 < FRAME.wide


def test_the_dip_is_dotted_and_named_with_its_numbers():
    scene = fan_curve_scene(fan_curve(ROWS["axial-119x38-230v"]))
    dotted = [s for s in scene.items if isinstance(s, Shape) and s.dash and s.width == look.BOLD]
    assert len(dotted) == 1
    words = " ".join(w.text for w in scene.words)
    curve = ROWS["axial-119x38-230v"].curve
    low, peak = next((a, b) for a, b in pairwise(curve) if b[1] > a[1])
    assert f"dip: {low[1]:.1f} Pa at {low[0] * 3600:.3g} m³/h" in words
    assert f"stall up to {peak[0] * 3600:.3g} m³/h" in words
    plain = fan_curve_scene(fan_curve(ROWS["axial-80x25-24v"]))
    assert not [s for s in plain.items if isinstance(s, Shape) and s.dash]
    assert "dip:" not in " ".join(w.text for w in plain.words)


def test_it_says_speed_supply_density_and_what_was_assumed():
    words = " ".join(w.text for w in fan_curve_scene(fan_curve(ROWS[NAMES[0]])).words)
    assert "230 V 50 Hz, 2700 rpm, 1.200 kg/m³, 9 points" in words
    assert "origin: invented" in words
    total = " ".join(w.text for w in fan_curve_scene(fan_curve(TOTAL)).words)
    assert "speed not stated, 1.200 kg/m³ (assumed)" in total
    assert "Squares: total pressure as read" in total
    assert "pressure left" in total
    many = " ".join(w.text for w in fan_curve_scene(curve_of_file(MANY, "many.csv")).words)
    assert "first 40 of 46 points" in many
    two = curve_of_file({"curve": ((0.0, 80.0), (0.03, 0.0))}, "two.csv")
    assert "straight line" in " ".join(w.text for w in fan_curve_scene(two).words)


def test_table_has_the_points_in_both_units():
    words = [w.text for w in fan_curve_scene(fan_curve(TOTAL)).words]
    for text in ("60", "78.0", "35.3", "0.313", "rise, inH₂O", "static, Pa"):
        assert text in words
    assert RING < look.BODY


def test_axes_are_those_given():
    ax = Figure().add_subplot()
    assert draw.fan_curve(ROWS[NAMES[0]], ax=ax) is ax
    with pytest.raises(TypeError, match=r"draw\.fan_curve takes a FanType"):
        draw.fan_curve("axial")  # type: ignore[arg-type]
