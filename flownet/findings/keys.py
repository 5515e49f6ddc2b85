"""Keys of the case file in words, from their declarations."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable, Iterator
from typing import Any

from flownet.enclosure.heat import BRANCHES
from flownet.schema import fields
from flownet.schema.component import KINDS
from flownet.schema.fault import word
from flownet.schema.fields import NONE, TINY, Role, given
from flownet.schema.quantities import DIFFERENCE, TEMPERATURE, Quantity
from flownet.schema.units import measuring


def summary(kind: str) -> str:
    """`filter: a filter mat, by its measured drop over face velocity`."""
    text = (KINDS[kind].__doc__ or "").strip().splitlines()[0].rstrip(".")
    table = f"[{kind}]" if kind in ("outside", "enclosure", "limits") else f"[{kind}.NAME]"
    return f"{table}  {text[0].lower()}{text[1:]}"


def rows_of(kind: str, units: str) -> Iterator[tuple[str, str]]:
    """Name of each key, and its meaning with what it takes and its default."""
    for name, key in fields.keys(KINDS[kind]).items():
        default = default_of(key, units)
        ending = "must be given" if not default else f"default {default}"
        shown_default = "" if default == "none" else f", {ending}"
        yield name, f"{key.doc} [{_brief(key.role)}{shown_default}]"


def parts_of(kind: str, path: str, units: str) -> Iterator[tuple[str, str]]:
    """Meaning, value, default, range, typical values and sources of a key."""
    key = declared(kind, path)
    yield "meaning", key.doc
    yield "takes", _takes(key) + _also(kind, key.role)
    yield "default", default_of(key, units) or "none, it must be given"
    if span := _span(key.role, units):
        yield "range", span
    if key.typical:
        yield "typical", key.typical
    if key.source:
        yield "source", key.source
    exclusive = [names for names in KINDS[kind].EXCLUSIVE if path in names]
    others = dict.fromkeys(name for names in exclusive for name in names if name != path)
    if others:
        yield "instead of", ", ".join(others)


def declared(kind: str, path: str) -> fields.Key:
    """The declaration of a key, also within a sub-table: `guard.loss`."""
    cls: type[Any] = KINDS[kind]
    *outer, last = path.split(".")
    for step in outer:
        role = fields.keys(cls)[step].role
        assert isinstance(role, (fields.Group, fields.Rows))
        assert role.cls is not None
        cls = role.cls
    return fields.keys(cls)[last]


# --- what a key takes ---------------------------------------------------------------------------


def _takes(key: fields.Key) -> str:
    """In full, with units and an example."""
    match key.role:
        case fields.Number(quantity=quantity):
            like = _example(quantity)
            if quantity.bare and isinstance(key.default, (int, float)) and key.default > 0:
                like = f"{key.default:g}"
            return f"{quantity.article}, such as {like}{_in_units(quantity)}"
        case fields.Numbers() as role:
            many = f"{role.count} to {role.most}" if role.most else f"{role.count}"
            return f"{many} numbers and one unit: {role.quantity.name}{_in_units(role.quantity)}"
        case fields.Pair(quantities=quantities):
            return "two values, such as [" + ", ".join(_example(x) for x in quantities) + "]"
        case fields.Rows() as role:
            columns = ", ".join(
                f"{name} ({'a word' if x is None else f'such as {_example(x)}'})"
                for name, x in zip(role.names, role.quantities, strict=True)
            )
            beside = ", ".join(fields.keys(role.cls)) if role.cls is not None else ""
            return f"a table of {columns}" + (f"; beside it {beside}" if beside else "")
        case fields.Group(cls=cls):
            return "a sub-table with " + ", ".join(fields.keys(cls))
    return _brief(key.role)


def _also(kind: str, role: Role) -> str:
    """The other quantity a key takes: `speed = "2400 rpm"`."""
    if not isinstance(role, fields.Number) or not role.otherwise:
        return ""
    other = declared(kind, role.otherwise).role
    assert isinstance(other, fields.Number)
    return f"; or {other.quantity.article}, such as {_example(other.quantity)}"


def _brief(role: Role) -> str:
    """In a few words."""
    return _BRIEF[type(role)](role)


_BRIEF: dict[type, Callable[[Any], str]] = {
    fields.Number: lambda role: role.quantity.name,
    fields.Numbers: lambda role: (
        f"{role.count}{f' to {role.most}' if role.most else ''} x {role.quantity.name}"
    ),
    fields.Pair: lambda role: " and ".join(x.name for x in role.quantities),
    fields.Choice: lambda role: " | ".join(map(word, role.words)),
    fields.WordList: lambda role: "list of " + (" | ".join(map(word, role.words)) or "names"),
    fields.Link: lambda role: "name of a " + " or ".join(dict.fromkeys(
        "branch" if kind in BRANCHES and len(role.kinds) > 1 else kind for kind in role.kinds)),
    fields.Rows: lambda role: "table " + ", ".join(role.names),
    fields.Group: lambda role: "sub-table",
    fields.Subtables: lambda role: "sub-tables",
    fields.Text: lambda role: "text",
}  # fmt: skip


def _example(quantity: Quantity) -> str:
    return quantity.example if quantity.bare else f'"{quantity.example}"'


def _in_units(quantity: Quantity) -> str:
    """The units of the table that measure a quantity."""
    names = measuring(TEMPERATURE if quantity == DIFFERENCE else quantity)
    joint = ", or in" if quantity.bare and not quantity.json.unit else "; in"
    return f"{joint} {', '.join(names)}" if names else ""


# --- defaults and ranges ------------------------------------------------------------------------


def default_of(key: fields.Key, units: str) -> str:
    """The default in the reader's units; empty where the key must be given."""
    role, default = key.role, key.default
    if default is dataclasses.MISSING:
        return ""
    if isinstance(role, fields.Number) and given(default):
        return role.quantity.shown(units).exact(default)
    if isinstance(role, fields.Choice) and default is not None:
        return word(default)
    if isinstance(role, fields.Group) and default is not None:
        return "its own"
    return "none" if default in (None, (), NONE) or not given(default) else str(default)


def _span(role: Role, units: str) -> str:
    """The range of a number; empty where any value is allowed."""
    if not isinstance(role, (fields.Number, fields.Numbers)):
        return ""
    shown = role.quantity.shown(units).exact
    low = f"from {shown(role.low)}" if role.low > -math.inf else ""
    low = "above 0" if role.low == TINY else low
    high = f"up to {shown(role.high)}" if role.high < math.inf else ""
    return " ".join(text for text in (low, high) if text)
