"""Temperatures of parts: air, resistance that may follow the air's speed, chain of stations."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from flownet.columns import Inputs
from flownet.enclosure.heat import LAW_HELD
from flownet.equations import assemble, elements, layers
from flownet.equations.branch import BranchState
from flownet.equations.curve_fits import power_lines
from flownet.equations.state import Model, State
from flownet.equations.topology import root_places
from flownet.schema.arrays import Array, magnitude


class PartStates(NamedTuple):
    """(parts, variants); NaN for parts that are not there."""

    heat: Array
    air: Array  # temperature of the air (or part) it gives its heat to
    velocity: Array  # of the air past it
    temperature: Array  # of its first station, the hottest
    stations: dict[str, Array]  # part.station -> (variants,)


def parts(inputs: Inputs, model: Model, state: State, here: BranchState) -> PartStates:
    """Every part in a state."""
    case, names = inputs.enclosure, inputs.names("part")
    width = state.mass_flow.shape[1]
    if not names:
        none = np.zeros((0, width))
        return PartStates(none, none, none, none, {})
    c = elements.columns(inputs, "part")
    velocity, mass_velocity = _velocities(inputs, model, state, here, c.flow_area)
    resistance = _resistances(c, mass_velocity) * c.resistance_factor
    there = assemble.parts_present(inputs) + np.zeros((1, width))
    load = _with_riders(inputs, model.part_heat + np.zeros((1, width)))
    surroundings = _air(inputs, model, state, here, c.position)
    chain = c.chain.resistance if c.chain.given.any() else np.zeros((len(names), 1, 1))
    chain = np.where(c.chain.given[:, None], chain, 0.0)
    base = np.zeros((len(names), width), np.result_type(surroundings, resistance, load))
    rows = {name: row for row, name in enumerate(names)}
    for row in _hosts_first(case, names):
        host = case.parts[names[row]].in_
        if host.startswith("part."):
            surroundings[row] = base[rows[host[5:]]] + 0 * surroundings[row]
        base[row] = surroundings[row] + load[row] * resistance[row]
    above = np.cumsum(chain[:, ::-1], axis=1)[:, ::-1]  # resistance from a station to the base
    hot = base[:, None] + load[:, None] * above
    gone = np.where(there > 0, 0.0, np.nan)
    stations = {}
    for row, name in enumerate(names):
        for i, (station, _) in enumerate(case.parts[name].chain or ()):
            stations[f"{name}.{station}"] = hot[row, i] + gone[row]
    return PartStates(
        model.part_heat + gone, surroundings + gone, velocity + gone, hot[:, 0] + gone, stations
    )


def _hosts_first(case: object, names: list[str]) -> list[int]:
    """Parts in an order in which what a part sits on comes before it."""
    parts, depth = case.parts, dict[str, int]()  # type: ignore[attr-defined]
    for name in names:
        walked, at = [], name
        while at not in depth and parts[at].in_.startswith("part."):
            walked.append(at)
            at = parts[at].in_[5:]
        lowest = depth.setdefault(at, 0)
        depth |= {each: lowest + i for i, each in enumerate(reversed(walked), 1)}
    return sorted(range(len(names)), key=lambda row: depth[names[row]])


def _with_riders(inputs: Inputs, heat: Array) -> Array:
    """Heat through each part: its own and that of all parts that sit on it."""
    case, names = inputs.enclosure, inputs.names("part")
    total, rows = heat.copy(), {name: row for row, name in enumerate(names)}
    for row in reversed(_hosts_first(case, names)):
        host = case.parts[names[row]].in_
        if host.startswith("part."):
            total[rows[host[5:]]] = total[rows[host[5:]]] + total[row]
    return total


def _resistances(c: object, mass_velocity: Array) -> Array:
    """(parts, variants) K/W: plain, from a table, or from a law, both read at the velocity that
    has the same `rho v` in the air in which they were measured."""
    table, law, plain = c.resistance_over_velocity, c.resistance_law, c.resistance  # type: ignore[attr-defined]
    plain = np.where(np.isnan(plain.real), 0.0, plain)
    moved = np.where(np.isnan(mass_velocity.real), 0.0, mass_velocity)
    found: Array = plain + 0 * moved
    if table.given.any():
        speed = moved / np.where(table.given, table.reference_density, 1.0)
        found = np.where(table.given, power_lines(speed, table.velocity, table.resistance), found)
    fitted = ~np.isnan(law.a.real)
    if fitted.any():
        speed = moved / np.where(fitted, law.reference_density, 1.0)
        ratio = speed / np.where(fitted, law.velocity, 1.0)
        ratio = np.where(ratio.real > LAW_HELD, ratio, LAW_HELD)
        curve = law.a + law.b * ratio ** -np.where(fitted, law.n, 1.0)
        found = np.where(fitted, curve, found)
    return found


def _velocities(
    inputs: Inputs, model: Model, state: State, here: BranchState, flow_area: Array
) -> tuple[Array, Array]:
    """Air speed at each part, of its branch or of its flow over `flow_area`, and times the density
    of that air, `rho v` [kg/(m2 s)]; NaN without."""
    case, s = inputs.enclosure, model.structure
    width = state.mass_flow.shape[1]
    areas, host = {}, dict(zip(s.elements, s.host.tolist(), strict=True))
    for rows, element in model.elements:
        for i in range(rows.start, rows.stop):
            own = element.area[i - rows.start], element.count[i - rows.start]
            areas[s.elements[i]] = own
    found = []
    places = root_places(case)
    for row, (name, part) in enumerate(case.parts.items()):
        place = places[name]
        path = part.stream if place in case.compartments else place
        if path is None or part.in_.startswith("part."):
            found.append(np.full((2, width), np.nan))
            continue
        branch = host[path]
        flow = magnitude(state.mass_flow[branch])
        area, count = areas[path]
        over = np.where(np.isnan(flow_area[row].real), area, flow_area[row])
        if place not in case.compartments:
            over = over * count
        moved = flow / over + np.zeros(width)
        found.append(np.array([moved / here.air.density[branch], moved]))
    both = np.array(found)
    return both[:, 0], both[:, 1]


def _air(inputs: Inputs, model: Model, state: State, here: BranchState, position: Array) -> Array:
    """Temperature of the air at each part; parts on parts get theirs later."""
    case, s = inputs.enclosure, model.structure
    ahead = state.mass_flow.real >= 0
    at_from = np.where(ahead, here.upstream, here.outlet)
    at_to = np.where(ahead, here.outlet, here.upstream)
    host = dict(zip(s.elements, s.host.tolist(), strict=True))
    found = []
    for row, place in enumerate(root_places(case).values()):
        if place in case.compartments:
            found.append(layers.part_air(s, row, state.temperature))
            continue
        branch = host[place]
        if place.startswith("slot."):
            found.append(at_from[branch] + position[row] * (at_to[branch] - at_from[branch]))
        else:
            found.append(here.outlet[branch])
    return np.array(found)
