"""The equations of an enclosure: inputs -> arrays, and the one residual everything else uses.

Unknown are the mass flow of each branch, the pressure and temperature of each compartment, and the
temperature of air that is a mixture with recirculated air. Everything accepts complex arrays.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from functools import cached_property
from typing import Any, NamedTuple

import numpy as np

from flownet.equations import elements as kinds
from flownet.equations import walls
from flownet.equations.topology import Structure
from flownet.physics import air
from flownet.schema.arrays import Array, Integers, magnitude, positive
from flownet.solver.newton import BALANCE, COLUMN_ROUNDING, PRESSURE_FLOOR

CP = air.HEAT_CAPACITY
STILL = 1e-9  # kg/s exchanged both ways across every open branch, in the energy balance only
HEAT_TURN = 1000.0  # K: q / (cp 1000 K) is the flow at which branch heat begins to go both ways
HOTTEST_RISE = 500.0  # K, where the mean temperature of a branch is cut off
LOOP_TURN = 1e-6  # kg/s, at which recirculation fades
LEAST_FLOW = 1e-15  # kg/s, keeps q / m finite at rest
BLEND = 1e-7  # kg/s, at which the temperature in a branch turns from one end's to the other's


class State(NamedTuple):
    """Unknowns of all variants; rows of outsides are what they are given."""

    mass_flow: Array  # (branches, variants)
    pressure: Array  # (compartments + outsides, variants)
    temperature: Array  # (compartments + outsides + mixes, variants)


class BranchState(NamedTuple):
    """What happens in each branch; (branches, variants)."""

    air: air.Air
    upstream: Array  # temperature of the air that comes in
    outlet: Array  # temperature of the air that leaves
    heat: Array  # to the air: slots, parts, motors, duct walls
    drop: Array  # less rise
    slope: Array
    push: Array  # buoyancy
    to_start: Array  # energy received by the node at its start
    to_end: Array
    element_drops: Array  # (elements, variants) less rise, of what stands in series in branches


class Warmed(NamedTuple):
    """Branches with heat of their own, see `Model.heated_rows`; (such branches, variants)."""

    source: Array  # heat from parts and motors
    gained: Array  # heat from a duct's wall
    outlet: Array  # temperature of the air that leaves


class Flowing(NamedTuple):
    """The air of each branch and its heat, before any pressure is known; (branches, variants)."""

    air: air.Air
    upstream: Array
    warmed: Warmed


class Balances(NamedTuple):
    """Residuals: zero at a solution."""

    pressure: Array  # (branches, variants) Pa; the flow itself where a branch is closed
    mass: Array  # (compartments, variants) kg/s that leave
    energy: Array  # (compartments, variants) W that stay
    mix: Array  # (mixes, variants) K


class Loops(NamedTuple):
    """Recirculation: fractions (recirculations, variants)."""

    fraction: Array


@dataclass(frozen=True, eq=False)
class Model:
    """All constants of the equations as arrays that broadcast over (things, variants)."""

    structure: Structure
    elements: tuple[tuple[slice, kinds.Element], ...]
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
    walls: walls.Walls | None
    exchange: Array  # (exchanges, variants) m3/s
    overturn: Array  # (exchanges, variants) m3/s over the root of (T_from - T_to)/T, while above 0
    loops: Loops
    variants: int

    # --- what a state means ------------------------------------------------------------------

    @property
    def outside_density(self) -> Array:
        """(1, variants) of the air that gauge pressures refer to."""
        return air.density(self.outside_temperature[:1], self.site_pressure)

    @cached_property
    def pressure_floor(self) -> Array:
        """(1 or variants,) the least that "largest pressure" means in a balance [Pa]: what columns
        of air that cancel leave by round-off is no imbalance."""
        heights = np.concatenate(np.broadcast_arrays(*self.columns_of_air, self.climb))
        tall = np.max(abs(heights.real), axis=0, initial=0.0)
        column = COLUMN_ROUNDING / BALANCE * air.GRAVITY * self.outside_density[0] * tall
        found: Array = np.maximum(column.real, PRESSURE_FLOOR)
        return found

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

    def unknown_temperatures(self, state: State) -> Array:
        """Compartments, then mixes."""
        s = self.structure
        ends = s.inside + len(s.outsides)
        return np.concatenate([state.temperature[: s.inside], state.temperature[ends:]])

    def at_rest(self, width: int) -> State:
        """No flow, all air at outside temperature."""
        s = self.structure
        warm = np.broadcast_to(self.outside_temperature[:1], (s.inside + s.mixes, width)) + 0.0
        return self.state(np.zeros((len(s.branches), width)), np.zeros((s.inside, width)), warm)

    # --- one branch by itself ----------------------------------------------------------------

    def branch(self, mass_flow: Array, warm_start: Array, warm_end: Array) -> BranchState:
        """Everything about branches from their flow and the temperatures at their two ends."""
        air, upstream, warmed = self.flowing(mass_flow, warm_start, warm_end)
        drops, slopes = self.element_drops(mass_flow, air)
        to_start, to_end = self.carried(mass_flow, warm_start, warm_end, warmed)
        rows, heat = self.heated_rows, warmed.source + warmed.gained
        return BranchState(
            air, upstream, replaced(upstream, rows, warmed.outlet),
            placed(np.zeros_like(upstream), rows, heat), self.in_series(drops),
            self.in_series(slopes), self.push(air), to_start, to_end, drops,
        )  # fmt: skip

    def flowing(self, mass_flow: Array, warm_start: Array, warm_end: Array) -> Flowing:
        """What flows in branches, from their flow and the temperatures at their two ends."""
        ahead = mass_flow.real >= 0
        at_start, at_end = (air.density(t, self.site_pressure) for t in (warm_start, warm_end))
        upstream = np.where(ahead, warm_start, warm_end)
        warmed = self.heated(mass_flow, upstream, at_start, at_end)
        density, viscosity = np.where(ahead, at_start, at_end), air.viscosity(upstream)
        if (rows := self.long_rows).size:
            rise = replaced(upstream, self.heated_rows, warmed.outlet)[rows] - upstream[rows]
            mean = self._mean(rows, mass_flow, warm_start, warm_end, rise)
            density = placed(density, rows, air.density(mean, self.site_pressure))
            viscosity = placed(viscosity, rows, air.viscosity(mean))
        return Flowing(air.Air(density, viscosity, at_start, at_end), upstream, warmed)

    def heated(self, mass_flow: Array, upstream: Array, at_start: Array, at_end: Array) -> Warmed:
        """What branches with heat of their own do to their air."""
        rows = self.heated_rows
        inlet = upstream[rows]
        if not rows.size:
            return Warmed(inlet, inlet, inlet)
        draws = np.where(self.reversed[rows], at_end[rows], at_start[rows])
        own = self.branch_heat[rows]
        source = np.where(self.open[rows], own + self.motor_heat[rows] * draws, own)
        flow, conductance = mass_flow[rows], self.wall_conductance[rows]
        speed = magnitude(flow)
        capacity = CP * (speed + LEAST_FLOW)
        held = np.exp(-np.where(conductance == 0, 0, conductance / capacity))
        warmed = (self.wall_temperature[rows] - inlet) * (1 - held)
        return Warmed(source, CP * speed * warmed, inlet + warmed + source / capacity)

    def _mean(
        self, rows: Integers, mass_flow: Array, start: Array, end: Array, rise: Array
    ) -> Array:
        """Temperature in a branch that has a height or heat of its own: upstream, or half-way to
        the outlet where heat comes in on the way. It turns from one end's to the other's within a
        flow of BLEND, so that buoyancy in a branch does not jump at zero flow."""
        flow = mass_flow[rows]
        share = (1 + flow / np.sqrt(flow * flow + BLEND * BLEND)) / 2
        upstream = end[rows] + share * (start[rows] - end[rows])
        limited = np.where(rise.real > HOTTEST_RISE, HOTTEST_RISE, rise)
        found: Array = upstream + np.where(self.inner[rows], limited / 2, 0.0)
        return found

    def carried(
        self, mass_flow: Array, start: Array, end: Array, warmed: Warmed
    ) -> tuple[Array, Array]:
        """Energy that the nodes at both ends receive. Branch heat goes to the end with the flow,
        half to each side at rest."""
        rows = self.heated_rows
        onward = positive(mass_flow)
        step = CP * (start - end)
        to_end = (onward + self.open * STILL) * step
        to_start = mass_flow * step - to_end
        if rows.size:
            flow, heat, wall = mass_flow[rows], warmed.source, warmed.gained
            turn = heat / (CP * HEAT_TURN)
            share = (1 + flow / np.sqrt(flow * flow + turn * turn + 1e-24)) / 2
            forward = flow.real >= 0
            ahead = share * heat + np.where(forward, wall, 0.0)
            to_end = placed(to_end, rows, to_end[rows] + ahead)
            back = (1 - share) * heat + np.where(forward, 0.0, wall)
            to_start = placed(to_start, rows, to_start[rows] + back)
        return to_start, to_end

    @cached_property
    def heated_rows(self) -> Integers:
        """Branches with heat, a motor or a wall of their own in any variant; an imaginary step
        from zero counts."""
        heated = (self.branch_heat != 0).any(axis=1) | (self.motor_heat != 0).any(axis=1)
        found: Integers = np.flatnonzero(heated | (self.wall_conductance != 0).any(axis=1))
        return found

    @cached_property
    def long_rows(self) -> Integers:
        """Branches whose air has a temperature of its own: with a height, or heated on the way."""
        climbs = (self.climb != 0).any(axis=1)
        found: Integers = np.flatnonzero(climbs | self.inner[:, 0])
        return found

    @cached_property
    def columns_of_air(self) -> tuple[Array, Array]:
        """Heights of the columns between each end and its compartment's level; 0 outside."""
        s, found = self.structure, []
        for node, level in ((s.start, self.start_level), (s.end, self.end_level)):
            inside = node < s.inside
            column = level - self.levels[np.where(inside, node, 0)]
            found.append(np.where(inside[:, None], column, 0.0))
        return found[0], found[1]

    @cached_property
    def climb(self) -> Array:
        """Height gained from start to end."""
        found: Array = self.end_level - self.start_level
        return found

    def push(self, flowing: air.Air) -> Array:
        """Buoyancy: the columns at both ends, and within the branch."""
        outside = self.outside_density
        start, end = self.columns_of_air
        push = (flowing.at_end - outside) * end - (flowing.at_start - outside) * start
        if (rows := self.long_rows).size:
            within = (flowing.density[rows] - outside) * self.climb[rows]
            push = placed(push, rows, push[rows] - within)
        found: Array = air.GRAVITY * push
        return found

    def drop(self, mass_flow: Array, flowing: air.Air) -> tuple[Array, Array]:
        """Of each branch, all its elements in series [Pa], and the slope [Pa s/kg]."""
        drops, slopes = self.element_drops(mass_flow, flowing)
        return self.in_series(drops), self.in_series(slopes)

    def in_series(self, drops: Array) -> Array:
        """(branches, variants) sums of what (elements, variants) have."""
        sums = self.structure.to_branches
        added: Array = drops if sums is None else sums @ drops
        return added

    def element_drops(self, mass_flow: Array, flowing: air.Air) -> tuple[Array, Array]:
        """(elements, variants) drop less rise of each element, and its slope."""
        s = self.structure
        if not self.elements:
            return np.zeros_like(mass_flow), np.zeros_like(mass_flow)
        found = []
        for rows, element in self.elements:
            at = slice(rows.start, rows.stop) if s.to_branches is None else s.host[rows]
            here = air.Air(*(x[at] for x in flowing))
            each = [law(mass_flow[at], here) for law in element.laws]
            found.append([sum(parts[1:], start=parts[0]) for parts in zip(*each, strict=True)])
        return stacked([f[0] for f in found]), stacked([f[1] for f in found])

    # --- the whole ---------------------------------------------------------------------------

    def branches(self, state: State) -> BranchState:
        """All branches in a state."""
        s, warm = self.structure, state.temperature
        return self.branch(state.mass_flow, warm[s.warm_start], warm[s.warm_end])

    def wall_heat(self, inside: Array, beyond: Array) -> Array:
        """(walls, variants) W from `from` to `to`, by the temperatures there."""
        if self.walls is None:
            return np.zeros(inside.shape)
        return self.walls.heat(inside, beyond, self.site_pressure)

    def exchange_heat(self, first: Array, second: Array) -> Array:
        """(exchanges, variants) W from the first place to the second."""
        density = air.density(first, self.site_pressure) + air.density(second, self.site_pressure)
        flow = self.exchange + self.overturned(first, second)
        heat: Array = CP * flow * density / 2 * (first - second)
        return heat

    def overturned(self, first: Array, second: Array) -> Array:
        """(exchanges, variants) m3/s that rises because the air below is the warmer."""
        excess = 2 * (first - second) / (first + second)
        warmer = excess.real > 0
        found: Array = np.where(warmer, self.overturn * np.sqrt(np.where(warmer, excess, 1.0)), 0.0)
        return found

    def aside(self, temperature: Array) -> tuple[Array, Array]:
        """Heat of walls and of exchanges, which no branch carries."""
        s, warm = self.structure, temperature
        return (
            self.wall_heat(warm[s.wall_start], warm[s.wall_end]),
            self.exchange_heat(warm[s.exchange_start], warm[s.exchange_end]),
        )

    def mixed(self, state: State) -> Array:
        """(mixes, variants) temperature of air drawn in together with recirculated air."""
        s = self.structure
        outside = state.temperature[s.mix_outside]
        if not s.mixes:
            return outside
        flow, warm = state.mass_flow[s.loop_branch], state.temperature
        plain = s.start[s.loop_branch], s.end[s.loop_branch]  # without mixing of its own
        draw = np.where(s.loop_sign > 0, *plain)
        leaves = flow * s.loop_sign[:, None]
        heat = self.branch_heat[s.loop_branch] + self.motor_heat[s.loop_branch] * air.density(
            warm[draw], self.site_pressure
        )
        speed = positive(leaves)
        rows = self.wall_conductance[s.loop_branch], self.wall_temperature[s.loop_branch]
        capacity = CP * (speed + LEAST_FLOW)
        held = np.exp(-np.where(rows[0] == 0, 0, rows[0] / capacity))
        rise = (rows[1] - warm[draw]) * (1 - held) + heat / capacity
        rise = np.where(rise.real > HOTTEST_RISE, HOTTEST_RISE, rise)
        fades = speed / np.sqrt(speed * speed + LOOP_TURN * LOOP_TURN)
        added = self.loops.fraction * fades * (warm[draw] + rise - outside[s.loop_mix])
        found: Array = outside + s.loops_to_mixes @ added
        return found

    def residual(self, state: State, here: BranchState | None = None) -> Balances:
        """How far a state is from balance; zero at a solution. `here`: its branches, if known."""
        s = self.structure
        here = self.branches(state) if here is None else here
        difference = state.pressure[s.start] - state.pressure[s.end]
        gap = np.where(self.open, difference + here.push - here.drop, state.mass_flow)
        mass = s.network.outflow @ state.mass_flow
        energy = self.energy(state.temperature, here.to_start, here.to_end)
        warm = state.temperature[s.inside + len(s.outsides) :]
        return Balances(gap, mass, energy, self.mixed(state) - warm)

    def energy(self, temperature: Array, to_start: Array, to_end: Array) -> Array:
        """(compartments, variants) heat that stays in each compartment [W]; `to_start`, `to_end`:
        what branches carry to their ends."""
        into = self.structure.into
        through, swapped = self.aside(temperature)
        heat: Array = (
            self.compartment_heat
            + into["end"] @ to_end
            + into["start"] @ to_start
            + into["wall_end"] @ through
            - into["wall_start"] @ through
            + into["exchange_end"] @ swapped
            - into["exchange_start"] @ swapped
        )
        return heat

    def take(self, variants: Array | list[int]) -> Model:
        """The same model with only these variants."""
        return taken(self, np.asarray(variants))  # type: ignore[no-any-return]


def replaced(whole: Array, rows: Integers, values: Array) -> Array:
    """A copy with some rows replaced; complex where the values are."""
    kind, width = np.result_type(whole, values), max(whole.shape[1], values.shape[1])
    made = np.empty((len(whole), width), kind)
    made[:] = whole
    made[rows] = values
    return made


def placed(whole: Array, rows: Integers, values: Array) -> Array:
    """The same array with some rows written; a copy where it cannot hold them."""
    if values.shape[1] > whole.shape[1] or not np.can_cast(values.dtype, whole.dtype):
        return replaced(whole, rows, values)
    whole[rows] = values
    return whole


def stacked(parts: list[Array]) -> Array:
    """Arrays of different kinds below each other, broadcast to the widest."""
    if not parts:
        return np.zeros((0, 1))
    width = max(part.shape[-1] for part in parts)
    if all(part.shape[-1] == width for part in parts):
        return np.concatenate(parts)
    return np.concatenate([np.broadcast_to(p, (p.shape[0], width)) for p in parts])


def taken(tree: Any, variants: Array) -> Any:
    """Only these variants of a tree of tuples, models and arrays."""
    if isinstance(tree, Model):
        made = {
            f.name: taken(getattr(tree, f.name), variants)
            for f in fields(tree)
            if f.name not in ("structure", "variants")
        }
        return Model(**made, structure=tree.structure, variants=len(variants))
    if isinstance(tree, tuple):
        items = [taken(x, variants) for x in tree]
        return type(tree)(*items) if hasattr(tree, "_fields") else tuple(items)
    wide = isinstance(tree, np.ndarray) and tree.ndim > 1 and tree.shape[-1] > 1
    return tree[..., variants] if wide else tree
