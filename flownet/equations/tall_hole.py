"""Upright holes whose pressure difference changes over their height: air both ways at once.

Inside and outside air of unlike density have one height at which their pressures are equal. Where
it lies within the hole, warm air leaves above it while cold air enters below.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any, NamedTuple

import numpy as np

from flownet.equations.laws import Law, Only, Result, Square
from flownet.physics.air import GRAVITY, Air
from flownet.schema.arrays import Array, Booleans, magnitude, positive, used

ONE_WAY = 2 * np.sqrt(2) / 3  # flow, of the scale of `level_of`, from which air passes one way
BEYOND_ROUNDS = 6  # of Newton's steps to the level of a flow one way, quadratic from the first


class TallHole(NamedTuple):
    """K rho v^2 / 2 at each height of an upright hole, for the pressure difference there.

    The net flow is the integral over the height (W. G. Brown, K. R. Solvason, "Natural convection
    through rectangular openings in partitions", International Journal of Heat and Mass Transfer 5,
    1962, 859-868; the form from memory). The drop is that at half its height. No height is left
    with less than the difference at which a flow turns linear, so that all is smooth at rest and
    between airs of one density, where it is what `Square` is.
    """

    factor: Array  # K over twice the square of the area [1/m4]
    turning: Array  # turning mass flow over viscosity [m]
    height: Array  # [m]

    @classmethod
    def of(cls, loss: Array, area: Array, height: Array) -> TallHole:
        return cls(*Square.of(loss, area), height)

    def __call__(self, mass_flow: Array, air: Air) -> Result:
        half, scale = self._scales(air)
        level, steepness = level_of(mass_flow / scale)
        return half * level, half / scale * steepness

    def onward(self, mass_flow: Array, air: Air) -> Array:
        """All that passes from start to end [kg/s]; what comes back is this less the net flow.

        Both streams count with one density, that with which equal ones are what the integral with
        a density each gives.
        """
        root = (air.at_start ** (-1 / 3) + air.at_end ** (-1 / 3)) / 2
        _, scale = self._scales(air._replace(density=1 / root**3))
        level, _ = level_of(mass_flow / scale)
        both = magnitude(level).real < 1
        share = np.where(both, 1 + level, 1.0)
        return np.where(both, scale * share * np.sqrt(share) / 3, positive(mass_flow))

    def _scales(self, air: Air) -> tuple[Array, Array]:
        """Half the change of the pressure difference over the height [Pa], and the flow that it
        alone would drive through the whole hole [kg/s]."""
        flow = air.viscosity * self.turning
        turning = self.factor * flow * flow / air.density
        change = GRAVITY * (air.at_start - air.at_end) * self.height / 2
        half = np.sqrt(change * change + turning * turning)
        return half, np.sqrt(air.density * half / self.factor)


def level_of(flow: Array) -> Result:
    """Where the pressures are equal, for a net flow in shares of the scale, and the slope.

    The level is counted from half the height in halves of it, and is what the pressure difference
    there is in shares of its change; within 1 air passes both ways. The flow is the mean over the
    height of the root of the difference, with its sign:

        (sqrt(1 + x)^3 - sqrt(1 - x)^3) / 3  within, (sqrt(x + 1)^3 - sqrt(x - 1)^3) / 3 beyond

    Inverted in real numbers; the last step of Newton's carries an imaginary part exactly.
    """
    size = magnitude(flow)
    real = size.real
    least = 2 * np.sqrt(2) * np.sin(np.arcsin(np.minimum(real / ONE_WAY, 1.0)) / 3)
    beyond = np.maximum(real * real, 1.0)
    if (real > ONE_WAY).any():
        for _ in range(BEYOND_ROUNDS):
            passed, slope = _flow_at(beyond)
            beyond = np.maximum(beyond - (passed - real) / slope, 1.0)
    level = np.where(real < ONE_WAY, least * np.sqrt(4 - least * least) / 2, beyond)
    passed, slope = _flow_at(level)
    level = level - (passed - size) / slope
    return np.where(flow.real < 0, -level, level), 1 / _flow_at(level)[1]


def _flow_at(level: Array) -> Result:
    """The flow of a level above half the height, and its slope."""
    within = level.real < 1
    above, below = np.sqrt(1 + level), np.sqrt(np.where(within, 1 - level, level - 1))
    low, high = np.where(within, level, 1.0), np.where(within, 1.0, level)
    flow = 2 / 3 * low * (2 * high + above * below) / (above + below)
    return flow, np.where(within, (above + below) / 2, 1 / (above + below))


# --- of an enclosure ----------------------------------------------------------------------------


def holes(loss: Array, c: Any, there: Any = True) -> tuple[Law, ...]:
    """Of columns with `area`, `height`, `upright`, where they have a hole: those of an upright
    height, and plain ones."""
    height = np.where(np.isnan(c.height.real), 0.0, c.height * c.upright)
    tall = height.real > 0
    plain, square = there & ~tall, Square.of(loss, c.area)
    if plain.all():
        return (square,)
    both = (square, plain), (TallHole.of(loss, c.area, used(tall, height)), tall)
    return tuple(Only(law, mask) for law, mask in both if mask.any())


def tall_holes(elements: Iterable[tuple[slice, Any]]) -> Iterator[tuple[slice, TallHole, Booleans]]:
    """Elements that are tall holes, and in which variants."""
    for rows, element in elements:
        for law in element.laws:
            if isinstance(law, Only) and isinstance(law.law, TallHole):
                yield rows, law.law, law.mask
