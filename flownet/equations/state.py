"""The unknowns of an enclosure, and all constants of its equations as arrays.

Unknown are the mass flow of each branch, the pressure and temperature of each compartment, and the
temperature of air that is a mixture with recirculated air. Everything accepts complex arrays.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from functools import cached_property
from typing import Any, NamedTuple

import numpy as np

from flownet.equations import tall_hole, walls
from flownet.equations.elements import Element
from flownet.equations.tall_hole import TallHole
from flownet.equations.topology import Structure
from flownet.physics import air
from flownet.schema.arrays import Array, Booleans, Integers, taken


class State(NamedTuple):
    """Unknowns of all variants; rows of outsides are what they are given."""

    mass_flow: Array  # (branches, variants)
    pressure: Array  # (compartments + outsides, variants)
    temperature: Array  # (compartments + outsides + mixes, variants)

    def take(self, variants: Any) -> State:
        """Some variants, by number or by a mask; a number may stand several times."""
        return State(*(part[:, variants] for part in self))


class Step(NamedTuple):
    """A change of all unknowns."""

    mass_flow: Array
    pressure: Array  # of compartments
    temperature: Array  # of compartments, then mixes


class Promise(NamedTuple):
    """The figures of a balance, (variants,) each."""

    mass: Array  # of the largest flow
    pressure: Array  # of the largest pressure
    energy: Array  # of the power
    warm_step: Array  # K, of the Newton step after the last
    flow_step: Array  # of the largest flow, likewise
    worst_branch: Array  # number of the branch farthest from balance
    worst_compartment: Array
    hottest: Array  # K above the outside: compartments, and outlets of branches with heat


@dataclass(frozen=True, eq=False)
class Steady:
    """All variants: where they ended, and what it is worth."""

    state: State
    promise: Promise
    status: tuple[str, ...]  # empty where solved
    stable: Array
    rounds: Array


@dataclass(frozen=True, eq=False)
class Model:
    """All constants of the equations as arrays that broadcast over (things, variants)."""

    structure: Structure
    elements: tuple[tuple[slice, Element], ...]
    site_pressure: Array  # (1, variants)
    outside_temperature: Array  # (outsides, variants)
    outside_pressure: Array  # (outsides, variants)
    levels: Array  # (compartments, variants)
    start_level: Array  # (branches, variants)
    end_level: Array
    open: Array  # (branches, variants) bool
    branch_heat: Array  # (branches, variants) W: slots and parts
    reversed: Array  # (branches, variants) bool
    inner: Array  # (branches, 1) bool: slots and ducts with heat or wall: mean temperature
    wall_conductance: Array  # (branches, variants) of duct walls W/K
    wall_temperature: Array
    motor_heat: Array  # (branches, variants) W per kg/m3
    compartment_heat: Array  # (compartments, variants) W
    part_heat: Array  # (parts, variants) W
    walls: walls.Walls
    exchange: Array  # (exchanges, variants) m3/s
    overturn: Array  # (exchanges, variants) m3/s over the root of (T_from - T_to)/T, while above 0
    recirculated: Array  # (recirculations, variants) fraction of the air that blows out
    variants: int

    @property
    def outside_density(self) -> Array:
        """(1, variants) of the air that gauge pressures refer to."""
        return air.density(self.outside_temperature[:1], self.site_pressure)

    def state(self, mass_flow: Array, pressure: Array, temperature: Array) -> State:
        """Unknowns with the rows of the outsides put in; temperature: compartments, then mixes."""
        inside, width = self.structure.inside, mass_flow.shape[1]
        outside = np.broadcast_to(self.outside_temperature, (len(self.outside_temperature), width))
        fixed = np.broadcast_to(self.outside_pressure, outside.shape)
        return State(
            mass_flow,
            np.concatenate([pressure, fixed]),
            np.concatenate([temperature[:inside], outside, temperature[inside:]]),
        )

    def warmed(self, state: State, temperature: Array) -> State:
        """The same flows and pressures at other temperatures: compartments, then mixes."""
        return self.state(state.mass_flow, state.pressure[: self.structure.inside], temperature)

    def moved(self, state: State, step: Step, share: Array | complex = 1.0) -> State:
        """The state after a share of a step."""
        return self.state(
            state.mass_flow + share * step.mass_flow,
            state.pressure[: self.structure.inside] + share * step.pressure,
            self.unknown_temperatures(state) + share * step.temperature,
        )

    def unknown_temperatures(self, state: State) -> Array:
        """Compartments, then mixes."""
        s = self.structure
        ends = s.inside + len(s.outsides)
        return np.concatenate([state.temperature[: s.inside], state.temperature[ends:]])

    def at_rest(self, width: int) -> State:
        """No flow, all air at outside temperature."""
        s = self.structure
        shape = s.inside + s.mixes, width
        warm = np.broadcast_to(self.outside_temperature[:1], shape).copy()
        return self.state(np.zeros((len(s.branches), width)), np.zeros((s.inside, width)), warm)

    @cached_property
    def heated_rows(self) -> Integers:
        """Branches with heat, a motor or a wall of their own in any variant; an imaginary step
        from zero counts."""
        heated = self.branch_heat.any(axis=1) | self.motor_heat.any(axis=1)
        found: Integers = np.flatnonzero(heated | self.wall_conductance.any(axis=1))
        return found

    @cached_property
    def tall_holes(self) -> tuple[tuple[Integers, TallHole, Booleans], ...]:
        """Upright holes that air may pass both ways at once: their branches, and in which
        variants."""
        found = tall_hole.tall_holes(self.elements)
        return tuple((self.structure.host[rows], law, mask) for rows, law, mask in found)

    @cached_property
    def both_ways(self) -> Booleans:
        """(branches, variants) whether it is such a hole, and open."""
        found = np.zeros((len(self.structure.branches), self.variants), bool)
        for rows, _, mask in self.tall_holes:
            found[rows] |= mask
        return found & self.open

    @cached_property
    def long_rows(self) -> Integers:
        """Branches whose air has a temperature of its own: with a height, or heated on the way."""
        found: Integers = np.flatnonzero(self.climb.any(axis=1) | self.inner[:, 0])
        return found

    @cached_property
    def columns_of_air(self) -> tuple[Array, Array]:
        """Heights of the columns between each end and its compartment's level; 0 outside."""
        s, found = self.structure, []
        for node, level in ((s.start, self.start_level), (s.end, self.end_level)):
            inside = node < s.inside
            column = level - self.levels[node * inside]
            found.append(np.where(inside[:, None], column, 0.0))
        return found[0], found[1]

    @cached_property
    def climb(self) -> Array:
        """Height gained from start to end."""
        found: Array = self.end_level - self.start_level
        return found

    def given_heat(self, branch_heat: Array) -> Model:
        """The same with other heat in its branches: what does not hang on it is known already."""
        made = replace(self, branch_heat=branch_heat)
        for name in ("tall_holes", "both_ways", "long_rows", "columns_of_air", "climb"):
            made.__dict__[name] = getattr(self, name)
        return made

    def take(self, variants: Array | list[int]) -> Model:
        """The same model with only these variants."""
        chosen = np.asarray(variants)
        cut = {
            field.name: taken(getattr(self, field.name), chosen, axes=2)
            for field in fields(self) if field.name not in ("structure", "variants")
        }  # fmt: skip
        return Model(**cut, structure=self.structure, variants=len(chosen))
