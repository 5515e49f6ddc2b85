"""The sun of a clear sky on a face: where it stands, and what of it arrives.

Angles in degrees, azimuths clockwise from north, tilts from looking up.
"""

from __future__ import annotations

import math

import numpy as np

from flownet.physics.registry import correlation
from flownet.schema.arrays import Array, Values

COOPER_1969 = "P. I. Cooper, Solar Energy 12(3), 1969, 333-346 (declination)"
MACHLER_IQBAL_1985 = (
    "M. A. Machler, M. Iqbal, ASHRAE Transactions 91(1), 1985, 106-115 (constants of the ASHRAE "
    "clear sky; February and May seen in worked examples, the other months from memory)"
)
LIU_JORDAN_1963 = "B. Y. H. Liu, R. C. Jordan, Solar Energy 7(2), 1963, 53-74 (even sky and ground)"
RADIAN = math.pi / 180
_YEAR = 365.0
_DAYS = (21, 52, 80, 111, 141, 172, 202, 233, 264, 294, 325, 355)  # the 21st of each month
_CLEAR = (  # A [W/m2], B, C on these days
    (1202, 1187, 1164, 1130, 1106, 1092, 1093, 1107, 1136, 1166, 1190, 1204),
    (0.141, 0.142, 0.149, 0.164, 0.177, 0.185, 0.186, 0.182, 0.165, 0.152, 0.144, 0.141),
    (0.103, 0.104, 0.109, 0.120, 0.130, 0.137, 0.138, 0.134, 0.121, 0.111, 0.106, 0.103),
)
_LOWEST = 1e-3  # sine of the altitude below which no sun is left: exp(-B/sine) is nought there


def sun_direction(latitude: Values, day: Values, hour: Values) -> tuple[Array, Array, Array]:
    """East, north and upward part of the direction to the sun, together of length 1; at solar time
    12 h it is highest."""
    north, turned = latitude * RADIAN, 15 * (hour - 12) * RADIAN
    declined = 23.45 * RADIAN * np.sin(2 * math.pi * (284 + day) / _YEAR)
    flat, lifted = np.cos(declined) * np.cos(turned), np.sin(declined)
    return (
        -np.cos(declined) * np.sin(turned),
        np.cos(north) * lifted - np.sin(north) * flat,
        np.sin(north) * lifted + np.cos(north) * flat,
    )


def facing_sun(toward: tuple[Array, Array, Array], azimuth: Values, tilt: Values) -> Array:
    """Cosine of the angle between the sun and the normal of a face; below 0 behind it."""
    flat = np.sin(tilt * RADIAN)
    east, north = flat * np.sin(azimuth * RADIAN), flat * np.cos(azimuth * RADIAN)
    found: Array = toward[0] * east + toward[1] * north + toward[2] * np.cos(tilt * RADIAN)
    return found


def clear_sky(sine: Values, day: Values) -> tuple[Array, Array]:
    """Beam on a face that looks at the sun, and diffuse light on a horizontal one [W/m2], by the
    sine of the sun's altitude: `A exp(-B/sine)`, and C times it. Of A, B, C straight lines between
    the 21st of one month and of the next."""
    up, now = np.asarray(sine).real > _LOWEST, np.asarray(day).real
    days = np.array([_DAYS[-1] - _YEAR, *_DAYS, _DAYS[0] + _YEAR])
    at = np.searchsorted(days[1:-1], now, side="right")
    share = (day - days[at]) / (days[at + 1] - days[at])
    strength, dimming, diffuse = (
        values[at] + share * (values[at + 1] - values[at])
        for values in (np.array([each[-1], *each, each[0]]) for each in _CLEAR)
    )
    beam = np.where(up, strength * np.exp(-dimming / np.where(up, sine, 1.0)), 0.0)
    return beam, diffuse * beam


@correlation(f"{COOPER_1969}; {MACHLER_IQBAL_1985}; {LIU_JORDAN_1963}", {"day": (1.0, 366.0)})
def sun_on_face(
    latitude: Values, day: Values, hour: Values, azimuth: Values, tilt: Values,
    ground_reflectance: Values,
) -> Array:  # fmt: skip
    """Sun on a face under a clear sky, near sea level: beam, diffuse light of sky and ground.

    Parameters
    ----------
    latitude, azimuth, tilt : array or number
        North positive; way the face looks, clockwise from north, and from looking up [deg].
    day, hour : array or number
        Of the year; solar time [h].
    ground_reflectance : array or number
        Share of its light that the ground sends back [-].

    Returns
    -------
    array
        Light on the face [W/m2]; it sees `(1 + cos tilt)/2` of the sky, else lit ground.
    """
    toward = sun_direction(latitude, day, hour)
    facing, sky = facing_sun(toward, azimuth, tilt), sky_share(tilt)
    beam, diffuse = clear_sky(toward[2], day)
    ground = ground_reflectance * (diffuse + beam * toward[2]) * (1 - sky)
    found: Array = beam * np.where(facing.real > 0, facing, 0.0) + diffuse * sky + ground
    return found


def sky_share(tilt: Values) -> Array:
    """Share of the sky in what a face sees over open ground."""
    found: Array = (1 + np.cos(tilt * RADIAN)) / 2
    return found
