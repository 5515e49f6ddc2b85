"""What a result promises, measured: one acceptance test for one variant and for many."""

from __future__ import annotations

import numpy as np

from flownet.equations.branch import HOTTEST_RISE, BranchState, branches
from flownet.equations.residual import residual
from flownet.equations.state import Model, Promise, State, Step
from flownet.physics import air
from flownet.schema.arrays import Array, summed
from flownet.schema.fault import listed
from flownet.solver import tolerances as tol
from flownet.solver.tolerances import flow_scale, largest, pressure_scale


def kept(promise: Promise) -> Array:
    """(variants,) whether every figure is within its bound."""
    found: Array = (
        (promise.mass <= tol.MASS)
        & (promise.pressure <= tol.PRESSURE)
        & (promise.energy <= tol.ENERGY)
        & (promise.warm_step <= tol.WARM_STEP)
        & (promise.flow_step <= tol.FLOW_STEP)
    )
    return found


def unknown(width: int) -> Promise:
    """Of variants that were not measured."""
    return Promise(*(np.full(width, np.nan) for _ in Promise._fields))


def measured(model: Model, state: State, step: Step) -> Promise:
    """The promise of a state, and of the Newton step that would change it."""
    here = branches(model, state)
    balance = residual(model, state, here)
    flow = flow_scale(state.mass_flow)
    gap = abs(balance.pressure)
    heat = abs(balance.energy)
    return Promise(
        largest(balance.mass) / flow,
        largest(gap) / largest_pressure(model, state, here),
        summed(heat) / power(model, here),
        np.maximum(largest(step.temperature), largest(balance.mix)),
        largest(step.mass_flow) / flow,
        np.argmax(gap, axis=0) if len(gap) else np.zeros(gap.shape[1], int),
        np.argmax(heat, axis=0),
        np.maximum(*(rise.max(axis=0, initial=0.0) for rise in _rises(model, state, here))),
    )


OVER = f"more than {HOTTEST_RISE:.0f} K above the outside"  # how much more is not known there
LEAST_OF_FREE = 1e-3  # of its free flow, a fan that moves less moves next to none: our own
MORE_AIR = "open or enlarge a vent, add a fan or a wall that carries heat, or lower the power"


def largest_pressure(model: Model, state: State, here: BranchState) -> Array:
    """(variants,) of all drops, rises, pressures and columns of air: what a step is judged by, and
    the terms that it sees as sums."""
    outside, (start, end) = model.outside_density, model.columns_of_air
    lift = air.GRAVITY * np.maximum(
        abs(here.air.density - outside) * abs(model.climb),
        np.maximum(
            abs((here.air.at_start - outside) * start), abs((here.air.at_end - outside) * end)
        ),
    )
    steep = model.open * here.slope * state.mass_flow
    least = np.maximum(largest(lift * model.open), pressure_floor(model))
    return pressure_scale(here.element_drops, steep, state.pressure, least)


def pressure_floor(model: Model) -> Array:
    """(1 or variants,) the least that "largest pressure" means in a balance [Pa]: what columns of
    air that cancel leave by round-off is no imbalance."""
    heights = np.concatenate(np.broadcast_arrays(*model.columns_of_air, model.climb))
    tall = np.max(abs(heights.real), axis=0, initial=0.0)
    column = tol.COLUMN_ROUNDING / tol.PRESSURE * air.GRAVITY * model.outside_density[0] * tall
    found: Array = np.maximum(column.real, tol.PRESSURE_FLOOR)
    return found


def power(model: Model, here: BranchState) -> Array:
    """(variants,) all heat put in."""
    source = abs(model.branch_heat) + abs(here.heat - model.branch_heat)
    total = summed(source) + summed(abs(model.compartment_heat))
    found: Array = np.maximum(total, tol.POWER_FLOOR)
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
    """K above the outside: compartments, and what leaves branches with heat (else 0)."""
    s = model.structure
    outside = state.temperature[s.inside : s.inside + 1]
    outlet = np.where(model.branch_heat > 0, here.outlet - outside, 0.0)
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
        found[variant] = words + _in_vain(model, state.mass_flow[:, variant], int(variant))
    return found


def _in_vain(model: Model, flow: Array, variant: int) -> str:
    """The fans that run and move next to no air, as the likely cause; "" without."""
    s, names = model.structure, list[str]()
    for rows, element in model.elements:
        if element.fan is not None:
            free = model.outside_density * element.fan.free_flow  # NaN where it does not run
            least = LEAST_OF_FREE * np.broadcast_to(free, (len(free), model.variants))[:, variant]
            vain = abs(flow[s.host[rows]]) < least.real
            names = [fan for fan, one in zip(s.elements[rows], vain, strict=True) if one]
    if not names:
        return ""
    move, whom = ("run and move", "each other") if names[1:] else ("runs and moves", "another")
    return f"; {listed(names)} {move} next to no air: against {whom}, or into what is shut?"
