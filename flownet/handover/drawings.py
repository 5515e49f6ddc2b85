"""Drawings of the fitting sheet: numbers in millimetres of paper, which `drawings.html` draws, and
the points of the test on the map's own symbols."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import pairwise
from typing import Any, NamedTuple

from markupsafe import Markup

from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.fans import Fan
from flownet.handover.expected import Expected
from flownet.pictures.map.geometry import EXTENT, direction
from flownet.pictures.map.map import narrow_scene
from flownet.pictures.scene.scene import Point
from flownet.pictures.scene.svg import svg

RULER = 100.0  # mm, of each ruler of a template
RULER_ABOVE = 62.0  # mm: a larger half of a frame has room for a ruler in its cutout
A4_FRAME, A3_FRAME = 178.0, 262.0  # mm: the largest that paper takes, margins and ruler included
TILE = (170.0, 225.0, 10.0)  # mm: width, height, overlap of the tiles of a larger template
PLAN_ROOM, SECTION_ROOM = (90.0, 45.0), (61.0, 20.0)  # mm of paper
SCALES = (1, 2, 2.5, 4, 5, 8, 10, 15, 20, 25, 40, 50, 100)  # 1 : so much
EDGES = {  # what lies at the upper and the lower edge of a plane across the view, its other way
    "front": ("back", "front", "depth"), "side": ("far side", "near side", "width"),
    "plan": ("top", "bottom", "height"),
}  # fmt: skip
VIEW_SCALE = 0.28  # mm of paper to a point
NOTHING_WARM = (1000.0, 2000.0)  # K: no air is coloured


class Mount(NamedTuple):
    """What a fan type is fixed by; mm, 0 where the case does not say."""

    type: str
    frame: float
    pitch: float
    cutout: float
    depth: float = 0.0

    @property
    def drawable(self) -> bool:
        return min(self.frame, self.pitch, self.cutout) > 0

    @property
    def half(self) -> float:
        return max(self.frame, self.pitch, self.cutout) / 2


class DrillSheet(NamedTuple):
    """A sheet of paper with a full-size template, or a part of one, its centre at 0, 0; mm."""

    box: tuple[float, float, float, float]  # left, top, width, height
    upright: Point  # where the rulers begin
    level: Point
    crosses: Sequence[Point] = ()
    told: str = ""


def scale_of(wide: float, tall: float, room: tuple[float, float]) -> float:
    """1 : so much, so that it fits."""
    needed = max(wide / room[0], tall / room[1])
    return next((each for each in SCALES if each >= needed), math.ceil(needed))


def papers(mount: Mount, paper: str = "a4") -> tuple[str, list[DrillSheet]]:
    """The template: `a4`, `a3` or `tiles`, and each sheet of paper."""
    half, large = mount.half, mount.half > RULER_ABOVE
    reach = half if large else max(half, RULER / 2)  # of the upright ruler too
    around = reach + (1.0 if large else 22.0)
    box = (-around, -reach - 6, 2 * around, reach + 6 + max(half + 28, RULER / 2 + 4))
    if mount.frame > A4_FRAME and (paper == "a4" or mount.frame > A3_FRAME):
        return "tiles", list(_tiles(*box[:3], 2 * half + 18))
    upright = -half / 2 if large else -reach - 14
    whole = DrillSheet(box, (upright, RULER / 2), (-RULER / 2, half + 16))
    return "a4" if mount.frame <= A4_FRAME else "a3", [whole]


def _tiles(left: float, top: float, wide: float, tall: float) -> Iterator[DrillSheet]:
    """Parts that overlap, each with crosses in the middle of what it shares, and rulers."""
    lap = TILE[2]
    xs, ys = ([start + i * (step - lap) for i in range(math.ceil((size - lap) / (step - lap)) + 1)]
              for start, size, step in ((left, wide, TILE[0]), (top, tall, TILE[1])))  # fmt: skip
    crosses = [(x + lap / 2, y + lap / 2) for y in ys for x in xs]
    for row, y in enumerate(ys[:-1], 1):
        for column, x in enumerate(xs[:-1], 1):
            told = f"row {row} of {len(ys) - 1}, column {column} of {len(xs) - 1}"
            low = y + TILE[1]
            yield DrillSheet((x, y, *TILE[:2]), (x + 14, low - 30), (x + 40, low - 10), crosses,
                             told)  # fmt: skip


def plans(case: Enclosure, fans: Iterable[tuple[Fan, Mount]]) -> Iterator[Mapping[str, Any]]:
    """A plane for all fans that sit in it, where the size of the enclosure is known: mm of paper
    from its upper left corner; `known`: whether the case says where along its height they sit."""
    planes: dict[str, list[tuple[Fan, Mount]]] = {}
    for fan, mount in fans if case.body.size is not None else ():
        if fan.at is not None and fan.direction is not None:
            facing, flat = direction(case, fan)
            seen = "In the view" if facing else "Seen along its height"
            seen = "Seen along its width" if flat is not None and flat[0] else seen
            planes.setdefault(seen, []).append((fan, mount))
    for seen, found in planes.items():
        size = [1e3 * float(each) for each in case.body.size or ()]
        (x, y), known = EXTENT[case.body.view], seen == "In the view"
        along = y if seen == "Seen along its width" else x  # which of the two runs across the paper
        wide, tall = size[along], size[y if known else 3 - x - y]
        scale, placed = scale_of(wide, tall, PLAN_ROOM), []
        for fan, mount in found:
            right, above = (1e3 * float(each) for each in fan.at or ())
            at = (above if along == y else right, tall - above if known else tall / 2)
            placed.append((fan.name, *(each / scale for each in (*at, mount.frame, mount.cutout))))
        yield {
            "seen": seen, "scale": scale, "wide": wide / scale, "tall": tall / scale,
            "known": known, "fans": placed,
            "edges": [""] * 3 if known else EDGES[case.body.view],
            "across": _spans((each[1] for each in placed), wide, scale),
            "down": _spans((each[2] for each in placed if known), tall, scale) if known else (),
        }  # fmt: skip


def _spans(stops: Iterable[Any], end: float, scale: float) -> list[tuple[float, float, str]]:
    """Dimensions from stop to stop, on paper and in words."""
    every = sorted({0.0, *stops, end / scale})
    return [(a, b, f"{(b - a) * scale:.4g}") for a, b in pairwise(every) if b - a > every[-1] / 100]


def points_view(found: Expected) -> Markup:
    """The map with the names of the points where they are."""
    tags: dict[str, str] = {}
    for each in found.points:
        if each.name[0] in "VPT":
            tags[each.of] = f"{tags[each.of]}  {each.name}" if each.of in tags else each.name
    drawing, _ = narrow_scene(found.solution, temperatures=NOTHING_WARM, tags=tags)
    wide, drawn = VIEW_SCALE * drawing.page.wide, Markup(svg(drawing, "Where the points are"))
    return Markup('<div style="width:{:.1f}mm">{}</div>').format(wide, drawn)
