"""One key at a few positions, each solved beforehand: a chart, a range input, rows below it."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np
from matplotlib.axes import Axes

from flownet.handover.document import PageBlock, printed, shortened
from flownet.handover.figures import CHART_SIDE, CHART_UNDER, SLIM, WIDE, chart
from flownet.handover.reviewed import Reviewed
from flownet.pictures import style
from flownet.pictures.caption import pretty
from flownet.schema import quantities as q
from flownet.studies.headroom_result import Headroom
from flownet.studies.headroom_search import Bench, Point, tried
from flownet.studies.headroom_subject import Subject

SLIDER_POSITIONS = 13
ABOVE_CHART = 26.0  # points: room for the legend
PAST_LIMIT = 1.35  # of the way to the last limit, how far it goes


def slider(found: Reviewed, units: str) -> PageBlock:
    """The chart of the margin over the key, and what the rows below it show at each position."""
    first = found.slid[0]
    subject, values = first.subject, _positions(found.slid)
    benches = [Bench(item.case, item.subject, tuple(item.today.drops), item.unknown)
               for item in found.slid]  # fmt: skip
    names = [item.case.applied.scenario for item in found.slid]
    runs = dict(zip(names, tried(benches, values), strict=True))
    share = np.interp(values, (values[0], values[-1]), (0.0, 1.0))
    title, drawn, places = printed(f"The least margin over {first.key}"), [], []
    for size in (WIDE, SLIM):
        wide, tall = (length / style.POINT for length in size)
        ends = f'y1="{ABOVE_CHART}" y2="{tall - CHART_UNDER:.1f}"'
        line = f'<line class="at" x1="0" x2="0" {ends}/></svg>'
        drawn.append(
            chart(_lines, (subject, values, runs), units, size, title, ABOVE_CHART).replace(
                "</svg>", line
            )
        )
        places.append(np.round(CHART_SIDE + (wide - 2 * CHART_SIDE) * share, 1).tolist())
    return PageBlock(
        title, found.proposal, wide=drawn[0], narrow=drawn[1], data={
            "key": first.key, "texts": [pretty(text) for text in subject.texts(values, units)],
            "today": values.index(subject.present), "wide": places[0], "narrow": places[1],
            "rows": [{"name": name, "cells": [_row(point, units) for point in points]}
                     for name, points in runs.items()],
            "drops": any(points[0].drops for points in runs.values()),
        },
    )  # fmt: skip


def _positions(found: Sequence[Headroom]) -> list[float]:
    """From today's value, which is one of them, past where the last limit breaks; else to an end of
    what was searched."""
    first = found[0]
    today = first.subject.present
    ends = [item.value for item in found if math.isfinite(item.value)] or [
        first.high if first.high > today else first.low]  # fmt: skip
    far = max(ends, key=lambda value: abs(value - today))
    near = min(today, *ends, 1.0 if first.key.endswith(".fouling") else today)
    stop = min(max(today + PAST_LIMIT * (far - today), far), first.high) if far > today else today
    start = max(near - 0.1 * abs(stop - near), first.low) if near < today else near
    places = np.linspace(start, stop if stop > start else first.high, SLIDER_POSITIONS).tolist()
    closest = min(range(SLIDER_POSITIONS), key=lambda i: abs(places[i] - today))
    places[closest] = today
    return sorted(places)


def _row(point: Point, units: str) -> dict[str, str]:
    """What the rows below the slider say of one position."""
    warm = q.TEMPERATURE.shown(units).text(point.hottest_air) \
        if math.isfinite(point.hottest_air) else "–"  # fmt: skip
    drops = ", ".join(q.PRESSURE.shown(units).text(drop) for drop in point.drops.values())
    margin = point.margin_quantity.shown(units).text(point.margin, "+") if point.limit else "–"
    return {"margin": printed(margin), "status": point.status, "decides": point.decides or "–",
            "drop": printed(drops), "air": printed(warm)}  # fmt: skip


def _lines(
    found: tuple[Subject, Sequence[float], Mapping[str, Sequence[Point]]], *, ax: Axes, units: str
) -> None:
    """One line a scenario: the least margin of temperatures, else of what decides."""
    subject, values, runs = found
    solved = [point for points in runs.values() for point in points if math.isfinite(point.level)]
    warm = any(point.hottest_air == point.hottest_air for point in solved)
    unit = q.DIFFERENCE if warm or not solved else solved[0].margin_quantity
    shown, every = style.shown(subject.quantity, values, units), []
    style.grid(ax)
    for (name, points), dash in zip(runs.items(), style.DASHES, strict=False):
        heights = style.shown(unit, [point.level for point in points], units)
        every.append(heights)
        ax.plot(shown, heights, color=style.INK, linestyle=dash, linewidth=1.6,
                label=shortened(name))  # fmt: skip
    low = min(-1.0, float(np.nanmin(every)) * 1.15) if np.isfinite(every).any() else -1.0
    style.limit(ax, 0.0, low)
    ax.set(xlabel=style.named(shortened(subject.path), subject.quantity, units),
           xlim=(shown[0], shown[-1]),
           ylabel=style.named("least margin" + " of temperatures" * warm, unit, units))  # fmt: skip
    ax.set_ylim(bottom=low)
    ax.legend(loc="lower right", bbox_to_anchor=(1.0, 1.0), fontsize=style.LEGIBLE, frameon=False,
              borderaxespad=0.0, borderpad=0.2, labelspacing=0.2)  # fmt: skip
