"""Which data of a fan type hold on a supply, and what the supply makes of its speed.

The rating of the supply where there is one. Else the nearest one, scaled: the speed of an
alternating-current fan with the frequency, or with the slip that its motor has at another voltage;
that of a direct-current fan with the voltage (frequency and direct voltage: common practice, no
source). Else the first rating as it stands, which is then doubtful.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from flownet.enclosure.fans import FanType
from flownet.enclosure.surroundings import Supply
from flownet.schema.arrays import Array, Integers
from flownet.schema.fields import given
from flownet.schema.units import SupplyText

HOW = ("rated", "near", "frequency", "voltage", "unknown", "wrong")  # the better one first
SAME_VOLTAGE = 0.01
SAME_FREQUENCY = 0.1  # Hz
MAINS_SCATTER = 0.1  # of the voltage of mains, which a motor stands by common practice
FREQUENCIES = (0.8, 1.25)  # ratios over which the speed of a motor is taken to follow
VOLTAGES = (0.5, 1.15)  # likewise of direct current, where a type states no voltage_range
MOST_SLIP = 0.3  # up to which the torque of an induction motor is taken to grow in a straight line


class Match(NamedTuple):
    """For each variant a row of a list of ratings, how it was come by, a factor on its speed."""

    row: Integers
    how: Integers  # index into HOW
    speed: Array


class Fed(NamedTuple):
    """The data that a fan works on, and how they were come by."""

    rating: FanType
    how: str  # a word of HOW
    speed: float  # factor on the speed of these data; 1 unless scaled by frequency or voltage


def fed(rows: Sequence[FanType], supply: Supply | None) -> Fed:
    """The data of a fan type, given with its ratings, on one supply."""
    if supply is None:
        return Fed(rows[0], "unknown", 1.0)
    frequency = supply.frequency if given(supply.frequency) else 0.0
    found = match(rows, np.array([supply.voltage]), np.array([frequency]))
    return Fed(rows[found.row[0]], HOW[found.how[0]], float(found.speed[0]))


def match(rows: Sequence[FanType], voltage: Array, frequency: Array) -> Match:
    """The row of a fan type and its ratings that serves on each of many supplies.

    Parameters
    ----------
    rows : sequence of FanType
        A type and its ratings.
    voltage, frequency : array
        Of the supplies [V, Hz]; frequency 0 is direct current.
    """
    voltage, frequency = np.broadcast_arrays(voltage, frequency)
    row = np.zeros(voltage.shape, int)
    how = np.full(voltage.shape, len(HOW))
    speed, away = np.ones(voltage.shape, voltage.dtype), np.full(voltage.shape, np.inf)
    for i, each in enumerate(rows):
        how_here, factor, away_here = _one(each, voltage, frequency)
        better = (how_here < how) | ((how_here == how) & (away_here < away) & (how_here < WRONG))
        row, how = np.where(better, i, row), np.where(better, how_here, how)
        speed, away = np.where(better, factor, speed), np.where(better, away_here, away)
    return Match(row, how, speed)


WRONG = HOW.index("wrong")


def _one(row: FanType, voltage: Array, frequency: Array) -> tuple[Integers, Array, Array]:
    """How one row fits supplies, its factor on speed, and how far away they are."""
    own = row.supply_text
    if own is None:
        unknown = np.full(voltage.shape, HOW.index("unknown"))
        return unknown, np.ones(voltage.shape), np.zeros(voltage.shape)
    volts = voltage / own.voltage
    low, high = _voltages(row, own)
    within = (voltage.real >= low) & (voltage.real <= high)
    same_voltage = (volts.real >= 1 - SAME_VOLTAGE) & (volts.real <= 1 + SAME_VOLTAGE)
    away = abs(volts.real - 1)
    if own.frequency == 0:
        cases = [(frequency.real == 0) & same_voltage, (frequency.real == 0) & within]
        how = np.select(cases, [HOW.index("rated"), HOW.index("voltage")], WRONG)
        return how, np.where(how == HOW.index("voltage"), volts, 1.0), away
    hertz = frequency / own.frequency
    off = frequency.real - own.frequency
    same = (off <= SAME_FREQUENCY) & (off >= -SAME_FREQUENCY)
    follows = (hertz.real >= FREQUENCIES[0]) & (hertz.real <= FREQUENCIES[1])
    near = same_voltage | within
    how = np.select(
        [same & same_voltage, same & near, follows & near],
        [HOW.index(word) for word in ("rated", "near", "frequency")], WRONG,
    )  # fmt: skip
    factor = np.where(how == HOW.index("near"), slipping(row, own, volts), 1.0)
    return how, np.where(how == HOW.index("frequency"), hertz, factor), away + abs(hertz.real - 1)


def slipping(row: FanType, own: SupplyText, volts: Array) -> Array:
    """Speed of an induction motor at a ratio of its rated voltage, over its rated speed.

    Its torque is proportional to the slip and the square of the voltage (A. E. Fitzgerald,
    C. Kingsley and S. D. Umans, Electric Machinery, 6th edition, 2003, chapter 6, from memory),
    that of the fan to the square of the speed: `v^2 s / s0 = ((1 - s) / (1 - s0))^2`. 1 where the
    rated speed is not given, faster than a motor with one pair of poles, or too far below one with
    any: then the motor is fed by electronics, or another law holds.
    """
    slip = _rated_slip(row, own)
    if slip is None:
        return np.ones_like(volts)
    torque = volts**2 * (1 - slip) ** 2 / slip
    half = 1 + torque / 2  # s^2 - (2 + torque) s + 1 = 0
    found: Array = (1 - (half - np.sqrt(half**2 - 1))) / (1 - slip)
    return found


def _rated_slip(row: FanType, own: SupplyText) -> float | None:
    """Share by which the rated speed stays behind that of the field; None without such a law."""
    if not given(row.rated_speed):
        return None
    pairs = int(own.frequency / row.rated_speed)  # of poles: the field turns at least as fast
    slip = 1 - row.rated_speed * pairs / own.frequency
    return slip if pairs and 0 < slip <= MOST_SLIP else None


def _voltages(row: FanType, own: SupplyText) -> tuple[float, float]:
    """Lowest and highest voltage on which a row's motor is taken to work."""
    if row.voltage_range is not None:
        return row.voltage_range
    low, high = VOLTAGES if own.frequency == 0 else (1 - MAINS_SCATTER, 1 + MAINS_SCATTER)
    return low * own.voltage, high * own.voltage
