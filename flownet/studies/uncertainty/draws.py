"""Numbers drawn from shapes: every input has a stream of its own.

The stream of an input follows from the seed and the input's path alone, so that more samples go on
where fewer stopped, and an input more or less leaves the draws of all others as they are.
"""

from __future__ import annotations

from collections.abc import Callable
from hashlib import sha256

import numpy as np

from flownet.schema.arrays import Array

WITHIN = 1.959963984540054  # standard deviations that hold 95 of 100: normal quantile of 0.975
KEPT = 52  # bits of a draw: the middle of each step is a double, neither 0 nor 1
Shape = tuple[Callable[[Array], Array], Callable[[float], float]]  # quantile, its inverse


def uniform(seed: int, path: str, count: int) -> Array:
    """(count,) independent numbers between 0 and 1, both excluded."""
    words = np.frombuffer(sha256(path.encode()).digest(), ">u4")
    stream = np.random.SeedSequence(seed, spawn_key=tuple(int(word) for word in words))
    bits = np.random.PCG64(stream).random_raw(count)
    drawn: Array = ((bits >> np.uint64(64 - KEPT)).astype(float) + 0.5) / 2.0**KEPT
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

    deviation = amount / WITHIN
    return (lambda p: value + deviation * ndtri(p),
            lambda x: float(ndtr((x - value) / deviation)))  # fmt: skip


def _uniform(value: float, amount: float) -> Shape:
    def inverse(x: float) -> float:
        return min(max((x - value + amount) / (2 * amount), 0.0), 1.0)

    return lambda p: value + amount * (2 * p - 1), inverse


def _lognormal(value: float, amount: float) -> Shape:
    from scipy.special import ndtr, ndtri  # noqa: PLC0415 - heavy

    deviation = np.log1p(amount / value) / WITHIN

    def inverse(x: float) -> float:
        return float(ndtr(np.log(x / value) / deviation)) if x > 0 else 0.0

    return lambda p: value * np.exp(deviation * ndtri(p)), inverse


_SHAPES: dict[str, Callable[[float, float], Shape]] = {
    "normal": _normal, "uniform": _uniform, "lognormal": _lognormal,
}  # fmt: skip
