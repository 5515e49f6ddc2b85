"""The steady states of an enclosure whose fans have a dip, with heat.

Every flow that is possible at the temperatures of a state (`flow_states`) is the start of the
coupled Newton's method; what settles and keeps the promise of a result is an operating point. Its
own temperatures are searched in turn, until nothing new appears. Heat itself can add states, even
without a dip: these are looked for by marches from random temperatures, and some may be missed.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from flownet.equations.branch import branches
from flownet.equations.state import Model, Promise, State
from flownet.schema.arrays import Array, Booleans, Integers
from flownet.solver import acceptance, fixed_temperature, pseudo_transient, stability
from flownet.solver import tolerances as tol
from flownet.solver.active import written
from flownet.solver.coupled import heated, polished
from flownet.solver.coupled import settled as coupled
from flownet.solver.jacobian import Pattern
from flownet.solver.multiple import flow_states
from flownet.solver.multiple.flow_states import Effort, FlowStates, Setting


class Search(NamedTuple):
    """How far to look: flows at given temperatures, at how many temperatures, random marches."""

    effort: Effort
    temperatures: int
    marches: int
    nodes: int  # compartments up to which that is meant; in larger enclosures less is tried

    def within(self, nodes: int) -> Search:
        """As far as it goes in an enclosure of this size."""
        share, effort = min(1.0, self.nodes / max(1, nodes)), self.effort
        less = effort._replace(
            choices=max(tol.LEAST_CHOICES, int(share * effort.choices)),
            flows=int(share * effort.flows), starts=int(share * effort.starts),
        )  # fmt: skip
        return self._replace(effort=less, marches=int(share * self.marches))


QUICK = Search(
    Effort(choices=64, flows=2000, grid=33, starts=24), temperatures=1, marches=0, nodes=40
)
"""Beside a single solve."""
FULL = Search(
    Effort(choices=4096, flows=60000, grid=65, starts=200), temperatures=12, marches=8, nodes=300
)
"""Where every operating point is asked for."""


class Points(NamedTuple):
    """Operating points, variants last; the first is the one that was known."""

    state: State
    promise: Promise
    stable: Booleans
    rising: Booleans  # (branches, states) where a fan is on a rising piece of its curve
    every_falling: bool  # every choice of falling pieces was solved, at the temperatures tried
    every_scan: bool  # every flow of single fans on rising pieces was tried


def search(model: Model, pattern: Pattern, known: State, how: Search) -> Points:
    """All operating points found of one variant, `known` first."""
    how = how.within(model.structure.inside)
    found, sure = known, (True, True)
    if how.marches:
        found = _added(model, found, _marched(model, pattern, known, how.marches))
    done: list[Array] = []
    while len(done) < how.temperatures:
        place = _unsearched(model, found, done)
        if place is None:
            break
        here = found.take(place)
        done.append(here.temperature)
        flows = at_temperatures(model, here, how.effort)
        if flows is None:
            break
        sure = (sure[0] and flows.every_falling, sure[1] and flows.every_scan)
        found = _added(model, found, _coupled(model, pattern, here, flows))
    return measured(model, pattern, found, sure)


def with_more(
    model: Model, pattern: Pattern, points: Points, more: list[State]
) -> tuple[Points, list[int | None]]:
    """Points with further steady states that were met, and the number that each of these has;
    None where it does not keep the promise of a result."""
    found = points.state
    for one in more:
        found = _added(model, found, _kept(model, pattern, one, np.ones(1, bool)))
    if found.mass_flow.shape[1] > len(points.stable):
        points = measured(model, pattern, found, (points.every_falling, points.every_scan))
    return points, [matching(model, points.state, one) for one in more]


def _unsearched(model: Model, found: State, done: list[Array]) -> Integers | None:
    """The first state whose temperatures no search was made at."""
    for place in range(found.mass_flow.shape[1]):
        warm = found.temperature[:, [place]]
        if all(np.max(abs(warm - other)) > tol.SAME_WARMTH for other in done):
            return np.array([place])
    return None


def measured(
    model: Model, pattern: Pattern, state: State, sure: tuple[bool, bool] = (True, True)
) -> Points:
    """States with their promise and stability."""
    several = repeated(model, state.mass_flow.shape[1])
    state, kept = polished(several, pattern, state)
    stable, _, _ = stability.stability(several, pattern, state)
    rising = branches(several, state).slope < 0
    return Points(state, kept, stable, rising, *sure)


def repeated(model: Model, count: int) -> Model:
    """A model of one variant as one of several that are alike."""
    return model.take(np.zeros(count, np.intp))


# --- flow at fixed temperatures ----------------------------------------------------------------


def at_temperatures(model: Model, state: State, effort: Effort) -> FlowStates | None:
    """Every flow found at the temperatures of one state; None where no fan has a dip."""
    here = setting(model, state)
    return flow_states.search(here, effort) if here.pieces else None


def setting(model: Model, state: State) -> Setting:
    """The flow problem at the temperatures of one state."""
    dipped, free_flow = fixed_temperature.fans(model, 1)
    return Setting.of(
        model.structure.network, fixed_temperature.law_at(model, state), dipped=dipped,
        scale=free_flow, nominal=fixed_temperature.nominal_flow(model, free_flow),
        **fixed_temperature.acting(model, state),
    )  # fmt: skip


# --- with heat ----------------------------------------------------------------------------------


def _coupled(model: Model, pattern: Pattern, here: State, flows: FlowStates) -> State:
    """Steady states of flow and heat, from flows at the temperatures of one state."""
    count = flows.mass_flow.shape[1]
    several = repeated(model, count)
    warm = np.repeat(model.unknown_temperatures(here), count, axis=1)
    start = several.state(flows.mass_flow, flows.pressure[: pattern.nodes], warm)
    state, settled = start, np.zeros(count, bool)
    for begin in (heated(several, pattern, start)[0], start):
        left = np.flatnonzero(~settled)
        if left.size:
            part = several.take(left)
            trial = coupled(part, pattern, begin.take(left), tol.POINT_ROUNDS)
            state, settled = written((state, settled), left, (trial.state, trial.done))
    return _kept(several, pattern, state, settled)


def _marched(model: Model, pattern: Pattern, known: State, count: int) -> State:
    """Steady states that marches from random temperatures come to."""
    rng, several = np.random.default_rng(tol.POINT_SEED), repeated(model, count)
    warm = model.unknown_temperatures(known)
    base = model.outside_temperature[:1]
    most = tol.RANDOM_RISE + np.max(warm - base, initial=0.0)
    spread = base + most * rng.uniform(0.0, 1.0, (len(warm), count)) ** 2
    rest = several.at_rest(count)
    start = fixed_temperature.flow(
        several, several.state(rest.mass_flow, rest.pressure[: pattern.nodes], spread)
    )
    state, settled, _ = pseudo_transient.march(several, pattern, start)
    return _kept(several, pattern, state, settled)


def _kept(several: Model, pattern: Pattern, state: State, settled: Booleans) -> State:
    """Those that keep the promise of a result."""
    some = np.flatnonzero(settled)
    if not some.size:
        return state.take(some)
    part = several.take(some)
    state, kept = polished(part, pattern, state.take(some))
    sound = [not words for words in acceptance.failures(part, state, kept)]
    return state.take(np.flatnonzero(sound))


def _added(model: Model, found: State, more: State) -> State:
    """States with those that differ from all before."""
    for place in range(more.mass_flow.shape[1]):
        new = more.take([place])
        if matching(model, found, new) is None:
            found = State(*(np.concatenate(p, axis=1) for p in zip(found, new, strict=True)))
    return found


def matching(model: Model, found: State, one: State) -> int | None:
    """Number of the state among `found` that is the same as `one`, if it is there."""
    dipped, free_flow = fixed_temperature.fans(model, 1)
    scale = np.maximum(abs(one.mass_flow).max(initial=1e-9), np.zeros_like(free_flow))
    scale = np.where(dipped, np.minimum(free_flow, scale), scale)
    moved = abs(found.mass_flow - one.mass_flow) / scale
    warmed = abs(found.temperature - one.temperature)
    same = (moved.max(axis=0, initial=0) < tol.SAME_FLOW) & (warmed.max(axis=0) < tol.SAME_WARM)
    return int(np.argmax(same)) if same.any() else None
