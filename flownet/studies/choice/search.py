"""A choice with too many combinations to try them all: differential evolution in batches.

Each generation is one batch of combinations in every scenario. What breaks a limit counts worse
than anything that holds, what has no solution worse than anything that has.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from flownet.schema.arrays import Array
from flownet.studies.choice.space import Space

PER_AXIS = 12  # members of a generation, an axis
MEMBERS = (24, 240)  # at least, at most
BROKEN = 1e6  # more than any measure
NOTHING = 1e9  # instead of infinity, which has no spread

Judge = Callable[[Array], Array]  # (combinations, axes) -> (combinations,) the less the better


def search(space: Space, judge: Judge, *, most: int, seed: int) -> None:
    """Let `judge` see generation after generation, until they are alike or `most` were seen.

    Parameters
    ----------
    space : Space
        Axes with a list are whole numbers, the places in it; the others are values.
    judge : callable
        Is given the combinations of a generation.
    most : int
        Combinations, over all generations.
    seed : int
    """
    from scipy import optimize  # noqa: PLC0415 - 0.3 s that only this needs

    axes = space.axes
    bounds = [(a.low, a.high) if a.continuous else (0, len(a.values) - 1) for a in axes]
    members = int(np.clip(PER_AXIS * len(axes), *MEMBERS))
    first = np.random.default_rng(seed)
    start = np.array([
        first.uniform(low, high, members) if axis.continuous
        else first.integers(0, len(axis.values), members)
        for axis, (low, high) in zip(axes, bounds, strict=True)
    ], float).T  # fmt: skip

    def values(columns: Array) -> Array:
        rows = np.atleast_2d(columns.T)
        whole = np.array([not axis.continuous for axis in axes])
        return judge(np.where(whole, np.round(rows), rows))

    optimize.differential_evolution(
        values, bounds, init=start, integrality=[not a.continuous for a in axes],
        maxiter=max(most // members - 1, 1), tol=1e-6, polish=False, vectorized=True,
        updating="deferred", rng=np.random.default_rng(seed),
    )  # fmt: skip


def merit(measure: Array, score: Array, accepted: Array) -> Array:
    """(combinations,) what is minimised: the measure of what holds, else how far it is off."""
    off = BROKEN + np.where(np.isfinite(score), -score, NOTHING)
    known = np.where(np.isnan(measure), BROKEN / 2, measure)
    return np.where(accepted, np.maximum(known, -BROKEN), off)
