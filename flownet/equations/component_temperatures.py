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

LEAST_APART = 1e-6  # K/W between a part that stores heat and what it stands in or on


class PartStates(NamedTuple):
    """(parts, variants); NaN for parts that are not there."""

    heat: Array
    air: Array  # temperature of the air (or part) it gives its heat to
    velocity: Array  # of the air past it
    temperature: Array  # of its first station, the hottest
    stations: dict[str, Array]  # part.station -> (variants,)


class Giving(NamedTuple):
    """Heat through stacks of parts, each `fixed - slope * T`; (parts, variants) W, W/K."""

    fixed: Array  # all that comes into a part, by the temperature of its foot
    slope: Array
    given: Array  # what it gives to what it stands in or on, by the temperature there
    given_slope: Array


def parts(
    inputs: Inputs, model: Model, state: State, here: BranchState, held: Array | None = None
) -> PartStates:
    """Every part in a state. `held`: (parts, variants) temperatures of the feet of those that store
    heat, NaN of all others, which follow at once."""
    case, names = inputs.enclosure, inputs.names("part")
    width = state.mass_flow.shape[1]
    if not names:
        none = np.zeros((0, width))
        return PartStates(none, none, none, none, {})
    c = elements.columns(inputs, "part")
    velocity, resistance = resistances(inputs, model, state, here)
    there = assemble.parts_present(inputs) + np.zeros((1, width))
    load = _with_riders(inputs, model.part_heat + np.zeros((1, width)))
    surroundings = _air(inputs, model, state, here, c.position)
    chain = c.chain.resistance if c.chain.given.any() else np.zeros((len(names), 1, 1))
    chain = np.where(c.chain.given[:, None], chain, 0.0)
    base = np.zeros((len(names), width), np.result_type(surroundings, resistance, load))
    if held is not None:
        give = giving(inputs, model.part_heat, resistance, held)
        surroundings, base = feet(inputs, give, resistance, surroundings, held)
        load = give.fixed - give.slope * base
    rows = {name: row for row, name in enumerate(names)}
    for row in _hosts_first(case, names) if held is None else ():
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


def hosts_of(inputs: Inputs) -> list[int]:
    """(parts,) the part that each sits on; -1 where it stands in air."""
    rows = {f"part.{name}": row for row, name in enumerate(inputs.names("part"))}
    return [rows.get(part.in_, -1) for part in inputs.enclosure.parts.values()]


def giving(inputs: Inputs, heat: Array, resistance: Array, held: Array) -> Giving:
    """What parts give off, those on top first, when some of them hold their temperature.

    heat, resistance : (parts, variants) own heat [W]; from the foot to what is below it [K/W]
    held : (parts, variants) temperatures that are held, NaN of parts that follow at once
    """
    shape = np.broadcast_shapes(heat.shape, resistance.shape, held.shape)
    kind = np.result_type(heat, resistance, held)
    made = Giving(*(np.zeros(shape, kind) for _ in Giving._fields))
    made.fixed[:] = heat
    hosts, names = hosts_of(inputs), inputs.names("part")
    for row in reversed(_hosts_first(inputs.enclosure, names)):
        through, stored = resistance[row], ~np.isnan(held[row].real)
        follows = 1 + through * made.slope[row]
        apart = np.where(stored & (through.real > LEAST_APART), through, LEAST_APART)
        made.given[row] = np.where(stored, held[row] / apart, made.fixed[row] / follows)
        made.given_slope[row] = np.where(stored, 1 / apart, made.slope[row] / follows)
        if hosts[row] >= 0:
            made.fixed[hosts[row]] += made.given[row]
            made.slope[hosts[row]] += made.given_slope[row]
    return made


def feet(
    inputs: Inputs, give: Giving, resistance: Array, air: Array, held: Array
) -> tuple[Array, Array]:
    """(parts, variants) temperatures of what each part stands in or on, and of its foot, by those
    of the air around the lowest of each stack."""
    below, foot = air + 0 * give.given, 0 * give.given
    hosts = hosts_of(inputs)
    for row in _hosts_first(inputs.enclosure, inputs.names("part")):
        if hosts[row] >= 0:
            below[row] = foot[hosts[row]]
        passed = give.given[row] - give.given_slope[row] * below[row]
        follows = below[row] + passed * resistance[row]
        foot[row] = np.where(np.isnan(held[row].real), follows, held[row])
    return below, foot


def steady_feet(inputs: Inputs, model: Model, state: State, here: BranchState) -> Array:
    """(parts, variants) temperatures of the foot of each part, all heat passed on at once."""
    if not inputs.names("part"):
        return np.zeros((0, state.mass_flow.shape[1]))
    _, resistance = resistances(inputs, model, state, here)
    none = np.full(resistance.shape, np.nan)
    give = giving(inputs, model.part_heat, resistance, none)
    air = _air(inputs, model, state, here, elements.columns(inputs, "part").position)
    return feet(inputs, give, resistance, air, none)[1]


def resistances(
    inputs: Inputs, model: Model, state: State, here: BranchState
) -> tuple[Array, Array]:
    """(parts, variants) air speed at each part [m/s], NaN without; and from its foot to the air
    [K/W]."""
    c = elements.columns(inputs, "part")
    velocity, mass_velocity = _velocities(inputs, model, state, here, c.flow_area)
    return velocity, _resistances(c, mass_velocity) * c.resistance_factor


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
