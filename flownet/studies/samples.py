"""Samples: numbers drawn from shapes, and all of them solved.

Every input has a stream of its own, which follows from the seed and the input's path alone, so that
more samples go on where fewer stopped, and an input more or less leaves the draws of all others as
they are.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from concurrent.futures import Executor
from hashlib import sha256
from typing import NamedTuple

import numpy as np

from flownet.enclosure.enclosure import Enclosure
from flownet.judging.voids import counted
from flownet.results.limits import Limit, put
from flownet.schema.arrays import Array
from flownet.schema.fields import NONE
from flownet.schema.quantities import Quantity
from flownet.solving.solve import BLOCK, Progress, solve_many
from flownet.studies.sweep_rows import results_of

NORMAL_95 = 1.959963984540054  # standard deviations that hold 95 of 100: normal quantile of 0.975
KEPT_BITS = 52  # bits of a draw: the middle of each step is a double, neither 0 nor 1
Shape = tuple[Callable[[Array], Array], Callable[[float], float]]  # quantile, its inverse
RUN = 8 * BLOCK  # samples whose whole solutions are held at once
GIVEN = ("limit", "level", "noise_distance")  # what a table repeats of the inputs


def uniform(seed: int, path: str, count: int) -> Array:
    """(count,) independent numbers between 0 and 1, both excluded."""
    words = np.frombuffer(sha256(path.encode()).digest(), ">u4")
    stream = np.random.SeedSequence(seed, spawn_key=tuple(int(word) for word in words))
    bits = np.random.PCG64(stream).random_raw(count)
    drawn: Array = ((bits >> np.uint64(64 - KEPT_BITS)).astype(float) + 0.5) / 2.0**KEPT_BITS
    return drawn


def quantiles(
    shape: str, value: float, amount: float, share: Array, low: float = -np.inf,
    high: float = np.inf,
) -> tuple[Array, float]:  # fmt: skip
    """Values below which these shares of all draws lie, and what the range cuts off.

    Parameters
    ----------
    shape : "normal", "lognormal" or "uniform"
        Normal: 95 of 100 within `value` -/+ `amount`. Uniform: all within. Lognormal: the median
        is `value`, 95 of 100 between `value / f` and `value * f` with f = 1 + amount / value.
    value, amount : float
        Same unit; no amount gives `value` itself.
    share : array
        Between 0 and 1, any shape.
    low, high : float
        The shape is cut there and scaled up, so that no draw lies outside (truncated).

    Returns
    -------
    array, float
        Values like `share`; the share of the whole shape that lies outside `low` to `high`.
    """
    if amount == 0 or (shape == "lognormal" and value == 0):
        return np.full(np.shape(share), value), 0.0
    quantile, inverse = _SHAPES[shape](value, amount)
    below, above = inverse(low), inverse(high)
    found = quantile(below + (above - below) * share)
    return np.minimum(np.maximum(found, low), high), 1.0 - (above - below)


def _normal(value: float, amount: float) -> Shape:
    from scipy.special import ndtr, ndtri  # noqa: PLC0415 - heavy

    deviation = amount / NORMAL_95
    return (lambda p: value + deviation * ndtri(p),
            lambda x: float(ndtr((x - value) / deviation)))  # fmt: skip


def _uniform(value: float, amount: float) -> Shape:
    def inverse(x: float) -> float:
        return min(max((x - value + amount) / (2 * amount), 0.0), 1.0)

    return lambda p: value + amount * (2 * p - 1), inverse


def _lognormal(value: float, amount: float) -> Shape:
    from scipy.special import ndtr, ndtri  # noqa: PLC0415 - heavy

    deviation = np.log1p(amount / value) / NORMAL_95

    def inverse(x: float) -> float:
        return float(ndtr(np.log(x / value) / deviation)) if x > 0 else 0.0

    return lambda p: value * np.exp(deviation * ndtri(p)), inverse


_SHAPES: dict[str, Callable[[float, float], Shape]] = {
    "normal": _normal, "uniform": _uniform, "lognormal": _lognormal,
}  # fmt: skip


# --- solved ---------------------------------------------------------------------------------------


class Samples(NamedTuple):
    """Results as arrays, NaN where a sample was not solved or has no such value."""

    quantities: Mapping[str, Quantity]  # result path -> what it is
    values: Mapping[str, Array]  # result path -> (samples,)
    limits: tuple[Limit, ...]  # arrays over samples
    status: tuple[str, ...]  # empty where solved, else what went wrong
    voids: Mapping[str, Array] = NONE  # what makes samples void -> (samples,) bool

    @property
    def sound(self) -> Array:
        """(samples,) which nothing makes void."""
        none = np.zeros(len(self.status), bool)
        return np.asarray(~np.any([none, *self.voids.values()], axis=0))

    @property
    def ok(self) -> Array:
        """(samples,) which were solved."""
        return np.array([not words for words in self.status], bool)


def solve_samples(
    made: Enclosure, drawn: Mapping[str, Array], count: int, executor: Executor | None,
    progress: Progress | None,
) -> Samples:  # fmt: skip
    """Every sample; blocks have a fixed size, so that every executor returns the same numbers."""
    quantities: dict[str, Quantity] = {}
    values: dict[str, Array] = {}
    limits: dict[tuple[str, str], Limit] = {}
    status: tuple[str, ...] = ()
    void: dict[str, Array] = {}
    for start in range(0, count, RUN):
        here = slice(start, min(start + RUN, count))
        batch = solve_many(
            made, {path: column[here] for path, column in drawn.items()},
            executor=executor, progress=_shifted(progress, start, count),
        )  # fmt: skip
        for path, quantity in results_of(batch):
            if quantity is not None and path.rpartition(".")[2] not in GIVEN:
                quantities[path] = quantity
                values.setdefault(path, np.full(count, np.nan))[here] = batch[path]
        for item in batch.limits:
            put(limits, item, here, count)
        for word, runs in counted(batch, made.applied.failed).items():
            void.setdefault(word, np.zeros(count, bool))[here] = runs
        status += batch.status
    kept = {path: column for path, column in values.items() if not np.isnan(column).all()}
    return Samples(quantities, kept, tuple(limits.values()), status, void)


def _shifted(progress: Progress | None, start: int, count: int) -> Progress | None:
    if progress is None:
        return None
    return lambda done, total: progress(start + done, count)
