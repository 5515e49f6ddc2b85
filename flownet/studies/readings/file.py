"""Readings of a test: a file with commas, or rows; every fault of them at once, by its line."""

from __future__ import annotations

import csv
import math
from collections.abc import Iterator, Mapping, Sequence
from os import PathLike
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np

from flownet.enclosure.enclosure import Enclosure
from flownet.pages.sheet import Column
from flownet.results.batch import SolutionBatch
from flownet.results.tables import SITE
from flownet.schema import argument_checks
from flownet.schema import quantities as q
from flownet.schema.arrays import Array
from flownet.schema.errors import CaseError, placed
from flownet.schema.fault import Fault, cut, did_you_mean, nearest
from flownet.schema.quantities import Quantity
from flownet.schema.text_file import read_text
from flownet.schema.units import parse
from flownet.studies.samples import GIVEN
from flownet.studies.sweep_rows import results_of
from flownet.studies.tolerances import difference

WANTED = ("point", "reading", "reading_unit", "uncertainty")
NEEDS = f"the columns are {', '.join(WANTED)}; others are kept"
SIGNS = {";": '";"', "\t": "tabs", "|": '"|"'}
Source = str | PathLike[str] | Sequence[Mapping[str, Any]]
Known = Mapping[str, tuple[Quantity | None, float]]


class Reading(NamedTuple):
    """One value of a test, in SI."""

    point: str  # result path
    value: float
    uncertainty: float  # 95 of 100 lie within, a difference
    quantity: Quantity
    unit: str  # as it was written
    place: str  # `line 3`
    more: Mapping[str, Any]  # the other columns, as they are


class Readings(NamedTuple):
    """All values of a test, and how many rows have none."""

    source: str  # the name of the file
    rows: tuple[Reading, ...]
    left_out: int

    @property
    def points(self) -> list[str]:
        """Their result paths."""
        return [row.point for row in self.rows]

    @property
    def told(self) -> str:
        """`8 readings of readings.csv, 3 rows without one left out`."""
        count = f"{len(self.rows)} reading{'s' * (len(self.rows) != 1)} of {self.source}"
        left = f", {self.left_out} row{'s' * (self.left_out != 1)} without one left out"
        return count + left * bool(self.left_out)


class _Row(NamedTuple):
    place: str
    cells: Mapping[str, Any]


def known_results(batch: SolutionBatch) -> dict[str, tuple[Quantity | None, float]]:
    """Every result of one variant that can be measured: what it is, and its value [SI]."""
    found = {path: quantity for path, quantity in results_of(batch)
             if path.rpartition(".")[2] not in GIVEN}  # fmt: skip
    found |= {f"site.{field.name}": field.quantity for field in SITE}
    return {path: (quantity, float(batch[path][0]) if quantity is not None else math.nan)
            for path, quantity in found.items()}  # fmt: skip


def read(source: Source, case: Enclosure, known: Known) -> Readings:
    """Readings of a file, or of rows with the same keys, whose blanks are None, "" or NaN.

    `known`: every result with its quantity and value. CaseError with all faults, by line.
    """
    faults: list[Fault] = []
    name, rows = _rows(source, faults)
    made: dict[str, Reading] = {}
    left_out = 0
    for row in rows:
        if _blank(row.cells.get("reading")):
            left_out += 1
            continue
        with placed(row.place, faults=faults):
            one = _reading(row, case, known)
            if one.point in made:
                first = made[one.point].place
                hint = "keep one, or their mean with its uncertainty"
                raise CaseError(Fault(one.point, f"stands in {first} already", hint=hint))
            made[one.point] = one
    if not made and not faults:
        none = f"no reading in {left_out} row{'s' * (left_out != 1)}" if left_out else "no rows"
        faults.append(Fault("", none, hint=NEEDS))
    if faults:
        raise CaseError([fault.at(name) for fault in faults])
    return Readings(name, tuple(made.values()), left_out)


def _rows(source: Source, faults: list[Fault]) -> tuple[str, Iterator[_Row]]:
    """The name of what is read, and its rows as they stand there."""
    if isinstance(source, (str, PathLike)):
        path = Path(source)
        if not path.is_file():
            hint = did_you_mean(nearest(path.name, [x.name for x in path.parent.glob("*.csv")]))
            raise CaseError(Fault(str(path), "no such file", hint=hint))
        return path.name, _of_text(read_text(path, path.name, f"; {NEEDS}"), faults)
    argument_checks.check("readings", source, Sequence, "the path of a file, or a list of rows")
    for each in source:
        argument_checks.check("readings", each, Mapping, f"a row is a mapping: {NEEDS}")
    return "readings", (_Row(f"row {number}", each) for number, each in enumerate(source, 1))


def _of_text(text: str, faults: list[Fault]) -> Iterator[_Row]:
    """Rows below a line of headings; blank lines and remarks (#) are passed over."""
    lines = ["\n" if line.lstrip(' "').startswith("#") else line
             for line in text.splitlines(keepends=True)]  # fmt: skip
    reader = csv.reader(lines, strict=True)
    heads: list[str] = []
    try:
        for raw in reader:
            cells, place = [cell.strip() for cell in raw], f"line {reader.line_num}"
            while cells and not cells[-1]:
                cells.pop()
            if not any(cells):
                continue
            if not heads:
                heads = [cell.lower() for cell in cells]
                wrong = list(_headings(heads))
                faults += [Fault(place, *each) for each in wrong]
                if wrong:
                    return
            elif len(cells) > len(heads):
                counts = f"{len(cells)} cells under {len(heads)} columns"
                faults.append(Fault(place, counts, hint="numbers take a point, not a comma"))
            else:
                yield _Row(place, dict(zip(heads, cells + [""] * len(heads), strict=False)))
    except csv.Error as error:
        faults.append(Fault(f"line {reader.line_num}", str(error)))


def _headings(heads: Sequence[str]) -> Iterator[tuple[str, str, str]]:
    """What is wrong with the line of headings: rule, value, hint."""
    sign = next((SIGNS[s] for s in SIGNS if len(heads) == 1 and s in heads[0]), "")
    if sign:
        hint = "export with commas between columns and points in numbers"
        yield f"columns are separated by {sign}", "", hint
        return
    for name in WANTED:
        if name not in heads:
            close = did_you_mean(nearest(name, [h for h in heads if h not in WANTED]), NEEDS)
            yield f'no column "{name}"', "", close
        elif heads.count(name) > 1:
            yield f'column "{name}" stands twice', "", ""


def _blank(value: Any) -> bool:
    """No value in a cell, or of a row in Python."""
    return value is None or (isinstance(value, float) and math.isnan(value)) \
        or (isinstance(value, str) and not value.strip())  # fmt: skip


def _reading(row: _Row, case: Enclosure, known: Known) -> Reading:
    """One row that has a reading; CaseError with every fault of it."""
    faults: list[Fault] = []
    point, unit = (str(row.cells.get(key) or "").strip() for key in ("point", "reading_unit"))
    quantity, value, wide = None, math.nan, math.nan
    with placed(faults=faults):
        quantity = _quantity(point, known)
    turned = _turned(point, unit, case)
    own = q.SPEED if turned else quantity
    if own is not None and not unit and own.metric.unit:
        faults.append(Fault("reading_unit", f"is blank; {own.wanted}"))
    elif own is not None:
        with placed("reading", faults=faults):
            value = parse(f"{row.cells['reading']} {unit}".strip(), own) / (turned or 1.0)
        with placed("uncertainty", faults=faults):
            wide = _uncertainty(row.cells.get("uncertainty"), unit, own) / (turned or 1.0)
    if faults:
        raise CaseError(list(dict.fromkeys(faults)))
    assert quantity is not None
    more = {key: cell for key, cell in row.cells.items() if key not in WANTED}
    return Reading(point, value, wide, quantity, unit, row.place, more)


def _uncertainty(raw: Any, unit: str, quantity: Quantity) -> float:
    """What 95 of 100 lie within, as a difference in the unit of the reading."""
    if _blank(raw):
        raise CaseError("is blank; in the unit of the reading, 95 of 100 lie within")
    same = q.DIFFERENCE if quantity == q.TEMPERATURE else quantity
    found = parse(f"{raw} {unit}".strip(), same)
    if found <= 0:
        raise CaseError(Fault("", "must be above 0", cut(str(raw))))
    return found


def _quantity(point: str, known: Known) -> Quantity:
    """What a result is; CaseError where it is none, or has no value here."""
    if not point:
        raise CaseError("point: is blank; a result path is wanted, such as total.volume_flow")
    if point not in known:
        meant = "site.temperature" if point == "outside.temperature" else nearest(point, known)
        given = point.rpartition(".")[2] in GIVEN
        what = "is given in the case, not found" if given else "no such result"
        raise CaseError(Fault(point, what, hint=did_you_mean(meant)))
    quantity, value = known[point]
    if quantity is None:
        raise CaseError(f"{point}: is a word, no number")
    if not math.isfinite(value):
        raise CaseError(f"{point}: has no value here, so nothing can be read there")
    return quantity


def _turned(point: str, unit: str, case: Enclosure) -> float:
    """Rated speed of a fan whose speed ratio is read in rpm [1/s]; 0 of all else."""
    kind, _, rest = point.partition(".")
    name, _, field = rest.rpartition(".")
    if (kind, field, unit) != ("fan", "speed_ratio", "rpm") or name not in case.fans:
        return 0.0
    rated = case.rating(case.fans[name]).rated_speed
    return rated if math.isfinite(rated) else 0.0


def data_columns(rows: Sequence[Reading], predicted: Array, *more: Column) -> list[Column]:
    """Readings beside predictions as data; at the end what the file has that nothing reads."""
    kinds = [row.quantity for row in rows]
    apart, read = [difference(kind) for kind in kinds], np.array([row.value for row in rows])
    made = [
        Column("point", [row.point for row in rows]), Column("reading", read, kinds),
        Column("uncertainty", [row.uncertainty for row in rows], apart),
        Column("predicted", predicted, kinds),
        Column("difference", read - predicted, apart, form="+"),
        Column("unit", [kind.json.unit for kind in kinds]), *more,
    ]  # fmt: skip
    known, names = {column.name for column in made}, dict.fromkeys(k for r in rows for k in r.more)
    return made + [Column(name + "_in_file" * (name in known), [row.more.get(name) for row in rows])
                   for name in names]  # fmt: skip
