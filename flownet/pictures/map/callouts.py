"""From marks to labels: which column, where the leader ends, what is written."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple

from flownet.pictures.map.arrows import Arrow
from flownet.pictures.map.groups import number
from flownet.pictures.map.layout import MapLayout
from flownet.pictures.map.room import Room
from flownet.pictures.scene import look
from flownet.pictures.scene import words as scene_words
from flownet.pictures.scene.labels import COLUMN, GAP, Label, block_height, worded
from flownet.pictures.scene.scene import Drawing, Layer, Point, Rect, Shape, Words, written
from flownet.pictures.scene.symbols import Mark
from flownet.pictures.scene.text_metrics import width
from flownet.pictures.scene.words import Told

NUMBER_PAD = 1.2  # white around the number of a copy


class Pin(NamedTuple):
    """A label before its leader has a height."""

    words: tuple[Words, ...]
    members: tuple[Mark, ...]
    where: str  # "left", "right"

    @property
    def mark(self) -> Mark:
        """The mark its leader ends at: the one nearest to its column."""
        pick = min if self.where == "left" else max
        return pick(self.members, key=lambda mark: mark.at[0])

    @property
    def middle(self) -> float:
        """Where its marks are, across the drawing."""
        return sum(mark.at[0] for mark in self.members) / len(self.members)


def branch_labels(
    drawing: Drawing, room: Room, layout: MapLayout, marks: Mapping[str, Mark],
    arrows: Mapping[str, Arrow], diamonds: Sequence[Rect] = (),
) -> list[Label]:  # fmt: skip
    """Labels of all branches, exchanges and elements in series; copies are numbered on the map.

    Numbers keep clear of the diamonds of parts.
    """
    pins = _pins(layout, marks, room)
    for group in layout.groups:
        if len(group.paths) > 1:
            _number(drawing, room, [marks[path] for path in group.paths], Room(room.body, diamonds))
    body, found = layout.body, []
    for pin in sorted(pins, key=lambda pin: _depth(pin, body)):
        anchor = _anchor(pin, arrows.get(pin.mark.path))
        way = -1.0 if pin.mark.at[1] < body.y0 + 2.0 else 1.0
        level = room.level(anchor, pin.where, way, _off_wall(pin.mark))
        found.append(Label(pin.words, anchor, level, pin.where))
    return found


def _pins(layout: MapLayout, marks: Mapping[str, Mark], room: Room) -> list[Pin]:
    """Labels by the column their marks are nearer to, the longer column relieved."""
    found: list[Pin] = []
    for told, members in _told(layout, marks):
        pin = Pin(worded(told), tuple(members), "left")
        found.append(pin._replace(where=room.side(pin.middle)))
        room.heights[found[-1].where] += block_height(pin.words) + GAP
    return _relieved(found, room.heights, layout.body)


def _relieved(pins: list[Pin], heights: dict[str, float], body: Rect) -> list[Pin]:
    """Move labels from a column taller than the drawing to the other, the middlemost first."""
    order = sorted(range(len(pins)), key=lambda i: abs(pins[i].middle - body.centre[0]))
    longer = max(heights, key=lambda where: heights[where])
    other = "right" if longer == "left" else "left"
    for index in order:
        pin, size = pins[index], block_height(pins[index].words) + GAP
        even = heights[longer] - size <= heights[other] + size
        if even or heights[longer] <= body.tall:
            break
        if pin.where == longer and abs(pin.middle - body.centre[0]) < 0.4 * body.wide:
            pins[index] = pin._replace(where=other)
            heights[longer] -= size
            heights[other] += size
    return pins


def _told(layout: MapLayout, marks: Mapping[str, Mark]) -> Iterator[tuple[Told, list[Mark]]]:
    solution, units = layout.solution, layout.units
    for group in layout.groups:
        path = group.paths[0]
        ends = layout.ends[path]
        if ends.item.KIND == "exchange":
            told = scene_words.exchange(solution, path, ends, units)
        elif len(group.paths) > 1:
            told = scene_words.group(solution, group, ends, units)
        else:
            told = scene_words.branch(solution, ends, units)
        yield told, [marks[path] for path in group.paths]
    for path, mark in marks.items():
        if path not in layout.ends:
            yield scene_words.series(solution, path, units), [mark]


def _depth(pin: Pin, body: Rect) -> float:
    """Distance of a mark from the border its leader starts at."""
    x = pin.mark.at[0]
    if pin.mark.kind == "baffle":
        return 0.0  # its plate reaches to the wall
    return x - body.x0 if pin.where == "left" else body.x1 - x


def _anchor(pin: Pin, arrow: Arrow | None) -> Point:
    """The point of a mark its leader ends at, clear of an arrow that points the same way."""
    mark, sign = pin.mark, -1.0 if pin.where == "left" else 1.0
    x, y = mark.at
    if mark.route:
        return x + sign * mark.half, y
    if mark.kind == "baffle" and mark.normal[0] == 0:
        return mark.place(mark.wall[1] if sign > 0 else -mark.wall[0], 0.0)
    extra = 3.5 if mark.spot.framed else 0.0
    if mark.normal[0] == 0:
        return x + sign * (mark.half + extra), y
    if arrow is not None and arrow.way[0] * sign > 0 and not arrow.leaves:
        y -= min(arrow.half + 2.5, mark.half)
    return x + sign * (mark.deep + extra), y


def _off_wall(mark: Mark) -> float:
    """How far a leader keeps off the wall that a mark sits in, where both run level."""
    level = mark.spot.edge is not None and mark.normal[0] == 0
    return 7.0 if level and mark.kind not in ("baffle", "slot") else 0.0


def _number(drawing: Drawing, room: Room, members: list[Mark], diamonds: Room) -> None:
    """The number of each copy beside its mark, upstream; every second ... where they are close.

    Where a diamond stands there, the number goes to the other end, else farther off.
    """
    size = look.TINY
    gaps = [mark.room or 1e9 for mark in members]
    widest = max(width(str(number(mark.path)), size) for mark in members) + 2 * NUMBER_PAD
    level = members[0].normal[1] == 0
    step = max(int(-(-(8.0 if level else widest + 0.5) // min(gaps))), 1)
    for mark in members[::step]:
        text = str(number(mark.path))
        wide = width(text, size) + 2 * NUMBER_PAD
        near = (wide / 2 if level else 4.6) + 1.0
        low, high = mark.deep + mark.before + near, mark.deep + mark.after + near
        middles = [mark.place(0.0, t) for t in (-low, high, -low - 12.0, high + 12.0)]
        tries = [Rect(x - wide / 2, y - 3.6, x + wide / 2, y + 3.6) for x, y in middles]
        rect = next((rect for rect in tries if diamonds.free(rect)), tries[0])
        x, y = rect.centre
        drawing.area(Layer.PLATE, rect, look.PAPER)
        drawing.add(Layer.LETTER, Words(x, y - 2.2, text, size, align="centre"))
        room.add(rect)


def compartment_label(drawing: Drawing, layout: MapLayout, name: str, room: Room) -> Label:
    """The plate of a compartment that is too small for it, in a column, a dot in its place."""
    rect = layout.rects[name]
    x, y = rect.centre
    lines = (*written(f"compartment.{name}", look.BODY, True, COLUMN), *layout.plates[name].values)
    where = room.column(x, lines)
    level = room.level((x, y), where, -1.0)
    dot = Rect(x, y, x, y).grown(1.8)
    drawing.add(Layer.ARROW, Shape(dot.corners, look.INK, look.PAPER, look.THIN))
    return Label(lines, (x, y), level, where)
