"""Fans whose speed follows a temperature: what they follow, what they ask for, what is sensed.

Everything accepts complex arrays; sensors are the last things but one axis, variants the last.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Mapping
from typing import NamedTuple

import numpy as np

from flownet.columns import RUNNING, Inputs
from flownet.enclosure.changes import link_names
from flownet.enclosure.fans import MOST_POINTS
from flownet.equations import elements, layers
from flownet.equations.branch import branches
from flownet.equations.component_temperatures import parts
from flownet.equations.state import Model, State
from flownet.schema.arrays import Array, Integers
from flownet.schema.component import KINDS
from flownet.schema.fields import Link, roles

BY = "speed_control.by"


class Controls(NamedTuple):
    """What fans follow; (fans, variants or 1) where not said otherwise."""

    sensed: tuple[str, ...]  # paths of all that is followed in any variant
    sensor: Integers  # which of them; 0 where nothing is
    active: Array  # bool: it runs, and its speed follows something
    temperature: Array  # (fans, points, variants or 1), NaN where there is no such point
    speed: Array  # likewise
    low: Array  # ends of its type's speed range; NaN where not given
    high: Array

    def asked(self, warm: Array) -> Array:
        """Speed ratios (fans, variants) by the temperatures (sensors, variants): straight lines
        between points, the ends held."""
        own = self.own(warm)[:, None]
        first, last = self.temperature[:, :-1], self.temperature[:, 1:]
        step = self.speed[:, 1:] - self.speed[:, :-1]
        there = ~np.isnan(last.real)
        span = np.where(there, last - first, 1.0)
        share = np.where(own.real > first.real, (own - first) / span, 0.0)
        share = np.where(own.real >= last.real, 1.0, share)
        found: Array = self.speed[:, 0] + np.where(there, share * step, 0.0).sum(axis=1)
        return found

    def held(self, warm: Array) -> Array:
        """What is asked for, within the speed range of the type; 0 is stopped."""
        asked = self.asked(warm)
        found = np.where(asked.real < self.low.real, self.low, asked)
        found = np.where(found.real > self.high.real, self.high, found)
        return np.where(asked.real == 0, asked, found)

    def take(self, variants: Integers) -> Controls:
        """Only these variants."""
        cut = (x[..., variants] if x.shape[-1] > 1 else x for x in self[1:])
        return Controls(self.sensed, *cut)

    def own(self, values: Array) -> Array:
        """(fans, variants) of what each fan follows, out of (sensors, variants)."""
        width = max(values.shape[1], self.sensor.shape[1])
        index = np.broadcast_to(self.sensor, (len(self.sensor), width))
        wide = np.broadcast_to(values, (len(values), width))
        found: Array = np.take_along_axis(wide, index, axis=0)
        return found


def controls(inputs: Inputs) -> Controls | None:
    """What the fans of a batch follow; None where no running fan follows anything."""
    columns = inputs.columns.get("fan", {})
    if BY not in columns:
        return None
    by, state = columns[BY].real.astype(int), columns["state"].real
    active = (by >= 0) & (state == RUNNING)
    if not active.any():
        return None
    role = roles(KINDS["fan"])[BY]
    assert isinstance(role, Link)
    known = link_names(inputs.enclosure, role)
    used = np.unique(by[by >= 0])
    place = np.zeros(len(known), int)
    place[used] = np.arange(len(used))
    c = elements.columns(inputs, "fan")
    low, high = c.type.speed_range
    temperature, speed = (
        np.stack(np.broadcast_arrays(*c.speed_control.__dict__[key][:MOST_POINTS]), axis=1)
        for key in ("temperature", "speed")
    )
    return Controls(
        tuple(known[i] for i in used), np.where(by >= 0, place[by], 0), active, temperature, speed,
        low, high,
    )  # fmt: skip


def placed(inputs: Inputs, active: Array, speeds: Array) -> Inputs:
    """The same with these speed ratios where `active`, instead of what is written."""
    fans = dict(inputs.columns["fan"])
    fans["speed"] = np.where(active, speeds, fans["speed"])
    fans["rotation"] = np.where(active, np.nan, fans["rotation"])
    return dataclasses.replace(inputs, columns={**inputs.columns, "fan": fans})


def as_solved(inputs: Inputs, ratios: Mapping[str, float]) -> Inputs:
    """One variant with the speed ratios of a solution, path -> ratio, where fans follow."""
    follow = controls(inputs)
    if follow is None:
        return inputs
    found = np.array([[ratios[f"fan.{name}"]] for name in inputs.names("fan")])
    return placed(inputs, follow.active, found / inputs.supply_speed)


def readings(
    inputs: Inputs, model: Model, state: State, sensed: tuple[str, ...],
    hot: Callable[[], Array] | None = None,
) -> Array:  # fmt: skip
    """(sensors, variants) temperatures; NaN of a part that is not there. `hot` gives those of
    parts, where they are not steady."""
    width, warm = state.mass_flow.shape[1], np.zeros((0, state.mass_flow.shape[1]))
    if any(path.startswith("part.") for path in sensed):
        warm = hot() if hot else parts(inputs, model, state, branches(model, state)).temperature
    air = layers.hottest(model.structure, state.temperature)
    found = []
    for path in sensed:
        kind, _, name = path.partition(".")
        row = inputs.names(kind).index(name)
        if kind == "part":
            found.append(warm[row])
        elif kind == "compartment":
            found.append(air[row])
        else:
            found.append(inputs.columns["outside"]["temperature"][row])
    return np.array([np.broadcast_to(each, width) for each in found])


def outside_readings(inputs: Inputs, sensed: tuple[str, ...]) -> Array:
    """(sensors, variants) temperatures of surroundings; 0 for anything else."""
    found = []
    for path in sensed:
        kind, _, name = path.partition(".")
        rows = inputs.columns["outside"]["temperature"]
        own = rows[inputs.names("outside").index(name)] if kind == "outside" else 0.0
        found.append(np.broadcast_to(own, inputs.variants))
    return np.array(found)


def fixed(sensed: tuple[str, ...]) -> Array:
    """(sensors, 1) true where no fan can change the temperature: outside."""
    return np.array([[path.partition(".")[0] == "outside"] for path in sensed])


def followers(follow: Controls, sensor: int) -> Array:
    """(fans, variants or 1) true where a running fan follows this sensor."""
    found: Array = follow.active & (follow.sensor == sensor)
    return found
