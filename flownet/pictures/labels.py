"""Words on, beside and below charts.

Names and numbered rings on axes look for a place where they cover nothing: in points of the page,
at the limits the axes have then; they stand at offsets from their point in data units, so that they
follow when the axes are zoomed. Beside stand columns at rows and names at the ends of lines, below
ringed tables.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Sequence
from itertools import product
from typing import Any, NamedTuple

import numpy as np

from flownet.pictures import style
from flownet.pictures.scene.look import ASCENT, DESCENT
from flownet.pictures.scene.scene import Rect, push_apart, square
from flownet.pictures.scene.text_metrics import width, wrap
from flownet.pictures.style import Axes
from flownet.schema.arrays import Array
from flownet.schema.quantities import Quantity

TABLE_ROW, NEXT = 4.6, 3.2  # mm: a row of a table, a further line in it
RING = 5.0  # radius
LINE_STEP = 2.0  # between points by which a line is known
NAME_PLATE = {"fc": "white", "ec": "none", "pad": 0.8}  # under a name, which stays text in an SVG
AROUND = (1, 3, 5, 7, 0, 2, 4, 6)  # eighths of a turn, the best first
OFF_POINT = (0.0, 13.0, 18.0, 24.0, 32.0, 42.0, 54.0)  # of a ring from its point
ALIGN = {"left": 0.0, "center": 0.5, "right": 1.0}


class AxesRoom:
    """What is taken on axes whose limits are set; with quantities, values are given in SI."""

    def __init__(
        self, ax: Axes, quantities: Sequence[Quantity | None] = (None, None), units: str = ""
    ) -> None:
        self.ax, self.scale = ax, 72.0 / ax.figure.dpi
        self.quantities, self.units = quantities, units
        box = ax.get_window_extent().extents
        self.rect = Rect(*(self.scale * float(side) for side in box)).grown(-2.0)
        self.taken: list[Rect] = []
        self.points = np.empty((0, 2))

    def shown(self, x: Any, y: Any) -> Array:
        """(2, points) pairs of values as the axes have them."""
        return np.array(
            [
                np.atleast_1d(style.shown(quantity, values, self.units))
                for quantity, values in zip(self.quantities, (x, y), strict=True)
            ]
        )

    def at(self, x: Any, y: Any) -> Array:
        found: Array = self.scale * self.ax.transData.transform(self.shown(x, y).T)
        return found

    def draw(self, x: Any, y: Any, **look: Any) -> None:
        """Draw a line and keep it free of words."""
        self.ax.plot(*self.shown(x, y), **look)
        self.line(x, y)

    def line(self, x: Any, y: Any) -> None:
        """Keep a line free of words."""
        points = self.at(x, y)
        points = points[np.isfinite(points).all(axis=1)]
        if len(points) > 1:
            along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
            where = np.arange(0.0, min(along[-1], 1e5), LINE_STEP)
            points = np.column_stack([np.interp(where, along, column) for column in points.T])
        self.points = np.vstack([self.points, points])

    def keep(self, x: Any, y: Any) -> None:
        """Keep points free of words."""
        self.taken += [square(p, 3.0) for p in self.at(x, y).tolist()]

    def free(self, rect: Rect, most: float = math.inf) -> bool:
        """Whether a rectangle lies inside and covers nothing, of lines at most so much."""
        if not self.rect.holds(rect) or any(rect.meets(one) for one in self.taken):
            return False
        x, y = self.points.T
        over = (rect.x0 < x) & (x < rect.x1) & (rect.y0 < y) & (y < rect.y1)
        return bool(over.sum() <= most)

    def name(
        self, x: Any, y: Any, texts: str | Sequence[str], *, size: float = style.MEDIUM,
        bold: bool = False, lines: bool = False, up: bool | None = None,
        tone: str = style.INK,
    ) -> bool:  # fmt: skip
        """The first text that finds a place beside a line or a point; whether one did.

        `lines`: it may cover lines in need. `up`: above the line, or below it; None: either.
        """
        points, data = self.at(x, y), self.shown(x, y).T.tolist()
        here = [i for i, p in enumerate(points.tolist()) if self.rect.holds(Rect(*p, *p))]
        order = sorted(here, key=lambda i: abs(i - here[0] - 0.35 * len(here)))
        told = [texts] if isinstance(texts, str) else texts
        for most, text in product((0, math.inf) if lines else (0,), told):
            wide, tall = width(text, size, bold), (ASCENT + DESCENT) * size
            for i, dx, dy, align in _offsets(order):
                left = points[i][0] + dx - wide * ALIGN[align]
                low = points[i][1] + dy - DESCENT * size
                rect = Rect(left, low, left + wide, low + tall).grown(1.5)
                if (up is None or (dy > 0) == up) and self.free(rect, most):
                    self.taken.append(rect)
                    style.beside(
                        self.ax, text, data[i], (dx, dy), "xy", ha=align, va="baseline", size=size,
                        weight="bold" if bold else "normal",
                        zorder=9, color=tone, bbox=NAME_PLATE,
                    )  # fmt: skip
                    return True
        return False

    def ring(self, x: float, y: float, number: str, edge: str = style.INK) -> None:
        """A numbered ring at its point, or beside it, with a thin line, where another one is."""
        (here,), (x, y) = self.at(x, y).tolist(), self.shown(x, y)[:, 0].tolist()
        turns = [(away * math.cos(turn * math.pi / 4), away * math.sin(turn * math.pi / 4))
                 for away in OFF_POINT for turn in AROUND]  # fmt: skip
        dx, dy = next(((dx, dy) for dx, dy in turns if self.free(
            square((here[0] + dx, here[1] + dy), RING + 1.0), 5 if dx or dy else math.inf)),
            (0.0, 0.0))  # fmt: skip
        self.taken.append(square((here[0] + dx, here[1] + dy), RING + 1.0))
        arrow = None
        if dx or dy:
            self.taken.append(square((here[0], here[1]), 2.5))
            style.points(self.ax, [x], [y], ms=3, mec=edge, mew=0.7, zorder=7)
            arrow = {"arrowstyle": "-", "linewidth": 0.6, "color": style.INK}
        style.beside(self.ax, number, (x, y), (dx, dy), "xy", zorder=8, arrowprops=arrow,
                     **ring(edge))  # fmt: skip


def _offsets(order: Sequence[int]) -> Iterator[tuple[int, float, float, str]]:
    """Offsets from the points of a line, near ones first, from a third along it on both ways."""
    for away in (4.0, 8.0, 13.0, 20.0, 30.0):
        for i in order:
            for low in (away - 2, -away - 4):
                yield i, away, low, "left"
                yield i, -away, low, "right"
            yield i, 0.0, away, "center"
            yield i, 0.0, -away - 5, "center"


# --- beside and below ----------------------------------------------------------------------------


def ring(edge: str = style.INK) -> dict[str, Any]:
    """How a number looks in a white ring."""
    box = {"boxstyle": "circle,pad=0.28", "fc": "white", "ec": edge, "lw": 1.1}
    return {"ha": "center", "va": "center", "size": 6.5, "weight": "bold", "bbox": box,
            "color": style.INK}  # fmt: skip


def _weight(bold: bool) -> str:
    return "bold" if bold else "normal"


def table(
    paper: style.Paper, top: float, heads: Sequence[str], rows: Sequence[Sequence[str]],
    numbers: Sequence[str] = (), bold: Collection[int] = (), edge: str = style.INK,
) -> None:  # fmt: skip
    """Ringed rows in words, the first column its number; `numbers` name the columns that end right.

    A cell may have several lines. Nothing on axes of somebody else: they have no room for it.
    """
    if paper.ax is not None:
        return
    right, heights = 3.0, np.cumsum([paper.top + top + 3.0 + TABLE_ROW, *map(_height, rows)])
    for i, head in enumerate(heads):
        texts = [row[i].split("\n") for row in rows]
        if not any(any(lines) for lines in texts):
            continue
        sizes = [
            width(line, style.MEDIUM, row in bold) for row, t in enumerate(texts) for line in t
        ]
        wide = max(width(head, style.LEGIBLE), *sizes) * style.POINT + 4.5 if i else 8.0
        x, side = (right + wide - 4.5, "right") if head in numbers else (right, "left")
        right += wide
        paper.words(x, heights[0] - TABLE_ROW, head, ha=side, size=style.LEGIBLE, color=style.QUIET)
        for row, (lines, y) in enumerate(zip(texts, heights, strict=False)):
            if i == 0:
                paper.words(x + 2.5, y - 0.8, lines[0], **ring(edge))
                continue
            for k, line in enumerate(lines):
                paper.words(x, y + NEXT * k, line, ha=side, weight=_weight(row in bold))


def table_tall(rows: Sequence[Sequence[str]]) -> float:
    """How much of a page a table takes."""
    return TABLE_ROW + sum(map(_height, rows)) + 1.0


def _height(row: Sequence[str]) -> float:
    return TABLE_ROW + NEXT * max(text.count("\n") for text in row)


class TextColumn(NamedTuple):
    """Words beside the rows of a chart, at the height of each."""

    head: str
    at: float  # mm from the left side of the axes, or from its right side where above zero
    texts: Sequence[str]
    align: str = "left"
    bold: Collection[int] = ()
    wide: float = 1e3  # mm, where longer ones are broken

    def lines(self, row: int) -> list[str]:
        """Its words there, in two lines at most."""
        text, bold = style.pretty(self.texts[row]), row in self.bold
        found = wrap(text, style.MEDIUM, bold, self.wide / style.POINT)
        return [found[0], f"{found[1]}…"] if len(found) > 2 else found


def columns(ax: Axes, paper: style.Paper, found: Sequence[TextColumn]) -> None:
    """Columns that stay beside their rows; on axes of somebody else the first, as its ticks."""
    if paper.ax is not None:
        names = ["\n".join(found[0].lines(row)) for row in range(len(found[0].texts))]
        ax.set_yticks(range(len(names)), names)
        return
    ax.set_yticks([])
    for column in found:
        side, off = int(column.at > 0), column.at / style.POINT
        style.beside(ax, style.pretty(column.head), (side, 1), (off, 5), ha=column.align)
        for row in range(len(column.texts)):
            bold, lines = row in column.bold, column.lines(row)
            style.beside(ax, "\n".join(lines), (side, row), (off, 0), "y", ha=column.align,
                         va="center", linespacing=1.0, weight=_weight(bold), size=style.MEDIUM,
                         color=style.INK)  # fmt: skip


class AtEnd(NamedTuple):
    """What stands at the right end of a line."""

    value: float  # of the line there
    texts: Sequence[str]
    bold: bool = False
    tone: str = style.INK


def at_ends(
    ax: Axes, found: Sequence[AtEnd], places: Sequence[tuple[float, str]], gap: float,
    above: float = 0.0,
) -> None:  # fmt: skip
    """Words right of the axes, each tied to the end of its line, pushed apart by `gap` points.

    `places` tell of each text how far from the axes it stands [mm], and which side ends there;
    `above` is kept free, as a share of the gap.
    """
    (low, high), tall = ax.get_ylim(), style.extent(ax)[1]
    step = gap / tall * (high - low)
    heights = spread([one.value for one in found], step, low, high - above * step)
    arrow = {"arrowstyle": "-", "linewidth": 0.5, "color": style.QUIET, "shrinkA": 0, "shrinkB": 0}
    for one, place in zip(found, heights.tolist(), strict=True):
        rise = (place - one.value) / (high - low) * tall
        style.beside(ax, "", (1, one.value), (5.0 / style.POINT, rise), "y", arrowprops=arrow)
        for (far, side), text in zip(places, one.texts, strict=False):
            style.beside(ax, style.pretty(text), (1, place), (far / style.POINT, 0), "y", ha=side,
                         va="center", color=one.tone, weight=_weight(one.bold),
                         size=style.MEDIUM)  # fmt: skip


def spread(wanted: Sequence[float], gap: float, low: float, high: float) -> Array:
    """Places as near to those wanted as a least distance allows, in the same order."""
    order = np.argsort(wanted, kind="stable")
    gap = min(gap, (high - low) / max(len(order) - 1, 1))
    steps = gap * np.arange(len(order))
    apart = push_apart([wanted[i] for i in order], [0.0] * len(order), gap)
    found: Array = np.empty(len(order))
    found[order] = np.clip(apart - steps, low, high - steps[-1]) + steps
    return found


def ends(ax: Axes, values: Sequence[float], texts: Sequence[str]) -> tuple[float, float]:
    """Limits of axes that hold bars from zero, each with a text beyond its end."""
    room = style.extent(ax)[0]
    wide = [max([width(text, style.MEDIUM) + 6.0 for value, text in zip(values, texts, strict=True)
                 if (value > 0) == up], default=0.0) for up in (False, True)]  # fmt: skip
    low, high = min([0.0, *values]), max([0.0, *values])
    if low == high:
        return -1.0, 1.0
    scale = (high - low) / max(room - sum(wide), 0.3 * room)
    return low - wide[0] * scale, high + wide[1] * scale
