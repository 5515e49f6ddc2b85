"""Labels in two columns beside the drawing, and the thin leaders that tie them to their marks.

Labels are sorted by the height of what they belong to and pushed apart in one dimension, so that
none overlaps another; leaders bend only in the channel between drawing and column, where sorted
ends keep them from crossing. Inside the drawing they run where they cross least.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import NamedTuple

from flownet.pictures.scene import look
from flownet.pictures.scene.scene import (
    Drawing,
    Layer,
    Point,
    Rect,
    Shape,
    Words,
    bounds,
    line,
    stacked,
)
from flownet.pictures.scene.text_metrics import width, wrap
from flownet.pictures.scene.words import Told

COLUMN = 190.0  # widest label
CHANNEL = 30.0  # between drawing and column
BETWEEN = "   "  # what is said in one line; where it is too long, it breaks here first
GAP = 5.0  # between labels
JOG = 7.0  # between leaders that run side by side
BAR = (44.0, 4.0)  # share of the allowed rise
UNDER = BAR[1] + 2.5  # what a bar adds to the lines over it
OFFSETS = (0.0, *(step * JOG for k in range(1, 12) for step in (k, -k)))  # of a leader's height
CROSSING = 60.0  # as bad as a leader so far off its mark


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

    @property
    def wide(self) -> float:
        """Width of its widest line."""
        return max(words.wide for words in self.lines)


def block_height(lines: Sequence[Words]) -> float:
    """Height of lines of text set one below the other."""
    steps = sum(look.LINE_SPACING * words.size for words in lines[:-1])
    return steps + (look.ASCENT + look.DESCENT) * lines[-1].size


def worded(told: Told) -> tuple[Words, ...]:
    """The lines of a branch label: name bold, its state beside it where there is room."""
    size = look.BODY
    name = wrap(told.name, size, True, COLUMN)
    lines = [Words(0, 0, text, size, True) for text in name]
    if told.state:
        joint = f"{lines[-1].text}   {told.state}"
        if width(joint, size, True) <= COLUMN:
            lines[-1] = lines[-1]._replace(text=joint)
        else:
            state = wrap(told.state, size, True, COLUMN)
            lines += [Words(0, 0, text, size, True) for text in state]
    for text in told.lines:
        pieces = [text] if width(text, size) <= COLUMN else text.split(BETWEEN)
        parts = [part for piece in pieces for part in wrap(piece, size, False, COLUMN)]
        lines += [Words(0, 0, part, size) for part in parts]
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


def side(x: float, middle: float, heights: dict[str, float]) -> str:
    """The column a mark belongs to; from near the middle the shorter one."""
    if abs(x - middle) < 1.0:
        return "left" if heights["left"] <= heights["right"] else "right"
    return "left" if x < middle else "right"


def bar(share: float, at: Point, over: bool) -> Iterator[Shape]:
    """How much of the allowed rise a part uses; full and bold beyond it."""
    (wide, tall), (x, y) = BAR, at
    yield Shape(Rect(x, y, x + wide, y + tall).corners, look.PAPER, look.INK, look.HAIR)
    filled = wide * min(max(share, 0.0), 1.0)
    extra = 0.8 if over else 0.0
    yield Shape(Rect(x, y - extra, x + filled, y + tall + extra).corners, look.INK)


class Leaders:
    """The heights at which leaders run inside the drawing, each side for itself.

    `body` is the drawing, `clear` what stands out of it each side; `rects`, a list that grows
    while the drawing is made, is what leaders should not cross, but for the `light` ones.
    """

    def __init__(
        self, body: Rect, clear: dict[str, float], rects: Sequence[Rect], light: set[Rect]
    ) -> None:
        self.body, self.clear, self.rects, self.light = body, clear, rects, light
        self.taken: list[tuple[str, float]] = []
        self.runs: list[Rect] = []  # straight pieces of leaders
        self.heights = {"left": 0.0, "right": 0.0}

    def column(self, x: float, lines: Sequence[Words]) -> str:
        """The column for further lines about something at `x`: from its middle the shorter one."""
        middle = self.body.centre[0]
        where = "left" if x < middle else "right"
        if abs(x - middle) < 0.25 * self.body.wide:
            where = side(middle, middle, self.heights)
        self.heights[where] += block_height(lines) + GAP
        return where

    def level(self, anchor: Point, where: str, way: float, off: float = 0.0) -> float:
        """The height of an anchor, `off` it in the direction `way`, or one near by where the leader
        crosses less; heights of others on this side are kept clear."""
        free = [
            level for level in (anchor[1] + way * (off + offset) for offset in OFFSETS)
            if all(s != where or abs(level - t) >= JOG - 0.5 for s, t in self.taken)
        ] or [max(t for s, t in self.taken if s == where) + JOG]  # fmt: skip

        def cost(level: float) -> float:
            return CROSSING * self.crossed(anchor, level, where) + abs(level - anchor[1])

        best = free[0] if cost(free[0]) < CROSSING else min(free, key=cost)
        self.taken.append((where, best))
        self.runs += self._runs(anchor, best, where)
        return best

    def crossed(self, anchor: Point, level: float, where: str) -> int:
        """How many things in use and other leaders a leader at this height would cross."""
        runs = self._runs(anchor, level, where)
        others = [r for r in self.rects if r.distance(anchor) > 1.5 and r not in self.light]
        return sum(any(run.meets(other) for run in runs) for other in (*others, *self.runs))

    def _runs(self, anchor: Point, level: float, where: str) -> list[Rect]:
        """The straight pieces of a leader, from where the channel begins."""
        edge = self.body.x0 - self.clear["left"]
        if where == "right":
            edge = self.body.x1 + self.clear["right"]
        points = [(edge, level), (anchor[0], level), anchor]
        return [bounds(piece).grown(0.8) for piece in pairwise(points) if piece[0] != piece[1]]


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
