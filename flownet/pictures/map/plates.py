"""What is said of a compartment: inside it where there is room, in the fullest form that fits."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from flownet.pictures.map.room import Room
from flownet.pictures.scene import look, words
from flownet.pictures.scene.labels import block_height
from flownet.pictures.scene.scene import Drawing, Layer, Rect, Words, stacked, written
from flownet.pictures.scene.words import Units
from flownet.results.tables import Row
from flownet.schema import quantities as q

PAD = 3.0  # white around words
INSET = 6.0  # from the wall to a plate
NAME_WIDE = 130.0  # of a name in a plate, before it goes on in the next line


class Plate(NamedTuple):
    """What is said of a compartment, from the fullest form to the shortest."""

    forms: tuple[tuple[Words, ...], ...]
    values: tuple[Words, ...]  # without the name


def plate(name: str, row: Row, tight: float, units: Units) -> Plate:
    """Name, large temperature, limit and margin."""
    temperature = units.text(q.TEMPERATURE, row.temperature)
    told = [text for text in (words.limit(row, units), words.margin(row, tight, units)) if text]
    over = bool(told) and told[-1].endswith("over")
    kept = [Words(0, 0, "   ".join(told), look.BODY, over)] if told else []
    small = [Words(0, 0, text, look.SMALL, over) for text in told]
    head = written(name, look.HEAD, False, NAME_WIDE)
    large, middle = (Words(0, 0, temperature, size, True) for size in (look.NUMBER, look.HEAD))
    short = Words(0, 0, f"{name}  {temperature}", look.SMALL, True)
    forms = ((*head, large, *kept),
             (*(line._replace(size=look.BODY) for line in head), middle, *small),
             (short, *small[-1:]))  # fmt: skip
    return Plate(forms, (middle, *kept))


def block_size(lines: Sequence[Words]) -> tuple[float, float]:
    """Width and height of lines on a plate."""
    return max(w.wide for w in lines) + 2 * PAD, block_height(lines) + 2 * PAD


def put_plate(drawing: Drawing, made: Plate, inside: Rect, room: Room) -> bool:
    """Set the fullest form that finds room, as near to the upper left corner as can be."""
    within = inside.grown(-INSET)
    for lines in made.forms:
        rect = room.place(*block_size(lines), within, (within.x0, within.y1))
        if rect is not None:
            drawing.area(Layer.PLATE, rect, look.PAPER)
            drawing.add(Layer.LETTER, *stacked(lines, rect.x0 + PAD, rect.y1 - PAD)[0])
            room.add(rect.grown(2.0))
            return True
    return False
