"""Fans that blow against each other, in all runs of a batch at once.

Side by side, some mounted backwards: what they blow the others take back at once. Head-on: a part
of the enclosure has next to no way in or out but running fans, and all blow into it, or all out of
it. Runs in which the same ways are open and the same fans run the same way are looked at once.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from flownet.columns import gather
from flownet.enclosure.branches import SHARP_EDGE
from flownet.equations.topology import Structure
from flownet.results.batch import SolutionBatch
from flownet.results.limits import IDLE
from flownet.results.tables import STATES
from flownet.schema.arrays import Array, Integers
from flownet.schema.component import KINDS
from flownet.schema.fields import roles
from flownet.solver.network import groups

SHUT_SHARE = 0.1  # hole of what is open beside facing fans, over their flow area: our own
REVERSED = roles(KINDS["fan"])["mounted"].words.index("reversed")  # type: ignore[union-attr]


class Facing(NamedTuple):
    """Running fans that blow against each other, and in which runs."""

    fans: tuple[int, ...]  # rows of the table of fans
    places: tuple[int, ...]  # compartments between them; empty: they are side by side
    inward: bool  # all blow into these, else all out of them
    runs: Array  # (variants,) bool


class _Air(NamedTuple):
    """What of a batch tells where air can go; (branches, variants) or (fans, variants)."""

    host: Integers  # (fans,) the branch of each
    closed: Array
    running: Array
    turned: Array
    area: Array  # of the fans [m2]
    hole: Array  # sharp-edged, that passes as much air as the branch at its drop [m2]


def facing(batch: SolutionBatch) -> Iterator[Facing]:
    """Every such group of fans; none where nothing was solved."""
    if len(batch.fans) < 2:
        return
    s = Structure.of(batch.inputs_.enclosure)
    air = _air(s, batch)
    looks = np.vstack([air.closed, air.running, air.turned])
    _, first, of = np.unique(looks, axis=1, return_index=True, return_inverse=True)
    for number, one in enumerate(first):
        here = (np.ravel(of) == number) & batch.ok
        for fans in _beside(s, air, one):
            yield Facing(fans, (), False, here)
        for fans, ways, places, inward in _head_on(s, air, one):
            with np.errstate(invalid="ignore"):
                shut = air.hole[ways].sum(axis=0) <= SHUT_SHARE * air.area[list(fans)].sum(axis=0)
            yield Facing(fans, places, inward, here & shut)


def _air(s: Structure, batch: SolutionBatch) -> _Air:
    inputs, width = batch.inputs_, len(batch)
    state = np.broadcast_to(batch.branches.columns["state"], (len(s.elements), width))
    region = np.broadcast_to(batch.fans.columns["region"], (len(batch.fans), width))
    closed = np.zeros((len(s.branches), width), bool)
    np.logical_or.at(closed, s.host, state == STATES.index("blanked"))
    turned, area = (np.broadcast_to(column, region.shape) for column in (
        inputs.columns["fan"]["mounted"].real == REVERSED,
        gather(inputs.columns["fan_type"]["flow_area"].real, inputs.rating_rows)))  # fmt: skip
    running, hole = ~np.isin(region, IDLE), holes(s, batch)
    return _Air(s.host[s.rows["fan"]], closed, running, turned, area, hole)


def holes(s: Structure, batch: SolutionBatch) -> Array:
    """(branches, variants) area of the sharp-edged hole that passes as much air at the drop of a
    branch with what stands `on` it [m2]; NaN where there is no drop."""
    drop, flow, density = (
        np.broadcast_to(batch.branches.columns[key].real, (len(s.elements), len(batch)))
        for key in ("drop", "mass_flow", "density"))  # fmt: skip
    flow, drops = flow[s.own], np.zeros((len(s.branches), len(batch)))
    np.add.at(drops, s.host, drop)
    with np.errstate(divide="ignore", invalid="ignore"):
        hole = abs(flow) / (SHARP_EDGE * np.sqrt(2 * density[s.own] * abs(drops)))
    return np.where(flow == 0, 0.0, np.where(np.isinf(hole), np.nan, hole))


def _beside(s: Structure, air: _Air, one: int) -> Iterator[tuple[int, ...]]:
    """Running fans between the same two places that are not all mounted the same way."""
    places: dict[tuple[int, int], list[int]] = {}
    for fan, branch in enumerate(air.host):
        if air.running[fan, one]:
            places.setdefault((s.start[branch], s.end[branch]), []).append(fan)
    for fans in places.values():
        if len({bool(air.turned[fan, one]) for fan in fans}) > 1:
            yield tuple(fans)


def _head_on(
    s: Structure, air: _Air, one: int
) -> Iterator[tuple[tuple[int, ...], list[int], tuple[int, ...], bool]]:
    """Fans that all blow into the same places, or all out, with the other ways there."""
    own = {int(b): fan for fan, b in enumerate(air.host) if air.running[fan, one]}
    ways = [b for b, path in enumerate(s.branches)
            if not air.closed[b, one] and not path.startswith("leak.")]  # fmt: skip
    for inside in _together(s, [b for b in ways if b not in own]):
        edge = [b for b in ways if (s.start[b] in inside) != (s.end[b] in inside)]
        fans = [b for b in edge if b in own]
        inward = {(s.end[b] in inside) != bool(air.turned[own[b], one]) for b in fans}
        if len(inward) == 1 and not _side_by_side(s, air, one, fans, inside):
            others = [b for b in edge if b not in own]
            yield tuple(own[b] for b in fans), others, tuple(sorted(inside)), inward == {True}


def _side_by_side(s: Structure, air: _Air, one: int, fans: list[int], inside: set[int]) -> bool:
    """Whether fans that blow one way into or out of a group stand side by side, or one alone."""
    turned = {bool(air.turned[fan, one]) for fan, b in enumerate(air.host) if b in fans}
    beyond = {min(s.start[b] if s.end[b] in inside else s.end[b], s.inside) for b in fans}
    return len(beyond) == 1 and len(turned) == 1


def _together(s: Structure, ways: list[int]) -> list[set[int]]:
    """Compartments that ways other than running fans join."""
    inner = [b for b in ways if s.start[b] < s.inside and s.end[b] < s.inside]
    label = groups(s.inside, s.start[inner], s.end[inner])
    return [set(np.flatnonzero(label == first).tolist()) for first in np.unique(label)]
