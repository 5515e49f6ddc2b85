"""Parts on the map: their diamonds first, then words where there is room."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any, NamedTuple

from flownet.pictures.map.cells import DIAMOND, Chip, diamond, put_chip
from flownet.pictures.map.geometry import host
from flownet.pictures.map.groups import Group, base, grouped
from flownet.pictures.map.layout import Layout
from flownet.pictures.map.room import Room
from flownet.pictures.scene import look
from flownet.pictures.scene import words as scene_words
from flownet.pictures.scene.labels import COLUMN, Label
from flownet.pictures.scene.scene import Drawing, Layer, Point, Rect, written
from flownet.pictures.scene.symbols import Mark
from flownet.results.solution import broken
from flownet.results.tables import Row


class Parts(NamedTuple):
    """Parts that wait for a place."""

    chips: tuple[Chip, ...]
    loose: tuple[tuple[Point, bool], ...]  # diamonds of copies that are told together
    layout: Layout
    diamonds: tuple[Rect, ...]  # where they are

    def placed(self, drawing: Drawing, room: Room) -> list[Label]:
        """Words set inside the compartments; labels of those for which there was no room."""
        drawing.add(Layer.ARROW, *(diamond(at, over) for at, over in self.loose))
        worst_first = sorted(self.chips, key=lambda chip: chip.margin)
        return [
            _label(drawing, self.layout, chip, room)
            for chip in worst_first
            if not put_chip(drawing, chip, room)
        ]


def put_parts(layout: Layout, marks: Mapping[str, Mark], room: Room) -> Parts:
    """Every part that gives a temperature; the places of diamonds are taken at once."""
    rows = {n: r for n, r in layout.solution.parts.items() if scene_words.known(r.temperature)}
    case = layout.solution.case

    def alike(name: str) -> tuple[str, bool, bool]:
        margin = rows[name].margin
        return base(case.parts[name].in_), broken("part", margin), margin < case.limits.margin

    chips, loose, diamonds = [], [], []
    for group in grouped(rows, alike, 3):
        places = [_place(layout, marks, name) for name in group.paths]
        chips.append(_chip(layout, group, [rows[name] for name in group.paths], places))
        for at, _ in places:
            if at is not None:
                diamonds.append(Rect(*at, *at).grown(DIAMOND + 1.0))
                if len(places) > 1:
                    loose.append((at, chips[-1].over))
    room.add(*diamonds)
    return Parts(tuple(chips), tuple(loose), layout, tuple(diamonds))


def _place(
    layout: Layout, marks: Mapping[str, Mark], name: str
) -> tuple[Point | None, Rect | None]:
    """Where a part's diamond is, and the compartment its words may stand in."""
    case = layout.solution.case
    item = lowest = case.parts[name]
    while lowest.in_.startswith("part."):
        lowest = case.parts[lowest.in_[5:]]
    at = layout.page(item.at) if item.at is not None else None
    if lowest.in_ in case.compartments:
        return at, layout.rects[lowest.in_]
    branch, mark = case.branches[lowest.in_], marks[lowest.in_]
    if at is None and branch.KIND == "slot" and item is lowest:
        at = mark.place(0.0, (2 * item.position - 1) * max(mark.deep - DIAMOND, 0.0))
    on = host(branch)
    ends: Any = branch if on is None else case.branches[on]
    inside = next((e for e in (ends.to, ends.from_) if e in layout.rects), None)
    return at, layout.rects[inside] if inside is not None else None


def _chip(
    layout: Layout, group: Group, rows: list[Row], places: list[tuple[Point | None, Rect | None]]
) -> Chip:
    units, tight = layout.units, layout.solution.case.limits.margin
    over = any(broken("part", row.margin) for row in rows)
    margin = min((row.margin for row in rows if scene_words.known(row.margin)), default=math.inf)
    outside = layout.solution.case.outside.temperature
    shares = [share for row in rows if (share := _share(row, outside)) is not None]
    share = max(shares, default=None)
    if len(rows) == 1:
        text = scene_words.part(group.name, rows[0], tight, units)
        at, inside = places[0]
        copies: tuple[Point, ...] = ()
    else:
        text = scene_words.parts(group, rows, tight, units)
        at, inside = None, places[0][1]
        copies = tuple(point for point, _ in places if point is not None)
    return Chip(text, share, over, margin, at, copies, inside)


def _share(row: Row, outside: float) -> float | None:
    """Share of the rise above the outside that a part's limit allows; None without a limit."""
    if not scene_words.known(row.limit) or row.limit <= outside:
        return None
    return float((row.temperature - outside) / (row.limit - outside))


def _label(drawing: Drawing, layout: Layout, chip: Chip, room: Room) -> Label:
    """The words of a part in a column: the other one where only its leader crosses nothing. A part
    whose place is not known gets its diamond where the leader ends."""
    points = (chip.at,) if chip.at is not None else chip.copies
    inside = chip.inside if chip.inside is not None else layout.body
    middle = sum(p[0] for p in points) / len(points) if points else inside.centre[0]
    name, _, rest = f"part.{chip.text}".partition("  ")
    lines = (*written(name, look.BODY, True, COLUMN), *written(rest, look.BODY, chip.over, COLUMN))
    if len(points) == 1:
        middle = _towards(points[0], middle, room)
    where = room.column(middle, lines)
    sign = -1.0 if where == "left" else 1.0
    if not points:
        points = (_spare(inside, room),)
        drawing.add(Layer.ARROW, diamond(points[0], chip.over))
    x, y = max(points, key=lambda p: sign * p[0])
    anchor = x + sign * DIAMOND, y
    level = room.level(anchor, where, -1.0)
    return Label(lines, anchor, level, where, chip.share, chip.over, Layer.MARK)


def _spare(inside: Rect, room: Room) -> Point:
    """A free place for a diamond; the middle where there is none."""
    size = 2 * DIAMOND + 2.0
    rect = room.place(size, size, inside.grown(-4.0), inside.centre)
    if rect is None:
        return inside.centre
    room.add(rect)
    return rect.centre


def _towards(at: Point, middle: float, room: Room) -> float:
    """`middle`, or the border of the drawing to which alone a level line runs free."""
    (x, y), body = at, room.body
    left = not room.crossed((x, y), (body.x0, y))
    right = not room.crossed((x, y), (body.x1, y))
    if left == right:
        return middle
    return body.x0 if left else body.x1
