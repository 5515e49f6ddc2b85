"""The case as it is solved, value by value, each with where it comes from."""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, NamedTuple

from flownet.casefile.write import value_text
from flownet.enclosure.contents import rivals
from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.relative import DEFAULT, is_relative
from flownet.enclosure.scenarios import scenario_changes, variant_changes
from flownet.schema.component import Thing
from flownet.schema.fields import Group, Key, attribute, given, keys


class Resolved(NamedTuple):
    """One value: `fan.left.guard.loss`, `0.6`, `given`."""

    path: str
    value: str  # as a case file writes it; words where a default follows from something else
    origin: str  # "given", "type line", "like left", "copies of card", "default (source)"


def resolved(case: Enclosure, scenario: str = "base", variant: str = "base") -> Iterator[Resolved]:
    """Every value that counts, after `like`, `copies`, `type`, variant and scenario.

    Parameters
    ----------
    case : Enclosure
        As it was read or built.
    scenario, variant : str
        As for `Enclosure.under`.

    Yields
    ------
    Resolved
        Path, text of the value and origin: "given" (with the catalogue's file), "type NAME",
        "like NAME", "copies of NAME", "scenario NAME", "variant NAME", "change", or "default" with
        the source of the default.

    Raises
    ------
    CaseError
        There is no such scenario or variant.
    """
    now = case.under(scenario, variant)
    changed = _changed(case, case.applied.changes, "change")
    changed |= _changed(case, variant_changes(case, variant), f"variant {variant}")
    design = case.under(variant=variant)  # what fails is what runs in the variant
    changed |= _changed(case, scenario_changes(design, scenario), f"scenario {scenario}")
    for kind, named in now.things.items():
        for name, item in named.items():
            if not (kind == "fan_type" and ".rating." in name):
                yield from _values(case, item, changed)


def counting(case: Enclosure, rows: Sequence[Resolved]) -> list[Resolved]:
    """The rows without defaults that have no effect where they stand.

    What is written in the case stays: `solve` says of it that it does nothing.
    """
    from flownet.findings.entries import IDLE  # noqa: PLC0415 - rules, which few commands need

    idle = {
        f"{item.path}.{each.key}"
        for each in IDLE for item in case.things[each.kind].values() if each.test(case, item)
    }  # fmt: skip
    return [row for row in rows if row.path not in idle or not row.origin.startswith("default")]


def _changed(case: Enclosure, changes: Mapping[str, Any], origin: str) -> dict[str, str]:
    return {
        place.path: f"{origin}, {value}" if is_relative(value) else origin
        for path, value in changes.items() for place in case.places(path)
    }  # fmt: skip


def _values(case: Enclosure, item: Thing, changed: Mapping[str, str]) -> Iterator[Resolved]:
    if item.type is not None and "type" not in keys(type(item)):
        origin = _origin(case, item, "type", changed)
        yield Resolved(f"{item.path}.type", value_text(None, item.type), origin)
    for name, key in keys(type(item)).items():
        value = getattr(item, attribute(name))
        if name == "rating":
            yield from _ratings(item, value)
        elif isinstance(key.role, Group) and value is not None:
            for inner, below in keys(type(value)).items():
                found = getattr(value, attribute(inner))
                yield from _value(case, item, f"{name}.{inner}", below, found, changed)
        else:
            yield from _value(case, item, name, key, value, changed)


def _value(
    case: Enclosure, item: Thing, inner: str, key: Key, value: Any, changed: Mapping[str, str]
) -> Iterator[Resolved]:
    path, name = f"{item.path}.{inner}", inner.partition(".")[0]
    if given(value):
        origin = _origin(case, item, inner, changed)
        if origin == "default":
            origin = _default(key)
        yield Resolved(path, value_text(key.role, value), origin)
    elif (match := DEFAULT.search(f"{key.doc}; {key.source}")) and not any(
        given(getattr(item, attribute(other))) for other in rivals(type(item), name)
    ):
        yield Resolved(path, match[1], _default(key))


def _default(key: Key) -> str:
    source = DEFAULT.sub("", key.source).strip()
    return f"default ({source})" if source else "default"


def _origin(case: Enclosure, item: Thing, inner: str, changed: Mapping[str, str]) -> str:
    name = inner.partition(".")[0]
    for step in (f"{item.path}.{inner}", f"{item.path}.{name}"):
        below = [p for p in changed if p == step or p.startswith(f"{step}.")]
        if below:
            return changed[below[-1]]
    place = case.written.get(f"{item.path}.{name}")
    if place is not None:
        return _elsewhere(item, place)
    if item.given is None:
        own = {f.name: f.default for f in dataclasses.fields(item)} | {"data": None}
        return "default" if getattr(item, attribute(name)) == own[attribute(name)] else "given"
    if name in item.given or name == "type":
        file = case.written.get(item.path)
        return f"given ({file})" if file else "given"
    return "default"


def _elsewhere(item: Thing, place: str) -> str:
    """`type line`, `like left` or `copies of card`, from where the value is written."""
    kind, name, _ = place.split(".", 2) if place.count(".") > 1 else (item.KIND, "", "")
    if kind != item.KIND:
        return f"type {name}"
    if re.fullmatch(re.escape(name) + r"-[1-9]\d*", item.name):
        return f"copies of {name}"
    return f"like {name}" if name else f"like {item.KIND}"


def _ratings(item: Thing, ratings: Mapping[str, Mapping[str, Any]]) -> Iterator[Resolved]:
    declared = keys(type(item))
    for rating, values in ratings.items():
        for name, value in values.items():
            path = f"{item.path}.rating.{rating}.{name}"
            yield Resolved(path, value_text(declared[name].role, value), "given")
