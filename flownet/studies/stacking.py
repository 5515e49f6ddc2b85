"""Enclosures that can be one batch, and their columns side by side."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

import numpy as np

from flownet.columns import Inputs
from flownet.enclosure.enclosure import Enclosure
from flownet.schema.arrays import Array
from flownet.schema.component import KINDS
from flownet.schema.fields import REMARKS, Choice, Number, Rows, get, given, roles

BatchShape = tuple[Any, ...]


def shape_of(case: Enclosure, seen: dict[int, BatchShape]) -> BatchShape:
    """What is no column: enclosures that are alike in it can be one batch.

    `seen`: shapes of mappings by their identity; kinds that nothing changes are the same mapping
    in many enclosures, looked at once.
    """
    for kind, named in case.things.items():
        if id(named) not in seen:
            seen[id(named)] = tuple(
                (name, key, _fixed(role, get(item, key)))
                for key, role in roles(KINDS[kind]).items()
                if key not in REMARKS and not _in_columns(role)
                for name, item in named.items()
            )
    return tuple((kind, seen[id(named)]) for kind, named in case.things.items())


def _in_columns(role: Any) -> bool:
    worded = isinstance(role, Rows) and None in role.quantities  # the stations of a chain
    varies = isinstance(role, (Number, Choice, Rows)) or getattr(role, "varies", False)
    return varies and not worded


def _fixed(role: Any, value: Any) -> Any:
    if isinstance(role, Rows) and given(value):
        return tuple(row[role.quantities.index(None)] for row in value)
    return repr(sorted(value.items())) if isinstance(value, Mapping) else value


def stacked(every: Sequence[Inputs]) -> Inputs:
    """Columns of enclosures of one shape one behind the other, as variants of one.

    A row that is the same in all stays one column; tables are put together, and what names them
    follows.
    """
    first = every[0]
    if len(every) == 1:
        return first
    index: dict[tuple[str, str], dict[Any, int]] = {}
    for inputs in every:
        for key, pool in inputs.tables.items():
            known = index.setdefault(key, {})
            for table in pool:
                known.setdefault(table, len(known))
    tables = {key: tuple(known) for key, known in index.items()}
    widths = [inputs.variants for inputs in every]
    columns = {
        kind: {key: _beside(list(_coded(every, (kind, key), index)), widths) for key in named}
        for kind, named in first.columns.items()
    }
    return Inputs(first.enclosure, columns, tables, sum(widths))


def _coded(
    every: Sequence[Inputs], key: tuple[str, str], index: Mapping[tuple[str, str], dict[Any, int]]
) -> Iterator[Array]:
    """A column of each, tables named by their place among those of all."""
    places, kind = index.get(key, {}), key[0]
    for inputs in every:
        column, own = inputs.columns[kind][key[1]], inputs.tables.get(key, ())
        code = [places[table] for table in own]
        if code != list(range(len(own))):
            column = np.array([*code, -1], float)[column.real.astype(int)]  # the last: not given
        yield column


def _beside(columns: list[Array], widths: Sequence[int]) -> Array:
    first, own = columns[0], {id(column): column for column in columns}.values()
    if first.shape[1] == 1 and all(c.shape == first.shape for c in own):
        side_by_side = np.concatenate(list(own), axis=1)
        nothing = np.isnan(first)
        if ((side_by_side == first) | nothing & np.isnan(side_by_side)).all():
            return first
    return np.concatenate(
        [np.broadcast_to(c, (len(c), n)) for c, n in zip(columns, widths, strict=True)], axis=1
    )
