"""Working life of a fan against the temperature of the air at its inlet."""

from __future__ import annotations

import numpy as np

from flownet.arrays import Array, Values
from flownet.correlations.registry import correlation


@correlation(
    "a constant factor per 10 K, stated by fan makers; the factor is a property of the fan type"
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
        Life, in the unit of `rated_life`.
    """
    found: Array = np.multiply(
        rated_life, factor_per_10K ** ((rated_temperature - air_temperature) / 10.0)
    )
    return found
