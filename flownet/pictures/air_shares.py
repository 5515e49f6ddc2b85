"""Which share of the air goes where: flows as bands, places in the order the air meets them."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

import networkx as nx
import numpy as np

from flownet.findings.filters import unfiltered
from flownet.results.solution import Solution
from flownet.results.streams import Mixing, Stream, is_outside, series, streams
from flownet.schema.arrays import Array
from flownet.schema.errors import CaseError

WHOLE = 1e-6  # in percent: what is so near to a whole number is taken for one


class AirBand(NamedTuple):
    """The air of one branch, as it goes."""

    path: str
    source: str
    target: str
    flow: float  # [kg/s]
    percent: int  # of all air that comes in, or of the largest flow where none does
    cleaned: bool  # passes a fitted filter in this branch
    unfiltered: float  # the share of it that no filter has cleaned, behind the branch; NaN: unknown
    back: bool  # through a fan against the way it would blow


class AirShares(NamedTuple):
    """All bands; zones that no air joins, each with its places in order."""

    bands: tuple[AirBand, ...]
    zones: tuple[tuple[str, ...], ...]
    unfiltered: Mapping[str, float]  # of each place; NaN where no outside air gets
    total: float  # that comes in [kg/s]
    through: float  # the share of that which leaves without having passed a filter

    def filtered(self) -> bool:
        """Whether any air passes a filter."""
        return any(band.cleaned for band in self.bands)


def air_shares(solution: Solution) -> AirShares:
    """The shares of a solution, each place taken as mixed; CaseError where no air moves."""
    moving = streams(solution)
    if not moving:
        raise CaseError("split: no air moves in this case; there is nothing to draw")
    cleaned = {host for host, chain in series(solution.case).items()
               if any(item.KIND == "filter" and item.state == "fitted"
                      for item in chain.values())}  # fmt: skip
    places = [name for name in solution.compartments
              if any(name in (s.source, s.target) for s in moving)]  # fmt: skip
    dirty, age = _mixed(moving, places, cleaned)
    total, entering = unfiltered(solution)
    percents = _percents(moving, places, total)
    bands = tuple(
        AirBand(s.path, s.source, s.target, s.mass_flow, percent, s.path in cleaned,
             0.0 if s.path in cleaned else 1.0 if is_outside(s.source) else dirty[s.source],
             _backwards(solution, s))
        for s, percent in zip(moving, percents, strict=True)
    )  # fmt: skip
    share = math.fsum(entering.values()) / total if total > 0 else math.nan
    return AirShares(bands, _zones(moving, places, age), dirty, total, share)


def _backwards(solution: Solution, stream: Stream) -> bool:
    if stream.path not in solution.fans:
        return False
    item: Any = stream.item
    return (solution.mass_flow(stream.path) < 0) != bool(item.mounted == "reversed")


def _mixed(
    moving: Sequence[Stream], places: Sequence[str], cleaned: set[str]
) -> tuple[dict[str, float], dict[str, float]]:
    """Of each place the unfiltered share, and how many places its air has met, itself included.

    Two tracers, mixed in every place: one that outside air brings and filters hold back, and one
    that grows by 1 in each place. Both are NaN where no outside air gets.
    """
    graph = nx.DiGraph([("" if is_outside(s.source) else s.source, s.target) for s in moving])
    reached = nx.descendants(graph, "") if "" in graph else set()
    fed = [place for place in places if place in reached]
    unknown = dict.fromkeys(places, math.nan)
    plain = Mixing(moving, fed)
    if not fed or plain.sealed:
        return unknown, dict(unknown)
    held = [s._replace(source="") if s.path in cleaned else s for s in moving]
    dirt = [_sum(s for s in moving if s.target == place and is_outside(s.source)
                 and s.path not in cleaned) for place in fed]  # fmt: skip
    whole = [_sum(s for s in moving if s.target == place) for place in fed]
    shares = np.clip(Mixing(held, fed).solve(np.array(dirt)), 0.0, 1.0)
    ages = plain.solve(np.array(whole))
    return (unknown | dict(zip(fed, shares.tolist(), strict=True)),
            unknown | dict(zip(fed, ages.tolist(), strict=True)))  # fmt: skip


def _sum(some: Any) -> float:
    return math.fsum(s.mass_flow for s in some)


def _zones(
    moving: Sequence[Stream], places: Sequence[str], age: Mapping[str, float]
) -> tuple[tuple[str, ...], ...]:
    """Places in the order the air meets them, those apart from one another by themselves.

    Along the air; within a circle by how many places the air has met, or where no air comes in
    from behind the largest fan.
    """
    graph = nx.DiGraph()
    graph.add_nodes_from(places)
    inside = [s for s in moving if not is_outside(s.source) and not is_outside(s.target)]
    graph.add_edges_from((s.source, s.target) for s in inside)
    met = dict(age)
    for part in nx.weakly_connected_components(graph):
        own = [s for s in inside if s.source in part]
        if own and any(math.isnan(age[place]) for place in part):
            first = max(own, key=lambda s: (s.item.KIND == "fan", s.mass_flow))
            steps = nx.single_source_shortest_path_length(graph, first.target)
            met |= {place: float(steps.get(place, 0)) for place in part}
    rings = nx.condensation(graph)
    members = {ring: sorted(rings.nodes[ring]["members"], key=lambda p: (met[p], places.index(p)))
               for ring in rings}  # fmt: skip
    along = nx.lexicographical_topological_sort(
        rings, key=lambda ring: (met[members[ring][0]], places.index(members[ring][0]))
    )
    order = [place for ring in along for place in members[ring]]
    zones = [tuple(p for p in order if p in part) for part in nx.weakly_connected_components(graph)]
    return tuple(sorted(zones, key=lambda zone: order.index(zone[0])))


def _percents(moving: Sequence[Stream], places: Sequence[str], total: float) -> list[int]:
    """Whole percents that add up in every place, and to 100 for what comes in.

    Each is rounded up or down. That this can be done where flows balance is the integrality of
    network flows: A. J. Hoffman, J. B. Kruskal, Integral boundary points of convex polyhedra, in
    Linear Inequalities and Related Systems, 1956 (from memory).
    """
    from scipy.optimize import linprog  # noqa: PLC0415 - heavy

    whole = total or max(s.mass_flow for s in moving)
    exact: Array = 100.0 * np.array([s.mass_flow for s in moving]) / whole
    low = np.floor(exact + WHOLE)
    free = np.maximum(np.ceil(exact - WHOLE) - low, 0.0)
    rows = [[float(s.target == place) - float(s.source == place) for s in moving]
            for place in places]  # fmt: skip
    sums = [-float(np.dot(row, low)) for row in rows]
    if total > 0:
        entering = [float(is_outside(s.source) and not is_outside(s.target)) for s in moving]
        rows.append(entering)
        sums.append(100.0 - float(np.dot(entering, low)))
    found = linprog(1.0 - 2.0 * (exact - low), A_eq=rows, b_eq=sums,
                    bounds=np.column_stack([np.zeros(len(low)), free]))  # fmt: skip
    ups = found.x if found.success else exact - low
    return [int(value) for value in np.round(low + ups)]
