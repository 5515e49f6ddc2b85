"""Exact derivatives of every result to every number of a case.

Each number is moved by i*h in a variant of its own; one residual of that batch holds all direct
effects. The state answers by the implicit function theorem, with one factorisation of the coupled
Jacobian, and the same complex batch turns the moved state into moved results. No derivative is
written by hand: a new kind or law is differentiated the day it is added.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator, Sequence
from typing import NamedTuple

import numpy as np

from flownet.columns import Inputs
from flownet.enclosure.contents import Place
from flownet.equations.assemble import assemble
from flownet.equations.readout import results
from flownet.equations.residual import residual
from flownet.equations.state import Model, State, Steady
from flownet.results.batch import SolutionBatch
from flownet.schema.arrays import Array
from flownet.solver import speed_control, speeds
from flownet.solver import tolerances as tol
from flownet.solver.jacobian import Pattern, System

AT_A_TIME = 128  # numbers that are moved together
ENTRIES = 64_000  # of one array over branches and variants: bounded memory, whatever the case


def derivatives(
    inputs: Inputs, model: Model, found: Steady, places: Sequence[Place]
) -> Iterator[tuple[Sequence[Place], SolutionBatch]]:
    """Chunks of numbers with all results, complex: the imaginary part over `STEP` is the
    derivative.

    Parameters
    ----------
    inputs, model, found : one variant, solved; where fans follow temperatures the inputs have the
        speeds that were found, and derivatives hold with the speeds following
    places : of numbers, as `Inputs.number_places` lists them

    At a kink (a point of a curve, a value at which a law changes) it is the derivative of the side
    that the value itself belongs to.
    """
    pattern = Pattern(model.structure)
    system = System(model, pattern, found.state)
    loop = _loop(inputs, model, pattern, found)
    width = max(1, min(AT_A_TIME, ENTRIES // max(len(model.structure.branches), 1)))
    for first in range(0, len(places), width):
        part = places[first : first + width]
        yield part, _chunk(inputs, found, system, loop, part)


class Loop(NamedTuple):
    """Fans that follow temperatures, and how these answer to what they set."""

    sensed: tuple[str, ...]
    warm: Array  # (sensors, 1) as solved
    inverse: Array  # (sensors, sensors) 1 / (1 - slope of readings to what sets the speeds)
    speed: Array  # (fans, 1) as solved


def _loop(inputs: Inputs, model: Model, pattern: Pattern, found: Steady) -> Loop | None:
    follow = speeds.controls(inputs)
    if follow is None:
        return None
    warm = speeds.readings(inputs, model, found.state, follow.sensed)
    slope = speed_control.slopes(inputs, follow, pattern, found.state, warm)[:, :, 0]
    inverse = np.linalg.inv(np.eye(len(slope)) - slope)
    return Loop(follow.sensed, warm, inverse, inputs.columns["fan"]["speed"].real)


def _chunk(
    inputs: Inputs, found: Steady, system: System, loop: Loop | None, places: Sequence[Place]
) -> SolutionBatch:
    """All results with each of these numbers moved in a variant of its own.

    Where fans follow temperatures: first with these as they are, which tells how far they move by
    themselves; then with the speeds that all of them ask for in the end.
    """
    moved = stepped(inputs, places)
    if loop is not None:
        outside = speeds.fixed(loop.sensed)
        first = speeds.outside_readings(moved, loop.sensed)
        alone = _asked(moved, loop, np.where(outside, first, loop.warm + 0j))
        direct = _slope(speeds.readings(alone, *_answered(alone, found, system), loop.sensed))
        moved = _asked(moved, loop, loop.warm + 1j * tol.STEP * (loop.inverse @ direct))
    there, state = _answered(moved, found, system)
    return results(moved, there, _as_steady(found, state, len(places)), {})


def _asked(moved: Inputs, loop: Loop, warm: Array) -> Inputs:
    """The same with the step of the speeds that these temperatures ask for."""
    follow = speeds.controls(moved)
    assert follow is not None  # as before the step
    return speeds.placed(moved, follow.active, loop.speed + 1j * follow.held(warm).imag)


def _answered(moved: Inputs, found: Steady, system: System) -> tuple[Model, State]:
    """The model of moved inputs, and the state as it answers to them at given speeds."""
    width, s = moved.variants, system.model.structure
    there = assemble(moved, s)
    flow, pressure = (np.repeat(x, width, axis=1) for x in found.state[:2])
    warm = np.repeat(system.model.unknown_temperatures(found.state), width, axis=1)
    state = there.state(flow, pressure[: s.inside], warm)
    direct = residual(there, state)
    gap, energy, mix = (_slope(x) for x in (direct.pressure, direct.energy, direct.mix))
    answer = system.answer(gap, np.zeros((len(s.branches), width)), energy, mix)
    return there, there.moved(state, answer, 1j * tol.STEP)


def stepped(inputs: Inputs, places: Sequence[Place]) -> Inputs:
    """One variant a place, in which that number alone has an imaginary step. Ranges are not looked
    at: at the end of a range there is a derivative too."""
    columns = {kind: dict(made) for kind, made in inputs.columns.items()}
    rows = {kind: {name: i for i, name in enumerate(inputs.names(kind))}
            for kind in {place.kind for place in places}}  # fmt: skip
    for variant, (kind, name, key) in enumerate(places):
        if columns[kind][key] is inputs.columns[kind][key]:
            columns[kind][key] = np.repeat(columns[kind][key], len(places), axis=1).astype(complex)
        columns[kind][key][rows[kind][name], variant] += 1j * tol.STEP
    return dataclasses.replace(inputs, columns=columns, variants=len(places))


def _slope(part: Array) -> Array:
    slope: Array = np.imag(part) / tol.STEP
    return slope


def _as_steady(found: Steady, state: State, width: int) -> Steady:
    figures = (np.repeat(figure, width) for figure in found.promise)
    return Steady(
        state, type(found.promise)(*figures), ("",) * width, np.repeat(found.stable, width),
        np.repeat(found.rounds, width),
    )  # fmt: skip
