"""The equations of an enclosure: the one residual that everything else uses."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from flownet.equations.branch import CP, HOTTEST_RISE, LEAST_FLOW, BranchState, branches
from flownet.equations.state import Model, State
from flownet.physics import air
from flownet.schema.arrays import Array, positive, used

LOOP_TURN = 1e-6  # kg/s, at which recirculation fades


class Balances(NamedTuple):
    """Residuals: zero at a solution."""

    pressure: Array  # (branches, variants) Pa; the flow itself where a branch is closed
    mass: Array  # (compartments, variants) kg/s that leave
    energy: Array  # (compartments, variants) W that stay
    mix: Array  # (mixes, variants) K


def residual(
    model: Model, state: State, here: BranchState | None = None, heat: bool = True
) -> Balances:
    """How far a state is from balance; zero at a solution. `here`: its branches, if known; `heat`:
    whether that of compartments is asked for, else it is 0."""
    s = model.structure
    here = branches(model, state) if here is None else here
    difference = state.pressure[s.start] - state.pressure[s.end]
    gap = np.where(model.open, difference + here.push - here.drop, state.mass_flow)
    mass = s.network.outflow @ state.mass_flow
    energy = np.zeros(mass.shape)
    if heat:
        energy = heat_balance(model, state.temperature, here.to_start, here.to_end)
    warm = state.temperature[s.inside + len(s.outsides) :]
    return Balances(gap, mass, energy, mixed(model, state) - warm)


def heat_balance(model: Model, temperature: Array, to_start: Array, to_end: Array) -> Array:
    """(compartments, variants) heat that stays in each compartment [W]; `to_start`, `to_end`:
    what branches carry to their ends."""
    into = model.structure.into
    through, swapped = heat_aside(model, temperature)
    heat: Array = (
        model.compartment_heat
        + into["end"] @ to_end
        + into["start"] @ to_start
        + into["wall_end"] @ through
        - into["wall_start"] @ through
        + into["exchange_end"] @ swapped
        - into["exchange_start"] @ swapped
    )
    return heat


def heat_aside(model: Model, temperature: Array) -> tuple[Array, Array]:
    """Heat of walls and of exchanges, which no branch carries."""
    s, warm = model.structure, temperature
    return (
        wall_heat(model, warm[s.wall_start], warm[s.wall_end]),
        exchange_heat(model, warm[s.exchange_start], warm[s.exchange_end]),
    )


def wall_heat(model: Model, inside: Array, beyond: Array) -> Array:
    """(walls, variants) W from `from` to `to`, by the temperatures there."""
    if not model.walls.count:
        return np.zeros(inside.shape)
    return model.walls.heat(inside, beyond, model.site_pressure)


def exchange_heat(model: Model, first: Array, second: Array) -> Array:
    """(exchanges, variants) W from the first place to the second."""
    density = air.density(first, model.site_pressure) + air.density(second, model.site_pressure)
    flow = model.exchange + overturned(model, first, second)
    heat: Array = CP * flow * density / 2 * (first - second)
    return heat


def overturned(model: Model, first: Array, second: Array) -> Array:
    """(exchanges, variants) m3/s that rises because the air below is the warmer."""
    excess = 2 * (first - second) / (first + second)
    warmer = excess.real > 0
    found: Array = np.where(warmer, model.overturn * np.sqrt(used(warmer, excess)), 0.0)
    return found


def mixed(model: Model, state: State) -> Array:
    """(mixes, variants) temperature of air drawn in together with recirculated air."""
    s = model.structure
    outside = state.temperature[s.mix_outside]
    if not s.mixes:
        return outside
    flow, warm = state.mass_flow[s.loop_branch], state.temperature
    plain = s.start[s.loop_branch], s.end[s.loop_branch]  # without mixing of its own
    ahead = s.loop_sign > 0
    draw, leaves = np.where(ahead, *plain), np.where(ahead[:, None], flow, -flow)
    heat = model.branch_heat[s.loop_branch] + model.motor_heat[s.loop_branch] * air.density(
        warm[draw], model.site_pressure
    )
    speed = positive(leaves)
    rows = model.wall_conductance[s.loop_branch], model.wall_temperature[s.loop_branch]
    capacity = CP * (speed + LEAST_FLOW)
    rise = (rows[1] - warm[draw]) * (1 - np.exp(-rows[0] / capacity)) + heat / capacity
    rise = np.where(rise.real > HOTTEST_RISE, HOTTEST_RISE, rise)
    fades = speed / np.sqrt(speed * speed + LOOP_TURN * LOOP_TURN)
    added = model.recirculated * fades * (warm[draw] + rise - outside[s.loop_mix])
    found: Array = outside + s.loops_to_mixes @ added
    return found
