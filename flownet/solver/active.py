"""Work on the variants that are not done: gather them, step them, put what ended in its place.

A tree is a tuple of trees, an array whose last axis is the variants (or has length 1), or anything
with a `take` of its own (a model, a problem, factors). No loop of the solver keeps masks itself.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from flownet.schema.arrays import Array, Booleans, Integers, Tree, taken


def put(whole: Any, at: Booleans | Integers, part: Any) -> None:
    """Write some variants of a tree of full arrays in place: only into arrays of our own."""
    if isinstance(whole, tuple):
        for target, piece in zip(whole, part, strict=True):
            put(target, at, piece)
    else:
        whole[..., at] = part


def written(whole: Tree, at: Booleans | Integers, part: Any) -> Tree:
    """A copy with some variants written."""
    made = copied(whole)
    put(made, at, part)
    return made


def copied(tree: Tree) -> Tree:
    """A tree of arrays of its own."""
    made: Tree = _mapped(np.array, tree)
    return made


def either(first: Booleans, tree: Tree, other: Tree) -> Tree:
    """Variants of one tree where `first`, else those of the other."""
    made: Tree = _mapped(lambda a, b: np.where(first, a, b), tree, other)
    return made


def _mapped(function: Any, tree: Any, *others: Any) -> Any:
    if not isinstance(tree, tuple):
        return function(tree, *others)
    parts = (_mapped(function, *each) for each in zip(tree, *others, strict=True))
    return type(tree)(*parts) if hasattr(tree, "_fields") else tuple(parts)


class Ended(NamedTuple):
    """All variants where they ended."""

    state: Any
    done: Booleans  # (variants,) settled; the others failed or ran out of rounds
    rounds: Integers  # (variants,)


class Active:
    """Which variants of a block go on, by number, and where the others ended.

    A variant is written when it ends and never looked at again, so that its numbers do not depend
    on when its neighbours end.
    """

    def __init__(self, state: Any, width: int) -> None:
        self.whole = copied(state)
        self.numbers, self._live = np.arange(width), np.ones(width, bool)
        self.done, self.rounds = np.zeros(width, bool), np.zeros(width, np.intp)

    def __len__(self) -> int:
        return len(self.numbers)

    def settle(
        self, state: Any, done: Booleans, failed: Booleans, *others: Any,
        rounds: Array | int = 1, thin: float = 0.0,
    ) -> tuple[Any, ...]:  # fmt: skip
        """Keep what ended; return the state and everything else of what goes on.

        thin : share of variants that may stay among the others though they have ended, where
            gathering costs more than they do.
        """
        self.rounds[self.numbers] += np.where(self._live, rounds, 0)
        ended = (done | failed) & self._live
        if ended.any():
            at = self.numbers[ended]
            put(self.whole, at, taken(state, ended))
            self.done[at] = done[ended]
            self._live &= ~ended
        live = self._live
        if live.all() or np.mean(~live) <= thin:
            return (state, *others)
        self.numbers, self._live = self.numbers[live], live[live]
        if not len(self):
            return (state, *others)
        return tuple(taken(each, live) for each in (state, *others))

    def ended(self, state: Any) -> Ended:
        """With those that ran out of rounds put where they stand."""
        if len(self):
            put(self.whole, self.numbers[self._live], taken(state, self._live))
        return Ended(self.whole, self.done, self.rounds)


def spread(part: Any, run: Array, width: int, fill: float = np.nan) -> Any:
    """A tree of some variants as one of `width`, the others filled."""

    def wide(values: Array) -> Array:
        made = np.full((*values.shape[:-1], width), fill, float)
        made[..., run] = values
        return made

    return _mapped(wide, part)
