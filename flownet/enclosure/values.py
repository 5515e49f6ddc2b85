"""The value of a change: one for all variants, or an array with one a variant.

A list or array at a number, a word or a name is one value a variant. Where a single value is a list
itself (a table, a place, a sub-table), a list of such values is; an array of objects always is.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from flownet.schema.arrays import Array
from flownet.schema.convert import convert, joint, plain, redirected
from flownet.schema.errors import CaseError, placed
from flownet.schema.fault import Fault
from flownet.schema.fields import (
    Choice,
    Group,
    Link,
    Number,
    Numbers,
    Pair,
    Role,
    Table,
    keys,
    violation,
)

NUMBERS = (float, int, complex, np.number)


def listed(raw: Any) -> Any:
    """What is like a list or an array - a range, a column of a data frame - as one."""
    if isinstance(raw, range):
        return list(raw)
    made = np.asarray(raw) if hasattr(raw, "__array__") else raw
    return made.tolist() if isinstance(made, np.ndarray) and made.dtype.kind in "US" else made


def several(role: Role, raw: Any) -> bool:
    """Whether a raw value, `listed`, holds one a variant."""
    if not _is_list(raw):
        return False
    if isinstance(role, (Number, Choice, Link)) or _is_objects(raw):
        return True
    if isinstance(raw, (list, tuple)) and any(item is None for item in raw):
        return True
    first: Any = plain(raw)[0] if len(raw) else None
    if isinstance(role, (Numbers, Pair)):
        return _is_list(first)
    return isinstance(role, Group) or (isinstance(role, Table) and _is_table(first))


def _is_table(item: Any) -> bool:
    """Whether the first of a list is a whole table, not a row of one."""
    if isinstance(item, Mapping):
        return any(_is_list(value) or _holds_numbers(value) for value in item.values())
    if not _is_list(item):
        return dataclasses.is_dataclass(item)  # a table with numbers beside its columns
    first = item[0] if len(item) else None  # no row is empty
    return first is None or _is_list(first) or isinstance(first, Mapping) or _holds_numbers(first)


def _holds_numbers(text: Any) -> bool:
    """Whether it is text with more than one number, such as a row or a column."""
    words = text.split() if isinstance(text, str) else []
    return sum(word[0] in "+-.0123456789" for word in words) > 1


def _is_list(raw: Any) -> bool:
    return isinstance(raw, (list, tuple)) or (isinstance(raw, np.ndarray) and raw.ndim > 0)


def _is_objects(raw: Any) -> bool:
    return isinstance(raw, np.ndarray) and raw.ndim == 1 and raw.dtype == object


def as_column(role: Role | None, raw: Any) -> Any:
    """Values of variants as an array of one axis, not converted; a single value as it is.

    `role` None: the name of a type.
    """
    raw = listed(raw)
    if not (several(role, raw) if role is not None else _is_list(raw)):
        return plain(raw)
    if isinstance(raw, np.ndarray) and raw.ndim == 1:
        return raw
    numbers = _numbers(raw) if isinstance(role, Number) else None
    return objects(raw) if numbers is None or not len(raw) else numbers


def objects(values: Sequence[Any]) -> Array:
    """Whatever they are, as an array of one axis."""
    made = np.empty(len(values), object)
    for place, value in enumerate(values):  # one by one: NumPy would look into lists and tuples
        made[place] = plain(value)
    return made


def values_of(path: str, role: Role, raw: Any) -> Any:
    """One converted value, or an array over variants; CaseError with the path.

    Complex numbers, alone or in an array of numbers, pass unchecked.
    """
    raw = listed(raw)
    with placed(path, joint(role)):
        return _converted(role, raw) if several(role, raw) else _one(role, raw)


def _one(role: Role, raw: Any) -> Any:
    raw = plain(raw)
    if isinstance(role, Number):
        if isinstance(raw, complex):
            return raw
        if role.optional and raw is None:
            return math.nan
        if isinstance(raw, float) and math.isnan(raw):
            raise _no_number(role)
    return convert(role, raw)


def _no_number(role: Number) -> CaseError:
    hint = "None is a value that is not given" if role.optional else ""
    return CaseError(Fault("", "must be finite", "nan", hint))


def _converted(role: Role, raw: Any) -> Array:
    if not len(raw):
        raise CaseError("takes one value for all variants, or one each (got an empty list)")
    if isinstance(role, Number):
        numbers = _numbers(raw)
        if numbers is None:
            return np.array([_one(role, item) for item in raw])
        _in_range(role, numbers)
        return numbers
    items = list(raw)
    if all(isinstance(item, (str, bool)) for item in items):  # thousands of a few words
        words = {item: _one(role, item) for item in dict.fromkeys(items)}
        return objects([words[item] for item in items])
    return objects([_one(role, item) for item in items])


def _numbers(raw: Any) -> Array | None:
    """A list or array as numbers, None where it holds anything else."""
    if not isinstance(raw, np.ndarray):
        kinds = set(map(type, raw))
        if bool in kinds or not all(issubclass(kind, NUMBERS) for kind in kinds):
            return None
    array = np.asarray(raw)
    if array.ndim != 1 or array.dtype.kind not in "iufc":
        return None
    return array if array.dtype.kind == "c" else array.astype(float) + 0.0


def _in_range(role: Number, values: Array) -> None:
    if values.dtype.kind == "c":
        return
    if np.isnan(values).any():
        raise _no_number(role)
    for value in (values.min(), values.max()) if values.size else ():
        convert(role, float(value))
    if what := violation(role, values):  # of counts: any between may be no whole number
        raise CaseError(what)


def split_by_key(cls: type[Any], key: str, role: Role, raw: Any) -> dict[str, tuple[Role, Any]]:
    """Which key takes which values: `speed` the ratios, `rotation` the texts in rpm.

    Where a list holds both, each key has NaN for the values of the other.
    """
    raw = listed(raw)
    if not (isinstance(role, Number) and role.otherwise and _holds_text(raw)):
        return {key: (role, raw)}
    if isinstance(raw, str):
        target, found = redirected(cls, key, role, raw)
        return {target: (found, raw)}
    targets = [redirected(cls, key, role, item)[0] for item in raw]
    roles = {key: role, role.otherwise: keys(cls)[role.otherwise].role}
    return {
        name: (roles[name], [v if t == name else None for v, t in zip(raw, targets, strict=True)])
        for name in dict.fromkeys(targets)
    }


def _holds_text(raw: Any) -> bool:
    if isinstance(raw, (list, tuple)) or _is_objects(raw):
        return any(isinstance(item, str) for item in raw)
    return isinstance(raw, str)
