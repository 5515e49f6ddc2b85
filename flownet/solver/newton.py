"""One damped Newton's method, for every set of balances that the solver has.

What is solved is a `Problem`: it gives Newton's step, moves along it, says when it is done, and has
a merit by which a step is too long. Two merits are in use. For flow at fixed temperatures it is the
slope of the content along the step (below zero where the step begins): a step is cut until that
slope has fallen to half, by regula falsi (M. Dowell, P. Jarratt, BIT 11, 1971, 168-174: Illinois).
For flow with heat, which has no content, it is the size of what the same derivatives would still
change (P. Deuflhard, Numerische Mathematik 22, 1974, 289-315): a step is halved.
"""

from __future__ import annotations

from typing import Any, NamedTuple, Protocol

import numpy as np

from flownet.schema.arrays import Array, Booleans, taken
from flownet.solver.active import Active, Ended, either, written


class Way(NamedTuple):
    """Newton's step from where a state stands; variants last."""

    step: Any  # tree of changes of the unknowns
    begin: Array  # (variants,) merit where the step begins: a slope < 0, or a size > 0
    sane: Booleans  # (variants,) the step is made of numbers
    aid: Any = ()  # tree: what the problem measures the merit by


class Problem(Protocol):
    """Balances of all variants that are under way."""

    cuts: int  # most evaluations along one step
    halving: bool  # the merit is a size, not a slope

    def take(self, chosen: Any) -> Any:
        """That of some variants."""

    def way(self, state: Any) -> Way:
        """Newton's step."""

    def moved(self, state: Any, way: Way, share: Array) -> tuple[Any, Booleans]:
        """The state after a share (variants,) of the step, and where that may be gone to."""

    def merit(self, new: Any, way: Way) -> Array:
        """(variants,) of a state on the way."""

    def allowed(self, way: Way, share: Array) -> Array:
        """(variants,) the largest merit of a good step."""

    def exempt(self, state: Any, new: Any, way: Way) -> Booleans:
        """(variants,) where the merit is not asked for: it would drown in round-off."""

    def ready(self, state: Any, new: Any, way: Way) -> Booleans:
        """(variants,) where the new state is as good as wanted."""


def solve(problem: Problem, state: Any, width: int, rounds: int) -> Ended:
    """Steps until every variant is ready, fails, or has had its rounds."""
    active = Active(state, width)
    for _ in range(rounds):
        way = problem.way(state)
        share = np.ones(len(active))
        new, fits = problem.moved(state, way, share)
        good = fits & way.sane
        long = good & ~problem.exempt(state, new, way)
        if long.any():
            value = problem.merit(new, way)
            long &= ~(value <= problem.allowed(way, share))
        if long.any():
            every = bool(long.all())
            part = (problem, state, way) if every else taken((problem, state, way), long)
            shorter, good[long] = _shortened(*part, value[long])
            new = shorter if every else written(new, long, shorter)
        ready = problem.ready(state, new, way) & good
        new = new if good.all() else either(good, new, state)  # no step: it stays where it was
        state, problem = active.settle(new, ready, ~good, problem)
        if not len(active):
            break
    return active.ended(state)


def _shortened(problem: Problem, state: Any, way: Way, end: Array) -> tuple[Any, Booleans]:
    """States after shares of steps that are too long, and where they may be gone to."""
    share, wanted = np.ones_like(end), np.ones(end.shape, bool)
    bracket = Bracket(0 * share, share, way.begin, end, 0 * share)
    for _ in range(problem.cuts):
        shorter = share / 2 if problem.halving else bracket.between()
        share = np.where(wanted, shorter, share)
        new, fits = problem.moved(state, way, share)
        value = problem.merit(new, way)
        wanted &= fits & ~(abs(value) <= problem.allowed(way, share))
        if not wanted.any():
            break
        bracket = bracket if problem.halving else bracket.narrowed(share, value)
    return new, fits


class Bracket(NamedTuple):
    """Where a value changes its sign, by regula falsi (Illinois); (variants,)."""

    low: Array
    high: Array
    at_low: Array  # values there
    at_high: Array
    side: Array  # of the end that stood still last: its value is halved if it does again

    def between(self) -> Array:
        """Where to look next."""
        span = self.at_high - self.at_low
        straight = self.low * self.at_high - self.high * self.at_low
        flat = span == 0
        return np.where(flat, (self.low + self.high) / 2, straight / np.where(flat, 1.0, span))

    def narrowed(self, at: Array, value: Array) -> Bracket:
        """With what was found there."""
        lower, side = np.sign(value) * np.sign(self.at_low) > 0, self.side
        return Bracket(
            np.where(lower, at, self.low), np.where(lower, self.high, at),
            np.where(lower, value, np.where(side > 0, self.at_low / 2, self.at_low)),
            np.where(lower, np.where(side < 0, self.at_high / 2, self.at_high), value),
            np.where(lower, -1.0, 1.0),
        )  # fmt: skip
