"""Newton's method on flow and heat together: steady, or implicit steps in time."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from flownet.equations.residual import residual
from flownet.equations.state import Model, Promise, State, Step
from flownet.schema.arrays import Array, Booleans, taken
from flownet.solver import acceptance, newton
from flownet.solver import tolerances as tol
from flownet.solver.active import Active, Ended
from flownet.solver.jacobian import Pattern, Since, System, steadily
from flownet.solver.newton import Way
from flownet.solver.tolerances import flow_scale, largest


def settled(
    model: Model, pattern: Pattern, state: State, rounds: int, since: Since | None = None
) -> Ended:
    """The states that Newton's steps end in, at most `rounds` of them.

    since : of a step in time, which is solved near enough for a path; None: the steady state, to
        the promise of a result.
    """
    began = steadily(model, state) if since is None else since
    problem = Coupled(model, pattern, began, since is None)
    return newton.solve(problem, state, state.mass_flow.shape[1], rounds)


@dataclass(frozen=True, eq=False)
class Coupled:
    """All balances, see `newton.Problem`."""

    model: Model
    pattern: Pattern
    since: Since
    tight: bool

    cuts = tol.HEAT_HALVINGS
    halving = True

    def take(self, chosen: Any) -> Coupled:
        """Some variants."""
        return replace(self, model=self.model.take(chosen), since=taken(self.since, chosen))

    def way(self, state: State) -> Way:
        """Newton's step, scaled so that no temperature moves by more than the limit."""
        with np.errstate(all="ignore"):
            system = System(self.model, self.pattern, state, self.since)
            step = system.solve()
            most = largest(step.temperature)
            sane = np.isfinite(most) & np.isfinite(step.mass_flow).all(axis=0)
            share = np.minimum(1.0, tol.LARGEST_STEP / np.maximum(most, tol.TINY))
            step = Step(*(np.where(sane, part, 0.0) * np.where(sane, share, 0.0) for part in step))
        return Way(step, _size(state, step), sane, (system, state))

    def moved(self, state: State, way: Way, share: Array) -> tuple[State, Booleans]:
        """After a share of the step; unchanged where that is too cold."""
        warm = self.model.unknown_temperatures(state) + share * way.step.temperature
        fits = (warm > tol.COLDEST).all(axis=0)
        return self.model.moved(state, way.step, np.where(fits, share, 0.0)), fits

    def merit(self, new: State, way: Way) -> Array:
        """Size of what the derivatives of the beginning would still change."""
        system, state = way.aid
        with np.errstate(all="ignore"):
            return _size(state, system.left(new))

    def allowed(self, way: Way, share: Array) -> Array:
        """Less than what they changed."""
        return (1 - share / 4) * way.begin

    def exempt(self, state: State, new: State, way: Way) -> Booleans:
        """Where the step is as good as none."""
        return self._still(state, way.step)

    def ready(self, state: State, new: State, way: Way) -> Booleans:
        """Where the step is as good as none; near enough for a path also where what the same
        derivatives would still change is."""
        done = self._still(state, way.step)
        if self.tight or done.all():
            return done
        system, _ = way.aid
        with np.errstate(all="ignore"):
            return np.asarray(done | self._still(new, system.left(new)))

    def _still(self, state: State, step: Step) -> Booleans:
        """Where a step is as good as none: by the promise of a result, or against what the time
        step has travelled so far."""
        moved = largest(step.mass_flow) / flow_scale(state.mass_flow + step.mass_flow)
        warmed = largest(step.temperature)
        if self.tight:
            return np.asarray((moved < tol.STILL_FLOW) & (warmed < tol.STILL_WARM))
        whole = largest(self.model.unknown_temperatures(state) - self.since.temperature)
        near = np.clip(tol.PATH_WARM * whole, tol.PATH_LEAST, tol.PATH_MOST)
        return np.asarray((moved < tol.PATH_FLOW) & (warmed < near))


def _size(state: State, step: Step) -> Array:
    """(variants,) of a step: flows by the largest flow, temperatures by the largest step."""
    found: Array = largest(step.mass_flow) / flow_scale(state.mass_flow)
    return found + largest(step.temperature) / tol.LARGEST_STEP


def chords(
    model: Model, pattern: Pattern, state: State, system: System | None
) -> tuple[State | None, System | None]:
    """Flows of one variant at temperatures that are held, by derivatives of an earlier state while
    they lead, and those to go on with; None where they lead nowhere."""
    still, before = np.zeros((model.structure.inside, 1)), np.inf
    for _ in range(tol.CHORDS):
        if system is None:
            system = System(model, pattern, state, held(model, state))
        with np.errstate(all="ignore"):
            gap, _, _, mix = residual(model, state, heat=False)
            step = system.answer(gap, state.mass_flow, still, mix)
        size = float(largest(step.mass_flow)[0] / flow_scale(state.mass_flow)[0])
        size += float(largest(mix)[0])
        if not size < tol.CHORD_LEADS * before:
            system = None
            if not size < before:
                break
        state, before = model.moved(state, step), size
        if size < tol.CHORD_STILL:
            return state, system
    return None, None


def held(model: Model, state: State) -> Since:
    """Temperatures of compartments held where they are."""
    warm = model.unknown_temperatures(state)
    width = warm.shape[1]
    return Since(np.full(width, tol.HELD_FAST), warm, np.zeros(width), state.mass_flow)


def come_to_rest(
    model: Model, pattern: Pattern, state: State, warmed: Callable[[State], State]
) -> State:
    """Flows of one variant that those of a state come to; `warmed` puts the temperatures in that
    are held."""
    still, step = tol.STILL_AIR * flow_scale(state.mass_flow)[0], tol.FIRST
    for _ in range(tol.AIR_STEPS):
        since = held(model, state)._replace(air_rate=np.full(1, tol.INERTANCE / step))
        found = settled(model, pattern, state, tol.INNER, since)
        if not found.done[0] and step > tol.SHORTEST:
            step *= tol.AIR_SHORTER
            continue
        change = largest(found.state.mass_flow - state.mass_flow)
        moved = float(change[0] / max(flow_scale(found.state.mass_flow)[0], still))
        state = warmed(found.state)
        if step > tol.LONG and moved < tol.PATH_FLOW:
            break
        step *= tol.AIR_LONGER if moved < tol.TURN_STEP else 1.0
    return state


def polished(model: Model, pattern: Pattern, state: State) -> tuple[State, Promise]:
    """Newton steps until the promise is kept; the one after the last is measured."""
    width = state.mass_flow.shape[1]
    active = Active((state, acceptance.unknown(width)), width)
    for left in range(tol.POLISHING, -1, -1):
        with np.errstate(all="ignore"):
            step = System(model, pattern, state).solve()
            near: Booleans = np.asarray((abs(step.temperature) < tol.POLISH_STEP).all(axis=0))
        found = acceptance.measured(model, state, step)
        near &= np.isfinite(step.mass_flow).all(axis=0) & bool(left)
        done = acceptance.kept(found)
        (state, _), model, step = active.settle((state, found), done, ~near, model, step)
        if not len(active):
            break
        state = model.moved(state, step)
    state, found = active.whole
    return state, found


def heated(model: Model, pattern: Pattern, start: State) -> tuple[State, Booleans]:
    """Heat on the flow of a state, and whether that is a guess."""
    with np.errstate(all="ignore"):
        rise = System(model, pattern, start).frozen_flow()
        sound = np.nan_to_num(abs(rise), nan=np.inf).max(axis=0, initial=0) < tol.GUESS_RISE
    warm = model.unknown_temperatures(start) + np.where(sound, rise, 0.0)
    return model.warmed(start, warm), np.asarray(sound)
