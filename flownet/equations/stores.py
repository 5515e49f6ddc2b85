"""What stores heat, and how its temperature changes: the equations in time.

    (rho V cp + C) dT/dt = imbalance of heat               a compartment or layer, at least 1 J/K
    C dT/dt = P + heat of riders - (T - T_below)/R(v)      the foot of a part
    C/2 dT/dt = heat in - heat out                         either face of a wall

Flow follows at once, and so does all that stores nothing. What parts that store heat give to the
air of a branch is an unknown of its own that follows within `AIR_LAG`, so that no rate asks for the
solution of a loop. Everything accepts complex arrays.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from flownet.columns import Inputs
from flownet.equations import layers
from flownet.equations.branch import CP, LEAST_FLOW, BranchState, branches
from flownet.equations.component_temperatures import (
    Giving,
    PartStates,
    along,
    feet,
    giving,
    hosts_first,
    hosts_of,
    parts,
    resistances,
)
from flownet.equations.residual import heat_balance
from flownet.equations.state import Model, State
from flownet.equations.walls import Walls
from flownet.physics import air
from flownet.physics.materials import of_materials
from flownet.results.origins import volumes
from flownet.schema.arrays import Array, Integers, added, magnitude, replaced

LEAST_STORE = 1.0  # J/K of a compartment: what has no volume follows within less than a second
SOLID = 1e4  # conductance of a panel of given U over U
AIR_LAG = 0.01  # s, see above: our own choice


class Warmth(NamedTuple):
    """All that takes time; variants last. Rates of it have the same form."""

    air: Array  # (compartments, variants) K
    parts: Array  # (stores, variants) K of their feet
    faces: Array  # (2 panels, variants) K of inner, then of outer faces
    given: Array  # (fed, variants) W that parts give to the air of branches


class Stored(NamedTuple):
    """Panels of walls that store heat in their two faces; (panels, variants) but the first four.

    Of a given U the panel lies in the middle, with half of the resistance on either side, and both
    its faces are nearly one (assumption: where it lies is not given).
    """

    rows: Integers  # (panels,) among those of all walls
    own: Walls  # these panels, each a wall of its own
    start: Integers  # (panels,) node inside
    end: Integers  # and beyond
    capacity: Array  # of each face [J/K]
    panel: Array  # conductance between the faces [W/(m2 K)]

    def flows(self, faces: Array, temperature: Array, pressure: Array) -> tuple[Array, ...]:
        """Heat that leaves the inside, that arrives beyond, and what stays in inner and in outer
        faces [W].

        faces : (2 panels, variants) inner, then outer ones [K]
        temperature : (nodes, variants) [K]
        """
        own, (inner, outer) = self.own, np.split(faces, 2)
        inside, beyond = temperature[self.start], temperature[self.end]
        into, out = (2 * own.u_value * step for step in (
            inside - inner, outer - beyond - own.sun_rise))  # fmt: skip
        if own.films is not None:
            given, _ = own.films.sides(inside, beyond, pressure).given(np.array([inner, outer]))
            into = np.where(own.computed, given[0], into)
            out = np.where(own.computed, -given[1], out)
        across = self.panel * (inner - outer)
        shone = np.where(own.computed, own.sun, 0.0)
        kept = np.concatenate([own.area * (into - across), own.area * (across + shone - out)])
        return own.area * into, own.area * out, kept

    def steady(self, temperature: Array, pressure: Array) -> Array:
        """(2 panels, variants) temperatures of faces in which no heat stays [K]."""
        own, inside, beyond = self.own, temperature[self.start], temperature[self.end]
        middle = (inside + beyond + own.sun_rise) / 2
        faces = middle, middle
        if own.films is not None:
            sun = own.sun + 0 * inside
            found = own.films.balance(inside, beyond, pressure, sun)[2:]
            faces = tuple(np.where(own.computed, *pair) for pair in zip(
                found, faces, strict=True))  # type: ignore[assignment]  # fmt: skip
        return np.concatenate(faces)


@dataclass(frozen=True, eq=False)
class Stores:
    """A model, what of it stores heat, and the model without what these give."""

    inputs: Inputs
    whole: Model
    plain: Model
    room: Array  # (compartments, variants) volume [m3], shared among layers
    solid: Array  # (compartments, variants) what stands in it [J/K], likewise
    rows: Integers  # (stores,) parts that store heat
    capacity: Array  # (stores, variants) J/K
    stacked: Array  # (parts, 1) bool: in a stack of parts of which some store heat
    roots: Array  # (parts, 1) bool: of these the ones that stand in air
    fed: Integers  # (fed,) branches that such stacks stand in
    walls: Stored

    @classmethod
    def of(cls, inputs: Inputs, model: Model) -> Stores:
        """By outline and depth, `heat_capacity`, or `mass` and `material`."""
        s = model.structure
        among = np.bincount(s.owner)[s.owner][:, None]  # layers
        given = volumes(inputs), inputs.columns["compartment"]["heat_capacity"]
        room, solid = (np.nan_to_num(each)[s.owner] / among for each in given)
        capacity = _of_parts(inputs)
        rows = np.flatnonzero((capacity.real > 0).any(axis=1))
        stacked, roots = _stacks(inputs, rows)
        fed = np.unique(s.part_branch[roots[:, 0]])
        fed, made = fed[fed >= 0], _of_walls(inputs, model)
        plain = _without(model, stacked, fed, made)
        return cls(inputs, model, plain, room, solid, rows, capacity[rows], stacked, roots, fed,
                   made)  # fmt: skip

    def model(self, now: Warmth) -> Model:
        """The model with what parts give to the air of branches now."""
        if not self.fed.size:
            return self.plain
        heat = self.plain.branch_heat + np.zeros(now.given.shape[1:], now.given.dtype)
        heat[self.fed] = heat[self.fed] + now.given
        return self.plain.given_heat(heat)

    def steady(self, state: State) -> Warmth:
        """As they are when no heat stays anywhere."""
        s, here = self.whole.structure, branches(self.whole, state)
        foot = parts(self.inputs, self.whole, state, here).foot
        heat = s.heat_of_branches(np.where(self.stacked, self.whole.part_heat, 0.0))
        given = heat[self.fed] + np.zeros((1, state.mass_flow.shape[1]))
        faces = self.walls.steady(state.temperature, self.whole.site_pressure)
        return Warmth(state.temperature[: s.inside], foot[self.rows], faces, given)

    def cold(self, state: State) -> Warmth:
        """All at the temperature of the outside air."""
        sizes = self.whole.structure.inside, len(self.rows), 2 * len(self.walls.rows)
        warm = self.whole.outside_temperature[:1]
        air, parts, faces = (np.repeat(warm, n, axis=0) for n in sizes)
        return Warmth(air, parts, faces, np.zeros((len(self.fed), 1)))

    def held(self, now: Warmth) -> Array:
        """(parts, variants) temperatures of feet that store heat, NaN of all others."""
        found = np.full((len(self.stacked), now.parts.shape[1]), np.nan, now.parts.dtype)
        found[self.rows] = now.parts
        return found

    def parts(self, now: Warmth, state: State, here: BranchState) -> PartStates:
        """Every part, those that store heat at their temperature."""
        return parts(self.inputs, self.whole, state, here, self.held(now))

    def shown(self, now: Warmth, state: State) -> Model:
        """The model with all heat that is produced, and what leaves the inside through walls, whose
        faces have what they store: for what results say of heat and faces."""
        made, whole = self.model(now), self.whole
        more = (whole.branch_heat - made.branch_heat + 0 * state.mass_flow).sum(axis=0)
        heat, walls = whole.compartment_heat + more / len(whole.compartment_heat), made.walls
        if (rows := self.walls.rows).size:
            own, warm = self.walls.own, state.temperature
            lost, _, _ = self.walls.flows(now.faces, warm, whole.site_pressure)
            apart = warm[self.walls.start] - warm[self.walls.end]
            rise = replaced(walls.sun_rise, rows, apart - lost / own.area)
            blank = np.full((len(walls.area), lost.shape[1]), np.nan)
            inner, outer = (replaced(blank, rows, np.where(own.computed, each, np.nan))
                            for each in np.split(now.faces, 2))  # fmt: skip
            walls = walls._replace(u_value=replaced(walls.u_value, rows, 1 + 0 * own.area),
                                   sun_rise=rise, held=(inner, outer))  # fmt: skip
        return replace(made, compartment_heat=heat, walls=walls)

    def rates(self, now: Warmth, state: State, here: BranchState) -> Warmth:
        """How all changes in a state whose flows fit the temperatures; [K/s], [W/s]."""
        s, warm = self.whole.structure, state.temperature
        lost, arrives, kept = self.walls.flows(now.faces, warm, self.whole.site_pressure)
        given, stays, outside = self._from_parts(now, state, here)
        heat = heat_balance(self.plain, warm, here.to_start, here.to_end) + given
        first, last = (np.where(end < s.inside, end, -1)
                       for end in (self.walls.start, self.walls.end))  # fmt: skip
        heat = heat - added(first, lost, s.inside) + added(last, arrives, s.inside)
        kept = kept / np.concatenate([self.walls.capacity] * 2)
        capacity = CP * air.density(warm[: s.inside], self.whole.site_pressure) * self.room
        capacity = capacity + self.solid
        capacity = np.where(capacity.real > LEAST_STORE, capacity, LEAST_STORE)
        return Warmth(heat / capacity, stays / self.capacity, kept,
                      (outside - now.given) / AIR_LAG)  # fmt: skip

    def _from_parts(self, now: Warmth, state: State, here: BranchState) -> tuple[Array, ...]:
        """Heat that stacks give to compartments, that stays in stores, and that stacks give to
        branches [W]."""
        s, width = self.whole.structure, state.mass_flow.shape[1]
        if not self.rows.size:
            return np.zeros((s.inside, width)), np.zeros((0, width)), np.zeros((0, width))
        _, foot, rise = resistances(self.inputs, self.whole, state, here)
        resistance = foot + rise
        heat, held = np.where(self.stacked, self.whole.part_heat, 0.0), self.held(now)
        give = giving(self.inputs, heat, resistance, held)
        below, _ = feet(self.inputs, give, resistance, self._air(give, state, here), held)
        gone = give.given - give.given_slope * below
        out = np.where(self.roots, gone, 0.0)
        stays = (give.fixed - give.slope * held - gone)[self.rows]
        return s.heat_of_compartments(out), stays, s.heat_of_branches(out)[self.fed]

    def _air(self, give: Giving, state: State, here: BranchState) -> Array:
        """(parts, variants) temperature of the air around what stands in it of each stack.

        In a branch it is that which its air has with all that the parts there give, so that it
        stays finite as the flow comes to rest: rise = (q + sum G (T - T_up)) / (cp m + sum G x).
        """
        s, plain, flow = self.whole.structure, self.plain, state.mass_flow
        found = np.zeros(give.given.shape, np.result_type(give.given, state.temperature))
        capacity = CP * (magnitude(flow) + LEAST_FLOW)
        motor = np.where(plain.reversed, here.air.at_end, here.air.at_start) * plain.motor_heat
        own = plain.branch_heat + plain.open * motor
        held = np.exp(-plain.wall_conductance / capacity)
        start = here.upstream + (plain.wall_temperature - here.upstream) * (1 - held)
        places = along(self.inputs, self.whole, state)[0]
        for branch in self.fed:
            inside = np.flatnonzero(self.roots[:, 0] & (s.part_branch == branch))
            share = np.ones((len(inside), flow.shape[1]))
            if s.branches[branch].startswith("slot."):
                ahead = flow[branch].real >= 0
                share = np.where(ahead, places[inside], 1 - places[inside])
            slope = give.given_slope[inside]
            heat = own[branch] + (give.given[inside] - slope * start[branch]).sum(axis=0)
            rise = heat / (capacity[branch] + (slope * share).sum(axis=0))
            found[inside] = start[branch] + share * rise
        for row in np.flatnonzero(self.roots[:, 0] & (s.part_compartment >= 0)):
            found[row] = layers.part_air(s, int(row), state.temperature)
        return found


class Moment(NamedTuple):
    """All that is known at some times; variants are the times."""

    stores: Stores
    now: Warmth
    model: Model
    state: State

    @property
    def here(self) -> BranchState:
        return branches(self.model, self.state)


def _of_parts(inputs: Inputs) -> Array:
    """(parts, variants) J/K; 0 where nothing is given."""
    if not (c := inputs.columns["part"]):
        return np.zeros((0, 1))
    by_mass = c["mass"] * of_materials("heat_capacity", c["material"])
    return np.nan_to_num(np.where(np.isnan(c["heat_capacity"].real), by_mass, c["heat_capacity"]))


def _stacks(inputs: Inputs, stores: Integers) -> tuple[Array, Array]:
    """(parts, 1) which are in a stack with a store, and which of these stand in air."""
    hosts = hosts_of(inputs)
    roots = np.arange(len(hosts))
    for row in hosts_first(hosts):
        roots[row] = row if hosts[row] < 0 else roots[hosts[row]]
    stacked = np.isin(roots, roots[stores])
    return stacked[:, None], (stacked & (np.array(hosts, int) < 0))[:, None]


def _of_walls(inputs: Inputs, model: Model) -> Stored:
    """Panels of walls with a heat capacity, which each has by its area."""
    s, walls = model.structure, model.walls
    given = inputs.columns["wall"].get("heat_capacity", np.zeros((0, 1)))
    of = walls.wall if s.division is None else s.division.walls.row[walls.wall]
    share = walls.area / added(of, walls.area + 0 * walls.area, len(given))[of]
    capacity = np.nan_to_num(given)[of] * share
    rows = np.flatnonzero((capacity.real > 0).any(axis=1))
    panel = SOLID * walls.u_value
    if walls.films is not None:
        panel = np.where(walls.computed, walls.films.panel, panel)
    own = walls.panels(rows)._replace(wall=np.arange(len(rows)), count=len(rows), held=None)
    start, end = (nodes[walls.wall[rows]] for nodes in (s.wall_start, s.wall_end))
    return Stored(rows, own, start, end, capacity[rows] / 2, (panel + 0 * capacity)[rows])


def _without(model: Model, stacked: Array, fed: Integers, made: Stored) -> Model:
    """The model with no heat from stacks with a store, and none through walls with one."""
    s, walls, inner = model.structure, model.walls, model.inner.copy()
    heat = np.where(stacked, model.part_heat, 0.0)
    inner[[row for row in fed if s.branches[row].startswith(("slot.", "duct."))]] = True
    apart = np.isin(np.arange(len(walls.wall)), made.rows)[:, None]
    plain = np.where(apart, 0.0, walls.u_value)
    walls = walls._replace(u_value=plain, computed=walls.computed & ~apart)
    return replace(
        model, walls=walls, inner=inner,
        branch_heat=model.branch_heat - s.heat_of_branches(heat),
        compartment_heat=model.compartment_heat - s.heat_of_compartments(heat),
    )  # fmt: skip
