"""Walls on the map: two thin arrows across the wall line, with the heat outside."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from flownet.enclosure.heat import Wall
from flownet.pictures.map.geometry import Edge, edges, shared
from flownet.pictures.map.layout import MapLayout
from flownet.pictures.map.room import Room
from flownet.pictures.scene import look
from flownet.pictures.scene import words as scene_words
from flownet.pictures.scene.labels import COLUMN, JOG, Label
from flownet.pictures.scene.scene import Drawing, Layer, Point, Rect, Words, line, runs, written
from flownet.schema import quantities as q

LEAST = 0.01  # of the heat: what carries less is in the sum alone
LONG, BESIDE, HEAD = 8.0, 2.4, 2.6  # half the length, half the distance, size of the arrow heads
SIDES = {  # faces as they are seen in a view
    "front": {"left": "left", "right": "right", "top": "top", "bottom": "bottom"},
    "side": {"front": "left", "back": "right", "top": "top", "bottom": "bottom"},
    "plan": {"left": "left", "right": "right", "back": "top", "front": "bottom"},
}
ORDER = ("left", "right", "top", "bottom")  # short leaders first
UPRIGHT = (0.5, 0.4, 0.6, 0.3, 0.7, 0.2, 0.8, 0.12, 0.88)  # where along a wall, the best first
LEVEL = (0.06, 0.12, 0.2, 0.3, 0.4, 0.5)
LIFTS = (6.0, 15.0, 24.0)  # of leaders over a level wall line
SMALL = 60.0  # a compartment that is narrower may have a dot in its middle instead of a plate


class WallMark(NamedTuple):
    """A place where a wall can be marked: heat goes the way of `normal`."""

    at: Point
    normal: Point
    side: str  # of its label
    lift: float = 0.0  # of its leader over the wall line, where that lies level

    @property
    def rect(self) -> Rect:
        """What the arrows cover."""
        (x, y), (nx, ny) = self.at, self.normal
        across = (BESIDE + HEAD) * abs(ny), (BESIDE + HEAD) * abs(nx)
        wide, tall = LONG * abs(nx) + across[0], LONG * abs(ny) + across[1]
        return Rect(x - wide, y - tall, x + wide, y + tall).grown(1.0)

    @property
    def anchor(self) -> Point:
        """Where its leader ends: in front of the arrows, or beside them above the wall line."""
        sign = -1.0 if self.side == "left" else 1.0
        rect = self.rect
        x = rect.x0 if sign < 0 else rect.x1
        return (x, self.at[1]) if self.normal[0] else (x, self.at[1] + LIFTS[0])

    @property
    def level(self) -> float:
        """The height at which its leader runs."""
        return self.at[1] + self.lift

    def leader(self, body: Rect) -> list[Rect]:
        """What its leader covers up to the border."""
        x, y = self.anchor
        border = min(body.x0, x) if self.side == "left" else max(body.x1, x)
        return runs([(border, self.level), (x, self.level), (x, y)])


def put_walls(drawing: Drawing, layout: MapLayout, room: Room) -> list[Label]:
    """Mark the walls that carry a share of the heat worth a word; their labels.

    A wall without a free place along its line is left to the sum in the head line.
    """
    solution, labels = layout.solution, []
    small = [rect for rect in layout.rects.values() if min(rect.wide, rect.tall) < SMALL]
    dots = Room(layout.body, [Rect(*rect.centre, *rect.centre).grown(JOG) for rect in small])
    for name, wall in solution.case.walls.items():
        heat = solution.walls[name].heat
        if not (scene_words.known(heat) and abs(heat) > LEAST * abs(solution.totals.heat)):
            continue
        tries = [one for one in _places(layout, wall, heat) if dots.free(one.rect.grown(JOG))]
        place = _free(tries, room)
        if place is None:
            continue
        _draw(drawing, place)
        room.add(place.rect, *place.leader(layout.body))
        lines = tuple(_lines(layout, wall, heat))
        room.heights[place.side] += sum(look.LINE_SPACING * words.size for words in lines)
        level = room.level(place.anchor, place.side, 1.0, place.level - place.anchor[1])
        labels.append(Label(lines, place.anchor, level, place.side))
    return labels


def _lines(layout: MapLayout, wall: Wall, heat: float) -> Iterator[Words]:
    """`wall.upper`, `53.1 W out`."""
    yield from written(wall.path, look.BODY, True, COLUMN)
    amount = layout.units.text(q.POWER, abs(heat))
    if wall.to in layout.rects:
        way = f"to {wall.to if heat > 0 else wall.from_}"
    else:
        way = "out" if heat > 0 else "in"
        name = wall.to.partition(".")[2]
        way += f" {'to' if heat > 0 else 'from'} {name}" if name else ""
    yield Words(0, 0, f"{amount} {way}", look.BODY)


def _free(places: list[WallMark], room: Room) -> WallMark | None:
    """The first place that touches nothing, its leader neither; else one with a free mark."""
    marked = [place for place in places if room.free(place.rect)]
    for place in marked:
        apart = room.apart(place.level, place.side)
        if apart and all(map(room.free, place.leader(room.body))):
            return place
    return marked[0] if marked else None


# --- where a wall can be marked ------------------------------------------------------------------


def _places(layout: MapLayout, wall: Wall, heat: float) -> Iterator[WallMark]:
    inside, other = layout.rects[wall.from_], layout.rects.get(wall.to)
    way = 1.0 if heat > 0 else -1.0
    for edge in _edges(layout, wall, inside, other):
        normal = (edge.normal[0] * way, edge.normal[1] * way)
        for share, side in _along(edge, layout.body):
            at = edge.at(share)
            if other is not None or not _inner(layout, wall.from_, at):
                lifts = (0.0,) if edge.normal[0] else LIFTS
                yield from (WallMark(at, normal, side, lift) for lift in lifts)


def _edges(layout: MapLayout, wall: Wall, inside: Rect, other: Rect | None) -> Iterator[Edge]:
    """The wall lines of a wall in the view: those of its faces, else any it may stand for."""
    if other is not None:
        common = shared(inside, other, layout.places.near * layout.scale)
        if common is not None:
            yield common
        return
    seen = SIDES[layout.solution.case.body.view]
    named = [seen[face] for face in wall.faces if face in seen]
    found = edges(inside)
    yield from (found[side] for side in ORDER if side in named or not wall.faces)


def _along(edge: Edge, body: Rect) -> Iterator[tuple[float, str]]:
    """Shares of its length with the side of the label, the best first."""
    if edge.normal[0]:
        side = "left" if edge.start[0] < body.centre[0] else "right"
        yield from ((share, side) for share in UPRIGHT)
        return
    for share in LEVEL:
        yield from ((share, "left"), (1.0 - share, "right"))


def _inner(layout: MapLayout, name: str, at: Point) -> bool:
    """Whether another compartment lies at a point of the border of one."""
    others = (rect for other, rect in layout.rects.items() if other != name)
    return any(rect.grown(1.0).distance(at) == 0 for rect in others)


# --- the mark ------------------------------------------------------------------------------------


def _draw(drawing: Drawing, place: WallMark) -> None:
    (x, y), (nx, ny) = place.at, place.normal
    for beside in (-BESIDE, BESIDE):
        ax, ay = x + abs(ny) * beside, y + abs(nx) * beside

        def point(along: float, off: float = 0.0, ax: float = ax, ay: float = ay) -> Point:
            return ax + nx * along + abs(ny) * off, ay + ny * along + abs(nx) * off

        shaft = [point(-LONG), point(LONG)]
        back = LONG - HEAD
        head = [point(back, -HEAD * 0.7), point(LONG), point(back, HEAD * 0.7)]
        drawing.add(Layer.ARROW, line(shaft, look.PAPER, look.THIN + 1.6))
        drawing.add(Layer.ARROW, line(shaft, look.QUIET, look.THIN))
        drawing.add(Layer.ARROW, line(head, look.QUIET, look.THIN))
