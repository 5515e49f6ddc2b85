"""Changes: input path -> value. The one mechanism behind scenarios, variants, sweeps and `--set`.

`steps` turns changes into plain settings of single values (wildcards, units, excluded keys, types
and ratings worked out); an enclosure applies them to its things (`applied`), `Inputs` to its
columns. One value a variant is a single change a variant, worked out by itself.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from functools import cache, partial
from typing import Any, NamedTuple

import numpy as np

from flownet.enclosure import relative
from flownet.enclosure.contents import Changes, Contents, Place, ratings, taken_back
from flownet.enclosure.synonyms import hint
from flownet.enclosure.values import as_column, as_list, as_numbers, column, converted_one, several
from flownet.schema import fields
from flownet.schema.component import KINDS
from flownet.schema.convert import convert, joint, redirected
from flownet.schema.errors import CaseError, placed
from flownet.schema.fault import Fault, listed
from flownet.schema.fields import NONE, REMARKS, Role, attribute, get, given, keys, roles

SHAPING = ("from", "to", "in", "on", "between", "copies", "like")
READ = ("copies", "pitch", "like")


class Assignment(NamedTuple):
    """One value to set: a number, word or table, or an array of them over variants."""

    place: Place
    role: Role
    value: Any


# --- single values -----------------------------------------------------------------------------


def converted(case: Contents, path: str, raw: Any, *, file: bool = False) -> Any:
    """The value of one change in SI or as a word; CaseError naming the path.

    A relative change and a speed in rpm stay as they are written.
    """
    _refuse_read(path)
    place = case.places(path)[0]
    if place.key == "type":
        for each in case.places(path):
            _known_type(case, each, str(raw))
        return raw
    role = role_of(place)
    if relative.is_relative(raw, role):
        return relative.checked(path, place, role, raw)
    target, _, value = _read(path, place, role, raw, partial(convert, file=file))
    if isinstance(role, fields.Link):
        _known_link(case, path, role, value)
    return value if target == place.key else raw  # a speed in rpm: kept as it is written


def _read(
    path: str, place: Place, role: Role, raw: Any, reader: Callable[[Role, Any], Any]
) -> tuple[str, Role, Any]:
    """The key that takes a value, how that is declared, and the value read."""
    key, read = redirected(KINDS[place.kind], place.key, role, raw)
    relative.refuse_unclear(path, read, raw)
    with placed(path, joint(read)):
        return key, read, reader(read, raw)


def _refuse_read(path: str) -> None:
    """CaseError for a key that is worked out when a file is read and is no key of a thing."""
    key = path.rpartition(".")[2]
    if key in READ and path.count(".") > 1:
        raise CaseError(f"{path}: {key} is worked out when the file is read and cannot be changed")


def role_of(place: Place) -> Role:
    """How the value at a place is declared; CaseError where it cannot be changed."""
    role = place.role
    fixed = isinstance(role, fields.Link) and not role.varies
    if fixed or place.key.partition(".")[0] in SHAPING:
        raise CaseError(
            f"{place.path}: this key shapes the network and cannot be changed; "
            "make both arrangements in the case and switch them by state"
        )
    if role is None or isinstance(role, (fields.WordList, fields.Subtables)):
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


def _known_type(case: Contents, place: Place, name: str) -> None:
    if place.kind == "fan":
        known = [t for t in case.things["fan_type"] if ".rating." not in t]
    else:
        known = list(case.types.get(f"{place.kind}_type", NONE))
    if name not in known:
        what = f'no {place.kind} type "{name}"'
        raise CaseError(Fault(place.path, what, hint=hint(name, known)))


def link_names(case: Contents, role: fields.Link) -> list[str]:
    """What a link can name: names of one kind, paths where it may be of several."""
    if len(role.kinds) == 1:
        return list(case.things[role.kinds[0]])
    return [item.path for kind in role.kinds for item in case.things[kind].values()]


def _known_link(case: Contents, path: str, role: fields.Link, name: Any) -> None:
    known = link_names(case, role)
    if name is not None and name not in known:
        what = listed(role.kinds, len(role.kinds), last=" or ")
        raise CaseError(Fault(path, f'no {what} "{name}"', hint=hint(str(name), known)))


# --- single settings ---------------------------------------------------------------------------


def steps(
    case: Contents, changes: Changes, now: dict[Place, Any] | None = None
) -> Iterator[Assignment]:
    """Single settings in order; later ones win, relative ones act on what stands there then.

    Values may be arrays or lists over variants; text with a unit and bare SI numbers are both
    understood. `now` holds what was set before and is added to. CaseError for a path or value that
    is wrong.
    """
    now = {} if now is None else now
    for path, raw in changes.items():
        _refuse_read(path)
        for place in case.places(path):
            for step in _with_ratings(case, place, _steps(case, place, raw, now)):
                now[step.place] = step.value
                yield step


def _steps(
    case: Contents, place: Place, raw: Any, now: Mapping[Place, Any]
) -> Iterable[Assignment]:
    """The settings of one change at one place: of a single value, or of one a variant."""
    role, raw = None if place.key == "type" else role_of(place), as_list(raw)
    if role is not None and relative.is_relative(raw, role):
        width = relative.width(case, place, role, now)
        raw = [raw] * width if width else raw
    if not several(role, raw):
        return _single(case, place, role, raw, now)
    if not len(raw):
        what = "takes one value for all variants, or one each (got an empty list)"
        raise CaseError(f"{place.path}: {what}")
    if (
        isinstance(role, fields.Number)
        and (numbers := as_numbers(place.path, role, raw)) is not None
    ):
        return [*_emptied(place), Assignment(place, role, numbers)]
    known: dict[Any, dict[Place, Assignment]] = {}  # of words: thousands of a few
    each: list[dict[Place, Assignment]] = []
    for variant, item in enumerate(raw):
        same = isinstance(item, (str, bool)) and not relative.is_relative(item, role)
        key = type(item), item if same else variant
        if key not in known:
            made = _single(case, place, role, item, now, variant)
            known[key] = {step.place: step for step in made}
        each.append(known[key])
    return _stacked(case, each, now)


def _stacked(
    case: Contents, each: Sequence[Mapping[Place, Assignment]], now: Mapping[Place, Any]
) -> Iterator[Assignment]:
    """Settings of all variants as arrays; where some do not set a value, theirs stays."""
    distinct = list({id(made): made for made in each}.values())
    found = {place: step for made in distinct for place, step in made.items()}
    kept = {p for p in found if any(p not in made or given(made[p].value) for made in distinct)}
    for place, step in found.items():
        if kept and place not in kept:  # taken back in every variant
            yield step
            continue
        stands = now.get(place, get(case.things[place.kind][place.name], place.key))
        stands = _nothing(step.role) if stands is None else stands
        if not (isinstance(stands, np.ndarray) and len(stands) == len(each)):
            stands = [stands] * len(each)
        values = [made[place].value if place in made else old
                  for made, old in zip(each, stands, strict=True)]  # fmt: skip
        yield step._replace(value=column(step.role, values))


def _with_ratings(case: Contents, place: Place, made: Iterable[Assignment]) -> Iterator[Assignment]:
    """A change of a fan type reaches those of its ratings that do not say it themselves."""
    base = place.kind == "fan_type" and ".rating." not in place.name
    for step in made:
        yield step
        for rating in ratings(case.things["fan_type"], place.name)[1:] if base else ():
            if step.place.key.partition(".")[0] not in (rating.given or ()):
                yield step._replace(place=step.place._replace(name=rating.name))


def _single(
    case: Contents, place: Place, role: Role | None, raw: Any, now: Mapping[Place, Any],
    variant: int = 0,
) -> Iterator[Assignment]:  # fmt: skip
    """The settings of a single value: what it takes back, and every number and word of it."""
    if role is None:
        yield from _typed(case, place, raw)
        return
    raw = relative.settled(case, place, role, raw, now, variant)
    key, read, value = _read(place.path, place, role, raw, converted_one)
    here = place._replace(key=key)
    if given(value):
        yield from _emptied(here)
    for step in _flat(here, read, value):
        if isinstance(step.role, fields.Link):
            _known_link(case, step.place.path, step.role, step.value)
        yield step


def _emptied(place: Place) -> Iterator[Assignment]:
    """A change to one of several keys that exclude each other takes back the others."""
    for key, role in _gone(place.kind, place.key.partition(".")[0]):
        yield from _flat(place._replace(key=key), role, _nothing(role))


@cache
def _gone(kind: str, key: str) -> tuple[tuple[str, Role], ...]:
    declared = keys(KINDS[kind])  # a kind need not have every companion
    return tuple((k, declared[k].role) for k in taken_back(KINDS[kind], [key]) if k in declared)


def _nothing(role: Role) -> Any:
    if isinstance(role, fields.Number):
        return math.nan
    return () if isinstance(role, fields.WordList) else None


def _flat(place: Place, role: Role, value: Any) -> Iterator[Assignment]:
    """A whole sub-table or list value by value; a table, and the numbers beside its columns."""
    if isinstance(role, (fields.Group, fields.Numbers, fields.Pair, fields.Rows)):
        for path, inner in roles(KINDS[place.kind]).items():
            if path.startswith(place.key + "."):
                found = _within(value, path[len(place.key) + 1 :], inner)
                yield Assignment(place._replace(key=path), inner, found)
    if not isinstance(role, (fields.Group, fields.Numbers, fields.Pair)):
        yield Assignment(place, role, getattr(value, "rows", value))


def _within(value: Any, path: str, role: Role) -> Any:
    """A single value in a sub-table or list; what means "not given" where it is not there."""
    for step in path.split("."):
        if value is not None:
            if not step.isdigit():
                value = getattr(value, attribute(step))
            else:
                value = value[int(step)] if int(step) < len(value) else None
    return _nothing(role) if value is None else value


def _typed(case: Contents, place: Place, raw: Any) -> Iterator[Assignment]:
    """Another type: its keys, and the defaults of what the old one gave."""
    _known_type(case, place, name := str(raw))
    cls = KINDS[place.kind]
    if place.kind == "fan":
        yield Assignment(place, keys(cls)["type"].role, raw)
        return
    types, item = case.types[f"{place.kind}_type"], case.things[place.kind][place.name]
    touched = {*types[name], *types.get(item.type, ())} - {*(item.given or ()), *REMARKS}
    for key, declared in keys(cls).items():
        if key in touched:
            value = types[name].get(key, declared.default)
            if value is dataclasses.MISSING:
                what = f"a type that is changed to must give {key}"
                raise CaseError(f"{place.kind}_type: {what}")
            yield from _flat(place._replace(key=key), declared.role, value)
    yield Assignment(place, fields.Text(), raw)
