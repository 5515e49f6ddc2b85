"""The calls a user makes. `solve` is `solve_many` with one variant."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Sequence
from concurrent.futures import BrokenExecutor, Executor
from typing import Any

import numpy as np

from flownet.columns import Inputs
from flownet.enclosure import combinations
from flownet.enclosure.changes import as_columns, steps, width_of
from flownet.enclosure.contents import Changes
from flownet.enclosure.enclosure import Enclosure
from flownet.equations.assemble import assemble
from flownet.equations.state import Model
from flownet.judging import layered
from flownet.results import batch as batches
from flownet.results.batch import SolutionBatch
from flownet.results.limits import Limit
from flownet.results.solution import Layered, Solution
from flownet.results.streams import closing, parting
from flownet.schema import argument_checks
from flownet.schema.errors import CaseError, NoSolution, WorkerLost
from flownet.solver import dividing, fixed_temperature, speeds
from flownet.solving.attempt import Attempt, attempt_at, attempt_of, attempted, changed, judged

BLOCK = 512  # variants solved side by side: fixed, so that every executor returns the same numbers
SEARCHED = 2000  # compartments up to which a solve looks for other states
Progress = Callable[[int, int], None]  # variants done, of how many


def solve(
    case: Enclosure, *, scenario: str = "base", variant: str = "base",
    changes: Changes | None = None,
) -> Solution:  # fmt: skip
    """The steady state that a start from rest reaches.

    Where a fan has a dip in its curve, and up to 2,000 compartments, other states are looked for as
    far as a short search goes: `points` counts all, `others` holds them, and the findings name
    those that are stable. Where walls, exchanges or buoyancy matter, and for up to 16 compartments,
    `layered` is the case with each of them in 4 layers, `finer` that with twice as many as are
    given (solved when first asked for). Where much air goes in a circle inside, `closed` is the
    same enclosure with the branches closed that carry it back; where much of what is drawn in was
    blown out before, `parted` that without recirculation.

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
    argument_checks.check("solve", case, Enclosure)
    tried = attempt_of(changed(case, scenario, variant, changes))
    if _searched(tried.inputs, tried.model):
        from flownet.solving.operating_points import beside_others  # noqa: PLC0415 - only with a dip

        solution = beside_others(tried.inputs, tried)
    else:
        solution = _as_solution(tried)
    return _with_closed(layered.beside(solution, again))


def solved_alone(case: Enclosure, changes: Changes | None = None) -> Solution:
    """What `solve` finds, without what it looks for beside; errors likewise."""
    return _as_solution(attempt_of(case.with_changes(changes) if changes else case))


def completed(found: Solution) -> Solution:
    """A solution of a batch with all that `solve` has beside one, so that it finds the same."""
    inputs = Inputs.of(found.case).by_name()
    if _searched(inputs, assemble(inputs, dividing.structure_of(inputs))):
        from flownet.solving.operating_points import beside_others  # noqa: PLC0415 - only with a dip

        tried = attempt_at(found)
        found = beside_others(tried.inputs, tried)
    return _with_closed(layered.beside(found, again))


def _searched(inputs: Inputs, model: Model) -> bool:
    """Whether other states are looked for: some fan has a dip, and none follows a temperature."""
    small = model.structure.inside <= SEARCHED
    plain = speeds.controls(inputs) is None
    return bool(small and plain and fixed_temperature.fans(model, 1)[0].any())


def _as_solution(tried: Attempt) -> Solution:
    return judged(tried.inputs, tried.model, tried.found).select(0)


def _with_closed(found: Solution) -> Solution:
    """A solution, beside it the same with the ways closed by which much air returns inside, and
    that without air that is drawn in again outside.

    Where one has no solution of its own there is none beside.
    """
    made: dict[str, Solution] = {}
    for name, changes in (("closed", closing(found)), ("parted", parting(found))):
        other = again(found.case, changes) if changes else ""
        if isinstance(other, Solution):
            made[name] = other
    return dataclasses.replace(found, closed=made.get("closed"), parted=made.get("parted"))


def in_layers(solution: Solution) -> Layered | None:
    """The same with compartments in layers, where walls, exchanges or buoyancy matter."""
    return solution.layered or layered.beside(solution, again).layered


def broken_in_layers(solution: Solution) -> tuple[Limit, ...]:
    """Limits that hold and are broken with compartments in layers, the farthest first."""
    made = in_layers(solution)
    return tuple(sorted(made.broken, key=lambda item: item.margin)) if made is not None else ()


def again(case: Enclosure, changes: Changes | None = None) -> Solution | str:
    """What becomes of another case, or why nothing does."""
    try:
        made = case.with_changes(changes) if changes else case
        return _as_solution(attempted(Inputs.of(made), check=True))
    except (CaseError, NoSolution) as error:
        return str(error)


def solve_many(
    case: Enclosure, changes: Changes, *, scenario: str = "base", variant: str = "base",
    executor: Executor | None = None, progress: Progress | None = None,
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
    argument_checks.check("solve_many", case, Enclosure)
    argument_checks.check_changes(changes)
    _check_values(changes)
    made = case.under(scenario, variant)
    wide = as_columns(made, changes)
    settings = list(steps(made, wide))
    combinations.check(made, settings)
    inputs = Inputs.of(made).stepped(settings, width_of(wide))
    (batch,) = solve_blocks([inputs], executor=executor, progress=progress)
    return dataclasses.replace(batch, changes=wide)


def _is_complex(value: Any) -> bool:
    if isinstance(value, np.ndarray):
        return bool(value.dtype.kind == "c")
    return isinstance(value, (complex, np.complexfloating))


def _check_values(changes: Changes) -> None:
    """CaseError for complex values, and for arrays of which some are masked."""
    for path, value in changes.items():
        listed = value if isinstance(value, (list, tuple)) else [value]
        if any(_is_complex(each) for each in listed):
            raise CaseError(f"{path}: real numbers are wanted (got {value!r:.60})")
        if np.ma.isMaskedArray(value):
            raise CaseError(
                f"{path}: a value for every variant is wanted (got a masked array); leave out the "
                "variants without one, or fill them"
            )


def solve_blocks(
    every: Sequence[Inputs], *, executor: Executor | None = None, progress: Progress | None = None
) -> list[SolutionBatch]:
    """Each of these columns as one batch; an executor has the blocks of all of them together.

    Whatever runs them, the numbers are the same: blocks have one size, and none knows of another.
    WorkerLost where a process of the executor has died.
    """
    argument_checks.check_workers(executor, progress)
    blocks = [
        (i, each.block(start, start + BLOCK))
        for i, each in enumerate(every)
        for start in range(0, each.variants, BLOCK)
    ]
    total, done = sum(each.variants for each in every), 0
    found: list[list[SolutionBatch]] = [[] for _ in every]
    solved = (executor.map if executor else map)(_solve_block, [block for _, block in blocks])
    try:
        for (owner, _), batch in zip(blocks, solved, strict=True):
            found[owner].append(batch)
            done += len(batch)
            if progress is not None:
                progress(done, total)
    except BrokenExecutor as error:
        raise WorkerLost(
            f"a worker process was killed, or ran out of memory, before solve {done + 1} and those "
            f"after it, of {total}, were there; run it again, with fewer workers if memory is short"
        ) from error
    return [batches.joined(own, each, {}) for own, each in zip(found, every, strict=True)]


def _solve_block(inputs: Inputs) -> SolutionBatch:
    """A pure function of arrays and names; variants of one topology together."""
    inputs = inputs.by_name()
    runs = [run for _, run in dividing.structures(inputs)]
    if len(runs) == 1:
        return _solve_alike(inputs)
    each = [_solve_alike(inputs.take(run)) for run in runs]
    return batches.spread(each, runs, inputs.as_given())


def _solve_alike(inputs: Inputs) -> SolutionBatch:
    model, _, found, solved = attempted(inputs)
    batch = judged(solved, model, found)
    return batch if batch.ok.all() else batches.without_failed(batch)
