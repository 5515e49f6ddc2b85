"""Changes in the things of an enclosure, checked again; and one change after another."""

from __future__ import annotations

import dataclasses
import math
import re
from collections.abc import Mapping, Sequence
from types import MappingProxyType
from typing import Any, TypeVar

import numpy as np

from flownet.enclosure import checks
from flownet.enclosure.changes import role_of, steps
from flownet.enclosure.contents import Changes, Contents, Place
from flownet.enclosure.relative import is_relative, joined, settled
from flownet.enclosure.values import as_list, objects, several
from flownet.schema.component import Thing
from flownet.schema.convert import convert, plain
from flownet.schema.errors import CaseError, placed
from flownet.schema.fault import Fault
from flownet.schema.fields import Group, Numbers, Pair, Role, Rows, attribute, given, keys

C = TypeVar("C", bound=Contents)
_RATING = re.compile(r"^(fan_type\.[^.]+)\.rating\.[^.]+")


def applied(case: C, changes: Changes) -> C:
    """A new enclosure with these values in its things; CaseError with every fault."""
    settings: dict[tuple[str, str], dict[str, Any]] = {}
    faults: list[Fault] = []
    now: dict[Place, Any] = {}
    for path, raw in changes.items():
        with placed(faults=faults):
            for step in steps(case, {path: raw}, now):
                if isinstance(step.value, np.ndarray):
                    raise CaseError(f"{path}: takes one value here; solve_many takes arrays")
                settings.setdefault(step.place[:2], {})[step.place.key] = step.value
    touched = {kind for kind, _ in settings}
    things: dict[str, Any] = {  # kinds that nothing changes stay the same mappings
        kind: dict(named) if kind in touched else named for kind, named in case.things.items()
    }
    for (kind, name), values in settings.items():
        with placed(faults=faults):
            things[kind][name] = rebuilt(things[kind][name], values)
    if faults:
        raise CaseError(told_once(faults))
    _kept_ratings(things["fan_type"], [name for kind, name in settings if kind == "fan_type"])
    frozen = MappingProxyType({
        kind: MappingProxyType(named) if kind in touched else named
        for kind, named in things.items()
    })  # fmt: skip
    made = dataclasses.replace(case, things=frozen)
    if between := checks.all_faults(made):
        raise CaseError(between)
    after = covered(case, case.applied.changes, changes)
    return dataclasses.replace(made, applied=case.applied._replace(changes=after))


def told_once(faults: Sequence[str]) -> list[str]:
    """Without what the ratings of a fan type have from their type."""
    every = dict.fromkeys(faults)
    return [
        fault for fault in every if (of := _RATING.sub(r"\1", fault)) == fault or of not in every
    ]


def _kept_ratings(types: dict[str, Any], changed: Sequence[str]) -> None:
    """What a rating's own row says now, said by the `rating` table of its type as well."""
    for path in changed:
        name, joint, rating = path.partition(".rating.")
        if joint:
            base, row = types[name], types[path]
            own = {
                key: getattr(row, attribute(key))
                for key in keys(type(base))
                if key != "rating"
                and (
                    key in base.rating[rating]
                    or getattr(row, attribute(key)) != getattr(base, attribute(key))
                )
            }
            kept = {key: value for key, value in own.items() if given(value)}
            rows = MappingProxyType({**base.rating, rating: MappingProxyType(kept)})
            types[name] = dataclasses.replace(base, rating=rows)
            types[path] = dataclasses.replace(row, given=frozenset(kept))


def rebuilt(item: Thing, values: Mapping[str, Any]) -> Thing:
    """The thing with new values, by their path within it, checked again.

    CaseError with every fault of it.
    """
    made: dict[str, Any] = {}
    for key in dict.fromkeys(path.partition(".")[0] for path in values):
        name, inner = attribute(key), _below(key, values)
        whole = values.get(key, getattr(item, name))
        if inner:
            whole = _with(f"{item.path}.{key}", keys(type(item))[key].role, whole, inner)
        made[name] = whole
    return dataclasses.replace(item, **made)


def _below(key: str, values: Mapping[str, Any]) -> dict[str, Any]:
    """What stands below a key, by the rest of its path."""
    return {p[len(key) + 1 :]: value for p, value in values.items() if p.startswith(key + ".")}


def _with(path: str, role: Role, old: Any, inner: Mapping[str, Any]) -> Any:
    """A sub-table, a list or the numbers beside a table with new values.

    None, or the defaults of a sub-table, where nothing of it is given.
    """
    if isinstance(role, Group):
        declared = keys(role.cls)
        values = {k: getattr(old, attribute(k)) for k in declared} if old is not None else {}
        for key in dict.fromkeys(path.partition(".")[0] for path in inner):
            if below := _below(key, inner):
                values[key] = _listed(declared[key].role, values.get(key), below)
            else:
                values[key] = inner[key]
        present = {key: value for key, value in values.items() if given(value)}
        return present if present or not role.optional else None
    if isinstance(role, Rows):
        if old is not None:
            return dataclasses.replace(convert(role, old), **inner)
        if any(map(given, inner.values())):
            raise CaseError(f"{path}.{next(iter(inner))}: stands beside a table that is not given")
        return None
    listed = _listed(role, old, inner)
    if listed and not all(map(given, listed)):
        missing = next(i for i, value in enumerate(listed) if not given(value))
        raise CaseError(f"{path}.{missing}: must be given too; a list has all its values")
    return listed


def _listed(role: Role, old: Any, inner: Mapping[str, Any]) -> tuple[Any, ...] | None:
    """A list with some of its values new; None where none is given."""
    assert isinstance(role, (Numbers, Pair))
    count = role.places if isinstance(role, Numbers) else len(role.quantities)
    values = list(old) if old is not None else []
    values += [math.nan] * (count - len(values))
    for index, value in inner.items():
        values[int(index)] = value
    least = role.count if isinstance(role, Numbers) else count
    while len(values) > least and not given(values[-1]):
        values.pop()
    return tuple(values) if any(map(given, values)) else None


# --- one change after another -------------------------------------------------------------------


def covered(case: Contents, first: Changes, then: Changes) -> dict[str, Any]:
    """Changes followed by others, without those that have no effect any more.

    A relative change acts on what was set before it. CaseError where that leads out of a range.
    """
    kept = dict(first)
    for path, value in then.items():
        if is_relative(value) and is_relative(value, case.places(path)[0].role):
            kept = _followed(case, kept, path, value)
            continue
        kept = {old: v for old, v in kept.items() if not _covers(case, path, old)}
        kept[path] = value
    return kept


def outlasts(case: Contents, path: str, then: Changes) -> bool:
    """Whether anything of a change at a path is left after these."""
    return not any(_covers(case, p, path) for p, value in then.items() if not is_relative(value))


def _followed(case: Contents, kept: dict[str, Any], path: str, text: str) -> dict[str, Any]:
    """Changes and then a relative one: by a path of its own, or worked into what it acts on."""
    if path not in kept:
        return {**kept, path: text}
    here = {place.path for place in case.places(path)}
    later = list(kept)[list(kept).index(path) + 1 :]
    between = {old for old in later if here & {place.path for place in case.places(old)}}
    if not between:
        return {**kept, path: _worked_in(case, path, kept[path], text)}
    single: dict[str, Any] = {}  # thing by thing, in their order
    for old, value in (*kept.items(), (path, text)):
        apart = old == path or old in between
        paths = [place.path for place in case.places(old)] if apart else [old]
        single = covered(case, single, dict.fromkeys(paths, value))
    return single


def _worked_in(case: Contents, path: str, before: Any, text: str) -> Any:
    """One value for both: of a change, and of a relative one after it."""
    if is_relative(before):
        return joined(before, text)
    place = case.places(path)[0]
    if several(role_of(place), before := as_list(before)):
        return objects([_worked_in(case, path, value, text) for value in plain(before)])
    now = {step.place: step.value for step in steps(case, {place.path: before})}
    return settled(case, place, role_of(place), text, now)


def _covers(case: Contents, path: str, old: str) -> bool:
    """Whether a change at `path` leaves nothing of one at `old`."""
    if path == old or old.startswith(path + "."):
        return True
    if "*" not in path:
        return False
    wide = [place.path for place in case.places(path)]
    return all(
        any(place.path == here or place.path.startswith(here + ".") for here in wide)
        for place in case.places(old)
    )
