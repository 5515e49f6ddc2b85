"""Heat through panels: a given U, or inside film, panel, outside film, radiation and sun computed.

Positive heat leaves the inside. Every array has the variants as its last axis; all accept complex
numbers, and come out with exact derivatives.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from flownet.arrays import Array
from flownet.correlations import films
from flownet.correlations.materials import MATERIALS
from flownet.errors import CaseError
from flownet.inputs import Inputs

GUESSES, EXACT = 6, 2  # rounds of the balance of the two faces, see `Films.balance`
NATURAL = 1.3  # a natural film's flux grows about as the difference to this power
STEP = 1e-20  # imaginary step of a derivative


class Faces(NamedTuple):
    """What a panel does; all (walls, variants)."""

    heat: Array  # from the inside to the other side [W]
    conductance: Array  # d heat / d inside temperature, nearly: film properties held [W/K]
    inner: Array  # temperature of the inner face [K]; NaN for a given U
    outer: Array  # temperature of the outer face [K]; NaN for a given U


class Films(NamedTuple):
    """Panels whose films are computed; arrays finite for all walls, computed or not.

    Films are those of a vertical plate, for tops and bottoms too (assumption). Between two
    compartments both faces have natural films and no radiation.
    """

    panel: Array  # conductivity over thickness [W/(m2 K)]
    height: Array
    emissivity: Array  # of the outer face; 0 towards a compartment

    def balance(
        self, inside: Array, other: Array, pressure: Array, sun: Array
    ) -> tuple[Array, Array, Array, Array]:
        """Flux [W/m2], conductance [W/(m2 K)], inner and outer face [K].

        Each round puts tangents in the place of the two films and solves the chain of three
        resistances, whose faces lie between the temperatures around them (and the sun's rise), so
        that no round can leave the physical range. The first rounds use rough tangents of real
        numbers. The last ones are Newton's: the first of them reaches round-off, the second
        carries imaginary parts through exactly.
        """
        real = Films(*(part.real for part in self))
        around = (inside.real, other.real, np.real(pressure), sun.real)
        inner = 0.6 * around[0] + 0.4 * around[1]
        outer = 0.4 * around[0] + 0.6 * around[1]
        for _ in range(GUESSES):
            tangents = real._rough(inner, outer, around)
            _, _, inner, outer = real._chain(tangents, around[3])
        for exact in range(EXACT):
            last = exact == EXACT - 1
            model, places = (self, (inside, other, pressure, sun)) if last else (real, around)
            slopes = real._slopes(inner, outer, around)
            tangents = model._tangents(inner, outer, places, slopes)
            flux, conductance, inner, outer = model._chain(tangents, places[3])
        return flux, conductance, inner, outer

    def _chain(self, tangents: tuple[Array, ...], sun: Array) -> tuple[Array, Array, Array, Array]:
        """Flux through film, panel, film between the temperatures the tangents start from."""
        warm, inner_film, cold, outer_film = tangents
        conductance = 1 / (1 / inner_film + 1 / self.panel + 1 / outer_film)
        flux = conductance * (warm - cold - sun / outer_film)
        return flux, conductance, warm - flux / inner_film, cold + (flux + sun) / outer_film

    def _fluxes(self, inner: Array, outer: Array, around: tuple[Array, ...]) -> tuple[Array, Array]:
        """Into the inner face, and out of the outer one [W/m2]."""
        inside, other, pressure, _ = around
        within = films.natural_film(inner, inside, self.height, pressure) * (inside - inner)
        without = films.natural_film(outer, other, self.height, pressure) * (outer - other)
        return within, without + films.radiation_flux(outer, other, self.emissivity)

    def _rough(self, inner: Array, outer: Array, around: tuple[Array, ...]) -> tuple[Array, ...]:
        """Tangents as of a power law; radiation by its own."""
        inside, other, pressure, _ = around
        within = films.natural_film(inner, inside, self.height, pressure)
        without = films.natural_film(outer, other, self.height, pressure)
        glow = 4 * films.STEFAN_BOLTZMANN * self.emissivity * outer**3
        slope_in, slope_out = NATURAL * within, NATURAL * without + glow
        leaving = without * (outer - other) + films.radiation_flux(outer, other, self.emissivity)
        warm = inner + within * (inside - inner) / slope_in
        return warm, slope_in, outer - leaving / slope_out, slope_out

    def _slopes(self, inner: Array, outer: Array, around: tuple[Array, ...]) -> tuple[Array, Array]:
        """Exact derivatives of the two fluxes by their face, for real numbers."""
        within, without = self._fluxes(inner.real + 1j * STEP, outer.real + 1j * STEP, around)
        return -within.imag / STEP, without.imag / STEP

    def _tangents(
        self, inner: Array, outer: Array, around: tuple[Array, ...], slopes: tuple[Array, Array]
    ) -> tuple[Array, ...]:
        within, without = self._fluxes(inner, outer, around)
        return inner + within / slopes[0], slopes[0], outer - without / slopes[1], slopes[1]


class Walls(NamedTuple):
    """All walls of an enclosure."""

    area: Array
    u_value: Array  # 0 where computed
    sun: Array  # absorbed per area [W/m2]
    sun_rise: Array  # what it is worth as a warmer outside, for a given U [K]
    computed: Array  # bool
    films: Films | None  # where any wall is computed

    def evaluate(self, inside: Array, other: Array, pressure: Array) -> Faces:
        """Heat and faces between two air temperatures.

        Parameters
        ----------
        inside, other : (walls, variants) air at the `from` and the `to` of each wall [K]
        pressure : (1, variants) site pressure [Pa]
        """
        through = self.area * self.u_value
        heat = through * (inside - other - self.sun_rise)
        unknown = np.full_like(heat.real, np.nan)
        if self.films is None:
            return Faces(heat, through + 0 * heat.real, unknown, unknown)
        flux, film, inner, outer = self.films.balance(inside, other, pressure, self.sun)
        return Faces(
            np.where(self.computed, self.area * flux, heat),
            np.where(self.computed, self.area * film, through),
            np.where(self.computed, inner, unknown),
            np.where(self.computed, outer, unknown),
        )

    def heat(self, inside: Array, other: Array, pressure: Array) -> Array:
        """Heat from `from` to `to` [W], (walls, variants)."""
        return self.evaluate(inside, other, pressure).heat

    def surfaces(self, inside: Array, other: Array, pressure: Array) -> tuple[Array, Array]:
        """Temperatures of the inner and the outer face [K]; NaN for a given U."""
        faces = self.evaluate(inside, other, pressure)
        return faces.inner, faces.outer


def wall_law(inputs: Inputs, face_areas: Array) -> Walls:
    """The walls of an enclosure.

    Parameters
    ----------
    face_areas : (walls, variants or 1) area of the faces that each wall names; any value, such as
        NaN, for walls with an area of their own.

    Raises
    ------
    CaseError
        For a wall without area, or with neither a U nor a thickness and a conductivity.
    """
    if not inputs.columns["wall"]:
        empty = np.zeros((0, 1))
        return Walls(empty, empty, empty, empty, empty > 0, None)
    c = inputs.kind("wall", {})
    named = inputs.enclosure.walls.values()
    outside = np.array([[w.to.partition(".")[0] == "outside"] for w in named])
    area = np.where(np.isnan(c.area), face_areas, c.area)
    conductivity = np.where(np.isnan(c.conductivity), _conductivity(c.material), c.conductivity)
    computed = np.isnan(c.u_value)
    panel = np.where(computed, conductivity, 1.0) / np.where(computed, c.thickness, 1.0)
    _check(inputs, area, panel)
    lit = np.where(np.isnan(c.solar), c.sun.irradiance * c.sun.absorptance, c.solar)
    sun = np.where(outside & ~np.isnan(lit), lit, 0.0)
    height = np.where(np.isnan(c.height), np.sqrt(area), c.height)
    emissivity = np.where(outside, c.emissivity, 0.0)
    return Walls(
        area, np.where(computed, 0.0, c.u_value), sun, sun / c.outside_film, computed,
        Films(panel, height, emissivity) if computed.any() else None,
    )  # fmt: skip


def _conductivity(material: Array) -> Array:
    """By the index of a material; NaN for none."""
    table = np.array([m.conductivity for m in MATERIALS.values()] + [np.nan])
    found: Array = table[material.real.astype(int)]
    return found


def _check(inputs: Inputs, area: Array, panel: Array) -> None:
    for row, name in enumerate(inputs.names("wall")):
        if np.isnan(area[row]).any():
            raise CaseError(f"wall.{name}: its area is missing; give area, or faces")
        if np.isnan(panel[row]).any():
            raise CaseError(
                f"wall.{name}: give u_value, or thickness with conductivity or material"
            )
