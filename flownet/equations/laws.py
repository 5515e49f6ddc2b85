"""Pressure laws: `law(mass_flow, air) -> (drop, slope)`, arrays over (elements, variants).

Every law is smooth through zero, finite everywhere, never falls unless it is a fan, and accepts
complex arrays: then the slope is exact to round-off, and every input can be derived as well.
Positive flow runs from the element's `from` to its `to`.

A law is a tuple of arrays, variants last (or of length 1): some can be cut out of all alike.
"""

from __future__ import annotations

from functools import reduce
from typing import NamedTuple, Protocol

import numpy as np

from flownet.physics import air as properties
from flownet.physics import friction, losses
from flownet.physics.air import Air
from flownet.schema.arrays import Array, Values, magnitude, used

TURNING_REYNOLDS = 30.0  # about here a square law turns linear: assumption, keeps slopes finite
REFERENCE_TEMPERATURE = 293.15  # K, of measured filters and cards
REFERENCE_DENSITY = float(properties.density(REFERENCE_TEMPERATURE, properties.SEA_LEVEL_PRESSURE))
REFERENCE_VISCOSITY = float(properties.viscosity(REFERENCE_TEMPERATURE))
UNSEEN = 1e-4  # of what air loses on a rotor: a rotor that could raise no more moves no digit
LEAK_TURNING = 1e-3  # of a leak's reference flow: below it the power law turns linear

Result = tuple[Array, Array]


class Law(Protocol):
    """A pressure drop that depends on the flow."""

    def __call__(self, mass_flow: Array, air: Air, /) -> Result:
        """Pressure drop [Pa] in the direction of the flow's sign, and its slope [Pa s/kg]."""


def turning_flow(area: Values, air: Air) -> Array:
    """Mass flow [kg/s] at the turning Reynolds number of a round hole of this area."""
    return np.asarray(air.viscosity * (TURNING_REYNOLDS * np.sqrt(np.pi / 4 * area)))


def _rounded_square(flow: Array, turning: Array) -> Result:
    """flow |flow| with |flow| = sqrt(flow^2 + turning^2), and its derivative."""
    square = flow * flow
    both = square + turning * turning
    size = np.sqrt(both)
    return flow * size, (square + both) / size


class Square(NamedTuple):
    """K rho v^2 / 2; linear below the turning Reynolds number. Made by `of`."""

    factor: Array  # K over twice the square of the whole area [1/m4]
    turning: Array  # turning mass flow over viscosity [m]

    @classmethod
    def of(cls, loss: Array, area: Array, turning: Values = 1.0, count: Values = 1.0) -> Square:
        """Of `count` equal areas side by side; `turning` multiplies the turning velocity."""
        total, width = area * count, np.sqrt(np.pi / 4 * area)
        return cls(loss / (2 * total * total), turning * count * TURNING_REYNOLDS * width)

    def __call__(self, mass_flow: Array, air: Air) -> Result:
        square, slope = _rounded_square(mass_flow, air.viscosity * self.turning)
        factor = self.factor / air.density
        return factor * square, factor * slope


class Viscous(NamedTuple):
    """`coefficient` times viscosity times velocity in `area`."""

    coefficient: Array  # [1/m]
    area: Array

    def __call__(self, mass_flow: Array, air: Air) -> Result:
        slope = self.coefficient * air.viscosity / (air.density * self.area)
        return slope * mass_flow, slope + 0 * mass_flow


class Split(NamedTuple):
    """`linear` v + `quadratic` v^2 at 20 degC and 101325 Pa.

    Assumption: the first part is viscous and scales with viscosity, the second is inertial and
    scales with density.
    """

    viscous: Array  # drop over kinematic viscosity and mass flow
    inertial: Array  # drop times density over the square of the mass flow
    turning: Array  # of each channel: turning mass flow over viscosity [m]
    count: Values = 1.0  # type: ignore[assignment]  # hides tuple.count

    @classmethod
    def of(cls, linear: Array, quadratic: Array, area: Array, count: Values = 1.0) -> Split:
        """Of `count` equal channels with velocities in `area` of each."""
        total, width = area * count, np.sqrt(np.pi / 4 * area)
        viscous = linear / (REFERENCE_VISCOSITY * total)
        inertial = quadratic / (REFERENCE_DENSITY * total * total)
        return cls(viscous, inertial, TURNING_REYNOLDS * width, count)

    def __call__(self, mass_flow: Array, air: Air) -> Result:
        viscous, inertial = self.viscous * air.viscosity / air.density, self.inertial / air.density
        square, slope = _rounded_square(mass_flow, self.count * (air.viscosity * self.turning))
        return viscous * mass_flow + inertial * square, viscous + inertial * slope


class WireScreen(NamedTuple):
    """Woven wire, its loss on gross `area` following the Reynolds number of the openings.

    The source's table is joined by straight lines: the slope has small kinks at its points.
    """

    open_ratio: Array
    hole: Array  # space between wires
    area: Array
    fouling: Values = 1.0  # multiplies the loss

    def __call__(self, mass_flow: Array, air: Air) -> Result:
        scale = self.hole / (self.open_ratio * self.area * air.viscosity)
        reynolds = scale * magnitude(mass_flow)
        loss, bend = losses.round_edge_screen_and_slope(self.open_ratio, reynolds)
        square, slope = _rounded_square(mass_flow, turning_flow(self.area, air))
        factor = self.fouling / (2 * air.density * self.area * self.area)
        turned = np.where(mass_flow.real >= 0, scale, -scale)
        return factor * loss * square, factor * (loss * slope + bend * turned * square)


class SlotFriction(NamedTuple):
    """Friction along `count` equal smooth rectangular channels in which the flow develops."""

    length: Array
    diameter: Array  # hydraulic
    area: Array  # of one channel
    aspect_ratio: Array  # short over long side
    count: Array  # type: ignore[assignment]  # hides tuple.count

    def __call__(self, mass_flow: Array, air: Air) -> Result:
        reynolds = _reynolds(mass_flow, self.diameter, self.area * self.count, air)
        product = friction.slot_product_and_slope(
            reynolds, self.aspect_ratio, self.length / self.diameter
        )
        factor = self.length / (self.diameter * self.diameter * self.area * self.count)
        return _rubbed(mass_flow, air, factor, reynolds, product)


class DuctFriction(NamedTuple):
    """Friction along a round or rectangular duct."""

    length: Array
    diameter: Array  # hydraulic
    area: Array
    roughness: Array  # over hydraulic diameter
    laminar: Array  # Darcy f Re of slow flow

    def __call__(self, mass_flow: Array, air: Air) -> Result:
        reynolds = _reynolds(mass_flow, self.diameter, self.area, air)
        product = friction.churchill_product_and_slope(reynolds, self.roughness, self.laminar)
        factor = self.length / (self.diameter * self.diameter * self.area)
        return _rubbed(mass_flow, air, factor, reynolds, product)


def _reynolds(mass_flow: Array, diameter: Array, area: Array, air: Air) -> Array:
    return np.asarray(magnitude(mass_flow) * diameter / (area * air.viscosity))


def _rubbed(mass_flow: Array, air: Air, factor: Array, reynolds: Array, product: Result) -> Result:
    """f Re mu v L / (2 D^2) and its slope, from f Re and its derivative by Re."""
    scale = factor * air.viscosity / (2 * air.density)
    return scale * product[0] * mass_flow, scale * (product[0] + reynolds * product[1])


class PowerLaw(NamedTuple):
    """Crack flow: pressure grows with volume flow to the power 1/exponent, linear near zero."""

    flow: Array  # reference volume flow
    pressure: Array  # at that flow
    exponent: Array

    def __call__(self, mass_flow: Array, air: Air) -> Result:
        part = mass_flow / (air.density * self.flow)
        square = part * part + LEAK_TURNING * LEAK_TURNING
        power = (1 / self.exponent - 1) / 2
        linear = self.pressure * square**power
        slope = linear * (1 + 2 * power * part * part / square) / (air.density * self.flow)
        return linear * part, slope


class FlapLaw(NamedTuple):
    """Guard, what stands close, and a shutter that opens one way, of one fan added.

    Without a shutter both losses are the same. Against the fan the turning velocity is smaller in
    proportion, so that zero flow has one slope.
    """

    ahead: Square  # everything together with the shutter open
    back: Square  # the same with it closed
    sign: Array  # +1 where the fan blows from `from` to `to`, else -1

    @classmethod
    def of(cls, open_loss: Array, closed_loss: Array, area: Array, sign: Array) -> FlapLaw:
        some = closed_loss.real != 0
        turning = used(some, open_loss / used(some, closed_loss))
        return cls(Square.of(open_loss, area), Square.of(closed_loss, area, turning), sign)

    def __call__(self, mass_flow: Array, air: Air) -> Result:
        ahead = (self.sign * mass_flow).real >= 0
        sides = zip(self.ahead, self.back, strict=True)
        return Square(*(np.where(ahead, one, other) for one, other in sides))(mass_flow, air)


class FanRise(NamedTuple):
    """A running fan: its curve by the fan laws, carried on beyond both ends (assumption).

    It takes the density of the side it is mounted to draw from, whichever way the air goes: with
    that of the upstream end the rise would jump where the flow turns. Beyond either end stands the
    end slope carried on, and what lies beyond meets the loss of a rotor. As the speed goes to zero
    both ends of the curve go to zero flow, and this is what a rotor that stands does. A fan that
    does not run neither raises nor drops anything here: its rotor is a loss of its own.
    """

    sign: Array  # +1 where it blows from `from` to `to`, -1 where it is mounted the other way
    running: Array  # bool
    flow_scale: Array  # volume flow over that of the curve; any where it does not run
    pressure_scale: Array  # rise over that of the curve and over density [m3/kg]
    area: Array
    backflow_loss: Array
    windmill_loss: Array
    starts: Array  # (fans, pieces, variants) flow at which each piece begins, see `fits.Curve`
    cubic: Array  # (fans, pieces, 4, variants) highest power first
    last: Array  # flow of the last point of the curve
    stall: Array  # flow of the last local maximum of a curve with a rising piece, else NaN

    def __call__(self, mass_flow: Array, air: Air) -> Result:
        rise, slope = self._rise(mass_flow, air)
        return -self.sign * rise, slope

    def rise(self, mass_flow: Array, air: Air) -> Array:
        """Pressure rise [Pa], positive the way the fan blows."""
        return self._rise(mass_flow, air)[0]

    def turns(self, mass_flow: Array, air: Air) -> Array:
        """Whether it runs and can be told from a rotor that stands: not where the most it could
        raise at its speed is `UNSEEN` beside what the air, moved by others, loses on it."""
        density = self._drawn(air)
        most = (density * self.pressure_scale).real * self.cubic[:, :, 3].real.max(axis=1)
        lost = abs(self.rise(mass_flow, air).real)
        return np.asarray(self.running & ~(most < UNSEEN * lost))

    def _drawn(self, air: Air) -> Array:
        """Density of the air on the side it is mounted to draw from."""
        return np.where(self.sign > 0, air.at_start, air.at_end)

    def _rise(self, mass_flow: Array, air: Air) -> Result:
        """The rise, and the slope of the drop in mass flow."""
        density = self._drawn(air)
        scale, head = density * self.flow_scale, density * self.pressure_scale
        scaled = self.sign * mass_flow / scale
        back, past = scaled.real < 0, scaled.real > self.last
        value, steepness, x = self._curve(scaled, past)
        rise, slope = head * value, self.pressure_scale * steepness / self.flow_scale
        if not (back | past).any():
            return rise, 0.0 - slope
        loss = np.where(back, self.backflow_loss, np.where(past, self.windmill_loss, 0.0))
        shut_off = head * self.cubic[:, 0, 3]
        lost, more = self._rotor(x * scale, np.where(self.running, loss, 0.0), shut_off, air)
        return rise - lost, more - slope

    def _rotor(self, beyond: Array, loss: Array, shut_off: Array, air: Air) -> Result:
        """What the rotor takes from a mass flow beyond either end of the curve, and its slope.

        `Square` of it where the fan stands. While it runs this begins without a slope of its own,
        so that none jumps at the ends: viscous loss comes in from the flow at which that alone
        would take the shut-off pressure, far out at any usual speed. So soon, and no sooner, the
        flow backwards through a fan that speeds up does not grow.
        """
        factor, size = loss / (2 * self.area * self.area) / air.density, magnitude(beyond)
        turning, there = turning_flow(self.area, air), factor.real > 0
        far = used(there, size + shut_off / used(there, factor * turning))
        ratio = np.where(there, turning / far, 0.0)
        root = np.sqrt(1 + ratio * ratio)
        slope = 2 * root - size / far * ratio * ratio / root
        return factor * root * beyond * size, factor * slope * size

    def _curve(self, scaled: Array, past: Array) -> tuple[Array, Array, Array]:
        """Value and slope of the curve, and how far into its piece."""
        piece = np.sum(scaled.real[:, None] >= self.starts[:, 1:], axis=1)
        x = scaled - _of_piece(self.starts, piece)
        chosen = _of_piece(self.cubic, piece)
        a, b, c, d = (chosen[..., power] for power in range(4))
        value, steepness = ((a * x + b) * x + c) * x + d, (3 * a * x + 2 * b) * x + c
        if not past.any():
            return value, steepness, x
        excess, fade = self._fading(c, d, past)
        left = 1 / (1 + fade * x)
        return value + excess * (1 - left) * x, steepness + excess * (1 - left * left), x

    def _fading(self, slope: Array, end: Array, past: Array) -> tuple[Array, Array]:
        """How much of the slope past the last point fades, and how soon [s/m3].

        Carried on for ever, a slope steeper than that of a standing rotor's loss at free flow would
        take more pressure than the rotor takes when it stands, and the flow would fall where the
        fan speeds up. What is too much of it fades, so that the rise over that of the standing
        rotor gets smaller and never less than nothing.
        """
        velocity, pressure = self.flow_scale / self.area, self.pressure_scale
        standing = self.windmill_loss * velocity * velocity * self.last
        standing = standing / np.where(self.running, pressure, 1.0)
        above = end + standing * self.last / 2
        excess = -slope - standing
        steep = past & self.running & (excess.real > 0) & (above.real > 0)
        excess = np.where(steep, excess, 0.0)
        return excess, excess / np.where(steep, above, 1.0)

    @property
    def free_flow(self) -> Array:
        """Volume flow [m3/s] of the last point of the curve at its speed; NaN where not running."""
        return np.where(self.running, self.flow_scale * self.last, np.nan)

    @property
    def stall_flow(self) -> Array:
        """Volume flow [m3/s] below which it stalls, at its speed; NaN without a dip."""
        return np.where(self.running, self.flow_scale * self.stall, np.nan)

    @property
    def dipped(self) -> Array:
        """Whether it runs on a curve with a rising piece."""
        return np.asarray(self.running & ~np.isnan(self.stall))


def _of_piece(table: Array, piece: Array) -> Array:
    """(fans, variants, ...) of a table (fans, pieces, ..., variants or 1) at pieces of curves."""
    fans = np.arange(len(piece))[:, None]
    return np.asarray(table[fans, piece, ..., np.arange(table.shape[-1])])


class Only(NamedTuple):
    """A law where `mask` holds, nothing elsewhere; the law's own arrays are finite everywhere."""

    law: Law
    mask: Array  # bool

    def __call__(self, mass_flow: Array, air: Air) -> Result:
        drop, slope = self.law(mass_flow, air)
        return np.where(self.mask, drop, 0.0), np.where(self.mask, slope, 0.0)


def in_series(laws: tuple[Law, ...], mass_flow: Array, air: Air) -> Result:
    """The sums of what laws do that share one flow."""
    each = (law(mass_flow, air) for law in laws)
    return reduce(lambda one, more: (one[0] + more[0], one[1] + more[1]), each)
