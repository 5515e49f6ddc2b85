"""Names and numbered rings on axes: each looks for a place where it covers nothing.

Places are found in points of the page, at the limits the axes have then; what is put stands at
offsets from its point in data units, so that it follows when the axes are zoomed.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import product
from typing import Any

import numpy as np

from flownet.pictures import style
from flownet.pictures.scene.look import ASCENT, DESCENT
from flownet.pictures.scene.scene import Rect, square
from flownet.pictures.scene.text_metrics import width
from flownet.pictures.style import Axes
from flownet.pictures.tables import ring
from flownet.schema.arrays import Array
from flownet.schema.quantities import Quantity

RING = 5.0  # radius
STEP = 2.0  # between points by which a line is known
PLATE = {"fc": "white", "ec": "none", "pad": 0.8}  # under a name, which stays text in an SVG
AROUND = (1, 3, 5, 7, 0, 2, 4, 6)  # eighths of a turn, the best first
FAR = (0.0, 13.0, 18.0, 24.0, 32.0, 42.0, 54.0)  # of a ring from its point
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
        return np.array([np.atleast_1d(style.shown(quantity, values, self.units))
                         for quantity, values in zip(self.quantities, (x, y), strict=True)])

    def at(self, x: Any, y: Any) -> Array:
        """(points, 2) their places."""
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
            where = np.arange(0.0, min(along[-1], 1e5), STEP)
            points = np.column_stack([np.interp(where, along, column) for column in points.T])
        self.points = np.vstack([self.points, points])

    def keep(self, x: Any, y: Any, size: float = 3.0) -> None:
        """Keep a point free of words."""
        self.taken += [square(p, size) for p in self.at(x, y).tolist()]

    def free(self, rect: Rect, most: float = math.inf) -> bool:
        """Whether a rectangle lies inside and covers nothing, of lines at most so much."""
        if not self.rect.holds(rect) or any(rect.meets(one) for one in self.taken):
            return False
        x, y = self.points.T
        over = (rect.x0 < x) & (x < rect.x1) & (rect.y0 < y) & (y < rect.y1)
        return bool(over.sum() <= most)

    def name(
        self, x: Any, y: Any, texts: str | Sequence[str], *, size: float = style.BODY,
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
                        zorder=9, color=tone, bbox=PLATE,
                    )  # fmt: skip
                    return True
        return False

    def ring(self, x: float, y: float, number: str, edge: str = style.INK) -> None:
        """A numbered ring at its point, or beside it, with a thin line, where another one is."""
        (here,), (x, y) = self.at(x, y).tolist(), self.shown(x, y)[:, 0].tolist()
        turns = [(away * math.cos(turn * math.pi / 4), away * math.sin(turn * math.pi / 4))
                 for away in FAR for turn in AROUND]  # fmt: skip
        dx, dy = next(((dx, dy) for dx, dy in turns if self.free(
            square((here[0] + dx, here[1] + dy), RING + 1.0), 5 if dx or dy else math.inf)),
            (0.0, 0.0))  # fmt: skip
        self.taken.append(square((here[0] + dx, here[1] + dy), RING + 1.0))
        arrow = None
        if dx or dy:
            self.taken.append(square((here[0], here[1]), 2.5))
            style.points(self.ax, [x], [y], 3, mec=edge, mew=0.7, zorder=7)
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
