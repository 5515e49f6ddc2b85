"""The array types of the package; sizes and parts of numbers that keep complex steps alive."""

from __future__ import annotations

from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

Array: TypeAlias = NDArray[Any]
"""Real numbers, or complex ones while a derivative is taken; variants are the last axis."""

Integers: TypeAlias = NDArray[np.intp]
"""Indices and counts."""

Values: TypeAlias = Array | float
"""What the pure functions accept: an array, or a number that broadcasts like one."""


def magnitude(x: Values, rounding: float = 0.0) -> Array:
    """|x|, decided on the real part, so that an imaginary step passes through.

    Parameters
    ----------
    x : array or number
        Any shape.
    rounding : float
        Above 0: sqrt(x^2 + rounding^2), which is smooth through zero and at most `rounding` off.

    Returns
    -------
    array
        Same shape as `x`.
    """
    if rounding:
        smooth: Array = np.sqrt(x * x + rounding * rounding)
        return smooth
    return np.where(x.real >= 0, x, -x) if np.iscomplexobj(x) else np.abs(x)


def positive(x: Array) -> Array:
    """x where its real part is above zero, else 0."""
    return np.where(x.real > 0, x, 0.0) if np.iscomplexobj(x) else np.maximum(x, 0.0)
