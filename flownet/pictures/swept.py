"""What the picture of a sweep shows: a result over one varied key, or over two, as arrays."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from flownet.pictures.caption import pretty
from flownet.schema.arrays import Array
from flownet.schema.errors import CaseError
from flownet.schema.quantities import Quantity
from flownet.studies.sweep_result import Sweep

OF = "total.worst_margin"
LINES = 6  # that can be told apart in one frame
RESULTS = 12  # lines of several results, each named at its end


class VariedKey(NamedTuple):
    """A varied key: numbers in SI, or words at 0, 1, 2, ..."""

    path: str
    quantity: Quantity | None
    values: Array
    texts: tuple[str, ...]  # of each value, in the reader's units

    @property
    def numeric(self) -> bool:
        """Whether its values are numbers."""
        return self.quantity is not None

    def sorted(self, order: Array) -> VariedKey:
        """The same values in another order."""
        return self._replace(values=self.values[order], texts=tuple(self.texts[i] for i in order))


class Swept(NamedTuple):
    """A result over one key, or over two; arrays are [value of x][value of other]."""

    of: str
    quantity: Quantity
    x: VariedKey
    other: VariedKey | None  # lines of one key have none
    values: Array  # SI
    void: Array  # which rows are void
    decides: Array  # what the limit that decides is about
    bound: float | None  # a limit
    above: bool  # whether what lies above it breaks it
    fixed: tuple[str, ...]  # keys with one value, in words

    @property
    def several(self) -> bool:
        """Whether its lines are results, not values of a second key."""
        return self.other is not None and self.other.path == self.of

    @property
    def contours(self) -> bool:
        """Whether two keys have too many values for lines."""
        return self.other is not None and self.other.numeric and len(self.other.values) > LINES


def taken(found: Sweep, of: str | None, units: str) -> Swept:
    """The result, or those of a pattern, and the keys over which they are drawn."""
    of = of or _usual(found)
    results = _results(found, of)
    if found.design.sort != "grid" and len(found.design.axes) > 1:
        raise CaseError(f"a {found.design.sort} design of several keys has no picture; take a grid")
    keys = [_key(found, number, units) for number in range(len(found.design.axes))]
    wide = [key for key in keys if len(set(key.values.tolist())) > 1]
    fixed = tuple(f"{key.path} {key.texts[0]}" for key in keys if key not in wide)
    if not 1 <= len(wide) <= 2:
        raise CaseError(f"one or two varied keys have a picture (got {len(wide)})")
    if len(wide) == 2 and len(results) > 1:
        raise CaseError(f"{of}: {len(results)} results over two varied keys have no picture; name "
                        "one result, or vary one key")  # fmt: skip
    x, other = wide[0], wide[1] if len(wide) == 2 else None
    shape = (len(x.values), len(other.values) if other else 1)
    columns = [np.asarray(found[path], float) for path in results]
    values = np.column_stack(columns) if len(columns) > 1 else columns[0].reshape(shape)
    arrays = [values, (found["status"] == "void").reshape(shape), found["decides"].reshape(shape)]
    if other is not None and _turned(x, other):
        x, other, arrays = other, x, [array.T for array in arrays]
    if other and len(other.values) > LINES and not (x.numeric and other.numeric):
        raise CaseError(f"{other.path}: {len(other.values)} lines are too many; at most {LINES}")
    order = np.argsort(x.values, kind="stable")
    x, arrays = x.sorted(order), [array[order] for array in arrays]
    if other is not None:
        order = np.argsort(other.values, kind="stable")
        other, arrays = other.sorted(order), [array[:, order] for array in arrays]
    if not np.isfinite(arrays[0]).any():
        raise CaseError(f"{of}: has no value in any row")
    bounds, quantity = {found.bound(path) for path in results}, found.column(results[0]).quantity
    bound = bounds.pop() if len(bounds) == 1 else None
    assert quantity is not None  # checked above
    margin = of.rpartition(".")[2] in ("margin", "worst_margin")
    return Swept(of, quantity, x, other or _lines(of, results), arrays[0], arrays[1], arrays[2],
                 bound, not margin, fixed)  # fmt: skip


def _usual(found: Sweep) -> str:
    """What is drawn where no result is named: what was kept by name, else the worst margin."""
    paths = [column.name for column in found.layout.kept if column.quantity is not None]
    if not found.layout.asked or not paths:
        return OF
    pattern, *others = (re.sub(r"\..*\.", ".*.", path) for path in paths)
    return pattern if pattern in others and len(found.design.axes) == 1 else paths[0]


def _results(found: Sweep, of: str) -> list[str]:
    """The columns that a path or a pattern stands for; CaseError where they have no picture."""
    rule = re.compile(".*".join(map(re.escape, of.split("*"))))
    matching = [column for column in found.layout.kept if rule.fullmatch(column.name)]
    columns = matching if "*" in of and matching else [found.column(of)]
    if any(column.quantity is None for column in columns):
        raise CaseError(f"{of}: is a word and has no picture; a number is wanted")
    if len({column.quantity for column in columns}) > 1:
        raise CaseError(f"{of}: results of several quantities have no picture together")
    if len(columns) > RESULTS:
        raise CaseError(f"{of}: {len(columns)} lines are too many; at most {RESULTS}")
    return [column.name for column in columns]


def _lines(of: str, results: Sequence[str]) -> VariedKey | None:
    """Several results as the values of a second key; None for one."""
    if len(results) == 1:
        return None
    begin, _, end = of.partition("*")
    names = [path.removeprefix(begin).removesuffix(end.rpartition("*")[2]) for path in results]
    return VariedKey(of, None, np.arange(float(len(names))), tuple(names))


def _key(found: Sweep, number: int, units: str) -> VariedKey:
    axis, column = found.design.axes[number], found.layout.axes[number]
    raw = found[axis.path] if found.design.sort != "grid" else axis.values
    if column.quantity is not None:
        shown = column.quantity.shown(units)
        values = np.array([float(value) for value in raw])
        return VariedKey(
            axis.path, column.quantity, values, tuple(pretty(shown.text(v)) for v in values)
        )
    return VariedKey(axis.path, None, np.arange(float(len(raw))), tuple(map(str, raw)))


def _turned(first: VariedKey, second: VariedKey) -> bool:
    """Whether the second key goes along the bottom: the numeric one, the one with more values."""
    if first.numeric != second.numeric:
        return second.numeric
    many = min(len(first.values), len(second.values)) > LINES
    return not many and len(second.values) > len(first.values)
