"""The designs of a choice by two measures, those that fail hollow; the trade-off as a line.

On the worse side of the line everything is no better in either measure than some ring. The table
below tells each ring. Where no design holds, those that come closest are ringed.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np

from flownet.pictures import style
from flownet.pictures.labels import AxesRoom, table, table_tall
from flownet.pictures.scene.text_metrics import wrap
from flownet.pictures.style import Axes
from flownet.schema import quantities as q
from flownet.schema.errors import CaseError
from flownet.schema.quantities import Quantity
from flownet.studies.choice.option import Option
from flownet.studies.choice.result import OptionChoice

AXES: dict[str, tuple[Quantity, str, str]] = {
    "noise": (q.LEVEL, "noise, the most of all scenarios", "less is better"),
    "power": (q.POWER, "fan power, the most of all scenarios", "less is better"),
    "temperature": (q.DIFFERENCE, "least temperature margin", "more is better"),
    "price": (q.PRICE, "price of the fans", "less is better"),
}
RINGS, CLOSEST_RINGED = 8, 3  # that are numbered; of those that fail
DESIGN = 112.0  # mm, the width of what tells a design
CLOUD = 4000  # dots of one sort
FAILS = "#8A949B"


@style.picture(OptionChoice)
def front(choice: OptionChoice, *, ax: Axes | None = None, units: str = "metric") -> Axes:
    """Designs by two measures: what holds as dots, what fails hollow, the trade-off as a line.

    Parameters
    ----------
    choice : OptionChoice
        From `flownet.choose_options`. Beside a measure that ranks alone another one is drawn;
        where no design holds, those that come closest are ringed.
    ax : Axes, optional
        One measure to the right, the other upwards, in the units shown.
    units : "metric" or "us"

    Raises
    ------
    CaseError
        Where no design has a value of both measures.
    """
    spots = [*choice.cloud, *choice.failing]
    if not spots:
        raise CaseError(f"choice.{choice.name}: no design has a value of both "
                        f"{' and '.join(choice.measured)}; there is nothing to draw")  # fmt: skip
    ringed = _ringed(choice)
    heads, rows = _table(choice, ringed, units)
    state = f"choice {choice.name}     {choice.case.applied.variant}"
    told = style.caption(choice.case, units, state=state)
    told[-2] += " as the case has it"  # its scenarios have their own
    first = choice.in_layers(choice.front[0], units) if choice.front else ()
    title = "; ".join((choice.verdicts(units)[0], *first))
    paper = style.Paper(ax, title, told, 76.0 + table_tall(rows),
                        _notes(choice, ringed, units))  # fmt: skip
    ax = paper.chart(15.0, 5.0, 150.0, 60.0)
    edge = style.OVER if ringed and not ringed[0].holds else style.CLEAN_LINE
    _dots(_frame(ax, choice, spots, units), choice, ringed, edge)
    table(paper, 76.0, heads, rows, heads[1:-1], edge=edge)
    return ax


def _dots(room: AxesRoom, found: OptionChoice, ringed: Sequence[Option], edge: str) -> None:
    for part, fill, rim, order in ((found.failing, "white", FAILS, 2),
                                   (found.cloud, style.INK, "white", 3)):  # fmt: skip
        if part:
            spots = np.transpose(part[:: len(part) // CLOUD + 1])
            style.points(room.ax, *room.shown(*spots), ms=3.6, mfc=fill, mec=rim, mew=0.6,
                         zorder=order)  # fmt: skip
    _steps(found, room)
    taken = [_at(found, option) for option in ringed]
    for number, at in enumerate(taken, 1):
        if all(map(math.isfinite, at)):
            room.ring(*at, str(number), edge=edge)
    for option in found.lacking:
        if option not in ringed and _at(found, option) not in taken:
            lacks = style.pretty(option.margin(room.units))
            room.name(*_at(found, option), lacks, size=style.LEGIBLE, tone=style.QUIET, lines=True)


def _ringed(found: OptionChoice) -> list[Option]:
    """Some along the trade-off, both ends among them; the best; else those that come closest."""
    options = list(found.front or found.ranked)
    known = [option for option in options if _known(found, option)] or options[:1]
    count = min(len(known), RINGS)
    if not found.front:
        count = 1 if known and known[0].holds else min(len(known), CLOSEST_RINGED)
        known = known[:count]
    return [known[i] for i in np.linspace(0, len(known) - 1, count).round().astype(int)]


def _known(found: OptionChoice, option: Option) -> bool:
    """Whether it has a place: a design without a fan that runs has no noise."""
    return all(map(math.isfinite, _at(found, option)))


def _at(found: OptionChoice, option: Option) -> tuple[float, float]:
    first, second = found.measured
    return option.value(first), option.value(second)


def _frame(
    ax: Axes, found: OptionChoice, spots: Sequence[tuple[float, float]], units: str
) -> AxesRoom:
    style.grid(ax)
    names, ends, quantities = [], [], [AXES[name][0] for name in found.measured]
    for name, quantity, values in zip(found.measured, quantities, np.transpose(spots), strict=True):
        shown = style.shown(quantity, values, units)
        low, high = float(shown.min()), float(shown.max())
        room = 0.08 * (high - low) or 0.02 * abs(high) or 1.0
        ends.append((low - room, high + room))
        names.append(f"{style.named(AXES[name][1], quantity, units)} ({AXES[name][2]})")
    ax.set(xlim=ends[0], ylim=ends[1], xlabel=names[0], ylabel=names[1])
    return AxesRoom(ax, quantities, units)


def _steps(found: OptionChoice, room: AxesRoom) -> None:
    """Between two of the front nothing is better than the worse of both in each measure."""
    spots = [_at(found, option) for option in found.front if _known(found, option)]
    if not spots:
        return
    x, y = np.transpose(spots)
    worse = [ends[0 if name == "temperature" else 1] / style.shown(quantity, 1.0, room.units)
             for name, quantity, ends in zip(found.measured, room.quantities, (
                 room.ax.get_xlim(), room.ax.get_ylim()), strict=True)]  # fmt: skip
    room.draw([*np.repeat(x, 2), worse[0]], [worse[1], *np.repeat(y, 2)], color=style.CLEAN_LINE,
              linewidth=1.6, zorder=4)  # fmt: skip
    style.points(room.ax, *room.shown(x, y), ms=4.5, mec=style.CLEAN_LINE, mew=1.1, zorder=5)


# --- words ---------------------------------------------------------------------------------------


def _table(
    found: OptionChoice, ringed: Sequence[Option], units: str
) -> tuple[list[str], list[list[str]]]:
    """Each ring with both measures, the margin that decides and the design."""
    names = [name for name in found.measured if name != "temperature"]
    columns, rows = found.columns(ringed, units), []
    for i, option in enumerate(ringed):
        design = style.pretty(", ".join(f"{head} {texts[i]}" for head, texts in columns)) or "-"
        told = [option.measure(name, units) for name in names] + [option.margin(units)]
        lines = wrap(design, style.MEDIUM, False, DESIGN / style.POINT)
        rows.append([str(i + 1), *map(style.pretty, told), "\n".join(lines)])
    return ["", *names, "margin", "design"], rows


def _notes(found: OptionChoice, ringed: Sequence[Option], units: str) -> Iterator[str]:
    yield from map(style.sentence, found.verdicts(units)[1:])
    common = found.common(ringed, units)
    if common:
        yield f"The same in all: {', '.join(common)}."
    if found.front:
        more = len(found.front) - len(ringed)
        small = f"; {more} more on it without a number" if more else ""
        yield ("Line: no design that holds is better in one measure and not worse in the other"
               f"{small}.")  # fmt: skip
    beside = "; beside some that would be better, the margin known of them" if found.lacking else ""
    yield (f"Solid: keeps every limit in every scenario. Hollow: breaks one, by the scenarios "
           f"solved until it did{beside}.")  # fmt: skip
    yield style.sentence(found.how)
