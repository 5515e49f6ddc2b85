"""Loss coefficients K of openings, screens, bends and changes of area: drop = K rho v^2 / 2.

`open_ratio` is the open share f of the gross area. The docstrings say which velocity K is on.
"""

from __future__ import annotations

import numpy as np

from flownet.physics.registry import correlation
from flownet.schema.arrays import Array, Values

BLEVINS_1984 = (
    "R. D. Blevins, Applied Fluid Dynamics Handbook, Van Nostrand Reinhold, 1984; "
    "values as given by the library fluids"
)
BORDA_CARNOT = "Borda-Carnot: momentum balance over a sudden expansion, any fluids textbook"

# Blevins' wire screen: Reynolds number on the space between wires, and K f^2 / (1 - f^2)
_SCREEN_REYNOLDS = np.array([20.0, 30.0, 40.0, 60.0, 80.0, 100.0, 200.0, 400.0])
_SCREEN_FACTOR = np.array([1.3, 1.1, 0.95, 0.83, 0.75, 0.7, 0.6, 0.52])
_SCREEN_SLOPE = np.diff(_SCREEN_FACTOR) / np.diff(_SCREEN_REYNOLDS)


@correlation(
    "I. E. Idelchik, Handbook of Hydraulic Resistance, 3rd ed., 1994, diagram 4-14, p. 221",
    {"open_ratio": (0.02, 1.0)},
)
def idelchik_thin_plate(open_ratio: Values) -> Array:
    """Loss of a thin plate with sharp-edged holes in turbulent flow, on the approach velocity.

    Older editions have the exponent 0.5 in place of 0.375: 9 % less at an open ratio of 0.5. So
    has the table printed beside the formula: it lies below it by 6 % at an open ratio of 0.3, 8 %
    at 0.5 and 34 % at 0.9.

    Parameters
    ----------
    open_ratio : array or number
        Open share f of the gross area [-].

    Returns
    -------
    array
        K on the velocity in the gross area [-].
    """
    solid = np.subtract(1.0, open_ratio)
    contraction = 0.707 * solid**0.375
    found: Array = ((solid + contraction) / open_ratio) ** 2
    return found


@correlation(
    "I. E. Idelchik, Handbook of Hydraulic Resistance, diagrams 8-1 and 8-5, as compiled in "
    "Electronics Cooling, May 1998",
    {"open_ratio": (0.02, 1.0), "reynolds_hole": (1e-3, 10.0)},
)
def low_reynolds_plate(open_ratio: Values, reynolds_hole: Values) -> Array:
    """Loss of a perforated plate in creeping flow, on the approach velocity.

    Parameters
    ----------
    open_ratio : array or number
        Open share f of the gross area [-].
    reynolds_hole : array or number
        Reynolds number on the hole diameter and the velocity in the holes [-], above 0.

    Returns
    -------
    array
        K on the velocity in the gross area [-]; infinite at rest, where the product
        K Re = `low_reynolds_plate_product` is not.
    """
    return low_reynolds_plate_product(open_ratio) / reynolds_hole


def low_reynolds_plate_product(open_ratio: Values) -> Array:
    """K Re_hole of `low_reynolds_plate` [-], which does not depend on the flow."""
    found: Array = np.divide(30.0, open_ratio * open_ratio)
    return found


@correlation(BLEVINS_1984, {"open_ratio": (0.3, 0.7)})
def round_edge_grill(open_ratio: Values) -> Array:
    """Loss of a grille of rounded square bars, or a plate with rounded holes, turbulent flow.

    The quadratic spline through the source's table 0.3 2.0, 0.4 1.0, 0.5 0.6, 0.6 0.4, 0.7 0.2.
    Outside the table its end values are held, which is no more than a way to stay finite.

    Parameters
    ----------
    open_ratio : array or number
        Open share f of the gross area, 0.3 to 0.7 [-].

    Returns
    -------
    array
        K on the velocity in the gross area [-].
    """
    f = np.asarray(open_ratio)
    f = np.where(f.real < 0.3, 0.3, f)
    f = np.where(f.real > 0.7, 0.7, f)
    first, second, third = f - 0.3, f - 0.45, f - 0.55
    low = 2.0 + first * (-466.0 / 35.0 + first * 232.0 / 7.0)
    middle = 131.0 / 175.0 + second * (-118.0 / 35.0 + second * 8.0)
    high = 86.0 / 175.0 + third * (-62.0 / 35.0 - third * 8.0 / 7.0)
    return np.where(f.real < 0.45, low, np.where(f.real < 0.55, middle, high))


@correlation(BLEVINS_1984, {"open_ratio": (0.05, 0.8), "reynolds": (20.0, np.inf)})
def round_edge_screen(open_ratio: Values, reynolds: Values) -> Array:
    """Loss of a screen of round wires, on the approach velocity.

    Straight lines through the source's table in Reynolds number, which ends at 20 and 400;
    outside it the end values are held.

    Parameters
    ----------
    open_ratio : array or number
        Open share f of the gross area [-].
    reynolds : array or number
        Reynolds number on the space between wires and the velocity in the openings [-].

    Returns
    -------
    array
        K on the velocity in the gross area [-].
    """
    return round_edge_screen_and_slope(open_ratio, reynolds)[0]


def round_edge_screen_and_slope(open_ratio: Values, reynolds: Values) -> tuple[Array, Array]:
    """`round_edge_screen` and its derivative by `reynolds`."""
    re = np.asarray(reynolds)
    last = len(_SCREEN_SLOPE) - 1
    piece = np.searchsorted(_SCREEN_REYNOLDS, re.real, side="right") - 1
    inside = (piece >= 0) & (piece <= last)
    piece = np.where(piece < 0, 0, np.where(piece > last, last, piece))
    along = _SCREEN_FACTOR[piece] + _SCREEN_SLOPE[piece] * (re - _SCREEN_REYNOLDS[piece])
    held = np.where(re.real < _SCREEN_REYNOLDS[0], _SCREEN_FACTOR[0], _SCREEN_FACTOR[-1])
    solid = np.divide(1.0, open_ratio * open_ratio) - 1.0
    slope = np.where(inside, _SCREEN_SLOPE[piece], 0.0)
    return solid * np.where(inside, along, held), solid * slope


@correlation(
    "D. C. Rennels and H. M. Hudson, Pipe Flow: A Practical and Comprehensive Guide, Wiley, 2012",
    {"angle": (0.0, 180.0), "radius_ratio": (0.5, np.inf)},
)
def rennels_bend(angle: Values, radius_ratio: Values, friction_factor: Values) -> Array:
    """Loss of a rounded bend, on the velocity in the duct; the friction of its length included.

    Parameters
    ----------
    angle : array or number
        Angle turned through [degrees].
    radius_ratio : array or number
        Radius of the bend's centre line over the hydraulic diameter, at least 0.5 [-].
    friction_factor : array or number
        Darcy friction factor of the duct [-]; the loss is a straight line in it.

    Returns
    -------
    array
        K on the velocity in the duct [-].
    """
    turned = np.multiply(angle, np.pi / 180.0)
    half = np.sin(turned / 2.0)
    friction = friction_factor * turned * radius_ratio
    secondary = (0.10 + 2.4 * friction_factor) * half
    separation = 6.6 * friction_factor * (np.sqrt(half) + half)
    found: Array = friction + secondary + separation / radius_ratio ** (4.0 * turned / np.pi)
    return found


@correlation(BORDA_CARNOT, {"area_ratio": (0.0, 1.0)})
def borda_carnot(area_ratio: Values) -> Array:
    """Loss of a sudden expansion, on the velocity in the smaller area.

    Parameters
    ----------
    area_ratio : array or number
        Smaller over larger area [-].

    Returns
    -------
    array
        K on the velocity in the smaller area [-].
    """
    lost = np.subtract(1.0, area_ratio)
    found: Array = lost * lost
    return found


@correlation(
    "linear form of older editions of I. E. Idelchik, Handbook of Hydraulic Resistance (from "
    "memory); authors differ by a quarter",
    {"area_ratio": (0.0, 1.0)},
)
def contraction(area_ratio: Values) -> Array:
    """Loss of a sharp-edged sudden contraction, on the velocity in the smaller area.

    Parameters
    ----------
    area_ratio : array or number
        Smaller over larger area [-].

    Returns
    -------
    array
        K on the velocity in the smaller area [-].
    """
    found: Array = np.multiply(0.5, np.subtract(1.0, area_ratio))
    return found


def loss_of_discharge(coefficient: Values) -> Array:
    """K on the area of an opening from its discharge coefficient C: 1/C^2, by definition [-]."""
    found: Array = np.divide(1.0, coefficient * coefficient)
    return found


def discharge_of_loss(loss: Values) -> Array:
    """Discharge coefficient of an opening from its K on the same area, by definition [-]."""
    found: Array = np.divide(1.0, np.sqrt(loss))
    return found
