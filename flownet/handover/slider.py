"""One key at a few positions, each solved beforehand: a chart, a range input, two rows below it."""

from __future__ import annotations

import math
from collections.abc import Sequence

import matplotlib as mpl
import numpy as np
from matplotlib import pyplot
from matplotlib.axes import Axes

from flownet.handover.document import Block
from flownet.handover.figures import INCH, NARROW, WIDE, inlined
from flownet.handover.review import Review
from flownet.pictures import save, style
from flownet.pictures.caption import pretty
from flownet.schema import quantities as q
from flownet.schema.quantities import Quantity
from flownet.studies.headroom import close_up
from flownet.studies.headroom_result import Headroom
from flownet.studies.headroom_search import Point

POSITIONS = 13  # of the slider
AHEAD = 1.35  # of the way to the last limit, how far it goes


def slider(found: Review, units: str) -> Block:
    """The chart of the margin over the key, and what the rows below it show at each position."""
    first = found.slid[0]
    values = _positions(found.slid)
    runs = [(item.case.applied.scenario, close_up(item, values)[0]) for item in found.slid]
    wide, narrow = (_chart(first, values, runs, units, size) for size in (WIDE, NARROW))
    texts = first.subject.texts(values, units)
    today = min(range(len(values)), key=lambda i: abs(values[i] - first.subject.present))
    rows = [{"name": name, "cells": [_row(point, units) for point in points]}
            for name, points in runs]  # fmt: skip
    return Block(
        "slider", pretty(f"The margin over {first.key}"), found.proposal, wide=wide[0],
        narrow=narrow[0], data={
            "key": first.key, "texts": [pretty(text) for text in texts], "today": today,
            "rows": rows, "wide": wide[1], "narrow": narrow[1],
        },
    )  # fmt: skip


def _positions(found: Sequence[Headroom]) -> list[float]:
    """From today's value past where the last limit breaks; else over what was searched."""
    first = found[0]
    today = first.subject.present
    ends = [item.value for item in found if math.isfinite(item.value)]
    far = max(ends, key=lambda value: abs(value - today), default=first.high)
    near = min(today, *ends, 1.0 if first.key.endswith(".fouling") else today)
    stop = min(max(today + AHEAD * (far - today), far), first.high) if far > today else today
    start = max(near - 0.1 * abs(stop - near), first.low) if near < today else near
    places = np.linspace(start, stop if stop > start else first.high, POSITIONS)
    return [float(place) for place in places]


def _row(point: Point, units: str) -> dict[str, str]:
    """What the rows below the slider say of one position."""
    margin = pretty(point.margin_quantity.shown(units).text(point.margin, "+")) \
        if point.limit else "–"  # fmt: skip
    warm = q.TEMPERATURE.shown(units).text(point.hottest_air) \
        if math.isfinite(point.hottest_air) else "–"  # fmt: skip
    drops = ", ".join(q.PRESSURE.shown(units).text(drop) for drop in point.drops.values())
    return {"margin": margin, "status": point.status, "decides": point.decides or "–",
            "drop": pretty(drops), "air": pretty(warm)}  # fmt: skip


def _chart(
    first: Headroom, values: Sequence[float], runs: Sequence[tuple[str, list[Point]]], units: str,
    size: tuple[float, float],
) -> tuple[str, list[float]]:  # fmt: skip
    """The chart as SVG with the line of the slider, and where this line stands at each position."""
    quantity = first.subject.quantity
    shown = style.shown(quantity, values, units)
    with mpl.rc_context(style.LOOK):
        figure = pyplot.figure(figsize=(size[0] / INCH, 0.8 * size[1] / INCH), layout="constrained")
        ax = figure.add_subplot()
        _lines(ax, shown, runs, units)
        ax.set(xlabel=style.named(first.key, quantity, units), xlim=(shown[0], shown[-1]))
        figure.canvas.draw()
        box, wide = ax.get_window_extent(), figure.bbox.width
        tall = figure.bbox.height
        made = inlined(save.encoded(figure, "svg").decode())
        save.close(figure)
    points = 72.0 / figure.dpi
    places = [(box.x0 + box.width * i / (len(values) - 1)) * points for i in range(len(values))]
    line = (f'<line class="at" x1="0" x2="0" y1="{(tall - box.y1) * points:.1f}" '
            f'y2="{(tall - box.y0) * points:.1f}"/>')  # fmt: skip
    del wide
    return made.replace("</svg>", f"{line}</svg>"), [round(place, 1) for place in places]


def _lines(
    ax: Axes, shown: style.Array, runs: Sequence[tuple[str, list[Point]]], units: str
) -> None:
    """One line a scenario, in one unit: that of the first point that has a margin."""
    known = [point for _, points in runs for point in points if point.limit]
    unit: Quantity = known[0].margin_quantity if known else q.DIFFERENCE
    style.grid(ax)
    every = []
    for (name, points), dash in zip(runs, ("-", (0, (5, 2))), strict=False):
        margins = [point.margin if point.limit and point.margin_quantity == unit else math.nan
                   for point in points]  # fmt: skip
        heights = style.shown(unit, margins, units)
        every.append(heights)
        ax.plot(shown, heights, color=style.INK, linestyle=dash, linewidth=1.6, label=name)
    low = min(-1.0, float(np.nanmin(every)) * 1.15) if np.isfinite(every).any() else -1.0
    style.limit(ax, 0.0, low)
    ax.set_ylim(bottom=low)
    ax.set_ylabel(style.named("margin", unit, units))
    ax.legend(loc="upper right", fontsize=style.SMALL, frameon=False)
