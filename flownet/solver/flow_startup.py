"""The flow that a start from standstill leads to, for networks with fans whose curve has a dip.

Followed is  inertance dm/dt = push + p_start - p_end - drop(m)  with the flow conserving mass, by
implicit Euler steps: short while a fan with a dip moves through its curve, then ever longer, so
that the last ones are Newton steps. A step is taken only where its equation has the one solution
that short steps lead to, told by the signs of the pivots as in `network.flow_stable`.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np

from flownet.equations.topology import Network
from flownet.schema.arrays import Array, Booleans, Integers, summed
from flownet.solver import tolerances as tol
from flownet.solver.active import Active, Ended, either
from flownet.solver.flow_balance import (
    Drive,
    FlowResult,
    FlowState,
    Law,
    Select,
    balanced,
    direction,
    drive,
    imbalance,
    largest_pressure,
    padded,
    result,
    width,
)
from flownet.solver.tolerances import flow_scale, largest


class _March(NamedTuple):
    """All variants under way; variants are the last axis."""

    state: FlowState
    previous: Array  # flow before the last step that was kept
    time_step: Array  # (variants,) s
    settled: Booleans  # (variants,) nothing accelerates the air any more
    disturbed: Integers  # (variants,) how often


class _Fans(NamedTuple):
    """What a time step is measured by."""

    inertance: Array  # (branches, variants)
    dipped: Booleans  # (branches, variants) fans with a dip that are open
    scale: Array  # (branches, variants) last flow of their curve


def from_rest(
    network: Network, law: Law, *, dipped: Booleans, flow_scale: Array,
    push: Array | float = 0.0, fixed: Array | None = None, injection: Array | None = None,
    open: Booleans | None = None, inertance: Array | float = tol.INERTANCE,
    start_flow: Array | None = None, floor: Array | float = tol.PRESSURE_FLOOR,
    select: Select | None = None, steps: int = tol.AIR_STEPS,
) -> FlowResult:  # fmt: skip
    """Flow that a network with any fans comes to from standstill, and whether it is stable.

    Parameters
    ----------
    law, push, fixed, injection, open, floor, select : as for `flow.solve`.
    inertance : (branches, variants) length over area of the air that a branch accelerates [1/m].
    dipped : (branches, variants) where a fan's curve has a rising piece.
    flow_scale : (branches, variants) last flow of the curve [kg/s]; read where `dipped`.
    start_flow : (branches, variants) where to begin instead of at rest; made to conserve mass.
    steps : most steps in time, kept or not.

    A state that is settled but unstable is disturbed along its fastest growing mode by 1e-3 of
    the largest flow (where nothing tells which way, so that the flow of the branch that takes
    most part in it grows) and goes on, at most four times; then it is returned as not stable.
    """
    given = push, fixed, injection, open, inertance, dipped, flow_scale
    still = np.zeros((len(network.start), width(*given)))
    acting = drive(network, push, fixed, injection, open, floor, law(still)[0])
    shape = acting.push.shape
    moving = np.broadcast_to(dipped, shape) & acting.open
    scale = np.where(moving, np.broadcast_to(flow_scale, shape), 1.0)
    fans = _Fans(np.broadcast_to(inertance, shape) + 0.0, moving, scale)
    march = _begin(law, acting, fans, still if start_flow is None else start_flow)
    return result(acting, _march(law, select or padded(law, shape[1]), acting, fans, march, steps))


def _begin(law: Law, acting: Drive, fans: _Fans, start: Array) -> _March:
    """At the start, but for what is injected or does not balance."""
    flow, nothing = acting.open * start, np.zeros(acting.push.shape)
    if acting.injection.any() or flow.any():
        flow = flow + direction(acting, flow, fans.inertance, nothing)[0]
    drop, slope = law(flow)
    moved = np.full(acting.given.shape, np.inf)
    state = FlowState(flow, drop, slope, np.zeros(acting.injection.shape), moved)
    rate = largest(imbalance(acting, state) / fans.inertance)
    reach = np.min(fans.scale, axis=0, initial=1.0)
    time_step = tol.FAN_FIRST * reach / np.maximum(rate, tol.TINY)
    never = np.zeros(rate.shape, np.intp)
    return _March(state, flow, time_step, never > 0, never)


def _march(
    law: Law, law_of: Select, acting: Drive, fans: _Fans, march: _March, steps: int
) -> Ended:
    """Step all variants on, until they balance or stay unstable."""
    active = Active(march, len(acting.given))
    for _ in range(steps):
        march, stuck = _advance(law, acting, fans, march)
        given_up = stuck & (march.disturbed >= tol.PUSHES)
        if given_up.any():
            closer = nearest(law, acting, march.state, tol.CLOSER_ROUNDS, lambda step: np.ones(1))
            march = march._replace(state=either(given_up, closer, march.state))
        if (stuck & ~given_up).any():
            march = _disturb(law, acting, fans, march, stuck & ~given_up)
        count, now = len(active), balanced(acting, march.state)
        march, acting, fans = active.settle(march, now, given_up, acting, fans)
        if not len(active):
            break
        law = law if len(active) == count else law_of(active.numbers)
    found = active.ended(march)
    return found._replace(state=found.state.state)


def _advance(law: Law, acting: Drive, fans: _Fans, march: _March) -> tuple[_March, Booleans]:
    """Try one step in time; true where a settled state allows no longer one: it is unstable."""
    old = march.state
    mass = fans.inertance / march.time_step
    new, sound, definite = _euler(law, acting, old, mass)
    change = new.flow - old.flow
    moved = largest(fans.dipped * change / np.maximum(fans.scale, abs(old.flow)))
    keep = sound & (moved <= tol.FAN_REACH)
    at_rest = largest(acting.open * mass * change) <= tol.AIR_REST * largest_pressure(acting, new)
    wanted = np.clip(tol.FAN_AIM / np.maximum(moved, tol.TINY), 0.5, tol.AIR_LONGER)
    longer = np.minimum(march.time_step * np.where(keep, wanted, tol.AIR_SHORTER), 1e30)
    state = either(keep, new, old)
    previous = np.where(keep, old.flow, march.previous)
    settled = np.where(keep, at_rest, march.settled)
    stuck = march.settled & ~definite
    return _March(state, previous, longer, settled, march.disturbed), stuck


def _euler(
    law: Law, acting: Drive, old: FlowState, mass: Array
) -> tuple[FlowState, Booleans, Booleans]:
    """One implicit step: the state after it, where it was solved, where it has one solution."""
    state, definite, before = old, np.ones(acting.given.shape, bool), np.zeros(1)
    solved = np.zeros(acting.given.shape, bool)
    for _ in range(tol.AIR_ROUNDS):
        slope = _steep(acting, state, state.slope + mass)
        gap = acting.push - state.drop - mass * (state.flow - old.flow)
        step, pressure, negative = direction(acting, state.flow, slope, gap)
        definite &= solved | (negative == np.count_nonzero(acting.open & (slope < 0), axis=0))
        flow = np.where(solved, state.flow, state.flow + step)
        pressure = np.where(solved, state.pressure, pressure)
        state = FlowState(flow, *law(flow), pressure, largest(flow - old.flow))
        size = largest(step)
        left = size * size / np.maximum(np.maximum(before, size), tol.TINY)  # it shrinks as it did
        solved |= left <= tol.AIR_CLOSE * flow_scale(flow)
        before = size
        if (solved | ~definite).all():
            break
    return state, solved & definite, definite


def _steep(acting: Drive, state: FlowState, slope: Array) -> Array:
    """Slopes too flat for a step of sense are raised; their sign may be either."""
    flow = flow_scale(state.flow)
    least = tol.FLAT_FLOW * largest_pressure(acting, state) / flow
    return np.where(abs(slope) < least, least, slope)


def nearest(
    law: Law, acting: Drive, state: FlowState, rounds: int, most: Callable[[Array], Array]
) -> FlowState:
    """Newton steps to the states near by, unstable ones too, until all balance.

    most : takes a step to the share (variants,) of it that may be gone.
    """
    for _ in range(rounds):
        with np.errstate(all="ignore"):
            slope, gap = _steep(acting, state, state.slope), acting.push - state.drop
            step, pressure, _ = direction(acting, state.flow, slope, gap)
            step = np.where(np.isfinite(step).all(axis=0), step, 0.0)
            step = step * most(step)
        flow = state.flow + step
        state = FlowState(flow, *law(flow), np.nan_to_num(pressure), largest(step))
        if balanced(acting, state).all():
            break
    return state


def _disturb(law: Law, acting: Drive, fans: _Fans, march: _March, chosen: Booleans) -> _March:
    """Push some variants off an unstable state, the way they drift or else the stated way."""
    state = march.state
    mode = _growing(acting, state, fans.inertance / march.time_step)
    size = largest(state.flow)
    weighted = fans.inertance * mode
    drift = summed(weighted * (state.flow - march.previous))
    drift = drift / np.maximum(summed(weighted * mode), tol.TINY)
    lead: Integers = np.argmax(abs(mode) > 0.999, axis=0)
    own = mode[lead, np.arange(len(lead))]
    back = np.where(abs(drift) > tol.DRIFT * size, drift, own) < 0
    length = np.where(chosen, tol.AIR_PUSH * size * np.where(back, -1.0, 1.0), 0.0)
    flow = state.flow + length * mode
    drop, slope = law(flow)
    return march._replace(
        state=state._replace(flow=flow, drop=drop, slope=slope),
        settled=march.settled & ~chosen,
        disturbed=march.disturbed + chosen,
    )


def _growing(acting: Drive, state: FlowState, mass: Array) -> Array:
    """Disturbance that grows fastest, largest part 1: power iteration of the linear time step."""
    free = acting._replace(injection=np.zeros(acting.injection.shape))
    begin = np.random.default_rng(1).uniform(0.5, 1.0, (len(mass), 1))
    mode: Array = begin + np.zeros(mass.shape)
    still, slope = np.zeros(mass.shape), _steep(acting, state, state.slope + mass)
    for _ in range(tol.MODE_ROUNDS):
        mode, _, _ = direction(free, still, slope, mass * mode)
        mode = mode / np.maximum(largest(mode), tol.TINY)
    return mode
