"""Values as a case file writes them: with a unit people read, and not a digit lost."""

from __future__ import annotations

import datetime
import json
import re
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from flownet.schema import quantities as q
from flownet.schema import units
from flownet.schema.errors import CaseError
from flownet.schema.fields import Group, Number, Numbers, Pair, Role, Table, attribute, given, keys
from flownet.schema.quantities import Quantity

_BARE = re.compile(r"[A-Za-z0-9_-]+")


def value_text(role: Role | None, value: Any) -> str:
    """One value of a thing as TOML; reading it gives the same value.

    CaseError, without a place, for free data that TOML cannot hold.
    """
    writer = _WRITERS.get(type(role))
    return plain(value) if writer is None or isinstance(value, str) else writer(role, value)


def _numbers(role: Numbers, value: Sequence[float]) -> str:
    is_size = role.quantity == q.LENGTH and role.low > 0
    return listed(role.quantity, value, " x " if is_size else " ")


def _pair(role: Pair, value: Sequence[float]) -> str:
    both = zip(role.quantities, value, strict=True)
    return f"[{', '.join(number(quantity, item) for quantity, item in both)}]"


def number(quantity: Quantity, value: float) -> str:
    """`"450 cm2"`, or the number alone where it has no unit."""
    if not quantity.metric.unit:
        whole = quantity == q.COUNT and value.is_integer()
        return str(int(value)) if whole else repr(value)
    return plain(units.write(value, quantity))


def listed(quantity: Quantity, values: Sequence[float], joint: str = " ") -> str:
    """`"0 0 800 900 mm"`; each with its own unit where they do not share one."""
    each = [units.write(value, quantity).partition(" ") for value in values]
    joined = joint.join(text for text, _, _ in each) + f" {each[0][2]}".rstrip()
    if len({unit for _, _, unit in each}) == 1 and len(joined) <= units.LONGEST_LIST:
        return plain(joined)
    return f"[{', '.join(number(quantity, value) for value in values)}]"


def _table(role: Table, value: Any) -> str:
    rows: Sequence[Sequence[Any]] = value if role.cls is None else value.rows
    measured = [quantity for quantity in role.quantities if quantity is not None]
    same = len(measured) == len(role.names) and len(set(measured)) == 1
    if same:
        return f"[{', '.join(listed(measured[0], row) for row in rows)}]"
    if len(measured) < len(role.names) or not rows:
        return f"[{', '.join(_row(role, row) for row in rows)}]"
    columns = zip(role.names, measured, zip(*rows, strict=True), strict=True)
    inner = ", ".join(f"{name} = {listed(quantity, column)}" for name, quantity, column in columns)
    for name, key in keys(role.cls).items() if role.cls is not None else ():
        if (beside := getattr(value, attribute(name))) != key.default:
            inner += f", {name} = {value_text(key.role, beside)}"
    return f"{{ {inner} }}"


def _row(role: Table, row: Sequence[Any]) -> str:
    cells = zip(role.quantities, row, strict=True)
    return f"[{', '.join(plain(v) if unit is None else number(unit, v) for unit, v in cells)}]"


def group(item: Any) -> str:
    """`{ loss = 0.6 }`."""
    pairs = []
    for name, key in keys(type(item)).items():
        value = getattr(item, attribute(name))
        if given(value):
            pairs.append(f"{name} = {value_text(key.role, value)}")
    return f"{{ {', '.join(pairs)} }}" if pairs else "{}"


_WRITERS: dict[type, Callable[[Any, Any], str]] = {
    Number: lambda role, value: number(role.quantity, float(value)),
    Numbers: _numbers,
    Pair: _pair,
    Table: _table,
    Group: lambda _, value: group(value),
}


def key_text(key: str) -> str:
    """A key, in quotes where it needs them."""
    return key if _BARE.fullmatch(key) else plain(key)


def plain(value: Any) -> str:
    """Text, numbers, dates, lists and mappings as TOML."""
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007F")
    if isinstance(value, (bool, int)):
        return str(value).lower()
    if isinstance(value, float):
        return repr(value)  # nan and inf as TOML spells them too
    if isinstance(value, (datetime.datetime, datetime.date, datetime.time)):
        return value.isoformat()
    if isinstance(value, (list, tuple)):
        return f"[{', '.join(map(plain, value))}]"
    if isinstance(value, Mapping):
        inner = ", ".join(f"{key_text(str(key))} = {plain(item)}" for key, item in value.items())
        return f"{{ {inner} }}" if inner else "{}"
    raise CaseError(f"a case file cannot hold a {type(value).__name__} (got {value!r:.60})")


def share(value: float) -> str:
    """A share of 1 in per cent, `6 %`."""
    texts = [f"{100 * value:.{digits}g} %" for digits in (15, 16, 17)]
    return next((text for text in texts if units.parse(text, q.RATIO) == value), texts[-1])
