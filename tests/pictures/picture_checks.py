"""What must hold for every scene of a map or network."""

from __future__ import annotations

from itertools import combinations, pairwise

from flownet.pictures.scene import look
from flownet.pictures.scene.scene import Point, Scene, Shape


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
