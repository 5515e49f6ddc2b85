"""Every operating point of an enclosure, as results."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from typing import Any

import numpy as np

from flownet.columns import Inputs
from flownet.enclosure.enclosure import Enclosure
from flownet.equations.state import Model, Steady
from flownet.results.solution import Solution
from flownet.schema import argument_checks
from flownet.schema.errors import CaseError
from flownet.solver import fixed_temperature, speeds
from flownet.solver.multiple import hysteresis
from flownet.solver.multiple import operating_points as search
from flownet.solver.multiple.operating_points import FULL, QUICK, Points
from flownet.solving.attempt import Attempt, attempt_of, changed, judged

ONE_FLOW = "no fan has a dip: one flow at given temperatures"
SURE = "all with every fan on a falling piece of its curve"
SCANNED = f"all with one fan on a rising piece ({FULL.effort.grid} flows a piece)"
SEEDED = f"those with more by {FULL.effort.starts} seeded starts, which may miss some"
HEAT = f"those that heat adds by {FULL.marches} random starts, which may miss some"


@dataclasses.dataclass(frozen=True, repr=False, eq=False)
class OperatingPoint:
    """One steady state an enclosure can be in, and what leads to it."""

    solution: Solution  # all its results; `solution.others` are the other points
    stable: bool  # it comes back after a small disturbance of flow or heat
    reached_from_rest: bool  # everything off, all air at outside temperature, then switched on
    after_restart: tuple[str, ...]  # fans: from the state from rest, this one off and on again
    by_loading: bool | None  # filters slowly loading from clean; None where none is loaded
    rising: tuple[str, ...]  # fans on a rising piece of their curve
    searched: tuple[str, ...]  # how the points were looked for, in words

    def to_dict(self) -> dict[str, Any]:
        """The JSON of its solution, with `operating_point` added."""
        own = {
            "stable": self.stable, "reached_from_rest": self.reached_from_rest,
            "after_restart": list(self.after_restart), "by_loading": self.by_loading,
            "rising": list(self.rising), "searched": list(self.searched),
        }  # fmt: skip
        return self.solution.to_dict() | {"operating_point": own}

    def __repr__(self) -> str:
        fans = ", ".join(
            f"{path} {self.solution.volume_flow(path) * 3600:.0f} m3/h"
            for path, row in self.solution.fans.items()
            if row.region != "blanked"
        )
        rest = ", from rest" if self.reached_from_rest else ""
        return f"<OperatingPoint {'stable' if self.stable else 'unstable'}{rest}: {fans}>"


def operating_points(
    case: Enclosure, *, scenario: str = "base", variant: str = "base",
    changes: Mapping[str, Any] | None = None,
) -> tuple[OperatingPoint, ...]:  # fmt: skip
    """The steady states of an enclosure, the one reached from rest first, then the stable ones.

    At the temperatures of each state found, these are all with every fan on a falling piece of its
    curve, and all with one fan on a rising piece as far as a scan of its flow tells. States with
    two or more on rising pieces are looked for from seeded starts, and states that heat adds by
    marches from random temperatures: some may be missed. Arguments and errors are as for `solve`.
    """
    argument_checks.check("operating_points", case, Enclosure)
    asked = changed(case, scenario, variant, changes)
    _refuse_followed(Inputs.of(asked))
    tried = attempt_of(asked)
    model, pattern, found, inputs = tried
    points = search.search(model, pattern, found.state, FULL)
    fans, after = hysteresis.restarted(inputs, model, pattern, found.state)
    loading = hysteresis.loaded(inputs, model, pattern)
    reached = [after.take([i]) for i in range(len(fans))]
    reached += [loading] if loading is not None else []
    points, places = search.with_more(model, pattern, points, reached)
    restarts = dict(zip(fans, places[: len(fans)], strict=True))
    by_loading = places[-1] if loading is not None else None
    dipped = bool(fixed_temperature.fans(model, 1)[0].any())
    solutions, order = _solutions(inputs, tried, points), list(inputs.as_given().enclosure.branches)
    made = [
        OperatingPoint(
            solution=_beside(solutions, place), stable=bool(points.stable[place]),
            reached_from_rest=place == 0,
            after_restart=tuple(path for path in order if restarts.get(path) == place),
            by_loading=None if by_loading is None else by_loading == place,
            rising=tuple(sorted(_rising(model, points, place), key=order.index)),
            searched=_words(points, dipped),
        )
        for place in range(len(points.stable))
    ]  # fmt: skip
    return tuple(sorted(made, key=lambda one: (not one.reached_from_rest, not one.stable)))


def _refuse_followed(inputs: Inputs) -> None:
    """CaseError where a running fan's speed follows a temperature: every point would have a speed
    of its own."""
    follow = speeds.controls(inputs)
    if follow is not None:
        names = [n for n, on in zip(inputs.names("fan"), follow.active[:, 0], strict=True) if on]
        raise CaseError([
            f"fan.{name}.speed_control: all operating points are looked for at given speeds; "
            "remove it and set speed, to the one that solve finds" for name in names
        ])  # fmt: skip


def beside_others(inputs: Inputs, tried: Attempt) -> Solution:
    """What a solve found, with the other operating points that a short search finds."""
    model, pattern, found, _ = tried
    points = search.search(model, pattern, found.state, QUICK)
    return _beside(_solutions(inputs, tried, points), 0)


def _solutions(inputs: Inputs, tried: Attempt, points: Points) -> list[Solution]:
    """Results of every point; of the first as the solve found it."""
    model, _, found, _ = tried
    first = judged(inputs, model, found).select(0)
    if len(points.stable) == 1:
        return [first]
    count = len(points.stable)
    steady = Steady(points.state, points.promise, ("",) * count, points.stable, np.zeros(count))
    several = judged(inputs, search.repeated(model, count), steady)
    return [first, *(several.select(place) for place in range(1, count))]


def _beside(solutions: list[Solution], place: int) -> Solution:
    """One of them that knows the others."""
    alone = [
        dataclasses.replace(one, points=len(solutions), from_rest=not number)
        for number, one in enumerate(solutions)
    ]
    others = tuple(one for i, one in enumerate(alone) if i != place)
    return dataclasses.replace(alone[place], others=others)


def _rising(model: Model, points: Points, place: int) -> list[str]:
    return [model.structure.branches[row] for row in np.flatnonzero(points.rising[:, place])]


def _words(points: Points, dipped: bool) -> tuple[str, ...]:
    """How the points were looked for, and what was left out."""
    if not dipped:
        return ONE_FLOW, HEAT
    falling = SURE if points.every_falling else f"some, not {SURE}"
    scanned = SCANNED if points.every_scan else f"some, not {SCANNED}"
    return falling, scanned, SEEDED, HEAT
