"""Which share of the air goes where: bands as high as their mass flow, places as boxes.

Places stand from left to right in the order the air meets them, at most three in a strip; bands are
straight. A band that passes a place runs below it, or behind it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Any, NamedTuple

import numpy as np
from matplotlib.patches import Rectangle

from flownet.pages.verdict import on_paper
from flownet.pictures import style
from flownet.pictures.air_shares import WHOLE, AirBand, AirShares, air_shares
from flownet.pictures.labels import NAME_PLATE
from flownet.pictures.scene.page import temperature_range
from flownet.pictures.scene.symbols import stamp
from flownet.pictures.style import Axes
from flownet.results.solution import Solution
from flownet.results.streams import is_outside, much, returns, series
from flownet.results.tables import AT_REST
from flownet.schema import quantities as q
from flownet.schema.fault import listed
from flownet.schema.shown import Shown

FILTERED = "#93A0A9"  # air that came through a filter
GRAMS = Shown("g/s", 1e3, nought=1e-9)
TINY_SHARE = 0.002  # of a band: not hatched
LITTLE_SHARE = 0.9  # of what most slots get, below which it is told who gets the least
ACROSS, BODY_TALL = 164.0, 38.0  # mm: of a page, of the largest flow
PLACE_WIDE, PLACE_PITCH, TIP = 21.0, 46.0, 4.0  # mm: of a place, to the next one, of arrows
BAND_WORDS, BAND_LINE = 6.5, 2.8  # points of words at bands, mm from line to line
PASSED = "fan", "filter", "vent", "leak"  # kinds with a mark in their bands
NAMED_STATES = "filler", "empty", "removed", "stopped", "freewheeling"


class Laid(NamedTuple):
    """A band between two columns of places; -1 and the last are the sides. Lengths in mm."""

    band: AirBand
    left: int
    right: int
    onward: bool  # to the right
    x: tuple[float, float]
    words: Sequence[str]  # its name in lines, the amount
    beside: bool  # the amount, in the line of the name
    y: float = 0.0
    behind: bool = False  # a place that it passes


@style.picture(Solution)
def split(solution: Solution, *, ax: Axes | None = None, units: str = "metric") -> Axes:
    """Which share of the air goes where, and how much of it no filter has cleaned.

    Parameters
    ----------
    solution : Solution
        One solved enclosure; of a batch, `batch.select(i)`.
    ax : Axes, optional
        The way of the air to the right, in mm; downwards the heights of bands are mass flows in
        g/s, or lb/min with "us". Two places side by side take 92 mm, three 138 mm; words keep their
        size, bands take what height is left.
    units : "metric" or "us"

    Raises
    ------
    CaseError
        Where no air moves.
    """
    found, shown = air_shares(solution), q.MASS_FLOW.us if units == "us" else GRAMS
    wide, tall = (side * style.POINT for side in style.extent(ax)) if ax else (ACROSS, math.inf)
    largest = max(found.total, *(band.flow for band in found.bands))
    layout = SplitLayout(solution, found, shown, wide, largest / BODY_TALL)
    while layout.foot > tall and layout.mm < largest:
        layout = SplitLayout(solution, found, shown, wide, 1.05 * layout.mm)
    foot, per = tall if ax else layout.foot + 1.0, shown.factor * layout.mm
    paper = style.Paper(ax, on_paper(solution, units, _verdict(layout)),
                        style.caption(solution, units), foot + 9.0,
                        _notes(layout))  # fmt: skip
    ax = paper.chart(style.PAGE_EDGE + 1.0, 3.0, wide, foot)
    ax.set(xlim=(0, wide), ylim=(foot * per, 0), xticks=[], yticks=[])
    ax.set_xlabel(f"way of the air; heights: mass flow, {shown.unit}")
    ax.spines[:].set_visible(False)
    _boxes(ax, layout, per, units)
    for laid in layout.bands:
        _band(ax, layout, laid, per)
    return ax


def height(solution: Solution, wide: float) -> float:
    """Of axes so wide that hold it [mm], with what stands below them."""
    found = air_shares(solution)
    largest = max(found.total, *(band.flow for band in found.bands))
    return SplitLayout(solution, found, GRAMS, wide, largest / BODY_TALL).foot + 11.0


class SplitLayout:
    """Where all stands, in mm from the top left corner: strips of places that fit the width."""

    def __init__(
        self, solution: Solution, found: AirShares, shown: Shown, wide: float, mm: float
    ) -> None:
        self.solution, self.found, self.shown, self.mm = solution, found, shown, mm
        self.decimals = shown.decimals([max(band.flow for band in found.bands)])
        self.order = [place for zone in found.zones for place in zone]
        self.boxes: dict[str, tuple[float, float, float]] = {}  # left side, top, foot
        self.bands: list[Laid] = []
        self.foot = 0.0
        for zone in found.zones:
            strips = math.ceil(len(zone) / min(max(int(wide / PLACE_PITCH), 1), 3))
            size = math.ceil(len(zone) / strips)
            for i in range(0, len(zone), size):
                self._strip(zone[i : i + size], wide)

    def _strip(self, places: Sequence[str], wide: float) -> None:
        """Bands one below the other in every gap they pass, short ones first."""
        count, top = len(places), self.foot + (7.0 if self.boxes else 0.0)
        gap = (wide - TIP - PLACE_WIDE * count) / (count + 1)
        feet = [top + (22.0 if self.found.filtered() else 16.0)] * count
        ends, made = [top] * (count + 1), []
        found = [self._laid(band, places, gap) for band in self.found.bands
                 if band.source in places or band.target in places]  # fmt: skip
        for laid in sorted(found, key=lambda each: (each.right - each.left, each.band.back)):
            gaps, passed = range(laid.left + 1, laid.right + 1), range(laid.left + 1, laid.right)
            y = max(*(ends[k] for k in gaps), *(feet[k] + 1.5 for k in passed), top)
            y += 0.8 + BAND_LINE * (len(laid.words) - laid.beside)
            made.append(laid._replace(y=y))
            foot = y + laid.band.flow / self.mm + 0.9
            for k in gaps:
                ends[k] = foot
            for k in {laid.left, laid.right} & set(range(count)):
                feet[k] = max(feet[k], foot + 0.9)
        self.bands += [laid._replace(behind=any(foot > laid.y for foot in feet[
            laid.left + 1 : laid.right])) for laid in made]  # fmt: skip
        self.boxes |= {place: (gap + i * (gap + PLACE_WIDE), top, feet[i])
                       for i, place in enumerate(places)}  # fmt: skip
        self.foot = max(*feet, *ends)

    def _laid(self, band: AirBand, places: Sequence[str], gap: float) -> Laid:
        """Between which columns a band goes, and its words.

        What comes from outside comes from the left, what leaves goes to the right; a fan that is
        driven backwards has its air on the side to which it blows.
        """

        def column(place: str, entering: bool) -> int:
            if place in places:
                return places.index(place)
            first = entering != band.back if is_outside(place) else (
                self.order.index(place) < self.order.index(places[0]))  # fmt: skip
            return -1 if first else len(places)

        start, end = column(band.source, True), column(band.target, False)
        left, right = min(start, end), max(start, end)
        x = (left + 1) * (gap + PLACE_WIDE), gap + right * (gap + PLACE_WIDE)
        state = self.solution.branches[band.path].state
        name = band.path.removeprefix("slot.") + (f" {state}" if state in NAMED_STATES else "")
        for word, place in (("from", band.source), ("to", band.target)):
            name += f" {word} {place}" if place not in (*places, "outside") else ""
        amount = f"{self.shown.text(band.flow, '', self.decimals)}  {band.percent} %"
        room = x[1] - x[0] - 3.5
        long = style.width(name, BAND_WORDS, True) + style.width(amount, BAND_WORDS) + 5.0
        words = *style.two_lines(name, BAND_WORDS, True, room), amount
        return Laid(band, left, right, start < end, x, words, long * style.POINT < room)


# --- drawing -------------------------------------------------------------------------------------


def _boxes(ax: Axes, layout: SplitLayout, per: float, units: str) -> None:
    """Each place with its name, temperature and unfiltered share."""
    rows, found, text = layout.solution.compartments, layout.found, style.Units(units)
    scale = temperature_range(layout.solution.case, [row.temperature for row in rows.values()])
    for place, (x, top, foot) in layout.boxes.items():
        warm, dirty, room = rows[place].temperature, found.unfiltered[place], PLACE_WIDE - 2.0
        ax.add_patch(Rectangle(
            (x, top * per), PLACE_WIDE, (foot - top) * per, label=place, zorder=2, linewidth=1.8,
            facecolor=scale.colour(warm), edgecolor=style.INK))  # fmt: skip
        fits = style.width(place, style.SUBTITLE, True) * style.POINT < room
        size = style.SUBTITLE if fits else BAND_WORDS
        words = [(line, size) for line in style.two_lines(place, size, True, room)]
        words.append((text.text(q.TEMPERATURE, warm), style.SUBTITLE))
        if found.filtered() and not math.isnan(dirty):
            words += [(f"{100 * dirty:z.0f} % of it", style.LEGIBLE), ("unfiltered", style.LEGIBLE)]
        y = top + 1.0
        for line, size in words:
            y += 1.4 * style.POINT * max(size, 7.0 if "%" in line else 0.0)
            ax.text(x + PLACE_WIDE / 2, y * per, line, ha="center", size=size, zorder=9,
                    color=style.INK, bbox=NAME_PLATE,
                    weight="bold" if size > style.LEGIBLE else "normal")  # fmt: skip


def _band(ax: Axes, layout: SplitLayout, laid: Laid, per: float) -> None:
    """Plain what a filter cleaned, hatched what none did; its words, and what it passes."""
    band, (x0, x1), y = laid.band, laid.x, laid.y * per
    high = layout.shown.factor * band.flow
    look: dict[str, Any] = {"edgecolor": style.INK, "zorder": 1.0 if laid.behind else 4.0}
    ax.add_patch(Rectangle((x0, y), x1 - x0, high, facecolor="white" if band.back else FILTERED,
                           linewidth=0.7, linestyle=(0, (3, 2)) if band.back else "-",
                           label=band.path, **look))  # fmt: skip
    if layout.found.filtered() and not band.back and band.unfiltered > TINY_SHARE:
        dirty = high * band.unfiltered
        ax.add_patch(Rectangle((x0, y + high - dirty), x1 - x0, dirty, facecolor="white",
                               linewidth=0.5, hatch="//////", label=f"{band.path} unfiltered",
                               **look))  # fmt: skip
    *names, amount = laid.words
    words: dict[str, Any] = {"size": BAND_WORDS, "color": style.INK, "zorder": 9}
    end, side = (x1 - 2.0, "right") if laid.beside else (x0 + 1.5, "left")
    style.beside(ax, amount, (end, y), (0, 2.0), "xy", ha=side, **words)
    for i, name in enumerate(reversed(names), 1 - laid.beside):
        up = 2.0 + BAND_LINE / style.POINT * i
        style.beside(ax, name, (x0 + 1.5, y), (0, up), "xy", weight="bold", **words)
    _passed(ax, layout, laid, y + high / 2, high / per / 2 / style.POINT)
    if band.path.startswith("fan.") and not band.back and not is_outside(band.target):
        return  # its wedges are there
    way, up, tip = (1, 1.4 * per, x1) if laid.onward else (-1, 1.4 * per, x0)
    ax.fill([tip, tip, tip + 2.4 * way], y + high / 2 + np.array([-up, up, 0.0]), linewidth=0.7,
            facecolor="white" if band.back else style.INK, zorder=8,
            edgecolor=style.INK if band.back else "white")  # fmt: skip


def _passed(ax: Axes, layout: SplitLayout, laid: Laid, y: float, half: float) -> None:
    """What a band passes at its wall, the fan in it and others outside; `half` in points."""
    band, (start, tip) = laid.band, laid.x[:: 1 if laid.onward else -1]
    leaves = is_outside(band.target)
    x, outwards = start if leaves else tip, 1.0 if leaves == laid.onward else -1.0
    chain = series(layout.solution.case)[band.path]
    ahead = laid.onward == (band.source == chain[band.path].from_)
    for path, item in sorted(chain.items(), key=lambda pair: pair[1].KIND != "fan"):
        if item.KIND in PASSED:
            still = item.KIND == "fan" and layout.solution.fans[path].region in AT_REST
            x += outwards * (0.0 if item.KIND == "fan" else 1.5)
            stamp(ax, item.KIND, item, (x, y), half, ahead=ahead, still=still)
            x += 2.0 * outwards


# --- words ---------------------------------------------------------------------------------------


def _verdict(layout: SplitLayout) -> str:
    """How much no filter cleans; what comes back; which slots get the least."""
    found, branches = layout.found, layout.solution.branches
    text = ", ".join([_unfiltered(layout), *(
        f"{band.percent} % {'comes back' if is_outside(band.source) else 'goes back out'} through "
        f"{band.path}" for band in found.bands
        if band.back and (is_outside(band.source) or is_outside(band.target)))])  # fmt: skip
    for circle in filter(much, returns(layout.solution)):
        moves, them = ("move", "them") if len(circle.fans) > 1 else ("moves", "it")
        text += (f"; {100 * circle.share:.0f} % of what {listed(circle.fans, 2)} {moves} has "
                 f"passed {them} before")  # fmt: skip
    slots = {band.path: band.flow for band in found.bands if band.path.startswith("slot.")
             and branches[band.path].state == "fitted"}  # fmt: skip
    least = [path for path, flow in slots.items() if flow < (1 + style.EQUAL) * min(slots.values())]
    if len(slots) > 2 and min(slots.values()) < LITTLE_SHARE * np.median(list(slots.values())):
        text += f"; {listed(least, 2)} {'get' if len(least) > 1 else 'gets'} the least"
    return text


def _unfiltered(layout: SplitLayout) -> str:
    """`66 % of the air passes unfiltered`; without a filter, where most comes in."""
    found = layout.found
    entering = [b for b in found.bands if is_outside(b.source) and not is_outside(b.target)]
    if not entering:
        most = max(found.bands, key=lambda band: (band.path.startswith("fan."), band.flow))
        amount = layout.shown.text(most.flow)
        return f"no air comes in from outside: {amount} go round inside through {most.path}"
    if not found.filtered():
        most = max(entering, key=lambda band: band.flow)
        share = "all of it" if len(entering) == 1 else f"most, {most.percent} %,"
        return f"no air passes a filter; {share} comes in through {most.path}"
    if found.through < WHOLE:
        return "all air passes a filter"
    beside = [band for band in entering if not band.cleaned]
    whole = math.fsum(band.flow for band in beside) / found.total
    printed = math.isclose(whole, found.through, rel_tol=style.EQUAL)  # nothing is cleaned later
    percent = sum(band.percent for band in beside) if printed else round(100 * found.through)
    return f"{percent if percent else 'under 1'} % of the air passes unfiltered"


def _notes(layout: SplitLayout) -> Iterator[str]:
    found, case = layout.found, layout.solution.case
    if found.filtered():
        yield ("Plain: has passed a filter; hatched: has not, each place taken as mixed. Zigzag: a "
               "filter.")  # fmt: skip
    whole = "of all air that comes in" if found.total > 0 else "of the largest flow"
    yield f"Shares: {whole}; in every place they add up as printed."
    if any(band.back for band in found.bands):
        yield "Hollow and dashed: through a fan against the way it would blow."
    for loop in case.things["recirculation"].values():
        yield (f"{100 * loop.fraction:.0f} % of what {loop.to} draws in has come round outside "
               f"from {loop.from_}; it is counted as fresh.")  # fmt: skip
    if swaps := [item.path for item in case.things["exchange"].values()]:
        yield f"Not counted: air that swaps places, {listed(swaps)}."
    if len(found.zones) > 1 or len(layout.bands) > len(found.bands):
        yield ("One strip below the other: places that no air joins, or the next ones of many; a "
               "band that leads to another strip stands in both.")  # fmt: skip
