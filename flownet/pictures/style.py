"""The one look of all charts: page, title, caption, units, limits. Lengths are millimetres."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable, Sequence
from functools import wraps
from typing import Any, ParamSpec

import matplotlib as mpl
import numpy as np
from matplotlib import pyplot
from matplotlib.axes import Axes
from matplotlib.lines import Line2D

from flownet.judging.assessment import THERMAL
from flownet.pictures.caption import Units, caption, pretty
from flownet.pictures.scene.look import CLEAN_LINE, GROUND, INK, LOADED_LINE, OK, OVER, QUIET, TIGHT
from flownet.pictures.scene.text_metrics import FAMILY, width, wrap
from flownet.results.limits import AT_LEAST
from flownet.schema.arrays import Array
from flownet.schema.quantities import Quantity

__all__ = ["CLEAN_LINE", "GROUND", "INK", "LOADED_LINE", "OK", "OVER", "QUIET", "TIGHT", "Array",
           "Axes", "Units", "caption", "pretty", "width", "wrap"]  # fmt: skip
GRID, PALE, ALLOWED = "#E3E6E8", "#B9C0BC", "#DDE8DF"
TITLE, SUBTITLE, MEDIUM, LEGIBLE = 11.0, 8.0, 7.0, 6.0  # letters in points: nothing is smaller
POINT = 25.4 / 72
PAGE_WIDE, PAGE_EDGE = 170.0, 2.0  # of a page as it is printed, and free at its sides
LEADING = {TITLE: 4.9, MEDIUM: 3.5, LEGIBLE: 2.95}  # from line to line
JOINT = "\x7f"  # between a number and its unit while a title is broken
LIMIT = 1.8  # points, of the line of a limit
BAR_ROWS = 15  # rows of bars
CUT_AT = -1.0  # shares of what a limit allows that are drawn; less is cut there
SHARE_TICKS = {-1.0: "−100 %", -0.5: "−50 %", 0.0: "limit", 0.5: "50 %", 1.0: "100 %"}
EQUAL = 1e-3  # relative: values that are drawn as one
DASHES: tuple[Any, ...] = ("-", (0, (6, 2)), (0, (3, 1.5)), (0, (6, 1.5, 1, 1.5)), (0, (1.2, 1.2)),
                           (0, (10, 3)))  # fmt: skip
LOOK: Any = {
    "font.family": FAMILY, "font.size": MEDIUM, "text.color": INK, "text.usetex": False,
    "text.parse_math": False, "axes.edgecolor": INK, "axes.labelcolor": INK, "axes.linewidth": 0.6,
    "axes.labelsize": MEDIUM, "axes.facecolor": "white", "axes.grid": False, "hatch.linewidth": 0.6,
    "axes.spines.top": False, "axes.spines.right": False, "lines.solid_capstyle": "butt",
    "axes.formatter.useoffset": False, "contour.negative_linestyle": "solid",
}  # fmt: skip
P = ParamSpec("P")


def picture(*takes: type) -> Callable[[Callable[P, Axes]], Callable[P, Axes]]:
    """A picture of one of these: drawn in this look, whatever settings the reader has.

    TypeError for anything else; the first type is the one that is named.
    """

    def made(draw: Callable[P, Axes]) -> Callable[P, Axes]:
        first = draw.__code__.co_varnames[0]

        @wraps(draw)
        def drawn(*args: P.args, **kept: P.kwargs) -> Axes:
            given = args[0] if args else kept.get(first)
            if not isinstance(given, takes):
                wanted = takes[0].__name__
                hint = "; of a batch, draw batch.select(i)" if hasattr(given, "select") else ""
                raise TypeError(
                    f"draw.{draw.__name__} takes {'an' if wanted[0] in 'AEIOU' else 'a'} {wanted} "
                    f"(got {type(given).__name__}){hint}"
                )
            with mpl.rc_context(LOOK):
                return draw(*args, **kept)

        return drawn

    return made


class Paper:
    """A page with title, caption, a body of charts and notes, its lengths from the top left corner.

    With `ax`, axes of somebody else, title and caption stand over these, and there is no body.
    """

    def __init__(
        self, ax: Axes | None, title: str, caption: Sequence[str], tall: float,
        notes: Iterable[str] = (), wide: float = PAGE_WIDE,
    ) -> None:  # fmt: skip
        self.ax, self.title, self.caption, self.wide = ax, pretty(title), list(caption), wide
        if ax is not None:
            return
        room, told = (wide - 2 * PAGE_EDGE) / POINT, [pretty(text) for text in notes]
        heads = self._wrapped(TITLE, room)
        lines, said = ([part for text in texts for part in wrap(text, size, False, room)]
                       for texts, size in ((caption[:-1], MEDIUM), (told, LEGIBLE)))  # fmt: skip
        below = LEADING[TITLE] * len(heads)
        self.top = 6.6 + below + LEADING[MEDIUM] * len(lines)
        foot = self.top + tall + 3.0
        self.tall = foot + LEADING[LEGIBLE] * len(said)
        size = (wide / 25.4, self.tall / 25.4)
        label = "\n".join([self.title, *caption, *told])  # what an SVG tells
        self.figure = pyplot.figure(figsize=size, facecolor="white", label=label)
        small = {"size": LEGIBLE, "color": QUIET}
        blocks: Any = (
            (heads, 5.0, {"size": TITLE, "weight": "bold"}),
            (lines, 4.6 + below, {"size": MEDIUM}),
            (said, foot, small),
            (caption[-1:], self.top - 1.8, small),
        )
        for texts, y, look in blocks:
            for i, text in enumerate(texts):
                self.words(PAGE_EDGE, y + LEADING[look["size"]] * i, text, **look)
        level = 1 - self.top / self.tall
        self.figure.add_artist(Line2D([0, 1], [level, level], color=INK, linewidth=0.8))

    def _wrapped(self, size: float, room: float) -> list[str]:
        """The title in lines; a number stays with its unit."""
        joined = re.sub(r"(\d) (?=[^\d\s])", f"\\1{JOINT}", self.title)
        return [line.replace(JOINT, " ") for line in wrap(joined, size, True, room)]

    def words(self, x: float, y: float, text: str, **kept: Any) -> None:
        """Words on the page, their baseline `y` below its top."""
        self.figure.text(x / self.wide, 1 - y / self.tall, text, **kept)

    def panel(self, left: float, top: float, wide: float, tall: float) -> Axes:
        """Axes in the body of the page."""
        low = 1 - (self.top + top + tall) / self.tall
        return self.figure.add_axes((left / self.wide, low, wide / self.wide, tall / self.tall))

    def chart(self, left: float, top: float, wide: float, tall: float) -> Axes:
        """Where the chart is drawn: a panel, or the axes that were given."""
        ax = self.ax or self.panel(left, top, wide, tall)
        if self.ax is not None:
            room = extent(ax)[0]
            told = wrap("   ".join(self.caption[:2]), LEGIBLE, False, room)
            ax.set_title("\n".join(self._wrapped(SUBTITLE, room)), loc="left", fontsize=SUBTITLE,
                         weight="bold", pad=top / POINT + 9.0 * len(told))  # fmt: skip
            beside(ax, "\n".join(told), (0, 1), (0, top / POINT))
        dress(ax)
        return ax


def dress(ax: Any) -> None:
    """Small numbers at short ticks."""
    ax.tick_params(labelsize=LEGIBLE, labelfontfamily=FAMILY, width=0.5, length=2.5, colors=INK)


def extent(ax: Axes) -> tuple[float, float]:
    box, scale = ax.get_window_extent(), 72 / ax.figure.dpi
    return float(box.width) * scale, float(box.height) * scale


def beside(
    ax: Axes, text: str, at: Sequence[float], off: tuple[float, float], across: str = "",
    **look: Any,
) -> None:  # fmt: skip
    """Words some points off a place: in shares of the axes, or with one data value, `across` "x"
    or "y", or two, "xy". Without a look of their own they are small and quiet."""
    places: Any = {"": "axes fraction", "x": ax.get_xaxis_transform(),
                   "y": ax.get_yaxis_transform(), "xy": "data"}  # fmt: skip
    usual: dict[str, Any] = {"size": LEGIBLE, "color": QUIET, "textcoords": "offset points"}
    ax.annotate(text, (at[0], at[1]), off, xycoords=places[across], **usual | look)


# --- units ---------------------------------------------------------------------------------------


def shown(quantity: Quantity | None, values: Any, units: str) -> Array:
    """Values in the unit in which axes show them."""
    _, factor, offset, *_ = quantity.shown(units) if quantity else ("", 1.0, 0.0)
    return np.asarray(values, float) * factor + offset


def other(units: str) -> str:
    """The other system of units."""
    return "metric" if units == "us" else "us"


def named(name: str, quantity: Quantity | None, units: str) -> str:
    """The label of a side: `volume flow, m³/h`."""
    return pretty(", ".join(filter(None, (name, quantity.shown(units).unit if quantity else ""))))


def sides(ax: Axes, x: tuple[str, Quantity], y: tuple[str, Quantity], units: str) -> None:
    """Grid and names at the left and below; the other units at the opposite sides."""
    grid(ax)
    ax.set(xlabel=named(*x, units), ylabel=named(*y, units))
    twins: Any = (ax.secondary_xaxis, "top", "x", x[1]), (ax.secondary_yaxis, "right", "y", y[1])
    for twin, where, along, quantity in twins:
        ratio = quantity.shown(other(units)).factor / quantity.shown(units).factor
        side = twin(where, functions=(lambda v, r=ratio: v * r, lambda v, r=ratio: v / r))
        side.set(**{f"{along}label": named("", quantity, other(units))})
        dress(side)
        side.spines[where].set_visible(True)


def two_lines(text: str, size: float, bold: bool, room: float) -> list[str]:
    """Words in one line or two, `room` mm wide; of longer ones the beginning and the end."""
    lines = wrap(text, size, bold, room / POINT)
    return lines if len(lines) < 3 else [f"{lines[0][:-1]}…", lines[-1]]


def grid(ax: Axes) -> None:
    """Thin lines under everything."""
    ax.grid(color=GRID, linewidth=0.5)
    ax.set_axisbelow(True)


# --- limits ----------------------------------------------------------------------------


def limit(ax: Axes, at: float, end: float, along: str = "x") -> None:
    """A bold line at a limit, hatched from there to `end`, where it is broken."""
    line, span = (ax.axhline, ax.axhspan) if along == "x" else (ax.axvline, ax.axvspan)
    line(at, color=INK, linewidth=LIMIT, zorder=3)
    span(at, end, facecolor="none", edgecolor=PALE, hatch="////", linewidth=0, zorder=0.4)


def left(item: Any, margin: float, outside: float) -> float:
    """The share of what a limit allows that this margin is.

    Of a temperature, of the allowed rise over the outside air; of a level, of the sound power; of
    what must be at least, of what there is; of anything else, of the bound. `item` has `limit`,
    the kind, and `bound`.
    """
    if item.limit == "noise":
        return 1.0 - float(10.0 ** (-margin / 10.0))
    whole = item.bound - outside if item.limit in THERMAL else item.bound
    whole += margin if item.limit in AT_LEAST else 0.0
    return margin / whole if whole > 0 else math.copysign(math.inf, margin)


def shares(ax: Axes, low: float) -> None:
    """Ticks and name of a scale of margins, from `low`."""
    ticks = [at for at in SHARE_TICKS if at >= low]
    ax.set_xticks(ticks, [SHARE_TICKS[at] for at in ticks])
    ax.set_xlabel("margin, share of what is allowed")


def points(ax: Axes, x: Any, y: Any, **look: Any) -> None:
    """Hollow marks, rings unless `marker` says else, `mec` their edge."""
    usual: dict[str, Any] = {"marker": "o", "linestyle": "", "ms": 4.0, "mfc": "white", "mec": INK,
                             "mew": 0.9, "zorder": 6}  # fmt: skip
    ax.plot(x, y, **usual | look)


def bar(
    ax: Axes, row: float, start: float, end: float, fill: str, beyond: str = "", **look: Any
) -> None:
    """One bar of a row; what lies below zero hatched in the tone `beyond`."""
    usual: dict[str, Any] = {"edgecolor": INK, "linewidth": 0.9, "zorder": 3}
    ax.barh(row, end - start, 0.56, left=start, facecolor=fill, **usual | look)
    if beyond and (low := min(start, end)) < 0:
        ax.barh(row, min(start + end - low, 0.0) - low, 0.56, left=low, facecolor="none",
                edgecolor=beyond, linewidth=0, hatch="/////", zorder=3.5)  # fmt: skip


def bars(ax: Axes, count: int, xlim: tuple[float, float], zero: bool = True) -> None:
    """Axes of so many rows of bars, 0 on top, a line where they start."""
    ax.set(xlim=xlim, ylim=(max(count, 1) - 0.4, -0.6))
    ax.spines["left"].set_visible(False)
    if zero:
        ax.axvline(0.0, color=INK, linewidth=1.4, zorder=4)


def sentence(text: str) -> str:
    """With a capital and a full stop."""
    return f"{text[:1].upper()}{text[1:]}."
