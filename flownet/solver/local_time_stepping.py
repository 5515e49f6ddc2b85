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
from flownet.solver.jacobian import Pattern, Step, System
from flownet.solver.newton import FLOW_FLOOR, largest
from flownet.solver.pseudo_transient import COLDEST

ROUNDS = 200
FAR, FARTHEST = 20.0, 30.0  # K of one round: held back from; cut off at
HOTTER = 500.0  # K above the outside: cut off
SWING, FAINT = 0.3, 1e-3  # of the step before, K: a step back that counts as going to and fro
HOLD, MORE, LESS, LEAST = 0.5, 4.0, 1.5, 1e-2  # of the heat flow that passes, per K
STILL = 1e-5  # K, of the largest flow: from here plain Newton ends it


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
    for _ in range(ROUNDS):
        with np.errstate(all="ignore"):
            step = System(model, pattern, state, held, warm).solve()
        for part in step:
            going &= np.isfinite(part).all(axis=0)
        step = Step(*(np.where(going, part, 0.0) for part in step))
        moved = step.temperature[:n]
        flow = np.maximum(largest(state.mass_flow), FLOW_FLOOR)
        still |= going & (largest(moved) < STILL) & (largest(step.mass_flow) < STILL * flow)
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
    passing = CP * (model.structure.network.touch @ abs(state.mass_flow)) / 2 + LEAST
    back = (moved * before < 0) & (abs(moved) > SWING * abs(before)) & (abs(moved) > FAINT)
    less = np.where(held > LEAST * passing, held / LESS, 0.0)
    more = np.maximum(MORE * held, HOLD * passing)
    return np.where(back | (abs(moved) > FAR), more, less)


def _taken(
    model: Model, state: State, step: Step, warm: Array, outside: Array
) -> tuple[State, Array]:
    change = np.clip(step.temperature, -FARTHEST, FARTHEST)
    warm = np.clip(warm + change, COLDEST, outside + HOTTER)
    inside = model.structure.inside
    pressure = state.pressure[:inside] + step.pressure
    return model.state(state.mass_flow + step.mass_flow, pressure, warm), warm
