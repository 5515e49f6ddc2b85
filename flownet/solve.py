"""The calls a user makes. `solve` is `solve_many` with one variant."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import Executor
from typing import Any, NamedTuple

import numpy as np

from flownet import batches
from flownet.enclosure import variants
from flownet.enclosure.changes import Step, as_columns, steps, width_of
from flownet.enclosure.whole import Enclosure
from flownet.errors import CaseError, NoSolution
from flownet.inputs import Inputs
from flownet.network import frozen, precheck, steady
from flownet.network.coupled import Pattern
from flownet.network.model import Model
from flownet.network.results import results
from flownet.network.steady import Steady
from flownet.network.structure import Structure
from flownet.solution import Solution, SolutionBatch

BLOCK = 256  # variants solved side by side: fixed, so that every executor returns the same numbers
SEARCHED = 2000  # compartments up to which a solve looks for other states
Changes = Mapping[str, Any]


def solve(
    case: Enclosure, *, scenario: str = "base", variant: str = "base",
    changes: Changes | None = None,
) -> Solution:  # fmt: skip
    """The steady state that a start from rest reaches.

    Where a fan has a dip in its curve, and up to 2,000 compartments, other states are looked for as
    far as a short search goes: `points` counts all, `others` holds them, and the findings name
    those that are stable.

    Parameters
    ----------
    case : Enclosure
    scenario, variant : str
        Names in the case; `a+b` joins scenarios, `fan.NAME-out` exists for every fan.
    changes : mapping, optional
        Input path -> value (SI numbers, words, or text with a unit), applied last.

    Raises
    ------
    CaseError
        Unknown names or paths, values out of range, several scenarios at once, islands without a
        way out, heat with nowhere to go.
    NoSolution
        What the solver found does not keep its promise; the message names the worst place.
    """
    inputs = inputs_of(case, scenario, variant, changes)
    tried = attempted(inputs, check=True)
    small = tried.model.structure.inside <= SEARCHED
    if small and frozen.fans(tried.model, 1)[0].any():
        from flownet.operating_points import beside_others  # noqa: PLC0415 - only with a dip

        return beside_others(inputs, tried)
    return results(inputs, tried.model, tried.found, {}).select(0)


def inputs_of(
    case: Enclosure, scenario: str, variant: str, changes: Changes | None
) -> Inputs:
    """The columns of a case as it is to be solved; CaseError where it cannot be."""
    made = changed(case, scenario, variant, changes)
    refuse_speed_control(made)
    return Inputs.of(made)


def changed(case: Enclosure, scenario: str, variant: str, changes: Changes | None) -> Enclosure:
    """The case in a variant, a scenario and further changes, with what was applied noted."""
    made = case.under(scenario, variant)
    return made.with_changes(changes) if changes else made


def solve_many(
    case: Enclosure, changes: Changes, *, scenario: str = "base", variant: str = "base",
    executor: Executor | None = None, progress: Callable[[int, int], None] | None = None,
) -> SolutionBatch:  # fmt: skip
    """Many variants of one enclosure together.

    Parameters
    ----------
    case : Enclosure
    changes : mapping
        Input path -> one value for all, or an array or list with one value a variant.
    executor : concurrent.futures.Executor, optional
        Solves blocks of variants; every executor returns the same numbers.
    progress : callable(done, total), optional

    Returns
    -------
    SolutionBatch
        Arrays over variants; a variant that was not solved has NaN and its reason in `status`.

    Raises
    ------
    CaseError
        Unknown paths, values out of range, arrays of different lengths.
    """
    made = case.under(scenario, variant)
    wide = as_columns(made, changes)
    settings = list(steps(made, wide))
    variants.check(made, settings)
    refuse_speed_control(made, settings)
    inputs = Inputs.of(made).stepped(settings, width_of(wide))
    blocks = [inputs.block(i, i + BLOCK) for i in range(0, inputs.variants, BLOCK)]
    found, done = [], 0
    for batch in (executor.map if executor else map)(_solve_block, blocks):
        found.append(batch)
        done += len(batch)
        if progress is not None:
            progress(done, inputs.variants)
    return batches.joined(found, inputs, wide)


class Attempt(NamedTuple):
    """What a solve went by, and where it ended."""

    model: Model
    pattern: Pattern
    found: Steady


def _solve_block(inputs: Inputs) -> SolutionBatch:
    """A pure function of arrays and names."""
    model, _, found = attempted(inputs)
    batch = results(inputs, model, found, {})
    return batch if batch.ok.all() else batches.without_failed(batch)


def attempted(inputs: Inputs, *, check: bool = False) -> Attempt:
    """All variants; `check`: the one variant must be solved, else it raises."""
    structure = Structure.of(inputs.enclosure)
    model = Model.of(inputs, structure)
    refused = precheck.refusals(model)
    if check and refused[0]:
        raise CaseError(refused[0])
    run = np.array([i for i, words in enumerate(refused) if not words], int)
    pattern = Pattern(structure)
    found = _solved(model, pattern, run, refused)
    if check and found.status[0]:
        raise NoSolution(found.status[0])
    return Attempt(model, pattern, found)


def _solved(model: Model, pattern: Pattern, run: Any, refused: list[str]) -> Steady:
    """The variants in `run`, put in their places among those that are refused."""
    if len(run) == len(refused):
        return steady.solve(model, pattern)
    if not len(run):
        return steady.unsolved(model, refused)
    return steady.placed(steady.solve(model.take(run), pattern), run, refused)


def refuse_speed_control(case: Enclosure, settings: Sequence[Step] = ()) -> None:
    """CaseError where a fan's speed follows a temperature, after these changes in any variant."""
    controlled = {fan.path: fan.speed_control is not None for fan in case.fans.values()}
    for step in settings:
        if step.place[::2] == ("fan", "speed_control.by"):
            followed = step.value if isinstance(step.value, np.ndarray) else [step.value]
            controlled[f"fan.{step.place.name}"] = any(by is not None for by in followed)
    if faults := [path for path, by in controlled.items() if by]:
        raise CaseError(
            [f"{p}.speed_control: not solved yet; remove it or set speed" for p in faults]
        )


def check_solvable(case: Enclosure, scenario: str = "base", variant: str = "base") -> list[str]:
    """Why a scenario cannot be solved, found without solving; empty where it can be tried."""
    made = case.under(scenario, variant)
    try:
        refuse_speed_control(made)
        inputs = Inputs.of(made)
        model = Model.of(inputs, Structure.of(made))
    except CaseError as error:
        return list(error.faults)
    return [words for words in precheck.refusals(model) if words]
