"""Measured drops that the curve through them does not follow."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from flownet.enclosure.enclosure import Enclosure
from flownet.equations.curve_fits import Points, split
from flownet.findings.rule import Said, rule, say
from flownet.results.solution import Solution


class Miss(NamedTuple):
    """The measured point that the fit misses most."""

    velocity: float  # [m/s]
    given: float  # [Pa]
    fitted: float  # [Pa]

    @property
    def share(self) -> float:
        """Of the measured drop; above zero where the fit is too high."""
        return self.fitted / self.given - 1


@rule
def drop_fit_misses(solution: Solution) -> Iterator[Said]:
    """Filters and cards by their tables; those with the same one together."""
    for points, paths in _tables(solution.case).items():
        worst = worst_miss(points)
        if abs(worst.share) > drop_fit_misses["missed"]:
            yield say(
                paths[0], names=paths, velocity=worst.velocity, given=worst.given,
                fitted=worst.fitted, off=abs(worst.share),
                side="much" if worst.share > 0 else "little",
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
