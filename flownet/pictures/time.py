"""Limits in time: the margin of each, what happens when, and which limit is reached.

Where the outside air keeps its temperature, each margin as a share of what its limit allows; in a
day, where the allowed rise itself changes, the margins in kelvin, and the outside air below.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import product
from typing import Any, NamedTuple

import numpy as np
from matplotlib.ticker import MaxNLocator, PercentFormatter

from flownet.judging.assessment import THERMAL
from flownet.pages.duration import UNITS, duration
from flownet.pictures import style
from flownet.pictures.labels import NAME_PLATE, AtEnd, AxesRoom, at_ends
from flownet.pictures.scene.scene import Rect
from flownet.pictures.scene.text_metrics import width
from flownet.pictures.style import Axes
from flownet.results.limits import Limit
from flownet.schema import quantities as q
from flownet.schema.arrays import Array
from flownet.studies.transient_result import Transient

CHART_WIDE, CHART_TALL, LEFT, STRIP = 104.0, 54.0, 15.0, 13.0  # mm; STRIP: of the outside air
MOST_COURSES, MOST_MARKS = 12, 9  # lines; events with words
MOVES = 1.0  # K that the outside air must change by to be drawn
ENOUGH = 3  # of a unit of time, from which it is the axis's
FIRST_ROW, ROW_STEP = 15.0, 10.0  # points: of words above the chart
NAME_ROOM = 30.0  # mm, of a name beside the chart
LASTING = "#E4E8EA"


class Course(NamedTuple):
    """The margin of one limit, or of several with the same numbers, at all times."""

    limit: Limit
    left: Array  # as it is drawn
    subjects: list[str]
    decides: bool = False  # what the title is about, where a limit is reached


class TimeMark(NamedTuple):
    """Words over a time."""

    time: float  # [s]
    over: float  # [s] that it takes
    text: str
    row: int = 0  # that the words stand in, counted from the chart
    reached: bool = False  # a limit, not an event


@style.picture(Transient)
def time(found: Transient, *, ax: Axes | None = None, units: str = "metric") -> Axes:
    """The margin of every limit in time, events as upright lines, reached limits as rings.

    Parameters
    ----------
    found : Transient
        From `flownet.transient`.
    ax : Axes, optional
        Then without the strip of the outside air. Time to the right in the unit that is named; what
        is left upwards, 0 at the limit: a share of what is allowed, or kelvins (degF with "us")
        where the outside air changes.
    units : "metric" or "us"
    """
    day = bool(np.ptp(found.courses["outside.temperature"]) > MOVES)
    courses = _courses(found, day, units)
    wide, beyond = CHART_WIDE, style.PAGE_WIDE - style.PAGE_EDGE - LEFT - CHART_WIDE
    if ax is not None:
        wide, beyond = style.extent(ax)[0] * style.POINT, 0.0
    marks = _marks(found, wide / style.POINT, beyond / style.POINT)
    rows = max([mark.row for mark in marks], default=0)
    above = (FIRST_ROW + ROW_STEP * rows) * style.POINT + 4.0
    paper = style.Paper(
        ax, found.verdicts(units)[0], _caption(found, units),
        above + CHART_TALL + 11.0 + day * (STRIP + 9.0), _notes(found, courses, day, units),
    )  # fmt: skip
    ax = paper.chart(LEFT, above, CHART_WIDE, CHART_TALL)
    _draw(ax, found, courses[:MOST_COURSES], day, units)
    _above(ax, marks, found.until)
    if paper.ax is None and courses:
        _names(ax, courses[:MOST_COURSES], units)
    if day and paper.ax is None:
        strip = paper.panel(LEFT, above + CHART_TALL + 15.0, CHART_WIDE, STRIP)
        _outside(strip, found, units)
    return ax


def _caption(found: Transient, units: str) -> list[str]:
    """That of the case, with its timeline, and the site of the start."""
    name = f"timeline {found.name} | " if found.name else ""
    state = f"{name}{found.scenario} | {found.variant}"
    made = style.caption(found.case, units, state=state)
    return [*made[:-2], style.pretty(found.caption.surroundings(units)), made[-1]]


# --- courses -------------------------------------------------------------------------------------


def _courses(found: Transient, day: bool, units: str) -> list[Course]:
    """The worst first; in a day temperatures only; equal ones as one."""
    outside, made = found.courses["outside.temperature"], list[Course]()
    for item in found.limits:
        if not np.isfinite(item.margin).any() or (day and item.limit not in THERMAL):
            continue
        if day:
            left = style.shown(q.DIFFERENCE, item.margin, units)
        else:
            each = zip(item.bound, item.margin, outside, strict=True)
            left = np.array([style.left(item._replace(bound=b), m, t) for b, m, t in each])
        same = [one for one in made if one.limit.limit == item.limit and np.allclose(
            left, one.left, atol=style.EQUAL, equal_nan=True)]  # fmt: skip
        if same:
            same[0].subjects.append(item.subject)
        else:
            made.append(Course(item, left, [item.subject]))
    first = found.over[0].subject if found.over else found.first.subject if found.first else ""
    made = [one._replace(decides=first in one.subjects) for one in made]
    return sorted(made, key=lambda one: (not one.decides, float(np.nanmin(one.left))))


def _draw(
    ax: Axes, found: Transient, courses: Sequence[Course], day: bool, units: str
) -> None:  # fmt: skip
    """Lines of margins, the one that decides dark red; the limit, and what is beyond it."""
    unit, size = _unit(found.until)
    low, high = _span(courses, day)
    ax.set(xlim=(0.0, found.until / size), ylim=(low, high), xlabel=f"time, {unit}")
    ax.set_ylabel(style.named("margin", q.DIFFERENCE, units) if day
                  else "margin, share of what is allowed")  # fmt: skip
    ax.xaxis.set_major_locator(MaxNLocator(9, steps=[1, 2, 3, 5, 6, 10]))
    ax.yaxis.set_major_formatter("{x:g}" if day else PercentFormatter(1.0, 0, " %"))
    style.limit(ax, 0.0, low)
    room, across = AxesRoom(ax), np.linspace(0.0, found.until / size, 50)
    room.line(across, np.zeros(50))
    for number, course in enumerate(courses):
        look = {"color": style.OVER, "linewidth": 2.2, "zorder": 6} if course.decides else {
            "color": style.INK, "linewidth": 1.1, "zorder": 5,
            "linestyle": style.DASHES[number % len(style.DASHES)]}  # fmt: skip
        room.draw(found.times / size, course.left, **look)
    _rings(room, found, courses, size)
    room.name(across[::-1], np.full(50, 0.5 * low), "over the limit", size=style.LEGIBLE,
              tone=style.QUIET)  # fmt: skip


def _span(courses: Sequence[Course], day: bool) -> tuple[float, float]:
    """Ends of the frame; what is far beyond is cut."""
    values = np.concatenate([[0.0], *(course.left for course in courses)])
    values = values[np.isfinite(values)]
    most, least = float(values.max()), float(values.min())
    if not day:
        most, least = min(most, 1.0), max(least, style.CUT_AT)
    step = max(most - least, 2.0 if day else 0.1)
    return min(least, -0.12 * step) - 0.04 * step, most + 0.06 * step


def _rings(room: AxesRoom, found: Transient, courses: Sequence[Course], size: float) -> None:
    """Where limits are passed: a ring at the limit, and right over or under it when that is."""
    drawn = {subject for course in courses for subject in course.subjects}
    passed = [each for each in found.crossings if each.subject in drawn]
    room.keep([each.time / size for each in passed], [0.0] * len(passed))
    for each in passed:
        tone, at = style.OVER if each.rising else style.INK, each.time / size
        style.points(room.ax, [at], [0.0], ms=6.0, mew=1.5, zorder=8, mec=tone)
        x, y = room.at(at, 0.0)[0].tolist()
        half = width(text := duration(each.time), style.LEGIBLE) / 2 + 1.5
        for most, off in product((0, math.inf), (9.0, -9.0, 18.0, -18.0)):
            rect = Rect(x - half, y + off - 4.5, x + half, y + off + 4.5)
            if each != found.first and room.free(rect, most):
                room.taken.append(rect)
                style.beside(room.ax, text, (at, 0.0), (0, off), "xy", ha="center", va="center",
                             color=tone, zorder=9, bbox=NAME_PLATE)  # fmt: skip
                break


def _unit(until: float) -> tuple[str, float]:
    """What the axis is counted in, and how long that is [s]."""
    return next((unit for unit in UNITS if until >= ENOUGH * unit[1]), UNITS[-1])


# --- words ---------------------------------------------------------------------------------------


def _marks(found: Transient, wide: float, beyond: float) -> list[TimeMark]:
    """Events by their time, those of one time together, and the limit that is reached first.

    `wide`, `beyond`: points of the chart, and that words may reach beyond it. Words stand in rows,
    so that no line to one crosses others.
    """
    together: dict[float, list[str]] = {}
    for each in found.events:
        together.setdefault(each.time, []).append(each.text)
    over = {each.time: each.over for each in found.events}
    events = [TimeMark(at, over[at], ", ".join(texts)) for at, texts in together.items()]
    marks = events[:MOST_MARKS]
    if (first := found.first) is not None:
        text = f"{first.subject.removeprefix('part.')}: limit reached at {duration(first.time)}"
        marks.append(TimeMark(first.time, 0.0, text, reached=True))
    placed: list[TimeMark] = []
    for mark in sorted(marks, key=lambda each: (each.time, each.reached), reverse=True):
        start = mark.time / found.until * wide
        text = _fitting(mark.text, wide + beyond - start)
        end = start + width(text, style.MEDIUM, True) + 6.0
        rows = [each.row for each in placed if each.time / found.until * wide < end]
        placed.append(mark._replace(text=text, row=1 + max(rows, default=-1)))
    return placed[::-1]


def _fitting(text: str, room: float) -> str:
    """As much of it as there is room for."""
    text = style.pretty(text)
    while width(text, style.MEDIUM, True) > room and len(text) > 1:
        text = f"{text.removesuffix('…')[:-1]}…"
    return text


def _above(ax: Axes, marks: Sequence[TimeMark], until: float) -> None:
    """Upright lines with words above them; what takes time is shaded."""
    _, size = _unit(until)
    for mark in marks:
        at, off = mark.time / size, FIRST_ROW + ROW_STEP * mark.row
        look: dict[str, Any] = {"color": style.OVER if mark.reached else style.INK}
        look |= {"linewidth": 0.8, "linestyle": "-" if mark.reached else (0, (2, 1.5))}
        if mark.over:
            ax.axvspan(at, at + mark.over / size, color=LASTING, linewidth=0, zorder=0.3)
        ax.axvline(at, zorder=2, **look)
        line = {"arrowstyle": "-", "shrinkA": 0, "shrinkB": 0, **look}
        style.beside(ax, "", (at, 1), (0, off - 2.0), "x", arrowprops=line)
        style.beside(ax, mark.text, (at, 1), (0, off), "x", size=style.MEDIUM, weight="bold",
                     color=look["color"])  # fmt: skip


def _names(ax: Axes, courses: Sequence[Course], units: str) -> None:
    """At the end of each line its name, and the least margin."""
    told = []
    for course in courses:
        margin, over = course.limit.margin, bool(np.any(course.limit.broken))
        more = f" + {len(course.subjects) - 1}" if course.subjects[1:] else ""
        room = NAME_ROOM / style.POINT - width(more, style.MEDIUM, True)
        name = _fitting(course.subjects[0].removeprefix("part."), room)
        least = course.limit.margin_quantity.shown(units).text(float(np.nanmin(margin)), "+")
        end = float(np.clip(np.nan_to_num(course.left[-1]), *ax.get_ylim()))
        told.append(AtEnd(end, [name + more, least.replace("-", "−")], over or course.decides,
                          style.OVER if over else style.INK))  # fmt: skip
    places = [(6.0, "left"), (48.0, "right")]
    at_ends(ax, told, places, 9.0)
    for (far, side), head in zip(places, ("limit of", "least margin"), strict=True):
        style.beside(ax, head, (1, 1), (far / style.POINT, 5), ha=side)


def _outside(ax: Axes, found: Transient, units: str) -> None:
    """The course of the outside air."""
    style.dress(ax)
    _, size = _unit(found.until)
    air = style.shown(q.TEMPERATURE, found.courses["outside.temperature"], units)
    ax.plot(found.times / size, air, color=style.INK, linewidth=1.4)
    pad = 0.15 * np.ptp(air)
    ax.set(xlim=(0.0, found.until / size), ylim=(air.min() - pad, air.max() + pad), xticks=[])
    ax.yaxis.set_major_locator(MaxNLocator(3))
    text = style.named("outside air", q.TEMPERATURE, units)
    style.beside(ax, text, (1, air[-1]), (6.0 / style.POINT, 0), "y", va="center",
                 size=style.MEDIUM, color=style.INK)  # fmt: skip


def _notes(
    found: Transient, courses: Sequence[Course], day: bool, units: str
) -> Iterator[str]:  # fmt: skip
    yield from map(style.sentence, found.verdicts(units)[1:])
    scale = "The margin of each limit of a temperature" if day else (
        "100 %: nothing used of what is allowed: of a temperature, the rise over the outside air; "
        "of noise, the sound power")  # fmt: skip
    rings = " Rings: where one is passed, dark red where it breaks." if found.crossings else ""
    yield f"{scale}. 0: the limit.{rings}"
    if len(courses) > MOST_COURSES:
        yield f"{len(courses) - MOST_COURSES} limits with more margin are not drawn."
    if (more := len({each.time for each in found.events}) - MOST_MARKS) > 0:
        yield f"{more} later events are not named."
