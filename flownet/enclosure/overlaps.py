"""Which of many rectangles overlap, swept from left to right."""

from __future__ import annotations

from bisect import bisect_left, insort
from collections.abc import Iterator, Sequence
from heapq import heappop, heappush
from typing import NamedTuple

Rectangle = tuple[float, float, float, float]  # x, y, width, height
MOST = 100  # pairs after which no more are looked for


class Overlap(NamedTuple):
    """Two rectangles, by their place among all, and what they share."""

    first: int
    second: int
    width: float
    height: float


class _Box(NamedTuple):
    low: float  # y
    high: float
    right: float
    place: int


def overlaps(rectangles: Sequence[Rectangle], touch: float, most: int = MOST) -> list[Overlap]:
    """Pairs that share more than `touch` in width and in height, up to `most` of them.

    Rectangles go by in the order of their left sides. Those that are still open and apart from one
    another stand in the order of their heights, so that only neighbours are looked at; the few that
    overlap are looked at one by one. Time n log n where little overlaps.
    """
    found: list[Overlap] = []
    for one, other in _pairs(rectangles, touch):
        found.append(_shared(rectangles, min(one, other), max(one, other)))
        if len(found) == most:
            break
    return found


def _pairs(rectangles: Sequence[Rectangle], touch: float) -> Iterator[tuple[int, int]]:
    half = touch / 2
    apart: list[_Box] = []  # open and without overlap, by height
    ends: list[tuple[float, _Box]] = []
    loose: list[_Box] = []  # open, overlapping one of the others
    for place in sorted(range(len(rectangles)), key=lambda i: rectangles[i][0]):
        x, y, width, height = rectangles[place]
        if width <= touch or height <= touch:
            continue
        box = _Box(y + half, y + height - half, x + width - half, place)
        while ends and ends[0][0] <= x + half:
            ended = heappop(ends)[1]
            del apart[bisect_left(apart, ended)]
        loose = [each for each in loose if each.right > x + half]
        met = [*_neighbours(apart, box), *(e for e in loose if _meet(e, box))]
        yield from ((each.place, place) for each in met)
        if met:
            loose.append(box)
        else:
            insort(apart, box)
            heappush(ends, (box.right, box))


def _neighbours(apart: list[_Box], box: _Box) -> Iterator[_Box]:
    """Those of boxes in order that share heights with another."""
    place = max(bisect_left(apart, box) - 1, 0)
    while place < len(apart) and apart[place].low < box.high:
        if _meet(apart[place], box):
            yield apart[place]
        place += 1


def _meet(one: _Box, other: _Box) -> bool:
    return one.low < other.high and other.low < one.high


def _shared(rectangles: Sequence[Rectangle], one: int, other: int) -> Overlap:
    (x, y, wide, tall), (u, v, broad, high) = rectangles[one], rectangles[other]
    width = min(x + wide, u + broad) - max(x, u)
    return Overlap(one, other, width, min(y + tall, v + high) - max(y, v))
