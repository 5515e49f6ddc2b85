"""Spots of all branches; those whose place is not given keep clear of the others."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import NamedTuple

from flownet.pictures.map.geometry import (
    Edge,
    Ends,
    MapPlaces,
    Outline,
    Spot,
    across,
    direction,
    edges,
    given_point,
    given_spot,
    joined,
    shared,
)
from flownet.pictures.scene.scene import Point

Run = tuple[Point, Point]  # the two ends of a wall, or of a line that spots stand on


class Seat(NamedTuple):
    """A spot that still has to be moved along its line."""

    line: Edge
    spot: Spot


def spots(places: MapPlaces) -> dict[str, Spot]:
    """Where each branch with ends of its own, and each exchange, is drawn."""
    found: dict[str, Spot] = {}
    seats: dict[Run, list[tuple[str, Seat]]] = {}
    for ends in joined(places.case):
        point = given_point(ends.item)
        if point is not None:
            found[ends.path] = given_spot(places, ends, point)
    for ends in joined(places.case):
        if ends.path in found:
            continue
        made = _loose(places, ends, found.values())
        if isinstance(made, Spot):
            found[ends.path] = made
        else:
            seats.setdefault(made.line[:2], []).append((ends.path, made))
    fixed = [spot.point for spot in found.values()]
    for members in seats.values():
        found |= _seated(members, fixed)
    return {ends.path: found[ends.path] for ends in joined(places.case)}


def _seated(members: Sequence[tuple[str, Seat]], fixed: Sequence[Point]) -> dict[str, Spot]:
    """Spots along one line, even where nothing is fixed, else as far from others as can be."""
    line = members[0][1].line
    taken = [line.share(p) for p in fixed if line.distance(p) < 0.02 * line.length]
    found = {}
    for (path, seat), share in zip(members, shares(len(members), taken), strict=True):
        point = line.at(share)
        ties = tuple(tuple((x, point[1]) for x, _ in course) for course in seat.spot.ties)
        found[path] = seat.spot._replace(point=point, ties=ties)
    return found


def shares(count: int, taken: Sequence[float]) -> list[float]:
    """MapPlaces for `count` spots along a line 0 ... 1 on which some are taken."""
    if not taken:
        return [(k + 0.5) / count for k in range(count)]
    found: list[float] = []
    tries = [k / 48 for k in range(3, 46)]
    for _ in range(count):
        used = [*taken, *found]

        def clear(share: float, used: Sequence[float] = used) -> float:
            ends = min(share, 1 - share) * 1.5
            return min(ends, *(abs(share - other) for other in used))

        found.append(max(tries, key=clear))
    return sorted(found)


def _loose(places: MapPlaces, ends: Ends, others: Iterable[Spot]) -> Spot | Seat:
    """Where a branch without `at` belongs."""
    a, b = places.outlines.get(ends.from_), places.outlines.get(ends.to)
    if a is not None and b is not None:
        return _between(places, ends, a, b, others)
    facing, flat = direction(places.case, ends.item)
    name = ends.from_ if a is not None else ends.to
    edge = None if facing else _outer_edge(places, name, flat, outward=a is not None)
    if edge is not None:
        if a is None:
            edge = edge._replace(normal=(-edge.normal[0], -edge.normal[1]))
        return Seat(edge, Spot(edge.at(0.5), edge.normal, edge))
    rect = places.outlines[name].rect
    level = Edge((rect.x0, rect.centre[1]), (rect.x1, rect.centre[1]), (0.0, 1.0))
    return Seat(level, Spot(rect.centre, flat or (0.0, 1.0), None, True, facing))


def _between(
    places: MapPlaces, ends: Ends, a: Outline, b: Outline, others: Iterable[Spot]
) -> Spot | Seat:
    """A branch between two compartments: in the wall they share, else between them."""
    facing, flat = direction(places.case, ends.item)
    edge = shared(a.rect, b.rect, places.near)
    if edge is not None and not facing:
        return Seat(edge, Spot(edge.at(0.5), edge.normal, edge))
    if not (a.given and b.given):
        return _tied(a, b, others)
    (xa, ya), (xb, yb) = a.rect.centre, b.rect.centre
    middle = _clear(((xa + xb) / 2, (ya + yb) / 2), others, places)
    normal = flat or across(places, ends, middle)
    if places.through(ends.from_, ends.to):
        return Spot(middle, normal, None, True, facing, True)
    return Spot(middle, normal, None, True, facing, ties=((a.rect.centre, middle, b.rect.centre),))


def _outer_edge(places: MapPlaces, name: str, flat: Point | None, outward: bool) -> Edge | None:
    """The outer wall a branch to the outside belongs in; None where nothing says which."""
    inside = places.outlines[name]
    all_edges = edges(inside.rect)
    if flat is not None:
        normal = flat if outward else (-flat[0], -flat[1])
        edge = next(edge for edge in all_edges.values() if edge.normal == normal)
        return None if places.inner(edge, name) else edge
    if inside.given:
        return None
    alone = not any(o.given for o in places.outlines.values())
    return all_edges["right" if outward or not alone else "left"]


def _tied(a: Outline, b: Outline, others: Iterable[Spot]) -> Spot | Seat:
    """A branch between boxes that do not touch and of which one is not to scale."""
    if not a.given and not b.given:
        step = 0.12 * a.rect.wide
        taken = [spot.point[0] for spot in others if spot.ties]
        x = max([max(a.rect.x1, b.rect.x1) + 2 * step, *(t + 2 * step for t in taken)])
        (_, ya), (_, yb) = a.rect.centre, b.rect.centre
        round_it = ((a.rect.x1, ya), (x, ya), (x, yb), (b.rect.x1, yb))
        return Spot((x, (ya + yb) / 2), (0.0, 1.0 if yb > ya else -1.0), ties=(round_it,))
    placed, free = (a, b) if a.given else (b, a)
    x = free.rect.x0 - 0.25 * free.rect.wide
    line = Edge((x, free.rect.y0), (x, free.rect.y1), (1.0, 0.0))
    course = ((placed.rect.x1, line.at(0.5)[1]), line.at(0.5), (free.rect.x0, line.at(0.5)[1]))
    return Seat(line, Spot(line.at(0.5), (1.0 if a.given else -1.0, 0.0), ties=(course,)))


def _clear(point: Point, others: Iterable[Spot], places: MapPlaces) -> Point:
    """The point, moved aside while another spot stands there."""
    step = 4 * places.near
    taken = [spot.point for spot in others]
    while any(abs(point[0] - x) < step and abs(point[1] - y) < step for x, y in taken):
        point = (point[0] + step, point[1])
    return point
