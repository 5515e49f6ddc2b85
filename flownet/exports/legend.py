"""The columns of exported tables, which `legend.toml` declares: quantity, and what it is."""

from __future__ import annotations

import functools
import importlib.resources
import re
import tomllib
from collections.abc import Iterable, Iterator
from typing import Any

from flownet.pages.sheet import Heads, Listing, by_rows
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


def tabled(name: str, rows: Iterable[tuple[Any, ...]]) -> Listing:
    """A table of rows whose columns are declared."""
    heads: Heads = [(column, _quantity(kind)) for column, (kind, _) in declared()[name].items()]
    return by_rows(name, heads, list(rows))


def _quantity(kind: str) -> Quantity | None:
    """A quantity by its name; one of its own for a unit that none has."""
    if not kind or kind in QUANTITIES:
        return QUANTITIES.get(kind)
    shown, key = Shown(kind), re.sub("[ ]", "", kind.replace("/", "_"))
    return RATIO._replace(name=kind, json=Shown(key), metric=shown, us=shown)


def about(tables: Iterable[Listing]) -> Listing:
    """What the columns of tables that have rows are."""
    heads: Heads = (("table", None), ("column", None), ("is", None))
    return by_rows("about", heads, [*_told(tables)])


def _told(tables: Iterable[Listing]) -> Iterator[tuple[str, str, str]]:
    for table in (table for table in tables if len(table)):
        for column, (_, words) in declared()[table.name].items():
            yield table.name, column, words
