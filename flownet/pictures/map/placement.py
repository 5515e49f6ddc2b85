"""Spots of all branches; those whose place is not given keep clear of the others."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from flownet.pictures.map.geometry import (
    Edge,
    Ends,
    MapPlaces,
    Spot,
    across,
    direction,
    edges,
    given_point,
    given_spot,
    shared,
)
from flownet.pictures.scene.scene import Point


def spots(places: MapPlaces) -> dict[str, Spot]:
    """Where each branch with ends of its own, and each exchange, is drawn."""
    points = {path: given_point(ends.item) for path, ends in places.ends.items()}
    found = {path: given_spot(places, places.ends[path], point)
             for path, point in points.items() if point is not None}  # fmt: skip
    loose: dict[tuple[Point, Point], dict[str, Spot]] = {}
    for path in (path for path in places.ends if path not in found):
        spot = _put(places, places.ends[path], found.values())
        if spot.loose is None:
            found[path] = spot
        else:
            loose.setdefault(spot.loose[:2], {})[path] = spot
    fixed = [spot.point for spot in found.values()]
    for members in loose.values():
        found |= _seated(members, fixed)
    return {path: found[path] for path in places.ends}


def _seated(members: dict[str, Spot], fixed: Sequence[Point]) -> dict[str, Spot]:
    """Spots along one line, even where nothing is fixed, else as far from others as can be."""
    line = next(iter(members.values())).loose
    assert line is not None
    taken = [line.share(p) for p in fixed if line.distance(p) < 0.02 * line.length]
    found = {}
    for (path, spot), share in zip(members.items(), shares(len(members), taken), strict=True):
        point = line.at(share)
        ties = tuple(tuple((x, point[1]) for x, _ in course) for course in spot.ties)
        found[path] = spot._replace(point=point, ties=ties)
    return found


def shares(count: int, taken: Sequence[float]) -> list[float]:
    """Places for `count` spots along a line 0 ... 1 on which some are taken."""
    if not taken:
        return [(k + 0.5) / count for k in range(count)]
    used = [*taken]
    for _ in range(count):
        used.append(max((k / 48 for k in range(3, 46)), key=lambda share: min(
            1.5 * min(share, 1 - share), *(abs(share - other) for other in used))))  # fmt: skip
    return sorted(used[len(taken) :])


def _put(places: MapPlaces, ends: Ends, others: Iterable[Spot]) -> Spot:
    """Where a branch without `at` belongs: in an outer wall, else in the middle."""
    if ends.from_ in places.outlines and ends.to in places.outlines:
        return _between(places, ends, others)
    facing, flat = direction(places.case, ends.item)
    outward = ends.from_ in places.outlines
    name = ends.from_ if outward else ends.to
    edge = None if facing else _outer_edge(places, name, flat, outward)
    if edge is not None:
        edge = edge if outward else edge.turned
        return Spot(edge.at(0.5), edge.normal, edge, loose=edge)
    rect = places.outlines[name]
    level = Edge((rect.x0, rect.centre[1]), (rect.x1, rect.centre[1]), (0.0, 1.0))
    return Spot(rect.centre, flat or (0.0, 1.0), None, True, facing, loose=level)


def _between(places: MapPlaces, ends: Ends, others: Iterable[Spot]) -> Spot:
    """A branch between two compartments: in the wall they share, else between them."""
    a, b = places.outlines[ends.from_], places.outlines[ends.to]
    facing, flat = direction(places.case, ends.item)
    edge = shared(a, b, places.near)
    if edge is not None and not facing:
        return Spot(edge.at(0.5), edge.normal, edge, loose=edge)
    if not {ends.from_, ends.to} <= places.given.keys():
        return _tied(places, ends, others)
    (xa, ya), (xb, yb) = a.centre, b.centre
    middle = _clear(((xa + xb) / 2, (ya + yb) / 2), others, places)
    normal = flat or across(places, ends, middle)
    ties = () if ends.through else ((a.centre, middle, b.centre),)
    return Spot(middle, normal, None, True, facing, ends.through, ties)


def _outer_edge(places: MapPlaces, name: str, flat: Point | None, outward: bool) -> Edge | None:
    """The outer wall a branch to the outside belongs in; None where nothing says which."""
    all_edges = edges(places.outlines[name])
    if flat is not None:
        normal = flat if outward else (-flat[0], -flat[1])
        edge = next(edge for edge in all_edges.values() if edge.normal == normal)
        return None if places.inner(edge, name) else edge
    if name in places.given:
        return None
    return all_edges["right" if outward or places.given else "left"]


def _tied(places: MapPlaces, ends: Ends, others: Iterable[Spot]) -> Spot:
    """A branch between boxes that do not touch and of which one is not to scale."""
    a, b = places.outlines[ends.from_], places.outlines[ends.to]
    if not {ends.from_, ends.to} & places.given.keys():
        step = 0.12 * a.wide
        taken = [spot.point[0] for spot in others if spot.ties]
        x = max(t + 2 * step for t in (a.x1, b.x1, *taken))
        (_, ya), (_, yb) = a.centre, b.centre
        round_it = ((a.x1, ya), (x, ya), (x, yb), (b.x1, yb))
        return Spot((x, (ya + yb) / 2), (0.0, 1.0 if yb > ya else -1.0), ties=(round_it,))
    way, placed, free = (1.0, a, b) if ends.from_ in places.given else (-1.0, b, a)
    x, y = free.x0 - 0.25 * free.wide, free.centre[1]
    course = ((placed.x1, y), (x, y), (free.x0, y))
    line = Edge((x, free.y0), (x, free.y1), (1.0, 0.0))
    return Spot((x, y), (way, 0.0), ties=(course,), loose=line)


def _clear(point: Point, others: Iterable[Spot], places: MapPlaces) -> Point:
    """The point, moved aside while another spot stands there."""
    step, taken = 4 * places.near, [spot.point for spot in others]
    while any(abs(point[0] - x) < step and abs(point[1] - y) < step for x, y in taken):
        point = (point[0] + step, point[1])
    return point
