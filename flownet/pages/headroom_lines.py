"""Headroom as lines of text: the verdict, what is left today, then the scan."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence
from typing import Any, Protocol

import numpy as np

from flownet.enclosure.enclosure import Enclosure
from flownet.pages.heading import changed_lines, head_lines, titled
from flownet.pages.page import MISSING, STYLES, Page
from flownet.pages.table import ROWS, Cell, Head
from flownet.schema import quantities as q


class Found(Protocol):
    """How far a key of a case can go."""

    @property
    def case(self) -> Enclosure:
        """In its scenario and variant."""

    @property
    def subject(self) -> Any:
        """With `present` and `texts(values, units)`."""

    @property
    def key(self) -> str:
        """What was moved."""

    @property
    def scan(self) -> Sequence[Any]:
        """Points by value, each with `value`, `status`, `limit`, `decides`, `why`."""

    @property
    def today(self) -> Any:
        """The point of today's value."""

    @property
    def there(self) -> Any:
        """The point where limits break, or None."""

    @property
    def filters(self) -> Sequence[Any]:
        """Each with `path`, `today`, `drop`."""

    def verdicts(self, units: str = "metric") -> Sequence[str]:
        """In words."""


def headroom_lines(found: Found, page: Page, changed: Sequence[str] = ()) -> Iterator[str]:
    """Title, verdict, what filters do, some values of the scan."""
    applied = found.case.applied
    yield from head_lines(titled(found.case), f"{applied.variant} | {applied.scenario}", page)
    yield from changed_lines(changed)
    yield ""
    for i, words in enumerate(found.verdicts(page.units)):
        first = "" if i == 0 else "  "
        lines = textwrap.wrap(words, page.width, initial_indent=first, subsequent_indent="    ",
                              break_on_hyphens=False, break_long_words=False)  # fmt: skip
        yield from (page.paint(line, "" if i else "heading") for line in lines)
    if found.filters:
        yield ""
        yield from _filters(found, page)
    yield ""
    yield from _scan(found, page)


def _filters(found: Found, page: Page) -> Iterator[str]:
    """Pressures and temperatures at which an alarm could watch, beside those of today."""
    now, there = found.today, found.there
    rows = [[Cell(f"drop of {f.path}"), page.cell(q.PRESSURE, f.today),
             page.cell(q.PRESSURE, f.drop)] for f in found.filters]  # fmt: skip
    for name, quantity, key in ((f"air in {there.hottest_air_in}", q.TEMPERATURE, "hottest_air"),
                                ("air rise", q.DIFFERENCE, "air_rise")):  # fmt: skip
        values = (getattr(point, key) for point in (now, there))
        rows.append([Cell(name), *(page.cell(quantity, value) for value in values)])
    columns = (Head(""), Head("today", True), Head("change", True))
    yield from page.table(columns, rows)


def _scan(found: Found, page: Page) -> Iterator[str]:
    """The scan, thinned out to a dozen rows, with today's value and where limits break."""
    points = _shown(found, page)
    rows = []
    texts = found.subject.texts([point.value for point in points], page.units)
    for point, text in zip(points, texts, strict=True):
        remark = "today" if point is found.today else ""
        if found.there is not None and point is found.there:
            remark = "limit"
        rows.append([
            Cell(text), _margin(point, page),
            Cell(point.word, STYLES.get(point.status, "")), Cell(point.decides or MISSING),
            Cell(remark),
        ])  # fmt: skip
    columns = (Head(found.key), Head("margin", True), Head("status"), Head("decides"),
               Head(""))  # fmt: skip
    yield from Page(page.units, page.width, True, page.paint).table(columns, rows)
    left = len(found.scan) - sum(point is not found.there for point in points)
    if left:
        yield f"  ... {left} more (--all)"


def _shown(found: Found, page: Page) -> list[Any]:
    count = len(found.scan)
    own = [] if found.there is None else [found.there]
    picked = set(range(count))
    if not page.everything and count > ROWS:
        at = next(i for i, point in enumerate(found.scan) if point is found.today)
        evenly = np.linspace(0, count - 1, ROWS - len(own)).round().astype(int).tolist()
        evenly[min(range(len(evenly)), key=lambda i: abs(evenly[i] - at))] = at
        picked = set(evenly)
    return sorted([*(found.scan[i] for i in sorted(picked)), *own], key=lambda p: float(p.value))


def _margin(point: Any, page: Page) -> Cell:
    if point.limit is None:
        return Cell(MISSING)
    return page.cell(point.limit.margin_quantity, point.limit.margin, "+")
