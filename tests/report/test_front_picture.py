"""The picture of a trade-off: dots and rings at their values, steps, nothing covered."""

from __future__ import annotations

import itertools
import math
from functools import cache

import matplotlib as mpl
import pytest
from matplotlib.figure import Figure

import flownet
from flownet import draw
from flownet.errors import CaseError
from flownet.report import look
from flownet.report.figures import front as figures
from flownet.report.scene import Shape
from flownet.report.scene_front import DOT, FRAME, RINGS, SMALL, front_scene
from flownet.studies.choice.study import choose_options
from tests.report.picture_checks import clashes, foreign_fonts, misplaced
from tests.test_cases import load

mpl.use("Agg")

BEST = {
    "few": ("noise", "price"), "more-is-better": ("noise", "temperature"),
    "many": ("temperature", "power"), "one": ("power", "price"),
}  # fmt: skip


@cache
def made(name):
    return choose_options(load("drive-cabinet"), "places", best=BEST[name])


@pytest.fixture(scope="module", params=list(BEST))
def found(request):
    return made(request.param)


@pytest.mark.parametrize("units", ["metric", "us"])
def test_nothing_covers_anything(found, units):
    figure = figures.figure(found, units=units)
    assert misplaced(figure) == ([], [])
    assert foreign_fonts(figure) == set()
    assert clashes(front_scene(found, units)) == []


def shapes(scene, size, fill):
    return [s for s in scene.items if isinstance(s, Shape) and s.fill == fill
            and abs((s.rect.wide - (s.width if s.edge else 0)) / 2 - size) < 0.02]  # fmt: skip


def step(scene):
    """The line of the front."""
    return max((s for s in scene.items if isinstance(s, Shape) and s.width == look.BOLD),
               key=lambda s: len(s.points))  # fmt: skip


def test_rings_and_small_ones_are_all_of_the_front(found):
    scene = front_scene(found)
    small = shapes(scene, SMALL, look.PAPER)
    numbered = min(len(found.front), RINGS)
    texts = [words.text for words in scene.words]
    assert all(texts.count(str(number)) >= 1 for number in range(1, numbered + 1))
    hidden = len(found.front) - numbered
    assert len(small) >= hidden  # and the spots of rings that had to move, and the key
    said = f"{hidden} more on the trade-off, without a number"
    assert (said in texts) == (hidden > 0)


def test_the_line_falls_in_steps_through_every_point(found):
    """Its corners lie in the frame; every second one is a design of the front."""
    points = step(front_scene(found)).points
    if len(found.front) == 1:
        return
    assert len(points) == 2 * len(found.front) - 1
    for (x0, y0), (x1, y1) in itertools.pairwise(points):
        assert math.isclose(x0, x1, abs_tol=1e-6) or math.isclose(y0, y1, abs_tol=1e-6)
    a, b = found.best_by
    spots = points[::2]
    first = [option.value(a) for option in found.front]
    second = [option.value(b) for option in found.front]
    for place, values in ((0, first), (1, second)):  # the page is straight in both measures
        scale = (spots[-1][place] - spots[0][place]) / (values[-1] - values[0])
        for spot, value in zip(spots, values, strict=True):
            assert spot[place] == pytest.approx(
                spots[0][place] + scale * (value - values[0]), abs=1e-6
            )


def test_no_dot_is_better_than_the_line():
    scene = front_scene(made("few"))
    corners = step(scene).points[::2]
    dots = shapes(scene, DOT, look.QUIET)
    assert len(dots) > 5
    inside = [s.rect.centre for s in dots if s.rect.centre[1] > min(y for _, y in corners) - 1]
    for x, y in inside:  # both measures: less is better, to the left and below
        assert not any(x < cx - 0.01 and y < cy - 0.01 for cx, cy in corners)
    width = max(x for x, _ in inside) - min(x for x, _ in inside)
    assert width < FRAME.wide


def test_what_cannot_be_drawn():
    with pytest.raises(TypeError, match=r"draw\.front takes an OptionChoice"):
        draw.front(load("bench-supply"))  # type: ignore[arg-type]
    single = choose_options(load("telecom-shelf"), best="noise", scenarios=["hot"])
    with pytest.raises(CaseError, match="noise ranks alone"):
        draw.front(single)
    none = flownet.choose_options(load("drive-cabinet"), "exhaust")
    with pytest.raises(CaseError, match="none of 3 designs holds everywhere"):
        draw.front(none)


def test_axes_are_those_given():
    ax = Figure().add_subplot()
    assert draw.front(made("few"), ax=ax) is ax
    assert ax.texts
