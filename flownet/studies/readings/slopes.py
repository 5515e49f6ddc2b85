"""Results of one state of a case with their exact derivatives, for several results at once."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from flownet.columns import Inputs
from flownet.enclosure.contents import Place
from flownet.enclosure.enclosure import Enclosure
from flownet.results.batch import SolutionBatch
from flownet.schema.arrays import Array
from flownet.solver.sensitivity import derivatives
from flownet.solver.tolerances import STEP
from flownet.solving.attempt import Attempt, attempted, judged
from flownet.studies.tolerances import Spread


class Linear(NamedTuple):
    """Results at one state, SI."""

    values: Array  # (results,)
    slopes: Array  # (results, numbers)


class SolvedCase:
    """A case on which readings are taken: solved once, or again with other values."""

    def __init__(self, case: Enclosure) -> None:
        """CaseError and NoSolution as `solve`."""
        self.case, self._inputs = case, Inputs.of(case)
        self._start = attempted(self._inputs, check=True)

    @property
    def batch(self) -> SolutionBatch:
        """All results of the case as it is, a batch of one."""
        return judged(self._start.inputs, self._start.model, self._start.found)

    def linear(self, places: Sequence[Place], paths: Sequence[str]) -> Linear:
        """Results of the case as it is, and their derivatives to these numbers."""
        return _linear(self._start, places, paths)

    def changed(
        self, changes: dict[str, float], places: Sequence[Place], paths: Sequence[str]
    ) -> Linear:
        """The same with other values; CaseError and NoSolution as `solve`."""
        made = self.case.with_changes(changes)
        return _linear(attempted(Inputs.of(made, self._inputs), check=True), places, paths)


def drawn(solved: SolvedCase, moved: Sequence[Spread], paths: Sequence[str]) -> Linear:
    """Results, and their changes (results, tolerances) by one standard deviation of each: exact
    derivatives, linear."""
    members = [(each, member) for each in moved for member in each.members]
    linear = solved.linear([member.place for _, member in members], paths)
    deviations = np.array([each.deviation(member) for each, member in members])
    owner = np.array([[each is one for one in moved] for each, _ in members], float)
    each_one = owner.reshape(len(members), len(moved))
    return Linear(linear.values, (linear.slopes * deviations) @ each_one)


def _linear(tried: Attempt, places: Sequence[Place], paths: Sequence[str]) -> Linear:
    parts = [
        np.array([np.broadcast_to(moved.value(path), len(part)) for path in paths])
        for part, moved in derivatives(tried.inputs, tried.model, tried.found, list(places))
    ]
    if not parts:
        batch = judged(tried.inputs, tried.model, tried.found)
        return Linear(np.array([batch[path][0] for path in paths]), np.zeros((len(paths), 0)))
    every = np.concatenate(parts, axis=1)
    return Linear(every[:, 0].real.copy(), np.imag(every) / STEP)
