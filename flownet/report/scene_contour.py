"""A result over two varied keys as lines of equal value, the broken region hatched."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import pairwise

from flownet.report import look
from flownet.report.isolines import between, isolines
from flownet.report.scene import Drawing, Layer, Point, Words, line
from flownet.report.scene_page import round_values
from flownet.report.scene_plot import Plot, Room
from flownet.report.scene_sweep import FRAME, Drawn, scale, sides
from flownet.report.scene_sweep_lines import FAINT, put_words
from flownet.report.scene_words import Units, pretty

LEVELS = 9
HATCH = 9.0  # between hatch lines
SAMPLES = 160  # along a hatch line
LIMIT = 3.0
SHORT = 40.0  # a line below this length has no label


def contour(drawing: Drawing, drawn: Drawn, units: Units) -> list[str]:
    """Draw the frame and the lines; returns what is to be said below."""
    assert drawn.other is not None
    xs, ys = drawn.x.values, drawn.other.values
    plot = Plot(FRAME, scale(drawn.x.path, drawn.x.quantity, min(xs), max(xs)),
                scale(drawn.other.path, drawn.other.quantity, min(ys), max(ys)))  # fmt: skip
    sides(drawing, plot, units, grid=False)
    xs, ys, values = _rising(xs, ys, drawn.values)
    known = [value for row in values for value in row if math.isfinite(value)]
    low, high = min(known), max(known)
    room = Room(plot.rect.grown(-3.0))
    broken = drawn.bound is not None and (high > drawn.bound if drawn.above else low < drawn.bound)
    parts = list(_hatched(plot, xs, ys, values, drawn)) if broken else []
    drawing.add(Layer.FILL, *(line(part, FAINT, look.HAIR) for part in parts))
    lines = _lines(drawn, plot, xs, ys, values, units)
    for points, _, heavy in lines:
        drawing.add(Layer.MARK, line(points, look.INK, LIMIT if heavy else look.THIN))
    for points, text, heavy in sorted(lines, key=lambda item: not item[2]):
        _label(drawing, room, points, text, heavy)
    for points, _, _ in lines:
        room.line(points)
    if parts:
        put_words(drawing, room, _inside(parts, "over the limit"))
    return list(_notes(drawn, low, high, units))


def _rising(
    xs: Sequence[float], ys: Sequence[float], values: Sequence[Sequence[float]]
) -> tuple[list[float], list[float], list[list[float]]]:
    """Values of both keys from low to high, each once."""
    a, b = ({value: i for i, value in enumerate(along)} for along in (xs, ys))
    first, second = sorted(a), sorted(b)
    return first, second, [[values[a[x]][b[y]] for y in second] for x in first]


Line = tuple[list[Point], str, bool]  # on the page; its label; whether it is the limit


def _lines(
    drawn: Drawn, plot: Plot, xs: Sequence[float], ys: Sequence[float],
    values: Sequence[Sequence[float]], units: Units,
) -> list[Line]:  # fmt: skip
    shown = drawn.quantity.shown(units.system)
    known = [value for row in values for value in row if math.isfinite(value)]
    low, high = (value * shown.factor + shown.offset for value in (min(known), max(known)))
    found: list[Line] = []
    if drawn.bound is not None:
        text = "limit" if not drawn.above else f"limit {units.round(drawn.quantity, drawn.bound)}"
        found += [([plot.at(*p) for p in one], pretty(text), True)
                  for one in isolines(xs, ys, values, drawn.bound)]  # fmt: skip
    levels = round_values(low, high, LEVELS) if high > low else []
    for level in levels:
        inside = (level - shown.offset) / shown.factor
        if drawn.bound is None or abs(inside - drawn.bound) > 1e-9 * max(1.0, abs(drawn.bound)):
            text = pretty(f"{level:g} {shown.unit}".strip())
            found += [([plot.at(*p) for p in one], text, False)
                      for one in isolines(xs, ys, values, inside)]  # fmt: skip
    return found


# --- the broken region ----------------------------------------------------------------------------


def _hatched(
    plot: Plot, xs: Sequence[float], ys: Sequence[float], values: Sequence[Sequence[float]],
    drawn: Drawn,
) -> Iterator[list[Point]]:  # fmt: skip
    """Slanted lines where the limit is broken."""
    rect, bound = plot.rect, drawn.bound
    assert bound is not None
    across = xs[-1] - xs[0]
    up = ys[-1] - ys[0]
    start = rect.x0 - rect.tall
    while start < rect.x1:
        part: list[Point] = []
        for k in range(SAMPLES + 1):
            x, y = start + rect.tall * k / SAMPLES, rect.y0 + rect.tall * k / SAMPLES
            over = False
            if rect.x0 <= x <= rect.x1:
                here = (xs[0] + across * (x - rect.x0) / rect.wide,
                        ys[0] + up * (y - rect.y0) / rect.tall)  # fmt: skip
                value = between(xs, ys, values, here)
                over = value > bound if drawn.above else value < bound
            if over:
                part.append((x, y))
            if part and (not over or k == SAMPLES):
                if len(part) > 1:
                    yield [part[0], part[-1]]
                part = []
        start += HATCH


def _inside(parts: Sequence[Sequence[Point]], text: str) -> Iterator[Words]:
    """Words in the hatched region, from the middle of its longest lines on."""
    longest = sorted(parts, key=lambda part: -math.dist(part[0], part[-1]))
    for part in longest[:12]:
        (xa, ya), (xb, yb) = part
        for share in (0.5, 0.35, 0.65, 0.2, 0.8):
            x, y = xa + share * (xb - xa), ya + share * (yb - ya)
            yield Words(x, y - 3.0, text, look.BODY, True, align="centre")


# --- labels ---------------------------------------------------------------------------------------


def _label(drawing: Drawing, room: Room, points: Sequence[Point], text: str, heavy: bool) -> None:
    """The value of a line in the line, on a white ground, where no other label stands."""
    lengths = [math.dist(a, b) for a, b in pairwise(points)]
    if sum(lengths) < SHORT:
        return
    for share in (0.5, 0.4, 0.6, 0.3, 0.7, 0.2, 0.8, 0.1, 0.9):
        x, y = _along(points, lengths, share)
        size = look.BODY if heavy else look.SMALL
        words = Words(x, y - 0.3 * size, text, size, heavy, align="centre")
        rect = words.rect.grown(1.5)
        if room.free(rect.grown(2.0), lines=False):
            room.taken.append(rect.grown(2.0))
            drawing.area(Layer.PLATE, rect, look.PAPER)
            drawing.add(Layer.LETTER, words)
            return


def _along(points: Sequence[Point], lengths: Sequence[float], share: float) -> Point:
    """The point at a share of a line's length."""
    left = share * sum(lengths)
    for (a, b), length in zip(pairwise(points), lengths, strict=True):
        if left <= length and length > 0:
            part = left / length
            return a[0] + part * (b[0] - a[0]), a[1] + part * (b[1] - a[1])
        left -= length
    return points[-1]


def _notes(drawn: Drawn, low: float, high: float, units: Units) -> Iterator[str]:
    quantity, name = drawn.quantity, drawn.of
    span = f"from {units.text(quantity, low)} to {units.text(quantity, high)}"
    yield f"Lines of equal {name}, {span}."
    if drawn.bound is None:
        yield "No one limit belongs to it."
    elif low <= drawn.bound <= high:
        yield "Heavy: the limit. Hatched: it is broken."
    else:
        broken = (low > drawn.bound) == drawn.above
        text = units.round(quantity, drawn.bound)
        yield f"The limit, {text}, is {'broken' if broken else 'kept'} everywhere."
    missing = sum(not math.isfinite(value) for row in drawn.values for value in row)
    if missing:
        yield f"White, without lines: {missing} combinations have no value."
