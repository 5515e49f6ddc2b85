"""The equations of an enclosure: inputs -> arrays, and the one residual everything else uses.

Unknown are the mass flow of each branch, the pressure and temperature of each compartment, and the
temperature of air that is a mixture with recirculated air. Everything accepts complex arrays.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np

from flownet import air
from flownet.arrays import Array
from flownet.inputs import Inputs
from flownet.network import kinds, walls
from flownet.network.structure import Structure

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
    loops: Loops
    variants: int

    @classmethod
    def of(cls, inputs: Inputs, structure: Structure) -> Model:
        """The arrays of all variants of an enclosure."""
        from flownet.network.assemble import assemble  # noqa: PLC0415 - it makes Models

        return assemble(inputs, structure)

    # --- what a state means ------------------------------------------------------------------

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
        ahead = mass_flow.real >= 0
        speed = np.where(ahead, mass_flow, -mass_flow)
        at_start, at_end = (air.density(t, self.site_pressure) for t in (warm_start, warm_end))
        upstream = np.where(ahead, warm_start, warm_end)
        source = self.branch_heat + self.motor_heat * np.where(self.reversed, at_end, at_start)
        source = np.where(self.open, source, self.branch_heat)
        gained, outlet = self._outlet(speed, upstream, source)
        mean = self._mean(mass_flow, warm_start, warm_end, outlet - upstream)
        flowing = air.Air(
            air.density(mean, self.site_pressure), air.viscosity(mean), at_start, at_end
        )
        drop, slope = self.drop(mass_flow, flowing)
        share = self._share(mass_flow, source)
        still = np.where(self.open, STILL * CP, 0.0) * (warm_start - warm_end)
        ahead_flow, back_flow = np.where(ahead, mass_flow, 0) * CP, np.where(ahead, 0, speed) * CP
        through = np.where(ahead, gained, 0.0), np.where(ahead, 0.0, gained)
        return BranchState(
            flowing, upstream, outlet, source + gained, drop, slope, self._push(flowing),
            back_flow * (warm_end - warm_start) + (1 - share) * source + through[1] - still,
            ahead_flow * (warm_start - warm_end) + share * source + through[0] + still,
        )  # fmt: skip

    def _outlet(self, speed: Array, upstream: Array, source: Array) -> tuple[Array, Array]:
        """Heat from a duct's wall, and the temperature at the outlet."""
        capacity = CP * (speed + LEAST_FLOW)
        held = np.exp(-np.where(self.wall_conductance == 0, 0, self.wall_conductance / capacity))
        warmed = (self.wall_temperature - upstream) * (1 - held)
        return CP * speed * warmed, upstream + warmed + source / capacity

    def _mean(self, mass_flow: Array, start: Array, end: Array, rise: Array) -> Array:
        """Temperature in a branch: upstream, or half-way to the outlet where heat comes in on
        the way. It turns from one end's to the other's within a flow of BLEND, so that buoyancy
        in a branch does not jump at zero flow."""
        share = (1 + mass_flow / np.sqrt(mass_flow * mass_flow + BLEND * BLEND)) / 2
        upstream = end + share * (start - end)
        limited = np.where(rise.real > HOTTEST_RISE, HOTTEST_RISE, rise)
        return upstream + np.where(self.inner, limited / 2, 0.0)

    def _share(self, mass_flow: Array, source: Array) -> Array:
        """Of branch heat, to the end: half at rest, all with the flow."""
        turn = source / (CP * HEAT_TURN)
        size = np.sqrt(mass_flow * mass_flow + turn * turn + 1e-24)
        return (1 + mass_flow / size) / 2

    def _push(self, flowing: air.Air) -> Array:
        """Buoyancy: the columns at both ends, and within the branch."""
        s, outside = self.structure, self.outside_density
        start_in, end_in = (s.start < s.inside)[:, None], (s.end < s.inside)[:, None]
        start_level = self.levels[np.where(s.start < s.inside, s.start, 0)]
        end_level = self.levels[np.where(s.end < s.inside, s.end, 0)]
        up_start = np.where(start_in, self.start_level - start_level, 0.0)
        up_end = np.where(end_in, self.end_level - end_level, 0.0)
        found: Array = air.GRAVITY * (
            -(flowing.at_start - outside) * up_start
            + (flowing.at_end - outside) * up_end
            - (flowing.density - outside) * (self.end_level - self.start_level)
        )
        return found

    def drop(self, mass_flow: Array, flowing: air.Air) -> tuple[Array, Array]:
        """Of each branch, all its elements in series [Pa], and the slope [Pa s/kg]."""
        drops, slopes = self.element_drops(mass_flow, flowing)
        if (sums := self.structure.to_branches) is None:
            return drops, slopes
        return sums @ drops, sums @ slopes

    def element_drops(self, mass_flow: Array, flowing: air.Air) -> tuple[Array, Array]:
        """(elements, variants) drop less rise of each element, and its slope."""
        s = self.structure
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

    def wall_heat(self, temperature: Array) -> Array:
        """(walls, variants) W from `from` to `to`."""
        s = self.structure
        if self.walls is None:
            return np.zeros((0, temperature.shape[1]))
        inside, beyond = temperature[s.wall_start], temperature[s.wall_end]
        return self.walls.heat(inside, beyond, self.site_pressure)

    def exchange_heat(self, temperature: Array) -> Array:
        """(exchanges, variants) W from the first place to the second."""
        s = self.structure
        first, second = temperature[s.exchange_start], temperature[s.exchange_end]
        density = (air.density(first, self.site_pressure) + air.density(second, self.site_pressure))
        heat: Array = CP * self.exchange * density / 2 * (first - second)
        return heat

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
        speed = np.where(leaves.real > 0, leaves, 0.0)
        rows = self.wall_conductance[s.loop_branch], self.wall_temperature[s.loop_branch]
        capacity = CP * (speed + LEAST_FLOW)
        held = np.exp(-np.where(rows[0] == 0, 0, rows[0] / capacity))
        rise = (rows[1] - warm[draw]) * (1 - held) + heat / capacity
        rise = np.where(rise.real > HOTTEST_RISE, HOTTEST_RISE, rise)
        fades = speed / np.sqrt(speed * speed + LOOP_TURN * LOOP_TURN)
        added = self.loops.fraction * fades * (warm[draw] + rise - outside[s.loop_mix])
        return outside + s.loops_to_mixes @ added

    def residual(self, state: State) -> Balances:
        """How far a state is from balance; zero at a solution."""
        s, here = self.structure, self.branches(state)
        difference = state.pressure[s.start] - state.pressure[s.end]
        gap = np.where(self.open, difference + here.push - here.drop, state.mass_flow)
        mass = s.network.outflow @ state.mass_flow
        warm = state.temperature[s.inside + len(s.outsides) :]
        return Balances(gap, mass, self.energy(state, here), self.mixed(state) - warm)

    def energy(self, state: State, here: BranchState) -> Array:
        """(compartments, variants) heat that stays in each compartment [W]."""
        into = self.structure.into
        through, swapped = self.wall_heat(state.temperature), self.exchange_heat(state.temperature)
        heat: Array = (
            self.compartment_heat
            + into["end"] @ here.to_end
            + into["start"] @ here.to_start
            + into["wall_end"] @ through
            - into["wall_start"] @ through
            + into["exchange_end"] @ swapped
            - into["exchange_start"] @ swapped
        )
        return heat

    def take(self, variants: Array | list[int]) -> Model:
        """The same model with only these variants."""
        return taken(self, np.asarray(variants))  # type: ignore[no-any-return]


def stacked(parts: list[Array]) -> Array:
    """Arrays of different kinds below each other, broadcast to the widest."""
    width = max(part.shape[-1] for part in parts)
    if all(part.shape[-1] == width for part in parts):
        return np.concatenate(parts)
    return np.concatenate([np.broadcast_to(p, (p.shape[0], width)) for p in parts])


def taken(tree: Any, variants: Array) -> Any:
    """Only these variants of a tree of tuples, models and arrays."""
    if isinstance(tree, Model):
        made = {
            name: value if name in ("structure", "variants") else taken(value, variants)
            for name, value in vars(tree).items()
        }
        return Model(**{**made, "variants": len(variants)})
    if isinstance(tree, tuple):
        items = [taken(x, variants) for x in tree]
        return type(tree)(*items) if hasattr(tree, "_fields") else tuple(items)
    wide = isinstance(tree, np.ndarray) and tree.ndim > 1 and tree.shape[-1] > 1
    return tree[..., variants] if wide else tree
