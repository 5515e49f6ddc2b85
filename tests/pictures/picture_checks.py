"""What must hold for every drawing of a map or network."""

from __future__ import annotations

from itertools import combinations, pairwise

from flownet.pictures.scene import look
from flownet.pictures.scene.scene import Drawing, Point, Shape


def texts(drawing: Drawing) -> list[str]:
    """Every line of text."""
    return [words.text for words in drawing.words]


def shapes(drawing: Drawing) -> list[Shape]:
    """Everything that is no text."""
    return [item for item in drawing.items if isinstance(item, Shape)]


def clashes(drawing: Drawing) -> list[tuple[str, str]]:
    """Words that cover each other or leave the page, by their own measure."""
    placed, page = [(words.text, words.rect) for words in drawing.words], drawing.page
    off = [(text, "page") for text, rect in placed if not page.holds(rect)]
    return off + [(a, b) for (a, one), (b, other) in combinations(placed, 2) if one.meets(other)]


def arrows(drawing: Drawing) -> list[Shape]:
    """The arrows of air: each lies on its own outline in white."""
    return [
        b for a, b in pairwise(drawing.items)
        if isinstance(a, Shape) and isinstance(b, Shape) and a.points == b.points
        and a.closed and (a.fill, a.edge) == (look.WHITE, look.WHITE)
    ]  # fmt: skip


def crossed(drawing: Drawing) -> int:
    """How many of the thin lines from labels cross an arrow of air or another such line."""
    courses = [item.points for item in shapes(drawing) if not item.closed and len(item.points) > 3
               and (item.edge, item.width) == (look.QUIET, look.HAIR)]  # fmt: skip
    outlines = [(*item.points, item.points[0]) for item in arrows(drawing)]
    pairs = [*combinations(courses, 2), *((a, b) for a in courses for b in outlines)]
    return sum(any(_cross(p, q) for p in pairwise(a) for q in pairwise(b)) for a, b in pairs)


def _cross(a: tuple[Point, Point], b: tuple[Point, Point]) -> bool:
    def side(line: tuple[Point, Point], point: Point) -> float:
        (x0, y0), (x1, y1) = line
        return (x1 - x0) * (point[1] - y0) - (y1 - y0) * (point[0] - x0)

    return side(a, b[0]) * side(a, b[1]) < -1e-6 and side(b, a[0]) * side(b, a[1]) < -1e-6
