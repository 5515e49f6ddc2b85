"""Where compartments and branches lie in the view, in metres as the case gives them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from math import dist, hypot
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
EXTENT = {"front": (0, 1), "side": (2, 1), "plan": (0, 2)}  # of width, height, depth


class Edge(NamedTuple):
    """A straight run of wall with the direction that leads out of (or across) it."""

    start: Point
    end: Point
    normal: Point

    @property
    def length(self) -> float:
        return dist(self.start, self.end)

    @property
    def turned(self) -> Edge:
        return self._replace(normal=(-self.normal[0], -self.normal[1]))

    def at(self, share: float) -> Point:
        """The point at a share of its length."""
        (x0, y0), (x1, y1) = self.start, self.end
        return x0 + (x1 - x0) * share, y0 + (y1 - y0) * share

    def share(self, point: Point) -> float:
        """Where along the edge a point lies, held to 0 ... 1."""
        axis = 0 if self.normal[0] == 0 else 1
        span = self.end[axis] - self.start[axis]
        return min(max((point[axis] - self.start[axis]) / span, 0.0), 1.0)

    def distance(self, point: Point) -> float:
        """From a point to the nearest point of the edge."""
        return dist(point, self.at(self.share(point)))


class Spot(NamedTuple):
    """Where a branch is drawn."""

    point: Point
    normal: Point  # in the view, from `from` to `to`
    edge: Edge | None = None  # the wall it sits in
    framed: bool = False  # off every edge: in the front, the back or an unknown place
    facing: str = ""  # from `from` to `to` runs "towards" the viewer or "away"
    through: bool = False  # into or out of the page, nobody knows which
    ties: tuple[tuple[Point, ...], ...] = ()  # thin lines to what it joins
    loose: Edge | None = None  # the line along which it may stand anywhere


class Ends(NamedTuple):
    """A branch, or an exchange, between two places."""

    path: str
    item: Any
    from_: str
    to: str
    through: bool = False  # its compartments lie one over the other in the view


@dataclass(frozen=True)
class MapPlaces:
    """The compartments of a case in the view, and what joins them."""

    case: Enclosure

    @cached_property
    def given(self) -> dict[str, Rect]:
        outlines = {name: item.outline for name, item in self.case.compartments.items()}
        return {name: Rect(x, y, x + wide, y + tall) for name, given in outlines.items()
                if given is not None for x, y, wide, tall in [given]}  # fmt: skip

    @cached_property
    def shell(self) -> Rect | None:
        """The size of the enclosure in the view, where it goes beyond the outlines."""
        size = self.case.body.size
        if size is None or not self.given:
            return None
        across, along = (size[axis] for axis in EXTENT[self.case.body.view])
        shell, inner = Rect(0.0, 0.0, across, along), around(self.given.values())
        larger = across * along > 1.02 * inner.wide * inner.tall
        return shell if larger and shell.grown(_near(inner)).holds(inner) else None

    @cached_property
    def outlines(self) -> dict[str, Rect]:
        """Those of all compartments: without one beside the others, or in a column."""
        rest = [name for name in self.case.compartments if name not in self.given]
        return self.given | dict(_put(rest, self._whole(self.given) if self.given else None))

    @cached_property
    def whole(self) -> Rect:
        """Around all outlines, and the enclosure's own where it is larger."""
        return self._whole(self.outlines)

    def _whole(self, outlines: Mapping[str, Rect]) -> Rect:
        return around([*outlines.values(), *([] if self.shell is None else [self.shell])])

    @cached_property
    def near(self) -> float:
        """How far from a wall still counts as in it."""
        return _near(self.whole)

    @cached_property
    def ends(self) -> dict[str, Ends]:
        """Branches with ends of their own, then exchanges, by path."""
        joined = [(path, item, str(item.from_), str(item.to))
                  for path, item in self.case.branches.items() if host(item) is None]  # fmt: skip
        joined += [(f"exchange.{name}", item, *item.between)
                   for name, item in self.case.things["exchange"].items()]  # fmt: skip
        return {one[0]: Ends(*one, self._through(*one[2:])) for one in joined}

    def _through(self, from_: str, to: str) -> bool:
        """Whether two compartments cover each other by more than half of the smaller one."""
        if from_ not in self.outlines or to not in self.outlines:
            return False
        a, b = self.outlines[from_], self.outlines[to]
        wide, tall = min(a.x1, b.x1) - max(a.x0, b.x0), min(a.y1, b.y1) - max(a.y0, b.y0)
        return a.meets(b) and wide * tall > 0.5 * min(a.wide * a.tall, b.wide * b.tall)

    def inner(self, edge: Edge, name: str) -> bool:
        """Whether the middle of a compartment's edge is also in or at another compartment."""
        others = (rect for key, rect in self.outlines.items() if key != name)
        return any(rect.grown(self.near / 4).distance(edge.at(0.5)) == 0 for rect in others)


def _near(rect: Rect) -> float:
    return SNAP * hypot(rect.wide, rect.tall)


def _put(names: Sequence[str], beside: Rect | None) -> Iterator[tuple[str, Rect]]:
    """A column of boxes, the first at the bottom; apart from each other beside a drawing."""
    (wide, tall), left, low, share = AUTO, 0.0, 0.0, 1.0
    if beside is not None:
        wide, share = max(0.6 * beside.wide, 0.45 * beside.tall), 0.8
        tall = max(min(beside.tall / max(len(names), 1), 0.8 * wide), 0.5 * wide)
        left, low = beside.x1 + 0.5 * wide, beside.y0
    for row, name in enumerate(names):
        yield name, Rect(left, low + row * tall, left + wide, low + (row + share) * tall)


def edges(rect: Rect) -> dict[str, Edge]:
    """The four edges of a rectangle with their outward directions."""
    sw, se, ne, nw = rect.corners
    return {"left": Edge(sw, nw, FRONT["left"]), "right": Edge(se, ne, FRONT["right"]),
            "top": Edge(nw, ne, FRONT["up"]), "bottom": Edge(sw, se, FRONT["down"])}  # fmt: skip


def shared(a: Rect, b: Rect, near: float) -> Edge | None:
    """The run of wall that two rectangles have in common, its direction from a to b."""
    for across, along in ((0, 1), (1, 0)):
        low, high = max(a[along], b[along]), min(a[along + 2], b[along + 2])
        for own, other, side in ((a[across + 2], b[across], 1.0), (a[across], b[across + 2], -1.0)):
            if high - low > near and abs(own - other) <= near:
                if across == 0:
                    return Edge((own, low), (own, high), (side, 0.0))
                return Edge((low, own), (high, own), (0.0, side))
    return None


# --- branches ----------------------------------------------------------------------------------


def host(item: Any) -> str | None:
    """The branch in whose air an element stands in series; None where it has its own."""
    on: str | None = getattr(item, "on", None)
    return on


def given_point(item: Any) -> Point | None:
    """Where a branch is: its `at`, or half way along its route; None where nothing is given."""
    route = getattr(item, "route", None)
    if not route:
        at = getattr(item, "at", None)
        return None if at is None else (at[0], at[1])
    left = sum(dist(a, b) for a, b in pairwise(route)) / 2
    for a, b in pairwise(route):
        if left <= (step := dist(a, b)) and step > 0:
            return Edge(a, b, (0.0, 0.0)).at(left / step)
        left -= step
    return route[-1][0], route[-1][1]


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
    return Spot(point, normal, None, ends.item.KIND != "slot", facing, ends.through)


def direction(case: Enclosure, item: Any) -> tuple[str, Point | None]:
    """Whether a branch points out of or into the page, else its direction in the view."""
    word, view = getattr(item, "direction", None) or "", case.body.view
    if not word or word in IN_VIEW[view]:
        return "", IN_VIEW[view].get(word)
    return ("towards" if word == TOWARDS_VIEWER[view] else "away"), None


def _walls(places: MapPlaces, ends: Ends) -> Iterator[Edge]:
    """The walls a branch may sit in, their direction from `from` to `to`."""
    a, b = places.outlines.get(ends.from_), places.outlines.get(ends.to)
    if a is not None and b is not None:
        edge = shared(a, b, places.near)
        yield from [] if edge is None else [edge]
    elif a is not None:
        yield from edges(a).values()
    elif b is not None:
        yield from (edge.turned for edge in edges(b).values())


def across(places: MapPlaces, ends: Ends, point: Point) -> Point:
    """From `from` to `to` along the longer way, upright or level."""
    (xa, ya), (xb, yb) = (places.outlines[name].centre if name in places.outlines else point
                          for name in (ends.from_, ends.to))  # fmt: skip
    return _unit((xb - xa, yb - ya))


def _unit(by: Point) -> Point:
    if abs(by[0]) > abs(by[1]):
        return (1.0 if by[0] > 0 else -1.0), 0.0
    return 0.0, (-1.0 if by[1] < 0 else 1.0)
