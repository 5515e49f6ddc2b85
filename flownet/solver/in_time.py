"""Temperatures in time, with flows that follow at once: one stretch in which nothing jumps.

What is integrated (`scipy.integrate.BDF`: implicit, of variable order, its steps held to an error)
are the temperatures of all that stores heat. For each of its rates the flows of those temperatures
are solved by Newton's method from the flows of the step before; its Jacobian is exact: a complex
step of every unknown at once, to which flows, pressures and mixtures answer by the linearised
balances. Where flows of that kind end as temperatures move on (a draught turns), Newton finds none:
then the air is marched, with its inertia, from the last ones to those that it comes to rest at.
"""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field
from functools import partial
from typing import Any, NamedTuple

import numpy as np

from flownet.columns import Inputs
from flownet.equations.assemble import assemble
from flownet.equations.residual import residual
from flownet.equations.state import Model, State
from flownet.equations.stores import AIR_LAG, Moment, Stores, Warmth
from flownet.schema.arrays import Array
from flownet.schema.errors import NoSolution
from flownet.solver import newton, speeds
from flownet.solver import tolerances as tol
from flownet.solver.coupled import Coupled, chords, come_to_rest, held
from flownet.solver.dividing import structure_of
from flownet.solver.jacobian import Pattern, System
from flownet.solver.switching import Following

TO_AND_FRO = (
    "no course found after {:.4g} s: flows turn to and fro, or end without others that the air "
    "could come to; open the smallest branch, or give what stands there a heat_capacity"
)


class LostError(Exception):
    """No flows were found near the last ones."""

    def __init__(self, time: float) -> None:
        super().__init__(time)
        self.time = time


class Leg(NamedTuple):
    """One step of the integrator."""

    start: float
    end: float
    dense: Callable[[Array], Array]  # times (k,) -> unknowns (unknowns, k)
    state: State  # where it starts


class FlowTurn(NamedTuple):
    """Flows that end, and others that follow: at a time, with the flows after it."""

    time: float
    before: State
    after: State


@dataclass(eq=False)
class Stretch:
    """The equations between two events; it ends early where a fan switches."""

    at: Callable[[Array], Inputs]  # times (k,) -> inputs of k variants, things by name
    fixed: bool  # whether inputs are the same at all times
    longest: float = np.inf  # s, of a step: what changes with time is not to be stepped over
    error: float = tol.TIME_ERROR  # K, W, of a step
    turns: list[FlowTurn] = field(default_factory=list)

    def __post_init__(self) -> None:
        first = self.at(np.zeros(1))
        self.structure, self.first = structure_of(first), first
        self.pattern, self.follow = Pattern(self.structure), Following.of(first)
        self.steady_model = assemble(first, self.structure)
        self.begin_stores = Stores.of(first, self.steady_model)
        self._system: System | None = None
        # the last that was made, by the times and speeds it was made of
        self._made: dict[Any, Stores] = {(None, b""): self.begin_stores}
        self.last: State | None = None  # flows at the last step that was taken
        self._seen: State | None = None  # the last that were found

    # --- unknowns ------------------------------------------------------------------------------

    def unknowns(self, now: Warmth, felt: Array) -> Array:
        """(unknowns, times) all in one; `felt`: (fans, times) temperatures that fans go by."""
        return np.concatenate([*now, felt if self.follow is not None else felt[:0]])

    def split(self, y: Array) -> tuple[Warmth, Array]:
        """The other way."""
        s = self.begin_stores
        faces = len(s.walls.rows)
        sizes = np.cumsum([self.structure.inside, len(s.rows), faces + faces, len(s.fed)])
        *now, felt = np.split(y, sizes)
        return Warmth(*now), felt

    def stores(self, times: Array, felt: Array) -> Stores:
        """The model at some times, and what in it stores heat."""
        follow = self.follow
        ratios = felt if follow is None else follow.speed(felt)
        key = None if self.fixed else times.tobytes(), ratios.tobytes()
        if key not in self._made:
            inputs = self.at(times)
            if follow is not None:
                inputs = speeds.placed(inputs, follow.follow.active, ratios)
            self._made = {key: Stores.of(inputs, assemble(inputs, self.structure))}
        return self._made[key]

    # --- fans that switch ------------------------------------------------------------------------

    def _due(self, moment: Moment) -> Array:
        return np.zeros((0, 1), int) if self.follow is None else self.follow.due(moment)

    def _switched(self, leg: Leg) -> Leg:
        """A step up to where the first fan switches in it."""
        low, high = leg.start, leg.end
        while high - low > tol.SWITCH_TIME:
            middle = (low + high) / 2
            y = leg.dense(np.array([middle]))[:, 0]
            low, high = (low, middle) if self._due(self.moment(middle, y)).any() else (middle, high)
        return leg._replace(end=float(high))

    # --- flows at given temperatures -------------------------------------------------------------

    def warmed(self, now: Warmth, model: Model, guess: State) -> State:
        """A state at the temperatures of now; nothing flows through what is closed now."""
        guess = guess._replace(mass_flow=np.where(model.open, guess.mass_flow, 0.0))
        mixes = model.unknown_temperatures(guess)[self.structure.inside :]
        return model.warmed(guess, np.concatenate([now.air, mixes]))

    def moments(self, times: Array, y: Array, guess: State) -> Moment:
        """Flows of all these times by full Newton; LostError where none is near the guess."""
        now, felt = self.split(y)
        stores = self.stores(times, felt)
        model = stores.model(now)
        state = self.warmed(now, model, guess)
        problem = Coupled(model, self.pattern, held(model, state), True)
        found = newton.solve(problem, state, len(times), tol.DIRECT_ROUNDS)
        if not found.done.all():
            raise LostError(float(times[~found.done][0]))
        return Moment(stores, now, model, self.warmed(now, model, found.state))

    def moment(self, time: float, y: Array) -> Moment:
        """Flows of one time by chords: derivatives of an earlier time serve on while they lead."""
        assert self.last is not None
        now, felt = self.split(y[:, None])
        stores = self.stores(np.array([time]), felt)
        model = stores.model(now)
        state = self.warmed(now, model, self.last)
        found, self._system = chords(model, self.pattern, state, self._system)
        if found is None:
            at = self.moments(np.array([time]), y[:, None], self.last)
        else:
            at = Moment(stores, now, model, self.warmed(now, model, found))
        self._seen = at.state
        return at

    def rate(self, time: float, y: Array) -> Array:
        """(unknowns,) of their change [1/s]."""
        return self._rates(self.moment(time, y), y[:, None])[:, 0]

    def _rates(self, moment: Moment, y: Array) -> Array:
        _, felt = self.split(y)
        rates = moment.stores.rates(moment.now, moment.state, moment.here)
        return self.unknowns(rates, felt if self.follow is None else self.follow.rate(moment, felt))

    def slopes(self, time: float, y: Array) -> Array:
        """(unknowns, unknowns) of the rates, exact."""
        at, size = self.moment(time, y), len(y)
        system = System(at.model, self.pattern, at.state, held(at.model, at.state))
        tilted = y[:, None] + 1j * tol.STEP * np.eye(size)
        now, felt = self.split(tilted)
        stores = self.stores(np.full(size, time), felt)
        model = stores.model(now)
        wide = State(*(np.repeat(part, size, axis=1) for part in at.state))
        state = self.warmed(now, model, wide)
        direct = residual(model, state)
        zero = np.zeros((self.structure.inside, size))
        answer = system.answer(
            direct.pressure.imag / tol.STEP, np.zeros(wide.mass_flow.shape), zero,
            direct.mix.imag / tol.STEP,
        )  # fmt: skip
        state = self.warmed(now, model, model.moved(state, answer, 1j * tol.STEP))
        found: Array = self._rates(Moment(stores, now, model, state), tilted).imag / tol.STEP
        return found

    # --- air that does not follow at once --------------------------------------------------------

    def marched(self, time: float, y: Array, begin: State) -> State:
        """Flows that the air comes to rest at, by its inertia, at temperatures that are held."""
        now, felt = self.split(y[:, None])
        model = self.stores(np.array([time]), felt).model(now)
        warmed = partial(self.warmed, now, model)
        state = come_to_rest(model, self.pattern, warmed(begin), warmed)
        self._system = None
        return self.moments(np.array([time]), y[:, None], state).state

    def begun(self, time: float, now: Warmth, felt: Array, begin: State) -> Array:
        """(unknowns,) with flows that follow from those before, and with what parts give to air
        just then; fans that are past a jump by then have switched."""
        felt = felt if self.follow is None else self.follow.begun(felt)
        self.last = None
        for _ in range(tol.BEGINNINGS):
            y = self.unknowns(now, felt)[:, 0]
            at = self._follows(time, y, begin)
            self.last = begin = at.state
            rates = at.stores.rates(now, at.state, at.here)
            given = now.given + rates.given * AIR_LAG
            due = self._due(at)
            if np.all(abs(given - now.given) <= tol.TIME_ERROR) and not due.any():
                break
            if due.any():
                assert self.follow is not None
                felt, self.last = self.follow.switched(time, due, felt), None
            now = now._replace(given=given)
        return y

    def _follows(self, time: float, y: Array, begin: State) -> Moment:
        """Flows near the last; marched to from `begin` where there are none."""
        if self.last is not None:
            with suppress(LostError):
                return self.moment(time, y)
        self.last = self.marched(time, y, begin)
        return self.moment(time, y)

    # --- in time ---------------------------------------------------------------------------------

    def run(
        self, begin: float, end: float, y: Array, enough: Callable[[list[Leg]], bool]
    ) -> tuple[list[Leg], Array]:
        """Steps from one time to the other, to the first switch or until there are enough, and the
        unknowns there; `last` is set."""
        legs: list[Leg] = []
        time, longest, bound = begin, self.longest, end
        while time < end:
            try:
                solver = self._solver(time, y, bound, longest)
                while solver.status == "running":
                    solver.step()
                    assert self.last is not None
                    leg = Leg(time, solver.t, solver.dense_output(), self.last)
                    if self.follow and self._due(self.moment(solver.t, solver.y)).any():
                        leg = self._switched(leg)
                        return [*legs, leg], self._ended(leg)
                    legs.append(leg)
                    time, y, self.last = solver.t, solver.y, self._seen
                    if enough(legs):
                        return legs, y
                    if len(legs) > tol.MOST_LEGS:
                        raise NoSolution(TO_AND_FRO.format(time))
                longest, bound = self.longest, end
            except LostError as lost:
                ahead = lost.time - time
                if ahead > tol.TURN_TIME:  # in shorter steps, to just behind where it was lost
                    longest = ahead * tol.TURN_SHARE
                    bound = min(lost.time + longest, end)
                    continue
                leg = self._turned(time, y, end)
                legs.append(leg)
                time, y = leg.end, leg.dense(np.array([leg.end]))[:, 0]
                longest, bound = self.longest, end
        return legs, y

    def _ended(self, leg: Leg) -> Array:
        """(unknowns,) at its end, once the fans have switched that do so there."""
        time, y = leg.end, leg.dense(np.array([leg.end]))[:, 0]
        at = self.moment(time, y)
        self.last = at.state
        now, felt = self.split(y[:, None])
        assert self.follow is not None
        zone = self.follow.zone
        felt = self.follow.switched(time, self._due(at), felt)
        self.follow.zone = zone  # that of the stretch, for what is read out of it
        return self.unknowns(now, felt)[:, 0]

    def _solver(self, time: float, y: Array, end: float, longest: float) -> Any:
        from scipy.integrate import BDF  # noqa: PLC0415 - only where time passes

        first = min(tol.FIRST, longest, end - time)
        return BDF(self.rate, time, y, end, max_step=longest, first_step=first, jac=self.slopes,
                   rtol=tol.TIME_SHARE, atol=np.full(len(y), self.error))  # fmt: skip

    def _turned(self, time: float, y: Array, end: float) -> Leg:
        """Past the end of the flows there were: the air is marched to others."""
        assert self.last is not None
        before, rate = self.last, np.zeros(len(y))
        with suppress(LostError):  # the step's own last correction may lie beyond their end
            rate = self.rate(time, y)
        for ahead in tol.TURN_TIMES:
            later = min(time + ahead, end)
            straight = partial(_straight, time, y, rate)
            there = straight(np.array([later]))[:, 0]
            try:
                self.last = self.marched(later, there, before)
            except LostError:
                continue
            self.turns.append(FlowTurn(later, before, self.last))
            if len(self.turns) > tol.MOST_TURNS:
                break
            return Leg(time, later, straight, before)
        raise NoSolution(TO_AND_FRO.format(time))


def _straight(time: float, y: Array, rate: Array, times: Array) -> Array:
    """(unknowns, times) at one rate."""
    found: Array = y[:, None] + rate[:, None] * (times - time)
    return found
