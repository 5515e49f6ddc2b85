"""What happens in each branch by itself: its air, its heat, its drop and its buoyancy.

Arrays are (branches, variants) where not said otherwise, and may be complex.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from flownet.equations.laws import in_series
from flownet.equations.state import Model, State
from flownet.physics import air
from flownet.schema.arrays import Array, Integers, magnitude, placed, positive, replaced, stacked

CP = air.HEAT_CAPACITY
STILL = 1e-9  # kg/s exchanged both ways across every open branch, in the energy balance only
HEAT_TURN = 1000.0  # K: q / (cp 1000 K) is the flow at which branch heat begins to go both ways
HOTTEST_RISE = 500.0  # K, where the mean temperature of a branch is cut off
LEAST_FLOW = 1e-15  # kg/s, keeps q / m finite at rest
BLEND = 1e-7  # kg/s, at which the temperature in a branch turns from one end's to the other's


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


def branches(model: Model, state: State) -> BranchState:
    """All branches in a state."""
    s, warm = model.structure, state.temperature
    return branch_state(model, state.mass_flow, warm[s.warm_start], warm[s.warm_end])


def branch_state(model: Model, mass_flow: Array, warm_start: Array, warm_end: Array) -> BranchState:
    """Everything about branches from their flow and the temperatures at their two ends."""
    air, upstream, warmed = flowing(model, mass_flow, warm_start, warm_end)
    drops, slopes = _element_drops(model, mass_flow, air)
    to_start, to_end = carried(model, mass_flow, warm_start, warm_end, warmed)
    rows, heat = model.heated_rows, warmed.source + warmed.gained
    return BranchState(
        air, upstream, replaced(upstream, rows, warmed.outlet),
        placed(np.zeros_like(upstream), rows, heat), _in_series(model, drops),
        _in_series(model, slopes), buoyancy(model, air), to_start, to_end, drops,
    )  # fmt: skip


def flowing(model: Model, mass_flow: Array, warm_start: Array, warm_end: Array) -> Flowing:
    """What flows in branches, from their flow and the temperatures at their two ends."""
    ahead = mass_flow.real >= 0
    at_start, at_end = (air.density(t, model.site_pressure) for t in (warm_start, warm_end))
    upstream = np.where(ahead, warm_start, warm_end)
    warmed = heated(model, mass_flow, upstream, at_start, at_end)
    density, viscosity = np.where(ahead, at_start, at_end), air.viscosity(upstream)
    if (rows := model.long_rows).size:
        rise = replaced(upstream, model.heated_rows, warmed.outlet)[rows] - upstream[rows]
        mean = _mean(model, rows, mass_flow, warm_start, warm_end, rise)
        density = placed(density, rows, air.density(mean, model.site_pressure))
        viscosity = placed(viscosity, rows, air.viscosity(mean))
    return Flowing(air.Air(density, viscosity, at_start, at_end), upstream, warmed)


def heated(
    model: Model, mass_flow: Array, upstream: Array, at_start: Array, at_end: Array
) -> Warmed:
    """What branches with heat of their own do to their air."""
    rows = model.heated_rows
    inlet = upstream[rows]
    if not rows.size:
        return Warmed(inlet, inlet, inlet)
    draws = np.where(model.reversed[rows], at_end[rows], at_start[rows])
    own = model.branch_heat[rows]
    source = np.where(model.open[rows], own + model.motor_heat[rows] * draws, own)
    flow, conductance = mass_flow[rows], model.wall_conductance[rows]
    speed = magnitude(flow)
    capacity = CP * (speed + LEAST_FLOW)
    warmed = (model.wall_temperature[rows] - inlet) * (1 - np.exp(-conductance / capacity))
    return Warmed(source, CP * speed * warmed, inlet + warmed + source / capacity)


def _mean(
    model: Model, rows: Integers, mass_flow: Array, start: Array, end: Array, rise: Array
) -> Array:
    """Temperature in a branch that has a height or heat of its own: upstream, or half-way to
    the outlet where heat comes in on the way. It turns from one end's to the other's within a
    flow of BLEND, so that buoyancy in a branch does not jump at zero flow."""
    flow = mass_flow[rows]
    share = (1 + flow / np.sqrt(flow * flow + BLEND * BLEND)) / 2
    upstream = end[rows] + share * (start[rows] - end[rows])
    limited = np.where(rise.real > HOTTEST_RISE, HOTTEST_RISE, rise)
    return np.asarray(upstream + np.where(model.inner[rows], limited / 2, 0.0))


def onward(model: Model, mass_flow: Array, start: Array, end: Array) -> Array:
    """(branches, variants) kg/s that goes from start to end, by the temperatures there: the net
    flow or nothing, more in a tall hole that air passes both ways at once."""
    found = positive(mass_flow)
    for rows, law, tall in model.tall_holes:
        ends = start[rows], end[rows]
        at_start, at_end = (air.density(each, model.site_pressure) for each in ends)
        here = air.Air(at_start, air.viscosity((ends[0] + ends[1]) / 2), at_start, at_end)
        passed = np.where(tall & model.open[rows], law.onward(mass_flow[rows], here), found[rows])
        found = placed(found, rows, passed)
    return found


def carried(
    model: Model, mass_flow: Array, start: Array, end: Array, warmed: Warmed
) -> tuple[Array, Array]:
    """Energy that the nodes at both ends receive. Branch heat goes to the end with the flow,
    half to each side at rest."""
    rows = model.heated_rows
    step = CP * (start - end)
    to_end = (onward(model, mass_flow, start, end) + model.open * STILL) * step
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


def buoyancy(model: Model, flowing: air.Air) -> Array:
    """Push of the columns at both ends, and within the branch."""
    outside = model.outside_density
    start, end = model.columns_of_air
    push = (flowing.at_end - outside) * end - (flowing.at_start - outside) * start
    if (rows := model.long_rows).size:
        within = (flowing.density[rows] - outside) * model.climb[rows]
        push = placed(push, rows, push[rows] - within)
    return np.asarray(air.GRAVITY * push)


def pressure_drop(model: Model, mass_flow: Array, flowing: air.Air) -> tuple[Array, Array]:
    """Of each branch, all its elements in series [Pa], and the slope [Pa s/kg]."""
    drops, slopes = _element_drops(model, mass_flow, flowing)
    return _in_series(model, drops), _in_series(model, slopes)


def _in_series(model: Model, drops: Array) -> Array:
    """(branches, variants) sums of what (elements, variants) have."""
    sums = model.structure.to_branches
    added: Array = drops if sums is None else sums @ drops
    return added


def _element_drops(model: Model, mass_flow: Array, flowing: air.Air) -> tuple[Array, Array]:
    """(elements, variants) drop less rise of each element, and its slope."""
    s = model.structure
    if not model.elements:
        return np.zeros_like(mass_flow), np.zeros_like(mass_flow)
    if s.to_branches is not None:  # several in series in a branch
        mass_flow, flowing = mass_flow[s.host], air.Air(*(x[s.host] for x in flowing))
    found = []
    for rows, element in model.elements:
        flow, here = mass_flow[rows], air.Air(*(x[rows] for x in flowing))
        found.append(in_series(element.laws, flow, here))
    return stacked([f[0] for f in found]), stacked([f[1] for f in found])
