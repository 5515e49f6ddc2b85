"""Which share of the air goes where: flows as bands, places in the order the air meets them."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

import networkx as nx
import numpy as np

from flownet.findings.filters import cleaned, unfiltered
from flownet.results.solution import Solution
from flownet.results.streams import Stream, carried, is_outside, streams
from flownet.schema.errors import CaseError

WHOLE = 1e-6  # numbers and flows that are so near to one another are taken for one


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
    places = [name for name in solution.compartments
              if any(name in (s.source, s.target) for s in moving)]  # fmt: skip
    cleaning = cleaned(solution.case)
    dirty = dict.fromkeys(places, math.nan) | carried(moving, cleaning)
    total, entering = unfiltered(solution)
    bands = tuple(
        AirBand(s.path, s.source, s.target, s.mass_flow, percent, s.path in cleaning,
                0.0 if s.path in cleaning else dirty.get(s.source, 1.0), _backwards(s))
        for s, percent in zip(moving, _percents(moving, places, total), strict=True)
    )  # fmt: skip
    share = math.fsum(entering.values()) / total if total > 0 else math.nan
    return AirShares(bands, _zones(moving, places), dirty, total, share)


def _backwards(stream: Stream) -> bool:
    item: Any = stream.item
    along = stream.source == stream.item.from_
    return bool(item.KIND == "fan" and along == (item.mounted == "reversed"))


def _zones(moving: Sequence[Stream], places: Sequence[str]) -> tuple[tuple[str, ...], ...]:
    """Places in the order the air meets them, those apart from one another by themselves.

    Of a circle its least flow goes back; of equal ones what leads to where outside air comes in,
    then a fan.
    """
    fed = {s.target for s in moving if is_outside(s.source)}
    largest = max(s.mass_flow for s in moving)
    inside = [s for s in moving if not is_outside(s.source) and not is_outside(s.target)]
    inside.sort(key=lambda s: (-round(s.mass_flow / largest / WHOLE), s.target in fed,
                               s.item.KIND == "fan"))  # fmt: skip
    graph = nx.DiGraph()
    graph.add_nodes_from(places)
    for s in inside:
        if not nx.has_path(graph, s.target, s.source):
            graph.add_edge(s.source, s.target)
    parts = sorted(nx.weakly_connected_components(graph), key=lambda p: min(map(places.index, p)))
    return tuple(tuple(nx.lexicographical_topological_sort(graph.subgraph(part), places.index))
                 for part in parts)  # fmt: skip


def _percents(moving: Sequence[Stream], places: Sequence[str], total: float) -> list[int]:
    """Whole percents that add up in every place, and to 100 for what comes in.

    Each is rounded up or down, to the nearer one as far as that can be: a flow of least cost. That
    there is one where flows balance is the integrality of network flows: A. J. Hoffman, J. B.
    Kruskal, Integral boundary points of convex polyhedra, in Linear Inequalities and Related
    Systems, 1956 (from memory).
    """
    flows = np.array([s.mass_flow for s in moving])
    exact = 100.0 * flows / (total or flows.max())
    low, up = np.floor(exact + WHOLE).astype(int), np.ceil(exact - WHOLE) > np.floor(exact + WHOLE)
    graph, found = nx.MultiDiGraph(), np.where(up & (exact - low > 0.5), low + 1, low)
    whole = 100 if total > 0 else 0
    asked = dict.fromkeys(places, 0) | {"from outside": -whole, "to outside": whole}
    for i, s in enumerate(moving):
        ends = ("from outside" if is_outside(s.source) else s.source,
                "to outside" if is_outside(s.target) else s.target)  # fmt: skip
        if ends == ("from outside", "to outside"):
            continue
        asked[ends[0]] += low[i]
        asked[ends[1]] -= low[i]
        if up[i]:
            cost = round((1 - 2 * (exact[i] - low[i])) / WHOLE)
            graph.add_edge(*ends, i, capacity=1, weight=cost)
    for place, missing in asked.items():
        graph.add_node(place, demand=int(missing))
    try:
        _, more = nx.network_simplex(graph)
    except nx.NetworkXUnfeasible:  # flows that do not balance within a tenth of a percent
        return [int(value) for value in found]
    for row in more.values():
        for keys in row.values():
            for i, one in keys.items():
                found[i] = low[i] + one
    return [int(value) for value in found]
