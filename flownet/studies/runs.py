"""Scenarios in variants, with further changes, solved together: what every study rests on.

A run is a scenario in a variant with changes; changes may be arrays, then it stands for many pairs.
State, type, mounting, supply and every number are columns, so all runs of one topology are one
batch. What equals another run in every input is solved once and has the same numbers.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import Executor
from functools import cached_property
from typing import Any, NamedTuple

import numpy as np

from flownet.columns import Inputs
from flownet.enclosure import combinations
from flownet.enclosure.changes import as_columns, steps, width_of
from flownet.enclosure.contents import Changes
from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.scenarios import scenario_changes, variant_changes
from flownet.judging.assessment import Assessment, Runs, assess
from flownet.judging.voids import STALL, Void, fan_out, voids
from flownet.results.batch import SolutionBatch
from flownet.results.limits import Limit, put
from flownet.results.solution import Solution
from flownet.schema.arrays import Array, Integers
from flownet.schema.errors import CaseError, NoSolution
from flownet.schema.fault import Fault
from flownet.schema.fields import NONE
from flownet.solving.attempt import refusals
from flownet.solving.solve import BLOCK, Progress, solve_blocks
from flownet.studies.stacking import BatchShape, shape_of, stacked

# Of a case, by its identity, and a variant; or what is wrong with it.
Designs = dict[tuple[int, str], Inputs | tuple[str, ...]]
NOWHERE = -1  # batch of a pair that could not be made


class Run(NamedTuple):
    """A scenario in a variant; `changes` come last, arrays make it many pairs."""

    scenario: str = "base"
    variant: str = "base"
    changes: Changes = NONE
    of: Enclosure | None = None  # another case than that of the study


@dataclasses.dataclass(frozen=True, eq=False, repr=False)
class Outcomes:
    """What was asked, in order, and the batches that hold the answers, as arrays over pairs.

    A pair that was not solved has NaN everywhere and its reason in `status`.
    """

    runs: tuple[Run, ...]
    cases: tuple[Enclosure | None, ...]  # of each run, without its arrays; None: not made
    batches: tuple[SolutionBatch, ...]
    run: Integers  # (pairs,) which run it belongs to
    member: Integers  # (pairs,) which value of the run's arrays is its own
    batch: Integers  # (pairs,) which batch holds it
    place: Integers  # (pairs,) where in that batch
    faults: tuple[tuple[str, ...], ...]  # of each run: why it could not be made

    def __len__(self) -> int:
        return len(self.run)

    def __repr__(self) -> str:
        solved = int(self.ok.sum())
        return f"<Outcomes: {len(self)} in {len(self.batches)} batches, {solved} solved>"

    @cached_property
    def status(self) -> tuple[str, ...]:
        """Empty where solved, else what went wrong: a `Fault` where no solve was tried."""
        return tuple(
            Fault("", "\n".join(self.faults[run]))
            if batch == NOWHERE
            else self.batches[batch].status[place]
            for run, batch, place in zip(self.run, self.batch, self.place, strict=True)
        )

    def taken(self, some: Integers) -> Outcomes:
        """Some of the pairs, by their numbers."""
        own = {name: getattr(self, name)[some] for name in ("run", "member", "batch", "place")}
        return dataclasses.replace(self, **own)

    @property
    def ok(self) -> Array:
        """(pairs,) which were solved."""
        return np.array([not words for words in self.status], bool)

    def made(self, pair: int) -> bool:
        """Whether the things of a pair go together, so that there is a case."""
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
        found: dict[tuple[str, str], Limit] = {}
        for number, batch in enumerate(self.batches):
            here = self.batch == number
            for item in batch.limits:
                own = item._replace(**{
                    name: np.broadcast_to(getattr(item, name), len(batch))[self.place[here]]
                    for name in ("value", "bound", "margin")
                })  # fmt: skip
                put(found, own, here, len(self))
        return tuple(found.values())

    @cached_property
    def tight(self) -> Array:
        """(pairs,) `limits.margin`: a temperature margin below it is tight [K]."""
        return self.per_pair(lambda batch: batch.inputs_.columns["limits"]["margin"][0].real)

    @cached_property
    def stand(self) -> Assessment:
        """How every pair stands; a fan is out where a scenario stops it, and it does not run."""
        out = np.zeros(len(self), bool)
        for number, made in enumerate(self.cases):
            failed, here = made.applied.failed if made is not None else (), self.run == number
            if failed and here.any() and any(item.word == STALL for item in self._voids):
                batch = self.batches[self.batch[here][0]]
                out[here] = fan_out(batch, failed)[self.place[here]]
        return self.assessed(out)

    def assessed(self, out: Array) -> Assessment:
        """The same; `out`: (pairs,) whether a fan that runs in the design is out."""
        outside = self.per_pair(lambda batch: batch.site["temperature"].real)
        return assess(Runs(self.limits, self.ok, self.tight, outside, self._voids, out))

    @cached_property
    def _voids(self) -> tuple[Void, ...]:
        found: dict[tuple[str, str], Array] = {}
        for number, batch in enumerate(self.batches):
            here = self.batch == number
            for word, subject, runs in voids(batch):
                mask = found.setdefault((word, subject), np.zeros(len(self), bool))
                mask[here] = runs[self.place[here]]
        return tuple(Void(*key, runs) for key, runs in found.items())

    @cached_property
    def hottest(self) -> tuple[Array, list[str]]:
        """(pairs,) the highest compartment temperature [K], and where it is; NaN and no name where
        a pair was not solved."""
        warm = self.per_pair(lambda b: b.compartments.columns["temperature"].max(axis=0))
        row = self.per_pair(lambda b: np.where(
            b.ok, b.compartments.columns["temperature"].argmax(axis=0), np.nan))  # fmt: skip
        return warm, [
            "" if np.isnan(at) else str(self.batches[batch].compartments.names[int(at)])
            for batch, at in zip(self.batch, row, strict=True)
        ]

    def case(self, pair: int) -> Enclosure:
        """The enclosure a pair was solved as; NoSolution where it could not be made."""
        run, made = self.runs[self.run[pair]], self.cases[self.run[pair]]
        if made is None:
            raise NoSolution(self.status[pair])
        own = {p: _picked(v, int(self.member[pair])) for p, v in run.changes.items()}
        case: Enclosure = made.with_changes(own) if own else made
        return case

    def select(self, pair: int) -> Solution:
        """One pair as a solution; NoSolution where it was not solved."""
        case = self.case(pair)
        found: Solution = self.batches[self.batch[pair]].select(int(self.place[pair]))
        return dataclasses.replace(found, case=case)


def evaluate(
    case: Enclosure, runs: Iterable[Run], *, executor: Executor | None = None,
    progress: Progress | None = None,
) -> Outcomes:  # fmt: skip
    """Every run solved, all of one topology in one batch.

    Parameters
    ----------
    case : Enclosure
    runs : iterable of Run
        Names in the case; `each-...` must be expanded before. Arrays in `changes` have one length
        within a run.
    executor : concurrent.futures.Executor, optional
        Solves blocks; every executor returns the same numbers.
    progress : callable(done, total), optional

    Raises
    ------
    CaseError
        Unknown names and paths. A variant, scenario or change that does not fit the others of its
        run is no error: it keeps its place and says why.
    """
    asked = tuple(runs)
    prepared, where, inputs = _planned(case, asked, {})
    batches = solve_blocks(inputs, executor=executor, progress=progress)
    widths = [1 if each.inputs is None else each.inputs.variants for each in prepared]
    member = np.concatenate([np.arange(n) for n in widths] or [np.zeros(0, int)])
    owner = np.repeat(np.arange(len(asked)), np.array(widths, int))
    batch, first = np.array(where, int).reshape(-1, 2).T[:, owner]
    cases, faults = (tuple(getattr(e, name) for e in prepared) for name in ("made", "faults"))
    return Outcomes(asked, cases, tuple(batches), owner, member, batch, first + member, faults)


def apart(case: Enclosure, changes: Changes, count: int) -> Iterator[Run]:
    """So many values of each change as one run; split where one of them is unsound, which stands
    alone: it would spoil the columns of all."""
    if count > 1:
        try:
            combinations.check(case, list(steps(case, as_columns(case, changes))))
        except CaseError:
            half = count // 2
            for part in (slice(0, half), slice(half, count)):
                cut = {path: value[part] if isinstance(value, np.ndarray) and len(value) == count
                       else value for path, value in changes.items()}  # fmt: skip
                yield from apart(case, cut, len(range(count)[part]))
            return
    yield Run(changes=changes, of=case)


def refused_runs(case: Enclosure, runs: Sequence[Run]) -> list[tuple[str, ...]]:
    """Of each run without arrays why it cannot be solved, found without solving; empty where it
    can be tried. CaseError for names that are not known."""
    found: list[tuple[str, ...]] = []
    designs: Designs = {}
    for start in range(0, len(runs), BLOCK):  # any number of them in the room of a block
        block = runs[start : start + BLOCK]
        prepared, where, inputs = _planned(case, block, designs, once=False)
        told = [refusals(each) for each in inputs]
        for each, (batch, place) in zip(prepared, where, strict=True):
            words = "" if batch == NOWHERE else told[batch][place]
            found.append(each.faults or ((words,) if words else ()))
    return found


def _marked(inputs: Inputs) -> int:  # the hash of all things is dear
    return hash(tuple(c.tobytes() for made in inputs.columns.values() for c in made.values()))


class _Prepared(NamedTuple):
    """A run made ready, or what is wrong with it."""

    made: Enclosure | None = None  # without changes
    inputs: Inputs | None = None
    whole: Enclosure | None = None  # with changes, where they are no arrays
    faults: tuple[str, ...] = ()


def _planned(
    case: Enclosure, asked: Sequence[Run], designs: Designs, *, once: bool = True
) -> tuple[list[_Prepared], list[tuple[int, int]], list[Inputs]]:
    """Every run made ready, its batch and place, and the columns of the batches.

    `once`: what equals another run in every input has its place.
    """
    prepared, where = [_prepared(case, run, designs) for run in asked], []
    batches: dict[BatchShape, list[Inputs]] = {}
    seen: dict[int, list[tuple[Enclosure, tuple[int, int]]]] = {}  # by hash of columns
    filled: list[int] = []  # variants in each batch
    number: dict[BatchShape, int] = {}
    shapes: dict[int, BatchShape] = {}
    for each in prepared:
        if each.made is None or each.inputs is None:
            where.append((NOWHERE, 0))
            continue
        alike = [] if each.whole is None else seen.setdefault(_marked(each.inputs), [])
        known = next((place for whole, place in alike if whole == each.whole), None)
        if once and known is not None:
            where.append(known)
        else:
            shape = shape_of(each.made, shapes)
            batch = number.setdefault(shape, len(number))
            filled += [0] * (batch == len(filled))
            where.append((batch, filled[batch]))
            batches.setdefault(shape, []).append(each.inputs)
            filled[batch] += each.inputs.variants
            alike += [(each.whole, where[-1])] if each.whole is not None else []
    return prepared, where, [stacked(columns) for columns in batches.values()]


def _prepared(case: Enclosure, run: Run, designs: Designs) -> _Prepared:
    case, whose = run.of or case, id(run.of)
    variant_changes(case, run.variant)  # names that are not known are the caller's fault
    if (whose, run.variant) not in designs:
        base = designs.get((whose, "base"))
        designs[whose, run.variant] = _design(case, run.variant, base)
    near = designs[whose, run.variant]
    if not isinstance(near, Inputs):
        return _Prepared(faults=near)
    design = near.enclosure
    conditions = scenario_changes(design, run.scenario)
    for path in run.changes:
        case.places(path)
    try:
        made = design.in_scenario(run.scenario, conditions)
        wide = as_columns(made, run.changes)
        settings, width = list(steps(made, wide)), width_of(wide)
        combinations.check(made, settings)
        single = {path: _picked(value, 0) for path, value in run.changes.items()}
        whole = (made.with_changes(single) if single else made) if width == 1 else None
        return _Prepared(made, Inputs.of(made, near).stepped(settings, width), whole)
    except CaseError as error:
        return _Prepared(faults=error.faults)


def _design(case: Enclosure, variant: str, base: Any) -> Inputs | tuple[str, ...]:
    """The columns of the case in a variant, or what is wrong with that."""
    try:
        near = base if isinstance(base, Inputs) else None
        return Inputs.of(case.under(variant=variant), near)
    except CaseError as error:
        return error.faults


def _picked(value: Any, member: int) -> Any:
    if isinstance(value, (np.ndarray, list)) and len(value) > 1:
        return value[member]
    return value[0] if isinstance(value, (np.ndarray, list)) else value
