"""The steady state that a start from rest reaches, of all variants of one topology.

`STRATEGIES` are tried in order on what the ones before left: flow and heat by turns, where that
settles soon; full Newton on both from heat on the isothermal flow, where that turns no large flow
(in a large network, where a march takes minutes, from where the passes ended); the march from rest;
and, where that does not come to rest, Newton with heat held back place by place. Every state passes
the same acceptance test; a state with a growing mode is disturbed along it and marched on, four
times at most.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from flownet.equations.branch import BLEND, HOTTEST_RISE
from flownet.equations.state import Model, Promise, State, Steady
from flownet.schema.arrays import Array, Booleans, Integers, taken
from flownet.solver import acceptance, fixed_temperature, pseudo_transient, segregated, stability
from flownet.solver import tolerances as tol
from flownet.solver.active import Ended, either, spread, written
from flownet.solver.coupled import heated, polished, settled
from flownet.solver.flow_balance import FlowResult, turned
from flownet.solver.jacobian import Pattern, linearised
from flownet.solver.pseudo_transient import Leaving
from flownet.solver.segregated import Passed
from flownet.solver.stability import Stability


class Before(NamedTuple):
    """What is known when the quick passes have ended, of the variants that they left."""

    passed: State  # where they ended
    rest: State
    cold: State  # flow at outside temperature
    found: FlowResult  # of it


def solve(model: Model, pattern: Pattern) -> Steady:
    """Solve every variant; what fails says why in `status`."""
    passed = segregated.alternate(model, model.at_rest(model.variants))
    ended = Ended(passed.state, passed.settled, passed.rounds)
    left = np.flatnonzero(~ended.done)
    if left.size:
        slow = _long_way(model.take(left), pattern, taken(ended, left))
        ended = written(ended, left, slow)
    state, stable = ended.state, passed.calm
    doubt = np.flatnonzero(~stable)
    if doubt.size:
        part, own = model.take(doubt), ended.done[doubt]
        sure = _settle_unstable(part, pattern, state.take(doubt), own)
        state, stable = written((state, stable), doubt, sure)
    state, found = _measured(model, pattern, state, passed)
    status = tuple(acceptance.failures(model, state, found))
    return Steady(state, found, status, stable, ended.rounds)


def _measured(
    model: Model, pattern: Pattern, state: State, passed: Passed
) -> tuple[State, Promise]:
    """The promise of every state, by the last step of the passes or by one more of Newton."""
    found = acceptance.measured(model, state, passed.step)
    again = np.flatnonzero(~(passed.settled & passed.calm & acceptance.kept(found)))
    if again.size:
        better = polished(model.take(again), pattern, state.take(again))
        state, found = written((state, found), again, better)
    return state, found


def _long_way(model: Model, pattern: Pattern, passed: Ended) -> Ended:
    """What the passes left, by the other strategies in turn."""
    rest = model.at_rest(model.variants)
    flow = fixed_temperature.solve(model, rest)
    cold = model.state(
        flow.mass_flow, flow.pressure[: pattern.nodes], model.unknown_temperatures(rest)
    )
    before = Before(passed.state, rest, cold, flow)
    ended = Ended(cold, np.zeros(model.variants, bool), passed.rounds + flow.iterations)
    for strategy in STRATEGIES:
        left = np.flatnonzero(~ended.done)
        if not left.size:
            break
        part = taken(ended, left)
        found = strategy(model.take(left), pattern, part.state, taken(before, left))
        ended = written(ended, left, found._replace(rounds=part.rounds + found.rounds))
    return ended


def _newton(model: Model, pattern: Pattern, state: State, before: Before) -> Ended:
    """Newton from heat on the isothermal flow where that is safe; in a large network, from where
    the passes ended."""
    tried = before.found.converged
    if pattern.nodes <= tol.MARCHED:
        return direct(model, pattern, before.cold, tried)
    tried = tried & before.passed.mass_flow.any(axis=0)  # they ran
    return _held(model, pattern, before.cold, before.passed, before.cold, tried)


def _marched(model: Model, pattern: Pattern, state: State, before: Before) -> Ended:
    return pseudo_transient.march(model, pattern, before.rest)


def _held_back(model: Model, pattern: Pattern, state: State, before: Before) -> Ended:
    """Where the march does not come to rest though its temperatures are of this world."""
    return _held(model, pattern, state, before.cold, None, _reasonable(model, state))


STRATEGIES = (_newton, _marched, _held_back)


def direct(model: Model, pattern: Pattern, cold: State, tried: Booleans) -> Ended:
    """Newton from heat on a given flow; settled where that is safe. `tried`: (variants,)."""
    guess, sound = heated(model, pattern, cold)
    return _safe(model, pattern, cold, guess, sound & tried)


def _held(
    model: Model, pattern: Pattern, state: State, begin: State, cold: State | None, tried: Booleans
) -> Ended:
    """Newton from where steps with heat held back lead to; no large flow turns against `cold`, or
    against that. What is not settled stays in `state`."""
    ended = _nothing(state)
    run = np.flatnonzero(tried)
    if not run.size:
        return ended
    part = model.take(run)
    guess = pseudo_transient.held_back(part, pattern, begin.take(run))
    against = guess.state if cold is None else cold.take(run)
    found = _safe(part, pattern, against, guess.state, guess.done)
    left = either(found.done, found.state, state.take(run))
    return written(ended, run, found._replace(state=left))


def _nothing(state: State) -> Ended:
    width = state.mass_flow.shape[1]
    return Ended(state, np.zeros(width, bool), np.zeros(width, np.intp))


def _safe(model: Model, pattern: Pattern, cold: State, guess: State, tried: Booleans) -> Ended:
    """Newton on flow and heat from a guess; settled where no large flow turned against `cold`."""
    ended = _nothing(cold)
    run = np.flatnonzero(tried)
    if not run.size:
        return ended
    part, own = model.take(run), cold.take(run)
    found = settled(part, pattern, guess.take(run), tol.DIRECT_ROUNDS)
    good = found.done & ~turned(own.mass_flow, found.state.mass_flow)
    good &= _reasonable(part, found.state)
    return written(ended, run, Ended(either(good, found.state, own), good, found.rounds))


def _reasonable(model: Model, state: State) -> Booleans:
    warm = model.unknown_temperatures(state) - model.outside_temperature[:1]
    return np.asarray((abs(warm) < HOTTEST_RISE).all(axis=0))


def _settle_unstable(
    model: Model, pattern: Pattern, state: State, settled: Booleans
) -> tuple[State, Booleans]:
    """States with a growing mode are disturbed along it and marched on."""
    found = stability.stability(model, pattern, state)
    side = np.ones(len(found.stable))
    for _ in range(tol.PUSHES):
        run = np.flatnonzero(settled & ~found.stable)
        if not run.size:
            break
        part, here = model.take(run), state.take(run)
        pushed, leaving = _disturbed(part, here, taken(found, run), side[run])
        marched = pseudo_transient.march(part, pattern, pushed, leaving)
        side[run[~marched.done]] *= -1
        if marched.done.any():
            to, after = run[marched.done], marched.state.take(marched.done)
            more = stability.stability(model.take(to), pattern, after)
            state, found = written((state, found), to, (after, more))
    return state, found.stable


def _disturbed(model: Model, here: State, found: Stability, side: Array) -> tuple[State, Leaving]:
    """States pushed along their growing mode; where it is the flow that is unstable, the flow
    from rest at the same temperatures."""
    inside, warm = model.structure.inside, model.unknown_temperatures(here)
    thermal = np.asarray(np.isfinite(found.mode).all(axis=0))
    longest = tol.CAPACITY / 2 * found.longest
    leaving = Leaving(np.where(thermal, warm, np.inf), np.where(thermal, longest, np.inf))
    if not thermal.all():
        again = fixed_temperature.flow(model, _tipped(model, here, side))
        here = either(thermal, here, again)
    push = side * tol.WARM_PUSH * np.nan_to_num(found.mode)
    warm[:inside] += np.where(thermal, push, 0.0)
    return model.warmed(here, warm), leaving


def _tipped(model: Model, here: State, side: Array) -> State:
    """Branches whose own buoyancy outweighs their resistance near zero flow, set to flow."""
    turning = linearised(model, here)[1].gap[0] > 0
    still = turning & (abs(here.mass_flow) < 100 * BLEND)
    return here._replace(mass_flow=np.where(still, side * 1e3 * BLEND, here.mass_flow))


def unsolved(model: Model, status: list[str]) -> Steady:
    """Variants of which none could be tried."""
    none = np.zeros(len(status), bool)
    rest = model.at_rest(len(status))
    return Steady(rest, acceptance.unknown(len(status)), tuple(status), none, none * 0.0)


def placed(found: Steady, run: Integers, status: list[str]) -> Steady:
    """Solved variants in their places among those that could not be tried."""
    width, texts = len(status), list(status)
    for place, words in zip(run, found.status, strict=True):
        texts[place] = words
    state, promise = spread((found.state, found.promise), run, width)
    stable, rounds = spread((found.stable, found.rounds), run, width, fill=0.0)
    return Steady(state, promise, tuple(texts), stable > 0, rounds)
