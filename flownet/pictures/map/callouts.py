"""From marks to labels: which column, where the leader ends, what is written."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple

from flownet.pictures.map.arrows import Arrow
from flownet.pictures.map.layout import MapLayout
from flownet.pictures.map.room import COLUMN, LABEL_GAP, Label, Room
from flownet.pictures.scene import look, scene
from flownet.pictures.scene import words as scene_words
from flownet.pictures.scene.scene import Drawing, Layer, Letters, Point, Rect, Shape
from flownet.pictures.scene.symbols import Mark
from flownet.pictures.scene.text_metrics import width
from flownet.pictures.scene.words import BETWEEN, Told, number

NUMBER_PAD = 1.2  # white around the number of a copy


class Pin(NamedTuple):
    """A label before its leader has a height."""

    words: Sequence[Letters]
    marks: Sequence[Mark]
    where: str = ""  # "left", "right"

    @property
    def mark(self) -> Mark:
        """The mark its leader ends at: the one nearest to its column."""
        pick = min if self.where == "left" else max
        return pick(self.marks, key=lambda mark: mark.at[0])

    @property
    def middle(self) -> float:
        """Where its marks are, across the drawing."""
        return sum(mark.at[0] for mark in self.marks) / len(self.marks)


def branch_labels(
    drawing: Drawing, room: Room, layout: MapLayout, marks: Mapping[str, Mark],
    arrows: Mapping[str, Arrow], diamonds: Sequence[Rect] = (),
) -> list[Label]:  # fmt: skip
    """Labels of all branches, exchanges and elements in series; copies are numbered on the map.

    Numbers keep clear of the diamonds of parts.
    """
    pins = [pin._replace(where=room.column(pin.middle, pin.words, 1.0))
            for pin in _pins(layout, marks)]  # fmt: skip
    _relieve(pins, room.heights, layout.body)
    for paths in layout.groups:
        if len(paths) > 1:
            _number(drawing, room, [marks[path] for path in paths], Room(room.body, diamonds))
    body, found = layout.body, []
    for pin in sorted(pins, key=lambda pin: _depth(pin, body)):
        anchor = _anchor(pin, arrows.get(pin.mark.path))
        mark, way = pin.mark, -1.0 if pin.mark.at[1] < body.y0 + 2.0 else 1.0
        # off the wall that a mark sits in, where both run level
        level = mark.spot.edge is not None and mark.normal[0] == 0
        off = 7.0 if level and mark.kind not in ("baffle", "slot") else 0.0
        found.append(room.label(pin.words, anchor, pin.where, way, off))
    return found


def _pins(layout: MapLayout, marks: Mapping[str, Mark]) -> Iterator[Pin]:
    solution, units, every = layout.solution, layout.units, layout.places.ends
    for paths in layout.groups:
        ends = every[paths[0]]
        if ends.item.KIND == "exchange":
            told = scene_words.exchange(solution, paths[0], ends, units)
        elif len(paths) > 1:
            told = scene_words.group(solution, paths, ends, units)
        else:
            told = scene_words.branch(solution, ends, units)
        if layout.shares:
            told = told._replace(lines=(*told.lines, *scene_words.again(solution, paths)))
        yield Pin(_worded(told), [marks[path] for path in paths])
    for path, mark in marks.items():
        if path not in every:
            yield Pin(_worded(scene_words.series(solution, path, units)), [mark])


def _worded(told: Told) -> list[Letters]:
    """The lines of a branch label: name bold, its state beside it where there is room."""
    size = look.BODY
    lines = scene.written(told.name, size, True, COLUMN)
    if told.state:
        joint = lines[-1]._replace(text=f"{lines[-1].text}   {told.state}")
        lines[-1:] = [joint] if joint.wide <= COLUMN \
            else [lines[-1], *scene.written(told.state, size, True, COLUMN)]  # fmt: skip
    for text in told.lines:
        pieces = [text] if width(text, size) <= COLUMN else text.split(BETWEEN)
        lines += [line for piece in pieces for line in scene.written(piece, size, False, COLUMN)]
    return lines


def _relieve(pins: list[Pin], heights: dict[str, float], body: Rect) -> None:
    """Move labels from a column taller than the drawing to the other, the middlemost first."""
    longer, other = sorted(heights, key=lambda where: -heights[where])
    middle = body.centre[0]
    for index in sorted(range(len(pins)), key=lambda i: abs(pins[i].middle - middle)):
        pin, size = pins[index], scene.block_height(pins[index].words) + LABEL_GAP
        if heights[longer] - size <= heights[other] + size or heights[longer] <= body.tall:
            return
        if pin.where == longer and abs(pin.middle - middle) < 0.4 * body.wide:
            pins[index] = pin._replace(where=other)
            heights[longer] -= size
            heights[other] += size


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


def _number(drawing: Drawing, room: Room, members: Sequence[Mark], diamonds: Room) -> None:
    """The number of each copy beside its mark, upstream; every second ... where they are close.

    Where a diamond stands there, the number goes to the other end, else farther off.
    """
    size = look.FINE_PRINT
    wide = {mark.path: width(str(number(mark.path)), size) + 2 * NUMBER_PAD for mark in members}
    level = members[0].normal[1] == 0
    gap = min(mark.room or 1e9 for mark in members)
    step = max(int(-(-(8.0 if level else max(wide.values()) + 0.5) // gap)), 1)
    for mark in members[::step]:
        half = wide[mark.path] / 2
        near = (half if level else 4.6) + 1.0
        low, high = mark.deep + mark.before + near, mark.deep + mark.after + near
        middles = [mark.place(0.0, t) for t in (-low, high, -low - 12.0, high + 12.0)]
        tries = [Rect(x - half, y - 3.6, x + half, y + 3.6) for x, y in middles]
        rect = next((rect for rect in tries if diamonds.free(rect)), tries[0])
        x, y = rect.centre
        drawing.area(Layer.PLATE, rect, look.WHITE)
        drawing.add(Layer.LETTER, Letters(x, y - 2.2, str(number(mark.path)), size, align="center"))
        room.add(rect)


def compartment_label(drawing: Drawing, layout: MapLayout, name: str, room: Room) -> Label:
    """The plate of a compartment that is too small for it, in a column, a dot in its place."""
    at = layout.rects[name].centre
    lines = [
        *scene.written(f"compartment.{name}", look.BODY, True, COLUMN),
        *layout.plates[name].values,
    ]
    drawing.add(Layer.ARROW, Shape(scene.square(at, 1.8).corners, look.INK, look.WHITE, look.FINE))
    return room.label(lines, at, room.column(at[0], lines))
