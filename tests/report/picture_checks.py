"""What must hold for every picture: read from the painted figure, not from its plan."""

from __future__ import annotations

from itertools import combinations, pairwise
from pathlib import Path
from typing import Any

import matplotlib
from matplotlib import font_manager
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.transforms import Bbox

from flownet.report import look
from flownet.report.scene import Point, Scene, Shape


def boxes(figure: Figure) -> list[tuple[str, Bbox]]:
    """Every text of a figure with the box that the renderer gives it."""
    renderer: Any = FigureCanvasAgg(figure).get_renderer()
    return [(text.get_text(), text.get_window_extent(renderer)) for text in figure.axes[0].texts]


def overlaps(figure: Figure) -> list[tuple[str, str]]:
    """Pairs of texts that cover each other by more than a rounding of pixels."""
    found = []
    for (a, first), (b, second) in combinations(boxes(figure), 2):
        wide = min(first.x1, second.x1) - max(first.x0, second.x0)
        tall = min(first.y1, second.y1) - max(first.y0, second.y0)
        if wide > 0.5 and tall > 0.5:
            found.append((a, b))
    return found


def off_page(figure: Figure) -> list[str]:
    """Texts that leave the page."""
    page = figure.bbox
    return [
        text for text, box in boxes(figure)
        if box.x0 < page.x0 or box.y0 < page.y0 or box.x1 > page.x1 or box.y1 > page.y1
    ]  # fmt: skip


def foreign_fonts(figure: Figure) -> set[str]:
    """Font files in use that do not come with matplotlib."""
    bundled = Path(matplotlib.get_data_path()) / "fonts"
    files = {font_manager.findfont(text.get_fontproperties()) for text in figure.axes[0].texts}
    return {file for file in files if bundled not in Path(file).parents}


def clashes(scene: Scene) -> list[tuple[str, str]]:
    """Words of a scene that cover each other or leave its page, by their own measure."""
    page = [
        (words.text, "page") for words in scene.words
        if words.rect.x0 < 0 or words.rect.y0 < 0
        or words.rect.x1 > scene.wide or words.rect.y1 > scene.tall
    ]  # fmt: skip
    pairs = [(a.text, b.text) for a, b in combinations(scene.words, 2) if a.rect.meets(b.rect)]
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
