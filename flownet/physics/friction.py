r"""Wall friction in ducts and slots.

The friction factor is infinite at rest, its product with the Reynolds number is not. Every form
that the network uses therefore returns the product f Re (Darcy), which is regular at zero flow:

    drop = (f Re) * viscosity * velocity * length / (2 * hydraulic diameter^2)

`reynolds` is never negative: it belongs to the size of the velocity.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from flownet.physics.registry import correlation
from flownet.schema.arrays import Array, Values

CHURCHILL_1977 = "S. W. Churchill, Chemical Engineering 84(24), 1977, 91-92"
SHAH_LONDON_1978 = (
    "R. K. Shah and A. L. London, Laminar Flow Forced Convection in Ducts, Academic Press, 1978"
)
MUZYCHKA_YOVANOVICH_2009 = (
    "Y. S. Muzychka and M. M. Yovanovich, Journal of Fluids Engineering 131(11), 2009, 111105"
)
LAMINAR_ROUND = 64.0  # Darcy f Re of a round duct
ENTRANCE = 3.44  # apparent Fanning f Re at a short distance x+ is 3.44 / sqrt(x+)
_SEVEN = 7.0**0.9
_TURNING = 37530.0  # Churchill's Reynolds number of the laminar-turbulent turn


@correlation(CHURCHILL_1977, {"reynolds": (1e-3, 1e8), "roughness": (0.0, 0.05)})
def churchill_1977(reynolds: Values, roughness: Values) -> Array:
    """Darcy friction factor of a round duct, laminar through turbulent.

    Parameters
    ----------
    reynolds : array or number
        Reynolds number on the hydraulic diameter [-], above 0.
    roughness : array or number
        Wall roughness over hydraulic diameter [-]; broadcasts with `reynolds`.

    Returns
    -------
    array
        Darcy friction factor [-], shape of the broadcast inputs.
    """
    return churchill_product(reynolds, roughness) / reynolds


@correlation(CHURCHILL_1977, {"reynolds": (0.0, 1e8), "roughness": (0.0, 0.05)})
def churchill_product(
    reynolds: Values, roughness: Values, laminar: Values = LAMINAR_ROUND
) -> Array:
    """Product of Darcy friction factor and Reynolds number, regular at rest.

    Parameters
    ----------
    reynolds : array or number
        Reynolds number on the hydraulic diameter [-], 0 included.
    roughness : array or number
        Wall roughness over hydraulic diameter [-].
    laminar : array or number
        Laminar Darcy f Re of the cross-section: 64 when round, 4 `laminar_rectangle` when
        rectangular [-]. It takes the place of the source's 64 = 8 * 8.

    Returns
    -------
    array
        f Re [-], shape of the broadcast inputs.
    """
    return churchill_product_and_slope(reynolds, roughness, laminar)[0]


def churchill_product_and_slope(
    reynolds: Values,
    roughness: Values,
    laminar: Values = LAMINAR_ROUND,
    laminar_slope: Values = 0.0,
) -> tuple[Array, Array]:
    """`churchill_product` and its derivative by `reynolds`, given that of `laminar`."""
    turbulent, turbulent_slope = _turbulent(reynolds, roughness)
    smooth = laminar / 8.0
    smooth_11, turbulent_11 = _eleventh(smooth), _eleventh(turbulent)
    total = smooth_11 * smooth + turbulent_11 * turbulent
    product = 8.0 * total ** (1.0 / 12.0)
    turned = smooth_11 * (laminar_slope / 8.0) + turbulent_11 * turbulent_slope
    return product, product / total * turned


def _turbulent(reynolds: Values, roughness: Values) -> tuple[Array, Array]:
    """Re (A + B)^(-1/8) of the source and its derivative, written without its overflow at rest.

    With q = Re/37530 and A = a^16 this is Re q^2 (1 + (a q)^16)^(-1/8). Below Re = 1 it is held:
    there it is 1e-9, and its twelfth power is nothing beside the laminar one.
    """
    creeping = np.asarray(reynolds).real < 1.0
    re = np.where(creeping, 1.0, reynolds)
    logarithm = np.log(re)
    rough = _SEVEN + 0.27 * roughness * np.exp(0.9 * logarithm)
    a = 2.457 * (0.9 * logarithm - np.log(rough))
    steepness = 2.457 * 0.9 * _SEVEN / rough / re
    q = re / _TURNING
    turn = a * q
    cube = turn * turn * turn
    turn_15 = cube * cube * cube * cube * cube
    whole = 1.0 + turn_15 * turn
    found = re * q * q / np.sqrt(np.sqrt(np.sqrt(whole)))
    slope = found * (3.0 / re - 2.0 * turn_15 * (steepness * q + a / _TURNING) / whole)
    return found, np.where(creeping, 0.0, slope)


def _eleventh(x: Any) -> Any:
    """x^11 by products: several times faster than a power of an array."""
    square = x * x
    fourth = square * square
    return fourth * fourth * square * x


@correlation(SHAH_LONDON_1978, {"aspect_ratio": (0.0, 1.0)})
def laminar_rectangle(aspect_ratio: Values) -> Array:
    """Fanning f Re of fully developed laminar flow in a rectangular duct, on its D_h.

    Parameters
    ----------
    aspect_ratio : array or number
        Short side over long side, 0 (parallel plates) to 1 (square) [-].

    Returns
    -------
    array
        Fanning f Re [-]; the Darcy product is four times as much.
    """
    c = aspect_ratio
    series = 1.0 + c * (-1.3553 + c * (1.9467 + c * (-1.7012 + c * (0.9564 - c * 0.2537))))
    found: Array = np.multiply(24.0, series)
    return found


@correlation(MUZYCHKA_YOVANOVICH_2009, {"aspect_ratio": (1e-3, 1.0)})
def muzychka_yovanovich_2009(position: Values, aspect_ratio: Values) -> Array:
    """Apparent Fanning f Re of laminar flow that develops from the entrance of a rectangle.

    Both the factor and the Reynolds number are on the square root of the flow area, as in the
    source; its fully developed term is taken from `laminar_rectangle`.

    Parameters
    ----------
    position : array or number
        x+ = length / (sqrt(area) Re_sqrt(area)) [-], above 0.
    aspect_ratio : array or number
        Short side over long side [-], above 0.

    Returns
    -------
    array
        Apparent Fanning f Re [-] on sqrt(area), from the entrance to `position`.
    """
    developed = laminar_rectangle(aspect_ratio) * root_area_ratio(aspect_ratio)
    found: Array = np.sqrt(ENTRANCE * ENTRANCE / position + developed * developed)
    return found


def root_area_ratio(aspect_ratio: Values) -> Array:
    """Square root of the area of a rectangle over its hydraulic diameter [-]; geometry."""
    found: Array = (1.0 + aspect_ratio) / (2.0 * np.sqrt(aspect_ratio))
    return found


@correlation(
    f"{MUZYCHKA_YOVANOVICH_2009}; {SHAH_LONDON_1978}; {CHURCHILL_1977}",
    {"reynolds": (0.0, 1e8), "aspect_ratio": (0.0, 1.0)},
)
def slot_product(reynolds: Values, aspect_ratio: Values, length_ratio: Values) -> Array:
    """Apparent Darcy f Re of a smooth rectangular slot, developing laminar through turbulent.

    The developing laminar product takes the place of the laminar term of `churchill_product`
    (joining the two by Churchill's own twelfth power is an assumption).

    Parameters
    ----------
    reynolds : array or number
        Reynolds number on the hydraulic diameter [-], 0 included.
    aspect_ratio : array or number
        Short side over long side [-].
    length_ratio : array or number
        Length of the slot over its hydraulic diameter [-], above 0.

    Returns
    -------
    array
        Apparent f Re [-] over the whole length, shape of the broadcast inputs.
    """
    return slot_product_and_slope(reynolds, aspect_ratio, length_ratio)[0]


def slot_product_and_slope(
    reynolds: Values, aspect_ratio: Values, length_ratio: Values
) -> tuple[Array, Array]:
    """`slot_product` and its derivative by `reynolds`."""
    # On D_h the root of the area cancels: f_app Re = sqrt(3.44^2 Re D_h / L + P(c)^2).
    growth = ENTRANCE * ENTRANCE / length_ratio
    developed = laminar_rectangle(aspect_ratio)
    fanning = np.sqrt(growth * reynolds + developed * developed)
    return churchill_product_and_slope(reynolds, 0.0, 4.0 * fanning, 2.0 * growth / fanning)
