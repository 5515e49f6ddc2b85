"""Many solutions as arrays over variants; blocks of them as one, no value where none was found."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from functools import wraps
from typing import Any, TypeVar
from weakref import WeakKeyDictionary

import numpy as np

from flownet.columns import Inputs
from flownet.enclosure.contents import Changes
from flownet.enclosure.values import objects
from flownet.results.limits import Limit, Listed
from flownet.results.solution import (
    PATH,
    PREFIXES,
    TABLE_NAMES,
    Judge,
    Solution,
    Tables,
)
from flownet.results.tables import TOTALS, Field, Table, extra
from flownet.schema import argument_checks
from flownet.schema.arrays import Array, Integers
from flownet.schema.errors import NoSolution
from flownet.schema.fields import NONE

T = TypeVar("T")
GROUPS = ("site", "totals_", "balance_")


def mapped(found: Tables, function: Callable[[Any], Any]) -> dict[str, Any]:
    """All arrays of a result after a function, by field: tables, groups and limits."""
    made: dict[str, Any] = {name: getattr(found, name).map(function) for name in TABLE_NAMES}
    for name in GROUPS:
        made[name] = {key: function(value) for key, value in getattr(found, name).items()}
    return made | {"limits": Listed(item.map(function) for item in found.limits)}


@dataclass(frozen=True, repr=False, eq=False)
class SolutionBatch(Tables):
    """Many variants of one enclosure: arrays, NaN where `ok` is false."""

    inputs_: Inputs
    changes: Mapping[str, Any]  # path -> value, or one a variant
    status: tuple[str, ...]  # empty where solved, else what went wrong
    points: Array | None = None
    judge: Judge | None = None  # of each of its solutions

    def __len__(self) -> int:
        return len(self.status)

    @property
    def ok(self) -> Array:
        """Which variants were solved."""
        return np.array([not words for words in self.status])

    @property
    def inputs(self) -> Mapping[str, Any]:
        """What was varied."""
        return self.changes

    @property
    def columns_of_case(self) -> Inputs:
        return self.inputs_

    def __getitem__(self, path: str) -> Array:
        wanted = f'a path is wanted, such as "{PATH}"'
        argument_checks.check_text(
            "SolutionBatch[...]", path, wanted, "one variant is batch.select(i)"
        )
        found: Array = np.broadcast_to(self.value(path), len(self))
        return found

    def select(self, variant: int) -> Solution:
        """One variant as a solution; NoSolution where it was not solved."""
        argument_checks.check_index("select", variant, len(self))
        if self.status[variant]:
            raise NoSolution(self.status[variant])
        assert self.judge is not None

        def pick(values: Any) -> Any:
            """One variant of an array; a single value serves all."""
            if not isinstance(values, np.ndarray):
                return values
            picked = values[..., variant if values.shape[-1] > 1 else 0][()]
            return picked.item() if isinstance(picked, np.generic) else picked

        own = {path: pick(value) for path, value in self.changes.items()}
        found, case = mapped(self, pick), self.inputs_.enclosure
        found["layers"] = found["layers"].known()
        found["limits"] = Listed(item for item in found["limits"] if not np.isnan(item.bound))
        return Solution(
            **found,
            case=case.with_changes(own) if own else case,
            points=pick(self.points),
            judge=self.judge,
        )

    def __repr__(self) -> str:
        return f'<SolutionBatch "{self.inputs_.enclosure.title}": {len(self)} variants, ' \
               f"{int(self.ok.sum())} solved>"  # fmt: skip

    @property
    def sheet(self) -> Any:
        """How each variant stands: a `flownet.pages.sheet.Sheet`."""
        assert self.judge is not None
        return self.judge.sheet(self)

    def _repr_html_(self) -> str:
        """How each variant stands, for notebooks."""
        assert self.judge is not None
        return self.judge.html(self)

    def to_frame(self) -> Any:
        """What was varied and every number as a pandas DataFrame, one row a variant.

        Columns are input paths (as they were given) and result paths with their unit;
        ImportError without pandas, an extra.
        """
        return extra("pandas").DataFrame(self._wide() | {"status": list(self.status)})

    def to_xarray(self) -> Any:
        """The same as an xarray Dataset along `variant`; ImportError without xarray, an extra."""
        dataset = extra("xarray").Dataset
        wide = self._wide() | {"status": np.array(self.status, object)}
        return dataset({path: ("variant", values) for path, values in wide.items()})

    def _wide(self) -> dict[str, Any]:
        given = {path: _column(value, len(self)) for path, value in self.changes.items()}
        return given | dict(self.columns())

    def columns(self) -> Iterator[tuple[str, Array]]:
        """Every number by its path, unit in the name."""
        for field in TOTALS:
            yield f"total.{field.key}", _shown(field, self.totals_[field.name], len(self))
        for name, kind in PREFIXES.items():
            table: Table = getattr(self, name)
            for row, label in enumerate(table.names):
                for field in table.fields:
                    if field.quantity is not None:
                        column = table.columns[field.name][row]
                        yield f"{kind}{label}.{field.key}", _shown(field, column, len(self))


def without_failed(batch: SolutionBatch) -> SolutionBatch:
    """The same with no value left where `ok` is false, not of inputs either."""
    failed = ~batch.ok

    def blank(values: Any) -> Array:
        wide = np.broadcast_to(values, (*np.shape(values)[:-1], len(batch)))
        return np.where(failed, -1 if wide.dtype.kind == "i" else np.nan, wide)  # -1: no word

    made = mapped(batch, blank) | {name: getattr(batch, name) for name in ("site", "balance_")}
    return dataclasses.replace(batch, **made)


def remembered(function: Callable[[Solution], T]) -> Callable[[Solution], T]:
    """A function of a solution that is asked many times: what it said is kept as long as that."""
    known: WeakKeyDictionary[Solution, T] = WeakKeyDictionary()

    @wraps(function)
    def asked(solution: Solution) -> T:
        if solution not in known:
            known[solution] = function(solution)
        return known[solution]

    return asked


@remembered
def single(solution: Solution) -> SolutionBatch:
    """One solution as a batch of one, for what looks at arrays."""
    return SolutionBatch(
        **mapped(solution, lambda value: np.asarray(value)[..., None]), changes=NONE,
        inputs_=Inputs.of(solution.case), status=("",), judge=solution.judge,
    )  # fmt: skip


def joined(batches: list[SolutionBatch], inputs: Inputs, changes: Changes) -> SolutionBatch:
    """Blocks as one batch."""
    if len(batches) == 1:
        return dataclasses.replace(batches[0], inputs_=inputs, changes=changes)
    sizes = [len(batch) for batch in batches]
    merged: dict[str, Any] = {
        name: _table([getattr(batch, name) for batch in batches], sizes) for name in TABLE_NAMES
    }
    for name in GROUPS:
        parts = [getattr(batch, name) for batch in batches]
        merged[name] = {key: _end_to_end([part[key] for part in parts], sizes) for key in parts[0]}
    return SolutionBatch(
        **merged, limits=_limits(batches, sizes), inputs_=inputs, changes=changes,
        judge=batches[0].judge,
        status=tuple(words for batch in batches for words in batch.status),
    )  # fmt: skip


def spread(each: list[SolutionBatch], places: list[Integers], inputs: Inputs) -> SolutionBatch:
    """Batches of some of the variants as one of all, each variant in its place."""
    whole = joined(each, inputs, {})
    back = np.argsort(np.concatenate(places), kind="stable")
    made = mapped(whole, lambda values: values[..., back])
    return dataclasses.replace(whole, status=tuple(whole.status[i] for i in back), **made)


def _end_to_end(values: list[Any], sizes: list[int]) -> Array:
    """Values over the variants of blocks, one behind the other."""
    return np.concatenate(
        [np.broadcast_to(v, (*np.shape(v)[:-1], n)) for v, n in zip(values, sizes, strict=True)],
        axis=-1,
    )


def _table(parts: list[Table], sizes: list[int]) -> Table:
    if any(part.names != parts[0].names for part in parts):
        parts = _with_every_row(parts)
    columns = {
        key: _end_to_end([part.columns[key] for part in parts], sizes) for key in parts[0].columns
    }
    return Table(parts[0].fields, parts[0].names, columns)


def _with_every_row(parts: list[Table]) -> list[Table]:
    """Each with the rows of all, NaN where it has none: layers, of which blocks differ in count."""
    names = tuple(sorted({name for part in parts for name in part.names}, key=_counted))
    made = []
    for part in parts:
        place = np.array([part.places.get(name, -1) for name in names])
        columns = {
            key: np.where(place[:, None] < 0, np.nan, np.concatenate([v, 0 * v[:1]])[place])
            if len(v) else np.full((len(names), 1), np.nan)
            for key, v in part.columns.items()
        }  # fmt: skip
        made.append(Table(part.fields, names, columns))
    return made


def _counted(name: str) -> tuple[str, int]:
    compartment, _, number = name.rpartition(".")
    return compartment, int(number)


def _limits(batches: list[SolutionBatch], sizes: list[int]) -> tuple[Limit, ...]:
    """Every limit that holds in any block, NaN in the blocks where it is not given."""
    blocks = [{(item.limit, item.subject): item for item in batch.limits} for batch in batches]
    every = {key: item for block in blocks for key, item in block.items()}
    first = batches[0]
    order = [("part", f"part.{name}") for name in first.parts]
    order += [("air", f"compartment.{name}") for name in first.compartments]
    order += [("air", path) for path in first.branches]
    order += [("touch", f"wall.{name}") for name in first.walls]
    order += [("flow", "total.volume_flow"), ("noise", "total.noise")]
    order += [*(("life", path) for path in first.fans), ("dew", "total.dew_margin")]
    found = []
    for key in (key for key in order if key in every):
        here = [block.get(key) for block in blocks]
        value, bound, margin = (
            _end_to_end([np.nan if item is None else getattr(item, name) for item in here], sizes)
            for name in ("value", "bound", "margin")
        )
        found.append(every[key]._replace(value=value, bound=bound, margin=margin))
    return Listed(found)


def _column(value: Any, count: int) -> Array:
    """A value of each variant, tables and sub-tables as the objects they are."""
    if isinstance(value, np.ndarray):
        return np.broadcast_to(value, count)
    return objects([value] * count)


def _shown(field: Field, values: Any, count: int) -> Array:
    assert field.quantity is not None
    return np.broadcast_to(field.quantity.json.of(values), count)
