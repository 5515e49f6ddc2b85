"""What is written -> the value a thing holds: text, numbers, lists and tables into SI."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable, Collection, Mapping, Sequence
from types import MappingProxyType
from typing import Any

import numpy as np

from flownet.schema import fields, units
from flownet.schema.errors import CaseError, placed
from flownet.schema.fault import Fault, brief, did_you_mean, nearest, word
from flownet.schema.fields import REMARKS, Role, attribute, given, keys, violation
from flownet.schema.quantities import TEMPERATURE, Quantity

LARGEST_VALUE = 1e12  # in SI: nothing of an enclosure is beyond, and products of a few stay finite
COLDEST_BARE = 150.0  # a bare Python temperature below this is surely not meant in kelvin


def convert(role: Role, raw: Any, *, file: bool = False) -> Any:
    """Text, numbers and lists as they are written -> the value a thing holds.

    `file`: bare numbers only where no unit is needed; else a bare number is SI.
    Raises CaseError without the place.
    """
    raw = plain(raw)
    if raw is None and not isinstance(role, fields.Number) and getattr(role, "optional", False):
        return None
    found = _CONVERT[type(role)](role, raw, file)
    return _allowed(role, found) if isinstance(role, fields.Number) else found


def plain(raw: Any) -> Any:
    """Arrays as the lists and numbers they hold."""
    return raw.tolist() if isinstance(raw, np.ndarray) else raw


def _refused(what: str, raw: Any, hint: str = "") -> CaseError:
    return CaseError(Fault("", what, brief(raw), hint))


def _is_list(raw: Any) -> bool:
    return isinstance(raw, Sequence) and not isinstance(raw, str)


def _allowed(role: fields.Number, value: float) -> float:
    if what := violation(role, value):
        raise CaseError(what)
    return value


def _one(quantity: Quantity, raw: Any, file: bool) -> float:
    value = units.parse(raw, quantity) if isinstance(raw, str) else _bare(quantity, raw, file)
    return _measured(quantity, raw, value)


def _list(quantity: Quantity, raw: str, count: int | None = None) -> tuple[float, ...]:
    return tuple(_measured(quantity, raw, v) for v in units.parse_list(raw, quantity, count))


def _measured(quantity: Quantity, raw: Any, value: float) -> float:
    if abs(value) > LARGEST_VALUE:
        raise _refused("is beyond all measure", raw, quantity.wanted)
    return value + 0.0  # one form of zero: -0.0 is 0.0


def _bare(quantity: Quantity, raw: Any, file: bool) -> float:
    if isinstance(raw, (bool, np.bool_)) or not isinstance(raw, (int, float, np.number)):
        raise _refused(quantity.wanted, raw)
    if file and not quantity.bare:
        raise CaseError(Fault("", f"{brief(raw)} has no unit", hint=quantity.wanted))
    try:
        value = float(raw)
    except OverflowError:  # an integer of more than 308 digits
        raise CaseError(Fault("", "is too large", hint=quantity.wanted)) from None
    if math.isinf(value) or (file and math.isnan(value)):
        raise CaseError(Fault("", "must be finite", f"{value:g}"))
    if not file and quantity == TEMPERATURE and value < COLDEST_BARE:
        text = f'"{value:g} degC"'
        hint = f"Python numbers are SI. Write {text} or flownet.si({text})"
        raise CaseError(Fault("", f"= {value:g} is {value:g} K", hint=hint))
    return value


def _choice(role: fields.Choice, raw: Any, file: bool) -> Any:
    for each in role.words:  # a number equals true or false, and is neither
        if raw == each and isinstance(raw, (str, bool, np.bool_)):
            return each
    got, known = brief(raw), [word(each) for each in role.words]
    hint = did_you_mean(nearest(got, known), quote="")
    raise _refused(f"must be one of {', '.join(known)}", raw, hint)


def _words(role: fields.WordList, raw: Any, file: bool) -> tuple[str, ...]:
    several = (raw,) if isinstance(raw, str) else raw
    if not isinstance(several, Sequence) or not all(isinstance(w, str) for w in several):
        raise _refused("takes a list of words", raw)
    for each in several:
        if role.words and each not in role.words:
            hint = did_you_mean(nearest(each, role.words))
            raise _refused(f"must be among {', '.join(role.words)}", each, hint)
    return tuple(several)


def _link(role: fields.Link, raw: Any, file: bool) -> str:
    if isinstance(raw, str) and raw:
        return raw
    places = [kind for kind in role.kinds if kind in ("compartment", "outside", "part")]
    rest = [kind for kind in role.kinds if kind not in places]
    kinds = [*places, *(["branch"] if len(rest) > 2 else rest)]  # all that air passes through
    raise _refused(f"takes the name of a {' or '.join(kinds)}", raw)


def _text(role: fields.Text, raw: Any, file: bool) -> Any:
    if not isinstance(raw, Mapping if role.free else str):
        raise _refused("takes a table of anything, { ... }" if role.free else "takes text", raw)
    return frozen(raw)


def frozen(value: Any) -> Any:
    """Plain data that nobody can change any more: mappings and tuples all the way down."""
    if isinstance(value, Mapping):
        return MappingProxyType({key: frozen(item) for key, item in value.items()})
    return tuple(map(frozen, value)) if isinstance(value, (list, tuple)) else value


# --- lists and tables ----------------------------------------------------------------------------


def _several(role: fields.Numbers, raw: Any, file: bool) -> tuple[float, ...]:
    if isinstance(raw, str):
        values = _list(role.quantity, raw, None if role.most else role.count)
    else:
        values = tuple(_one(role.quantity, v, file) for v in raw) if _is_list(raw) else ()
    if not role.count <= len(values) <= role.places:
        many = f"{role.count} to {role.most}" if role.most else f"{role.count}"
        number, _, unit = role.quantity.example.partition(" ")
        example = " ".join([number] * role.count + [unit])
        raise _refused(f'takes {many} values, such as "{example}"', raw)
    each = fields.Number(role.quantity, role.low, role.high)
    return tuple(_allowed(each, value) for value in values)


def _pair(role: fields.Pair, raw: Any, file: bool) -> tuple[float, ...]:
    if not _is_list(raw) or len(raw) != len(role.quantities):
        examples = ", ".join(f'"{q.example}"' for q in role.quantities)
        raise _refused(f"takes two values, such as [{examples}]", raw)
    values = [_one(q, v, file) for q, v in zip(role.quantities, raw, strict=True)]
    limits = [fields.Number(quantity, role.low) for quantity in role.quantities]
    return tuple(_allowed(each, value) for each, value in zip(limits, values, strict=True))


def _table(role: fields.Rows, raw: Any, file: bool) -> Any:
    raw, beside = _apart(role.cls, raw) if role.cls is not None else (raw, {})
    rows = _by_column(role, raw, file) if isinstance(raw, Mapping) else _by_row(role, raw, file)
    if len(rows) < role.minimum:
        few = "at least one row" if role.minimum == 1 else f"at least {role.minimum} rows"
        raise CaseError(Fault("", f"needs {few}", f"{len(rows)}"))
    if role.cls is None:
        return rows
    return dataclasses.replace(_built(role.cls, beside, file=file), rows=rows)


def _apart(cls: type[Any], raw: Any) -> tuple[Any, Mapping[str, Any]]:
    """The rows or columns of a table, and the numbers that stand beside them."""
    if not isinstance(raw, Mapping):
        return (raw.rows, _given(raw)) if isinstance(raw, cls) else (raw, {})
    beside = {name: value for name, value in raw.items() if name in keys(cls)}
    return {name: value for name, value in raw.items() if name not in beside}, beside


def _by_column(
    role: fields.Rows, raw: Mapping[str, Any], file: bool
) -> tuple[tuple[Any, ...], ...]:
    columns_are = f"the columns are {', '.join(role.names)}"
    for name in role.names:
        if name not in raw:
            raise CaseError(Fault("", f'has no column "{name}"', hint=columns_are))
    for name in raw:
        if name not in role.names:
            beside = keys(role.cls) if role.cls is not None else ()
            hint = did_you_mean(nearest(name, [*role.names, *beside]), columns_are)
            raise CaseError(Fault("", f'unknown column "{name}"', hint=hint))
    columns = []
    for name, quantity in zip(role.names, role.quantities, strict=True):
        with placed(f'column "{name}"'):
            columns.append(_column(quantity, plain(raw[name]), file))
    if len({len(column) for column in columns}) > 1:
        counts = ", ".join(f"{n} {len(c)}" for n, c in zip(role.names, columns, strict=True))
        raise CaseError(Fault("", "columns must have the same length", counts))
    return tuple(zip(*columns, strict=True))


def _column(quantity: Quantity | None, raw: Any, file: bool) -> Sequence[Any]:
    if isinstance(raw, str):
        return raw.split() if quantity is None else _list(quantity, raw)
    if not isinstance(raw, Sequence):
        raise _refused("takes a list", raw)
    return [_cell(quantity, item, file) for item in raw]


def _cell(quantity: Quantity | None, raw: Any, file: bool) -> Any:
    """A number of a table, or the name of a station."""
    if quantity is not None:
        return _one(quantity, raw, file)
    if not isinstance(raw, str) or not raw.strip():
        raise _refused("takes a name", raw)
    return raw


def _by_row(role: fields.Rows, raw: Any, file: bool) -> tuple[tuple[Any, ...], ...]:
    if not _is_list(raw):
        raise _refused(f"takes a table with {', '.join(role.names)}", raw)
    rows = []
    for count, item in enumerate(raw, 1):
        with placed(f"row {count}"):
            rows.append(_row(role, plain(item), file))
    return tuple(rows)


def _row(role: fields.Rows, raw: Any, file: bool) -> tuple[Any, ...]:
    names = ", ".join(role.names)
    if isinstance(raw, Mapping):
        if set(raw) != set(role.names):
            raise CaseError(Fault("", f"takes {names}", ", ".join(map(str, raw))))
        raw = [raw[name] for name in role.names]
    elif isinstance(raw, str) and len(set(role.quantities)) == 1 and role.quantities[0] is not None:
        return _list(role.quantities[0], raw, len(role.names))
    if not _is_list(raw) or len(raw) != len(role.names):
        raise _refused(f"takes {len(role.names)} values: {names}", raw)
    return tuple(_cell(q, item, file) for q, item in zip(role.quantities, raw, strict=True))


def _group(role: fields.Group, raw: Any, file: bool) -> Any:
    if isinstance(raw, role.cls):
        return _built(role.cls, _given(raw), file=False)
    if not isinstance(raw, Mapping):
        raise _refused(f"takes a table with {', '.join(keys(role.cls))}", raw)
    return _built(role.cls, raw, file=file)


def _given(item: Any) -> dict[str, Any]:
    """The keys of a sub-table built in Python, without those that are left out."""
    values = {name: getattr(item, attribute(name)) for name in keys(type(item))}
    optional = {n for n, key in keys(type(item)).items() if getattr(key.role, "optional", False)}
    return {name: value for name, value in values.items() if given(value) or name not in optional}


def _built(cls: type[Any], raw: Mapping[str, Any], *, file: bool) -> Any:
    """A sub-table from its keys as written; CaseError with every fault, each after its key."""
    declared = keys(cls)
    values, faults = by_key(cls, raw, declared, file=file)
    for name, key in declared.items():
        if key.default is dataclasses.MISSING and name not in raw:
            faults.append(Fault(name, "must be given", hint=key.doc))
    if faults:
        raise CaseError(faults)
    return cls(**{attribute(name): value for name, value in values.items()})


def by_key(
    cls: type[Any], raw: Mapping[str, Any], known: Collection[str], *, file: bool
) -> tuple[dict[str, Any], list[Fault]]:
    """The converted values of some keys, out of those that are known here, and all faults."""
    values, faults = {}, list[Fault]()
    for name, value in raw.items():
        if name not in known:
            faults.append(Fault(name, "unknown key", hint=did_you_mean(nearest(name, known))))
            continue
        with placed(faults=faults):
            target, made = convert_key(cls, name, value, file=file)
            values[target] = made
    return values, faults


def convert_key(cls: type[Any], name: str, raw: Any, *, file: bool) -> tuple[str, Any]:
    """The converted value of one known key, and the key it belongs to (`speed` -> `rotation`).

    CaseError with every fault, each after its key.
    """
    target, role = redirected(cls, name, keys(cls)[name].role, raw)
    try:
        if isinstance(role, fields.Subtables):
            return target, _subtables(cls, plain(raw), file)
        return target, convert(role, raw, file=file)
    except CaseError as error:
        raise error.at(name, joint(role)) from None


def joint(role: Role) -> str:
    """What stands between a key and the place of a fault in its value."""
    return "." if isinstance(role, (fields.Group, fields.Subtables)) else ": "


def redirected(cls: type[Any], name: str, role: Role, value: Any) -> tuple[str, Role]:
    """`speed = "2400 rpm"` is the key `rotation`."""
    if not (isinstance(role, fields.Number) and role.otherwise and isinstance(value, str)):
        return name, role
    other = keys(cls)[role.otherwise].role
    assert isinstance(other, fields.Number)
    if not any(map(str.isdigit, value)):  # words that are neither: what is refused names both
        both = f"{role.quantity.name}, such as {role.quantity.example}, or {other.quantity.article}"
        return role.otherwise, other._replace(quantity=other.quantity._replace(name=both))
    own = _fits(value, role.quantity) or not any(map(str.isalpha, value))
    return (name, role) if own and not _fits(value, other.quantity) else (role.otherwise, other)


def _fits(text: str, quantity: Quantity) -> bool:
    try:
        units.parse(text, quantity)
    except CaseError:
        return False
    return True


def _subtables(cls: type[Any], raw: Any, file: bool) -> Mapping[str, Any]:
    """Sub-tables that repeat keys of the thing, each value in the form the thing holds."""
    if not isinstance(raw, Mapping) or not all(isinstance(v, Mapping) for v in raw.values()):
        raise _refused("takes named sub-tables", raw)
    known = [
        n for n, key in keys(cls).items() if n not in REMARKS and key.role != fields.Subtables()
    ]
    read = {name: by_key(cls, values, known, file=file) for name, values in raw.items()}
    faults = [fault.at(name, ".") for name, (_, wrong) in read.items() for fault in wrong]
    if faults:
        raise CaseError(faults)
    return MappingProxyType({name: MappingProxyType(made) for name, (made, _) in read.items()})


_CONVERT: dict[type, Callable[[Any, Any, bool], Any]] = {
    fields.Number: lambda role, raw, file: _one(role.quantity, raw, file),
    fields.Numbers: _several, fields.Pair: _pair, fields.Choice: _choice, fields.WordList: _words,
    fields.Link: _link, fields.Rows: _table, fields.Group: _group, fields.Text: _text,
}  # fmt: skip
