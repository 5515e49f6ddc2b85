"""Which fans work together: side by side (parallel), or one behind the other (series)."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import NamedTuple

import numpy as np

from flownet.findings.facts import Working, groups, running_fans
from flownet.results.solution import Solution
from flownet.results.streams import is_outside, open_branches, streams
from flownet.schema.arrays import Array
from flownet.schema.errors import CaseError
from flownet.schema.fault import Fault, did_you_mean, nearest

LEAST_WAY = 0.1  # of the mass flow of fans: what passes beside them is no path of its own


class FanGroup(NamedTuple):
    """Fans side by side: between the same two places, blowing the same way."""

    fans: tuple[Working, ...]

    @property
    def paths(self) -> tuple[str, ...]:
        """Its fans by path."""
        return tuple(fan.path for fan in self.fans)

    @property
    def flow(self) -> float:
        """Sum of their volume flows, the way they blow [m3/s]."""
        return float(sum(fan.flow for fan in self.fans))

    @property
    def weights(self) -> Array:
        """Share of each fan in the flow: a pressure of the group is the mean with these."""
        flow = np.abs([fan.flow for fan in self.fans])
        total = flow.sum()
        found: Array = flow / total if total > 0 else np.full(len(flow), 1 / len(flow))
        return found


Chain = tuple[FanGroup, ...]  # one behind the other, in the direction of the air


def rise_of(chain: Chain) -> float:
    """The sum of the rises of its groups [Pa]."""
    return float(sum(weight * fan.rise for group in chain
                     for weight, fan in zip(group.weights, group.fans, strict=True)))  # fmt: skip


def members(chain: Chain) -> list[Working]:
    """All fans of a chain."""
    return [fan for group in chain for fan in group.fans]


def chain_of(solution: Solution, fan: str | None = None) -> Chain:
    """The fans that work together and do most to the air; with `fan`, that one alone.

    Fans are side by side where they join the same two places and blow the same way. Groups are one
    behind the other where all air passes both: without them nothing else joins what lies between,
    but for branches that carry less than a tenth of their mass flow, and leaks.

    Raises
    ------
    CaseError
        Where no fan runs, or the one that is named does not.
    """
    running = running_fans(solution)
    if not running:
        raise CaseError("curves: no fan runs here; draw curves of a case or variant with fans")
    if fan is not None:
        return (FanGroup((_named(running, fan),)),)
    sides = side_by_side(running)
    strongest = max(sides, key=lambda group: sum(f.flow * f.rise for f in group.fans))
    behind = [group for group in sides if group is not strongest
              and _one_path(solution, strongest, group)]  # fmt: skip
    steps = _steps(solution)
    return tuple(sorted((strongest, *behind), key=lambda g: steps.get(g.fans[0].source, 0)))


def again(solution: Solution, chain: Chain) -> Chain:
    """The same fans as they work in another solution."""
    found = {fan.path: fan for fan in running_fans(solution)}
    return tuple(FanGroup(tuple(found[path] for path in group.paths)) for group in chain)


def side_by_side(running: Iterable[Working]) -> list[FanGroup]:
    """Fans by the places they join; the surroundings count as one where they are the same."""
    found: dict[tuple[str, str], list[Working]] = {}
    for fan in running:
        found.setdefault((fan.source, fan.target), []).append(fan)
    return [FanGroup(tuple(fans)) for fans in found.values()]


def _named(running: Iterable[Working], name: str) -> Working:
    by_path = {fan.path: fan for fan in running}
    path = name if name.startswith("fan.") else f"fan.{name}"
    if path not in by_path:
        hint = did_you_mean(nearest(path, by_path), f"running are {', '.join(by_path)}")
        raise CaseError(Fault("curves", f'no fan "{name}" runs here', hint=hint))
    return by_path[path]


def _one_path(solution: Solution, one: FanGroup, other: FanGroup) -> bool:
    """Whether all air of one group passes the other, both blowing with it."""
    if one.flow <= 0 or other.flow <= 0:
        return False
    passed = min(_mass(solution, one), _mass(solution, other))
    own = {*one.paths, *other.paths}
    ways = open_branches(solution.case)
    strong = {s.path for s in streams(solution) if s.mass_flow >= LEAST_WAY * passed}
    links = {path: _ends(item.from_, item.to) for path, item in ways.items()
             if path in strong and path not in own and item.KIND != "leak"}  # fmt: skip
    sides = [_ends(g.fans[0].source, g.fans[0].target) for g in (one, other)]
    places = {place for ends in (*links.values(), *sides) for place in ends}

    def pieces(*more: tuple[str, str]) -> int:
        return len(groups(places, [*links.values(), *more]))

    whole = pieces(*sides)
    return pieces() == whole + 1 and pieces(sides[0]) == whole == pieces(sides[1])


def _ends(*places: str) -> tuple[str, str]:
    """Two places, all surroundings as one."""
    first, second = ("outside" if is_outside(place) else place for place in places)
    return first, second


def _mass(solution: Solution, group: FanGroup) -> float:
    return sum(abs(solution.mass_flow(path)) for path in group.paths)


def _steps(solution: Solution) -> Mapping[str, int]:
    """How many branches the air has passed since it came in, by place."""
    moving = streams(solution)
    known = {s.source: 0 for s in moving if is_outside(s.source)}
    for _ in solution.case.compartments:
        for stream in moving:
            if stream.source in known and stream.target not in known:
                known[stream.target] = known[stream.source] + 1
    return known
