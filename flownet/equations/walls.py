"""Heat through panels: a given U, or inside film, panel, outside film, radiation and sun computed.

Positive heat leaves the inside. Every array has the variants as its last axis; all accept complex
numbers, and come out with exact derivatives.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from flownet.columns import Inputs
from flownet.equations import exposure, levels
from flownet.equations.levels import WallFaces
from flownet.physics import films
from flownet.physics.materials import of_materials
from flownet.schema.arrays import Array, Integers, highest, used
from flownet.schema.errors import CaseError

FACE_ROUNDS = 3, 1  # of rough tangents, and of Newton's before the last, see `Films.balance`
USUAL_FILM = 8.0  # W/(m2 K) of the first guess: from it on, these rounds reach round-off
NATURAL = 1.3  # a natural film's flux grows about as the difference to this power
TILT = 1e-20  # imaginary step of a derivative
WAY_UP = np.array([1.0, -1.0, 0.0])  # by the code of `levels.looks`


class Sides(NamedTuple):
    """What stands before the faces of panels: the inner ones, then the outer ones; arrays
    (2, panels, variants).

    A face radiates to what stands before it, taken at the temperature of the air there
    (assumption), and has the film of an upright or horizontal plate in still air.
    """

    air: Array  # [K]
    length: Array  # as in `Films`
    faces_up: Array  # way the face looks: 1 up, -1 down, 0 upright
    emissivity: Array
    pressure: Array

    def given(self, faces: Array) -> tuple[Array, Array]:
        """To each face [W/m2], and its film in still air [W/(m2 K)]."""
        film = films.natural_film(faces, self.air, self.length, self.pressure, self.faces_up)
        shone = films.radiation_flux(self.air, faces, self.emissivity)
        return film * (self.air - faces) + shone, film

    def radiant(self, faces: Array) -> Array:
        """Slope of the radiation [W/(m2 K)]."""
        found: Array = 4 * films.STEFAN_BOLTZMANN * self.emissivity * faces**3
        return found

    def rough(self, faces: Array) -> tuple[Array, Array]:
        """Tangents as of a power law, radiation by its own: where they end, and their slopes."""
        given, film = self.given(faces)
        slope = NATURAL * film + self.radiant(faces)
        return faces + given / slope, slope

    def tangents(self, faces: Array, exact: Sides) -> tuple[Array, Array]:
        """Newton's tangents, their slopes in real numbers; `exact` may hold complex ones."""
        tilted, _ = self.given(faces.real + 1j * TILT)
        slope, given = -tilted.imag / TILT, tilted.real
        if exact is not self:
            given, _ = exact.given(faces)
        return faces + given / slope, slope


class Films(NamedTuple):
    """Panels whose films are computed; arrays finite for all panels, computed or not."""

    panel: Array  # conductivity over thickness [W/(m2 K)]
    length: Array  # height of an upright one, area over perimeter of a horizontal one [m]
    faces_up: Array  # way its outer face looks: 1 up, -1 down, 0 upright
    inside_emissivity: Array
    emissivity: Array  # of the outer face

    def sides(self, inside: Array, other: Array, pressure: Array) -> Sides:
        """Both faces, between two air temperatures."""
        return Sides(
            _both(inside, other), _both(self.length, self.length),
            _both(-self.faces_up, self.faces_up), _both(self.inside_emissivity, self.emissivity),
            pressure,
        )  # fmt: skip

    def balance(
        self, inside: Array, other: Array, pressure: Array, sun: Array
    ) -> tuple[Array, Array, Array, Array]:
        """Flux [W/m2], conductance [W/(m2 K)], inner and outer face [K].

        Each round puts tangents in the place of the two films and solves the chain of three
        resistances, whose faces lie between the temperatures around them (and the sun's rise), so
        that no round can leave the physical range. The first rounds use rough tangents of real
        numbers. The others are Newton's, of which the last carries imaginary parts through exactly.
        """
        exact = self.sides(inside, other, pressure)
        near = Sides(*(np.real(each) for each in exact))
        if not any(map(np.iscomplexobj, (*exact, self.panel, sun))):
            near = exact
        panel, lit = self.panel.real, sun.real
        faces = _chain(panel, lit, near.air, USUAL_FILM + near.radiant(near.air))[2]
        rough, newton = FACE_ROUNDS
        for _ in range(rough):
            faces = _chain(panel, lit, *near.rough(faces))[2]
        for _ in range(newton):
            faces = _chain(panel, lit, *near.tangents(faces, near))[2]
        flux, conductance, faces = _chain(self.panel, sun, *near.tangents(faces, exact))
        return flux, conductance, faces[0], faces[1]


def _both(one: Array, other: Array) -> Array:
    """Of inner and of outer faces, one array."""
    pair = one, other
    return np.array(pair if one.shape == other.shape else np.broadcast_arrays(*pair))


def _chain(panel: Array, sun: Array, ends: Array, films_: Array) -> tuple[Array, Array, Array]:
    """Flux through film, panel, film between the ends of tangents; conductance; both faces."""
    (warm, cold), (inner, outer) = ends, films_
    conductance = 1 / (1 / inner + 1 / panel + 1 / outer)
    flux = conductance * (warm - cold - sun / outer)
    return flux, conductance, _both(warm - flux / inner, cold + (flux + sun) / outer)


class Walls(NamedTuple):
    """All walls of an enclosure. A wall is one panel, or one each for its upright faces, the one
    that looks up and the one that looks down: each has its own two faces."""

    area: Array  # (panels, variants), 0 where a wall has nothing that looks so
    u_value: Array  # 0 where computed
    shone: Array  # sun that is absorbed per area [W/m2]
    sun: Array  # the same, less what the sky takes from a computed face [W/m2]
    sun_rise: Array  # what it is worth as a warmer outside, for a given U [K]
    computed: Array  # bool
    looks: Array  # way the outer face looks: 1 up, -1 down, 0 upright
    films: Films | None  # where any wall is computed
    wall: Integers  # (panels,) the wall each belongs to; the first panel of each, in order
    count: int  # type: ignore[assignment]  # walls; hides the method that tuples have
    held: tuple[Array, Array] | None = None  # inner and outer faces that store heat, else NaN [K]

    def panels(self, rows: Integers) -> Walls:
        """Some panels."""
        names = (*Walls._fields[:7], "wall")
        own: dict[str, Any] = {name: getattr(self, name)[rows] for name in names}
        films_ = None if self.films is None else Films(*(each[rows] for each in self.films))
        return self._replace(**own, films=films_)

    def heat(self, inside: Array, other: Array, pressure: Array) -> Array:
        """(walls, variants) heat from `from` to `to` [W].

        Parameters
        ----------
        inside, other : (walls, variants) air at the `from` and the `to` of each wall [K]
        pressure : (1, variants) site pressure [Pa]
        """
        inside, other = inside[self.wall], other[self.wall]
        each = self.u_value * (inside - other - self.sun_rise)
        if self.films is not None:
            flux = self.films.balance(inside, other, pressure, self.sun)[0]
            each = np.where(self.computed, flux, each)
        return self._summed(self.area * each)

    def conductance(self, inside: Array, other: Array, pressure: Array) -> Array:
        """(walls, variants) nearly the slope of `heat` by the inside: films held [W/K]."""
        each = self.u_value
        if self.films is not None:
            inside, other = inside[self.wall], other[self.wall]
            films_ = self.films.balance(inside, other, pressure, self.sun)[1]
            each = np.where(self.computed, films_, each)
        return self._summed(self.area * each)

    def absorbed_sun(self) -> Array:
        """(walls, variants) that outer faces take up [W]."""
        return self._summed(self.area * self.shone)

    def _summed(self, each: Array) -> Array:
        """(walls, variants) sums over the panels of each wall."""
        found = each[: self.count]
        for row in range(self.count, len(each)):
            found = found + (np.arange(self.count) == self.wall[row])[:, None] * each[row]
        return found

    def surfaces(
        self, inside: Array, other: Array, pressure: Array, of: Integers | None = None
    ) -> tuple[Array, Array]:
        """Temperatures of the inner and the outer face [K]; NaN for a given U.

        Of several panels the coldest inner face, where water settles first, and the hottest outer
        one, which a hand must bear. `of`: the whole wall of each, where layers share them.
        """
        if self.films is None:
            unknown = np.full((self.count if of is None else len(set(of)), 1), np.nan)
            return unknown, unknown
        inside, other = inside[self.wall], other[self.wall]
        _, _, inner, outer = self.films.balance(inside, other, pressure, self.sun)
        there = self.computed & (self.area.real > 0)
        if self.held is not None:
            own = ~np.isnan(self.held[0].real)
            inner, outer = np.where(own, self.held[0], inner), np.where(own, self.held[1], outer)
            there = there | own
        rows = self.wall if of is None else of[self.wall]
        hidden = np.where(there, [-inner, outer], np.nan)
        cold, hot = (np.array([highest(each[rows == row]) for row in range(int(rows.max()) + 1)])
                     for each in hidden)  # fmt: skip
        return -cold, hot


def wall_law(inputs: Inputs) -> Walls:
    """The walls of an enclosure; CaseError for one without area, or with neither a U nor a
    thickness and a conductivity."""
    if not inputs.columns["wall"]:
        none, no = np.zeros((0, 1)), np.zeros((0, 1), bool)
        return Walls(none, none, none, none, none, no, none, None, np.zeros(0, int), len(none))
    c, faces = inputs.kind("wall", {}), levels.wall_faces(inputs)
    named = inputs.enclosure.walls.values()
    outside = np.array([[w.to.partition(".")[0] == "outside"] for w in named])
    conductivity = np.where(
        np.isnan(c.conductivity), of_materials("conductivity", c.material), c.conductivity
    )
    computed = np.isnan(c.u_value)
    panel = used(computed, conductivity) / used(computed, c.thickness)
    _check(inputs, np.where(np.isnan(c.area), faces.area, c.area), panel)
    lit = np.where(np.isnan(c.solar), c.sun.irradiance * c.sun.absorptance, c.solar)
    sun = np.where(outside & ~np.isnan(lit), lit, 0.0)
    made = _panels(c, levels.looks(inputs), faces)
    u_value, sun, outside_film, computed, panel, inside_emissivity, emissivity = (
        each[made.wall] for each in (
            np.where(computed, 0.0, c.u_value), sun, c.outside_film, computed, panel,
            c.inside_emissivity, c.emissivity,
        )
    )  # fmt: skip
    shone, sun = exposure.under_the_sky(inputs, c, made, sun)
    sun_rise = sun / outside_film
    plates = Films(panel, *made[2:], inside_emissivity, emissivity) if computed.any() else None
    return Walls(
        made.area, u_value, shone, sun, sun_rise, computed, made.faces_up, plates, made.wall,
        len(outside),
    )  # fmt: skip


class Panels(NamedTuple):
    """Walls taken apart by the way they look; (panels, variants)."""

    wall: Integers  # (panels,)
    area: Array
    length: Array  # as in `Films`
    faces_up: Array


def _panels(c: Any, code: Integers, faces: WallFaces) -> Panels:
    """One for each wall, then what else looks up or down of those that name several faces."""
    whole = ~np.isnan(c.area)
    area = np.where(whole, c.area, faces.upright)
    high = np.where(np.isnan(c.height), np.where(whole, np.sqrt(area), faces.height), c.height)
    flat = np.where(whole, area / (2 * (high + area / high)), faces.length)
    looks = np.where(whole, WAY_UP[code], 0.0)
    up, down = (np.where(whole, 0.0, own) for own in (faces.up, faces.down))
    area, high, flat, looks, up, down = np.broadcast_arrays(area, high, flat, looks, up, down)
    walls, parts = [np.arange(len(area))], [(area, np.where(looks == 0, high, flat), looks)]
    for way, own in ((1.0, up), (-1.0, down)):
        rows = np.flatnonzero((own.real > 0).any(axis=1))
        walls.append(rows)
        parts.append((own[rows], flat[rows], np.full_like(looks[rows].real, way)))
    return Panels(np.concatenate(walls), *map(np.concatenate, zip(*parts, strict=True)))


def _check(inputs: Inputs, area: Array, panel: Array) -> None:
    for row, name in enumerate(inputs.names("wall")):
        if np.isnan(area[row]).any():
            raise CaseError(f"wall.{name}: its area is missing; give area, faces or mounting")
        if np.isnan(panel[row]).any():
            raise CaseError(
                f"wall.{name}: give u_value, or thickness with conductivity or material"
            )
