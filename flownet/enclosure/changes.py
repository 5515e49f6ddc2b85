"""Changes: input path -> value. The one mechanism behind scenarios, variants, sweeps and `--set`.

`steps` turns changes into plain settings of single values (wildcards, units, excluded keys, types
and ratings worked out); an enclosure applies them to its things, `Inputs` to its columns.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Iterator, Mapping, Sequence
from types import MappingProxyType
from typing import Any, NamedTuple

import numpy as np

from flownet.enclosure import checks
from flownet.enclosure.whole import Applied, Changes, Enclosure, Place, ratings
from flownet.errors import CaseError
from flownet.things import (
    KINDS,
    NONE,
    Choice,
    Group,
    Link,
    Number,
    Numbers,
    Pair,
    Role,
    Subtables,
    Table,
    Text,
    Thing,
    Words,
    attribute,
    convert,
    given,
    keys,
    nearest,
    redirected,
    roles,
)

SHAPING = ("from", "to", "in", "on", "between", "copies", "like")
REMARKS = ("tag", "note", "data")  # of a type: on the type, not on what is of it
COMPANIONS = {
    "output": ("efficiency",),
    "mass": ("material",),
    "sun": ("sun.irradiance", "sun.absorptance"),
}


class Step(NamedTuple):
    """One value to set: a number, word or table, or an array of them over variants."""

    place: Place
    role: Role
    value: Any


# --- names of scenarios and variants -----------------------------------------------------------


def expand(case: Enclosure, scenario: str) -> list[str]:
    """`hot+each-fan-out` as one name per fan; a name without `each-` as itself."""
    found = [""]
    for name in map(str.strip, scenario.split("+")):
        if name == "each-fan-out":
            options = [f"fan.{n}-out" for n, fan in case.fans.items() if fan.running]
        elif name == "each-supply-out":
            used = {fan.supply for fan in case.fans.values() if fan.running}
            options = [f"supply.{n}-out" for n in case.things["supply"] if n in used]
        else:
            options = [name]
        found = [f"{a}+{b}" if a else b for a in found for b in options]
    return found


def scenario_changes(case: Enclosure, scenario: str) -> dict[str, Any]:
    """The changes of a scenario; `a+b` joins from left to right, later wins."""
    changes: dict[str, Any] = {}
    for name in scenario.split("+"):
        changes = followed(changes, _one_scenario(case, name.strip(), scenario))
    return changes


def followed(first: Changes, then: Changes) -> dict[str, Any]:
    """Changes followed by others: what stands in both stands where it was said last."""
    kept = {path: value for path, value in first.items() if path not in then}
    return kept | dict(then)


def _one_scenario(case: Enclosure, name: str, whole: str) -> Mapping[str, Any]:
    if name == "base":
        return {}
    if name in case.scenarios:
        return case.scenarios[name]
    if name in ("each-fan-out", "each-supply-out"):
        raise CaseError(
            f'scenario "{whole}": {name} stands for several scenarios; '
            "solve takes one, compare takes many"
        )
    kind, _, rest = name.partition(".")
    target = rest.removesuffix("-out")
    if rest != target and kind == "fan" and target in case.fans:
        return {f"fan.{target}.state": "stopped"}
    if rest != target and kind == "supply" and target in case.things["supply"]:
        fed = [f.name for f in case.fans.values() if f.supply == target and f.state == "running"]
        return {f"fan.{fan}.state": "stopped" for fan in fed}
    known = [*case.scenarios, *(f"fan.{f}-out" for f in case.fans)]
    known += [f"supply.{s}-out" for s in case.things["supply"]]
    close = nearest(name, known)
    hint = f'; did you mean "{close}"?' if close else f"; known: {', '.join(['base', *known])}"
    raise CaseError(f'scenario "{whole}": no scenario "{name}"{hint}')


def variant_changes(case: Enclosure, variant: str) -> Mapping[str, Any]:
    """The changes of a variant."""
    if variant == "base":
        return {}
    if variant not in case.variants:
        close = nearest(variant, list(case.variants))
        known = ", ".join(["base", *case.variants])
        hint = f'; did you mean "{close}"?' if close else f"; known: {known}"
        raise CaseError(f'variant "{variant}": no such variant{hint}')
    return case.variants[variant]


def checked(
    case: Enclosure, kind: str, named: Mapping[str, Changes], *, file: bool = False
) -> Mapping[str, Changes]:
    """Scenarios or variants with every value converted; CaseError with all faults."""
    made, faults = {}, []
    for name, changes in named.items():
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


def converted(case: Enclosure, path: str, raw: Any, *, file: bool = False) -> Any:
    """The value of one change in SI or as a word; CaseError naming the path."""
    place = case.places(path)[0]
    if place.key == "type":
        for each in case.places(path):
            _known_type(case, each, raw)
        return raw
    role = _role(place)
    target, read = redirected(KINDS[place.kind], place.key, role, raw)
    try:
        value = convert(read, raw, file=file)
    except CaseError as error:
        raise CaseError([f"{path}: {fault}".replace(": =", " =") for fault in error.faults]) from None  # noqa: E501
    if isinstance(role, Link):
        _known_link(case, path, role, value)
    return value if target == place.key else raw  # a speed in rpm: kept as it is written


def _role(place: Place) -> Role:
    """How a value at this place is declared; CaseError where it cannot be changed."""
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


def _known_type(case: Enclosure, place: Place, name: Any) -> None:
    if place.kind == "fan":
        known = [t for t in case.things["fan_type"] if ".rating." not in t]
    else:
        known = list(case.types.get(f"{place.kind}_type", NONE))
    for word in np.atleast_1d(np.asarray(name, object)):
        if word not in known:
            close = nearest(str(word), known)
            hint = f'; did you mean "{close}"?' if close else ""
            raise CaseError(f'{place.path}: no {place.kind} type "{word}"{hint}')


def _known_link(case: Enclosure, path: str, role: Link, name: Any) -> None:
    known = [n for kind in role.kinds for n in case.things[kind]]
    if name is not None and name not in known:
        close = nearest(str(name), known)
        hint = f'; did you mean "{close}"?' if close else ""
        raise CaseError(f'{path}: no {" or ".join(role.kinds)} "{name}"{hint}')


# --- single settings ---------------------------------------------------------------------------


def steps(case: Enclosure, changes: Changes) -> Iterator[Step]:
    """Single settings in order; later ones win.

    Values may be arrays or lists over variants; text with a unit and bare SI numbers are both
    understood.
    """
    for path, raw in changes.items():
        for place in case.places(path):
            if place.key == "type" and place.kind != "fan":
                _known_type(case, place, raw)
                yield from _type_steps(case, place, raw)
            elif place.key == "type":
                _known_type(case, place, raw)
                yield Step(place, keys(KINDS["fan"])["type"].role, raw)
            else:
                yield from _steps(case, place, raw)


def _steps(case: Enclosure, place: Place, raw: Any) -> Iterator[Step]:
    role = _role(place)
    if isinstance(role, Number) and role.otherwise and _is_text(raw):
        place, role = _redirected(place, role, raw)
    yield from _ungiven(place)
    if isinstance(role, (Group, Numbers, Pair)):
        yield from _parts(place, role, raw)
        return
    value = values_of(place.path, role, raw)
    if isinstance(role, Link):
        for word in np.atleast_1d(np.asarray(value, object)):
            _known_link(case, place.path, role, word)
    yield Step(place, role, value)
    if place.kind == "fan_type" and ".rating." not in place.name:
        for rating in ratings(case.things["fan_type"], place.name)[1:]:
            if place.key.partition(".")[0] not in (rating.given or ()):
                yield Step(place._replace(name=rating.name), role, value)


def _is_text(raw: Any) -> bool:
    return isinstance(raw, str) or (isinstance(raw, (list, tuple)) and isinstance(raw[0], str))


def _redirected(place: Place, role: Number, raw: Any) -> tuple[Place, Role]:
    """`fan.left.speed = "2400 rpm"` sets `rotation`."""
    other = keys(KINDS[place.kind])[role.otherwise].role
    try:
        convert(role, raw if isinstance(raw, str) else raw[0])
    except CaseError:
        return place._replace(key=role.otherwise), other
    return place, role


def values_of(path: str, role: Role, raw: Any) -> Any:
    """One converted value, or an array over variants; CaseError with the path."""
    try:
        if isinstance(role, (Number, Choice, Link)) and _is_list(raw):
            if isinstance(raw, np.ndarray) and raw.dtype.kind in "cf" and isinstance(role, Number):
                if raw.dtype.kind == "f":
                    _in_range(role, raw)
                return raw
            each = [convert(role, item) for item in np.asarray(raw, object).tolist()]
            return np.array(each, float if isinstance(role, Number) else object)
        if isinstance(role, Table) and isinstance(raw, np.ndarray) and raw.dtype == object:
            tables = np.empty(len(raw), object)  # one a variant
            tables[:] = [convert(role, item) for item in raw.tolist()]
            return tables
        if isinstance(raw, complex):
            return raw
        return convert(role, raw)
    except CaseError as error:
        raise CaseError([f"{path}: {fault}".replace(": =", " =") for fault in error.faults]) from None  # noqa: E501


def _in_range(role: Number, values: np.ndarray[Any, Any]) -> None:
    given_ones = values[~np.isnan(values)]
    for value in (given_ones.min(), given_ones.max()) if given_ones.size else ():
        convert(role, float(value))
    if np.isnan(values).any() and not role.optional:
        raise CaseError("must be finite (got nan)")


def _is_list(raw: Any) -> bool:
    return isinstance(raw, (list, tuple)) or (isinstance(raw, np.ndarray) and raw.ndim > 0)


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
    role = roles(cls).get(place.key) or keys(cls)[place.key].role
    if isinstance(role, (Group, Numbers)):
        for path in roles(cls):
            if path.startswith(place.key + "."):
                yield Step(place._replace(key=path), roles(cls)[path], math.nan)
    elif isinstance(role, Number):
        yield Step(place, role, math.nan)
    elif isinstance(role, Words):
        yield Step(place, role, ())
    else:
        yield Step(place, role, None)


def _parts(place: Place, role: Group | Numbers | Pair, raw: Any) -> Iterator[Step]:
    """A whole sub-table or list is set value by value."""
    try:
        value = convert(role, raw)
    except CaseError as error:
        raise CaseError([f"{place.path}: {fault}" for fault in error.faults]) from None
    for path, item in roles(KINDS[place.kind]).items():
        if path.startswith(place.key + "."):
            inner = path[len(place.key) + 1 :]
            found: Any = value
            for step in inner.split("."):
                if found is not None:
                    found = found[int(step)] if step.isdigit() else getattr(found, attribute(step))
            missing = math.nan if isinstance(item, Number) else None
            yield Step(place._replace(key=path), item, missing if found is None else found)


def _type_steps(case: Enclosure, place: Place, raw: Any) -> Iterator[Step]:
    """Another type: its keys, and the defaults of what the old one gave, per variant."""
    types = case.types[f"{place.kind}_type"]
    item = case.things[place.kind][place.name]
    names = np.atleast_1d(np.asarray(raw, object)).tolist()
    own = item.given or frozenset()
    touched = dict.fromkeys(
        key for name in (*dict.fromkeys(names), item.type) if name for key in types[name]
    )
    cls = type(item)
    for path, role in roles(cls).items():
        key = path.partition(".")[0]
        if key not in touched or key in own or key in REMARKS:
            continue
        values = [_type_value(types[name], cls, path, role) for name in names]
        yield Step(place._replace(key=path), role, values[0] if len(values) == 1 else _array(values, role))  # noqa: E501
    yield Step(place, Text(), raw)


def _array(values: Sequence[Any], role: Role) -> Any:
    if isinstance(role, Number):
        return np.array(values, float)
    made = np.empty(len(values), object)
    made[:] = values
    return made


def _type_value(values: Mapping[str, Any], cls: type[Thing], path: str, role: Role) -> Any:
    key, _, rest = path.partition(".")
    found: Any = values.get(key, keys(cls)[key].default)
    if found is dataclasses.MISSING:
        raise CaseError(f"{cls.KIND}_type: a type that is changed to must give {key}")
    for step in rest.split(".") if rest else ():
        if found is not None:
            found = found[int(step)] if step.isdigit() else getattr(found, attribute(step))
    return math.nan if found is None and isinstance(role, Number) else found


# --- applied to things -------------------------------------------------------------------------


def applied(case: Enclosure, changes: Changes) -> Enclosure:
    """A new enclosure with these values in its things."""
    settings: dict[tuple[str, str], dict[str, Any]] = {}
    faults: list[str] = []
    for path, raw in changes.items():
        try:
            for step in steps(case, {path: raw}):
                if _is_list(step.value) and isinstance(step.role, (Number, Choice, Link)):
                    raise CaseError(f"{path}: takes one value here; solve_many takes arrays")
                settings.setdefault(step.place[:2], {})[step.place.key] = step.value
        except CaseError as error:
            faults += error.faults
    things = {kind: dict(named) for kind, named in case.things.items()}
    for (kind, name), values in settings.items():
        try:
            things[kind][name] = _rebuilt(things[kind][name], values)
        except CaseError as error:
            faults += error.faults
    if faults:
        raise CaseError(faults)
    _kept_ratings(things["fan_type"], [name for kind, name in settings if kind == "fan_type"])
    frozen = MappingProxyType({k: MappingProxyType(v) for k, v in things.items()})
    if faults := checks.all_faults(dataclasses.replace(case, things=frozen)):
        raise CaseError(faults)
    after = followed(case.applied.changes, changes)
    return dataclasses.replace(case, things=frozen, applied=Applied(*case.applied[:2], after))


def _kept_ratings(types: dict[str, Any], changed: Sequence[str]) -> None:
    """What a rating's own row says now, said by the `rating` table of its type as well."""
    for path in changed:
        name, joint, rating = path.partition(".rating.")
        if joint:
            base, row = types[name], types[path]
            keys_here = [k for k in keys(type(base)) if k != "rating"]
            own = {
                key: getattr(row, attribute(key))
                for key in keys_here
                if key in base.rating[rating]
                or getattr(row, attribute(key)) != getattr(base, attribute(key))
            }
            kept = {key: value for key, value in own.items() if given(value)}
            rows = MappingProxyType({**base.rating, rating: MappingProxyType(kept)})
            types[name] = dataclasses.replace(base, rating=rows)


def _rebuilt(item: Thing, values: Mapping[str, Any]) -> Thing:
    """The thing with new values, checked again."""
    direct: dict[str, Any] = {}
    nested: dict[str, dict[str, Any]] = {}
    for path, value in values.items():
        key, _, rest = path.partition(".")
        if rest:
            nested.setdefault(key, {})[rest] = value
        else:
            direct[attribute(key)] = value
    for key, inner in nested.items():
        direct[attribute(key)] = _nested(item, key, inner)
    return dataclasses.replace(item, **direct)


def _nested(item: Thing, key: str, inner: Mapping[str, Any]) -> Any:
    role, old = keys(type(item))[key].role, getattr(item, attribute(key))
    if isinstance(role, Group):
        present = {k: v for k, v in inner.items() if given(v) or isinstance(v, bool)}
        if not present and role.optional:
            return None
        if old is None:
            flat = {k for k in present if "." not in k}
            return role.cls(**{attribute(k): present[k] for k in flat})
        return dataclasses.replace(old, **_grouped(old, inner))
    count = role.count if isinstance(role, Numbers) else len(role.quantities)  # type: ignore[union-attr]
    listed = list(old) if old is not None else [math.nan] * count
    for index, value in inner.items():
        listed[int(index)] = value
    return None if not any(map(given, listed)) else tuple(listed)


def _grouped(old: Any, inner: Mapping[str, Any]) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for path, value in inner.items():
        key, _, rest = path.partition(".")
        if not rest:
            found[attribute(key)] = value
        else:
            listed = list(found.get(attribute(key), getattr(old, attribute(key))) or ())
            listed[int(rest)] = value
            found[attribute(key)] = tuple(listed)
    return found


__all__ = ["Step", "Table", "applied", "checked", "converted", "expand", "scenario_changes", "steps"]  # noqa: E501


def as_text(case: Enclosure, path: str, value: Any) -> Any:
    """A value of a change as a case file would write it: with its unit."""
    place = case.places(path)[0]
    role = roles(KINDS[place.kind]).get(place.key) or keys(KINDS[place.kind]).get(place.key)
    if isinstance(role, Number) and isinstance(value, (int, float)) and not isinstance(value, bool):
        shown = role.quantity.metric
        if not shown.unit:
            return float(value)
        return f"{value * shown.factor + shown.offset:.10g} {shown.unit}"
    if isinstance(value, (str, bool, int, float)) or value is None:
        return value
    return str(value)
