"""The designs of a choice by two measures, those that fail hollow; the trade-off as a line.

On the worse side of the line everything is no better in either measure than some ring. The table
below tells each ring. Where no design holds, those that come closest are ringed.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np

from flownet.pages.page import spaced
from flownet.pictures import style
from flownet.pictures.labels import AxesRoom
from flownet.pictures.scene.text_metrics import wrap
from flownet.pictures.style import Axes
from flownet.pictures.tables import table, table_tall
from flownet.schema import quantities as q
from flownet.schema.arrays import Array
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
RINGS, CLOSEST = 8, 3  # that are numbered; of those that fail
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
    paper = style.Paper(ax, _verdict(choice, units), told, 76.0 + table_tall(rows),
                        _notes(choice, ringed, units))  # fmt: skip
    ax = paper.chart(15.0, 5.0, 150.0, 60.0)
    _frame(ax, choice, spots, units)
    edge = style.OVER if ringed and not ringed[0].holds else style.CLEAN
    _dots(ax, choice, ringed, edge, units)
    table(paper, 76.0, heads, rows, heads[1:-1], edge=edge)
    return ax


def _dots(
    ax: Axes, found: OptionChoice, ringed: Sequence[Option], edge: str, units: str
) -> None:  # fmt: skip
    room = AxesRoom(ax)
    for part, fill, rim, order in ((found.failing, "white", FAILS, 2),
                                   (found.cloud, style.INK, "white", 3)):  # fmt: skip
        if part:
            spots = _shown(found, part[:: len(part) // CLOUD + 1], units)
            style.points(ax, *spots, 3.6, mfc=fill, mec=rim, mew=0.6, zorder=order)
    _steps(ax, found, room, units)
    for number, option in enumerate(ringed, 1):
        if _known(found, option):
            x, y = _shown(found, [_at(found, option)], units)
            room.ring(float(x[0]), float(y[0]), str(number), edge=edge)
    for option in found.lacking:
        if not any(option is other or _at(found, option) == _at(found, other) for other in ringed):
            x, y = _shown(found, [_at(found, option)], units)
            room.name(x, y, style.pretty(option.margin(units)), size=style.SMALL,
                      tone=style.QUIET, lines=True)  # fmt: skip


def _ringed(found: OptionChoice) -> list[Option]:
    """Some along the trade-off, both ends among them; the best; else those that come closest."""
    options = list(found.front or found.ranked)
    known = [option for option in options if _known(found, option)] or options[:1]
    count = min(len(known), RINGS)
    if not found.front:
        count = 1 if known and known[0].holds else min(len(known), CLOSEST)
        known = known[:count]
    return [known[i] for i in np.linspace(0, len(known) - 1, count).round().astype(int)]


def _known(found: OptionChoice, option: Option) -> bool:
    """Whether it has a place: a design without a fan that runs has no noise."""
    return all(map(math.isfinite, _at(found, option)))


def _at(found: OptionChoice, option: Option) -> tuple[float, float]:
    first, second = found.measured
    return option.value(first), option.value(second)


def _shown(
    found: OptionChoice, spots: Sequence[tuple[float, float]], units: str
) -> tuple[Array, Array]:
    x, y = (style.shown(AXES[name][0], column, units)
            for name, column in zip(found.measured, np.transpose(spots), strict=True))  # fmt: skip
    return x, y


def _frame(ax: Axes, found: OptionChoice, spots: Sequence[tuple[float, float]], units: str) -> None:
    style.grid(ax)
    names, ends = [], []
    for name, values in zip(found.measured, _shown(found, spots, units), strict=True):
        low, high = float(values.min()), float(values.max())
        room = 0.08 * (high - low) or 0.02 * abs(high) or 1.0
        ends.append((low - room, high + room))
        quantity, words, better = AXES[name]
        names.append(f"{style.named(words, quantity, units)} ({better})")
    ax.set(xlim=ends[0], ylim=ends[1], xlabel=names[0], ylabel=names[1])


def _steps(ax: Axes, found: OptionChoice, room: AxesRoom, units: str) -> None:
    """Between two of the front nothing is better than the worse of both in each measure."""
    spots = [_at(found, option) for option in found.front if _known(found, option)]
    if not spots:
        return
    x, y = _shown(found, spots, units)
    worse = [ends[0 if name == "temperature" else 1] for name, ends in zip(
        found.measured, (ax.get_xlim(), ax.get_ylim()), strict=True)]  # fmt: skip
    across = [*np.repeat(x, 2), worse[0]]
    up = [worse[1], *np.repeat(y, 2)]
    ax.plot(across, up, color=style.CLEAN, linewidth=1.6, zorder=4)
    style.points(ax, x, y, 4.5, mec=style.CLEAN, mew=1.1, zorder=5)
    room.line(across, up)


# --- words ---------------------------------------------------------------------------------------


def _verdict(found: OptionChoice, units: str) -> str:
    if not found.front:
        return found.verdicts(units)[0]
    counts, (a, b) = found.counts, found.best_by
    return (f"{spaced(counts.accepted)} of {spaced(counts.different)} designs hold everywhere; "
            f"{len(found.front)} on the trade-off between {a} and {b}")  # fmt: skip


def _table(
    found: OptionChoice, ringed: Sequence[Option], units: str
) -> tuple[list[str], list[list[str]]]:
    """Each ring with both measures, the margin that decides and the design."""
    names = [name for name in found.measured if name != "temperature"]
    columns, rows = found.columns(ringed, units), []
    for i, option in enumerate(ringed):
        design = style.pretty(", ".join(f"{head} {texts[i]}" for head, texts in columns)) or "-"
        told = [option.measure(name, units) for name in names] + [option.margin(units)]
        lines = wrap(design, style.BODY, False, DESIGN / style.POINT)
        rows.append([str(i + 1), *map(style.pretty, told), "\n".join(lines)])
    return ["", *names, "margin", "design"], rows


def _notes(found: OptionChoice, ringed: Sequence[Option], units: str) -> Iterator[str]:
    yield from map(style.sentence, found.verdicts(units)[0 if found.front else 1 :])
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
