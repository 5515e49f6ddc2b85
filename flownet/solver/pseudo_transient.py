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
from typing import NamedTuple

import numpy as np

from flownet.equations.branch import HOTTEST_RISE
from flownet.equations.residual import mixed, residual
from flownet.equations.state import Model, State
from flownet.schema.arrays import Array
from flownet.solver import tolerances as tol
from flownet.solver.jacobian import Pattern, Step, System
from flownet.solver.tolerances import largest


@dataclass(eq=False)
class Trial:
    """The end of one time step, of all variants in it."""

    state: State
    settled: Array  # (variants,) the equations of the step are solved
    rounds: Array  # (variants,)


def newton(
    model: Model, pattern: Pattern, state: State, inverse_time: Array, before: Array,
    *, rounds: int, tight: bool, air: tuple[Array, Array] | None = None,
) -> Trial:  # fmt: skip
    """Newton on one implicit step, see `coupled.System`; `inverse_time` 0 is steady.

    `tight`: until nothing moves, to the promise of a result; else near enough for a path.
    """
    final, count = state, np.zeros(state.mass_flow.shape[1], int)
    settled, failed = count > 0, count > 0
    for _ in range(rounds):
        run = np.flatnonzero(~settled & ~failed)
        if not run.size:
            break
        count[run] += 1
        part, here, rate, began = (
            model.take(run),
            _pick(final, run),
            inverse_time[run],
            before[:, run],
        )
        own = None if air is None else (air[0][run], air[1][:, run])
        with np.errstate(all="ignore"):
            system = System(part, pattern, here, rate, began, own)
            step, sane = _limited(system.solve())
            travelled = model.unknown_temperatures(here) - began
            still = sane & _still(here, step, tight, travelled)
            moved, fits = _along(system, here, step, still)
        sane &= fits
        final = _put(final, run, moved)
        settled[run], failed[run] = still & sane, ~sane
    return Trial(final, settled, count)


def _along(system: System, here: State, step: Step, still: Array) -> tuple[State, Array]:
    """The step, halved until what the same derivatives would still change is less than before.

    That is the natural monotonicity test (P. Deuflhard, Numerische Mathematik 22, 1974, 289-315):
    it stops Newton from going to and fro across the turning of a flow.
    """
    model, size = system.model, _size(here, step)
    share = np.ones_like(size)
    moved, fits = _moved(model, here, step, share)
    for _ in range(tol.HEAT_HALVINGS):
        left = _size(here, system.again(moved))
        worse = ~still & fits & ~(left <= (1 - share / 4) * size)
        if not worse.any():
            break
        share = np.where(worse, share / 2, share)
        moved, fits = _moved(model, here, step, share)
    return moved, fits


def _moved(model: Model, here: State, step: Step, share: Array) -> tuple[State, Array]:
    """The state after a share of a step, unchanged where that is too cold; and where it fits."""
    inside, warm = model.structure.inside, model.unknown_temperatures(here)
    fits = (warm + share * step.temperature > tol.COLDEST).all(axis=0)
    share = np.where(fits, share, 0.0)
    moved = model.state(
        here.mass_flow + share * step.mass_flow, here.pressure[:inside] + share * step.pressure,
        warm + share * step.temperature,
    )  # fmt: skip
    return moved, fits


def _size(state: State, step: Step) -> Array:
    """(variants,) of a step: flows by the largest flow, temperatures by the largest step."""
    flow = largest(state.mass_flow)
    moved = largest(step.mass_flow) / np.maximum(flow, 1e-9)
    found: Array = moved + largest(step.temperature) / tol.LARGEST_STEP
    return found


def _limited(step: Step) -> tuple[Step, Array]:
    """Scaled so that no temperature moves by more than the limit; and whether it is a number."""
    most = largest(step.temperature)
    sane = np.isfinite(most) & np.isfinite(step.mass_flow).all(axis=0)
    share = np.where(sane, np.minimum(1.0, tol.LARGEST_STEP / np.maximum(most, 1e-30)), 0.0)
    with np.errstate(invalid="ignore"):
        scaled = Step(*(np.where(sane, x, 0.0) * share for x in step))
    return scaled, sane


def _still(before: State, step: Step, tight: bool, travelled: Array) -> Array:
    """Whether a step is as good as none: by the promise of a result, or against what the time
    step has travelled so far."""
    flow = largest(before.mass_flow + step.mass_flow)
    moved = largest(step.mass_flow) / np.maximum(flow, 1e-9)
    warmed = largest(step.temperature)
    whole = largest(travelled)
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
        found: Array = largest(temperature - self.temperature) < distance
        return found


class _Going(NamedTuple):
    """Where a march stands; variants last."""

    state: State
    time_step: Array  # s
    flow_rate: Array  # (branches, variants) of the last step; NaN before the first
    warm_rate: Array  # (temperatures, variants)


def from_rest(
    model: Model, pattern: Pattern, start: State, leaving: Leaving | None = None
) -> tuple[State, Array, Array]:
    """States that time leads to from `start`, whether settled, and Newton steps taken."""
    going = _begun(model, start)
    done, failed = (np.zeros(start.mass_flow.shape[1], bool) for _ in range(2))
    steps, tries, waited = (np.zeros(len(done), int) for _ in range(3))
    for count in range(tol.HOT_OUTER):
        warm = model.unknown_temperatures(going.state)
        rise = np.max(warm - model.outside_temperature[:1], axis=0)
        failed |= rise > (HOTTEST_RISE if count >= tol.OUTER else tol.RUNAWAY)
        failed |= (count == tol.OUTER) & (rise < tol.HOT)
        run = np.flatnonzero(~done & ~failed)
        if not run.size:
            break
        part = model if run.size == len(done) else model.take(run)
        held = None if leaving is None else leaving.take(run)
        after, good, move, rounds = _stepped(part, pattern, _chosen(going, run), held)
        going = _written(going, run, after)
        steps[run] += rounds
        waited[run] += good
        near = good & (move < tol.SMALL_MOVE) & (waited[run] >= 2 ** tries[run] - 1)
        if held is not None:  # fallen back: a turn of the flow makes this side a stable one
            warm = model.unknown_temperatures(going.state)[:, run]
            failed[run] |= good & held.near(warm, tol.APART) & (move < tol.BACK)
        if near.any():
            here = run[near]
            done[here], state = _finish(model, pattern, going.state, here, leaving)
            going = going._replace(state=state)
            tries[here], waited[here] = np.minimum(tries[here] + 1, tol.PATIENCE), 0
        failed |= going.time_step < tol.SHORTEST
    return going.state, done, steps


def _begun(model: Model, start: State) -> _Going:
    """Air drawn in is mixed at once: nothing holds its temperature."""
    inside, warm = model.structure.inside, model.unknown_temperatures(start)
    warm[inside:] = mixed(model, start)
    start = model.state(start.mass_flow, start.pressure[:inside], warm)
    heat = np.max(abs(residual(model, start).energy), axis=0, initial=1e-6)
    step = np.minimum(tol.CAPACITY * tol.WARM_ERROR / 4 / heat, tol.FIRST)
    return _Going(start, step, np.full(start.mass_flow.shape, np.nan), np.full(warm.shape, np.nan))


def _stepped(
    model: Model, pattern: Pattern, going: _Going, leaving: Leaving | None
) -> tuple[_Going, Array, Array, Array]:
    """One time step of each variant, taken where it is solved and straight enough; where it was;
    what a temperature would change by in a long step [K], infinite while steps are short; and
    Newton steps."""
    state, dt = going.state, going.time_step
    most = np.full(dt.shape, tol.LONGEST)
    flow, warm = state.mass_flow, model.unknown_temperatures(state)
    if leaving is not None:
        most = np.where(leaving.near(warm, tol.KEPT_MOVE), leaving.longest, tol.LONGEST)
        dt = np.minimum(dt, most)
    trial = newton(model, pattern, state, tol.CAPACITY / dt, warm, rounds=tol.INNER, tight=False,
                   air=(tol.INERTANCE / dt, flow))  # fmt: skip
    flowed, warmed = trial.state.mass_flow - flow, model.unknown_temperatures(trial.state) - warm
    wrong = _wrong(going, dt, flowed, warmed)
    good = trial.settled & (wrong <= tol.MOST_WRONG)
    factor = np.clip(0.9 / np.sqrt(np.maximum(wrong, 1e-12)), tol.SHORTER, tol.LONGER)
    longer = np.minimum(dt * np.where(trial.settled, factor, tol.SHORTER), tol.LONGEST)
    move = np.where(dt >= np.minimum(most, tol.LONG), largest(warmed), np.inf)
    after = _Going(trial.state, longer, flowed / dt, warmed / dt)
    kept = _Going(state, longer, going.flow_rate, going.warm_rate)
    taken = _written(kept, good, _chosen(after, good))
    return taken, good, move * np.maximum(tol.LONG / dt, 1.0), trial.rounds


def _wrong(going: _Going, dt: Array, flowed: Array, warmed: Array) -> Array:
    """(variants,) error of a time step over that which is allowed: half the difference from going
    on straight; of the first one, half of what temperatures change."""
    first = np.isnan(going.warm_rate).all(axis=0)
    bent = largest(warmed - dt * np.where(first, 0.0, going.warm_rate)) / tol.WARM_ERROR
    size = largest(going.state.mass_flow + flowed)
    scale = tol.FLOW_ERROR * np.maximum(size, tol.FLOW_FLOOR) + tol.OWN_ERROR * abs(
        going.state.mass_flow
    )
    turned = np.where(first, 0.0, largest((flowed - dt * going.flow_rate) / scale))
    found: Array = np.maximum(bent, turned) / 2
    return found


def _finish(
    model: Model, pattern: Pattern, state: State, run: Array, leaving: Leaving | None
) -> tuple[Array, State]:
    """Steady Newton from a state that hardly moves; kept if it stays near."""
    here = _pick(state, run)
    before = model.unknown_temperatures(here)
    still = np.zeros(len(run))
    trial = newton(model.take(run), pattern, here, still, before, rounds=20, tight=True)
    moved = largest(model.unknown_temperatures(trial.state) - before)
    kept = trial.settled & (moved < tol.KEPT_MOVE)
    if leaving is not None:
        kept &= ~leaving.take(run).near(model.unknown_temperatures(trial.state), tol.APART)
    return kept, _put(state, run[kept], _pick(trial.state, kept))


def _chosen(going: _Going, run: Array) -> _Going:
    return _Going(_pick(going.state, run), *(part[..., run] for part in going[1:]))


def _written(going: _Going, run: Array, part: _Going) -> _Going:
    others = (_wide(whole, run, own) for whole, own in zip(going[1:], part[1:], strict=True))
    return _Going(_put(going.state, run, part.state), *others)


def _pick(state: State, variants: Array) -> State:
    return State(*(part[:, variants] for part in state))


def _put(state: State, variants: Array, part: State) -> State:
    return State(*(_wide(whole, variants, piece) for whole, piece in zip(state, part, strict=True)))


def _wide(whole: Array, variants: Array, part: Array) -> Array:
    made = whole.copy()
    made[..., variants] = part
    return made
