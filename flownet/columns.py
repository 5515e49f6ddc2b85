"""An enclosure as arrays: every number and choice is a column (things of a kind, variants).

A change fills a row of a column; scenarios, variants, sweeps, samples, choice and sensitivities
never rebuild a thing. The variants axis is always the last; it has length 1 where nothing varies,
so that everything broadcasts. Tables of measured values are fitted once each and gathered by index.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from types import SimpleNamespace
from typing import Any

import numpy as np

from flownet.enclosure.changes import Assignment, as_columns, link_names, steps, width_of
from flownet.enclosure.contents import Changes, Place, ratings
from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.heat import BRANCHES
from flownet.enclosure.supply_match import HOW, match
from flownet.schema.arrays import Array, Integers
from flownet.schema.component import KINDS
from flownet.schema.errors import CaseError
from flownet.schema.fields import Choice, Link, Number, Role, Rows, getter, given, roles

RUNNING = 0  # state of a fan, as declared
# kinds whose order numbers the unknowns and balances of a network
NUMBERED = ("outside", "compartment", *BRANCHES, "wall", "exchange", "recirculation", "part")
FOLLOWED = "speed_control.by"  # the one column of links that lead to some of them
UNFED = HOW.index("unknown")
Fit = Callable[[Sequence[Any]], Mapping[str, Array]]  # tables -> constants (tables, ...)


@dataclass(frozen=True, repr=False, eq=False)
class Inputs:
    """The columns of an enclosure, and what does not vary: names, ends, tables."""

    enclosure: Enclosure
    columns: Mapping[str, Mapping[str, Array]]  # kind -> path within a thing -> (things, variants)
    tables: Mapping[tuple[str, str], tuple[Any, ...]]  # (kind, key) -> the tables a column names
    variants: int = 1
    given: Enclosure | None = None  # as it was given, where things stand by name, see `by_name`

    def __repr__(self) -> str:
        return f'<Inputs "{self.enclosure.title}": {self.variants} variants>'

    @classmethod
    def of(cls, enclosure: Enclosure, near: Inputs | None = None) -> Inputs:
        """The columns of an enclosure, one variant.

        `near`: those of one of the same names, whose columns stand for kinds that are the same.
        """
        columns: dict[str, Mapping[str, Array]] = {}
        tables: dict[tuple[str, str], tuple[Any, ...]] = {}
        for kind, named in enclosure.things.items():
            if near is not None and near.enclosure.things[kind] is named:
                columns[kind] = near.columns[kind]
                tables |= {key: pool for key, pool in near.tables.items() if key[0] == kind}
                continue
            own = columns[kind] = dict[str, Array]()
            for key, role in roles(KINDS[kind]).items():
                if _varies(role) and named:
                    values = list(map(getter(key), named.values()))
                    if isinstance(role, Rows):
                        values = [value and getattr(value, "rows", value) for value in values]
                        tables[kind, key] = tuple(dict.fromkeys(v for v in values if given(v)))
                    pool = None if isinstance(role, Number) else tables.get((kind, key), ())
                    coded = _coded(enclosure, role, values, pool) if pool is not None else values
                    own[key] = np.array(coded, float)[:, None]
        return cls(enclosure, columns, tables)

    def names(self, kind: str) -> list[str]:
        """Names of the things of a kind, in the order of its columns."""
        return list(self.enclosure.things[kind])

    def numbers(self) -> Iterator[str]:
        """Paths of all numbers that are given: what can be swept, sampled and differentiated."""
        return (place.path for place in self.number_places())

    def number_places(self) -> Iterator[Place]:
        """The places of these numbers, in the same order."""
        for kind, columns in self.columns.items():
            names = self.names(kind)
            for key, column in columns.items():
                if isinstance(roles(KINDS[kind])[key], Number):
                    for name, value in zip(names, column[:, 0], strict=True):
                        if not np.isnan(value.real):
                            yield Place(kind, name, key)

    def row(self, path: str) -> Array:
        """The values of one number or choice over the variants."""
        place = self.enclosure.place(path)
        row: Array = self.columns[place.kind][place.key][self.names(place.kind).index(place.name)]
        return row

    def changed(self, changes: Changes, variants: int = 1) -> Inputs:
        """The same with other values: one for all variants, or an array over variants.

        Complex numbers pass unchecked (derivatives). How keys fit together is not looked at, see
        `enclosure.variants`.

        Raises
        ------
        CaseError
            For a path that is not there or shapes the network, a value out of its range, and
            arrays of different lengths.
        """
        wide = as_columns(self.enclosure, changes)
        width = width_of(wide, max(variants, self.variants))
        return self.stepped(list(steps(self.enclosure, wide)), width)

    def stepped(self, settings: Sequence[Assignment], variants: int) -> Inputs:
        """The same after single settings, whose arrays all have this length or 1."""
        columns = {kind: dict(made) for kind, made in self.columns.items()}
        tables = dict(self.tables)
        rows = {kind: {name: i for i, name in enumerate(self.names(kind))}
                for kind in {step.place.kind for step in settings}}  # fmt: skip
        owned: set[tuple[str, str]] = set()
        for step in settings:
            kind, name, key = step.place
            if not _varies(step.role):
                _refuse_text(step)
                continue
            values = step.value if isinstance(step.value, np.ndarray) else [step.value]
            if isinstance(step.role, Rows):
                known = dict.fromkeys((*tables.get((kind, key), ()), *filter(given, values)))
                tables[kind, key] = tuple(known)
            coded = _coded(self.enclosure, step.role, values, tables.get((kind, key), ()))
            if (kind, key) not in owned:
                columns[kind][key] = columns[kind][key].copy()
                owned.add((kind, key))
            columns[kind][key] = _set(columns[kind][key], rows[kind][name], coded)
        return replace(self, columns=columns, tables=tables, variants=variants)

    def block(self, start: int, stop: int) -> Inputs:
        """A run of variants."""
        return self.take(np.arange(start, min(stop, self.variants)))

    def take(self, variants: Integers) -> Inputs:
        """Only these variants, by number or by a mask."""
        chosen = np.arange(self.variants)[variants]
        cut = {
            kind: {key: v[:, chosen] if v.shape[1] > 1 else v for key, v in made.items()}
            for kind, made in self.columns.items()
        }
        return replace(self, columns=cut, variants=len(chosen))

    # --- the order of things -----------------------------------------------------------------

    def by_name(self) -> Inputs:
        """The same with everything that air or heat meets in the order of names.

        So that a solve does the same arithmetic whatever the order in which things were given.
        """
        things = self.enclosure.things
        sort = {kind: sorted(things[kind]) for kind in NUMBERED}
        if self.given is not None or all(list(things[kind]) == sort[kind] for kind in sort):
            return self
        named = {kind: {name: things[kind][name] for name in names} for kind, names in sort.items()}
        made = replace(self.enclosure, things={**things, **named})
        return replace(self._ordered(made), given=self.enclosure)

    def as_given(self) -> Inputs:
        """The same in the order in which things were given."""
        return self if self.given is None else replace(self._ordered(self.given), given=None)

    def _ordered(self, made: Enclosure) -> Inputs:
        """Columns in the order of an enclosure with the same things."""
        columns = dict(self.columns)
        for kind in NUMBERED:
            place = {name: row for row, name in enumerate(self.names(kind))}
            rows = np.array([place[name] for name in made.things[kind]], int)
            if not (rows[1:] > rows[:-1]).all():
                columns[kind] = {key: column[rows] for key, column in columns[kind].items()}
        if FOLLOWED in columns["fan"]:
            role = roles(KINDS["fan"])[FOLLOWED]
            assert isinstance(role, Link)
            known = link_names(self.enclosure, role)
            code = _coded(made, role, [*known, None])
            index = columns["fan"][FOLLOWED].real.astype(int)
            columns["fan"] = {**columns["fan"], FOLLOWED: code[index]}
        return replace(self, enclosure=made, columns=columns)

    # --- for the kinds -----------------------------------------------------------------------

    def kind(self, kind: str, fits: Mapping[tuple[str, str], Fit]) -> SimpleNamespace:
        """Columns of a kind by attribute: `c.area`, `c.guard.loss`, `c.at[1]`, `c.type.power`.

        A table stands as the constants of its fit, gathered per thing and variant.
        """
        space = SimpleNamespace()
        for key, column in self.columns[kind].items():
            role = roles(KINDS[kind])[key]
            value: Any = column
            if isinstance(role, Rows):
                value = self._fitted(kind, key, column, fits)
            elif isinstance(role, Link) and role.kinds == ("fan_type",):
                value = self._gathered("fan_type", self.rating_rows, fits)
            elif isinstance(role, Link) and role.kinds == ("sink_type",):
                index = column.real.astype(int)
                value = self._gathered("sink_type", np.maximum(index, 0), fits)
                value.given = index >= 0
            _put(space, key, value)
        return space

    def _fitted(
        self, kind: str, key: str, column: Array, fits: Mapping[tuple[str, str], Fit]
    ) -> Any:
        if (kind, key) not in fits:
            return column
        if not self.tables[kind, key]:
            return SimpleNamespace()  # nothing has one
        constants = fits[kind, key](self.tables[kind, key])
        index = np.maximum(column.real.astype(int), 0)
        return SimpleNamespace(**{name: take_rows(v, index) for name, v in constants.items()})

    def _gathered(self, kind: str, index: Integers, fits: Any) -> SimpleNamespace:
        """The whole catalogue's columns, row by row as the index says."""
        found: SimpleNamespace = _each(self.kind(kind, fits), lambda column: gather(column, index))
        return found

    @property
    def rating_rows(self) -> Integers:
        """Row of the fan_type columns that each fan works on, (fans, variants).

        The rating whose voltage (within 1 %) and frequency (0.1 Hz) are those of the fan's
        supply, else the nearest, see `enclosure.feeding`.
        """
        return self._feeding[0]

    @property
    def supply_speed(self) -> Array:
        """Factor of the supply on the speed of each fan's rating, (fans, variants)."""
        return self._feeding[1]

    @property
    def supply_how(self) -> Integers:
        """How each fan's rating was come by, index into `feeding.HOW`, (fans, variants)."""
        return self._feeding[2]

    @property
    def running(self) -> Array:
        """(fans, variants) whether a motor turns, or may turn by the temperature it follows."""
        fans = self.columns["fan"]
        given_speed = (fans["speed"].real != 0) & (fans["rotation"].real != 0)
        follows = fans["speed_control.by"].real >= 0
        found: Array = (fans["state"].real == RUNNING) & (follows | given_speed)
        return found

    @cached_property
    def _feeding(self) -> tuple[Integers, Array, Integers]:
        fans, types = self.columns["fan"], self.enclosure.things["fan_type"]
        row_of = {name: row for row, name in enumerate(types)}
        chosen = fans["type"].real.astype(int)
        supply = fans["supply"].real.astype(int)
        if not self.columns["supply"]:
            return chosen, np.ones(chosen.shape), np.full(chosen.shape, UNFED)
        voltage = gather(self.columns["supply"]["voltage"], np.maximum(supply, 0))
        frequency = gather(self.columns["supply"]["frequency"], np.maximum(supply, 0))
        frequency = np.where(np.isnan(frequency.real), 0.0, frequency)
        shape = np.broadcast_shapes(chosen.shape, voltage.shape, frequency.shape)
        chosen, supply, voltage, frequency = (
            np.broadcast_to(each, shape) for each in (chosen, supply, voltage, frequency)
        )
        rows, speed, how = chosen, np.ones(shape), np.full(shape, UNFED)
        for name in (each for each in types if ".rating." not in each):
            listed = ratings(types, name)
            found = match(listed, voltage, frequency)
            here = (chosen == row_of[name]) & (supply >= 0)
            own = np.array([row_of[each.name] for each in listed])[found.row]
            rows, speed = np.where(here, own, rows), np.where(here, found.speed, speed)
            how = np.where(here, found.how, how)
        return rows, speed, how


def _varies(role: Role) -> bool:
    if isinstance(role, Link):
        return role.varies
    return isinstance(role, (Number, Choice, Rows))


def _refuse_text(step: Assignment) -> None:
    """CaseError where words that are only kept would decide: the supply of a rating."""
    if step.place.kind == "fan_type" and step.place.key == "supply":
        raise CaseError(
            f"{step.place.path}: cannot be changed here; change the voltage and frequency of the "
            "fans' supply, or make the change with with_changes first"
        )


def _coded(
    enclosure: Enclosure, role: Role, values: Sequence[Any] | Array, pool: Sequence[Any] = ()
) -> Array:
    """Numbers; of words, names and tables the places among those known, -1 where not given."""
    if isinstance(role, Number):
        return np.array(values, None if np.iscomplexobj(values) else float)  # None: NaN
    known = pool
    if isinstance(role, Choice):
        known = role.words
    elif isinstance(role, Link):
        known = link_names(enclosure, role)
    index = {word: i for i, word in reversed(list(enumerate(known)))}  # the first of a name
    return np.array([index[value] if given(value) else -1 for value in values], float)


def _set(column: Array, row: int, values: Array) -> Array:
    """The column with one row replaced; widened to all variants where needed."""
    kind = np.result_type(column.dtype, values.dtype if values.dtype.kind == "c" else float)
    width = max(column.shape[1], len(values))
    if width != column.shape[1] or kind != column.dtype:
        column = np.broadcast_to(column, (column.shape[0], width)).astype(kind)
    column[row] = values
    return column


def _put(space: SimpleNamespace, key: str, value: Any) -> None:
    """`guard.loss` as an attribute of an attribute; `at.0` and `at.1` as a list."""
    first, _, rest = key.partition(".")
    if not rest:
        setattr(space, first, value)
    elif rest.isdigit():
        space.__dict__.setdefault(first, []).append(value)
    else:
        _put(space.__dict__.setdefault(first, SimpleNamespace()), rest, value)


def _each(value: Any, function: Callable[[Array], Array]) -> Any:
    """A tree of columns with a function applied to each."""
    if isinstance(value, SimpleNamespace):
        return SimpleNamespace(**{k: _each(v, function) for k, v in value.__dict__.items()})
    return [_each(v, function) for v in value] if isinstance(value, list) else function(value)


def take_rows(constants: Array, index: Integers) -> Array:
    """Constants (tables, ...) -> (things, ..., variants) by an index (things, variants)."""
    return np.moveaxis(constants[index], 1, -1)


def gather(column: Array, index: Integers) -> Array:
    """Rows of a column (rows, ..., variants or 1) by an index (things, variants or 1)."""
    if column.shape[-1] == 1 and index.shape[-1] == 1:
        picked: Array = column[index[:, 0]]
        return picked
    width = max(column.shape[-1], index.shape[-1])
    wide = np.broadcast_to(column, (*column.shape[:-1], width))
    rows = np.broadcast_to(index, (index.shape[0], width))
    moved = np.moveaxis(wide, -1, 1)  # (rows, variants, ...)
    return np.moveaxis(moved[rows, np.arange(width)], 1, -1)
