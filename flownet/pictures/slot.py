"""Air and parts along every slot, the slots side by side: place upwards, temperature to the right.

The air is what is solved: straight from one end to the other, for the heat of a slot and of its
parts is spread evenly along it; with a step at each part that warms it there; or bent towards the
one temperature of a heat sink. Places count from the `from` of a slot, whichever way the air goes.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import Any, NamedTuple

import numpy as np
from matplotlib.collections import PolyCollection
from matplotlib.ticker import MaxNLocator

from flownet.pages.verdict import ranked, verdict
from flownet.pictures import style
from flownet.pictures.caption import known
from flownet.pictures.labels import NAME_PLATE
from flownet.pictures.scene.look import Temperatures
from flownet.pictures.scene.page import temperature_range
from flownet.pictures.scene.words import through_slot
from flownet.pictures.style import Axes
from flownet.results.solution import Solution
from flownet.results.streams import is_still
from flownet.schema import quantities as q
from flownet.schema.errors import CaseError

SLOTS_IN_ROW = 12
BEFORE_SLOTS, SLOTS_WIDE, BELOW_SLOTS = 26.0, 142.0, 6.0  # mm: a row, before and below it
SLOT_TALL, SLOT_WIDEST, SLOT_SHARE = 52.0, 46.0, 0.91  # mm, of a panel; its share of that width
WORD_LINE, HEAD_LINE = 2.6, 3.0  # mm, of words in a panel, and above it
AIR_BANDS = 24  # of colour
BESIDE_STEP = 1e-6  # of a place: that side of a step of the air
LIMIT_AT = 0.07  # half the height of the bar of a limit


class SlotPart(NamedTuple):
    """A part in a slot, or on one that stands there."""

    path: str
    place: float  # 0 at the `from` of the slot, 1 at its `to`; of a heat sink the middle
    along: bool  # whether it is a heat sink, as long as the slot
    row: Any  # of the results
    word: str  # how it stands: over, tight, ok; without a limit empty
    lines: list[str]  # name, temperature, margin

    @property
    def tall(self) -> float:
        """Of its words [mm]."""
        return WORD_LINE * len(self.lines) + 0.6


class SlotAir(NamedTuple):
    """A slot: its air [K], NaN where none moves, and its parts upwards."""

    item: Any
    row: Any  # of the results
    ends: tuple[float, float]  # at `from`, at `to`
    course: tuple[Sequence[float], Sequence[float]]  # places upwards, and its air there
    over: bool  # whether the limit of its air is broken
    parts: list[SlotPart]
    name: list[str]  # in lines

    @property
    def ahead(self) -> bool:
        """Whether the air goes from `from` to `to`."""
        return bool(self.row.mass_flow >= 0)

    @property
    def limit(self) -> float:
        """Of the air that leaves it [K]; NaN without."""
        return float(self.item.air_limit) if self.row.state == "fitted" else math.nan

    @property
    def tall(self) -> float:
        """Of a panel that has room for all its words [mm]."""
        return max(SLOT_TALL, 8.0 + sum(part.tall + 5.0 for part in self.parts))


@style.picture(Solution)
def slot(solution: Solution, *, ax: Axes | None = None, units: str = "metric") -> Axes:
    """Air and parts along every slot, with their limits, the slots side by side.

    Parameters
    ----------
    solution : Solution
    ax : Axes, optional
        A frame for the slots, axes of their own (`ax.child_axes`) in the order of the case:
        temperature to the right in the unit shown, the place along the slot upwards.
    units : "metric" or "us"

    CaseError where the case has no slot.
    """
    count = len(solution.case.things["slot"])
    if not count:
        raise CaseError("slot: the case has no slot to draw; flownet draw CASE map shows its parts")
    across = math.ceil(count / math.ceil(count / SLOTS_IN_ROW))
    wide, tall = min(SLOTS_WIDE, SLOT_WIDEST * across), 0.0
    if ax is not None:
        wide, tall = (side * style.POINT for side in style.extent(ax))
    found = _slots(solution, SLOT_SHARE * wide / across, units)
    limited = any(known(one.limit) for one in found)
    panels, foot = _panels([found[i : i + across] for i in range(0, count, across)], tall)
    own = {one.item.path for one in found} | {part.path for one in found for part in one.parts}
    title = ". ".join(each.plain(units) for each in verdict(solution, units, own, "in the slots"))
    paper = style.Paper(ax, title, style.caption(solution, units), foot + 8.0,
                        _notes(solution, units))  # fmt: skip
    ax = paper.chart(BEFORE_SLOTS, 1.0, wide, foot)
    ax.set(xlim=(0, across), ylim=(0, foot), xticks=[], yticks=[])
    ax.spines[:].set_visible(False)
    ax.set_xlabel(style.named("temperature", q.TEMPERATURE, units), labelpad=1.0)
    scale, ramp = _scale(solution, found), temperature_range(solution.case, [
        row.temperature for row in solution.compartments.values()])  # fmt: skip
    for i, one in enumerate(found):
        low, high = panels[i // across]
        panel = ax.inset_axes((i % across, low, SLOT_SHARE, high), transform=ax.transData)
        _panel(panel, one, scale, ramp, units)
        _parts(panel, one, high, units)
        _head(panel, one, found if i % across == 0 else [], limited, units)
    return ax


def _panels(
    rows: Sequence[Sequence[SlotAir]], tall: float
) -> tuple[list[tuple[float, float]], float]:
    """Where the panels of each row begin, upwards, their height, and that of all [mm]: what is
    there, or as much as they need."""
    heads = [HEAD_LINE * (5 + max(len(one.name) for one in row)) for row in rows]
    high = np.array([max(one.tall for one in row) for row in rows])
    around = sum(heads) + BELOW_SLOTS * len(rows)
    high *= max((tall - around) / high.sum(), 0.1) if tall else 1.0
    ends = np.cumsum(high + heads + BELOW_SLOTS)
    foot = tall or float(ends[-1])
    return list(zip((foot - ends + BELOW_SLOTS).tolist(), high.tolist(), strict=True)), foot


def _slots(solution: Solution, wide: float, units: str) -> list[SlotAir]:
    """Every slot, with words in lines for panels so many mm wide."""
    case, words = solution.case, {item.subject: word for item, word in ranked(solution)}
    text, found = style.Units(units), []
    for item in case.things["slot"].values():
        parts = []
        for name, root in case.roots.items():
            row, word = solution.parts[name], words.get(f"part.{name}", "")
            if root.in_ == item.path and known(row.temperature):
                room = (wide - 1.5) / style.POINT
                lines = [*style.wrap(name, style.LEGIBLE, word == "over", room),
                         text.text(q.TEMPERATURE, row.temperature)]  # fmt: skip
                if known(row.margin):
                    lines.append(text.text(q.DIFFERENCE, row.margin, "+").replace("-", "−"))
                along, place = name == root.name and bool(root.sink), root.position
                parts.append(SlotPart(f"part.{name}", 0.5 if root.sink else place, along, row, word,
                                      lines))  # fmt: skip
        ends = None if is_still(solution, item.path) else through_slot(solution, item.path)
        head = style.wrap(item.path.removeprefix("slot."), style.MEDIUM, True, wide / style.POINT)
        ends = ends or (math.nan, math.nan)
        found.append(SlotAir(item, solution.branches[item.path], ends,
                             _course(solution, item, ends),
                             words.get(item.path) == "over",
                             sorted(parts, key=lambda part: part.place), head))  # fmt: skip
    return found


def _course(
    solution: Solution, item: Any, ends: tuple[float, float]
) -> tuple[Sequence[float], Sequence[float]]:
    """The air along a slot: straight, with a step by the heat of each part at its place, or to the
    temperature of a sink that gives all the heat: `T - T_air` falls by equal shares."""
    row, case, taken = solution.branches[item.path], solution.case, 0.0
    fins = {root.name for root in case.roots.values() if root.in_ == item.path and root.sink}
    heat = sum(solution.parts[name].heat for name, root in case.roots.items() if root.name in fins)
    if len(fins) == item.count == 1 and math.isclose(heat, row.heat, rel_tol=1e-9):
        along, warm = np.linspace(0.0, 1.0, AIR_BANDS + 1), solution.parts[fins.pop()].temperature
        over = warm - np.array(ends)
        if (over > 0).all():
            return along.tolist(), (warm - over[0] * (over[1] / over[0]) ** along).tolist()
    if item.part_heat == "spread" or not row.heat > 0:
        return (0.0, 1.0), ends
    stands = ((root, solution.parts[name].heat) for name, root in case.roots.items())
    steps = sorted((part.position, heat) for part, heat in stands if part.in_ == item.path)
    spread, points = row.heat - sum(heat for _, heat in steps), [(0.0, 0.0)]
    for place, heat in steps:
        points += [(place, taken + spread * place), (place, taken + heat + spread * place)]
        taken += heat
    places, shares = zip(*points, (1.0, row.heat), strict=True)
    return places, np.interp(shares, (0.0, row.heat), ends).tolist()


def _scale(solution: Solution, found: Sequence[SlotAir]) -> Temperatures:
    """From the coldest air to the hottest part or limit, with some room [K]."""
    values = [value for one in found for value in (*one.ends, one.limit)]
    for part in (part for one in found for part in one.parts):
        values += part.row.temperature, part.row.limit
    shown = list(filter(known, values)) or [solution.site["temperature"]]
    room = max(0.1 * (max(shown) - min(shown)), 1.0)
    return Temperatures(min(shown) - room / 2, max(shown) + room)


# --- one slot ------------------------------------------------------------------------------------


def _panel(ax: Axes, one: SlotAir, scale: Temperatures, ramp: Temperatures, units: str) -> None:
    """Its air; in words what it is where none moves, or no card stands in it."""
    style.dress(ax)
    low, high = style.shown(q.TEMPERATURE, scale, units).tolist()
    ticks = MaxNLocator(3, steps=[1, 2, 2.5, 5, 10]).tick_values(low, high)
    ticks = [tick for tick in ticks if 0.1 <= (tick - low) / (high - low) <= 0.9]
    wide = sum(style.width(f"{tick:g}", style.LEGIBLE) + 3.0 for tick in ticks)
    ticks = ticks[:: math.ceil(max(wide / style.extent(ax)[0], 1.0))]
    ax.set(xlim=(low, high), ylim=(0, 1), yticks=[])
    ax.set_xticks(ticks, [f"{tick:g}".replace("-", "−") for tick in ticks])
    ax.spines[:].set_visible(True)
    ax.grid(axis="x", color=style.GRID, linewidth=0.5)
    ax.set_axisbelow(True)
    still, state = not known(one.ends[0]), str(one.row.state)
    if still:
        ax.set_facecolor(style.GROUND)
    if still or state != "fitted":
        word = "no air" if state in ("fitted", "blanked", "None") else state
        style.beside(ax, word, (0.5 if still else 0.7, 0.5), (0, 0), ha="center", va="center",
                     rotation=90)  # fmt: skip
    _air(ax, one, ramp, units)


def _air(ax: Axes, one: SlotAir, ramp: Temperatures, units: str) -> None:
    """The air as a line, its colour from the ramp; nothing where none moves."""
    if known(one.ends[0]):
        low, places = ax.get_xlim()[0], np.linspace(0.0, 1.0, AIR_BANDS + 1)
        places = np.union1d(places, one.course[0])
        aside = BESIDE_STEP if len(one.course[0]) > 2 else 0.0
        warm = np.array([np.interp((y + aside, up - aside), *one.course)
                         for y, up in pairwise(places)])  # fmt: skip
        sides = zip(pairwise(places), style.shown(q.TEMPERATURE, warm, units), strict=True)
        bands = [[(low, y), (low, up), (right, up), (left, y)] for (y, up), (left, right) in sides]
        ax.add_collection(PolyCollection(bands, zorder=1, linewidths=0.6, facecolors=[
            ramp.colour(value) for value in warm[:, 0]], edgecolors="face"))  # fmt: skip
        ax.plot(style.shown(q.TEMPERATURE, one.course[1], units), one.course[0], color=style.INK,
                linewidth=1.4, zorder=3)  # fmt: skip
    if known(one.limit):
        place = 1.0 - LIMIT_AT if one.ahead else LIMIT_AT
        _limit(ax, (one.limit, one.ends[one.ahead]), place, one.over, units)


def _limit(ax: Axes, values: tuple[float, float], place: float, over: bool, units: str) -> None:
    """An upright bar; hatched from there to what is beyond it."""
    bar, end = style.shown(q.TEMPERATURE, values, units)
    ax.plot([bar, bar], [place - LIMIT_AT, place + LIMIT_AT], color=style.INK,
            linewidth=style.LIMIT, zorder=5)  # fmt: skip
    if over:
        ax.barh(place, end - bar, LIMIT_AT, left=bar, facecolor="white", edgecolor=style.OVER,
                hatch="////////", linewidth=0.6, zorder=4)  # fmt: skip


def _parts(ax: Axes, one: SlotAir, tall: float, units: str) -> None:
    """Each a diamond, dotted to the air it stands in or the part it sits on, its words beside it,
    pushed apart; a heat sink also a line along the slot."""
    heights = _heights(one, tall)
    for part, middle in zip(one.parts, heights, strict=True):
        over, here = part.word == "over", part.row.temperature
        tone = style.OVER if over else style.INK
        fill = {"over": style.OVER, "tight": style.TIGHT}.get(part.word, "white")
        x = style.shown(q.TEMPERATURE, (part.row.air_temperature, here), units)
        if part.along:
            ax.axvline(x[1], color=tone, linewidth=0.8, zorder=4)
        ax.plot(x, [part.place] * 2, color=tone, linewidth=0.8, linestyle=(0, (1, 1)), zorder=4)
        if known(part.row.limit):
            _limit(ax, (part.row.limit, here), part.place, over, units)
        ax.plot(x[1:], [part.place], "D", ms=4.6, mfc=fill, mec=style.INK, mew=0.9, zorder=6,
                clip_on=False)  # fmt: skip
        if abs(middle - tall * part.place) > part.tall / 2 + 5.0:
            thin = {"arrowstyle": "-", "linewidth": 0.5, "color": style.QUIET}
            ax.annotate("", (x[1], part.place), (0.6, middle / tall), zorder=5.2,
                        textcoords="axes fraction", arrowprops=thin)  # fmt: skip
        style.beside(ax, "\n".join(part.lines), (1, middle / tall), (-1.5, 0), ha="right",
                     va="center", linespacing=1.0, weight="bold" if over else "normal",
                     bbox=NAME_PLATE, color=style.INK, zorder=5.5)  # fmt: skip


def _heights(one: SlotAir, tall: float) -> list[float]:
    """The middles of the words of its parts [mm]: free of diamonds and of other words, those of the
    upper half upwards."""
    marks = [tall * part.place for part in one.parts]
    found, words = dict.fromkeys(range(len(marks)), 0.0), list[tuple[float, float]]()
    half = len(marks) // 2
    for i in (*range(half - 1, -1, -1), *range(half, len(marks))):  # from the middle outwards
        size, up = one.parts[i].tall / 2, i >= half > 0
        found[i] = min(np.arange(size, tall - size, 0.5).tolist(), default=marks[i], key=lambda y: (
            sum(abs(y - at) < size + own for at, own in words),
            sum(abs(y - at) < size + 2.5 for at in marks),
            abs(y - marks[i]) + tall * ((y > marks[i]) != up)))  # fmt: skip
        words.append((found[i], size))
    return list(found.values())


def _head(ax: Axes, one: SlotAir, told: Sequence[SlotAir], limited: bool, units: str) -> None:
    """Its name, its air and heat, what leaves it; before the first one of `told` what these are."""
    flow, heat, warm = (quantity.shown(units) for quantity in (
        q.VOLUME_FLOW, q.POWER, q.TEMPERATURE))  # fmt: skip
    moves, arrow = known(one.ends[0]), "↑" if one.ahead else "↓"
    limit = f"{warm.of(one.limit):.0f}" if known(one.limit) else "–"
    rows = [
        *([(f"limit, {warm.unit}", limit)] if limited else []),
        (f"air out, {warm.unit}", warm.number(one.ends[one.ahead]) if moves else "–"),
        (f"heat, {heat.unit}", heat.number(one.row.heat) if one.row.heat > 0 else "–"),
        (f"air, {flow.unit}",
         f"{arrow} {flow.number(abs(one.row.volume_flow))}" if moves else "–"),
        ("", "\n".join(one.name)),
    ]  # fmt: skip
    broken = one.over or any(part.word == "over" for part in one.parts)
    for line, (lead, text) in enumerate(rows):
        up = 3.0 + HEAD_LINE / style.POINT * line
        name, bold = not lead, not lead or (one.over and lead.startswith("air out"))
        style.beside(ax, text, (0, 1), (0, up), size=style.MEDIUM if name else style.LEGIBLE,
                     weight="bold" if bold else "normal", linespacing=1.0,
                     color=style.OVER if name and broken else style.INK)  # fmt: skip
        if told:
            style.beside(ax, style.pretty(lead), (0, 1), (-8.0 / style.POINT, up), ha="right")
    if told:
        ends = {f"along the slot: 0 at {each.item.from_}, 1 at {each.item.to}" for each in told}
        ax.set_yticks([0, 0.5, 1])
        side = ends.pop()
        fits = not ends and style.width(side, style.MEDIUM) < style.extent(ax)[1]
        ax.set_ylabel(side if fits else "place along the slot")


def _notes(solution: Solution, units: str) -> Iterator[str]:
    want = q.DIFFERENCE.shown(units).text(solution.case.limits.margin)
    yield ("Line: the air, as it is solved: the heat of a slot and its parts is spread evenly "
           "along it, which counts from 0 at its `from` to 1 at its `to`. Arrow: its way."
           )  # fmt: skip
    if any(each.part_heat == "at-parts" for each in solution.case.things["slot"].values()):
        yield 'In a slot with part_heat = "at-parts" each part warms the air at its own place.'
    if any(each.sink for each in solution.case.things["slot"].values()):
        yield "A heat sink is a line along its slot, of one temperature; the air comes near it."
    yield ("Diamond: a part, dotted to the air it stands in or the part it sits on; upright bar: "
           f"its limit, hatched beyond it; ochre: less than {want} margin.")  # fmt: skip
