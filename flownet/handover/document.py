"""Words, tables and figures of a page of the web, before any markup.

What depends on the pair of scenario and variant is there once for every pair that can be shown,
`when` it is; the page shows one of them.
"""

from __future__ import annotations

import math
import re
from collections.abc import Collection, Iterable, Mapping, Sequence
from itertools import groupby
from typing import Any, NamedTuple

from flownet.judging.assessment import STATUSES
from flownet.pages.page import Page
from flownet.pages.render import cell
from flownet.pages.sheet import Column, Listing
from flownet.pages.table import aligned
from flownet.pictures.caption import pretty

MINUS, THIN_SPACE = "\N{MINUS SIGN}", "\N{NARROW NO-BREAK SPACE}"
WIDE_ONLY = {  # columns that a small screen goes without
    "limit", "linear", "95 % sure", "power", "from > to", "tolerance", "region", "speed",
}  # fmt: skip
STATUS_WORDS = (*STATUSES, "short", "no limit", "")
_NEGATIVE = re.compile(r"(?<![\w.)-])-(?=\d)")
_NUMBER = re.compile(r"([-+]?\d[\d .]*?)(?: ([^\d.].*))?")


class PageCell(NamedTuple):
    """A cell, or the head of a column: words, or a number in its parts, so that decimal points
    stand below each other, or a bar."""

    text: str = ""
    kind: str = ""  # name, number, status, words, right, bar; group: a heading across the table
    style: str = ""  # bad, doubtful, good, quiet
    fraction: str = ""  # `.5` of a number, where numbers of one column differ in their units
    unit: str = ""  # likewise
    bar: tuple[float, float, float] | None = None  # start, length, where zero is: percent


class PageBlock(NamedTuple):
    """A table, or a picture in two sizes, of one pair or of all."""

    title: str
    about: str = ""  # quiet, beside the title: which pair
    when: str = ""  # "hot|base"; "": whatever pair is shown
    heads: Sequence[PageCell] = ()
    rows: Sequence[Sequence[PageCell]] = ()
    wide: str = ""  # SVG, on a wide page
    narrow: str = ""  # SVG, on a small screen
    note: str = ""  # below it
    key: Sequence[str] = ()  # what the small drawing has no room for
    turned: bool = False  # rows of a table stand beside each other
    data: Any = None  # what its template needs beside


def printed(text: str) -> str:
    """Words with the signs of print: units, and minus before a number."""
    return _NEGATIVE.sub(MINUS, pretty(text))


def sentence(text: str, names: Collection[str] = ()) -> str:
    """With a full stop, and a capital where it does not begin with a name."""
    first = re.split(r"[ ,:;]", text, maxsplit=1)[0]
    if first not in names and "." not in first:
        text = text[:1].upper() + text[1:]
    return text if text.endswith((".", "!", "?")) else f"{text}."


def shortened(name: str, most: int = 40) -> str:
    """A name for a place that is not wide: of a long one the beginning and the end."""
    half = most // 2
    return name if len(name) <= most else f"{name[:half]}…{name[-half:]}"


# --- tables ---------------------------------------------------------------------------------------


def grid(
    table: Listing, units: str, title: str, *, about: str = "", when: str = "", most: int = 0,
    without: Collection[str] = (), bars: Mapping[str, Sequence[PageCell]] | None = None,
    first: str = "", groups: Sequence[str] = (), turned: bool = False,
) -> PageBlock:  # fmt: skip
    """A table of a sheet: a column in one unit has it in its head, any other beside each value.

    `most`: of many rows the first; `bars`: further columns by their heads; `first`: the head of the
    names; `groups`: of each row the heading above it; `turned`: its rows stand beside each other.
    """
    page, count = Page(units, everything=True), min(most or len(table), len(table))
    order = table.first if len(table.first) and count < len(table) else range(len(table))
    rows = list(order)[:count]
    kept = [column for column in table.columns if column.name not in without]
    kept[0] = kept[0]._replace(name=first or kept[0].name)
    made = [_column(column, rows, page, first=column is kept[0]) for column in kept]
    made = [[each._replace(style=f"{each.style} w") for each in cells]
            if column.name in WIDE_ONLY and not turned else cells
            for column, cells in zip(kept, made, strict=True)]  # fmt: skip
    made += [[PageCell(name, "bar"), *(cells[row] for row in rows)]
             for name, cells in (bars or {}).items()]  # fmt: skip
    made = [column for column in made if any(each.text or each.bar for each in column[1:])]
    heads, *body = ([tuple(column) for column in made] if turned
                    else zip(*made, strict=True))  # fmt: skip
    if turned:
        heads = (PageCell(""), *(each._replace(kind="right") for each in heads[1:]))
        body = [(row[0]._replace(kind="name"), *(each._replace(kind="right") for each in row[1:]))
                for row in body]  # fmt: skip
    if groups:
        body = [line for name, some in groupby(zip(groups, body, strict=True), key=lambda x: x[0])
                for line in ((PageCell(name, "group"),), *(row for _, row in some))]  # fmt: skip
    note = " ".join(each.plain(units) for each in table.notes)
    return PageBlock(title, about, when, heads, body, note=printed(note).strip(),
                     turned=turned)  # fmt: skip


def _column(column: Column, rows: Sequence[int], page: Page, *, first: bool) -> list[PageCell]:
    """A column with its head."""
    found = aligned([cell(column, row, page) for row in rows])
    name = printed(column.name)
    name = name if "." in name else name[:1].upper() + name[1:]
    if column.quantity is None:
        words = [printed(each.text) for each in found]
        status = bool(words) and not first and {word.partition(":")[0] for word in words} <= {
            *STATUS_WORDS}  # fmt: skip
        kind = "name" if first else "status" if status else "right" if column.right else "words"
        return [PageCell(name, kind), *(PageCell(word, kind, each.style) for word, each in
                                        zip(words, found, strict=True))]  # fmt: skip
    parts = [_parted(each.text) for each in found]
    units = {unit for _, unit in parts if unit}
    if len(units) <= 1:
        head = ", ".join(filter(None, (name, *units)))
        return [PageCell(head, "number"), *(PageCell(text, "number", each.style) for (text, _), each
                                            in zip(parts, found, strict=True))]  # fmt: skip
    cells = [PageCell(name, "number")]
    for (text, unit), each in zip(parts, found, strict=True):
        whole, point, rest = text.partition(".")
        cells.append(PageCell(whole, "number", each.style, point + rest, unit))
    return cells


def _parted(text: str) -> tuple[str, str]:
    """`-13 706 h` as number and unit, with the signs of print."""
    if text.strip() == "-":
        return "\N{EN DASH}", ""
    found = _NUMBER.fullmatch(text.strip())
    if found is None:
        return text.strip(), ""
    return found[1].replace("-", MINUS, 1).replace(" ", THIN_SPACE), pretty(found[2] or "")


def bars(spans: Iterable[tuple[float, float]], styles: Sequence[str] = ()) -> list[PageCell]:
    """Bars of one column on one scale in which zero is; none where an end is not known."""
    every = list(spans)
    known = [end for span in every for end in span if math.isfinite(end)]
    low, high = min([0.0, *known]), max([0.0, *known])
    scale = 100.0 / (high - low) if high > low else 0.0
    found = []
    for place, (one, other) in enumerate(every):
        start, stop = sorted((scale * (one - low), scale * (other - low)))
        found.append(PageCell("", "bar", styles[place] if styles else "", bar=(
            round(start, 1), round(stop - start, 1), round(-scale * low, 1))
            if math.isfinite(one + other) else None))  # fmt: skip
    return found
