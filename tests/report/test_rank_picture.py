"""The picture of a ranking: nothing overlaps, bars are as long as their effects."""

from __future__ import annotations

import dataclasses
import re

import matplotlib as mpl
import pytest
from matplotlib.figure import Figure

from flownet import draw
from flownet.report import look
from flownet.report.figures import rank as figures
from flownet.report.scene import Shape
from flownet.report.scene_rank import HALF, LISTED, rank_scene
from flownet.studies.rank import rank
from tests.report.picture_checks import clashes, foreign_fonts, misplaced
from tests.test_cases import load

mpl.use("Agg")

RESULTS = {
    "drive-cabinet": "part.controller.temperature", "telecom-shelf": "total.volume_flow",
    "bench-supply": "total.worst_margin", "outdoor-cabinet": "compartment.battery.temperature",
}  # fmt: skip


@pytest.fixture(scope="module", params=RESULTS)
def ranking(request):
    return rank(load(request.param), RESULTS[request.param])


def test_no_text_overlaps_another_or_leaves_the_page(ranking):
    for units in ("metric", "us"):
        figure = figures.figure(ranking, units=units)
        assert misplaced(figure) == ([], [])
        assert foreign_fonts(figure) == set()


def bars(scene):
    return [s for s in scene.items if isinstance(s, Shape) and s.closed and len(s.points) == 4]


def test_bars_are_as_long_as_their_effects_and_start_at_one_line(ranking):
    found = bars(rank_scene(ranking))
    shown = ranking.effects[:LISTED]
    assert len(found) == len(shown)
    most = max(abs(e.change) for e in shown)
    zero = None
    for bar, effect in zip(found, shown, strict=True):
        left, right = min(x for x, _ in bar.points), max(x for x, _ in bar.points)
        assert right - left == pytest.approx(HALF * abs(effect.change) / most)
        start = left if effect.change > 0 else right
        zero = start if zero is None else zero
        assert start == pytest.approx(zero)
        assert bar.fill == (look.INK if effect.change > 0 else look.PAPER)
    heights = [bar.points[0][1] for bar in found]
    assert heights == sorted(heights, reverse=True)


def test_it_says_what_it_is_about_and_what_was_left_out(ranking):
    words = " ".join(w.text for w in rank_scene(ranking).words)
    assert f"What moves {ranking.of}:" in words
    assert f"{len(ranking.effects) - LISTED} smaller effects are not drawn." in words
    assert re.search(r"temperatures by 1(\.0)? K,", words)
    assert "flownet " in words
    assert "scenario base" in words


def test_long_names_and_no_effect_at_all_fit(ranking):
    first = ranking.effects[0]
    long = first._replace(path="slot." + "a-very-long-name-" * 6 + "x.resistance_factor")
    for effects in ((long, *ranking.effects[1:5]), (first,), ()):
        scene = rank_scene(dataclasses.replace(ranking, effects=effects))
        assert clashes(scene) == []
        assert len(bars(scene)) == len(effects)


def test_changes_stand_in_the_head_and_overlap_nothing(ranking):
    changed = ["filter.mat.fouling = 5", "part.x.power = " + "90 W " * 40]
    figure = figures.figure(ranking, units="us", changed=changed)
    assert "with filter.mat.fouling = 5" in [text.get_text() for text in figure.axes[0].texts]
    assert misplaced(figure) == ([], [])
    words = " ".join(w.text for w in rank_scene(ranking, "us").words)
    assert re.search(r"temperatures by 1\.8 (degF|°F),", words)
    assert "with " not in words


def test_axes_are_those_given(ranking):
    ax = Figure().add_subplot()
    assert draw.rank(ranking, ax=ax) is ax
    with pytest.raises(TypeError, match=r"draw\.rank takes a Ranking"):
        draw.rank(ranking.solution)  # type: ignore[arg-type]
