"""How far a key can go, close up: every limit as a share of the margin it has today.

All lines start at 100 % and are broken below 0, whatever a limit is measured in; the first to get
there is the answer.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, NamedTuple

import numpy as np
from matplotlib.ticker import MaxNLocator

from flownet.pictures import style
from flownet.pictures.labels import spread
from flownet.pictures.style import Array, Axes, Caption, width
from flownet.pictures.tables import leader
from flownet.schema import quantities as q
from flownet.schema.errors import CaseError
from flownet.schema.quantities import Quantity
from flownet.studies.headroom.points import Point
from flownet.studies.headroom.result import Headroom
from flownet.studies.headroom.study import close_up

STEPS = 49  # values in the window
BEYOND = 0.75  # of the way from today to the limit, how far the picture goes on
MOST = 14  # lines
SAME, NOTHING = 1e-3, 1e-9  # shares of lines that are one; a margin that is none
LOW, HIGH = -0.45, 1.5  # shares that are seen
TICKS = {-1.0: "−100 %", 0.0: "limit", 0.5: "50 %", 1.0: "100 %"}


class Line(NamedTuple):
    """Limits whose margins are the same share of today's all along."""

    names: list[str]
    share: Array
    today: float
    quantity: Quantity
    breaks: float  # the first value at which it breaks, or holds again; infinite beyond the window


@style.picture
def headroom(
    found: Headroom, *, ax: Axes | None = None, units: str = "metric",
    caption: Caption | None = None,
) -> Axes:  # fmt: skip
    """The key to the right, in the unit shown; share of today's margin upwards, 0 at the limit."""
    subject, values = found.subject, _window(found)
    points, quantities = close_up(found, values)
    lines = _lines(points, quantities)
    lines.sort(key=lambda line: found.limit is None or found.limit.subject not in line.names)
    if not lines:
        raise CaseError(f"{found.key}: no limit has a margin to draw")
    paper = style.Paper(
        ax, found.verdicts(units)[0], style.caption(caption or Caption.of(found.case), units),
        84.0 if points[0].drops else 74.0, _notes(found, len(lines), units),
    )  # fmt: skip
    ax = paper.chart(15.0, 9.0, 79.0, 54.0)
    x = style.shown(subject.quantity, values, units)
    low = min(LOW, 1.1 * min(float(line.share[0]) for line in lines))
    top = min(max(1.04, *(float(np.nanmax(line.share)) * 1.03 for line in lines)), HIGH)
    ticks = [at for at in TICKS if at >= low]
    factor = "factor on " if subject.factor else ""
    ax.set(xlim=(x[0], x[-1]), ylim=(low, top), ylabel="left of today's margin",
           xlabel=style.named(factor + found.key, subject.quantity, units))  # fmt: skip
    ax.set_yticks(ticks, [TICKS[at] for at in ticks])
    _limits(ax, found, low, units)
    for number, line in enumerate(lines[:MOST]):
        look = _look(found, number)
        ax.plot(x, line.share, **look)
        if math.isfinite(line.breaks):
            at = style.shown(subject.quantity, line.breaks, units)
            ax.plot([at], [0.0], "o", ms=3.0 + look["linewidth"], mfc="white", mec=look["color"],
                    mew=1.4, zorder=7)  # fmt: skip
    _names(ax, paper, found, lines[:MOST], float(values[-1]), units)
    _drop(ax, points, x, units)
    return ax


def _window(found: Headroom) -> Array:
    """From today's value to beyond the one at which the first limit breaks, within the range."""
    today, edge, whole = found.subject.present, found.value, found.subject.whole
    stop = found.high if found.high > today else found.low
    if math.isfinite(edge) and edge != today:
        stop = min(max(edge + BEYOND * (edge - today), found.low), found.high)
    values = np.linspace(today, stop, STEPS)
    return np.unique(np.round(values))[:: 1 if stop > today else -1] if whole else values


def _lines(points: Sequence[Point], quantities: Mapping[tuple[str, str], Quantity]) -> list[Line]:
    """The nearest to break first, then by what is left; equal ones as one."""
    found: list[Line] = []
    values = [point.value for point in points]
    for name, today in points[0].margins.items():
        if abs(today) < NOTHING:
            continue
        share = np.array([point.margins.get(name, math.nan) for point in points]) / abs(today)
        for line in found:
            alike = math.isclose(line.today, today, rel_tol=SAME) and np.allclose(
                line.share, share, atol=SAME, equal_nan=True)  # fmt: skip
            if alike and line.quantity == quantities[name]:
                line.names.append(name[1])
                break
        else:
            found.append(Line([name[1]], share, today, quantities[name], _breaks(values, share)))
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
        marks.append((edge, word, subject.apart(edge, today, units), style.OVER))
        if found.today.holds:
            ends = style.shown(subject.quantity, (today, edge), units)
            ax.axvspan(ends[0], ends[1], color=style.ALLOWED, linewidth=0, zorder=0)
    taken = 0.0
    start, stop = ax.get_xlim()
    for value, word, told, tone in marks:
        at = float(style.shown(subject.quantity, value, units))
        ax.axvline(at, color=tone, linewidth=1.4, zorder=5)
        text, here = style.pretty(f"{word} {told}"), (at - start) / (stop - start)
        room, wide = style.extent(ax)[0], width(text, style.HEAD, True)
        here *= room
        left = max(min(here - wide / 2, room - wide), taken)
        taken = left + wide + 6.0
        ax.annotate(text, (at, 1), (left - here, 6), xycoords=ax.get_xaxis_transform(), color=tone,
                    textcoords="offset points", weight="bold", size=style.HEAD)  # fmt: skip


def _names(
    ax: Axes, paper: style.Paper, found: Headroom, lines: Sequence[Line], stop: float, units: str
) -> None:
    """At the right end of each line its name, where it breaks, what is left today."""
    low, top = ax.get_ylim()
    shares = [float(np.clip(np.nan_to_num(line.share[-1]), low, top)) for line in lines]
    gap = 9.5 / style.extent(ax)[1] * (top - low)
    places = spread(shares, gap, low, top - 0.4 * gap)
    way = "as it grows" if stop > found.subject.present else "as it falls"
    heads = [(6.0, "left", "limit of"), (35.5, "left", way), (74.0, "right", "left today")]
    heads = heads if paper.ax is None else heads[:1]
    for number, (line, share, place) in enumerate(zip(lines, shares, places, strict=True)):
        breaks, holds = math.isfinite(line.breaks), line.today > 0
        word = ("breaks at" if holds else "holds from") if breaks else \
               ("holds to" if holds else "broken to")  # fmt: skip
        at = found.subject.apart(line.breaks if breaks else stop, found.subject.present, units)
        left = line.quantity.shown(units).text(line.today, "+")
        texts = [_listed(line.names), f"{word} {at}", left][: len(heads)]
        look = _look(found, number)
        leader(ax, share, float(place), [(*head[:2], text) for head, text in zip(
            heads, texts, strict=True)], bold=look["zorder"] == 6, tone=look["color"])  # fmt: skip
    for far, side, head in heads:
        ax.annotate(head, (1, 1), (far / style.POINT, 6), xycoords="axes fraction", ha=side,
                    textcoords="offset points", size=style.SMALL, color=style.QUIET)  # fmt: skip


def _listed(names: Sequence[str]) -> str:
    """All of them where there is room, else the first and how many more."""
    short = [name.removeprefix("part.") for name in names]
    if width(", ".join(short), style.BODY, True) * style.POINT < 28.5:
        return ", ".join(short)
    return short[0] + (f" + {len(short) - 1}" if short[1:] else "")


def _drop(ax: Axes, points: Sequence[Point], x: Array, units: str) -> None:
    """Of one filter that loads, its drop on a second scale, where that grows all along."""
    path = next(iter(points[0].drops), "")
    drop = style.shown(q.PRESSURE, [point.drops.get(path, math.nan) for point in points], units)
    if len(points[0].drops) == 1 and (np.diff(drop) > 0).all() and (np.diff(x) > 0).all():
        far, there = (np.concatenate([2 * v[:1] - v[1:][::-1], v, 2 * v[-1:] - v[:-1][::-1]])
                      for v in (x, drop))  # fmt: skip
        turned: Any = (lambda v: np.interp(v, far, there), lambda d: np.interp(d, there, far))
        side = ax.secondary_xaxis(-0.2, functions=turned)
        side.xaxis.set_major_locator(MaxNLocator(5))
        side.set_xlabel(style.named(f"pressure drop of {path}", q.PRESSURE, units))
        style.dress(side)


def _notes(found: Headroom, count: int, units: str) -> Iterator[str]:
    yield from map(style.sentence, found.verdicts(units)[1:])
    if count > MOST:
        yield f"{count - MOST} limits with more room are not drawn."
    yield ("100 %: the margin of today, of each limit in its own unit; 0: the limit. Shaded: all "
           "limits hold. Limits of equal numbers are one line.")  # fmt: skip
