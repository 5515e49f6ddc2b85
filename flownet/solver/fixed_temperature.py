"""Flow at fixed temperatures: where a solve begins, and what its fans can do there."""

from __future__ import annotations

from typing import Any

import numpy as np

from flownet.equations.branch import branches, flowing, pressure_drop
from flownet.equations.state import Model, State
from flownet.physics import air
from flownet.schema.arrays import Array, Booleans
from flownet.solver import flow as flows
from flownet.solver import tolerances as tol
from flownet.solver.acceptance import pressure_floor
from flownet.solver.flow_balance import FlowResult, Law
from flownet.solver.flow_startup import from_rest


def flow(model: Model, state: State, start: Array | None = None) -> State:
    """The state with flows and pressures that fit its temperatures, reached from rest or from
    flows that are given."""
    found = solve(model, state, start)
    inside = model.structure.inside
    return model.state(
        np.where(found.converged, found.mass_flow, state.mass_flow),
        np.where(found.converged, found.pressure[:inside], state.pressure[:inside]),
        model.unknown_temperatures(state),
    )


def solve(model: Model, state: State, start: Array | None = None) -> FlowResult:
    """Flows at the temperatures of a state; where a fan's curve has a dip, those that time leads
    to from rest or from `start`."""
    dipped, free_flow = fans(model, state.mass_flow.shape[1])
    followed: Booleans = np.asarray(dipped.any(axis=0))
    if followed.any() and not followed.all():  # each as if it were alone
        return _apart(model, state, start, followed)
    settings: dict[str, Any] = acting(model, state) | {
        "select": lambda chosen: law_at(model.take(chosen), state.take(chosen)),
        "start_flow": start, "floor": pressure_floor(model),
    }  # fmt: skip
    network, law = model.structure.network, law_at(model, state)
    if dipped.any():
        return from_rest(network, law, dipped=dipped, flow_scale=free_flow, **settings)
    return flows.solve(network, law, nominal=nominal_flow(model, free_flow), **settings)


def law_at(model: Model, state: State) -> Law:
    """The laws of all branches at the temperatures of a state."""
    s, warm = model.structure, state.temperature
    start, end = warm[s.warm_start], warm[s.warm_end]
    return lambda flow: pressure_drop(model, flow, flowing(model, flow, start, end).air)


def acting(model: Model, state: State) -> dict[str, Array]:
    """What acts on the flow at the temperatures of a state, as `flow.solve` takes it."""
    push, width = branches(model, state).push, state.mass_flow.shape[1]
    fixed = np.broadcast_to(model.outside_pressure, (len(model.outside_pressure), width))
    return {"push": push, "fixed": fixed, "open": np.broadcast_to(model.open, push.shape)}


def _apart(model: Model, state: State, start: Array | None, chosen: Booleans) -> FlowResult:
    """Chosen variants and the others, each by themselves."""
    runs = [np.flatnonzero(chosen), np.flatnonzero(~chosen)]
    parts = [
        solve(model.take(run), state.take(run), None if start is None else start[:, run])
        for run in runs
    ]
    back = np.argsort(np.concatenate(runs))
    return FlowResult(
        *(np.concatenate(pair, axis=-1)[..., back] for pair in zip(*parts, strict=True))
    )


def fans(model: Model, width: int) -> tuple[Array, Array]:
    """(branches, variants) which are running fans with a dip, and free flows of fans [kg/s]."""
    s = model.structure
    dipped, free = np.zeros((len(s.branches), width), bool), np.zeros((len(s.branches), width))
    density = model.outside_density
    for rows, element in model.elements:
        if element.fan is not None:
            at = s.host[rows]
            free[at] = element.fan.free_flow * density
            dipped[at] = element.fan.dipped & model.open[at]
    return dipped, free


def nominal_flow(model: Model, free_flow: Array) -> Array:
    """(branches, variants) flows at which slopes are of the right size [kg/s]."""
    s = model.structure
    areas = np.zeros_like(free_flow)
    for rows, element in model.elements:
        areas[s.host[rows]] = np.nan_to_num(element.area.real * element.count.real, nan=1e-3)
    plain = (
        tol.START_SPEED * areas * air.density(model.outside_temperature[:1], model.site_pressure)
    )
    return np.where(free_flow > 0, free_flow / 2, plain)
