"""Margins of all limits as bars from P5 to P95 on one scale, and below whose spread that is.

The scale is the margin as a share of what a limit allows: of the rise over the outside air, of the
sound power, of a bound. What lies left of zero is broken.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from flownet.pages.page import spaced
from flownet.pictures import style
from flownet.pictures.labels import TextColumn, columns
from flownet.pictures.style import Axes
from flownet.studies.chances import LIKELY, RARE, LimitChance
from flownet.studies.shares import LEAST_SHOWN, Share
from flownet.studies.uncertainty import Uncertainty
from flownet.studies.verdicts import bound

INPUTS = 12
ROW = 5.4  # mm


@style.picture(Uncertainty)
def uncertainty(found: Uncertainty, *, ax: Axes | None = None, units: str = "metric") -> Axes:
    """Margins as bars from P5 to P95, as a share of what is allowed, and whose spread that is.

    Parameters
    ----------
    found : Uncertainty
        From `flownet.uncertainty`.
    ax : Axes, optional
        Then without the shares of the inputs. Shares to the right, 0 at the limit; a row a
        limit, 0 on top.
    units : "metric" or "us"
    """
    rows = [item for item in found.limits if item.chance is not None][: style.BAR_ROWS]
    shares = [row for row in found.shares.rows if row.share >= LEAST_SHOWN][:INPUTS]
    applied, tall = found.case.applied, ROW * max(len(rows), 1)
    state = f"{applied.scenario} | {applied.variant}     {spaced(len(found))} samples, " \
            f"seed {found.seed}"  # fmt: skip
    below = tall + 20.0 if rows else 0.0
    paper = style.Paper(
        ax, found.verdicts(units)[0], style.caption(found.case, units, state=state),
        below + ROW * (len(shares) + 1) + 5.0, _notes(found, units),
    )  # fmt: skip
    if paper.ax is None:
        _shares(paper, below + 6.0, found, shares, units)
    if rows or paper.ax is not None:
        ax = paper.chart(61.0, 6.0, 44.0, tall)
        _margins(ax, paper, found, rows, units)
    return ax or paper.figure.axes[0]


# --- margins -------------------------------------------------------------------------------------


def _margins(
    ax: Axes, paper: style.Paper, found: Uncertainty, rows: Sequence[LimitChance], units: str
) -> None:
    outside = found.case.outside.temperature
    bands = [[max(min(style.left(item, margin, outside), 1.0), style.CUT_AT)
              for margin in (item.margin.low, item.margin.middle, item.margin.high)]
             for item in rows]  # fmt: skip
    low = min([-0.12, *(band[0] - 0.05 for band in bands)])
    style.bars(ax, len(rows), (low, 1.0), zero=False)
    style.limit(ax, 0.0, low, "y")
    for row, (item, (worst, middle, best)) in enumerate(zip(rows, bands, strict=True)):
        assert item.chance is not None
        sure = item.chance.share
        fill = style.OVER if sure < RARE else style.TIGHT if sure < LIKELY else style.OK
        mark = "white" if sure < RARE else style.INK
        style.bar(ax, row, worst, best, fill, mark)
        ax.plot([middle] * 2, [row - 0.28, row + 0.28], color=mark, linewidth=2.0, zorder=4)
    style.shares(ax, low)
    unsure = [row for row, item in enumerate(rows) if item.chance and item.chance.share < LIKELY]
    columns(ax, paper, [
        TextColumn("limit of", -59.0, [item.subject for item in rows], "left", unsure, 38.0),
        TextColumn("limit", -3.0, [bound(item, units) for item in rows], "right"),
        TextColumn("margin, P5 to P95", 29.0, [
            f"{unit.number(item.margin.low, '+')} to {unit.text(item.margin.high, '+')}"
            for item in rows for unit in [item.margin.quantity.shown(units)]
        ], "right"),
        TextColumn("holds in", 33.0, [item.chance.words() for item in rows if item.chance], "left",
               unsure),
    ])  # fmt: skip


# --- shares --------------------------------------------------------------------------------------


def _shares(
    paper: style.Paper, top: float, found: Uncertainty, rows: Sequence[Share], units: str
) -> None:
    """Whose spread it is, as bars of one length for all of it."""
    ax = paper.panel(98.0, top, 52.0, ROW * max(len(rows), 1))
    style.bars(ax, len(rows), (0.0, 1.0))
    ax.set_xticks([])
    ax.spines["bottom"].set_visible(False)
    for row, item in enumerate(rows):
        style.bar(ax, row, 0.0, item.share, style.INK if item.spread.stated else "white")
        style.beside(ax, f"{100 * item.share:.1f} %", (item.share, row), (3, 0), "xy",
                     va="center", size=style.MEDIUM, color=style.INK)  # fmt: skip
    columns(ax, paper, [
        TextColumn(_whose(found, units), -96.0, [item.spread.path for item in rows], wide=60.0),
        TextColumn("", -3.0, [item.spread.words(units) for item in rows], "right"),
    ])  # fmt: skip
    if not math.isnan(found.shares.left):
        text = f"{100 * found.shares.left:.1f} % unexplained: bends, inputs that act together"
        style.beside(ax, text, (0, 0), (0, -8))


def _whose(found: Uncertainty, units: str) -> str:
    """What is shared out, and how it lies."""
    band, spread = found.bands[found.shares.of], found.shares.difference.shown(units)
    lies = ", ".join(f"{name} {band.quantity.shown(units).text(value)}" for name, value in zip(
        ("P5", "P50", "P95"), band[2:5], strict=True))  # fmt: skip
    deviation = spread.text(found.shares.deviation)
    return f"whose spread: {found.shares.of}, standard deviation {deviation}; {lies}"


def _notes(found: Uncertainty, units: str) -> Iterator[str]:
    yield from map(style.sentence, found.verdicts(units)[1:])
    yield ("Bars: 90 of 100 samples, mark: half of them; hatched: the limit is broken. Dark: less "
           "likely than not to hold; ochre: less than 95 %. In brackets: between what the chance "
           "lies, 95 % sure.")  # fmt: skip
    yield ("100 %: nothing used of what is allowed: of a temperature, the rise over the outside "
           "air; of noise, the sound power; of a bound, what it asks for.")  # fmt: skip
    if (more := len(found.limits) - style.BAR_ROWS) > 0:
        yield f"{more} limits that are more likely to hold are not drawn."
    solid = "Shares of the variance: solid, tolerances that the case states"
    if any(not row.spread.stated for row in found.shares.rows):
        solid += "; hollow, usual ones (common practice, no source)"
    yield f"{solid}."
