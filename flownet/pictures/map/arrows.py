"""Arrows of air: on the downstream side of a mark only, as wide as the mass that flows."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import NamedTuple

from flownet.pictures.scene import look
from flownet.pictures.scene.scene import Item, Point, Rect, Shape, bounds
from flownet.pictures.scene.symbols import Mark, ring

WIDEST = 14.0  # the arrow of the largest flow
THINNEST = 0.4  # what is less could not be seen
LONG, SHORT = 36.0, 14.0
NO_FLOW = 1e-6  # of the largest flow: no arrow


class Arrow(NamedTuple):
    """An arrow from `start` along `way`; `back`: air driven against a fan."""

    start: Point
    way: Point
    length: float
    width: float
    back: bool = False
    leaves: bool = False  # out of the page: a ring with a dot
    towards: bool = True

    @property
    def half(self) -> float:
        """Half the width of its head."""
        return max(self.width / 2 + 3.0, 3.2)

    @property
    def rect(self) -> Rect:
        """What it covers."""
        if self.leaves:
            return bounds([self.start]).grown(self.half)
        (x, y), (dx, dy) = self.start, self.way
        by = self.half * abs(dy), self.half * abs(dx)
        tip = (x + dx * self.length, y + dy * self.length)
        return bounds([(x - by[0], y - by[1]), (tip[0] + by[0], tip[1] + by[1])]).grown(1.0)


def arrow(mark: Mark, flow: float, width: float, room: float, back: bool, out: bool) -> Arrow:
    """The arrow of a mark.

    `room` is the free distance on the downstream side; `out`: the air leaves the enclosure. Off
    every edge and without a direction that can be through the front or the back of the drawing.
    """
    sign = 1.0 if flow > 0 else -1.0
    way = (mark.normal[0] * sign, mark.normal[1] * sign)
    unknown = mark.spot.framed and out and getattr(mark.item, "direction", None) is None
    if mark.spot.facing or mark.spot.through or unknown:
        at = mark.place(0.0, mark.deep + 10.0)
        towards = not mark.spot.facing or (mark.spot.facing == "towards") == (flow > 0)
        return Arrow(at, way, 0.0, width, back, True, towards)
    off = mark.deep + (mark.after if sign > 0 else mark.before) + 1.5
    start = mark.place(0.0, sign * off)
    if mark.route:
        start = mark.route[-1] if sign > 0 else mark.route[0]
        way = _last_way(mark.route if sign > 0 else mark.route[::-1])
    return Arrow(start, way, max(min(LONG, 0.55 * room - off), SHORT), width, back)


def _last_way(route: tuple[Point, ...]) -> Point:
    (x0, y0), (x1, y1) = route[-2:]
    length = ((x1 - x0) ** 2 + (y1 - y0) ** 2) ** 0.5 or 1.0
    return (x1 - x0) / length, (y1 - y0) / length


def shapes(item: Arrow) -> Iterator[Item]:
    """Ink with a white edge; hollow and dashed where the air is driven back."""
    if item.leaves:
        yield from ring(item.start, max(item.half, 4.0), item.towards)
        return
    outline = _outline(item)
    yield Shape(outline, look.PAPER, look.PAPER, 2.4)
    if item.back:
        yield Shape(outline, look.PAPER, look.INK, look.LINE, (2.6, 1.6))
    else:
        yield Shape(outline, look.INK)


def _outline(item: Arrow) -> tuple[Point, ...]:
    half, head = item.width / 2, item.half
    neck = item.length - min(1.7 * head, 0.6 * item.length)
    local = (
        (0.0, half), (neck, half), (neck, head), (item.length, 0.0), (neck, -head), (neck, -half),
        (0.0, -half),
    )  # fmt: skip
    (x, y), (dx, dy) = item.start, item.way
    return tuple((x + dx * u - dy * v, y + dy * u + dx * v) for u, v in local)


def widths(flows: Mapping[str, float], marks: Mapping[str, Mark]) -> dict[str, float]:
    """Width of each arrow in points, in proportion to its mass flow; 0: no arrow.

    Slots side by side keep their arrows apart.
    """
    largest = max((abs(flow) for flow in flows.values()), default=0.0)
    if not largest > 0:
        return dict.fromkeys(flows, 0.0)
    widest = WIDEST
    for path, flow in flows.items():
        room = marks[path].room if path in marks else 0.0
        if room and abs(flow) > NO_FLOW * largest:
            widest = min(widest, max(room - 7.0, 2.0) * largest / abs(flow))
    return {
        path: max(widest * abs(flow) / largest, THINNEST) if abs(flow) > NO_FLOW * largest else 0.0
        for path, flow in flows.items()
    }


def room(mark: Mark, flow: float, rect: Rect | None) -> float:
    """Free distance downstream, within the compartment the air goes to (None: outside)."""
    if rect is None:
        return 10 * LONG
    sign = 1.0 if flow > 0 else -1.0
    dx, dy = mark.normal[0] * sign, mark.normal[1] * sign
    x, y = mark.at
    if dx:
        return abs((rect.x1 if dx > 0 else rect.x0) - x)
    return abs((rect.y1 if dy > 0 else rect.y0) - y)
