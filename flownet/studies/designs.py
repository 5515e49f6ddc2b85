"""What is varied, and which combinations are tried: all, a Latin hypercube or a Sobol sequence.

A design is made block by block from the numbers of its rows, so that millions need no room, and any
block can be made again.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any, NamedTuple

import numpy as np

from flownet.enclosure.contents import Place
from flownet.enclosure.values import objects
from flownet.schema.arrays import Array
from flownet.schema.errors import CaseError
from flownet.schema.quantities import Quantity

DESIGNS = ("grid", "latin", "sobol")
FIRST_SEED = 1  # where none is given
MOST_ROWS = 1_000_000_000  # rows of a design
MOST_KEYS = 1000  # of a sampled design


class Axis(NamedTuple):
    """What one path takes: values one by one, or everything between two ends."""

    path: str
    values: tuple[Any, ...] = ()  # SI numbers, words or tables; empty: between the ends
    low: float = math.nan
    high: float = math.nan
    places: tuple[Place, ...] = ()  # what the path names, where a study needs it
    quantity: Quantity | None = None  # likewise, of a number

    @classmethod
    def of(cls, path: str, values: tuple[Any, ...] | Mapping[str, float]) -> Axis:
        """From values, or from {"low", "high"}."""
        if isinstance(values, Mapping):
            return cls(path, (), values["low"], values["high"])
        return cls(path, tuple(values))

    @property
    def continuous(self) -> bool:
        """Whether everything between two ends is tried."""
        return not self.values

    @property
    def numeric(self) -> bool:
        """Whether all of it is numbers."""
        return all(isinstance(value, float) for value in self.values)

    def at(self, unit: Array) -> Array:
        """Values at places 0 ... 1: all of equal weight."""
        if self.continuous:
            return self.low + (self.high - self.low) * unit
        count = len(self.values)
        return self.picked(np.minimum((unit * count).astype(int), count - 1))

    def picked(self, index: Array) -> Array:
        """Values by their number; floats where all are numbers, else objects."""
        if self.numeric:
            return np.array(self.values, float)[index]
        return objects([self.values[i] for i in index.tolist()])


@dataclass(frozen=True)
class Design:
    """Rows by their number: `design.block(0, 100)[path]`."""

    sort: str  # grid, latin, sobol
    axes: tuple[Axis, ...]
    size: int
    seed: int | None = None  # of latin and sobol
    asked: int | None = None  # samples that were asked for

    @property
    def shape(self) -> tuple[int, ...]:
        """How many values each key of a grid has."""
        return tuple(len(axis.values) for axis in self.axes)

    def block(self, start: int, stop: int) -> dict[str, Array]:
        """The values of a run of rows; in a grid the last key changes fastest."""
        stop = min(stop, self.size)
        if self.sort == "grid":
            index = np.unravel_index(np.arange(start, stop), self.shape)
            return {a.path: a.picked(i) for a, i in zip(self.axes, index, strict=True)}
        unit = self._latin[start:stop] if self.sort == "latin" else self._sobol(start, stop)
        return {axis.path: axis.at(unit[:, i]) for i, axis in enumerate(self.axes)}

    @cached_property
    def _latin(self) -> Array:
        """(points, keys) of the unit cube, made all at once, 8 bytes a number."""
        found: Array = self._engine("LatinHypercube").random(self.size)
        return found

    def _sobol(self, start: int, stop: int) -> Array:
        engine = self._engine("Sobol")
        if start:
            engine.fast_forward(start)
        first: Array = engine.random(1)  # the rest follows in any number without a warning
        return np.concatenate([first, engine.random(stop - start - 1)])

    def _engine(self, name: str) -> Any:
        from scipy.stats import qmc  # noqa: PLC0415 - half a second that a grid does not need

        return getattr(qmc, name)(len(self.axes), seed=np.random.default_rng(self.seed))

    @property
    def words(self) -> str:
        """What it is, in words."""
        if self.sort == "grid":
            return "grid of " + " x ".join(map(str, self.shape))
        name = "Latin hypercube" if self.sort == "latin" else "Sobol sequence"
        rounded = "" if self.asked == self.size else f" ({self.asked} asked for: a power of two)"
        return f"{name} of {self.size}{rounded}, seed {self.seed}"


def design(
    axes: Sequence[Axis], sort: str = "grid", samples: int | None = None, seed: int | None = None
) -> Design:
    """The plan over some axes: a grid of every combination, the last axis changing fastest; a
    Latin hypercube; a scrambled Sobol sequence, its size rounded up to a power of two.

    `samples`: how many, `seed` (default 1): the same one gives the same; a grid has neither.
    CaseError for what does not fit together.
    """
    if sort not in DESIGNS:
        raise CaseError(f'design: the plan must be one of {", ".join(DESIGNS)} (got "{sort}")')
    if not axes:
        raise CaseError("vary: at least one path with its values is wanted")
    if sort == "grid":
        return _grid(tuple(axes), samples, seed)
    asked, size = _samples(sort, samples)
    if len(axes) > MOST_KEYS:
        raise CaseError(f"vary: at most {MOST_KEYS} paths in a {sort} plan (got {len(axes)})")
    if seed is not None and (isinstance(seed, bool) or not isinstance(seed, int) or seed < 0):
        raise CaseError(f"seed: a whole number from 0 on is wanted (got {seed})")
    return Design(sort, tuple(axes), size, FIRST_SEED if seed is None else seed, asked)


def _grid(axes: tuple[Axis, ...], samples: int | None, seed: int | None) -> Design:
    for name, value in (("samples", samples), ("seed", seed)):
        if value is not None:
            raise CaseError(
                f"{name}: a grid has none, it is every combination (got {value}); "
                'take the plan "latin" or "sobol"'
            )
    faults = [
        f"{axis.path}: a grid needs a count, or values one by one (got only two ends); write such "
        'as "... in 5", or take the plan "latin" or "sobol"'
        for axis in axes
        if axis.continuous
    ]
    if faults:
        raise CaseError(faults)
    size = math.prod(len(axis.values) for axis in axes)
    if size > MOST_ROWS:
        raise CaseError(f"vary: {size} combinations; at most {MOST_ROWS}")
    return Design("grid", axes, size)


def _samples(sort: str, samples: int | None) -> tuple[int, int]:
    """How many were asked for, and how many there are."""
    if samples is None:
        raise CaseError(f"samples: how many? a {sort} plan needs it, such as 256")
    if isinstance(samples, bool) or not isinstance(samples, int) or not 1 <= samples <= MOST_ROWS:
        raise CaseError(f"samples: a whole number from 1 to {MOST_ROWS} is wanted (got {samples})")
    return samples, 1 << (samples - 1).bit_length() if sort == "sobol" else samples
