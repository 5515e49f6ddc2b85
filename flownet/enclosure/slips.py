"""What looks like a slip though nothing forbids it: compartments in one place, things drawn beyond
the size, areas so small that a unit has probably slipped, speeds that jump with temperature."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.surroundings import Body, Compartment
from flownet.schema.fields import given

TOUCH = 1e-3  # m, by which what touches may overlap
MOST_PAIRS = 100  # pairs after which no more are looked for
CANDIDATES = 1_000_000  # compared at once
SMALLEST = 5e-7  # m2: a hole of 0.8 mm; what is made for air is larger
NARROW_RAMP = 1.0  # K: no thermostat switches within less; common practice, no source
AREAS = ("area", "open_area", "flow_area")
Rectangle = tuple[float, float, float, float]  # x, y, width, height


class Overlap(NamedTuple):
    """Two rectangles, by their place among all, and what they share."""

    first: int
    second: int
    width: float
    height: float


def overlaps(
    rectangles: Sequence[Rectangle], touch: float, most: int = MOST_PAIRS
) -> list[Overlap]:
    """Pairs that share more than `touch` in width and in height, up to `most` of them.

    Swept along the side on which fewer meet: those that begin before one ends are compared with it.
    """
    x, y, width, height = np.array(rectangles, float).reshape(-1, 4).T
    low, high = np.array([x, y]), np.array([x + width, y + height])
    orders = np.argsort(low, axis=1, kind="stable")
    meets = [np.maximum(np.searchsorted(low[a][o], high[a][o] - touch) - np.arange(len(o)) - 1, 0)
             for a, o in enumerate(orders)]  # fmt: skip
    order, met = min(zip(orders, meets, strict=True), key=lambda each: each[1].sum())
    found: list[Overlap] = []
    start, total = 0, np.cumsum(met)
    while start < len(order) and len(found) < most:
        before = total[start - 1] if start else 0
        stop = max(start + 1, int(np.searchsorted(total, before + CANDIDATES)))
        count = met[start:stop]
        one = np.repeat(np.arange(start, stop), count)
        nth = np.arange(len(one)) - np.repeat(np.cumsum(count) - count, count)
        i, j = np.sort([order[one], order[one + nth + 1]], axis=0)
        shared = np.minimum(high[:, i], high[:, j]) - np.maximum(low[:, i], low[:, j])
        hit = np.flatnonzero((shared > touch).all(axis=0))[: most - len(found)]
        each = zip(i[hit], j[hit], *shared[:, hit], strict=True)
        found += [Overlap(int(a), int(b), float(w), float(h)) for a, b, w, h in each]
        start = stop
    return found


class Covered(NamedTuple):
    """Two compartments that share a part of the view."""

    first: Compartment
    second: Compartment
    width: float  # of what they share [m]
    height: float  # [m]
    share: float  # of the smaller one


def covered(case: Enclosure) -> list[Covered]:
    """Pairs of compartments in the same place, the largest overlaps first; at most `MOST_PAIRS`.

    Where both have a depth, and these fit one behind the other into the enclosure, none is told.
    """
    drawn = [(c, c.outline) for c in case.compartments.values() if c.outline is not None]
    found = []
    pairs = overlaps([outline for _, outline in drawn], TOUCH)
    for pair in sorted(pairs, key=lambda p: (-p.width * p.height, p.second, p.first)):
        (one, a), (other, b) = drawn[pair.first], drawn[pair.second]
        if not _behind(case.body, one, other):
            share = pair.width * pair.height / min(a[2] * a[3], b[2] * b[3])
            found.append(Covered(one, other, pair.width, pair.height, share))
    return found


def _behind(body: Body, one: Compartment, other: Compartment) -> bool:
    """Whether their depths fit one behind the other into the enclosure."""
    if body.size is None or not (given(one.depth) and given(other.depth)):
        return False
    wide, tall, deep = body.size
    through = {"front": deep, "side": wide, "plan": tall}[body.view]
    return bool(one.depth + other.depth <= through + TOUCH)


class Beyond(NamedTuple):
    """Something that reaches out of the enclosure."""

    path: str  # of the value
    by: float  # m


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
    found = [Beyond(path, max(-x, -y, x + wide - size[0], y + tall - size[1]))
             for path, (x, y, wide, tall) in _drawn(case)]  # fmt: skip
    return sorted((one for one in found if one.by > TOUCH), key=lambda each: -each.by)


def _drawn(case: Enclosure) -> Iterator[tuple[str, Rectangle]]:
    """Paths of outlines and positions, each with what it takes; ducts may lead outwards."""
    for space in case.compartments.values():
        if space.outline is not None:
            yield f"{space.path}.outline", space.outline
    for item in (*case.branches.values(), *case.parts.values()):
        at = getattr(item, "at", None)
        if at is not None and item.KIND != "duct":
            yield f"{item.path}.at", (*at, 0.0, 0.0)


class Ramp(NamedTuple):
    """Two points of a speed by temperature."""

    fan: str  # its path
    low: float  # [K]
    high: float
    slow: float  # ratio to rated speed
    fast: float


def narrow_ramps(case: Enclosure) -> list[Ramp]:
    """Speeds of running fans that change within `NARROW_RAMP`, as a thermostat switches."""
    return [
        Ramp(fan.path, low, high, slow, fast)
        for fan in case.fans.values() if fan.state == "running" and fan.speed_control is not None
        for (low, slow), (high, fast) in pairwise(
            zip(fan.speed_control.temperature, fan.speed_control.speed, strict=True)
        )
        if high - low < NARROW_RAMP and slow != fast
    ]  # fmt: skip


class Tiny(NamedTuple):
    """An area that is too small to be meant."""

    path: str  # of the value
    area: float  # m2

    @property
    def text(self) -> str:
        """The area with the digits it takes: in units of ducts it would be 0."""
        return f"{self.area * 1e6:.3g} mm2"


def tiny_areas(case: Enclosure) -> list[Tiny]:
    """Areas that air passes, of branches and of the types of fans, below `SMALLEST`."""
    types = dict.fromkeys(fan.type for fan in case.fans.values())
    items = [*case.branches.values(), *(case.things["fan_type"][name] for name in types)]
    return [
        Tiny(f"{item.path}.{key}", area)
        for item in items for key in AREAS
        if given(area := getattr(item, key, math.nan)) and area < SMALLEST
    ]  # fmt: skip
