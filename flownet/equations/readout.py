"""From a state to everything a user asks for; accepts complex arrays."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import pairwise
from typing import Any

import numpy as np

from flownet.columns import Inputs
from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.fans import MOST_POINTS
from flownet.enclosure.slips import NARROW_RAMP
from flownet.equations import elements, layers, neutral
from flownet.equations.assemble import of_elements
from flownet.equations.branch import BranchState, branches
from flownet.equations.component_temperatures import PartStates, parts
from flownet.equations.residual import heat_aside
from flownet.equations.state import Model, State, Steady
from flownet.physics import air, life, sound
from flownet.results import dew, limits
from flownet.results.batch import SolutionBatch
from flownet.results.origins import NOUGHT_FLOW
from flownet.results.tables import (
    BRANCH,
    COMPARTMENT,
    FAN,
    HEAT,
    LAYER,
    PART,
    REGIONS,
    STATES,
    STATION,
    WALL,
    Table,
)
from flownet.schema.arrays import Array, magnitude, stacked


def results(
    inputs: Inputs, model: Model, found: Steady, changes: Mapping[str, Any],
    part: PartStates | None = None,
) -> SolutionBatch:  # fmt: skip
    """All tables of all variants, in the order in which things were given; NaN where a variant was
    not solved. `part`: its parts, where they are not those of a steady state."""
    failed = np.array([bool(words) for words in found.status])
    state = State(*(np.where(failed, np.nan, part) for part in found.state))
    with np.errstate(invalid="ignore"):
        return _results(inputs, model, state, found, changes, part)


def _results(
    inputs: Inputs, model: Model, state: State, found: Steady, changes: Mapping[str, Any],
    part: PartStates | None,
) -> SolutionBatch:  # fmt: skip
    width, given = state.mass_flow.shape[1], inputs.as_given()
    here, case = branches(model, state), given.enclosure
    part = parts(inputs, model, state, here) if part is None else part
    fans = _fans(inputs, model, state, here)
    compartments = _compartments(inputs, model, state).ordered(case.compartments)
    part_limit = inputs.columns["part"].get("limit", np.zeros((0, 1))) + 0 * part.temperature
    part_table = Table(PART, tuple(inputs.enclosure.parts), {
        "heat": part.heat, "air_temperature": part.air, "temperature": part.temperature,
        "limit": part_limit, "margin": part_limit - part.temperature, "velocity": part.velocity,
        "resistance": part.resistance, "volume_flow": part.volume_flow,
    }).ordered(case.parts)  # fmt: skip
    walls, swapped = heat_aside(model, state.temperature)
    whole_walls = layers.of_walls(model.structure, walls)
    whole_swapped = layers.of_exchanges(model.structure, swapped)
    totals = _totals(inputs, model, state, here, fans, walls)
    wall_table = _walls(inputs, model, state, _wide(whole_walls, width)).ordered(case.walls)
    layer_table, damp = _layers(case, model, state), dew.dew_point(inputs, width)
    totals["dew_margin"] = dew.margin(damp, inputs, compartments, layer_table, wall_table)
    elements_ = _branches(model, state, here, fans).ordered(case.branches)
    fans = fans.ordered([f"fan.{name}" for name in case.fans])
    held = limits.held(given, compartments, elements_, part_table, fans, wall_table, totals)
    totals["worst_margin"] = limits.worst(held, width)
    return SolutionBatch(
        compartments=compartments, branches=elements_, fans=fans, parts=part_table,
        stations=_stations(case, part, width),
        walls=wall_table,
        exchanges=_heat(inputs, "exchange", whole_swapped, width).ordered(case.things["exchange"]),
        layers=layer_table,
        site=_site(model) | {"dew_point": damp},
        totals_=totals,
        balance_=_balance(found),
        limits=held,
        inputs_=given,
        changes=changes,
        status=found.status,
    )  # fmt: skip


def _wide(values: Array, width: int) -> Array:
    return np.broadcast_to(values, (values.shape[0], width))


def _walls(inputs: Inputs, model: Model, state: State, heat: Array) -> Table:
    """Heat and faces of whole walls, and the limit of what may be touched."""
    s, warm = model.structure, state.temperature
    if not model.walls.count:
        return Table(WALL, (), {field.name: heat for field in WALL})
    whole = None if s.division is None else s.division.walls.row
    ends = warm[s.wall_start], warm[s.wall_end]
    inner, outer = (_wide(x, heat.shape[1])
                    for x in model.walls.surfaces(*ends, model.site_pressure, whole))  # fmt: skip
    open_ = [[wall.to.partition(".")[0] == "outside"] for wall in inputs.enclosure.walls.values()]
    own, every = (inputs.columns[kind]["touch_limit"] for kind in ("wall", "limits"))
    limit = np.where(np.isnan(own) & open_, every, own) + 0 * heat.real
    taken = layers.of_walls(s, model.walls.absorbed_sun())
    return Table(WALL, tuple(inputs.names("wall")), {
        "heat": heat, "inside_temperature": inner, "outside_temperature": outer,
        "absorbed_sun": taken + 0 * heat, "limit": limit, "margin": limit - outer,
    })  # fmt: skip


def _heat(inputs: Inputs, kind: str, values: Array, width: int) -> Table:
    return Table(HEAT, tuple(inputs.names(kind)), {"heat": _wide(values, width)})


def _stations(case: Enclosure, part: PartStates, width: int) -> Table:
    columns = np.array(list(part.stations.values())).reshape(len(part.stations), width)
    names = [f"{name}.{one}" for name, own in case.parts.items() for one, _ in own.chain or ()]
    return Table(STATION, tuple(part.stations), {"temperature": columns}).ordered(names)


def _site(model: Model) -> dict[str, Any]:
    warm = model.outside_temperature[0]
    pressure = model.site_pressure[0]
    return {
        "pressure": pressure, "temperature": warm, "density": air.density(warm, pressure),
    }  # fmt: skip


def _balance(found: Steady) -> dict[str, Any]:
    kept = found.promise
    return {
        "mass_residual": kept.mass, "pressure_residual": kept.pressure,
        "energy_residual": kept.energy, "temperature_step": kept.warm_step,
        "flow_step": kept.flow_step, "iterations": found.rounds, "stable": found.stable,
    }  # fmt: skip


def _compartments(inputs: Inputs, model: Model, state: State) -> Table:
    s, width = model.structure, state.mass_flow.shape[1]
    warm = layers.hottest(s, state.temperature)
    limit = inputs.columns["compartment"]["air_limit"] + 0 * warm
    pressure, level = layers.at_centre(model, state)
    return Table(COMPARTMENT, tuple(inputs.enclosure.compartments), {
        "temperature": warm, "pressure": pressure, "limit": limit, "margin": limit - warm,
        "level": _wide(level, width), "mean_temperature": layers.mean(s, state.temperature),
        "neutral_level": neutral.neutral_levels(model, state),
    })  # fmt: skip


def _layers(case: Enclosure, model: Model, state: State) -> Table:
    """One row a layer, from the lowest; none of compartments that are not divided."""
    s, width = model.structure, state.mass_flow.shape[1]
    rows = layers.rows(s)
    level = _wide(model.levels[rows], width) + 0 * state.temperature[rows].real
    names = tuple(s.compartments[row] for row in rows)
    place = {name: row for row, name in enumerate(case.compartments)}
    found = Table(LAYER, names, {"temperature": state.temperature[rows], "level": level})
    return found.ordered(sorted(names, key=lambda name: place[name.rpartition(".")[0]]))


def _branches(model: Model, state: State, here: BranchState, fans: Table) -> Table:
    """One row an element; elements `on` another branch have its air, and a drop of their own. A
    fan that cannot be told from one that stands is stopped, as its region says."""
    s, width = model.structure, state.mass_flow.shape[1]
    area, count, diameter, code = (
        _wide(of_elements(model.elements, name), width)
        for name in ("area", "count", "diameter", "state")
    )
    flow, flowing = state.mass_flow[s.host], air.Air(*(x[s.host] for x in here.air))
    drops = _wide(_losses(model, state, here), width)  # one column where nothing lets air through
    if fans:
        rows, stands = s.rows["fan"], fans.columns["region"] == REGIONS.index("stopped")
        code = code.copy()
        code[rows] = np.where(stands & (code[rows] == STATES.index("running")),
                              STATES.index("stopped"), code[rows])  # fmt: skip
    own = np.zeros(len(s.elements), bool)
    own[s.own] = True
    density = _upstream_density(model, here)[s.host]
    volume = flow / density
    velocity = volume / (area * count)
    counter = neutral.counter_flow(model, state)[s.host]
    reynolds = magnitude(flow) / (area * count) * diameter / flowing.viscosity
    columns = {
        "state": code, "mass_flow": flow, "volume_flow": volume, "velocity": velocity,
        "drop": drops, "heat": np.where(own[:, None], here.heat[s.host], 0.0),
        "density": flowing.density, "reynolds": reynolds,
        "outlet_temperature": np.where(model.open[s.host], here.outlet[s.host], np.nan),
        "counter_flow": np.where(own[:, None], counter, np.nan),
    }  # fmt: skip
    return Table(BRANCH, s.elements, columns)


def _upstream_density(model: Model, here: BranchState) -> Array:
    return air.density(here.upstream, model.site_pressure)


def _losses(model: Model, state: State, here: BranchState) -> Array:
    """(elements, variants) losses only: of a fan its guard, shutter and still rotor; NaN where
    closed."""
    s, found = model.structure, []
    for rows, element in model.elements:
        at, total = s.host[rows], here.element_drops[rows]
        if element.fan is not None:
            flow, here_air = state.mass_flow[at], air.Air(*(x[at] for x in here.air))
            laws = [law for law in element.laws if law is not element.fan]
            total = sum((law(flow, here_air)[0] for law in laws), start=0 * flow)
            alone = ~element.fan.turns(flow, here_air)
            total = total + np.where(alone, element.fan(flow, here_air)[0], 0.0)
        found.append(np.where(model.open[at], total, np.nan))
    return stacked(found)


def _fans(inputs: Inputs, model: Model, state: State, here: BranchState) -> Table:
    s, width = model.structure, state.mass_flow.shape[1]
    if "fan" not in s.rows:
        none = np.zeros((0, width))
        return Table(FAN, (), {field.name: none for field in FAN})
    rows = s.rows["fan"]
    element = next(e for r, e in model.elements if e.fan is not None)
    fan, at = element.fan, s.host[rows]
    assert fan is not None
    flow, flowing = state.mass_flow[at], air.Air(*(x[at] for x in here.air))
    c = elements.columns(inputs, "fan")
    density = np.where(element.reversed, flowing.at_end, flowing.at_start)
    running = fan.turns(flow, flowing) & model.open[at]
    still = abs(flow.real) < NOUGHT_FLOW  # at shut-off the sign of round-off says nothing
    drawn = np.where(element.reversed, *(state.temperature[end[at]]
                                         for end in (s.warm_end, s.warm_start)))  # fmt: skip
    inlet = np.where(still, drawn, here.upstream[at])
    inlet = np.where(model.open[at], inlet, np.nan)
    speed = _wide(element.speed, width)
    power, heard = _noise(inputs, c, _heard_at(inputs, c, speed))
    heard = np.where(running, heard, np.nan)
    rated = c.type.life.hours, c.type.life.at, c.type.life.factor_per_10K
    return Table(FAN, tuple(p for p in s.elements if p.startswith("fan.")), {
        "rise": np.where(running, fan.rise(flow, flowing), 0.0),
        "region": _region(fan, np.where(still, 0.0, flow), density, running, model.open[at]),
        "speed_ratio": speed,
        "air_temperature": inlet,
        "power": np.where(running, element.motor_power * density, 0.0),
        "noise": heard,
        "noise_share": sound.shares(np.where(np.isnan(heard), sound.SILENCE, heard)),
        "noise_power": np.where(running, power, np.nan),
        "blade_pass": np.where(
            running, sound.blade_pass(c.type.blades, speed * c.type.rated_speed), np.nan
        ),
        "life": np.where(running, life.life_at(rated[0], rated[1], inlet, rated[2]), np.nan),
        "life_kind": _wide(np.where(np.isnan(rated[0]), -1, c.type.life.kind), width),
    })  # fmt: skip


def _region(fan: Any, flow: Array, density: Array, running: Array, open_: Array) -> Array:
    """Index into REGIONS by the volume flow the way the fan blows; blanked where its way is."""
    volume = fan.sign * flow.real / density.real
    free, stall = fan.free_flow.real, fan.stall_flow
    code = np.full(volume.shape, REGIONS.index("normal"))
    code = np.where(volume < stall, REGIONS.index("stall"), code)
    code = np.where(volume > free, REGIONS.index("past-free-delivery"), code)
    code = np.where(volume < 0, REGIONS.index("backflow"), code)
    code = np.where(running, code, REGIONS.index("stopped"))
    return np.where(open_, code, REGIONS.index("blanked"))


def noise_distance(inputs: Inputs) -> Array:
    """(1, variants) where levels hold; 1 m unless given."""
    distance = inputs.columns["limits"]["noise_distance"]
    return np.where(np.isnan(distance.real), 1.0, distance)


def _heard_at(inputs: Inputs, c: Any, speed: Array) -> Array:
    """The speed at which a fan is heard: of a thermostat solved at its mean, the fast one."""
    follows, control = inputs.columns["fan"].get("speed_control.by"), c.speed_control
    if follows is None:
        return speed
    points = list(zip(control.temperature[:MOST_POINTS], control.speed[:MOST_POINTS], strict=True))
    for (low, one), (high, other) in pairwise(points):
        fast = np.where(one.real > other.real, one, other)
        top = np.where(fast.real > c.type.speed_range[1].real, c.type.speed_range[1], fast)
        slow, top = np.minimum(one.real, other.real) * c.supply_speed, top * c.supply_speed
        switches = (follows.real >= 0) & (high.real - low.real < NARROW_RAMP)
        between = (slow.real < speed.real) & (speed.real < top.real)
        speed = np.where(switches & between, top, speed)
    return speed


def _noise(inputs: Inputs, c: Any, speed: Array) -> tuple[Array, Array]:
    """(fans, variants) sound power, and pressure at the noise distance, at the fan's speed.

    A sound pressure of a data sheet is taken to be measured in the field that `noise_field` says.
    """
    limit, distance = inputs.columns["limits"], noise_distance(inputs)
    spread = np.where(
        limit["noise_field"].real == 1,
        *(sound.FIELD_LOSS[word] for word in ("hemisphere", "sphere")),
    )
    given = np.where(np.isnan(c.type.noise.distance.real), 1.0, c.type.noise.distance)
    own = c.type.noise_dBA + sound.speed_change(np.where(speed.real > 0, speed, 1.0))
    power = np.where(c.type.noise.kind == 1, own, sound.pressure_to_power(own, given, spread))
    direct = sound.power_to_pressure(power, distance, spread)
    room = np.where(np.isnan(limit["room_constant"].real), np.inf, limit["room_constant"])
    walled = np.isfinite(room.real)
    reflected = sound.reverberant(power, np.where(walled, room, 1.0))
    both = np.array(np.broadcast_arrays(direct, np.where(walled, reflected, sound.SILENCE)))
    return power, np.where(walled, sound.add_levels(both), direct)


def _first_failure(inputs: Inputs, fans: Table, width: int) -> Array:
    """(variants,) of the fans that run; NaN unless the life of all of them is an L10."""
    if not len(fans):
        return np.full(width, np.nan)
    life_hours, kind = fans.columns["life"], fans.columns["life_kind"]
    idle = np.isin(fans.columns["region"], limits.IDLE)
    known = (idle | (~np.isnan(life_hours.real) & (kind == 0))).all(axis=0) & ~idle.all(axis=0)
    slope = np.broadcast_to(inputs.columns["limits"]["weibull_slope"][0], (width,))
    there = np.where(idle | ~known, np.inf, life_hours)
    return np.where(known, life.first_failure(there, slope), np.nan)


def _totals(
    inputs: Inputs, model: Model, state: State, here: BranchState, fans: Table, walls: Array
) -> dict[str, Any]:
    s, width = model.structure, state.mass_flow.shape[1]
    source = (model.branch_heat + 0 * here.heat).sum(axis=0)
    motors = model.motor_heat * np.where(model.reversed, here.air.at_end, here.air.at_start)
    source = source + np.where(model.open, motors, 0.0).sum(axis=0)
    source = source + (model.compartment_heat + np.zeros((1, width))).sum(axis=0)
    leaving = (s.wall_end >= s.inside)[:, None]
    ducts = np.where(model.wall_conductance != 0, here.heat - model.branch_heat, 0.0).sum(axis=0)
    drawn, volume, rise = neutral.outside_flows(model, state, here)
    noise = fans.columns["noise"]
    heard = np.where(np.isnan(noise), sound.SILENCE, noise)
    total = sound.add_levels(heard, axis=0) if len(noise) else np.full(width, np.nan)
    return {
        "heat": source, "wall_heat": np.where(leaving, walls, 0.0).sum(axis=0) - ducts,
        "volume_flow": volume, "mass_flow": drawn,
        "air_rise": rise, "fan_power": fans.columns["power"].sum(axis=0),
        "noise": np.where(np.isnan(noise).all(axis=0), np.nan, total),
        "noise_distance": noise_distance(inputs)[0],
        "first_failure": _first_failure(inputs, fans, width),
    }  # fmt: skip
