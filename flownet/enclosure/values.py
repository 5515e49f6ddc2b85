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
from flownet.schema.convert import convert, plain
from flownet.schema.errors import CaseError, placed
from flownet.schema.fault import Fault
from flownet.schema.fields import Choice, Group, Link, Number, Numbers, Pair, Role, Rows, violation

NUMBERS = (float, int, complex, np.number)


def as_list(raw: Any) -> Any:
    """What is like a list or an array - a range, a column of a data frame - as one."""
    if isinstance(raw, range):
        return list(raw)
    made = np.asarray(raw) if hasattr(raw, "__array__") else raw
    return made.tolist() if isinstance(made, np.ndarray) and made.dtype.kind in "US" else made


def several(role: Role | None, raw: Any) -> bool:
    """Whether a raw value, `as_list`, holds one a variant; `role` None: the name of a type."""
    if not _is_list(raw):
        return False
    objects_only = isinstance(raw, np.ndarray) and raw.ndim == 1 and raw.dtype == object
    if role is None or isinstance(role, (Number, Choice, Link)) or objects_only:
        return True
    if isinstance(raw, (list, tuple)) and any(item is None for item in raw):
        return True
    first: Any = plain(raw)[0] if len(raw) else None
    if isinstance(role, (Numbers, Pair)):
        return _is_list(first)
    return isinstance(role, Group) or (isinstance(role, Rows) and _is_table(first))


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


def as_column(role: Role | None, raw: Any) -> Any:
    """Values of variants as an array of one axis, not converted; a single value as it is.

    `role` None: the name of a type.
    """
    raw = as_list(raw)
    if not several(role, raw):
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


def column(role: Role, values: Sequence[Any]) -> Array:
    """Converted values of variants as one array."""
    return np.array(values) + 0.0 if isinstance(role, Number) else objects(values)


def converted_one(role: Role, raw: Any) -> Any:
    """A single value converted; complex numbers pass unchecked, None is a number not given."""
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


def as_numbers(path: str, role: Number, raw: Any) -> Array | None:
    """Numbers of variants, one or more, as an array in range; None where one is anything else.

    CaseError with the path; complex numbers pass unchecked.
    """
    numbers = _numbers(raw)
    if numbers is not None and numbers.dtype.kind != "c":
        with placed(path):
            _in_range(role, numbers)
    return numbers


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
    if np.isnan(values).any():
        raise _no_number(role)
    for value in (values.min(), values.max()):
        convert(role, float(value))
    if what := violation(role, values):  # of counts: any between may be no whole number
        raise CaseError(what)
