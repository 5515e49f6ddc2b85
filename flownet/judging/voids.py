"""What makes the numbers of a run void, whatever margins they leave: one function a reason.

Each looks at a whole batch and yields a subject with (variants,) true where it is so. Causes stand
before what follows from them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from functools import partial
from typing import NamedTuple

import numpy as np

from flownet.enclosure.supply_match import HOW
from flownet.equations.topology import Structure
from flownet.judging.opposed import facing
from flownet.results.batch import SolutionBatch, remembered, single
from flownet.results.limits import IDLE
from flownet.results.solution import Solution
from flownet.results.tables import REGIONS
from flownet.schema import quantities as q
from flownet.schema.arrays import Array
from flownet.schema.fault import listed

Found = Iterator[tuple[str, Array]]
AIR = (213.15, 423.15)  # K: no fan, filter or part is made for air beyond; our own choice
GLOWING = 1273.15  # K: no part is made to be as hot; our own choice
STALL = "stall"
ONE_BY_ONE = 3  # subjects one by one
WORDS = {  # reason -> what is said of its subjects
    "supply": "on a supply that no data are for", "opposed": "blowing against each other",
    "unstable": "an unstable state, a small push leads away from it",
    "backflow": "driven backwards", STALL: "in stall",
    "extreme-air": "with air beyond {low} to {high}", "extreme-part": "hotter than {hot}",
}  # fmt: skip


class Void(NamedTuple):
    """A reason, what it is about, and in which runs."""

    word: str  # a key of WORDS
    subject: str
    runs: Array  # (runs,) bool


def on_wrong_supply(batch: SolutionBatch) -> Found:
    """Running fans without a rating for their supply, and without a law that scales to it."""
    if batch.fans:
        wrong = batch.inputs_.supply_how == HOW.index("wrong")
        yield from zip(batch.fans.names, wrong & ~np.isin(_regions(batch), IDLE), strict=True)


def opposed(batch: SolutionBatch) -> Found:
    """Running fans that blow against each other."""
    found = np.zeros((len(batch.fans), len(batch)), bool)
    for group in facing(batch):
        found[list(group.fans)] |= group.runs
    yield from zip(batch.fans.names, found, strict=True)


def unstable(batch: SolutionBatch) -> Found:
    """States that a small push leads away from."""
    yield "balance.stable", np.asarray(batch.balance_["stable"]) == 0


def in_region(word: str, batch: SolutionBatch) -> Found:
    """Running fans that work in a region of their curve where none should."""
    yield from zip(batch.fans.names, _regions(batch) == REGIONS.index(word), strict=True)


def beyond_belief(batch: SolutionBatch) -> Found:
    """Compartments, and branches at their outlet, with air in which nothing of this works."""
    s = Structure.of(batch.inputs_.enclosure)
    outlets = batch.branches.columns["outlet_temperature"].real[s.own]
    names = [*(f"compartment.{name}" for name in batch.compartments.names), *s.branches]
    warm = np.vstack(np.broadcast_arrays(
        *batch.compartments.columns["temperature"].real, *outlets, np.zeros(len(batch))
    ))  # fmt: skip
    yield from zip(names, (warm[:-1] < AIR[0]) | (warm[:-1] > AIR[1]), strict=True)


def glowing(batch: SolutionBatch) -> Found:
    """Parts at a temperature that says that their data are read where they do not hold."""
    hot = batch.parts.columns["temperature"].real > GLOWING
    yield from zip((f"part.{name}" for name in batch.parts.names), hot, strict=True)


VOIDS: Mapping[str, Callable[[SolutionBatch], Found]] = {
    "supply": on_wrong_supply, "opposed": opposed, "unstable": unstable,
    "backflow": partial(in_region, "backflow"), STALL: partial(in_region, STALL),
    "extreme-air": beyond_belief, "extreme-part": glowing,
}  # fmt: skip


def _regions(batch: SolutionBatch) -> Array:
    return np.broadcast_to(batch.fans.columns["region"], (len(batch.fans), len(batch)))


def voids(batch: SolutionBatch) -> Iterator[Void]:
    """Everything found in a batch; that of a fan in stall is no void in an outage."""
    for word, looks in VOIDS.items():
        for subject, runs in looks(batch):
            here = np.broadcast_to(runs, len(batch)) & batch.ok
            if here.any():
                yield Void(word, subject, here)


def fan_out(batch: SolutionBatch, failed: Iterable[str]) -> Array:
    """(variants,) whether one of the fans that the scenario stops does not run."""
    found = np.zeros(len(batch), bool)
    for name in failed:
        found |= ~batch.inputs_.running[batch.fans.places[f"fan.{name}"]]
    return found


@remembered
def of_solution(solution: Solution) -> tuple[dict[str, list[str]], dict[str, list[str]]]:
    """Reason -> subjects: what makes one solution void, and fans in stall in an outage."""
    batch = single(solution)
    out = fan_out(batch, solution.case.applied.failed)[0]
    found: tuple[dict[str, list[str]], dict[str, list[str]]] = {}, {}
    for item in voids(batch):
        found[bool(out and item.word == STALL)].setdefault(item.word, []).append(item.subject)
    return found


def counted(batch: SolutionBatch, failed: Iterable[str]) -> dict[str, Array]:
    """Reason -> (variants,) what makes runs void; `failed`: fans that their scenario stops."""
    found: dict[str, Array] = {}
    for word, _, runs in voids(batch):
        here = runs & ~fan_out(batch, failed) if word == STALL else runs
        found[word] = found.get(word, False) | here
    return found


def void(solution: Solution) -> dict[str, list[str]]:
    """What makes the numbers of a solution void: reason -> subjects; empty where nothing does."""
    return {word: list(subjects) for word, subjects in of_solution(solution)[0].items()}


def told(found: Mapping[str, Sequence[str]], units: str = "metric") -> str:
    """`fan.left and fan.right in stall, fan.rear driven backwards`, of reasons with subjects."""
    return ", ".join(_clause(word, found[word], units) for word in WORDS if word in found)


def _clause(word: str, subjects: Sequence[str], units: str) -> str:
    if word == "unstable":
        return WORDS[word]
    shown_in = q.TEMPERATURE.shown(units)
    low, high, hot = (f"{shown_in.of(value):.0f}" for value in (*AIR, GLOWING))
    names = listed(subjects, 1 if len(subjects) > ONE_BY_ONE else ONE_BY_ONE)
    unit = shown_in.unit
    return f"{names} {WORDS[word].format(low=low, high=f'{high} {unit}', hot=f'{hot} {unit}')}"
