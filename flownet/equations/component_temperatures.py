"""Temperatures of parts: air, resistance that may follow the air's speed, chain of stations."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from flownet.columns import Inputs
from flownet.enclosure.heat import LAW_HELD
from flownet.equations import assemble, elements, layers, sinks
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
    past, resistance, rise = resistances(inputs, model, state, here)
    load = _with_riders(inputs, model.part_heat + np.zeros((1, width)))
    surroundings = _air(inputs, model, state, here)
    if held is None:
        surroundings = surroundings + load * rise
    chain = c.chain.resistance if c.chain.given.any() else np.zeros((len(names), 1, 1))
    chain = np.where(c.chain.given[:, None], chain, 0.0)
    base = np.zeros((len(names), width), np.result_type(surroundings, resistance, load))
    if held is not None:
        give = giving(inputs, model.part_heat, resistance + rise, held)
        surroundings, base = feet(inputs, give, resistance + rise, surroundings, held)
        load = give.fixed - give.slope * base
        surroundings = surroundings + (give.given - give.given_slope * surroundings) * rise
    rows = {name: row for row, name in enumerate(names)}
    for row in _hosts_first(case, names) if held is None else ():
        host = case.parts[names[row]].in_
        if host.startswith("part."):
            surroundings[row] = base[rows[host[5:]]] + 0 * surroundings[row]
        base[row] = surroundings[row] + load[row] * resistance[row]
    above = np.cumsum(chain[:, ::-1], axis=1)[:, ::-1]  # resistance from a station to the base
    there = assemble.parts_present(inputs) + np.zeros((1, width)) > 0
    hot = np.where(there[:, None], base[:, None] + load[:, None] * above, np.nan)
    stations = {}
    for row, name in enumerate(names):
        for i, (station, _) in enumerate(case.parts[name].chain or ()):
            stations[f"{name}.{station}"] = hot[row, i]
    heat, air = (np.where(there, each, np.nan) for each in (model.part_heat, surroundings))
    return PartStates(heat, air, np.where(there, past.velocity, np.nan), hot[:, 0], stations)


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
    below, foot = air + 0 * give.given, np.empty_like(give.given)
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
    _, resistance, rise = resistances(inputs, model, state, here)
    none = np.full(resistance.shape, np.nan)
    give = giving(inputs, model.part_heat, resistance + rise, none)
    return feet(inputs, give, resistance + rise, _air(inputs, model, state, here), none)[1]


def resistances(
    inputs: Inputs, model: Model, state: State, here: BranchState
) -> tuple[Passing, Array, Array]:
    """Of each part the air past it; from its foot to the air around it [K/W]; and by how much its
    own heat warms this air more than the temperature of its place says [K/W]."""
    c = elements.columns(inputs, "part")
    past = _passing(inputs, model, state, here, c)
    resistance = _resistances(c, past.mass_velocity) * c.resistance_factor
    if not c.sink.given.any():
        return past, resistance, np.zeros_like(resistance)
    own, rise = sinks.resistance_and_rise(
        c.sink, c.resistance_factor, past.mass_velocity, past.density, model.site_pressure,
        along(inputs, model, state)[1] * past.share,
    )  # fmt: skip
    return past, resistance + own, rise


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


class Passing(NamedTuple):
    """The air past each part; (parts, variants), NaN where none is known."""

    velocity: Array
    mass_velocity: Array  # times the density of that air [kg/(m2 s)]
    density: Array
    share: Array  # of the air of its branch that passes a sink; 0 in a compartment


def _passing(inputs: Inputs, model: Model, state: State, here: BranchState, c: Any) -> Passing:
    """Air at each part: the velocity of its branch, or of its flow over `flow_area`, or over what
    a sink leaves free where all air passes its fins."""
    case, s = inputs.enclosure, model.structure
    width = state.mass_flow.shape[1]
    areas, host = {}, dict(zip(s.elements, s.host.tolist(), strict=True))
    for kind, element in model.elements:
        for i in range(kind.start, kind.stop):
            own = element.area[i - kind.start], element.count[i - kind.start]
            areas[s.elements[i]] = own
    rows = zip(inputs.names("duct"), inputs.columns["duct"].get("sink", ()), strict=True)
    ducts = {f"duct.{name}": sink.real >= 0 for name, sink in rows}
    free = sinks.plate_fins(c.sink).free_area if c.sink.given.any() else c.flow_area
    found = []
    places = root_places(case)
    for row, (name, part) in enumerate(case.parts.items()):
        place = places[name]
        path = part.stream if place in case.compartments else place
        if path is None or part.in_.startswith("part."):
            found.append(np.full((4, width), np.nan))
            continue
        branch = host[path]
        flow = magnitude(state.mass_flow[branch])
        area, count = areas[path]
        over = np.where(np.isnan(c.flow_area[row].real), area, c.flow_area[row])
        if place not in case.compartments:
            over = over * count
        given = c.sink.given[row]
        within = place in case.compartments
        over = np.where(given & (within | ducts.get(path, within)), free[row], over)
        share = np.where(given, free[row] / over, 0.0) * (not within)
        share = np.where(share.real < 1, share, 1.0)
        moved, density = flow / over + np.zeros(width), here.air.density[branch]
        found.append(np.array([moved / density, moved, density, share + np.zeros(width)]))
    return Passing(*np.moveaxis(np.array(found), 1, 0))


def _air(inputs: Inputs, model: Model, state: State, here: BranchState) -> Array:
    """Temperature of the air at each part; parts on parts get theirs later."""
    case, s = inputs.enclosure, model.structure
    ahead = state.mass_flow.real >= 0
    at_from = np.where(ahead, here.upstream, here.outlet)
    at_to = np.where(ahead, here.outlet, here.upstream)
    host = dict(zip(s.elements, s.host.tolist(), strict=True))
    found, (own, _) = [], along(inputs, model, state)
    for row, place in enumerate(root_places(case).values()):
        if place in case.compartments:
            found.append(layers.part_air(s, row, state.temperature))
        elif place.startswith("slot."):
            start, end = at_from[host[place]], at_to[host[place]]
            found.append(start + own[row] * (end - start))
        else:
            found.append(here.outlet[host[place]])
    return np.array(found)


def along(inputs: Inputs, model: Model, state: State) -> tuple[Array, Array]:
    """(parts, variants) where along its slot, from its `from`, the mean air is as warm as at each
    part; and how much of the rise by its own heat that has: none in a compartment.

    Where parts warm the air of a slot each at its place, heat counts as when none is stored.
    """
    case, s = inputs.enclosure, model.structure
    width = state.mass_flow.shape[1]
    load = _with_riders(inputs, model.part_heat + np.zeros((1, width)))
    host = dict(zip(s.elements, s.host.tolist(), strict=True))
    position = elements.columns(inputs, "part").position + 0 * load
    found, counted = [], []
    for row, place in enumerate(root_places(case).values()):
        own, counts = position[row], np.ones(width)
        if place in case.compartments:
            counts = np.zeros(width)
        elif place.startswith("slot."):
            ahead = state.mass_flow[host[place]].real >= 0
            counts = np.where(ahead, own, 1 - own)
            if (at_parts := _at_parts(inputs, place)).any():
                whole = model.branch_heat[host[place]]
                taken = _taken(inputs, whole, load, place, row, ahead)
                own, counts = np.where(at_parts, taken, own), np.where(at_parts, 0.0, counts)
        found.append(own)
        counted.append(counts)
    return np.array(found), np.array(counted)


def _at_parts(inputs: Inputs, slot: str) -> Array:
    """(variants,) whether the parts in a slot warm its air each at its place."""
    row = inputs.names("slot").index(slot.removeprefix("slot."))
    found: Array = inputs.columns["slot"]["part_heat"][row].real > 0
    return found


def _taken(inputs: Inputs, whole: Array, load: Array, slot: str, row: int, ahead: Array) -> Array:
    """Share of the heat of a slot that comes in between its `from` and a part: of parts in between,
    and of its own power, spread along it. Seen the way of the air, the part itself and those beside
    it come in behind it."""
    at = inputs.columns["part"]["position"]
    rows = [i for i, part in enumerate(inputs.enclosure.parts.values()) if part.in_ == slot]
    own = [(at[i].real < at[row].real) | (~ahead & (at[i].real == at[row].real)) for i in rows]
    between = sum(np.where(there, load[i], 0.0) for i, there in zip(rows, own, strict=True))
    spread = whole - sum(load[i] for i in rows)
    taken = (between + spread * at[row]) / np.where(whole.real == 0, 1.0, whole)
    return np.asarray(np.where(whole.real == 0, at[row], taken))
