"""How far a key can go, close up: every limit as a share of the margin it has today.

All lines start at 100 % and are broken below 0, whatever a limit is measured in; the first to get
there is the answer.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, NamedTuple

import numpy as np

from flownet.pictures import style
from flownet.pictures.labels import AtEnd, at_ends
from flownet.pictures.scene.text_metrics import width
from flownet.pictures.style import Axes
from flownet.schema import quantities as q
from flownet.schema.arrays import Array
from flownet.schema.errors import CaseError
from flownet.schema.quantities import Quantity
from flownet.studies.headroom import close_up
from flownet.studies.headroom_result import Headroom
from flownet.studies.headroom_search import Point

WINDOW_STEPS = 49  # values in the window
BEYOND = 0.75  # of the way from today to the limit, how far the picture goes on
MOST_LINES = 14  # lines
NO_MARGIN = 1e-9  # a margin that is none
LOW, HIGH = -0.45, 1.5  # shares that are seen
TICKS = {-1.0: "−100 %", 0.0: "limit", 0.5: "50 %", 1.0: "100 %"}


class MarginLine(NamedTuple):
    """Limits whose margins are the same share of today's all along."""

    names: list[str]
    share: Array
    today: float
    quantity: Quantity
    breaks: float  # the first value at which it breaks, or holds again; infinite beyond the window


@style.picture(Headroom)
def headroom(found: Headroom, *, ax: Axes | None = None, units: str = "metric") -> Axes:
    """How far a key can go, close up: of every limit the share of today's margin.

    Parameters
    ----------
    found : Headroom
        From `flownet.headroom`; values near the answer are solved for the picture.
    ax : Axes, optional
        The key to the right, in the unit shown; the share upwards, 0 at the limit.
    units : "metric" or "us"

    Raises
    ------
    CaseError
        Where no limit has a margin today.
    """
    values = _window(found)
    points, quantities = close_up(found, values)
    lines = _lines(points, quantities)
    lines.sort(key=lambda line: found.limit is None or found.limit.subject not in line.names)
    if not lines:
        raise CaseError(f"{found.key}: no limit has a margin to draw")
    paper = style.Paper(
        ax, found.verdicts(units)[0], style.caption(found.case, units),
        84.0 if points[0].drops else 74.0, _notes(found, len(lines), units),
    )  # fmt: skip
    ax = paper.chart(15.0, 9.0, 79.0, 54.0)
    x = style.shown(found.subject.quantity, values, units)
    _draw(ax, found, lines, x, units)
    _names(ax, paper, found, lines[:MOST_LINES], float(values[-1]), units)
    _drop(ax, points, x, units)
    return ax


def _draw(ax: Axes, found: Headroom, lines: Sequence[MarginLine], x: Array, units: str) -> None:
    subject = found.subject
    low = min(LOW, 1.1 * min(float(line.share[0]) for line in lines))
    top = min(max(1.04, *(float(np.nanmax(line.share)) * 1.03 for line in lines)), HIGH)
    ticks = [at for at in TICKS if at >= low]
    factor = "factor on " if subject.factor else ""
    ax.set(xlim=(x[0], x[-1]), ylim=(low, top), ylabel="share of today's margin",
           xlabel=style.named(factor + found.key, subject.quantity, units))  # fmt: skip
    ax.set_yticks(ticks, [TICKS[at] for at in ticks])
    _limits(ax, found, low, units)
    for number, line in enumerate(lines[:MOST_LINES]):
        look = _look(found, number)
        ax.plot(x, line.share, **look)
        if math.isfinite(line.breaks):
            at = style.shown(subject.quantity, line.breaks, units)
            style.points(ax, [at], [0.0], ms=3.0 + look["linewidth"], mec=look["color"], mew=1.4,
                         zorder=7)  # fmt: skip


def _window(found: Headroom) -> Array:
    """From today's value to beyond the one at which the first limit breaks, within the range."""
    today, edge, whole = found.subject.present, found.value, found.subject.whole
    stop = found.high if found.high > today else found.low
    if math.isfinite(edge) and edge != today:
        stop = min(max(edge + BEYOND * (edge - today), found.low), found.high)
    values = np.linspace(today, stop, WINDOW_STEPS)
    return np.unique(np.round(values))[:: 1 if stop > today else -1] if whole else values


def _lines(
    points: Sequence[Point], quantities: Mapping[tuple[str, str], Quantity]
) -> list[MarginLine]:
    """The nearest to break first, then by margin; equal ones as one."""
    found: list[MarginLine] = []
    values = [point.value for point in points]
    for (kind, name), today in points[0].margins.items():
        if abs(today) < NO_MARGIN:
            continue
        margins = [point.margins.get((kind, name), math.nan) for point in points]
        share, quantity = np.array(margins) / abs(today), quantities[kind, name]
        same = [line for line in found if line.quantity == quantity
                and math.isclose(line.today, today, rel_tol=style.EQUAL)
                and np.allclose(line.share, share, atol=style.EQUAL, equal_nan=True)]  # fmt: skip
        if same:
            same[0].names.append(name)
        else:
            found.append(MarginLine([name], share, today, quantity, _breaks(values, share)))
    return sorted(found, key=lambda line: (abs(line.breaks - values[0]),
                                           float(np.nan_to_num(line.share[-1]))))  # fmt: skip


def _breaks(values: Sequence[float], share: Array) -> float:
    """Where a line first comes to zero, from either side."""
    turned = np.flatnonzero((share[1:] < 0) != (share[:-1] < 0))
    if not len(turned) or not np.isfinite(share[turned[0] : turned[0] + 2]).all():
        return math.inf
    i = int(turned[0])
    part = share[i] / (share[i] - share[i + 1])
    return float(values[i] + (values[i + 1] - values[i]) * part)


def _look(found: Headroom, number: int) -> dict[str, Any]:
    """The line that decides is dark red and bold."""
    if number == 0 and found.first and found.limit:
        return {"color": style.OVER, "linewidth": 2.2, "linestyle": "-", "zorder": 6}
    dash = style.DASHES[number % len(style.DASHES)]
    return {"color": style.INK, "linewidth": 1.1, "linestyle": dash, "zorder": 4}


def _limits(ax: Axes, found: Headroom, low: float, units: str) -> None:
    """What is allowed as a shade; today and the limit as upright lines, their names apart."""
    style.limit(ax, 0.0, low)
    subject, first, today = found.subject, found.first, found.subject.present
    edge = found.value if first else math.nan
    marks = [(today, "today", subject.apart(today, edge, units), style.INK)]
    if first:
        word = first.after.word if first.breaks and found.limit is None else "limit"
        marks.append((edge, word, found.at(first, units), style.OVER))
        if found.today.holds:
            ends = style.shown(subject.quantity, (today, edge), units)
            ax.axvspan(ends[0], ends[1], color=style.ALLOWED, linewidth=0, zorder=0)
    (start, stop), room, taken = ax.get_xlim(), style.extent(ax)[0], 0.0
    for value, word, told, tone in marks:
        at = float(style.shown(subject.quantity, value, units))
        ax.axvline(at, color=tone, linewidth=1.4, zorder=5)
        text, here = style.pretty(f"{word} {told}"), (at - start) / (stop - start) * room
        wide = width(text, style.SUBTITLE, True)
        left = max(min(here - wide / 2, room - wide), taken)
        taken = left + wide + 6.0
        style.beside(ax, text, (at, 1), (left - here, 6), "x", color=tone, weight="bold",
                     size=style.SUBTITLE)  # fmt: skip


def _names(
    ax: Axes, paper: style.Paper, found: Headroom, lines: Sequence[MarginLine], stop: float,
    units: str,
) -> None:  # fmt: skip
    """At the right end of each line its name, where it breaks, its margin today."""
    way = "as it grows" if stop > found.subject.present else "as it falls"
    heads = [(6.0, "left", "limit of"), (35.5, "left", way), (74.0, "right", "margin today")]
    heads, told = heads if paper.ax is None else heads[:1], []
    for number, line in enumerate(lines):
        breaks, holds = math.isfinite(line.breaks), line.today > 0
        word = ("breaks at" if holds else "holds from") if breaks else \
               ("holds to" if holds else "broken to")  # fmt: skip
        toward = (1 if line.today > 0 else -1) * (-1 if stop > found.subject.present else 1)
        at = found.subject.apart(
            line.breaks if breaks else stop, found.subject.present, units, toward * breaks
        )
        left, look = line.quantity.shown(units).text(line.today, "+"), _look(found, number)
        end = float(np.clip(np.nan_to_num(line.share[-1]), *ax.get_ylim()))
        told.append(AtEnd(end, [_listed(line.names), f"{word} {at}", left], look["zorder"] == 6,
                          look["color"]))  # fmt: skip
    at_ends(ax, told, [head[:2] for head in heads], 9.5, 0.4)
    for far, side, head in heads:
        style.beside(ax, head, (1, 1), (far / style.POINT, 6), ha=side)


def _listed(names: Sequence[str]) -> str:
    """All of them where there is room, else the first and how many more."""
    short = [name.removeprefix("part.") for name in names]
    if width(", ".join(short), style.MEDIUM, True) * style.POINT < 28.5:
        return ", ".join(short)
    return short[0] + (f" + {len(short) - 1}" if short[1:] else "")


def _drop(ax: Axes, points: Sequence[Point], x: Array, units: str) -> None:
    """Of one filter that loads, its drop at the same places, where that grows all along."""
    path = next(iter(points[0].drops), "")
    drop = style.shown(q.PRESSURE, [point.drops.get(path, math.nan) for point in points], units)
    if len(points[0].drops) == 1 and (np.diff(drop) > 0).all() and (np.diff(x) > 0).all():
        side = ax.secondary_xaxis(-0.2)
        side.xaxis.set_major_formatter(
            lambda at, _: f"{np.interp(at, x, drop):.3g}" if x[0] <= at <= x[-1] else ""
        )
        side.set_xlabel(style.named(f"pressure drop of {path}", q.PRESSURE, units))
        style.dress(side)


def _notes(found: Headroom, count: int, units: str) -> Iterator[str]:
    yield from map(style.sentence, found.verdicts(units)[1:])
    if count > MOST_LINES:
        yield f"{count - MOST_LINES} limits with more margin are not drawn."
    yield ("100 %: the margin of today, of each limit in its own unit; 0: the limit. Shaded: all "
           "limits hold. Limits of equal numbers are one line.")  # fmt: skip
