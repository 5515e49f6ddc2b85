"""Air and parts along every slot, the slots side by side: place upwards, temperature to the right.

The air is what is solved: straight from one end to the other, for the heat of a slot and of its
parts is spread evenly along it. Places count from the `from` of a slot, whichever way the air goes.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Any, NamedTuple

import numpy as np
from matplotlib.ticker import MaxNLocator

from flownet.judging.voids import told
from flownet.pages.page import counted
from flownet.pages.verdict import ranked, room_of
from flownet.physics.air import HEAT_CAPACITY
from flownet.pictures import style
from flownet.pictures.caption import known
from flownet.pictures.labels import NAME_PLATE
from flownet.pictures.scene.look import Temperatures
from flownet.pictures.scene.page import temperature_range
from flownet.pictures.style import Axes
from flownet.results.limits import Limit
from flownet.results.solution import Solution
from flownet.results.streams import is_still
from flownet.schema import quantities as q
from flownet.schema.errors import CaseError
from flownet.schema.fault import listed

SLOTS_IN_ROW = 12  # slots in a row
BEFORE_SLOTS, BELOW_SLOTS = 26.0, 6.0  # mm: before the first slot, below each row
SLOT_TALL, PART_TALL = 52.0, 15.0  # mm: a panel at least, of it for each part
PART_LINE = 2.6  # mm, of words
SLOT_WIDEST = 46.0  # mm, from slot to slot
HEAD_LINE, NAME_LINE = 8.5, 8.0  # points
AIR_BANDS = 40  # of colour
LIMIT_AT = 0.07  # half the height of the bar of a limit


class SlotPart(NamedTuple):
    """A part in a slot, or on one that stands there."""

    name: str
    place: float  # 0 at the `from` of the slot, 1 at its `to`
    row: Any  # of the results
    word: str  # how it stands: over, tight, ok; without a limit empty


class SlotAir(NamedTuple):
    """A slot: its air at both ends [K], NaN where none moves, and its parts."""

    path: str
    ends: tuple[float, float]  # at `from`, at `to`
    row: Any  # of the results
    limit: float  # of the air that leaves it; NaN without
    over: bool  # whether that is broken
    parts: list[SlotPart]

    @property
    def ahead(self) -> bool:
        """Whether the air goes from `from` to `to`."""
        return bool(self.row.mass_flow >= 0)

    def air(self, place: Any) -> Any:
        """Of the air at a place [K]."""
        return self.ends[0] + place * (self.ends[1] - self.ends[0])


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
    found = _slots(solution)
    across = math.ceil(len(found) / math.ceil(len(found) / SLOTS_IN_ROW))
    down = math.ceil(len(found) / across)
    step = min((style.PAGE_WIDE - BEFORE_SLOTS - style.PAGE_EDGE) / across, SLOT_WIDEST)
    names = [style.two_lines(one.path.removeprefix("slot."), style.BODY, True, step - 1.0)
             for one in found]  # fmt: skip
    limited = any(known(one.limit) for one in found)
    heads = 6.0 + HEAD_LINE * (3 + limited) + NAME_LINE * max(map(len, names))
    tall = max([SLOT_TALL, *(PART_TALL * len(one.parts) + 8.0 for one in found)])
    cell = heads * style.POINT + tall + BELOW_SLOTS
    paper = style.Paper(ax, _verdict(solution, found, units), style.caption(solution, units),
                        cell * down + 8.0, _notes(solution, units))  # fmt: skip
    ax = paper.chart(BEFORE_SLOTS, 1.0, step * across, cell * down)
    ax.set(xlim=(0, across), ylim=(0, down), xticks=[], yticks=[])
    ax.spines[:].set_visible(False)
    ax.set_xlabel(style.named("temperature", q.TEMPERATURE, units), labelpad=1.0)
    scale, ramp = _scale(solution, found), temperature_range(solution.case, [
        row.temperature for row in solution.compartments.values()])  # fmt: skip
    for i, (one, name) in enumerate(zip(found, names, strict=True)):
        low, first = down - 1 - i // across + BELOW_SLOTS / cell, i % across == 0
        panel = ax.inset_axes((i % across, low, 0.91, tall / cell), transform=ax.transData)
        style.dress(panel)
        _air(panel, one, scale.low, ramp, units)
        _parts(panel, one, units)
        _frame(panel, one, scale, units, _ends(solution, found, tall) if first else "")
        _head(panel, one, "\n".join(name), limited, first, units)
    return ax


def _slots(solution: Solution) -> list[SlotAir]:
    case, words = solution.case, {item.subject: word for item, word in ranked(solution)}
    if not case.things["slot"]:
        raise CaseError("slot: the case has no slot to draw; flownet draw CASE map shows its parts")
    found = []
    for item in case.things["slot"].values():
        row = solution.branches[item.path]
        inside = [SlotPart(name, root.position, solution.parts[name], words.get(f"part.{name}", ""))
                  for name in case.parts
                  if (root := _root(case, name)).in_ == item.path]  # fmt: skip
        parts = [part for part in inside if known(part.row.temperature)]
        limit = item.air_limit if row.state == "fitted" else math.nan
        found.append(SlotAir(item.path, _at_ends(solution, item.path), row, limit,
                             words.get(item.path) == "over", parts))  # fmt: skip
    return found


def _root(case: Any, name: str) -> Any:
    """The part that stands in the air, below those that sit on it."""
    part = case.parts[name]
    while part.in_.startswith("part."):
        part = case.parts[part.in_.removeprefix("part.")]
    return part


def _at_ends(solution: Solution, path: str) -> tuple[float, float]:
    """The air at `from` and `to` [K]: what leaves, and before it took the heat of the slot."""
    row = solution.branches[path]
    if not known(row.mass_flow) or row.mass_flow == 0 or is_still(solution, path):
        return math.nan, math.nan
    out = float(row.outlet_temperature)
    into = out - float(row.heat) / (HEAT_CAPACITY * abs(row.mass_flow))
    return (into, out) if row.mass_flow > 0 else (out, into)


def _scale(solution: Solution, found: Sequence[SlotAir]) -> Temperatures:
    """From the coldest air to the hottest part or limit, with some room [K]."""
    values = [value for one in found for value in (*one.ends, one.limit)]
    values += [value for one in found for part in one.parts
               for value in (part.row.temperature, part.row.limit)]  # fmt: skip
    shown = [value for value in values if known(value)] or [solution.site["temperature"]]
    room = max(0.1 * (max(shown) - min(shown)), 1.0)
    return Temperatures(min(shown) - room / 2, max(shown) + room)


# --- one slot ------------------------------------------------------------------------------------


def _air(ax: Axes, one: SlotAir, coldest: float, ramp: Temperatures, units: str) -> None:
    """The air as a line, its colour from the ramp; nothing where none moves."""
    low = float(style.shown(q.TEMPERATURE, coldest, units))
    if known(one.ends[0]):
        places = (np.arange(AIR_BANDS) + 0.5) / AIR_BANDS
        warm = one.air(places)
        wide = style.shown(q.TEMPERATURE, warm, units) - low
        ax.barh(places, wide, 1.02 / AIR_BANDS, left=low, linewidth=0, zorder=0,
                color=[ramp.colour(value) for value in warm])  # fmt: skip
        ax.plot(style.shown(q.TEMPERATURE, one.ends, units), [0, 1], color=style.INK,
                linewidth=1.4, zorder=3)  # fmt: skip
    if known(one.limit):
        out = one.ends[one.ahead]
        at = (1.0 - LIMIT_AT) if one.ahead else LIMIT_AT
        _limit(ax, one.limit, out, at, one.over, units)


def _limit(ax: Axes, limit: float, value: float, place: float, over: bool, units: str) -> None:
    """An upright bar; hatched from there to what is beyond it."""
    bar, end = (float(style.shown(q.TEMPERATURE, each, units)) for each in (limit, value))
    ax.plot([bar, bar], [place - LIMIT_AT, place + LIMIT_AT], color=style.INK,
            linewidth=style.LIMIT, zorder=5)  # fmt: skip
    if over:
        ax.barh(place, end - bar, LIMIT_AT, left=bar, facecolor="white", edgecolor=style.OVER,
                hatch="////////", linewidth=0.6, zorder=4)  # fmt: skip


def _parts(ax: Axes, one: SlotAir, units: str) -> None:
    """Each a diamond, dotted to the air it stands in, its words where there is room."""
    wide, tall = (side * style.POINT for side in style.extent(ax))
    room = Heights(tall, [tall * part.place for part in one.parts])
    order = sorted(one.parts, key=lambda part: part.place)
    half = len(order) // 2
    for i, part in enumerate([*order[:half][::-1], *order[half:]]):  # from the middle outwards
        over = part.word == "over"
        tone = style.OVER if over else style.INK
        fill = {"over": style.OVER, "tight": style.TIGHT}.get(part.word, "white")
        here, air = (float(style.shown(q.TEMPERATURE, value, units))
                     for value in (part.row.temperature, one.air(part.place)))  # fmt: skip
        ax.plot([air, here], [part.place] * 2, color=tone, linewidth=0.8, linestyle=(0, (1, 1)),
                zorder=4)  # fmt: skip
        if known(part.row.limit):
            _limit(ax, part.row.limit, part.row.temperature, part.place, over, units)
        ax.plot([here], [part.place], "D", ms=4.6, mfc=fill, mec=style.INK, mew=0.9, zorder=6)
        lines = _words(part, over, wide, units)
        middle = room.free(tall * part.place, PART_LINE * len(lines) / 2 + 0.3, i >= half)
        far = abs(middle - tall * part.place) > PART_LINE * len(lines) / 2 + 5.0
        if far:
            thin = {"arrowstyle": "-", "linewidth": 0.5, "color": style.QUIET}
            ax.annotate("", (here, part.place), (0.6, middle / tall), zorder=5.2,
                        textcoords="axes fraction", arrowprops=thin)  # fmt: skip
        style.beside(ax, "\n".join(lines), (1, middle / tall), (-1.5, 0), ha="right", va="center",
                     linespacing=1.0, weight="bold" if over else "normal", bbox=NAME_PLATE,
                     color=style.INK, zorder=5.5)  # fmt: skip


class Heights:
    """What is taken of the height of a panel, in mm: diamonds, then words too."""

    def __init__(self, tall: float, marks: Sequence[float]) -> None:
        self.tall, self.words = tall, list[tuple[float, float]]()
        self.marks = [(mark - 2.5, mark + 2.5) for mark in marks]

    def free(self, wanted: float, half: float, up: bool) -> float:
        """The middle of the nearest free height for words, above or below what they are about,
        else over a diamond; it is taken then."""
        every = np.arange(half + 0.5, self.tall - half, 0.5).tolist()
        tries = sorted(every, key=lambda y: abs(y - wanted) + self.tall * ((y > wanted) != up))
        for taken in (self.words + self.marks, self.words, []):
            for y in tries:
                if not any(y - half < top and y + half > low for low, top in taken):
                    self.words.append((y - half, y + half))
                    return float(y)
        return wanted


def _words(part: SlotPart, bold: bool, wide: float, units: str) -> list[str]:
    """Name, temperature and margin, in lines that fit the panel."""
    text = style.Units(units)
    margin = [text.text(q.DIFFERENCE, part.row.margin, "+").replace("-", "−")]
    return [*style.two_lines(part.name, style.SMALL, bold, wide - 1.2),
            text.text(q.TEMPERATURE, part.row.temperature),
            *(margin if known(part.row.margin) else [])]  # fmt: skip


# --- around it -----------------------------------------------------------------------------------


def _frame(ax: Axes, one: SlotAir, scale: Temperatures, units: str, side: str) -> None:
    low, high = style.shown(q.TEMPERATURE, scale, units).tolist()
    ticks = MaxNLocator(3, steps=[1, 2, 2.5, 5, 10]).tick_values(low, high)
    edge = 0.1 * (high - low)
    ticks = [tick for tick in ticks if low + edge <= tick <= high - edge]
    ax.set(xlim=(low, high), ylim=(0, 1), xticks=ticks, yticks=[0, 0.5, 1] if side else [])
    ax.set_xticks(ticks, [f"{tick:g}".replace("-", "−") for tick in ticks])
    ax.set_ylabel(side)
    ax.spines[:].set_visible(True)
    ax.grid(axis="x", color=style.GRID, linewidth=0.5)
    ax.set_axisbelow(True)
    if not known(one.ends[0]):
        ax.set_facecolor(style.GROUND)
        word = "no air" if one.row.state in ("fitted", "blanked", None) else str(one.row.state)
        style.beside(ax, word, (0.5, 0.5), (0, 0), ha="center", va="center", rotation=90)
    elif one.row.state != "fitted":
        style.beside(ax, str(one.row.state), (0.7, 0.5), (0, 0), ha="center", va="center",
                     rotation=90)  # fmt: skip


def _ends(solution: Solution, found: Sequence[SlotAir], tall: float) -> str:
    """What the ends of the slots are, where they all have the same and it fits."""
    branches = solution.case.branches
    (first, last), *more = {(branches[one.path].from_, branches[one.path].to) for one in found}
    told = f"along the slot: 0 at {first}, 1 at {last}"
    fits = style.width(told, style.BODY) < tall / style.POINT
    return told if fits and not more else "place along the slot"


def _head(
    ax: Axes, one: SlotAir, name: str, limited: bool, first: bool, units: str
) -> None:  # fmt: skip
    """Its name, its air and heat, what leaves it; before the first one what these are."""
    moves = known(one.ends[0])
    flow, heat, warm = (quantity.shown(units) for quantity in (
        q.VOLUME_FLOW, q.POWER, q.TEMPERATURE))  # fmt: skip
    arrow = "↑" if one.ahead else "↓"
    rows = [
        ("limit", warm.unit, f"{warm.of(one.limit):.0f}" if known(one.limit) else "–", False),
        ("air out", warm.unit, warm.number(one.ends[one.ahead]) if moves else "–", one.over),
        ("heat", heat.unit, heat.number(one.row.heat) if one.row.heat > 0 else "–", False),
        ("air", flow.unit, f"{arrow} {flow.number(abs(one.row.volume_flow))}" if moves else "–",
         False),
    ]  # fmt: skip
    for line, (lead, unit, text, bold) in enumerate(rows[0 if limited else 1 :]):
        up = (0.0, 3.0 + HEAD_LINE * line)
        style.beside(ax, text, (0, 1), up, weight="bold" if bold else "normal", color=style.INK)
        if first:
            head = style.pretty(f"{lead}, {unit}")
            style.beside(ax, head, (0, 1), (-8.0 / style.POINT, up[1]), ha="right")
    top = 3.0 + HEAD_LINE * (4 if limited else 3)
    over = one.over or any(part.word == "over" for part in one.parts)
    tone = style.OVER if over else style.INK
    style.beside(ax, name, (0, 1), (0, top), size=style.BODY, weight="bold",
                 linespacing=1.0, color=tone)  # fmt: skip


def _verdict(solution: Solution, found: Sequence[SlotAir], units: str) -> str:
    """What is void, then which limits of slots and their parts break, or which has least room."""
    own = {one.path for one in found} | {f"part.{p.name}" for one in found for p in one.parts}
    groups: dict[str, list[Limit]] = {}
    for item, word in ranked(solution):
        if item.subject in own:
            groups.setdefault(word, []).append(item)
    over, tight = groups.get("over", []), groups.get("tight", [])
    count = sum(map(len, groups.values()))
    void = f"Void: {told(solution.void, units)}; on paper " if solution.void else ""
    if over:
        rooms = listed([room_of(item, units) for item in over], 3, ", ")
        said = f"{counted(len(over), 'limit')} in the slots broken: {rooms}"
    elif count:
        first = (tight or groups["ok"])[0]
        said = f"{counted(count, 'limit')} in the slots {'hold' if count > 1 else 'holds'}"
        said += f", {len(tight)} tight" if tight else ""
        said += f"; least room: {room_of(first, units)}"
    else:
        said = f"no limit is held against the air or a part of {counted(len(found), 'slot')}"
    return void + said if void else f"{said[:1].upper()}{said[1:]}"


def _notes(solution: Solution, units: str) -> Iterator[str]:
    want = q.DIFFERENCE.shown(units).text(solution.case.limits.margin)
    yield ("Line: the air, as it is solved: the heat of a slot and its parts is spread evenly "
           "along it, which counts from 0 at its `from` to 1 at its `to`. Arrow: its way."
           )  # fmt: skip
    yield ("Diamond: a part, dotted to the air it stands in; upright bar: its limit, hatched "
           f"beyond it; ochre: less than {want} left.")  # fmt: skip
