"""Walls on the map: two thin arrows across the wall line, with the heat outside."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from flownet.enclosure.heat import Wall
from flownet.pictures.caption import known
from flownet.pictures.map.geometry import Edge, edges, shared
from flownet.pictures.map.layout import MapLayout
from flownet.pictures.map.room import COLUMN, JOG, Label, Room
from flownet.pictures.scene import look, scene
from flownet.pictures.scene.scene import Drawing, Layer, Letters, Point, Rect
from flownet.schema import quantities as q

LEAST_HEAT = 0.01  # of the heat: what carries less is in the sum alone
HALF_LONG, HALF_APART, ARROW_HEAD = 8.0, 2.4, 2.6  # of two arrows; the size of their heads
SIDES = {  # faces as they are seen in a view, short leaders first
    "front": {"left": "left", "right": "right", "top": "top", "bottom": "bottom"},
    "side": {"front": "left", "back": "right", "top": "top", "bottom": "bottom"},
    "plan": {"left": "left", "right": "right", "back": "top", "front": "bottom"},
}
ALONG_WALL = (0.5, 0.4, 0.6, 0.3, 0.7, 0.2, 0.8, 0.12, 0.88)  # where along a wall, the best first
LEVEL = (0.06, 0.12, 0.2, 0.3, 0.4, 0.5)
LIFTS = (6.0, 15.0, 24.0)  # of leaders over a level wall line
DOT_BELOW = 60.0  # a compartment that is narrower may have a dot in its middle instead of a plate


class WallMark(NamedTuple):
    """A place where a wall can be marked: heat goes the way of `normal`."""

    at: Point
    normal: Point
    side: str  # of its label
    lift: float = 0.0  # of its leader over the wall line, where that lies level

    @property
    def rect(self) -> Rect:
        (x, y), (nx, ny), beside = self.at, self.normal, HALF_APART + ARROW_HEAD
        wide, tall = HALF_LONG * abs(nx) + beside * abs(ny), HALF_LONG * abs(ny) + beside * abs(nx)
        return Rect(x - wide, y - tall, x + wide, y + tall).grown(1.0)

    @property
    def anchor(self) -> Point:
        """Where its leader ends: in front of the arrows, or beside them above the wall line."""
        x = self.rect.x0 if self.side == "left" else self.rect.x1
        return (x, self.at[1]) if self.normal[0] else (x, self.at[1] + LIFTS[0])

    @property
    def level(self) -> float:
        return self.at[1] + self.lift

    def leader(self, body: Rect) -> list[Rect]:
        """What its leader covers up to the border."""
        return scene.runs(Label((), self.anchor, self.level, self.side).course(body))


def put_walls(drawing: Drawing, layout: MapLayout, room: Room) -> list[Label]:
    """Mark the walls that carry a share of the heat worth a word; their labels.

    A wall without a free place along its line is left to the sum in the head line.
    """
    solution, labels = layout.solution, []
    small = [rect for rect in layout.rects.values() if min(rect.wide, rect.tall) < DOT_BELOW]
    dots = Room(layout.body, [scene.square(rect.centre, JOG) for rect in small])
    for name, wall in solution.case.walls.items():
        heat = solution.walls[name].heat
        if not (known(heat) and abs(heat) > LEAST_HEAT * abs(solution.totals.heat)):
            continue
        tries = [one for one in _places(layout, wall, heat)
                 if dots.free(one.rect.grown(JOG)) and room.free(one.rect)]  # fmt: skip
        clear = (one for one in tries if room.apart(one.level, one.side)
                 and all(map(room.free, one.leader(room.body))))  # fmt: skip
        if (place := next(clear, tries[0] if tries else None)) is None:
            continue
        _draw(drawing, place)
        room.add(place.rect, *place.leader(layout.body))
        lines = [*scene.written(wall.path, look.BODY, True, COLUMN),
                 Letters(0, 0, _told(layout, wall, heat), look.BODY)]  # fmt: skip
        room.heights[place.side] += sum(look.LINE_SPACING * words.size for words in lines)
        off = place.level - place.anchor[1]
        labels.append(room.label(lines, place.anchor, place.side, 1.0, off))
    return labels


def _told(layout: MapLayout, wall: Wall, heat: float) -> str:
    """`53.1 W out`, `20.0 W to lower`, `13.0 W in from shade`."""
    amount, name = layout.units.text(q.POWER, abs(heat)), wall.to.partition(".")[2]
    if wall.to in layout.rects:
        return f"{amount} to {wall.to if heat > 0 else wall.from_}"
    way, end = ("out", f" to {name}") if heat > 0 else ("in", f" from {name}")
    return f"{amount} {way}{end if name else ''}"


# --- where a wall can be marked ------------------------------------------------------------------


def _places(layout: MapLayout, wall: Wall, heat: float) -> Iterator[WallMark]:
    inside, other = layout.rects[wall.from_], layout.rects.get(wall.to)
    beside = [rect.grown(1.0) for name, rect in layout.rects.items() if name != wall.from_]
    way = 1.0 if heat > 0 else -1.0
    for edge in _edges(layout, wall, inside, other):
        normal = (edge.normal[0] * way, edge.normal[1] * way)
        for share, side in _along(edge, layout.body):
            at = edge.at(share)
            if other is not None or all(rect.distance(at) > 0 for rect in beside):
                lifts = (0.0,) if edge.normal[0] else LIFTS
                yield from (WallMark(at, normal, side, lift) for lift in lifts)


def _edges(layout: MapLayout, wall: Wall, inside: Rect, other: Rect | None) -> Iterator[Edge]:
    """The wall lines of a wall in the view: those of its faces, else any it may stand for."""
    if other is not None:
        common = shared(inside, other, layout.places.near * layout.scale)
        yield from [] if common is None else [common]
        return
    found = edges(inside)
    yield from (found[side] for face, side in SIDES[layout.solution.case.body.view].items()
                if face in wall.faces or not wall.faces)  # fmt: skip


def _along(edge: Edge, body: Rect) -> Iterator[tuple[float, str]]:
    """Shares of its length with the side of the label, the best first."""
    if edge.normal[0]:
        side = "left" if edge.start[0] < body.centre[0] else "right"
        yield from ((share, side) for share in ALONG_WALL)
        return
    for share in LEVEL:
        yield from ((share, "left"), (1.0 - share, "right"))


# --- the mark ------------------------------------------------------------------------------------


def _draw(drawing: Drawing, place: WallMark) -> None:
    (x, y), (nx, ny) = place.at, place.normal
    back, side = HALF_LONG - ARROW_HEAD, ARROW_HEAD * 0.7
    for beside in (-HALF_APART, HALF_APART):
        shaft, head = ([
            (x + nx * along + abs(ny) * (beside + off), y + ny * along + abs(nx) * (beside + off))
            for along, off in local
        ] for local in (((-HALF_LONG, 0.0), (HALF_LONG, 0.0)),
                        ((back, -side), (HALF_LONG, 0.0), (back, side))))  # fmt: skip
        drawing.add(
            Layer.ARROW,
            scene.line(shaft, look.WHITE, look.FINE + 1.6),
            scene.line(shaft, look.QUIET, look.FINE),
            scene.line(head, look.QUIET, look.FINE),
        )
