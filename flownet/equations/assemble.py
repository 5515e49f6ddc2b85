"""Inputs -> the arrays of a model."""

from __future__ import annotations

from typing import Any

import numpy as np

from flownet.columns import Inputs
from flownet.equations import elements, levels, sinks, walls
from flownet.equations.layers import divided
from flownet.equations.state import Model
from flownet.equations.topology import Structure, root_places
from flownet.physics import air
from flownet.schema.arrays import Array, added, stacked, used


def assemble(inputs: Inputs, s: Structure) -> Model:
    """The model of all variants, layers in it where the structure has them."""
    if s.division is not None:
        return divided(assemble(inputs, s.division.plain), inputs, s)
    made = tuple((rows, elements.element(inputs, kind)) for kind, rows in s.rows.items())
    centres = levels.compartment_levels(inputs)
    start_level, end_level = branch_ends(inputs, s, centres)
    own, conductance, motor, turned, warm = (of_elements(made, name)[s.own] for name in (
        "heat", "wall_conductance", "motor_heat", "reversed", "wall_temperature"))  # fmt: skip
    part_heat = _part_heat(inputs)
    branch_heat = own + s.heat_of_branches(part_heat)
    return Model(
        structure=s,
        elements=made,
        site_pressure=site_pressure(inputs),
        outside_temperature=inputs.columns["outside"]["temperature"],
        outside_pressure=inputs.columns["outside"]["over_pressure"],
        levels=centres,
        start_level=start_level,
        end_level=end_level,
        open=_open(s, of_elements(made, "closed")),
        branch_heat=branch_heat,
        reversed=turned.real > 0,
        inner=_inner(s, branch_heat, conductance),
        wall_conductance=conductance,
        wall_temperature=warm,
        motor_heat=motor,
        compartment_heat=s.heat_of_compartments(part_heat),
        part_heat=part_heat,
        walls=walls.wall_law(inputs),
        exchange=_column(inputs, "exchange", "flow"),
        overturn=np.zeros((len(s.exchange_start), 1)),
        recirculated=_column(inputs, "recirculation", "fraction"),
        variants=inputs.variants,
    )


def site_pressure(inputs: Inputs) -> Array:
    """(1, variants) given, or from the altitude, or sea level."""
    outside = inputs.columns["outside"]
    given, altitude = outside["pressure"][:1], outside["altitude"][:1]
    height = np.where(np.isnan(altitude.real), 0.0, altitude)
    return np.where(np.isnan(given.real), air.site_pressure(height), given)


def of_elements(made: Any, name: str) -> Array:
    """(elements, variants) one field of all kinds."""
    return stacked([getattr(element, name) for _, element in made])


def _open(s: Structure, closed: Array) -> Array:
    """A branch is open when none of its elements is closed."""
    found: Array = added(s.host, closed.real, len(s.branches)) == 0
    return found


def branch_ends(inputs: Inputs, s: Structure, centres: Array) -> tuple[Array, Array]:
    """Heights of both ends of every branch; elements `on` another branch have none."""
    nodes = np.concatenate([centres, np.zeros((len(s.outsides), centres.shape[1]))])
    starts, ends = s.start[s.host], s.end[s.host]
    found = [
        levels.branch_levels(inputs, kind, nodes, starts[rows], ends[rows])
        for kind, rows in s.rows.items()
    ]
    both = (stacked([pair[i] for pair in found])[s.own] for i in (0, 1))
    return tuple(both)  # type: ignore[return-value]


def _part_heat(inputs: Inputs) -> Array:
    """(parts, variants) W; none in a slot that is not fitted."""
    if not inputs.names("part"):
        return np.zeros((0, 1))
    c = inputs.columns["part"]
    efficiency = used(~np.isnan(c["efficiency"].real), c["efficiency"])
    lost = np.nan_to_num(c["output"]) * (1 / efficiency - 1)
    power = np.where(np.isnan(c["power"].real), lost, c["power"])
    return power * c["load"] * parts_present(inputs)


def parts_present(inputs: Inputs) -> Array:
    """(parts, variants) 1, or 0 for a part whose slot is not fitted."""
    case = inputs.enclosure
    there = np.ones((len(case.parts), 1))
    slots = [place.removeprefix("slot.") for place in root_places(case).values()]
    names = inputs.names("slot")
    if not any(slot in names for slot in slots):
        return there
    fitted = inputs.columns["slot"]["state"].real == sinks.FITTED
    rows = [fitted[names.index(n)] if n in names else np.ones(fitted.shape[1]) for n in slots]
    return np.array(rows, float)


def _inner(s: Structure, heat: Array, conductance: Array) -> Array:
    """Slots and ducts with heat or a wall of their own: their air warms on the way."""
    long = np.array([path.partition(".")[0] in ("slot", "duct") for path in s.branches], bool)
    warmed = heat.any(axis=1) | conductance.any(axis=1)
    found: Array = (long & warmed)[:, None]
    return found


def _column(inputs: Inputs, kind: str, key: str) -> Array:
    columns = inputs.columns[kind]
    return columns[key] if columns else np.zeros((0, 1))
