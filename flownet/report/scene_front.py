"""The trade-off between two measures: what holds as dots, the front as a stepped line with rings.

Beyond the line, on the side of the dots, everything is no better in either measure than some ring.
The table below tells each ring.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any, NamedTuple

import flownet
from flownet import quantities as q
from flownet.quantities import Quantity
from flownet.report import look, scene_page, scene_words
from flownet.report.heading import titled
from flownet.report.option_choice import Options
from flownet.report.page import spaced
from flownet.report.scene import Drawing, Layer, Point, Rect, Scene, Shape, Words, line, stacked
from flownet.report.scene_letters import width, wrap
from flownet.report.scene_page import round_values
from flownet.report.scene_plot import GRID, TICK, Axis, Plot, Room
from flownet.report.scene_rings import RING, put_ring, ring_at
from flownet.report.scene_words import pretty

MARGIN = 20.0
FRAME = Rect(0.0, 0.0, 430.0, 270.0)
AXES: dict[str, tuple[Quantity, str, str]] = {
    "noise": (q.LEVEL, "noise, the most of all scenarios", "less is better"),
    "power": (q.POWER, "fan power, the most of all scenarios", "less is better"),
    "temperature": (q.DIFFERENCE, "least temperature margin", "more is better"),
    "price": (q.PRICE, "price of the fans", "less is better"),
}
DOT = 1.3
SMALL = 2.2  # radius of a ring without a number
CELL = 1.5  # points of the page: dots that are nearer are one
RINGS = 8  # that are numbered; the others are small
GAP = 12.0
SAMPLE = 30.0
DESIGN = 300.0  # the width of what tells a design


class Mark(NamedTuple):
    """One of the front on the page."""

    at: Point
    option: Any
    number: int  # 0: not numbered


def front_scene(found: Options, units: str = "metric", changed: Sequence[str] = ()) -> Scene:
    """The picture as a scene."""
    drawing, plot = Drawing(changed=changed), _plot(found)
    _frame(drawing, plot, found.best_by, units)
    _dots(drawing, plot, found.cloud)
    marks = _marks(found, plot)
    room = Room(plot.rect.grown(RING + 2.0))
    _steps(drawing, plot, [mark.at for mark in marks], found.best_by, room)
    for mark in marks:
        if not mark.number:
            drawing.add(Layer.PLATE, _spot(mark.at, False))
    for mark in marks:
        if mark.number:
            ring_at(drawing, mark.at, str(mark.number), room)
    shown = [mark.option for mark in marks if mark.number]
    wide, bottom = _table(drawing, found, shown, plot.rect.y0 - 46.0, units)
    wide = max(plot.rect.wide, wide)
    bottom = _key(drawing, bottom - 4.0, found, len(marks) - len(shown))
    _around(drawing, found, shown, plot, wide, bottom, units)
    return drawing.scene(MARGIN, found.case.title)


# --- the frame ------------------------------------------------------------------------------------


def _plot(found: Options) -> Plot:
    axes = []
    for place, name in enumerate(found.best_by):
        known = [pair[place] for pair in found.cloud if all(map(math.isfinite, pair))]
        low, high = (min(known), max(known)) if known else (0.0, 1.0)
        room = 0.08 * (high - low) or 0.02 * abs(high) or 1.0
        axes.append(Axis(AXES[name][0], AXES[name][1], low - room, high + room))
    return Plot(FRAME, axes[0], axes[1])


def _frame(drawing: Drawing, plot: Plot, best_by: Sequence[str], units: str) -> None:
    """Grid, numbers at the left and below, and which way is better."""
    rect = plot.rect
    for share, text in _ticks(plot.across, units, 8):
        x = rect.x0 + share * rect.wide
        drawing.add(Layer.FILL, line([(x, rect.y0), (x, rect.y1)], GRID, look.HAIR))
        drawing.add(Layer.LETTER, Words(x, rect.y0 - TICK - 8.0, text, look.SMALL,
                                        colour=look.QUIET, align="centre"))  # fmt: skip
    for share, text in _ticks(plot.up, units, 7):
        y = rect.y0 + share * rect.tall
        drawing.add(Layer.FILL, line([(rect.x0, y), (rect.x1, y)], GRID, look.HAIR))
        drawing.add(Layer.LETTER, Words(rect.x0 - TICK - 2.0, y - 2.5, text, look.SMALL,
                                        colour=look.QUIET, align="right"))  # fmt: skip
    drawing.area(Layer.WALL, rect, None, edge=look.INK, width=look.THIN)
    below = Words(rect.centre[0], rect.y0 - TICK - 22.0, _title(plot.across, best_by[0], units),
                  look.BODY, align="centre")  # fmt: skip
    above = Words(rect.x0 - 24.0, rect.y1 + 8.0, _title(plot.up, best_by[1], units), look.BODY)
    drawing.add(Layer.LETTER, below, above)


def _ticks(axis: Axis, units: str, most: int) -> list[tuple[float, str]]:
    shown = axis.quantity.shown(units)
    values = round_values(axis.low * shown.factor, axis.high * shown.factor, most)
    return [(axis.share(value / shown.factor), f"{value:g}") for value in values]


def _title(axis: Axis, name: str, units: str) -> str:
    """`noise, the most of all scenarios, dBA (less is better)`."""
    unit = axis.quantity.shown(units).unit
    return pretty(f"{axis.name}{f', {unit}' if unit else ''} ({AXES[name][2]})")


# --- what holds -----------------------------------------------------------------------------------


def _dots(drawing: Drawing, plot: Plot, cloud: Sequence[tuple[float, float]]) -> None:
    """Designs that hold; one dot for those that cannot be told apart on paper."""
    seen = set()
    for pair in cloud:
        if all(map(math.isfinite, pair)):
            x, y = plot.at(*pair)
            cell = round(x / CELL), round(y / CELL)
            if cell not in seen:
                seen.add(cell)
                drawing.add(Layer.LEADER, _spot((x, y), True))


def _spot(at: Point, dot: bool) -> Shape:
    """A quiet dot, or a small ring of the front."""
    if dot:
        return Shape(_circle(at, DOT), look.QUIET)
    return Shape(_circle(at, SMALL), look.PAPER, look.INK, look.THIN)


def _circle(centre: Point, size: float) -> tuple[Point, ...]:
    turns = [i * math.pi / 6 for i in range(12)]
    return tuple((centre[0] + size * math.cos(t), centre[1] + size * math.sin(t)) for t in turns)


def _marks(found: Options, plot: Plot) -> list[Mark]:
    """The front on the page; of many, numbers for some along it, both ends among them."""
    a, b = found.best_by
    drawn = [option for option in found.front
             if math.isfinite(option.value(a)) and math.isfinite(option.value(b))]  # fmt: skip
    last = len(drawn) - 1
    told = (
        {round(i * last / (RINGS - 1)) for i in range(RINGS)} if last >= RINGS else range(last + 1)
    )
    numbers = {place: number for number, place in enumerate(sorted(told), 1)}
    return [Mark(plot.at(option.value(a), option.value(b)), option, numbers.get(i, 0))
            for i, option in enumerate(drawn)]  # fmt: skip


def _steps(
    drawing: Drawing, plot: Plot, points: Sequence[Point], best_by: Sequence[str], room: Room
) -> None:
    """Between two of the front nothing is better than the worse of both in each measure."""
    if not points:
        return
    rect = plot.rect
    path = [points[0]]
    for point in points[1:]:
        path += [(point[0], path[-1][1]), point]
    worse_x = rect.x0 if best_by[0] == "temperature" else rect.x1
    worse_y = rect.y0 if best_by[1] == "temperature" else rect.y1
    ends = ([(points[0][0], worse_y), points[0]], [points[-1], (worse_x, points[-1][1])])
    for end in ends:
        drawing.add(Layer.MARK, line(end, look.INK, look.HAIR))
    drawing.add(Layer.MARK, line(path, look.INK, look.BOLD))
    room.line(path)


# --- below ----------------------------------------------------------------------------------------


def _table(
    drawing: Drawing, found: Options, shown: Sequence[Any], top: float, units: str
) -> tuple[float, float]:
    """Each ring with both measures, the margin and the design; its width and lower end."""
    names = [name for name in found.best_by if name != "temperature"]
    heads = ["", *found.best_by, *(["margin"] if names == [*found.best_by] else []), "design"]
    columns = [(head, texts) for head, texts in found.columns(shown, units)]
    designs = [pretty(", ".join(f"{head} {texts[i]}" for head, texts in columns)) or "-"
               for i in range(len(shown))]  # fmt: skip
    rows = [
        ["", *(pretty(found.measure(name, option, units).removeprefix("price "))
               for name in found.best_by),
         *([pretty(found.margin(option, units))] if "margin" in heads else [])]
        for option in shown
    ]  # fmt: skip
    sizes = [2 * RING + GAP]
    sizes += [max([width(heads[i], look.SMALL), *(width(row[i], look.BODY) for row in rows)]) + GAP
              for i in range(1, len(heads) - 1)]  # fmt: skip
    rights = [sum(sizes[: i + 1]) - GAP for i in range(len(sizes))]
    left, y = sum(sizes), top
    for i, head in enumerate(heads[1:-1], 1):
        drawing.add(Layer.LETTER, Words(rights[i], y, head, look.SMALL, colour=look.QUIET,
                                        align="right"))  # fmt: skip
    drawing.add(Layer.LETTER, Words(left, y, "design", look.SMALL, colour=look.QUIET))
    y -= 2.1 * RING
    for number, (row, design) in enumerate(zip(rows, designs, strict=True), 1):
        lines = wrap(design, look.BODY, False, DESIGN)
        put_ring(drawing, (RING, y + 2.8), (RING, y + 2.8), str(number))
        for i, text in enumerate(row[1:], 1):
            drawing.add(Layer.LETTER, Words(rights[i], y, text, look.BODY, align="right"))
        for k, text in enumerate(lines):
            step = look.LINE_SPACING * look.BODY
            drawing.add(Layer.LETTER, Words(left, y - k * step, text, look.BODY))
        y -= max(2.1 * RING + 1.5, look.LINE_SPACING * look.BODY * len(lines) + 4.0)
    return left + DESIGN, y


def _key(drawing: Drawing, top: float, found: Options, small: int) -> float:
    """What dots and line are; returns the lower end."""
    said = [("dot", "designs that keep every limit in every scenario"),
            ("line", "trade-off: no design is better than a ring in one measure without being "
             "worse in the other")]  # fmt: skip
    if small:
        said.append(("small", f"{small} more on the trade-off, without a number"))
    y = top
    for sort, text in said:
        middle = y - 0.5 * look.BODY
        if sort == "line":
            drawing.add(Layer.MARK, line([(0.0, middle), (SAMPLE, middle)], look.INK, look.BOLD))
        else:
            drawing.add(Layer.MARK, _spot((SAMPLE / 2, middle), sort == "dot"))
        placed, rect = stacked([Words(0, 0, text, look.BODY)], SAMPLE + 8.0, y)
        drawing.add(Layer.LETTER, *placed)
        y = rect.y0 - 3.0
    return y


def _around(
    drawing: Drawing, found: Options, shown: Sequence[Any], plot: Plot, wide: float, bottom: float,
    units: str,
) -> None:  # fmt: skip
    """Head lines above; what is common, how it was found and the signature below."""
    case, counts = found.case, found.counts
    a, b = found.best_by
    if found.front:
        first = f"{spaced(counts.accepted)} of {spaced(counts.different)} designs hold everywhere; "
        first += f"{len(found.front)} on the trade-off between {a} and {b}"
    else:
        first = found.verdicts(units)[0]
    heads = [
        (pretty(first), look.TITLE, True, look.INK),
        (titled(case), look.HEAD, True, look.INK),
        (f"choice {found.name}", look.HEAD, True, look.INK),
    ]
    scene_page.head(drawing, (0.0, plot.rect.y1 + 28.0), wide, heads)
    common = found.common(shown, units)
    notes = [f"The same in all: {', '.join(map(pretty, common))}."] if common else []
    notes += [f"{found.how[0].upper()}{found.how[1:]}.",
              scene_words.signature(case, flownet.__version__)]  # fmt: skip
    rows = [Words(0, 0, text, look.SMALL, False, look.QUIET) for words in notes
            for text in wrap(words, look.SMALL, False, wide)]  # fmt: skip
    placed, _ = stacked(rows, 0.0, bottom - 6.0)
    drawing.add(Layer.LETTER, *placed)
