"""Which share of the air goes where: bands as high as their mass flow, places as boxes.

Places stand from left to right in the order the air meets them, at most three in a strip; bands are
straight. A band that passes a place runs below it, or behind it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any

import numpy as np
from matplotlib.patches import Rectangle

from flownet.judging.voids import told
from flownet.pictures import style
from flownet.pictures.air_shares import AirShares, air_shares
from flownet.pictures.scene.page import temperature_range
from flownet.pictures.split_layout import (
    ACROSS,
    BAND_LETTERS,
    BAND_LINE,
    BOX,
    FlowScale,
    Laid,
    Strip,
    gap_of,
    millimetre,
    scale_bar,
    sides_of,
    strips_of,
)
from flownet.pictures.style import Axes
from flownet.results.solution import Solution
from flownet.results.streams import is_outside, much, returns
from flownet.schema import quantities as q
from flownet.schema.fault import listed
from flownet.schema.shown import Shown

FILTERED = "#93A0A9"  # air that came through a filter
GRAMS = Shown("g/s", 1e3, nought=1e-9)
TINY_SHARE = 0.002  # of a band: not hatched
LITTLE_SHARE = 0.9  # of what most slots get, below which it is told who gets the least


@style.picture(Solution)
def split(solution: Solution, *, ax: Axes | None = None, units: str = "metric") -> Axes:
    """Which share of the air goes where, and how much of it no filter has cleaned.

    Parameters
    ----------
    solution : Solution
        One solved enclosure; of a batch, `batch.select(i)`.
    ax : Axes, optional
        At least 164 mm wide. The way of the air to the right, in mm of a page; downwards the
        heights of bands are mass flows in g/s, or lb/min with "us".
    units : "metric" or "us"

    Raises
    ------
    CaseError
        Where no air moves.
    """
    found = air_shares(solution)
    scale = FlowScale(q.MASS_FLOW.us if units == "us" else GRAMS, millimetre(found))
    strips = strips_of(solution, found, scale)
    bar, tall = scale_bar(strips[-1], scale.per)
    paper = style.Paper(ax, _verdict(solution, found, scale.shown, units),
                        style.caption(solution, units), tall + 9.0,
                        _notes(solution, found, len(strips)))  # fmt: skip
    ax = paper.chart(style.PAGE_EDGE + 1.0, 3.0, ACROSS, tall)
    ax.set(xlim=(0, ACROSS), ylim=(tall * scale.per, 0), xticks=[], yticks=[])
    ax.set_xlabel(f"way of the air; heights: mass flow, {scale.shown.unit}")
    ax.spines[:].set_visible(False)
    for strip in strips:
        _boxes(ax, solution, found, strip, scale.per, units)
        for laid in strip.bands:
            _band(ax, strip, laid, scale, found.filtered())
    _scale_bar(ax, bar, scale)
    return ax


# --- drawing -------------------------------------------------------------------------------------


def _boxes(
    ax: Axes, solution: Solution, found: AirShares, strip: Strip, per: float, units: str
) -> None:
    """Each place with its name, temperature and unfiltered share."""
    rows = solution.compartments
    scale = temperature_range(solution.case, [row.temperature for row in rows.values()])
    gap, text = gap_of(len(strip.places)), style.Units(units)
    for i, (place, foot) in enumerate(zip(strip.places, strip.boxes, strict=True)):
        warm, left = rows[place].temperature, gap + i * (gap + BOX)
        tone = "white" if scale.share(warm) > 0.5 else style.INK
        ax.add_patch(Rectangle(
            (left, strip.top * per), BOX, foot * per, label=place, zorder=2, linewidth=1.8,
            facecolor=scale.colour(warm), edgecolor=style.INK))  # fmt: skip
        fits = style.width(place, style.HEAD, True) < (BOX - 2.0) / style.POINT
        size = style.HEAD if fits else BAND_LETTERS
        words = [(line, size, 0.42 * size)
                 for line in style.two_lines(place, size, True, BOX - 2.0)]  # fmt: skip
        words.append((text.text(q.TEMPERATURE, warm), 9.0, 4.8))
        if found.filtered() and not math.isnan(found.unfiltered[place]):
            words += [(f"{100 * found.unfiltered[place]:z.0f} % of it", style.SMALL, 4.0),
                      ("unfiltered", style.SMALL, 2.7)]  # fmt: skip
        y = strip.top + 1.0
        for line, size, step in words:
            y += step
            ax.text(left + BOX / 2, y * per, line, ha="center", size=size, color=tone, zorder=9,
                    weight="bold" if size > style.SMALL else "normal")  # fmt: skip


def _band(ax: Axes, strip: Strip, laid: Laid, scale: FlowScale, filtered: bool) -> None:
    """Plain what a filter cleaned, hatched what none did; its words, and what it passes."""
    band, per, (x0, x1) = laid.band, scale.per, sides_of(strip, laid)
    y, high = (strip.top + laid.y) * per, band.flow * scale.shown.factor
    behind = any(foot > laid.y for foot in strip.boxes[laid.left + 1 : laid.right])
    order = 1.0 if behind else 4.0
    seen = filtered and not band.back and band.unfiltered > TINY_SHARE
    dirty = band.unfiltered if seen else 0.0
    look: dict[str, Any] = {"edgecolor": style.INK, "zorder": order,
                            "linestyle": (0, (3, 2)) if band.back else "-"}  # fmt: skip
    plain = "white" if band.back else FILTERED
    ax.add_patch(Rectangle((x0, y), x1 - x0, high, facecolor=plain, linewidth=0.7,
                           label=band.path, **look))  # fmt: skip
    if dirty:
        ax.add_patch(Rectangle((x0, y + high * (1 - dirty)), x1 - x0, high * dirty,
                               facecolor="white", hatch="//////", linewidth=0.5,
                               label=f"{band.path} unfiltered", **look))  # fmt: skip
    *names, amount = laid.words
    words: dict[str, Any] = {"size": BAND_LETTERS, "color": style.INK, "zorder": 9}
    alone = x0 + 1.5, "left"  # where it has a line of its own
    end, side = (x1 - 2.0, "right") if laid.beside else alone
    style.beside(ax, amount, (end, y), (0, 2.0), "xy", ha=side, **words)
    for i, name in enumerate(reversed(names)):
        up = 2.0 + BAND_LINE / style.POINT * (i + (not laid.beside))
        style.beside(ax, name, (x0 + 1.5, y), (0, up), "xy", weight="bold", **words)
    wall = x0 if is_outside(band.target) or not is_outside(band.source) else x1
    if not laid.onward:
        wall = x0 + x1 - wall
    tip = x1 if laid.onward else x0
    if band.back or tip != wall or not band.path.startswith("fan."):  # wedges show it there
        _head(ax, laid, tip, y + high / 2, per)
    _marks(ax, laid, wall, (y, high), per)


def _head(ax: Axes, laid: Laid, tip: float, middle: float, per: float) -> None:
    """An arrow head behind the end where the air goes; hollow where it comes back."""
    way, back = 1 if laid.onward else -1, laid.band.back
    ax.fill([tip, tip, tip + 2.4 * way], [middle - 1.4 * per, middle + 1.4 * per, middle],
            facecolor="white" if back else style.INK, edgecolor=style.INK if back else "white",
            linewidth=0.7, zorder=8)  # fmt: skip


def _marks(
    ax: Axes, laid: Laid, wall: float, height: tuple[float, float], per: float
) -> None:  # fmt: skip
    """Filter, fan, vent or leak where air passes a wall, a filter on the outer side of a fan."""
    (y, high), kind, band = height, laid.band.path.partition(".")[0], laid.band
    way = 1 if laid.onward else -1
    outer = way if is_outside(band.target) else -way
    at = wall + outer * (1.3 if kind != "fan" else 2.6)
    if band.cleaned:
        turns = 2 * max(2, round(high / per / 2.4))
        x = [at + (0.9 if i % 2 else -0.9) for i in range(turns + 1)]
        for tone, wide in (("white", 3.2), (style.INK, 1.0)):
            ax.plot(x, np.linspace(y, y + high, turns + 1), color=tone, linewidth=wide, zorder=5)
    if kind == "fan":
        ax.add_patch(Rectangle(
            (wall - 1.3, y), 2.6, high, facecolor="white", edgecolor=style.INK, linewidth=0.9,
            linestyle="--" if band.back else "-", zorder=6))  # fmt: skip
        count = 0 if band.back else min(3, int(high / per / 2.5))
        for middle in (y + high * (i + 1) / (count + 1) for i in range(count)):
            ax.fill([wall - 0.8 * way, wall + 0.9 * way, wall - 0.8 * way],
                    [middle - 0.9 * per, middle, middle + 0.9 * per], color=style.INK,
                    zorder=7)  # fmt: skip
    elif kind == "leak":
        ax.plot([at, at + 1.6 * outer, at + 3.2 * outer], [y + high / 2] * 3, "o", ms=2.2,
                mfc=style.INK, mec="white", mew=0.6, zorder=7)  # fmt: skip
    elif kind == "vent":
        for tone, wide, dash in (("white", 3.4, "-"), (style.INK, 2.0, (0, (1, 0.9)))):
            ax.plot([at, at], [y, y + high], color=tone, linewidth=wide, linestyle=dash,
                    zorder=6.5)  # fmt: skip


def _scale_bar(ax: Axes, bar: tuple[float, float, float], scale: FlowScale) -> None:
    x, y, length = bar
    ax.plot([x, x], [y * scale.per, y * scale.per + length], color=style.INK, linewidth=2.2)
    style.beside(ax, f"{length:g} {scale.shown.unit}", (x + 1.5, y * scale.per + length / 2),
                 (0, 0), "xy", va="center", color=style.INK)  # fmt: skip


# --- words ---------------------------------------------------------------------------------------


def _verdict(solution: Solution, found: AirShares, shown: Shown, units: str) -> str:
    """What is void; how much no filter cleans; what comes back; which slots get the least."""
    void = f"Void: {told(solution.void, units)}; on paper " if solution.void else ""
    said = [_unfiltered(found, shown)]
    said += [f"{band.percent} % {'comes back' if is_outside(band.source) else 'goes back out'} "
             f"through {band.path}" for band in found.bands
             if band.back and (is_outside(band.source) or is_outside(band.target))]  # fmt: skip
    text = ", ".join(said)
    for circle in filter(much, returns(solution)):
        moves = "move" if len(circle.fans) > 1 else "moves"
        text += (f"; {100 * circle.share:.0f} % of what {listed(circle.fans, 2)} {moves} has "
                 f"passed {'them' if len(circle.fans) > 1 else 'it'} before")  # fmt: skip
    slots = {band.path: band.flow for band in found.bands if band.path.startswith("slot.")
             and solution.branches[band.path].state == "fitted"}  # fmt: skip
    least = [path for path, flow in slots.items() if flow < (1 + style.EQUAL) * min(slots.values())]
    if len(slots) > 2 and min(slots.values()) < LITTLE_SHARE * np.median(list(slots.values())):
        text += f"; {listed(least, 2)} {'get' if len(least) > 1 else 'gets'} the least"
    return f"{void}{text}" if void else f"{text[:1].upper()}{text[1:]}"


def _unfiltered(found: AirShares, shown: Shown) -> str:
    """`66 % of the air passes unfiltered`; without a filter, where most comes in."""
    entering = [b for b in found.bands if is_outside(b.source) and not is_outside(b.target)]
    if not entering:
        most = max(found.bands, key=lambda band: (band.path.startswith("fan."), band.flow))
        return (f"no air comes in from outside: {shown.text(most.flow)} go round inside through "
                f"{most.path}")  # fmt: skip
    if not found.filtered():
        most = max(entering, key=lambda band: band.flow)
        share = "all of it" if len(entering) == 1 else f"most, {most.percent} %,"
        return f"no air passes a filter; {share} comes in through {most.path}"
    beside = [band for band in entering if not band.cleaned]
    whole = math.fsum(band.flow for band in beside) / found.total
    printed = math.isclose(whole, found.through, rel_tol=style.EQUAL)  # nothing is cleaned later
    percent = sum(band.percent for band in beside) if printed else round(100 * found.through)
    if percent < 1:
        return "all air passes a filter" if found.through < 1e-6 else (
            "under 1 % of the air passes unfiltered")  # fmt: skip
    return f"{percent} % of the air passes unfiltered"


def _notes(solution: Solution, found: AirShares, strips: int) -> Iterator[str]:
    if found.filtered():
        yield ("Plain: has passed a filter; hatched: has not, each place taken as mixed. Zigzag: a "
               "filter.")  # fmt: skip
    whole = "of all air that comes in" if found.total > 0 else "of the largest flow"
    yield f"Shares: {whole}; in every place they add up as printed."
    if any(band.back for band in found.bands):
        yield "Hollow and dashed: through a fan against the way it would blow."
    for loop in solution.case.things["recirculation"].values():
        yield (f"{100 * loop.fraction:.0f} % of what {loop.to} draws in has come round outside "
               f"from {loop.from_}; it is counted as fresh.")  # fmt: skip
    if swaps := [item.path for item in solution.case.things["exchange"].values()]:
        yield f"Not counted: air that swaps places, {listed(swaps)}."
    if strips > 1:
        yield ("One strip below the other: places that no air joins, or the next ones of many; a "
               "band that leads to another strip stands in both.")  # fmt: skip
