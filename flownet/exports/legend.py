"""The columns of conditions for a flow simulation, which `legend.toml` declares: quantity, and what
it is."""

from __future__ import annotations

import functools
import importlib.resources
import re
import tomllib
from collections.abc import Iterable, Sequence
from typing import Any

from flownet.pages.sheet import Listing, by_rows
from flownet.schema.quantities import QUANTITIES, RATIO, Quantity
from flownet.schema.shown import Shown


@functools.cache
def declared() -> dict[str, dict[str, tuple[str, str]]]:
    """Table -> column -> quantity or unit, and what it is."""
    text = importlib.resources.files("flownet.exports").joinpath("legend.toml").read_text("utf-8")
    tables = tomllib.loads(text)
    common = tables.pop("all")
    return {name: {key: tuple(common[key] if told == "all" else told) for key, told in each.items()}
            for name, each in tables.items()}  # fmt: skip


def tabled(name: str, rows: Sequence[tuple[Any, ...]]) -> Listing:
    """A table of rows whose columns are declared."""
    return by_rows(name, [(head, _quantity(kind)) for head, (kind, _) in declared()[name].items()],
                   rows)  # fmt: skip


def _quantity(kind: str) -> Quantity | None:
    """A quantity by its name; one of its own for a unit that none has."""
    if not kind or kind in QUANTITIES:
        return QUANTITIES.get(kind)
    shown, key = Shown(kind), re.sub("[ ]", "", kind.replace("/", "_"))
    return RATIO._replace(name=kind, json=Shown(key), metric=shown, us=shown)


def about(tables: Iterable[Listing]) -> Listing:
    """What the columns of tables that have rows are."""
    told = [(table.name, column, words) for table in tables if len(table)
            for column, (_, words) in declared()[table.name].items()]  # fmt: skip
    return by_rows("about", (("table", None), ("column", None), ("is", None)), told)
