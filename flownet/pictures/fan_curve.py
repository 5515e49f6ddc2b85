"""One fan curve as it was read, to be held against the data sheet: points, line, dip.

The points stand in a table below, in both systems of units, so that a slip of the finger shows.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from flownet.enclosure.fans import FanType
from flownet.pictures import style
from flownet.pictures.caption import made
from flownet.pictures.curves import FLOW, FLOW_AND_RISE, fan_line
from flownet.pictures.labels import AxesRoom
from flownet.pictures.style import Axes
from flownet.schema import quantities as q
from flownet.studies.fans.curve import FanCurve
from flownet.studies.fans.curve import fan_curve as read
from flownet.studies.fans.lines import DIP, STATED, FanLine

COLUMNS, TABLED = 10, 40  # points in a row of the table, and in the table
POINT_ROW, CELL, HEAD_WIDE = 4.0, 14.6, 35.0  # mm, of the table


@style.picture(FanType, FanCurve)
def fan_curve(
    fan_type: FanType | FanCurve, *, ax: Axes | None = None, units: str = "metric"
) -> Axes:
    """One fan curve as it was read, to be held against the data sheet: pressure over flow.

    Parameters
    ----------
    fan_type : FanType or FanCurve
        Of a case, `case.things["fan_type"]["axial"]`, or of `flownet.load_fan_types`; or its curve.
    ax : Axes, optional
    units : "metric" or "us"
        The opposite sides of the frame carry the other units.
    """
    found = read(fan_type) if isinstance(fan_type, FanType) else fan_type
    rows = [row for start in range(0, min(len(found.points), TABLED), COLUMNS) for row in _rows(
        found, range(start, min(start + COLUMNS, len(found.points), TABLED)), units)]  # fmt: skip
    told = [", ".join(_conditions(found, units)), *made().changed]
    told += [f"origin: {found.origin}"] if found.origin else []
    paper = style.Paper(ax, _verdict(found, units), [*told, made().foot()],
                        86.0 + POINT_ROW * len(rows), _notes(found))  # fmt: skip
    ax = paper.chart(14.0, 9.0, 141.0, 66.0)
    name = "static pressure" if found.static else "total pressure"
    style.sides(ax, FLOW, (name, q.PRESSURE), units)
    _draw(ax, found, units)
    for row, (head, cells) in enumerate(rows if paper.ax is None else ()):
        y = paper.top + 88.0 + POINT_ROW * row
        paper.words(3.0, y, head, size=style.LEGIBLE, color=style.QUIET)
        for i, text in enumerate(cells):
            paper.words(HEAD_WIDE + CELL * i, y, text, ha="right")
    return ax


def _draw(ax: Axes, found: FanCurve, units: str) -> None:
    """The line, dotted in its dip; points as rings, what was made static of them as squares."""
    read, points = ([*zip(*part, strict=True)] for part in (found.points, found.fitted))
    right = style.shown(q.VOLUME_FLOW, 1.06 * found.flow.max(), units)
    rises = style.shown(q.PRESSURE, [*found.rise, *read[1]], units)
    low, top = min(float(rises[: len(found.rise)].min()), 0.0), 1.08 * float(rises.max())
    ax.set(xlim=(0, float(right)), ylim=(1.3 * low if low < -0.01 * top else 0.0, top))
    room, (start, end) = AxesRoom(ax, FLOW_AND_RISE, units), found.dip or (math.inf, -math.inf)
    kind = np.where((found.flow >= start) & (found.flow <= end), DIP, STATED)
    fan_line(room, FanLine((), found.flow, found.rise, kind, math.nan), 2.0)
    if found.fitted != found.points:
        style.points(ax, *room.shown(*read), marker="s", mec=style.QUIET, mew=0.8, zorder=5)
    style.points(ax, *room.shown(*points), ms=4.2)
    room.keep(*points)
    if found.dip:
        room.name(*found.lowest, [f"dip: {_pair(found.lowest, units)}", "dip"])


# --- words ---------------------------------------------------------------------------------------


def _pair(point: tuple[float, float], units: str) -> str:
    text = style.Units(units)
    return f"{text.text(q.PRESSURE, point[1])} at {text.text(q.VOLUME_FLOW, point[0])}"


def _verdict(found: FanCurve, units: str) -> str:
    """Whether one pressure belongs to one flow; where not, from which flow on it does."""
    if found.dip is None:
        ends = [_pair(found.fitted[i], units) for i in (0, -1)]
        return f"{found.name} has no dip: {ends[0]} to {ends[1]}"
    end = style.Units(units).text(q.VOLUME_FLOW, found.dip[1])
    return f"{found.name} has a dip: stall up to {end}; choose a fan that works to the right of it"


def _conditions(found: FanCurve, units: str) -> Iterator[str]:
    """What the curve is drawn for."""
    text = style.Units(units)
    if found.supply:
        yield found.supply
    known = not math.isnan(found.rotation)
    yield text.text(q.SPEED, found.rotation) if known else "speed not stated"
    yield text.text(q.DENSITY, found.density) + ("" if found.density_given else " (assumed)")
    yield f"{len(found.points)} points"


def _rows(found: FanCurve, numbers: range, units: str) -> Iterator[tuple[str, list[str]]]:
    """Number, flow and pressure in the reader's units, both in the others, static if it differs."""
    yield "point", [str(i + 1) for i in numbers]
    read = (("flow", q.VOLUME_FLOW, 0), ("pressure", q.PRESSURE, 1))
    told = [
        (name, quantity, system, found.points, column)
        for system in (units, style.other(units))
        for name, quantity, column in read
    ]
    if found.fitted != found.points:
        told.append(("static", q.PRESSURE, units, found.fitted, 1))
    for name, quantity, system, points, column in told:
        unit = quantity.shown(system)
        yield style.named(name, quantity, system), [unit.number(points[i][column]) for i in numbers]


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
    if len(found.points) > TABLED:
        yield f"The table has the first {TABLED} of {len(found.points)} points."
