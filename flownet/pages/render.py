"""A sheet as text, CSV, JSON, HTML and DataFrame: written once, for every study."""

from __future__ import annotations

import csv
import html as markup
import io
import re
import textwrap
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import repeat
from typing import Any

import numpy as np

from flownet.pages.json import text as strict
from flownet.pages.page import Page, counted
from flownet.pages.sheet import BRIEF, Column, Listing, Sentence, Sheet, said
from flownet.pages.table import INDENT, ROWS, Cell, Head, aligned, cut, hanging
from flownet.pages.table import table as lined
from flownet.results.finding import SEVERITIES
from flownet.results.tables import Field, extra, plain, unnamed
from flownet.schema.quantities import Quantity
from flownet.schema.shown import sheet_cell

MARK = "written by flownet "  # last line of a text file, first of a table
NO_BREAK = "\N{NO-BREAK SPACE}"  # between a number and its unit, while lines are broken
_UNIT = re.compile(r"(?<=\d) (?=[A-Za-z%]|\d{3}\b)")  # of `3 527 h`
HANG = "    "  # of further lines of a plain sentence
BRIEF_ROOM = 30  # letters in which a sentence is shortened at least
GUTTER = 3  # letters between columns that are fitted to a page

# --- text ----------------------------------------------------------------------------------------


def text(sheet: Sheet, page: Page) -> Iterator[str]:
    """A page: the caption, the verdict before any table, tables, notes."""
    if not sheet.bare:
        yield from sheet.caption.lines(page.units, page.width, page.paint)
        yield ""
    yield from spoken(sheet.verdicts(page.units), page)
    gap = [] if sheet.close else [""]
    yield from [""] if sheet.close else []
    page = replace(page, names=sheet.names)
    for table in sheet.of("page", "all" if page.everything else "short", units=page.units):
        yield from gap
        yield from listing(table, page)
    yield from gap if sheet.notes else ()
    yield from spoken(sheet.notes, page)
    for number, part in enumerate(sheet.parts):
        yield from [""] * sheet.gap if number else []
        yield from text(part, page)


def spoken(sentences: Iterable[str | Sentence], page: Page) -> Iterator[str]:
    """Sentences whose numbers stay with their units; of plain ones the first is the heading, the
    others stand to the right of it, and further lines of all hang."""
    for number, each in enumerate(sentences):
        lead, told, style = each if isinstance(each, Sentence) else Sentence("", each)
        words = joined(said(told, page.units))
        if isinstance(each, str):
            broken = textwrap.wrap(
                words, page.width, initial_indent=INDENT * (number > 0), subsequent_indent=HANG,
                break_long_words=False, break_on_hyphens=False,
            )  # fmt: skip
            lines = [page.paint(line, "" if number else "heading") for line in broken]
        elif lead:
            lines = hanging([Cell(lead, style)], words, page.width, page.paint)
        else:
            broken = textwrap.wrap(words, page.width, break_on_hyphens=False)
            lines = [page.paint(line, style) for line in broken]
        yield from (line.replace(NO_BREAK, " ") for line in lines)


def joined(words: str) -> str:
    """Words whose numbers stay with their units while lines are broken."""
    return _UNIT.sub(NO_BREAK, words)


def listing(table: Listing, page: Page) -> Iterator[str]:
    """One table, in as many pieces as it takes to fit the page, its title and notes."""
    yield from spoken([table.title] if table.title else [], page)
    if table.hang:
        yield from _hung(table, page)
    elif table.columns:
        whole = replace(page, everything=page.everything or table.whole or table.fit)
        cut_short = not whole.everything and len(table) > ROWS and len(table.first)
        rows = table.first if cut_short else range(len(table))
        heads = [Head(each.name, each.right or each.quantity is not None) for each in table.columns]
        cells = [[cell(each, row, page) for row in rows] for each in table.columns]
        if table.alike:
            cells = _merged(cells, table.alike)
        for number, places in enumerate(_blocks(heads, cells, page.width, table.fit)):
            yield from ["", *spoken([table.title] if table.title else [], page)] if number else []
            own = [cells[i] for i in places]
            yield from lined([heads[i] for i in places], list(zip(*own, strict=True)),
                             width=page.width, most=whole.most, least=page.names,
                             paint=page.paint)  # fmt: skip
    yield from [""] if table.notes and table.apart and table.columns else []
    yield from spoken(table.notes, page)


def cell(column: Column, row: int, page: Page) -> Cell:
    """A value as it is read; decimals are those of its column."""
    value, quantity = column.values[row], column.at(row)
    style = column.styles[row] if len(column.styles) else ""
    if quantity is None or isinstance(value, str) or callable(value):
        return Cell(said(value, page.units), style)
    bare = column.form == "bound"
    return page.cell(quantity, value, "" if bare else column.form, style, bare=bare)


def _merged(columns: Sequence[Sequence[Cell]], keys: Sequence[str]) -> list[list[Cell]]:
    """Rows of one key whose cells read the same as one, with all their names."""
    names, *others = columns
    groups: dict[tuple[str, ...], list[int]] = {}
    read = zip(*([each.text for each in aligned(column)] for column in others), strict=True)
    for row, (key, texts) in enumerate(zip(keys, read, strict=True)):
        groups.setdefault((key, *texts), []).append(row)
    told = [names[same[0]]._replace(text=", ".join(names[row].text for row in same))
            for same in groups.values()]  # fmt: skip
    return [told, *([column[same[0]] for same in groups.values()] for column in others)]


def _blocks(
    heads: Sequence[Head], cells: Sequence[Sequence[Cell]], width: int, fit: bool
) -> Iterator[list[int]]:
    """Which columns stand side by side, names in front of each run."""
    sizes = [max(map(len, (head.heading, *(each.text for each in column))))
             for head, column in zip(heads, cells, strict=True)]  # fmt: skip
    run, used = [0], sizes[0] + len(INDENT)
    for place, size in enumerate(sizes[1:], 1):
        if fit and len(run) > 1 and used + size + GUTTER > width:
            yield run
            run, used = [0], sizes[0] + len(INDENT)
        run.append(place)
        used += size + GUTTER
    yield run


def _hung(table: Listing, page: Page) -> Iterator[str]:
    """Words of each row, then a sentence that wraps beside them."""
    yield page.paint(table.columns[0].name, "heading")
    columns = [[cell(each, row, page) for row in range(len(table))] for each in table.columns]
    every = list(zip(*columns, strict=True))
    shown = cut(every, page.most, lambda row: any(each.style == "bad" for each in row))
    sizes = [max(map(len, (each.text for each in lead))) + len(INDENT)
             for lead in list(zip(*shown, strict=True))[:-1]]  # fmt: skip
    room = max(page.width - len(INDENT) - sum(sizes), BRIEF_ROOM)
    for *words, told in shown:
        cells = [each._replace(text=each.text.ljust(size))
                 for each, size in zip(words, sizes, strict=True)]  # fmt: skip
        brief = textwrap.shorten(told.text, room, placeholder=" ...")
        text_ = brief if told.style == BRIEF else told.text
        yield from hanging([Cell(INDENT), *cells], text_, page.width, page.paint)
    if len(every) > len(shown):
        left = [row[0].text.strip() for row in every if row not in shown]
        more = ", ".join(counted(left.count(word), word) for word in SEVERITIES if word in left)
        yield f"{INDENT}... {more or len(left)} more (--all)"


# --- data ----------------------------------------------------------------------------------------


def records(table: Listing) -> list[dict[str, Any]]:
    """One mapping a row: units in the keys, None where there is no value."""
    keys = [c.quantity.key(c.name) if isinstance(c.quantity, Quantity) else c.name
            for c in table.columns]  # fmt: skip
    return [
        {key: plain(Field("", c.at(row)), c.values[row])
         for key, c in zip(keys, table.columns, strict=True)}
        for row in range(len(table))
    ]  # fmt: skip


def content(sheet: Sheet) -> dict[str, Any]:
    """What JSON has below its head: the command, facts, and every table of data."""
    tables = {table.name: named(table) for table in sheet.of("json")}
    command = {"command": sheet.command} if sheet.command else {}
    return {**command, **unnamed(sheet.facts), **tables}


def named(table: Listing) -> list[dict[str, Any]]:
    """Records as JSON has them."""
    return [unnamed(row) for row in records(table)]


def json(sheet: Sheet, more: Mapping[str, Any]) -> str:
    """A file of JSON; `more` comes behind all else."""
    return strict({**sheet.caption.to_dict(), **content(sheet), **more})


def rows(sheet: Sheet) -> list[dict[str, Any]]:
    """The first table of rows, what is nested in words."""
    return flat_records(next(sheet.of("rows")))


def flat_records(table: Listing) -> list[dict[str, Any]]:
    """Records, what is nested in words."""
    return [{key: flat(value) for key, value in row.items()} for row in records(table)]


def flat(value: Any) -> Any:
    """`fan.left -0.012; fan.right 0.03` of a mapping."""
    if not isinstance(value, Mapping):
        return value
    told = []
    for key, item in value.items():
        inner = next(iter(item.values())) if isinstance(item, Mapping) else item
        number = f"{inner:.6g}" if isinstance(inner, float) else str(inner)
        told.append(f"{key} {', '.join(inner) if isinstance(inner, (list, tuple)) else number}")
    return "; ".join(told) or None


def table_csv(listed: Iterable[Mapping[str, Any]], version: str) -> str:
    """Rows as a table with commas; units in the headings, the first line a remark."""
    stream, kept = io.StringIO(), list(listed)
    stream.write(f"# {MARK}{version}\n")
    heads = list(dict.fromkeys(key for row in kept for key in row))
    writer = csv.DictWriter(stream, heads, lineterminator="\n")
    writer.writeheader()
    writer.writerows({key: sheet_cell(v) if isinstance(v, str) else v for key, v in row.items()}
                     for row in kept)  # fmt: skip
    return stream.getvalue()


def frame(sheet: Sheet) -> Any:
    """The rows as a pandas DataFrame; ImportError without pandas, an extra."""
    return extra("pandas").DataFrame(rows(sheet))


# --- HTML ----------------------------------------------------------------------------------------


def html(sheet: Sheet, units: str = "metric") -> str:
    """For notebooks and pages, without a style of its own: classes say what is bad and best."""
    first, *rest = sheet.caption.lines(units, 10_000)
    told = [each if isinstance(each, Sentence) else Sentence("", each)
            for each in sheet.verdicts(units)]  # fmt: skip
    parts = [_tag("h4", " ".join(first.split())), *(_tag("p", " ".join(x.split())) for x in rest)]
    parts += [_tag("p", each.plain(units), each.style) for each in told]
    for table in sheet.of("page", "short", units=units):
        parts += [_tag("p", each.plain(units)) for each in (table.title,) if each]
        parts += [html_table(table, units)] if table.columns else []
        parts += [_tag("p", note.plain(units)) for note in table.notes]
    parts += [_tag("p", note.plain(units)) for note in sheet.notes]
    return "<div>" + "\n".join(parts) + "</div>"


def html_table(table: Listing, units: str = "metric") -> str:
    """The first rows of a table; `...` where there are more."""
    page = Page(units, everything=table.whole or table.fit)
    count = len(table) if page.most is None else min(len(table), page.most)
    order = table.first if len(table.first) and count < len(table) else range(len(table))
    heads = "".join(_tag("th", column.name) for column in table.columns)
    best = [_best(column) for column in table.columns]
    lines = [heads]
    for row in list(order)[:count]:
        cells = [cell(column, row, page) for column in table.columns]
        kinds = [" ".join(filter(None, (each.style, "best" * (row == top))))
                 for each, top in zip(cells, best, strict=True)]  # fmt: skip
        lines.append("".join(map(_tag, repeat("td"), (each.text for each in cells), kinds)))
    lines += [_tag("td", f"... {len(table) - count} more")] if count < len(table) else []
    return "<table>" + "\n".join(f"<tr>{line}</tr>" for line in lines) + "</table>"


def _best(column: Column) -> int:
    """The row that is best; -1 where nothing says which way is good."""
    if not column.better:
        return -1
    numbers = [np.nan if v is None or isinstance(v, str) or callable(v) else v
               for v in column.values]  # fmt: skip
    values = np.array(numbers, float)
    if np.isnan(values).all():
        return -1
    return int((np.nanargmax if column.better == "high" else np.nanargmin)(values))


def _tag(name: str, words: str, kind: str = "") -> str:
    given = f' class="{kind}"' if kind else ""
    return f"<{name}{given}>{markup.escape(words)}</{name}>"
