"""Heat transfer at the faces of a wall: natural convection and radiation."""

from __future__ import annotations

import numpy as np

from flownet.physics import air
from flownet.physics.registry import correlation
from flownet.schema.arrays import Array, Values, magnitude, power

CHURCHILL_CHU_1975 = (
    "S. W. Churchill and H. H. S. Chu, International Journal of Heat and Mass Transfer 18(11), "
    "1975, 1323-1329"
)
LLOYD_MORAN_1974 = (
    "J. R. Lloyd and W. R. Moran, Journal of Heat Transfer 96(4), 1974, 443-447; F. P. Incropera "
    "et al., 6th edition, equations 9.30 and 9.31"
)
MCADAMS = (
    "W. H. McAdams, Heat Transmission, 3rd edition, 1954; F. P. Incropera et al., 6th edition, "
    "equation 9.32"
)
SWINBANK_1963 = (
    "W. C. Swinbank, Quarterly Journal of the Royal Meteorological Society 89, 1963, 339-348; "
    "J. A. Duffie, W. A. Beckman, Solar Engineering of Thermal Processes"
)
MAKERS = (
    "seven formulas in the planning guides of three makers, identical; said to be those of IEC TR "
    "60890, whose own table was not read"
)
MOUNTINGS = {  # how a cabinet stands -> how many of its back, sides and top are covered
    "free-standing": (0, 0, 0), "against-wall": (1, 0, 0),
    "row-end": (0, 1, 0), "row-end-against-wall": (1, 1, 0),
    "row-middle": (0, 2, 0), "row-middle-against-wall": (1, 2, 0),
    "row-middle-against-wall-covered": (1, 2, 1),
}  # fmt: skip
STEFAN_BOLTZMANN = 5.670374419e-8  # W/(m2 K4), exact in the SI of 2019
_STILL = 1e-3  # K: a smaller difference counts as this one, so that the film has a slope at zero


@correlation(CHURCHILL_CHU_1975, {"rayleigh": (0.1, 1e12)})
def churchill_chu_1975(rayleigh: Values, prandtl: Values) -> Array:
    """Mean Nusselt number of an isothermal vertical plate in still fluid, laminar and turbulent.

    Parameters
    ----------
    rayleigh : array or number
        Rayleigh number on the height, properties at film temperature [-].
    prandtl : array or number
        Prandtl number at film temperature [-].

    Returns
    -------
    array
        Nusselt number on the height [-].
    """
    spread = power(1.0 + power(0.492 / prandtl, 9.0 / 16.0), 8.0 / 27.0)
    root = 0.825 + 0.387 * power(rayleigh, 1.0 / 6.0) / spread
    found: Array = root * root
    return found


@correlation(LLOYD_MORAN_1974, {"rayleigh": (1e4, 1e11)})
def lloyd_moran_1974(rayleigh: Values) -> Array:
    """Mean Nusselt number of a horizontal plate, warm side up or cold side down.

    The source goes from the fourth to the third root at 1e7; here where both agree (4.7e6), so
    that nothing jumps: up to 6 % more between.

    Parameters
    ----------
    rayleigh : array or number
        Rayleigh number on area over perimeter, properties at film temperature [-].

    Returns
    -------
    array
        Nusselt number on area over perimeter [-].
    """
    slow, fast = 0.54 * power(rayleigh, 0.25), 0.15 * power(rayleigh, 1.0 / 3.0)
    return np.where(fast.real > slow.real, fast, slow)


@correlation(MCADAMS, {"rayleigh": (1e5, 1e10)})
def mcadams_1954(rayleigh: Values) -> Array:
    """Mean Nusselt number of a horizontal plate, warm side down or cold side up.

    Parameters
    ----------
    rayleigh : array or number
        Rayleigh number on area over perimeter, properties at film temperature [-].

    Returns
    -------
    array
        Nusselt number on area over perimeter [-]; other authors differ by up to half.
    """
    found: Array = 0.27 * power(rayleigh, 0.25)
    return found


@correlation(f"{CHURCHILL_CHU_1975}; {LLOYD_MORAN_1974}; {MCADAMS}")
def natural_film(
    surface_temperature: Values,
    air_temperature: Values,
    length: Values,
    pressure: Values,
    faces_up: Values = 0.0,
) -> Array:
    """Film coefficient of a face in still air, properties at film temperature.

    Parameters
    ----------
    surface_temperature, air_temperature : array or number
        Either may be the warmer one [K].
    length : array or number
        Height of an upright face, area over perimeter of a horizontal one [m].
    pressure : array or number
        Air pressure of the site [Pa].
    faces_up : array or number
        0 for an upright face, above 0 where it looks up, below where it looks down.

    Returns
    -------
    array
        Film coefficient [W/(m2 K)], shape of the broadcast inputs.
    """
    difference = surface_temperature - air_temperature
    film = (surface_temperature + air_temperature) / 2.0
    viscosity, conductivity = air.viscosity(film), air.conductivity(film)
    rayleigh = _rayleigh(difference, film, length, pressure, viscosity * conductivity)
    way = np.asarray(faces_up).real
    nusselt = churchill_chu_1975(rayleigh, air.HEAT_CAPACITY * viscosity / conductivity)
    if way.any():
        rises = np.asarray(difference).real * way > 0
        flat = np.where(rises, lloyd_moran_1974(rayleigh), mcadams_1954(rayleigh))
        nusselt = np.where(way == 0, nusselt, flat)
    found: Array = nusselt * conductivity / length
    return found


def rayleigh_number(
    surface_temperature: Values, air_temperature: Values, length: Values, pressure: Values
) -> Array:
    """Rayleigh number of air beside a face [-], by definition, at film temperature; `length` is
    that it stands on."""
    film = (surface_temperature + air_temperature) / 2.0
    spread = air.viscosity(film) * air.conductivity(film)
    return _rayleigh(surface_temperature - air_temperature, film, length, pressure, spread)


def _rayleigh(
    difference: Values, film: Values, length: Values, pressure: Values, spread: Values
) -> Array:
    """`spread`: viscosity times conductivity."""
    density = air.density(film, pressure)
    buoyancy = air.GRAVITY / film * magnitude(difference, rounding=_STILL) * length**3
    return density * density * buoyancy / (spread / air.HEAT_CAPACITY)


@correlation("Stefan-Boltzmann law: grey face, surroundings much larger than it, or black")
def radiation_flux(
    surface_temperature: Values, surroundings_temperature: Values, emissivity: Values
) -> Array:
    """Heat radiated by a face to its surroundings, negative when it receives.

    Parameters
    ----------
    surface_temperature, surroundings_temperature : array or number
        Absolute temperatures [K].
    emissivity : array or number
        Emissivity of the face for thermal radiation, 0 to 1 [-].

    Returns
    -------
    array
        Heat flux [W/m2]: a film times the difference, which is the exact fourth-power law.
    """
    squares = surface_temperature**2 + surroundings_temperature**2
    film: Array = np.multiply(
        STEFAN_BOLTZMANN * emissivity, squares * (surface_temperature + surroundings_temperature)
    )
    return film * (surface_temperature - surroundings_temperature)


@correlation(SWINBANK_1963)
def clear_sky_temperature(air_temperature: Values) -> Array:
    """Temperature at which a black sky radiates as a clear one does, by day or night.

    Parameters
    ----------
    air_temperature : array or number
        Near the ground [K].

    Returns
    -------
    array
        `0.0552 T^1.5` [K], whatever the humidity.
    """
    found: Array = np.multiply(0.0552, air_temperature**1.5)
    return found


def sky_loss(
    air_temperature: Values, sky_temperature: Values, emissivity: Values, share: Values
) -> Array:
    """What a face radiates more, because a share of what it sees is black sky and not at the air's
    temperature [W/m2], whatever its own; temperatures in K."""
    missing = air_temperature**4 - sky_temperature**4
    found: Array = np.multiply(STEFAN_BOLTZMANN * emissivity * share, missing)
    return found


@correlation(MAKERS)
def effective_area(
    width: Values, height: Values, depth: Values, backs: Values, sides: Values, tops: Values
) -> Array:
    """Area of a cabinet as it stands that goes with a trade U value, 5.5 W/(m2 K) of painted sheet
    steel: of a free side 0.9 counts, of a covered one 0.5, of a top 1.4 and 0.7, of the floor none.

    Parameters
    ----------
    width, height, depth : array or number
        Outer sizes [m].
    backs, sides, tops : array or number
        How many of its back, its two sides and its top are covered.

    Returns
    -------
    array
        Effective cooling area [m2].
    """
    shares = (1.8 - 0.4 * backs, 1.8 - 0.4 * sides, 1.4 - 0.7 * tops)
    found: Array = np.asarray(shares[0] * width * height + shares[1] * height * depth)
    return found + shares[2] * width * depth
