"""Levels of fans beside a noise limit: what they are, where they hold, how they were measured."""

from __future__ import annotations

from collections.abc import Iterator

from flownet.enclosure.fans import FanType
from flownet.findings.facts import running_fans
from flownet.findings.rule import Said, rule, say
from flownet.results.solution import Solution
from flownet.schema.component import given


@rule
def noise_distance_missing(solution: Solution) -> Iterator[Said]:
    """Limits and levels that do not say where they hold."""
    limits = solution.case.limits
    if not given(limits.noise_dBA):
        return
    if not given(limits.noise_distance):
        yield say("limits.noise_dBA", "limit", level=limits.noise_dBA)
    unsaid = [row.path for row in _heard(solution) if _without_distance(row)]
    if unsaid:
        yield say(f"{unsaid[0]}.noise_dBA", "types", types=unsaid)


def _without_distance(row: FanType) -> bool:
    return row.noise is None or (row.noise.kind == "pressure" and not given(row.noise.distance))


def _heard(solution: Solution) -> list[FanType]:
    """Data of the fans that run and have a level, each once."""
    rows = {fan.rating.path: fan.rating for fan in running_fans(solution)}
    return [row for row in rows.values() if given(row.noise_dBA)]


@rule
def noise_free_air(solution: Solution) -> Iterator[Said]:
    """One note for all fans whose level is that of free air."""
    margin = next((item.margin for item in solution.limits if item.limit == "noise"), None)
    if margin is None or margin >= noise_free_air["near"]:
        return
    free = [row for row in _heard(solution) if row.noise_condition != "loaded"]
    if free:
        assumed = all(row.noise_condition is None for row in free)
        yield say(
            f"{free[0].path}.noise_dBA", "level", "left" if margin >= 0 else "broken",
            types=[row.path for row in free], margin=margin,
            taken="taken as one of" if assumed else "that of",
        )  # fmt: skip
