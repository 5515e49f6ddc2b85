"""Exact derivatives of every result to every number of a case.

Each number is moved by i*h in a variant of its own; one residual of that batch holds all direct
effects. The state answers by the implicit function theorem, with one factorisation of the coupled
Jacobian, and the same complex batch turns the moved state into moved results. No derivative is
written by hand: a new kind or law is differentiated the day it is added.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator, Sequence

import numpy as np

from flownet.arrays import Array
from flownet.enclosure.whole import Place
from flownet.inputs import Inputs
from flownet.network.coupled import STEP, Pattern, System
from flownet.network.model import Model, State
from flownet.network.results import results
from flownet.network.steady import Steady
from flownet.solution import SolutionBatch

WIDEST = 128  # numbers at a time
ENTRIES = 64_000  # of one array over branches and variants: bounded memory, whatever the case


def derivatives(
    inputs: Inputs, model: Model, found: Steady, places: Sequence[Place]
) -> Iterator[tuple[Sequence[Place], SolutionBatch]]:
    """Chunks of numbers with all results, complex: the imaginary part over `STEP` is the
    derivative.

    Parameters
    ----------
    inputs, model, found : one variant, solved
    places : of numbers, as `Inputs.number_places` lists them

    At a kink (a point of a curve, a value at which a law changes) it is the derivative of the side
    that the value itself belongs to.
    """
    before = model.unknown_temperatures(found.state)
    system = System(model, Pattern(model.structure), found.state, np.zeros(1), before)
    width = max(1, min(WIDEST, ENTRIES // max(len(model.structure.branches), 1)))
    for first in range(0, len(places), width):
        part = places[first : first + width]
        yield part, _chunk(inputs, found, system, part)


def _chunk(inputs: Inputs, found: Steady, system: System, places: Sequence[Place]) -> SolutionBatch:
    """All results with each of these numbers moved in a variant of its own."""
    width, s = len(places), system.model.structure
    moved = stepped(inputs, places)
    there = Model.of(moved, s)
    flow, pressure = (np.repeat(x, width, axis=1) for x in found.state[:2])
    warm = np.repeat(system.model.unknown_temperatures(found.state), width, axis=1)
    direct = there.residual(there.state(flow, pressure[: s.inside], warm))
    gap, energy, mix = (_slope(x) for x in (direct.pressure, direct.energy, direct.mix))
    answer = system.answer(gap, np.zeros((len(s.branches), width)), energy, mix)
    state = there.state(
        flow + 1j * STEP * answer.mass_flow,
        pressure[: s.inside] + 1j * STEP * answer.pressure,
        warm + 1j * STEP * answer.temperature,
    )
    return results(moved, there, _as_steady(found, state, width), {})


def stepped(inputs: Inputs, places: Sequence[Place]) -> Inputs:
    """One variant a place, in which that number alone has an imaginary step. Ranges are not looked
    at: at the end of a range there is a derivative too."""
    columns = {kind: dict(made) for kind, made in inputs.columns.items()}
    rows = {kind: {name: i for i, name in enumerate(inputs.names(kind))}
            for kind in {place.kind for place in places}}  # fmt: skip
    for variant, (kind, name, key) in enumerate(places):
        if columns[kind][key] is inputs.columns[kind][key]:
            columns[kind][key] = np.repeat(columns[kind][key], len(places), axis=1).astype(complex)
        columns[kind][key][rows[kind][name], variant] += 1j * STEP
    return dataclasses.replace(inputs, columns=columns, variants=len(places))


def _slope(part: Array) -> Array:
    slope: Array = np.imag(part) / STEP
    return slope


def _as_steady(found: Steady, state: State, width: int) -> Steady:
    figures = (np.repeat(figure, width) for figure in found.promise)
    return Steady(
        state, type(found.promise)(*figures), ("",) * width, np.repeat(found.stable, width),
        np.repeat(found.rounds, width),
    )  # fmt: skip
