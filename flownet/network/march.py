"""Flow and heat together, marched from rest in pseudo-time until nothing moves.

Implicit Euler on the heat of each compartment (5 J/K), flows following without delay, each step by
full Newton; steps grow as the state settles. Slow and steady: for what the direct way does not
reach, above all where draught and heat drive each other. All variants march side by side, each
with its own step.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from flownet.arrays import Array
from flownet.network import frozen
from flownet.network.coupled import Pattern, Step, System
from flownet.network.model import HOTTEST_RISE, Model, State

CAPACITY = 5.0  # J/K of every compartment
INNER, OUTER = 8, 600  # Newton steps of one time step; time steps
HOT, HOT_OUTER = 300.0, 1500  # K above the outside: time steps where heat may have no way out
RUNAWAY = 1500.0  # K above the outside, from where no march comes back below the 500 K of the rule
LARGEST_STEP = 60.0  # K, of one Newton step
LARGEST_MOVE, WANTED_MOVE = 50.0, 20.0  # K, of one time step
SMALL_MOVE, KEPT_MOVE = 0.5, 3.0  # K: below which steady Newton is tried; it may move so far
BACK = 1e-3  # K, a move that shows a march to have come to rest
APART = 0.1  # K, by which another state differs from an unstable one
COLDEST = 100.0  # K
LONGER, SHORTER = 5.0, 5.0
SHORTEST = 1e-7  # s
PATIENCE = 5  # steady Newton is tried after 0, 1, 3, ... 31 more time steps
HALVINGS = 6  # of one Newton step


@dataclass(eq=False)
class Trial:
    """The end of one time step, of all variants in it."""

    state: State
    settled: Array  # (variants,) the equations of the step are solved
    rounds: int


def newton(
    model: Model, pattern: Pattern, state: State, inverse_time: Array, before: Array,
    *, rounds: int, tight: bool,
) -> Trial:  # fmt: skip
    """Newton on one implicit step; `inverse_time` 0 is steady.

    `tight`: until nothing moves, to the promise of a result; else near enough for a path.
    """
    width = state.mass_flow.shape[1]
    settled, final, count = np.zeros(width, bool), state, 0
    while count < rounds and not settled.all():
        count += 1
        run = np.flatnonzero(~settled)
        part, here, rate, began = (
            model.take(run),
            _pick(final, run),
            inverse_time[run],
            before[:, run],
        )
        with np.errstate(all="ignore"):
            system = System(part, pattern, here, rate, began)
            step, sane = _limited(system.solve())
            travelled = model.unknown_temperatures(here) - began
            still = sane & _still(here, step, tight, travelled)
            moved, fits = _along(system, here, step, rate, began, still)
        sane &= fits
        final = _put(final, run, moved)
        settled[run] = still & sane
        if not sane.any():
            break
    return Trial(final, settled, count)


def _along(
    system: System, here: State, step: Step, rate: Array, began: Array, still: Array
) -> tuple[State, Array]:
    """The step, halved until what the same derivatives would still change is less than before.

    That is the natural monotonicity test (P. Deuflhard, Numerische Mathematik 22, 1974, 289-315):
    it stops Newton from going to and fro across the turning of a flow.
    """
    model, size = system.model, _size(here, step)
    share = np.ones_like(size)
    moved, fits = _moved(model, here, step, share)
    for _ in range(HALVINGS):
        left = _size(here, system.again(moved, rate, began))
        worse = ~still & fits & ~(left <= (1 - share / 4) * size)
        if not worse.any():
            break
        share = np.where(worse, share / 2, share)
        moved, fits = _moved(model, here, step, share)
    return moved, fits


def _moved(model: Model, here: State, step: Step, share: Array) -> tuple[State, Array]:
    """The state after a share of a step, unchanged where that is too cold; and where it fits."""
    inside, warm = model.structure.inside, model.unknown_temperatures(here)
    fits = (warm + share * step.temperature > COLDEST).all(axis=0)
    share = np.where(fits, share, 0.0)
    moved = model.state(
        here.mass_flow + share * step.mass_flow, here.pressure[:inside] + share * step.pressure,
        warm + share * step.temperature,
    )  # fmt: skip
    return moved, fits


def _size(state: State, step: Step) -> Array:
    """(variants,) of a step: flows by the largest flow, temperatures by the largest step."""
    flow = np.max(abs(state.mass_flow), axis=0, initial=0.0)
    moved = np.max(abs(step.mass_flow), axis=0, initial=0.0) / np.maximum(flow, 1e-9)
    found: Array = moved + np.max(abs(step.temperature), axis=0, initial=0.0) / LARGEST_STEP
    return found


def _limited(step: Step) -> tuple[Step, Array]:
    """Scaled so that no temperature moves by more than the limit; and whether it is a number."""
    largest = np.max(abs(step.temperature), axis=0, initial=0.0)
    sane = np.isfinite(largest) & np.isfinite(step.mass_flow).all(axis=0)
    share = np.where(sane, np.minimum(1.0, LARGEST_STEP / np.maximum(largest, 1e-30)), 0.0)
    with np.errstate(invalid="ignore"):
        scaled = Step(*(np.where(sane, x, 0.0) * share for x in step))
    return scaled, sane


def _still(before: State, step: Step, tight: bool, travelled: Array) -> Array:
    """Whether a step is as good as none: by the promise of a result, or against what the time
    step has travelled so far."""
    flow = np.max(abs(before.mass_flow + step.mass_flow), axis=0, initial=0.0)
    moved = np.max(abs(step.mass_flow), axis=0, initial=0.0) / np.maximum(flow, 1e-9)
    warmed = np.max(abs(step.temperature), axis=0, initial=0.0)
    whole = np.max(abs(travelled), axis=0, initial=0.0)
    near = 3e-7 if tight else np.clip(0.02 * whole, 1e-6, 0.02)
    found: Array = (moved < (3e-9 if tight else 1e-3)) & (warmed < near)
    return found


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
        found: Array = np.max(abs(temperature - self.temperature), axis=0, initial=0.0) < distance
        return found


def from_rest(
    model: Model, pattern: Pattern, start: State, leaving: Leaving | None = None
) -> tuple[State, Array, Array]:
    """States reached from `start`, whether settled, and steps taken."""
    width = start.mass_flow.shape[1]
    state, done = start, np.zeros(width, bool)
    failed, rejected, steps = np.zeros(width, bool), np.zeros(width, int), np.zeros(width, int)
    time_step, tries = _first_step(model, start), np.zeros(width, int)
    waited = np.zeros(width, int)
    for count in range(HOT_OUTER):
        rise = np.max(model.unknown_temperatures(state) - model.outside_temperature[:1], axis=0)
        failed |= rise > (HOTTEST_RISE if count >= OUTER else RUNAWAY)
        failed |= (count == OUTER) & (rise < HOT)
        run = np.flatnonzero(~done & ~failed)
        if not run.size:
            break
        part, here, dt = model.take(run), _pick(state, run), time_step[run]
        before = model.unknown_temperatures(here)
        if leaving is not None:
            held = leaving.take(run)
            dt = np.where(held.near(before, KEPT_MOVE), np.minimum(dt, held.longest), dt)
        trial = newton(part, pattern, here, CAPACITY / dt, before, rounds=INNER, tight=False)
        move = np.max(abs(model.unknown_temperatures(trial.state) - before), axis=0, initial=0.0)
        good = trial.settled & (move <= LARGEST_MOVE)
        steps[run] += trial.rounds
        state = _put(state, run[good], _pick(trial.state, good))
        grown = dt * np.clip(WANTED_MOVE / np.maximum(move, 1e-12), 0.1, LONGER)
        time_step[run] = np.where(good, np.minimum(grown, 1e12), dt / SHORTER)
        rejected[run] = np.where(good, 0, rejected[run] + 1)
        if leaving is not None:  # fallen back: a turn of the flow makes this side a stable one
            after = model.unknown_temperatures(_pick(state, run))
            failed[run] |= held.near(after, APART) & (move < BACK)
        waited[run] += good
        near = good & (move < SMALL_MOVE) & (waited[run] >= 2 ** tries[run] - 1)
        if near.any():
            here = run[near]
            done[here], state = _finish(model, pattern, state, here, leaving)
            tries[here], waited[here] = np.minimum(tries[here] + 1, PATIENCE), 0
        repair = run[(rejected[run] > 0) & (rejected[run] % 3 == 0)]
        if repair.size:
            state = _put(state, repair, frozen.flow(model.take(repair), _pick(state, repair)))
        failed |= time_step < SHORTEST
    return state, done, steps


def _finish(
    model: Model, pattern: Pattern, state: State, run: Array, leaving: Leaving | None
) -> tuple[Array, State]:
    """Steady Newton from a state that hardly moves; kept if it stays near."""
    here = _pick(state, run)
    before = model.unknown_temperatures(here)
    still = np.zeros(len(run))
    trial = newton(model.take(run), pattern, here, still, before, rounds=20, tight=True)
    moved = np.max(abs(model.unknown_temperatures(trial.state) - before), axis=0, initial=0.0)
    kept = trial.settled & (moved < KEPT_MOVE)
    if leaving is not None:
        kept &= ~leaving.take(run).near(model.unknown_temperatures(trial.state), APART)
    return kept, _put(state, run[kept], _pick(trial.state, kept))


def _first_step(model: Model, start: State) -> Array:
    heat = np.max(abs(model.residual(start).energy), axis=0, initial=0.0)
    found: Array = 5 * CAPACITY / np.maximum(heat, 1e-6)
    return found


def _pick(state: State, variants: Array) -> State:
    return State(*(part[:, variants] for part in state))


def _put(state: State, variants: Array, part: State) -> State:
    return State(*(_wide(whole, variants, piece) for whole, piece in zip(state, part, strict=True)))


def _wide(whole: Array, variants: Array, part: Array) -> Array:
    made = whole.copy()
    made[:, variants] = part
    return made
