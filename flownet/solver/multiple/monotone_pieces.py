"""Falling and rising pieces of fan curves, and laws that are kept to falling ones.

On a falling piece a fan's pressure falls with its flow, as it does everywhere without a dip: the
drop of its branch grows. Kept to one falling piece, and carried on beyond it by a line that falls
as well, a fan has one flow for every pressure, and a network of such fans has one state.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from flownet.schema.arrays import Array, Integers
from flownet.solver import tolerances as tol
from flownet.solver.flow_balance import Law


class Pieces(NamedTuple):
    """The pieces of one branch: it falls below the first edge and above the last one, and between
    them it rises and falls by turns."""

    branch: int
    scale: float  # last flow of the fan's curve, kg/s
    edges: tuple[float, ...]  # flows in the direction of the branch, kg/s
    steep: float  # Pa s/kg, of the line beyond a piece

    @property
    def falling(self) -> tuple[tuple[float, float], ...]:
        """Lowest and highest flow of every falling piece."""
        bounds = (-np.inf, *self.edges, np.inf)
        return tuple(zip(bounds[::2], bounds[1::2], strict=True))

    @property
    def rising(self) -> tuple[tuple[float, float], ...]:
        """Lowest and highest flow of every rising piece."""
        return tuple(zip(self.edges[::2], self.edges[1::2], strict=True))


def of_branches(law: Law, branches: int, dipped: Integers, scale: Array) -> tuple[Pieces, ...]:
    """The pieces of branches that hold a fan with a dip, by the sign of the slope of their drop.

    Parameters
    ----------
    law : one variant; takes (branches, flows) to drop less rise [Pa] and its slope.
    branches : how many there are.
    dipped : numbers of those with a fan whose curve rises somewhere.
    scale : last flow of each of their curves [kg/s].
    """
    flow = scale[:, None] * np.linspace(-tol.WIDEST, tol.WIDEST, tol.SAMPLES + 1)
    drop, slope = _sampled(law, branches, dipped, flow)
    found = []
    for row, (branch, last) in enumerate(zip(dipped.tolist(), scale.tolist(), strict=True)):
        falls = slope[row] >= 0
        turns = np.flatnonzero(falls[1:] != falls[:-1])
        edges = _bisected(law, branches, branch, flow[row, turns], flow[row, turns + 1])
        steep = tol.STEEP * float(np.max(abs(drop[row]))) / last
        found.append(Pieces(branch, last, tuple(edges.tolist()), steep))
    return tuple(found)


def _sampled(law: Law, branches: int, dipped: Integers, flow: Array) -> tuple[Array, Array]:
    """Drops and slopes of the dipped branches at flows (dipped, samples), as many at a time as
    memory likes."""
    drops, slopes = np.empty(flow.shape), np.empty(flow.shape)
    width = max(1, tol.LARGEST // branches)
    for at in range(0, flow.shape[1], width):
        here = slice(at, at + width)
        whole = np.zeros((branches, flow[:, here].shape[1]))
        whole[dipped] = flow[:, here]
        drop, slope = law(whole)
        drops[:, here], slopes[:, here] = drop[dipped], slope[dipped]
    return drops, slopes


def _bisected(law: Law, branches: int, branch: int, low: Array, high: Array) -> Array:
    """Flows at which the slope of one branch changes its sign, each between two given ones."""
    if not len(low):
        return low
    flow = np.zeros((branches, len(low)))
    flow[branch] = low
    before = law(flow)[1][branch] >= 0
    for _ in range(tol.BISECTIONS):
        middle = (low + high) / 2
        flow[branch] = middle
        same = (law(flow)[1][branch] >= 0) == before
        low, high = np.where(same, middle, low), np.where(same, high, middle)
    found: Array = (low + high) / 2
    return found


@dataclass(frozen=True, eq=False)
class Kept:
    """A law whose dipped branches are kept to a piece each, one choice of pieces a variant."""

    law: Law  # of one variant, for any number of flows
    dipped: Integers  # (dipped,) branch numbers
    low: Array  # (dipped, variants) kg/s
    high: Array
    steep: Array  # (dipped, 1) Pa s/kg, beyond the piece

    def __call__(self, flow: Array, /) -> tuple[Array, Array]:
        """Drop and slope; the slope is never below zero in a dipped branch."""
        inside = flow.copy()
        own = flow[self.dipped]
        held = np.clip(own, self.low, self.high)
        inside[self.dipped] = held
        drop, slope = self.law(inside)
        drop, slope = drop.copy(), slope.copy()
        drop[self.dipped] += self.steep * (own - held)
        on_piece = np.maximum(slope[self.dipped], 0.0)
        slope[self.dipped] = np.where(own == held, on_piece, self.steep)
        return drop, slope

    def take(self, chosen: Integers, /) -> Kept:
        """The law of some choices."""
        return replace(self, low=self.low[:, chosen], high=self.high[:, chosen])

    def holds(self, flow: Array) -> Array:
        """(variants,) whether every dipped branch is on its piece."""
        own = flow[self.dipped]
        found: Array = np.asarray(((self.low <= own) & (own <= self.high)).all(axis=0))
        return found
