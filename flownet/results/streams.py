"""The air of a solution as it goes: streams between places, what counts as none, what comes back.

A number that is missing is NaN; comparisons with it are false, so that nothing is found there.
"""

from __future__ import annotations

import math
from collections.abc import Container, Iterable, Sequence
from typing import Any, NamedTuple

import numpy as np

from flownet.enclosure.contents import Branch
from flownet.enclosure.enclosure import Enclosure
from flownet.results.solution import Solution
from flownet.results.tables import AT_REST, Table
from flownet.schema.fields import given

NOUGHT = 1e-6  # of the largest flow: what is less counts as no flow
NOUGHT_FLOW = 1e-8  # kg/s, likewise
MUCH = 0.1  # of what fans move, coming back to them inside
SEALED = 0.999  # likewise: no outside air to speak of
SHUT = 1e-4  # of all air drawn in: what is less through a closed shutter counts as none


class Stream(NamedTuple):
    """The air of an open branch as it goes: from `source` to `target`, `mass_flow` >= 0."""

    path: str
    item: Branch
    source: str
    target: str
    mass_flow: float


def column(table: Table, field: str) -> dict[str, float]:
    """A column of numbers by row name."""
    return dict(zip(table.names, map(float, table.columns[field]), strict=True))


def is_outside(place: str) -> bool:
    """Whether a branch ends in the open there."""
    return place.partition(".")[0] == "outside"


def outside_name(place: str) -> str:
    """`rear` of `outside.rear`; empty for the reference."""
    return place.partition(".")[2]


def series(case: Enclosure) -> dict[str, dict[str, Any]]:
    """Each branch between two places, with itself and what stands `on` it by path."""
    found: dict[str, dict[str, Any]] = {}
    for path, item in case.branches.items():
        found.setdefault(getattr(item, "on", None) or path, {})[path] = item
    return found


def open_branches(case: Enclosure) -> dict[str, Any]:
    """Branches between two places that air can pass, by path; those `on` others left out."""
    return {
        path: chain[path]
        for path, chain in series(case).items()
        if all(getattr(item, "state", "") != "blanked" for item in chain.values())
    }


def streams(solution: Solution) -> list[Stream]:
    """The air of every open branch in which some moves."""
    found, flows = [], column(solution.branches, "mass_flow")
    for path, item in open_branches(solution.case).items():
        flow = flows.get(path, math.nan)
        ends = (item.from_, item.to) if flow >= 0 else (item.to, item.from_)
        if given(flow):
            found.append(Stream(path, item, *ends, abs(flow)))
    least = least_flow(stream.mass_flow for stream in found)
    return [stream for stream in found if stream.mass_flow > least]


def both_ways(solution: Solution) -> list[Stream]:
    """What passes tall holes either way at the same time, beside their net flow."""
    found, flows = [], column(solution.branches, "counter_flow")
    for path, item in open_branches(solution.case).items():
        if flows.get(path, math.nan) > NOUGHT_FLOW:
            ends = item.from_, item.to
            found += [Stream(path, item, *way, flows[path]) for way in (ends, ends[::-1])]
    return found


def each_way(solution: Solution, path: str) -> float:
    """What passes a tall hole either way beside its net flow, as air of the site [m3/s]; 0 of all
    that has one stream."""
    flow = float(solution.branches[path].counter_flow)
    return flow / float(solution.site["density"]) if flow > NOUGHT_FLOW else 0.0


def least_flow(flows: Iterable[float]) -> float:
    """What counts as no flow beside these [kg/s]."""
    return max(NOUGHT_FLOW, NOUGHT * max(flows, default=0.0))


def inflow(moving: Iterable[Stream], place: str) -> float:
    """Mass flow that enters a place [kg/s]."""
    return math.fsum(stream.mass_flow for stream in moving if stream.target == place)


def is_still(solution: Solution, path: str) -> bool:
    """Whether no air passes a branch: round-off, or what a closed shutter leaks."""
    flow = float(solution.branches[path].mass_flow)
    if not given(flow):
        return False
    flows = np.abs(solution.branches.columns["mass_flow"].astype(float))
    if not abs(flow) > least_flow([float(np.nanmax(flows))]):
        return True
    fan = solution.case.branches[path]
    back = -flow if getattr(fan, "mounted", "forward") == "reversed" else flow
    shut = getattr(fan, "shutter", None) is not None and back < 0
    return shut and abs(flow) < SHUT * float(solution.totals.mass_flow)


# --- air that comes back inside -----------------------------------------------------------------


class Return(NamedTuple):
    """Fans side by side, and how much of what they move they have moved before."""

    fans: tuple[str, ...]
    source: str  # the compartment they draw from
    share: float  # of their air that has passed them before, since it came in
    back: tuple[str, ...]  # the branches that carry it back, the largest flow first
    mass_flow: float  # that these carry [kg/s]


def returns(solution: Solution) -> list[Return]:
    """Running fans whose air comes back to them inside the enclosure, one entry a circle.

    Exact for compartments that are mixed: air that has passed the fans is followed through all
    branches until it leaves, one linear system. Of a circle with fans in several places those
    count that move the most air again. The ways back are the least flow that, taken away, would
    part the fans' outlet from their inlet.
    """
    moving = streams(solution)
    inside = [s for s in moving if not is_outside(s.source) and not is_outside(s.target)]
    blowing = _blowing(solution, inside)
    circles = circles_of(inside) if blowing else {}
    most: dict[int, tuple[float, float, list[Stream]]] = {}
    mixing: dict[int, Mixing] = {}
    for (source, target), own in blowing.items():
        circle = circles[source]
        if circle != circles[target]:
            continue
        if circle not in mixing:
            mixing[circle] = Mixing(moving, [p for p in circles if circles[p] == circle])
        share = mixing[circle].again(source, own)
        moved = math.fsum(s.mass_flow for s in own)
        if circle not in most or share * moved > most[circle][0] * most[circle][1]:
            most[circle] = share, moved, own
    return [_returned(share, own, inside) for share, _, own in most.values()]


def _returned(share: float, own: list[Stream], inside: list[Stream]) -> Return:
    """What is to be said of fans, with the way back of their air."""
    paths, first = tuple(s.path for s in own), own[0]
    back, flow = _way_back([s for s in inside if s.path not in paths], first.target, first.source)
    return Return(paths, first.source, share, back, flow)


def much(found: Return) -> bool:
    """Whether so much comes back that it is worth a word; sealed circles only stir their air."""
    return MUCH <= found.share < SEALED


def closing(solution: Solution) -> dict[str, Any]:
    """Changes that close the ways by which much air comes back inside.

    Empty where there are none, or one that cannot be closed: a passage, a fan that runs.
    """
    ways = [path for found in returns(solution) if much(found) for path in found.back]
    items = [solution.case.branches[path] for path in ways]
    fixed = (not hasattr(item, "state") or getattr(item, "running", False) for item in items)
    return {} if any(fixed) else {f"{path}.state": "blanked" for path in ways}


def _blowing(
    solution: Solution, inside: Iterable[Stream]
) -> dict[tuple[str, str], list[Stream]]:  # fmt: skip
    """Fans that turn and move air the way they blow, by the compartments they stand between."""
    turning = {path for path, row in solution.fans.items() if row.region not in AT_REST}
    found: dict[tuple[str, str], list[Stream]] = {}
    for s in inside:
        if s.path in turning:
            item: Any = s.item
            start = item.to if item.mounted == "reversed" else item.from_
            if s.source == start:
                found.setdefault((s.source, s.target), []).append(s)
    return found


def circles_of(inside: Iterable[Stream]) -> dict[str, int]:
    """Compartments with a number; those that air can come round to again have the same."""
    from scipy import sparse  # noqa: PLC0415 - only where a fan stands inside
    from scipy.sparse.csgraph import connected_components  # noqa: PLC0415

    links = [(s.source, s.target) for s in inside]
    names = list(dict.fromkeys(place for link in links for place in link))
    at = {name: i for i, name in enumerate(names)}
    ends = np.array([(at[a], at[b]) for a, b in links], int).reshape(-1, 2)
    size = (len(names), len(names))
    graph = sparse.csr_array((np.ones(len(ends)), (ends[:, 0], ends[:, 1])), size)
    _, labels = connected_components(graph, directed=True, connection="strong")
    return dict(zip(names, labels.tolist(), strict=True))


class Mixing:
    """Where the air of places comes from, each place mixed; one factorization for all questions."""

    def __init__(self, moving: Iterable[Stream], places: Iterable[str]) -> None:
        from scipy import sparse  # noqa: PLC0415 - only where air comes back
        from scipy.sparse.linalg import splu  # noqa: PLC0415

        self.at = {place: i for i, place in enumerate(places)}
        rows: list[tuple[int, int, float]] = []
        fresh = whole = 0.0
        for s in (s for s in moving if s.target in self.at):
            row = self.at[s.target]
            rows.append((row, row, s.mass_flow))
            whole += s.mass_flow
            if s.source in self.at:
                rows.append((row, self.at[s.source], -s.mass_flow))
            else:
                fresh += s.mass_flow
        self.sealed = not fresh > NOUGHT * whole
        if not self.sealed:
            i, j, values = (np.array(each) for each in zip(*rows, strict=True))
            size = (len(self.at), len(self.at))
            self.solve = splu(sparse.csc_matrix((values, (i, j)), size)).solve

    def again(self, place: str, leaving: Iterable[Stream]) -> float:
        """Share of the air of a place that has left it by one of these streams before.

        What has passed a stream counts as 1 there, and as the mixture of what enters in every
        place, until it leaves them all: `x_i sum_in m = sum_in m x_up`. NaN where no fresh air
        enters.
        """
        if self.sealed:
            return math.nan
        marked = np.zeros(len(self.at))
        for s in leaving:
            if s.target in self.at:
                marked[self.at[s.target]] += s.mass_flow
        back = float(self.solve(marked)[self.at[place]])  # of marks that are not renewed
        return back / (1 + back)


def carried(moving: Sequence[Stream], held: Container[str]) -> dict[str, float]:
    """Share of the air of each place that came in past none of the streams `held`, each mixed.

    Only of places that outside air reaches; empty where none to speak of does.
    """
    fed: dict[str, None] = {}
    while more := [s.target for s in moving if s.target not in fed and not is_outside(s.target)
                   and (s.source in fed or is_outside(s.source))]:  # fmt: skip
        fed |= dict.fromkeys(more)
    mixing = Mixing([s._replace(source="") if s.path in held else s for s in moving], fed)
    if mixing.sealed:
        return {}
    marked = np.zeros(len(fed))
    for s in moving:
        if is_outside(s.source) and s.target in fed and s.path not in held:
            marked[mixing.at[s.target]] += s.mass_flow
    return dict(zip(fed, np.clip(mixing.solve(marked), 0.0, 1.0).tolist(), strict=True))


def been_before(moving: list[Stream], place: str) -> float:
    """Share of the air that enters a compartment that has been in it before; NaN if all of it."""
    circles = circles_of(s for s in moving if not is_outside(s.target))  # none begins outside
    around = [name for name in circles if circles[name] == circles.get(place)]
    if len(around) < 2:
        return 0.0
    return Mixing(moving, around).again(place, (s for s in moving if s.source == place))


def _way_back(around: list[Stream], start: str, end: str) -> tuple[tuple[str, ...], float]:
    """The least flow that parts `end` from `start`: its branches, and their sum [kg/s]."""
    from scipy import sparse  # noqa: PLC0415
    from scipy.sparse.csgraph import breadth_first_order, maximum_flow  # noqa: PLC0415

    names = list(dict.fromkeys([start, end, *(p for s in around for p in (s.source, s.target))]))
    at = {name: i for i, name in enumerate(names)}
    unit = max((s.mass_flow for s in around), default=1.0) * 1e-6
    room = np.array([s.mass_flow / unit for s in around]).astype(np.int32) + 1
    ends = np.array([(at[s.source], at[s.target]) for s in around], int).reshape(-1, 2)
    rooms = sparse.csr_matrix((room, (ends[:, 0], ends[:, 1])), (len(at), len(at)))
    left = rooms - maximum_flow(rooms, at[start], at[end]).flow
    left.eliminate_zeros()
    reached = set(breadth_first_order(left, at[start], return_predecessors=False).tolist())
    cut = [s for s in around if at[s.source] in reached and at[s.target] not in reached]
    cut.sort(key=lambda s: -s.mass_flow)
    return tuple(s.path for s in cut), math.fsum(s.mass_flow for s in cut)
