"""What is written inside the compartments: their plates, and the parts with their bars."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from flownet.pictures.map.room import Room
from flownet.pictures.scene import look
from flownet.pictures.scene.labels import BAR, UNDER, bar, block_height
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

PAD = 3.0  # white around words
INSET = 6.0  # from the wall to a plate
NAME_WIDE = 130.0  # of a name in a plate, before it goes on in the next line
DIAMOND = 4.6
LONGEST_TIE = 70.0  # from a diamond to its words


class Plate(NamedTuple):
    """What is said of a compartment, from the fullest form to the shortest."""

    name: str
    forms: tuple[tuple[Words, ...], ...]
    values: tuple[Words, ...]  # without the name


def plate(name: str, temperature: str, limit: str, margin: str, over: bool) -> Plate:
    """Name, large temperature, limit and margin."""
    kept = Words(0, 0, "   ".join(w for w in (limit, margin) if w), look.BODY, over)
    head = written(name, look.HEAD, False, NAME_WIDE)
    large = Words(0, 0, temperature, look.NUMBER, True)
    middle = Words(0, 0, temperature, look.HEAD, True)
    small = [Words(0, 0, text, look.SMALL, over) for text in (limit, margin) if text]
    forms = [[*head, large, *([kept] if kept.text else [])]]
    forms.append([*(words._replace(size=look.BODY) for words in head), middle, *small])
    forms.append([Words(0, 0, f"{name}  {temperature}", look.SMALL, True), *small[-1:]])
    values = (middle, *([kept] if kept.text else []))
    return Plate(name, tuple(tuple(form) for form in forms), values)


def _block_size(lines: Sequence[Words]) -> tuple[float, float]:
    return max(w.wide for w in lines) + 2 * PAD, block_height(lines) + 2 * PAD


def full_size(made: Plate) -> tuple[float, float]:
    """Width and height of the fullest form."""
    return _block_size(made.forms[0])


def put_plate(drawing: Drawing, made: Plate, inside: Rect, room: Room) -> bool:
    """Set the fullest form that finds room, as near to the upper left corner as can be."""
    within = inside.grown(-INSET)
    for lines in made.forms:
        wide, tall = _block_size(lines)
        rect = room.place(wide, tall, within, (within.x0, within.y1))
        if rect is not None:
            _put_block(drawing, lines, rect)
            room.add(rect.grown(2.0))
            return True
    return False


def _put_block(drawing: Drawing, lines: Sequence[Words], rect: Rect) -> None:
    drawing.area(Layer.PLATE, rect, look.PAPER)
    placed, _ = stacked(lines, rect.x0 + PAD, rect.y1 - PAD)
    drawing.add(Layer.LETTER, *placed)


# --- parts -------------------------------------------------------------------------------------


class Chip(NamedTuple):
    """What is said of a part (or copies of one): words, and a bar for its share of the rise."""

    text: str
    share: float | None  # of the allowed rise; None: no limit
    over: bool
    margin: float  # below its limit [K]; infinite without one
    at: Point | None  # of its diamond, where its place is known
    copies: tuple[Point, ...]  # diamonds of copies that are told together
    inside: Rect | None  # the compartment it is in, where that has an outline

    def words(self, narrow: bool) -> tuple[Words, ...]:
        """Its line of text; `narrow`: the margin in a line of its own."""
        name, gap, rest = self.text.rpartition("  ")
        value, comma, room = rest.partition(", ")
        texts = (f"{name}{gap}{value}", room) if narrow and comma else (self.text,)
        return tuple(Words(0, 0, text, look.BODY, self.over) for text in texts)

    def size(self, narrow: bool) -> tuple[float, float]:
        """Width and height of words and bar."""
        words = self.words(narrow)
        bar_wide = BAR[0] if self.share is not None else 0.0
        wide = max(bar_wide, *(line.wide for line in words)) + 2 * PAD
        tall = block_height(words) + 2 * 1.5
        return wide, tall + (UNDER if self.share is not None else 0.0)


def diamond(at: Point, over: bool) -> Shape:
    """The mark of a part: filled where it is over its limit."""
    x, y = at
    size = DIAMOND + (1.0 if over else 0.0)
    corners = ((x - size, y), (x, y - size), (x + size, y), (x, y + size))
    return Shape(corners, look.INK if over else look.PAPER, look.PAPER if over else look.INK,
                 look.LINE)  # fmt: skip


def put_chip(drawing: Drawing, chip: Chip, room: Room) -> bool:
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
                _put_chip(drawing, chip, rect, narrow, room)
                return True
    return _listed(drawing, chip, within, room)


def _beside(at: Point | None, wide: float, tall: float) -> Iterator[Rect]:
    """Places to the right, left, above and below a diamond."""
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
        _put_chip(drawing, chip, Rect(rect.x0 + head, rect.y0, rect.x1, rect.y1), narrow, room)
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


def _put_chip(drawing: Drawing, chip: Chip, rect: Rect, narrow: bool, room: Room) -> None:
    room.add(rect.grown(1.0))
    drawing.area(Layer.PLATE, rect, look.PAPER)
    placed, _ = stacked(chip.words(narrow), rect.x0 + PAD, rect.y1 - 1.5)
    drawing.add(Layer.LETTER, *placed)
    if chip.share is not None:
        low = rect.y0 + 2.0
        drawing.add(Layer.LETTER, *bar(chip.share, (rect.x0 + PAD, low), chip.over))
