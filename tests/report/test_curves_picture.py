"""The picture of fan curves: nothing covers anything, lines and rings stand where they should."""

from __future__ import annotations

import math
from functools import cache
from itertools import combinations
from unittest.mock import patch

import matplotlib as mpl
import numpy as np
import pytest
from matplotlib.figure import Figure

from flownet import Fan, FanType, Part, draw, solve
from flownet.report import look
from flownet.report.figures import curves as figures
from flownet.report.scene import Rect, Shape
from flownet.report.scene_curves import curves_scene
from flownet.report.scene_plot import cut
from flownet.report.scene_rings import RING
from flownet.studies.fans import curves as curves_of
from flownet.studies.fans.curves import fan_curves
from tests.report.picture_checks import clashes, foreign_fonts, misplaced
from tests.studies.fan_boxes import hole, out, path
from tests.test_cases import load

mpl.use("Agg")

DIPPED = {"flow": "0 30 55 75 90 110 140 182 m3/h", "rise": "112 84 62 64 66 60 38 0 Pa"}
BIG = FanType(name="big", curve={"flow": "0 60 120 m3/h", "rise": "60 40 0 Pa"},
              flow_area="79 cm2", rated_speed="2700 rpm")  # fmt: skip
SMALL = FanType(name="small", curve={"flow": "0 40 90 m3/h", "rise": "35 22 0 Pa"},
                flow_area="79 cm2")  # fmt: skip
HUMP = FanType(name="hump", curve=DIPPED, flow_area="79 cm2", rated_speed="2700 rpm")


def unlike(factor):
    """Unlike fans side by side; a large factor drives the small one backwards."""
    return path(factor, hole("in", "outside", "mid", 1e4), BIG, SMALL, out("big", "big"),
                out("small", "small", guard={"loss": 0.5}))  # fmt: skip


def behind(first, factor, **second):
    push = Fan(name="push", from_="outside", to="mid", type=first)
    return path(factor, BIG, SMALL, HUMP, push, out("pull", "small", **second),
                Part(name="p", in_="box", power="100 W"))  # fmt: skip


DEMOS = {
    "drive-cabinet": ("drive-cabinet", "base", "base"),
    "dips": ("drive-cabinet", "hot+dirty", "strong-fans"),
    "three": ("drive-cabinet", "hot", "three-fans"),
    "telecom-shelf": ("telecom-shelf", "hot", "base"),
    "reversed": ("telecom-shelf", "hot", "middle-reversed"),
    "bench-supply": ("bench-supply", "hot", "base"),
    "outdoor-cabinet": ("outdoor-cabinet", "hot-day", "with-fan"),
}
BOXES = {
    "unlike": lambda: unlike(3e5), "backflow": lambda: unlike(2e6),
    "series": lambda: behind("big", 6e4), "in-dip": lambda: path(
        2e5, hole("in", "outside", "mid", 1e4), HUMP, out("a", "hump"), out("b", "hump")),
    "past-free": lambda: behind("hump", 6e4, speed=0.6),
}  # fmt: skip


@cache
def made(name):
    if name in BOXES:
        return fan_curves(solve(BOXES[name]()))
    case, scenario, variant = DEMOS[name]
    with patch.object(curves_of, "STEPS", 12):  # of a system line: as good to look at
        return fan_curves(solve(load(case), scenario=scenario, variant=variant))


@pytest.fixture(scope="module", params=[*DEMOS, *BOXES])
def curves(request):
    return made(request.param)


def rings(scene):
    """Centres of the numbered rings on and below the plot."""
    found = []
    for item in scene.items:
        if isinstance(item, Shape) and len(item.points) == 32 and item.rect.wide > RING:
            found.append(item.rect.centre)
    return found


def test_no_text_overlaps_another_or_leaves_the_page(curves):
    figure = figures.figure(curves)
    assert misplaced(figure) == ([], [])
    assert foreign_fonts(figure) == set()
    assert clashes(curves_scene(curves)) == []
    assert clashes(curves_scene(curves, "us")) == []


def test_nothing_overlaps_in_the_units_of_north_america():
    assert misplaced(figures.figure(made("dips"), units="us")) == ([], [])


def test_no_ring_covers_a_ring_or_a_word(curves):
    scene = curves_scene(curves)
    found = rings(scene)
    assert len(found) >= 2
    assert all(math.dist(a, b) > 2 * RING for a, b in combinations(found, 2))
    spots = [Rect(*at, *at).grown(0.8 * RING) for at in found]
    for words in scene.words:
        inside = [spot for spot in spots if spot.meets(words.rect)]
        assert not inside or words.text.isdigit(), words.text


def test_every_ring_is_told_in_the_table_and_every_line_in_the_list(curves):
    scene = curves_scene(curves)
    texts = [words.text for words in scene.words]
    count = len(rings(scene)) // 2
    for number in range(1, count + 1):
        assert texts.count(str(number)) >= 2
    for system in curves.systems:
        assert any(system.words in text for text in texts)
    listed = " ".join(texts)
    for fan in curves.fans:
        assert fan in listed
    for other in curves.others:
        assert f"not drawn: {other}" in listed


@pytest.mark.parametrize("units", ["metric", "us"])
def test_units_stand_on_opposite_sides(units):
    scene = curves_scene(made("drive-cabinet"), units)
    where = {words.text: words for words in scene.words}
    own, other = ("m³/h", "CFM") if units == "metric" else ("CFM", "m³/h")
    assert where[f"flow, {own}"].y < where[f"flow, {other}"].y
    own, other = ("Pa", "inH₂O") if units == "metric" else ("inH₂O", "Pa")
    assert where[f"rise, {own}"].x < where[f"rise, {other}"].x


def test_clean_is_solid_loaded_dashed_and_both_keep_their_colour():
    shapes = [s for s in curves_scene(made("drive-cabinet")).items if isinstance(s, Shape)]
    clean = [s for s in shapes if s.edge == look.CLEAN]
    loaded = [s for s in shapes if s.edge == look.LOADED]
    assert len(clean) == len(loaded) == 2  # the line and its sample below
    assert all(not s.dash for s in clean)
    assert all(s.dash for s in loaded)


def test_a_dip_is_dotted_and_named_where_there_is_one():
    def told(name):
        return [w.text for w in curves_scene(made(name)).words if w.text.startswith("dip")]

    assert told("dips") == ["dip", "dip: one pressure belongs to several flows"]
    assert told("drive-cabinet") == []


def test_lines_are_cut_at_the_frame():
    rect = Rect(0.0, 0.0, 10.0, 10.0)
    assert cut([(-5.0, 5.0), (5.0, 5.0), (5.0, 15.0)], rect) == [
        [(0.0, 5.0), (5.0, 5.0), (5.0, 10.0)]
    ]
    assert cut([(-5.0, -5.0), (-1.0, 20.0)], rect) == []
    turn = np.linspace(0, 2 * np.pi, 200)
    circle = [(5 + 6 * math.cos(t), 5 + 6 * math.sin(t)) for t in turn]
    parts = cut(circle, rect)
    assert all(-1e-9 <= v <= 10 + 1e-9 for part in parts for point in part for v in point)
    assert len(parts) >= 4


def test_axes_are_those_given():
    solution = solve(load("bench-supply"))
    ax = Figure().add_subplot()
    assert draw.curves(solution, ax=ax, fan="fan.rear") is ax
    assert ax.texts
    with pytest.raises(TypeError, match=r"draw\.curves takes a Solution"):
        draw.curves(load("bench-supply"))  # type: ignore[arg-type]
