"""What a result promises, measured: one acceptance test for one variant and for many."""

from __future__ import annotations

import numpy as np

from flownet.equations.branch import HOTTEST_RISE, BranchState, branches
from flownet.equations.residual import residual
from flownet.equations.state import Model, Promise, State
from flownet.physics import air
from flownet.schema.arrays import Array
from flownet.solver.jacobian import Step
from flownet.solver.newton import BALANCE, COLUMN_ROUNDING, FLOW_FLOOR, PRESSURE_FLOOR, ROUNDING

MASS, PRESSURE, ENERGY = 1e-9, BALANCE, 1e-6  # of the largest flow, the largest pressure, the power
WARM_STEP, FLOW_STEP = 1e-6, 1e-8  # K; of the largest flow
POWER_FLOOR = 1e-3  # W


def kept(promise: Promise) -> Array:
    """(variants,) whether every figure is within its bound."""
    found: Array = (
        (promise.mass <= MASS)
        & (promise.pressure <= PRESSURE)
        & (promise.energy <= ENERGY)
        & (promise.warm_step <= WARM_STEP)
        & (promise.flow_step <= FLOW_STEP)
    )
    return found


def measured(model: Model, state: State, step: Step) -> Promise:
    """The promise of a state, and of the Newton step that would change it."""
    here = branches(model, state)
    balance = residual(model, state, here)
    flow = np.maximum(_largest(state.mass_flow), FLOW_FLOOR)
    gap = abs(balance.pressure) * model.open
    heat = abs(balance.energy)
    return Promise(
        _largest(balance.mass) / flow,
        _largest(gap) / pressure_scale(model, state, here),
        heat.sum(axis=0) / power(model, here),
        np.maximum(_largest(step.temperature), _largest(balance.mix)),
        _largest(step.mass_flow) / flow,
        np.argmax(gap, axis=0) if len(gap) else np.zeros(gap.shape[1], int),
        np.argmax(heat, axis=0),
        np.maximum(*(rise.max(axis=0, initial=0.0) for rise in _rises(model, state, here))),
    )


OVER = f"more than {HOTTEST_RISE:.0f} K above the outside"  # how much more is not known there
MORE_AIR = "open or enlarge a vent, add a fan or a wall that carries heat, or lower the power"


def pressure_scale(model: Model, state: State, here: BranchState) -> Array:
    """(variants,) largest of all drops, rises, pressures and buoyancy terms: that by which a step
    is judged (`newton.largest_pressure`), and the terms that it sees as sums."""
    flowing = here.air
    steep = ROUNDING * _largest(model.open * here.slope * state.mass_flow)
    outside = model.outside_density
    s = model.structure
    lift = abs(flowing.density - outside) * abs(model.end_level - model.start_level) * air.GRAVITY
    level = np.concatenate([model.levels, np.zeros((len(s.outsides), model.levels.shape[1]))])
    for density, node, end in (
        (flowing.at_start, s.start, model.start_level),
        (flowing.at_end, s.end, model.end_level),
    ):
        lift = np.maximum(lift, abs(density - outside) * abs(end - level[node]) * air.GRAVITY
                          * (node < s.inside)[:, None])  # fmt: skip
    largest = np.maximum(_largest(here.element_drops), _largest(lift * model.open))
    largest = np.maximum(np.maximum(largest, steep), _largest(state.pressure))
    return np.maximum(largest, pressure_floor(model))


def pressure_floor(model: Model) -> Array:
    """(1 or variants,) the least that "largest pressure" means in a balance [Pa]: what columns of
    air that cancel leave by round-off is no imbalance."""
    heights = np.concatenate(np.broadcast_arrays(*model.columns_of_air, model.climb))
    tall = np.max(abs(heights.real), axis=0, initial=0.0)
    column = COLUMN_ROUNDING / BALANCE * air.GRAVITY * model.outside_density[0] * tall
    found: Array = np.maximum(column.real, PRESSURE_FLOOR)
    return found


def power(model: Model, here: BranchState) -> Array:
    """(variants,) all heat put in."""
    source = abs(model.branch_heat) + abs(here.heat - model.branch_heat)
    total = source.sum(axis=0) + abs(model.compartment_heat).sum(axis=0)
    found: Array = np.maximum(total, POWER_FLOOR)
    return found


def failures(model: Model, state: State, promise: Promise) -> list[str]:
    """Per variant what is wrong, by name; empty where the promise is kept."""
    s = model.structure
    found = []
    hot = _too_hot(model, state, promise.hottest)
    for variant, good in enumerate(kept(promise)):
        if hot[variant]:
            found.append(hot[variant])
        elif good:
            found.append("")
        else:
            branch = (*s.branches, "no branch")[int(promise.worst_branch[variant])]
            where = s.compartments[int(promise.worst_compartment[variant])]
            found.append(
                f"no solution found: pressure balance {promise.pressure[variant]:.1e} of the "
                f"largest at {branch}, mass {promise.mass[variant]:.1e}, energy "
                f"{promise.energy[variant]:.1e} at compartment.{where}; likely two nearly equal "
                "states or a draught that cannot decide its way: open the smallest branch, or "
                "try another fan speed"
            )
    return found


def _rises(model: Model, state: State, here: BranchState) -> tuple[Array, Array]:
    """K above the outside: compartments, and what leaves open branches with heat (else 0)."""
    s = model.structure
    outside = state.temperature[s.inside : s.inside + 1]
    outlet = np.where((model.branch_heat > 0) & model.open, here.outlet - outside, 0.0)
    return state.temperature[: s.inside] - outside, outlet


def _too_hot(model: Model, state: State, hottest: Array) -> list[str]:
    """Compartments or branch outlets more than 500 K above the outside, by name."""
    s, found = model.structure, [""] * len(hottest)
    hot = np.flatnonzero(hottest > HOTTEST_RISE)
    if not hot.size:
        return found
    rise, outlet = _rises(model, state, branches(model, state))
    for variant in hot:
        words = ""
        if outlet[:, variant].max(initial=0.0) > HOTTEST_RISE:
            worst = int(np.argmax(outlet[:, variant]))
            flow = abs(state.mass_flow[worst, variant])
            words = (
                f"heat in {s.branches[worst]} has nowhere to go: at {flow:.1g} kg/s its air would "
                f"be {OVER}; {MORE_AIR}"
            )
        if rise[:, variant].max(initial=0.0) > HOTTEST_RISE:
            worst = int(np.argmax(rise[:, variant]))
            words = (
                f"heat in compartment.{s.compartments[worst]} has nowhere to go: its air would be "
                f"{OVER}; {MORE_AIR}"
            )
        found[variant] = words
    return found


def _largest(values: Array) -> Array:
    size: Array = np.max(abs(values), axis=0, initial=0.0)
    return size
