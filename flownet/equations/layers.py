"""Compartments divided into layers one above the other.

Each layer is a compartment of the equations. Branches, and parts that say where they are, stand in
the layer of their height, the upper one of two at a boundary; walls and exchanges are shared by
height. A part that does not say where it is heats the layers alike, up to the highest that moving
air enters or leaves. Layers are joined by openings of the whole plan area, K = 0.5.

Such an opening has one net flow, so that nothing of it would lift heat that enters below colder
air. There the air overturns: see `overturning`.
"""

from __future__ import annotations

import dataclasses
from types import SimpleNamespace

import numpy as np

from flownet.columns import Inputs
from flownet.equations import elements
from flownet.equations import levels as geometry
from flownet.equations.state import Model, State
from flownet.equations.topology import Division, Structure, incidence
from flownet.equations.walls import Walls
from flownet.physics import air
from flownet.schema.arrays import Array, Integers, highest, stacked

LOSS = 0.5  # K of the opening between two layers, on the plan area
MIXING = 0.88  # of `overturning`
WHOLE, SIDE, UP, DOWN = range(4)  # portions: all; what has a height, shared; faces up, down
LOOKS = {SIDE: 0, UP: 1, DOWN: -1}  # portion -> the way its panel looks


def divided(model: Model, inputs: Inputs, s: Structure) -> Model:
    """The model of undivided compartments with their layers in it."""
    d = s.division
    assert d is not None
    owner = s.owner
    place = (np.arange(s.inside) - d.first[owner] + 0.5)[:, None] / d.counts[owner][:, None]
    bottom, tall = geometry.heights(inputs)
    levels = bottom[owner] + place * tall[owner]
    boundary = (levels[d.lower] + levels[d.lower + 1]) / 2
    of = owner[d.lower]  # the compartment of each joint
    area = geometry.face_area(inputs, of, d.up)
    joint = elements.opening(SimpleNamespace(
        area=area, loss=np.full((len(of), 1), LOSS), discharge_coefficient=np.full((1, 1), np.nan),
        height=np.full((len(of), 1), np.nan), upright=0.0, state=np.zeros((len(of), 1)),
    ))  # fmt: skip
    here = slice(len(d.plain.elements), len(s.elements))
    none, no = np.zeros((len(of), 1)), np.zeros((len(of), 1), bool)

    def with_joints(key: str, more: Array) -> Array:
        return stacked([getattr(model, key), more])

    return dataclasses.replace(
        model, structure=s, levels=levels, elements=(*model.elements, (here, joint)),
        start_level=with_joints("start_level", boundary),
        end_level=with_joints("end_level", boundary), open=with_joints("open", ~no),
        branch_heat=with_joints("branch_heat", none), reversed=with_joints("reversed", no),
        inner=with_joints("inner", no), motor_heat=with_joints("motor_heat", none),
        wall_conductance=with_joints("wall_conductance", none),
        wall_temperature=with_joints("wall_temperature", none),
        compartment_heat=s.heat_of_compartments(model.part_heat),
        walls=_shared(model.walls, d) if model.walls.count else model.walls,
        exchange=stacked([model.exchange[d.exchanges.row] * _exchange_share(d), none]),
        overturn=stacked([
            np.zeros((len(d.exchanges.row), 1)),
            overturning(area, tall[of], d.counts[of][:, None]),
        ]),
    )  # fmt: skip


def _exchange_share(d: Division) -> Array:
    rows = d.exchanges.row
    share: Array = 1 / np.bincount(rows)[rows][:, None]
    return share


def _shared(walls: Walls, d: Division) -> Walls:
    """Walls share by share: of the panels of each those that look so, upright ones by height."""
    rows, portion = d.walls.row, d.walls.portion
    sides = np.bincount(rows[portion == SIDE], minlength=walls.count)
    picks = [
        (share, panel, 1 / sides[row] if part == SIDE else 1.0)
        for share, (row, part) in enumerate(zip(rows, portion, strict=True))
        for panel in np.flatnonzero(walls.wall == row)
        if part == WHOLE or walls.looks[panel, 0].real == LOOKS[part]
    ]
    first = np.unique([share for share, *_ in picks], return_index=True)[1]
    order = np.r_[first, np.delete(np.arange(len(picks)), first)]  # of each share, before others
    share, panel, weight = (np.array(each)[order] for each in zip(*picks, strict=True))
    made = walls.panels(panel)
    return made._replace(area=made.area * weight[:, None], wall=share, count=len(rows))


def overturning(area: Array, tall: Array, count: Array) -> Array:
    """What the temperature of two layers moves, the lower one warmer, by (T_low - T_high)/T.

    In an upright tube whose air is warmer below, heat goes up by eddies as wide as the tube,

        q = 0.88 rho cp d^2 sqrt(g/T) (-dT/dz)^1.5

    with no part for viscosity or conductivity. An eddy is here as wide as the plan, or as high as
    the compartment where that is less (assumption). However many the layers, the gradient that
    carries a given heat is the same.

    Parameters
    ----------
    area, tall, count : plan area [m2], height [m] of the compartment, its layers

    Returns
    -------
    Array
        Volume flow each way over the root of (T_low - T_high)/T [m3/s].

    References
    ----------
    M. R. Cholemari, J. H. Arakeri, "Axially homogeneous, zero mean flow buoyancy-driven turbulence
    in a vertical pipe", Journal of Fluid Mechanics 621, 2009, 69-102; the factor from memory.
    """
    step = tall / count
    across = np.sqrt(4 * area / np.pi)
    eddy = np.where(across.real < tall.real, across, tall)
    found: Array = MIXING * area * eddy * eddy / step * np.sqrt(air.GRAVITY / step)
    return found


# --- what layers are together -----------------------------------------------------------------


def joints(s: Structure) -> Integers:
    """(joints,) the layer below each of them."""
    return np.zeros(0, int) if s.division is None else s.division.lower


def rows(s: Structure) -> Integers:
    """Nodes that are layers, the lowest of a compartment first."""
    if (d := s.division) is None:
        return np.zeros(0, int)
    found: Integers = np.flatnonzero((d.counts > 1)[s.owner])
    return found


def of_walls(s: Structure, heat: Array) -> Array:
    """Heat of whole walls, from that of their shares."""
    d = s.division
    return heat if d is None else incidence(d.walls.row, len(d.plain.wall_start)) @ heat


def of_exchanges(s: Structure, heat: Array) -> Array:
    """Heat of whole exchanges, from that of their shares and of what joins layers."""
    if (d := s.division) is None:
        return heat
    found: Array = incidence(d.exchanges.row, len(d.plain.exchange_start)) @ heat[: -len(d.lower)]
    return found


def mean(s: Structure, temperature: Array) -> Array:
    """(compartments, variants) over the layers of each, which are of one size."""
    if (d := s.division) is None:
        return temperature[: s.inside]
    found: Array = incidence(s.owner, len(d.counts)) @ temperature[: s.inside]
    return found / d.counts[:, None]


def at_centre(model: Model, state: State) -> tuple[Array, Array]:
    """(compartments, variants) pressure at the centre of each, and the height of that."""
    s = model.structure
    if (d := s.division) is None:
        return state.pressure[: s.inside], model.levels
    node = d.first + d.counts // 2
    below = np.where(d.counts % 2 == 0, node - 1, node)
    level = (model.levels[node] + model.levels[below]) / 2
    column = air.density(state.temperature[node], model.site_pressure) - model.outside_density
    pressure: Array = state.pressure[node] - column * air.GRAVITY * (level - model.levels[node])
    return pressure, level


def hottest(s: Structure, temperature: Array) -> Array:
    """(compartments, variants) of the hottest layer of each, from the nodes' temperatures."""
    if (d := s.division) is None:
        return temperature[: s.inside]
    layers = (temperature[a : a + n] for a, n in zip(d.first, d.counts, strict=True))
    return np.array([highest(each) for each in layers])


def part_air(s: Structure, part: int, temperature: Array) -> Array:
    """(variants,) of the air at a part in a compartment: the hottest of those that it may be in."""
    first, d = int(s.part_compartment[part]), s.division
    count = 1 if d is None else int(d.part_counts[part])
    return highest(temperature[first : first + count])
