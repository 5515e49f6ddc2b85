"""The array types of the package; sizes and parts of numbers that keep complex steps alive."""

from __future__ import annotations

from typing import Any, TypeAlias, TypeVar

import numpy as np
from numpy.typing import NDArray

Array: TypeAlias = NDArray[Any]
"""Real numbers, or complex ones while a derivative is taken; variants are the last axis."""

Integers: TypeAlias = NDArray[np.intp]
"""Indices and counts."""

Booleans: TypeAlias = NDArray[np.bool_]
"""Flags."""

Tree = TypeVar("Tree")

Values: TypeAlias = Array | float
"""What the pure functions accept: an array, or a number that broadcasts like one."""


def magnitude(x: Values, rounding: float = 0.0) -> Array:
    """|x| of any shape, decided on the real part, so that an imaginary step passes through.

    `rounding` above 0: sqrt(x^2 + rounding^2), which is smooth through zero and at most `rounding`
    off.
    """
    if rounding:
        smooth: Array = np.sqrt(x * x + rounding * rounding)
        return smooth
    return np.where(x.real >= 0, x, -x) if np.iscomplexobj(x) else np.abs(x)


def positive(x: Array) -> Array:
    """x where its real part is above zero, else 0."""
    return np.where(x.real > 0, x, 0.0) if np.iscomplexobj(x) else np.maximum(x, 0.0)


def used(where: Any, values: Array) -> Array:
    """The values where they are used; elsewhere a number that nothing reads, and no NaN."""
    found: Array = np.where(where, values, 0.5)
    return found


def power(x: Values, exponent: float) -> Array:
    """x above zero to a real power; of a complex one by its slope, as steps of derivatives are
    small: a quarter of the time."""
    found: Array = np.power(x.real, exponent)
    if not np.iscomplexobj(x):
        return found
    made = found + 0j
    made.imag = exponent * found / x.real * x.imag
    return made


def summed(values: Array) -> Array:
    """Sum over the first axis, one row after the other: the same bits however many variants stand
    side by side, and however they lie in memory."""
    if not len(values):
        return np.zeros(values.shape[1:], values.dtype)
    found: Array = np.add.accumulate(values, axis=0)[-1]
    return found


def highest(values: Array) -> Array:
    """(variants,) the largest of the rows by its real part; of those that are known, NaN without
    any. Its derivative is that of the row it is."""
    row = np.argmax(np.where(np.isnan(values.real), -np.inf, values.real), axis=0)
    found: Array = np.take_along_axis(values, row[None], axis=0)[0]
    return found


def added(rows: Integers, values: Array, height: int) -> Array:
    """(height, variants) sums of the values of each row; rows of -1 are left out."""
    found = np.zeros((height, values.shape[1]), values.dtype)
    there = rows >= 0
    np.add.at(found, rows[there], values[there])
    return found


def replaced(whole: Array, rows: Integers, values: Array) -> Array:
    """A copy with some rows replaced; complex where the values are."""
    kind, width = np.result_type(whole, values), max(whole.shape[1], values.shape[1])
    made = np.empty((len(whole), width), kind)
    made[:] = whole
    made[rows] = values
    return made


def placed(whole: Array, rows: Integers, values: Array) -> Array:
    """The same array with some rows written; a copy where it cannot hold them."""
    if values.shape[1] > whole.shape[1] or not np.can_cast(values.dtype, whole.dtype):
        return replaced(whole, rows, values)
    whole[rows] = values
    return whole


def stacked(parts: list[Array]) -> Array:
    """Arrays of different kinds below each other, broadcast to the widest."""
    if not parts:
        return np.zeros((0, 1))
    width = max(part.shape[-1] for part in parts)
    if all(part.shape[-1] == width for part in parts):
        return np.concatenate(parts)
    return np.concatenate([np.broadcast_to(p, (p.shape[0], width)) for p in parts])


def taken(tree: Tree, chosen: Any, axes: int = 1) -> Tree:
    """Some variants, by number or by a mask, of a tree: of tuples, of arrays whose last axis is
    the variants, and of things with a `take` of their own. What is the same for all variants (an
    axis of length 1, arrays of fewer `axes`, numbers) stays as it is."""
    if isinstance(tree, np.ndarray):
        wide = tree.ndim >= axes and tree.shape[-1] > 1
        return tree[..., chosen] if wide else tree  # type: ignore[return-value]
    if hasattr(tree, "take"):
        return tree.take(chosen)  # type: ignore[no-any-return]
    if isinstance(tree, tuple):
        parts = (taken(each, chosen, axes) for each in tree)
        return type(tree)(*parts) if hasattr(tree, "_fields") else tuple(parts)  # type: ignore
    return tree
