"""Scenarios in variants, with further changes, solved together: what every study rests on.

A setup is a scenario in a variant with changes; changes may be arrays, then it stands for many
pairs. State, type, mounting, supply and every number are columns, so all setups of one topology are
one batch. What equals another setup in every input is solved once and has the same numbers.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any, NamedTuple

import numpy as np

from flownet.columns import Inputs
from flownet.enclosure import combinations
from flownet.enclosure.changes import as_columns, steps, width_of
from flownet.enclosure.contents import Changes
from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.scenarios import scenario_changes, variant_changes
from flownet.results.batch import SolutionBatch
from flownet.results.solution import Limit, Solution
from flownet.schema.arrays import Array, Integers
from flownet.schema.component import KINDS
from flownet.schema.errors import CaseError, NoSolution
from flownet.schema.fields import NONE, REMARKS, Choice, Number, Table, get, given, roles
from flownet.solving.attempt import refusals
from flownet.solving.solve import BLOCK, Progress, solve_blocks

Columns = dict[str, dict[str, Array]]
Designs = dict[str, Inputs | tuple[str, ...]]  # by variant; or what is wrong with it
NOWHERE = -1  # batch of a pair that could not be made


class Setup(NamedTuple):
    """A scenario in a variant; `changes` come last, arrays make it many pairs."""

    scenario: str = "base"
    variant: str = "base"
    changes: Changes = NONE


@dataclass(frozen=True, eq=False, repr=False)
class Pairs:
    """What was asked, in order, and the batches that hold the answers.

    A pair that was not solved has NaN everywhere and its reason in `status`.
    """

    setups: tuple[Setup, ...]
    cases: tuple[Enclosure | None, ...]  # of each setup, without its arrays; None: not made
    batches: tuple[SolutionBatch, ...]
    setup: Integers  # (pairs,) which setup it belongs to
    member: Integers  # (pairs,) which value of the setup's arrays is its own
    batch: Integers  # (pairs,) which batch holds it
    place: Integers  # (pairs,) where in that batch
    faults: tuple[tuple[str, ...], ...]  # of each setup: why it could not be made

    def __len__(self) -> int:
        return len(self.setup)

    def __repr__(self) -> str:
        return f"<Pairs: {len(self)} in {len(self.batches)} batches, {int(self.ok.sum())} solved>"

    @cached_property
    def status(self) -> tuple[str, ...]:
        """Empty where solved, else what went wrong."""
        return tuple(
            "\n".join(self.faults[setup]) if batch == NOWHERE else self.batches[batch].status[place]
            for setup, batch, place in zip(self.setup, self.batch, self.place, strict=True)
        )

    @property
    def ok(self) -> Array:
        """(pairs,) which were solved."""
        return np.array([not words for words in self.status], bool)

    def made(self, pair: int) -> bool:
        """Whether the case of a pair is sound, so that it could be tried at all."""
        return bool(self.batch[pair] != NOWHERE)

    def per_pair(self, function: Callable[[SolutionBatch], Any]) -> Array:
        """(pairs,) what a function says of each batch, (variants,) or one for all; else NaN."""
        found = np.full(len(self), np.nan)
        for number, batch in enumerate(self.batches):
            here = self.batch == number
            found[here] = np.broadcast_to(function(batch), len(batch))[self.place[here]]
        return found

    def __getitem__(self, path: str) -> Array:
        """(pairs,) one result by its path, SI; CaseError where no batch has it."""
        faults: list[CaseError] = []

        def values(batch: SolutionBatch) -> Any:
            try:
                return batch[path]
            except CaseError as error:
                faults.append(error)
                return np.nan

        found = self.per_pair(values)
        if faults and len(faults) == len(self.batches):
            raise faults[0]
        return found

    @cached_property
    def limits(self) -> tuple[Limit, ...]:
        """Every limit of any batch as arrays over pairs; NaN where a pair has not this one."""
        kinds = {(i.limit, i.subject): i for batch in self.batches for i in batch.limits}
        return tuple(
            item._replace(
                value=self._of_limit(key, "value"),
                bound=self._of_limit(key, "bound"),
                margin=self._of_limit(key, "margin"),
            )
            for key, item in kinds.items()
        )

    def _of_limit(self, key: tuple[str, str], name: str) -> Array:
        def values(batch: SolutionBatch) -> Any:
            found = {(item.limit, item.subject): item for item in batch.limits}
            return getattr(found[key], name) if key in found else np.nan

        return self.per_pair(values)

    @cached_property
    def tight(self) -> Array:
        """(pairs,) `limits.margin`: a temperature margin below it is tight [K]."""
        return self.per_pair(lambda batch: batch.inputs_.columns["limits"]["margin"][0].real)

    def case(self, pair: int) -> Enclosure:
        """The enclosure a pair was solved as; NoSolution where it could not be made."""
        setup, made = self.setups[self.setup[pair]], self.cases[self.setup[pair]]
        if made is None:
            raise NoSolution(self.status[pair])
        own = {p: _picked(v, int(self.member[pair])) for p, v in setup.changes.items()}
        case: Enclosure = made.with_changes(own) if own else made
        return case

    def select(self, pair: int) -> Solution:
        """One pair as a solution; NoSolution where it was not solved."""
        case = self.case(pair)
        found: Solution = self.batches[self.batch[pair]].select(int(self.place[pair]))
        return dataclasses.replace(found, case=case)


def solve_pairs(
    case: Enclosure, setups: Iterable[Setup], *, executor: Executor | None = None,
    progress: Progress | None = None,
) -> Pairs:  # fmt: skip
    """Every setup solved, all of one topology in one batch.

    Parameters
    ----------
    case : Enclosure
    setups : iterable of Setup
        Names in the case; `each-...` must be expanded before. Arrays in `changes` have one length
        within a setup.
    executor : concurrent.futures.Executor, optional
        Solves blocks; every executor returns the same numbers.
    progress : callable(done, total), optional

    Raises
    ------
    CaseError
        Unknown names and paths. A variant, scenario or change that does not fit the others of its
        setup is no error: it keeps its place and says why.
    """
    asked = tuple(setups)
    prepared, where, inputs = _planned(case, asked, {})
    batches = solve_blocks(inputs, executor=executor, progress=progress)
    widths = [1 if each.inputs is None else each.inputs.variants for each in prepared]
    member = np.concatenate([np.arange(n) for n in widths] or [np.zeros(0, int)])
    owner = np.repeat(np.arange(len(asked)), widths)
    batch, first = np.array(where, int).reshape(-1, 2).T[:, owner]
    cases, faults = (tuple(getattr(e, name) for e in prepared) for name in ("made", "faults"))
    return Pairs(asked, cases, tuple(batches), owner, member, batch, first + member, faults)


def refused_pairs(case: Enclosure, setups: Sequence[Setup]) -> list[tuple[str, ...]]:
    """Of each setup without arrays why it cannot be solved, found without solving; empty where it
    can be tried. CaseError for names that are not known."""
    found: list[tuple[str, ...]] = []
    designs: Designs = {}
    for start in range(0, len(setups), BLOCK):  # any number of them in the room of a block
        block = setups[start : start + BLOCK]
        prepared, where, inputs = _planned(case, block, designs, once=False)
        told = [refusals(each) for each in inputs]
        for each, (batch, place) in zip(prepared, where, strict=True):
            words = "" if batch == NOWHERE else told[batch][place]
            found.append(each.faults or ((words,) if words else ()))
    return found


class _Prepared(NamedTuple):
    """A setup made ready, or what is wrong with it."""

    made: Enclosure | None  # without changes
    inputs: Inputs | None
    whole: Enclosure | None  # with changes, where they are no arrays
    faults: tuple[str, ...]


@dataclass
class _Plan:
    """Which columns go into which batch."""

    batches: list[list[Inputs]] = field(default_factory=list)
    filled: list[int] = field(default_factory=list)  # variants in each batch
    number: dict[tuple[Any, ...], int] = field(default_factory=dict)  # batch of a shape
    seen: dict[Enclosure, tuple[int, int]] = field(default_factory=dict)
    shapes: dict[int, tuple[Any, ...]] = field(default_factory=dict)  # of mappings, by identity

    def add(
        self, made: Enclosure | None, inputs: Inputs | None, whole: Enclosure | None,
        faults: tuple[str, ...],
    ) -> tuple[int, int]:  # fmt: skip
        """The batch of a setup, and where in it the setup begins."""
        if made is None or inputs is None:
            return NOWHERE, 0
        if whole is not None and whole in self.seen:
            return self.seen[whole]
        batch = self.number.setdefault(self._shape(made), len(self.batches))
        if batch == len(self.batches):
            self.batches.append([])
            self.filled.append(0)
        place = batch, self.filled[batch]
        self.batches[batch].append(inputs)
        self.filled[batch] += inputs.variants
        if whole is not None:
            self.seen[whole] = place
        return place

    def _shape(self, case: Enclosure) -> tuple[Any, ...]:
        """What is no column: enclosures that are alike in it can be one batch.

        Kinds that nothing changes are the same mapping in many of them, looked at once.
        """
        for kind, named in case.things.items():
            if id(named) not in self.shapes:
                self.shapes[id(named)] = _shape(kind, named)
        return tuple((kind, self.shapes[id(named)]) for kind, named in case.things.items())


def _planned(
    case: Enclosure, asked: Sequence[Setup], designs: Designs, *, once: bool = True
) -> tuple[list[_Prepared], list[tuple[int, int]], list[Inputs]]:
    """Every setup made ready, its batch and place, and the columns of the batches.

    `once`: what equals another setup in every input has its place.
    """
    plan = _Plan()
    prepared = [_prepared(case, setup, designs) for setup in asked]
    where = [plan.add(*(each if once else each._replace(whole=None))) for each in prepared]
    return prepared, where, [stacked(columns) for columns in plan.batches]


def _prepared(case: Enclosure, setup: Setup, designs: Designs) -> _Prepared:
    variant_changes(case, setup.variant)  # names that are not known are the caller's fault
    if setup.variant not in designs:
        designs[setup.variant] = _design(case, setup.variant, designs.get("base"))
    near = designs[setup.variant]
    if not isinstance(near, Inputs):
        return _Prepared(None, None, None, near)
    design = near.enclosure
    conditions = scenario_changes(design, setup.scenario)
    for path in setup.changes:
        case.places(path)
    try:
        made = design.in_scenario(setup.scenario, conditions)
        wide = as_columns(made, setup.changes)
        settings, width = list(steps(made, wide)), width_of(wide)
        combinations.check(made, settings)
        single = {path: _picked(value, 0) for path, value in setup.changes.items()}
        whole = (made.with_changes(single) if single else made) if width == 1 else None
        return _Prepared(made, Inputs.of(made, near).stepped(settings, width), whole, ())
    except CaseError as error:
        return _Prepared(None, None, None, error.faults)


def _design(case: Enclosure, variant: str, base: Any) -> Inputs | tuple[str, ...]:
    """The columns of the case in a variant, or what is wrong with that."""
    try:
        near = base if isinstance(base, Inputs) else None
        return Inputs.of(case.under(variant=variant), near)
    except CaseError as error:
        return error.faults


def _shape(kind: str, named: Mapping[str, Any]) -> tuple[Any, ...]:
    """What of things of a kind is no column."""
    return tuple(
        (name, key, _fixed(role, get(item, key)))
        for key, role in roles(KINDS[kind]).items()
        if key not in REMARKS and not _in_columns(role)
        for name, item in named.items()
    )


def _in_columns(role: Any) -> bool:
    worded = isinstance(role, Table) and None in role.quantities  # the stations of a chain
    varies = isinstance(role, (Number, Choice, Table)) or getattr(role, "varies", False)
    return varies and not worded


def _fixed(role: Any, value: Any) -> Any:
    if isinstance(role, Table) and given(value):
        return tuple(row[role.quantities.index(None)] for row in value)
    return repr(sorted(value.items())) if isinstance(value, Mapping) else value


# --- columns side by side ------------------------------------------------------------------------


def stacked(every: Sequence[Inputs]) -> Inputs:
    """Columns of enclosures of one topology one behind the other, as variants of one.

    A row that is the same in all stays one column; tables are put together, and what names them
    follows.
    """
    first = every[0]
    if len(every) == 1:
        return first
    index: dict[tuple[str, str], dict[Any, int]] = {}
    for inputs in every:
        for key, pool in inputs.tables.items():
            known = index.setdefault(key, {})
            for table in pool:
                known.setdefault(table, len(known))
    tables = {key: tuple(known) for key, known in index.items()}
    widths = [inputs.variants for inputs in every]
    columns: Columns = {}
    for kind, named in first.columns.items():
        columns[kind] = {
            key: _beside(list(_coded(every, (kind, key), index)), widths) for key in named
        }
    return Inputs(first.enclosure, columns, tables, sum(widths))


def _coded(
    every: Sequence[Inputs], key: tuple[str, str], index: Mapping[tuple[str, str], dict[Any, int]]
) -> Iterator[Array]:
    """A column of each, tables named by their place among those of all."""
    places, kind = index.get(key, {}), key[0]
    for inputs in every:
        column, own = inputs.columns[kind][key[1]], inputs.tables.get(key, ())
        code = [places[table] for table in own]
        if code != list(range(len(own))):
            column = np.array([*code, -1], float)[column.real.astype(int)]  # the last: not given
        yield column


def _beside(columns: list[Array], widths: Sequence[int]) -> Array:
    first, own = columns[0], {id(column): column for column in columns}.values()
    if first.shape[1] == 1 and all(c.shape == first.shape for c in own):
        side_by_side = np.concatenate(list(own), axis=1)
        nothing = np.isnan(first)
        if ((side_by_side == first) | nothing & np.isnan(side_by_side)).all():
            return first
    return np.concatenate(
        [np.broadcast_to(c, (len(c), n)) for c, n in zip(columns, widths, strict=True)], axis=1
    )


def _picked(value: Any, member: int) -> Any:
    if isinstance(value, (np.ndarray, list)) and len(value) > 1:
        return value[member]
    return value[0] if isinstance(value, (np.ndarray, list)) else value
