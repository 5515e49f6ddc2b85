"""Values as a case file writes them: with a unit people read, and not a digit lost."""

from __future__ import annotations

import datetime
import json
import re
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

import numpy as np

from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.relative import is_relative
from flownet.schema import fields, units
from flownet.schema import quantities as q
from flownet.schema.component import KINDS
from flownet.schema.convert import convert, convert_key
from flownet.schema.errors import CaseError
from flownet.schema.fields import Role, attribute, given, keys
from flownet.schema.quantities import Quantity

_BARE = re.compile(r"[A-Za-z0-9_-]+")

# --- values -> text and numbers, in lists and mappings ------------------------------------------


def written(role: Role | None, value: Any, *, joined: bool = True) -> Any:
    """A value as a case file holds it: reading it gives the same value.

    A number with a unit becomes text, a table columns, a sub-table a mapping. `joined`: numbers of
    one unit stand in one text, `"0 0 800 900 mm"`; else each by itself.
    """
    if value is None or isinstance(value, str):
        return value
    if isinstance(role, fields.Number):
        return number(role.quantity, float(value))
    if isinstance(role, fields.Numbers):
        is_size = role.quantity == q.LENGTH and role.low > 0
        return _listed(role.quantity, value, joined, " x " if is_size else " ")
    if isinstance(role, fields.Pair):
        return _row(role.quantities, value)
    if isinstance(role, fields.Rows):
        return _table(role, value, joined)
    return dict(_inner(value, joined)) if isinstance(role, fields.Group) else value


def number(quantity: Quantity, value: float) -> Any:
    """`"450 cm2"`, or the number where it has no unit."""
    if quantity.metric.unit:
        return units.write(value, quantity)
    return int(value) if quantity == q.COUNT and value.is_integer() else value


def _listed(quantity: Quantity, values: Sequence[float], joined: bool, joint: str = " ") -> Any:
    return listed(quantity, values, joint) if joined else [number(quantity, v) for v in values]


def listed(quantity: Quantity, values: Sequence[float], joint: str = " ") -> Any:
    """`"0 0 800 900 mm"`; each with its own unit where they do not share one."""
    each = [units.write(value, quantity).partition(" ") for value in values]
    text = joint.join(text for text, _, _ in each) + f" {each[0][2]}".rstrip()
    if len({unit for _, _, unit in each}) == 1 and len(text) <= units.LONGEST_LIST:
        return text
    return [number(quantity, value) for value in values]


def _row(quantities: Sequence[Quantity | None], values: Sequence[Any]) -> list[Any]:
    pairs = zip(quantities, values, strict=True)
    return [value if quantity is None else number(quantity, value) for quantity, value in pairs]


def _table(role: fields.Rows, value: Any, joined: bool) -> Any:
    """By columns; by rows where the order of words matters, or there are no rows.

    Joined, by rows too where all is of one quantity.
    """
    rows: Sequence[Sequence[Any]] = value if role.cls is None else value.rows
    measured = [quantity for quantity in role.quantities if quantity is not None]
    if joined and len(measured) == len(role.names) and len(set(measured)) == 1:
        return [listed(measured[0], row) for row in rows]
    if len(measured) < len(role.names) or not rows:
        return [_row(role.quantities, row) for row in rows]
    columns = zip(role.names, measured, zip(*rows, strict=True), strict=True)
    found = {name: _listed(quantity, column, joined) for name, quantity, column in columns}
    if role.cls is None:
        return found
    default = {name: key.default for name, key in keys(role.cls).items()}
    beside = dict(_inner(value, joined))
    return found | {name: text for name, text in beside.items()
                    if not joined or getattr(value, attribute(name)) != default[name]}  # fmt: skip


def _inner(item: Any, joined: bool) -> Iterator[tuple[str, Any]]:
    """The keys that a sub-table gives."""
    for name, key in keys(type(item)).items():
        value = getattr(item, attribute(name))
        if given(value):
            yield name, written(key.role, value, joined=joined)


# --- of changes ---------------------------------------------------------------------------------


def as_text(case: Enclosure, path: str, value: Any, *, joined: bool = False) -> Any:
    """A value of a change as a case file has it, each number by itself; None: not given."""
    place = case.places(path)[0]
    role, value = place.role, value.item() if isinstance(value, np.generic) else value
    if role is None or isinstance(value, str) or not given(value):
        return value if isinstance(value, str) else None
    if isinstance(role, fields.Subtables):
        cls = KINDS[place.kind]
        _, tables = convert_key(cls, place.key, value, file=False)
        own = keys(cls)
        return {name: {key: written(own[key].role, item, joined=False) for key, item in
                       table.items()} for name, table in tables.items()}  # fmt: skip
    return written(role, convert(role, value), joined=joined)


def settable(case: Enclosure, changes: Mapping[str, Any], joined: bool = False) -> dict[str, Any]:
    """Changes as `--set` and a case file take them."""
    return {path: as_text(case, path, value, joined=joined) for path, value in changes.items()}


def relative_made(case: Enclosure) -> dict[str, Any]:
    """What relative changes made of what stood there, by path, as `as_text`."""
    places = [place for path, value in case.applied.changes.items()
              if is_relative(value, case.places(path)[0].role)
              for place in case.places(path)]  # fmt: skip
    return settable(case, {place.path: present(case, place.path) for place in places})


def present(case: Enclosure, path: str) -> Any:
    """What stands at a path now, as a change takes it."""
    if not given(value := case[path]) and path.endswith(".speed"):
        return units.write(case[f"{path.removesuffix('speed')}rotation"], q.SPEED)
    return value


# --- as TOML ------------------------------------------------------------------------------------


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
