"""One fan curve as it was read, to be held against the data sheet: points, line, dip.

The points stand in a table below, in both systems of units, so that a slip of the finger shows.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np
from matplotlib.axes import Axes

from flownet import quantities as q
from flownet.pictures import style
from flownet.pictures.labels import Room
from flownet.studies.fans.curve import FanCurve

COLUMNS = 10  # points in a row of the table
MOST = 40  # points that the table tells
ROW, CELL, HEAD = 4.0, 14.6, 22.0  # mm, of the table


@style.picture
def fan_curve(
    found: FanCurve, *, ax: Axes | None = None, units: str = "metric", changed: Sequence[str] = ()
) -> Axes:
    """Volume flow to the right, pressure upwards, both in the units shown."""
    blocks = [range(i, min(i + COLUMNS, len(found.points), MOST))
              for i in range(0, min(len(found.points), MOST), COLUMNS)]  # fmt: skip
    rows = list(_rows(found, range(1), units))
    lines = [", ".join(_conditions(found, units))]
    lines += [f"with {text}" for text in changed]
    lines += [f"origin: {found.origin}"] if found.origin else []
    paper = style.Paper(
        ax, _verdict(found, units), [*lines, style.signed()],
        86.0 + len(blocks) * (ROW * len(rows) + 2.0), _notes(found),
    )  # fmt: skip
    ax = paper.chart(14.0, 9.0, 141.0, 66.0)
    pressure = "static pressure" if found.static else "total pressure"
    style.sides(ax, ("volume flow", q.VOLUME_FLOW), (pressure, q.PRESSURE), units)
    _draw(ax, found, units)
    if paper.ax is None:
        for number, block in enumerate(blocks):
            top = 86.0 + number * (ROW * len(rows) + 2.0)
            _block(paper, list(_rows(found, block, units)), top)
    return ax


def _draw(ax: Axes, found: FanCurve, units: str) -> None:
    """The line, dotted in its dip; points as rings, what was made static of them as squares."""
    x, y = _shown(found.flow, found.rise, units)
    low, top = min(float(y.min()), 0.0), 1.08 * max(y.max(), *(_shown(*p, units)[1]
                                                                  for p in found.points))  # fmt: skip
    ax.set(xlim=(0, 1.06 * float(x.max())), ylim=(1.3 * low if low < -0.01 * top else 0.0, top))
    room = Room(ax)
    start, end = found.dip or (math.inf, -math.inf)
    dip = (found.flow >= start) & (found.flow <= end)
    ax.plot(np.where(dip, np.nan, x), y, color=style.INK, linewidth=2.0, zorder=4)
    ax.plot(np.where(dip, x, np.nan), y, color=style.INK, linewidth=2.0, zorder=4,
            linestyle=(0, (1.2, 1.2)))  # fmt: skip
    room.line(x, y)
    if found.fitted != found.points:
        ax.plot(*_shown(*np.transpose(found.points), units), "s", ms=4, mfc="white",
                mec=style.QUIET, mew=0.8, zorder=5)  # fmt: skip
    ax.plot(*_shown(*np.transpose(found.fitted), units), "o", ms=4.2, mfc="white", mec=style.INK,
            mew=0.9, zorder=6)  # fmt: skip
    for point in found.fitted:
        room.keep(*_shown(*point, units))
    if found.dip:
        room.name(*_shown(*found.lowest, units), [f"dip: {_pair(found.lowest, units)}", "dip"])


def _shown(flow: object, rise: object, units: str) -> tuple[style.Array, style.Array]:
    return style.shown(q.VOLUME_FLOW, flow, units), style.shown(q.PRESSURE, rise, units)


def _pair(point: tuple[float, float], units: str) -> str:
    shown = style.Units(units)
    return f"{shown.text(q.PRESSURE, point[1])} at {shown.text(q.VOLUME_FLOW, point[0])}"


# --- words ---------------------------------------------------------------------------------------


def _verdict(found: FanCurve, units: str) -> str:
    """Whether one pressure belongs to one flow; where not, from which flow on it does."""
    if found.dip is None:
        return f"{found.name}: no dip, {_pair(found.fitted[0], units)} to " \
               f"{_pair(found.fitted[-1], units)}"  # fmt: skip
    end = style.Units(units).text(q.VOLUME_FLOW, found.dip[1])
    return f"{found.name} has a dip: stall up to {end}; choose a fan that works to the right of it"


def _conditions(found: FanCurve, units: str) -> Iterator[str]:
    """What the curve is drawn for."""
    shown = style.Units(units)
    if found.supply:
        yield found.supply
    known = not math.isnan(found.rotation)
    yield shown.text(q.SPEED, found.rotation) if known else "speed not stated"
    assumed = "" if found.density_given else " (assumed)"
    yield shown.text(q.DENSITY, found.density) + assumed
    yield f"{len(found.points)} points"


def _rows(found: FanCurve, numbers: range, units: str) -> Iterator[tuple[str, list[str]]]:
    """Number, flow and pressure in the reader's units, both in the others, static if it differs."""
    yield "point", [str(i + 1) for i in numbers]
    for system in (units, style.other(units)):
        for name, quantity, column in (("flow", q.VOLUME_FLOW, 0), ("pressure", q.PRESSURE, 1)):
            shown = quantity.shown(system)
            values = [shown.number(found.points[i][column]) for i in numbers]
            yield style.named(name, quantity, system), values
    if found.fitted != found.points:
        shown = q.PRESSURE.shown(units)
        yield style.named("static", q.PRESSURE, units), [shown.number(found.fitted[i][1])
                                                         for i in numbers]  # fmt: skip


def _block(paper: style.Paper, rows: Sequence[tuple[str, list[str]]], top: float) -> None:
    ax = paper.panel(0.0, top, paper.wide, ROW * len(rows))
    ax.set(xlim=(0, paper.wide), ylim=(len(rows), 0))
    ax.axis("off")
    for row, (head, cells) in enumerate(rows):
        ax.text(3.0, row + 0.5, head, va="center", size=style.SMALL, color=style.QUIET)
        for i, text in enumerate(cells):
            ax.text(HEAD + CELL * (i + 0.9), row + 0.5, text, va="center", ha="right",
                    color=style.QUIET if row in (0, 3, 4) else style.INK)  # fmt: skip


def _notes(found: FanCurve) -> Iterator[str]:
    """How the line was made, and what to look at."""
    if len(found.points) == 2:
        yield ("Two points: a straight line. Real curves sag between them; read five points or "
               "more off the data sheet.")  # fmt: skip
    else:
        yield ("The line goes through every point and bends no more than they do: it has a dip "
               "only where they have one.")  # fmt: skip
    if found.dip is not None:
        yield "Dotted: the dip. One pressure belongs to several flows there."
    if found.total and found.static:
        yield ("Squares: total pressure as read. Rings and line: static, less the velocity "
               "pressure at the flow area.")  # fmt: skip
    elif found.total:
        yield ("Total pressure as read: it is made static with the flow_area of the fan type "
               "that names this file.")  # fmt: skip
    if found.fitted[-1][1] > 0:
        yield "The last point has pressure left: the end slope is carried on there (assumption)."
    if not found.density_given:
        yield "No density is stated: that of standard air, 1.2 kg/m³, is assumed."
    if len(found.points) > MOST:
        yield f"The table has the first {MOST} of {len(found.points)} points."
