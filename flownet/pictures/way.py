"""The way that most air takes through an enclosure, and what changes its pressure on it."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import Any, NamedTuple

import networkx as nx

from flownet.results.limits import IDLE
from flownet.results.solution import Solution
from flownet.results.streams import (
    SEALED,
    Stream,
    is_outside,
    outside_name,
    series,
    streams,
)
from flownet.results.tables import REGIONS
from flownet.schema.errors import CaseError
from flownet.schema.fault import Fault, did_you_mean, listed, nearest
from flownet.schema.fields import given

INTO, OUT = object(), object()  # all surroundings, where air comes in and where it goes
STANDING = tuple(REGIONS[i] for i in IDLE)
NO_STEP = 1e-6  # Pa: less counts as none


class AirWay(NamedTuple):
    """Branches that one flow of air passes, one after the other."""

    streams: tuple[Stream, ...]
    signs: tuple[int, ...]  # 1: from `from` to `to`
    closed: bool  # it comes back to where it begins


class PathStep(NamedTuple):
    """One change of pressure along a way [Pa]."""

    name: str
    kind: str  # of the branch; fan, stopped, around-fan, draught, over-pressure
    at: int  # which branch of the way; -1 for the whole of it
    change: float
    ahead: bool = True  # of a fan: blows along the way


def way_of(solution: Solution, of: str | None = None) -> AirWay:
    """The widest way from outside to outside: the one whose smallest flow is the largest.

    Flows side by side between two places count together; of these the largest is taken. `of`, a fan
    or branch, is passed in any case. Where no air to speak of comes from outside, and round a fan
    that none of it reaches, the way is the widest circle.

    Raises
    ------
    CaseError
        Where no air moves, or none through `of`.
    """
    moving = streams(solution)
    if not moving:
        raise CaseError("path: no air moves in this case; there is no way to draw")
    through = None if of is None else _named(solution, moving, of)
    fresh = math.fsum(s.mass_flow for s in moving if is_outside(s.source))
    sealed = fresh <= (1 - SEALED) * max(s.mass_flow for s in moving)
    if through is None and sealed:
        through = _strongest(solution, moving)
    first, last = (through.source, through.target) if through else (OUT, OUT)
    before = [] if is_outside(str(first)) else _widest(moving, INTO, first)
    after = [] if through is None or is_outside(str(last)) else _widest(moving, last, OUT)
    middle = [] if through is None else [through]
    if sealed or before is None or after is None:
        before, after = [], _widest(moving, last, first) if last != first else []
    found = (*(before or []), *middle, *(after or []))
    closed = not is_outside(found[0].source)
    return AirWay(found, tuple(_sign(solution, s) for s in found), closed)


def _named(solution: Solution, moving: Sequence[Stream], of: str) -> Stream:
    branches = solution.case.branches
    path = of if of in branches else f"fan.{of}"
    if path not in branches:
        meant = nearest(of, branches) or nearest(path, branches)
        hint = did_you_mean(meant, f"there are {listed(branches, 5)}")
        raise CaseError(Fault("path", f'no fan or branch "{of}"', hint=hint))
    path = getattr(branches[path], "on", None) or path
    for stream in moving:
        if stream.path == path:
            return stream
    through = listed([s.path for s in moving], 5)
    raise CaseError(Fault("path", f"no air moves through {of}", hint=f"it moves through {through}"))


def _strongest(solution: Solution, moving: Sequence[Stream]) -> Stream:
    """The fan that moves most, else the largest flow."""
    turning = {path for path, row in solution.fans.items() if row.region not in STANDING}
    fans = [s for s in moving if s.path in turning]
    return max(fans or moving, key=lambda s: s.mass_flow)


def _widest(moving: Sequence[Stream], start: Any, end: Any) -> list[Stream] | None:
    """The streams of the widest way between two places; None where there is none."""
    joined: dict[tuple[Any, Any], list[Stream]] = {}
    for s in moving:
        ends = INTO if is_outside(s.source) else s.source, OUT if is_outside(s.target) else s.target
        joined.setdefault(ends, []).append(s)
    flows = {ends: math.fsum(s.mass_flow for s in own) for ends, own in joined.items()}
    for least in sorted(set(flows.values()), reverse=True):
        graph = nx.DiGraph([ends for ends, flow in flows.items() if flow >= least])
        if start in graph and end in graph and nx.has_path(graph, start, end):
            places = nx.shortest_path(graph, start, end)
            return [max(joined[ends], key=lambda s: s.mass_flow)
                    for ends in pairwise(places)]  # fmt: skip
    return None


def _sign(solution: Solution, stream: Stream) -> int:
    return 1 if solution.mass_flow(stream.path) >= 0 else -1


# --- pressure ------------------------------------------------------------------------------------


def steps_of(solution: Solution, way: AirWay, like: Solution | None = None) -> list[PathStep]:
    """What changes the pressure along a way; the sum is zero.

    Each fan, what stands around it, each loss; then, for the whole way, the draught: what columns
    of air give that are not as heavy as the outside air, and where surroundings differ, their
    over-pressure. `like`, another solution of the case, says which fans turn, so that both have the
    same steps.
    """
    made = [step for at in range(len(way.streams))
            for step in _steps(solution, way, at, like or solution)]  # fmt: skip
    first, last = (_over_pressure(solution, place)
                   for place in (way.streams[0].source, way.streams[-1].target))  # fmt: skip
    draught = last - first - math.fsum(step.change for step in made)
    made.append(PathStep("draught", "draught", -1, draught if abs(draught) > NO_STEP else 0.0))
    if first != last:
        made.append(PathStep("over-pressure outside", "over-pressure", -1, first - last))
    return made


def _over_pressure(solution: Solution, place: str) -> float:
    if not is_outside(place):
        return 0.0
    return float(solution.case.things["outside"][outside_name(place)].over_pressure)


def _steps(solution: Solution, way: AirWay, at: int, like: Solution) -> Iterator[PathStep]:
    """Of one branch, itself and what stands on it: before it where air comes in, else behind."""
    sign, stream = way.signs[at], way.streams[at]
    chain = series(solution.case)[stream.path]
    before = is_outside(stream.source)
    for path, item in sorted(chain.items(), key=lambda pair: (pair[0] == stream.path) == before):
        drop = float(solution.branches[path].drop)
        loss = -sign * drop if given(drop) else 0.0
        if path not in solution.fans:
            yield PathStep(path, item.KIND, at, loss)
            continue
        ahead = (item.mounted != "reversed") == (sign > 0)
        rise = float(solution.fans[path].rise) * (1 if ahead else -1)
        if like.fans[path].region in STANDING:
            yield PathStep(f"{path} (stopped)", "stopped", at, rise + loss, ahead)
            continue
        yield PathStep(path, "fan", at, rise, ahead)
        if abs(float(like.branches[path].drop)) > NO_STEP:
            yield PathStep(f"{_around(item)} of {path}", "around-fan", at, loss)


def _around(fan: Any) -> str:
    """What costs pressure beside the rotor: `guard and clearance`."""
    near = fan.clearance if fan.installation == "on" else None
    there = {
        "guard": fan.guard.loss > 0,
        "clearance": near is not None,
        "shutter": fan.shutter is not None,
    }
    return listed([name for name, is_there in there.items() if is_there]) or "surroundings"
