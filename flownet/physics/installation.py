"""Losses of what stands close to a fan, K on its flow area; lengths in diameters of that area.

A fan is tested with free air before and behind it: entry and exit losses of a free fan are in its
curve and are not added here. Several of these losses add.
"""

from __future__ import annotations

import numpy as np

from flownet.physics.losses import idelchik_thin_plate
from flownet.physics.registry import COMMON_PRACTICE, correlation
from flownet.schema.arrays import Array, Values

NEAREST = 0.01  # diameters: what is nearer counts as this near, so that no loss is infinite
AMPLE = 2.0  # times the flow area: an opening as large as this costs nothing


@correlation(
    f"one velocity head of the air in the gap round the fan: {COMMON_PRACTICE}",
    {"clearance": (0.1, np.inf)},
)
def inlet_clearance(clearance: Values) -> Array:
    """Loss of a flat object as large as the fan that faces its inlet.

    The air comes in through the cylinder between fan and object, of area pi D x; its velocity head
    is lost once: K = (1 / (4 x/D))^2.

    Parameters
    ----------
    clearance : array or number
        Distance of the object in diameters, x/D [-].

    Returns
    -------
    array
        K on the flow area [-]: 0.56 at a third of the diameter.
    """
    x = np.asarray(clearance)
    x = np.where(x.real < NEAREST, NEAREST, x)
    found: Array = 1.0 / (16.0 * x * x)
    return found


@correlation(
    "one velocity head of the air in the gap round the fan, less that of its jet, which the curve "
    f"counts as lost: {COMMON_PRACTICE}",
    {"clearance": (0.1, np.inf)},
)
def outlet_clearance(clearance: Values) -> Array:
    """Loss of a flat object as large as the fan that faces its outlet.

    A static curve counts the head of the free jet as lost. An object turns the jet into the
    gap: K = (1 / (4 x/D))^2 - 1, and nothing from a quarter of the diameter on.

    Parameters
    ----------
    clearance : array or number
        Distance of the object in diameters, x/D [-].

    Returns
    -------
    array
        K on the flow area [-].
    """
    loss = inlet_clearance(clearance) - 1.0
    return np.where(loss.real > 0, loss, 0.0)


@correlation(
    "one velocity head of the air in the opening, less what is left of it at twice the flow area, "
    f"where it no longer matters: {COMMON_PRACTICE}",
    {"area_ratio": (0.25, np.inf)},
)
def inlet_opening(area_ratio: Values) -> Array:
    """Loss of an opening close before the inlet: K = 1/r^2 - 1/4, nothing from r = 2 on.

    Parameters
    ----------
    area_ratio : array or number
        Area of the opening over the flow area of the fan, r [-], above 0.

    Returns
    -------
    array
        K on the flow area [-].
    """
    loss = 1.0 / (np.asarray(area_ratio) * area_ratio) - 1.0 / AMPLE**2
    return np.where(loss.real > 0, loss, 0.0)


@correlation(
    "I. E. Idelchik, Handbook of Hydraulic Resistance, 3rd ed., 1994, diagram 4-14, p. 221; that "
    f"cables act like such a plate: {COMMON_PRACTICE}",
    {"covered": (0.0, 0.9)},
)
def clutter(covered: Values) -> Array:
    """Loss of cables and brackets across the inlet, as of a thin plate with the share left open.

    Parameters
    ----------
    covered : array or number
        Covered share of the flow area [-], below 1.

    Returns
    -------
    array
        K on the flow area [-].
    """
    share = np.asarray(covered)
    some = share.real > 0
    share = np.where(some, share, 0.5)
    return np.where(some, idelchik_thin_plate(1.0 - share), 0.0)
