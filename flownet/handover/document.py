"""What a page of the web consists of: sections with tables, figures and words, before any markup.

Everything that depends on the pair of scenario and variant is there once for every pair that can
be shown, `when` it is; the page shows one of them.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

from flownet.pages.page import Page
from flownet.pages.render import cell
from flownet.pages.sheet import Column, Listing, said
from flownet.pages.table import aligned
from flownet.pictures.caption import pretty
from flownet.schema.quantities import Quantity

MINUS, THIN = "\N{MINUS SIGN}", "\N{NARROW NO-BREAK SPACE}"
STATUSES = ("ok", "tight", "over", "short", "void", "unknown", "unsolved")
_NEGATIVE = re.compile(r"(?<![\w.-])-(?=\d)")
NUMBERED_AS = {"table": "Table", "matrix": "Table", "figure": "Figure", "slider": "Figure"}


class GridCell(NamedTuple):
    """A cell: words, or a number in its parts, so that decimal points stand below each other."""

    text: str
    fraction: str = ""  # `.5` of a number, where numbers of one column differ in their units
    kind: str = ""  # name, number, unit, status, words
    style: str = ""  # bad, doubtful, good, quiet; of a status the word itself


class GridHead(NamedTuple):
    """The head of a column."""

    text: str
    kind: str = ""
    span: int = 1


@dataclass(frozen=True)
class Block:
    """A piece of a section: `kind` says which template shows it."""

    kind: str  # table, figure, words, note, items, terms, findings, matrix, slider, details
    title: str = ""
    about: str = ""  # quiet, beside the title: which pair
    when: str = ""  # "hot|base"; "": always
    number: str = ""  # `Table 3`
    heads: Sequence[GridHead] = ()
    rows: Sequence[Sequence[GridCell]] = ()
    wide: str = ""  # SVG, on a wide page
    narrow: str = ""  # SVG, on a small screen
    text: str = ""
    items: Sequence[tuple[str, str]] = ()
    data: object = None  # what the template of a kind needs beside


@dataclass(frozen=True)
class Section:
    """A question of the page, the sentence that answers it, and what shows that."""

    question: str
    leads: tuple[Block, ...]  # its answer; one for each pair where it depends on it
    blocks: tuple[Block, ...] = ()


def always(text: str, kind: str = "words") -> Block:
    """Words that stand whatever pair is shown."""
    return Block(kind, text=printed(text))


def printed(text: str) -> str:
    """Words with the signs of print: units, and minus before a number."""
    return _NEGATIVE.sub(MINUS, pretty(text))


def numbered(sections: Iterable[Section]) -> tuple[Section, ...]:
    """Tables and figures with their numbers: those that differ only in their pair share one."""
    kinds = set(NUMBERED_AS.values())
    count, last, found = dict.fromkeys(kinds, 0), dict.fromkeys(kinds, ""), []
    for section in sections:
        made = []
        for block in section.blocks:
            kind = NUMBERED_AS.get(block.kind, "")
            if kind:
                again = bool(block.when) and last[kind] == block.title
                count[kind] += not again
                last[kind] = block.title
            made.append(replace(block, number=f"{kind} {count[kind]}" if kind else ""))
        found.append(replace(section, blocks=tuple(made)))
    return tuple(found)


def grid(
    table: Listing, units: str, title: str, *, about: str = "", when: str = "",
    most: int | None = None,
) -> Block:  # fmt: skip
    """A table of a sheet. A column in one unit has it in its head, any other beside each value."""
    page, count = Page(units, everything=True), len(table) if most is None else most
    order = table.first if len(table.first) and count < len(table) else range(len(table))
    rows = list(order)[:count]
    heads: list[GridHead] = []
    columns: list[list[GridCell]] = []
    for place, column in enumerate(table.columns):
        made = list(_columns(column, rows, page, first=place == 0))
        own = made[0][0]
        heads.append(own._replace(span=len(made)))
        columns += [cells for _, cells in made]
    kept = [title_ for title_ in (title, about) if title_]
    note = " ".join(each.plain(units) for each in table.notes)
    return Block("table", kept[0] if kept else "", about, when, heads=heads,
                 rows=list(zip(*columns, strict=True)), text=pretty(note))  # fmt: skip


def _columns(
    column: Column, rows: Sequence[int], page: Page, *, first: bool
) -> Iterator[tuple[GridHead, list[GridCell]]]:
    """A column as one, or as two: numbers and their units."""
    if column.quantity is None:
        words = [pretty(said(column.values[row], page.units)) for row in rows]
        status = bool(words) and not first and set(words) <= {*STATUSES, "no limit", ""}
        kind = "name" if first else "status" if status else "right" if column.right else "words"
        styles = [column.styles[row] if len(column.styles) else "" for row in rows]
        yield (
            GridHead(pretty(column.name), kind),
            [
                GridCell(word, kind=kind, style=word if status and word in STATUSES else style)
                for word, style in zip(words, styles, strict=True)
            ],
        )
        return
    one = isinstance(column.quantity, Quantity)
    cells = aligned([cell(column, row, page) for row in rows])
    parts = [_parted(each.text) for each in cells]
    units = {unit for _, unit in parts if unit}
    name = pretty(column.name)
    if one and len(units) <= 1:
        head = f"{name}, {pretty(units.pop())}" if units else name
        made = [GridCell(text, kind="number", style=each.style)
                for (text, _), each in zip(parts, cells, strict=True)]  # fmt: skip
        yield GridHead(head, "number"), made
        return
    numbers = []
    for (text, _), each in zip(parts, cells, strict=True):
        whole, point, rest = text.partition(".")
        numbers.append(GridCell(whole, point + rest, "number", each.style))
    yield GridHead(name, "number"), numbers
    yield GridHead("", "unit"), [GridCell(pretty(unit), kind="unit") for _, unit in parts]


def _parted(text: str) -> tuple[str, str]:
    """`-13 706 h` as number and unit, with the signs of print."""
    number, _, unit = text.strip().rpartition(" ")
    if not number or unit.replace(".", "").isdigit():
        number, unit = text.strip(), ""
    if number == "-":
        return "\N{EN DASH}", ""
    return number.replace("-", MINUS, 1).replace(" ", THIN), unit


def turned(table: Listing, units: str, title: str, *, about: str = "", when: str = "") -> Block:
    """A table whose rows stand beside each other: one column a row of it, its first the head."""
    page, rows = Page(units, everything=True), range(len(table))
    heads = [GridHead(""), *(GridHead(said(name, units), "words")
                             for name in table.columns[0].values)]  # fmt: skip
    made = []
    for column in table.columns[1:]:
        cells = aligned([cell(column, row, page) for row in rows])
        texts = [pretty(each.text).replace("-", MINUS, 1) if column.quantity else pretty(each.text)
                 for each in cells]  # fmt: skip
        if any(text not in ("", "-", MINUS, "None") for text in texts):
            made.append([GridCell(column.name, kind="name"), *map(GridCell, texts)])
    note = " ".join(each.plain(units) for each in table.notes)
    return Block("table", title, about, when, heads=heads, rows=made, text=pretty(note).strip())
