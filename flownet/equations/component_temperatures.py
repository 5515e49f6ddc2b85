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
    past = _passing(inputs, model, state, here, c)
    resistance = _resistances(c, past.mass_velocity) * c.resistance_factor
    there = assemble.parts_present(inputs) + np.zeros((1, width))
    load = _with_riders(inputs, model.part_heat + np.zeros((1, width)))
    surroundings, counted = _air(inputs, model, state, here, c.position, load)
    if c.sink.given.any():
        own, rise = sinks.resistance_and_rise(
            c.sink, c.resistance_factor, past.mass_velocity, past.density, model.site_pressure,
            counted * past.share,
        )  # fmt: skip
        resistance, surroundings = resistance + own, surroundings + load * rise
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
        model.part_heat + gone, surroundings + gone, past.velocity + gone, hot[:, 0] + gone,
        stations,
    )  # fmt: skip


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


def _air(
    inputs: Inputs, model: Model, state: State, here: BranchState, position: Array, load: Array
) -> tuple[Array, Array]:
    """Temperature of the air at each part, and how much of the rise by its own heat this has; parts
    on parts get theirs later."""
    case, s = inputs.enclosure, model.structure
    ahead = state.mass_flow.real >= 0
    at_from = np.where(ahead, here.upstream, here.outlet)
    at_to = np.where(ahead, here.outlet, here.upstream)
    host = dict(zip(s.elements, s.host.tolist(), strict=True))
    roots, still = root_places(case), np.zeros(state.mass_flow.shape[1])
    found, counted = [], []
    for row, place in enumerate(roots.values()):
        if place in case.compartments:
            found.append(layers.part_air(s, row, state.temperature))
            counted.append(still)
            continue
        branch = host[place]
        if place.startswith("slot."):
            own, counts = position[row], np.where(ahead[branch], position[row], 1 - position[row])
            if (at_parts := _at_parts(inputs, place)).any():
                whole = model.branch_heat[branch]
                taken = _taken(inputs, whole, load, place, row, ahead[branch])
                own, counts = np.where(at_parts, taken, own), np.where(at_parts, 0.0, counts)
            found.append(at_from[branch] + own * (at_to[branch] - at_from[branch]))
            counted.append(counts)
        else:
            found.append(here.outlet[branch])
            counted.append(still + 1.0)
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
    at, known = inputs.columns["part"]["position"], np.where(whole.real == 0, 1.0, whole)
    rows = [i for i, part in enumerate(inputs.enclosure.parts.values()) if part.in_ == slot]
    own = [(at[i].real < at[row].real) | (~ahead & (at[i].real == at[row].real)) for i in rows]
    between = sum(np.where(there, load[i], 0.0) for i, there in zip(rows, own, strict=True))
    spread = whole - sum(load[i] for i in rows)
    taken = (between + spread * at[row]) / known
    return np.asarray(np.where(whole.real == 0, at[row], taken))
