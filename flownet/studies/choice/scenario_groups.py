"""In which scenarios each combination must hold: an outage exists where its fan runs.

A choice is a design: its values stand before those of a scenario, which win. What a scenario with
an outage changes depends on the fans that run, so it is worked out for every set of states (for
`-rest-up` of types and speeds too) that occurs.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.outages import EACH, REST_UP, outage
from flownet.enclosure.scenarios import expand, scenario_changes
from flownet.schema.arrays import Array, Integers
from flownet.schema.errors import CaseError
from flownet.studies.choice.axes import Space, unique_rows
from flownet.studies.designs import Axis

FAILS_BY = ("state", "supply", "shutter")  # what outages depend on; with rest-up on all of a fan


@dataclass
class ScenarioGroup:
    """One scenario with what it changes, for the combinations it applies to."""

    name: str
    asked: str  # the entry it comes from: each-fan-out of fan.left-out
    groups: dict[str, tuple[dict[str, Any], Integers]] = field(default_factory=dict)
    # changes and the combinations they are of, by how the changes read

    def add(self, changes: dict[str, Any], rows: Integers) -> None:
        """Further combinations in which it applies."""
        key = repr(list(changes.items()))
        before = self.groups[key][1] if key in self.groups else np.zeros(0, int)
        self.groups[key] = changes, np.concatenate([before, rows])

    def among(self, rows: Integers) -> Iterator[tuple[dict[str, Any], Integers]]:
        """What it changes, and where of some combinations those stand that it changes so."""
        for changes, members in self.groups.values():
            here = np.flatnonzero(np.isin(rows, members))
            if len(here):
                yield changes, here


def add_scenes(
    scenes: dict[str, ScenarioGroup], space: Space, rows: Array, asked: Sequence[str], start: int
) -> dict[int, str]:  # fmt: skip
    """Every scenario of further combinations, by name; of those that are unsound the reason.

    `start`: the number of the first of them.

    Raises
    ------
    CaseError
        For names that are not known, and where nothing runs in any combination that could fail.
    """
    _check_names(space.case, asked)
    which = [i for i, axis in enumerate(space.axes) if _decides(space.case, axis, asked)]
    first, group = unique_rows(rows[:, which])
    refused: dict[int, str] = {}
    for number, row in enumerate(first):
        members = start + np.flatnonzero(group == number)
        every = space.changes(rows[row])
        own = {(path := space.axes[i].path): every[path] for i in which}
        try:
            design = space.case.with_changes(own) if own else space.case
            made = {name: (entry, scenario_changes(design, name))
                    for entry in asked for name in expand(design, entry)}  # fmt: skip
        except CaseError as error:
            refused |= dict.fromkeys(members.tolist(), "\n".join(error.faults))
            continue
        for name, (entry, changes) in made.items():
            scenes.setdefault(name, ScenarioGroup(name, entry)).add(changes, members)
    missing = set(asked) - {scene.asked for scene in scenes.values()}
    if missing and len(refused) < len(rows):
        raise CaseError([f'scenario "{name}": nothing runs that could fail'
                         for name in asked if name in missing])  # fmt: skip
    return refused


def _check_names(case: Enclosure, asked: Sequence[str]) -> None:
    for entry in asked:
        for part in entry.split("+"):
            if part.strip() not in EACH:
                scenario_changes(case, part)


def _decides(case: Enclosure, axis: Axis, asked: Sequence[str]) -> bool:
    """Whether what a scenario changes can depend on the value of an axis."""
    parts = {part.strip() for entry in asked for part in entry.split("+")}
    failing = [part for part in parts if part in EACH or outage(case, part) is not None]
    kinds = {place.kind for place in axis.places}
    if not failing or not kinds & {"fan", "fan_type", "supply"}:
        return False
    if any(part.endswith(REST_UP) for part in failing):
        return True
    return any(place.key.partition(".")[0] in FAILS_BY for place in axis.places)
