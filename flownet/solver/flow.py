"""Flow through a network of any resistances and fans at frozen properties, for many variants.

In every open branch  p_start - p_end + push = drop(m),  at every free node  outflow = injection.

For laws that never fall the flow is where the *content*, the sum over branches of the integral of
drop - push, is least among all flows that conserve mass (W. Millar, Philosophical Magazine 42,
1951, 1150-1160; G. Birkhoff, J. B. Diaz, Quarterly of Applied Mathematics 13, 1956, 431-443).
Newton's direction, with a search for the bottom of the content along it, leads there from anywhere.
Fans whose curve has a rising piece have no such function: see `from_rest`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from flownet.equations.topology import Network
from flownet.schema.arrays import Array, Booleans, Integers, summed, taken
from flownet.solver import newton
from flownet.solver import tolerances as tol
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
from flownet.solver.newton import Way
from flownet.solver.tolerances import largest


def solve(
    network: Network, law: Law, *, push: Array | float = 0.0, fixed: Array | None = None,
    injection: Array | None = None, open: Booleans | None = None, start_flow: Array | None = None,
    nominal: Array | None = None, floor: Array | float = tol.PRESSURE_FLOOR,
    select: Select | None = None, iterations: int = tol.FLOW_ROUNDS,
) -> FlowResult:  # fmt: skip
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
    started = start_flow is not None
    usual = tol.NOMINAL_FLOW if nominal is None else nominal
    chosen = usual if start_flow is None else start_flow
    variants = width(chosen, push, fixed, injection, open)
    first = np.broadcast_to(chosen, (len(network.start), variants))
    slope = law(first)[1]
    acting = drive(network, push, fixed, injection, open, floor, first, slope)
    state = _begin(law, acting, first, slope, started)
    problem = Flow(law, select or padded(law, len(acting.given)), acting)
    return result(acting, newton.solve(problem, state, len(acting.given), iterations))


def _begin(law: Law, acting: Drive, first: Array, slope: Array, started: bool) -> FlowState:
    """A flow that conserves mass: the given one amended, or nothing but what is injected."""
    scale = np.broadcast_to(largest(first), acting.given.shape)
    flow = first * acting.open if started else np.zeros(acting.push.shape)
    still = np.zeros(acting.injection.shape)
    steep = np.maximum(slope, np.maximum(tol.FLAT_FLOW * largest(slope), tol.TINY))
    steep = np.broadcast_to(steep, flow.shape)
    if started or acting.injection.any():
        flow = flow + direction(acting, flow, steep, np.zeros(flow.shape))[0]
        drop, slope = law(flow)
        return FlowState(flow, drop, slope if started else np.maximum(slope, steep), still, scale)
    return FlowState(flow, law(flow)[0], steep, still, scale)


@dataclass(frozen=True, eq=False)
class Flow:
    """Balances of pressure and mass in networks whose laws never fall, see `newton.Problem`."""

    law: Law
    law_of: Select
    acting: Drive
    here: Integers | None = None  # (variants,) numbers of those that are under way; None: all

    cuts = tol.FLOW_CUTS
    halving = False

    def take(self, chosen: Any) -> Flow:
        """Some variants."""
        numbers = np.arange(len(self.acting.given)) if self.here is None else self.here
        here = numbers[chosen]
        return replace(self, law=self.law_of(here), here=here, acting=taken(self.acting, chosen))

    def way(self, state: FlowState) -> Way:
        """The flow's own step; with it pressures, and what drops shall become."""
        moving = np.maximum(np.maximum(largest(state.flow), state.moved), tol.FLOW_FLOOR)
        least = tol.FLAT_FLOW * largest_pressure(self.acting, state) / moving
        slope = np.maximum(state.slope, least)
        gap = self.acting.push - state.drop
        step, pressure, _ = direction(self.acting, state.flow, slope, gap)
        begin = -summed(slope * step * step)
        target = _target(self.acting, pressure)
        return Way(step, begin, np.isfinite(begin), (pressure, target))

    def moved(self, state: FlowState, way: Way, share: Array) -> tuple[FlowState, Booleans]:
        """After a share of the step, which may always be gone to."""
        step = share * way.step
        flow = state.flow + step
        new = FlowState(flow, *self.law(flow), way.aid[0], largest(step))
        return new, np.ones(len(share), bool)

    def merit(self, new: FlowState, way: Way) -> Array:
        """Slope of the content along the step."""
        return summed(way.step * (new.drop - way.aid[1]))

    def allowed(self, way: Way, share: Array) -> Array:
        """Half of the slope where it began."""
        return tol.FALL * abs(way.begin)

    def exempt(self, state: FlowState, new: FlowState, way: Way) -> Booleans:
        """Where pressures nearly balance."""
        gap = largest(imbalance(self.acting, new))
        return np.asarray(gap <= tol.NEARLY * largest_pressure(self.acting, new))

    def ready(self, state: FlowState, new: FlowState, way: Way) -> Booleans:
        """Where all balances."""
        return balanced(self.acting, new)


def _target(acting: Drive, pressure: Array) -> Array:
    """What the drops shall become.

    A step that conserves mass does no work on the pressures of nodes, so that push alone would
    have the same slope along it; but that slope drowns in the round-off of the drops.
    """
    target: Array = acting.push + acting.network.fall @ pressure
    return target
