"""Curves of fans as they work, alone and together, as points for a picture."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from flownet.columns import Inputs
from flownet.equations import elements
from flownet.equations.laws import REFERENCE_VISCOSITY, FanRise
from flownet.findings.facts import Working
from flownet.physics.air import Air
from flownet.results.solution import Solution
from flownet.results.streams import series
from flownet.schema.arrays import Array
from flownet.solver import speeds
from flownet.studies.fans.groups import Chain, FanGroup, members

MEASURED, BEYOND, DIP = range(3)  # what a point of a line is
POINTS = 161  # of the measured part of a curve
MORE = 1.15  # of the free flow: how far a curve is carried on
SAME = 1e-3  # flows of equal fans differ by less


@dataclass(frozen=True)
class WorkingCurve:
    """One fan at its speed and the density it draws: rise [Pa] over volume flow [m3/s]."""

    path: str
    rise: Callable[[Array], Array]
    free: float  # flow of its last measured point
    dip: tuple[float, float] | None  # flows between which one pressure belongs to several

    def kind(self, flow: Array) -> Array:
        """Measured, beyond the measured points, or in the dip."""
        low, high = self.dip or (np.inf, -np.inf)
        beyond = (flow < -1e-12) | (flow > self.free * (1 + 1e-9))
        found: Array = np.where(beyond, BEYOND, np.where((flow > low) & (flow < high), DIP, 0))
        return found


class FanLine(NamedTuple):
    """A curve as points, `kind` says what each is."""

    fans: tuple[str, ...]
    flow: Array
    rise: Array
    kind: Array
    peak: float  # flow of the last peak of a curve with a dip, else NaN


def density(solution: Solution, fan: Working) -> float:
    """Density of the air a fan draws [kg/m3], what comes round to it included."""
    flow = solution.volume_flow(fan.path)
    return solution.mass_flow(fan.path) / flow if fan.flow > 0 else fan.density


def curves(solution: Solution, chain: Chain) -> dict[str, WorkingCurve]:
    """The curve of every fan of a chain."""
    ratios = dict(zip(solution.fans.names, solution.fans.columns["speed_ratio"], strict=True))
    inputs = speeds.as_solved(Inputs.of(solution.case), ratios)
    element = elements.element(inputs, "fan")
    assert element.fan is not None  # what makes a fan
    rows = {f"fan.{name}": row for row, name in enumerate(inputs.names("fan"))}
    found = {}
    for fan in members(chain):
        row, thick = rows[fan.path], density(solution, fan)
        free, stall = (
            float(np.broadcast_to(value.real, (len(rows), 1))[row, 0])
            for value in (element.fan.free_flow, element.fan.stall_flow)
        )
        rise = _rise(element.fan, row, thick)
        found[fan.path] = WorkingCurve(fan.path, rise, free, _dip(rise, stall))
    return found


def _rise(law: FanRise, row: int, thick: float) -> Callable[[Array], Array]:
    """The rise of one of many fans; every fan is given the same flow the way it blows."""

    def rise(flow: Array) -> Array:
        wide = np.full((1, len(flow)), thick)
        mass = law.sign * thick * flow[None]
        viscous = np.full_like(wide, REFERENCE_VISCOSITY)
        found: Array = law.rise(mass, Air(wide, viscous, wide, wide))[row].real
        return found

    return rise


def _dip(rise: Callable[[Array], Array], peak: float) -> tuple[float, float] | None:
    """From where the curve is as high as its last peak, to that peak."""
    if not peak > 0:
        return None
    flow = np.linspace(0.0, peak, POINTS)
    height = rise(flow)
    lowest = int(np.argmin(height))
    before = np.flatnonzero(height[: lowest + 1] >= height[-1])
    return (float(flow[before[-1]]) if len(before) else 0.0), peak


def line(curve: WorkingCurve, fans: tuple[str, ...], reach: tuple[float, float]) -> FanLine:
    """A fan's curve from zero flow to a little past its last point, or as far as it works."""
    low, high = min(0.0, *reach), max(MORE * curve.free, *reach)
    marks = [low, 0.0, curve.free, high, *(curve.dip or ())]
    flow = np.unique(np.concatenate([np.linspace(low, high, 2 * POINTS), marks]))
    peak = curve.dip[1] if curve.dip else np.nan
    return FanLine(fans, flow, curve.rise(flow), _kinds(curve, flow), peak)


def _kinds(curve: WorkingCurve, flow: Array) -> Array:
    """The kind of the piece that begins at each point."""
    middle = np.append((flow[1:] + flow[:-1]) / 2, flow[-1])
    return curve.kind(middle)


def weights(group: FanGroup) -> Array:
    """Share of each fan in the flow: a pressure of a group is the mean with these."""
    flow = np.abs([fan.flow for fan in group.fans])
    total = flow.sum()
    found: Array = flow / total if total > 0 else np.full(len(flow), 1 / len(flow))
    return found


def side_by_side(
    solution: Solution, group: FanGroup, known: dict[str, WorkingCurve], far: float = 0.0
) -> FanLine:
    """Fans in parallel as one: their flows added where the pressure between both places is one.

    Equal fans that pass equal flows: the flow of one times their count, dip included. Others: at
    each pressure between the places, the largest flow each can have there. What stands in a fan's
    own air (guard, shutter, what is `on` it) is taken off its rise, by a square law through the
    flow of the solution (assumption), and draught between unlike heights as it is in the solution:
    where the fans work, the line is exact. It reaches to `far` [m3/s] at least.
    """
    own = [known[fan.path] for fan in group.fans]
    flows = np.array([fan.flow for fan in group.fans])
    count, first = len(own), own[0]
    trial = np.linspace(0.0, first.free, POINTS)
    alike = all(np.allclose(c.rise(trial), first.rise(trial), rtol=SAME) for c in own[1:])
    if alike and np.ptp(flows) <= SAME * abs(flows[0]):
        one = line(first, group.paths, (0.0, max(MORE * flows.max(), far / count)))
        return one._replace(flow=count * one.flow, peak=count * one.peak)
    return _added(solution, group, own)


def _added(solution: Solution, group: FanGroup, own: Sequence[WorkingCurve]) -> FanLine:
    """Unlike fans in parallel."""
    flows = np.array([fan.flow for fan in group.fans])
    rises = np.array([fan.rise for fan in group.fans])
    lost = np.array([_lost(solution, fan) for fan in group.fans])
    factor = np.where(flows != 0, np.abs(lost) / np.where(flows != 0, flows * flows, 1.0), 0.0)
    grids = [np.linspace(-c.free, 2 * max(c.free, f), 12 * POINTS) for c, f in
             zip(own, flows, strict=True)]  # fmt: skip
    nets = [c.rise(x) - k * x * np.abs(x) for c, x, k in zip(own, grids, factor, strict=True)]
    shift = rises - lost
    shift = shift - shift[0]
    top = max(float(net[x >= 0].max() - s) for net, x, s in zip(nets, grids, shift, strict=True))
    levels = np.linspace(top, -0.1 * top, 2 * POINTS)
    each = np.array([_largest(x, net - s, levels) for x, net, s in
                     zip(grids, nets, shift, strict=True)])  # fmt: skip
    each = each[:, ~np.isnan(each).any(axis=0)]
    rise = weights(group) @ np.array([c.rise(x) for c, x in zip(own, each, strict=True)])
    kind = np.max([np.where(c.kind(x) == BEYOND, BEYOND, 0) for c, x in
                   zip(own, each, strict=True)], axis=0)  # fmt: skip
    return FanLine(group.paths, each.sum(axis=0), rise, kind, np.nan)


def _lost(solution: Solution, fan: Working) -> float:
    """What a fan's own air loses on the way it blows: guard, shutter and what is `on` it [Pa]."""
    found = sum(solution.branches[path].drop for path in series(solution.case)[fan.path])
    return float(-found if fan.item.mounted == "reversed" else found)


def _largest(flow: Array, net: Array, levels: Array) -> Array:
    """The largest flow at which a fan holds each level; NaN where it never does."""
    found = np.full(len(levels), np.nan)
    for index, level in enumerate(levels):
        falls = np.flatnonzero((net[:-1] >= level) & (net[1:] < level))
        if len(falls):
            i = falls[-1]
            share = (net[i] - level) / (net[i] - net[i + 1])
            found[index] = flow[i] + share * (flow[i + 1] - flow[i])
    return found


def together(solution: Solution, chain: Chain, known: dict[str, WorkingCurve]) -> FanLine:
    """All fans of a chain as one: flows added in parallel, rises in series at one mass flow.

    The flow is that through the first group; those behind it pass it in the proportion of the
    solution (warmer air has more volume, leaks add or take some).
    """
    if len(chain) == 1:
        return side_by_side(solution, chain[0], known)
    share = np.array([group.flow / chain[0].flow for group in chain])
    free = [sum(known[path].free for path in group.paths) for group in chain]
    far = MORE * max(free / share)
    lines = [side_by_side(solution, group, known, far * s) for group, s in
             zip(chain, share, strict=True)]  # fmt: skip
    ends = [line.flow.max() / s for line, s in zip(lines, share, strict=True)]
    marks = [x / s for one, s in zip(lines, share, strict=True) for x in one.flow]
    flow = np.unique([x for x in marks if 0 <= x <= min(ends)])
    rise, kind = np.zeros(len(flow)), np.zeros(len(flow), int)
    for one, s in zip(lines, share, strict=True):
        order = np.argsort(one.flow)
        rise += np.interp(s * flow, one.flow[order], one.rise[order])
        place = np.searchsorted(one.flow[order], s * flow * (1 + 1e-12), side="right") - 1
        here = one.kind[order][np.clip(place, 0, len(order) - 1)]
        kind = np.where((kind == BEYOND) | (here == BEYOND), BEYOND, np.maximum(kind, here))
    fans = tuple(path for group in chain for path in group.paths)
    return FanLine(fans, flow, rise, kind, np.nan)
