"""Labels in two columns beside the drawing, and the thin leaders that tie them to their marks.

Labels are sorted by the height of what they belong to and pushed apart in one dimension, so that
none overlaps another; leaders bend only in the channel between drawing and column, where sorted
ends keep them from crossing. Inside the drawing they run where they cross least.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from flownet.pictures.scene import look
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
from flownet.pictures.scene.text_metrics import width
from flownet.pictures.scene.words import Told

COLUMN = 190.0  # widest label
CHANNEL = 30.0  # between drawing and column
BETWEEN = "   "  # what is said in one line; where it is too long, it breaks here first
GAP = 5.0  # between labels
JOG = 7.0  # between leaders that run side by side
BAR = (44.0, 4.0)  # share of the allowed rise
UNDER = BAR[1] + 2.5  # what a bar adds to the lines over it


class Label(NamedTuple):
    """A label on its way to a column; `anchor` is where its leader ends."""

    lines: tuple[Words, ...]
    anchor: Point
    level: float  # height at which the leader runs inside the drawing
    side: str  # "left", "right"
    share: float | None = None  # of the allowed rise: a bar under the lines
    over: bool = False
    layer: Layer = Layer.LEADER  # of its leader: one to a part in a slot lies over the slot

    @property
    def tall(self) -> float:
        """Height of its lines together, and of the bar."""
        return block_height(self.lines) + (UNDER if self.share is not None else 0.0)


def block_height(lines: Sequence[Words]) -> float:
    """Height of lines of text set one below the other."""
    steps = sum(look.LINE_SPACING * words.size for words in lines[:-1])
    return steps + (look.ASCENT + look.DESCENT) * lines[-1].size


def worded(told: Told) -> tuple[Words, ...]:
    """The lines of a branch label: name bold, its state beside it where there is room."""
    size = look.BODY
    lines = written(told.name, size, True, COLUMN)
    if told.state:
        joint = lines[-1]._replace(text=f"{lines[-1].text}   {told.state}")
        if joint.wide <= COLUMN:
            lines[-1] = joint
        else:
            lines += written(told.state, size, True, COLUMN)
    for text in told.lines:
        pieces = [text] if width(text, size) <= COLUMN else text.split(BETWEEN)
        lines += [line for piece in pieces for line in written(piece, size, False, COLUMN)]
    return tuple(lines)


def push_apart(targets: Sequence[float], sizes: Sequence[float], gap: float) -> list[float]:
    """Centres as near to ascending targets as they can be without overlap.

    The least sum of squared shifts, by pooling neighbours that would overlap.
    """
    offsets, total = [], 0.0
    for index, size in enumerate(sizes):
        total += size / 2 if index == 0 else (sizes[index - 1] + size) / 2 + gap
        offsets.append(total)
    pools: list[list[float]] = []  # sum of free positions, count
    for target, offset in zip(targets, offsets, strict=True):
        pools.append([target - offset, 1.0])
        while len(pools) > 1 and pools[-2][0] / pools[-2][1] > pools[-1][0] / pools[-1][1]:
            last = pools.pop()
            pools[-1] = [pools[-1][0] + last[0], pools[-1][1] + last[1]]
    free = [pool[0] / pool[1] for pool in pools for _ in range(int(pool[1]))]
    return [base + offset for base, offset in zip(free, offsets, strict=True)]


def bar(share: float, at: Point, over: bool) -> Iterator[Shape]:
    """How much of the allowed rise a part uses; full and bold beyond it."""
    (wide, tall), (x, y) = BAR, at
    yield Shape(Rect(x, y, x + wide, y + tall).corners, look.PAPER, look.INK, look.HAIR)
    filled = wide * min(max(share, 0.0), 1.0)
    extra = 0.8 if over else 0.0
    yield Shape(Rect(x, y - extra, x + filled, y + tall + extra).corners, look.INK)


def inner_leader(label: Label, body: Rect) -> list[Point]:
    """The part of a leader inside the drawing: from its border to the mark."""
    x = min(body.x0, label.anchor[0]) if label.side == "left" else max(body.x1, label.anchor[0])
    points = [(x, label.level), (label.anchor[0], label.level)]
    return points if label.level == label.anchor[1] else [*points, label.anchor]


def columns(drawing: Drawing, labels: Sequence[Label], body: Rect, clear: dict[str, float]) -> Rect:
    """Set both columns with their leaders; `clear` is what stands out of the drawing each side."""
    covered = body
    for where, sign, edge in (("left", -1.0, body.x0), ("right", 1.0, body.x1)):
        own = sorted((one for one in labels if one.side == where), key=lambda one: one.level)
        heights = push_apart([one.level for one in own], [one.tall for one in own], GAP)
        x = edge + sign * (clear[where] + CHANNEL)
        for label, y in zip(own, heights, strict=True):
            placed, rect = stacked(label.lines, x, y + label.tall / 2,
                                   "right" if where == "left" else "left")  # fmt: skip
            drawing.add(Layer.LETTER, *placed)
            if label.share is not None:
                left = x - BAR[0] if where == "left" else x
                low = y - label.tall / 2
                drawing.add(Layer.LETTER, *bar(label.share, (left, low), label.over))
            bend = edge + sign * (clear[where] + 3.0)
            outer = [(x - sign * 4.0, y), (x - sign * 9.0, y), (bend, label.level)]
            points = [*outer, *inner_leader(label, body)]
            drawing.add(label.layer, line(points, look.PAPER, 2.0))
            drawing.add(label.layer, line(points, look.QUIET, look.HAIR))
            covered = Rect(min(covered.x0, rect.x0), min(covered.y0, rect.y0),
                           max(covered.x1, rect.x1), max(covered.y1, rect.y1))  # fmt: skip
    return covered
