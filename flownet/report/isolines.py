"""Lines of equal value through a grid of values, straight within each cell's edges."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

Point = tuple[float, float]
Values = Sequence[Sequence[float]]  # [x][y]
Edge = tuple[int, int, int]  # node, and 0: along x, 1: along y


def isolines(
    xs: Sequence[float], ys: Sequence[float], values: Values, level: float
) -> list[list[Point]]:
    """Lines along which the values, linear between neighbours, are `level`.

    Cells with a value that is not finite have no line. Where a line could pass a cell two ways, the
    mean of its corners decides.
    """
    ends: dict[Edge, list[Edge]] = {}
    for i in range(len(xs) - 1):
        for j in range(len(ys) - 1):
            for a, b in _cell(values, level, i, j):
                ends.setdefault(a, []).append(b)
                ends.setdefault(b, []).append(a)
    return [[_point(xs, ys, values, level, edge) for edge in chain] for chain in _chains(ends)]


def _cell(values: Values, level: float, i: int, j: int) -> Iterator[tuple[Edge, Edge]]:
    """The pieces of a line in one cell, from edge to edge."""
    corners = (values[i][j], values[i + 1][j], values[i + 1][j + 1], values[i][j + 1])
    if not all(map(math.isfinite, corners)):
        return
    above = [value >= level for value in corners]
    edges: list[Edge] = [(i, j, 0), (i + 1, j, 1), (i, j + 1, 0), (i, j, 1)]
    crossed = [k for k in range(4) if above[k] != above[(k + 1) % 4]]
    if len(crossed) == 2:
        yield edges[crossed[0]], edges[crossed[1]]
    elif crossed:
        middle = sum(corners) / 4 >= level
        shift = 0 if above[0] == middle else 3  # which two corners are cut off
        yield edges[shift], edges[(shift + 1) % 4]
        yield edges[(shift + 2) % 4], edges[(shift + 3) % 4]


def _chains(ends: dict[Edge, list[Edge]]) -> Iterator[list[Edge]]:
    """Pieces joined end to end: open lines first, then rings."""
    left = {edge: list(others) for edge, others in ends.items()}
    for start in sorted(left, key=lambda edge: (len(left[edge]) != 1, edge)):
        while left[start]:
            chain = [start]
            while left[chain[-1]]:
                other = left[chain[-1]].pop(0)
                left[other].remove(chain[-1])
                chain.append(other)
            yield chain


def _point(
    xs: Sequence[float], ys: Sequence[float], values: Values, level: float, edge: Edge
) -> Point:
    i, j, along_y = edge
    k, m = (i, j + 1) if along_y else (i + 1, j)
    share = (level - values[i][j]) / (values[k][m] - values[i][j])
    return xs[i] + share * (xs[k] - xs[i]), ys[j] + share * (ys[m] - ys[j])


def between(xs: Sequence[float], ys: Sequence[float], values: Values, at: Point) -> float:
    """The value at a place, linear in both directions within its cell; NaN where none is known."""
    i, j = _place(xs, at[0]), _place(ys, at[1])
    s = (at[0] - xs[i]) / (xs[i + 1] - xs[i])
    t = (at[1] - ys[j]) / (ys[j + 1] - ys[j])
    low = values[i][j] * (1 - s) + values[i + 1][j] * s
    high = values[i][j + 1] * (1 - s) + values[i + 1][j + 1] * s
    return low * (1 - t) + high * t


def _place(along: Sequence[float], value: float) -> int:
    for k in range(len(along) - 2):
        if value < along[k + 1]:
            return k
    return len(along) - 2
