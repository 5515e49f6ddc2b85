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
from flownet.studies.fans.curve import dip
from flownet.studies.fans.groups import Chain, FanGroup, members

STATED, DIP, CONTINUED = range(3)  # what a point of a line is, the least known last
CURVE_POINTS = 161  # of the measured part of a curve
CARRIED_ON = 1.15  # of the free flow: how far a curve is carried on
ALIKE_FLOWS = 1e-3  # flows of equal fans differ by less


@dataclass(frozen=True)
class WorkingCurve:
    """One fan at its speed and the density it draws: rise [Pa] over volume flow [m3/s]."""

    rise: Callable[[Array], Array]
    free: float  # flow of its last measured point
    dip: tuple[float, float] | None  # flows between which one pressure belongs to several

    def kind(self, flow: Array) -> Array:
        """Measured, beyond the measured points, or in the dip."""
        low, high = self.dip or (np.inf, -np.inf)
        beyond = (flow < -1e-12) | (flow > self.free * (1 + 1e-9))
        found: Array = np.where(beyond, CONTINUED, np.where((flow > low) & (flow < high), DIP, 0))
        return found


class FanLine(NamedTuple):
    """A curve as points, the flow rising; `kind` says what each is."""

    fans: tuple[str, ...]
    flow: Array  # [m3/s]
    rise: Array  # [Pa]
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
        rise, reach = _rise(element.fan, row, thick), np.linspace(0.0, stall, CURVE_POINTS)
        found[fan.path] = WorkingCurve(rise, free, dip(reach, rise(reach)) if stall > 0 else None)
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


def line(curve: WorkingCurve, fans: tuple[str, ...], reach: tuple[float, float]) -> FanLine:
    """A fan's curve from zero flow to a little past its last point, or as far as it works."""
    low, high = min(0.0, *reach), max(CARRIED_ON * curve.free, *reach)
    marks = [low, 0.0, curve.free, high, *(curve.dip or ())]
    flow = np.unique(np.concatenate([np.linspace(low, high, 2 * CURVE_POINTS), marks]))
    peak = curve.dip[1] if curve.dip else np.nan
    middle = np.append((flow[1:] + flow[:-1]) / 2, flow[-1])  # of the piece that begins there
    return FanLine(fans, flow, curve.rise(flow), curve.kind(middle), peak)


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
    trial = np.linspace(0.0, first.free, CURVE_POINTS)
    alike = all(np.allclose(c.rise(trial), first.rise(trial), rtol=ALIKE_FLOWS) for c in own[1:])
    if alike and np.ptp(flows) <= ALIKE_FLOWS * abs(flows[0]):
        one = line(first, group.paths, (0.0, max(CARRIED_ON * flows.max(), far / count)))
        return one._replace(flow=count * one.flow, peak=count * one.peak)
    return _added(solution, group, own)


def _added(solution: Solution, group: FanGroup, own: Sequence[WorkingCurve]) -> FanLine:
    """Unlike fans in parallel."""
    flows, rises, lost = np.array([(f.flow, f.rise, _lost(solution, f)) for f in group.fans]).T
    factor = np.abs(lost) / np.where(flows, flows * flows, 1.0)  # at rest nothing is lost
    shift, free = rises - lost, np.array([curve.free for curve in own])
    grid = np.linspace(-free, 2 * np.maximum(free, flows), 12 * CURVE_POINTS, axis=1)
    net = np.array([curve.rise(x) for curve, x in zip(own, grid, strict=True)])
    net = net - factor[:, None] * grid * np.abs(grid) - (shift - shift[0])[:, None]
    top = net[grid >= 0].max()
    levels = np.linspace(top, -0.1 * top, 2 * CURVE_POINTS)
    each = np.array([_largest(x, y, levels) for x, y in zip(grid, net, strict=True)])
    each = each[:, ~np.isnan(each).any(axis=0)]
    rise = group.weights @ np.array([c.rise(x) for c, x in zip(own, each, strict=True)])
    kind = np.max([np.where(c.kind(x) == CONTINUED, CONTINUED, 0) for c, x in
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
    far = CARRIED_ON * max(free / share)
    lines = [side_by_side(solution, group, known, far * s) for group, s in
             zip(chain, share, strict=True)]  # fmt: skip
    marks = [one.flow / s for one, s in zip(lines, share, strict=True)]
    flow = np.unique(np.concatenate(marks))
    flow = flow[(flow >= 0) & (flow <= min(own.max() for own in marks))]
    rise, kind = np.zeros(len(flow)), np.zeros(len(flow), int)
    for one, s in zip(lines, share, strict=True):
        rise += np.interp(s * flow, one.flow, one.rise)
        place = np.searchsorted(one.flow, s * flow * (1 + 1e-12), side="right") - 1
        kind = np.maximum(kind, one.kind[np.clip(place, 0, len(one.flow) - 1)])
    return FanLine(tuple(known), flow, rise, kind, np.nan)
