"""The course of every line of a network: straight in its lane, or round through the gaps."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from typing import NamedTuple

from flownet.pictures.network.links import OUTSIDE, Course, Detour, Link
from flownet.pictures.network.net import PITCH, PORT, SHIFT, STEP, Net, lane_wide
from flownet.pictures.scene.scene import Point


class Line(NamedTuple):
    """A link with its course on the page."""

    link: Link
    points: tuple[Point, ...]
    forward: bool  # the course starts at the link's `from_`
    straight: bool
    clear: tuple[float, float] = (0.0, 0.0)  # at its left or lower end, and at the other


def lines(net: Net) -> Iterator[Line]:
    """Every link as a line on the page, straight ones first."""
    for (name, side), own in net.lanes.items():
        for place, one in enumerate(own):
            if (one.near, one.side) == (name, side):
                level = side in ("left", "right")
                yield _level(net, one, own, place) if level else _upright(net, one, own, place)
    used: Counter[str] = Counter()
    for one, way in net.detours:
        yield Line(one.link, _round(net, one, way, used), one.near == one.link.from_, False)


def _level(net: Net, one: Course, own: list[Course], place: int) -> Line:
    """A lane along a row, from the near box to the far one or to the frame."""
    near, inner = net.boxes[one.near], net.inner
    far = net.boxes[one.far] if one.far != OUTSIDE else None
    y = near.centre[1] + PITCH * ((len(own) - 1) / 2 - place)
    if one.side == "left":
        start, stop = near.x0, inner.x0 if far is None else far.x1
    else:
        start, stop = near.x1, inner.x1 if far is None else far.x0
    left = one.near if one.side == "right" else one.far
    clear = 0.0
    if left != OUTSIDE:
        clear = SHIFT * net.upright_runs(net.cells[left].column + 1, False)
        clear += net.columns[net.cells[left].column][1] - net.boxes[left].x1 if clear else 0.0
    points = ((start, y), (stop, y))
    return Line(one.link, points, one.near == one.link.from_, True, (clear, 0.0))


def _upright(net: Net, one: Course, own: list[Course], place: int) -> Line:
    """A lane along a column, from the near box to the far one or to the frame."""
    near, inner = net.boxes[one.near], net.inner
    far = net.boxes[one.far] if one.far != OUTSIDE else None
    sizes = [lane_wide(other) for other in own]
    x = near.centre[0] - sum(sizes) / 2 + sum(sizes[:place]) + 17.0
    if one.side == "top":
        start, stop = near.y1, inner.y1 if far is None else far.y0
    else:
        start, stop = near.y0, inner.y0 if far is None else far.y1
    gap = net.cells[one.near].row + (one.side == "top")
    clear = STEP * net.level_runs(gap, True), STEP * net.level_runs(gap, False)
    return Line(one.link, ((x, start), (x, stop)), one.near == one.link.from_, True, clear)


def _round(net: Net, one: Course, way: Detour, used: Counter[str]) -> tuple[Point, ...]:
    """From the near box into the gap above or below its row, along it, and to the far place."""
    near, row = net.boxes[one.near], net.rows[net.cells[one.near].row]
    up = one.side == "top"
    x = near.x1 - 4.0 - PORT * _count(used, f"{one.near} {one.side}")
    gap = 9.0 + STEP * _count(used, f"rows {way.row_gap} {up}")
    start, level = (near.y1, row[1] + gap) if up else (near.y0, row[0] - gap)
    if way.column_gap is None:
        return (x, start), (x, level), (net.inner.x0, level)
    far, column = net.boxes[one.far], net.columns[net.cells[one.far].column]
    shift = SHIFT * (1 + _count(used, f"columns {way.column_gap} {way.left}"))
    across = column[0] - shift if way.left else column[1] + shift
    end = far.y1 - 5.0 - PORT * _count(used, f"{one.far} {way.left}")
    side = far.x0 if way.left else far.x1
    return (x, start), (x, level), (across, level), (across, end), (side, end)


def _count(used: Counter[str], key: str) -> int:
    """How many lines have gone this way before."""
    used[key] += 1
    return used[key] - 1
