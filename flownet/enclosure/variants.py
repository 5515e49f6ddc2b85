"""What cannot be said of a single value: faults between keys and things, in every variant.

Where an enclosure is changed, its things are built anew and check themselves. Columns build
nothing; here things are built for every combination of values that a fault can depend on.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator, Mapping, Sequence
from types import MappingProxyType
from typing import Any

import numpy as np

from flownet.arrays import Array
from flownet.enclosure import checks
from flownet.enclosure.applying import rebuilt
from flownet.enclosure.changes import Step
from flownet.enclosure.whole import Enclosure
from flownet.errors import CaseError
from flownet.things import Number, Role, Thing, get, given

# kinds on whose changeable keys faults between things depend
BETWEEN = ("compartment", "enclosure", "part", "wall")
Changed = Mapping[str, tuple[Role, Any]]  # path within a thing -> its role and values


def check(case: Enclosure, settings: Sequence[Step]) -> None:
    """CaseError with every fault that changed values of variants make together.

    Parameters
    ----------
    case : Enclosure
        What is changed; sound itself.
    settings : sequence of Step
        Single values, or arrays over variants, each in its range; complex ones are not looked at.
    """
    values: dict[tuple[str, str], dict[str, tuple[Role, Any]]] = {}
    for step in settings:
        if not np.iscomplexobj(step.value):
            values.setdefault(step.place[:2], {})[step.place.key] = (step.role, step.value)
    faults: list[str] = []
    for (kind, name), changed in values.items():
        faults += _faults(case, case.things[kind][name], changed)
    faults += _drawn_back(case, values)
    if faults:
        raise CaseError(list(dict.fromkeys(faults)))


def _faults(case: Enclosure, item: Thing, changed: Changed) -> Iterator[str]:
    if all(_harmless(item, key, *pair) for key, pair in changed.items()):
        return
    for combination in _combinations(item, changed):
        try:
            made = rebuilt(item, combination)
        except CaseError as error:
            yield from error.faults
            continue
        if item.KIND in BETWEEN:
            named = MappingProxyType({**case.things[item.KIND], item.name: made})
            things = MappingProxyType({**case.things, item.KIND: named})
            yield from checks.all_faults(dataclasses.replace(case, things=things))
        if item.KIND == "part":
            yield from _renamed(item, made)


def _harmless(item: Thing, key: str, role: Role, value: Any) -> bool:
    """A number that is there as before, and whose size no fault depends on."""
    if not isinstance(role, Number) or key in item.COMPARED:
        return False
    return bool((~np.isnan(value) == given(get(item, key))).all())


def _combinations(item: Thing, changed: Changed) -> Iterator[Mapping[str, Any]]:
    """The changed values of one variant of each kind that faults can tell apart."""
    wide = {key: v for key, (_, v) in changed.items() if isinstance(v, np.ndarray) and len(v) > 1}
    single = {
        key: value[0] if isinstance(value, np.ndarray) else value
        for key, (_, value) in changed.items()
        if key not in wide
    }
    codes = [_codes(changed[key][0], value, key in item.COMPARED) for key, value in wide.items()]
    chosen = np.unique(np.array(codes), axis=1, return_index=True)[1] if codes else [0]
    for variant in chosen:
        yield single | {key: _plain(value[variant]) for key, value in wide.items()}


def _plain(value: Any) -> Any:
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


def _drawn_back(case: Enclosure, values: Mapping[tuple[str, str], Changed]) -> Iterator[str]:
    """Fractions that are changed together and add up to too much in some variant."""
    totals: dict[str, Any] = {}
    for name, item in case.things["recirculation"].items():
        changed = values.get(("recirculation", name), {}).get("fraction")
        totals[item.to] = totals.get(item.to, 0.0) + (changed[1] if changed else item.fraction)
    for path, total in totals.items():
        yield from checks.drawn_faults(path, float(np.max(total)))
