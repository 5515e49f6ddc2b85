"""The steady state that a start from rest reaches, of all variants of one topology.

Flow and heat by turns where that settles soon (`passes`). Else directly where that is safe: flow at
outside temperature, heat carried by that flow, then full Newton on both. What does not settle, or
where a large flow turned against the isothermal one, is marched from rest. Every state passes the
same acceptance test; a state with a growing mode is disturbed along it and marched on, four times
at most.
"""

from __future__ import annotations

import numpy as np

from flownet.equations.branch import BLEND, HOTTEST_RISE, branch_state
from flownet.equations.state import Model, Promise, State, Steady
from flownet.schema.arrays import Array
from flownet.solver import acceptance, fixed_temperature, pseudo_transient, segregated, stability
from flownet.solver import tolerances as tol
from flownet.solver.jacobian import Pattern, System
from flownet.solver.local_time_stepping import relaxed
from flownet.solver.pseudo_transient import _pick, _put
from flownet.solver.tolerances import largest


def solve(model: Model, pattern: Pattern) -> Steady:
    """Solve every variant; what fails says why in `status`."""
    passed = segregated.alternate(model, model.at_rest(model.variants))
    left = np.flatnonzero(~passed.settled)
    state, rounds = passed.state, passed.rounds.copy()
    settled, stable = passed.settled.copy(), passed.calm.copy()
    if left.size:
        begun = _pick(passed.state, left)
        slow, settled[left], steps = _long_way(model.take(left), pattern, begun)
        state = _put(state, left, slow)
        rounds[left] += steps
    doubt = np.flatnonzero(~stable)
    if doubt.size:
        part = model.take(doubt)
        sure, stable[doubt] = _settle_unstable(part, pattern, _pick(state, doubt), settled[doubt])
        state = _put(state, doubt, sure)
    state, found = _measured(model, pattern, state, passed)
    return Steady(state, found, tuple(acceptance.failures(model, state, found)), stable, rounds)


def _measured(
    model: Model, pattern: Pattern, state: State, passed: segregated.Passed
) -> tuple[State, Promise]:
    """The promise of every state, by the last step of the passes or by one more of Newton."""
    found = acceptance.measured(model, state, passed.step)
    again = np.flatnonzero(~(passed.settled & passed.calm & acceptance.kept(found)))
    if not again.size:
        return state, found
    polished, better = _polished(model.take(again), pattern, _pick(state, again))
    figures = []
    for whole, part in zip(found, better, strict=True):
        figure = whole.copy()
        figure[again] = part
        figures.append(figure)
    return _put(state, again, polished), Promise(*figures)


def _long_way(model: Model, pattern: Pattern, passed: State) -> tuple[State, Array, Array]:
    """Newton from heat on the isothermal flow where that is safe, else the march from rest; in a
    large network, where a march takes minutes, Newton from where the passes ended."""
    rest = model.at_rest(model.variants)
    cold = fixed_temperature.solve(model, rest)
    start = model.state(
        cold.mass_flow, cold.pressure[: pattern.nodes], model.unknown_temperatures(rest)
    )
    if pattern.nodes > tol.MARCHED:
        guess, sound = _passed(model, pattern, passed)
        state, settled, rounds = _newton(model, pattern, start, guess, sound & cold.converged)
    else:
        state, settled, rounds = direct(model, pattern, start, cold.converged)
    left = np.flatnonzero(~settled)
    if left.size:
        marched, done, steps = pseudo_transient.from_rest(
            model.take(left), pattern, _pick(rest, left)
        )
        state, settled[left] = _put(state, left, marched), done
        rounds[left] += steps
    restless = np.flatnonzero(~settled & _reasonable(model, state))
    if restless.size:
        held, done, steps = _held_back(model.take(restless), pattern, _pick(start, restless))
        to = restless[done]
        state, settled[to] = _put(state, to, _pick(held, done)), True
        rounds[restless] += steps
    return state, settled, rounds + cold.iterations


def _held_back(model: Model, pattern: Pattern, start: State) -> tuple[State, Array, Array]:
    """Where the march does not come to rest: Newton with heat held back place by place."""
    guess, sound = relaxed(model, pattern, start)
    state, settled, rounds = _newton(model, pattern, guess, guess, sound)
    return state, settled, rounds


def direct(model: Model, pattern: Pattern, cold: State, tried: Array) -> tuple[State, Array, Array]:
    """Newton from heat on a given flow; settled where that is safe. `tried`: (variants,) bool."""
    guess, sound = _heated(model, pattern, cold)
    return _newton(model, pattern, cold, guess, sound & tried)


def _passed(model: Model, pattern: Pattern, passed: State) -> tuple[State, Array]:
    """The state that the passes left, relaxed, and whether that is a guess: they ran."""
    run = np.flatnonzero(passed.mass_flow.any(axis=0))
    sound = np.zeros(passed.mass_flow.shape[1], bool)
    if run.size:
        found, sound[run] = relaxed(model.take(run), pattern, _pick(passed, run))
        passed = _put(passed, run, found)
    return passed, sound


def _heated(model: Model, pattern: Pattern, start: State) -> tuple[State, Array]:
    """Heat on the isothermal flow, and whether that is a guess."""
    before = model.unknown_temperatures(start)
    with np.errstate(all="ignore"):
        rise = System(model, pattern, start, np.zeros(before.shape[1]), before).frozen_flow()
        sound = np.nan_to_num(abs(rise), nan=np.inf).max(axis=0, initial=0) < tol.GUESS_RISE
    warm = before + np.where(sound, rise, 0.0)
    return model.state(start.mass_flow, start.pressure[: pattern.nodes], warm), sound


def _newton(
    model: Model, pattern: Pattern, cold: State, guess: State, tried: Array
) -> tuple[State, Array, Array]:
    """Newton on flow and heat from a guess; settled where no large flow turned against `cold`."""
    settled, rounds = np.zeros(len(tried), bool), np.zeros(len(tried), int)
    run = np.flatnonzero(tried)
    if not run.size:
        return cold, settled, rounds
    part, here = model.take(run), _pick(guess, run)
    trial = pseudo_transient.newton(
        part, pattern, here, np.zeros(len(run)), part.unknown_temperatures(here),
        rounds=tol.DIRECT_ROUNDS, tight=True,
    )  # fmt: skip
    good = trial.settled & ~_turned(cold.mass_flow[:, run], trial.state.mass_flow)
    good &= _reasonable(part, trial.state)
    settled[run], rounds[run] = good, trial.rounds
    return _put(cold, run[good], _pick(trial.state, good)), settled, rounds


def _turned(before: Array, after: Array) -> Array:
    large = abs(before) > tol.LARGE_FLOW * largest(before)
    found: Array = np.asarray((large & (before * after < 0)).any(axis=0))
    return found


def _reasonable(model: Model, state: State) -> Array:
    warm = model.unknown_temperatures(state) - model.outside_temperature[:1]
    found: Array = np.asarray((abs(warm) < HOTTEST_RISE).all(axis=0))
    return found


def _polished(model: Model, pattern: Pattern, state: State) -> tuple[State, Promise]:
    """Newton steps until the promise is kept; the one after the last is measured."""
    width = state.mass_flow.shape[1]
    for left in range(tol.POLISHING, -1, -1):
        before = model.unknown_temperatures(state)
        with np.errstate(all="ignore"):
            step = System(model, pattern, state, np.zeros(width), before).solve()
        found = acceptance.measured(model, state, step)
        again = ~acceptance.kept(found) & np.isfinite(step.mass_flow).all(axis=0)
        again &= (np.nan_to_num(abs(step.temperature), nan=np.inf) < 1.0).all(axis=0)
        if not again.any() or not left:
            break
        moved = model.state(
            state.mass_flow + np.where(again, step.mass_flow, 0),
            state.pressure[: pattern.nodes] + np.where(again, step.pressure, 0),
            before + np.where(again, step.temperature, 0),
        )
        state = moved
    return state, found


def _settle_unstable(
    model: Model, pattern: Pattern, state: State, settled: Array
) -> tuple[State, Array]:
    """States with a growing mode are disturbed along it and marched on."""
    stable, growing, pace = stability.stability(model, pattern, state)
    side = np.ones(len(stable))
    for _ in range(tol.PUSHES):
        run = np.flatnonzero(settled & ~stable)
        if not run.size:
            break
        part, here = model.take(run), _pick(state, run)
        pushed, leaving = _disturbed(part, here, growing[:, run], pace[run], side[run])
        marched, done, _ = pseudo_transient.from_rest(part, pattern, pushed, leaving)
        side[run[~done]] *= -1
        if not done.any():
            continue
        to = run[done]
        state = _put(state, to, _pick(marched, done))
        found = stability.stability(model.take(to), pattern, _pick(state, to))
        stable[to], growing[:, to], pace[to] = found
    return state, stable


def _disturbed(
    model: Model, here: State, mode: Array, pace: Array, side: Array
) -> tuple[State, pseudo_transient.Leaving]:
    """States pushed along their growing mode; where it is the flow that is unstable, the flow
    from rest at the same temperatures."""
    inside, warm = model.structure.inside, model.unknown_temperatures(here)
    thermal = np.isfinite(mode).all(axis=0)
    leaving = pseudo_transient.Leaving(
        np.where(thermal, warm, np.inf),
        np.where(thermal, tol.CAPACITY / 2 * pace, np.inf),
    )
    if not thermal.all():
        again = fixed_temperature.flow(model, _tipped(model, here, side))
        here = State(*(np.where(thermal, a, b) for a, b in zip(here, again, strict=True)))
    warm[:inside] += np.where(thermal, side * tol.WARM_PUSH * np.nan_to_num(mode), 0.0)
    return model.state(here.mass_flow, here.pressure[:inside], warm), leaving


def _tipped(model: Model, here: State, side: Array) -> State:
    """Branches whose own buoyancy outweighs their resistance near zero flow, set to flow."""
    s, warm, step = model.structure, here.temperature, 1e-30
    moved = branch_state(model, here.mass_flow + 1j * step, warm[s.warm_start], warm[s.warm_end])
    turning = (moved.push - moved.drop).imag / step > 0
    still = turning & (abs(here.mass_flow) < 100 * BLEND)
    return here._replace(mass_flow=np.where(still, side * 1e3 * BLEND, here.mass_flow))


def unsolved(model: Model, status: list[str]) -> Steady:
    """Variants of which none could be tried."""
    rest = model.at_rest(len(status))
    none = np.full(len(status), np.nan)
    kept = Promise(*(none for _ in Promise._fields))
    return Steady(rest, kept, tuple(status), np.zeros(len(status), bool), np.zeros(len(status)))


def placed(found: Steady, run: Array, status: list[str]) -> Steady:
    """Solved variants in their places among those that could not be tried."""
    width = len(status)

    def wide(part: Array, fill: float = np.nan) -> Array:
        made = np.full((*part.shape[:-1], width), fill, float)
        made[..., run] = part
        return made

    texts = list(status)
    for place, words in zip(run, found.status, strict=True):
        texts[place] = words
    return Steady(
        State(*(wide(part) for part in found.state)),
        Promise(*(wide(part) for part in found.promise)),
        tuple(texts), wide(found.stable, 0.0) > 0, wide(found.rounds, 0.0),
    )  # fmt: skip
