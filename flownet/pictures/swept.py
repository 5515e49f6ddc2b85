"""What the picture of a sweep shows: a result over one varied key, or over two, as arrays."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any, NamedTuple

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
    texts: Sequence[str]  # of each value, in the reader's units

    @property
    def numeric(self) -> bool:
        return self.quantity is not None


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
    fixed: tuple[str, ...]  # keys with one value, in words

    @property
    def above(self) -> bool:
        """Whether what lies above the limit breaks it."""
        return self.of.rpartition(".")[2] not in ("margin", "worst_margin")

    @property
    def ends(self) -> tuple[float, float]:
        return float(np.nanmin(self.values)), float(np.nanmax(self.values))

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
    results, quantity = _results(found, of)
    if found.design.sort != "grid" and len(found.design.axes) > 1:
        raise CaseError(f"a {found.design.sort} plan of several keys has no picture; take a grid")
    keys = [_key(found, number, units) for number in range(len(found.design.axes))]
    wide = [key for key in keys if len(set(key.values.tolist())) > 1]
    fixed = tuple(f"{key.path} {key.texts[0]}" for key in keys if key not in wide)
    if not 1 <= len(wide) <= 2:
        raise CaseError(f"one or two varied keys have a picture (got {len(wide)})")
    if len(wide) == 2 and len(results) > 1:
        raise CaseError(f"{of}: {len(results)} results over two varied keys have no picture; name "
                        "one result, or vary one key")  # fmt: skip
    shape = [len(key.values) for key in wide]
    numbers = np.column_stack([np.asarray(found[path], float) for path in results])
    if len(results) == 1:
        numbers = numbers.reshape(shape)
    arrays = [numbers, *((found[path] == word if word else found[path]).reshape(shape)
                         for path, word in (("status", "void"), ("decides", "")))]  # fmt: skip
    if len(wide) == 2 and _turned(*wide):
        wide, arrays = wide[::-1], [array.T for array in arrays]
    several = wide[1:] and len(wide[1].values) > LINES
    if several and not all(key.numeric for key in wide):
        raise CaseError(f"{wide[1].path}: {len(wide[1].values)} lines are too many; "
                        f"at most {LINES}")  # fmt: skip
    for axis, key in enumerate(wide):
        order = np.argsort(key.values, kind="stable")
        wide[axis] = key._replace(values=key.values[order], texts=[key.texts[i] for i in order])
        arrays = [array.take(order, axis) for array in arrays]
    if not np.isfinite(arrays[0]).any():
        raise CaseError(f"{of}: has no value in any row")
    values, void, decides = (a.reshape(a.shape[0], -1) for a in arrays)
    bounds = {found.bound(path) for path in results}
    return Swept(of, quantity, wide[0], wide[1] if len(wide) == 2 else _names(of, results),
                 values, void, decides, bounds.pop() if len(bounds) == 1 else None,
                 fixed)  # fmt: skip


def _usual(found: Sweep) -> str:
    """What is drawn where no result is named: what was kept by name, else the worst margin."""
    paths = [column.name for column in found.layout.kept if column.quantity is not None]
    if not found.layout.asked or not paths:
        return OF
    pattern, *others = (re.sub(r"\..*\.", ".*.", path) for path in paths)
    return pattern if pattern in others and len(found.design.axes) == 1 else paths[0]


def _results(found: Sweep, of: str) -> tuple[list[str], Quantity]:
    """The columns that a path or a pattern stands for, and their quantity; CaseError where they
    have no picture."""
    rule = re.compile(".*".join(map(re.escape, of.split("*"))))
    matching = [column for column in found.layout.kept if rule.fullmatch(column.name)]
    columns = matching if "*" in of and matching else [found.column(of)]
    first: Any = columns[0].quantity
    if any(column.quantity is None for column in columns):
        raise CaseError(f"{of}: is a word and has no picture; a number is wanted")
    if len({column.quantity for column in columns}) > 1:
        raise CaseError(f"{of}: results of several quantities have no picture together")
    if len(columns) > RESULTS:
        raise CaseError(f"{of}: {len(columns)} lines are too many; at most {RESULTS}")
    return [column.name for column in columns], first


def _names(of: str, results: Sequence[str]) -> VariedKey | None:
    """Several results as the values of a second key; None for one."""
    if len(results) == 1:
        return None
    begin, _, end = of.partition("*")
    names = [path.removeprefix(begin).removesuffix(end.rpartition("*")[2]) for path in results]
    return VariedKey(of, None, np.arange(float(len(names))), names)


def _key(found: Sweep, number: int, units: str) -> VariedKey:
    axis, column = found.design.axes[number], found.layout.axes[number]
    raw = found[axis.path] if found.design.sort != "grid" else axis.values
    if column.quantity is None:
        return VariedKey(axis.path, None, np.arange(float(len(raw))), [*map(str, raw)])
    shown, values = column.quantity.shown(units), np.array([float(value) for value in raw])
    return VariedKey(axis.path, column.quantity, values, [pretty(shown.text(v)) for v in values])


def _turned(first: VariedKey, second: VariedKey) -> bool:
    """Whether the second key goes along the bottom: the numeric one, the one with more values."""
    if first.numeric != second.numeric:
        return second.numeric
    many = min(len(first.values), len(second.values)) > LINES
    return not many and len(second.values) > len(first.values)
