"""The tables of a sheet as files: CSV or Parquet, one a table, or a workbook with a page for each.

CSV and Parquet have the units of JSON, a workbook those that people read; with US units CSV and the
workbook have these. All digits of a number are kept.
"""

from __future__ import annotations

import re
import zipfile
from collections.abc import Iterable, Iterator, Sequence
from contextlib import suppress
from io import BytesIO
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np

from flownet import __version__
from flownet.enclosure.values import objects
from flownet.pages import json, render
from flownet.pages.sheet import Column, Listing, Sheet, said
from flownet.results.tables import Field
from flownet.schema import atomic
from flownet.schema.quantities import RATIO, Quantity
from flownet.schema.shown import FORMULA, Shown
from flownet.studies.sweep_files import needed, parquet

BOOK, TABLE, FRAMES = ".xlsx", ".csv", ".parquet"
LIBRARIES = {TABLE: "", FRAMES: "pyarrow", BOOK: "openpyxl", ".json": ""}
LONGEST_NAME = 31  # letters of the name of a page that every spreadsheet takes
WIDEST_COLUMN = 60  # letters of a column of a workbook
_REFUSED = re.compile(r"[\[\]:*?/\\\x00-\x1f]")  # in names of pages: ECMA-376, part 1, 18.2.19


class Written(NamedTuple):
    """A column as a file has it; None where there is no value."""

    heading: str
    values: list[Any]
    shown: Shown | None = None  # of numbers


def folder_of(path: Path) -> Path | None:
    """The folder of tables that a path stands for; None where it is one file."""
    return path.with_suffix("") if path.suffix.lower() in (TABLE, FRAMES) else None


def contents(sheet: Sheet, path: Path, units: str) -> dict[Path, bytes]:
    """Every file that a sheet becomes, by the suffix of a path; tables without a row are left out.

    ImportError where a library is missing that the suffix takes.
    """
    suffix, folder = path.suffix.lower(), folder_of(path)
    needed(path, LIBRARIES)
    units = "metric" if suffix == FRAMES else units
    tables = [table for table in sheet.of("rows", units=units) if len(table)]
    if suffix == BOOK:
        return {path: _book(tables, units)}
    if folder is None:
        return {path: render.json(sheet, {}).encode()}
    if suffix == FRAMES:
        return {folder / f"{table.name}{FRAMES}": _frame(table) for table in tables}
    return {folder / f"{table.name}{TABLE}": csv(table, units).encode() for table in tables}


def ours(path: Path) -> bool:
    """Whether a file is empty, or one that flownet wrote."""
    if path.suffix.lower() == BOOK and path.stat().st_size:
        with suppress(zipfile.BadZipFile, KeyError), zipfile.ZipFile(path) as archive:
            return render.MARK.encode() in archive.read("docProps/core.xml")
        return False
    return atomic.carries(path, render.MARK, json.JSON_MARK)


# --- columns -------------------------------------------------------------------------------------


def columns(table: Listing, units: str = "metric", *, book: bool = False) -> list[Written]:
    """All columns of a table; one with a quantity a row is followed by its units."""
    found: dict[str, Written] = {}
    for column in table.columns:
        for each in _written(column, units, book):
            found.setdefault(each.heading, each)
    return list(found.values())


def _written(column: Column, units: str, book: bool) -> Iterator[Written]:
    name = column.name.replace("_", " ") if book else column.name
    if column.quantity is None:
        yield Written(name, [_word(value, units) for value in column.values])
    elif isinstance(column.quantity, Quantity):
        shown = _shown(column.quantity, units, book)
        yield Written(_heading(name, shown.unit, book),
                      [_number(shown, value) for value in column.values], shown)  # fmt: skip
    else:
        kinds = [_shown(quantity, units, book) for quantity in column.quantity]
        numbers = list(map(_number, kinds, column.values))
        yield Written(name, numbers, Shown(""))
        told = [None if number is None else kind.unit
                for kind, number in zip(kinds, numbers, strict=True)]  # fmt: skip
        yield Written(f"{name} unit" if book else f"{name}_unit", told)


def _shown(quantity: Quantity, units: str, book: bool) -> Shown:
    return quantity.shown(units) if book or units == "us" else quantity.json


def _heading(name: str, unit: str, book: bool) -> str:
    """`volume flow [m3/h]` of a workbook, `volume_flow_m3_s` of data."""
    if not unit:
        return name
    return f"{name} [{unit}]" if book else f"{name}_{re.sub('[() ]', '', unit.replace('/', '_'))}"


def _word(value: Any, units: str) -> Any:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return said(value, units) or None if callable(value) else render.flat(value)


def _number(shown: Shown, value: Any) -> float | None:
    return None if value is None or not np.isfinite(value) else float(shown.of(value)) + 0.0


# --- forms ---------------------------------------------------------------------------------------


def csv(table: Listing, units: str) -> str:
    """A table with commas, units in its headings, and our mark in a first line."""
    every = columns(table, units)
    rows = zip(*(column.values for column in every), strict=True)
    heads = [column.heading for column in every]
    return render.table_csv([dict(zip(heads, row, strict=True)) for row in rows], __version__)


def _frame(table: Listing) -> bytes:
    every, stream = columns(table), BytesIO()
    fields = [Field(c.heading, None if c.shown is None else RATIO) for c in every]
    piece = {c.heading: objects(c.values) if c.shown is None else np.array(c.values, float)
             for c in every}  # fmt: skip
    parquet(stream, iter([piece]), fields, {"flownet": __version__, "table": table.name})
    return stream.getvalue()


def _book(tables: Sequence[Listing], units: str) -> bytes:
    """A workbook: one page a table, its headings stand still, no cell runs."""
    import openpyxl  # noqa: PLC0415 - an extra
    from openpyxl.styles import Font  # noqa: PLC0415 - likewise
    from openpyxl.utils import get_column_letter  # noqa: PLC0415 - likewise

    book, stream = openpyxl.Workbook(), BytesIO()
    book.remove(book.active)
    book.properties.creator = f"flownet {__version__}"
    book.properties.description = f"{render.MARK}{__version__}"
    for name, table in zip(page_names(t.name for t in tables), tables, strict=True):
        page = book.create_sheet(name)
        for number, column in enumerate(columns(table, units, book=True), 1):
            for row, value in enumerate((column.heading, *column.values), 1):
                _fill(page.cell(row, number), value, column.shown)
            page.cell(1, number).font = Font(bold=True)
            longest = max(len(column.heading), *(len(str(v)) for v in column.values)
                          if column.shown is None else (10,))  # fmt: skip
            page.column_dimensions[get_column_letter(number)].width = (
                min(longest, WIDEST_COLUMN) + 2
            )
        page.freeze_panes = "A2"
    book.save(stream)
    return stream.getvalue()


def _fill(cell: Any, value: Any, shown: Shown | None) -> None:
    """Numbers as numbers with the decimals of their quantity; words as words, whatever they say."""
    if value is None:
        return
    if isinstance(value, str):
        words = "".join(sign if sign.isprintable() else " " for sign in value)
        cell.value, cell.data_type = words, "s"
        cell.quotePrefix = words.lstrip().startswith(FORMULA)
        return
    cell.value = value
    if shown is not None and shown.digits.endswith("f"):
        decimals = int(shown.digits.strip(",.f"))
        cell.number_format = "0." + "0" * decimals if decimals else "0"


def page_names(names: Iterable[str]) -> list[str]:
    """Names of pages that differ, capitals aside, with signs that a spreadsheet takes."""
    found: dict[str, str] = {}
    for name in names:
        plain = _REFUSED.sub("-", name).strip("' ") or "table"
        made, count = plain[:LONGEST_NAME], 1
        while made.lower() in found:
            count += 1
            made = f"{plain[: LONGEST_NAME - len(str(count)) - 1]} {count}"
        found[made.lower()] = made
    return list(found.values())
