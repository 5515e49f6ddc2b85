"""Ways of the air: places it does not reach, exhaust beside intake, open slots."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any, NamedTuple

from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.slips import extent
from flownet.equations.topology import root_places
from flownet.findings.facts import groups, running_fans, temperature_at
from flownet.findings.rule import Said, rule, say
from flownet.results.solution import Solution
from flownet.results.streams import Stream, both_ways, column, is_outside, open_branches, streams
from flownet.schema.fields import given

# --- no air passes ------------------------------------------------------------------------------


@rule
def no_through_air(solution: Solution) -> Iterator[Said]:
    """Groups of compartments without outside air."""
    case = solution.case
    flows = column(solution.branches, "mass_flow")
    if any(not given(flows.get(path, math.nan)) for path in open_branches(case)):
        return
    reached = _reached([*streams(solution), *both_ways(solution)])
    shut = [name for name in case.compartments if name not in reached]
    ways = [(item.from_, item.to) for item in open_branches(case).values()]
    warm = column(solution.compartments, "temperature")
    together = groups(shut, ways)
    for places, (heat, stirred) in zip(together, _heat_in(solution, together), strict=True):
        if heat > 0 or stirred:
            rise = max(warm.get(place, math.nan) for place in places) - case.outside.temperature
            yield say(
                f"compartment.{places[0]}", "says", bool(stirred) and "stirred", heat=heat,
                places=[f"compartment.{place}" for place in places], rise=rise, fans=stirred,
            )  # fmt: skip


def _reached(moving: list[Stream]) -> set[str]:
    """Places that air from outside comes to."""
    after: dict[str, list[str]] = {}
    for stream in moving:
        source = "outside" if is_outside(stream.source) else stream.source
        after.setdefault(source, []).append(stream.target)
    found, waiting = {"outside"}, ["outside"]
    while waiting:
        for place in after.get(waiting.pop(), ()):
            if place not in found and not is_outside(place):
                found.add(place)
                waiting.append(place)
    return found


def _heat_in(solution: Solution, together: list[list[str]]) -> list[tuple[float, list[str]]]:
    """Of each group of places: heat of parts and branches that lie wholly in it, and the fans that
    run there."""
    if not together:
        return []
    case, owner = solution.case, {p: i for i, places in enumerate(together) for p in places}
    heat, warm = column(solution.branches, "heat"), column(solution.parts, "heat")
    running = {fan.path for fan in running_fans(solution)}
    values: list[list[float]] = [[] for _ in together]
    stirred: list[list[str]] = [[] for _ in together]
    for name, place in root_places(case).items():
        if place in owner:
            values[owner[place]].append(warm.get(name, math.nan))
    for path, item in open_branches(case).items():
        number = owner.get(item.from_)
        if number is not None and number == owner.get(item.to):
            values[number].append(heat.get(path, math.nan))
            stirred[number] += [path] if path in running else []
    sums = [math.fsum(x for x in each if given(x)) for each in values]
    return list(zip(sums, stirred, strict=True))


# --- exhaust beside intake ----------------------------------------------------------------------


class Mouth(NamedTuple):
    """Where air leaves or enters the enclosure, on an edge of its view."""

    stream: Stream
    place: str  # the outside it opens to
    edge: str
    at: tuple[float, float]


@rule
def exhaust_near_intake(solution: Solution) -> Iterator[Said]:
    """The nearest pair of outlet and intake on each edge."""
    case = solution.case
    known = {(loop.from_, loop.to) for loop in case.things["recirculation"].values()}
    warm = column(solution.branches, "outlet_temperature")
    mouths = list(_mouths(solution))
    for edge in dict.fromkeys((m.place, m.edge) for m in mouths):
        here = [m for m in mouths if (m.place, m.edge) == edge]
        pairs = [(out, back) for out in here for back in here
                 if is_outside(out.stream.target) and is_outside(back.stream.source)
                 and (out.stream.path, back.stream.path) not in known]  # fmt: skip
        if pairs:
            out, back = min(pairs, key=lambda pair: math.dist(pair[0].at, pair[1].at))
            gain = warm.get(out.stream.path, math.nan) - temperature_at(solution, back.place)
            yield say(
                out.stream.path, "says", given(gain) and "warmer", "none", gain=gain,
                distance=math.dist(out.at, back.at), intake=back.stream.path,
            )  # fmt: skip


def _mouths(solution: Solution) -> Iterator[Mouth]:
    box = _box(solution.case)
    for stream in streams(solution):
        ends = [end for end in (stream.source, stream.target) if is_outside(end)]
        at = getattr(stream.item, "at", None)
        if box is not None and at is not None and len(ends) == 1 and stream.item.KIND != "leak":
            for edge in edges(box, at):
                yield Mouth(stream, ends[0], edge, at)


def edges(box: tuple[float, float, float, float], at: tuple[float, float]) -> list[str]:
    """Of a box in the view those that a place is near."""
    x0, y0, x1, y1 = box
    near = exhaust_near_intake["edge"] * max(x1 - x0, y1 - y0)
    gaps = {"left": at[0] - x0, "right": at[0] - x1, "low": at[1] - y0, "high": at[1] - y1}
    return [edge for edge, gap in gaps.items() if abs(gap) <= near]


def _box(case: Enclosure) -> tuple[float, float, float, float] | None:
    """Corners of the enclosure in its view: its size, else all outlines together."""
    if (size := extent(case.body)) is not None:
        return 0.0, 0.0, *size
    outlines = [c.outline for c in case.compartments.values() if c.outline is not None]
    if not outlines:
        return None
    xs = [x for o in outlines for x in (o[0], o[0] + o[2])]
    ys = [y for o in outlines for y in (o[1], o[1] + o[3])]
    return min(xs), min(ys), max(xs), max(ys)


# --- open slots ---------------------------------------------------------------------------------


@rule
def slot_empty(solution: Solution) -> Iterator[Said]:
    """Empty slots, together where they stand side by side."""
    flows = column(solution.branches, "mass_flow")
    rows: dict[tuple[str, str], list[Any]] = {}
    for slot in solution.case.things["slot"].values():
        rows.setdefault((slot.from_, slot.to), []).append(slot)
    for row in rows.values():
        empty = [slot.path for slot in row if slot.state == "empty"]
        if empty:
            taken, whole = (math.fsum(flows.get(path, math.nan) for path in paths)
                            for paths in (empty, [slot.path for slot in row]))  # fmt: skip
            fitted = [slot.path for slot in row if slot.state == "fitted"]
            share = taken / whole if whole else math.nan
            known = given(share)
            yield say(
                empty[0], "says", known and "share", known and bool(fitted) and "past",
                names=empty, stand="stand" if len(empty) > 1 else "stands", share=share,
                cards=fitted,
            )  # fmt: skip
