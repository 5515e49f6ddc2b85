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
    low, high = np.zeros_like(end), np.ones_like(end)
    at_low, at_high, side = way.begin, end, np.zeros_like(end)
    share, wanted = np.ones_like(end), np.ones(end.shape, bool)
    for _ in range(problem.cuts):
        if problem.halving:
            share = np.where(wanted, share / 2, share)
        else:
            span = np.where(wanted, at_high - at_low, 1.0)
            share = np.where(wanted, (low * at_high - high * at_low) / span, share)
        new, fits = problem.moved(state, way, share)
        value = problem.merit(new, way)
        wanted &= fits & ~(abs(value) <= problem.allowed(way, share))
        if not wanted.any():
            break
        below = value < 0
        low, high = np.where(below, share, low), np.where(below, high, share)
        at_low = np.where(below, value, np.where(side > 0, at_low / 2, at_low))
        at_high = np.where(below, np.where(side < 0, at_high / 2, at_high), value)
        side = np.where(below, -1.0, 1.0)
    return new, fits
