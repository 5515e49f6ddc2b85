"""Every flow that a network with dipped fans can have at fixed temperatures.

With all dipped fans on falling pieces of their curves the state is the least of a strictly convex
content, one for each choice of pieces: solving all choices finds all of these. With one fan on a
rising piece the others are such a network at any given flow of that fan: a scan of its flow finds
where its own pressure fits, as finely as the scan. Two or more on rising pieces are looked for from
seeded starts; some may be missed.
"""

from __future__ import annotations

from itertools import product
from typing import NamedTuple

import numpy as np

from flownet.equations.topology import Network
from flownet.schema.arrays import Array, Booleans, Integers, taken
from flownet.solver import flow as flows
from flownet.solver import tolerances as tol
from flownet.solver.flow_balance import FlowResult, FlowState, Law, balanced, drive
from flownet.solver.flow_startup import nearest
from flownet.solver.multiple.monotone_pieces import Kept, Pieces, of_branches
from flownet.solver.network import flow_stable, pins
from flownet.solver.newton import Bracket
from flownet.solver.tolerances import largest


class Effort(NamedTuple):
    """How far a search goes; what it leaves out it says."""

    choices: int  # of falling pieces that are solved
    flows: int  # of fans on a rising piece that are tried in all
    grid: int  # of them on every piece
    starts: int  # with two or more fans on rising pieces


class Setting(NamedTuple):
    """A network at fixed temperatures, one variant."""

    network: Network
    law: Law  # for any number of flows
    push: Array  # (branches, 1)
    fixed: Array  # (fixed nodes, 1)
    open: Booleans  # (branches, 1)
    nominal: Array  # (branches, 1)
    pieces: tuple[Pieces, ...]

    @classmethod
    def of(
        cls, network: Network, law: Law, *, push: Array, fixed: Array, open: Booleans,
        nominal: Array, dipped: Booleans, scale: Array,
    ) -> Setting:  # fmt: skip
        """Finds the pieces of the dipped branches; all arrays have one variant."""
        rows = np.flatnonzero(dipped[:, 0] & open[:, 0])
        count = len(network.start)
        found = of_branches(law, count, rows, scale[rows, 0])
        real = tuple(one for one in found if one.edges)
        return cls(network, law, push, fixed, open, nominal, real)

    @property
    def dipped(self) -> Integers:
        """Numbers of the branches with a rising piece."""
        return np.array([one.branch for one in self.pieces], np.intp)

    def kept(self, low: Array, high: Array) -> Kept:
        """The law with dipped branches kept to pieces (dipped, variants)."""
        steep = np.array([[one.steep] for one in self.pieces])
        return Kept(self.law, self.dipped, low, high, steep)


class FlowStates(NamedTuple):
    """States found, variants last, and what was tried."""

    mass_flow: Array  # (branches, states)
    pressure: Array  # (nodes and fixed nodes, states)
    rising: Booleans  # (dipped, states)
    stable: Booleans  # (states,)
    every_falling: bool  # all choices of falling pieces were solved
    every_scan: bool  # all flows of single fans on rising pieces were tried


def search(setting: Setting, effort: Effort) -> FlowStates:
    """All states that are found; see the module for what is sure to be."""
    falling, every_falling = _falling(setting, effort)
    single, every_scan = _one_rising(setting, effort)
    seeded = _seeded(setting, effort)
    flow = np.concatenate([falling, single, seeded], axis=1)
    flow, pressure, sound = polished(setting, flow)
    flow, pressure = flow[:, sound], pressure[:, sound]
    first = _different(setting, flow)
    flow, pressure = flow[:, first], pressure[:, first]
    slope = setting.law(flow)[1]
    calm = flow_stable(setting.network, slope, np.broadcast_to(setting.open, slope.shape))
    rising = slope[setting.dipped] < 0
    return FlowStates(flow, pressure, rising, calm, every_falling, every_scan)


def _different(setting: Setting, flow: Array) -> Integers:
    """The first of each group of states that are the same: dipped fans decide all other flows."""
    scale = np.array([[one.scale] for one in setting.pieces])
    part = flow[setting.dipped] / scale
    chosen: list[int] = []
    for state in range(flow.shape[1]):
        if all(np.max(abs(part[:, state] - part[:, k]), initial=0) > tol.ONE_STATE for k in chosen):
            chosen.append(state)
    return np.array(chosen, np.intp)


# --- all fans on falling pieces -----------------------------------------------------------------


def _falling(setting: Setting, effort: Effort) -> tuple[Array, bool]:
    """(branches, states) with every fan on a falling piece, and whether all choices are in."""
    chosen, complete = _choices([one.falling for one in setting.pieces], effort.choices)
    kept = setting.kept(chosen[..., 0], chosen[..., 1])
    flow, _, sound = _solved(setting, kept)
    return flow[:, sound & kept.holds(flow)], complete and bool(sound.all())


def _choices(pieces: list[tuple[tuple[float, float], ...]], most: int) -> tuple[Array, bool]:
    """(fans, choices, 2) bounds of one piece of each fan, and whether these are all choices."""
    count = int(np.prod([len(own) for own in pieces], dtype=float))
    if count <= most:
        every = np.array(list(product(*pieces)), float).reshape(count, len(pieces), 2)
        return every.transpose(1, 0, 2), True
    rng = np.random.default_rng(tol.FLOW_SEED)
    some = [[own[rng.integers(len(own))] for _ in range(most)] for own in pieces]
    return np.array(some), False


def _solved(
    setting: Setting, kept: Kept, *, given: Array | None = None, start: Array | None = None
) -> tuple[Array, Array, Booleans]:
    """Flows, pressures, and where they were found, of all variants of a kept law.

    given : (branches, variants) flows that are imposed instead of solved for; NaN elsewhere.
    """
    variants = kept.low.shape[1]
    parts = [
        _solved_block(
            setting, kept, np.arange(at, min(at + tol.FLOW_BLOCK, variants)), given, start
        )
        for at in range(0, variants, tol.FLOW_BLOCK)
    ]
    if not parts:
        count, nodes = len(setting.network.start), setting.network.nodes + setting.network.fixed
        return np.zeros((count, 0)), np.zeros((nodes, 0)), np.zeros(0, bool)
    return (
        np.concatenate([p.mass_flow for p in parts], axis=1),
        np.concatenate([p.pressure for p in parts], axis=1),
        np.concatenate([p.converged for p in parts]),
    )


def _solved_block(
    setting: Setting, kept: Kept, here: Integers, given: Array | None, start: Array | None
) -> FlowResult:
    law, width = kept.take(here), len(here)
    open_ = np.broadcast_to(setting.open, (len(setting.open), width))
    injection, imposed = None, np.zeros(open_.shape)
    if given is not None:
        own = ~np.isnan(given[:, here])
        imposed = np.where(own, given[:, here], 0.0)
        open_, injection = open_ & ~own, -(setting.network.outflow @ imposed)
    begin = None if start is None else np.where(open_, start[:, here], 0.0)
    with np.errstate(all="ignore"):
        found = flows.solve(
            setting.network, law, push=setting.push, fixed=setting.fixed, open=open_,
            injection=injection, start_flow=begin, nominal=setting.nominal, select=law.take,
        )  # fmt: skip
    found.mass_flow[:] += imposed
    return found


# --- one fan on a rising piece ------------------------------------------------------------------


class _Scan(NamedTuple):
    """Flows of one fan each, with the others kept to pieces; variants last."""

    fan: Integers  # (variants,) number among the dipped
    at: Array  # (variants,) its flow
    low: Array  # (dipped, variants); the fan's own are infinite
    high: Array

    def moved(self, at: Array) -> _Scan:
        """The same at other flows."""
        return self._replace(at=at)


def _one_rising(setting: Setting, effort: Effort) -> tuple[Array, bool]:
    """(branches, states) with one fan on a rising piece, and whether every flow was tried."""
    if effort.flows < effort.grid:
        return np.zeros((len(setting.network.start), 0)), False
    scans, complete = _scans(setting, effort)
    if not len(scans.at):
        return np.zeros((len(setting.network.start), 0)), complete
    misfit, _, sound = _misfits(setting, scans)
    groups = misfit.reshape(-1, effort.grid)
    first, second = _brackets(groups)
    near = _nearly(groups)
    low, high = taken(scans, first), taken(scans, second)
    if len(near):
        finer = _finer(scans, near)
        more, _, _ = _misfits(setting, finer)
        again, after = _brackets(more.reshape(-1, tol.FINER))
        low, high = _joined(low, taken(finer, again)), _joined(high, taken(finer, after))
    return _rooted(setting, low, high), complete and bool(sound.all())


def _scans(setting: Setting, effort: Effort) -> tuple[_Scan, bool]:
    """All flows to try: every fan that can be closed, its rising pieces, choices of the others."""
    found, complete = [], True
    share = np.linspace(0.0, 1.0, effort.grid)
    for fan, own in enumerate(setting.pieces):
        if _is_bridge(setting, own.branch):
            continue  # nothing flows there
        others = [one.falling for one in setting.pieces]
        others[fan] = ((-np.inf, np.inf),)
        most = max(1, effort.flows // (effort.grid * len(own.rising) * len(setting.pieces)))
        chosen, every = _choices(others, most)
        complete &= every
        for low, high in own.rising:
            count = chosen.shape[1]
            each = np.repeat(chosen, effort.grid, axis=1)
            at = np.tile(low + share * (high - low), count)
            found.append(_Scan(np.full(len(at), fan), at, each[..., 0], each[..., 1]))
    if not found:
        none = np.zeros((len(setting.pieces), 0))
        return _Scan(np.zeros(0, np.intp), np.zeros(0), none, none), complete
    whole = found[0]
    for more in found[1:]:
        whole = _joined(whole, more)
    return whole, complete


def _is_bridge(setting: Setting, branch: int) -> bool:
    """Whether closing a branch parts the network: no air passes it then."""
    without = setting.open.copy()
    without[branch] = False
    parted: bool = pins(setting.network, without).sum() > pins(setting.network, setting.open).sum()
    return parted


def _misfits(
    setting: Setting, scans: _Scan, start: Array | None = None
) -> tuple[Array, Array, Booleans]:
    """What pressure each fan lacks at its given flow (NaN where not solved), and all flows."""
    branch, here = setting.dipped[scans.fan], np.arange(len(scans.at))
    given = np.full((len(setting.network.start), len(here)), np.nan)
    given[branch, here] = scans.at
    kept = setting.kept(scans.low, scans.high)
    flow, pressure, sound = _solved(setting, kept, given=given, start=start)
    network, drop = setting.network, setting.law(flow)[0][branch, here]
    across = pressure[network.start[branch], here] - pressure[network.end[branch], here]
    misfit = setting.push[branch, 0] + across - drop
    return np.where(sound, misfit, np.nan), flow, sound


def _brackets(misfit: Array) -> tuple[Integers, Integers]:
    """Numbers of neighbours between which the misfit changes its sign; one group a row."""
    change = misfit[:, :-1] * misfit[:, 1:] <= 0
    row, column = np.nonzero(change)
    first = row * misfit.shape[1] + column
    return first, first + 1


def _nearly(misfit: Array) -> Integers:
    """Numbers of flows where the misfit is least and of one sign with both neighbours: two
    crossings may hide beside them."""
    size = abs(misfit)
    least = (size[:, 1:-1] <= size[:, :-2]) & (size[:, 1:-1] <= size[:, 2:])
    one_sign = (misfit[:, 1:-1] * misfit[:, :-2] > 0) & (misfit[:, 1:-1] * misfit[:, 2:] > 0)
    row, column = np.nonzero(least & one_sign)
    found: Integers = row * misfit.shape[1] + column + 1
    return found


def _finer(scans: _Scan, near: Integers) -> _Scan:
    """Flows between the neighbours of each of these."""
    low, high = scans.at[near - 1], scans.at[near + 1]
    share = np.linspace(0.0, 1.0, tol.FINER)
    again = taken(scans, np.repeat(near, tol.FINER))
    return again.moved((low[:, None] + share * (high - low)[:, None]).ravel())


def _joined(first: _Scan, second: _Scan) -> _Scan:
    return _Scan(*(np.concatenate(pair, axis=-1) for pair in zip(first, second, strict=True)))


def _rooted(setting: Setting, low: _Scan, high: _Scan) -> Array:
    """(branches, states) flows at which the fans' pressures fit: Illinois regula falsi."""
    if not len(low.at):
        return np.zeros((len(setting.network.start), 0))
    left, flow, _ = _misfits(setting, low)
    right, _, _ = _misfits(setting, high, flow)
    bracket = Bracket(low.at, high.at, left, right, np.zeros(len(low.at)))
    for _ in range(tol.ROOTS):
        at = bracket.between()
        middle, flow, _ = _misfits(setting, low.moved(at), flow)
        pressure = np.maximum(largest(setting.law(flow)[0]), tol.PRESSURE_FLOOR)
        if (abs(middle) <= tol.NEARLY * pressure).all():
            break
        bracket = bracket.narrowed(at, middle)
    return flow[:, setting.kept(low.low, low.high).holds(flow)]


# --- two or more on rising pieces ---------------------------------------------------------------


def _seeded(setting: Setting, effort: Effort) -> Array:
    """(branches, starts) flows with at least two fans on a rising piece, to begin Newton from."""
    count = len(setting.pieces)
    starts = effort.starts if count > 1 else 0
    rng = np.random.default_rng(tol.FLOW_SEED)
    wanted = np.zeros((count, starts))
    if not starts:
        return np.zeros((len(setting.network.start), 0))
    for start in range(starts):
        up = rng.permutation(count) < rng.integers(2, count + 1)
        for fan, own in enumerate(setting.pieces):
            low, high = own.rising[rng.integers(len(own.rising))]
            share, whole = rng.uniform(), own.scale * np.sign(high)
            wanted[fan, start] = low + share * (high - low) if up[fan] else share * whole
    kept = setting.kept(wanted, wanted)  # each fan near its flow, the air's balance kept
    flow, _, sound = _solved(setting, kept)
    return flow[:, sound]


def polished(setting: Setting, flow: Array) -> tuple[Array, Array, Booleans]:
    """Newton's method from flows that conserve mass to states near them: flows, pressures, and
    where it got there."""
    network, count = setting.network, flow.shape[1]
    acting = drive(
        network, setting.push, setting.fixed, 0.0, setting.open, tol.PRESSURE_FLOOR, flow
    )
    dipped, scale = setting.dipped, np.array([[one.scale] for one in setting.pieces])
    still, far = np.zeros((network.nodes, count)), np.full(count, np.inf)

    def most(step: Array) -> Array:
        moved = largest(step[dipped] / scale)
        share: Array = np.minimum(1.0, tol.REACH / np.maximum(moved, tol.REACH))
        return share

    state = FlowState(flow, *setting.law(flow), still, far)
    state = nearest(setting.law, acting, state, tol.POLISH if count else 0, most)
    pressure = np.concatenate([state.pressure, acting.outside])
    return state.flow, pressure, balanced(acting, state)
