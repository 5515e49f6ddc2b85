"""What a choice may vary: its axes, its combinations, and which of them are the same design.

A combination is a row of numbers, one an axis: the place of a value in its list, or, on an axis
without a list, the value itself.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any, NamedTuple

import numpy as np

from flownet.enclosure.apply import outlasts
from flownet.enclosure.enclosure import Enclosure, Place
from flownet.enclosure.overriding import of_choice
from flownet.enclosure.ranges import role_at
from flownet.enclosure.scenarios import scenario_changes
from flownet.enclosure.values import objects
from flownet.schema.arrays import Array, Integers
from flownet.schema.component import KINDS
from flownet.schema.errors import CaseError
from flownet.schema.fault import Fault, brief, did_you_mean, nearest
from flownet.schema.fields import Number
from flownet.schema.quantities import Quantity
from flownet.studies.choice.eligibility import Fitting, Unfit, kept, stated

BEST = ("noise", "power", "temperature", "price")
KEPT = ("type", "state")  # keys that the price goes by, whatever a scenario sets
CLOSED = ("fan", "vent", "opening", "filter")  # kinds whose other keys do nothing once blanked


class Axis(NamedTuple):
    """One path and what it may be."""

    path: str
    places: tuple[Place, ...]
    values: tuple[Any, ...]  # empty: every value between the ends
    low: float
    high: float
    quantity: Quantity | None  # of a number

    @property
    def continuous(self) -> bool:
        """Whether it has no list of values."""
        return not self.values


@dataclass(frozen=True, eq=False)
class Space:
    """All combinations of a choice."""

    case: Enclosure
    axes: tuple[Axis, ...]
    reopened: frozenset[tuple[str, str]]  # things that a scenario may open again
    unfit: tuple[Unfit, ...] = ()  # types that "any" leaves out
    lost: frozenset[str] = frozenset()  # paths that every scenario sets anew
    notes: tuple[str, ...] = ()  # what scenarios take from the choice

    @property
    def fixed(self) -> tuple[Axis, ...]:
        """Axes with a list of values."""
        return tuple(axis for axis in self.axes if not axis.continuous)

    @property
    def free(self) -> tuple[int, ...]:
        """The places of the axes without one."""
        return tuple(i for i, axis in enumerate(self.axes) if axis.continuous)

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
        return {axis.path: self._column(i, rows) for i, axis in enumerate(self.axes)}

    def _column(self, number: int, rows: Array) -> Any:
        axis, column = self.axes[number], rows[:, number]
        if axis.continuous:
            return column.copy()
        return self._pools[number][column.astype(int)]

    @cached_property
    def _pools(self) -> list[Any]:
        return [
            np.array(axis.values, float) if all(isinstance(v, (int, float)) for v in axis.values)
            and not any(isinstance(v, bool) for v in axis.values) and axis.values
            else objects(list(axis.values))
            for axis in self.axes
        ]  # fmt: skip

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
                shut = [self._blanked(owner, rows) for owner in owners]
                found[:, i] |= np.logical_and.reduce(shut)
        return found

    def _blanked(self, owner: tuple[str, str], rows: Array) -> Array:
        """(combinations,) whether a thing is blanked."""
        shut = np.full(len(rows), self.case.things[owner[0]][owner[1]].state == "blanked")
        for i, axis in enumerate(self.axes):
            if any(place == (*owner, "state") for place in axis.places):
                of_value = np.array([value == "blanked" for value in axis.values])
                shut = of_value[rows[:, i].astype(int)]
        return shut

    def merged(self, rows: Array) -> Array:
        """The first of each design: combinations that differ in idle values only are one."""
        first = np.array([axis.low if axis.continuous else 0.0 for axis in self.axes])
        plain = np.where(self.idle(rows), first, rows)
        kept = np.unique(plain, axis=0, return_index=True)[1]
        found: Array = plain[np.sort(kept)]
        return found

    # --- prices ----------------------------------------------------------------------------------

    def prices(self, rows: Array) -> Array:
        """(combinations,) sum over the fans that are not blanked; NaN where a type has none."""
        total = np.zeros(len(rows))
        for name in self.case.fans:
            shut = self._blanked(("fan", name), rows)
            total += np.where(shut, 0.0, self._of_type(name, rows, "price"))
        return total

    def running(self, rows: Array) -> Array:
        """(combinations,) how many fans are neither blanked nor stopped."""
        total = np.zeros(len(rows), int)
        for name, fan in self.case.fans.items():
            runs = np.full(len(rows), fan.state == "running")
            for i, axis in enumerate(self.axes):
                if Place("fan", name, "state") in axis.places:
                    of_value = np.array([value == "running" for value in axis.values])
                    runs = of_value[rows[:, i].astype(int)]
            total += runs
        return total

    def noisy(self, rows: Array) -> Array:
        """(combinations,) whether the noise of every fan that is not blanked is stated."""
        found = np.ones(len(rows), bool)
        for name in self.case.fans:
            stated = ~np.isnan(self._of_type(name, rows, "noise_dBA"))
            found &= stated | self._blanked(("fan", name), rows)
        return found

    def _of_type(self, fan: str, rows: Array, key: str) -> Array:
        """(combinations,) a number of the type of a fan."""
        types = self.case.things["fan_type"]
        found = np.full(len(rows), float(getattr(types[self.case.fans[fan].type], key)))
        for i, axis in enumerate(self.axes):
            if Place("fan", fan, "type") in axis.places:
                of_value = np.array([float(getattr(types[name], key)) for name in axis.values])
                found = of_value[rows[:, i].astype(int)]
        return found


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
            raise CaseError(f"choice: there are {', '.join(known)}; name one, --name {known[0]}")
        return known[0]
    if name not in known:
        hint = did_you_mean(nearest(name, known), f"known: {', '.join(known)}")
        raise CaseError(Fault(f'choice "{name}"', "no such choice", hint=hint))
    return name


def objectives(raw: Sequence[str] | str) -> tuple[str, ...]:
    """One or two words of what is to be best; CaseError for others."""
    words = (raw,) if isinstance(raw, str) else tuple(raw)
    if not 1 <= len(words) <= 2 or len(set(words)) < len(words) or set(words) - set(BEST):
        raise CaseError(f"best: takes one or two of {', '.join(BEST)} (got {brief(raw)})")
    return words


def space_of(case: Enclosure, name: str, asked: Sequence[str]) -> Space:
    """The axes of a choice.

    CaseError for a number that two paths name, for "any" of a case without fan types, or where
    none of them can be used.
    """
    table: Mapping[str, Any] = case.studies["choice"][name]["vary"]
    where = f"choice.{name}"
    _check_once(case, where, table)
    varied = [place for path in table for place in case.places(path)]
    out: list[Unfit] = []
    axes = []
    for path, raw in table.items():
        if raw != "any":
            axes.append(_axis(case, path, raw))
            continue
        names = _every(case, where, path)
        if case.places(path)[0].kind == "fan":
            barred = list(Fitting(case, varied, asked).unfit(path, names))
            names, out = kept(f"{where}.{path}", names, barred), out + barred
        axes.append(_axis(case, path, names))
    written = [scenario_changes(case, stated(case, entry)) for entry in asked]
    lost = {axis.path for axis in axes if axis.places[0].key not in KEPT
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
    if isinstance(raw, Mapping):
        return Axis(path, places, (), raw["low"], raw["high"], quantity)
    return Axis(path, places, tuple(dict.fromkeys(raw)), np.nan, np.nan, quantity)


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
