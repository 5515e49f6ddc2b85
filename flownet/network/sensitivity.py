"""Exact derivatives of every result to every number of a case.

Each number is moved by i*h in a variant of its own; one residual of that batch holds all direct
effects. The state answers by the implicit function theorem, with one factorisation of the coupled
Jacobian, and the same complex batch turns the moved state into moved results. No derivative is
written by hand: a new kind or law is differentiated the day it is added.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from flownet.inputs import Inputs
from flownet.network.coupled import STEP, Pattern, Step, System
from flownet.network.model import Balances, Model, State
from flownet.network.results import results
from flownet.network.steady import Steady
from flownet.solution import SolutionBatch

CHUNK = 128  # inputs at a time: bounded memory, whatever the size of the case


def derivatives(
    inputs: Inputs, model: Model, found: Steady, paths: Sequence[str]
) -> Iterator[tuple[Sequence[str], SolutionBatch]]:
    """Chunks of inputs with all results, complex: the imaginary part over `STEP` is the derivative.

    Parameters
    ----------
    inputs, model, found : one variant, solved
    paths : input paths of numbers, as `Inputs.numbers` lists them
    """
    pattern, still = Pattern(model.structure), np.zeros(1)
    before = model.unknown_temperatures(found.state)
    system = System(model, pattern, found.state, still, before)
    for first in range(0, len(paths), CHUNK):
        part = paths[first : first + CHUNK]
        yield part, _chunk(inputs, model, found, system, part)


def _chunk(
    inputs: Inputs, model: Model, found: Steady, system: System, paths: Sequence[str]
) -> SolutionBatch:
    width, state = len(paths), found.state
    moved = inputs.changed({
        path: inputs.row(path)[0] + 1j * STEP * (np.arange(width) == k)
        for k, path in enumerate(paths)
    }, width)  # fmt: skip
    there = Model.of(moved, model.structure)
    inside = model.structure.inside
    flow, pressure = (np.repeat(x, width, axis=1) for x in (state.mass_flow, state.pressure))
    warm = np.repeat(model.unknown_temperatures(state), width, axis=1)
    direct = there.residual(there.state(flow, pressure[:inside], warm))
    answer = [_answered(system, direct, k) for k in range(width)]
    steps = [np.concatenate([a[i] for a in answer], axis=1) for i in range(3)]
    at = there.state(
        flow + 1j * STEP * steps[0],
        pressure[:inside] + 1j * STEP * steps[1],
        warm + 1j * STEP * steps[2],
    )
    return results(moved, there, _as_steady(found, at, width), {})


def _answered(system: System, direct: Balances, column: int) -> Step:
    """How the state answers to one input, through the one factorisation."""
    gap, energy, mix = (
        np.imag(part[:, column : column + 1]) / STEP
        for part in (direct.pressure, direct.energy, direct.mix)
    )
    return system.answer(gap, np.zeros(gap.shape), energy, mix)


def _as_steady(found: Steady, state: State, width: int) -> Steady:
    figures = (np.repeat(figure, width) for figure in found.promise)
    return Steady(
        state, type(found.promise)(*figures), ("",) * width, np.repeat(found.stable, width),
        np.repeat(found.rounds, width),
    )  # fmt: skip
