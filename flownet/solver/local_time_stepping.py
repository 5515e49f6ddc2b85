"""Newton on flow and heat of large networks, with a time step of its own for every compartment.

In a large network a few weak draughts turn to and fro while all else stands still; halving the
whole step for them, or marching all in time, would take hundreds of steps. Here the heat of a
compartment is held back, as by a heat capacity over a time step, only where its temperature went
to and fro, or far; what is held back everywhere else falls to zero, so that the end is steady
Newton.
"""

from __future__ import annotations

import numpy as np

from flownet.equations.branch import CP
from flownet.equations.state import Model, State
from flownet.schema.arrays import Array
from flownet.solver import tolerances as tol
from flownet.solver.jacobian import Pattern, Step, System
from flownet.solver.tolerances import flow_scale, largest


def relaxed(model: Model, pattern: Pattern, state: State) -> tuple[State, Array]:
    """The state from which steady Newton ends, and whether it was found; variants side by side.

    Parameters
    ----------
    state : a guess of sane temperatures.
    """
    n, outside = pattern.nodes, model.outside_temperature[:1]
    warm = model.unknown_temperatures(state)
    held, before = np.zeros((n, warm.shape[1])), np.zeros((n, warm.shape[1]))
    still, going = np.zeros(warm.shape[1], bool), np.ones(warm.shape[1], bool)
    for _ in range(tol.HELD_ROUNDS):
        with np.errstate(all="ignore"):
            step = System(model, pattern, state, held, warm).solve()
        for part in step:
            going &= np.isfinite(part).all(axis=0)
        step = Step(*(np.where(going, part, 0.0) for part in step))
        moved = step.temperature[:n]
        flow = flow_scale(state.mass_flow)
        still |= (
            going
            & (largest(moved) < tol.HELD_STILL)
            & (largest(step.mass_flow) < tol.HELD_STILL * flow)
        )
        going &= ~still
        if not going.any():
            break
        held = _held(model, state, held, moved, before)
        after, warmer = _taken(model, state, step, warm, outside)
        state = State(*(np.where(going, a, b) for a, b in zip(after, state, strict=True)))
        warm, before = np.where(going, warmer, warm), moved
    return state, still


def _held(model: Model, state: State, held: Array, moved: Array, before: Array) -> Array:
    """(compartments, variants) W/K that hold temperatures back in the next round."""
    passing = CP * (model.structure.network.touch @ abs(state.mass_flow)) / 2 + tol.LEAST
    back = (moved * before < 0) & (abs(moved) > tol.SWING * abs(before)) & (abs(moved) > tol.FAINT)
    less = np.where(held > tol.LEAST * passing, held / tol.LESS, 0.0)
    more = np.maximum(tol.MORE * held, tol.HOLD * passing)
    return np.where(back | (abs(moved) > tol.FAR), more, less)


def _taken(
    model: Model, state: State, step: Step, warm: Array, outside: Array
) -> tuple[State, Array]:
    change = np.clip(step.temperature, -tol.FARTHEST, tol.FARTHEST)
    warm = np.clip(warm + change, tol.COLDEST, outside + tol.HOTTER)
    inside = model.structure.inside
    pressure = state.pressure[:inside] + step.pressure
    return model.state(state.mass_flow + step.mass_flow, pressure, warm), warm
