"""What a course in time takes for granted: where it starts, and what stores heat in it."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence

import numpy as np

from flownet.columns import Inputs
from flownet.enclosure.enclosure import Enclosure
from flownet.results.solution import Solution
from flownet.schema.arrays import Array
from flownet.schema.fault import listed
from flownet.solver.in_time import Stretch
from flownet.solver.switching import FAN_LAG, Following


def mean_speeds(first: Solution | None, courses: Mapping[str, Array]) -> Iterator[str]:
    """Fans that `solve` finds between the two speeds of a jump, at which none runs in time."""
    if first is None or (follow := Following.of(Inputs.of(first.case).by_name())) is None:
        return
    told = []
    for row, fan in enumerate(follow.names):
        item = first.followed(fan)
        warm = math.nan if item is None else item.temperature
        if ((follow.below[row] < warm) & (warm < follow.above[row])).any():
            path = f"fan.{fan}.speed_ratio"
            told.append(f"fan.{fan} at speed {first[path]:.3g}, which goes on at "
                        f"{courses[path][0]:.3g}")  # fmt: skip
    if told:
        yield ("starts from the temperatures that solve finds at a mean speed, between those that "
               f'a thermostat switches: {listed(told, 4)}; start = "cold" does not')  # fmt: skip


def stores_told(case: Enclosure, stretch: Stretch) -> Iterator[str]:
    """What was taken for stores that nothing gives."""
    rooms = zip(stretch.structure.compartments, stretch.begin_stores.room[:, 0], strict=True)
    roomy = {name for name, room in rooms if room}
    air, parts = _storeless(case, "compartment"), _storeless(case, "part")
    empty = [name for name in air if not {name, f"{name}.1"} & roomy]
    carried = [name for name in parts if _carried(case, name, parts)]
    told = {
        "compartments that store heat in their air alone, without heat_capacity of what stands in "
        "them": [name for name in air if name not in empty],
        "compartments without outline and depth, and without heat_capacity, which follow within a "
        "second (1 J/K)": empty,
        "parts without heat_capacity or mass, which follow at once": [
            name for name in parts if name not in carried],
        "walls without heat_capacity, which follow at once": _storeless(case, "wall"),
    }  # fmt: skip
    yield from (f"{words}: {listed(names, 4)}" for words, names in told.items() if names)
    if any(told.values()):
        yield "what stores nothing here makes all quicker than it is, up and down"
    if carried:
        yield f"parts that follow what they sit on, whose store is theirs too: {listed(carried, 4)}"
    if stretch.follow is not None:
        yield f"fans feel the temperature that they follow within {FAN_LAG:.0f} s"


def _carried(case: Enclosure, name: str, storeless: Sequence[str]) -> bool:
    """Whether a part without a store sits, over others, on one that has one."""
    kind, _, under = case.parts[name].in_.partition(".")
    return kind == "part" and (under not in storeless or _carried(case, under, storeless))


def _storeless(case: Enclosure, kind: str) -> list[str]:
    """Names of a kind that give no store."""
    return [name for name, item in case.things[kind].items()
            if not any(np.nan_to_num(getattr(item, key, 0.0)) for key in ("heat_capacity", "mass"))
            ]  # fmt: skip
