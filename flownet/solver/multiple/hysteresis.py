"""Which operating point is reached how: after a fan was off for a while, by a filter that loads.

Followed is the air's inertia at the temperatures of the moment (`flow_startup`), then the heat with
the flow (`pseudo_transient`): air settles in seconds, heat in minutes.
"""

from __future__ import annotations

import numpy as np

from flownet.columns import Inputs
from flownet.equations.assemble import assemble
from flownet.equations.state import Model, State
from flownet.schema.arrays import Array, Booleans
from flownet.solver import fixed_temperature, pseudo_transient, steady
from flownet.solver import tolerances as tol
from flownet.solver.active import written
from flownet.solver.coupled import settled as coupled
from flownet.solver.jacobian import Pattern, System
from flownet.solver.multiple.operating_points import repeated
from flownet.solver.stability import flow_calm
from flownet.solver.tolerances import largest


def settled(model: Model, pattern: Pattern, state: State) -> tuple[State, Booleans]:
    """Where time leads from states that need not be steady, and whether that settled.

    First the air alone; then the heat, by a few steps of Newton's method where these turn no large
    flow and move no fan along its dip, else by a march; not where no air moves to carry it off.
    """
    air = fixed_temperature.solve(model, state, state.mass_flow)
    warm = model.unknown_temperatures(state)
    moving = model.state(air.mass_flow, air.pressure[: pattern.nodes], warm)
    found, done, _ = steady.direct(model, pattern, moving, air.converged)
    done = done & _alike(model, moving, found)
    moves = largest(moving.mass_flow) > tol.NO_FLOW
    left = np.flatnonzero(~done & moves)
    if left.size:
        marched = pseudo_transient.march(model.take(left), pattern, moving.take(left))
        found, done = written((found, done), left, (marched.state, marched.done))
    return found, done & air.converged


def restarted(
    inputs: Inputs, model: Model, pattern: Pattern, state: State
) -> tuple[tuple[str, ...], State]:
    """Fans, and the states after each alone was off until all had settled, and on again.

    `state`: one variant, where it begins. Fans whose way does not settle are left out.
    """
    fans = [fan.path for fan in inputs.enclosure.fans.values() if _runs(model, fan.path)]
    count, nothing = len(fans), state.take(np.zeros(0, int))
    if not count:
        return (), nothing
    words = np.full((count, count), "running")
    np.fill_diagonal(words, "stopped")
    off = assemble(inputs.changed(
        {f"{path}.state": row.copy() for path, row in zip(fans, words, strict=True)}, count
    ), model.structure)  # fmt: skip
    begin = state.take(np.zeros(count, int))
    without, first = settled(off, pattern, begin)
    if not first.any():
        return (), nothing
    good = np.flatnonzero(first)
    after, second = settled(repeated(model, len(good)), pattern, without.take(good))
    good = good[second]
    return tuple(fans[i] for i in good), after.take(second)


def _runs(model: Model, path: str) -> bool:
    """Whether a fan turns, in the only variant."""
    s = model.structure
    rows = s.rows["fan"]
    element = next(each for own, each in model.elements if own == rows)
    assert element.fan is not None
    row = s.elements.index(path) - rows.start
    return bool(element.fan.running[row, 0] and model.open[s.host[rows.start + row], 0])


def loaded(inputs: Inputs, model: Model, pattern: Pattern) -> State | None:
    """The state after all filters have slowly loaded from clean to what they are.

    None where none has a fouling but 1, or where the way does not settle.
    """
    paths = [f"{kind}.{name}.fouling" for kind in ("filter", "vent") for name in inputs.names(kind)]
    last = {path: float(inputs.row(path)[0]) for path in paths}
    changing = {path: value for path, value in last.items() if value != 1}
    if not changing:
        return None
    share = np.linspace(0.0, 1.0, tol.LOADS + 1)
    grown = {path: 1 + share * (value - 1) for path, value in changing.items()}
    whole = assemble(inputs.changed(grown, len(share)), model.structure)
    clean = steady.solve(whole.take([0]), pattern)
    if clean.status[0]:
        return None
    state = clean.state
    for step in range(1, len(share)):
        part = whole.take([step])
        state, done = _loaded_more(part, pattern, state)
        if not done:
            return None
    return state


def _loaded_more(model: Model, pattern: Pattern, before: State) -> tuple[State, bool]:
    """The next state: near the last one, or where time leads when that is gone or unstable."""
    trial = coupled(model, pattern, before, tol.DIRECT_ROUNDS)
    near = trial.done[0] and _near(model, before, trial.state)
    if near and flow_calm(System(model, pattern, trial.state))[0]:
        return trial.state, True
    state, done = settled(model, pattern, before)
    return state, bool(done[0])


def _near(model: Model, before: State, after: State) -> bool:
    warmed: Array = abs(after.temperature - before.temperature)
    return bool(_alike(model, before, after)[0] and (warmed < tol.WARMED).all())


def _alike(model: Model, before: State, after: State) -> Booleans:
    """(variants,) whether no dipped fan moved far along its curve."""
    dipped, free_flow = fixed_temperature.fans(model, before.mass_flow.shape[1])
    moved = abs(after.mass_flow - before.mass_flow)
    near: Booleans = np.asarray((~dipped | (moved <= tol.JUMP * free_flow)).all(axis=0))
    return near
