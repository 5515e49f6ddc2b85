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
from flownet.handover.expected import Expected, TestPoint
from flownet.pictures.caption import Units
from flownet.pictures.map import arrows
from flownet.pictures.map.geometry import EXTENT, direction, given_point
from flownet.pictures.map.layout import MapLayout, marks
from flownet.pictures.map.room import Room
from flownet.pictures.scene import look, scene, symbols
from flownet.pictures.scene.scene import Drawing, Layer, Point, Rect
from flownet.pictures.scene.svg import svg
from flownet.results.streams import is_outside

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
VIEW_BODY, VIEW_SCALE = (230.0, 400.0), 0.29  # points; mm of paper to one
TAG, TAG_OFF = (28.0, 16.0), 34.0  # points, of the name of a test point; from its mark


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


# --- where the points are -------------------------------------------------------------------------


def points_view(found: Expected) -> Markup:
    """The enclosure with its marks, as on the map, and the names of the points where they are."""
    layout = MapLayout(found.solution, Units("metric"), (VIEW_BODY, VIEW_BODY))
    drawing, room, every = Drawing(margin=4.0), Room(layout.body), marks(layout)
    for rect in layout.rects.values():
        drawing.area(Layer.WALL, rect, None, edge=look.INK, width=look.WALL)
        room.add(*scene.runs([*rect.corners, rect.corners[0]]))
    for mark in every.values():
        low = mark.kind in ("baffle", "duct")
        drawing.add(Layer.WALL if low else Layer.MARK, *symbols.shapes(mark))
        room.add(mark.rect)
    for path, wide in arrows.widths(layout.flows, every).items():
        if wide:
            arrow = arrows.arrow(every[path], layout.flows[path], wide, 60.0, False, False)
            drawing.add(Layer.ARROW, *arrows.shapes(arrow))
            room.add(arrow.rect)
    for name, rect in layout.rects.items():
        told = scene.written(name, look.BODY, False, rect.wide - 12.0, look.QUIET)[:2]
        size = max(each.wide for each in told), scene.block_height(told)
        if (free := room.place(*size, rect.grown(-4.0), (rect.x0, rect.y1))) is not None:
            room.add(drawing.write(told, free.x0, free.y1))
    for each in found.points:
        if each.name[0] in "VPT":
            _tag(drawing, room, layout, every, each)
    wide, drawn = VIEW_SCALE * drawing.page.wide, Markup(svg(drawing, "Where the points are"))
    return Markup('<div style="width:{:.1f}mm">{}</div>').format(wide, drawn)


def _tag(
    drawing: Drawing, room: Room, layout: MapLayout, every: Mapping[str, symbols.Mark],
    each: TestPoint,
) -> None:  # fmt: skip
    """The name of a point in a box, free of others, with a line to where it is."""
    kind, _, name = each.of.partition(".")
    within, home, near = layout.body.grown(60.0), None, None
    if each.of in every:
        mark = every[each.of]
        out = TAG_OFF if is_outside(str(getattr(mark.item, "to", ""))) else -TAG_OFF
        off = -0.4 if each.name[0] == "P" else 1.6 if each.name == "T0" else 1.0
        home, near = mark.at, mark.place(0.0, off * out)
    elif kind == "compartment":
        within, near = layout.rects[name], layout.rects[name].centre
    elif kind == "part" and (at := given_point(layout.solution.case.parts[name])) is not None:
        home = near = layout.page(at)
        drawing.area(Layer.MARK, scene.square(home, 2.0), look.INK)
    if near is None:
        return
    (wide, tall), (x, y) = TAG, (near[0] - TAG[0] / 2, near[1] + TAG[1] / 2)
    rect = room.place(wide, tall, within, (x, y)) or Rect(x, y - tall, x + wide, y)
    room.add(rect.grown(2.0))
    if home is not None:
        drawing.add(Layer.LEADER, scene.line([home, rect.centre], look.QUIET, look.HAIR))
    drawing.area(Layer.PLATE, rect, look.WHITE, edge=look.INK, width=look.LINE)
    drawing.add(Layer.LETTER, scene.Letters(rect.centre[0], rect.y0 + 4.5, each.name, look.HEAD,
                                            True, align="center"))  # fmt: skip
