"""Boxes and lanes of a network on the page."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from functools import cached_property

from flownet.enclosure.enclosure import Enclosure
from flownet.pictures.network.grid import Cell, cells
from flownet.pictures.network.links import (
    OPPOSITE,
    OUTSIDE,
    Course,
    Detour,
    Link,
    course,
    detour,
    links,
)
from flownet.pictures.scene import look
from flownet.pictures.scene.scene import Rect, Words
from flownet.pictures.scene.text_metrics import width, wrap
from flownet.pictures.scene.words import Units
from flownet.results.solution import Solution
from flownet.schema import quantities as q

PITCH = 29.0  # between level lanes
LEAD = 46.0  # of a level lane: room for its mark and its arrow
UPRIGHT = 38.0  # of an upright lane: room for its mark, beside its words
TALL = 66.0  # of a gap with upright lanes
NAME_WIDE = 150.0  # of a name in a box, before it goes on in the next line
SHIFT = 9.0  # between lines that go round, side by side
STEP = 23.0  # and one over the other, with words between them
PORT = 6.0  # between their ends at a box


@dataclass(frozen=True)
class Net:
    """Where every box of a network stands, and how every link runs."""

    case: Enclosure
    solution: Solution | None
    units: Units

    @cached_property
    def cells(self) -> dict[str, Cell]:
        """Where each place stands in the grid."""
        return cells(self.case)

    @cached_property
    def courses(self) -> list[Course]:
        """How each link runs."""
        return [course(link, self.cells) for link in links(self.case, self.solution, self.units)]

    @cached_property
    def lanes(self) -> dict[tuple[str, str], list[Course]]:
        """Straight links at each side of each place."""
        found: dict[tuple[str, str], list[Course]] = {}
        for one in self.courses:
            if one.straight:
                found.setdefault((one.near, one.side), []).append(one)
                if one.far != OUTSIDE:
                    found.setdefault((one.far, OPPOSITE[one.side]), []).append(one)
        return found

    @cached_property
    def detours(self) -> list[tuple[Course, Detour]]:
        """Links that go round, with the gaps they pass."""
        return [(one, detour(one, self.cells)) for one in self.courses if not one.straight]

    @cached_property
    def ports(self) -> Counter[str]:
        """How many links that go round end at each place."""
        return Counter(name for one, _ in self.detours for name in (one.near, one.far))

    def level_runs(self, gap: int, upward: bool) -> int:
        """Links that go round through a gap between rows, having left the row below (`upward`)."""
        return sum(
            way.row_gap == gap and (one.side == "top") == upward for one, way in self.detours
        )

    def upright_runs(self, gap: int, left: bool) -> int:
        """Links that go round through a gap between columns, to boxes at its right (`left`)."""
        return sum(way.column_gap == gap and way.left == left for _, way in self.detours)

    # --- sizes -------------------------------------------------------------------------------

    def said(self, name: str) -> list[Words]:
        """The lines in a box."""
        lines = wrap(name, look.HEAD, True, NAME_WIDE)
        made = [Words(0, 0, text, look.HEAD, True) for text in lines]
        value = self._temperature(name)
        if value is not None:
            made.append(Words(0, 0, self.units.text(q.TEMPERATURE, value), look.HEAD))
        return made

    def _temperature(self, name: str) -> float | None:
        if name in self.case.compartments:
            if self.solution is None:
                return None
            return float(self.solution.compartments[name].temperature)
        return float(self.case.things["outside"][name.partition(".")[2]].temperature)

    def box_size(self, name: str) -> tuple[float, float]:
        """Width and height a box needs for its words and its lanes."""
        lines = self.said(name)
        wide = max(words.wide for words in lines) + 18.0
        tall = look.LINE_SPACING * look.HEAD * len(lines) + 14.0
        for side in ("top", "bottom"):
            wide = max(wide, sum(map(lane_wide, self.lanes.get((name, side), ()))) + 8.0)
        for side in ("left", "right"):
            tall = max(tall, PITCH * len(self.lanes.get((name, side), ())) + 4.0)
        extra = 2 * PORT * self.ports[name]
        return wide + extra, tall + extra

    def _across(self, gap: int) -> float:
        """Width of the gap before a column (the last: after all columns)."""
        need = [30.0]
        for one in self.courses:
            if one.straight and one.side in ("left", "right") and self._starts(one, gap):
                need.append(text_wide(one.link) + LEAD)
        runs = self.upright_runs(gap, True) + self.upright_runs(gap, False)
        return max(need) + SHIFT * runs

    def _between(self, gap: int) -> float:
        """Height of the gap below a row (the last: above all rows)."""
        need = [26.0]
        for one in self.courses:
            if one.straight and one.side in ("top", "bottom") and self._starts(one, gap):
                need.append(TALL)
        return max(need) + STEP * (self.level_runs(gap, True) + self.level_runs(gap, False))

    def _starts(self, one: Course, gap: int) -> bool:
        """Whether a straight link starts into this gap."""
        cell = self.cells[one.near]
        own = cell.column if one.side in ("left", "right") else cell.row
        return gap == own + (one.side in ("right", "top"))

    # --- on the page -------------------------------------------------------------------------

    @cached_property
    def columns(self) -> list[tuple[float, float]]:
        """Left and right end of each column."""
        count = max(cell.column for cell in self.cells.values()) + 1
        wide = [
            max([30.0, *(self.box_size(n)[0] for n, c in self.cells.items() if c.column == k)])
            for k in range(count)
        ]
        return _runs(wide, [self._across(k) for k in range(count)])

    @cached_property
    def rows(self) -> list[tuple[float, float]]:
        """Lower and upper end of each row."""
        count = max(cell.row for cell in self.cells.values()) + 1
        tall = [
            max([20.0, *(self.box_size(n)[1] for n, c in self.cells.items() if c.row == k)])
            for k in range(count)
        ]
        return _runs(tall, [self._between(k) for k in range(count)])

    @cached_property
    def boxes(self) -> dict[str, Rect]:
        """Every box on the page, in the middle of its cell."""
        found = {}
        for name, cell in self.cells.items():
            wide, tall = self.box_size(name)
            x = sum(self.columns[cell.column]) / 2
            y = sum(self.rows[cell.row]) / 2
            found[name] = Rect(x - wide / 2, y - tall / 2, x + wide / 2, y + tall / 2)
        return found

    @cached_property
    def inner(self) -> Rect:
        """The inner border of the frame."""
        right = self.columns[-1][1] + self._across(len(self.columns))
        top = self.rows[-1][1] + self._between(len(self.rows))
        return Rect(0.0, 0.0, right, top)


def _runs(sizes: list[float], gaps: list[float]) -> list[tuple[float, float]]:
    """Start and end of pieces set one after the other, each after its gap."""
    found, at = [], 0.0
    for size, gap in zip(sizes, gaps, strict=True):
        found.append((at + gap, at + gap + size))
        at += gap + size
    return found


def text_wide(link: Link) -> float:
    """Width of what is written at a line."""
    return max(width(link.name, look.SMALL, True), width(link.note, look.SMALL))


def lane_wide(one: Course) -> float:
    """Width of an upright lane: the mark, then words at its right."""
    return text_wide(one.link) + UPRIGHT
