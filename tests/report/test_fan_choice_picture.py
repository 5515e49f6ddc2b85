"""The picture of a fan choice: nothing covers anything, rings stand on their curves."""

from __future__ import annotations

import math
from functools import cache
from itertools import combinations

import matplotlib as mpl
import pytest
from matplotlib.figure import Figure

from flownet import draw
from flownet.report import look
from flownet.report.figures import fan_choice as figures
from flownet.report.scene import Rect, Shape
from flownet.report.scene_fan_choice import fan_choice_scene
from flownet.report.scene_rings import RING
from flownet.studies.choose import choose
from flownet.studies.fan_choice.curves import MOST, fan_choice_curves
from tests.report.picture_checks import clashes, foreign_fonts, misplaced
from tests.test_cases import load
from tests.test_fan_catalogue import ROWS

mpl.use("Agg")

SHOWN = {
    "telecom-shelf": ("telecom-shelf", "fan.*", {}),
    "drive-cabinet": ("drive-cabinet", "fan.*", {"scenarios": ["hot+dirty", "high+dirty"]}),
    "none-holds": ("drive-cabinet", "fan.*", {}),
    "any-frame": ("bench-supply", "rear", {"frame": "any"}),
    "one-of-two": ("drive-cabinet", "left", {"scenarios": ["hot"]}),
}


@cache
def made(name):
    case, fan, words = SHOWN[name]
    return fan_choice_curves(choose(load(case), fan, catalogue=ROWS, **words))


@pytest.fixture(scope="module", params=list(SHOWN))
def curves(request):
    return made(request.param)


def rings(scene):
    """Centres of the numbered rings on and below the plot."""
    return [
        item.rect.centre
        for item in scene.items
        if isinstance(item, Shape) and len(item.points) == 32 and item.rect.wide > RING
    ]


@pytest.mark.parametrize("units", ["metric", "us"])
def test_no_text_overlaps_another_or_leaves_the_page(curves, units):
    figure = figures.figure(curves, units=units)
    assert misplaced(figure) == ([], [])
    assert foreign_fonts(figure) == set()
    assert clashes(fan_choice_scene(curves, units)) == []


def test_every_candidate_has_a_ring_and_a_row(curves):
    scene = fan_choice_scene(curves)
    found = rings(scene)
    assert len(found) == 2 * len(curves.drawn)
    assert 1 <= len(curves.drawn) <= MOST
    assert all(math.dist(a, b) > 2 * RING - 0.1 for a, b in combinations(found, 2))
    spots = [Rect(*at, *at).grown(0.8 * RING) for at in found]
    for words in scene.words:
        assert words.text.isdigit() or not any(spot.meets(words.rect) for spot in spots)
    texts = [words.text for words in scene.words]
    for number, item in enumerate(curves.drawn, 1):
        assert item.candidate.type in texts  # in the table
        assert texts.count(str(number)) >= 2


def test_the_best_is_bold_the_others_thin_and_the_network_in_its_colour():
    shapes = [s for s in fan_choice_scene(made("drive-cabinet")).items if isinstance(s, Shape)]
    asked = [s for s in shapes if s.edge == look.LOADED]
    assert len(asked) == 2  # the line and its sample below
    assert all(s.dash for s in asked)
    assert any(s.width == look.BOLD and len(s.points) > 20 for s in shapes)
    clean = [s for s in fan_choice_scene(made("any-frame")).items
             if isinstance(s, Shape) and s.edge == look.CLEAN]  # fmt: skip
    assert len(clean) == 2
    assert all(not s.dash for s in clean)


def test_why_one_is_excluded_stands_beside_it():
    words = [w.text for w in fan_choice_scene(made("none-holds")).words]
    assert "excluded by" in words
    assert "part limit, air limit, life" in words
    assert "excluded by" not in [w.text for w in fan_choice_scene(made("telecom-shelf")).words]


def test_axes_are_those_given():
    choice = made("drive-cabinet").choice
    ax = Figure().add_subplot()
    assert draw.fan_choice(choice, ax=ax) is ax
    assert ax.texts
    with pytest.raises(TypeError, match=r"draw\.fan_choice takes a FanChoice"):
        draw.fan_choice(load("bench-supply"))  # type: ignore[arg-type]
