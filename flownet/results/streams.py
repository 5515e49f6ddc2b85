"""The air of a solution as it goes: streams between places, what counts as none, what comes back.

A number that is missing is NaN; comparisons with it are false, so that nothing is found there.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Container, Iterable, Sequence
from typing import Any, NamedTuple

import numpy as np

from flownet.enclosure.contents import Branch
from flownet.enclosure.enclosure import Enclosure
from flownet.results.origins import NOUGHT, NOUGHT_FLOW, Ways
from flownet.results.solution import Solution
from flownet.results.tables import AT_REST, Table
from flownet.schema.arrays import added
from flownet.schema.fields import given

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
    source: str  # the compartment that the first draws from
    share: float  # of their air that has passed them before, since it came in
    back: tuple[str, ...]  # the branches that carry it back, the largest flow first
    mass_flow: float  # that these carry [kg/s]


def returns(solution: Solution) -> list[Return]:
    """Running fans whose air comes back to them inside the enclosure, one entry a circle.

    Exact for compartments that are mixed (`Stages`). Of a circle with fans in several stages those
    count that move the most air again. The ways back are the least flow that, taken away, would
    part the outlets of the stage from its inlets.
    """
    inside = [s for s in streams(solution)
              if not is_outside(s.source) and not is_outside(s.target)]  # fmt: skip
    blowing = _blowing(solution, inside)
    circles = circles_of(inside) if blowing else {}
    blowing = [s for s in blowing if circles[s.source] == circles[s.target]]
    row, most = solution.fans.places, dict[int, tuple[float, float, list[Stream]]]()
    for s in blowing:
        circle = circles[s.source]
        beside, share = (each[row[s.path], ..., 0] for each in solution.stages[:2])
        own = [o for o in blowing if circles[o.source] == circle and beside[row[o.path]]]
        moved = math.fsum(o.mass_flow for o in own)
        if circle not in most or share * moved > most[circle][0] * most[circle][1]:
            most[circle] = float(share), moved, own
    return [_returned(share, own, inside) for share, _, own in most.values()]


def _returned(share: float, own: list[Stream], inside: list[Stream]) -> Return:
    """What is to be said of fans, with the way back of their air: from any outlet to any inlet."""
    paths, first = tuple(s.path for s in own), own[0]
    ends = dict.fromkeys({s.source for s in own} - {first.target}, first.source)
    ends |= dict.fromkeys({s.target for s in own} - {*ends}, first.target)
    around = [s._replace(source=ends.get(s.source, s.source), target=ends.get(s.target, s.target))
              for s in inside if s.path not in paths]  # fmt: skip
    return Return(paths, first.source, share, *_way_back(around, first.target, first.source))


def much(found: Return) -> bool:
    """Whether so much comes back that it is worth a word; sealed circles only stir their air."""
    return MUCH <= found.share < SEALED


def rounds(solution: Solution) -> list[Return]:
    """Circles of compartments round which much air goes, sent by no fan but by buoyancy or unlike
    pressures: of the compartment where most fresh air enters what has been there before, and the
    way back to it from where most leaves the circle."""
    moving, places = streams(solution), dict[int, list[str]]()
    inside = [s for s in moving if not is_outside(s.source) and not is_outside(s.target)]
    circles, found = circles_of(inside), []
    fresh, spent = defaultdict[str, float](float), defaultdict[str, float](float)
    for s in moving:
        if circles.get(s.source) != circles.get(s.target):
            fresh[s.target] += s.mass_flow
            spent[s.source] += s.mass_flow
    for place, number in circles.items():
        places.setdefault(number, []).append(place)
    told = {circles[each.source] for each in returns(solution) if much(each)}
    for number, own in places.items():
        if len(own) > 1 and number not in told:
            end = max(own, key=lambda place: fresh[place])
            start = max((place for place in own if place != end), key=lambda place: spent[place])
            share = float(solution.origins.compartments[end].returned_share)
            if MUCH <= share < SEALED:
                around = [s for s in inside if circles[s.source] == number == circles[s.target]]
                found.append(Return((), end, share, *_way_back(around, start, end)))
    return found


def drawn_again(solution: Solution) -> dict[str, tuple[float, list[Any]]]:
    """Branches that draw in what others blow out: which share of it, and by which recirculations,
    where that is much."""
    ways, found = {s.path: s for s in streams(solution)}, dict[str, tuple[float, list[Any]]]()
    for loop in solution.case.things["recirculation"].values():
        if loop.from_ in ways and loop.to in ways and is_outside(ways[loop.from_].target):
            share, loops = found.get(loop.to, (0.0, []))
            found[loop.to] = share + loop.fraction, [*loops, loop]
    return {path: (share, loops) for path, (share, loops) in found.items()
            if share >= MUCH and is_outside(ways[path].source)}  # fmt: skip


def parting(solution: Solution) -> dict[str, float]:
    """Changes after which nothing is drawn in that was blown out, where much is."""
    return {f"{loop.path}.fraction": 0.0
            for _, loops in drawn_again(solution).values() for loop in loops}  # fmt: skip


def closing(solution: Solution) -> dict[str, Any]:
    """Changes that close the ways by which much air comes back inside, to fans if it does to any.

    Empty where there are none, or one that cannot be closed: a passage, a fan that runs, what has
    heat of its own, which would go with it.
    """
    back = [*filter(much, returns(solution))] or rounds(solution)
    ways = [path for found in back for path in found.back]
    items = [solution.case.branches[path] for path in ways]
    held = {part.in_ for part in solution.case.parts.values()}
    fixed = (not hasattr(item, "state") or getattr(item, "running", False) or item.path in held
             or getattr(item, "power", 0.0) > 0 for item in items)  # fmt: skip
    return {} if any(fixed) else {f"{path}.state": "blanked" for path in ways}


def _blowing(solution: Solution, inside: Iterable[Stream]) -> list[Stream]:
    """Fans that turn and move air the way they blow."""
    turning: dict[str, Any] = {
        path: solution.case.branches[path]
        for path, row in solution.fans.items()
        if row.region not in AT_REST
    }
    mouths = {path: fan.to if fan.mounted == "reversed" else fan.from_
              for path, fan in turning.items()}  # fmt: skip
    return [s for s in inside if mouths.get(s.path) == s.source]


def circles_of(inside: Iterable[Stream]) -> dict[str, int]:
    """Compartments with a number; those that air can come round to again have the same."""
    links = [(s.source, s.target) for s in inside]
    names = list(dict.fromkeys(place for link in links for place in link))
    at = {name: i for i, name in enumerate(names)}
    ends = np.array([(at[a], at[b]) for a, b in links], int).reshape(-1, 2)
    ways = Ways(ends[:, 0], ends[:, 1], np.ones((len(ends), 1)), len(names))
    labels = ways.circles()[:, 0]
    return dict(zip(names, labels.tolist(), strict=True))


def carried(moving: Sequence[Stream], held: Container[str]) -> dict[str, float]:
    """Share of the air of each place that came in past none of the streams `held`, each mixed.

    Only of places that outside air reaches; empty where none to speak of does.
    """
    fed: dict[str, None] = {}
    while more := [s.target for s in moving if s.target not in fed and not is_outside(s.target)
                   and (s.source in fed or is_outside(s.source))]:  # fmt: skip
        fed |= dict.fromkeys(more)
    at = {place: i for i, place in enumerate(fed)}
    into = [s for s in moving if s.target in at]
    source = np.array([at.get("" if s.path in held else s.source, -1) for s in into], int)
    target = np.array([at[s.target] for s in into], int)
    flow = np.array([s.mass_flow for s in into])
    if not flow[source < 0].sum() > NOUGHT * flow.sum():
        return {}
    fresh = np.array([is_outside(s.source) and s.path not in held for s in into])
    marked = added(target, np.where(fresh, flow, 0.0)[:, None], len(fed))
    found = Ways(source, target, flow[:, None], len(fed)).mixed()(marked)
    return dict(zip(fed, np.clip(found[:, 0], 0.0, 1.0).tolist(), strict=True))


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
