"""The one look of all charts: page, title, caption, units, limits. Lengths are millimetres."""

from __future__ import annotations

import datetime
import os
import re
from collections.abc import Callable, Iterable, Sequence
from functools import wraps
from typing import Any, ParamSpec

import matplotlib as mpl
import numpy as np
from matplotlib import patheffects, pyplot
from matplotlib.axes import Axes
from matplotlib.lines import Line2D

import flownet
from flownet import quantities as q
from flownet.arrays import Array
from flownet.enclosure.whole import Enclosure
from flownet.quantities import Quantity
from flownet.report.heading import titled
from flownet.report.look import CLEAN, GROUND, INK, LOADED, OK, OVER, QUIET, TIGHT
from flownet.report.scene_letters import FAMILY, wrap
from flownet.report.scene_words import Units, pretty, signature, surroundings
from flownet.shown import one_line
from flownet.solution import Solution

__all__ = ["CLEAN", "GROUND", "INK", "LOADED", "OK", "OVER", "QUIET", "TIGHT", "Units", "pretty"]
GRID, FAINT, ALLOWED = "#E3E6E8", "#B9C0BC", "#DDE8DF"
TITLE, BODY, SMALL = 11.0, 7.0, 6.0  # letters in points: nothing is smaller than SMALL
POINT = 25.4 / 72  # mm
WIDE, EDGE = 170.0, 2.0  # of a page as it is printed, and free at its sides
LINE, NOTE = 4.9, 2.95  # mm, baseline to baseline
LIMIT = 1.8  # width of a limit
DASHES: tuple[Any, ...] = ("-", (0, (6, 2)), (0, (3, 1.5)), (0, (6, 1.5, 1, 1.5)), (0, (1.2, 1.2)),
                           (0, (10, 3)))  # fmt: skip
LOOK: dict[str, Any] = {
    "font.family": FAMILY, "font.size": BODY, "text.color": INK, "text.usetex": False,
    "text.parse_math": False, "axes.edgecolor": INK, "axes.labelcolor": INK, "axes.linewidth": 0.6,
    "axes.labelsize": BODY, "axes.facecolor": "white", "axes.grid": False, "hatch.linewidth": 0.6,
    "axes.spines.top": False, "axes.spines.right": False, "lines.solid_capstyle": "butt",
    "axes.formatter.useoffset": False, "contour.negative_linestyle": "solid",
}  # fmt: skip
P = ParamSpec("P")


def picture(draw: Callable[P, Axes]) -> Callable[P, Axes]:
    """Draw in this look, whatever settings the reader has."""

    @wraps(draw)
    def drawn(*args: P.args, **kept: P.kwargs) -> Axes:
        with mpl.rc_context(LOOK):
            return draw(*args, **kept)

    return drawn


class Paper:
    """A page with title, caption, a body of charts and notes, or the axes of somebody else.

    `ax`: then the body is not made, and title and caption stand over these axes. The body, `tall`
    high, is measured from its top left corner; nothing else is said of scenario, site and version.
    """

    def __init__(
        self, ax: Axes | None, title: str, caption: Sequence[str], tall: float,
        notes: Iterable[str] = (), wide: float = WIDE,
    ) -> None:  # fmt: skip
        self.ax, self.title, self.caption, self.wide = ax, pretty(title), list(caption), wide
        if ax is not None:
            return
        room = (wide - 2 * EDGE) / POINT
        heads = self._wrapped(TITLE, room)
        lines = [part for text in caption[:-1] for part in wrap(text, BODY, False, room)]
        said = [part for text in notes for part in wrap(pretty(text), SMALL, False, room)]
        self.top = 3.2 + LINE * len(heads) + 3.5 * len(lines) + 3.4
        self.tall = self.top + tall + 2.0 + NOTE * len(said) + 1.0
        size = (wide / 25.4, self.tall / 25.4)
        self.figure = pyplot.figure(figsize=size, facecolor="white")
        self.figure.set_label("\n".join([self.title, *caption, *notes]))  # told in an SVG
        for i, text in enumerate(heads):
            self.words(EDGE, 5.0 + LINE * i, text, size=TITLE, weight="bold")
        for i, text in enumerate(lines):
            self.words(EDGE, 4.6 + LINE * len(heads) + 3.5 * i, text)
        self.words(EDGE, self.top - 1.8, caption[-1], size=SMALL, color=QUIET)
        level = 1 - self.top / self.tall
        self.figure.add_artist(Line2D([0, 1], [level, level], color=INK, linewidth=0.8))
        for i, text in enumerate(said):
            self.words(EDGE, self.top + tall + 3.0 + NOTE * i, text, size=SMALL, color=QUIET)

    def _wrapped(self, size: float, room: float) -> list[str]:
        """The title in lines; a number stays with its unit."""
        joined = re.sub(r"(\d) (?=[^\d\s])", "\\1\x1f", self.title)
        return [line.replace("\x1f", " ") for line in wrap(joined, size, True, room)]

    def words(self, x: float, y: float, text: str, **kept: Any) -> None:
        """Words on the page, their baseline `y` below its top."""
        self.figure.text(x / self.wide, 1 - y / self.tall, text, **kept)

    def panel(self, left: float, top: float, wide: float, tall: float) -> Axes:
        """Axes in the body of the page."""
        low = 1 - (self.top + top + tall) / self.tall
        return self.figure.add_axes((left / self.wide, low, wide / self.wide, tall / self.tall))

    def chart(self, left: float, top: float, wide: float, tall: float) -> Axes:
        """Where the chart is drawn: a panel, or the axes that were given."""
        ax = self.ax
        if ax is None:
            ax = self.panel(left, top, wide, tall)
        else:
            room = float(ax.get_window_extent().width) * 72 / ax.figure.dpi
            below = wrap("   ".join(self.caption[:2]), SMALL, False, room)
            ax.set_title("\n".join(self._wrapped(BODY + 1, room)), loc="left",
                         fontsize=BODY + 1, weight="bold", pad=top / POINT + 9.0 * len(below))  # fmt: skip
            ax.annotate("\n".join(below), (0, 1), (0, top / POINT), size=SMALL, va="bottom",
                        xycoords="axes fraction", textcoords="offset points", color=QUIET)  # fmt: skip
        ax.tick_params(labelsize=SMALL, labelfontfamily=FAMILY, width=0.5, length=2.5,
                       colors=INK, labelcolor=INK)  # fmt: skip
        return ax


def caption(
    of: Solution | Enclosure, units: str, changed: Sequence[str] = (), *, state: str = "",
    site: str = "",
) -> list[str]:  # fmt: skip
    """Title and `scenario | variant`, what was changed, the site; version, inputs and date."""
    case, applied = (of.case, of) if isinstance(of, Solution) else (of, of.applied)
    place = surroundings(of, Units(units)) if isinstance(of, Solution) else ""
    state = state or f"{applied.scenario} | {applied.variant}"
    return [f"{titled(case)}     {state}", *(f"with {one_line(text)}" for text in changed),
            *filter(None, [site or place]), signed(case)]  # fmt: skip


def site(case: Enclosure, units: str) -> str:
    """The air outside, of what is no solution."""
    return f"outside {Units(units).round(q.TEMPERATURE, case.outside.temperature)}"


def signed(case: Enclosure | None = None) -> str:
    """Version, what was read and the day."""
    about = signature(case, flownet.__version__) if case else f"flownet {flownet.__version__}"
    return f"{about}   {today()}"


def today() -> str:
    """The day, or that of SOURCE_DATE_EPOCH, so that pictures can be made again byte by byte."""
    told = os.environ.get("SOURCE_DATE_EPOCH", "")
    if told.isdigit():
        return datetime.datetime.fromtimestamp(int(told), datetime.UTC).date().isoformat()
    return datetime.date.today().isoformat()


# --- units ---------------------------------------------------------------------------------------


def shown(quantity: Quantity | None, values: Any, units: str) -> Array:
    """Values in the unit in which axes show them."""
    if quantity is None:
        return np.asarray(values, float)
    unit = quantity.shown(units)
    return np.asarray(values, float) * unit.factor + unit.offset


def other(units: str) -> str:
    """The other system of units."""
    return "metric" if units == "us" else "us"


def named(name: str, quantity: Quantity | None, units: str) -> str:
    """The label of a side: `volume flow, m³/h`."""
    unit = quantity.shown(units).unit if quantity else ""
    return pretty(f"{name}, {unit}" if unit else name)


def sides(ax: Axes, x: tuple[str, Quantity], y: tuple[str, Quantity], units: str) -> None:
    """Grid and names at the left and below; the other units at the opposite sides."""
    ax.grid(color=GRID, linewidth=0.5)
    ax.set_axisbelow(True)
    ax.set_xlabel(named(*x, units))
    ax.set_ylabel(named(*y, units))
    for quantity, where, twin in ((x[1], "top", ax.secondary_xaxis), (y[1], "right",
                                                                       ax.secondary_yaxis)):  # fmt: skip
        ratio = quantity.shown(other(units)).factor / quantity.shown(units).factor
        side: Any = twin(where, functions=(lambda v, r=ratio: v * r, lambda v, r=ratio: v / r))
        side.tick_params(labelsize=SMALL, labelfontfamily=FAMILY, width=0.5, length=2.5)
        (side.set_xlabel if where == "top" else side.set_ylabel)(
            pretty(quantity.shown(other(units)).unit), size=SMALL)  # fmt: skip
        side.spines[where].set_visible(True)


# --- limits and names ----------------------------------------------------------------------------


def limit(ax: Axes, at: float, end: float, along: str = "x") -> None:
    """A bold line at a limit, hatched from there to `end`, where it is broken."""
    line, span = (ax.axhline, ax.axhspan) if along == "x" else (ax.axvline, ax.axvspan)
    line(at, color=INK, linewidth=LIMIT, zorder=3)
    if end != at:
        span(at, end, facecolor="none", edgecolor=FAINT, hatch="////", linewidth=0, zorder=0.4)


def spread(wanted: Sequence[float], gap: float, low: float, high: float) -> Array:
    """Places as near to those wanted as a least distance allows, in the same order."""
    order = np.argsort(wanted, kind="stable")
    y = np.clip(np.asarray(wanted, float)[order], low, high)
    gap = min(gap, (high - low) / max(len(y) - 1, 1))
    for _ in range(1000):
        push = np.maximum(gap - np.diff(y), 0.0) / 2
        if not (push > 1e-9 * (high - low)).any():
            break
        y[:-1] -= push
        y[1:] += push
        y = np.clip(y, low, high)
    found = np.empty_like(y)
    found[order] = y
    return found


def white() -> list[Any]:
    """A white edge round letters that cross a line."""
    return [patheffects.withStroke(linewidth=2.0, foreground="white")]
