"""Measured tables as constants of arrays, and the curves through them.

Tables of one key are padded to one length, so that a variant can pick any of them by its index.
Nothing here knows names; a table holds what its key declares, in SI.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

import numpy as np

from flownet.columns import Fit
from flownet.physics import losses
from flownet.schema.arrays import Array, Values, magnitude, used

Points = Sequence[tuple[float, float]]


class Curve(NamedTuple):
    """Fan curves as cubic pieces, at rated speed and reference density.

    The first piece carries the slope at zero on to flows below it, the one that begins at the last
    point carries the last slope on; pieces of padding begin at infinity.
    """

    starts: Array  # (fans, pieces, variants) [m3/s]
    cubic: Array  # (fans, pieces, 4, variants) highest power first, in flow - start
    last: Array  # (fans, variants) flow of the last point [m3/s]
    stall: Array  # (fans, variants) flow of the last local maximum, NaN without a rising piece


def curve(flow: Array, rise: Array, count: Array) -> Curve:
    """Cubic pieces through the points of fan curves; a straight line through two.

    Slopes at the points are those of F. N. Fritsch and J. Butland, SIAM Journal on Scientific and
    Statistical Computing 5(2), 1984, 300-304; at the ends one-sided of three points, C. Moler,
    Numerical Computing with Matlab, 2004; both as `scipy.interpolate.PchipInterpolator` has them:
    no dip appears that the points do not have. The first and the last are then held at or below
    zero.

    Parameters
    ----------
    flow : (fans, points, variants), rising, infinite where there are no more points
    rise : (fans, points, variants), finite everywhere; may be complex
    count : (fans, variants), how many points there are, at least 2
    """
    number = np.arange(flow.shape[1])[:, None]
    last = (count - 1)[:, None].astype(int)
    inner = number[:-1] < last
    gap = used(inner, flow[:, 1:]) - np.where(inner, flow[:, :-1], 0.0)
    steep = np.where(inner, (rise[:, 1:] - rise[:, :-1]) / gap, 0.0)
    slope = _slopes(gap, steep, number, last)
    first, second = slope[:, :-1], slope[:, 1:]
    bent = np.where(inner, (first + second - 2 * steep) / (gap * gap), 0.0)
    curved = np.where(inner, (3 * steep - 2 * first - second) / gap, 0.0)
    nothing = np.zeros_like(slope[:, :1])
    coefficients = (
        _cat(nothing, bent, nothing), _cat(nothing, curved, nothing),
        _cat(slope[:, :1], slope), _cat(rise[:, :1], rise),
    )  # fmt: skip
    starts = _cat(np.zeros_like(flow[:, :1]), flow)
    return Curve(
        starts,
        np.stack(np.broadcast_arrays(*coefficients), axis=2),
        np.take_along_axis(flow, last, axis=1)[:, 0],
        _stall(flow, steep, inner),
    )


def _cat(*parts: Array) -> Array:
    """Joined along the points, however many variants each part has."""
    width = max(part.shape[-1] for part in parts)
    rows = max(part.shape[0] for part in parts)
    return np.concatenate([np.broadcast_to(p, (rows, p.shape[1], width)) for p in parts], axis=1)


def _slopes(gap: Array, steep: Array, number: Array, last: Array) -> Array:
    """(fans, points, variants) slope at every point; 0 in the padding."""
    before, after = gap[:, :-1], gap[:, 1:]
    left, right = steep[:, :-1], steep[:, 1:]
    turns = left.real * right.real <= 0
    heavy, light = 2 * after + before, after + 2 * before
    mean = heavy / np.where(turns, 1.0, left) + light / np.where(turns, 1.0, right)
    middle = np.where(turns, 0.0, (heavy + light) / mean)
    end = last - 1
    begin = _end_slope(gap, steep, np.zeros_like(last), np.minimum(end, 1))
    finish = _end_slope(gap, steep, end, np.maximum(end - 1, 0))
    inside = _cat(begin, middle, finish)
    return np.where(number == last, finish, np.where(number < last, inside, 0.0))


def _end_slope(gap: Array, steep: Array, piece: Array, beside: Array) -> Array:
    """Slope at an end from its piece and the one beside it, not above zero."""
    h, g = np.take_along_axis(gap, piece, axis=1), np.take_along_axis(gap, beside, axis=1)
    m, k = np.take_along_axis(steep, piece, axis=1), np.take_along_axis(steep, beside, axis=1)
    found = ((2 * h + g) * m - h * k) / (h + g)
    bound = (m.real * k.real <= 0) & (magnitude(found.real) > 3 * magnitude(m.real))
    found = np.where(bound, 3 * m, found)
    return np.where((m.real < 0) & (found.real < 0), found, 0.0)


def _stall(flow: Array, steep: Array, inner: Array) -> Array:
    """(fans, variants) where the last rising piece ends; NaN where none rises."""
    ends = np.where(inner & (steep.real > 0), flow[:, 1:], 0.0)
    top = np.max(ends, axis=1)
    return np.where(top > 0, top, np.nan)


def power_lines(x: Array, points: Array, values: Array) -> Array:
    """Straight lines of log(value) over log(x) between points, the end values held outside.

    From a point at 0, which has no logarithm, log(value) goes straight over x itself.

    Parameters
    ----------
    x : (things, variants), may be complex
    points : (things, points, variants), from 0 up, padded with infinite ones
    values : (things, points, variants), above 0, padded with the last one
    """
    piece = np.sum(x.real[:, None] >= points, axis=1)[:, None] - 1
    final = points.shape[1] - 1
    low, high = np.where(piece < 0, 0, piece), np.where(piece >= final, final, piece + 1)
    begin, end = (np.take_along_axis(points, k, axis=1)[:, 0] for k in (low, high))
    first, second = (np.take_along_axis(values, k, axis=1)[:, 0] for k in (low, high))
    inside = (piece[:, 0] >= 0) & (end > begin) & (end < np.inf)
    plain, log = inside & (begin == 0), inside & (begin > 0)
    share = used(plain, x / used(plain, end))
    ratio, width = (used(log, a / used(log, begin)) for a in (x, end))
    found: Array = first * (second / first) ** np.where(log, np.log(ratio) / np.log(width), share)
    return found


def _fan_curve(tables: Sequence[Points]) -> Mapping[str, Array]:
    """flow, rise (tables, points) and count (tables,) for `curve`."""
    count = np.array([len(table) for table in tables])
    return {
        "flow": _padded([[flow for flow, _ in table] for table in tables], np.inf),
        "rise": _padded([[rise for _, rise in table] for table in tables]),
        "count": count,
    }


def _velocity_drop(tables: Sequence[Points]) -> Mapping[str, Array]:
    """linear [Pa s/m] and quadratic [Pa s2/m2] (tables,) at reference air."""
    linear, quadratic = np.array([split(table) for table in tables]).T
    return {"linear": linear, "quadratic": quadratic}


def split(points: Points) -> tuple[float, float]:
    """Least squares of drop = a v + b v^2 with neither a nor b below zero; one point gives b.

    What `scipy.optimize.lsq_linear` finds within (0, inf), without its import: with two unknowns
    the bounded optimum is the free one, or the better of the two with one unknown alone.
    """
    velocity, drop = np.array(points).T
    if len(velocity) == 1:
        return 0.0, float(drop[0] / velocity[0] ** 2)
    columns = np.column_stack((velocity, velocity * velocity))
    a, b = np.linalg.lstsq(columns, drop, rcond=None)[0]
    if a >= 0 and b >= 0:
        return float(a), float(b)
    alone = columns.T @ drop / np.sum(columns * columns, axis=0)
    missed = np.sum((columns * alone - drop[:, None]) ** 2, axis=0)
    return (float(alone[0]), 0.0) if missed[0] < missed[1] else (0.0, float(alone[1]))


def _bends(tables: Sequence[Points]) -> Mapping[str, Array]:
    """loss, diameters (tables,): sums over the bends of a duct of what is lost whatever its wall
    is like, and of the lengths whose friction is the rest."""
    at = [[sum(float(losses.rennels_bend(*bend, f)) for bend in each) for f in (0.0, 1.0)]
          for each in tables]  # fmt: skip
    loss, whole = np.array(at).T
    return {"loss": loss, "diameters": whole - loss}


def _resistance(tables: Sequence[Points]) -> Mapping[str, Array]:
    """velocity, resistance (tables, points) for `power_lines`."""
    return {
        "velocity": _padded([[velocity for velocity, _ in table] for table in tables], np.inf),
        "resistance": _padded([[resistance for _, resistance in table] for table in tables]),
    }


def _chain(tables: Sequence[Sequence[tuple[str, float]]]) -> Mapping[str, Array]:
    """resistance (tables, stations) [K/W], 0 where there are no more stations."""
    return {"resistance": _padded([[value for _, value in table] for table in tables], 0.0)}


def _padded(rows: Sequence[Sequence[float]], fill: Values | None = None) -> Array:
    """Rows of different length as one array; filled with each row's last value unless told."""
    width = max(len(row) for row in rows)
    return np.array(
        [[*row, *[row[-1] if fill is None else fill] * (width - len(row))] for row in rows], float
    )


FITS: dict[tuple[str, str], Fit] = {
    ("fan_type", "curve"): _fan_curve,
    ("filter", "velocity_drop"): _velocity_drop,
    ("slot", "velocity_drop"): _velocity_drop,
    ("duct", "bends"): _bends,
    ("part", "resistance_over_velocity"): _resistance,
    ("part", "chain"): _chain,
}
"""(kind, key) of every table that becomes constants -> the function that makes them."""


def nothing(kind: str, key: str) -> Mapping[str, Array]:
    """Constants of a table that nothing has, as a single row that broadcasts."""
    row = ("", 0.0) if key == "chain" else (1.0, 1.0)
    return {name: value[..., None] for name, value in FITS[kind, key]([(row,)]).items()}
