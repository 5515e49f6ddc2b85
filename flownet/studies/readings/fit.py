"""Weighted least squares: one pure function of residuals and their derivatives, and what it tells.

Residuals are in standard deviations of the readings, so that a unit of chi-square is a unit of
doubt. Normal theory, linear at the solution: N. R. Draper and H. Smith, Applied Regression
Analysis, 3rd edition, 1998, chapters 5 and 24 (cited from memory).
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from typing import NamedTuple

import numpy as np
from scipy.special import chdtrc, chdtri, stdtrit

from flownet.schema.arrays import Array, Integers
from flownet.studies.samples import NORMAL_95

MISFIT = 0.05  # chance of a larger chi-square below which a model does not fit
MOST_SOLVES = 60  # of one fit
FIT_SETTLED = 1e-8  # relative change at which a fit has settled
Residuals = Callable[[Array], tuple[Array, Array]]  # unknowns -> (readings,), (readings, unknowns)


class Fit(NamedTuple):
    """Where a fit ended."""

    values: Array  # (unknowns,)
    residuals: Array  # (readings,) in standard deviations
    slopes: Array  # (readings, unknowns) of the residuals
    at_bound: Integers  # (unknowns,) -1 at the lower, 1 at the upper end, else 0
    begun: Array  # slopes where it began
    settled: bool
    solves: int

    @property
    def chi_square(self) -> float:
        """Sum of squares."""
        return float(self.residuals @ self.residuals)

    @property
    def freedom(self) -> int:
        """Readings that are left over to check the fit; those at a bound are no unknowns."""
        return len(self.residuals) - int(np.sum(self.at_bound == 0))

    @property
    def fits(self) -> bool:
        """Whether what is left is no more than the uncertainty of the readings, as far as can be
        told: the chi-square test at 5 %."""
        return not self.freedom > 0 or chance(self.chi_square, self.freedom) >= MISFIT

    def covariance(self, known: bool = True) -> Array:
        """(unknowns, unknowns), 0 of those at a bound. `known`: by the uncertainty of the readings
        as it is stated; else by what is left of them."""
        free = self.at_bound == 0
        found = np.zeros((len(free), len(free)))
        _, sizes, ways = np.linalg.svd(self.slopes[:, free], full_matrices=False)
        found[np.ix_(free, free)] = (ways.T / sizes**2) @ ways
        return found if known else found * self.chi_square / self.freedom

    def half_widths(self, known: bool = True) -> Array:
        """(unknowns,) half of the intervals of 95 %: normal where the uncertainty is `known`, else
        by Student's t."""
        times = NORMAL_95 if known else float(stdtrit(self.freedom, 0.975))
        found: Array = times * np.sqrt(np.diag(self.covariance(known)))
        return found

    def correlations(self) -> Array:
        """(unknowns, unknowns), NaN of those at a bound."""
        wide = self.covariance()
        sizes = np.sqrt(np.diag(wide))
        sizes[sizes == 0] = np.nan
        found: Array = np.clip(wide / np.outer(sizes, sizes), -1.0, 1.0)
        return found


def fit(function: Residuals, start: Array, low: Array, high: Array, scaled: bool = False) -> Fit:
    """The least sum of squares between bounds, from one start (scipy's least_squares, dogbox: what
    ends at a bound is exactly there).

    `function` may return NaN where there is nothing to be had; the step is then shortened.
    `scaled`: a step of 1 is fair for every unknown; else their slopes say what is.
    """
    from scipy.optimize import least_squares  # noqa: PLC0415 - heavy

    at = cache(lambda *x: function(np.array(x)))
    found = least_squares(
        lambda x: at(*x)[0], start, lambda x: at(*x)[1], bounds=(low, high), method="dogbox",
        ftol=FIT_SETTLED, xtol=FIT_SETTLED, gtol=FIT_SETTLED, max_nfev=MOST_SOLVES,
        **({} if scaled else {"x_scale": "jac"}),
    )  # fmt: skip
    bound = np.where(found.x <= low, -1, np.where(found.x >= high, 1, 0))
    return Fit(found.x, found.fun, found.jac, bound, at(*start)[1], found.status > 0,
               int(found.nfev))  # fmt: skip


def chance(chi_square: float, freedom: int) -> float:
    """Chance of a chi-square at least as large."""
    return float(chdtrc(freedom, chi_square))


def most(freedom: int) -> float:
    """Chi-square that 95 of 100 stay below."""
    return float(chdtri(freedom, MISFIT))


def weakest(slopes: Array) -> tuple[float, Array]:
    """The direction (unknowns,) of which readings tell least, and how much they tell: the smallest
    singular value of the weighted sensitivities, 1 over the standard deviation along it."""
    _, sizes, ways = np.linalg.svd(slopes, full_matrices=True)
    count = slopes.shape[1]
    told = float(sizes[-1]) if len(sizes) == count else 0.0
    return told, ways[-1]
