"""Faults that concern several things: links that lead nowhere, reserved names, circles."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

from flownet.enclosure.contents import Contents
from flownet.enclosure.heat import BRANCHES
from flownet.enclosure.heat_checks import sink_faults, wall_faults
from flownet.enclosure.surroundings import SINGLE
from flownet.enclosure.synonyms import unknown
from flownet.schema import quantities as q
from flownet.schema.component import KINDS
from flownet.schema.fields import given, keys

NAME = re.compile(r"[A-Za-z0-9_-]+\Z")
CHANGED = ("scenario", "variant")  # what `base` is one of
FOR_EACH = ("each-fan-", "each-supply-")  # begin names that stand for several scenarios
MOST_DRAWN = 0.99  # sum of the fractions of recirculation into one branch
ROUNDED = 1e-6  # K, by which units of one temperature may differ
TOUCHING = 1e-3  # m, by which a hole may be drawn over an edge
SERIES = ("vent", "filter", "opening", "duct")  # kinds that may stand `on` another branch


def all_faults(case: Contents) -> list[str]:
    """Every fault between things, each with its place."""
    found = [*_names(case), *_ends(case), *_links(case), *_parts(case), *_layers(case),
             *_tall_holes(case), *wall_faults(case), *_surroundings(case)]  # fmt: skip
    if not case.compartments:
        found.append("compartment: there must be at least one")
    return found


def name_fault(kind: str, name: str) -> str:
    """What is wrong with a name; empty if nothing."""
    if not NAME.match(name):
        return "a name is made of letters, digits, - and _"
    if name == "outside" or (name == "base" and kind in CHANGED):
        return f'"{name}" is reserved'
    if kind == "scenario" and name.endswith("-out"):
        return 'names ending in "-out" are reserved for outages'
    if kind == "scenario" and name.startswith(FOR_EACH):
        return 'names that begin with "each-fan-" or "each-supply-" are reserved for outages'
    return ""


def _names(case: Contents) -> Iterator[str]:
    for kind, named in case.things.items():
        for name in named:
            if not name and kind not in SINGLE:
                yield f"{kind}: needs a name, such as {kind}.left"
            elif name and kind in SINGLE and kind != "outside":
                yield f"{kind}.{name}: there is only one {kind}, without a name"
            elif name and (what := name_fault(kind, name.rpartition(".rating.")[2])):
                yield f"{kind}.{name}: {what}"
    for name in case.things["outside"]:
        if name in keys(KINDS["outside"]):
            yield f"outside.{name}: a further outside may not be named like a key of [outside]"


def places(case: Contents) -> list[str]:
    """Everything a branch can end at."""
    outsides = [f"outside.{n}" if n else "outside" for n in case.things["outside"]]
    return [*case.compartments, *outsides]


def _ends(case: Contents) -> Iterator[str]:
    known = dict.fromkeys(places(case))  # in order, and quick to look up
    for path, item in (*case.branches.items(), *((w.path, w) for w in case.walls.values())):
        on = getattr(item, "on", None)
        if on is not None:
            yield from _on(case, path, on)
            continue
        bad = [key for key in ("from", "to") if _end(item, key) not in known]
        for key in bad:
            yield unknown(f"{path}.{key}", "compartment", _end(item, key), known)
        if not bad and item.from_ == item.to:
            yield f'{path}.to: both ends are "{item.to}"; a branch joins two places'
    for exchange in case.things["exchange"].values():
        for place in exchange.between:
            if place not in known:
                yield unknown(f"{exchange.path}.between", "compartment", place, known)
        if len(set(exchange.between)) == 1:
            yield f"{exchange.path}.between: both ends are the same place"


def _layers(case: Contents) -> Iterator[str]:
    for item in case.compartments.values():
        if item.layers > 1 and (what := undivided(case, item)):
            yield f"{item.path}.layers: {what} (got {item.layers:g} layers)"


def undivided(case: Contents, item: Any) -> str:
    """What keeps a compartment from being divided into layers; empty if nothing."""
    if item.outline is None:
        return "needs the height of an outline to divide; give outline, or leave layers out"
    if case.body.view == "plan" or case.body.up in ("front", "back"):
        return "outlines have no height in a plan or with front or back up; leave layers out"
    if item.depth != item.depth and case.body.size is None:
        return f"needs the depth of compartment.{item.name} or the size of the enclosure"
    return ""


def _on(case: Contents, path: str, on: str) -> Iterator[str]:
    host = case.branches.get(on)
    if host is None:
        yield unknown(f"{path}.on", "branch", on, list(case.branches))
    elif getattr(host, "on", None) is not None:
        yield f'{path}.on: "{on}" itself stands on {host.on}; name that branch'  # type: ignore[union-attr]


def _tall_holes(case: Contents) -> Iterator[str]:
    """What is meant for one stream of air, and named a hole that air passes both ways at once."""
    branches = case.branches
    tall = {path for path, item in branches.items() if given(getattr(item, "height", None))}
    if not tall:
        return
    for hole in tall:
        yield from _beyond(case, branches[hole])
    ends, own = ("on", "in_", "stream", "from_", "to"), ("on", "in_", "stream")
    things = [*case.parts.values(), *case.things["recirculation"].values()]
    for item in [*things, *branches.values()]:
        for key in own if item.path in branches else ends:
            if (path := getattr(item, key, None)) in tall:
                yield (
                    f"{item.path}.{key.rstrip('_')}: {path} has a height, so air passes it both "
                    "ways at once; name another branch, or take the height away"
                )


def _surroundings(case: Contents) -> Iterator[str]:
    """Surroundings below their own dew point or their sky; not asked again of each value of a
    sweep."""
    shown = q.TEMPERATURE.shown("metric").text
    for place in case.things["outside"].values():
        for key, what in (
            ("dew_point", "air is never below its dew point"),
            ("sky_temperature", "a sky is never warmer than the air under it"),
        ):
            if (value := getattr(place, key)) > place.temperature + ROUNDED:
                yield (f"{place.path.rstrip('.')}.{key}: {what} (got {shown(value)} in air of "
                       f"{shown(place.temperature)})")  # fmt: skip


def _beyond(case: Contents, hole: Any) -> Iterator[str]:
    """Compartments above or below which an upright hole reaches."""
    if hole.at is None or case.body.view == "plan" or case.body.up not in ("top", "bottom"):
        return
    for name in (hole.from_, hole.to):
        outline = getattr(case.compartments.get(name or ""), "outline", None)
        if outline is None:
            continue
        low, high = outline[1], outline[1] + outline[3]
        edges = hole.at[1] - hole.height / 2, hole.at[1] + hole.height / 2
        if edges[0] < low - TOUCHING or edges[1] > high + TOUCHING:
            (bottom, top), (floor, roof) = ([f"{1e3 * level:.4g}" for level in pair]
                                            for pair in (edges, (low, high)))  # fmt: skip
            yield (
                f"{hole.path}.height: reaches from {bottom} to {top} mm, and compartment.{name} "
                f"from {floor} to {roof} mm; mend height, at or the outline"
            )


def _end(item: Any, key: str) -> str:
    return str(item.from_ if key == "from" else item.to)


def _links(case: Contents) -> Iterator[str]:
    types, supplies = case.things["fan_type"], case.things["supply"]
    for fan in case.fans.values():
        if fan.type not in types or ".rating." in fan.type:
            known = [t for t in types if ".rating." not in t]
            none = "" if known else f"; write [fan_type.{fan.type}], or name its catalogue"
            yield unknown(f"{fan.path}.type", "fan type", fan.type, known) + none
        if fan.supply is not None and fan.supply not in supplies:
            yield unknown(f"{fan.path}.supply", "supply", fan.supply, list(supplies))
        if fan.speed_control is not None:
            yield from _control(case, fan)
        if fan.type in types and (fan.supply is None or fan.supply in supplies):
            yield from unrated(case, fan)
            yield from _freewheeling(case, fan)
    yield from _recirculations(case)


def unrated(case: Contents, fan: Any) -> Iterator[str]:
    """A speed in rpm of a fan whose data do not say at what speed they hold."""
    if given(fan.rotation) and not given(case.rating(fan).rated_speed):
        data = case.rating(fan).path
        yield (
            f"{fan.path}.speed: a speed in rpm needs the rated_speed of {data} "
            f"(got {fan.rotation * 60:.6g} rpm, and no rated_speed); add rated_speed to [{data}], "
            "or give speed as a ratio"
        )


def _freewheeling(case: Contents, fan: Any) -> Iterator[str]:
    """A fan that the air turns whose data do not say what its rotor takes then."""
    if fan.state != "freewheeling":
        return
    data = case.rating(fan)
    if not given(data.freewheel_loss):
        yield (
            f'{fan.path}.state: "freewheeling" needs the freewheel_loss of {data.path}, the K of '
            "its rotor where the air turns it (got none, and no source is known to stand in for "
            f'it); measure it and add it to [{data.path}], or take "stopped", a rotor held still'
        )


def _recirculations(case: Contents) -> Iterator[str]:
    targets: dict[tuple[str, str], str] = {}
    for item in case.things["recirculation"].values():
        for key in ("from", "to"):
            branch = case.branches.get(_end(item, key))
            if branch is None or getattr(branch, "on", None) is not None:
                known = [p for p, b in case.branches.items() if getattr(b, "on", None) is None]
                yield unknown(f"{item.path}.{key}", "branch", _end(item, key), known)
            elif item.from_ != item.to and (what := _loop_fault(branch, key)):
                yield f"{item.path}.{key}: {what}"
        if item.from_ == item.to:
            yield (
                f'{item.path}.to: must be another branch than from (got "{item.to}" for both); no '
                "branch draws in the air that it blows out"
            )
        both = (item.from_, item.to)
        if both in targets:
            yield f"{item.path}.to: {targets[both]} already joins the same two branches"
        targets[both] = item.path
    for path in {item.to for item in case.things["recirculation"].values()}:
        total = sum(r.fraction for r in case.things["recirculation"].values() if r.to == path)
        yield from drawn_faults(path, total)


def drawn_faults(path: str, total: float) -> Iterator[str]:
    """What is wrong with the sum of all that a branch draws back."""
    if total > MOST_DRAWN:
        yield f"recirculation: fractions into {path} add up to {total:g}; must stay below 1"


def _loop_fault(branch: Any, key: str) -> str:
    """What keeps a branch from blowing out (`from`) or drawing in (`to`); empty if nothing.

    Air may pass both ways where no fan says which; a fan mounted reversed is not judged, because
    `mounted` may differ between scenarios.
    """
    ends = [str(end).partition(".")[0] == "outside" for end in (branch.from_, branch.to)]
    if not any(ends) or all(ends):
        return f"{branch.path} does not lead to the outside; name a branch with one end outside"
    if branch.KIND != "fan" or branch.mounted == "reversed" or ends[key == "from"]:
        return ""
    way = f'(got {branch.path}, which blows from "{branch.from_}" to "{branch.to}")'
    if key == "from":
        return f"must be a branch whose air leaves to the outside {way}"
    return f"must be a branch that draws in outside air {way}"


def _control(case: Contents, fan: Any) -> Iterator[str]:
    known = [f"part.{p}" for p in case.parts] + [f"compartment.{c}" for c in case.compartments]
    known += [place for place in places(case) if place not in case.compartments]
    if fan.speed_control.by not in known:
        where = f"{fan.path}.speed_control.by"
        yield unknown(where, "part, compartment or outside", fan.speed_control.by, known)


def _parts(case: Contents) -> Iterator[str]:
    hosts = dict.fromkeys([*case.compartments, *case.branches, *(f"part.{p}" for p in case.parts)])
    for part in case.parts.values():
        if part.in_ not in hosts:
            yield unknown(f"{part.path}.in", "compartment, branch or part", part.in_, hosts)
        if part.stream is not None and part.stream not in case.branches:
            yield unknown(f"{part.path}.stream", "branch", part.stream, list(case.branches))
        velocity = part.follows_velocity
        in_compartment = part.in_ in case.compartments
        measured = given(part.stream) and given(part.flow_area)
        if given(part.sink) and in_compartment and not given(part.stream):
            yield f"{part.path}.stream: a heat sink in a compartment needs the stream past it"
        elif velocity and not given(part.sink) and in_compartment and not measured:
            yield (
                f"{part.path}.flow_area: in a compartment a resistance over velocity needs "
                "stream and flow_area"
            )
        if velocity and part.in_.startswith("part."):
            yield f"{part.path}.resistance: on another part only a plain resistance has a meaning"
    yield from _circles(case)
    yield from sink_faults(case)
    for branch in BRANCHES:
        for name, item in case.things[branch].items():
            if getattr(item, "on", None) is not None and branch not in SERIES:
                yield f"{branch}.{name}.on: only {', '.join(SERIES)} may stand on another branch"


def _circles(case: Contents) -> Iterator[str]:
    """Parts that sit on one another in a circle, each circle once; every part is passed once."""
    passed: dict[str, str] = {}  # part -> where the walk over it began
    for start in case.parts:
        walked, name = [], start
        while name not in passed:
            passed[name] = start
            walked.append(name)
            host = case.parts[name].in_
            name = host[5:] if host.startswith("part.") else ""
            if name not in case.parts:
                break
        else:
            if passed[name] == start:
                circle = walked[walked.index(name) :]
                first = circle.index(min(circle))
                circle = [*circle[first:], *circle[:first]]
                yield f"part.{circle[0]}.in: a circle: " + " -> ".join([*circle, circle[0]])
