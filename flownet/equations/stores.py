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
from typing import Any, NamedTuple

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
    hosts_of,
    parts,
    resistances,
    steady_feet,
)
from flownet.equations.residual import heat_balance
from flownet.equations.state import Model, State
from flownet.equations.walls import Films, Walls
from flownet.physics import air
from flownet.physics.materials import MATERIALS
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

    def take(self, variants: Array) -> Warmth:
        """Some variants."""
        return Warmth(*(each[:, variants] for each in self))


class Stored(NamedTuple):
    """Panels of walls that store heat in their two faces; (panels, variants) but `rows`.

    Of a given U the panel lies in the middle, with half of the resistance on either side, and both
    its faces are nearly one (assumption: where it lies is not given).
    """

    rows: Integers  # (panels,) among those of all walls
    capacity: Array  # of each face [J/K]
    panel: Array  # conductance between the faces [W/(m2 K)]

    def flows(self, walls: Walls, faces: Array, around: tuple[Array, ...]) -> tuple[Array, ...]:
        """Heat that leaves the inside, that arrives beyond, and what stays in inner and in outer
        faces [W].

        faces : (2 panels, variants) inner, then outer ones [K]
        around : air inside and beyond each panel (panels, variants) [K], site pressure [Pa]
        """
        own, (inside, beyond, pressure) = _panel_rows(walls, self.rows), around
        inner, outer = np.split(faces, 2)
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

    def steady(self, walls: Walls, around: tuple[Array, ...]) -> Array:
        """(2 panels, variants) temperatures of faces in which no heat stays [K]."""
        own, (inside, beyond, pressure) = _panel_rows(walls, self.rows), around
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
    walls: Stored | None

    @classmethod
    def of(cls, inputs: Inputs, model: Model) -> Stores:
        """By outline and depth, `heat_capacity`, or `mass` and `material`."""
        s = model.structure
        counts = np.ones(s.inside, int) if s.division is None else s.division.counts
        owner = np.repeat(np.arange(len(counts)), counts)
        given = volumes(inputs), inputs.columns["compartment"]["heat_capacity"]
        room, solid = (np.nan_to_num(each)[owner] / counts[owner][:, None] for each in given)
        capacity = _of_parts(inputs)
        rows = np.flatnonzero((capacity.real > 0).any(axis=1))
        stacked, roots = _stacks(inputs, rows)
        fed = np.unique(s.part_branch[roots[:, 0]])
        made = _of_walls(inputs, model)
        plain = _without(model, stacked, fed[fed >= 0], made)
        return cls(inputs, model, plain, room, solid, rows, capacity[rows], stacked, roots,
                   fed[fed >= 0], made)  # fmt: skip

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
        foot = steady_feet(self.inputs, self.whole, state, here)
        heat = s.heat_of_branches(np.where(self.stacked, self.whole.part_heat, 0.0))
        given = heat[self.fed] + np.zeros((1, state.mass_flow.shape[1]))
        return Warmth(state.temperature[: s.inside], foot[self.rows], self.faces(state), given)

    def cold(self, state: State) -> Warmth:
        """All at the temperature of the outside air."""
        sizes = self.whole.structure.inside, len(self.rows), len(self.faces(state))
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
        if walls is not None and self.walls is not None:
            _, lost, _ = self._through_walls(now, state)
            inside, beyond, _ = self._around_walls(state)
            rows, area = self.walls.rows, walls.area[self.walls.rows]
            rise = replaced(walls.sun_rise, rows, inside - beyond - lost / area)
            real = whole.walls.computed[rows]  # type: ignore[union-attr]
            blank = np.full((len(walls.area), lost.shape[1]), np.nan)
            inner, outer = (replaced(blank, rows, np.where(real, each, np.nan))
                            for each in np.split(now.faces, 2))  # fmt: skip
            walls = walls._replace(u_value=replaced(walls.u_value, rows, 1 + 0 * area),
                                   sun_rise=rise, held=(inner, outer))  # fmt: skip
        return replace(made, compartment_heat=heat, walls=walls)

    def rates(self, now: Warmth, state: State, here: BranchState) -> Warmth:
        """How all changes in a state whose flows fit the temperatures; [K/s], [W/s]."""
        s, warm = self.whole.structure, state.temperature
        kept, lost, arrives = self._through_walls(now, state)
        given, stays, outside = self._from_parts(now, state, here)
        heat = heat_balance(self.plain, warm, here.to_start, here.to_end) + given
        if self.walls is not None:
            share = self.whole.walls.wall[self.walls.rows]  # type: ignore[union-attr]
            first, last = (np.where(end[share] < s.inside, end[share], -1)
                           for end in (s.wall_start, s.wall_end))  # fmt: skip
            heat = heat - added(first, lost, s.inside) + added(last, arrives, s.inside)
            kept = kept / np.concatenate([self.walls.capacity] * 2)
        capacity = CP * air.density(warm[: s.inside], self.whole.site_pressure) * self.room
        capacity = capacity + self.solid
        capacity = np.where(capacity.real > LEAST_STORE, capacity, LEAST_STORE)
        return Warmth(heat / capacity, stays / self.capacity, kept,
                      (outside - now.given) / AIR_LAG)  # fmt: skip

    def faces(self, state: State) -> Array:
        """(2 panels, variants) faces in which no heat stays."""
        if self.walls is None:
            return np.zeros((0, state.mass_flow.shape[1]))
        assert self.whole.walls is not None
        return self.walls.steady(self.whole.walls, self._around_walls(state))

    def _around_walls(self, state: State) -> tuple[Array, ...]:
        """Air on both sides of panels that store heat, and pressure."""
        assert self.whole.walls is not None
        assert self.walls is not None
        s, share = self.whole.structure, self.whole.walls.wall[self.walls.rows]
        ends = (state.temperature[end[share]] for end in (s.wall_start, s.wall_end))
        return (*ends, self.whole.site_pressure)

    def _through_walls(self, now: Warmth, state: State) -> tuple[Array, Array, Array]:
        """What stays in faces, leaves the inside, arrives beyond [W]."""
        none = np.zeros((0, state.mass_flow.shape[1]))
        if self.walls is None:
            return none, none, none
        assert self.whole.walls is not None
        around = self._around_walls(state)
        lost, arrives, kept = self.walls.flows(self.whole.walls, now.faces, around)
        return kept, lost, arrives

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
    table = np.array([m.heat_capacity for m in MATERIALS.values()] + [np.nan])
    by_mass = c["mass"] * table[c["material"].real.astype(int)]
    return np.nan_to_num(np.where(np.isnan(c["heat_capacity"].real), by_mass, c["heat_capacity"]))


def _stacks(inputs: Inputs, stores: Integers) -> tuple[Array, Array]:
    """(parts, 1) which are in a stack with a store, and which of these stand in air."""
    hosts = hosts_of(inputs)
    roots = np.arange(len(hosts))
    for row, host in enumerate(hosts):
        at = host
        while at >= 0:
            roots[row], at = at, hosts[at]
    stacked = np.isin(roots, roots[stores])
    return stacked[:, None], (stacked & (np.array(hosts, int) < 0))[:, None]


def _of_walls(inputs: Inputs, model: Model) -> Stored | None:
    """Panels of walls with a heat capacity, which each has by its area; None without any."""
    given = inputs.columns["wall"].get("heat_capacity", np.zeros((0, 1)))
    if model.walls is None or not (given.real > 0).any():
        return None
    s, walls = model.structure, model.walls
    of = walls.wall if s.division is None else s.division.walls.row[walls.wall]
    share = walls.area / added(of, walls.area + 0 * walls.area, len(given))[of]
    return stored(walls, np.nan_to_num(given)[of] * share)


def _without(model: Model, stacked: Array, fed: Integers, made: Stored | None) -> Model:
    """The model with no heat from stacks with a store, and none through walls with one."""
    s, walls, inner = model.structure, model.walls, model.inner.copy()
    heat = np.where(stacked, model.part_heat, 0.0)
    inner[[row for row in fed if s.branches[row].startswith(("slot.", "duct."))]] = True
    if walls is not None and made is not None:
        apart = np.isin(np.arange(len(walls.wall)), made.rows)[:, None]
        plain = np.where(apart, 0.0, walls.u_value)
        walls = walls._replace(u_value=plain, computed=walls.computed & ~apart)
    return replace(
        model, walls=walls, inner=inner,
        branch_heat=model.branch_heat - s.heat_of_branches(heat),
        compartment_heat=model.compartment_heat - s.heat_of_compartments(heat),
    )  # fmt: skip


def stored(walls: Walls, capacity: Array) -> Stored:
    """Panels that store heat. `capacity`: (panels, variants) of each whole panel [J/K]."""
    rows = np.flatnonzero((capacity.real > 0).any(axis=1))
    panel = SOLID * walls.u_value
    if walls.films is not None:
        panel = np.where(walls.computed, walls.films.panel, panel)
    return Stored(rows, capacity[rows] / 2, (panel + 0 * capacity)[rows])


def _panel_rows(walls: Walls, rows: Integers) -> Walls:
    """Some panels, each a wall of its own."""
    films = walls.films and Films(*(each[rows] for each in walls.films))
    own: dict[str, Any] = {name: getattr(walls, name)[rows] for name in Walls._fields[:6]}
    return walls._replace(**own, films=films, wall=np.arange(len(rows)), count=len(rows), held=None)
