"""Fans that follow a temperature in time: what they go by, and where their speed jumps.

A fan goes by a temperature that follows what is sensed within `FAN_LAG`, and falls with it only
once that has fallen by the hysteresis. It never stands within a jump of the speed (a thermostat, a
fan that starts at its lowest speed): the fan keeps to one side until what it follows has passed
the other edge, and comes back once that has fallen by the hysteresis.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np

from flownet.columns import Inputs
from flownet.equations.stores import Moment
from flownet.schema.arrays import Array, Integers
from flownet.solver import tolerances as tol
from flownet.solver.speeds import Controls, controls, readings

FAN_LAG = 1.0  # s in which a fan feels a temperature that it follows: our own choice
THERMOSTAT = 1.0  # K between points of a thermostat, as the finding speed-as-mean has it


class Switch(NamedTuple):
    """A fan whose speed jumps, as what it follows has passed an edge."""

    time: float
    fan: str
    by: str
    speeds: tuple[float, float]  # ratios before and after


@dataclass(eq=False)
class Following:
    """The fans of a stretch that follow something; arrays are (fans, jumps) or (fans, times)."""

    follow: Controls
    names: tuple[str, ...]
    below: Array  # K: up to here one speed; rising, infinite where there is no more
    above: Array  # K: from here on the other
    back: Array  # (fans, 1) hysteresis [K]
    zone: Integers  # (fans, 1) jumps that are passed
    switches: list[Switch] = field(default_factory=list)

    @classmethod
    def of(cls, inputs: Inputs) -> Following | None:
        """Of one variant: jumps are between points closer than `THERMOSTAT` of a fan with
        hysteresis, and between 0 and a lowest speed. None where no fan follows anything."""
        follow = controls(inputs)
        if follow is None:
            return None
        back = np.nan_to_num(inputs.columns["fan"]["speed_control.hysteresis"].real)
        warm, speed = follow.temperature[..., 0].real, follow.speed[..., 0].real
        first, last = warm[:, :-1], warm[:, 1:]
        low = np.nan_to_num(follow.low.real) > 0
        starts, ends = low & (speed[:, :-1] == 0), low & (speed[:, 1:] == 0)
        steep = (back > 0) & (last - first < THERMOSTAT)
        there = (speed[:, :-1] != speed[:, 1:]) & follow.active & ~np.isnan(last)
        there &= steep | starts | ends
        below = np.where(there, np.where(steep | starts, first, last - tol.JUMP_WIDTH), np.inf)
        above = np.where(there, np.where(steep | ends, last, first + tol.JUMP_WIDTH), np.inf)
        return cls(follow, tuple(inputs.names("fan")), np.sort(below, axis=1),
                   np.sort(above, axis=1), back, np.zeros(back.shape, int))  # fmt: skip

    def begun(self, felt: Array) -> Array:
        """What fans go by at first, each jump passed or not."""
        self.zone = (felt.real >= self.above).sum(axis=1, keepdims=True)
        return self._kept(felt)

    def _ends(self) -> tuple[Array, Array]:
        """(fans, 1) between which fans go by a temperature."""
        edge = self.back + np.inf
        low, high = np.hstack([-edge, self.above]), np.hstack([self.below, edge])
        return np.take_along_axis(low, self.zone, axis=1), np.take_along_axis(high, self.zone, 1)

    def _kept(self, felt: Array) -> Array:
        low, high = self._ends()
        felt = np.where(felt.real < low, low, felt)
        return np.where(felt.real > high, high, felt)

    def speed(self, felt: Array) -> Array:
        """(fans, times) speed ratios at the temperatures that fans go by."""
        own = np.arange(len(felt))[:, None]
        return self.follow._replace(sensor=own).held(self._kept(felt))

    def own(self, moment: Moment) -> Array:
        """(fans, times) temperatures of what fans follow."""
        stores, now, model, state = moment
        return self.follow.own(readings(
            stores.inputs, model, state, self.follow.sensed,
            lambda: stores.parts(now, state, moment.here).temperature,
        ))  # fmt: skip

    def rate(self, moment: Moment, felt: Array) -> Array:
        """(fans, times) K/s of what fans go by."""
        own = self.own(moment)
        up, down = self._kept(own) - felt, self._kept(own + self.back) - felt
        drive = np.where(up.real > 0, up, np.where(down.real < 0, down, 0.0))
        return np.where(self.follow.active, drive, 0.0) / FAN_LAG

    def due(self, moment: Moment) -> Array:
        """(fans, 1) 1 where what a fan follows has passed the edge of a jump, -1 downwards."""
        own = self.own(moment).real
        over = np.take_along_axis(np.hstack([self.above, self.back + np.inf]), self.zone, axis=1)
        return np.where(own > over, 1, np.where(own + self.back < self._ends()[0], -1, 0))

    def switched(self, time: float, due: Array, felt: Array) -> Array:
        """What fans go by once these have switched."""
        before, self.zone = self.speed(felt), self.zone + due
        low, high = self._ends()
        felt = np.where(due > 0, low, np.where(due < 0, high, felt))
        after = self.speed(felt)
        for row in np.flatnonzero(due):
            by = self.follow.sensed[self.follow.sensor[row, 0]]
            pair = float(before[row, 0].real), float(after[row, 0].real)
            self.switches.append(Switch(time, self.names[row], by, pair))
        return felt
