"""Fans taken together, for the long page: who is heard, and when the first one fails."""

from __future__ import annotations

import math
from collections.abc import Iterator

from flownet.pages.page import Page
from flownet.pages.table import Cell, Head
from flownet.results.noise import FanNoise, noise_budget
from flownet.results.solution import Solution
from flownet.schema import quantities as q
from flownet.schema.shown import apportioned


def fan_set_lines(solution: Solution, page: Page) -> Iterator[str]:
    """A table of levels, the loudest first, and the time to the first failure."""
    found = noise_budget(solution)
    if found.fans:
        columns = [
            Head(f"Noise at {page.text(q.DISTANCE, found.distance)}"), Head("level", True),
            Head("share", True), Head("blade pass", True), Head("without", True),
            Head("10 % slower", True), Head(""),
        ]  # fmt: skip
        percents = apportioned(100, [100 * row.share for row in found.fans])
        rows = zip(found.fans, percents, strict=True)
        yield from page.table(columns, [_row(row, percent, page) for row, percent in rows])
    yield from _first_failure(solution, page)


def _row(row: FanNoise, percent: int, page: Page) -> list[Cell]:
    alone = math.isinf(row.without)
    return [
        Cell(row.fan),
        page.cell(q.LEVEL, row.level),
        Cell(f"{percent} %"),
        page.cell(q.FREQUENCY, row.tone),
        Cell("silent") if alone else page.cell(q.LEVEL, row.without),
        page.cell(q.LEVEL, row.slower),
        Cell(""),
    ]


def _first_failure(solution: Solution, page: Page) -> Iterator[str]:
    hours = solution.totals.first_failure
    count = sum(row.region not in ("stopped", "blanked") for row in solution.fans.values())
    if count > 1 and not math.isnan(hours):
        slope = solution.case.limits.weibull_slope
        lead = page.paint("Life", "heading")
        yield (
            f"{lead}  of {count} fans the first fails within {page.text(q.HOURS, hours)} with one "
            f"chance in ten"
        )
        yield f"      (hours of running; Weibull slope {slope:.3g})"
