"""A table as CSV and as Parquet, tables as a workbook with a page for each.

CSV and Parquet have the units of JSON, a workbook those that people read. All digits are kept.
"""

from __future__ import annotations

import zipfile
from collections.abc import Iterable, Iterator
from contextlib import suppress
from io import BytesIO
from itertools import repeat
from pathlib import Path
from typing import Any

import numpy as np

from flownet import __version__
from flownet.pages import json, render
from flownet.pages.sheet import Listing
from flownet.results.tables import Field
from flownet.schema import atomic
from flownet.schema.errors import CannotWrite
from flownet.schema.quantities import RATIO, Quantity
from flownet.schema.shown import FORMULA, Shown
from flownet.studies.sweep_files import parquet

KEPT_SUFFIXES = (".toml", ".csv")  # cases, catalogues, curves of fans
WIDEST_COLUMN = 60  # letters of a column of a workbook
NUMBER_WIDTH = 10  # of one of numbers, at least


def check(path: Path, force: bool = False) -> None:
    """CannotWrite where a file stands that is not ours; one that is named like an input, or a link
    to such a one, is not replaced with `force` either."""
    if path.is_file() and not ours(path):
        kept = not {path.suffix.lower(), path.resolve().suffix.lower()}.isdisjoint(KEPT_SUFFIXES)
        if kept or not force:
            hint = ", or replace it with --force (in Python force=True)" * (not kept)
            raise CannotWrite(f"{path}: was not written by flownet and stays as it is; "
                              f"name another file{hint}")  # fmt: skip


def ours(path: Path) -> bool:
    """Whether a file is empty, or one that flownet wrote."""
    if path.suffix.lower() == ".xlsx" and path.stat().st_size:
        with suppress(zipfile.BadZipFile, KeyError), zipfile.ZipFile(path) as archive:
            return render.MARK.encode() in archive.read("docProps/core.xml")
        return False
    return atomic.carries(path, render.MARK, json.JSON_MARK)


def fields(table: Listing) -> list[Field]:
    """The columns of its records; numbers whose quantity changes with the row are bare."""
    return [Field(c.name, c.quantity if isinstance(c.quantity, Quantity | None) else RATIO)
            for c in table.columns]  # fmt: skip


def csv(table: Listing) -> bytes:
    """With units in its headings and our mark in a first line."""
    return render.table_csv(render.flat_records(table), __version__).encode()


def frame(table: Listing) -> bytes:
    """Parquet: numbers as float64, all else as text."""
    rows, stream, piece = render.flat_records(table), BytesIO(), {}
    for field in (kept := fields(table)):
        values = [row[field.key] for row in rows]
        if field.quantity is None:
            values = [None if value is None else str(value) for value in values]
        piece[field.key] = np.array(values, object if field.quantity is None else float)
    parquet(stream, iter([piece]), kept, {"flownet": __version__, "table": table.name})
    return stream.getvalue()


# --- workbooks -----------------------------------------------------------------------------------


def book(tables: Iterable[Listing], units: str) -> bytes:
    """A workbook: one page a table, its headings stand still, no cell runs."""
    import openpyxl  # noqa: PLC0415 - an extra
    from openpyxl.styles import Font  # noqa: PLC0415 - likewise
    from openpyxl.utils import get_column_letter  # noqa: PLC0415 - likewise

    made, stream = openpyxl.Workbook(), BytesIO()
    made.remove(made.active)
    made.properties.creator = made.properties.description = f"{render.MARK}{__version__}"
    for table in tables:
        page = made.create_sheet(table.name)
        for number, (heading, values, shown) in enumerate(_read(table, units), 1):
            for row, value in enumerate((heading, *values), 1):
                _fill(page.cell(row, number), value, shown)
            page.cell(1, number).font = Font(bold=True)
            words = [len(value) for value in values if isinstance(value, str)]
            widest = min(max(NUMBER_WIDTH, len(heading), *words), WIDEST_COLUMN)
            page.column_dimensions[get_column_letter(number)].width = widest + 2
        page.freeze_panes = "A2"
    made.save(stream)
    return stream.getvalue()


def _read(table: Listing, units: str) -> Iterator[tuple[str, list[Any], Shown | None]]:
    """Heading, values and digits of every column; where each row has a quantity of its own, the
    column of units behind it is that of these."""
    behind: list[Any] = []
    for column in table.columns:
        name, quantity = column.name, column.quantity
        name = name if "." in name else name.replace("_", " ")
        if quantity is None:
            own = name.partition(".")[0].endswith("unit") and behind
            yield name, own or [render.flat(value) for value in column.values], None
        elif isinstance(quantity, Quantity):
            shown = quantity.shown(units)
            heading = f"{name} [{shown.unit}]" if shown.unit else name
            yield heading, list(map(_number, repeat(shown), column.values)), shown
        else:
            kinds = [each.shown(units) for each in quantity]
            behind = [kind.unit for kind in kinds]
            yield name, list(map(_number, kinds, column.values)), None


def _number(shown: Shown, value: Any) -> float | None:
    return None if value is None or not np.isfinite(value) else float(shown.of(value)) + 0.0


def _fill(cell: Any, value: Any, shown: Shown | None) -> None:
    """Numbers as numbers with the decimals of their quantity; words as words, whatever they say."""
    if isinstance(value, str):
        cell.value = "".join(sign if sign.isprintable() else " " for sign in value)
        cell.data_type, cell.quotePrefix = "s", value.lstrip().startswith(FORMULA)
        return
    cell.value = value
    if shown is not None and shown.digits.endswith("f"):
        decimals = int(shown.digits.strip(",.f"))
        cell.number_format = "0." + "0" * decimals if decimals else "0"
