"""The mark of each branch: drawn to size along its wall, in points on the page."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from typing import Any, NamedTuple

from matplotlib.transforms import Affine2D, ScaledTranslation

from flownet.pictures.map.geometry import Spot
from flownet.pictures.scene import look, scene
from flownet.pictures.scene.scene import Item, Letters, Point, Rect, Shape, bounds, line

# half the thickness across the wall, and the least length along it that can be read
DEEP = {
    "opening": 3.0, "vent": 3.5, "filter": 4.0, "fan": 7.0, "baffle": look.PLATE / 2,
    "slot": 8.0, "duct": 9.0, "leak": 2.2, "exchange": 11.0,
}  # fmt: skip
LEAST_SIZES = {
    "opening": 10.0, "vent": 16.0, "filter": 16.0, "fan": 30.0, "baffle": 20.0, "slot": 6.0,
    "duct": 8.0, "leak": 13.0, "exchange": 22.0,
}  # fmt: skip
LOADED_DEEPER = 2.0  # what a second zigzag adds to half the thickness of a filter
# a circle in 24 steps, starting at the right
_CIRCLE = tuple((math.cos(math.tau * k / 24), math.sin(math.tau * k / 24)) for k in range(24))


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

    def place(self, s: float, t: float) -> Point:
        """A point `s` along the wall, to the right or upward, and `t` across it."""
        nx, ny = self.normal
        ax, ay = (-ny, nx) if nx and ny else (abs(ny), abs(nx))  # a slanting line in a network
        return self.at[0] + ax * s + nx * t, self.at[1] + ay * s + ny * t

    def box(self, half: float, low: float, high: float) -> tuple[Point, ...]:
        """An upright rectangle in the mark's own directions."""
        return tuple(self.place(s, t) for s, t in ((-half, low), (half, low), (half, high),
                                                   (-half, high)))  # fmt: skip

    def bar(self, s: float, reach: float, width: float = look.BOLD) -> Shape:
        return line([self.place(s, -reach), self.place(s, reach)], width=width)

    def level(self, low: float, high: float, *look_: Any) -> Shape:
        return line([self.place(low, 0), self.place(high, 0)], *look_)

    @property
    def body(self) -> tuple[Point, ...]:
        return self.box(self.half, -self.deep, self.deep)

    @property
    def lettered(self) -> bool:
        return self.kind == "fan" and self.item.mounted == "reversed" and self.letter

    @property
    def letter_rect(self) -> Rect:
        """Where R stands: beyond the end of the capsule."""
        x, y = self.place(self.half + 7.0, 0.0)
        return Rect(x - 4.2, y - 4.8, x + 4.2, y + 4.8)

    @property
    def rect(self) -> Rect:
        """What it covers, a plate's full reach left out."""
        own = self.box(self.half, -self.deep - self.before, self.deep + self.after)
        letter = self.letter_rect.corners if self.lettered else ()
        return bounds([*own, *letter]).grown(3.0 if self.spot.framed else 1.0)


def shapes(mark: Mark) -> Iterator[Item]:
    """Everything the mark consists of, lowest first; blanked, all of it is ink."""
    if mark.spot.framed:
        frame = mark._replace(letter=False).rect.grown(0.5)
        yield Shape(frame.corners, look.GROUND, look.QUIET, look.HAIR)
    if getattr(mark.item, "state", "") != "blanked":
        yield from DRAWN[mark.kind](mark)
    elif mark.kind == "duct":
        yield line(_course(mark), width=2 * mark.half)
    else:
        fan = mark.kind == "fan"
        yield Shape(_capsule(mark) if fan else mark.body, look.INK, look.INK,
                    look.LINE if fan else look.FINE)  # fmt: skip


def stamp(
    ax: Any, kind: str, item: Any, at: Point, half: float, *, ahead: bool = True,
    still: bool = False, order: int = 6,
) -> None:  # fmt: skip
    """A mark on a chart, at values of its axes, `half` points up and down; its `to` to the right,
    or not."""
    normal = (1.0 if ahead else -1.0, 0.0)
    mark = Mark("", kind, item, (0.0, 0.0), normal, half, min(DEEP[kind], half, 5.0),
                Spot((0.0, 0.0), normal), letter=False, still=still)  # fmt: skip
    place = Affine2D().scale(1 / scene.POINTS_AN_INCH) + ax.figure.dpi_scale_trans
    for item_ in shapes(mark):
        scene.put(ax, item_, 1.0, order, place + ScaledTranslation(*at, ax.transData))


def _gap(mark: Mark) -> Iterator[Item]:
    """A hole in the wall with two jambs."""
    yield Shape(mark.box(mark.half, -2.2, 2.2), look.WHITE)
    for s in (-mark.half, mark.half):
        yield mark.bar(s, mark.deep + 1)


def _vent(mark: Mark) -> Iterator[Item]:
    yield from _gap(mark)
    bars = max(int(2 * mark.half / 5.0), 2)
    for k in range(1, bars):
        yield mark.bar(mark.half * (2 * k / bars - 1), 2.4, look.LINE)


def _filter(mark: Mark) -> Iterator[Item]:
    """A zigzag, two where it has loaded."""
    yield Shape(mark.body, look.WHITE)
    yield from _gap(mark)
    shifts = (-LOADED_DEEPER - 0.6, LOADED_DEEPER + 0.6) if mark.item.fouling > 1 else (0.0,)
    teeth = max(2 * int(mark.half / 3.5), 4)
    for shift in () if mark.item.state == "removed" else shifts:
        yield line((mark.place(mark.half * (2 * k / teeth - 1), shift + (2.2 if k % 2 else -2.2))
                    for k in range(teeth + 1)), width=1.0)  # fmt: skip


def _fan(mark: Mark) -> Iterator[Item]:
    """A capsule with wedges the way it blows; stopped: dashed with a bar."""
    if mark.still or not mark.item.running:
        yield Shape(_capsule(mark), look.WHITE, look.INK, look.LINE, (3.0, 2.0))
        yield mark.level(-0.5 * mark.half, 0.5 * mark.half, look.INK, 3.0)
    else:
        yield Shape(_capsule(mark), look.WHITE, look.INK, look.BOLD)
        yield from _wedges(mark, -1.0 if mark.item.mounted == "reversed" else 1.0)
    if mark.lettered:
        x, y = mark.letter_rect.centre
        yield Shape(mark.letter_rect.corners, look.WHITE, look.INK, look.HAIR)
        yield Letters(x, y - 2.5, "R", look.SMALL, True, align="center")


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
    (x, y), by = at, size * 0.7
    yield Shape(_round(at, size), look.WHITE, look.INK, look.FINE)
    if towards:
        yield Shape(_round(at, size * 0.35), look.INK)
    else:
        yield line([(x - by, y - by), (x + by, y + by)])
        yield line([(x - by, y + by), (x + by, y - by)])


def _round(at: Point, size: float) -> tuple[Point, ...]:
    return tuple((at[0] + size * x, at[1] + size * y) for x, y in _CIRCLE)


def _capsule(mark: Mark) -> tuple[Point, ...]:
    straight, deep = max(mark.half - mark.deep, 0.0), mark.deep
    right = sorted((p for p in _CIRCLE if p[0] > -1e-9), key=lambda p: p[1])
    return (*(mark.place(straight + deep * x, deep * y) for x, y in right),
            *(mark.place(-straight - deep * x, deep * y) for x, y in reversed(right)))  # fmt: skip


def _baffle(mark: Mark) -> Iterator[Item]:
    """A thick bar with its open share as a gap."""
    low, high = -mark.wall[0], mark.wall[1]
    for start, stop in ((low, -mark.half), (mark.half, high)) if mark.item.present else ():
        if stop - start > 0.5:
            yield mark.level(start, stop, look.INK, look.PLATE)
    yield mark.level(-mark.half, mark.half, look.WHITE, look.PLATE)
    if not mark.item.present:
        yield mark.level(low, high, look.QUIET, look.HAIR, (2.0, 2.0))
        yield from (mark.bar(s, 4) for s in (-mark.half, mark.half))


def _slot(mark: Mark) -> Iterator[Item]:
    """A light rectangle with fine lines along the flow; filler crossed, empty none."""
    body, state = mark.body, mark.item.state
    yield Shape(body, look.WHITE)
    for band, fill in enumerate(mark.fills):
        low, high = (2 * mark.deep * k / len(mark.fills) - mark.deep for k in (band, band + 1))
        yield Shape(mark.box(mark.half, low, high), fill, fill, look.HAIR)
    yield Shape(body, None, look.INK, look.FINE, (2.0, 1.6) if state == "empty" else ())
    if mark.spot.facing:
        size = min(mark.half, mark.deep, 4.0) * 0.8
        yield from ring(mark.at, size, mark.spot.facing == "towards")
    elif state == "filler":
        yield line(body[::2])
        yield line(body[1::2])
    elif state == "fitted":
        count = max(min(int(2 * mark.half / 3.0), 5), 2)
        for k in range(1, count):
            fine = mark.bar(mark.half * (2 * k / count - 1), mark.deep - 1, look.HAIR)
            yield fine._replace(edge=look.QUIET)


def _duct(mark: Mark) -> Iterator[Item]:
    yield line(_course(mark), look.INK, 2 * mark.half + 2 * look.FINE)
    yield line(_course(mark), look.WHITE, 2 * mark.half)


def _course(mark: Mark) -> tuple[Point, ...]:
    return mark.route or (mark.place(0, -mark.deep), mark.place(0, mark.deep))


def _leak(mark: Mark) -> Iterator[Item]:
    for s in (-0.7 * mark.half, 0.0, 0.7 * mark.half):
        yield Shape(_round(mark.place(s, 0), 2.2), look.INK, look.WHITE, look.FINE)


def _exchange(mark: Mark) -> Iterator[Item]:
    """Two half arrows, one each way."""
    yield Shape(mark.box(mark.half, -2.2, 2.2), look.WHITE)
    yield from (mark.bar(s, 4) for s in (-mark.half, mark.half))
    for way in (1.0, -1.0):
        s, tip = -way * 0.35 * mark.half, way * mark.deep
        barb = mark.place(s - way * 4.0, tip - way * 6.0)
        points = [mark.place(s, -tip), mark.place(s, tip), barb]
        yield line(points, look.WHITE, look.LINE + 2.4)
        yield line(points, look.INK, look.LINE)


DRAWN: dict[str, Callable[[Mark], Iterator[Item]]] = {
    "opening": _gap, "vent": _vent, "filter": _filter, "fan": _fan, "baffle": _baffle,
    "slot": _slot, "duct": _duct, "leak": _leak, "exchange": _exchange,
}  # fmt: skip
