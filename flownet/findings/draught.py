"""Other states that the enclosure could be in, and draught that works against a fan."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any

import numpy as np

from flownet.columns import Inputs
from flownet.equations.levels import compartment_levels
from flownet.equations.topology import Structure
from flownet.findings.facts import Working, running_fans
from flownet.findings.rule import Said, few, rule, say
from flownet.judging.voids import of_solution
from flownet.physics import air
from flownet.results.solution import Solution
from flownet.results.streams import Stream, column, is_outside, streams


@rule
def other_operating_point(solution: Solution) -> Iterator[Said]:
    """Stable states that were found beside this one."""
    told = [said for other in solution.others if other.stable
            for said in _compared(solution, other)]  # fmt: skip
    yield from told[: other_operating_point.numbers["most"]]


def _compared(here: Solution, there: Solution) -> Iterator[Said]:
    """How another state differs: by its fans, else by the temperature of a compartment."""
    at = other_operating_point.numbers
    pairs = zip(running_fans(here), running_fans(there), strict=True)
    moved = [(now, then) for now, then in pairs
             if abs(then.flow - now.flow) > at["same"] * now.last_flow]  # fmt: skip
    moved.sort(key=lambda pair: -abs(pair[1].flow - pair[0].flow) / pair[0].last_flow)
    margin = worst_of(here, there, at["warmer"])
    tail = bool(margin) and "margin"
    if moved:
        (now, then), *others = moved
        yield say(
            then.path, "flow", bool(others) and "others", tail, flow=abs(then.flow),
            back=_way(then), now=abs(now.flow), back_now=_way(now),
            others=few([{"fan": each.path, "at": abs(each.flow), "way": _way(each)}
                        for _, each in others]), **margin,
        )  # fmt: skip
        return
    now_, then_ = (column(one.compartments, "temperature") for one in (here, there))
    name = max(now_, key=lambda each: abs(then_[each] - now_[each]))
    if abs(then_[name] - now_[name]) > at["warmer"]:
        yield say(f"compartment.{name}", "warmer", tail, hot=then_[name], warm=now_[name], **margin)


def _way(fan: Working) -> str:
    return " backwards" if fan.flow < 0 else ""


def worst_of(here: Solution, there: Solution, least: float = 0.0) -> dict[str, Any]:
    """What another solution means for the worst margin, where it means at least so much [K]."""
    if here.worst is None or there.worst is None:
        return {}
    now, then = float(here.worst.margin), float(there.worst.margin)
    if abs(then - now) < least:
        return {}
    return {"better": then, "worst": there.worst.subject, "margin": now}


# --- draught ----------------------------------------------------------------------------------


@rule
def draught_against_fan(solution: Solution) -> Iterator[Said]:
    """Running fans whose main stream has buoyancy against it."""
    fans = [fan for fan in running_fans(solution) if fan.rise > 0 and fan.flow > 0]
    if not fans:
        return
    levels = Levels(solution)
    moving = {stream.path: stream for stream in streams(solution)}
    for fan in fans:
        lift = levels.along(main_stream(fan, moving)) if fan.path in moving else math.nan
        if -lift > draught_against_fan["share"] * fan.rise:
            yield say(fan.path, rise=fan.rise, against=-lift)


@rule
def unstable_state(solution: Solution) -> Iterator[Said]:
    """States that do not come back after a small disturbance."""
    if "unstable" in of_solution(solution)[0]:
        yield say("total.volume_flow")


def main_stream(fan: Working, moving: dict[str, Stream]) -> list[Stream]:
    """The way of most of the fan's air: from outside to outside, or round and back to the fan.

    Empty where the largest streams lead to neither.
    """
    behind: dict[str, Stream] = {}
    before: dict[str, Stream] = {}
    for stream in moving.values():
        for place, largest in ((stream.source, behind), (stream.target, before)):
            if place not in largest or stream.mass_flow > largest[place].mass_flow:
                largest[place] = stream
    start = moving[fan.path]
    on, closed = _walk(start.target, start.source, behind, "target")
    if closed:
        return [start, *on]
    back, _ = _walk(start.source, "", before, "source")
    whole = [*reversed(back), start, *on]
    ends_outside = is_outside(whole[0].source) and is_outside(whole[-1].target)
    return whole if ends_outside else []


def _walk(
    place: str, home: str, largest: dict[str, Stream], side: str
) -> tuple[list[Stream], bool]:
    """Along the largest streams to the outside or `home`; stops where it has been before."""
    walked: list[Stream] = []
    seen = {place}
    while not is_outside(place) and place in largest:
        walked.append(largest[place])
        place = getattr(largest[place], side)
        if place == home and not is_outside(home):
            return walked, True
        if place in seen:
            break
        seen.add(place)
    return walked, False


class Levels:
    """Heights of everything, and the densities there."""

    def __init__(self, solution: Solution) -> None:
        from flownet.equations.assemble import branch_ends  # noqa: PLC0415 - explain needs none

        case = solution.case
        self.pressure = solution.site["pressure"]
        self.outside = float(air.density(case.outside.temperature, self.pressure))
        self.temperature = column(solution.compartments, "temperature")
        self.density = column(solution.branches, "density")
        inputs, s = Inputs.of(case), Structure.of(case)
        heights = branch_ends(inputs, s, compartment_levels(inputs))
        both = np.broadcast_arrays(*heights, np.zeros((len(s.branches), 1)))[:2]  # [m]
        self.ends = dict(zip(s.branches, np.hstack(both).tolist(), strict=True))

    def along(self, way: list[Stream]) -> float:
        """Lift along a closed way, or one from outside to outside [Pa]; NaN without a way."""
        if not way:
            return math.nan
        total, after = 0.0, [*way[1:], way[0]]
        for stream, following in zip(way, after, strict=True):
            enters, leaves = self._heights(stream)
            total += self._lift(self.density.get(stream.path, math.nan), leaves - enters)
            if not is_outside(stream.target):
                warm = self.temperature.get(stream.target, math.nan)
                density = float(air.density(warm, self.pressure))
                total += self._lift(density, self._heights(following)[0] - leaves)
        return total

    def _lift(self, density: float, climb: float) -> float:
        return (self.outside - density) * air.GRAVITY * climb if climb else 0.0

    def _heights(self, stream: Stream) -> tuple[float, float]:
        start, end = self.ends[stream.path]
        return (start, end) if stream.source == stream.item.from_ else (end, start)
