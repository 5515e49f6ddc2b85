"""How far a key can go, close up: every limit as a share of the margin it has today.

All lines start at 100 % and are broken below 0, whatever a limit is measured in; the first to get
there is the answer.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import NamedTuple

import numpy as np
from matplotlib.axes import Axes

from flownet import quantities as q
from flownet.arrays import Array
from flownet.errors import CaseError
from flownet.pictures import style
from flownet.pictures.labels import leader
from flownet.quantities import Quantity
from flownet.report.scene_letters import width
from flownet.studies.headroom.points import Point
from flownet.studies.headroom.result import Headroom
from flownet.studies.headroom.study import close_up

STEPS = 49  # values in the window
BEYOND = 0.75  # of the way from today to the limit, how far the picture goes on
MOST = 14  # lines
SAME, NOTHING = 1e-3, 1e-9  # shares of lines that are one; a margin that is none
LOW, HIGH = -0.45, 1.5  # shares that are seen at most


class Line(NamedTuple):
    """Limits whose margins are the same share of today's all along."""

    names: list[str]
    share: Array
    today: float
    quantity: Quantity
    breaks: float  # the first value at which they break; infinite beyond the window


@style.picture
def headroom(
    found: Headroom, *, ax: Axes | None = None, units: str = "metric", changed: Sequence[str] = ()
) -> Axes:
    """The key to the right, in the unit shown; share of today's margin upwards, 0 at the limit."""
    start, stop = _window(found)
    values = np.linspace(start, stop, STEPS)
    if found.subject.whole:
        values = np.unique(np.round(values))[:: 1 if stop > start else -1]
    points, quantities = close_up(found, values)
    lines = _lines(points, quantities)
    if not lines:
        raise CaseError(f"{found.key}: no limit has a margin to draw")
    paper = style.Paper(
        ax, found.verdicts(units)[0], style.caption(found.case, units, changed, site=style.site(
            found.case, units)), 84.0 if points[0].drops else 74.0, _notes(found, len(lines), units),
    )  # fmt: skip
    ax = paper.chart(15.0, 9.0, 79.0, 54.0)
    x = style.shown(found.subject.quantity, values, units)
    low = min(LOW, 1.1 * min(line.share[0] for line in lines))
    top = min(max(1.04, *(float(np.nanmax(line.share)) * 1.03 for line in lines)), HIGH)
    ax.set(xlim=(x[0], x[-1]), ylim=(low, top))
    _limits(ax, found, low, units)
    for number, line in enumerate(lines[:MOST]):
        first = number == 0 and math.isfinite(line.breaks)
        tone = style.OVER if first else style.INK
        ax.plot(x, line.share, color=tone, linewidth=2.2 if first else 1.1, zorder=6 - 2 * (not first),
                linestyle=style.DASHES[number % len(style.DASHES)] if not first else "-")  # fmt: skip
        if math.isfinite(line.breaks):
            at = style.shown(found.subject.quantity, line.breaks, units)
            ax.plot([at], [0.0], "o", ms=5.5 if first else 3.5, mfc="white", mec=tone, mew=1.4,
                    zorder=7)  # fmt: skip
    _names(ax, paper, found, lines[:MOST], stop, units)
    ax.set_xlabel(style.named(("factor on " if found.subject.factor else "") + found.key,
                              found.subject.quantity, units))  # fmt: skip
    ax.set_ylabel("left of today's margin")
    ax.set_yticks([-1.0, 0.0, 0.5, 1.0][low > -1.0 :], ["−100 %", "limit", "50 %", "100 %"][low > -1.0 :])
    _drop(ax, found, points, x, units)
    return ax


def _window(found: Headroom) -> tuple[float, float]:
    """From today's value to beyond the one at which the first limit breaks, within what is known."""
    today, edge = found.subject.present, found.value
    if not math.isfinite(edge) or edge == today:
        return today, found.high if found.high > today else found.low
    return today, min(max(edge + BEYOND * (edge - today), found.low), found.high)


def _lines(points: Sequence[Point], quantities: dict[tuple[str, str], Quantity]) -> list[Line]:
    """The first to break on top, then by what is left; equal ones as one."""
    found: list[Line] = []
    values = [point.value for point in points]
    for name, today in points[0].margins.items():
        if abs(today) < NOTHING:
            continue
        share = np.array([point.margins.get(name, math.nan) for point in points]) / abs(today)
        for line in found:
            alike = line.quantity == quantities[name] and math.isclose(line.today, today, rel_tol=SAME)
            if alike and np.allclose(line.share, share, atol=SAME, equal_nan=True):
                line.names.append(name[1])
                break
        else:
            found.append(Line([name[1]], share, today, quantities[name], _breaks(values, share)))
    return sorted(found, key=lambda line: (line.breaks if values[-1] > values[0] else -line.breaks
                                           if math.isfinite(line.breaks) else math.inf,
                                           float(np.nan_to_num(line.share[-1]))))  # fmt: skip


def _breaks(values: Sequence[float], share: Array) -> float:
    """Where a line first comes to zero, from either side."""
    below = np.flatnonzero((share[1:] < 0) != (share[:-1] < 0))
    if not len(below) or not np.isfinite(share[below[0] : below[0] + 2]).all():
        return math.inf
    i = below[0]
    return values[i] + (values[i + 1] - values[i]) * float(share[i] / (share[i] - share[i + 1]))


def _limits(ax: Axes, found: Headroom, low: float, units: str) -> None:
    """What is allowed as a shade; today and the limit as upright lines, their names apart."""
    style.limit(ax, 0.0, low)
    marks = [(found.subject.present, "today", style.INK)]
    if math.isfinite(found.value) and found.first:
        word = found.limit is None and found.first.breaks and found.first.after.word or "limit"
        marks.append((found.value, word, style.OVER))
        if found.today.holds:
            ends = style.shown(found.subject.quantity, (found.subject.present, found.value), units)
            ax.axvspan(ends[0], ends[1], color=style.ALLOWED, linewidth=0, zorder=0)
    taken = 0.0
    for value, word, tone in marks:
        at = float(style.shown(found.subject.quantity, value, units))
        ax.axvline(at, color=tone, linewidth=1.4, zorder=5)
        text = style.pretty(f"{word} {found.subject.apart(value, marks[word == 'today' and -1][0], units)}")
        wide, here = width(text, 8.0, True), ax.transData.transform((at, 0))[0] * 72 / ax.figure.dpi
        left = max(here - wide / 2 * (word != "today"), taken)
        taken = left + wide + 6.0
        ax.annotate(text, (at, 1), (left - here, 6), xycoords=ax.get_xaxis_transform(), size=8,
                    textcoords="offset points", weight="bold", color=tone)  # fmt: skip


def _names(
    ax: Axes, paper: style.Paper, found: Headroom, lines: Sequence[Line], stop: float, units: str
) -> None:
    """At the right end of each line its name, where it breaks, what is left today."""
    low, top = ax.get_ylim()
    tall = float(ax.get_window_extent().height) * 72 / ax.figure.dpi
    shares = [float(np.clip(np.nan_to_num(line.share[-1]), low, top)) for line in lines]
    gap = 9.5 / tall * (top - low)
    places = style.spread(shares, gap, low, top - 0.4 * gap)
    way = "as it grows" if stop > found.subject.present else "as it falls"
    heads = [(6.0, "left", "limit of"), (35.5, "left", way), (74.0, "right", "left today")]
    for number, (line, share, place) in enumerate(zip(lines, shares, places, strict=True)):
        short = [name.removeprefix("part.") for name in line.names]
        names = ", ".join(short)
        if width(names, style.BODY, True) * style.POINT > 28.5:
            names = short[0] + (f" + {len(short) - 1}" if short[1:] else "")
        told = found.subject.apart(line.breaks, found.subject.present, units) if math.isfinite(
            line.breaks) else found.subject.apart(stop, found.subject.present, units)  # fmt: skip
        word = ("breaks at" if line.today > 0 else "holds from") if math.isfinite(
            line.breaks) else ("holds to" if line.today > 0 else "broken to")  # fmt: skip
        texts = [names, f"{word} {told}", line.quantity.shown(units).text(line.today, "+")]
        first = number == 0 and math.isfinite(line.breaks)
        leader(ax, share, float(place), [
            (at, side, style.pretty(text)) for (at, side, _), text in zip(heads, texts, strict=True)
        ][: 3 if paper.ax is None else 1], bold=first, tone=style.OVER if first else style.INK)  # fmt: skip
    for at, side, head in heads[: 3 if paper.ax is None else 1]:
        ax.annotate(head, (1, 1), (at / style.POINT, 6), xycoords="axes fraction", ha=side,
                    textcoords="offset points", size=style.SMALL, color=style.QUIET)  # fmt: skip


def _drop(ax: Axes, found: Headroom, points: Sequence[Point], x: Array, units: str) -> None:
    """Of a filter that loads, its drop on a second scale, where that grows all along."""
    for path in points[0].drops:
        drop = style.shown(q.PRESSURE, [point.drops.get(path, math.nan) for point in points], units)
        if len(points[0].drops) == 1 and (np.diff(drop) > 0).all() and (np.diff(x) > 0).all():
            side = ax.secondary_xaxis(-0.2, functions=(lambda v: np.interp(v, x, drop),
                                                      lambda d: np.interp(d, drop, x)))  # fmt: skip
            side.tick_params(labelsize=style.SMALL, labelfontfamily=style.FAMILY, width=0.5,
                             length=2.5)  # fmt: skip
            side.set_xlabel(style.named(f"pressure drop of {path}", q.PRESSURE, units))


def _notes(found: Headroom, count: int, units: str) -> Iterator[str]:
    yield from (f"{text[0].upper()}{text[1:]}." for text in found.verdicts(units)[1:])
    if count > MOST:
        yield f"{count - MOST} limits with more room are not drawn."
    yield ("100 %: the margin of today, of each limit in its own unit; 0: the limit. Shaded: all "
           "limits hold. Limits of equal numbers are one line.")  # fmt: skip
