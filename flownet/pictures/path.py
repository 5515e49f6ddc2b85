"""Pressure along the way that most air takes, step by step; clean and loaded."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, NamedTuple

import numpy as np

from flownet.judging.voids import told
from flownet.pictures import style
from flownet.pictures.labels import AxesRoom
from flownet.pictures.style import Axes
from flownet.pictures.way import AirWay, PathStep, steps_of, way_of
from flownet.results.solution import Solution
from flownet.results.streams import is_outside
from flownet.schema import argument_checks
from flownet.schema import quantities as q
from flownet.schema.shown import apportioned
from flownet.solving.solve import solve

PATH_LEFT, PATH_WIDE, PATH_TALL, SECTION_TALL = 18.0, 148.0, 50.0, 14.0  # mm
STEP_PITCH = 9.0  # mm, of a step at least
RAMP_HALF = 0.18  # half of a step, over which the pressure changes; of a fan a third of it
LOADED_DASH: Any = (0, (5, 2))
ONE_STATE = ("", style.INK, "-")  # words, colour and line where there is one state only
TWO_STATES = (("clean", style.CLEAN_LINE, "-"), ("loaded", style.LOADED_LINE, LOADED_DASH))


class PathLine(NamedTuple):
    """One state of the filters: its steps, and how it is drawn."""

    steps: list[PathStep]
    words: str
    colour: str
    dash: Any

    @property
    def given(self) -> float:
        """What drives the air along the way: the sum of all that raises its pressure [Pa]."""
        return math.fsum(step.change for step in self.steps if step.change > 0)

    @property
    def course(self) -> tuple[list[float], list[float]]:
        """Places along the way, 1 a step, and the pressure there [Pa]."""
        x, y = [0.0], [0.0]
        for i, step in enumerate(self.steps):
            half = RAMP_HALF / 3 if step.kind == "fan" else RAMP_HALF
            x += [i + 0.5 - half, i + 0.5 + half]
            y += [y[-1], y[-1] + step.change]
        return [*x, float(len(self.steps))], [*y, y[-1]]

    def share(self, step: PathStep) -> float:
        """Of what drives the air, how much a loss takes."""
        return -step.change / self.given if self.given > 0 else math.nan


@style.picture(Solution)
def path(
    solution: Solution, *, ax: Axes | None = None, units: str = "metric", of: str | None = None
) -> Axes:
    """Pressure along the way that most air takes, from outside to outside or round inside.

    Parameters
    ----------
    solution : Solution
        Where something is fouled, it is solved clean too.
    ax : Axes, optional
        Then without section and table. Steps to the right, one unit each; the pressure upwards.
    units : "metric" or "us"
    of : str, optional
        A fan or branch that the way passes: `fan.left`, `slot.card-3`.

    Raises
    ------
    CaseError, NoSolution
        Where no air moves, or none through `of`; where the clean case has no solution.
    """
    if of is not None:
        argument_checks.check_text("of", of, 'a fan or branch is wanted, such as "fan.left"')
    way = way_of(solution, of)
    lines = _lines(solution, way)
    steps, wide = lines[-1].steps, max(PATH_WIDE, STEP_PITCH * len(lines[-1].steps))
    room = (wide / len(steps) - 1.5) / style.POINT
    names = ["\n".join(style.wrap(step.name, style.SMALL, False, room)) for step in steps]
    head = 5.6 + 2.6 * max(name.count("\n") for name in names)
    body = head + SECTION_TALL + 5.5 + PATH_TALL + 7.4 * len(lines)
    page = max(style.PAGE_WIDE, wide + PATH_LEFT + 4.0)
    paper = style.Paper(ax, _verdict(solution, lines, units), style.caption(solution, units), body,
                        _notes(way, lines), page)  # fmt: skip
    ax = paper.chart(PATH_LEFT, head + SECTION_TALL + 1.5 if ax is None else 2.0, wide, PATH_TALL)
    _draw(ax, lines, units)
    if paper.ax is not None:
        ax.set_xticks([i + 0.5 for i in range(len(steps))], names)
        ax.set_xlabel("steps along the way")
        return ax
    _table(ax, lines, units)
    _section(paper.panel(PATH_LEFT, head, wide, SECTION_TALL), way, steps, names, wide)
    return ax


def _lines(solution: Solution, way: AirWay) -> list[PathLine]:
    """Clean, then as it was solved; that alone where nothing is fouled."""
    case = solution.case
    fouled = {f"{item.path}.fouling": 1.0 for kind in ("filter", "vent")
              for item in case.things[kind].values() if item.fouling != 1}  # fmt: skip
    if not fouled:
        return [PathLine(steps_of(solution, way), *ONE_STATE)]
    clean = solve(case, changes=fouled)
    return [PathLine(steps_of(each, way, solution), *look)
            for each, look in zip((clean, solution), TWO_STATES, strict=True)]  # fmt: skip


def _draw(ax: Axes, lines: Sequence[PathLine], units: str) -> None:
    courses = [line.course for line in lines]
    pressures = [float(value) for _, y in courses for value in style.shown(q.PRESSURE, y, units)]
    low, high = min(pressures), max(pressures)
    count, room = len(lines[0].steps), 0.08 * (high - low) or 1.0
    ax.set(xlim=(0, count), ylim=(low - room, high + 2 * room),
           ylabel=style.named("pressure", q.PRESSURE, units))  # fmt: skip
    ax.axhline(0.0, color=style.INK, linewidth=0.8, zorder=2)
    for i in range(count):
        ax.axvline(i + 0.5, color=style.GRID, linewidth=0.6, zorder=0)
    ax.spines["bottom"].set_visible(False)
    words = AxesRoom(ax, (None, q.PRESSURE), units)
    for line, (x, y) in zip(lines, courses, strict=True):
        words.draw(x, y, color=line.colour, linestyle=line.dash, linewidth=1.8, zorder=4)
    for line, (x, y) in zip(lines, courses, strict=True):
        if line.words:
            words.name(x, y, line.words, bold=True, lines=True, tone=line.colour)


# --- in numbers ----------------------------------------------------------------------------------


def _table(ax: Axes, lines: Sequence[PathLine], units: str) -> None:
    """Below each step its pressure and, of a loss, its share; they add up as printed."""
    ax.set_xticks([])
    shown = q.PRESSURE.shown(units)
    for row, line in enumerate(lines):
        down = -9.0 - 21.0 * row
        losses = [step for step in line.steps if step.change < 0]
        shares = iter(apportioned(100, [100 * line.share(step) for step in losses]))
        leads = style.named(line.words, q.PRESSURE, units), "share"
        for k, lead in enumerate(leads):
            style.beside(ax, lead, (0, 0), (-4, down - 8.5 * k), ha="right", color=line.colour,
                         weight="normal" if k else "bold")  # fmt: skip
        biggest = min(step.change for step in line.steps)
        for i, step in enumerate(line.steps):
            text = shown.number(step.change, "+" if step.change else "").replace("-", "−")
            bold = "bold" if step.change == biggest or step.kind == "fan" else "normal"
            percent = f"{next(shares)} %" if step.change < 0 else ""
            for k, each in enumerate((text, percent)):
                style.beside(ax, each, (i + 0.5, 0), (0, down - 8.5 * k), "x", ha="center",
                             color=line.colour, weight=bold)  # fmt: skip


def _verdict(solution: Solution, lines: Sequence[PathLine], units: str) -> str:
    """What is void; what takes the most of what drives the air, clean too."""
    now, shown = lines[-1], q.PRESSURE.shown(units)
    void = f"Void: {told(solution.void, units)}; on paper " if solution.void else ""
    at = int(np.argmin([step.change for step in now.steps]))
    if not now.given > 0:
        return f"{void}{now.steps[at].name} takes what little drives the air"
    said = [f"{100 * line.share(line.steps[at]):.0f} % of the {shown.text(line.given)}"
            for line in lines]  # fmt: skip
    clean = f"; clean {said[0]}" if len(lines) > 1 else ""
    return f"{void}{now.steps[at].name} takes {said[-1]} that drive the air{clean}"


def _notes(way: AirWay, lines: Sequence[PathLine]) -> Iterator[str]:
    """What the way is, and what the steps are."""
    if way.closed:
        yield "The air goes round inside: from where the way begins back to there."
    else:
        yield ("The widest way from outside to outside; of branches side by side the one with the "
               "largest flow.")  # fmt: skip
    yield ("The steps add up to zero. Draught: what columns of warm air give by their height, or "
           "take, over the whole way, drawn as one step. Share: of all that raises the pressure. "
           "What stands on a branch to the outside is drawn on its outer side.")  # fmt: skip
    if len(lines) > 1:
        yield "Clean: the same case solved with every fouling 1; the way is that of the loaded one."


# --- the section ---------------------------------------------------------------------------------


def _section(
    ax: Axes, way: AirWay, steps: Sequence[PathStep], names: Sequence[str], wide: float
) -> None:
    """What the air meets, cut along the way, with the places between."""
    ax.set(xlim=(0, len(steps)), ylim=(0, 1))
    ax.axis("off")
    room = wide / len(steps)  # mm
    own: list[list[int]] = [[i for i, step in enumerate(steps) if step.at == at]
                            for at in range(len(way.streams))]  # fmt: skip
    walls = [i + 0.5 for s in way.streams for i, step in enumerate(steps)
             if step.name.partition(" ")[0] == s.path]  # fmt: skip
    start, end = (0.0, float(own[-1][-1] + 1)) if way.closed else (walls[0], walls[-1])
    ax.fill_between([start, end], 0, 1, color=style.GROUND, linewidth=0, zorder=0)
    for y in (0, 1):
        ax.plot([start, end], [y, y], color=style.INK, linewidth=2.2, clip_on=False)
    for i, (step, name) in enumerate(zip(steps, names, strict=True)):
        style.beside(ax, name, (i + 0.5, 1), (0, 3), "x", ha="center", linespacing=1.0,
                     color=style.INK,
                     weight="bold" if step.kind == "fan" else "normal")  # fmt: skip
        _mark(ax, step, i + 0.5, 1.0 / room)
    places = [(own[at][-1] + 1.0, s.target) for at, s in enumerate(way.streams)]
    places.insert(0, (0.25, way.streams[0].source))
    if way.closed:
        places[-1] = end - 0.25, way.streams[-1].target
    for x, place in places:
        outside = is_outside(place)
        fits = 0.5 * room - 1.5 if x % 1 else room - 5.0
        lines = style.wrap(place, style.SMALL, not outside, fits / style.POINT)[:3]
        if outside and len(lines) > 1:
            continue
        style.beside(ax, "\n".join(lines), (x, 0.5), (0, 0), "xy", ha="center", va="center",
                     color=style.QUIET if outside else style.INK, linespacing=1.0,
                     weight="normal" if outside else "bold")  # fmt: skip


def _mark(ax: Axes, step: PathStep, x: float, mm: float) -> None:
    """What the air meets at a step, turned the way a fan blows."""
    for across, up, look in MARKS.get(step.kind, MARKS["opening"]):
        place = x + mm * np.array(across) * (1 if step.ahead else -1)
        draw: Any = ax.fill if "facecolor" in look else ax.plot
        draw(place, up, **{"color": style.INK, "zorder": 5} | look)


Mark = tuple[tuple[Sequence[float], Sequence[float], dict[str, Any]], ...]  # x in mm, y, look
WALL_LINE: dict[str, Any]
FINE_LINE: dict[str, Any]
WALL_LINE, FINE_LINE = {"linewidth": 2.2}, {"linewidth": 0.9}
AROUND_FAN = (-1.7, 1.7, 1.7, -1.7), (0.08, 0.08, 0.92, 0.92)
WHITE_BOX = FINE_LINE | {"facecolor": "white", "color": None, "edgecolor": style.INK}
UPWARDS: Mark = (((0, 0), (0.15, 0.85), FINE_LINE), ((-0.8, 0, 0.8), (0.72, 0.85, 0.72), FINE_LINE))
ALONG: Mark = tuple(((-2, 2), (y, y), FINE_LINE) for y in (0.3, 0.5, 0.7))
MARKS: Mapping[str, Mark] = {
    "opening": (((0, 0), (0, 0.3), WALL_LINE), ((0, 0), (0.7, 1), WALL_LINE)),
    "filter": (((-1.2, 1.2) * 4 + (-1.2,), tuple(i / 8 for i in range(9)), FINE_LINE),),
    "baffle": (((0, 0), (0, 0.62), {"linewidth": 3.5}),),
    "vent": (((0, 0), (0, 1), WALL_LINE | {"linestyle": (0, (1, 0.9))}),),
    "around-fan": (((0, 0), (0, 1), FINE_LINE | {"linestyle": (0, (1, 1.4))}),),
    "slot": ALONG, "duct": ALONG, "draught": UPWARDS, "over-pressure": UPWARDS,
    "leak": (((-1.2, 0, 1.2), (0.5, 0.5, 0.5), {"linestyle": "", "marker": "o", "ms": 2.0}),),
    "stopped": ((*AROUND_FAN, WHITE_BOX | {"linestyle": "--"}), ((0, 0), (0.15, 0.85), FINE_LINE)),
    "fan": ((*AROUND_FAN, WHITE_BOX),
            *(((-1, 1.2, -1), (y - 0.08, y, y + 0.08), {"facecolor": style.INK, "linewidth": 0})
              for y in (0.25, 0.5, 0.75))),
}  # fmt: skip
