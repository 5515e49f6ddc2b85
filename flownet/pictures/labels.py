"""Names and numbered rings on axes: each looks for a place where it covers nothing.

Places are found in points of the page, at the limits the axes have then; what is put stands at
offsets from its point in data units, so that it follows when the axes are zoomed.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Iterator, Sequence
from typing import Any, NamedTuple

import numpy as np
from matplotlib.axes import Axes

from flownet.arrays import Array
from flownet.pictures import style
from flownet.report.look import ASCENT, DESCENT
from flownet.report.scene import Rect
from flownet.report.scene_letters import width, wrap

RING = 5.0  # radius
STEP = 2.0  # between points by which a line is known
AROUND = (1, 3, 5, 7, 0, 2, 4, 6)  # eighths of a turn, the best first


class Room:
    """What is taken on axes whose limits are set."""

    def __init__(self, ax: Axes) -> None:
        self.ax = ax
        self.scale = 72.0 / ax.figure.dpi
        box = ax.get_window_extent()
        corners = (box.x0, box.y0, box.x1, box.y1)
        self.rect = Rect(*(self.scale * value for value in corners)).grown(-2.0)
        self.taken: list[Rect] = []
        self.points = np.empty((0, 2))

    def at(self, x: Any, y: Any) -> Array:
        """(points, 2) places of pairs of values."""
        data = np.column_stack([np.atleast_1d(x), np.atleast_1d(y)])
        found: Array = self.scale * self.ax.transData.transform(data)
        return found

    def line(self, x: Any, y: Any) -> None:
        """Keep a line free of words."""
        points = self.at(x, y)
        points = points[np.isfinite(points).all(axis=1)]
        if len(points) > 1:
            along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
            where = np.arange(0.0, min(along[-1], 1e5), STEP)
            points = np.column_stack([np.interp(where, along, column) for column in points.T])
        self.points = np.vstack([self.points, points])

    def keep(self, x: Any, y: Any, size: float = 3.0) -> None:
        """Keep a point free of words."""
        self.taken += [Rect(*p, *p).grown(size) for p in self.at(x, y).tolist()]

    def crossed(self, rect: Rect) -> int:
        """How much of lines a rectangle covers."""
        x, y = self.points.T
        return int(((rect.x0 < x) & (x < rect.x1) & (rect.y0 < y) & (y < rect.y1)).sum())

    def free(self, rect: Rect) -> bool:
        """Whether a rectangle lies inside and covers nothing but lines."""
        return self.rect.holds(rect) and not any(rect.meets(one) for one in self.taken)

    def name(
        self, x: Any, y: Any, texts: str | Sequence[str], *, size: float = style.BODY,
        bold: bool = False, lines: bool = False, **kept: Any,
    ) -> bool:  # fmt: skip
        """The first text that finds a place beside a line or a point; whether one did.

        `lines`: it may cover lines, on a white edge.
        """
        points = self.at(x, y)
        here = np.flatnonzero([self.rect.holds(Rect(*p, *p)) for p in points.tolist()])
        order = sorted(here, key=lambda i: abs(i - here[0] - 0.35 * len(here)))
        xs, ys = np.atleast_1d(x), np.atleast_1d(y)
        for text in [texts] if isinstance(texts, str) else texts:
            wide, tall = width(text, size, bold), (ASCENT + DESCENT) * size
            for i, dx, dy, align in _beside(order):
                left = points[i][0] + dx - wide * ALIGN[align]
                low = points[i][1] + dy - DESCENT * size
                rect = Rect(left, low, left + wide, low + tall).grown(1.5)
                if self.free(rect) and (lines or not self.crossed(rect)):
                    self.taken.append(rect)
                    self.ax.annotate(
                        text, (xs[i], ys[i]), (dx, dy), textcoords="offset points", ha=align,
                        va="baseline", size=size, weight="bold" if bold else "normal", zorder=9,
                        path_effects=style.white() if lines else None, **kept,
                    )  # fmt: skip
                    return True
        return False

    def along(self, x: Array, y: float, text: str, up: bool) -> None:
        """Words along a level line, on one side of it, on a white edge; nothing without room."""
        for away in (3.0, 10.0, 18.0):
            dy = away if up else -away - ASCENT * style.BODY
            for at, (left, base) in zip(x.tolist(), self.at(x, np.full(len(x), y)), strict=True):
                low = base + dy - DESCENT * style.BODY
                rect = Rect(left, low, left + width(text, style.BODY), low + style.BODY).grown(1.5)
                if self.free(rect) and not self.crossed(rect):
                    self.taken.append(rect)
                    self.ax.annotate(text, (at, y), (0, dy), textcoords="offset points", zorder=9,
                                     path_effects=style.white())  # fmt: skip
                    return

    def ring(self, x: float, y: float, number: str, **kept: Any) -> None:
        """A numbered ring at its point, or beside it, with a thin line, where another one is."""
        at = self.at(x, y)[0]
        for away in (0.0, 13.0, 18.0, 24.0, 32.0, 42.0, 54.0):
            for turn in AROUND:
                dx, dy = (away * f(turn * math.pi / 4) for f in (math.cos, math.sin))
                rect = Rect(at[0] + dx, at[1] + dy, at[0] + dx, at[1] + dy).grown(RING + 1.0)
                if self.free(rect) and (away == 0.0 or self.crossed(rect) < 6):
                    self.taken += [rect] if not away else [rect, Rect(*at, *at).grown(2.5)]
                    return self._ring(x, y, (dx, dy), number, **kept)
        return self._ring(x, y, (0.0, 0.0), number, **kept)  # nowhere free: over what is there

    def _ring(
        self, x: float, y: float, offset: tuple[float, float], number: str, **kept: Any
    ) -> None:
        arrow = {"arrowstyle": "-", "linewidth": 0.6, "color": style.INK, "shrinkA": 0, "shrinkB": 0}
        if offset != (0.0, 0.0):
            self.ax.plot([x], [y], "o", ms=3, mfc="white", mec=style.INK, mew=0.7, zorder=7)
        ring(self.ax, (x, y), number, xytext=offset, textcoords="offset points",
             arrowprops=arrow if offset != (0.0, 0.0) else None, **kept)  # fmt: skip


def ring(ax: Axes, at: tuple[float, float], number: str, edge: str = style.INK, **kept: Any) -> None:
    """A white ring with a number."""
    place = {"xytext": (0.0, 0.0), "textcoords": "offset points"} | kept
    ax.annotate(number, at, ha="center", va="center", size=6.5, weight="bold", zorder=8,
                annotation_clip=False, bbox={"boxstyle": f"circle,pad=0.28", "fc": "white",
                                             "ec": edge, "lw": 1.1}, **place)  # fmt: skip


def ends(ax: Axes, values: Sequence[float], texts: Sequence[str], zero: float = 0.0) -> tuple[float, float]:
    """Limits of axes that hold bars from `zero`, each with a text beyond its end."""
    room = float(ax.get_window_extent().width) * 72 / ax.figure.dpi
    wide = [max([width(text, style.BODY) + 6.0 for value, text in zip(values, texts, strict=True)
                 if (value > zero) == up], default=0.0) for up in (False, True)]  # fmt: skip
    low, high = min([zero, *values]), max([zero, *values])
    scale = (high - low or 1.0) / max(room - sum(wide), 0.3 * room)
    return low - wide[0] * scale, high + wide[1] * scale


ALIGN = {"left": 0.0, "center": 0.5, "right": 1.0}


def _beside(order: Iterable[int]) -> Iterator[tuple[int, float, float, str]]:
    """Offsets from the points of a line, near ones first, from a third along it on both ways."""
    listed = list(order)
    for away in (4.0, 8.0, 13.0, 20.0, 30.0):
        for i in listed:
            yield i, away, away - 2, "left"
            yield i, -away, away - 2, "right"
            yield i, away, -away - 4, "left"
            yield i, -away, -away - 4, "right"
            yield i, 0.0, away, "center"
            yield i, 0.0, -away - 5, "center"


# --- tables --------------------------------------------------------------------------------------


ROW = 4.6  # mm, of a table


def table(
    paper: style.Paper, top: float, heads: Sequence[str], rows: Sequence[Sequence[str]],
    numbers: Sequence[str] = (), bold: Sequence[int] = (), edges: Sequence[str] = (),
) -> None:  # fmt: skip
    """Ringed rows in words, the first column its number; `numbers` name the columns that end right.

    Nothing on axes of somebody else: they have no room for it.
    """
    if paper.ax is not None:
        return
    ax = paper.panel(0.0, top, paper.wide, ROW * (len(rows) + 1))
    ax.set(xlim=(0, paper.wide), ylim=(len(rows) + 0.5, -0.5))
    ax.axis("off")
    right = 3.0
    for i, head in enumerate(heads):
        texts = [row[i] for row in rows]
        if not any(texts):
            continue
        widest = max([width(head, style.SMALL), *(width(t, style.BODY, r in bold)
                                                   for r, t in enumerate(texts))])  # fmt: skip
        wide = widest * style.POINT + 4.5 if i else 8.0
        x, side = (right + wide - 4.5, "right") if head in numbers else (right, "left")
        right += wide
        ax.text(x, 0, head, ha=side, va="center", size=style.SMALL, color=style.QUIET)
        for row, text in enumerate(texts):
            if i == 0:
                ring(ax, (x + 2.5, row + 1), text, edges[row] if edges else style.INK)
            else:
                ax.text(x, row + 1, text, ha=side, va="center",
                        weight="bold" if row in bold else "normal")  # fmt: skip


def table_tall(rows: Sequence[Any]) -> float:
    """How much of a page a table takes."""
    return ROW * (len(rows) + 1) + 1.0


class Column(NamedTuple):
    """Words beside the rows of a chart, at the height of each."""

    head: str
    at: float  # mm from the left side of the axes, or from its right side where above zero
    texts: Sequence[str]
    align: str = "left"
    bold: Collection[int] = ()
    wide: float = 1e3  # mm, where longer ones are broken
    size: float = style.BODY
    tone: str = style.INK


def columns(ax: Axes, paper: style.Paper, found: Sequence[Column]) -> None:
    """Columns that stay beside their rows; on axes of somebody else the first, as its ticks."""
    ax.set_yticks([])
    if paper.ax is not None:
        ax.set_yticks(range(len(found[0].texts)), found[0].texts, size=style.SMALL)
        ax.tick_params(axis="y", length=0)
        return
    for column in found:
        side, at = (0, column.at) if column.at < 0 else (1, column.at)
        ax.annotate(column.head, (side, 1), (at / style.POINT, 5), xycoords="axes fraction",
                    textcoords="offset points", ha=column.align, size=style.SMALL,
                    color=style.QUIET)  # fmt: skip
        for row, text in enumerate(column.texts):
            bold = row in column.bold
            lines = wrap(text, column.size, bold, column.wide / style.POINT)
            ax.annotate("\n".join(lines), (side, row), (at / style.POINT, 0), va="center",
                        xycoords=ax.get_yaxis_transform(), textcoords="offset points",
                        ha=column.align, size=column.size, color=column.tone, linespacing=1.0,
                        weight="bold" if bold else "normal")  # fmt: skip


def leader(
    ax: Axes, value: float, place: float, texts: Sequence[tuple[float, str, str]], *,
    bold: bool = False, tone: str = style.INK,
) -> None:  # fmt: skip
    """Words right of the axes at `place`, a thin line from them to a value at the right side.

    `texts`: each with its distance from the axes in mm, on which side it ends there, its words.
    """
    across = ax.get_yaxis_transform()
    start = across.transform((1, place)) - across.transform((1, value))
    arrow = {"arrowstyle": "-", "linewidth": 0.5, "color": style.QUIET, "shrinkA": 0, "shrinkB": 0}
    ax.annotate("", (1, value), (5.0 / style.POINT, float(start[1]) * 72 / ax.figure.dpi),
                xycoords=across, textcoords="offset points", arrowprops=arrow)  # fmt: skip
    for at, side, text in texts:
        ax.annotate(text, (1, place), (at / style.POINT, 0), textcoords="offset points", ha=side,
                    va="center", color=tone, weight="bold" if bold else "normal",
                    xycoords=across)  # fmt: skip
