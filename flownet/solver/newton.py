"""Newton's step of flows and pressures, for all variants at a time, and what a result holds.

Arrays of state are real here: derivatives of a solution come from its equations, not from the path
that led to it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, NamedTuple, TypeVar

import numpy as np

from flownet.equations.topology import Network
from flownet.schema.arrays import Array, Booleans, Integers
from flownet.solver import elimination
from flownet.solver import tolerances as tol
from flownet.solver.network import flow_stable, pin_weights, pins, solver
from flownet.solver.tolerances import flow_scale, largest, pressure_scale

Law = Callable[[Array], tuple[Array, Array]]
Select = Callable[[Integers], Law]


@dataclass(frozen=True, eq=False)
class FlowResult:
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
    """What acts on the network. Variants are the last axis, here and in `State`."""

    push: Array  # (branches, variants) what is given, with the difference of fixed pressures
    given: Array  # (variants,) largest given push or pressure, or what "largest" is at least
    injection: Array  # (nodes, variants)
    open: Booleans  # (branches, variants)
    pinned: Booleans  # (nodes, variants)


class State(NamedTuple):
    """Where the iteration stands."""

    flow: Array
    drop: Array
    slope: Array
    pressure: Array  # of the free nodes
    moved: Array  # (variants,) largest change of a flow in the last step


Parts = TypeVar("Parts", bound=tuple[Any, ...])


def drive(
    network: Network,
    variants: int,
    push: Array | float,
    fixed: Array,
    injection: Array | float,
    open: Booleans | bool,
    floor: Array | float = tol.PRESSURE_FLOOR,
) -> Drive:
    """All that acts, in full shape. `floor`: the least that "largest pressure" shall mean [Pa]."""
    branches, nodes = (len(network.start), variants), (network.nodes, variants)
    given, is_open = np.broadcast_to(push, branches), np.broadcast_to(open, branches)
    pressure = np.concatenate([np.zeros(nodes), np.broadcast_to(fixed, (len(fixed), variants))])
    return Drive(
        given + pressure[network.start] - pressure[network.end],
        np.maximum(np.maximum(largest(given * is_open), largest(pressure)), floor),
        np.broadcast_to(injection, nodes),
        is_open,
        pins(network, is_open),
    )


class Conductances(NamedTuple):
    """Of branches, and the network of them in factors."""

    weight: Array  # (branches, variants) kg/(s Pa)
    factor: elimination.Factor

    def take(self, chosen: Booleans | Integers) -> Conductances:
        """Those of some variants."""
        return Conductances(self.weight[:, chosen], self.factor.take(chosen))

    def put(self, chosen: Booleans, part: Conductances) -> Conductances:
        """With those of some variants replaced."""
        weight = self.weight.copy()
        weight[:, chosen] = part.weight
        return Conductances(weight, self.factor.put(chosen, part.factor))


def conductances(network: Network, acting: Drive, slope: Array) -> Conductances:
    """The inverse of slopes, 0 where closed."""
    weight = acting.open / slope
    pinned = pin_weights(network, acting.pinned, weight)
    return Conductances(weight, solver(network).factor(weight, weight, pinned))


def direction(
    network: Network, acting: Drive, flow: Array, slope: Array, gap: Array
) -> tuple[Array, Array, Integers]:
    """Step of the flow that closes `gap + p_start - p_end = slope * step` and conserves mass.

    Returns the step, the pressures of the free nodes, and the number of negative pivots.
    """
    held = conductances(network, acting, slope)
    return *along(network, acting, held, flow, gap), held.factor.negative


def along(
    network: Network,
    acting: Drive,
    held: Conductances,
    flow: Array,
    gap: Array,
    rough: bool = False,
) -> tuple[Array, Array]:
    """`direction` by conductances that are there already: step and pressures. `rough`: mass may
    be left over, for the next step to mend."""
    weight, factor = held
    pressure = factor.solve(acting.injection - network.outflow @ (flow + weight * gap))
    step = weight * (network.fall @ pressure + gap)
    if rough:
        return step, pressure
    return refined(network, acting, held, flow, step, pressure)


def refined(
    network: Network,
    acting: Drive,
    held: Conductances,
    flow: Array,
    step: Array,
    pressure: Array,
) -> tuple[Array, Array]:
    """The same factor once more, for the mass that the first step left over.

    A flow is a small difference of large pressures times a large weight: mass would balance to
    the round-off of pressures only. The correction has pressures of its own, small ones.
    """
    for _ in range(tol.REFINEMENTS):
        left = acting.injection - network.outflow @ (flow + step)
        unclean = ~(largest(left) <= tol.CLEAN * np.maximum(largest(flow + step), tol.FLOW_FLOOR))
        if not unclean.any():
            break
        more = held.factor.solve(np.where(unclean, left, 0.0))
        step, pressure = step + held.weight * (network.fall @ more), pressure + more
    return step, pressure


def imbalance(network: Network, acting: Drive, state: State) -> Array:
    """(branches, variants) of pressure; 0 where closed."""
    gap: Array = acting.push + network.fall @ state.pressure - state.drop
    return np.where(acting.open, gap, 0.0)


def mass_imbalance(network: Network, acting: Drive, state: State) -> Array:
    """(variants,) largest at a free node."""
    return largest(acting.injection - network.outflow @ state.flow)


def largest_pressure(acting: Drive, state: State) -> Array:
    """(variants,) of all drops, pushes and pressures."""
    drop = np.where(acting.open, state.drop, 0.0)
    steep = acting.open * state.slope * state.flow
    return pressure_scale(drop, steep, state.pressure, acting.given)


def balanced(network: Network, acting: Drive, state: State) -> Booleans:
    """(variants,) whether pressures and masses balance and the flow stands still."""
    flow = flow_scale(state.flow)
    gap = largest(imbalance(network, acting, state))
    result: Booleans = gap <= tol.PRESSURE * largest_pressure(acting, state)
    result &= state.moved <= tol.FLOW_STEP * flow
    result &= mass_imbalance(network, acting, state) <= tol.PRESSURE * flow
    return result


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


def take(parts: Parts, chosen: Booleans | Integers | list[int]) -> Parts:
    """Some of the variants of a named tuple of arrays and such tuples."""
    some = (take(x, chosen) if isinstance(x, tuple) else x[..., chosen] for x in parts)
    return type(parts)(*some)


def put(whole: Parts, here: Integers, parts: Parts) -> None:
    """Write some of the variants."""
    for target, part in zip(whole, parts, strict=True):
        target[..., here] = part


def result(
    network: Network,
    acting: Drive,
    fixed: Array,
    state: State,
    converged: Booleans,
    iterations: Integers,
) -> FlowResult:
    """What the caller gets."""
    gap = abs(imbalance(network, acting, state))
    variants = len(converged)
    outside = np.broadcast_to(fixed, (len(fixed), variants))
    return FlowResult(
        mass_flow=state.flow,
        pressure=np.concatenate([state.pressure, outside]),
        converged=converged,
        stable=flow_stable(network, state.slope, acting.open),
        iterations=iterations,
        imbalance=largest(gap),
        mass_imbalance=mass_imbalance(network, acting, state),
        worst=np.argmax(gap, axis=0) if len(gap) else np.zeros(variants, np.intp),
    )
