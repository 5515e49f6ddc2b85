"""Fans against the network: fan curves, system curves clean and loaded, and where they meet."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np
from matplotlib.axes import Axes

from flownet import quantities as q
from flownet.pictures import style
from flownet.pictures.labels import Room, table, table_tall
from flownet.report.scene_words import REGION_WORDS
from flownet.solution import Solution
from flownet.studies.fans.lines import BEYOND, DIP, Line
from flownet.studies.fans.results import FanCurves, Point
from flownet.voids import told

HEADS = ("", "filters", "fans", "flow", "static pressure", "region", "speed")
STYLES = {BEYOND: (0, (1, 1.6)), DIP: (0, (1.2, 1.2))}  # of a line where it is not measured
SAME = 1e-3  # of flow and pressure: equal fans, which work at one place, have one ring
FLOW, PRESSURE = ("volume flow", q.VOLUME_FLOW), ("static pressure", q.PRESSURE)


@style.picture
def curves(
    found: FanCurves, *, ax: Axes | None = None, units: str = "metric", changed: Sequence[str] = ()
) -> Axes:
    """Volume flow to the right, static pressure upwards, both in the units shown."""
    rings, own = _rings(found), loaded(found.solution)
    rows = [_row(number, ring, found, units) for number, ring in enumerate(rings, 1)]
    paper = style.Paper(
        ax, _verdict(found, own, units), style.caption(found.solution, units, changed),
        85.0 + table_tall(rows), _notes(found, units),
    )  # fmt: skip
    ax = paper.chart(14.0, 9.0, 141.0, 66.0)
    style.sides(ax, FLOW, PRESSURE, units)
    lines = [*found.lines, *([found.together] if found.together else [])]
    frame(ax, lines, [(p.flow, p.rise) for p in found.points], units)
    room = Room(ax)
    tracks = [(*fan_line(ax, room, line, 0.9 if line is found.together else 2.0, units),
               _names(found, line), style.INK, False) for line in lines]  # fmt: skip
    tracks += [(*system(ax, room, item.flow, item.rise, item.loaded, units),
                _system_names(found, item, own), tone(item.loaded), item.loaded == own)
               for item in found.systems]  # fmt: skip
    for number, ring in enumerate(rings, 1):
        x, y = (style.shown(a, b, units) for a, b in ((q.VOLUME_FLOW, ring[0].flow),
                                                      (q.PRESSURE, ring[0].rise)))  # fmt: skip
        room.ring(float(x), float(y), str(number))
    for x, y, names, colour, bold in tracks:
        room.name(x, y, names, color=colour, bold=bold)
    for line in found.lines:
        name_dip(room, line, units)
    whole = [i for i, ring in enumerate(rings) if len(ring[0].fans) == len(found.fans)
             and (ring[0].loaded == own or len(found.systems) == 1)]  # fmt: skip
    table(paper, 85.0, HEADS, rows, ("flow", "static pressure"), whole)
    return ax


# --- lines ---------------------------------------------------------------------------------------


def frame(
    ax: Axes, lines: Sequence[Any], points: Sequence[tuple[float, float]], units: str,
    most: tuple[float, float] = (math.inf, math.inf),
) -> None:  # fmt: skip
    """From no flow to free delivery of all; farther where one works farther, not beyond `most`."""
    ends = []
    for i, quantity in ((0, q.VOLUME_FLOW), (1, q.PRESSURE)):
        values = [v for line in lines
                  for v, kind in zip((line.flow, line.rise)[i], line.kind, strict=True)
                  if kind != BEYOND]  # fmt: skip
        values = [min(v, most[i]) for v in values] + [point[i] for point in points]
        low, high = min(0.0, *values), max(values)
        low = low - 0.07 * (high - low) if low < -1e-2 * high else 0.0
        ends.append(style.shown(quantity, (low, high + 0.07 * (high - low)), units))
    ax.set(xlim=ends[0], ylim=ends[1])
    for low, line in ((ends[0][0], ax.axvline), (ends[1][0], ax.axhline)):
        if low < 0:
            line(0.0, color=style.INK, linewidth=0.8, zorder=2)


def fan_line(
    ax: Axes, room: Room, line: Line, width: float, units: str
) -> tuple[list[float], list[float]]:
    """A fan's curve, solid where measured, dotted beyond, in dots in its dip; what is solid."""
    x, y = style.shown(q.VOLUME_FLOW, line.flow, units), style.shown(q.PRESSURE, line.rise, units)
    kinds = np.asarray(line.kind)
    cuts = [0, *(np.flatnonzero(kinds[1:] != kinds[:-1]) + 1), len(kinds) - 1]
    room.line(x, y)
    for a, b in zip(cuts, cuts[1:], strict=False):
        if b > a:
            ax.plot(x[a : b + 1], y[a : b + 1], color=style.INK, linewidth=width, zorder=4,
                    linestyle=STYLES.get(int(kinds[a]), "-"))  # fmt: skip
    known = kinds != BEYOND
    return x[known].tolist(), y[known].tolist()


def system(
    ax: Axes, room: Room, flow: Any, rise: Any, full: bool, units: str
) -> tuple[Any, Any]:  # fmt: skip
    """What the network asks for: clean solid, loaded dashed."""
    x, y = style.shown(q.VOLUME_FLOW, flow, units), style.shown(q.PRESSURE, rise, units)
    ax.plot(x, y, color=tone(full), linestyle=(0, (5, 2)) if full else "-", linewidth=1.6, zorder=3)
    room.line(x, y)
    return x, y


def tone(full: bool) -> str:
    return style.LOADED if full else style.CLEAN


def name_dip(room: Room, line: Line, units: str) -> None:
    inside = np.asarray(line.kind) == DIP
    if inside.any():
        x = style.shown(q.VOLUME_FLOW, line.flow[inside], units)
        y = style.shown(q.PRESSURE, line.rise[inside], units)
        room.name(x[[len(x) // 2]], y[[len(x) // 2]], "dip")


def loaded(solution: Solution) -> bool:
    """Whether a filter has loaded in this solution."""
    filters = solution.case.things["filter"].values()
    return any(item.fouling > 1 for item in filters if item.state == "fitted")


# --- words ---------------------------------------------------------------------------------------


def _names(found: FanCurves, line: Line) -> list[str]:
    if line is found.together and found.gain:
        sort = {"parallel": "in parallel", "series": "in series"}
        return [f"{every(found.fans)} {sort.get(found.gain.arrangement, 'together')}", "together"]
    if len(line.fans) == 1:
        return [line.fans[0], line.fans[0].partition(".")[2]]
    if len(found.lines) == 1:
        return [f"each of {len(line.fans)} fans", "each fan"]
    return [f"{line.fans[0]} and {len(line.fans) - 1} more, each", line.fans[0]]


def every(fans: Sequence[str]) -> str:
    return "both" if len(fans) == 2 else f"all {len(fans)}"


def _system_names(found: FanCurves, item: Any, own: bool) -> list[str]:
    state = "loaded" if item.loaded else "clean"
    if len(found.systems) == 1:
        return ["system curve", "system"]
    mark = ", as solved" if item.loaded == own else ""
    return [f"system curve, {state}{mark}", f"{state}{mark}", state]


def _rings(found: FanCurves) -> list[list[Point]]:
    """Points by state; equal fans, which work at one place, have one ring."""
    rings: list[list[Point]] = []
    for point in found.points:
        single = len(point.fans) == 1
        for ring in rings:
            first = ring[0]
            near = np.allclose((first.flow, first.rise), (point.flow, point.rise), rtol=SAME)
            if single and len(first.fans) == 1 and first.loaded == point.loaded and near:
                ring.append(point)
                break
        else:
            rings.append([point])
    return rings


def _row(number: int, ring: list[Point], found: FanCurves, units: str) -> list[str]:
    shown, first = style.Units(units), ring[0]
    paths = [path for point in ring for path in point.fans]
    fans = ", ".join(paths) + (", each" if len(paths) > 1 else "")
    fans = f"{paths[0]} and {len(paths) - 1} more, each" if len(paths) > 2 else fans
    if len(first.fans) > 1:
        fans = f"{every(paths)} together"
    state = ("loaded" if first.loaded else "clean") if len(found.systems) > 1 else ""
    return [str(number), state, fans, shown.span(q.VOLUME_FLOW, [p.flow for p in ring]),
            shown.text(q.PRESSURE, first.rise), REGION_WORDS.get(first.region, first.region),
            speed(first, units)]  # fmt: skip


def speed(point: Any, units: str) -> str:
    """`2700 rpm, 100 %`."""
    if math.isnan(point.speed_ratio):
        return ""
    turned = "" if math.isnan(point.rotation) else f"{q.SPEED.shown(units).text(point.rotation)}, "
    return f"{turned}{100 * point.speed_ratio:.3g} %"


def _verdict(found: FanCurves, own: bool, units: str) -> str:
    """What the fans move as it was solved first, then in the other state of the filters."""
    shown, solution = style.Units(units), found.solution
    whole = {point.loaded: point for point in found.whole}
    first = whole.get(own) or found.whole[0]
    said = f"{len(found.fans)} fans move" if len(found.fans) > 1 else f"{found.fans[0]} moves"
    said += f" {shown.text(q.VOLUME_FLOW, first.flow)} at {shown.text(q.PRESSURE, first.rise)}"
    for state, point in whole.items():
        if point is not first:
            words = "with filters loaded" if state else "with filters clean"
            said += f", {shown.text(q.VOLUME_FLOW, point.flow)} {words}"
    if solution.void:
        return f"Void: {told(solution.void, units)}; on paper {said}"
    return said


def _notes(found: FanCurves, units: str) -> Iterator[str]:
    if found.gain:
        yield f"{found.gain.words(units)}."
    for line in found.lines:
        about = found.about[line.fans[0]]
        thick = q.DENSITY.shown(units).text(about.density)
        yield (f"{', '.join(line.fans)}: {about.type}, {speed(about, units)}, in the air drawn, "
               f"{thick}.")  # fmt: skip
    for item in found.systems:
        if item.words not in ("", "filters clean"):
            yield f"System curve {'loaded' if item.loaded else 'clean'}: {item.words}."
    yield from line_notes(found.lines)
    if found.others:
        yield f"Also running, not drawn: {', '.join(found.others)}."
    yield ("The network is solved at each flow, with its heat and draught; guards and what stands "
           "in a fan's own air belong to it.")  # fmt: skip


def line_notes(lines: Sequence[Line]) -> Iterator[str]:
    """What dots mean, where there are any that are seen."""
    kinds = {int(kind) for line in lines for kind, rise in zip(line.kind, line.rise, strict=True)
             if rise > 0}  # fmt: skip
    if DIP in kinds:
        yield "Dotted, named dip: one pressure belongs to several flows."
    if BEYOND in kinds:
        yield "Dotted at the ends: beyond the measured points, an assumption."
