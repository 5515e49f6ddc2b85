"""Fans against the network: fan curves, system curves clean and loaded, and where they meet."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import Any

import numpy as np

from flownet.pictures import style
from flownet.pictures.labels import AxesRoom, table, table_tall
from flownet.pictures.scene.words import REGION_WORDS
from flownet.pictures.style import Axes
from flownet.results.solution import Solution
from flownet.schema import quantities as q
from flownet.studies.fans.curves import fan_curves
from flownet.studies.fans.lines import CONTINUED, DIP, FanLine
from flownet.studies.fans.results import FanCurves, FanPoint, SystemLine, loaded, state_word

CURVE_HEADS = ("", "filters", "fans", "flow", "static pressure", "region", "speed")
FLOW, PRESSURE = ("volume flow", q.VOLUME_FLOW), ("static pressure", q.PRESSURE)
FLOW_AND_RISE = (q.VOLUME_FLOW, q.PRESSURE)
ARRANGED = {"parallel": "in parallel", "series": "in series"}


@style.picture(Solution, FanCurves)
def curves(
    solution: Solution | FanCurves, *, ax: Axes | None = None, units: str = "metric",
    fan: str | None = None,
) -> Axes:  # fmt: skip
    """Fan curves, system curves clean and loaded, and where they meet: pressure over flow.

    Parameters
    ----------
    solution : Solution or FanCurves
        One solved enclosure; of a batch, `batch.select(i)`. Or what `flownet.fan_curves` found.
    ax : Axes, optional
    units : "metric" or "us"
        The opposite sides of the frame carry the other units.
    fan : str, optional
        One fan, the others being part of the network. Default those that work together and do
        most to the air.

    Raises
    ------
    CaseError, NoSolution
        As `flownet.fan_curves`.
    """
    found = fan_curves(solution, fan=fan) if isinstance(solution, Solution) else solution
    rings, own = _rings(found), loaded(found.solution.case)
    rows = curve_points(found, units)
    paper = style.Paper(ax, found.verdicts(units)[0], style.caption(found.solution, units),
                        85.0 + table_tall(rows), _notes(found, units))  # fmt: skip
    ax = paper.chart(14.0, 9.0, 141.0, 66.0)
    _draw(ax, found, rings, own, units)
    whole = [i for i, ring in enumerate(rings) if len(ring[0].fans) == len(found.fans)
             and (ring[0].loaded == own or len(found.systems) == 1)]  # fmt: skip
    table(paper, 85.0, CURVE_HEADS, rows, CURVE_HEADS[3:5], whole)
    return ax


def _draw(ax: Axes, found: FanCurves, rings: list[list[FanPoint]], own: bool, units: str) -> None:
    lines = [*found.lines, *([found.together] if found.together else [])]
    room = frame(ax, lines, [(p.flow, p.rise) for p in found.points], units)
    for line in lines:
        fan_line(room, line, 0.9 if line is found.together else 2.0)
    for item in found.systems:
        system(room, item.flow, item.rise, item.loaded)
    for number, (first, *_) in enumerate(rings, 1):
        room.ring(first.flow, first.rise, str(number))
    for line in lines:
        name(room, line, _names(found, line))
        dip = np.asarray(line.kind) == DIP
        if dip.any() and line is not found.together:
            room.name(line.flow[dip].mean(), line.rise[dip].mean(), "dip")
    for item in found.systems:
        names = _system_names(found, item, own)
        room.name(item.flow, item.rise, names, tone=tone(item.loaded), bold=item.loaded == own,
                  lines=True)  # fmt: skip


# --- lines ---------------------------------------------------------------------------------------


def frame(
    ax: Axes, lines: Sequence[FanLine], points: Sequence[tuple[float, float]], units: str,
    most: Sequence[float] = (math.inf, math.inf),
) -> AxesRoom:  # fmt: skip
    """From no flow to free delivery of all; farther where one works farther, not beyond `most`."""
    style.sides(ax, FLOW, PRESSURE, units)
    ends = []
    for i in range(2):
        values = [min(float(v), most[i]) for line in lines for v, kind in zip(
            (line.flow, line.rise)[i], line.kind, strict=True) if kind != CONTINUED]  # fmt: skip
        values += [point[i] for point in points]
        low, high = min(0.0, *values), max(values)
        room = 0.07 * (high - low)
        ends.append((low - room if low < -0.01 * high else 0.0, high + room))
    x, y = (style.shown(side[1], end, units)
            for side, end in zip((FLOW, PRESSURE), ends, strict=True))  # fmt: skip
    ax.set(xlim=x, ylim=y)
    for low, line in ((x[0], ax.axvline), (y[0], ax.axhline)):
        if low < 0:
            line(0.0, color=style.INK, linewidth=0.8, zorder=2)
    return AxesRoom(ax, FLOW_AND_RISE, units)


def fan_line(room: AxesRoom, line: FanLine, width: float) -> None:
    """A fan's curve: solid where measured, dotted beyond and in its dip."""
    kinds = np.asarray(line.kind)
    cuts = [0, *(np.flatnonzero(kinds[1:] != kinds[:-1]) + 1).tolist(), len(kinds) - 1]
    for a, b in pairwise(cuts):
        dots = {CONTINUED: (0, (1, 1.6)), DIP: (0, (1.2, 1.2))}.get(int(kinds[a]), "-")
        room.draw(line.flow[a : b + 1], line.rise[a : b + 1], color=style.INK, linewidth=width,
                  zorder=4, linestyle=dots)  # fmt: skip


def name(room: AxesRoom, line: FanLine, texts: Sequence[str], *, bold: bool = False) -> None:
    """The name of a fan beside what is not beyond its curve."""
    here = np.asarray(line.kind) != CONTINUED
    room.name(line.flow[here], line.rise[here], texts, bold=bold, lines=True)


def system(room: AxesRoom, flow: Any, rise: Any, full: bool) -> None:
    """What the network asks for: clean solid, loaded dashed."""
    room.draw(flow, rise, color=tone(full), linestyle=(0, (5, 2)) if full else "-", linewidth=1.6,
              zorder=3)  # fmt: skip


def tone(full: bool) -> str:
    """Of a system curve."""
    return style.LOADED_LINE if full else style.CLEAN_LINE


# --- words ---------------------------------------------------------------------------------------


def _names(found: FanCurves, line: FanLine) -> list[str]:
    if line is found.together:
        sort = ARRANGED.get(found.gain.arrangement if found.gain else "", "together")
        return [f"{_every(found.fans)} {sort}", "together"]
    if len(line.fans) == 1:
        return [line.fans[0], line.fans[0].partition(".")[2]]
    if len(found.lines) == 1:
        return [f"each of {len(line.fans)} fans", "each fan"]
    return [f"{line.fans[0]} and {len(line.fans) - 1} more, each", line.fans[0]]


def _every(fans: Sequence[str]) -> str:
    return "both" if len(fans) == 2 else f"all {len(fans)}"


def _system_names(found: FanCurves, item: SystemLine, own: bool) -> list[str]:
    if len(found.systems) == 1:
        return ["system curve", "system"]
    state = state_word(item.loaded) + (", as solved" if item.loaded == own else "")
    return [f"system curve, {state}", state, state.partition(",")[0]]


def _rings(found: FanCurves) -> list[list[FanPoint]]:
    """Points by state; equal fans, which work at one place, have one ring."""
    rings: list[list[FanPoint]] = []
    for point in found.points:
        here = (point.flow, point.rise)
        same = [
            ring for ring in rings
            if len(point.fans) == len(ring[0].fans) == 1 and ring[0].loaded == point.loaded
            and np.allclose((ring[0].flow, ring[0].rise), here, rtol=style.EQUAL)
        ]  # fmt: skip
        if same:
            same[0].append(point)
        else:
            rings.append([point])
    return rings


def curve_points(found: FanCurves, units: str) -> list[list[str]]:
    """What the numbers on the chart are, under `CURVE_HEADS`."""
    return [_row(number, ring, found, units) for number, ring in enumerate(_rings(found), 1)]


def _row(number: int, ring: list[FanPoint], found: FanCurves, units: str) -> list[str]:
    text, first = style.Units(units), ring[0]
    paths = [path for point in ring for path in point.fans]
    fans = ", ".join(paths) + (", each" if len(paths) > 1 else "")
    fans = f"{paths[0]} and {len(paths) - 1} more, each" if len(paths) > 2 else fans
    fans = f"{_every(paths)} together" if len(first.fans) > 1 else fans
    state = state_word(first.loaded) if len(found.systems) > 1 else ""
    return [str(number), state, fans, text.span(q.VOLUME_FLOW, [p.flow for p in ring]),
            text.text(q.PRESSURE, first.rise), REGION_WORDS.get(first.region, first.region),
            speed(first, units)]  # fmt: skip


def speed(point: FanPoint, units: str) -> str:
    """`2700 rpm, 100 %`."""
    if math.isnan(point.speed_ratio):
        return ""
    turned = "" if math.isnan(point.rotation) else f"{q.SPEED.shown(units).text(point.rotation)}, "
    return f"{turned}{100 * point.speed_ratio:.3g} %"


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
            yield f"System curve {state_word(item.loaded)}: {item.words}."
    yield from line_notes(found.lines)
    if found.others:
        yield f"Also running, not drawn: {', '.join(found.others)}."
    yield ("The network is solved at each flow, with its heat and draught; guards and what stands "
           "in a fan's own air belong to it.")  # fmt: skip


def line_notes(lines: Sequence[FanLine]) -> Iterator[str]:
    """What dots mean, where there are any that are seen."""
    kinds = {int(kind) for line in lines
             for kind, rise in zip(line.kind, line.rise, strict=True) if rise > 0}  # fmt: skip
    if DIP in kinds:
        yield "Dotted, named dip: one pressure belongs to several flows."
    if CONTINUED in kinds:
        yield "Dotted at the ends: beyond the measured points, an assumption."
