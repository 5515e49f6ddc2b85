"""Sound levels in dB. A source that is off has the level minus infinity."""

from __future__ import annotations

import numpy as np

from flownet.physics.registry import COMMON_PRACTICE, correlation
from flownet.schema.arrays import Array, Values

SILENCE = -np.inf
FIELD_LOSS = {"sphere": 11.0, "hemisphere": 8.0}
"""Sound power less sound pressure level at 1 m in free space: 10 log10(4 pi) and (2 pi), rounded
as the trade does."""


@correlation("energies of incoherent sources add: any acoustics textbook")
def add_levels(levels: Array, axis: int = 0) -> Array:
    """Level of several incoherent sources together.

    Parameters
    ----------
    levels : array
        Levels of the sources along `axis` [dB]; minus infinity where a source is off.
    axis : int
        The axis that is summed over.

    Returns
    -------
    array
        Level of the sum [dB], without `axis`; minus infinity where every source is off.
    """
    off = levels.real == SILENCE
    energies = np.where(off, 0.0, 10.0 ** (np.where(off, 0.0, levels) / 10.0))
    return _level(np.sum(energies, axis=axis))


@correlation("energies of incoherent sources add: any acoustics textbook")
def shares(levels: Array, axis: int = 0) -> Array:
    """Share of each of several incoherent sources in the energy of all.

    Parameters
    ----------
    levels : array
        Levels of the sources along `axis` [dB]; minus infinity where a source is off.
    axis : int
        The axis along which they stand.

    Returns
    -------
    array
        Share of each [-], of the shape of `levels`; NaN where it is off.
    """
    whole = np.expand_dims(add_levels(levels, axis), axis)
    off = levels.real == SILENCE
    quieter = np.where(off, 0.0, levels) - np.where(whole.real == SILENCE, 0.0, whole)
    return np.where(off, np.nan, 10.0 ** (quieter / 10.0))


@correlation(COMMON_PRACTICE)
def speed_change(speed_ratio: Values) -> Array:
    """Change of a fan's level with its speed, 50 log10 [dB]; minus infinity at rest.

    Parameters
    ----------
    speed_ratio : array or number
        Speed over the speed of the known level [-], not negative.

    Returns
    -------
    array
        What is added to the known level [dB].
    """
    return 5.0 * _level(speed_ratio)


@correlation("spherical spreading in a free field: any acoustics textbook")
def distance_change(distance_ratio: Values) -> Array:
    """Change of a sound pressure level with distance in a free field, -20 log10 [dB].

    Parameters
    ----------
    distance_ratio : array or number
        Distance over the distance of the known level [-], above 0.

    Returns
    -------
    array
        What is added to the known level [dB].
    """
    found: Array = -20.0 * np.log10(distance_ratio)
    return found


@correlation("Lw - Lp = 10 log10(4 pi r^2) about a point source: any acoustics textbook")
def power_to_pressure(
    power_level: Values, distance: Values, field_loss: Values = FIELD_LOSS["sphere"]
) -> Array:
    """Sound pressure level of a point source from its sound power level.

    Parameters
    ----------
    power_level : array or number
        Sound power level, reference 1 pW [dB].
    distance : array or number
        Distance from the source [m], above 0.
    field_loss : array or number
        `FIELD_LOSS["sphere"]` in free space, `FIELD_LOSS["hemisphere"]` on a hard floor [dB].

    Returns
    -------
    array
        Sound pressure level, reference 20 uPa [dB].
    """
    return power_level + distance_change(distance) - field_loss


@correlation("Lw - Lp of a source in free space, the other way round: any acoustics textbook")
def pressure_to_power(
    pressure_level: Values, distance: Values, field_loss: Values = FIELD_LOSS["sphere"]
) -> Array:
    """Sound power level of a point source from its sound pressure level in free space.

    Parameters
    ----------
    pressure_level : array or number
        Sound pressure level, reference 20 uPa [dB].
    distance : array or number
        Distance at which it was measured [m], above 0.
    field_loss : array or number
        As of `power_to_pressure` [dB].

    Returns
    -------
    array
        Sound power level, reference 1 pW [dB].
    """
    return pressure_level - distance_change(distance) + field_loss


@correlation("diffuse field of a room, Lw + 10 log10(4 / R): Sabine; any acoustics textbook")
def reverberant(power_level: Values, room_constant: Values) -> Array:
    """Sound pressure level that a room adds to the direct sound of a source, everywhere alike.

    With the direct sound as energies it gives `Lp = Lw + 10 log10(Q/(4 pi r^2) + 4/R)`, Q being 1
    in free space and 2 on a hard floor.

    Parameters
    ----------
    power_level : array or number
        Sound power level of the source [dB].
    room_constant : array or number
        `R = S a/(1 - a)` of the room's surface S and its mean absorption a [m2], above 0; a
        free field has an infinite one.

    Returns
    -------
    array
        Sound pressure level of the reflected sound alone [dB].
    """
    found: Array = power_level + 10.0 * np.log10(4.0 / room_constant)
    return found


@correlation("definition: blades that pass a point in a second")
def blade_pass(blades: Values, speed: Values) -> Array:
    """Frequency of a fan's blade-pass tone [Hz].

    Parameters
    ----------
    blades : array or number
        Count of blades [-].
    speed : array or number
        Revolutions per second [1/s].

    Returns
    -------
    array
        Its first harmonic [Hz]; others stand at whole multiples.
    """
    return np.multiply(blades, speed)


def _level(ratio: Values) -> Array:
    """10 log10 of a ratio that may be zero."""
    off = np.asarray(ratio).real <= 0.0
    return np.where(off, SILENCE, 10.0 * np.log10(np.where(off, 1.0, ratio)))
