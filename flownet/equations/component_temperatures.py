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
from flownet.schema.arrays import Array, magnitude, stacked

LEAST_APART = 1e-6  # K/W between a part that stores heat and what it stands in or on


class PartStates(NamedTuple):
    """(parts, variants); NaN for parts that are not there."""

    heat: Array
    air: Array  # temperature of the air (or part) it gives its heat to
    velocity: Array  # of the air past it
    temperature: Array  # of its first station, the hottest
    foot: Array  # temperature below its chain, of those that are not there too
    resistance: Array  # from its foot to that air [K/W]; NaN where it follows no velocity
    volume_flow: Array  # between the fins of a sink [m3/s]; NaN of all others
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
    case, names, width = inputs.enclosure, inputs.names("part"), state.mass_flow.shape[1]
    if not names:
        none = np.zeros((0, width))
        return PartStates(none, none, none, none, none, none, none, {})
    c = elements.columns(inputs, "part")
    past, resistance, rise = resistances(inputs, model, state, here)
    held = np.full((1, width), np.nan) if held is None else held
    give = giving(inputs, model.part_heat, resistance + rise, held)
    below, foot = feet(inputs, give, resistance + rise, _air(inputs, model, state, here), held)
    below = below + (give.given - give.given_slope * below) * rise
    chain = c.chain.resistance if c.chain.given.any() else np.zeros((len(names), 1, 1))
    chain = np.where(c.chain.given[:, None], chain, 0.0)
    above = np.cumsum(chain[:, ::-1], axis=1)[:, ::-1]  # resistance from a station to the foot
    hot = foot[:, None] + (give.fixed - give.slope * foot)[:, None] * above
    follows = c.resistance_over_velocity.given | ~np.isnan(c.resistance_law.a.real) | c.sink.given
    there = assemble.parts_present(inputs) + np.zeros((1, width)) > 0
    stations = {f"{name}.{station}": np.where(there[row], hot[row, i], np.nan)
                for row, name in enumerate(names)
                for i, (station, _) in enumerate(case.parts[name].chain or ())}  # fmt: skip
    heat, air, velocity, hottest, own, volume = (np.where(there, each, np.nan) for each in (
        model.part_heat, below, past.velocity, hot[:, 0], np.where(follows, resistance, np.nan),
        past.between_fins))  # fmt: skip
    return PartStates(heat, air, velocity, hottest, foot, own, volume, stations)


def hosts_of(inputs: Inputs) -> list[int]:
    """(parts,) the part that each sits on; -1 where it stands in air."""
    rows = {f"part.{name}": row for row, name in enumerate(inputs.names("part"))}
    return [rows.get(part.in_, -1) for part in inputs.enclosure.parts.values()]


def hosts_first(hosts: list[int]) -> list[int]:
    """Parts in an order in which what a part sits on comes before it."""
    on: dict[int, list[int]] = {}
    for row, host in enumerate(hosts):
        on.setdefault(host, []).append(row)
    order = [*on.get(-1, ())]
    for row in order:  # grows as it goes
        order += on.get(row, ())
    return order


def giving(inputs: Inputs, heat: Array, resistance: Array, held: Array) -> Giving:
    """What parts give off, those on top first, when some of them hold their temperature.

    heat, resistance : (parts, variants) own heat [W]; from the foot to what is below it [K/W]
    held : (parts, variants) temperatures that are held, NaN of parts that follow at once
    """
    shape = np.broadcast_shapes(heat.shape, resistance.shape, held.shape)
    kind = np.result_type(heat, resistance, held)
    made = Giving(*(np.zeros(shape, kind) for _ in Giving._fields))
    made.fixed[:] = heat
    held, hosts = np.broadcast_to(held, shape), hosts_of(inputs)
    for row in reversed(hosts_first(hosts)):
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
    below = air + 0 * give.given
    foot, held, hosts = np.empty_like(below), np.broadcast_to(held, below.shape), hosts_of(inputs)
    for row in hosts_first(hosts):
        if hosts[row] >= 0:
            below[row] = foot[hosts[row]]
        passed = give.given[row] - give.given_slope[row] * below[row]
        follows = below[row] + passed * resistance[row]
        foot[row] = np.where(np.isnan(held[row].real), follows, held[row])
    return below, foot


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


def _with_riders(inputs: Inputs, heat: Array) -> Array:
    """Heat through each part: its own and that of all parts that sit on it."""
    total, hosts = heat.copy(), hosts_of(inputs)
    for row in reversed(hosts_first(hosts)):
        if hosts[row] >= 0:
            total[hosts[row]] = total[hosts[row]] + total[row]
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
    between_fins: Array  # volume flow there [m3/s]; NaN without a sink


def _passing(inputs: Inputs, model: Model, state: State, here: BranchState, c: Any) -> Passing:
    """Air at each part: the velocity of its branch, or of its flow over `flow_area`, or over what
    a sink leaves free where all air passes its fins."""
    case, s, none = inputs.enclosure, model.structure, np.ones((1, 1))
    inside, paths = np.zeros((len(case.parts), 1), bool), list[str | None]()
    for row, (place, part) in enumerate(zip(root_places(case).values(), case.parts.values(),
                                            strict=True)):  # fmt: skip
        inside[row] = place in case.compartments
        path = part.stream if inside[row] else place
        paths.append(None if part.in_.startswith("part.") else path)
    known = {path: row for row, path in enumerate(s.elements)}
    at = np.array([known.get(path or "", -1) for path in paths])
    branch = np.r_[s.host, -1][at]
    flow, density, area, count = (stacked([*each, none])[rows] for rows, each in (
        (branch, [state.mass_flow]), (branch, [here.air.density]),
        *((at, [assemble.of_elements(model.elements, key)]) for key in ("area", "count")),
    ))  # fmt: skip
    over = np.where(np.isnan(c.flow_area.real), area, c.flow_area) * np.where(inside, 1.0, count)
    ducts = stacked([inputs.columns["duct"].get("sink", -none), -none])
    names = {f"duct.{name}": row for row, name in enumerate(inputs.names("duct"))}
    whole = inside | (ducts[[names.get(path or "", -1) for path in paths]].real >= 0)
    free, given = c.flow_area, c.sink.given
    if given.any():
        free = sinks.plate_fins(c.sink).free_area
    over = np.where(given & whole, free, over)
    share = np.where(given & ~inside, free / over, 0.0)
    share = np.where(share.real < 1, share, 1.0)
    moved = magnitude(flow) / over
    between = np.where(given, moved / density * free, np.nan)
    made = (moved / density, moved, density, share + 0 * flow, between)
    return Passing(*(np.where(at[:, None] < 0, np.nan, each) for each in made))


def _air(inputs: Inputs, model: Model, state: State, here: BranchState) -> Array:
    """Temperature of the air at each part, or at the part that it sits on."""
    s, (own, _), found = model.structure, along(inputs, model, state), []
    ahead = state.mass_flow.real >= 0
    at_from = np.where(ahead, here.upstream, here.outlet)
    at_to = np.where(ahead, here.outlet, here.upstream)
    for row, branch in enumerate(s.part_branch.tolist()):
        if branch < 0:
            found.append(layers.part_air(s, row, state.temperature))
        elif s.branches[branch].startswith("slot."):
            found.append(at_from[branch] + own[row] * (at_to[branch] - at_from[branch]))
        else:
            found.append(here.outlet[branch])
    return np.array(found)


def along(inputs: Inputs, model: Model, state: State) -> tuple[Array, Array]:
    """(parts, variants) where along its slot, from its `from`, the mean air is as warm as at each
    part; and how much of the rise by its own heat that has, if it stands in a branch.

    Where parts warm the air of a slot each at its place, heat counts as when none is stored.
    """
    s, width = model.structure, state.mass_flow.shape[1]
    load = _with_riders(inputs, model.part_heat + np.zeros((1, width)))
    position, found = elements.columns(inputs, "part").position + 0 * load, []
    for row, branch in enumerate(s.part_branch.tolist()):
        own, counts = position[row], np.ones(width)
        if branch >= 0 and (slot := s.branches[branch]).startswith("slot."):
            ahead = state.mass_flow[branch].real >= 0
            counts = np.where(ahead, own, 1 - own)
            if (at_parts := _at_parts(inputs, slot)).any():
                taken = _taken(inputs, model.branch_heat[branch], load, slot, row, ahead)
                own, counts = np.where(at_parts, taken, own), np.where(at_parts, 0.0, counts)
        found.append((own, counts))
    return np.array([own for own, _ in found]), np.array([counts for _, counts in found])


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
    return np.asarray((between + spread * at[row]) / np.where(whole.real == 0, 1.0, whole))
