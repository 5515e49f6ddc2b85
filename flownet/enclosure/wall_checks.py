"""Faults of walls that concern other things: where they stand, their sun, areas counted twice."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations

from flownet.enclosure.contents import Contents
from flownet.enclosure.heat import Wall
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
    if not given(wall.azimuth) and (given(wall.tilt) or not flat):
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
