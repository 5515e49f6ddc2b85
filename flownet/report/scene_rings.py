"""Numbered rings where fans work, and the table that tells them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any, NamedTuple

from flownet import quantities as q
from flownet.report import look, scene_words
from flownet.report.scene import Drawing, Layer, Point, Rect, Shape, Words, line
from flownet.report.scene_letters import width
from flownet.report.scene_plot import Plot, Room
from flownet.report.scene_words import Units

RING = 6.5
NEAR = 3.0  # points of the page: rings of one state that are nearer are one
GAP = 14.0  # between columns of the table
HEADS = ("", "filters", "fans", "flow", "rise", "region", "speed")


class Ring(NamedTuple):
    """A number on the picture and what is said about it below."""

    at: Point
    points: tuple[Any, ...]


# --- rings --------------------------------------------------------------------------------------


def rings_of(curves: Any, plot: Plot) -> list[Ring]:
    """Points by state; equal fans, which work at one place, have one ring."""
    found: list[Ring] = []
    for point in curves.points:
        at = plot.at(point.flow, point.rise)
        single = len(point.fans) == 1
        for index, ring in enumerate(found):
            other = ring.points[0]
            alike = other.loaded == point.loaded and (len(other.fans) == 1) == single
            if alike and single and math.dist(ring.at, at) < NEAR:
                found[index] = ring._replace(points=(*ring.points, point))
                break
        else:
            found.append(Ring(at, (point,)))
    return found


def ring_at(drawing: Drawing, at: Point, number: str, room: Room) -> None:
    """A numbered ring at its point, or beside it where another one is."""
    for away in (0.0, 17.0, 24.0, 32.0, 42.0, 54.0):
        for turn in (1, 3, 5, 7, 0, 2, 4, 6):
            x = at[0] + away * math.cos(turn * math.pi / 4)
            y = at[1] + away * math.sin(turn * math.pi / 4)
            rect = Rect(x, y, x, y).grown(RING + 1.0)
            far = away == 0.0 or room.crossed(rect) < 8
            if room.free(rect, lines=False) and far:
                spot = Rect(*at, *at).grown(2.5)
                bare = bool(away) and room.free(spot, lines=False)
                put_ring(drawing, at, (x, y), number, spot=bare)
                room.taken.append(rect)
                if away:
                    room.taken.append(spot)
                    room.line([at, (x, y)])
                return
    put_ring(drawing, at, at, number)  # nowhere free: over what is there


def put_ring(drawing: Drawing, at: Point, centre: Point, number: str, spot: bool = False) -> None:
    """A ring with its number, and a thin line to its point where it stands beside that.

    `spot`: the point itself is marked too, where no other ring covers it.
    """
    if centre != at:
        drawing.add(Layer.ARROW, line([at, centre], width=look.HAIR))
    if spot:
        drawing.add(Layer.PLATE, Shape(_circle(at, 1.8), look.PAPER, look.INK, look.THIN))
    drawing.add(Layer.PLATE, Shape(_circle(centre, RING), look.PAPER, look.INK, look.LINE))
    words = Words(centre[0], centre[1] - 2.6, number, look.SMALL, True, align="centre")
    drawing.add(Layer.LETTER, words)


def _circle(centre: Point, size: float) -> tuple[Point, ...]:
    turns = [i * math.pi / 16 for i in range(32)]
    return tuple((centre[0] + size * math.cos(t), centre[1] + size * math.sin(t)) for t in turns)


# --- below --------------------------------------------------------------------------------------


def _rows(curves: Any, rings: Sequence[Ring], units: str) -> list[tuple[str, ...]]:
    shown, filters = Units(units), len(curves.systems) > 1
    found: list[tuple[str, ...]] = []
    for number, ring in enumerate(rings, 1):
        first = ring.points[0]
        region = scene_words.REGION_WORDS.get(first.region, first.region)
        state = ("loaded" if first.loaded else "clean") if filters else ""
        found.append((
            str(number), state, _fans(curves, ring),
            shown.span(q.VOLUME_FLOW, [point.flow for point in ring.points]),
            shown.text(q.PRESSURE, first.rise), region, speed(first, shown),
        ))  # fmt: skip
    return found


def _fans(curves: Any, ring: Ring) -> str:
    paths = [path for point in ring.points for path in point.fans]
    if len(ring.points[0].fans) > 1:
        return f"{every(paths)} together"
    if len(paths) > 2:
        return f"{paths[0]} and {len(paths) - 1} more, each"
    return ", ".join(paths) + (", each" if len(paths) > 1 else "")


def speed(point: Any, shown: Units) -> str:
    if math.isnan(point.speed_ratio):
        return ""
    ratio = f"{100 * point.speed_ratio:.3g} %"
    if math.isnan(point.rotation):
        return ratio
    return f"{shown.text(q.SPEED, point.rotation)}, {ratio}"


def _columns(rows: Sequence[tuple[str, ...]]) -> list[float]:
    """Width of each column; nothing for one without a word."""
    found = []
    for i, head in enumerate(HEADS):
        if not any(row[i] for row in rows):
            found.append(0.0)
            continue
        widest = max(width(row[i], look.BODY) for row in rows)
        found.append(max(width(head, look.SMALL), widest) + GAP)
    return found


def table_wide(curves: Any, rings: Sequence[Ring], units: str) -> float:
    return sum(_columns(_rows(curves, rings, units)))


def table(drawing: Drawing, curves: Any, rings: Sequence[Ring], top: float, units: str) -> float:
    """The rings in words; returns its lower end."""
    rows = _rows(curves, rings, units)
    sizes, step = _columns(rows), 2.1 * RING + 1.5
    lefts = [sum(sizes[:i]) for i in range(len(sizes))]
    for i, head in enumerate(HEADS):
        if sizes[i]:
            x, align = _edge(i, lefts[i], sizes[i])
            words = Words(x, top, head, look.SMALL, colour=look.QUIET, align=align)
            drawing.add(Layer.LETTER, words)
    for number, row in enumerate(rows, 1):
        y = top - step * number
        put_ring(drawing, (RING, y + 2.8), (RING, y + 2.8), row[0])
        for i, text in enumerate(row[1:], 1):
            x, align = _edge(i, lefts[i], sizes[i])
            if text:
                drawing.add(Layer.LETTER, Words(x, y, text, look.BODY, align=align))
    return top - step * len(rows) - 8.0


def _edge(column: int, left: float, size: float) -> tuple[float, str]:
    """Numbers end at the right of their column, words begin at its left."""
    return (left + size - GAP, "right") if HEADS[column] in ("flow", "rise") else (left, "left")


def every(fans: Sequence[str]) -> str:
    return "both" if len(fans) == 2 else f"all {len(fans)}"
