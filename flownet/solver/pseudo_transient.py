"""Flow and heat together, marched from rest in time until nothing moves.

Followed is what defines the state from rest: the inertia of the air in every branch (40 1/m) and
the heat of every compartment (5 J/K) together, by implicit Euler steps, each by full Newton, as
long as the error of one allows. Flow at given temperatures is not always one: air in an upright
branch has the temperature that its own flow brings, so that its column may change faster with the
flow than its drop. A flow that followed without delay would end at such a fold, and round-off
would decide what comes after it; the inertia carries it across. All variants march side by side,
each with its own step.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np

from flownet.equations.branch import CP, HOTTEST_RISE
from flownet.equations.residual import mixed, residual
from flownet.equations.state import Model, State, Step
from flownet.schema.arrays import Array, Booleans
from flownet.solver import tolerances as tol
from flownet.solver.active import Active, Ended, either, put
from flownet.solver.coupled import settled
from flownet.solver.jacobian import Pattern, Since, System, steadily
from flownet.solver.tolerances import flow_scale, largest


@dataclass(frozen=True, eq=False)
class Leaving:
    """An unstable state that a march begins beside, and is not to fall back on."""

    temperature: Array  # (temperatures, variants)
    longest: Array  # (variants,) time step near it: a longer one would lead back

    def take(self, run: Array) -> Leaving:
        """Some variants."""
        return Leaving(self.temperature[:, run], self.longest[run])

    def near(self, temperature: Array, distance: float) -> Array:
        """(variants,) whether no temperature is farther away."""
        found: Array = largest(temperature - self.temperature) < distance
        return found


class _Going(NamedTuple):
    """Where a march stands; variants last."""

    state: State
    time_step: Array  # s
    flow_rate: Array  # (branches, variants) of the last step; NaN before the first
    warm_rate: Array  # (temperatures, variants)
    tries: Array  # (variants,) steady Newton was tried so often
    waited: Array  # (variants,) steps since then


def march(model: Model, pattern: Pattern, start: State, leaving: Leaving | None = None) -> Ended:
    """States that time leads to from `start`, whether settled, and Newton steps taken."""
    going = _begun(model, start)
    active = Active(going, len(going.time_step))
    done = failed = np.zeros(len(active), bool)
    rounds: Any = 0
    for count in range(tol.HOT_OUTER + 1):
        failed = failed | _too_hot(model, going.state, count)
        going, model, leaving = active.settle(going, done, failed, model, leaving, rounds=rounds)
        if not len(active) or count == tol.HOT_OUTER:
            break
        going, good, move, rounds = _stepped(model, pattern, going, leaving)
        failed = going.time_step < tol.SHORTEST
        near = good & (move < tol.SMALL_MOVE) & (going.waited >= 2**going.tries - 1)
        back = np.zeros_like(near)
        if leaving is not None:  # fallen back: a turn of the flow makes this side a stable one
            warm = model.unknown_temperatures(going.state)
            back = good & leaving.near(warm, tol.APART) & (move < tol.BACK)
        done = _finished(model, pattern, going, near | back, leaving)
        failed |= back & ~done
    found = active.ended(going)
    return found._replace(state=found.state.state)


def _too_hot(model: Model, state: State, count: int) -> Booleans:
    """(variants,) where a march is given up: so hot that it does not come back below the rule of
    500 K, or after its time neither at rest nor on the way there."""
    warm = model.unknown_temperatures(state)
    rise = np.max(warm - model.outside_temperature[:1], axis=0)
    hottest = HOTTEST_RISE if count >= tol.OUTER else tol.RUNAWAY
    found: Booleans = (rise > hottest) | ((rise < tol.HOT) & (count == tol.OUTER))
    return found


def _begun(model: Model, start: State) -> _Going:
    """Air drawn in is mixed at once: nothing holds its temperature."""
    inside, warm = model.structure.inside, model.unknown_temperatures(start)
    warm[inside:] = mixed(model, start)
    start = model.warmed(start, warm)
    heat = np.max(abs(residual(model, start).energy), axis=0, initial=1e-6)
    step = np.minimum(tol.CAPACITY * tol.WARM_ERROR / 4 / heat, tol.FIRST)
    none = np.zeros(len(step), int)
    never = np.full(start.mass_flow.shape, np.nan), np.full(warm.shape, np.nan)
    return _Going(start, step, *never, none, none)


def _stepped(
    model: Model, pattern: Pattern, going: _Going, leaving: Leaving | None
) -> tuple[_Going, Booleans, Array, Array]:
    """One time step of each variant, taken where it is solved and straight enough; where it was;
    what a temperature would change by in a long step [K], infinite while steps are short; and
    Newton steps."""
    state, dt = going.state, going.time_step
    most = np.full(dt.shape, tol.LONGEST)
    flow, warm = state.mass_flow, model.unknown_temperatures(state)
    if leaving is not None:
        most = np.where(leaving.near(warm, tol.KEPT_MOVE), leaving.longest, tol.LONGEST)
        dt = np.minimum(dt, most)
    since = Since(tol.CAPACITY / dt, warm, tol.INERTANCE / dt, flow)
    straight = Step(
        going.flow_rate, np.zeros_like(state.pressure[: pattern.nodes]), going.warm_rate
    )
    ahead = model.moved(state, Step(*map(np.nan_to_num, straight)), dt)
    new, solved, rounds = settled(model, pattern, ahead, tol.INNER, since)
    flowed, warmed = new.mass_flow - flow, model.unknown_temperatures(new) - warm
    wrong = _wrong(going, dt, flowed, warmed)
    good = solved & (wrong <= tol.MOST_WRONG)
    factor = np.clip(
        tol.CAUTION / np.sqrt(np.maximum(wrong, tol.STRAIGHT)), tol.SHORTER, tol.LONGER
    )
    longer = np.minimum(dt * np.where(solved, factor, tol.SHORTER), tol.LONGEST)
    move = np.where(dt >= np.minimum(most, tol.LONG), largest(warmed), np.inf)
    after = going._replace(state=new, flow_rate=flowed / dt, warm_rate=warmed / dt)
    reached = either(good, after, going)
    reached = reached._replace(time_step=longer, waited=going.waited + good)
    return reached, good, move * np.maximum(tol.LONG / dt, 1.0), rounds


def _wrong(going: _Going, dt: Array, flowed: Array, warmed: Array) -> Array:
    """(variants,) error of a time step over that which is allowed: half the difference from going
    on straight; of the first one, half of what temperatures change."""
    first = np.isnan(going.warm_rate).all(axis=0)
    bent = largest(warmed - dt * np.where(first, 0.0, going.warm_rate)) / tol.WARM_ERROR
    flow = going.state.mass_flow
    scale = tol.FLOW_ERROR * flow_scale(flow + flowed) + tol.OWN_ERROR * abs(flow)
    turned = np.where(first, 0.0, largest((flowed - dt * going.flow_rate) / scale))
    found: Array = np.maximum(bent, turned) / 2
    return found


def _finished(
    model: Model, pattern: Pattern, going: _Going, near: Booleans, leaving: Leaving | None
) -> Booleans:
    """Steady Newton from states that hardly move; true, and written, where it stays near."""
    done = np.zeros(len(near), bool)
    if not near.any():
        return done
    part, here = model.take(near), going.state.take(near)
    trial = settled(part, pattern, here, tol.DIRECT_ROUNDS)
    after = part.unknown_temperatures(trial.state)
    kept = trial.done & (largest(after - part.unknown_temperatures(here)) < tol.KEPT_MOVE)
    if leaving is not None:
        kept &= ~leaving.take(near).near(after, tol.SAME)
    done[near] = kept
    put(going.state, done, trial.state.take(kept))
    going.tries[near] = np.minimum(going.tries[near] + 1, tol.PATIENCE)
    going.waited[near] = 0
    return done


# --- with a time step of its own for every compartment -------------------------------------------


class _Held(NamedTuple):
    """Where that stands; variants last."""

    state: State
    held: Array  # (compartments, variants) W/K that hold temperatures back
    before: Array  # (compartments, variants) the last move


def held_back(model: Model, pattern: Pattern, state: State) -> Ended:
    """The state from which steady Newton ends, where that is found.

    In a large network a few weak draughts turn to and fro while all else stands still; halving the
    whole step for them, or marching all in time, would take hundreds of steps. Here the heat of a
    compartment is held back, as by a heat capacity over a time step, only where its temperature
    went to and fro, or far; what is held back everywhere else falls to zero, so that the end is
    steady Newton.

    state : a guess of sane temperatures.
    """
    n, width = pattern.nodes, state.mass_flow.shape[1]
    going = _Held(state, np.zeros((n, width)), np.zeros((n, width)))
    active = Active(going, width)
    for _ in range(tol.HELD_ROUNDS):
        state = going.state
        with np.errstate(all="ignore"):
            since = steadily(model, state)._replace(heat_rate=going.held)
            step = System(model, pattern, state, since).solve()
        sane = np.all([np.isfinite(part).all(axis=0) for part in step], axis=0)
        moved = step.temperature[:n]
        still = sane & (largest(moved) < tol.HELD_STILL)
        still &= largest(step.mass_flow) < tol.HELD_STILL * flow_scale(state.mass_flow)
        parts = active.settle(going, still, ~sane, model, step)
        if not len(active):
            break
        going, model, step = parts
        going = _held_on(model, going, step)
    found = active.ended(going)
    return found._replace(state=found.state.state)


def _held_on(model: Model, going: _Held, step: Step) -> _Held:
    """A round further."""
    state, held, moved = going.state, going.held, step.temperature[: len(going.held)]
    passing = CP * (model.structure.network.touch @ abs(state.mass_flow)) / 2 + tol.LEAST
    back = (moved * going.before < 0) & (abs(moved) > tol.SWING * abs(going.before))
    back &= abs(moved) > tol.FAINT
    less = np.where(held > tol.LEAST * passing, held / tol.LESS, 0.0)
    more = np.maximum(tol.MORE * held, tol.HOLD * passing)
    change = np.clip(step.temperature, -tol.FARTHEST, tol.FARTHEST)
    hottest = model.outside_temperature[:1] + tol.HOTTER
    warm = np.clip(model.unknown_temperatures(state) + change, tol.COLDEST, hottest)
    after = model.warmed(model.moved(state, step), warm)
    return _Held(after, np.where(back | (abs(moved) > tol.FAR), more, less), moved)
