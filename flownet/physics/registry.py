"""Keeps the source and the range of every correlation beside its function."""

from __future__ import annotations

import inspect
from collections.abc import Callable, Mapping
from typing import Any, NamedTuple, TypeVar

import numpy as np

from flownet.schema.arrays import Values

Function = TypeVar("Function", bound=Callable[..., Any])
Range = tuple[float, float]
COMMON_PRACTICE = "common practice, no source"


class Correlation(NamedTuple):
    """One published relation: where it is from, and for which arguments its source vouches."""

    name: str  # module and function, `friction.churchill_1977`
    source: str
    valid: Mapping[str, Range]  # argument -> lowest and highest value; others are not limited
    function: Callable[..., Any]


class Exceeded(NamedTuple):
    """An argument that leaves the range of a correlation, and where."""

    argument: str
    low: float
    high: float
    mask: np.ndarray[Any, np.dtype[np.bool_]]


REGISTRY: dict[str, Correlation] = {}


def correlation(
    source: str, valid: Mapping[str, Range] | None = None
) -> Callable[[Function], Function]:
    """Register a function under `module.name` with its source and range; the function stays as is.

    Raises
    ------
    TypeError
        When the source is empty, or a range is reversed or names no argument of the function.
    """
    ranges = dict(valid or {})

    def register(function: Function) -> Function:
        name = f"{function.__module__.rpartition('.')[2]}.{function.__name__}"
        strangers = ranges.keys() - inspect.signature(function).parameters.keys()
        if strangers or not source.strip() or any(low >= high for low, high in ranges.values()):
            raise TypeError(f"{name}: a correlation needs a source and ranges of its own arguments")
        REGISTRY[name] = Correlation(name, source, ranges, function)
        return function

    return register


def find(function: Callable[..., Any]) -> Correlation:
    """The record of a registered function; KeyError for any other function."""
    name = f"{function.__module__.rpartition('.')[2]}.{function.__name__}"
    record = REGISTRY[name]
    if record.function is not function:
        raise KeyError(f"{function} is not the registered {name}")
    return record


def outside_range(function: Callable[..., Any], **arguments: Values) -> list[Exceeded]:
    """Which arguments leave the range that the source of `function` vouches for, and where.

    Parameters
    ----------
    function
        A registered correlation.
    **arguments : array or number
        Arguments by name; those without a range are ignored, those left out are not judged.
        Complex ones are judged by their real part.

    Returns
    -------
    list of Exceeded
        One entry per argument with at least one value outside; `mask` has the argument's shape.
    """
    found = []
    for name, (low, high) in find(function).valid.items():
        if name in arguments:
            value = np.asarray(arguments[name]).real
            mask = np.asarray((value < low) | (value > high))
            if mask.any():
                found.append(Exceeded(name, low, high, mask))
    return found
