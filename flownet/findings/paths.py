"""Ways of the air: places it does not reach, exhaust beside intake, open slots."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any, NamedTuple

from flownet.enclosure.enclosure import Enclosure
from flownet.findings.facts import (
    Stream,
    column,
    groups,
    is_outside,
    open_branches,
    percent,
    running_fans,
    streams,
    temperature_at,
)
from flownet.findings.registry import Said, rule, say
from flownet.results.solution import Solution
from flownet.schema import quantities as q
from flownet.schema.fault import listed
from flownet.schema.fields import given

ON_EDGE = 0.01  # of the longer side: how near an edge counts as on it


# --- no air passes ------------------------------------------------------------------------------


@rule(
    name="no-through-air",
    severity="warning",
    title="no outside air passes",
    cause="There is no way from outside to outside through the place: no opening, only one, or "
    "fans that only stir the air. Heat leaves it through walls and exchanges alone.",
    try_="Give it an inlet and an outlet; a fan inside only mixes the air. If it must stay sealed, "
    "work on its walls: area, a heat exchanger, shade.",
    thresholds="a heated or stirred place that outside air does not reach; flows below {still} of "
    "the largest count as none",
    source="conservation of mass: through a single opening no net air flows",
    numbers={"still": (None, "one millionth")},
)
def no_through_air(solution: Solution) -> Iterator[Said]:
    """Groups of compartments without outside air."""
    case = solution.case
    if any(not given(flow) for flow in _flows(solution).values()):
        return
    reached = _reached(streams(solution))
    shut = [name for name in case.compartments if name not in reached]
    ways = [(item.from_, item.to) for item in open_branches(case).values()]
    warm = column(solution.compartments, "temperature")
    together = groups(shut, ways)
    for places, (heat, stirred) in zip(together, _heat_in(solution, together), strict=True):
        if heat > 0 or stirred:
            rise = max(warm.get(place, math.nan) for place in places) - case.outside.temperature
            yield say(
                f"compartment.{places[0]}",
                "no outside air passes {places}: {heat} leave through walls and exchanges alone, "
                "at {rise} above the outside "
                "air" + ("; {fans} only mix the air" if stirred else ""),
                places=(None, listed(f"compartment.{place}" for place in places)),
                heat=(q.POWER, heat), rise=(q.DIFFERENCE, rise),
                fans=(None, listed(stirred)),
            )  # fmt: skip


def _flows(solution: Solution) -> dict[str, float]:
    flows = column(solution.branches, "mass_flow")
    return {path: flows.get(path, math.nan) for path in open_branches(solution.case)}


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
    from flownet.equations.topology import root_places  # noqa: PLC0415 - rarely needed

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


@rule(
    name="exhaust-near-intake",
    severity="warning",
    title="exhaust and intake on one face",
    cause="Warm air that leaves beside an intake, or below it, is partly drawn in again. The model "
    "takes none unless a [recirculation] says how much.",
    try_="Write [recirculation.NAME] with from, to and a fraction (0 if you know there is none), "
    "or move the exhaust to another face, above the intake.",
    thresholds="an outlet and an intake to the same surroundings, both with at on the same edge of "
    "the view, and no recirculation between them; the nearest pair of each edge is named",
    source="a fraction f of air drawn in again raises the intake by f / (1 - f) of the air's rise "
    "(heat balance); how large f is: no source",
)
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
            text = "{subject} blows out {distance} from intake {intake} on the same face"
            yield say(
                out.stream.path,
                text + (", {gain} warmer than the air there" if given(gain) else "")
                + "; no recirculation is given, so none is counted",
                distance=(q.LENGTH, math.dist(out.at, back.at)),
                intake=(None, back.stream.path), gain=(q.DIFFERENCE, gain),
            )  # fmt: skip


def _mouths(solution: Solution) -> Iterator[Mouth]:
    box = _box(solution.case)
    for stream in streams(solution):
        ends = [end for end in (stream.source, stream.target) if is_outside(end)]
        at = getattr(stream.item, "at", None)
        if box is not None and at is not None and len(ends) == 1 and stream.item.KIND != "leak":
            for edge in _edges(box, at):
                yield Mouth(stream, ends[0], edge, at)


def _edges(box: tuple[float, float, float, float], at: tuple[float, float]) -> list[str]:
    x0, y0, x1, y1 = box
    near = ON_EDGE * max(x1 - x0, y1 - y0)
    gaps = {"left": at[0] - x0, "right": at[0] - x1, "low": at[1] - y0, "high": at[1] - y1}
    return [edge for edge, gap in gaps.items() if abs(gap) <= near]


def _box(case: Enclosure) -> tuple[float, float, float, float] | None:
    """Corners of the enclosure in its view: its size, else all outlines together."""
    if case.body.size is not None:
        wide, tall, deep = case.body.size
        across = deep if case.body.view == "side" else wide
        return 0.0, 0.0, across, deep if case.body.view == "plan" else tall
    outlines = [c.outline for c in case.compartments.values() if c.outline is not None]
    if not outlines:
        return None
    xs = [x for o in outlines for x in (o[0], o[0] + o[2])]
    ys = [y for o in outlines for y in (o[1], o[1] + o[3])]
    return min(xs), min(ys), max(xs), max(ys)


# --- open slots ---------------------------------------------------------------------------------


@rule(
    name="slot-empty",
    severity="warning",
    title="empty slots stand open",
    cause="An open hole passes more air than a card does, and the cards beside it get less.",
    try_="Fit fillers that resist about as a card does; tighter ones raise the resistance of the "
    "whole shelf and can make the cards hotter.",
    thresholds="any slot with state empty",
    source="parallel resistances at one pressure difference",
)
def slot_empty(solution: Solution) -> Iterator[Said]:
    """Empty slots, together where they stand side by side."""
    slots = solution.case.things["slot"]
    flows = column(solution.branches, "mass_flow")
    rows: dict[tuple[str, str], list[Any]] = {}
    for slot in slots.values():
        rows.setdefault((slot.from_, slot.to), []).append(slot)
    for row in rows.values():
        empty = [slot.path for slot in row if slot.state == "empty"]
        if empty:
            taken = math.fsum(flows.get(path, math.nan) for path in empty)
            share = _ratio(taken, math.fsum(flows.get(slot.path, math.nan) for slot in row))
            fitted = [slot.path for slot in row if slot.state == "fitted"]
            text = "{names} {stand} open" + (
                ": {share} of the air of this row goes there" if given(share) else ""
            )
            yield say(
                empty[0], text + (", past {cards}" if given(share) and fitted else ""),
                names=(None, listed(empty)),
                stand=(None, "stand" if len(empty) > 1 else "stands"),
                share=percent(share), cards=(None, listed(fitted)),
            )  # fmt: skip


def _ratio(part: float, whole: float) -> float:
    return part / whole if whole else math.nan
