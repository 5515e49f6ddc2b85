"""What a choice may vary: its axes, its combinations, and which of them are the same design.

A combination is a row of numbers, one an axis: the place of a value in its list, or, on an axis
without a list, the value itself.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from types import MappingProxyType
from typing import Any

import numpy as np

from flownet.enclosure.apply import outlasts
from flownet.enclosure.contents import Place
from flownet.enclosure.enclosure import Enclosure, with_ratings
from flownet.enclosure.fans import FanType
from flownet.enclosure.overriding import of_choice
from flownet.enclosure.ranges import role_at
from flownet.enclosure.scenarios import scenario_changes
from flownet.schema.arrays import Array, Integers
from flownet.schema.component import KINDS
from flownet.schema.errors import CaseError
from flownet.schema.fault import Fault, brief, did_you_mean, nearest
from flownet.schema.fields import Number
from flownet.studies.choice.eligibility import Unfit, kept, stated, unfit_at
from flownet.studies.choice.order import RANKING
from flownet.studies.designs import Axis

PRICED_BY = ("type", "state")  # keys that the price goes by, whatever a scenario sets
Catalogue = Mapping[str, FanType] | Iterable[FanType]
CLOSED = ("fan", "vent", "opening", "filter")  # kinds whose other keys do nothing once blanked


@dataclass(frozen=True, eq=False)
class Space:
    """All combinations of a choice."""

    case: Enclosure
    axes: tuple[Axis, ...]
    reopened: frozenset[tuple[str, str]]  # things that a scenario may open again
    unfit: tuple[Unfit, ...] = ()  # types that "any" leaves out
    lost: frozenset[str] = frozenset()  # paths that every scenario sets anew
    notes: tuple[str, ...] = ()  # what scenarios take from the choice

    @cached_property
    def free(self) -> list[int]:
        """The places of the axes without a list of values."""
        return [i for i, axis in enumerate(self.axes) if axis.continuous]

    def count(self, levels: int) -> int:
        """How many combinations there are, with so many values on an axis without a list."""
        total = 1
        for axis in self.axes:
            total *= levels if axis.continuous else len(axis.values)
        return total

    def grid(self, levels: int) -> Array:
        """(combinations, axes) all of them, the last axis fastest."""
        sizes = [levels if axis.continuous else len(axis.values) for axis in self.axes]
        places = np.unravel_index(np.arange(self.count(levels)), sizes)
        columns = [
            np.linspace(axis.low, axis.high, levels)[place] if axis.continuous
            else place.astype(float)
            for axis, place in zip(self.axes, places, strict=True)
        ]  # fmt: skip
        return np.stack(columns, axis=1)

    def columns(self, rows: Array) -> dict[str, Any]:
        """Path -> values over combinations."""
        return {
            axis.path: column.copy() if axis.continuous else axis.picked(column.astype(int))
            for axis, column in zip(self.axes, rows.T, strict=True)
        }

    def changes(self, row: Array) -> dict[str, Any]:
        """Path -> the value of one combination."""
        return {
            axis.path: float(value) if axis.continuous else axis.values[int(value)]
            for axis, value in zip(self.axes, row, strict=True)
        }

    # --- what does nothing -----------------------------------------------------------------------

    def idle(self, rows: Array) -> Array:
        """(combinations, axes) where a value does nothing: all it is about is blanked, or every
        scenario sets it anew."""
        found = np.zeros(rows.shape, bool)
        found[:, [axis.path in self.lost for axis in self.axes]] = True
        for i, axis in enumerate(self.axes):
            owners = [place[:2] for place in axis.places]
            if all(p.key != "state" and p.kind in CLOSED for p in axis.places) and not any(
                owner in self.reopened for owner in owners
            ):
                found[:, i] |= np.logical_and.reduce([self._blanked(o, rows) for o in owners])
        return found

    def plain(self, rows: Array) -> Array:
        """(combinations, axes) idle values as the first of their axis: equal where alike."""
        first = np.array([axis.low if axis.continuous else 0.0 for axis in self.axes])
        return np.where(self.idle(rows), first, rows)

    def merged(self, rows: Array) -> Array:
        """The first of each design: combinations that differ in idle values only are one."""
        plain = self.plain(rows)
        found: Array = plain[np.sort(np.unique(plain, axis=0, return_index=True)[1])]
        return found

    def _values(
        self, owner: tuple[str, str], key: str, rows: Array, read: Callable[[Any], Any]
    ) -> Array:  # fmt: skip
        """(combinations,) what a key of a thing says: the choice where it is varied, else the
        case."""
        found = np.full(len(rows), read(getattr(self.case.things[owner[0]][owner[1]], key)))
        for i, axis in enumerate(self.axes):
            if Place(*owner, key) in axis.places:
                found = np.array([read(value) for value in axis.values])[rows[:, i].astype(int)]
        return found

    def _blanked(self, owner: tuple[str, str], rows: Array) -> Array:
        """(combinations,) whether a thing is blanked."""
        return self._values(owner, "state", rows, lambda state: state == "blanked")

    # --- fans ------------------------------------------------------------------------------------

    def prices(self, rows: Array) -> Array:
        """(combinations,) sum over the fans that are not blanked; NaN where a type has none."""
        return np.asarray(self._of_types("price", rows).sum(axis=0))

    def noisy(self, rows: Array) -> Array:
        """(combinations,) whether the noise of every fan that is not blanked is stated."""
        return np.asarray(~np.isnan(self._of_types("noise_dBA", rows)).any(axis=0))

    def running(self, rows: Array) -> Array:
        """(combinations,) how many fans are neither blanked nor stopped."""
        states = [self._values(("fan", name), "state", rows, lambda state: state == "running")
                  for name in self.case.fans]  # fmt: skip
        return np.asarray(np.array(states, int).reshape(len(states), len(rows)).sum(axis=0))

    def _of_types(self, key: str, rows: Array) -> Array:
        """(fans, combinations) a number of the type of each; 0 of one that is blanked."""
        types = self.case.things["fan_type"]
        found = [np.where(self._blanked(("fan", name), rows), 0.0, self._values(
            ("fan", name), "type", rows, lambda t: float(getattr(types[t], key))
        )) for name in self.case.fans]  # fmt: skip
        return np.array(found).reshape(len(found), len(rows))


def with_catalogue(case: Enclosure, catalogue: Catalogue) -> Enclosure:
    """The case with more fan types; CaseError where one of them is another type of its own."""
    items = list(catalogue.values() if isinstance(catalogue, Mapping) else catalogue)
    if isinstance(catalogue, str) or not all(isinstance(item, FanType) for item in items):
        raise TypeError(
            "catalogue: fan types are wanted, such as flownet.load_fan_types(path) "
            f"(got {catalogue!r:.60})"
        )
    known, types = case.things["fan_type"], {item.name: item for item in items}
    faults = [
        f"fan_type.{name}: stands in the case and in the catalogue, not the same; rename one"
        for name, item in types.items()
        if name in known and known[name] != item
    ]
    if faults:
        raise CaseError(faults)
    every = MappingProxyType(with_ratings({**known, **types}))
    return replace(case, things=MappingProxyType(dict(case.things) | {"fan_type": every}))


def named(case: Enclosure, name: str | None) -> str:
    """The choice that is meant; CaseError where there is none such, or several."""
    known = list(case.studies.get("choice", {}))
    if not known:
        raise CaseError(
            "choice: the case has none; add a table such as [choice.exhaust] with "
            '"fan.*.type" = "any"'
        )
    if name is None:
        if len(known) > 1:
            raise CaseError(f"choice: there are {', '.join(known)}; name one, --name (draw: --of)")
        return known[0]
    if name not in known:
        hint = did_you_mean(nearest(name, known), f"known: {', '.join(known)}")
        raise CaseError(Fault(f'choice "{name}"', "no such choice", hint=hint))
    return name


def objectives(raw: Sequence[str] | str) -> tuple[str, ...]:
    """One or two words of what is to be best; CaseError for others."""
    words = (raw,) if isinstance(raw, str) else tuple(raw)
    if not 1 <= len(words) <= 2 or len(set(words)) < len(words) or set(words) - set(RANKING):
        raise CaseError(f"best: takes one or two of {', '.join(RANKING)} (got {brief(raw)})")
    return words


def space_of(case: Enclosure, name: str, asked: Sequence[str]) -> Space:
    """The axes of a choice.

    CaseError for a number that two paths name, for "any" of a case without fan types, or where
    none of them can be used.
    """
    table: Mapping[str, Any] = case.studies["choice"][name]["vary"]
    where = f"choice.{name}"
    _check_once(case, where, table)
    varied = {place for path in table for place in case.places(path)}
    out: list[Unfit] = []
    axes = []
    for path, raw in table.items():
        if raw != "any":
            axes.append(_axis(case, path, raw))
            continue
        names = _every(case, where, path)
        if case.places(path)[0].kind == "fan":
            barred = list(unfit_at(case, path, names, varied, asked))
            names, out = kept(f"{where}.{path}", names, barred), out + barred
        axes.append(_axis(case, path, names))
    written = [scenario_changes(case, stated(case, entry)) for entry in asked]
    lost = {axis.path for axis in axes if axis.places[0].key not in PRICED_BY
            and not any(outlasts(case, axis.path, changes) for changes in written)}  # fmt: skip
    told = of_choice(case, name, {a.path: a.values or (a.low, a.high) for a in axes}, asked)
    return Space(case, tuple(axes), frozenset(_reopened(case, asked)), tuple(out),
                 frozenset(lost), told)  # fmt: skip


def _check_once(case: Enclosure, where: str, paths: Iterable[str]) -> None:
    """CaseError for a number that two paths name, or two keys that exclude each other."""
    seen: dict[Place, str] = {}
    for path in paths:
        for place in case.places(path):
            alike = next((g for g in KINDS[place.kind].EXCLUSIVE if place.key in g), (place.key,))
            for key in alike:
                other = seen.get(place._replace(key=key))
                if other is not None:
                    what = "the same number" if key == place.key else "keys that exclude each other"
                    raise CaseError(
                        f"{where}.{path}: {what} of {place.kind}.{place.name} as {other}; vary one "
                        "of both"
                    )
        seen |= dict.fromkeys(case.places(path), path)


def _axis(case: Enclosure, path: str, raw: Any) -> Axis:
    places, role = tuple(case.places(path)), role_at(case, path)
    quantity = role.quantity if isinstance(role, Number) else None
    axis = Axis.of(path, raw if isinstance(raw, Mapping) else tuple(dict.fromkeys(raw)))
    return axis._replace(places=places, quantity=quantity)


def _every(case: Enclosure, where: str, path: str) -> tuple[str, ...]:
    """The types that "any" may mean; CaseError where there is none."""
    kind = case.places(path)[0].kind
    known = case.things["fan_type"] if kind == "fan" else case.types.get(f"{kind}_type", {})
    names = tuple(item for item in known if ".rating." not in item)
    if not names:
        raise CaseError(f'{where}.{path}: "any" of no {kind} type; give a catalogue')
    return names


def _reopened(case: Enclosure, asked: Iterable[str]) -> Iterator[tuple[str, str]]:
    """Things whose state a scenario sets to something else than blanked."""
    for part in {part.strip() for scenario in asked for part in scenario.split("+")}:
        for path, value in case.scenarios.get(part, {}).items():
            for place in case.places(path):
                if place.key == "state" and value != "blanked":
                    yield place.kind, place.name


def unique_rows(rows: Array) -> tuple[Integers, Integers]:
    """Where each different row stands first, in order, and which of them every row is."""
    if not rows.shape[1]:
        return np.zeros(1, int), np.zeros(len(rows), int)
    _, first, which = np.unique(rows, axis=0, return_index=True, return_inverse=True)
    order = np.argsort(first)
    rank = np.empty(len(order), int)
    rank[order] = np.arange(len(order))
    return first[order], rank[which.reshape(-1)]
