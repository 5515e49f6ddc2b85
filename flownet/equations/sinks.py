"""Heat sinks where they stand: channels and drop of a branch, resistance of a part."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np

from flownet.equations.laws import Law, Only, SlotFriction, Square
from flownet.physics import air, losses
from flownet.physics.materials import of_materials
from flownet.physics.sinks import SLOWEST, PlateFins, fin_resistance, log_mean_place
from flownet.schema.arrays import Array

FITTED, FILLER, EMPTY = range(3)  # states of a slot, as declared


def plate_fins(sink: Any) -> PlateFins:
    """The geometry in columns of sink types, (things, variants)."""
    own = np.where(sink.material.real >= 0, of_materials("conductivity", sink.material),
                   sink.conductivity)  # fmt: skip
    return PlateFins.of(sink.base, sink.fins, sink.fin, own)


def between_fins(c: Any) -> Any:
    """Columns of slots, with the channels of a sink where one is fitted."""
    if not c.sink.given.any():
        return c
    fins, fitted = plate_fins(c.sink), (c.state != FILLER) & (c.state != EMPTY)
    own = {
        "gap": fins.gap, "width": fins.height, "length": fins.length,
        "free_ratio": fins.free_ratio, "count": c.count * fins.channels,
    }  # fmt: skip
    fitted = fitted & c.sink.given
    made = {key: np.where(fitted, value, getattr(c, key)) for key, value in own.items()}
    return SimpleNamespace(**{**c.__dict__, **made})


def channel_laws(sink: Any, room: Array) -> tuple[Law, ...]:
    """Of ducts with sinks in them: friction between fins, entrance and exit; none where no duct
    has one, NaN where it is larger than the `room` across the duct."""
    if not sink.given.any():
        return ()
    fins = plate_fins(sink)
    area, solid = np.asarray(fins.gap * fins.height), 1 - fins.free_ratio
    area = np.where(fins.width * fins.height > room.real, np.nan, area)
    loss = losses.contraction(fins.free_ratio) + solid * solid
    length, count = np.asarray(fins.length), np.asarray(fins.channels)
    rubbed = SlotFriction(length, fins.diameter, area, fins.aspect_ratio, count)
    return Only(rubbed, sink.given), Only(Square.of(loss, area, count=count), sink.given)


def resistance_and_rise(
    sink: Any, factor: Array, mass_velocity: Array, density: Array, pressure: Array, counted: Array
) -> tuple[Array, Array]:
    """(parts, variants) K/W from each sink to the log-mean temperature of the air between its
    fins, and from there to the temperature that stands for the air of its place.

    `counted`: how much of the rise of its own air that temperature has. Exact for a sink of one
    temperature: P = m cp (T - T_in) (1 - exp(-1/(R m cp))). Slower air than `SLOWEST` counts as
    that.
    """
    fins = plate_fins(sink)
    there = sink.given & ~np.isnan(mass_velocity.real)
    heavy = np.where(there, density, air.STANDARD_DENSITY)
    slow = SLOWEST * heavy
    moved = np.where(there & (mass_velocity.real > slow.real), mass_velocity, slow)
    resistance = factor * fin_resistance(fins, moved, pressure / (air.GAS_CONSTANT * heavy))
    capacity = air.HEAT_CAPACITY * moved * fins.free_area
    rise = (log_mean_place(1 / (resistance * capacity)) - counted) / capacity
    return np.where(sink.given, resistance, 0.0), np.where(sink.given, rise, 0.0)
