"""Where compartments and branches lie in the view, in metres as the case gives them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise
from typing import Any, NamedTuple

from flownet.enclosure.enclosure import Enclosure
from flownet.pictures.scene.scene import Point, Rect, around

SNAP = 0.015  # a mark this near to a wall sits in it; of the diagonal of the drawing
AUTO = (0.30, 0.17)  # size of a compartment without outline where none has one

FRONT = {"up": (0.0, 1.0), "down": (0.0, -1.0), "left": (-1.0, 0.0), "right": (1.0, 0.0)}
SIDE = {"up": (0.0, 1.0), "down": (0.0, -1.0), "front": (-1.0, 0.0), "back": (1.0, 0.0)}
PLAN = {"left": (-1.0, 0.0), "right": (1.0, 0.0), "front": (0.0, -1.0), "back": (0.0, 1.0)}
IN_VIEW: Mapping[str, Mapping[str, Point]] = {"front": FRONT, "side": SIDE, "plan": PLAN}
TOWARDS_VIEWER = {"front": "front", "side": "right", "plan": "up"}


class Outline(NamedTuple):
    """A compartment's outline; `given` false: put where there was room, not to scale."""

    rect: Rect
    given: bool


class Edge(NamedTuple):
    """A straight run of wall with the direction that leads out of (or across) it."""

    start: Point
    end: Point
    normal: Point

    @property
    def length(self) -> float:
        """From start to end."""
        return abs(self.end[0] - self.start[0]) + abs(self.end[1] - self.start[1])

    def at(self, share: float) -> Point:
        """The point at a share of its length."""
        return (
            self.start[0] + (self.end[0] - self.start[0]) * share,
            self.start[1] + (self.end[1] - self.start[1]) * share,
        )

    def share(self, point: Point) -> float:
        """Where along the edge a point lies, held to 0 ... 1."""
        axis = 0 if self.normal[0] == 0 else 1
        span = self.end[axis] - self.start[axis]
        return min(max((point[axis] - self.start[axis]) / span, 0.0), 1.0)

    def distance(self, point: Point) -> float:
        """From a point to the nearest point of the edge."""
        near = self.at(self.share(point))
        return float(((point[0] - near[0]) ** 2 + (point[1] - near[1]) ** 2) ** 0.5)


class Spot(NamedTuple):
    """Where a branch is drawn."""

    point: Point
    normal: Point  # in the view, from `from` to `to`
    edge: Edge | None = None  # the wall it sits in
    framed: bool = False  # off every edge: in the front, the back or an unknown place
    facing: str = ""  # from `from` to `to` runs "towards" the viewer or "away"
    through: bool = False  # into or out of the page, nobody knows which
    ties: tuple[tuple[Point, ...], ...] = ()  # thin lines to what it joins


# --- compartments ------------------------------------------------------------------------------


def outlines(case: Enclosure) -> dict[str, Outline]:
    """Every compartment's outline; those without are put beside the others, or in a column."""
    placed = {
        name: Outline(Rect(x, y, x + w, y + h), True)
        for name, item in case.compartments.items()
        if item.outline is not None
        for x, y, w, h in [item.outline]
    }
    rest = [name for name in case.compartments if name not in placed]
    if not placed:
        return dict(_put(rest, None))
    whole = MapPlaces(case, placed).whole
    return placed | dict(_put(rest, whole))


def _put(names: Sequence[str], beside: Rect | None) -> Iterator[tuple[str, Outline]]:
    """A column of boxes, the first at the bottom; apart from each other beside a drawing."""
    if beside is None:
        wide, tall = AUTO
        for row, name in enumerate(names):
            yield name, Outline(Rect(0.0, row * tall, wide, (row + 1) * tall), False)
        return
    wide = max(0.6 * beside.wide, 0.45 * beside.tall)
    tall = max(min(beside.tall / max(len(names), 1), 0.8 * wide), 0.5 * wide)
    left = beside.x1 + 0.5 * wide
    for row, name in enumerate(names):
        low = beside.y0 + row * tall
        yield name, Outline(Rect(left, low, left + wide, low + 0.8 * tall), False)


def edges(rect: Rect) -> dict[str, Edge]:
    """The four edges of a rectangle with their outward directions."""
    sw, se, ne, nw = rect.corners
    return {
        "left": Edge(sw, nw, (-1.0, 0.0)),
        "right": Edge(se, ne, (1.0, 0.0)),
        "top": Edge(nw, ne, (0.0, 1.0)),
        "bottom": Edge(sw, se, (0.0, -1.0)),
    }


def shared(a: Rect, b: Rect, near: float) -> Edge | None:
    """The run of wall that two rectangles have in common, its direction from a to b."""
    low, high = max(a.y0, b.y0), min(a.y1, b.y1)
    left, right = max(a.x0, b.x0), min(a.x1, b.x1)
    if high - low > near:
        for xa, xb, side in ((a.x1, b.x0, 1.0), (a.x0, b.x1, -1.0)):
            if abs(xa - xb) <= near:
                return Edge((xa, low), (xa, high), (side, 0.0))
    if right - left > near:
        for ya, yb, side in ((a.y1, b.y0, 1.0), (a.y0, b.y1, -1.0)):
            if abs(ya - yb) <= near:
                return Edge((left, ya), (right, ya), (0.0, side))
    return None


# --- branches ----------------------------------------------------------------------------------


class Ends(NamedTuple):
    """A branch, or an exchange, between two places."""

    path: str
    item: Any
    from_: str
    to: str
    through: bool = False  # its compartments lie one over the other in the view


class MapPlaces(NamedTuple):
    """The drawing's geometry, as far as the spots of branches need it."""

    case: Enclosure
    outlines: Mapping[str, Outline]

    @property
    def shell(self) -> Rect | None:
        """The size of the enclosure in the view, where it goes beyond the outlines."""
        size = self.case.body.size
        if size is None or not any(o.given for o in self.outlines.values()):
            return None
        wide, tall, deep = size
        across, along = {"front": (wide, tall), "side": (deep, tall), "plan": (wide, deep)}[
            self.case.body.view
        ]
        shell = Rect(0.0, 0.0, across, along)
        inner = around(o.rect for o in self.outlines.values() if o.given)
        larger = across * along > 1.02 * inner.wide * inner.tall
        return shell if larger and shell.grown(self.near_of(inner)).holds(inner) else None

    @property
    def whole(self) -> Rect:
        """Around all outlines, and the enclosure's own where it is larger."""
        rects = [o.rect for o in self.outlines.values()]
        return around([*rects, self.shell] if self.shell is not None else rects)

    @property
    def near(self) -> float:
        """How far from a wall still counts as in it."""
        return self.near_of(self.whole)

    @staticmethod
    def near_of(rect: Rect) -> float:
        """The same for a drawing of this extent."""
        return SNAP * float((rect.wide**2 + rect.tall**2) ** 0.5)

    def through(self, from_: str, to: str) -> bool:
        """Whether two compartments cover each other by more than half of the smaller one."""
        a, b = self.outlines.get(from_), self.outlines.get(to)
        if a is None or b is None or not a.rect.meets(b.rect):
            return False
        wide = min(a.rect.x1, b.rect.x1) - max(a.rect.x0, b.rect.x0)
        tall = min(a.rect.y1, b.rect.y1) - max(a.rect.y0, b.rect.y0)
        smaller = min(a.rect.wide * a.rect.tall, b.rect.wide * b.rect.tall)
        return wide * tall > 0.5 * smaller

    def inner(self, edge: Edge, name: str) -> bool:
        """Whether the middle of a compartment's edge is also in or at another compartment."""
        middle = edge.at(0.5)
        return any(
            other.rect.grown(self.near / 4).distance(middle) == 0
            for key, other in self.outlines.items()
            if key != name
        )


def host(item: Any) -> str | None:
    """The branch in whose air an element stands in series; None where it has its own."""
    on: str | None = getattr(item, "on", None)
    return on


def joined(case: Enclosure) -> list[Ends]:
    """Branches with ends of their own, then exchanges."""
    found = [
        Ends(path, item, str(item.from_), str(item.to))
        for path, item in case.branches.items()
        if host(item) is None
    ]
    for name, item in case.things["exchange"].items():
        found.append(Ends(f"exchange.{name}", item, *item.between))
    return found


def given_point(item: Any) -> Point | None:
    route = getattr(item, "route", None)
    if route:
        return _middle(route)
    at = getattr(item, "at", None)
    return (at[0], at[1]) if at is not None else None


def _middle(route: Sequence[Point]) -> Point:
    """The point half way along a route."""
    steps = [((b[0] - a[0]) ** 2 + (b[1] - a[1]) ** 2) ** 0.5 for a, b in pairwise(route)]
    left = sum(steps) / 2
    for (a, b), step in zip(pairwise(route), steps, strict=True):
        if left <= step and step > 0:
            share = left / step
            return (a[0] + (b[0] - a[0]) * share, a[1] + (b[1] - a[1]) * share)
        left -= step
    return route[-1]


def given_spot(places: MapPlaces, ends: Ends, point: Point) -> Spot:
    """A spot at a given place: in the wall it is near to, else framed."""
    facing, flat = direction(places.case, ends.item)
    walls = list(_walls(places, ends)) if not facing else []
    best = min(walls, key=lambda edge: edge.distance(point), default=None)
    route = getattr(ends.item, "route", None)
    if route:
        (x0, y0), (x1, y1) = route[-2:]
        return Spot(point, _unit((x1 - x0, y1 - y0)))
    if best is not None and best.distance(point) <= places.near:
        return Spot(best.at(best.share(point)), best.normal, best)
    normal = flat or across(places, ends, point)
    through = places.through(ends.from_, ends.to)
    return Spot(point, normal, None, ends.item.KIND != "slot", facing, through)


def direction(case: Enclosure, item: Any) -> tuple[str, Point | None]:
    """Whether a branch points out of or into the page, else its direction in the view."""
    word = getattr(item, "direction", None)
    view = case.body.view
    if word is None:
        return "", None
    if word in IN_VIEW[view]:
        return "", IN_VIEW[view][word]
    return ("towards" if word == TOWARDS_VIEWER[view] else "away"), None


def _walls(places: MapPlaces, ends: Ends) -> Iterator[Edge]:
    """The walls a branch may sit in, their direction from `from` to `to`."""
    a, b = places.outlines.get(ends.from_), places.outlines.get(ends.to)
    if a is not None and b is not None:
        edge = shared(a.rect, b.rect, places.near)
        if edge is not None:
            yield edge
    elif a is not None:
        yield from edges(a.rect).values()
    elif b is not None:
        for edge in edges(b.rect).values():
            yield edge._replace(normal=(-edge.normal[0], -edge.normal[1]))


def across(places: MapPlaces, ends: Ends, point: Point) -> Point:
    """From `from` to `to` along the longer way, upright or level."""
    a, b = places.outlines.get(ends.from_), places.outlines.get(ends.to)
    start = a.rect.centre if a is not None else point
    stop = b.rect.centre if b is not None else point
    return _unit((stop[0] - start[0], stop[1] - start[1]))


def _unit(by: Point) -> Point:
    if abs(by[0]) > abs(by[1]):
        return (1.0 if by[0] > 0 else -1.0), 0.0
    return 0.0, (-1.0 if by[1] < 0 else 1.0)
