"""What samples say of a probability, and of a spread; with the error that sampling leaves."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import NamedTuple

import numpy as np

from flownet.schema.arrays import Array
from flownet.schema.quantities import Quantity

CONFIDENCE = 0.95
PERCENTILES = (5.0, 50.0, 95.0)


class Chance(NamedTuple):
    """How often something held among samples, and between what its probability lies."""

    held: int
    samples: int
    low: float
    high: float

    @property
    def share(self) -> float:
        """The estimate: how often it held."""
        return self.held / self.samples

    @classmethod
    def of(cls, held: int, samples: int) -> Chance:
        """With the interval that holds the probability in at least 95 of 100 studies.

        The exact interval of the binomial distribution: C. J. Clopper, E. S. Pearson, The use of
        confidence or fiducial limits illustrated in the case of the binomial, Biometrika 26 (1934)
        404-413 (cited from memory), as quantiles of the beta distribution.
        """
        from scipy.special import betaincinv  # noqa: PLC0415 - heavy

        tail, missed = (1 - CONFIDENCE) / 2, samples - held
        low = float(betaincinv(held, missed + 1, tail)) if held else 0.0
        high = float(betaincinv(held + 1, missed, 1 - tail)) if missed else 1.0
        return cls(held, samples, low, high)

    @property
    def interval(self) -> str:
        """`91 to 95 %`, rounded outwards."""
        return f"{_outward(self.low, math.floor)} to {_outward(self.high, math.ceil)} %"

    def words(self) -> str:
        """`93 % (91 to 95 %)`."""
        return f"{percent(self.share)} % ({self.interval})"

    def to_dict(self) -> dict[str, float]:
        """As in JSON."""
        return {"share": self.share, "low": self.low, "high": self.high, "held": self.held,
                "samples": self.samples}  # fmt: skip


def _outward(share: float, rounded: Callable[[float], int]) -> str:
    """An end of an interval in percent, with one digit near 0 and 100."""
    if 0.01 < share < 0.99:
        return f"{rounded(100 * share)}"
    return f"{rounded(1000 * share) / 10:g}"


def percent(share: float) -> str:
    """Percent in few digits; 0 and 100 only where it is exactly that."""
    if 0 < share < 0.01 or 0.99 < share < 1:
        for digits in range(1, 8):
            text = f"{100 * share:.{digits}f}"
            if float(text) not in (0.0, 100.0):
                return text
    return f"{100 * share:.0f}"


class Band(NamedTuple):
    """One result over the samples that were solved and give it a value; SI."""

    path: str
    quantity: Quantity
    low: float  # 5 of 100 lie below
    middle: float
    high: float  # 5 of 100 lie above
    samples: int

    @classmethod
    def of(cls, path: str, quantity: Quantity, values: Array) -> Band:
        """Percentiles by linear interpolation between the ordered values; NaN without any."""
        known = values[~np.isnan(values)]
        low, middle, high = map(float, _percentiles(known) if known.size else np.full(3, np.nan))
        return cls(path, quantity, low, middle, high, int(known.size))


def _percentiles(known: Array) -> Array:
    """Of these; an infinite value (the level of what is silent) is not interpolated with."""
    if np.isfinite(known).all():
        found: Array = np.percentile(known, PERCENTILES)
        return found
    ordered = np.sort(known)
    nearest: Array = ordered[np.rint(np.array(PERCENTILES) / 100 * (len(known) - 1)).astype(int)]
    return nearest
