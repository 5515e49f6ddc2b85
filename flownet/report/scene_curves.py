"""Fans against the network: curves, what the network asks for, numbered rings where they work.

Below the picture stand a table of the rings, what the lines are, and what is gained by several
fans. Words and rings look for a free place; a ring that had to move has a thin line to its point.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any, NamedTuple, Protocol

import flownet
from flownet import quantities as q
from flownet.report import look, scene_page, scene_words
from flownet.report.heading import titled
from flownet.report.scene import Drawing, Layer, Point, Rect, Scene, Words, line, stacked
from flownet.report.scene_letters import wrap
from flownet.report.scene_plot import Axis, Plot, Room, beside, cut, frame
from flownet.report.scene_rings import every, ring_at, rings_of, speed, table, table_wide
from flownet.report.scene_words import Units
from flownet.solution import Solution

MARGIN = 20.0
FRAME = Rect(0.0, 0.0, 430.0, 270.0)
DOTS, WIDE_DOTS, DASHES = (1.2, 2.2), (2.0, 2.6), (6.0, 3.0)
MEASURED, BEYOND, DIP = range(3)
SAMPLE = 30.0  # length of a line in the list of lines
SYSTEM = 1.5  # width of the lines of the network


class Curves(Protocol):
    """What is drawn: flows in m3/s the way fans blow, pressures in Pa."""

    @property
    def solution(self) -> Solution:
        """What it was made of."""

    @property
    def fans(self) -> Sequence[str]:
        """The fans that are shown, by path."""

    @property
    def lines(self) -> Sequence[Any]:
        """Each with `fans`, `flow`, `rise`, `kind` of the piece from each point, and `peak`."""

    @property
    def together(self) -> Any:
        """The same for all fans as one; None for a single fan."""

    @property
    def systems(self) -> Sequence[Any]:
        """Each with `loaded`, `words`, `flow` and `rise`."""

    @property
    def points(self) -> Sequence[Any]:
        """Each with `loaded`, `fans`, `flow`, `rise`, `region`, `speed_ratio`, `rotation`."""

    @property
    def gain(self) -> Any:
        """With `arrangement` and `words(units)`; None for a single fan."""

    @property
    def others(self) -> Sequence[str]:
        """Fans that run elsewhere."""

    @property
    def about(self) -> Mapping[str, Any]:
        """Of each fan `type`, `speed_ratio`, `rotation` and the `density` of its curve."""


class Style(NamedTuple):
    """How a line is drawn."""

    colour: str
    width: float
    dash: tuple[float, ...] = ()


FAN, ALL = Style(look.INK, look.BOLD), Style(look.INK, look.THIN)
CLEAN, LOADED = Style(look.CLEAN, SYSTEM), Style(look.LOADED, SYSTEM, DASHES)


def curves_scene(curves: Curves, units: str = "metric", changed: Sequence[str] = ()) -> Scene:
    """The picture as a scene."""
    drawing, plot = Drawing(changed=changed), _plot(curves)
    frame(drawing, plot, units)
    room = Room(plot.rect.grown(-2.0))
    room.line([plot.at(plot.across.low, 0.0), plot.at(plot.across.high, 0.0)])
    room.line([plot.at(0.0, plot.up.low), plot.at(0.0, plot.up.high)])
    rings = rings_of(curves, plot)
    tracks = list(_tracks(drawing, plot, curves, room))
    for number, ring in enumerate(rings, 1):
        ring_at(drawing, ring.at, str(number), room)
    for points, texts, colour in tracks:
        name_line(drawing, room, points, texts, colour)
    _dips(drawing, plot, curves, room)
    bottom = plot.rect.y0 - 44.0
    wide = max(plot.rect.wide + 44.0, table_wide(curves, rings, units))
    bottom = table(drawing, curves, rings, bottom, units)
    bottom = line_list(drawing, _explained(curves, plot, Units(units)), bottom - 6.0, wide)
    _around(drawing, curves, plot, wide, bottom, units)
    return drawing.scene(MARGIN, curves.solution.case.title)


# --- scales -------------------------------------------------------------------------------------


def _plot(curves: Curves) -> Plot:
    """All fans from zero flow to free delivery; farther where one works farther."""
    lines = [*curves.lines, *([curves.together] if curves.together else [])]
    flows = [x for one in lines for x, kind in zip(one.flow, one.kind, strict=True)
             if kind != BEYOND]  # fmt: skip
    rises = [y for one in lines for y, kind in zip(one.rise, one.kind, strict=True)
             if kind != BEYOND]  # fmt: skip
    flows += [point.flow for point in curves.points]
    rises += [point.rise for point in curves.points]
    across, up = span(flows, -1e-3), span(rises, -1e-2)
    return Plot(FRAME, Axis(q.VOLUME_FLOW, "flow", *across), Axis(q.PRESSURE, "rise", *up))


def span(values: Sequence[float], least: float) -> tuple[float, float]:
    """From zero to a little above the largest; from below zero where one lies there."""
    low, high = min(0.0, *values), max(values)
    room = 0.07 * (high - low)
    return (low - room if low < least * high else 0.0), high + room


# --- lines --------------------------------------------------------------------------------------


def _tracks(
    drawing: Drawing, plot: Plot, curves: Curves, room: Room
) -> Iterator[tuple[list[Point], list[str], str]]:
    """Draw every line; each with the words that could name it, best first."""
    for one in curves.lines:
        yield fan_line(drawing, plot, one, FAN, room), _fan_names(curves, one), look.INK
    if curves.together is not None:
        words = {"parallel": "in parallel", "series": "in series"}
        sort = words.get(curves.gain.arrangement, "together")
        names = [f"{every(curves.fans)} {sort}", "together"]
        yield fan_line(drawing, plot, curves.together, ALL, room), names, look.INK
    for system in curves.systems:
        style = LOADED if system.loaded else CLEAN
        points = [plot.at(x, y) for x, y in zip(system.flow, system.rise, strict=True)]
        shown = line_in(drawing, plot, points, style, room)
        names = ["loaded"] if system.loaded else ["clean" if system.words else "network"]
        yield shown, names, style.colour


def _fan_names(curves: Curves, one: Any) -> list[str]:
    if len(one.fans) == 1:
        return [one.fans[0], one.fans[0].partition(".")[2]]
    if len(curves.lines) == 1:
        return [f"each of {len(one.fans)} fans", "each fan"]
    return [f"{one.fans[0]} and {len(one.fans) - 1} more, each", one.fans[0]]


def fan_line(drawing: Drawing, plot: Plot, one: Any, style: Style, room: Room) -> list[Point]:
    """A fan's curve: solid where measured, dotted where not, with larger dots in its dip."""
    points = [plot.at(x, y) for x, y in zip(one.flow, one.rise, strict=True)]
    wide = WIDE_DOTS if style.width > look.THIN else DOTS
    dashes = {MEASURED: (), BEYOND: DOTS, DIP: wide}
    begin, found = 0, []
    for i in range(1, len(points)):
        if i == len(points) - 1 or one.kind[i] != one.kind[begin]:
            kind = int(one.kind[begin])
            part = points[begin : i + 1]
            shown = line_in(drawing, plot, part, style._replace(dash=dashes[kind]), room)
            found += shown if kind != BEYOND else []
            begin = i
    return found


def line_in(
    drawing: Drawing, plot: Plot, points: Sequence[Point], style: Style, room: Room
) -> list[Point]:
    """A line cut at the frame; what is seen of it."""
    seen: list[Point] = []
    for part in cut(points, plot.rect):
        drawing.add(Layer.MARK, line(part, style.colour, style.width, style.dash))
        room.line(part)
        seen += part
    return seen


def name_line(
    drawing: Drawing, room: Room, points: Sequence[Point], texts: Sequence[str], colour: str
) -> None:
    """The first name that finds a free place near its line; the list below has all anyway."""
    for text in texts:
        words = room.place(beside(points, text, colour))
        if words is not None:
            drawing.add(Layer.LETTER, words)
            return


def _dips(drawing: Drawing, plot: Plot, curves: Curves, room: Room) -> None:
    for one in curves.lines:
        if not math.isnan(one.peak):
            dip = [plot.at(x, y) for x, y, kind in zip(one.flow, one.rise, one.kind, strict=True)
                   if kind == DIP]  # fmt: skip
            name_line(drawing, room, [dip[len(dip) // 2]], ["dip"], look.INK)


# --- below ----------------------------------------------------------------------------------------


def line_list(
    drawing: Drawing, explained: Iterable[tuple[Style, str]], top: float, wide: float
) -> float:
    """What every line is; returns its lower end."""
    y = top
    for style, text in explained:
        lines = wrap(text, look.BODY, False, wide - SAMPLE - 8.0)
        middle = y - 0.5 * look.BODY
        sample = [(0.0, middle), (SAMPLE, middle)]
        drawing.add(Layer.MARK, line(sample, style.colour, style.width, style.dash))
        placed, rect = stacked([Words(0, 0, each, look.BODY) for each in lines], SAMPLE + 8.0, y)
        drawing.add(Layer.LETTER, *placed)
        y = rect.y0 - 2.5
    return y


def _explained(curves: Curves, plot: Plot, shown: Units) -> Iterator[tuple[Style, str]]:
    for one in curves.lines:
        about = curves.about[one.fans[0]]
        thick = shown.text(q.DENSITY, about.density)
        text = f"{about.type}, {speed(about, shown)}, in the air drawn, {thick}"
        yield FAN, f"{', '.join(one.fans)}: {text}"
    if curves.together is not None:
        how = {"parallel": "flows added at equal rise", "series": "rises added at one mass flow"}
        added = how.get(curves.gain.arrangement, "flows added side by side, rises in series")
        yield ALL, f"{every(curves.fans)} together: {added}"
    for system in curves.systems:
        text = "what the network asks for" + (f", {system.words}" if system.words else "")
        yield (LOADED if system.loaded else CLEAN), text
    kinds = set(_seen(curves, plot))
    if DIP in kinds:
        yield FAN._replace(dash=WIDE_DOTS), "dip: one pressure belongs to several flows"
    if BEYOND in kinds:
        yield FAN._replace(dash=DOTS), "beyond the measured points: an assumption"


def _seen(curves: Curves, plot: Plot) -> Iterator[int]:
    """The kinds of what lies inside the frame."""
    for one in (*curves.lines, *([curves.together] if curves.together else [])):
        for x, y, kind in zip(one.flow, one.rise, one.kind, strict=True):
            if 0 < plot.across.share(x) < 1 and 0 < plot.up.share(y) < 1:
                yield int(kind)


def _around(
    drawing: Drawing, curves: Curves, plot: Plot, wide: float, bottom: float, units: str
) -> None:
    """Head lines above, notes and signature below."""
    solution = curves.solution
    heads = [
        (_verdict(curves, Units(units)), look.TITLE, True, look.INK),
        (titled(solution.case), look.HEAD, True, look.INK),
        (scene_words.state(solution), look.HEAD, True, look.INK),
        (scene_words.surroundings(solution, Units(units)), look.BODY, False, look.QUIET),
    ]
    scene_page.head(drawing, (0.0, plot.rect.y1 + 40.0), wide, heads)
    notes = [scene_words.pretty(curves.gain.words(units)) + "."] if curves.gain else []
    if curves.others:
        notes.append(f"Also running, not drawn: {', '.join(curves.others)}.")
    notes += ["Lines of the network are solved point by point with its heat and draught; guards "
              "and what stands in a fan's own air belong to the network."]  # fmt: skip
    rows = [Words(0, 0, text, look.BODY) for words in notes[:-1]
            for text in wrap(words, look.BODY, False, wide)]  # fmt: skip
    rows += [Words(0, 0, text, look.SMALL, False, look.QUIET)
             for words in (notes[-1], scene_words.signature(solution.case, flownet.__version__))
             for text in wrap(words, look.SMALL, False, wide)]  # fmt: skip
    placed, _ = stacked(rows, 0.0, bottom - 8.0)
    drawing.add(Layer.LETTER, *placed)


def _verdict(curves: Curves, units: Units) -> str:
    """`2 fans move 244 m³/h at 36.7 Pa, 208 m³/h loaded`."""
    whole = [point for point in curves.points if len(point.fans) == len(curves.fans)]
    many = f"{len(curves.fans)} fans move" if len(curves.fans) > 1 else f"{curves.fans[0]} moves"
    first = whole[0]
    words = f"{many} {units.text(q.VOLUME_FLOW, first.flow)} at "
    words += units.text(q.PRESSURE, first.rise)
    if len(whole) > 1:
        words += f", {units.text(q.VOLUME_FLOW, whole[1].flow)} loaded"
    return words
