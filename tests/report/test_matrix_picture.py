"""The matrix: nothing overlaps, and no status is told by colour alone."""

from __future__ import annotations

import dataclasses

import matplotlib as mpl
import pytest
from matplotlib.figure import Figure

from flownet import draw
from flownet.report import look
from flownet.report.figures import matrix as figures
from flownet.report.scene import Shape
from flownet.report.scene_matrix import FILLS, FRAME, TALL, matrix_scene
from flownet.studies.compare import compare
from tests.report.picture_checks import clashes, foreign_fonts, misplaced
from tests.studies.test_pairs import box
from tests.test_cases import load

mpl.use("Agg")


@pytest.fixture(
    scope="module", params=["drive-cabinet", "telecom-shelf", "outdoor-cabinet", "bench-supply"]
)
def found(request):
    return compare(load(request.param))


@pytest.mark.parametrize("units", ["metric", "us"])
def test_no_text_overlaps_another_or_leaves_the_page(found, units):
    figure = figures.figure(found, units=units)
    assert misplaced(figure) == ([], [])
    assert foreign_fonts(figure) == set()


def shapes(scene):
    return [s for s in scene.items if isinstance(s, Shape)]


def test_every_cell_has_its_fill_its_margin_and_its_word(found):
    scene = matrix_scene(found)
    cells = [cell for row in found.cells for cell in row if cell is not None]
    texts = [w.text for w in scene.words]
    tall = [s for s in shapes(scene) if s.closed and len(s.points) == 4
            and s.rect.tall > 0.8 * TALL and s.rect.wide > TALL]  # fmt: skip
    for status in {cell.status for cell in cells}:
        count = sum(cell.status == status for cell in cells)
        if FILLS[status] != look.PAPER:
            assert sum(s.fill == FILLS[status] for s in tall) == count
        solved = [c for c in cells if c.status == status and c.subject]
        words = ["void" if status == "void" else cell.word for cell in solved]
        for word in set(words):
            assert texts.count(word) == words.count(word)
    for cell in cells:
        shown = cell.margin_quantity.metric.text(cell.margin, "+")
        assert (f"{shown} on paper" if cell.void else shown) in texts
        assert not cell.void or next(iter(cell.void)) in texts


def test_a_heavy_frame_is_round_the_worst_of_each_variant(found):
    frames = [s for s in shapes(matrix_scene(found)) if s.fill is None and s.width == FRAME]
    assert len(frames) == sum(found.worst(name) is not None for name in found.variants)


def test_status_is_told_without_colour(found):
    """Lightness falls from ok to over, broken limits are hatched, tight ones have a bar."""
    grey = {name: sum(int(fill[i : i + 2], 16) for i in (1, 3, 5)) for name, fill in FILLS.items()}
    assert grey["ok"] > grey["tight"] + 100
    assert grey["tight"] > grey["over"] + 200
    scene = matrix_scene(found)
    over = sum(c is not None and c.status == "over" for row in found.cells for c in row)
    hatched = [s for s in shapes(scene) if not s.closed and s.edge == look.PAPER]
    assert len(hatched) >= 4 * over


def test_the_verdict_is_the_first_line(found):
    scene = matrix_scene(found)
    top = max(scene.words, key=lambda words: words.y)
    assert top.size == look.TITLE
    assert found.verdict.startswith(top.text)
    words = " ".join(w.text for w in scene.words)
    assert "Heavy frame: the worst of its variant" in words
    assert f"flownet {flownet_version()}" in words


def flownet_version():
    import flownet  # noqa: PLC0415

    return flownet.__version__


def test_no_solution_no_limit_and_long_names_fit():
    tight = compare(box(air_limit="41 degC"))
    free = compare(box(), variants=["base"])
    for made in (tight, free):
        assert clashes(matrix_scene(made)) == []
    words = [w.text for w in matrix_scene(tight).words]
    assert "no solution" in words
    assert "no limit" in [w.text for w in matrix_scene(free).words]
    long = dataclasses.replace(
        tight, scenarios=("hot+dirty+very-long-scenario+fan.exhaust-upper-left-out-rest-up",),
        variants=("a-variant-with-quite-a-long-name-indeed", "closed"),
    )  # fmt: skip
    assert clashes(matrix_scene(long)) == []


def test_axes_are_those_given(found):
    ax = Figure().add_subplot()
    assert draw.matrix(found, ax=ax) is ax
    with pytest.raises(TypeError, match=r"draw\.matrix takes a Comparison"):
        draw.matrix(found.case)  # type: ignore[arg-type]
