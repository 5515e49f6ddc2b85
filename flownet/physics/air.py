"""Properties of air as pure functions of arrays; real or complex, so that they can be derived.

All temperatures are absolute [K], all pressures absolute [Pa]. Arguments broadcast; results have
the broadcast shape. Nothing here raises: ranges are checked where numbers enter.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from flownet.schema.arrays import Array, Values

GRAVITY = 9.80665  # m/s2, ISO 80000-3
GAS_CONSTANT = 287.05  # J/(kg K), dry air
HEAT_CAPACITY = 1006.0  # J/(kg K), dry air near 300 K
STANDARD_DENSITY = 1.2  # kg/m3, of fan curves that state none: ISO 5801
FREEZING = 273.15  # K, 0 degC

SEA_LEVEL_PRESSURE = 101325.0  # Pa } US Standard Atmosphere 1976
SEA_LEVEL_TEMPERATURE = 288.15  # K }
LAPSE_RATE = 0.0065  # K/m          } up to 11 km
EARTH_RADIUS = 6356766.0  # m       } that of the standard, for heights
LAPSE_EXPONENT = 9.80665 * 28.9644 / (8314.32 * LAPSE_RATE)  # g M / (R L) of the standard


class Air(NamedTuple):
    """Air of a branch: that which flows, and the densities waiting at its two ends."""

    density: Array
    viscosity: Array
    at_start: Array
    at_end: Array


def density(temperature: Values, pressure: Values) -> Array:
    """Density of dry air as an ideal gas [kg/m3]; `pressure` is that of the site.

    Gauge pressures of a ventilated enclosure (below 1 kPa) are neglected by the caller.
    """
    found: Array = np.divide(pressure, GAS_CONSTANT * temperature)
    return found


def viscosity(temperature: Values) -> Array:
    """Dynamic viscosity [Pa s] by Sutherland's formula.

    Source: US Standard Atmosphere 1976, equation 51; the same in ISO 2533.
    """
    found: Array = 1.458e-6 * temperature * np.sqrt(temperature) / (temperature + 110.4)
    return found


def conductivity(temperature: Values) -> Array:
    """Thermal conductivity [W/(m K)].

    Source: US Standard Atmosphere 1976, equation 53; the same in ISO 2533.
    """
    held_back = 245.4 * 10.0 ** (-12.0 / temperature)
    found: Array = 2.64638e-3 * temperature * np.sqrt(temperature) / (temperature + held_back)
    return found


def prandtl(temperature: Values) -> Array:
    """Prandtl number of air at constant heat capacity [-]."""
    return HEAT_CAPACITY * viscosity(temperature) / conductivity(temperature)


def standard_temperature(altitude: Values) -> Array:
    """Temperature of the standard atmosphere [K] at a geometric altitude [m] up to 11 km.

    Source: US Standard Atmosphere 1976, with its geopotential height.
    """
    geopotential = EARTH_RADIUS * altitude / (EARTH_RADIUS + altitude)
    found: Array = np.subtract(SEA_LEVEL_TEMPERATURE, LAPSE_RATE * geopotential)
    return found


def site_pressure(altitude: Values) -> Array:
    """Air pressure [Pa] of the standard atmosphere at a geometric altitude [m] up to 11 km.

    Source: US Standard Atmosphere 1976, closed form for the layer of constant lapse rate.
    """
    ratio = standard_temperature(altitude) / SEA_LEVEL_TEMPERATURE
    found: Array = SEA_LEVEL_PRESSURE * ratio**LAPSE_EXPONENT
    return found


def site_density(temperature: Values, altitude: Values) -> Array:
    """Density [kg/m3] of air at `temperature` under the standard pressure of `altitude` [m]."""
    return density(temperature, site_pressure(altitude))


def dew_point(temperature: Values, relative_humidity: Values) -> Array:
    """Temperature [K] at which air of this relative humidity (0 < ratio <= 1) is saturated.

    Magnus formula over water with the constants 17.625 and 243.04 degC, made for -40 to 50 degC.
    Source: O. A. Alduchov, R. E. Eskridge, Journal of Applied Meteorology 35, 1996, 601-609.
    """
    celsius = temperature - FREEZING
    exponent = np.log(relative_humidity) + 17.625 * celsius / (243.04 + celsius)
    found: Array = FREEZING + 243.04 * exponent / (17.625 - exponent)
    return found
