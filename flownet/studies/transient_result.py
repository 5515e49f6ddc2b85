"""What becomes of an enclosure in time: courses, what happened when, and which limit was reached."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any, NamedTuple

import numpy as np

from flownet.enclosure.enclosure import Enclosure
from flownet.pages.caption import Caption
from flownet.pages.page import STYLES
from flownet.pages.result import Result
from flownet.pages.sheet import Column, Listing, Sentence, Sheet
from flownet.results.limits import Limit
from flownet.results.solution import Solution
from flownet.results.tables import Field, plain
from flownet.schema import quantities as q
from flownet.schema.arrays import Array
from flownet.schema.quantities import Quantity


class Event(NamedTuple):
    """What happens at a time."""

    time: float  # [s]
    over: float  # [s] in which it comes about; 0: at once
    text: str  # `fan.left stops`


class Crossing(NamedTuple):
    """A limit that a value passes."""

    subject: str  # part.rectifier
    limit: str  # part, air, flow, noise
    bound: float  # SI
    time: float  # [s]
    rising: bool  # whether it is over from then on, else it holds again


@dataclass(frozen=True, repr=False, eq=False)
class Transient(Result):
    """One course in time; `courses[path]` is SI, one value for each of `times`."""

    case: Enclosure  # in its scenario and variant, before anything happens
    name: str | None  # of its timeline; None: events that stand in no file
    until: float  # [s]
    times: Array  # (n,) s, from 0 to `until`; twice where something jumps
    courses: Mapping[str, Array]  # result path -> (n,) SI
    quantities: Mapping[str, Quantity]  # of each course
    events: tuple[Event, ...]
    crossings: tuple[Crossing, ...]  # by time
    highest: Mapping[str, tuple[float, float]]  # subject -> value (SI) and time [s]
    start: Solution
    end: Solution
    notes: tuple[str, ...] = ()  # what was taken for stores that nothing gives, and more

    @property
    def scenario(self) -> str:
        """The scenario it was solved in."""
        return self.case.applied.scenario

    @property
    def variant(self) -> str:
        """The variant it was solved in."""
        return self.case.applied.variant

    def verdicts(self, units: str = "metric") -> tuple[str, ...]:
        """In sentences; the first says which limit is reached when."""
        raise NotImplementedError
