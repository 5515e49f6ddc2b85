"""Arrows of air: on the downstream side of a mark only, as wide as the mass that flows."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from math import dist
from typing import NamedTuple

from flownet.pictures.scene import look
from flownet.pictures.scene.scene import Item, Point, Rect, Shape, bounds, square
from flownet.pictures.scene.symbols import Mark, ring

ARROW_WIDE = 14.0  # the arrow of the largest flow
THINNEST = 0.4  # what is less could not be seen
ARROW_LONG, ARROW_SHORT = 36.0, 14.0
NO_ARROW = 1e-6  # of the largest flow: no arrow


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
        return max(self.width / 2 + 3.0, 3.2)

    @property
    def rect(self) -> Rect:
        if self.leaves:
            return square(self.start, self.half)
        (x, y), (dx, dy), half = self.start, self.way, self.half
        return bounds((x + dx * u - dy * v, y + dy * u + dx * v)
                      for u in (0.0, self.length) for v in (-half, half)).grown(1.0)  # fmt: skip


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
        last, start = mark.route[-2:] if sign > 0 else mark.route[1::-1]
        length = dist(last, start) or 1.0
        way = (start[0] - last[0]) / length, (start[1] - last[1]) / length
    return Arrow(start, way, max(min(ARROW_LONG, 0.55 * room - off), ARROW_SHORT), width, back)


def shapes(item: Arrow) -> Iterator[Item]:
    """Ink with a white edge; hollow and dashed where the air is driven back."""
    if item.leaves:
        yield from ring(item.start, max(item.half, 4.0), item.towards)
        return
    half, head = item.width / 2, item.half
    neck = item.length - min(1.7 * head, 0.6 * item.length)
    local = ((0.0, half), (neck, half), (neck, head), (item.length, 0.0), (neck, -head),
             (neck, -half), (0.0, -half))  # fmt: skip
    (x, y), (dx, dy) = item.start, item.way
    outline = tuple((x + dx * u - dy * v, y + dy * u + dx * v) for u, v in local)
    yield Shape(outline, look.WHITE, look.WHITE, 2.4)
    if item.back:
        yield Shape(outline, look.WHITE, look.INK, look.LINE, (2.6, 1.6))
    else:
        yield Shape(outline, look.INK)


def widths(flows: Mapping[str, float], marks: Mapping[str, Mark]) -> dict[str, float]:
    """Width of each arrow in points, in proportion to its mass flow; 0: no arrow.

    Slots side by side keep their arrows apart.
    """
    largest = max((abs(flow) for flow in flows.values()), default=0.0)
    shares = {path: abs(flow) / largest for path, flow in flows.items()
              if abs(flow) > NO_ARROW * largest}  # fmt: skip
    widest = min([ARROW_WIDE, *(max(marks[path].room - 7.0, 2.0) / share
                            for path, share in shares.items() if marks[path].room)])  # fmt: skip
    return {path: max(widest * shares[path], THINNEST) if path in shares else 0.0
            for path in flows}  # fmt: skip


def room(mark: Mark, flow: float, rect: Rect | None) -> float:
    """Free distance downstream, within the compartment the air goes to (None: outside)."""
    if rect is None:
        return 10 * ARROW_LONG
    dx, dy = (part if flow > 0 else -part for part in mark.normal)
    x, y = mark.at
    if dx:
        return abs((rect.x1 if dx > 0 else rect.x0) - x)
    return abs((rect.y1 if dy > 0 else rect.y0) - y)
