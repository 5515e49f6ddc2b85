"""Whether limits hold, as arrays over pairs: which limit decides, and by how much."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from flownet.arrays import Array, Integers
from flownet.solution import Limit
from flownet.studies.pairs import Pairs

STATUSES = ("unsolved", "over", "unknown", "tight", "ok")  # worst first
UNSOLVED, OVER, UNKNOWN, TIGHT, OK = range(len(STATUSES))
THERMAL = ("part", "air")
ALIKE = 6  # decimals of a margin (K, dB, h) that rank; the rest is round-off


class Held(NamedTuple):
    """(pairs,) each: the limit that decides, and how a pair stands because of it."""

    limits: tuple[Limit, ...]
    row: Integers  # which of `limits` decides; -1 where there is none
    margin: Array  # of that limit, in its own unit; NaN without
    status: Integers  # index into STATUSES
    order: Integers  # 0 for the worst pair of all: not solved, then broken, then least margin


def held(pairs: Pairs) -> Held:
    """How every pair stands.

    A broken temperature limit decides; else a broken one of another kind, that which is broken by
    the largest share of its bound; else the temperature limit with the least margin.
    """
    limits, count = pairs.limits, len(pairs)
    margins = np.array([item.margin for item in limits]).reshape(len(limits), count)
    bounds = np.array([item.bound for item in limits]).reshape(len(limits), count)
    thermal = np.array([item.limit in THERMAL for item in limits], bool)
    with np.errstate(divide="ignore", invalid="ignore"):
        shares = margins / np.abs(bounds)
    warm, other = _least(margins, thermal), _least(shares, ~thermal)
    broken = _at(margins, other) < 0
    row = np.where(warm < 0, other, np.where((_at(margins, warm) >= 0) & broken, other, warm))
    margin = _at(margins, row)
    missing = (~np.isnan(bounds) & np.isnan(margins)).any(axis=0)
    hot = np.array([row >= 0 and thermal[row] for row in row], bool)
    status = np.where(hot & (margin < pairs.tight), TIGHT, OK)
    status = np.where(missing | (row < 0), UNKNOWN, status)
    status = np.where(margin < 0, OVER, status)
    status = np.where(pairs.ok, status, UNSOLVED)
    shown = np.round(np.nan_to_num(margin), ALIKE)  # of equal ones the first is the worst
    ranked = np.lexsort((shown, ~hot, status))
    order = np.empty(count, int)
    order[ranked] = np.arange(count)
    return Held(limits, row, margin, status, order)


def _least(margins: Array, rows: Array) -> Integers:
    """(pairs,) the row with the least value among some; -1 where none has one."""
    if not rows.any() or not margins.size:
        return np.full(margins.shape[1], -1)
    shown = np.where(rows[:, None] & ~np.isnan(margins), margins, np.inf)
    found: Integers = np.where(np.isinf(shown).all(axis=0), -1, np.argmin(shown, axis=0))
    return found


def _at(margins: Array, row: Integers) -> Array:
    if not margins.size:
        return np.full(margins.shape[1], np.nan)
    picked = np.take_along_axis(margins, np.maximum(row, 0)[None], axis=0)[0]
    return np.where(row >= 0, picked, np.nan)
