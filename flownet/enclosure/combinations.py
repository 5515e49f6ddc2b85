"""What cannot be said of a single value: faults between keys and things, in every variant.

Where an enclosure is changed, its things are built anew and check themselves. Columns build
nothing; here things are built for every combination of values that a fault can depend on.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Iterator, Mapping, Sequence
from types import MappingProxyType
from typing import Any

import numpy as np

from flownet.enclosure import checks
from flownet.enclosure.apply import rebuilt, told_once
from flownet.enclosure.changes import Assignment
from flownet.enclosure.enclosure import Enclosure
from flownet.schema.arrays import Array
from flownet.schema.component import Thing
from flownet.schema.errors import CaseError
from flownet.schema.fields import Number, Role, get, given

# kinds on whose changeable keys faults between things depend
JOINED = ("compartment", "enclosure", "part", "sink_type", "wall")
TURNING = ("rotation", "type", "supply")  # keys of a fan that decide whether its data do
Owner = tuple[str, str]  # kind and name of a thing
Changed = dict[str, tuple[Role, Any]]  # path within a thing -> its role and values


def check(case: Enclosure, settings: Sequence[Assignment]) -> None:
    """CaseError with every fault that changed values of variants make together.

    Parameters
    ----------
    case : Enclosure
        What is changed; sound itself.
    settings : sequence of Assignment
        Single values, or arrays over variants, each in its range; complex ones are not looked at.
    """
    changed: dict[Owner, Changed] = {}
    for step in settings:
        if not np.iscomplexobj(step.value):
            changed.setdefault(step.place[:2], {})[step.place.key] = (step.role, step.value)
    doubtful = {
        owner: values
        for owner, values in changed.items()
        if not all(_harmless(_item(case, owner), key, *pair) for key, pair in values.items())
    }
    faults: list[str] = []
    for owner, values in doubtful.items():
        faults += _own(case, owner, values)
    faults += _between(case, {
        owner: values for owner, values in doubtful.items()
        if owner[0] in JOINED or "sink" in values or getattr(_item(case, owner), "sink", None)
    })  # fmt: skip
    faults += _drawn_back(case, changed)
    faults += _unrated(case, changed)
    if faults:
        raise CaseError(told_once(faults))


def _item(case: Enclosure, owner: Owner) -> Any:
    return case.things[owner[0]][owner[1]]


def _own(case: Enclosure, owner: Owner, values: Changed) -> Iterator[str]:
    """Faults of one thing."""
    item = _item(case, owner)
    for combination in _combinations(case, {owner: values}):
        try:
            made = rebuilt(item, combination[owner])
        except CaseError as error:
            yield from error.faults
            continue
        if item.KIND == "part":
            yield from _renamed(item, made)


def _between(case: Enclosure, changed: Mapping[Owner, Changed]) -> Iterator[str]:
    """Faults between things that are changed together."""
    for combination in _combinations(case, changed) if changed else ():
        things = {kind: dict(named) for kind, named in case.things.items()}
        try:
            for owner, values in combination.items():
                things[owner[0]][owner[1]] = rebuilt(_item(case, owner), values)
        except CaseError:
            continue  # told as its own
        yield from checks.all_faults(dataclasses.replace(case, things=MappingProxyType(things)))


def _harmless(item: Thing, key: str, role: Role, value: Any) -> bool:
    """A value as before, or a number that is there as before and whose size decides no fault."""
    before = get(item, key)
    if not isinstance(role, Number):
        return not isinstance(value, np.ndarray) and bool(value == before)
    if key in item.COMPARED:
        return bool(np.all((value == before) | (np.isnan(value) & (not given(before)))))
    return bool(np.all(~np.isnan(value) == given(before)))


def _combinations(
    case: Enclosure, changed: Mapping[Owner, Changed]
) -> Iterator[dict[Owner, dict[str, Any]]]:
    """The changed values of one variant of each kind that faults can tell apart."""
    codes = [
        _codes(role, value, key in _item(case, owner).COMPARED)
        for owner, values in changed.items()
        for key, (role, value) in values.items()
        if isinstance(value, np.ndarray) and len(value) > 1
    ]
    chosen = np.unique(np.array(codes), axis=1, return_index=True)[1] if codes else [0]
    for variant in chosen:
        yield {
            owner: {key: _picked(value, variant) for key, (_, value) in values.items()}
            for owner, values in changed.items()
        }


def _picked(value: Any, variant: int) -> Any:
    """The value of one variant as a plain number, word or table."""
    if isinstance(value, np.ndarray):
        value = value[variant] if len(value) > 1 else value[0]
    return value.item() if isinstance(value, np.generic) else value


def _codes(role: Role, values: Array, compared: bool) -> Array:
    """(variants,) integers that differ where faults may differ."""
    if isinstance(role, Number) and not compared:
        return np.isnan(values).astype(int)
    if values.dtype == object:
        known = {value: code for code, value in enumerate(dict.fromkeys(values.tolist()))}
        return np.array([known[value] for value in values.tolist()])
    return np.unique(values, return_inverse=True)[1].reshape(-1)


def _renamed(before: Any, after: Any) -> Iterator[str]:
    """Stations are rows of the results: their names cannot differ between variants."""
    names = [tuple(station for station, _ in part.chain or ()) for part in (before, after)]
    if names[0] != names[1]:
        yield (
            f"{before.path}.chain: between variants only resistances can differ, not stations "
            f"(got {', '.join(names[1]) or 'none'})"
        )


def _drawn_back(case: Enclosure, changed: Mapping[Owner, Changed]) -> Iterator[str]:
    """Fractions that are changed together and add up to too much in some variant."""
    totals: dict[str, Any] = {}
    for name, item in case.things["recirculation"].items():
        found = changed.get(("recirculation", name), {}).get("fraction")
        totals[item.to] = totals.get(item.to, 0.0) + (found[1] if found else item.fraction)
    for path, total in totals.items():
        yield from checks.drawn_faults(path, float(np.max(total)))


def _unrated(case: Enclosure, changed: Mapping[Owner, Changed]) -> Iterator[str]:
    """Speeds in rpm of fans whose data, in some variant, have no rated speed."""
    for fan in case.fans.values():
        owner = ("fan", fan.name)
        values = {k: v for k, v in changed.get(owner, {}).items() if k in TURNING}
        for combination in _combinations(case, {owner: values}) if values else ():
            made = dataclasses.replace(
                fan, **{"speed": math.nan, "rotation": fan.rotation, **combination[owner]}
            )
            yield from checks.unrated(case, made)
