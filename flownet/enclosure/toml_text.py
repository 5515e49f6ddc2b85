"""Values of changes as a case file has them: text with units, lists and tables of it."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

import numpy as np

from flownet.enclosure.enclosure import Enclosure, Place
from flownet.enclosure.relative import is_relative
from flownet.schema import quantities as q
from flownet.schema import units
from flownet.schema.component import (
    Group,
    Number,
    Numbers,
    Pair,
    Role,
    Table,
    attribute,
    convert,
    given,
    keys,
)
from flownet.schema.quantities import Quantity


def as_text(case: Enclosure, path: str, value: Any) -> Any:
    """A value of a change as a case file writes it: reading it gives the same value.

    Text stays as it is; a number with a unit becomes text, a table columns of text. None: not
    given.
    """
    place = case.places(path)[0]
    role, value = place.role, value.item() if isinstance(value, np.generic) else value
    if role is None or isinstance(value, str) or not given(value):
        return value if isinstance(value, str) else None
    return _plain(role, convert(role, value))


def relative_made(case: Enclosure) -> dict[str, Any]:
    """What relative changes made of what stood there, by path, as `as_text`."""
    places = [place for path, value in case.applied.changes.items()
              if is_relative(value, case.places(path)[0].role)
              for place in case.places(path)]  # fmt: skip
    return {place.path: as_text(case, place.path, _made(case, place)) for place in places}


def _made(case: Enclosure, place: Place) -> Any:
    value = case[place.path]
    if not given(value) and place.key == "speed":
        return units.write(case[f"{place.kind}.{place.name}.rotation"], q.SPEED)
    return value


def _plain(role: Role, value: Any) -> Any:
    writer = _WRITERS.get(type(role))
    return value if writer is None or value is None else writer(role, value)


def _number(quantity: Quantity, value: float) -> Any:
    """`"450 cm2"`, or the number where it has no unit."""
    if quantity.metric.unit:
        return units.write(value, quantity)
    return int(value) if quantity == q.COUNT and value.is_integer() else value


def _row(quantities: Sequence[Quantity | None], values: Sequence[Any]) -> list[Any]:
    pairs = zip(quantities, values, strict=True)
    return [value if quantity is None else _number(quantity, value) for quantity, value in pairs]


def _table(role: Table, value: Any) -> Any:
    """By columns; by rows where the order of words matters, or there are no rows."""
    rows: Sequence[Sequence[Any]] = value if role.cls is None else value.rows
    if None in role.quantities or not rows:
        return [_row(role.quantities, row) for row in rows]
    columns = zip(role.names, role.quantities, zip(*rows, strict=True), strict=True)
    found = {name: _row([quantity] * len(rows), column) for name, quantity, column in columns}
    return found | _group(value) if role.cls is not None else found


def _group(item: Any) -> dict[str, Any]:
    found = {}
    for name, key in keys(type(item)).items():
        value = getattr(item, attribute(name))
        if given(value):
            found[name] = _plain(key.role, value)
    return found


_WRITERS: Mapping[type, Callable[[Any, Any], Any]] = {
    Number: lambda role, value: _number(role.quantity, float(value)),
    Numbers: lambda role, value: _row([role.quantity] * len(value), value),
    Pair: lambda role, value: _row(role.quantities, value),
    Table: _table,
    Group: lambda _, value: _group(value),
}
