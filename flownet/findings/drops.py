"""Measured drops that the curve through them does not follow."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from flownet.enclosure.enclosure import Enclosure
from flownet.equations.curve_fits import Points, split
from flownet.findings.facts import percent
from flownet.findings.registry import COMMON_PRACTICE, Said, rule, say
from flownet.results.solution import Solution
from flownet.schema import quantities as q
from flownet.schema.fault import listed

MISSED = 0.15  # of a measured drop


class Miss(NamedTuple):
    """The measured point that the fit misses most."""

    velocity: float  # [m/s]
    given: float  # [Pa]
    fitted: float  # [Pa]

    @property
    def share(self) -> float:
        """Of the measured drop; above zero where the fit is too high."""
        return self.fitted / self.given - 1


@rule(
    name="drop-fit-misses",
    severity="warning",
    title="a measured drop does not follow the curve fitted to it",
    cause="Between and beyond its points a measured drop is taken as a v + b v^2, neither term "
    "below zero: a share of creeping flow and one of turbulent flow. A drop that grows faster "
    "than the square of the velocity, or slower than the velocity, is no such curve. Often a point "
    "is a slip, or belongs to another mat or card.",
    try_="Check the point against the data sheet and its units; else give only the points around "
    "the velocity it works at.",
    thresholds="a point of the velocity_drop of a fitted filter or slot that is missed by more "
    "than {missed} of its drop",
    source=f"the two terms: sum of viscous and inertial loss (P. Forchheimer, 1901, from memory); "
    f"threshold {COMMON_PRACTICE}",
    numbers={"missed": percent(MISSED)},
)
def drop_fit_misses(solution: Solution) -> Iterator[Said]:
    """Filters and cards by their tables; those with the same one together."""
    for points, paths in _tables(solution.case).items():
        worst = worst_miss(points)
        if abs(worst.share) > MISSED:
            yield say(
                paths[0], "{names}: at {velocity} the drop is given as {given}, the curve fitted "
                "to all points has {fitted} ({off} too {side})", names=(None, listed(paths)),
                velocity=(q.VELOCITY, worst.velocity), given=(q.PRESSURE, worst.given),
                fitted=(q.PRESSURE, worst.fitted), off=percent(abs(worst.share)),
                side=(None, "much" if worst.share > 0 else "little"),
            )  # fmt: skip


def worst_miss(points: Points) -> Miss:
    """Which point of a measured drop the fit `a v + b v^2` misses by the largest share."""
    linear, quadratic = split(points)
    found = [Miss(v, drop, linear * v + quadratic * v * v) for v, drop in points]
    return max(found, key=lambda miss: abs(miss.share))


def _tables(case: Enclosure) -> dict[Points, list[str]]:
    """Every measured drop in use, with whose it is."""
    found: dict[Points, list[str]] = {}
    for path, item in case.branches.items():
        rows = getattr(item, "velocity_drop", None)
        if rows and getattr(item, "state", "") == "fitted":
            found.setdefault(rows, []).append(path)
    return found
