"""A frame with two scales on each pair of sides, and lines that are cut off at it."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from itertools import pairwise
from typing import NamedTuple

from flownet.quantities import Quantity
from flownet.report import look
from flownet.report.scene import Drawing, Layer, Point, Rect, Words, line
from flownet.report.scene_page import round_values
from flownet.report.scene_words import pretty

GRID = "#DCE0DD"
TICK = 4.0


class Axis(NamedTuple):
    """A quantity along a side: its range in SI, told in two systems of units."""

    quantity: Quantity
    name: str
    low: float
    high: float

    def share(self, value: float) -> float:
        """Where a value stands, 0 ... 1."""
        return (value - self.low) / (self.high - self.low)

    def ticks(self, units: str, most: int) -> list[tuple[float, str]]:
        """Round numbers of a system of units: share of the length, text."""
        shown = self.quantity.shown(units)
        values = round_values(self.low * shown.factor, self.high * shown.factor, most)
        return [(self.share(value / shown.factor), f"{value:g}") for value in values]

    def title(self, units: str) -> str:
        """`flow, m³/h`."""
        return pretty(f"{self.name}, {self.quantity.shown(units).unit}")


class Plot(NamedTuple):
    """A frame on the page and what its sides mean."""

    rect: Rect
    across: Axis
    up: Axis

    def at(self, x: float, y: float) -> Point:
        """The place of a pair of values."""
        return (
            self.rect.x0 + self.rect.wide * self.across.share(x),
            self.rect.y0 + self.rect.tall * self.up.share(y),
        )


def other(units: str) -> str:
    """The system of units of the opposite sides."""
    return "metric" if units == "us" else "us"


def frame(drawing: Drawing, plot: Plot, units: str) -> None:
    """Grid, frame, numbers on all four sides and what they are."""
    rect = plot.rect
    for share, text in plot.across.ticks(units, 10):
        x = rect.x0 + share * rect.wide
        drawing.add(Layer.FILL, line([(x, rect.y0), (x, rect.y1)], GRID, look.HAIR))
        _number(drawing, (x, rect.y0 - TICK - 8.0), text, "centre")
    for share, text in plot.up.ticks(units, 8):
        y = rect.y0 + share * rect.tall
        drawing.add(Layer.FILL, line([(rect.x0, y), (rect.x1, y)], GRID, look.HAIR))
        _number(drawing, (rect.x0 - TICK - 2.0, y - 2.5), text, "right")
    for share, text in plot.across.ticks(other(units), 8):
        x = rect.x0 + share * rect.wide
        drawing.add(Layer.MARK, line([(x, rect.y1), (x, rect.y1 + TICK)]))
        _number(drawing, (x, rect.y1 + TICK + 3.0), text, "centre")
    for share, text in plot.up.ticks(other(units), 8):
        y = rect.y0 + share * rect.tall
        drawing.add(Layer.MARK, line([(rect.x1, y), (rect.x1 + TICK, y)]))
        _number(drawing, (rect.x1 + TICK + 2.0, y - 2.5), text, "left")
    drawing.area(Layer.WALL, rect, None, edge=look.INK, width=look.THIN)
    if plot.up.low < 0:
        drawing.add(Layer.WALL, line([plot.at(plot.across.low, 0), plot.at(plot.across.high, 0)]))
    if plot.across.low < 0:
        drawing.add(Layer.WALL, line([plot.at(0, plot.up.low), plot.at(0, plot.up.high)]))
    _titles(drawing, plot, units)


def _number(drawing: Drawing, at: Point, text: str, align: str) -> None:
    words = Words(*at, text, look.SMALL, colour=look.QUIET, align=align)
    drawing.add(Layer.LETTER, words)


def _titles(drawing: Drawing, plot: Plot, units: str) -> None:
    rect, top = plot.rect, plot.rect.y1 + TICK + 17.0
    middle = rect.centre[0]
    for x, y, text, align in (
        (middle, rect.y0 - TICK - 22.0, plot.across.title(units), "centre"),
        (middle, top, plot.across.title(other(units)), "centre"),
        (rect.x0 - 30.0, top, plot.up.title(units), "left"),
        (rect.x1 + 34.0, top, plot.up.title(other(units)), "right"),
    ):
        drawing.add(Layer.LETTER, Words(x, y, text, look.BODY, align=align))


def cut(points: Sequence[Point], rect: Rect) -> list[list[Point]]:
    """What of a line lies in a rectangle, as lines."""
    found: list[list[Point]] = []
    for a, b in pairwise(points):
        part = _segment(a, b, rect)
        if part is None:
            continue
        if found and found[-1][-1] == part[0]:
            found[-1].append(part[1])
        else:
            found.append(list(part))
    return found


def _segment(a: Point, b: Point, rect: Rect) -> tuple[Point, Point] | None:
    """The part of a segment inside a rectangle; None where there is none."""
    dx, dy = b[0] - a[0], b[1] - a[1]
    begin, end = 0.0, 1.0
    for step, room in ((-dx, a[0] - rect.x0), (dx, rect.x1 - a[0]),
                       (-dy, a[1] - rect.y0), (dy, rect.y1 - a[1])):  # fmt: skip
        if step == 0:
            if room < 0:
                return None
        elif step < 0:
            begin = max(begin, room / step)
        else:
            end = min(end, room / step)
    if begin >= end:
        return None
    first = a if begin == 0 else (a[0] + begin * dx, a[1] + begin * dy)
    last = b if end == 1 else (a[0] + end * dx, a[1] + end * dy)
    return first, last


class Room:
    """What is taken on a page: words and rings find a place that covers nothing."""

    def __init__(self, rect: Rect) -> None:
        self.rect = rect
        self.taken: list[Rect] = []
        self.points: list[Point] = []

    def line(self, points: Sequence[Point], step: float = 2.0) -> None:
        """Keep a line free of words."""
        for a, b in pairwise(points):
            count = max(int(math.dist(a, b) / step), 1)
            self.points += [
                (a[0] + (b[0] - a[0]) * i / count, a[1] + (b[1] - a[1]) * i / count)
                for i in range(count + 1)
            ]

    def free(self, rect: Rect, *, lines: bool = True) -> bool:
        """Whether a rectangle covers nothing; `lines`: not even a line."""
        if not self.rect.holds(rect) or any(rect.meets(one) for one in self.taken):
            return False
        return not lines or not any(
            rect.x0 < x < rect.x1 and rect.y0 < y < rect.y1 for x, y in self.points
        )

    def crossed(self, rect: Rect) -> int:
        """How much of lines a rectangle covers."""
        return sum(rect.x0 < x < rect.x1 and rect.y0 < y < rect.y1 for x, y in self.points)

    def place(self, candidates: Iterable[Words], gap: float = 2.0) -> Words | None:
        """The first words that cover nothing, which are taken then; else None."""
        for words in candidates:
            rect = words.rect.grown(gap)
            if self.free(rect):
                self.taken.append(rect)
                return words
        return None


def beside(points: Sequence[Point], text: str, colour: str, bold: bool = False) -> Iterator[Words]:
    """Words near a line, starting a third along it and going on both ways."""
    order = sorted(range(len(points)), key=lambda i: abs(i - 0.35 * len(points)))
    for away in (5.0, 10.0, 16.0, 24.0):
        for index in order:
            x, y = points[index]
            for dx, dy, align in ((away, away - 2, "left"), (-away, away - 2, "right"),
                                  (away, -away - 5, "left"), (-away, -away - 5, "right"),
                                  (0.0, away, "centre"), (0.0, -away - 7, "centre")):  # fmt: skip
                yield Words(x + dx, y + dy, text, look.BODY, bold, colour, align)
