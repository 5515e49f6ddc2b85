"""What of a case does not fit its own drawing: overlapping outlines, places beyond the size."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.overlaps import overlaps
from flownet.enclosure.surroundings import Body, Compartment
from flownet.schema.fields import given

TOUCH = 1e-3  # m, by which what touches may overlap
Corners = tuple[float, float, float, float]  # left, low, right, high


class Covered(NamedTuple):
    """Two compartments that share a part of the view."""

    first: Compartment
    second: Compartment
    width: float  # of what they share [m]
    height: float  # [m]
    share: float  # of the smaller one


class Beyond(NamedTuple):
    """Something that reaches out of the enclosure."""

    path: str  # of the value
    by: float  # m


def covered(case: Enclosure) -> list[Covered]:
    """Pairs of compartments in the same place, the largest overlaps first; at most `MOST`.

    Where both have a depth, and these fit one behind the other into the enclosure, none is told.
    """
    drawn = [(c, c.outline) for c in case.compartments.values() if c.outline is not None]
    found = []
    for pair in overlaps([outline for _, outline in drawn], TOUCH):
        (one, a), (other, b) = drawn[pair.first], drawn[pair.second]
        if not _behind(case.body, one, other):
            share = pair.width * pair.height / min(a[2] * a[3], b[2] * b[3])
            found.append(Covered(one, other, pair.width, pair.height, share))
    return sorted(found, key=lambda each: -each.width * each.height)


def _behind(body: Body, one: Compartment, other: Compartment) -> bool:
    """Whether their depths fit one behind the other into the enclosure."""
    if body.size is None or not (given(one.depth) and given(other.depth)):
        return False
    wide, tall, deep = body.size
    through = {"front": deep, "side": wide, "plan": tall}[body.view]
    return bool(one.depth + other.depth <= through + TOUCH)


def extent(body: Body) -> tuple[float, float] | None:
    """Width and height of the enclosure in its view; None without a size."""
    if body.size is None:
        return None
    wide, tall, deep = body.size
    return {"front": (wide, tall), "side": (deep, tall), "plan": (wide, deep)}[body.view]


def beyond(case: Enclosure) -> list[Beyond]:
    """Outlines and positions that reach out of the size of the enclosure, the farthest first."""
    size = extent(case.body)
    if size is None:
        return []
    found = [Beyond(path, _by(corners, size)) for path, corners in _drawn(case)]
    return sorted((one for one in found if one.by > TOUCH), key=lambda each: -each.by)


def _drawn(case: Enclosure) -> Iterator[tuple[str, Corners]]:
    """Paths of outlines and positions, each with its corners; ducts may lead outwards."""
    for space in case.compartments.values():
        if space.outline is not None:
            x, y, wide, tall = space.outline
            yield f"{space.path}.outline", (x, y, x + wide, y + tall)
    for item in (*case.branches.values(), *case.parts.values()):
        at = getattr(item, "at", None)
        if at is not None and item.KIND != "duct":
            yield f"{item.path}.at", (*at, *at)


def _by(corners: Corners, size: tuple[float, float]) -> float:
    left, low, right, high = corners
    return max(-left, -low, right - size[0], high - size[1])
