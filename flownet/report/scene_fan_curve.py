"""One fan curve as it was read, to be held against the data sheet: points, line, dip.

The points stand in a table below, in both systems of units, so that a slip of the finger shows.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Any, Protocol

import flownet
from flownet import quantities as q
from flownet.report import look, scene_page
from flownet.report.scene import Drawing, Layer, Point, Rect, Scene, Shape, Words, line, stacked
from flownet.report.scene_letters import width, wrap
from flownet.report.scene_plot import Axis, Plot, Room, frame, other
from flownet.report.scene_words import Units, pretty

MARGIN = 20.0
FRAME = Rect(0.0, 0.0, 430.0, 250.0)
RING = 2.4
DOTS = (2.0, 2.6)
COLUMNS = 10  # points in a row of the table
MOST = 40  # points that the table tells
ROW = 11.5
CELL = 41.0


class Curve(Protocol):
    """What is drawn: flows [m3/s], rises [Pa]."""

    @property
    def name(self) -> str:
        """Of the fan type, or of the file."""

    @property
    def points(self) -> Sequence[tuple[float, float]]:
        """As read."""

    @property
    def fitted(self) -> Sequence[tuple[float, float]]:
        """Points of the line: static wherever that is known."""

    @property
    def flow(self) -> Any:
        """Along the line."""

    @property
    def rise(self) -> Any:
        """Along the line."""

    @property
    def dip(self) -> tuple[float, float] | None:
        """Flows between which one pressure belongs to several."""

    @property
    def lowest(self) -> tuple[float, float]:
        """The bottom of the dip."""

    @property
    def total(self) -> bool:
        """Whether the points are total pressure."""

    @property
    def static(self) -> bool:
        """Whether the line is static pressure."""

    @property
    def density(self) -> float:
        """Of its air [kg/m3]."""

    @property
    def density_given(self) -> bool:
        """Whether it was stated."""

    @property
    def rotation(self) -> float:
        """Its speed [1/s]; NaN where not known."""

    @property
    def supply(self) -> str | None:
        """Voltage and frequency."""

    @property
    def origin(self) -> str | None:
        """Where the data come from."""


def fan_curve_scene(curve: Curve, units: str = "metric") -> Scene:
    """The picture as a scene."""
    drawing, plot = Drawing(), _plot(curve)
    frame(drawing, plot, units)
    room = Room(plot.rect.grown(-2.0))
    trace(drawing, plot, curve, room)
    if curve.fitted != curve.points:
        _squares(drawing, plot, curve.points)
    rings(drawing, plot, curve.fitted)
    _name_dip(drawing, plot, curve, room, Units(units))
    wide = plot.rect.wide + 44.0
    bottom = _table(drawing, curve, plot.rect.y0 - 46.0, units)
    _around(drawing, curve, plot, wide, bottom, units)
    return drawing.scene(MARGIN, curve.name)


def _plot(curve: Curve) -> Plot:
    """From zero to a little past the last point and above the highest."""
    right = 1.06 * max(flow for flow, _ in curve.points)
    top = 1.08 * max(*(rise for _, rise in curve.points), *curve.rise)
    low = min(curve.rise)
    bottom = 1.3 * low if low < -0.01 * top else 0.0
    name = "static rise" if curve.static else "total rise"
    return Plot(FRAME, Axis(q.VOLUME_FLOW, "flow", 0.0, right), Axis(q.PRESSURE, name, bottom, top))


def trace(drawing: Drawing, plot: Plot, curve: Curve, room: Room) -> None:
    """The line, dotted in its dip."""
    points = [plot.at(x, y) for x, y in zip(curve.flow, curve.rise, strict=True)]
    room.line(points)
    low, high = curve.dip or (math.inf, -math.inf)
    inside = [low <= flow <= high for flow in curve.flow]
    begin = 0
    for i in range(1, len(points) + 1):
        if i == len(points) or inside[i] != inside[begin]:
            part = points[begin : min(i + 1, len(points))]
            dash = DOTS if inside[begin] else ()
            if len(part) > 1:
                drawing.add(Layer.MARK, line(part, look.INK, look.BOLD, dash))
            begin = i


def rings(drawing: Drawing, plot: Plot, points: Sequence[tuple[float, float]]) -> None:
    """The points of the line as small white rings."""
    turns = [i * math.pi / 12 for i in range(24)]
    for flow, rise in points:
        x, y = plot.at(flow, rise)
        ring = tuple((x + RING * math.cos(t), y + RING * math.sin(t)) for t in turns)
        drawing.add(Layer.PLATE, Shape(ring, look.PAPER, look.INK, look.THIN))


def _squares(drawing: Drawing, plot: Plot, points: Sequence[tuple[float, float]]) -> None:
    """Points of total pressure as read, where the line is static."""
    for flow, rise in points:
        x, y = plot.at(flow, rise)
        square = Rect(x, y, x, y).grown(RING)
        drawing.area(Layer.PLATE, square, look.PAPER, edge=look.QUIET, width=look.THIN)


def _name_dip(drawing: Drawing, plot: Plot, curve: Curve, room: Room, units: Units) -> None:
    """The dip in words below the line, with a thin line to its bottom."""
    if curve.dip is None:
        return
    bottom = plot.at(*curve.lowest)
    peak = curve.dip[1]
    texts = (
        f"dip: {units.text(q.PRESSURE, curve.lowest[1])} at "
        f"{units.text(q.VOLUME_FLOW, curve.lowest[0])}",
        f"stall up to {units.text(q.VOLUME_FLOW, peak)}",
    )
    wide = max(width(text, look.BODY) for text in texts)
    for down in (26.0, 40.0, 60.0, 90.0):
        x = min(max(bottom[0], plot.rect.x0 + wide / 2 + 6), plot.rect.x1 - wide / 2 - 6)
        rows = [Words(x, bottom[1] - down - 11.0 * i, text, look.BODY, align="centre")
                for i, text in enumerate(texts)]  # fmt: skip
        if all(room.free(words.rect.grown(2.0)) for words in rows):
            drawing.add(Layer.LETTER, *rows)
            ends = [(bottom[0], bottom[1] - RING - 1.0), (bottom[0], rows[0].rect.y1 + 1.0)]
            drawing.add(Layer.ARROW, line(ends, look.QUIET, look.HAIR))
            return


# --- below and around ---------------------------------------------------------------------------


def _table(drawing: Drawing, curve: Curve, top: float, units: str) -> float:
    """The points in both systems of units, a column a point; returns its lower end."""
    shown = curve.points[:MOST]
    for begin in range(0, len(shown), COLUMNS):
        top = _block(drawing, curve, range(begin, min(begin + COLUMNS, len(shown))), top, units)
        top -= 5.0
    return top


def _block(drawing: Drawing, curve: Curve, numbers: range, top: float, units: str) -> float:
    for row, (head, cells) in enumerate(_rows(curve, numbers, units)):
        y = top - ROW * row
        quiet = look.QUIET if row == 0 or row in (3, 4) else look.INK
        drawing.add(Layer.LETTER, Words(-30.0, y, head, look.SMALL, colour=look.QUIET))
        for i, text in enumerate(cells):
            at: Point = (36.0 + CELL * (i + 0.5), y)
            drawing.add(Layer.LETTER, Words(*at, text, look.SMALL, colour=quiet, align="right"))
    return top - ROW * len(list(_rows(curve, numbers, units)))


def _rows(curve: Curve, numbers: range, units: str) -> Iterator[tuple[str, list[str]]]:
    """Number, flow and rise in the reader's units, both in the others, static where it differs."""
    yield "point", [str(i + 1) for i in numbers]
    for system in (units, other(units)):
        for name, quantity, column in (("flow", q.VOLUME_FLOW, 0), ("rise", q.PRESSURE, 1)):
            shown = quantity.shown(system)
            values = [shown.number(curve.points[i][column]) for i in numbers]
            yield pretty(f"{name}, {shown.unit}"), values
    if curve.fitted != curve.points:
        shown = q.PRESSURE.shown(units)
        yield pretty(f"static, {shown.unit}"), [shown.number(curve.fitted[i][1]) for i in numbers]


def _around(
    drawing: Drawing, curve: Curve, plot: Plot, wide: float, bottom: float, units: str
) -> None:
    """Head lines above, what the line is and the signature below."""
    conditions = ", ".join(_conditions(curve, Units(units)))
    heads = [
        (f"Fan curve {curve.name}", look.TITLE, True, look.INK),
        (conditions, look.HEAD, True, look.INK),
        (f"origin: {curve.origin}" if curve.origin else "", look.BODY, False, look.QUIET),
    ]
    scene_page.head(drawing, (-30.0, plot.rect.y1 + 34.0), wide, heads)
    rows = [
        Words(0, 0, text, look.SMALL, False, look.QUIET)
        for note in (*_notes(curve), f"flownet {flownet.__version__}")
        for text in wrap(note, look.SMALL, False, wide)
    ]
    placed, _ = stacked(rows, -30.0, bottom - 4.0)
    drawing.add(Layer.LETTER, *placed)


def _conditions(curve: Curve, units: Units) -> Iterator[str]:
    """What the curve is drawn for."""
    if curve.supply:
        yield curve.supply
    known = not math.isnan(curve.rotation)
    yield units.text(q.SPEED, curve.rotation) if known else "speed not stated"
    assumed = "" if curve.density_given else " (assumed)"
    yield units.text(q.DENSITY, curve.density) + assumed
    yield f"{len(curve.points)} points"


def _notes(curve: Curve) -> Iterator[str]:
    """How the line was made, and what to look at."""
    if len(curve.points) == 2:
        yield ("Two points: a straight line. Real curves sag between them; read five points or "
               "more off the data sheet.")  # fmt: skip
    else:
        yield ("The line goes through every point and bends no more than they do: it has a dip "
               "only where they have one.")  # fmt: skip
    if curve.dip is not None:
        yield ("Dotted: the dip. One pressure belongs to several flows there; choose a fan that "
               "works to the right of it.")  # fmt: skip
    if curve.total and curve.static:
        yield ("Squares: total pressure as read. Rings and line: static, less the velocity "
               "pressure at the flow area.")  # fmt: skip
    elif curve.total:
        yield ("Total pressure as read: it is made static with the flow_area of the fan type "
               "that names this file.")  # fmt: skip
    if curve.fitted[-1][1] > 0:
        yield "The last point has pressure left: the end slope is carried on there (assumption)."
    if not curve.density_given:
        yield "No density is stated: that of standard air, 1.2 kg/m³, is assumed."
    if len(curve.points) > MOST:
        yield f"The table has the first {MOST} of {len(curve.points)} points."
