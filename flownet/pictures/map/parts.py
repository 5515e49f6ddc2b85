"""What stands inside compartments: their plates, the diamonds and the words of parts."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, NamedTuple

from flownet.pictures.caption import known
from flownet.pictures.map.geometry import host
from flownet.pictures.map.layout import PAD, MapLayout, Plate, block_size
from flownet.pictures.map.room import BAR, COLUMN, UNDER, Label, Room, bar
from flownet.pictures.scene import look, scene
from flownet.pictures.scene import words as scene_words
from flownet.pictures.scene.scene import Drawing, Layer, Letters, Point, Rect, Shape, line
from flownet.pictures.scene.symbols import Mark
from flownet.pictures.scene.text_metrics import width
from flownet.pictures.scene.words import Copies, base, grouped
from flownet.results.limits import broken
from flownet.results.solution import Solution
from flownet.results.tables import Row
from flownet.schema import quantities as q

DIAMOND = 4.6
LONGEST_TIE = 70.0  # from a diamond to its words
PLATE_INSET = 6.0  # from the wall to a plate


def put_plate(drawing: Drawing, plate: Plate, inside: Rect, room: Room) -> bool:
    """Set the fullest form that finds room, as near to the upper left corner as can be."""
    within = inside.grown(-PLATE_INSET)
    for lines in plate.forms:
        rect = room.place(*block_size(lines), within, (within.x0, within.y1))
        if rect is not None:
            drawing.area(Layer.PLATE, rect, look.WHITE)
            drawing.write(lines, rect.x0 + PAD, rect.y1 - PAD)
            room.add(rect.grown(2.0))
            return True
    return False


def bands(solution: Solution, name: str, rect: Rect) -> Iterator[tuple[Rect, float]]:
    """The layers of a compartment with their temperatures, else the whole of it."""
    layers = [row.temperature for row in solution.layers_of(name).values()]
    layers, up = layers or [solution.compartments[name].temperature], solution.case.body.up
    for i, temperature in enumerate(reversed(layers) if up in ("bottom", "left") else layers):
        low, high = i / len(layers), (i + 1) / len(layers)
        if up in ("left", "right"):
            x0, x1 = (rect.x0 + share * rect.wide for share in (low, high))
            yield rect._replace(x0=x0, x1=x1), temperature
        else:
            y0, y1 = (rect.y0 + share * rect.tall for share in (low, high))
            yield rect._replace(y0=y0, y1=y1), temperature


def put_layers(drawing: Drawing, layout: MapLayout, room: Room) -> None:
    """The temperature of each layer in its band, where nothing else stands."""
    for name, rect in layout.rects.items():
        if not layout.solution.layers_of(name):
            continue
        for band, temperature in bands(layout.solution, name, rect):
            text = layout.units.text(q.TEMPERATURE, temperature)
            wide, tall = width(text, look.SMALL) + 2 * PAD, look.SMALL + PAD
            within = band.grown(-2.0)
            corner = within.x1 - wide, band.centre[1] + tall / 2
            at = room.place(wide, tall, within, corner)
            if at is not None:
                room.add(at)
                drawing.area(Layer.PLATE, at, look.WHITE)
                drawing.write([Letters(0, 0, text, look.SMALL)], at.x0 + PAD, at.y1 - PAD / 2)


class Chip(NamedTuple):
    """What is said of a part (or copies of one): words, and a bar for its share of the rise."""

    names: Copies  # of those whose diamonds are known
    text: str
    share: float | None  # of the allowed rise; None: no limit
    over: bool
    margin: float  # below its limit [K]; infinite without one
    points: Sequence[Point]  # its diamonds, where they are known
    at: Point | None  # the diamond its words belong to; None: of copies, or not known
    inside: Rect | None  # the compartment it is in, where that has an outline

    def words(self, narrow: bool) -> list[Letters]:
        """Its line of text; `narrow`: the margin in a line of its own."""
        name, gap, rest = self.text.rpartition("  ")
        value, comma, kept = rest.partition(", ")
        texts = (f"{name}{gap}{value}", kept) if narrow and comma else (self.text,)
        return [Letters(0, 0, text, look.BODY, self.over) for text in texts]

    def size(self, narrow: bool) -> tuple[float, float]:
        words, (wide, under) = self.words(narrow), (BAR[0], UNDER) if self.share is not None \
            else (0.0, 0.0)  # fmt: skip
        wide = max(wide, *(line.wide for line in words)) + 2 * PAD
        return wide, scene.block_height(words) + 2 * 1.5 + under


def chips(layout: MapLayout, marks: Mapping[str, Mark]) -> list[Chip]:
    """Every part that gives a temperature, copies that are alike together."""
    rows = {n: r for n, r in layout.solution.parts.items() if known(r.temperature)}
    case = layout.solution.case

    def alike(name: str) -> tuple[str, bool, bool]:
        margin = rows[name].margin
        return base(case.parts[name].in_), broken("part", margin), margin < case.limits.margin

    return [_chip(layout, marks, names, [rows[name] for name in names])
            for names in grouped(rows, alike, 3)]  # fmt: skip


def diamonds(found: Sequence[Chip]) -> list[Rect]:
    return [scene.square(at, DIAMOND + 1.0) for chip in found for at in chip.points]


def put_parts(
    drawing: Drawing, layout: MapLayout, found: Sequence[Chip], room: Room
) -> list[Label]:
    """Words set inside the compartments; labels of those for which there was no room."""
    for chip in found:
        drawing.add(Layer.ARROW, *(diamond(at, chip.over) for at in chip.points))
    worst_first = sorted(found, key=lambda chip: chip.margin)
    return [_label(drawing, layout, chip, room) for chip in worst_first
            if not _put(drawing, chip, room)]  # fmt: skip


def _place(
    layout: MapLayout, marks: Mapping[str, Mark], name: str
) -> tuple[Point | None, Rect | None]:
    """Where a part's diamond is, and the compartment its words may stand in."""
    case = layout.solution.case
    item, lowest = case.parts[name], case.roots[name]
    at = layout.page(item.at) if item.at is not None else None
    if lowest.in_ in case.compartments:
        return at, layout.rects[lowest.in_]
    branch, mark = case.branches[lowest.in_], marks[lowest.in_]
    if at is None and branch.KIND == "slot":  # a sink is as long as its slot
        along = 0.0 if lowest.sink else 2 * lowest.position - 1
        at = mark.place(0.0, along * max(mark.deep - DIAMOND, 0.0))
    ends: Any = case.branches[host(branch) or lowest.in_]
    return at, next((layout.rects[e] for e in (ends.to, ends.from_) if e in layout.rects), None)


def _chip(layout: MapLayout, marks: Mapping[str, Mark], names: Copies, rows: Sequence[Row]) -> Chip:
    case, places = layout.solution.case, [_place(layout, marks, name) for name in names]
    text = scene_words.parts(names, rows, case.limits.margin, layout.units)
    outside = case.outside.temperature
    shares = [float((row.temperature - outside) / (row.limit - outside))
              for row in rows if known(row.limit) and row.limit > outside]  # fmt: skip
    points = [point for point, _ in places if point is not None]
    placed = tuple(n for n, (point, _) in zip(names, places, strict=True) if point is not None)
    return Chip(
        placed, text, max(shares, default=None), any(broken("part", row.margin) for row in rows),
        min((row.margin for row in rows if known(row.margin)), default=math.inf), points,
        points[0] if points and len(names) == 1 else None, places[0][1],
    )  # fmt: skip


def _label(drawing: Drawing, layout: MapLayout, chip: Chip, room: Room) -> Label:
    """The words of a part in a column: the other one where only its leader crosses nothing. A part
    whose place is not known gets its diamond where the leader ends."""
    points, inside = chip.points, chip.inside or layout.body
    middle = sum(p[0] for p in points) / len(points) if points else inside.centre[0]
    name, _, rest = f"part.{chip.text}".partition("  ")
    lines = (
        *scene.written(name, look.BODY, True, COLUMN),
        *scene.written(rest, look.BODY, chip.over, COLUMN),
    )
    if len(points) == 1:
        (x, y), body = points[0], room.body
        free = [end for end in (body.x0, body.x1) if not room.crossed((x, y), (end, y))]
        middle = free[0] if len(free) == 1 else middle
    where = room.column(middle, lines)
    sign = -1.0 if where == "left" else 1.0
    if not points:
        points = [_spare(inside, room)]
        drawing.add(Layer.ARROW, diamond(points[0], chip.over))
    x, y = max(points, key=lambda p: sign * p[0])
    return room.label(lines, (x + sign * DIAMOND, y), where, share=chip.share, over=chip.over,
                      layer=Layer.MARK)  # fmt: skip


def _spare(inside: Rect, room: Room) -> Point:
    size = 2 * DIAMOND + 2.0
    rect = room.place(size, size, inside.grown(-4.0), inside.centre)
    room.add(*([] if rect is None else [rect]))
    return (rect or inside).centre


# --- what is drawn -------------------------------------------------------------------------------


def diamond(at: Point, over: bool) -> Shape:
    """The mark of a part: filled where it is over its limit."""
    (x, y), size = at, DIAMOND + (1.0 if over else 0.0)
    corners = ((x - size, y), (x, y - size), (x + size, y), (x, y + size))
    colours = (look.INK, look.WHITE) if over else (look.WHITE, look.INK)
    return Shape(corners, *colours, look.LINE)


def _put(drawing: Drawing, chip: Chip, room: Room) -> bool:
    """Set a part's words beside its diamond, else in a free place of its compartment."""
    if chip.inside is None:
        return False
    within = chip.inside.grown(-4.0)
    for narrow in (False, True):
        for rect in _beside(chip.at, *chip.size(narrow)):
            if within.holds(rect) and room.free(rect):
                _write(drawing, chip, rect, narrow, room)
                return True
    return any(_listed(drawing, chip, within, narrow, room) for narrow in (False, True))


def _beside(at: Point | None, wide: float, tall: float) -> Iterator[Rect]:
    """Places to the right, left, above and below a diamond."""
    if at is None:
        return
    x, y, off = at[0], at[1], DIAMOND + 2.5
    corners = [(left, y - tall / 2) for left in (x + off, x - off - wide)]
    corners += [(x - share * wide, low) for low in (y + off, y - off - tall)
                for share in (0.5, 0.2, 0.8)]  # fmt: skip
    yield from (Rect(left, low, left + wide, low + tall) for left, low in corners)


def _listed(drawing: Drawing, chip: Chip, within: Rect, narrow: bool, room: Room) -> bool:
    """A row of the list inside the compartment, with a diamond of its own or a line to it."""
    at, (wide, tall) = chip.at, chip.size(narrow)
    head = 0.0 if at is not None else 2 * DIAMOND + 5.0

    def fit(rect: Rect) -> bool:
        """Whether a short line from a diamond to its words crosses nothing."""
        if at is None:
            return True
        x, y = rect.nearest(at)
        short = abs(x - at[0]) + abs(y - at[1]) <= LONGEST_TIE
        return short and not room.crossed(at, (x, y))

    rect = room.place(wide + head, tall, within, at or (within.x0 + 2.0, within.y1), fit)
    if rect is None:
        return False
    if at is not None:
        tie = [at, rect.nearest(at)]
        room.line(*tie)
        drawing.add(Layer.LEADER, line(tie, look.WHITE, look.LINE + 1.2),
                    line(tie, look.INK, look.HAIR))  # fmt: skip
    else:
        drawing.add(Layer.ARROW, diamond((rect.x0 + DIAMOND + 1, rect.centre[1]), chip.over))
    room.add(rect)
    _write(drawing, chip, rect._replace(x0=rect.x0 + head), narrow, room)
    return True


def _write(drawing: Drawing, chip: Chip, rect: Rect, narrow: bool, room: Room) -> None:
    room.add(rect.grown(1.0))
    drawing.area(Layer.PLATE, rect, look.WHITE)
    drawing.write(chip.words(narrow), rect.x0 + PAD, rect.y1 - 1.5)
    if chip.share is not None:
        bar(drawing, chip.share, (rect.x0 + PAD, rect.y0 + 2.0), chip.over)
