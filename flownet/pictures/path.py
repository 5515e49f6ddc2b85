"""Pressure along the way that most air takes, step by step; clean and loaded."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any, NamedTuple

import numpy as np

from flownet.judging.voids import told
from flownet.pictures import style
from flownet.pictures.labels import AxesRoom
from flownet.pictures.style import Axes
from flownet.pictures.way import Step, Way, steps_of, way_of
from flownet.results.solution import Solution
from flownet.results.streams import is_outside
from flownet.schema import argument_checks
from flownet.schema import quantities as q
from flownet.schema.shown import apportioned
from flownet.solving.solve import solve

LEFT, WIDTH, TALL, SECTION = 18.0, 148.0, 50.0, 14.0  # mm
PITCH = 9.0  # mm, of a step at least
RAMP = 0.18  # half of a step, over which the pressure changes; of a fan a third of it
LOADED: Any = (0, (5, 2))
ONE = ("", style.INK, "-")  # words, colour and line where there is one state only
TWO = (("clean", style.CLEAN, "-"), ("loaded", style.LOADED, LOADED))


class PathLine(NamedTuple):
    """One state of the filters: its steps, and how it is drawn."""

    steps: list[Step]
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
            half = RAMP / 3 if step.kind == "fan" else RAMP
            x += [i + 0.5 - half, i + 0.5 + half]
            y += [y[-1], y[-1] + step.change]
        return [*x, float(len(self.steps))], [*y, y[-1]]

    def share(self, step: Step) -> float:
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
        One solved enclosure; of a batch, `batch.select(i)`. Where something is fouled, the same is
        solved clean too.
    ax : Axes, optional
        Then without the section and the table. Steps to the right, one unit each; upwards the
        pressure in the unit shown, 0 where the way begins.
    units : "metric" or "us"
    of : str, optional
        A fan or branch that the way passes: `fan.left`, `slot.card-3`.

    Raises
    ------
    CaseError
        Where no air moves, or none through `of`.
    NoSolution
        Where the case has none with clean filters.
    """
    if of is not None:
        argument_checks.check_text("of", of, 'a fan or branch is wanted, such as "fan.left"')
    way = way_of(solution, of)
    lines = _lines(solution, way)
    steps = lines[-1].steps
    wide = max(WIDTH, PITCH * len(steps))
    room = wide / len(steps)
    names = [style.wrap(step.name, style.SMALL, False, (room - 1.5) / style.POINT)
             for step in steps]  # fmt: skip
    head = 3.0 + 2.6 * max(map(len, names))
    below = 4.0 + 7.4 * len(lines)
    paper = style.Paper(ax, _verdict(solution, lines, units), style.caption(solution, units),
                        head + SECTION + 1.5 + TALL + below, _notes(solution, way, lines),
                        max(style.WIDE, wide + LEFT + 4.0))  # fmt: skip
    ax = paper.chart(LEFT, head + SECTION + 1.5, wide, TALL)
    _draw(ax, lines, units)
    centres = [i + 0.5 for i in range(len(steps))]
    ax.set_xticks(centres, ["\n".join(name) for name in names] if paper.ax else [""] * len(names))
    ax.set_xlabel("steps along the way" if paper.ax else "")
    if paper.ax is None:
        ax.tick_params(length=0)
        _table(ax, lines, units)
        section = paper.panel(LEFT, head, wide, SECTION)
        _section(section, way, steps, names, room)
    return ax


def _lines(solution: Solution, way: Way) -> list[PathLine]:
    """Clean, then as it was solved; that alone where nothing is fouled."""
    case = solution.case
    fouled = {f"{item.path}.fouling": 1.0 for kind in ("filter", "vent")
              for item in case.things[kind].values() if item.fouling != 1}  # fmt: skip
    if not fouled:
        return [PathLine(steps_of(solution, way), *ONE)]
    clean = solve(case, changes=fouled)
    return [PathLine(steps_of(each, way, solution), *look)
            for each, look in zip((clean, solution), TWO, strict=True)]  # fmt: skip


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


def _notes(solution: Solution, way: Way, lines: Sequence[PathLine]) -> Iterator[str]:
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
    ax: Axes, way: Way, steps: Sequence[Step], names: Sequence[Sequence[str]], room: float
) -> None:
    """What the air meets, cut along the way, with the places between."""
    ax.set(xlim=(0, len(steps)), ylim=(0, 1))
    ax.axis("off")
    mm = 1.0 / room  # of the steps' axis
    own: list[list[int]] = [[i for i, step in enumerate(steps) if step.at == at]
                            for at in range(len(way.streams))]  # fmt: skip
    walls = [i + 0.5 for s in way.streams for i, step in enumerate(steps)
             if step.name.partition(" ")[0] == s.path]  # fmt: skip
    start, end = (0.0, float(own[-1][-1] + 1)) if way.closed else (walls[0], walls[-1])
    ax.fill_between([start, end], 0, 1, color=style.GROUND, linewidth=0, zorder=0)
    for y in (0, 1):
        ax.plot([start, end], [y, y], color=style.INK, linewidth=2.2, clip_on=False)
    for i, (step, name) in enumerate(zip(steps, names, strict=True)):
        style.beside(ax, "\n".join(name), (i + 0.5, 1), (0, 3), "x", ha="center",
                     linespacing=1.0, color=style.INK,
                     weight="bold" if step.kind == "fan" else "normal")  # fmt: skip
        MARKS.get(step.kind, _hole)(ax, i + 0.5, mm, 1 if step.ahead else -1)
    places = [(own[at][-1] + 1.0, s.target) for at, s in enumerate(way.streams)]
    places.insert(0, (0.25, way.streams[0].source))
    if way.closed:
        places[-1] = end - 0.25, way.streams[-1].target
    for x, place in places:
        outside = is_outside(place)
        wide = 0.5 * room - 1.5 if x % 1 else room - 5.0
        lines = style.wrap(place, style.SMALL, not outside, wide / style.POINT)[:3]
        if outside and len(lines) > 1:
            continue
        style.beside(ax, "\n".join(lines), (x, 0.5), (0, 0), "xy", ha="center", va="center",
                     color=style.QUIET if outside else style.INK, linespacing=1.0,
                     weight="normal" if outside else "bold")  # fmt: skip


Mark = Callable[[Axes, float, float, int], None]  # on axes, at x, with a millimetre, the way


def _hole(ax: Axes, x: float, mm: float, way: int) -> None:
    """A wall with a gap."""
    for low, high in ((0, 0.3), (0.7, 1)):
        ax.plot([x, x], [low, high], color=style.INK, linewidth=2.2, zorder=5)


def _zigzag(ax: Axes, x: float, mm: float, way: int) -> None:
    ax.plot([x - 1.2 * mm, x + 1.2 * mm] * 4 + [x - 1.2 * mm], [i / 8 for i in range(9)],
            color=style.INK, linewidth=1.0, zorder=5)  # fmt: skip


def _plate(ax: Axes, x: float, mm: float, way: int) -> None:
    ax.plot([x, x], [0, 0.62], color=style.INK, linewidth=3.5, zorder=5)


def _bars(ax: Axes, x: float, mm: float, way: int) -> None:
    ax.plot([x, x], [0, 1], color=style.INK, linewidth=2.0, linestyle=(0, (1, 0.9)), zorder=5)


def _fine(ax: Axes, x: float, mm: float, way: int) -> None:
    """Lines along the flow: a slot, a duct."""
    for y in (0.3, 0.5, 0.7):
        ax.plot([x - 2.0 * mm, x + 2.0 * mm], [y, y], color=style.INK, linewidth=0.8, zorder=5)


def _dots(ax: Axes, x: float, mm: float, way: int) -> None:
    ax.plot([x - 1.2 * mm, x, x + 1.2 * mm], [0.5] * 3, "o", color=style.INK, ms=2.0, zorder=5)


def _fan(ax: Axes, x: float, mm: float, way: int) -> None:
    """A box with wedges the way it blows."""
    ax.fill([x - 1.7 * mm, x + 1.7 * mm, x + 1.7 * mm, x - 1.7 * mm], [0.08, 0.08, 0.92, 0.92],
            facecolor="white", edgecolor=style.INK, linewidth=1.0, zorder=5)  # fmt: skip
    for y in (0.25, 0.5, 0.75):
        tail, tip = x - 1.0 * mm * way, x + 1.2 * mm * way
        ax.fill([tail, tip, tail], [y - 0.08, y, y + 0.08], color=style.INK, zorder=6)


def _still(ax: Axes, x: float, mm: float, way: int) -> None:
    """A dashed box with a bar: a fan that stands."""
    ax.fill([x - 1.7 * mm, x + 1.7 * mm, x + 1.7 * mm, x - 1.7 * mm], [0.08, 0.08, 0.92, 0.92],
            facecolor="white", edgecolor=style.INK, linewidth=1.0, linestyle="--",
            zorder=5)  # fmt: skip
    ax.plot([x, x], [0.15, 0.85], color=style.INK, linewidth=1.2, zorder=6)


def _guard(ax: Axes, x: float, mm: float, way: int) -> None:
    ax.plot([x, x], [0, 1], color=style.INK, linewidth=1.2, linestyle=(0, (1, 1.4)), zorder=5)


def _arrow(ax: Axes, x: float, mm: float, way: int) -> None:
    """Upwards: what height gives."""
    ax.annotate("", (x, 0.85), (x, 0.15), arrowprops={"arrowstyle": "->", "color": style.QUIET,
                                                      "lw": 0.9})  # fmt: skip


MARKS: Mapping[str, Mark] = {
    "filter": _zigzag, "baffle": _plate, "vent": _bars, "slot": _fine, "duct": _fine,
    "leak": _dots, "fan": _fan, "stopped": _still, "around-fan": _guard, "draught": _arrow,
    "over-pressure": _arrow,
}  # fmt: skip
