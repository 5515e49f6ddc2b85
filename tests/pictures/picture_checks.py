"""What must hold for every picture: read from the painted figure, not from its plan."""

from __future__ import annotations

from itertools import combinations, pairwise
from pathlib import Path
from typing import Any, NamedTuple

import matplotlib
from matplotlib import font_manager
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from flownet.pictures.scene import look
from flownet.pictures.scene.scene import Point, Scene, Shape


class Box(NamedTuple):
    """Where a text of a figure is, in pixels."""

    x0: float
    y0: float
    x1: float
    y1: float


def boxes(figure: Figure) -> list[tuple[str, Box]]:
    """Every text of a figure with the box that the renderer gives it."""
    renderer: Any = FigureCanvasAgg(figure).get_renderer()
    texts = figure.axes[0].texts
    return [(t.get_text(), Box(*t.get_window_extent(renderer).extents)) for t in texts]


def misplaced(figure: Figure) -> tuple[list[tuple[str, str]], list[str]]:
    """Pairs of texts that cover each other, and texts that leave the page; measured once."""
    page, found = Box(*figure.bbox.extents), boxes(figure)
    outside = [
        text for text, box in found
        if box.x0 < page.x0 or box.y0 < page.y0 or box.x1 > page.x1 or box.y1 > page.y1
    ]  # fmt: skip
    return overlaps(found), outside


def overlaps(found: list[tuple[str, Box]]) -> list[tuple[str, str]]:
    """Pairs of texts that cover each other by more than a rounding of pixels."""
    return [
        (a, b) for (a, first), (b, second) in combinations(found, 2)
        if min(first.x1, second.x1) - max(first.x0, second.x0) > 0.5
        and min(first.y1, second.y1) - max(first.y0, second.y0) > 0.5
    ]  # fmt: skip


def foreign_fonts(figure: Figure) -> set[str]:
    """Font files in use that do not come with matplotlib."""
    bundled = Path(matplotlib.get_data_path()) / "fonts"
    files = {font_manager.findfont(text.get_fontproperties()) for text in figure.axes[0].texts}
    return {file for file in files if bundled not in Path(file).parents}


def clashes(scene: Scene) -> list[tuple[str, str]]:
    """Words of a scene that cover each other or leave its page, by their own measure."""
    placed = [(words.text, words.rect) for words in scene.words]
    page = [
        (text, "page") for text, rect in placed
        if rect.x0 < 0 or rect.y0 < 0 or rect.x1 > scene.wide or rect.y1 > scene.tall
    ]  # fmt: skip
    pairs = [(a, b) for (a, one), (b, other) in combinations(placed, 2) if one.meets(other)]
    return page + pairs


def leaders(scene: Scene) -> list[tuple[Point, ...]]:
    """The courses of the thin lines from labels to what they name."""
    return [
        item.points for item in scene.items
        if isinstance(item, Shape) and not item.closed and len(item.points) > 3
        and (item.edge, item.width) == (look.QUIET, look.HAIR)
    ]  # fmt: skip


def crossed(scene: Scene) -> int:
    """How many leaders cross an arrow of air or another leader."""
    arrows = [
        (*item.points, item.points[0]) for item in scene.items
        if isinstance(item, Shape) and item.closed and len(item.points) == 7
    ]  # fmt: skip
    courses = leaders(scene)
    pairs = [*combinations(courses, 2), *((a, b) for a in courses for b in arrows)]
    return sum(any(_cross(p, q) for p in pairwise(a) for q in pairwise(b)) for a, b in pairs)


def _cross(a: tuple[Point, Point], b: tuple[Point, Point]) -> bool:
    def side(line: tuple[Point, Point], point: Point) -> float:
        (x0, y0), (x1, y1) = line
        return (x1 - x0) * (point[1] - y0) - (y1 - y0) * (point[0] - x0)

    return side(a, b[0]) * side(a, b[1]) < -1e-6 and side(b, a[0]) * side(b, a[1]) < -1e-6
