"""Readings of a test: a file with commas, or rows; every fault of them at once, by its line."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from itertools import zip_longest
from os import PathLike
from pathlib import Path
from typing import Any, BinaryIO, NamedTuple, cast

import numpy as np

from flownet.enclosure.enclosure import Enclosure
from flownet.pages.page import counted
from flownet.pages.sheet import Column
from flownet.results.batch import SolutionBatch
from flownet.results.tables import SITE
from flownet.schema import argument_checks
from flownet.schema import quantities as q
from flownet.schema.arrays import Array, Integers
from flownet.schema.errors import CaseError, placed
from flownet.schema.fault import Fault, cut, did_you_mean, listed, nearest
from flownet.schema.fields import TINY
from flownet.schema.quantities import Quantity
from flownet.schema.text_file import csv_lines, decoded, read_text
from flownet.schema.units import parse
from flownet.studies.samples import GIVEN
from flownet.studies.sweep_rows import results_of
from flownet.studies.tolerances import difference

WANTED = ("point", "reading", "reading_unit", "uncertainty")
NEEDS = f"the columns are {', '.join(WANTED)}; others are kept"
STREAM = "standard input"
FAULTS_AT_ONCE = 50  # what follows so many is not looked at
USUALLY_READ = {  # what is read on an enclosure -> its uncertainty, SI and a share, both together:
    # common practice, no source
    "temperature": (1.0, 0.0), "outlet_temperature": (1.0, 0.0), "air_temperature": (1.0, 0.0),
    "drop": (1.0, 0.02), "rise": (1.0, 0.02), "pressure": (1.0, 0.02), "velocity": (0.05, 0.05),
    "volume_flow": (0.0003, 0.05), "speed_ratio": (0.0, 0.01), "fan_power": (0.5, 0.02),
}  # fmt: skip
Cells = Mapping[Any, Any]  # by column; None: what stands beyond the last, as of csv.DictReader
Source = str | PathLike[str] | BinaryIO | Sequence[Cells]
Known = Mapping[str, tuple[Quantity | None, float]]  # result path -> what it is, its value [SI]


class Readings(NamedTuple):
    """All values of a test, (readings,) each, SI."""

    source: str  # the name of the file
    points: Sequence[str]  # result paths
    kinds: Sequence[Quantity]
    values: Array
    wide: Array  # uncertainty: 95 of 100 lie within, a difference
    more: Sequence[Cells]  # the other columns, as they are
    left_out: int  # rows without a value

    def take(self, order: Integers) -> Readings:
        """Some of them, in this order."""
        points, kinds, more = ([column[i] for i in order]
                               for column in (self.points, self.kinds, self.more))  # fmt: skip
        return self._replace(points=points, kinds=kinds, values=self.values[order],
                             wide=self.wide[order], more=more)  # fmt: skip

    @property
    def told(self) -> str:
        """`8 readings of readings.csv, 3 rows without one left out`."""
        left = f", {counted(self.left_out, 'row')} without one left out" * bool(self.left_out)
        return f"{counted(len(self.points), 'reading')} of {self.source}{left}"


def known_results(batch: SolutionBatch) -> dict[str, tuple[Quantity | None, float]]:
    """Every result of one variant that can be measured; NaN of words."""
    found = {path: quantity for path, quantity in results_of(batch)
             if path.rpartition(".")[2] not in GIVEN}  # fmt: skip
    found |= {f"site.{field.name}": field.quantity for field in SITE}
    return {path: (quantity, float(batch[path][0]) if quantity is not None else math.nan)
            for path, quantity in found.items()}  # fmt: skip


def read(source: Source, case: Enclosure, known: Known, units: str = "metric") -> Readings:
    """Readings of a file, or of rows with the same keys, whose blanks are None, "" or NaN.

    `known`: every result. CaseError with all faults, by line, in these units.
    """
    faults: list[Fault] = []
    made: dict[str, Sequence[Any]] = {}
    places: dict[str, str] = {}
    left_out = 0
    name, rows = _rows(source)
    with placed(faults=faults):
        for place, cells in rows:
            if len(faults) >= FAULTS_AT_ONCE:
                raise CaseError(f"{place}: this and what follows is not looked at")
            if _blank(cells.get("reading")):
                left_out += 1
                continue
            with placed(place, faults=faults):
                point, *one = _reading(cells, case, known, units)
                if (before := places.setdefault(point, place)) != place:
                    hint = "keep one, or their mean with its uncertainty"
                    raise CaseError(Fault(point, f"stands in {before} already", hint=hint))
                made[point] = one
    if not made and not faults:
        none = f"no reading in {counted(left_out, 'row')}" if left_out else "no rows"
        faults.append(Fault("", none, hint=NEEDS))
    if faults:
        raise CaseError([fault.at(name) for fault in faults])
    kinds, values, wide, more = zip(*made.values(), strict=True)
    return Readings(name, [*made], kinds, np.array(values), np.array(wide), more, left_out)


def _rows(source: Source) -> tuple[str, Iterator[tuple[str, Cells]]]:
    """The name of what is read, and its rows by their place, as they stand there."""
    if isinstance(source, (str, PathLike)):
        path = Path(source)
        if not path.is_file():
            hint = did_you_mean(nearest(path.name, [x.name for x in path.parent.glob("*.csv")]))
            what = "is a folder, no file" if path.is_dir() else "no such file"
            raise CaseError(Fault(str(path), what, hint=hint))
        return path.name, _of_text(read_text(path, path.name, f"; {NEEDS}"))
    if hasattr(source, "read"):
        return STREAM, _of_text(decoded(cast("BinaryIO", source).read(), STREAM, f"; {NEEDS}"))
    argument_checks.check("readings", source, Sequence, "the path of a file, or a list of rows")
    for each in source:
        argument_checks.check("readings", each, Mapping, f"a row is a mapping: {NEEDS}")
    return "readings", ((f"row {number}", each) for number, each in enumerate(source, 1))


def _of_text(text: str) -> Iterator[tuple[str, Cells]]:
    """Rows below a line of headings, remarks passed over."""
    heads: list[str] = []
    for number, cells in (line for line in csv_lines(text) if not line.remark):
        place = f"line {number}"
        if not heads:
            with placed(place):
                heads = _headings(cells)
            continue
        beyond = {None: cells[len(heads) :]} if len(cells) > len(heads) else {}
        yield place, dict(zip_longest(heads, cells[: len(heads)], fillvalue="")) | beyond


def _headings(cells: Sequence[str]) -> list[str]:
    """Names of columns, those that are wanted in small letters; CaseError with every fault."""
    heads = [cell.lower() if cell.lower() in WANTED else cell or f"column {number}"
             for number, cell in enumerate(cells, 1)]  # fmt: skip
    others = [head for head in heads if head not in WANTED]
    faults = [Fault("", f'no column "{name}"', hint=did_you_mean(nearest(name, others), NEEDS))
              for name in WANTED if name not in heads]  # fmt: skip
    faults += [Fault("", f'column "{name}" stands twice')
               for name, count in Counter(heads).items() if count > 1]  # fmt: skip
    if faults:
        raise CaseError(faults)
    return heads


def _blank(value: Any) -> bool:
    """No value in a cell, or of a row in Python."""
    return value is None or not str(value).strip() \
        or (isinstance(value, float) and math.isnan(value))  # fmt: skip


def _reading(
    cells: Cells, case: Enclosure, known: Known, units: str
) -> tuple[str, Quantity, float, float, Cells]:  # fmt: skip
    """Point, quantity, value, uncertainty and the rest of a row; CaseError with every fault."""
    if None in cells:
        columns = len(cells) - 1
        counts = f"{columns + len(cells[None])} cells under {columns} columns"
        raise CaseError(Fault("", counts, hint="numbers take a point, not a comma"))
    point, unit = (str(cells.get(key) or "").strip() for key in ("point", "reading_unit"))
    quantity = _quantity(point, known)
    rated = _rated(point, unit, case)
    own = q.SPEED if rated else quantity
    if not unit and own.metric.unit:
        such = own.wanted if units == "metric" else f"{own.article} is wanted, in {own.us.unit}"
        raise CaseError(Fault("reading_unit", f"is blank; {such}"))
    faults, found = list[Fault](), list[float]()
    apart = q.DIFFERENCE if own == q.TEMPERATURE else own
    for key, kind in (("reading", own), ("uncertainty", apart)):
        with placed(key, faults=faults):
            if _blank(raw := cells.get(key)):
                raise CaseError("is blank; in the unit of the reading, 95 of 100 lie within")
            found.append(parse(f"{raw} {unit}".strip(), kind))
            if key == "uncertainty" and found[-1] < TINY:
                raise CaseError(Fault("", "must be above 0", cut(str(raw))))
    if faults:
        raise CaseError(faults)
    value, wide = np.array(found) / (rated or 1.0)
    return point, quantity, value, wide, {k: v for k, v in cells.items() if k not in WANTED}


def _quantity(point: str, known: Known) -> Quantity:
    """What a result is; CaseError where it is none, or has no value here."""
    if not point:
        raise CaseError("point: is blank; a result path is wanted, such as total.volume_flow")
    if point not in known:
        given = point.rpartition(".")[2] in GIVEN
        what = "is given in the case, not found" if given else "no such result"
        raise CaseError(Fault(cut(point), what, hint=_meant(point, known)))
    quantity, value = known[point]
    if quantity is None:
        raise CaseError(f"{point}: is a word, no number")
    if not math.isfinite(value):
        raise CaseError(f"{point}: has no value here, so nothing can be read there")
    return quantity


def _meant(point: str, known: Known) -> str:
    """The result that was meant; where only its thing is none, the things there are."""
    kind, _, rest = point.partition(".")
    name, _, field = rest.rpartition(".")
    names = [path[len(kind) + 1 : -len(field) - 1] for path in known
             if name and path.startswith(f"{kind}.") and path.endswith(f".{field}")]  # fmt: skip
    if names:
        near = nearest(name, names)
        there = f"there are {listed([f'{kind}.{each}' for each in names], 8)}"
        return did_you_mean(f"{kind}.{near}.{field}" if near else "", there)
    return did_you_mean("site.temperature" if point == "outside.temperature" else
                        nearest(point, known))  # fmt: skip


def _rated(point: str, unit: str, case: Enclosure) -> float:
    """Rated speed of a fan whose speed ratio is read in rpm [1/s]; 0 of all else."""
    name = point.removeprefix("fan.").removesuffix(".speed_ratio")
    if unit != "rpm" or point != f"fan.{name}.speed_ratio":
        return 0.0
    rated = case.rating(case.fans[name]).rated_speed
    return rated if math.isfinite(rated) else 0.0


def data_columns(found: Readings, predicted: Array, *more: Column) -> list[Column]:
    """Readings beside predictions as data; at the end what the file has that nothing reads."""
    apart = [*map(difference, found.kinds)]
    made = [
        Column("point", found.points), Column("reading", found.values, found.kinds),
        Column("uncertainty", found.wide, apart), Column("predicted", predicted, found.kinds),
        Column("difference", found.values - predicted, apart, form="+"),
        Column("unit", [kind.json.unit for kind in found.kinds]), *more,
    ]  # fmt: skip
    names = dict.fromkeys(name for row in found.more for name in row)
    taken = {column.name for column in made}
    return made + [Column(f"{name}{'_in_file' * (name in taken)}",
                          [row.get(name) for row in found.more]) for name in names]  # fmt: skip
