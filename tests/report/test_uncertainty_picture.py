"""The picture of an uncertainty: nothing overlaps, bars lie where their margins are."""

from __future__ import annotations

import dataclasses

import matplotlib as mpl
import pytest
from matplotlib.figure import Figure

import flownet
from flownet import draw
from flownet.report import look
from flownet.report.figures import uncertainty as figures
from flownet.report.scene import Shape
from flownet.report.scene_uncertainty import FIELD, LISTED, SHARE, uncertainty_scene
from tests.report.picture_checks import clashes, foreign_fonts, misplaced
from tests.test_cases import load

mpl.use("Agg")

CASES = {"drive-cabinet": "hot+dirty", "telecom-shelf": "base", "bench-supply": "base"}


@pytest.fixture(scope="module", params=CASES)
def found(request):
    return flownet.uncertainty(load(request.param), samples=200, seed=1,
                               scenario=CASES[request.param])  # fmt: skip


@pytest.mark.parametrize("units", ["metric", "us"])
def test_no_text_overlaps_another_or_leaves_the_page(found, units):
    figure = figures.figure(found, units=units)
    assert misplaced(figure) == ([], [])
    assert foreign_fonts(figure) == set()


def boxes(scene):
    """Left, right and fill of every bar."""
    shapes = [s for s in scene.items if isinstance(s, Shape) and s.closed and s.edge == look.INK]
    return [(min(x for x, _ in s.points), max(x for x, _ in s.points), s.fill) for s in shapes]


def limits_drawn(found):
    """In the order of the picture: temperatures, noise, life."""
    kinds = {"noise": 1, "life": 2}
    return sorted(found.limits[:LISTED], key=lambda item: kinds.get(item.limit, 0))


def test_bars_start_and_end_at_their_margins_on_one_zero_line(found):
    rows = limits_drawn(found)
    bars = boxes(uncertainty_scene(found))[: len(rows)]
    thermal = [(bar, row.margin) for bar, row in zip(bars, rows, strict=True)
               if row.limit in ("part", "air")]  # fmt: skip
    (first, margin), *rest = thermal
    length = (first[1] - first[0]) / (margin.high - margin.low)
    zero = first[0] - margin.low * length
    for (left, right, _), other in rest:
        assert (left - zero) / length == pytest.approx(other.low, abs=1e-6)
        assert (right - zero) / length == pytest.approx(other.high, abs=1e-6)
    assert max(b[1] for b in bars) - min(zero, *(b[0] for b in bars)) <= FIELD + 1e-6


def test_the_fill_says_how_likely_a_limit_holds(found):
    rows = limits_drawn(found)
    for (_, _, fill), row in zip(boxes(uncertainty_scene(found))[: len(rows)], rows, strict=True):
        share = row.chance.share
        wanted = look.OVER if share < 0.5 else look.TIGHT if share < 0.95 else look.OK
        assert fill == wanted


def test_shares_are_as_long_as_they_are_and_solid_where_stated(found):
    shares = [row for row in found.shares.rows if row.share >= 0.0005][:12]
    bars = boxes(uncertainty_scene(found))[len(limits_drawn(found)) :]
    assert len(bars) == len(shares)
    for (left, right, fill), row in zip(bars, shares, strict=True):
        assert right - left == pytest.approx(SHARE * row.share)
        assert fill == (look.INK if row.spread.stated else look.PAPER)


def test_long_names_many_limits_and_none_at_all_fit(found):
    first = found.limits[0]
    long = first._replace(subject="part." + "a-very-long-name-" * 4 + "x")
    for limits in ((long, *found.limits), (first,) * 20, ()):
        scene = uncertainty_scene(dataclasses.replace(found, limits=limits))
        assert clashes(scene) == []
    words = " ".join(w.text for w in uncertainty_scene(found).words)
    assert found.case.title in words
    assert "samples, seed 1" in words
    assert "common practice" in words


def test_axes_are_those_given(found):
    ax = Figure().add_subplot()
    assert draw.uncertainty(found, ax=ax) is ax
    with pytest.raises(TypeError, match=r"draw\.uncertainty takes an Uncertainty"):
        draw.uncertainty(found.case)  # type: ignore[arg-type]
