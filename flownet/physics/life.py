"""Working life of a fan against the temperature of the air at its inlet."""

from __future__ import annotations

import numpy as np

from flownet.physics.registry import COMMON_PRACTICE, correlation
from flownet.schema.arrays import Array, Values

SLOPE = 1.1
"""Weibull slope where none is stated: common practice, no source. About that of ball bearings in
the older literature, 10/9 (from memory), and of a mean of seven times L10, as one maker has it
(trade note)."""


MOST_GAINED = 2.0  # factor on the rated life, however cold the air


@correlation(
    "a constant factor per 10 K, stated by fan makers; the factor is a property of the fan type. "
    "Grease life doubles once below its rated temperature and no further: a maker of rolling "
    "bearings, catalogue p. 117 (tpsbearing.com)"
)
def life_at(
    rated_life: Values,
    rated_temperature: Values,
    air_temperature: Values,
    factor_per_10K: Values,
) -> Array:
    """Life of a fan at an air temperature; L10 stays L10, a mean stays a mean.

    Parameters
    ----------
    rated_life : array or number
        Life at the rated temperature [any unit].
    rated_temperature, air_temperature : array or number
        Temperatures of the air that enters the fan [K].
    factor_per_10K : array or number
        Factor by which 10 K less lengthens the life, above 0 [-].

    Returns
    -------
    array
        Life, in the unit of `rated_life`; at most `MOST_GAINED` times that.
    """
    gained = np.asarray(factor_per_10K ** ((rated_temperature - air_temperature) / 10.0))
    found: Array = rated_life * np.where(gained.real > MOST_GAINED, MOST_GAINED, gained)
    return found


@correlation(
    "weakest of several independent units with Weibull lives of one slope: closed form; default "
    f"slope: {COMMON_PRACTICE}"
)
def first_failure(lives: Array, slope: Values = SLOPE, axis: int = 0) -> Array:
    """Time by which with one chance in ten the first of several units has failed.

    Each unit survives to `t` with `0.9 ** ((t / L10) ** slope)`; the set survives while all do, so
    `sum((t / L10) ** slope) = 1`. N equal units: `L10 / N ** (1 / slope)`. Failures are taken as
    independent of each other.

    Parameters
    ----------
    lives : array
        L10 of the units along `axis` [any unit], above 0; infinite where there is none.
    slope : array or number
        Weibull slope (shape) of all units [-], above 0.
    axis : int
        The axis along which units stand.

    Returns
    -------
    array
        Time without `axis`, in the unit of `lives`; infinite without a unit.
    """
    there = np.isfinite(np.asarray(lives).real)
    hazards = np.where(there, np.where(there, lives, 1.0) ** -np.asarray(slope), 0.0)
    total = np.sum(hazards, axis=axis)
    some = total.real > 0
    found: Array = np.where(some, np.where(some, total, 1.0) ** (-1.0 / np.asarray(slope)), np.inf)
    return found
