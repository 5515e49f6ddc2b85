"""Where the places of a network stand: a grid that keeps the order of the outlines."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import NamedTuple

from flownet.enclosure.enclosure import Enclosure
from flownet.pictures.map.geometry import Ends, joined
from flownet.pictures.scene.scene import Rect

TOGETHER = 0.6  # of the narrower extent: with more in common, two outlines are in one line


class Cell(NamedTuple):
    """A place in the grid: columns from the left, rows from the bottom."""

    column: int
    row: int


def cells(case: Enclosure) -> dict[str, Cell]:
    """A cell for every compartment and every further surrounding; `outside` is around them all."""
    if any(item.outline is not None for item in case.compartments.values()):
        found = _by_outline(case)
    else:
        found = _by_layer(case)
    return _with_surroundings(case, found)


def _by_outline(case: Enclosure) -> dict[str, Cell]:
    rects = {
        name: Rect(x, y, x + w, y + h)
        for name, item in case.compartments.items()
        if item.outline is not None
        for x, y, w, h in [item.outline]
    }
    columns = _ranks(rects, lambda rect: (rect.x0, rect.x1), over=_beside)
    rows = _ranks(rects, lambda rect: (rect.y0, rect.y1), over=lambda a, b: False)
    wanted = {name: (float(columns[name]), rows[name]) for name in rects}
    last = max(columns.values()) + 1.0
    rest = [name for name in case.compartments if name not in rects]
    wanted |= {name: (last, row) for row, name in enumerate(rest)}
    return _apart(wanted)


def _apart(wanted: Mapping[str, tuple[float, int]]) -> dict[str, Cell]:
    """One place a cell: of two with the same cell, the second gets a column between."""
    free: dict[str, tuple[float, int]] = {}
    for name, cell in wanted.items():
        while cell in free.values():
            cell = (cell[0] + 0.25, cell[1])  # noqa: PLW2901 - the next free one
        free[name] = cell
    order = sorted({column for column, _ in free.values()})
    return {name: Cell(order.index(column), row) for name, (column, row) in free.items()}


def _ranks(
    rects: Mapping[str, Rect],
    span: Callable[[Rect], tuple[float, float]],
    over: Callable[[Rect, Rect], bool],
) -> dict[str, int]:
    """Lines of rectangles, in order of their middles along one axis.

    One joins the line before where it shares most of its `span` with all in it, and is not `over`
    any of them.
    """
    lines: list[list[str]] = []
    for name in sorted(rects, key=lambda key: sum(span(rects[key]))):
        rect = rects[name]
        if lines and all(
            _overlap(span(rect), span(rects[other])) > TOGETHER and not over(rect, rects[other])
            for other in lines[-1]
        ):
            lines[-1].append(name)
        else:
            lines.append([name])
    return {name: rank for rank, line in enumerate(lines) for name in line}


def _overlap(a: tuple[float, float], b: tuple[float, float]) -> float:
    """Common part of two spans, as a share of the shorter."""
    return (min(a[1], b[1]) - max(a[0], b[0])) / min(a[1] - a[0], b[1] - b[0])


def _beside(a: Rect, b: Rect) -> bool:
    """Whether two rectangles have heights in common, so that one column cannot hold both."""
    return _overlap((a.y0, a.y1), (b.y0, b.y1)) > 0.1


def _by_layer(case: Enclosure) -> dict[str, Cell]:
    """Columns by the number of branches from the outside, the way they are given."""
    links = joined(case)
    columns = _distances(links, list(case.compartments))
    order = {name: float(index) for index, name in enumerate(case.compartments)}
    for _ in range(4):
        for column in sorted(set(columns.values())):
            own = [name for name in columns if columns[name] == column]
            means = {name: _mean_order(name, links, order) for name in own}
            for row, name in enumerate(sorted(own, key=lambda key: (means[key], order[key]))):
                order[name] = float(row)
    return {name: Cell(columns[name], int(order[name])) for name in case.compartments}


def _distances(links: Sequence[Ends], names: Sequence[str]) -> dict[str, int]:
    """Fewest branches from an outside along their direction; the last column where none leads."""
    found: dict[str, int] = {}
    front = {link.to for link in links if link.from_ not in names and link.to in names}
    step = 0
    while front:
        found |= dict.fromkeys(front, step)
        front = {
            link.to
            for link in links
            if link.from_ in front and link.to in names and link.to not in found
        }
        step += 1
    return {name: found.get(name, step) for name in names}


def _mean_order(name: str, links: Iterable[Ends], order: Mapping[str, float]) -> float:
    """Mean row of the neighbours; its own without any."""
    near = [
        order[other]
        for link in links
        for one, other in ((link.from_, link.to), (link.to, link.from_))
        if one == name and other in order
    ]
    return sum(near) / len(near) if near else order[name]


def _with_surroundings(case: Enclosure, found: dict[str, Cell]) -> dict[str, Cell]:
    """Further surroundings in columns of their own, at the left where air comes from them."""
    links = joined(case)
    names = [f"outside.{name}" for name in case.things["outside"] if name]
    sources = [n for n in names if any(link.from_ == n for link in links)]
    shift = 1 if sources else 0
    placed = {name: Cell(cell.column + shift, cell.row) for name, cell in found.items()}
    last = max(cell.column for cell in placed.values()) + 1
    for name in names:
        column = 0 if name in sources else last
        near = [
            placed[other].row
            for link in links
            for one, other in ((link.from_, link.to), (link.to, link.from_))
            if one == name and other in placed
        ]
        row = near[0] if near else 0
        while Cell(column, row) in placed.values():
            row += 1
        placed[name] = Cell(column, row)
    return placed
