"""From spots in the view to marks on the page: how long each is along its wall."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import Any

from flownet.enclosure.enclosure import Enclosure
from flownet.pictures.map.geometry import Ends, Spot, given_spot, host
from flownet.pictures.map.layout import MapLayout
from flownet.pictures.map.placement import spots
from flownet.pictures.scene.scene import Point
from flownet.pictures.scene.symbols import DEEP, LEAST, LOADED, Mark
from flownet.pictures.scene.words import known

FRAME = 1.15  # a fan's frame over the diameter of its flow area, where the frame is not given
NO_SCALE = 1.5  # of the least length, where nothing is to scale
UNKNOWN_SLOT = 0.3  # half the width of a slot without a gap, of the distance to the next
SERIES_GAP = 1.5  # between elements in one stream


def marks(layout: MapLayout) -> dict[str, Mark]:
    """Every mark on the page: branches, exchanges, and what stands in series with a branch."""
    found = {
        path: _mark(layout, layout.ends[path], spot) for path, spot in spots(layout.places).items()
    }
    found = {path: _kept_apart(mark, found.values()) for path, mark in found.items()}
    for path, item in layout.solution.case.branches.items():
        on = host(item)
        if on is not None:
            found[path], found[on] = _in_series(layout, path, item, found[on])
    return found


def _mark(layout: MapLayout, ends: Ends, spot: Spot) -> Mark:
    item, kind = ends.item, ends.item.KIND
    scale, case = layout.scale, layout.solution.case
    half = max(scale * size_along(case, item) / 2, LEAST[kind] / 2)
    if not _to_scale(layout, ends):
        half = NO_SCALE * LEAST[kind] / 2
    mark = Mark(
        ends.path, kind, item, layout.page(spot.point), spot.normal, half, _deep(item, scale), spot
    )
    if kind == "fan":
        mark = mark._replace(still=layout.solution.fans[ends.path].region == "stopped")
    route = getattr(item, "route", None)
    if route:
        course = tuple(layout.page((p[0], p[1])) for p in route)
        mark = mark._replace(route=course, half=min(half, 8.0))
    if spot.edge is None:
        return mark._replace(wall=(half * 2, half * 2))
    return _within_wall(mark, layout, spot)


def _to_scale(layout: MapLayout, ends: Ends) -> bool:
    """Whether the compartments a branch joins have outlines of their own."""
    found = (layout.places.outlines.get(name) for name in (ends.from_, ends.to))
    return all(outline.given for outline in found if outline is not None)


def _within_wall(mark: Mark, layout: MapLayout, spot: Spot) -> Mark:
    """No longer than the wall; a baffle as long as it, its gap moved inside."""
    assert spot.edge is not None
    start, end = layout.page(spot.edge.start), layout.page(spot.edge.end)
    axis = 0 if mark.normal[0] == 0 else 1
    before, after = abs(mark.at[axis] - start[axis]), abs(end[axis] - mark.at[axis])
    length = before + after
    if mark.kind == "baffle":
        item = mark.item
        share = item.open_area / item.cross_section if item.present else 1.0
        half = max(share * length / 2, min(LEAST["baffle"] / 2, length / 4))
        half = min(half, length / 2)
        shift = max(half - before, 0.0) - max(half - after, 0.0)
        at = mark.place(shift, 0.0)
        return mark._replace(at=at, half=half, wall=(before + shift, after - shift))
    if mark.kind == "slot":
        return mark
    return mark._replace(half=min(mark.half, max(length / 2 - 1.0, 3.0)))


def size_along(case: Enclosure, item: Any) -> float:
    """Length of a mark along its wall in metres; 0 where nothing gives one.

    A fan's frame; a slot's gap (its width in a side view); a duct's diameter; else the side of a
    square of the area, as no case gives more.
    """
    if item.KIND == "fan":
        rating = case.rating(item)
        if rating.frame is not None:
            return float(rating.frame[0])
        return FRAME * math.sqrt(rating.flow_area * 4 / math.pi)
    if item.KIND == "slot":
        across = item.width if case.body.view == "side" else item.gap * item.count
        return float(across) if known(across) else math.sqrt(item.area)
    if item.KIND == "duct":
        size = item.diameter if known(item.diameter) else min(item.section)
        return float(size)
    if item.KIND in ("opening", "vent", "filter"):
        return math.sqrt(item.area)
    return 0.0


def _deep(item: Any, scale: float) -> float:
    """Half the thickness of a mark across its wall; a slot's length is to scale."""
    deep = DEEP[item.KIND]
    if item.KIND == "filter" and item.fouling > 1:
        return deep + LOADED
    if item.KIND == "slot" and known(item.length):
        return float(max(item.length * scale / 2, 5.0))
    return deep


def _kept_apart(mark: Mark, others: Iterable[Mark]) -> Mark:
    """A mark that would touch its neighbour only because of its least length is made shorter."""
    axis = 0 if mark.normal[0] == 0 else 1
    gaps = [
        abs(mark.at[axis] - other.at[axis])
        for other in others
        if other.path != mark.path
        and abs(mark.at[1 - axis] - other.at[1 - axis]) < 2.0
        and (other.normal[0] == 0) == (mark.normal[0] == 0)
    ]
    nearest = min([gap for gap in gaps if gap > 0.5], default=0.0)
    if not nearest:
        return mark
    room = nearest if mark.kind == "slot" else 0.0
    least = LEAST[mark.kind] / 2
    half = min(mark.half, max(nearest / 2 - 0.8, 1.2)) if mark.half <= least else mark.half
    if mark.kind == "slot":
        most = nearest / 2 - 0.8 if known(mark.item.gap) else UNKNOWN_SLOT * nearest
        half = min(half, max(most, 1.2))
    return mark._replace(half=half, room=room)


def _in_series(layout: MapLayout, path: str, item: Any, main: Mark) -> tuple[Mark, Mark]:
    """An element in another branch's air: at its own `at`, else on the side its host is mounted to
    draw from, whichever way the air goes."""
    deep = _deep(item, layout.scale)
    half = max(layout.scale * size_along(layout.solution.case, item) / 2, LEAST[item.KIND] / 2)
    ends = Ends(path, item, str(main.item.from_), str(main.item.to))
    if item.at is not None:
        spot = given_spot(layout.places, ends, item.at)
        at = layout.page(spot.point)
        if not _near(at, main.at, main.half + main.deep):
            return Mark(path, item.KIND, item, at, spot.normal, half, deep, spot), main
    front = 1.0 if getattr(main.item, "mounted", "") == "reversed" else -1.0
    stack = main.before if front < 0 else main.after
    at = main.place(0.0, front * (main.deep + stack + deep + SERIES_GAP))
    thicker = stack + 2 * deep + SERIES_GAP
    main = main._replace(before=thicker) if front < 0 else main._replace(after=thicker)
    own = main.spot._replace(framed=False, ties=())
    half = min(half, max(main.half, LEAST[item.KIND] / 2))
    return Mark(path, item.KIND, item, at, main.normal, half, deep, own), main


def _near(a: Point, b: Point, reach: float) -> bool:
    return abs(a[0] - b[0]) <= reach and abs(a[1] - b[1]) <= reach
