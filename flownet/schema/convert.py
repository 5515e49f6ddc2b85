"""What is written -> the value a thing holds: text, numbers, lists and tables into SI."""

from __future__ import annotations

import dataclasses
import difflib
import functools
import math
from collections.abc import Callable, Mapping, Sequence
from types import MappingProxyType
from typing import Any

import numpy as np

from flownet.schema import units
from flownet.schema.errors import CaseError
from flownet.schema.fields import (
    TINY,
    Choice,
    Group,
    Link,
    Number,
    Numbers,
    Pair,
    Role,
    Subtables,
    Table,
    Text,
    Words,
    attribute,
    given,
    keys,
)
from flownet.schema.quantities import COUNT, TEMPERATURE, VOLTAGE, Quantity

LONGEST_WORD = 60  # nobody mistypes a longer one
LARGEST = 1e12  # in SI: nothing of an enclosure is beyond, and products of a few stay finite
COLDEST_BARE = 150.0  # a bare Python temperature below this is surely not meant in kelvin


def fault(role: Role, value: Any) -> str:
    """What is wrong with a converted value (one, or an array over variants); empty if nothing."""
    if isinstance(role, Number):
        return _number_fault(role, value)
    if isinstance(role, Choice):
        allowed = set(role.words) | ({None} if role.optional else set())
        wrong = [v for v in _listed(value) if v not in allowed]
        if wrong:
            return f"must be one of {', '.join(map(_word, role.words))} (got {_word(wrong[0])})"
    return ""


def _number_fault(role: Number, value: Any) -> str:
    counts = role.quantity.dimension == COUNT.dimension
    if type(value) is float and role.low <= value <= role.high and math.isfinite(value):
        return _not_whole(value) if counts and not value.is_integer() else ""
    values = np.asarray(value, float)
    missing = np.isnan(values)
    bad = ~((values >= role.low) & (values <= role.high) & np.isfinite(values))
    bad &= ~(missing & role.optional)
    if bad.any():
        return _out_of_range(role, float(values[bad].flat[0]))
    broken = values[(values != np.floor(values)) & ~missing & counts]
    return _not_whole(float(broken.flat[0])) if broken.size else ""


def _not_whole(value: float) -> str:
    return f"must be a whole number (got {value:g})"


def wanted(quantity: Quantity) -> str:
    """`an area is wanted, such as "450 cm2"`."""
    article = "an" if quantity.name[0] in "aeiou" else "a"
    return f'{article} {quantity.name} is wanted, such as "{quantity.example}"'


def nearest(word: str, known: Sequence[str]) -> str:
    """The known word most like this one; empty where none is."""
    return "" if len(word) > LONGEST_WORD else _nearest(word.lower(), tuple(known))


@functools.lru_cache(maxsize=256)
def _nearest(word: str, known: tuple[str, ...]) -> str:
    close = difflib.get_close_matches(word, known, n=1, cutoff=0.6)
    return close[0] if close else ""


def _example(role: Numbers) -> str:
    number, _, unit = role.quantity.example.partition(" ")
    return " ".join([number] * role.count + [unit])


def _fits(text: str, quantity: Quantity) -> bool:
    try:
        units.parse(text, quantity)
    except CaseError:
        return False
    return True


def _listed(value: Any) -> list[Any]:
    return list(np.asarray(value, object).ravel())


def _word(value: Any) -> str:
    return str(value).lower() if isinstance(value, (bool, np.bool_)) else f'"{value}"'


def _shown(quantity: Quantity, value: float) -> str:
    shown = quantity.metric
    return f"{value * shown.factor + shown.offset:.6g} {shown.unit}".strip()


def _out_of_range(role: Number, value: float) -> str:
    if role.low == TINY and 0 < value < TINY:
        least = _shown(role.quantity, TINY)
        return f"must be at least {least} (got {_shown(role.quantity, value)})"
    what = f"{_range(role)} (got {_shown(role.quantity, value)})"
    if role.quantity.bare and role.high <= 1 and 2 <= value <= 100:  # percent, probably
        return f"{what}; did you mean {value / 100:g}?"
    if role.quantity == VOLTAGE and -role.high <= value < 0:
        return f"{what}; write {_shown(role.quantity, -value)}, the sign changes nothing"
    return f"{what}; {role.hint}" if role.hint else what


def _range(role: Number) -> str:
    q, low, high = role.quantity, role.low, role.high
    if low == TINY and high == math.inf:
        return "must be above 0"
    if high == math.inf:
        return f"must be at least {_shown(q, low)}" if low > -math.inf else "must be finite"
    least = "above 0" if low == TINY else f"from {_shown(q, low)}"
    return f"must be {least} to {_shown(q, high)}"


def convert(role: Role, raw: Any, *, file: bool = False) -> Any:
    """Text, numbers and lists as they are written -> the value a thing holds.

    `file`: bare numbers only where no unit is needed; else a bare number is SI.
    Raises CaseError without the place.
    """
    found = _CONVERT[type(role)](role, plain(raw), file)
    if what := fault(role, found):
        raise CaseError(what)
    return found


def plain(raw: Any) -> Any:
    """Arrays as the lists and numbers they hold."""
    return raw.tolist() if isinstance(raw, np.ndarray) else raw


def _number(role: Number, raw: Any, file: bool) -> float:
    return _one(role.quantity, raw, file)


def _one(quantity: Quantity, raw: Any, file: bool) -> float:
    value = _read(quantity, raw, file)
    if abs(value) > LARGEST:
        raise CaseError(f"is beyond all measure (got {brief(raw)}); {wanted(quantity)}")
    return value + 0.0  # one form of zero: -0.0 is 0.0


def _list(quantity: Quantity, raw: str, count: int | None = None) -> tuple[float, ...]:
    values = units.parse_list(raw, quantity, count)
    if any(abs(value) > LARGEST for value in values):
        raise CaseError(f"is beyond all measure (got {brief(raw)}); {wanted(quantity)}")
    return tuple(value + 0.0 for value in values)


def _read(quantity: Quantity, raw: Any, file: bool) -> float:
    if isinstance(raw, str):
        return units.parse(raw, quantity)
    if isinstance(raw, (bool, np.bool_)) or not isinstance(raw, (int, float, np.number)):
        raise CaseError(f"{wanted(quantity)} (got {brief(raw)})")
    if file and not quantity.bare:
        raise CaseError(f"{brief(raw)} has no unit; {wanted(quantity)}")
    try:
        value = float(raw)
    except OverflowError:  # an integer of more than 308 digits
        raise CaseError(f"is too large; {wanted(quantity)}") from None
    if math.isinf(value) or (file and math.isnan(value)):
        raise CaseError(f"must be finite (got {value:g})")
    if not file and quantity == TEMPERATURE and value < COLDEST_BARE:
        raise CaseError(
            f'= {value:g} is {value:g} K; Python numbers are SI. Write "{value:g} degC" '
            f'or flownet.si("{value:g} degC")'
        )
    return value


def brief(raw: Any) -> str:
    """A value as a case file writes it, cut where it is long."""
    shown = _as_written(raw)
    return shown if len(shown) < 60 else shown[:57] + "..."


def _as_written(raw: Any) -> str:
    """As a case file writes it."""
    if isinstance(raw, Mapping):
        inner = ", ".join(f"{key} = {_as_written(v)}" for key, v in raw.items())
        return f"{{ {inner} }}" if inner else "{}"
    if isinstance(raw, (list, tuple)):
        return f"[{', '.join(map(_as_written, raw))}]"
    return _word(raw) if isinstance(raw, (bool, np.bool_, str)) else str(raw)


def _several(role: Numbers, raw: Any, file: bool) -> tuple[float, ...] | None:
    if raw is None and role.optional:
        return None
    if isinstance(raw, str):
        values = _list(role.quantity, raw, None if role.most else role.count)
    elif isinstance(raw, Sequence):
        values = tuple(_one(role.quantity, item, file) for item in raw)
    else:
        values = ()
    if not role.count <= len(values) <= role.places:
        many = f"{role.count} to {role.most}" if role.most else f"{role.count}"
        raise CaseError(f'takes {many} values, such as "{_example(role)}" (got {brief(raw)})')
    for value in values:
        if what := fault(Number(role.quantity, role.low, role.high), value):
            raise CaseError(what)
    return values


def _pair(role: Pair, raw: Any, file: bool) -> tuple[float, float]:
    if not isinstance(raw, Sequence) or isinstance(raw, str) or len(raw) != len(role.quantities):
        wanted = ", ".join(f'"{q.example}"' for q in role.quantities)
        raise CaseError(f"takes two values, such as [{wanted}] (got {brief(raw)})")
    first, second = (_one(q, v, file) for q, v in zip(role.quantities, raw, strict=True))
    for quantity, value in zip(role.quantities, (first, second), strict=True):
        if what := fault(Number(quantity, role.low), value):
            raise CaseError(what)
    return first, second


def _choice(role: Choice, raw: Any, file: bool) -> Any:
    if raw is None and role.optional:
        return None
    if isinstance(raw, (str, bool, np.bool_)):  # a number equals true or false, and is neither
        same = [w for w in role.words if w == raw and isinstance(w, str) == isinstance(raw, str)]
        if same:
            return same[0]
    known = [_word(word) for word in role.words]
    close = nearest(brief(raw), known)
    what = f"must be one of {', '.join(known)} (got {brief(raw)})"
    raise CaseError(what + (f"; did you mean {close}?" if close else ""))


def _words(role: Words, raw: Any, file: bool) -> tuple[str, ...]:
    listed = (raw,) if isinstance(raw, str) else raw
    if not isinstance(listed, Sequence) or not all(isinstance(w, str) for w in listed):
        raise CaseError(f"takes a list of words (got {brief(raw)})")
    for word in listed:
        if role.words and word not in role.words:
            close = nearest(word, role.words)
            hint = f'; did you mean "{close}"?' if close else ""
            raise CaseError(f"must be among {', '.join(role.words)} (got {brief(word)}){hint}")
    return tuple(listed)


def _link(role: Link, raw: Any, file: bool) -> str | None:
    if raw is None and role.optional:
        return None
    if not isinstance(raw, str) or not raw:
        raise CaseError(f"takes the name of a {_one_of(role.kinds)} (got {brief(raw)})")
    return raw


def _one_of(kinds: Sequence[str]) -> str:
    """Kinds in words; the many through which air passes are branches."""
    named = [kind for kind in kinds if kind in ("compartment", "outside", "part")]
    rest = [kind for kind in kinds if kind not in named]
    return " or ".join([*named, *(["branch"] if len(rest) > 2 else rest)])


def _table(role: Table, raw: Any, file: bool) -> Any:
    if raw is None and role.optional:
        return None
    raw, beside = _apart(role, raw)
    rows = _by_column(role, raw, file) if isinstance(raw, Mapping) else _by_row(role, raw, file)
    if len(rows) < role.minimum:
        few = "at least one row" if role.minimum == 1 else f"at least {role.minimum} rows"
        raise CaseError(f"needs {few} (got {len(rows)})")
    if role.cls is None:
        return rows
    return dataclasses.replace(build_group(role.cls, beside, file=file), rows=rows)


def _apart(role: Table, raw: Any) -> tuple[Any, Mapping[str, Any]]:
    """The rows or columns of a table, and the numbers that stand beside them."""
    if role.cls is None:
        return raw, {}
    if isinstance(raw, role.cls):
        numbers = {name: getattr(raw, attribute(name)) for name in keys(role.cls)}
        return raw.rows, numbers
    if not isinstance(raw, Mapping):
        return raw, {}
    numbers = {name: value for name, value in raw.items() if name in keys(role.cls)}
    return {name: value for name, value in raw.items() if name not in numbers}, numbers


def _by_column(role: Table, raw: Mapping[str, Any], file: bool) -> tuple[tuple[Any, ...], ...]:
    known = [*role.names, *(keys(role.cls) if role.cls is not None else ())]
    listed = ", ".join(role.names)
    if missing := [name for name in role.names if name not in raw]:
        raise CaseError(f'has no column "{missing[0]}"; the columns are {listed}')
    if unknown := [name for name in raw if name not in role.names]:
        close = nearest(unknown[0], known)
        hint = f'; did you mean "{close}"?' if close else f"; the columns are {listed}"
        raise CaseError(f'unknown column "{unknown[0]}"{hint}')
    columns = []
    for name, quantity in zip(role.names, role.quantities, strict=True):
        try:
            columns.append(_column(quantity, raw[name], file))
        except CaseError as error:
            raise CaseError([f'column "{name}": {fault}' for fault in error.faults]) from None
    if len({len(column) for column in columns}) > 1:
        counts = ", ".join(f"{n} {len(c)}" for n, c in zip(role.names, columns, strict=True))
        raise CaseError(f"columns must have the same length (got {counts})")
    return tuple(zip(*columns, strict=True))


def _column(quantity: Quantity | None, raw: Any, file: bool) -> Sequence[Any]:
    raw = plain(raw)
    if isinstance(raw, str):
        return raw.split() if quantity is None else _list(quantity, raw)
    if not isinstance(raw, Sequence):
        raise CaseError(f"takes a list (got {brief(raw)})")
    return [_station(item) if quantity is None else _one(quantity, item, file) for item in raw]


def _station(raw: Any) -> str:
    if not isinstance(raw, str) or not raw.strip():
        raise CaseError(f"takes a name (got {brief(raw)})")
    return raw


def _by_row(role: Table, raw: Any, file: bool) -> tuple[tuple[Any, ...], ...]:
    if not isinstance(raw, Sequence) or isinstance(raw, str):
        raise CaseError(f"takes a table with {', '.join(role.names)} (got {brief(raw)})")
    rows = []
    for count, item in enumerate(raw, 1):
        try:
            rows.append(_row(role, plain(item), file))
        except CaseError as error:
            raise CaseError([f"row {count}: {fault}" for fault in error.faults]) from None
    return tuple(rows)


def _row(role: Table, raw: Any, file: bool) -> tuple[Any, ...]:
    if isinstance(raw, Mapping):
        if set(raw) != set(role.names):
            raise CaseError(f"takes {', '.join(role.names)} (got {', '.join(map(str, raw))})")
        raw = [raw[name] for name in role.names]
    elif isinstance(raw, str) and None not in role.quantities and len(set(role.quantities)) == 1:
        return _list(role.quantities[0], raw, len(role.names))  # type: ignore[arg-type]
    if not isinstance(raw, Sequence) or isinstance(raw, str) or len(raw) != len(role.names):
        raise CaseError(f"takes {len(role.names)} values: {', '.join(role.names)} "
                        f"(got {brief(raw)})")  # fmt: skip
    return tuple(
        _station(item) if quantity is None else _one(quantity, item, file)
        for quantity, item in zip(role.quantities, raw, strict=True)
    )


def _group(role: Group, raw: Any, file: bool) -> Any:
    if raw is None and role.optional:
        return None
    if isinstance(raw, role.cls):
        return dataclasses.replace(raw, **_group_values(raw))
    if not isinstance(raw, Mapping):
        raise CaseError(f"takes a table with {', '.join(keys(role.cls))} (got {brief(raw)})")
    return build_group(role.cls, raw, file=file)


def _group_values(item: Any) -> dict[str, Any]:
    """The fields of a sub-table built in Python, converted; CaseError with every fault."""
    values, faults = {}, []
    for name, key in keys(type(item)).items():
        value = getattr(item, attribute(name))
        if getattr(key.role, "optional", False) and not given(value):
            continue
        try:
            values[attribute(name)] = convert(key.role, value)
        except CaseError as error:
            faults += [f"{name}: {fault}".replace(": =", " =") for fault in error.faults]
    if faults:
        raise CaseError(faults)
    return values


def build_group(cls: type[Any], raw: Mapping[str, Any], *, file: bool) -> Any:
    """A sub-table from its keys as written; CaseError with every fault, each after its key."""
    values, faults = converted(cls, raw, file=file)
    if faults:
        raise CaseError(faults)
    return cls(**values)


def converted(
    cls: type[Any], raw: Mapping[str, Any], *, file: bool
) -> tuple[dict[str, Any], list[str]]:
    """Values by Python name, and the faults of all keys (unknown and missing ones too)."""
    declared = keys(cls)
    values, faults = by_key(cls, raw, list(declared), file=file)
    for name, key in declared.items():
        if key.default is dataclasses.MISSING and name not in raw:
            faults.append(f"{name}: must be given; {key.doc}")
    return {attribute(name): value for name, value in values.items()}, faults


def by_key(
    cls: type[Any], raw: Mapping[str, Any], known: Sequence[str], *, file: bool
) -> tuple[dict[str, Any], list[str]]:
    """The converted values of some keys, out of those that are known here, and all faults."""
    values, faults = {}, []
    for name, value in raw.items():
        if name not in known:
            close = nearest(name, known)
            faults.append(f"{name}: unknown key" + (f'; did you mean "{close}"?' if close else ""))
            continue
        try:
            target, made = convert_key(cls, name, value, file=file)
            values[target] = made
        except CaseError as error:
            faults += [fault.replace(": =", " =", 1) for fault in error.faults]
    return values, faults


def convert_key(cls: type[Any], name: str, raw: Any, *, file: bool) -> tuple[str, Any]:
    """The converted value of one known key, and the key it belongs to (`speed` -> `rotation`).

    CaseError with every fault, each after its key.
    """
    target, role = redirected(cls, name, keys(cls)[name].role, raw)
    try:
        return target, convert(role, raw, file=file)
    except CaseError as error:
        joint = "." if isinstance(role, Group) and isinstance(raw, Mapping) else ": "
        raise CaseError([f"{name}{joint}{fault}" for fault in error.faults]) from None


def redirected(cls: type[Any], name: str, role: Role, value: Any) -> tuple[str, Role]:
    """`speed = "2400 rpm"` is the key `rotation`."""
    if isinstance(role, Number) and role.otherwise and isinstance(value, str):
        other = keys(cls)[role.otherwise].role
        unlike = not _fits(value, role.quantity) and any(map(str.isalpha, value))
        if isinstance(other, Number) and not any(map(str.isdigit, value)):
            return role.otherwise, _either(role, other)
        if isinstance(other, Number) and (unlike or _fits(value, other.quantity)):
            return role.otherwise, other
    return name, role


def _either(role: Number, other: Number) -> Number:
    """For words that are neither: what is refused names both quantities."""
    both = f"{role.quantity.name}, such as {role.quantity.example}, or {other.quantity.article}"
    return other._replace(quantity=other.quantity._replace(name=both))


def _text(role: Text, raw: Any, file: bool) -> Any:
    if raw is None and role.optional:
        return None
    if role.free:
        if not isinstance(raw, Mapping):
            raise CaseError(f"takes a table of anything, {{ ... }} (got {brief(raw)})")
        return frozen(raw)
    if not isinstance(raw, str):
        raise CaseError(f"takes text (got {brief(raw)})")
    return raw


def frozen(value: Any) -> Any:
    """Plain data that nobody can change any more: mappings and tuples all the way down."""
    if isinstance(value, Mapping):
        return MappingProxyType({key: frozen(item) for key, item in value.items()})
    return tuple(map(frozen, value)) if isinstance(value, (list, tuple)) else value


def _subtables(role: Subtables, raw: Any, file: bool) -> Any:
    if not isinstance(raw, Mapping) or not all(isinstance(v, Mapping) for v in raw.values()):
        raise CaseError(f"takes named sub-tables (got {brief(raw)})")
    return raw


_CONVERT: dict[type, Callable[[Any, Any, bool], Any]] = {
    Number: _number,
    Numbers: _several,
    Pair: _pair,
    Choice: _choice,
    Words: _words,
    Link: _link,
    Table: _table,
    Group: _group,
    Text: _text,
    Subtables: _subtables,
}
