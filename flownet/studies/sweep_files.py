"""A finished table with commas as Parquet, NetCDF or JSON, some thousand rows at a time."""

from __future__ import annotations

import csv
import errno
import importlib
import itertools
import json
from collections.abc import Callable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any, BinaryIO

import numpy as np

from flownet.enclosure.values import objects
from flownet.results.tables import Field
from flownet.schema import atomic
from flownet.schema.arrays import Array
from flownet.schema.errors import CannotWrite
from flownet.studies import sweep_stream

PIECE_ROWS = 20_000  # of a piece
NEEDS = {".csv": "", ".json": "", ".parquet": "pyarrow", ".nc": "netCDF4"}
Pieces = Iterator[Mapping[str, Array]]


def needed(target: Path, libraries: Mapping[str, str] = NEEDS) -> None:
    """ImportError where a library is missing that the suffix takes."""
    name = libraries[target.suffix.lower()]
    try:
        if name:
            importlib.import_module(name)
    except ImportError:
        raise ImportError(
            f"{target}: needs {name}, which is not installed; "
            'python -m pip install "flownet-enclosure[frames]", or write .csv'
        ) from None


def converted(
    table: Path, target: Path, columns: Sequence[Field], rows: int, about: Mapping[str, Any]
) -> None:
    """Write what a table holds to a file of another form, at one stroke; CannotWrite."""
    with atomic.replacing(target, hint=sweep_stream.resuming(target, rows)) as beside:
        found = _counted(pieces(table, columns), rows, target)
        _FORMS[target.suffix.lower()](beside, found, columns, rows, about)


def pieces(table: Path, columns: Sequence[Field]) -> Pieces:
    """Fields by their heading, some thousand rows at a time; numbers in its unit."""
    with open(table, newline="", encoding="utf-8") as file:
        file.readline()  # the remark
        reader = csv.reader(file)
        next(reader)
        while rows := list(itertools.islice(reader, PIECE_ROWS)):
            cells = zip(columns, zip(*rows, strict=True), strict=True)
            yield {column.key: _column(column, texts) for column, texts in cells}


def _counted(found: Pieces, rows: int, target: Path) -> Pieces:
    """The same; at the end CannotWrite unless it was so many rows."""
    count = 0
    for piece in found:
        count += len(next(iter(piece.values())))
        yield piece
    if count != rows:
        raise CannotWrite(f"{target}: cannot be written: {count} rows of {rows} were read back")


def _column(column: Field, texts: Sequence[str]) -> Array:
    if column.quantity is None:
        return objects(texts)
    return np.array([float(text) if text else np.nan for text in texts])


def _parquet(
    path: Path, found: Pieces, columns: Sequence[Field], rows: int, about: Mapping[str, Any]
) -> None:
    with open(path, "wb") as file:
        parquet(file, found, columns, about)


def parquet(
    file: BinaryIO, found: Pieces, columns: Sequence[Field], about: Mapping[str, Any]
) -> None:
    """Pieces of a table as Parquet: numbers as float64, words as text."""
    import pyarrow as pa  # noqa: PLC0415 - an extra
    import pyarrow.parquet as pq  # noqa: PLC0415

    fields = [pa.field(c.key, pa.string() if c.quantity is None else pa.float64()) for c in columns]
    schema = pa.schema(fields, {"flownet": json.dumps(about), "source": _source(about)})
    with pq.ParquetWriter(file, schema) as writer:
        for piece in found:
            arrays = [pa.array(piece[field.name], field.type, from_pandas=True) for field in fields]
            writer.write_table(pa.Table.from_arrays(arrays, schema=schema))


def _netcdf(
    path: Path, found: Pieces, columns: Sequence[Field], rows: int, about: Mapping[str, Any]
) -> None:
    import netCDF4  # noqa: PLC0415 - an extra

    try:
        _fill(netCDF4.Dataset, path, found, columns, rows, about)
    except RuntimeError as error:  # the library keeps the reason of the system to itself
        raise OSError(errno.ENOSPC, f"{error}, as with a full disk") from error


def _fill(
    dataset: Any, path: Path, found: Pieces, columns: Sequence[Field], rows: int,
    about: Mapping[str, Any],
) -> None:  # fmt: skip
    with dataset(path, "w") as data:
        data.setncatts({"flownet": json.dumps(about), "source": _source(about)})
        data.createDimension("row", rows)
        made = {c.key: data.createVariable(c.key, str if c.quantity is None else "f8", ("row",))
                for c in columns}  # fmt: skip
        for column in columns:
            if column.quantity is not None and column.quantity.json.unit:
                made[column.key].units = column.quantity.json.unit
        start = 0
        for piece in found:
            for name, values in piece.items():
                made[name][start : start + len(values)] = values
            start += len(values)


def _source(about: Mapping[str, Any]) -> str:
    return f"written by flownet {about['flownet']}"


def _json(
    path: Path, found: Pieces, columns: Sequence[Field], rows: int, about: Mapping[str, Any]
) -> None:
    head = json.dumps(about, ensure_ascii=False)
    with open(path, "w", encoding="utf-8") as file:
        file.write(f'{head[:-1]}, "rows": [')
        between = "\n"
        for piece in found:
            for values in zip(*(v.tolist() for v in piece.values()), strict=True):
                row = dict(zip(piece, map(_missing, values), strict=True))
                file.write(between + json.dumps(row, ensure_ascii=False, allow_nan=False))
                between = ",\n"
        file.write("\n]}\n")


def _missing(value: Any) -> Any:
    return None if value == "" or (isinstance(value, float) and np.isnan(value)) else value


_FORMS: Mapping[str, Callable[..., None]] = {
    ".parquet": _parquet, ".nc": _netcdf, ".json": _json,
}  # fmt: skip
