"""Pressure along the way that most air takes, step by step; clean and loaded."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Any, NamedTuple

import numpy as np

from flownet.pages.verdict import on_paper
from flownet.pictures import style
from flownet.pictures.labels import AxesRoom
from flownet.pictures.scene.symbols import stamp
from flownet.pictures.style import Axes
from flownet.pictures.way import PathStep, steps_of, way_of
from flownet.results.solution import Solution
from flownet.results.streams import Stream, is_outside
from flownet.schema import quantities as q
from flownet.schema.shown import apportioned
from flownet.solving.solve import solved_alone

PATH_LEFT, PATH_WIDE, PATH_TALL, SECTION_TALL = 20.0, 148.0, 50.0, 14.0  # mm
STEP_PITCH = 9.0  # mm, of a step at least
RAMP_HALF = 0.18  # half of a step, over which the pressure changes; of a fan a third of it
ONE_STATE = ("", style.INK, "-")  # words, colour and line where there is one state only
TWO_STATES = (("clean", style.CLEAN_LINE, "-"), ("loaded", style.LOADED_LINE, style.DASHES[1]))


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
    def shares(self) -> list[float]:
        """Of what drives the air, how much each step takes, in percent."""
        return [max(-100 * step.change / self.given, 0.0) if self.given > 0 else math.nan
                for step in self.steps]  # fmt: skip

    @property
    def course(self) -> tuple[Any, Any]:
        """Places along the way, 1 a step, and the pressure there [Pa]."""
        half = [RAMP_HALF / 3 if step.kind == "fan" else RAMP_HALF for step in self.steps]
        middles = np.arange(len(half)) + 0.5
        ramps = np.column_stack([middles - half, middles + half]).ravel()
        levels = np.cumsum([0.0, *(step.change for step in self.steps)])
        return [0.0, *ramps, float(len(half))], np.repeat(levels, 2)


@style.picture(Solution)
def path(
    solution: Solution, *, ax: Axes | None = None, units: str = "metric", of: str | None = None,
    clean: bool = True,
) -> Axes:  # fmt: skip
    """Pressure along the way that most air takes, from outside to outside or round inside.

    Parameters
    ----------
    solution : Solution
        Where something is fouled, it is solved clean too, unless `clean` is false.
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
    way = way_of(solution, of)
    lines = _lines(solution, way) if clean else [PathLine(steps_of(solution, way), *ONE_STATE)]
    steps = lines[-1].steps
    wide = max(PATH_WIDE, STEP_PITCH * len(steps))
    heads = _heads(steps, wide)
    top = 5.6 + 2.6 * max(head.count("\n") for head in heads)
    paper = style.Paper(ax, _verdict(solution, lines, units), style.caption(solution, units),
                        top + SECTION_TALL + 5.5 + PATH_TALL + 7.4 * len(lines), _notes(way, lines),
                        max(style.PAGE_WIDE, wide + PATH_LEFT + 2.0))  # fmt: skip
    ax = paper.chart(PATH_LEFT, top + SECTION_TALL + 1.5 if ax is None else 2.0, wide, PATH_TALL)
    _draw(ax, lines, units)
    if paper.ax is None:
        _table(ax, lines, units)
        _section(paper.panel(PATH_LEFT, top, wide, SECTION_TALL), way, steps, heads)
    else:
        ax.set_xticks([i + 0.5 for i in range(len(steps))],
                      _heads(steps, style.extent(ax)[0] * style.POINT))  # fmt: skip
        ax.set_xlabel("steps along the way")
    return ax


def _heads(steps: Sequence[PathStep], wide: float) -> list[str]:
    """Names in lines that fit beside each other in so many mm."""
    room = (wide / len(steps) - 1.5) / style.POINT
    return ["\n".join(style.wrap(step.name, style.LEGIBLE, step.kind == "fan", room))
            for step in steps]  # fmt: skip


def _lines(solution: Solution, way: Sequence[Stream]) -> list[PathLine]:
    """Clean, then as it was solved; that alone where nothing is fouled."""
    case = solution.case
    fouled = {f"{item.path}.fouling": 1.0 for kind in ("filter", "vent")
              for item in case.things[kind].values() if item.fouling != 1}  # fmt: skip
    if not fouled:
        return [PathLine(steps_of(solution, way), *ONE_STATE)]
    return [PathLine(steps_of(each, way, solution), *look) for each, look in zip(
        (solved_alone(case, fouled), solution), TWO_STATES, strict=True)]  # fmt: skip


def _draw(ax: Axes, lines: Sequence[PathLine], units: str) -> None:
    courses, count = [line.course for line in lines], len(lines[0].steps)
    pressures = style.shown(q.PRESSURE, np.concatenate([y for _, y in courses]), units)
    room = 0.08 * np.ptp(pressures) or 1.0
    ax.set(xlim=(0, count), ylim=(pressures.min() - room, pressures.max() + 2 * room),
           ylabel=style.named("pressure", q.PRESSURE, units))  # fmt: skip
    ax.axhline(0.0, color=style.INK, linewidth=0.8, zorder=2)
    ax.vlines(np.arange(count) + 0.5, *ax.get_ylim(), color=style.GRID, linewidth=0.6, zorder=0)
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
        biggest = min(step.change for step in line.steps)
        shares = apportioned(100, line.shares) if line.given > 0 else []
        texts = [(shown.number(step.change, "+" if step.change else "").replace("-", "−"),
                  f"{shares[i]} %" if step.change < 0 else "")
                 for i, step in enumerate(line.steps)]  # fmt: skip
        bold = [step.change == biggest or step.kind == "fan" for step in line.steps]
        for k, lead in enumerate((style.named(line.words, q.PRESSURE, units), "share")):
            look: Any = {"color": line.colour}
            down = -9.0 - 21.0 * row - 8.5 * k
            style.beside(ax, lead, (0, 0), (-4, down), ha="right", **look)
            for i, (text, heavy) in enumerate(zip(texts, bold, strict=True)):
                style.beside(ax, text[k], (i + 0.5, 0), (0, down), "x", ha="center",
                             weight="bold" if heavy else "normal", **look)  # fmt: skip


def _verdict(solution: Solution, lines: Sequence[PathLine], units: str) -> str:
    """What is void; what takes the most of what drives the air, clean too."""
    shown, at = q.PRESSURE.shown(units), int(np.argmin([s.change for s in lines[-1].steps]))
    name = lines[-1].steps[at].name
    if not lines[-1].given > 0:
        return on_paper(solution, units, f"{name} takes what little drives the air")
    *before, now = (f"{line.shares[at]:.0f} % of the {shown.text(line.given)}" for line in lines)
    clean = f"; clean {before[0]}" if before else ""
    return on_paper(solution, units, f"{name} takes {now} that drive the air{clean}")


def _notes(way: Sequence[Stream], lines: Sequence[PathLine]) -> Iterator[str]:
    """What the way is, and what the steps are."""
    if is_outside(way[0].source):
        yield ("The widest way from outside to outside; of branches side by side the one with the "
               "largest flow.")  # fmt: skip
    else:
        yield "The air goes round inside: from where the way begins back to there."
    yield ("The steps add up to zero. Draught: what columns of warm air give by their height, or "
           "take, over the whole way, drawn as one step. Share: of all that raises the pressure. "
           "What stands on a branch to the outside is drawn on its outer side.")  # fmt: skip
    if len(lines) > 1:
        yield "Clean: the same case solved with every fouling 1; the way is that of the loaded one."


# --- the section ---------------------------------------------------------------------------------


def _section(
    ax: Axes, way: Sequence[Stream], steps: Sequence[PathStep], heads: Sequence[str]
) -> None:
    """What the air meets, cut along the way, with the places between."""
    ax.set(xlim=(0, len(steps)), ylim=(0, 1))
    ax.axis("off")
    room = style.extent(ax)[0] * style.POINT / len(steps)
    last = [max(i for i, step in enumerate(steps) if step.at == at) for at in range(len(way))]
    walls = [i + 0.5 for i, step in enumerate(steps)
             if step.item is not None and step.item is way[step.at].item]  # fmt: skip
    closed = not is_outside(way[0].source)
    start, end = (0.0, last[-1] + 1.0) if closed else (walls[0], walls[-1])
    ax.fill_between([start, end], 0, 1, color=style.GROUND, linewidth=0, zorder=0)
    ax.hlines([0, 1], start, end, color=style.INK, linewidth=2.2, clip_on=False)
    for i, (step, head) in enumerate(zip(steps, heads, strict=True)):
        bold = "bold" if step.kind == "fan" else "normal"
        style.beside(ax, head, (i + 0.5, 1), (0, 3), "x", ha="center", linespacing=1.0,
                     color=style.INK, weight=bold)  # fmt: skip
        _mark(ax, step, i + 0.5)
    places = [(0.25, way[0].source), *((i + 1.0, s.target) for i, s in zip(last, way, strict=True))]
    if closed:
        places[-1] = end - 0.25, way[-1].target
    for x, place in places:
        outside = is_outside(place)
        fits = 0.5 * room - 1.5 if x % 1 else room - 4.0
        lines = style.wrap(place, style.LEGIBLE, not outside, fits / style.POINT)[:3]
        if not outside or len(lines) < 2:
            style.beside(ax, "\n".join(lines), (x, 0.5), (0, 0), "xy", ha="center", va="center",
                         color=style.QUIET if outside else style.INK, linespacing=1.0,
                         weight="normal" if outside else "bold")  # fmt: skip


def _mark(ax: Axes, step: PathStep, x: float) -> None:
    """What the air meets at a step, in a wall where it is a branch; a grille for a guard."""
    if step.at < 0:  # draught, over-pressure
        style.beside(ax, "↑", (x, 0.5), (0, 0), "xy", ha="center", va="center", size=18.0,
                     color=style.INK)  # fmt: skip
        return
    if step.item is not None:
        ax.vlines(x, 0, 1, color=style.INK, linewidth=2.2, zorder=4)
    stamp(ax, step.item.KIND if step.item else "vent", step.item, (x, 0.5),
          SECTION_TALL / 3 / style.POINT, ahead=step.ahead,
          still=step.kind == "stopped")  # fmt: skip
