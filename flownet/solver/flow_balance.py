"""What acts on a flow, how it balances, and Newton's step of flows and pressures for all variants.

Arrays of state are real here: derivatives of a solution come from its equations, not from the path
that led to it.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, NamedTuple

import numpy as np

from flownet.equations.topology import Network
from flownet.schema.arrays import Array, Booleans, Integers
from flownet.solver import elimination
from flownet.solver import tolerances as tol
from flownet.solver.active import Ended
from flownet.solver.network import flow_stable, pin_weights, pins, solver
from flownet.solver.tolerances import flow_scale, largest, pressure_scale

Law = Callable[[Array], tuple[Array, Array]]
Select = Callable[[Integers], Law]


class FlowResult(NamedTuple):
    """Flow and pressures of all variants, and how well they balance. Look at `converged` first."""

    mass_flow: Array  # (branches, variants) kg/s, from start to end; 0 where closed
    pressure: Array  # (nodes and fixed nodes, variants) Pa
    converged: Booleans  # (variants,)
    stable: Booleans  # (variants,) no small disturbance of the flow grows
    iterations: Integers  # (variants,)
    imbalance: Array  # (variants,) largest imbalance of pressure in an open branch, Pa
    mass_imbalance: Array  # (variants,) largest imbalance of mass at a free node, kg/s
    worst: Integers  # (variants,) the branch of the largest imbalance of pressure


class Drive(NamedTuple):
    """What acts on the network. Variants are the last axis, here and in `FlowState`."""

    network: Network
    push: Array  # (branches, variants) what is given, with the difference of fixed pressures
    given: Array  # (variants,) largest given push or pressure, or what "largest" is at least
    outside: Array  # (fixed nodes, variants) pressures
    injection: Array  # (nodes, variants)
    open: Booleans  # (branches, variants)
    pinned: Booleans  # (nodes, variants)


class FlowState(NamedTuple):
    """Where the iteration stands."""

    flow: Array
    drop: Array
    slope: Array
    pressure: Array  # of the free nodes
    moved: Array  # (variants,) largest change of a flow in the last step


def width(*given: Any) -> int:
    """Number of variants of arrays that may each have 1, of numbers and of None."""
    return int(np.broadcast_shapes((1,), *(np.shape(each)[-1:] for each in given))[0])


def drive(
    network: Network, push: Array | float, fixed: Array | None, injection: Array | float | None,
    open: Booleans | bool | None, floor: Array | float, *others: Array,
) -> Drive:  # fmt: skip
    """All that acts, for as many variants as anything given has, `others` too.

    `fixed`: pressures of fixed nodes [Pa]; None: 0; `open`: None: all are; `floor`: the least that
    "largest pressure" shall mean [Pa].
    """
    outside = np.zeros((network.fixed, 1)) if fixed is None else fixed
    is_open = True if open is None else open
    inflow = 0.0 if injection is None else injection
    variants = width(push, outside, inflow, is_open, *others)
    branches, nodes = (len(network.start), variants), (network.nodes, variants)
    given, is_open = np.broadcast_to(push, branches), np.broadcast_to(is_open, branches)
    outside = np.broadcast_to(outside, (len(outside), variants))
    pressure = np.concatenate([np.zeros(nodes), outside])
    return Drive(
        network,
        given + pressure[network.start] - pressure[network.end],
        np.maximum(np.maximum(largest(given * is_open), largest(pressure)), floor),
        outside,
        np.broadcast_to(inflow, nodes),
        is_open,
        pins(network, is_open),
    )


class Conductances(NamedTuple):
    """Of branches, and the network of them in factors."""

    weight: Array  # (branches, variants) kg/(s Pa)
    factor: elimination.Factor

    def put(self, chosen: Booleans, part: Conductances) -> Conductances:
        """With those of some variants replaced."""
        weight = self.weight.copy()
        weight[:, chosen] = part.weight
        return Conductances(weight, self.factor.put(chosen, part.factor))


def conductances(acting: Drive, slope: Array) -> Conductances:
    """The inverse of slopes, 0 where closed."""
    weight = acting.open / slope
    pinned = pin_weights(acting.network, acting.pinned, weight)
    return Conductances(weight, solver(acting.network).factor(weight, weight, pinned))


def direction(
    acting: Drive, flow: Array, slope: Array, gap: Array
) -> tuple[Array, Array, Integers]:
    """Step of the flow that closes `gap + p_start - p_end = slope * step` and conserves mass.

    Returns the step, the pressures of the free nodes, and the number of negative pivots.
    """
    held = conductances(acting, slope)
    return *along(acting, held, flow, gap), held.factor.negative


def along(
    acting: Drive, held: Conductances, flow: Array, gap: Array, rough: bool = False
) -> tuple[Array, Array]:
    """`direction` by conductances that are there already: step and pressures. `rough`: mass may
    be left over, for the next step to mend.

    Else the same factor serves once more, for the mass that the first step left over. A flow is a
    small difference of large pressures times a large weight: mass would balance to the round-off
    of pressures only. The correction has pressures of its own, small ones.
    """
    weight, factor = held
    fall, outflow = acting.network.fall, acting.network.outflow
    pressure = factor.solve(acting.injection - outflow @ (flow + weight * gap))
    step = weight * (fall @ pressure + gap)
    for _ in range(0 if rough else tol.REFINEMENTS):
        left = acting.injection - outflow @ (flow + step)
        unclean = ~(largest(left) <= tol.CLEAN * flow_scale(flow + step))
        if not unclean.any():
            break
        more = factor.solve(np.where(unclean, left, 0.0))
        step, pressure = step + weight * (fall @ more), pressure + more
    return step, pressure


def imbalance(acting: Drive, state: FlowState) -> Array:
    """(branches, variants) of pressure; 0 where closed."""
    gap: Array = acting.push + acting.network.fall @ state.pressure - state.drop
    return np.where(acting.open, gap, 0.0)


def mass_imbalance(acting: Drive, state: FlowState) -> Array:
    """(variants,) largest at a free node."""
    return largest(acting.injection - acting.network.outflow @ state.flow)


def largest_pressure(acting: Drive, state: FlowState) -> Array:
    """(variants,) of all drops, pushes and pressures."""
    drop = np.where(acting.open, state.drop, 0.0)
    steep = acting.open * state.slope * state.flow
    return pressure_scale(drop, steep, state.pressure, acting.given)


def balanced(acting: Drive, state: FlowState) -> Booleans:
    """(variants,) whether pressures and masses balance and the flow stands still."""
    flow = flow_scale(state.flow)
    gap = largest(imbalance(acting, state))
    result: Booleans = gap <= tol.PRESSURE * largest_pressure(acting, state)
    result &= state.moved <= tol.FLOW_STEP * flow
    result &= mass_imbalance(acting, state) <= tol.PRESSURE * flow
    return result


def turned(before: Array, after: Array) -> Booleans:
    """(variants,) whether a large flow goes the other way."""
    large = abs(before) > tol.LARGE_FLOW * largest(before)
    return np.asarray((large & (before * after < 0)).any(axis=0))


def padded(law: Law, variants: int) -> Select:
    """A law of some variants made from the law of all, which evaluates the others at zero flow."""

    def select(here: Integers) -> Law:
        def some(flow: Array) -> tuple[Array, Array]:
            whole = np.zeros((len(flow), variants))
            whole[:, here] = flow
            drop, slope = law(whole)
            return drop[:, here], slope[:, here]

        return law if len(here) == variants else some

    return select


def result(acting: Drive, found: Ended) -> FlowResult:
    """What the caller gets of `FlowState`s."""
    state: FlowState = found.state
    gap, variants = abs(imbalance(acting, state)), len(found.done)
    return FlowResult(
        mass_flow=state.flow,
        pressure=np.concatenate([state.pressure, acting.outside]),
        converged=found.done,
        stable=flow_stable(acting.network, state.slope, acting.open),
        iterations=found.rounds,
        imbalance=largest(gap),
        mass_imbalance=mass_imbalance(acting, state),
        worst=np.argmax(gap, axis=0) if len(gap) else np.zeros(variants, np.intp),
    )
