"""One attempt at a steady state: from a case to where a solve ends, before any result is made."""

from __future__ import annotations

import dataclasses
from typing import Any, NamedTuple

import numpy as np

from flownet.columns import Inputs
from flownet.enclosure.contents import Changes
from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.slips import tiny_areas
from flownet.equations.assemble import assemble
from flownet.equations.component_temperatures import PartStates
from flownet.equations.readout import results
from flownet.equations.residual import mixed
from flownet.equations.state import Model, Steady
from flownet.judging.voids import void
from flownet.results.batch import SolutionBatch
from flownet.results.finding import Finding
from flownet.results.solution import Judge, Solution
from flownet.schema.arrays import Integers
from flownet.schema.errors import CaseError, NoSolution, placed
from flownet.solver import acceptance, dividing, speed_control, speeds, steady
from flownet.solver import refusals as precheck
from flownet.solver.coupled import polished
from flownet.solver.jacobian import Pattern


class Attempt(NamedTuple):
    """What a solve went by, and where it ended."""

    model: Model
    pattern: Pattern
    found: Steady
    inputs: Inputs  # as solved: things by name, fans that follow a temperature at their speeds


def changed(case: Enclosure, scenario: str, variant: str, changes: Changes | None) -> Enclosure:
    """The case in a variant, a scenario and further changes, with what was applied noted."""
    made = case.under(scenario, variant)
    return made.with_changes(changes) if changes else made


def attempt_of(case: Enclosure) -> Attempt:
    """One case solved, else CaseError or NoSolution; both name its file, scenario, variant."""
    with placed(case.where):
        return attempted(Inputs.of(case), check=True)


def attempted(inputs: Inputs, *, check: bool = False) -> Attempt:
    """All variants; `check`: the one variant must be solved, else it raises.

    Things are numbered by name, so that their order in a case decides nothing.
    """
    inputs = inputs.by_name()
    structure = dividing.structure_of(inputs)
    model = assemble(inputs, structure)
    refused = precheck.refusals(model)
    if check and refused[0]:
        raise CaseError(_suspected(inputs.enclosure, refused[0]))
    run = np.array([i for i, words in enumerate(refused) if not words], int)
    pattern = Pattern(structure)
    follow = speeds.controls(inputs)
    if follow is None or not run.size:
        tried = Attempt(model, pattern, _solved(model, pattern, run, refused), inputs)
    else:
        balanced = speed_control.solve(inputs.take(run), follow.take(run), pattern)
        whole = speed_control.placed(balanced, inputs, run, refused)
        tried = Attempt(whole.model, pattern, whole.steady, whole.inputs)
    if check and tried.found.status[0]:
        raise NoSolution(_suspected(inputs.enclosure, tried.found.status[0]))
    return tried


def attempt_at(found: Solution) -> Attempt:
    """Where the solve of a solution ended, by its own numbers; where these do not tell, it is
    solved again, with the errors of `attempt_of`."""
    inputs = Inputs.of(found.case).by_name()
    model = assemble(inputs, dividing.structure_of(inputs))
    pattern, s = Pattern(model.structure), model.structure
    if s.division is None and speeds.controls(inputs) is None:
        rows = [found.compartments[name] for name in s.compartments]
        flow, pressure, warm = (np.array([[float(value)] for value in some]) for some in (
            [found.branches[path].mass_flow for path in s.branches],
            [row.pressure for row in rows], [row.temperature for row in rows]))  # fmt: skip
        drawn = np.zeros((s.mixes, 1)) + model.outside_temperature[:1]
        state = model.state(flow, pressure, np.concatenate([warm, drawn]))
        state = model.warmed(state, np.concatenate([warm, mixed(model, state)[: s.mixes]]))
        state, promise = polished(model, pattern, state)
        if acceptance.kept(promise).all():
            rounds = np.array([found.balance_["iterations"]])
            ended = Steady(state, promise, ("",), np.array([found.stable]), rounds)
            return Attempt(model, pattern, ended, inputs)
    return attempt_of(found.case)


def _suspected(case: Enclosure, words: str) -> str:
    """Why there is no solution, and the areas that look like the cause."""
    tiny = tiny_areas(case)
    if not tiny:
        return words
    verb = "is" if len(tiny) == 2 else "are"
    more = f" ({len(tiny) - 1} more {verb} as small)" if len(tiny) > 1 else ""
    return f"{words}; {tiny[0].path} is {tiny[0].text}{more}: was another unit meant?"


def _solved(model: Model, pattern: Pattern, run: Integers, refused: list[str]) -> Steady:
    """The variants in `run`, put in their places among those that are refused."""
    if len(run) == len(refused):
        return steady.solve(model, pattern)
    if not len(run):
        return steady.unsolved(model, refused)
    return steady.placed(steady.solve(model.take(run), pattern), run, refused)


def refusals(inputs: Inputs) -> list[str]:
    """Of each variant why it cannot be solved, found without solving; empty where it can be
    tried."""
    found, inputs = [""] * inputs.variants, inputs.by_name()
    for structure, run in dividing.structures(inputs):
        part = inputs if len(run) == inputs.variants else inputs.take(run)
        for i, words in zip(run, precheck.refusals(assemble(part, structure)), strict=True):
            found[i] = words
    return found


def _find(solution: Solution) -> tuple[Finding, ...]:
    from flownet.findings import find  # noqa: PLC0415 - rules are loaded when first asked for

    return find(solution)


def _sheet(found: Solution | SolutionBatch) -> Any:
    from flownet.pages import solution  # noqa: PLC0415 - only where it is shown

    of = solution.solution_sheet if isinstance(found, Solution) else solution.batch_sheet
    return of(found)  # type: ignore[arg-type]


def _html(found: Solution | SolutionBatch) -> str:
    from flownet.pages import render  # noqa: PLC0415 - only where it is shown

    return render.html(_sheet(found))


JUDGE = Judge(_find, void, _sheet, _html)


def judged(
    inputs: Inputs, model: Model, found: Steady, part: PartStates | None = None
) -> SolutionBatch:
    """All results; solutions among them tell their findings, and what makes them void."""
    return dataclasses.replace(results(inputs, model, found, {}, part), judge=JUDGE)
