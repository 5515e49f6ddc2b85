"""What moves a result, as bars from a zero line: the largest effect on top.

Names, values and steps stand in columns of their own; bars to the right raise the result, hollow
ones to the left lower it. Each bar carries its effect in words.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple, Protocol

import flownet
from flownet.quantities import Quantity
from flownet.report import look, scene_page, scene_words
from flownet.report.heading import titled
from flownet.report.scene import Drawing, Layer, Rect, Scene, Words, line, stacked
from flownet.report.scene_letters import width, wrap
from flownet.report.scene_words import Units, pretty
from flownet.solution import Solution

MARGIN = 20.0
ROW, BAR = 17.0, 9.5  # heights
GAP = 14.0  # between columns
HALF = 150.0  # the longest bar
NAME = 240.0  # the widest name before it is broken
BESIDE = 5.0  # between the end of a bar and its words
LEAST_WIDE = 380.0  # of what stands above and below the bars
LISTED = 15
HEADS = ("input", "value", "step")


class Ranked(Protocol):
    """Inputs by their effect on one result, largest first."""

    @property
    def of(self) -> str:
        """The path of the result."""

    @property
    def value(self) -> float:
        """What it is."""

    @property
    def quantity(self) -> Quantity:
        """Of the result."""

    @property
    def effects(self) -> Sequence[Any]:
        """Each with the `change` of the result."""

    @property
    def solution(self) -> Solution:
        """Around which inputs are moved."""

    def steps_in(self, units: str) -> str:
        """By how much, in a sentence."""

    def texts(self, effect: Any, units: str = "metric") -> Sequence[str]:
        """Path, value and step of an input, and its effect."""


class Bar(NamedTuple):
    """One input: what is written beside its bar, and how long that is."""

    name: str
    value: str
    step: str
    change: str
    length: float  # below zero: to the left


def rank_scene(ranking: Ranked, units: str = "metric", changed: Sequence[str] = ()) -> Scene:
    """The largest effects as a scene."""
    drawing, bars = Drawing(changed=changed), _bars(ranking, units)
    columns = [(bar.name, bar.value, bar.step) for bar in bars]
    wide = [
        max([width(head, look.SMALL), *(width(words[i], look.BODY) for words in columns)])
        for i, head in enumerate(HEADS)
    ]
    name = min(wide[0], NAME)
    edges = (name + GAP + wide[1], name + 2 * GAP + wide[1] + wide[2])
    below, above = _room(bars)
    zero = edges[1] + 2 * GAP + below
    places = ((0.0, "left"), (edges[0], "right"), (edges[1], "right"))
    for text, (x, align) in zip(HEADS, places, strict=True):
        words = Words(x, 6.0, text, look.SMALL, colour=look.QUIET, align=align)
        drawing.add(Layer.LETTER, words)
    bottom = 0.0
    for bar in bars:
        bottom = _row(drawing, bar, edges, zero, bottom)
    drawing.add(Layer.WALL, line([(zero, 0.0), (zero, bottom - 2.0)], width=look.LINE))
    _around(drawing, ranking, max(zero + above, LEAST_WIDE), bottom, units)
    return drawing.scene(MARGIN, ranking.solution.case.title)


def _bars(ranking: Ranked, units: str) -> list[Bar]:
    shown = ranking.effects[:LISTED]
    most = max((abs(effect.change) for effect in shown), default=1.0)
    found = []
    for effect in shown:
        name, value, step, change = (pretty(text) for text in ranking.texts(effect, units)[:4])
        found.append(Bar(name, value, step, change, HALF * effect.change / most))
    return found


def _room(bars: Sequence[Bar]) -> tuple[float, float]:
    """Width to the left and to the right of the zero line, for bars and their words."""
    room = [0.0, 0.0]
    for bar in bars:
        side = int(bar.length > 0)
        room[side] = max(room[side], abs(bar.length) + BESIDE + width(bar.change, look.BODY))
    return room[0], room[1]


def _row(drawing: Drawing, bar: Bar, edges: tuple[float, float], zero: float, top: float) -> float:
    """One bar with its words, from `top` down; returns its lower end."""
    lines = wrap(bar.name, look.BODY, False, NAME)
    spacing = look.LINE_SPACING * look.BODY
    tall = ROW + spacing * (len(lines) - 1)
    middle = top - tall / 2
    base, end = middle - 0.36 * look.BODY, zero + bar.length
    highest = base + spacing * (len(lines) - 1) / 2
    names = (Words(0.0, highest - i * spacing, text, look.BODY) for i, text in enumerate(lines))
    drawing.add(Layer.LETTER, *names)
    fill, side, align = (look.INK, 1, "left") if bar.length > 0 else (look.PAPER, -1, "right")
    rect = Rect(min(zero, end), middle - BAR / 2, max(zero, end), middle + BAR / 2)
    drawing.area(Layer.FILL, rect, fill, edge=look.INK, width=look.THIN)
    drawing.add(
        Layer.LETTER, Words(edges[0], base, bar.value, look.BODY, align="right"),
        Words(edges[1], base, bar.step, look.BODY, align="right"),
        Words(end + side * BESIDE, base, bar.change, look.BODY, align=align),
    )  # fmt: skip
    return top - tall


def _around(drawing: Drawing, ranking: Ranked, wide: float, bottom: float, units: str) -> None:
    """Head lines above, what was moved and the signature below."""
    solution, more = ranking.solution, len(ranking.effects) - LISTED
    value = ranking.quantity.shown(units).text(ranking.value)
    heads = [
        (f"What moves {ranking.of}: {pretty(value)}", look.TITLE, True, look.INK),
        (titled(solution.case), look.HEAD, True, look.INK),
        (scene_words.state(solution), look.HEAD, True, look.INK),
        (scene_words.surroundings(solution, Units(units)), look.BODY, False, look.QUIET),
    ]
    scene_page.head(drawing, (0.0, 26.0), wide, heads)
    notes = [f"{more} smaller effects are not drawn."] if more > 0 else []
    notes += ["Solid bars to the right raise it, hollow ones to the left lower it.",
              ranking.steps_in(units),
              scene_words.signature(solution.case, flownet.__version__)]  # fmt: skip
    rows = [
        Words(0, 0, text, look.SMALL, False, look.QUIET)
        for words in notes
        for text in wrap(words, look.SMALL, False, wide)
    ]
    placed, _ = stacked(rows, 0.0, bottom - 12.0)
    drawing.add(Layer.LETTER, *placed)
