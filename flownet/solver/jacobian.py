"""Newton's step for flow and heat together, all variants of one topology at a time.

The flow of a branch is eliminated: with `F = p_start - p_end + push - drop` and `w = 1/slope`,

    dm = w (F + dp_start - dp_end + F_s dT_start + F_e dT_end)

so that the unknowns are pressures, compartment temperatures and mixture temperatures. What each
branch, wall, exchange and recirculation adds to the matrix depends on its own ends only; its
derivatives are complex steps of the model's own functions, exact to round-off.
"""

from __future__ import annotations

import copy
from collections.abc import Callable
from functools import cached_property
from typing import TYPE_CHECKING, NamedTuple, TypeAlias

import numpy as np

from flownet.equations.branch import BranchState, branch_state
from flownet.equations.residual import Balances, exchange_heat, mixed, residual, wall_heat
from flownet.equations.state import Model, State, Step
from flownet.equations.topology import Structure
from flownet.schema.arrays import Array, Booleans, Integers, taken
from flownet.solver import tolerances as tol
from flownet.solver.network import pin_weights, pins
from flownet.solver.tolerances import flow_scale, largest

if TYPE_CHECKING:
    import scipy.sparse as sp


class Slopes(NamedTuple):
    """Derivatives of what branches, walls, exchanges and mixtures do to their own ends."""

    gap: tuple[Array, Array, Array]  # F to mass flow, to T_start, to T_end; (branches, variants)
    to_start: tuple[Array, Array, Array]  # energy received at the start
    to_end: tuple[Array, Array, Array]
    wall: tuple[Array, Array]  # heat to T_start, to T_end
    exchange: tuple[Array, Array]
    mix_flow: Array  # (recirculations, variants)
    mix_warm: Array


def linearised(model: Model, state: State) -> tuple[BranchState, Slopes]:
    """All branches in a state, and the derivatives of everything local."""
    s, flow, warm = model.structure, state.mass_flow, state.temperature
    start, end = warm[s.warm_start], warm[s.warm_end]
    here, moved = _moved(model, flow, start, end)
    gap = tuple((b.push - b.drop).imag / tol.STEP for b in moved)
    to_start, to_end = (
        tuple(getattr(b, side).imag / tol.STEP for b in moved) for side in ("to_start", "to_end")
    )
    return here, Slopes(
        gap, to_start, to_end,  # type: ignore[arg-type]
        _pair(model, wall_heat, warm[s.wall_start], warm[s.wall_end]),
        _pair(model, exchange_heat, warm[s.exchange_start], warm[s.exchange_end]),
        *_mix_slopes(model, state),
    )  # fmt: skip


def _moved(
    model: Model, flow: Array, start: Array, end: Array
) -> tuple[BranchState, list[BranchState]]:
    """All branches as they are, and with a step of the flow, of either end's temperature.

    What is not moved is evaluated in real numbers as everywhere: complex ones round otherwise. One
    variant is evaluated as many are, so that its bits are the same.
    """
    step = 1j * tol.STEP
    sides = (flow + step, start, end), (flow, start + step, end), (flow, start, end + step)
    return branch_state(model, flow, start, end), [branch_state(model, *side) for side in sides]


def _pair(
    model: Model, heat: Callable[[Model, Array, Array], Array], first: Array, second: Array
) -> tuple[Array, Array]:
    """Derivatives of heat between two places to the temperature of each."""
    if not len(first):
        return first, first
    step = 1j * tol.STEP
    moved = heat(model, first + step, second), heat(model, first, second + step)
    return moved[0].imag / tol.STEP, moved[1].imag / tol.STEP


def _mix_slopes(model: Model, state: State) -> tuple[Array, Array]:
    s = model.structure
    if not s.mixes:
        none = np.zeros((0, state.mass_flow.shape[1]))
        return none, none
    flow_slope, warm_slope = [], []
    for loop, branch in enumerate(s.loop_branch):
        row, draw = s.loop_mix[loop], _draw(s, loop)
        flow = state.mass_flow.astype(complex)
        flow[branch] += 1j * tol.STEP
        flow_slope.append(mixed(model, state._replace(mass_flow=flow)).imag[row] / tol.STEP)
        warm = state.temperature.astype(complex)
        warm[draw] += 1j * tol.STEP
        warm_slope.append(mixed(model, state._replace(temperature=warm)).imag[row] / tol.STEP)
    return np.array(flow_slope), np.array(warm_slope)


def _draw(s: Structure, loop: int) -> int:
    branch = s.loop_branch[loop]
    return int(s.start[branch] if s.loop_sign[loop] > 0 else s.end[branch])


class Since(NamedTuple):
    """What a time step began at, and how it holds changes back; (variants,) where not said."""

    heat_rate: Array  # or (compartments, variants): heat capacity over time step [W/K]
    temperature: Array  # (temperatures, variants) at its beginning
    air_rate: Array  # inertance over time step [Pa s/kg]
    mass_flow: Array  # (branches, variants) at its beginning

    def held(self, balance: Balances, state: State, inside: int) -> tuple[Array, Array]:
        """What pressures and heat are out of balance by, less what the step's changes take up."""
        warmed = state.temperature[:inside] - self.temperature[:inside]
        gap = balance.pressure - self.air_rate * (state.mass_flow - self.mass_flow)
        return gap, balance.energy - self.heat_rate * warmed


def steadily(model: Model, state: State) -> Since:
    """No time step: nothing is held back."""
    none = np.zeros(state.mass_flow.shape[1])
    return Since(none, model.unknown_temperatures(state), none, state.mass_flow)


class Pattern:
    """Which entry of the matrix each local derivative adds to; one per topology.

    Unknowns: pressures 0 .. n-1, temperatures n .. 2n-1, mixtures from 2n on.
    """

    def __init__(self, s: Structure) -> None:
        n, self.structure = s.inside, s
        self.nodes, self.size = n, 2 * n + s.mixes
        self.pressures, self.temperatures = slice(0, n), slice(n, 2 * n)
        warm = np.full(n + len(s.outsides) + s.mixes, -1)
        warm[:n] = np.arange(n) + n
        warm[n + len(s.outsides) :] = np.arange(s.mixes) + 2 * n
        still = np.where(np.arange(len(warm)) < n, np.arange(len(warm)), -1)
        self._rows: list[Integers] = []
        self._cols: list[Integers] = []
        columns = (still[s.start], still[s.end], warm[s.warm_start], warm[s.warm_end])
        heat = np.where(s.start < n, s.start + n, -1), np.where(s.end < n, s.end + n, -1)
        for row in (still[s.start], still[s.end], *heat):
            for column in columns:
                self._add(row, column)
        for start, end in ((s.wall_start, s.wall_end), (s.exchange_start, s.exchange_end)):
            for row in (warm[start], warm[end]):
                for column in (warm[start], warm[end]):
                    self._add(row, column)
        loop = s.loop_branch
        for column in (*(c[loop] for c in columns), warm[[_draw(s, i) for i in range(len(loop))]]):
            self._add(s.loop_mix + 2 * n, column)
        everything = np.arange(self.size)
        self._add(everything, everything)
        rows, cols = np.concatenate(self._rows), np.concatenate(self._cols)
        self.kept = np.flatnonzero((rows >= 0) & (cols >= 0))
        self.rows, self.cols = rows[self.kept], cols[self.kept]
        self._full: sp.csr_matrix | None = None

    def _add(self, rows: Integers, cols: Integers) -> None:
        self._rows.append(np.asarray(rows, int))
        self._cols.append(np.asarray(cols, int))

    def full(self, values: Array) -> Array:
        """(variants, size, size) from the values of all entries (entries, variants)."""
        if self._full is None:
            import scipy.sparse as sp  # noqa: PLC0415 - see `topology.incidence`

            place, ones = self.rows * self.size + self.cols, np.ones(len(self.rows))
            shape = (self.size * self.size, len(self.rows))
            self._full = sp.csr_matrix((ones, (place, np.arange(len(place)))), shape)
        flat = self._full @ values[self.kept]
        return np.ascontiguousarray(flat.T).reshape(-1, self.size, self.size)

    def sparse(self, values: Array) -> sp.csc_matrix:
        """One variant."""
        import scipy.sparse as sp  # noqa: PLC0415 - see `topology.incidence`

        return sp.csc_matrix((values[self.kept], (self.rows, self.cols)), (self.size, self.size))


class System:
    """The linearised equations around one state of every variant."""

    def __init__(
        self, model: Model, pattern: Pattern, state: State, since: Since | None = None
    ) -> None:
        """`since`: of a step in time; None: steady."""
        self._left: tuple[State, Step] | None = None
        self.since = steadily(model, state) if since is None else since
        self.model, self.pattern, self.state = model, pattern, state
        here, self.slopes = linearised(model, state)
        self.balance = residual(model, state, here)
        self.gap, self.energy = self.since.held(self.balance, state, pattern.nodes)
        slope = self.slopes.gap[0] - self.since.air_rate
        self.open = np.broadcast_to(model.open, slope.shape)
        flat = tol.FLAT_HEAT * largest(here.drop) / flow_scale(state.mass_flow)
        steep = np.where(abs(slope) < flat + tol.FLAT_BASE, -(flat + tol.FLAT_BASE), slope)
        self.weight = self.open / -steep

    def take(self, chosen: Booleans) -> System:
        """Of some variants, to ask what is `left`; factors are those of all."""
        part, width, whole = copy.copy(self), self.weight.shape[1], self._factor

        def factor(right: Array) -> Array:
            full = np.zeros((len(right), width))
            full[:, chosen] = right
            return whole(full)[:, chosen]

        for name in ("model", "state", "slopes", "weight", "open", "since"):
            setattr(part, name, taken(getattr(self, name), chosen))
        part.__dict__["_factor"] = factor
        return part

    @cached_property
    def values(self) -> Array:
        """(entries, variants) in the order of the pattern."""
        s = self.model.structure
        pinned = pin_weights(s.network, pins(s.network, self.open), self.weight)
        return self._values(self.weight, 0.0 if pinned is None else pinned)

    def _values(self, w: Array, pinned: Array | float) -> Array:
        s, zero = self.model.structure, np.zeros_like(w)
        answer = (w, -w, w * self.slopes.gap[1], w * self.slopes.gap[2])  # of dm to the unknowns
        found = [*answer, *(-a for a in answer)]
        for energy in (self.slopes.to_start, self.slopes.to_end):
            direct = (zero, zero, energy[1], energy[2])
            found += [energy[0] * a + d for a, d in zip(answer, direct, strict=True)]
        for first, second in (self.slopes.wall, self.slopes.exchange):
            found += [-first, -second, first, second]
        found += [self.slopes.mix_flow * a[s.loop_branch] for a in answer]
        held, mixed = np.zeros((s.inside, w.shape[1])), np.ones((s.mixes, w.shape[1]))
        stored = held - self.since.heat_rate - self._lonely() * 1.0
        return np.concatenate([*found, self.slopes.mix_warm, held + pinned, stored, -mixed])

    def _lonely(self) -> Array:
        """(compartments, variants) true where no open branch, wall or exchange leads: they stay
        where they are."""
        into, open = self.model.structure.into, self.open * 1.0
        ends = into["start"] @ open + into["end"] @ open
        for name in ("wall_start", "wall_end", "exchange_start", "exchange_end"):
            ends = ends + np.asarray(into[name].sum(axis=1))
        lonely: Array = ends == 0
        return lonely

    @cached_property
    def _factor(self) -> Solve:
        return _solver(self.pattern, self.values)

    def solve(self) -> Step:
        """Newton's step."""
        return self.answer(self.gap, self.state.mass_flow, self.energy, self.balance.mix)

    def left(self, state: State) -> Step:
        """What these same derivatives would still change at another state; of the last one it is
        remembered."""
        if self._left is None or self._left[0] is not state:
            balance = residual(self.model, state)
            gap, energy = self.since.held(balance, state, self.pattern.nodes)
            self._left = state, self.answer(gap, state.mass_flow, energy, balance.mix)
        return self._left[1]

    def answer(self, gap: Array, flow: Array, energy: Array, mix: Array) -> Step:
        """Solved once, and once more for the mass that round-off left over."""
        s = self.model.structure
        given = self.weight * np.where(self.open, gap, 0.0)
        right = self._right(s.network.outflow @ (flow + given), given, energy, mix)
        step = self._step(self._factor(right), given)
        left = s.network.outflow @ (flow + step.mass_flow)
        rest = np.zeros((len(right) - len(left), left.shape[1]))
        more = self._step(self._factor(np.concatenate([-left, rest])), 0.0)
        return Step(*(a + b for a, b in zip(step, more, strict=True)))

    def _right(self, left_over: Array, given: Array, energy: Array, mix: Array) -> Array:
        s = self.model.structure
        moved = s.into["start"] @ (self.slopes.to_start[0] * given)
        moved = moved + s.into["end"] @ (self.slopes.to_end[0] * given)
        mixed = s.loops_to_mixes @ (self.slopes.mix_flow * given[s.loop_branch])
        return np.concatenate([-left_over, -energy - moved, -mix - mixed])

    def _step(self, unknown: Array, given: Array | float) -> Step:
        s, n = self.model.structure, self.pattern.nodes
        pressure, warm = unknown[:n], unknown[n:]
        nodes = np.concatenate([warm[:n], np.zeros((len(s.outsides), warm.shape[1])), warm[n:]])
        driven = s.network.fall @ pressure + self.slopes.gap[1] * nodes[s.warm_start]
        driven = driven + self.slopes.gap[2] * nodes[s.warm_end]
        return Step(given + self.weight * driven, pressure, warm)

    def frozen_flow(self) -> Array:
        """(temperatures, variants) change that balances heat if no flow changed."""
        n = self.pattern.nodes
        values = self._values(np.zeros_like(self.weight), 1.0)
        still = np.zeros((n, self.weight.shape[1]))
        right = np.concatenate([still, -self.energy, -self.balance.mix])
        return _solver(self.pattern, values)(right)[n:]

    def thermal(self) -> Array:
        """(variants, compartments, compartments): how heat answers to temperatures when flows
        and mixtures follow at once; its eigenvalues tell stability."""
        full, n = self.pattern.full(self.values), self.pattern.nodes
        warm = np.arange(n, 2 * n)
        rest = np.r_[np.arange(n), np.arange(2 * n, self.pattern.size)]
        follow = np.linalg.solve(full[:, rest[:, None], rest], full[:, rest[:, None], warm])
        found: Array = full[:, warm[:, None], warm] - full[:, warm[:, None], rest] @ follow
        return found


Solve: TypeAlias = Callable[[Array], Array]
"""Right sides -> unknowns, (size, variants); of one variant, any number of right sides."""


def _solver(pattern: Pattern, values: Array) -> Solve:
    """One factorisation a variant, sparse where matrices are large."""
    each: list[Solve]
    if pattern.size <= tol.DENSE:
        each = [_dense(full) for full in pattern.full(values)]
    else:
        from scipy.sparse.linalg import splu  # noqa: PLC0415 - only for large networks

        each = [splu(pattern.sparse(column)).solve for column in values.T]
    if len(each) == 1:
        return each[0]
    return lambda right: np.stack([f(right[:, v]) for v, f in enumerate(each)], axis=1)


def _dense(full: Array) -> Solve:
    """LU with pivoting and row scaling."""
    from scipy.linalg.lapack import dgetrf, dgetrs  # noqa: PLC0415

    scale = np.max(abs(full), axis=1)
    scale = 1 / np.where(scale == 0, 1.0, scale)
    lu, pivots, _ = dgetrf((full * scale[:, None]).T)

    def solve(right: Array) -> Array:
        scaled = (right.T * scale).T
        return dgetrs(lu, pivots, scaled, trans=1)[0]  # type: ignore[no-any-return]

    return solve
