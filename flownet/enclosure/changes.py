"""Changes: input path -> value. The one mechanism behind scenarios, variants, sweeps and `--set`.

`steps` turns changes into plain settings of single values (wildcards, units, excluded keys, types
and ratings worked out); an enclosure applies them to its things (`applied`), `Inputs` to its
columns.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Iterator, Mapping, Sequence
from types import MappingProxyType
from typing import Any, NamedTuple

import numpy as np

from flownet.enclosure import checks, relative
from flownet.enclosure.contents import Changes, Contents, Place, ratings
from flownet.enclosure.synonyms import hint
from flownet.enclosure.values import as_column, objects, split_by_key, values_of
from flownet.schema.component import KINDS, Thing
from flownet.schema.convert import by_key, convert, joint, redirected
from flownet.schema.errors import CaseError, placed
from flownet.schema.fault import Fault, listed
from flownet.schema.fields import (
    NONE,
    REMARKS,
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
    keys,
    roles,
)

SHAPING = ("from", "to", "in", "on", "between", "copies", "like")
READ = ("copies", "pitch", "like")
COMPANIONS = {
    "area": ("loss", "velocity_drop"),
    "output": ("efficiency",),
    "mass": ("material",),
    "sun": ("sun.irradiance", "sun.absorptance"),
}


class Step(NamedTuple):
    """One value to set: a number, word or table, or an array of them over variants."""

    place: Place
    role: Role
    value: Any


# --- single values -----------------------------------------------------------------------------


def checked(
    case: Contents, kind: str, named: Mapping[str, Changes], *, file: bool = False
) -> Mapping[str, Changes]:
    """Scenarios or variants with every value converted; CaseError with all faults."""
    made, faults = {}, []
    for name, changes in named.items():
        if what := checks.name_fault(kind, name):
            faults.append(f"{kind}.{name}: {what}")
        values = {}
        for path, raw in changes.items():
            try:
                values[path] = converted(case, path, raw, file=file)
            except CaseError as error:
                faults += [f"{kind}.{name}.{fault}" for fault in error.faults]
        made[name] = MappingProxyType(values)
    if faults:
        raise CaseError(faults)
    return MappingProxyType(made)


def checked_types(
    types: Mapping[str, Mapping[str, Mapping[str, Any]]],
) -> Mapping[str, Mapping[str, Mapping[str, Any]]]:
    """Types by kind and name with every value converted; CaseError with all faults."""
    made: dict[str, Mapping[str, Any]] = {}
    faults: list[str] = []
    for kind, named in types.items():
        cls = KINDS.get(kind.removesuffix("_type"))
        if cls is None or not kind.endswith("_type") or kind == "fan_type":
            faults.append(
                f"types.{kind}: no such types; write slot_type for types of slots, and fan types "
                "as things of their own"
            )
            continue
        read = {n: by_key(cls, v, list(keys(cls)), file=False) for n, v in named.items()}
        made[kind] = MappingProxyType({n: MappingProxyType(v) for n, (v, _) in read.items()})
        faults += [f"{kind}.{n}.{fault}" for n, (_, wrong) in read.items() for fault in wrong]
    if faults:
        raise CaseError(faults)
    return MappingProxyType(made)


def converted(case: Contents, path: str, raw: Any, *, file: bool = False) -> Any:
    """The value of one change in SI or as a word; CaseError naming the path.

    A relative change and a speed in rpm stay as they are written.
    """
    _refuse_read(path)
    place = case.places(path)[0]
    if place.key == "type":
        for each in case.places(path):
            _known_type(case, each, [str(raw)])
        return raw
    role = role_of(place)
    if relative.is_relative(raw, role):
        return relative.checked(path, place, role, raw)
    target, read = redirected(KINDS[place.kind], place.key, role, raw)
    relative.refuse_unclear(path, read, raw)
    with placed(path, joint(read)):
        value = convert(read, raw, file=file)
    if isinstance(role, Link):
        _known_link(case, path, role, [value])
    return value if target == place.key else raw  # a speed in rpm: kept as it is written


def _refuse_read(path: str) -> None:
    """CaseError for a key that is worked out when a file is read and is no key of a thing."""
    key = path.rpartition(".")[2]
    if key in READ and path.count(".") > 1:
        raise CaseError(f"{path}: {key} is worked out when the file is read and cannot be changed")


def role_of(place: Place) -> Role:
    """How the value at a place is declared; CaseError where it cannot be changed."""
    cls = KINDS[place.kind]
    role = roles(cls).get(place.key) or keys(cls)[place.key].role
    fixed = isinstance(role, Link) and not role.varies
    if fixed or place.key.partition(".")[0] in SHAPING:
        raise CaseError(
            f"{place.path}: this key shapes the network and cannot be changed; "
            "make both arrangements in the case and switch them by state"
        )
    if isinstance(role, (Words, Subtables)):
        raise CaseError(f"{place.path}: this key cannot be changed")
    return role


def as_columns(case: Contents, changes: Changes) -> dict[str, Any]:
    """Changes whose values are arrays where they differ between variants; not converted."""
    made = {}
    for path, raw in changes.items():
        place = case.places(path)[0]
        made[path] = as_column(None if place.key == "type" else role_of(place), raw)
    return made


def width_of(columns: Changes, least: int = 1) -> int:
    """How many variants there are; CaseError with every length where arrays differ in it."""
    sizes = {p: len(v) for p, v in columns.items() if isinstance(v, np.ndarray) and len(v) != 1}
    lengths = set(sizes.values()) | ({least} if least > 1 else set())
    if len(lengths) > 1:
        listed = ", ".join(f"{path}: {size}" for path, size in sizes.items())
        among = f", among {least} variants" if least > 1 else ""
        raise CaseError(
            f"arrays of one length are wanted, one value a variant (got {listed}{among})"
        )
    return max(lengths, default=1)


def _known_type(case: Contents, place: Place, names: Sequence[str]) -> None:
    if place.kind == "fan":
        known = [t for t in case.things["fan_type"] if ".rating." not in t]
    else:
        known = list(case.types.get(f"{place.kind}_type", NONE))
    for word in dict.fromkeys(names):
        if word not in known:
            what = f'no {place.kind} type "{word}"'
            raise CaseError(Fault(place.path, what, hint=hint(word, known)))


def link_names(case: Contents, role: Link) -> list[str]:
    """What a link can name: names of one kind, paths where it may be of several."""
    if len(role.kinds) == 1:
        return list(case.things[role.kinds[0]])
    return [item.path for kind in role.kinds for item in case.things[kind].values()]


def _known_link(case: Contents, path: str, role: Link, names: Sequence[Any]) -> None:
    known = link_names(case, role)
    for name in dict.fromkeys(names):
        if name is not None and name not in known:
            what = listed(role.kinds, len(role.kinds), last=" or ")
            raise CaseError(Fault(path, f'no {what} "{name}"', hint=hint(str(name), known)))


# --- single settings ---------------------------------------------------------------------------


def steps(case: Contents, changes: Changes, now: dict[Place, Any] | None = None) -> Iterator[Step]:
    """Single settings in order; later ones win, relative ones act on what stands there then.

    Values may be arrays or lists over variants; text with a unit and bare SI numbers are both
    understood. `now` holds what was set before and is added to. CaseError for a path or value that
    is wrong.
    """
    now = {} if now is None else now
    for path, raw in changes.items():
        _refuse_read(path)
        for place in case.places(path):
            if place.key == "type":
                made = _type_steps(case, place, as_column(None, raw))
            else:
                made = _steps(case, place, relative.settled(case, place, role_of(place), raw, now))
            for step in made:
                now[step.place] = step.value
                yield step


def _steps(case: Contents, place: Place, raw: Any) -> Iterator[Step]:
    role, cls = role_of(place), KINDS[place.kind]
    parts = split_by_key(cls, place.key, role, raw)
    for key in parts:
        yield from _ungiven(place._replace(key=key))
    for key, (read, part) in parts.items():
        here = place._replace(key=key)
        value = values_of(place.path, read, part)
        if isinstance(read, (Group, Numbers, Pair)):
            for step in _parts(here, value):
                if isinstance(step.role, Link):
                    _known_link(case, step.place.path, step.role, _each(step.value))
                yield step
            continue
        if isinstance(read, Link):
            _known_link(case, place.path, read, _each(value))
        if isinstance(read, Table) and read.cls is not None:  # numbers beside its columns
            yield from _parts(here, value)
            rows = [item and item.rows for item in _each(value)]
            value = objects(rows) if isinstance(value, np.ndarray) else rows[0]
        yield from _with_ratings(case, Step(here, read, value))


def _each(value: Any) -> list[Any]:
    return value.tolist() if isinstance(value, np.ndarray) else [value]


def _with_ratings(case: Contents, step: Step) -> Iterator[Step]:
    """A change of a fan type reaches those of its ratings that do not say it themselves."""
    yield step
    place = step.place
    if place.kind == "fan_type" and ".rating." not in place.name:
        for rating in ratings(case.things["fan_type"], place.name)[1:]:
            if place.key.partition(".")[0] not in (rating.given or ()):
                yield step._replace(place=place._replace(name=rating.name))


def _ungiven(place: Place) -> Iterator[Step]:
    """A change to one of several keys that exclude each other takes back the others."""
    cls, own = KINDS[place.kind], place.key.partition(".")[0]
    for names in cls.EXCLUSIVE:
        if own in names:
            for other in names:
                if other != own:
                    for key in (other, *COMPANIONS.get(other, ())):
                        yield from _empty(place._replace(key=key))


def _empty(place: Place) -> Iterator[Step]:
    cls = KINDS[place.kind]
    if place.key.partition(".")[0] not in keys(cls):
        return  # a companion that this kind has not
    role = roles(cls).get(place.key) or keys(cls)[place.key].role
    if isinstance(role, (Group, Numbers)):
        for path, inner in roles(cls).items():
            if path.startswith(place.key + "."):
                yield Step(place._replace(key=path), inner, _nothing(inner))
    else:
        yield Step(place, role, _nothing(role))


def _nothing(role: Role) -> Any:
    if isinstance(role, Number):
        return math.nan
    return () if isinstance(role, Words) else None


def _parts(place: Place, value: Any) -> Iterator[Step]:
    """A whole sub-table or list is set value by value."""
    for path, role in roles(KINDS[place.kind]).items():
        if path.startswith(place.key + "."):
            inner = path[len(place.key) + 1 :]
            each = [_within(item, inner, role) for item in _each(value)]
            found = _array(each, role) if isinstance(value, np.ndarray) else each[0]
            yield Step(place._replace(key=path), role, found)


def _within(value: Any, path: str, role: Role) -> Any:
    """A single value in a sub-table or list; what means "not given" where it is not there."""
    for step in path.split(".") if path else ():
        if value is not None:
            if not step.isdigit():
                value = getattr(value, attribute(step))
            else:
                value = value[int(step)] if int(step) < len(value) else None
    return _nothing(role) if value is None else value


def _array(values: Sequence[Any], role: Role) -> Any:
    return np.array(values, float) if isinstance(role, Number) else objects(values)


def _type_steps(case: Contents, place: Place, raw: Any) -> Iterator[Step]:
    """Another type: its keys, and the defaults of what the old one gave, per variant."""
    names = list(map(str, _each(raw)))
    _known_type(case, place, names)
    if place.kind == "fan":
        yield Step(place, keys(KINDS["fan"])["type"].role, raw)
        return
    types = case.types[f"{place.kind}_type"]
    item = case.things[place.kind][place.name]
    own = item.given or frozenset()
    touched = dict.fromkeys(
        key for name in (*dict.fromkeys(names), item.type) for key in types.get(name, ())
    )
    cls = type(item)
    for path, role in roles(cls).items():
        key = path.partition(".")[0]
        if key not in touched or key in own or key in REMARKS:
            continue
        by_name = {n: _type_value(types[n], cls, path, role) for n in dict.fromkeys(names)}
        value = by_name[names[0]]
        if isinstance(raw, np.ndarray):
            value = _array([by_name[name] for name in names], role)
        yield Step(place._replace(key=path), role, value)
    yield Step(place, Text(), raw)


def _type_value(values: Mapping[str, Any], cls: type[Thing], path: str, role: Role) -> Any:
    key, _, rest = path.partition(".")
    found: Any = values.get(key, keys(cls)[key].default)
    if found is dataclasses.MISSING:
        raise CaseError(f"{cls.KIND}_type: a type that is changed to must give {key}")
    return _within(found, rest, role)
