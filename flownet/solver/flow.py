"""Flow through a network of any resistances and fans at frozen properties, for many variants.

In every open branch  p_start - p_end + push = drop(m),  at every free node  outflow = injection.

For laws that never fall the flow is where the *content*, the sum over branches of the integral of
drop - push, is least among all flows that conserve mass (W. Millar, Philosophical Magazine 42,
1951, 1150-1160; G. Birkhoff, J. B. Diaz, Quarterly of Applied Mathematics 13, 1956, 431-443).
Newton's direction, with a search for the bottom of the content along it, leads there from anywhere.
Fans whose curve has a rising piece have no such function: see `from_rest`.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from flownet.equations.topology import Network
from flownet.schema.arrays import Array, Booleans, Integers
from flownet.solver import tolerances as tol
from flownet.solver.newton import (
    Drive,
    FlowResult,
    Law,
    Select,
    State,
    balanced,
    direction,
    drive,
    imbalance,
    largest_pressure,
    padded,
    put,
    result,
    take,
)
from flownet.solver.tolerances import largest


def solve(
    network: Network,
    law: Law,
    *,
    push: Array | float = 0.0,
    fixed: Array | None = None,
    injection: Array | None = None,
    open: Booleans | None = None,
    start_flow: Array | None = None,
    nominal: Array | None = None,
    floor: Array | float = tol.PRESSURE_FLOOR,
    select: Select | None = None,
    iterations: int = 60,
) -> FlowResult:
    """Flow in a network whose laws never fall: drop less rise grows with the flow.

    Parameters
    ----------
    law : takes (branches, variants) mass flows to drop less rise [Pa] and its slope.
    push : (branches, variants) what drives a branch besides its ends and its law [Pa].
    fixed : (fixed nodes, variants) their pressures [Pa]; 0 by default.
    injection : (nodes, variants) mass flow into the free nodes [kg/s].
    open : (branches, variants) false where a branch is closed; its flow is exactly 0.
    start_flow : (branches, variants) where to begin; it is made to conserve mass first.
    nominal : (branches, variants) flows of the slopes of the first step, without `start_flow`.
    floor : (variants,) the least that the largest pressure counts for in the balance [Pa].
    select : the law of some variants, by number. With it, a variant that is done costs nothing
        more; without it, its law is still evaluated.

    Each array may have 1 for its number of variants. A node that no open branches join to a fixed
    node belongs to a group whose first node has p = 0. A variant that does not converge within
    `iterations` says so in the result, with its worst branch.
    """
    outside = np.zeros((network.fixed, 1)) if fixed is None else fixed
    is_open = True if open is None else open
    inflow = 0.0 if injection is None else injection
    first = _first_flow(network, start_flow, nominal, (push, outside, inflow, is_open))
    slope = law(first)[1]
    acting = drive(network, slope.shape[1], push, outside, inflow, is_open, floor)
    state = _begin(network, law, acting, first, slope, start_flow is not None)
    law_of = select or padded(law, slope.shape[1])
    final, done, count = _descend(network, law, law_of, acting, state, iterations)
    return result(network, acting, outside, final, done, count)


def _first_flow(
    network: Network, start: Array | None, nominal: Array | None, others: tuple[Array | float, ...]
) -> Array:
    """Flows at which slopes are first taken, for as many variants as anything given has."""
    chosen = start if start is not None else tol.NOMINAL_FLOW if nominal is None else nominal
    shapes = [np.shape(given)[-1:] for given in (chosen, *others)]
    shape = np.broadcast_shapes((len(network.start), 1), *shapes)
    return np.broadcast_to(chosen, shape)


def _begin(
    network: Network, law: Law, acting: Drive, first: Array, slope: Array, started: bool
) -> State:
    """A flow that conserves mass: the given one amended, or nothing but what is injected."""
    scale = np.broadcast_to(largest(first), acting.given.shape)
    flow = first * acting.open if started else np.zeros(acting.push.shape)
    still = np.zeros(acting.injection.shape)
    steep = np.maximum(slope, np.maximum(tol.FLAT_FLOW * largest(slope), tol.TINY))
    if started or acting.injection.any():
        flow = flow + direction(network, acting, flow, steep, np.zeros(flow.shape))[0]
        drop, slope = law(flow)
        return State(flow, drop, slope if started else np.maximum(slope, steep), still, scale)
    return State(flow, law(flow)[0], steep, still, scale)


def _descend(
    network: Network,
    law: Law,
    law_of: Select,
    acting: Drive,
    state: State,
    iterations: int,
) -> tuple[State, Booleans, Integers]:
    """Iterate all variants, leaving out those that are done."""
    variants = len(acting.given)
    final = State(*(part.copy() for part in state))
    done, count = np.zeros(variants, bool), np.zeros(variants, np.intp)
    here = np.arange(variants)
    for _ in range(iterations):
        state = _step(network, law, law_of, here, acting, state)
        count[here] += 1
        ready = balanced(network, acting, state)
        if ready.any():
            put(final, here[ready], take(state, ready))
            done[here[ready]] = True
            if ready.all():
                return final, done, count
            acting, state, here = take(acting, ~ready), take(state, ~ready), here[~ready]
            law = law_of(here)
    put(final, here, state)
    return final, done, count


def _step(
    network: Network, law: Law, law_of: Select, here: Integers, acting: Drive, state: State
) -> State:
    """One step down the content, along Newton's direction."""
    pressure_scale = largest_pressure(acting, state)
    size_of_flow = np.maximum(np.maximum(largest(state.flow), state.moved), tol.FLOW_FLOOR)
    slope = np.maximum(state.slope, tol.FLAT_FLOW * pressure_scale / size_of_flow)
    step, pressure, _ = direction(network, acting, state.flow, slope, acting.push - state.drop)
    begin = -np.sum(slope * step * step, axis=0)
    target = _target(network, acting, pressure)
    new = State(state.flow + step, *law(state.flow + step), pressure, largest(step))
    end = _along(step, new.drop, target)
    off = largest(imbalance(network, acting, new)) > 1e-7 * largest_pressure(acting, new)
    long = off & (end > 0.5 * abs(begin))
    if long.any():
        law = law_of(here[long])
        line = _Line(state.flow[:, long], step[:, long], target[:, long])
        step = _search(law, line, begin[long], end[long]) * line.step
        flow, new = line.flow + step, State(*(part.copy() for part in new))
        put(new, np.flatnonzero(long), State(flow, *law(flow), pressure[:, long], largest(step)))
    return new


def _target(network: Network, acting: Drive, pressure: Array) -> Array:
    """What the drops shall become.

    A step that conserves mass does no work on the pressures of nodes, so that push alone would
    have the same slope along it; but that slope drowns in the round-off of the drops.
    """
    target: Array = acting.push + network.fall @ pressure
    return target


class _Line(NamedTuple):
    """Variants whose step is too long."""

    flow: Array
    step: Array
    target: Array


def _along(step: Array, drop: Array, target: Array) -> Array:
    """(variants,) slope of the content along a step."""
    slope: Array = np.sum(step * (drop - target), axis=0)
    return slope


def _search(law: Law, line: _Line, begin: Array, end: Array) -> Array:
    """(variants,) part of the step that halves the slope of the content: Illinois regula falsi."""
    low, high = np.zeros_like(begin), np.ones_like(begin)
    at_low, at_high, side = begin, end, np.zeros_like(begin)
    length, wanted = np.ones_like(begin), np.ones(begin.shape, bool)
    for _ in range(60):
        span = np.where(wanted, at_high - at_low, 1.0)
        length = np.where(wanted, (low * at_high - high * at_low) / span, length)
        slope = _along(line.step, law(line.flow + length * line.step)[0], line.target)
        wanted &= abs(slope) > 0.5 * abs(begin)
        if not wanted.any():
            break
        below = slope < 0
        low, high = np.where(below, length, low), np.where(below, high, length)
        at_low = np.where(below, slope, np.where(side > 0, at_low / 2, at_low))
        at_high = np.where(below, np.where(side < 0, at_high / 2, at_high), slope)
        side = np.where(below, -1.0, 1.0)
    return length
