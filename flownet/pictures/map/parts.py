"""Parts on the map: their diamonds first, then words where there is room."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, NamedTuple

from flownet.pictures.map.geometry import host
from flownet.pictures.map.groups import Copies, base, grouped
from flownet.pictures.map.layout import MapLayout
from flownet.pictures.map.plates import PAD
from flownet.pictures.map.room import Room
from flownet.pictures.scene import look
from flownet.pictures.scene import words as scene_words
from flownet.pictures.scene.labels import BAR, COLUMN, UNDER, Label, bar, block_height
from flownet.pictures.scene.scene import (
    Drawing,
    Layer,
    Point,
    Rect,
    Shape,
    Words,
    line,
    stacked,
    written,
)
from flownet.pictures.scene.symbols import Mark
from flownet.results.limits import broken
from flownet.results.tables import Row

DIAMOND = 4.6
LONGEST_TIE = 70.0  # from a diamond to its words


class Chip(NamedTuple):
    """What is said of a part (or copies of one): words, and a bar for its share of the rise."""

    text: str
    share: float | None  # of the allowed rise; None: no limit
    over: bool
    margin: float  # below its limit [K]; infinite without one
    at: Point | None  # of its diamond, where its place is known
    copies: tuple[Point, ...]  # diamonds of copies that are told together
    inside: Rect | None  # the compartment it is in, where that has an outline

    @property
    def points(self) -> tuple[Point, ...]:
        """Its diamonds, where they are known."""
        return self.copies if self.at is None else (self.at,)

    def words(self, narrow: bool) -> tuple[Words, ...]:
        """Its line of text; `narrow`: the margin in a line of its own."""
        name, gap, rest = self.text.rpartition("  ")
        value, comma, kept = rest.partition(", ")
        texts = (f"{name}{gap}{value}", kept) if narrow and comma else (self.text,)
        return tuple(Words(0, 0, text, look.BODY, self.over) for text in texts)

    def size(self, narrow: bool) -> tuple[float, float]:
        """Width and height of words and bar."""
        words = self.words(narrow)
        bar_wide = BAR[0] if self.share is not None else 0.0
        wide = max(bar_wide, *(line.wide for line in words)) + 2 * PAD
        tall = block_height(words) + 2 * 1.5
        return wide, tall + (UNDER if self.share is not None else 0.0)


def chips(layout: MapLayout, marks: Mapping[str, Mark]) -> Iterator[Chip]:
    """Every part that gives a temperature, copies that are alike together."""
    rows = {n: r for n, r in layout.solution.parts.items() if scene_words.known(r.temperature)}
    case = layout.solution.case

    def alike(name: str) -> tuple[str, bool, bool]:
        margin = rows[name].margin
        return base(case.parts[name].in_), broken("part", margin), margin < case.limits.margin

    for group in grouped(rows, alike, 3):
        places = [_place(layout, marks, name) for name in group.paths]
        yield _chip(layout, group, [rows[name] for name in group.paths], places)


def diamonds(found: Sequence[Chip]) -> list[Rect]:
    """What the diamonds of parts cover."""
    return [Rect(*at, *at).grown(DIAMOND + 1.0) for chip in found for at in chip.points]


def put_parts(
    drawing: Drawing, layout: MapLayout, found: Sequence[Chip], room: Room
) -> list[Label]:
    """Words set inside the compartments; labels of those for which there was no room."""
    for chip in found:
        drawing.add(Layer.ARROW, *(diamond(at, chip.over) for at in chip.copies))
    worst_first = sorted(found, key=lambda chip: chip.margin)
    return [_label(drawing, layout, chip, room) for chip in worst_first
            if not _put(drawing, chip, room)]  # fmt: skip


def _place(
    layout: MapLayout, marks: Mapping[str, Mark], name: str
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
    layout: MapLayout,
    group: Copies,
    rows: list[Row],
    places: list[tuple[Point | None, Rect | None]],
) -> Chip:
    units, tight = layout.units, layout.solution.case.limits.margin
    over = any(broken("part", row.margin) for row in rows)
    margin = min((row.margin for row in rows if scene_words.known(row.margin)), default=math.inf)
    outside = layout.solution.case.outside.temperature
    shares = [share for row in rows if (share := _share(row, outside)) is not None]
    share = max(shares, default=None)
    at, inside = places[0]
    if len(rows) == 1:
        text = scene_words.part(group.name, rows[0], tight, units)
        return Chip(text, share, over, margin, at, (), inside)
    copies = tuple(point for point, _ in places if point is not None)
    text = scene_words.parts(group, rows, tight, units)
    return Chip(text, share, over, margin, None, copies, inside)


def _share(row: Row, outside: float) -> float | None:
    """Share of the rise above the outside that a part's limit allows; None without a limit."""
    if not scene_words.known(row.limit) or row.limit <= outside:
        return None
    return float((row.temperature - outside) / (row.limit - outside))


def _label(drawing: Drawing, layout: MapLayout, chip: Chip, room: Room) -> Label:
    """The words of a part in a column: the other one where only its leader crosses nothing. A part
    whose place is not known gets its diamond where the leader ends."""
    points = chip.points
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


# --- what is drawn -------------------------------------------------------------------------------


def diamond(at: Point, over: bool) -> Shape:
    """The mark of a part: filled where it is over its limit."""
    x, y = at
    size = DIAMOND + (1.0 if over else 0.0)
    corners = ((x - size, y), (x, y - size), (x + size, y), (x, y + size))
    return Shape(corners, look.INK if over else look.PAPER, look.PAPER if over else look.INK,
                 look.LINE)  # fmt: skip


def _put(drawing: Drawing, chip: Chip, room: Room) -> bool:
    """Set a part's words beside its diamond, else in a free place of its compartment."""
    if chip.at is not None:
        drawing.add(Layer.ARROW, diamond(chip.at, chip.over))
    if chip.inside is None:
        return False
    within = chip.inside.grown(-4.0)
    for narrow in (False, True):
        wide, tall = chip.size(narrow)
        for rect in _beside(chip.at, wide, tall):
            if within.holds(rect) and room.free(rect):
                _write(drawing, chip, rect, narrow, room)
                return True
    return _listed(drawing, chip, within, room)


def _beside(at: Point | None, wide: float, tall: float) -> Iterator[Rect]:
    """MapPlaces to the right, left, above and below a diamond."""
    if at is None:
        return
    x, y, off = at[0], at[1], DIAMOND + 2.5
    for left in (x + off, x - off - wide):
        yield Rect(left, y - tall / 2, left + wide, y + tall / 2)
    for low in (y + off, y - off - tall):
        for left in (x - wide / 2, x - 0.2 * wide, x - 0.8 * wide):
            yield Rect(left, low, left + wide, low + tall)


def _listed(drawing: Drawing, chip: Chip, within: Rect, room: Room) -> bool:
    """A row of the list inside the compartment, with a diamond of its own or a line to it."""
    head = 0.0 if chip.at is not None else 2 * DIAMOND + 5.0
    for narrow in (False, True):
        wide, tall = chip.size(narrow)
        near = chip.at or (within.x0 + 2.0, within.y1)

        def fit(rect: Rect) -> bool:
            return chip.at is None or _tied(chip.at, rect, room)

        rect = room.place(wide + head, tall, within, near, fit)
        if rect is None:
            continue
        if chip.at is not None:
            tie = _nearest(chip.at, rect)
            room.line(chip.at, tie)
            drawing.add(Layer.LEADER, line([chip.at, tie], look.PAPER, look.LINE + 1.2))
            drawing.add(Layer.LEADER, line([chip.at, tie], look.INK, look.HAIR))
        else:
            drawing.add(Layer.ARROW, diamond((rect.x0 + DIAMOND + 1, rect.centre[1]), chip.over))
        room.add(rect)
        _write(drawing, chip, Rect(rect.x0 + head, rect.y0, rect.x1, rect.y1), narrow, room)
        return True
    return False


def _nearest(point: Point, rect: Rect) -> Point:
    """The point of a rectangle that is nearest to a point."""
    return min(max(point[0], rect.x0), rect.x1), min(max(point[1], rect.y0), rect.y1)


def _tied(at: Point, rect: Rect, room: Room) -> bool:
    """Whether a short line from a diamond to its words crosses nothing."""
    tie = _nearest(at, rect)
    short = abs(tie[0] - at[0]) + abs(tie[1] - at[1]) <= LONGEST_TIE
    return short and not room.crossed(at, tie)


def _write(drawing: Drawing, chip: Chip, rect: Rect, narrow: bool, room: Room) -> None:
    room.add(rect.grown(1.0))
    drawing.area(Layer.PLATE, rect, look.PAPER)
    placed, _ = stacked(chip.words(narrow), rect.x0 + PAD, rect.y1 - 1.5)
    drawing.add(Layer.LETTER, *placed)
    if chip.share is not None:
        low = rect.y0 + 2.0
        drawing.add(Layer.LETTER, *bar(chip.share, (rect.x0 + PAD, low), chip.over))
