"""A result over one varied key as lines, one for each value of a second key."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from flownet.report import look, scene_page
from flownet.report.scene import Drawing, Layer, Point, Rect, Shape, Words, line
from flownet.report.scene_letters import width
from flownet.report.scene_plot import Plot, Room
from flownet.report.scene_sweep import FRAME, Drawn, scale, sides
from flownet.report.scene_words import Units, pretty

DOT = 2.0
FAINT = "#B9C0BC"  # of hatching
MARKED = 30  # points up to which each has a dot
APART = 11.0  # between the names of lines
DASHES = ((), (7.0, 2.5), (2.0, 2.0), (7.0, 2.0, 1.5, 2.0), (12.0, 3.0), (4.0, 4.0))
REACH = 0.5  # of the span of the values: how far off a limit is still drawn


def graphs(drawing: Drawing, drawn: Drawn, units: Units) -> list[str]:
    """Draw the frame and the lines; returns what is to be said below."""
    plot, shown = _plot(drawn)
    sides(drawing, plot, units, () if drawn.x.numeric else drawn.x.texts)
    room = Room(plot.rect.grown(-2.0))
    ends = []
    for number in range(len(drawn.values[0])):
        points = [plot.at(x, row[number]) for x, row in zip(drawn.x.values, drawn.values,
                                                            strict=True)]  # fmt: skip
        style = DASHES[number % len(DASHES)] if drawn.x.numeric else None
        _graph(drawing, points, style, room)
        known = [point for point in points if math.isfinite(point[1])]
        if known:
            ends.append((known[-1], number))
    if drawn.other is not None:
        _names(drawing, drawn, plot, ends)
    if drawn.bound is not None and shown:
        _limit(drawing, drawn, plot, room, units)
    return list(_notes(drawn, shown, units))


def _plot(drawn: Drawn) -> tuple[Plot, bool]:
    """The frame, and whether the limit lies in it."""
    known = [value for row in drawn.values for value in row if math.isfinite(value)]
    low, high = min(known), max(known)
    span = high - low or 0.02 * abs(high) or 1.0
    bound = drawn.bound
    shown = bound is not None and low - REACH * span <= bound <= high + REACH * span
    if shown and bound is not None:
        low, high = min(low, bound), max(high, bound)
    room = 0.06 * (high - low) or 0.5 * span
    xs = drawn.x.values
    side = 0.0 if drawn.x.numeric else 0.5
    across = scale(drawn.x.path, drawn.x.quantity, min(xs) - side, max(xs) + side)
    return Plot(FRAME, across, scale(drawn.of, drawn.quantity, low - room, high + room)), shown


def _graph(
    drawing: Drawing, points: Sequence[Point], dash: tuple[float, ...] | None, room: Room
) -> None:
    """A line with a gap where there is no value; None: points only, of words along the bottom."""
    runs: list[list[Point]] = [[]]
    for point in points:
        if math.isfinite(point[1]):
            runs[-1].append(point)
        elif runs[-1]:
            runs.append([])
    for run in runs:
        if len(run) > 1 and dash is not None:
            drawing.add(Layer.MARK, line(run, look.INK, look.LINE, dash))
            room.line(run)
        if len(points) <= MARKED or len(run) == 1:
            drawing.add(Layer.PLATE, *(_dot(point) for point in run))
            room.taken += [Rect(x, y, x, y).grown(DOT) for x, y in run]


def _dot(at: Point) -> Shape:
    turns = [i * math.pi / 8 for i in range(16)]
    ring = tuple((at[0] + DOT * math.cos(t), at[1] + DOT * math.sin(t)) for t in turns)
    return Shape(ring, look.PAPER, look.INK, look.THIN)


def _names(drawing: Drawing, drawn: Drawn, plot: Plot, ends: Sequence[tuple[Point, int]]) -> None:
    """The value of each line beside its end, pushed apart, with a thin line to it."""
    other, rect = drawn.other, plot.rect
    assert other is not None
    placed = sorted(ends, key=lambda end: end[0][1])
    heights: list[float] = []
    for (_, y), _ in placed:
        heights.append(max(y, heights[-1] + APART) if heights else y)
    over = max(0.0, heights[-1] - rect.y1) if heights else 0.0
    for i in reversed(range(len(heights))):
        top = heights[i + 1] - APART if i + 1 < len(heights) else heights[i] - over
        heights[i] = min(heights[i], top)
    x = rect.x1 + 16.0
    for (end, number), y in zip(placed, heights, strict=True):
        drawing.add(Layer.LEADER, line([(end[0] + DOT, end[1]), (rect.x1 + 5.0, end[1]),
                                        (x - 2.0, y)], look.QUIET, look.HAIR))  # fmt: skip
        drawing.add(Layer.LETTER, Words(x, y - 3.0, other.texts[number], look.BODY))
    if not drawn.several:
        drawing.add(Layer.LETTER, Words(x, rect.y1 + 8.0, other.path, look.BODY))


def _limit(drawing: Drawing, drawn: Drawn, plot: Plot, room: Room, units: Units) -> None:
    """A heavy line at the limit, hatched on the side where it is broken."""
    rect, bound = plot.rect, drawn.bound
    assert bound is not None
    y = plot.at(plot.across.low, bound)[1]
    low, high = (y, rect.y1) if drawn.above else (rect.y0, y)
    broken = Rect(rect.x0, low, rect.x1, high)
    if broken.tall > 1.0:
        for shape in scene_page.hatch(broken):
            drawing.add(Layer.LEADER, shape._replace(edge=FAINT, width=look.HAIR))
    drawing.add(Layer.MARK, line([(rect.x0, y), (rect.x1, y)], look.INK, look.WALL))
    room.line([(rect.x0, y), (rect.x1, y)])
    margin = bound == 0.0 and not drawn.above
    held = "limit" if margin else f"limit {units.round(drawn.quantity, bound)}"
    sign = 1.0 if drawn.above else -1.0
    put_words(drawing, room, _places(rect, y, "over the limit", sign))
    put_words(drawing, room, _places(rect, y, held, -sign))


def _places(rect: Rect, y: float, text: str, sign: float) -> Iterator[Words]:
    """Words along a level line, on one side of it."""
    for away in (6.0, 14.0, 24.0):
        base = y + away - 1.0 if sign > 0 else y - away - 5.0
        for step in range(12):
            x = rect.x0 + 8.0 + (rect.wide - 16.0 - width(text, look.BODY)) * step / 11
            yield Words(x, base, text, look.BODY)


def put_words(drawing: Drawing, room: Room, candidates: Iterator[Words]) -> bool:
    """Words on a white ground where they cover nothing; whether there was room."""
    words = room.place(candidates)
    if words is None:
        return False
    drawing.area(Layer.PLATE, words.rect.grown(1.5), look.PAPER)
    drawing.add(Layer.LETTER, words)
    return True


def _notes(drawn: Drawn, shown: bool, units: Units) -> Iterator[str]:
    if drawn.bound is not None and not shown:
        text = units.round(drawn.quantity, drawn.bound)
        known = [value for row in drawn.values for value in row if math.isfinite(value)]
        below = drawn.bound < min(known)
        yield pretty(f"The limit, {text}, lies {'below' if below else 'above'} the frame: it is "
                     f"{'broken' if below == drawn.above else 'kept'} everywhere.")  # fmt: skip
    missing = sum(not math.isfinite(value) for row in drawn.values for value in row)
    if missing:
        yield f"{missing} without a value: a gap in the line."
