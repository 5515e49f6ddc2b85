"""The picture of headroom: nothing overlaps, lines stand where the values are."""

from __future__ import annotations

import math

import matplotlib as mpl
import pytest
from matplotlib.figure import Figure

import flownet
from flownet import draw
from flownet.errors import CaseError
from flownet.report import look
from flownet.report.figures import headroom as figures
from flownet.report.scene import Shape, Words
from flownet.report.scene_headroom import DASH, headroom_scene
from flownet.report.scene_sweep import FRAME, LINES
from tests.report.picture_checks import foreign_fonts, misplaced
from tests.test_cases import load

mpl.use("Agg")
ASKED = {
    "filter": ("drive-cabinet", "filter.intake.fouling", "hot", None),
    "near": ("drive-cabinet", "part.*.load", "hot", None),
    "ambient": ("drive-cabinet", "outside.temperature", "dirty", None),
    "speed": ("telecom-shelf", "fan.*.speed", "base", None),
    "factor": ("drive-cabinet", "part.*.load", "hot", {"part.choke.load": 0.5}),
    "nothing": ("drive-cabinet", "outside.altitude", "dirty", None),
}


@pytest.fixture(scope="module", params=ASKED)
def found(request):
    name, key, scenario, changes = ASKED[request.param]
    return flownet.headroom(load(name), key, scenario=scenario, changes=changes)


@pytest.mark.parametrize("units", ["metric", "us"])
def test_no_text_overlaps_another_or_leaves_the_page(found, units):
    figure = figures.figure(found, units=units)
    assert misplaced(figure) == ([], [])
    assert foreign_fonts(figure) == set()


def lines(scene):
    """Lines of two points."""
    return [s for s in scene.items if isinstance(s, Shape) and len(s.points) == 2]


def uprights(scene, dash):
    """Places of the upright lines that pass through the whole frame and stand out above it."""
    return [s.points[0][0] for s in lines(scene) if s.dash == dash
            and s.points[0][0] == pytest.approx(s.points[1][0])
            and s.points[1][1] - s.points[0][1] > FRAME.tall + 4.0]  # fmt: skip


def test_lines_stand_where_the_values_are(found):
    scene = headroom_scene(found)
    (limit,) = [s for s in lines(scene) if s.width == look.WALL
                and s.points[1][0] - s.points[0][0] == pytest.approx(FRAME.wide)]  # fmt: skip
    left = limit.points[0][0]

    def place(value):
        return pytest.approx(left + FRAME.wide * (value - found.low) / (found.high - found.low))

    assert uprights(scene, DASH) == [place(found.subject.present)]
    assert uprights(scene, ()) == ([] if math.isnan(found.value) else [place(found.value)])


def test_the_tightest_limits_are_named(found):
    told = [item.text for item in headroom_scene(found).items if isinstance(item, Words)]
    thermal = {subject for (kind, subject) in found.today.margins if kind in ("part", "air")}
    named = thermal & set(told)
    assert len(named) == min(LINES, len(thermal))
    if found.limit is not None:
        assert found.limit.subject in named


def test_limits_that_are_no_temperatures_are_named_below(found):
    told = " ".join(item.text for item in headroom_scene(found).items if isinstance(item, Words))
    others = {subject for kind, subject in found.today.margins if kind not in ("part", "air")}
    assert ("Not drawn, as no temperature: " in told) == bool(others)
    assert all(subject in told for subject in others)


def test_draw_takes_headroom_only_and_needs_a_temperature_limit():
    case = load("drive-cabinet")
    found = flownet.headroom(case, "filter.intake.fouling", scenario="hot")
    ax = Figure().add_subplot()
    assert draw.headroom(found, ax=ax) is ax
    with pytest.raises(TypeError, match="takes a Headroom"):
        draw.headroom(case)  # type: ignore[arg-type]
    without = case.with_changes({"part.*.limit": None, "compartment.*.air_limit": None})
    with pytest.raises(CaseError, match="no temperature limit"):
        draw.headroom(flownet.headroom(without, "fan.*.speed"))
