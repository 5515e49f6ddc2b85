"""Faults of walls and heat sinks that concern other things: where they stand, what counts twice."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations
from typing import Any

from flownet.enclosure.contents import Contents
from flownet.enclosure.heat import Wall
from flownet.enclosure.synonyms import unknown
from flownet.schema.fields import given


def wall_faults(case: Contents) -> Iterator[str]:
    """Each with its place."""
    for wall in case.walls.values():
        if wall.from_.partition(".")[0] == "outside":
            yield f"{wall.path}.from: must be a compartment, the inside of the wall"
        sunny = wall.sun is not None or given(wall.solar)
        if sunny and wall.to in case.compartments:
            yield f"{wall.path}.sun: only a wall to the outside has sun"
        yield from _clear_sun(case, wall)
        if (wall.faces or wall.mounting) and case.compartments.get(wall.from_) is not None:
            yield from _size(case, wall)
    drawn: dict[str, list[Wall]] = {}
    for wall in case.walls.values():
        if wall.faces or wall.mounting:
            drawn.setdefault(wall.from_, []).append(wall)
    for walls in drawn.values():
        for pair in combinations(walls, 2):
            yield from _twice(case, *pair)


def _clear_sun(case: Contents, wall: Wall) -> Iterator[str]:
    """What a wall with sun but no irradiance must know of itself and of its place."""
    if wall.sun is None or given(wall.sun.irradiance) or wall.to in case.compartments:
        return
    if not given(case.things["outside"][""].latitude):
        yield f"{wall.path}.sun: needs irradiance, or latitude, day and hour of [outside]"
    flat = wall.facing is not None or (wall.faces and not set(wall.faces) - {"top", "bottom"})
    flat = wall.tilt in (0.0, 180.0) if given(wall.tilt) else flat
    if not given(wall.azimuth) and not flat:
        yield f"{wall.path}.azimuth: is needed for the sun of a clear sky; 180 deg looks south"


def _size(case: Contents, wall: Wall) -> Iterator[str]:
    inside, key = case.compartments[wall.from_], "faces" if wall.faces else "mounting"
    if inside.outline is None:
        yield f"{wall.path}.{key}: compartment.{inside.name} has no outline; give area instead"
    elif inside.depth != inside.depth and case.body.size is None:
        yield (
            f"{wall.path}.{key}: needs the depth of compartment.{inside.name} "
            "or the size of the enclosure"
        )


def _twice(case: Contents, one: Wall, other: Wall) -> Iterator[str]:
    """Faces of one compartment that two walls count."""
    outwards = one.to not in case.compartments and other.to not in case.compartments
    both = [face for face in one.faces if face in other.faces]
    if both:
        yield (
            f"{other.path}.faces: {one.path} has {' and '.join(both)} of {one.from_} too, and "
            "each counts whole; give area where a face is shared"
        )
    elif outwards and (one.mounting or other.mounting):
        whole, more = (one, other) if one.mounting else (other, one)
        yield (
            f"{more.path}.{'mounting' if more.mounting else 'faces'}: {whole.path} has the "
            f"effective area of all of {one.from_} by its mounting; take one of both out"
        )


def sink_faults(case: Contents) -> Iterator[str]:
    """Heat sinks that are not known, do not fit where they stand, or are not those of their air."""
    types = case.things["sink_type"]
    items = (each for kind in ("slot", "duct", "part") for each in case.things[kind].values())
    for item in (each for each in items if each.sink is not None):
        host = case.branches.get(item.in_) if item.KIND == "part" else item
        other = getattr(host, "sink", None)
        if item.sink not in types:
            none = "" if types else f"; write [sink_type.{item.sink}], or name its catalogue"
            yield unknown(f"{item.path}.sink", "sink type", item.sink, types) + none
        elif other not in (None, item.sink):
            yield (
                f'{item.path}.sink: the air of {item.in_} passes a "{other}" (got "{item.sink}"); '
                "one place has one sink, change both"
            )
        elif "leak" in (getattr(host, "KIND", ""), str(getattr(item, "stream", ""))[:4]):
            yield f"{item.path}.sink: a leak has no velocity; a sink needs one between its fins"
        elif host and (item is host or not other) and (what := types[item.sink].misfit(host)):
            yield f"{item.path}.sink: {what}"
        elif item is host:
            yield from _on_fins(case, host)


def _on_fins(case: Contents, host: Any) -> Iterator[str]:
    """Parts in a branch with a sink: more than it has sinks, or as warm as its air unsaid."""
    inside = [part for part in case.parts.values() if part.in_ == host.path]
    own = [part.path for part in inside if part.sink is not None]
    for path in own[int(getattr(host, "count", 1)) :]:
        yield (
            f"{path}.sink: the fins of {host.path} are those of {own[0]} (got {len(own)} parts "
            f'with them); in = "{own[0]}" puts it on the same sink'
        )
    for part in inside:
        bare = not (part.follows_velocity or given(part.resistance))
        if bare and (given(part.limit) or part.path in {p.in_ for p in case.parts.values()}):
            yield (
                f"{part.path}.sink: must be given where it stands between fins (got none, as if it "
                f'were as warm as the air); sink = "{host.sink}", or its resistance to the air'
            )
