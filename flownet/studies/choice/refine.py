"""The values of a choice that have no list: moved by exact derivatives from the best of a grid.

A maximum over scenarios has kinks where another scenario takes over, so the largest value itself is
a variable: least t, with the measure below t in every scenario and every limit kept.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np

from flownet.columns import Inputs
from flownet.enclosure import relative
from flownet.enclosure.apply import covered
from flownet.enclosure.enclosure import Enclosure
from flownet.equations.readout import results
from flownet.judging.assessment import THERMAL
from flownet.results.batch import SolutionBatch
from flownet.schema.arrays import Array
from flownet.schema.errors import CaseError, NoSolution
from flownet.solver.sensitivity import derivatives
from flownet.solver.tolerances import STEP
from flownet.solving.attempt import attempted
from flownet.studies.choice.axes import Space

KEPT_BY = 1e-5  # K, dB, h: limits are kept by this much, so that they hold when solved once more
ROUNDS = 60
SPAN = 10.0  # K: a temperature that is so far off weighs as another value off by its whole bound
SMALL_SLOPE = 1e-9  # of a slope: none


class SlopedPoint(NamedTuple):
    """Measures and limits at some values, (things,), with slopes (things, free axes)."""

    measure: Array  # one a scenario, or one a temperature limit and scenario
    measure_slope: Array
    margin: Array  # every limit in every scenario
    margin_slope: Array
    other: Array  # the second measure
    other_slope: Array


class Fine(NamedTuple):
    """One combination whose free values are to be moved."""

    space: Space
    row: Array
    scenarios: Sequence[dict[str, Any]]  # changes of those that apply
    of: str  # what is to be least: noise, power, temperature; "limits": the worst breach
    other: str = ""  # a second measure that is held ...
    most: float = np.inf  # ... at or below this

    def moved(self) -> Array | None:
        """The combination with better values; None where nothing was found."""
        from scipy import optimize  # noqa: PLC0415 - 0.3 s that only this needs

        start = self.shares
        seen: dict[bytes, SlopedPoint | None] = {}

        def point(z: Array) -> SlopedPoint | None:
            u = np.clip(z[:-1], 0.0, 1.0)
            if u.tobytes() not in seen:
                seen[u.tobytes()] = self._point(u)
            return seen[u.tobytes()]

        first = point(np.append(start, 0.0))
        if first is None or not len(first.measure):
            return None
        bounds = [(0.0, 1.0)] * len(start) + [(None, None)]
        found = optimize.minimize(
            lambda z: (z[-1], np.append(np.zeros(len(start)), 1.0)),
            np.append(start, first.measure.max()), jac=True, method="SLSQP", bounds=bounds,
            constraints={"type": "ineq", "fun": lambda z: self._kept(point(z), z)[0],
                         "jac": lambda z: self._kept(point(z), z)[1]},
            options={"maxiter": ROUNDS, "ftol": 1e-8},
        )  # fmt: skip
        return self.at(np.clip(found.x[:-1], 0.0, 1.0))

    def least(self) -> float:
        """The measure here, the largest of all scenarios; infinity without a solution."""
        here = self._point(self.shares)
        return float("inf") if here is None else float(here.measure.max(initial=-np.inf))

    def flat(self) -> bool:
        """Whether the measure does not depend on the free values here."""
        here = self._point(self.shares)
        return here is None or not np.any(np.abs(here.measure_slope) > SMALL_SLOPE)

    @property
    def shares(self) -> Array:
        """(free axes,) where the free values lie between their ends, 0 to 1."""
        low, high = self._ends()
        found: Array = (self.row[self.space.free] - low) / (high - low)
        return found

    def at(self, shares: Array) -> Array:
        """The combination with its free values at these shares."""
        low, high = self._ends()
        row = self.row.copy()
        row[self.space.free] = low + shares * (high - low)
        return row

    def _ends(self) -> tuple[Array, Array]:
        axes = [self.space.axes[i] for i in self.space.free]
        return np.array([a.low for a in axes]), np.array([a.high for a in axes])

    def _kept(self, at: SlopedPoint | None, z: Array) -> tuple[Array, Array]:
        """What must not be below zero, and its slopes to the free values and t."""
        if at is None:  # no solution here: far outside
            return np.full(1, -1e3), np.zeros((1, len(z)))
        rise = np.hstack([-at.measure_slope, np.ones((len(at.measure), 1))])
        rest = np.vstack([at.margin_slope, -at.other_slope])
        values = np.concatenate([z[-1] - at.measure, at.margin - KEPT_BY, self.most - at.other])
        known = np.isfinite(values)
        slopes = np.vstack([rise, np.hstack([rest, np.zeros((len(rest), 1))])])
        return values[known], slopes[known]

    # --- one point -------------------------------------------------------------------------------

    def _point(self, shares: Array) -> SlopedPoint | None:
        """Every scenario at some free values; None where one has no solution."""
        own = self.space.changes(self.at(shares))
        parts = []
        for changes in self.scenarios:
            try:
                case = self.space.case.with_changes(covered(self.space.case, own, changes))
                parts.append(self._scene(case, changes))
            except (CaseError, NoSolution):
                return None
        return SlopedPoint(*(np.concatenate(arrays) for arrays in zip(*parts, strict=True)))

    def _scene(self, case: Enclosure, changes: dict[str, Any]) -> SlopedPoint:
        """One scenario, with the slope of everything to every free axis."""
        weights, (low, high) = relative.weights(case, changes), self._ends()
        axes = [self.space.axes[i].places for i in self.space.free]
        places = list(dict.fromkeys(p for one in axes for p in one if weights.get(p, 1.0)))
        share = [[weights.get(p, 1.0) if p in one else 0.0 for one in axes] for p in places]
        tried = attempted(Inputs.of(case), check=True)
        parts = [self._numbers(moved, len(some)) for some, moved in
                 derivatives(tried.inputs, tried.model, tried.found, places)]  # fmt: skip
        if not places:
            parts = [self._numbers(results(tried.inputs, tried.model, tried.found, {}), 1)]
        made = []
        for kind in zip(*parts, strict=True):
            wide = np.concatenate(kind, axis=1)
            slope = wide[:, : len(places)].imag / STEP
            made += [wide[:, 0].real,
                     slope @ np.reshape(share, (-1, len(axes))) * (high - low)]  # fmt: skip
        return SlopedPoint(*made)

    def _numbers(self, batch: SolutionBatch, width: int) -> tuple[Array, Array, Array]:
        """Measure, margins and the second measure, each (things, variants)."""
        kept = () if self.of == "limits" else batch.limits
        return (
            self._measure(self.of, batch, width), _wide([item.margin for item in kept], width),
            self._measure(self.other, batch, width),
        )  # fmt: skip

    @staticmethod
    def _measure(name: str, batch: SolutionBatch, width: int) -> Array:
        """Less is better; a temperature is every margin, below zero."""
        if name == "temperature":
            rows = [-item.margin for item in batch.limits if item.limit in THERMAL]
        elif name == "limits":
            rows = [-item.margin / (SPAN if item.limit in THERMAL else item.bound)
                    for item in batch.limits if not np.isnan(item.bound).all()]  # fmt: skip
        else:
            path = {"noise": "total.noise", "power": "total.fan_power"}.get(name)
            rows = [batch[path]] if path else []
        found = _wide(rows, width)
        stated: Array = found[~np.isnan(found[:, :1].real).any(axis=1)]
        return stated


def _wide(rows: Sequence[Any], width: int) -> Array:
    """(rows, width) of numbers that may be one for all."""
    return np.array([np.broadcast_to(row, width) for row in rows]).reshape(-1, width)
