"""What a row of a sweep holds, and blocks of rows: solved, as arrays and as lines of text.

A row has the values that were varied, how the enclosure stands with them, and the results kept.
"""

from __future__ import annotations

import csv
import io
import json
import math
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass
from typing import Any

import numpy as np

from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.toml_text import as_text
from flownet.enclosure.values import objects
from flownet.judging.assessment import STATUSES, THERMAL, VOID, Assessment
from flownet.judging.voids import told
from flownet.results.batch import SolutionBatch
from flownet.results.solution import EXAMPLE, PREFIXES
from flownet.results.tables import OF_AIR, TOTALS, Field, Table
from flownet.schema import quantities as q
from flownet.schema.arrays import Array
from flownet.schema.component import KINDS
from flownet.schema.errors import CaseError
from flownet.schema.fault import Fault, did_you_mean, nearest
from flownet.schema.fields import NONE, Number, roles
from flownet.schema.quantities import Quantity
from flownet.schema.shown import sheet_cell
from flownet.solving.solve import BLOCK, Progress
from flownet.studies.designs import Axis, Design
from flownet.studies.outcome import margin_unit
from flownet.studies.runs import Outcomes, Run, apart, evaluate

KEEP = ("total.worst_margin", "total.volume_flow", "total.noise", "total.fan_power")
LARGEST_BLOCK = 8 * BLOCK  # rows of a block
BLOCK_NUMBERS = 8_000_000  # numbers of results in a block
TEN_DIGITS = "%.10g"
Arrays = dict[str, Array]


STANDING = (
    Field("status"), Field("decides"), Field("limit"), Field("margin", q.RATIO),
    Field("margin_unit"),
    Field("hottest_air", q.TEMPERATURE), Field("hottest_air_in"),
)  # fmt: skip
WHY = Field("why")


@dataclass(frozen=True)
class SweepLayout:
    """The columns of a sweep, and how many rows are solved at a time."""

    axes: tuple[Field, ...]
    kept: tuple[Field, ...]
    rows: int  # of a block
    asked: bool = False  # whether the results kept are those that were named

    @property
    def columns(self) -> tuple[Field, ...]:
        """All of them in order."""
        return (*self.axes, *STANDING, *self.kept, WHY)


def layout(case: Enclosure, axes: Sequence[Axis], keep: Sequence[str] | None) -> SweepLayout:
    """The columns of a sweep; CaseError for a result that there is not.

    `keep` None: the sums of the enclosure, and temperature and margin of every part.
    """
    probe = evaluate(case, [Run()]).batches[0]
    known = dict(results_of(probe))
    count = len(known)
    known |= dict(_of_air(probe))
    asked = keep is not None
    if keep is None:
        parts = [f"part.{name}.{key}" for name in probe.parts for key in ("temperature", "margin")]
        keep = (*KEEP, *parts)
    found = {path: None for pattern in keep for path in _matching(pattern, known)}
    taken = {axis.path for axis in axes}
    kept = tuple(Field(path, known[path]) for path in found if path not in taken)
    rows = BLOCK_NUMBERS // count // BLOCK * BLOCK
    given = tuple(_axis_column(case, axis) for axis in axes)
    return SweepLayout(given, kept, min(max(rows, BLOCK), LARGEST_BLOCK), asked)


def _axis_column(case: Enclosure, axis: Axis) -> Field:
    place = case.places(axis.path)[0]
    role = roles(KINDS[place.kind]).get(place.key)
    quantity = role.quantity if isinstance(role, Number) and axis.numeric else None
    return Field(axis.path, quantity)


def results_of(batch: SolutionBatch) -> Iterator[tuple[str, Quantity | None]]:
    """Every result path, and what it is; None: a word."""
    yield from ((f"total.{field.name}", field.quantity) for field in TOTALS)
    for name, prefix in PREFIXES.items():
        table: Table = getattr(batch, name)
        for row in table.names:
            yield from ((f"{prefix}{row}.{f.name}", f.quantity) for f in table.fields)


def _of_air(batch: SolutionBatch) -> Iterator[tuple[str, Quantity | None]]:
    """Results that are worked out only where they are kept: ages, air that comes back."""
    for name in batch.compartments:
        yield from ((f"compartment.{name}.{f.name}", f.quantity) for f in OF_AIR[:2])
    yield from ((f"{path}.{OF_AIR[1].name}", OF_AIR[1].quantity) for path in batch.fans)


def _matching(pattern: str, known: Mapping[str, Any]) -> list[str]:
    """Result paths of a pattern; `*` stands for any run of characters between dots."""
    rule = re.compile("[^.]*".join(map(re.escape, pattern.split("*"))))
    found = [path for path in known if rule.fullmatch(path)]
    if not found:
        hint = did_you_mean(nearest(pattern, known), f"results are such as {EXAMPLE}")
        raise CaseError(Fault("keep", f'no result "{pattern}"', hint=hint))
    return found


# --- blocks ---------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Block:
    """A run of rows: columns in SI or words, and what orders rows, worst first."""

    start: int
    columns: Arrays  # by path, in the order of the layout
    order: Array  # (rows, 3), see `_order`

    def __len__(self) -> int:
        return len(self.order)


def solved(
    case: Enclosure, made: Design, shape: SweepLayout, start: int, *,
    executor: Executor | None = None, progress: Progress | None = None,
) -> Block:  # fmt: skip
    """The block that begins at a row; what cannot be made or solved keeps its place."""
    given = made.block(start, start + shape.rows)
    count = len(next(iter(given.values())))
    told = None if progress is None else lambda done, _: progress(start + done, made.size)
    pairs = evaluate(case, apart(case, given, count), executor=executor, progress=told)
    return Block(start, given | _standing(pairs) | _kept(pairs, shape), _order(pairs.stand))


def _standing(pairs: Outcomes) -> Arrays:
    """How each row stands, and its hottest air."""
    stand, (warm, hottest_in) = pairs.stand, pairs.hottest
    kinds = stand.limits
    units = [margin_unit(item.margin_quantity) for item in kinds] + [""]
    void = stand.status == VOID
    return {
        "status": objects(STATUSES)[stand.status],
        "decides": objects([item.subject for item in kinds] + [""])[stand.row],
        "limit": objects([item.limit for item in kinds] + [""])[stand.row],
        "margin": stand.margin, "margin_unit": objects(units)[stand.row],
        "hottest_air": warm, "hottest_air_in": objects(hottest_in),
        WHY.name: objects([" ".join(words.split()) or told(stand.reasons(i) if void[i] else NONE)
                           for i, words in enumerate(pairs.status)]),
    }  # fmt: skip


def _order(stand: Assessment) -> Array:
    """(rows, 3): what orders them, worst first: status, kind of what decides, margin."""
    hot = np.array([item.limit in THERMAL for item in stand.limits] + [False])[stand.row]
    return np.column_stack([stand.status.astype(float), _kind(hot, stand.status, stand.broken),
                            np.round(np.nan_to_num(stand.margin), 6)])  # fmt: skip


def _kind(hot: Array, status: Array, broken: Array) -> Array:
    """0 where a temperature decides, else 1; 2 more where a void row breaks nothing on paper."""
    kept = (status == VOID) & ~broken
    found: Array = (~hot).astype(float) + 2.0 * kept
    return found


def _kept(pairs: Outcomes, shape: SweepLayout) -> Arrays:
    """The results that are kept; none of a row that was not made."""
    found = {}
    for column in shape.kept:
        if column.quantity is not None:
            found[column.name] = pairs[column.name]
            continue
        words = found[column.name] = objects([""] * len(pairs))
        for number, batch in enumerate(pairs.batches):
            here = pairs.batch == number
            own = objects(["" if value is None else value for value in batch[column.name]])
            words[here] = own[pairs.place[here]]
    return found


# --- text -----------------------------------------------------------------------------------------


def heading(shape: SweepLayout) -> str:
    """The line of headings."""
    return _with_commas([[column.key for column in shape.columns]])


def lines(case: Enclosure, shape: SweepLayout, block: Block, *, sheet: bool) -> str:
    """Rows as lines with commas, numbers with ten digits in the units of the headings.

    `sheet`: for a spreadsheet, which must not take words for formulas.
    """
    cells = [_cells(case, column, block.columns[column.name], sheet) for column in shape.columns]
    return _with_commas(zip(*cells, strict=True))


def _with_commas(rows: Iterable[Sequence[str]]) -> str:
    stream = io.StringIO()
    csv.writer(stream, lineterminator="\n").writerows(rows)
    return stream.getvalue()


def _cells(case: Enclosure, column: Field, values: Array, sheet: bool) -> list[str]:
    if column.quantity is None:
        fit = sheet_cell if sheet else str
        words = {value: " ".join(re.split("[\n\r]", fit(word(case, column.name, value))))
                 for value in dict.fromkeys(values.tolist())}  # fmt: skip
        return [words[value] for value in values.tolist()]
    shown = in_unit(column.quantity, values).tolist()
    return [TEN_DIGITS % value if math.isfinite(value) else "" for value in shown]


def in_unit(quantity: Quantity, values: Array) -> Array:
    """Numbers in the unit of their heading; none is -0."""
    shown: Array = values * quantity.json.factor + quantity.json.offset + 0.0
    return shown


def word(case: Enclosure, path: str, value: Any) -> str:
    """A word, or a table or number among words, as a case file writes it."""
    if value is None or isinstance(value, str):
        return value or ""
    text = as_text(case, path, value)
    return text if isinstance(text, str) else json.dumps(text)
