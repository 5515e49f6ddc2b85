"""Plate-fin heat sinks in forced air: geometry, heat transfer between the fins, fin efficiency.

Left out: how heat spreads in the base, radiation, and natural draught between the fins.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from flownet.physics import air, friction
from flownet.physics.registry import correlation
from flownet.schema.arrays import Array, Values

MUZYCHKA_YOVANOVICH_2004 = (
    "Y. S. Muzychka and M. M. Yovanovich, Journal of Heat Transfer 126(1), 2004, 54-61"
)
PLATES_NUSSELT = 7.541  # fully developed, both walls at one temperature: Shah and London 1978
SLOWEST = 0.1  # m/s between the fins: below it natural draught counts as well; our own choice
_ENTRY = 1.5 * 0.409  # of the thermal boundary layer, mean over the length
_DEVELOPED = 3.24 / (8 * np.pi**0.5)
_SHAPE = 0.1  # exponent of the side ratio, of rectangles and other convex shapes


class PlateFins(NamedTuple):
    """Equal straight fins along the air, the outer ones at the edges of the base; numbers or arrays
    that broadcast [m, m2, W/(m K)].

    Air goes through the equal channels between them; what lies outside of the outer fins or under
    the base is not counted.
    """

    width: Values  # of the base, across the air
    length: Values  # along the air
    height: Values
    thickness: Values
    conductivity: Values
    channels: Values
    gap: Values  # between two fins; 0 or less where they fill the base

    @classmethod
    def of(
        cls, base: Sequence[Values], fins: Values, fin: Sequence[Values], conductivity: Values
    ) -> PlateFins:
        """From width and length of the base, height and thickness of a fin."""
        (width, length), (height, thickness), channels = base, fin, fins - 1
        gap = (width - fins * thickness) / channels
        return cls(width, length, height, thickness, conductivity, channels, gap)

    @property
    def free_area(self) -> Array:
        """Of all channels, across the air."""
        return np.asarray(self.channels * self.gap * self.height)

    @property
    def free_ratio(self) -> Values:
        """Open share of the front of the fins."""
        return self.channels * self.gap / self.width

    @property
    def aspect_ratio(self) -> Array:
        """Short over long side of a channel."""
        ratio = np.asarray(self.gap / self.height)
        return np.where(ratio.real <= 1, ratio, 1 / ratio)

    @property
    def diameter(self) -> Array:
        """Hydraulic, of a channel."""
        return np.asarray(2 * self.gap * self.height / (self.gap + self.height))

    def reynolds(self, mass_velocity: Values, viscosity: Values) -> Array:
        """In a channel, of `rho v` there [kg/(m2 s)]."""
        return np.asarray(mass_velocity * self.diameter / viscosity)


@correlation(
    f"{MUZYCHKA_YOVANOVICH_2004}; {friction.SHAH_LONDON_1978}",
    {"reynolds": (1e-3, 2300.0), "aspect_ratio": (1e-3, 1.0), "prandtl": (0.1, 1e3)},
)
def developing_nusselt(
    reynolds: Values, aspect_ratio: Values, length_ratio: Values, prandtl: Values
) -> Array:
    """Mean Nusselt number of laminar flow whose velocity and temperature both develop.

    A rectangle with all walls at one temperature; within 10 % by its authors. Its term for
    developed flow grows without end as the rectangle narrows: it is held at that of parallel
    plates (assumption). Against a numerical solution it is 5 to 8 % low between plates. Carried
    on above its range it is below turbulent flow from a Reynolds number of about 4000 on.

    Parameters
    ----------
    reynolds : array or number
        Reynolds number on the hydraulic diameter [-], above 0.
    aspect_ratio : array or number
        Short side over long side [-].
    length_ratio : array or number
        Length over hydraulic diameter [-], above 0.
    prandtl : array or number
        Prandtl number [-].

    Returns
    -------
    array
        Nusselt number on the hydraulic diameter and the log-mean difference [-].
    """
    # The source stands on the root of the area, which cancels on the hydraulic diameter.
    graetz = np.asarray(reynolds * prandtl / length_ratio)
    rubbed = friction.laminar_rectangle(aspect_ratio)
    developed = _DEVELOPED * rubbed / aspect_ratio**_SHAPE
    developed = np.where(developed.real < PLATES_NUSSELT, developed, PLATES_NUSSELT)
    warmed = ((_ENTRY * (rubbed * graetz) ** (1 / 3)) ** 5 + developed**5) ** 0.2
    plate = 0.564 / (1 + (1.664 * prandtl ** (1 / 6)) ** 4.5) ** (2 / 9)
    blend = 2.27 + 1.65 * prandtl ** (1 / 3)
    found: Array = (warmed**blend + (2 * plate * np.sqrt(graetz)) ** blend) ** (1 / blend)
    return found


def fin_efficiency(film: Values, conductivity: Values, thickness: Values, height: Values) -> Array:
    """Mean over root difference [-] of a straight fin whose tip gives no heat: tanh(mH)/(mH) with
    m^2 = 2 film / (conductivity thickness) [W/(m2 K), W/(m K), m].

    Source: D. R. Harper and W. B. Brown, NACA Report 158, 1922; any textbook of heat transfer.
    """
    rise = height * np.sqrt(2 * film / (conductivity * thickness))
    return np.asarray(np.tanh(rise) / rise)


def fin_resistance(fins: PlateFins, mass_velocity: Values, temperature: Values) -> Array:
    """From the root of the fins to the log-mean temperature of the air between them [K/W]; `rho v`
    there [kg/(m2 s)], above 0, and its temperature [K]."""
    nusselt = developing_nusselt(
        fins.reynolds(mass_velocity, air.viscosity(temperature)), fins.aspect_ratio,
        fins.length / fins.diameter, air.prandtl(temperature),
    )  # fmt: skip
    film = nusselt * air.conductivity(temperature) / fins.diameter
    worth = fin_efficiency(film, fins.conductivity, fins.thickness, fins.height)
    face = fins.channels * fins.length * (fins.gap + 2 * worth * fins.height)
    return np.asarray(1 / (film * face))


def log_mean_place(units: Values) -> Array:
    """Share of the rise of air along a face of one temperature that its log-mean temperature has:
    from a half to 1, by the number of transfer units (above 0); exchanger theory."""
    return np.asarray(1 / -np.expm1(-units) - 1 / units)
