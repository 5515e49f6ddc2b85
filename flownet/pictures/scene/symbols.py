"""The mark of each branch: drawn to size along its wall, in points on the page."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from typing import Any, NamedTuple

from flownet.pictures.map.geometry import Spot
from flownet.pictures.scene import look
from flownet.pictures.scene.scene import Item, Point, Rect, Shape, Words, bounds, line

# half the thickness across the wall, and the least length along it that can be read
DEEP = {
    "opening": 3.0, "vent": 3.5, "filter": 4.0, "fan": 7.0, "baffle": look.PLATE / 2,
    "slot": 8.0, "duct": 9.0, "leak": 2.2, "exchange": 11.0,
}  # fmt: skip
LEAST = {
    "opening": 10.0, "vent": 16.0, "filter": 16.0, "fan": 30.0, "baffle": 20.0, "slot": 6.0,
    "duct": 8.0, "leak": 13.0, "exchange": 22.0,
}  # fmt: skip
LOADED = 2.0  # what a second zigzag adds to half the thickness of a filter


class Mark(NamedTuple):
    """A mark on the page. `along` runs in the wall, `normal` across it from `from` to `to`."""

    path: str
    kind: str
    item: Any
    at: Point
    normal: Point
    half: float  # of the length along the wall
    deep: float  # half the thickness across it
    spot: Spot
    room: float = 0.0  # distance along the wall to the next mark of its kind
    wall: tuple[float, float] = (0.0, 0.0)  # a baffle: how far its plate reaches either way
    route: tuple[Point, ...] = ()  # a duct: its course on the page
    before: float = 0.0  # thickness of what stands in series in front of it, `from` side
    after: float = 0.0  # and behind it, `to` side
    letter: bool = True  # R beside a reversed fan
    fills: tuple[str, ...] = ()  # a slot: colours of its air, from its `from` end on
    still: bool = False  # a fan that stands though it is switched on: its speed is 0

    @property
    def along(self) -> Point:
        """Unit vector in the wall, to the right or upward; across a slanting line in a network."""
        x, y = self.normal
        return (-y, x) if x and y else (abs(y), abs(x))

    def place(self, s: float, t: float) -> Point:
        """A point `s` along the wall and `t` across it."""
        (ax, ay), (nx, ny) = self.along, self.normal
        return self.at[0] + ax * s + nx * t, self.at[1] + ay * s + ny * t

    def box(self, half: float, low: float, high: float) -> tuple[Point, ...]:
        """An upright rectangle in the mark's own directions."""
        return (
            self.place(-half, low), self.place(half, low), self.place(half, high),
            self.place(-half, high),
        )  # fmt: skip

    @property
    def lettered(self) -> bool:
        """Whether R stands beside it."""
        return self.kind == "fan" and self.item.mounted == "reversed" and self.letter

    @property
    def letter_rect(self) -> Rect:
        """Where R stands: beyond the end of the capsule."""
        x, y = self.place(self.half + 7.0, 0.0)
        return Rect(x - 4.2, y - 4.8, x + 4.2, y + 4.8)

    @property
    def rect(self) -> Rect:
        """What it covers, a plate's full reach left out."""
        own = list(self.box(self.half, -self.deep - self.before, self.deep + self.after))
        if self.lettered:
            own += self.letter_rect.corners
        return bounds(own).grown(3.0 if self.spot.framed else 1.0)


def shapes(mark: Mark) -> list[Item]:
    """Everything the mark consists of, lowest first."""
    found: list[Item] = []
    if mark.spot.framed:
        low, high = -mark.deep - mark.before, mark.deep + mark.after
        frame = bounds(mark.box(mark.half, low, high)).grown(3.5)
        found.append(Shape(frame.corners, look.GROUND, look.QUIET, look.HAIR))
    if getattr(mark.item, "state", "") == "blanked":
        return [*found, _blanked(mark)]
    return [*found, *DRAWN[mark.kind](mark)]


def _blanked(mark: Mark) -> Shape:
    """All of it in ink."""
    if mark.kind == "fan":
        return Shape(_capsule(mark, mark.half, mark.deep), look.INK, look.INK, look.LINE)
    if mark.kind == "duct":
        return line(_course(mark), width=2 * mark.half)
    return Shape(mark.box(mark.half, -mark.deep, mark.deep), look.INK, look.INK, look.THIN)


def _gap(mark: Mark) -> Iterator[Item]:
    """A hole in the wall with two jambs."""
    yield Shape(mark.box(mark.half, -2.2, 2.2), look.PAPER)
    for s in (-mark.half, mark.half):
        yield line([mark.place(s, -mark.deep - 1), mark.place(s, mark.deep + 1)], width=look.BOLD)


def _vent(mark: Mark) -> Iterator[Item]:
    yield from _gap(mark)
    bars = max(int(2 * mark.half / 5.0), 2)
    for bar in range(1, bars):
        s = -mark.half + 2 * mark.half * bar / bars
        yield line([mark.place(s, -2.4), mark.place(s, 2.4)], width=look.LINE)


def _filter(mark: Mark) -> Iterator[Item]:
    yield Shape(mark.box(mark.half, -mark.deep, mark.deep), look.PAPER)
    yield from _gap(mark)
    if mark.item.state == "removed":
        return
    shifts = (-LOADED - 0.6, LOADED + 0.6) if mark.item.fouling > 1 else (0.0,)
    for shift in shifts:
        yield line(_zigzag(mark, shift, 2.2), width=1.0)


def _zigzag(mark: Mark, shift: float, size: float) -> list[Point]:
    teeth = max(2 * int(mark.half / 3.5), 4)
    return [
        mark.place(-mark.half + 2 * mark.half * k / teeth, shift + (size if k % 2 else -size))
        for k in range(teeth + 1)
    ]


def _fan(mark: Mark) -> Iterator[Item]:
    """A capsule with wedges the way it blows; stopped: dashed with a bar."""
    fan, body = mark.item, _capsule(mark, mark.half, mark.deep)
    if mark.still or not fan.running:
        yield Shape(body, look.PAPER, look.INK, look.LINE, (3.0, 2.0))
        yield line([mark.place(-0.5 * mark.half, 0), mark.place(0.5 * mark.half, 0)], width=3.0)
    else:
        yield Shape(body, look.PAPER, look.INK, look.BOLD)
        yield from _wedges(mark, -1.0 if fan.mounted == "reversed" else 1.0)
    if mark.lettered:
        yield from _letter(mark)


def _letter(mark: Mark) -> Iterator[Item]:
    """R on a small plate."""
    x, y = mark.letter_rect.centre
    yield Shape(mark.letter_rect.corners, look.PAPER, look.INK, look.HAIR)
    yield Words(x, y - 2.5, "R", look.SMALL, True, align="centre")


def _wedges(mark: Mark, way: float) -> Iterator[Item]:
    size = 3.6
    step = min(0.55 * mark.half, mark.half - size - 2.0)
    for s in (-step, 0.0, step):
        if mark.spot.facing:
            towards = (mark.spot.facing == "towards") == (way > 0)
            yield from ring(mark.place(s, 0), size * 0.9, towards)
            continue
        tip, base = way * size, -way * size * 0.8
        corners = (mark.place(s - size, base), mark.place(s + size, base), mark.place(s, tip))
        yield Shape(corners, look.INK)


def ring(at: Point, size: float, towards: bool) -> Iterator[Item]:
    """Out of the page (a dot, the tip of an arrow) or into it (a cross, its tail)."""
    x, y = at
    yield Shape(_round(at, size), look.PAPER, look.INK, look.THIN)
    if towards:
        yield Shape(_round(at, size * 0.35), look.INK)
        return
    by = size * 0.7
    yield line([(x - by, y - by), (x + by, y + by)], width=look.THIN)
    yield line([(x - by, y + by), (x + by, y - by)], width=look.THIN)


# a circle in 24 steps, starting at the right
_CIRCLE = tuple((math.cos(math.tau * k / 24), math.sin(math.tau * k / 24)) for k in range(24))


def _round(at: Point, size: float) -> tuple[Point, ...]:
    return tuple((at[0] + size * x, at[1] + size * y) for x, y in _CIRCLE)


def _capsule(mark: Mark, half: float, deep: float) -> tuple[Point, ...]:
    """A bar with round ends."""
    straight = max(half - deep, 0.0)
    right = [(x, y) for x, y in _CIRCLE if x > -1e-9]
    right.sort(key=lambda p: p[1])
    points = [mark.place(straight + deep * x, deep * y) for x, y in right]
    points += [mark.place(-straight - deep * x, deep * y) for x, y in reversed(right)]
    return tuple(points)


def _baffle(mark: Mark) -> Iterator[Item]:
    """A thick bar with its open share as a gap."""
    low, high = -mark.wall[0], mark.wall[1]
    if mark.item.present:
        for start, stop in ((low, -mark.half), (mark.half, high)):
            if stop - start > 0.5:
                yield line([mark.place(start, 0), mark.place(stop, 0)], width=look.PLATE)
    yield line([mark.place(-mark.half, 0), mark.place(mark.half, 0)], look.PAPER, look.PLATE)
    if not mark.item.present:
        yield line([mark.place(low, 0), mark.place(high, 0)], look.QUIET, look.HAIR, (2.0, 2.0))
        yield from _jambs(mark)


def _jambs(mark: Mark) -> Iterator[Item]:
    for s in (-mark.half, mark.half):
        yield line([mark.place(s, -4), mark.place(s, 4)], width=look.BOLD)


def _slot(mark: Mark) -> Iterator[Item]:
    """A light rectangle with fine lines along the flow; filler crossed, empty none."""
    state = mark.item.state
    body = mark.box(mark.half, -mark.deep, mark.deep)
    dash = (2.0, 1.6) if state == "empty" else ()
    yield Shape(body, look.PAPER)
    for band, fill in enumerate(mark.fills):
        low, high = (2 * mark.deep * k / len(mark.fills) - mark.deep for k in (band, band + 1))
        yield Shape(mark.box(mark.half, low, high), fill, fill, look.HAIR)
    yield Shape(body, None, look.INK, look.THIN, dash)
    if mark.spot.facing:
        towards = mark.spot.facing == "towards"
        yield from ring(mark.at, min(mark.half, mark.deep, 4.0) * 0.8, towards)
    elif state == "filler":
        yield line([body[0], body[2]], width=look.THIN)
        yield line([body[1], body[3]], width=look.THIN)
    elif state == "fitted":
        count = max(min(int(2 * mark.half / 3.0), 5), 2)
        for k in range(1, count):
            s = -mark.half + 2 * mark.half * k / count
            yield line([mark.place(s, 1 - mark.deep), mark.place(s, mark.deep - 1)], look.QUIET,
                       look.HAIR)  # fmt: skip


def _duct(mark: Mark) -> Iterator[Item]:
    """Two lines along its route."""
    yield line(_course(mark), look.INK, 2 * mark.half + 2 * look.THIN)
    yield line(_course(mark), look.PAPER, 2 * mark.half)


def _course(mark: Mark) -> tuple[Point, ...]:
    return mark.route or (mark.place(0, -mark.deep), mark.place(0, mark.deep))


def _leak(mark: Mark) -> Iterator[Item]:
    for s in (-0.7 * mark.half, 0.0, 0.7 * mark.half):
        yield Shape(_round(mark.place(s, 0), 2.2), look.INK, look.PAPER, look.THIN)


def _exchange(mark: Mark) -> Iterator[Item]:
    """Two half arrows, one each way."""
    yield Shape(mark.box(mark.half, -2.2, 2.2), look.PAPER)
    yield from _jambs(mark)
    for way in (1.0, -1.0):
        s, tip = -way * 0.35 * mark.half, way * mark.deep
        barb = mark.place(s - way * 4.0, tip - way * 6.0)
        points = [mark.place(s, -tip), mark.place(s, tip), barb]
        yield line(points, look.PAPER, look.LINE + 2.4)
        yield line(points, look.INK, look.LINE)


DRAWN: dict[str, Callable[[Mark], Iterator[Item]]] = {
    "opening": _gap, "vent": _vent, "filter": _filter, "fan": _fan, "baffle": _baffle,
    "slot": _slot, "duct": _duct, "leak": _leak, "exchange": _exchange,
}  # fmt: skip
