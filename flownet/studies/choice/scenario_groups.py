"""In which scenarios each combination must hold: an outage exists where its fan runs.

A choice is a design: its values stand before those of a scenario, which win. What a scenario with
an outage changes depends on the fans that run, so it is worked out for every set of states (for
`-rest-up` of types and speeds too) that occurs.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any, NamedTuple

import numpy as np

from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.outages import EACH, REST_UP, outage
from flownet.enclosure.scenarios import expand, scenario_changes
from flownet.schema.arrays import Array, Integers
from flownet.schema.errors import CaseError
from flownet.studies.choice.axes import Space, unique_rows
from flownet.studies.designs import Axis

STATES = ("state", "supply", "shutter")  # what outages depend on; with rest-up on all of a fan


class ScenarioGroup(NamedTuple):
    """One scenario with what it changes, for the combinations it applies to."""

    name: str
    asked: str  # the entry it comes from: each-fan-out of fan.left-out
    groups: list[tuple[dict[str, Any], Integers]]  # changes, and the combinations they are of

    @property
    def rows(self) -> Integers:
        """The combinations in which it applies."""
        found: Integers = np.sort(np.concatenate([rows for _, rows in self.groups]))
        return found

    def among(self, rows: Integers) -> Iterator[tuple[dict[str, Any], Integers]]:
        """What it changes, and where of some combinations those stand that it changes so."""
        for changes, members in self.groups:
            here = np.flatnonzero(np.isin(rows, members))
            if len(here):
                yield changes, here


def scenes_of(
    space: Space, rows: Array, asked: Sequence[str]
) -> tuple[list[ScenarioGroup], dict[int, str]]:  # fmt: skip
    """Every scenario; and combinations that are unsound by themselves, with the reason.

    Raises
    ------
    CaseError
        For names that are not known, and where nothing runs in any combination that could fail.
    """
    _check_names(space.case, asked)
    which = [i for i, axis in enumerate(space.axes) if _decides(space.case, axis, asked)]
    first, group = unique_rows(rows[:, which])
    found: dict[str, tuple[str, dict[str, tuple[dict[str, Any], list[Integers]]]]] = {}
    refused: dict[int, str] = {}
    applied: set[str] = set()
    for number, row in enumerate(first):
        members = np.flatnonzero(group == number)
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
            applied.add(entry)
            groups = found.setdefault(name, (entry, {}))[1]
            groups.setdefault(repr(list(changes.items())), (changes, []))[1].append(members)
    missing = [name for name in asked if name not in applied]
    if missing and len(refused) < len(rows):
        raise CaseError([f'scenario "{name}": nothing runs that could fail' for name in missing])
    return [
        ScenarioGroup(name, entry, [(each, np.concatenate(some)) for each, some in groups.values()])
        for name, (entry, groups) in found.items()
    ], refused  # fmt: skip


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
    return any(place.key.partition(".")[0] in STATES for place in axis.places)
