"""A comparison, and what outages do, as lines of text: the verdict, the matrix, what decides."""

from __future__ import annotations

import math
import re
import textwrap
from collections.abc import Iterator, Sequence
from dataclasses import fields, replace
from typing import Any, Protocol

from flownet.enclosure.enclosure import Enclosure
from flownet.judging.voids import told
from flownet.pages.heading import changed_lines, head_lines, titled
from flownet.pages.page import MISSING, STYLES, Page, counted
from flownet.pages.sheet import Cell, Column, aligned, hanging
from flownet.schema import quantities as q
from flownet.schema.fault import listed

JOINT = "\N{NO-BREAK SPACE}"  # between a number and its unit, while lines are broken
_UNIT = re.compile(r"(\d) (\w)")
WORST = "*"  # behind the worst of a variant
GAP = 3
LEGEND = f"{WORST} worst of its variant; -: does not apply, the fan does not run there."
OWN = ("name", "tag", "at", "supply")  # in which fans may differ that are alike
VOIDED = "void: its numbers do not count, so the margin before it is one on paper."
WAYS = ("before", "out", "shut", "blanked", "rest_up")
HEADS = ("none out", "open", "shutter", "blanked", "rest up")


class Compared(Protocol):
    """Scenarios as rows, variants as columns."""

    @property
    def case(self) -> Enclosure:
        """What is compared."""

    @property
    def scenarios(self) -> Sequence[str]:
        """The rows."""

    @property
    def variants(self) -> Sequence[str]:
        """The columns."""

    @property
    def cells(self) -> Sequence[Sequence[Any]]:
        """[scenario][variant]; None where a scenario does not apply."""

    @property
    def notes(self) -> Sequence[str]:
        """What scenarios take from variants."""

    def verdicts(self, units: str = "metric") -> Sequence[str]:
        """In words, the most important first."""

    def column(self, variant: str) -> Sequence[Any]:
        """The cells of a variant that apply."""

    def worst(self, variant: str) -> Any:
        """The worst of them."""


class Failed(Protocol):
    """Every fan out in turn."""

    @property
    def case(self) -> Enclosure:
        """In which they fail."""

    @property
    def failures(self) -> Sequence[Any]:
        """Each with its flow and the cells of every way."""

    def verdicts(self, units: str = "metric") -> Sequence[str]:
        """In words, one a variant."""


def comparison_lines(
    found: Compared, page: Page, changed: Sequence[str] = ()
) -> Iterator[str]:  # fmt: skip
    """The verdict first, the matrix, the worst of each variant; all pairs where asked for."""
    rows, columns = len(found.scenarios), len(found.variants)
    size = f"{counted(rows, 'scenario')} x {counted(columns, 'variant')}"
    yield from _head(found.case, size, page, changed)
    yield from said(found.verdicts(page.units), page)
    yield from noted(found.notes, page)
    yield ""
    for names in _blocks(found, page):
        yield from _matrix(found, names, page)
        yield ""
    yield LEGEND
    if any(cell is not None and cell.void for row in found.cells for cell in row):
        yield from textwrap.wrap(VOIDED, page.width)
    worst = [(name, cell.scenario, cell) for name in found.variants
             if (cell := found.worst(name)) is not None]  # fmt: skip
    yield ""
    yield from _details("Worst of each", worst, page)
    if page.everything:
        for name in found.variants:
            yield ""
            cells = found.column(name)
            yield from _details(name, [(c.scenario, "", c) for c in cells], page)
    yield from _unsolved([cell for name in found.variants for cell in found.column(name)], page)


def outage_lines(found: Failed, page: Page, changed: Sequence[str] = ()) -> Iterator[str]:
    """The verdict of each variant, then every failure with what would help."""
    yield from _head(found.case, counted(len(found.failures), "outage"), page, changed)
    yield from said(found.verdicts(page.units), page)
    columns = [Column("Worst margin"), Column("its flow", True),
               *(Column(head, True) for head in HEADS)]  # fmt: skip
    for variant in dict.fromkeys(item.variant for item in found.failures):
        own = [item for item in found.failures if item.variant == variant]
        for scenario in dict.fromkeys(item.scenario for item in own):
            yield ""
            yield page.paint(f"{variant} | {scenario}", "heading")
            here = [item for item in own if item.scenario == scenario]
            rows = [_failure(item, page) for item in here]
            keys = [_alike(item.failed, found.case) for item in here]
            yield from replace(page, everything=True).table(columns, merged(rows, keys))
    each = [getattr(item, way) for item in found.failures for way in WAYS]
    yield from _unsolved([cell for cell in each if cell is not None], page)
    yield ""
    yield from textwrap.wrap(
        "its flow: through the dead fan, the way it blows; below zero it comes back. open: it "
        "stands in its hole. shutter: behind its own, else the usual one. rest up: open, and what "
        "runs is at the top of its speed range. A margin below zero: a limit is broken.",
        page.width,
    )  # fmt: skip


def _head(case: Enclosure, size: str, page: Page, changed: Sequence[str]) -> Iterator[str]:
    yield from head_lines(titled(case), size, page)
    yield from changed_lines(changed)
    yield ""


def said(verdicts: Sequence[str], page: Page) -> Iterator[str]:
    """Sentences, the first as a heading; a number stays with its unit."""
    first, *rest = map(joined, verdicts)
    for line in textwrap.wrap(first, page.width, break_on_hyphens=False):
        yield page.paint(line.replace(JOINT, " "), "heading")
    for words in rest:
        for line in hanging([Cell("  ")], words, page.width):
            yield line.replace(JOINT, " ")


def noted(notes: Sequence[str], page: Page) -> Iterator[str]:
    """What does not act as it is written."""
    for words in notes:
        yield from hanging([Cell("  note: ", "warning")], words, page.width)


def joined(words: str) -> str:
    """Words whose numbers stay with their units while lines are broken."""
    return _UNIT.sub(f"\\1{JOINT}\\2", words)


# --- the matrix ----------------------------------------------------------------------------------


def cell_text(cell: Any, units: str) -> str:
    """`-1.5 K over`; words where there is no number."""
    if cell is None:
        return MISSING
    if cell.status == "unsolved":
        return "unsolved"
    if not cell.subject:
        return str(cell.word) if cell.void else "no limit"
    return f"{margin_text(cell, units)} {cell.word}"


def margin_text(cell: Any, units: str) -> str:
    """`-1.5 K`; `-` where there is no number."""
    if cell is None or not math.isfinite(cell.margin):
        return MISSING
    text: str = cell.margin_quantity.shown(units).text(cell.margin, "+")
    return text


def _blocks(found: Compared, page: Page) -> Iterator[list[str]]:
    """Variants in runs that fit the page beside the names of the scenarios."""
    left = max(map(len, (*found.scenarios, "Worst margin"))) + 2
    run: list[str] = []
    used = left
    for column, name in enumerate(found.variants):
        texts = [cell_text(row[column], page.units) + WORST for row in found.cells]
        wide = max(map(len, (name, *texts))) + GAP
        if run and used + wide > page.width:
            yield run
            run, used = [], left
        run.append(name)
        used += wide
    yield run


def _matrix(found: Compared, names: Sequence[str], page: Page) -> list[str]:
    places = [list(found.variants).index(name) for name in names]
    worst = [found.worst(name) for name in names]
    rows = []
    for scenario, row in zip(found.scenarios, found.cells, strict=True):
        cells = [Cell(scenario)]
        for place, least in zip(places, worst, strict=True):
            cell = row[place]
            mark = WORST if cell is not None and cell is least else ""
            style = "bad" if cell is not None and cell.status == "unsolved" else ""
            text = cell_text(cell, page.units) + mark
            cells.append(Cell(text, style or STYLES.get(getattr(cell, "status", ""), "quiet")))
        rows.append(cells)
    columns = [Column("Worst margin"), *(Column(name, numbers=True) for name in names)]
    return replace(page, everything=True).table(columns, rows)


def _details(title: str, rows: Sequence[tuple[str, str, Any]], page: Page) -> list[str]:
    columns = [
        Column(title), Column("margin", True), Column("air", True), Column("flow", True),
        Column("useful", True), Column("noise", True), Column("power", True), Column(""),
    ]  # fmt: skip
    return page.table(columns, [_detail(name, where, cell, page) for name, where, cell in rows])


def _detail(name: str, where: str, cell: Any, page: Page) -> list[Cell]:
    unsolved = cell.status == "unsolved"
    style = "bad" if unsolved else STYLES[cell.status]
    decides = " in ".join(word for word in (cell.subject, where) if word)
    return [
        Cell(name), Cell("unsolved" if unsolved else margin_text(cell, page.units), style),
        page.cell(q.TEMPERATURE, cell.hottest_air),
        page.cell(q.VOLUME_FLOW, cell.volume_flow), page.cell(q.VOLUME_FLOW, cell.useful_flow),
        page.cell(q.LEVEL, cell.noise), page.cell(q.POWER, cell.fan_power),
        Cell(", ".join([decides, *remarks(cell, page.units)])),
    ]  # fmt: skip


def remarks(cell: Any, units: str) -> Iterator[str]:
    """Where air goes back through a dead fan, what makes the numbers void, fans in a dip."""
    for path, flow in cell.standing.items():
        if flow < 0:
            yield f"{q.VOLUME_FLOW.shown(units).text(-flow)} back through {path}"
    for lead, found in (("void: ", cell.void), ("", cell.in_dip)):
        if found:
            yield lead + told(found, units)


def _unsolved(cells: Sequence[Any], page: Page) -> Iterator[str]:
    """Each reason once, with where it arises."""
    reasons: dict[str, dict[str, None]] = {}
    for cell in cells:
        if cell.status == "unsolved":
            reasons.setdefault(cell.why, {})[f"{cell.variant} | {cell.scenario}"] = None
    for why, found in reasons.items():
        yield ""
        yield page.paint(f"not solved: {listed(found, 1, more=', and ')}", "bad")
        for fault in why.splitlines():
            yield from hanging([Cell("  ")], fault, page.width)


def merged(rows: Sequence[list[Cell]], keys: Sequence[str]) -> list[list[Cell]]:
    """Rows of one key whose cells read the same as one, with all their names."""
    columns = [aligned(column) for column in zip(*rows, strict=True)]
    read = zip(*([cell.text for cell in column] for column in columns[1:]), strict=True)
    groups: dict[tuple[str, ...], list[list[Cell]]] = {}
    for row, key, texts in zip(rows, keys, read, strict=True):
        groups.setdefault((key, *texts), []).append(row)
    return [
        [same[0][0]._replace(text=", ".join(row[0].text for row in same)), *same[0][1:]]
        for same in groups.values()
    ]


def _alike(failed: str, case: Enclosure) -> str:
    """What fans that are alike have in common: all but name, feed and place at one height."""
    fan = case.fans.get(failed.removeprefix("fan."))
    if fan is None:
        return failed
    own = {field.name: getattr(fan, field.name) for field in fields(fan)}
    kept = {name: value for name, value in own.items() if name not in OWN}
    return f"{kept} {fan.at and fan.at[1]} {case.rating(fan)}"


def _failure(item: Any, page: Page) -> list[Cell]:
    cells = [Cell(item.failed), page.cell(q.VOLUME_FLOW, item.flow, "+")]
    for way in WAYS:
        cell = getattr(item, way)
        unsolved = cell is not None and cell.status == "unsolved"
        text = "unsolved" if unsolved else margin_text(cell, page.units)
        text = f"{text} void" if cell is not None and cell.void else text
        style = "quiet" if cell is None else "bad" if unsolved else STYLES[cell.status]
        cells.append(Cell(text, style))
    return cells
