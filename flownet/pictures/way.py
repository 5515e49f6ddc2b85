"""The way that most air takes through an enclosure, and what changes its pressure on it."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import Any, NamedTuple

import networkx as nx

from flownet.enclosure.synonyms import hint
from flownet.results.solution import Solution
from flownet.results.streams import (
    SEALED,
    Stream,
    inflow,
    is_outside,
    outside_name,
    series,
    streams,
)
from flownet.results.tables import AT_REST
from flownet.schema import argument_checks
from flownet.schema.errors import CaseError
from flownet.schema.fault import Fault, listed
from flownet.schema.fields import given

INTO, OUT = object(), object()  # all surroundings, where air comes in and where it goes
NO_STEP = 1e-6  # Pa: less counts as none


class PathStep(NamedTuple):
    """One change of pressure along a way [Pa]."""

    name: str
    kind: str  # of the branch; fan, stopped, around-fan, draught, over-pressure
    at: int  # which stream of the way; -1 for the whole of it
    change: float
    item: Any = None  # the branch
    ahead: bool = True  # goes along the way from its `from` to its `to`


def way_of(solution: Solution, of: str | None = None) -> list[Stream]:
    """The widest way from outside to outside: the one whose smallest flow is the largest.

    Flows side by side between two places count together; of these the largest is taken. `of`, a fan
    or branch, is passed in any case. Where no air to speak of comes from outside, it is the widest
    circle through the fan that moves most; round a fan that outside air does not reach, its own.

    Raises
    ------
    CaseError
        Where no air moves, or none through `of`.
    """
    moving = streams(solution)
    if not moving:
        raise CaseError("path: no air moves in this case; there is no way to draw")
    fresh = math.fsum(s.mass_flow for s in moving if is_outside(s.source))
    sealed = fresh <= (1 - SEALED) * max(s.mass_flow for s in moving)
    found = None if sealed or of is not None else _widest(moving, INTO, OUT)
    if found:
        return found
    turning = {path for path, row in solution.fans.items() if row.region not in AT_REST}
    through = _named(solution, moving, of) if of is not None else (
        max(moving, key=lambda s: (s.path in turning, s.mass_flow)))  # fmt: skip
    first, last = _ends(through)
    if not sealed:
        before, after = _widest(moving, INTO, first), _widest(moving, last, OUT)
        if before is not None and after is not None:
            return [*before, through, *after]
    return [through, *(_widest(moving, last, first) or [])]


def _named(solution: Solution, moving: Sequence[Stream], of: str) -> Stream:
    argument_checks.check_text("of", of, 'a fan or branch is wanted, such as "fan.left"')
    branches = solution.case.branches
    path = of if of in branches else f"fan.{of}"
    if path not in branches:
        near = hint(of if "." in of else path, branches)
        raise CaseError(Fault("path", f'no fan or branch "{of}"', hint=near))
    path = getattr(branches[path], "on", None) or path
    for stream in moving:
        if stream.path == path:
            return stream
    through = listed([s.path for s in moving], 5)
    raise CaseError(Fault("path", f"no air moves through {of}", hint=f"it moves through {through}"))


def _ends(stream: Stream) -> tuple[Any, Any]:
    return (INTO if is_outside(stream.source) else stream.source,
            OUT if is_outside(stream.target) else stream.target)  # fmt: skip


def _widest(moving: Sequence[Stream], start: Any, end: Any) -> list[Stream] | None:
    """The streams of the widest way between two places; None where there is none."""
    joined: dict[tuple[Any, Any], list[Stream]] = {}
    for s in moving:
        joined.setdefault(_ends(s), []).append(s)
    graph = nx.DiGraph()
    graph.add_nodes_from((start, end))
    for ends in sorted(joined, key=lambda ends: -inflow(joined[ends], joined[ends][0].target)):
        graph.add_edge(*ends)
        if nx.has_path(graph, start, end):
            way = pairwise(nx.shortest_path(graph, start, end))
            return [max(joined[step], key=lambda s: s.mass_flow) for step in way]
    return None


# --- pressure ------------------------------------------------------------------------------------


def steps_of(
    solution: Solution, way: Sequence[Stream], like: Solution | None = None
) -> list[PathStep]:
    """What changes the pressure along a way; the sum is zero.

    Each fan, what stands around it, each loss; then, for the whole way, the draught: what columns
    of air give that are not as heavy as the outside air, and where surroundings differ, their
    over-pressure. `like`, another solution of the case, says which fans turn, so that both have the
    same steps.
    """
    made = [step for at, stream in enumerate(way)
            for step in _steps(solution, stream, at, like or solution)]  # fmt: skip
    first, last = (float(solution.case.things["outside"][outside_name(place)].over_pressure)
                   if is_outside(place) else 0.0
                   for place in (way[0].source, way[-1].target))  # fmt: skip
    draught = last - first - math.fsum(step.change for step in made)
    made.append(PathStep("draught", "draught", -1, draught if abs(draught) > NO_STEP else 0.0))
    if first != last:
        made.append(PathStep("over-pressure outside", "over-pressure", -1, first - last))
    return made


def _steps(solution: Solution, stream: Stream, at: int, like: Solution) -> Iterator[PathStep]:
    """Of one branch, itself and what stands on it: before it where air comes in, else behind."""
    ahead, before = stream.source == stream.item.from_, is_outside(stream.source)
    chain = series(solution.case)[stream.path]
    for path, item in sorted(chain.items(), key=lambda pair: (pair[0] == stream.path) == before):
        drop, kind = float(solution.branches[path].drop), item.KIND
        change = (-drop if ahead else drop) if given(drop) else 0.0
        if kind == "fan":
            rise = float(solution.fans[path].rise)
            rise = rise if (item.mounted != "reversed") == ahead else -rise
            if like.fans[path].region in AT_REST:
                yield PathStep(f"{path} (stopped)", "stopped", at, rise + change, item, ahead)
                continue
            yield PathStep(path, kind, at, rise, item, ahead)
            if abs(float(like.branches[path].drop)) > NO_STEP:
                yield PathStep(f"{_around(item)} of {path}", "around-fan", at, change)
            continue
        yield PathStep(path, kind, at, change, item, ahead)


def _around(fan: Any) -> str:
    """What costs pressure beside the rotor: `guard and clearance`."""
    near = fan.installation == "on" and fan.clearance is not None
    there = {"guard": fan.guard.loss > 0, "clearance": near, "shutter": fan.shutter is not None}
    return listed([name for name, is_there in there.items() if is_there]) or "surroundings"
