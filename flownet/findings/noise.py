"""Levels of fans beside a noise limit: what they are, where they hold, how they were measured."""

from __future__ import annotations

from collections.abc import Iterator

from flownet.enclosure.fans import FanType
from flownet.findings.facts import running_fans
from flownet.findings.registry import COMMON_PRACTICE, Said, rule, say
from flownet.results.solution import Solution
from flownet.schema import quantities as q
from flownet.schema.fault import listed
from flownet.schema.fields import given

NEAR = 5.0  # dB left, below which a note is worth reading


@rule(
    name="noise-distance-missing",
    severity="warning",
    title="a sound level states no distance, or not what it is",
    cause="A sound pressure level means nothing without the distance it holds at: 6 dB for every "
    "doubling in a free field. A sound power level has no distance, and stands some 11 dB above "
    "the pressure at {usual}. Levels never add as numbers: three times 46 dBA is 50.8 dBA.",
    try_="Write noise_distance beside limits.noise_dBA, and noise beside noise_dBA of each type: "
    'kind = "pressure" with its distance, or kind = "power".',
    thresholds="limits.noise_dBA is given, and no noise_distance with it, or a running fan's level "
    "has no noise, or none with a distance where it is a pressure: {usual} is taken",
    source=f"definition of both levels; {COMMON_PRACTICE} that catalogues mean {{usual}}",
    numbers={"usual": (q.DISTANCE, 1.0)},
)
def noise_distance_missing(solution: Solution) -> Iterator[Said]:
    """Limits and levels that do not say where they hold."""
    limits = solution.case.limits
    if not given(limits.noise_dBA):
        return
    if not given(limits.noise_distance):
        yield say(
            "limits.noise_dBA", "{subject} {level} has no distance: {usual} is taken",
            level=(q.LEVEL, limits.noise_dBA),
        )  # fmt: skip
    unsaid = [row for row in _heard(solution) if _without_distance(row)]
    if unsaid:
        yield say(
            f"{unsaid[0].path}.noise_dBA", "the level of {types} has no distance: a sound pressure "
            "at {usual} is taken", types=(None, listed(row.path for row in unsaid)),
        )  # fmt: skip


def _without_distance(row: FanType) -> bool:
    return row.noise is None or (row.noise.kind == "pressure" and not given(row.noise.distance))


def _heard(solution: Solution) -> list[FanType]:
    """Data of the fans that run and have a level, each once."""
    rows = {fan.rating.path: fan.rating for fan in running_fans(solution)}
    return [row for row in rows.values() if given(row.noise_dBA)]


@rule(
    name="noise-free-air",
    severity="note",
    title="a free-air level stands for an installed fan",
    cause="Catalogue levels are measured without resistance and without anything near. Against "
    "pressure, behind guards and close to obstacles a fan is louder, often by several dB: one "
    "test found 44.6 dBA in free air and 52.2 dBA in a plenum, at the same distance (a maker's "
    "note).",
    try_="Keep several dB in hand; or ask for the level at the pressure of use, and write "
    'noise_condition = "loaded" in the type.',
    thresholds="less than {near} are left to limits.noise_dBA, and a running fan has a level whose "
    'noise_condition is not "loaded"',
    source="ISO 10302-1 measures sound power of small fans against flow and pressure; how much "
    f"louder: {COMMON_PRACTICE}",
    numbers={"near": (q.LEVEL_DIFFERENCE, NEAR)},
)
def noise_free_air(solution: Solution) -> Iterator[Said]:
    """One note for all fans whose level is that of free air."""
    margin = next((item.margin for item in solution.limits if item.limit == "noise"), None)
    if margin is None or margin >= NEAR:
        return
    free = [row for row in _heard(solution) if row.noise_condition != "loaded"]
    if free:
        assumed = all(row.noise_condition is None for row in free)
        text = (
            "the level of {types} is " + ("taken as one of" if assumed else "that of") + " free air"
        )
        text += (
            "; installed it is louder, and {margin} are left to the limit"
            if margin >= 0
            else ("; installed it is louder still, and the limit is broken already")
        )
        yield say(
            f"{free[0].path}.noise_dBA", text, types=(None, listed(row.path for row in free)),
            margin=(q.LEVEL_DIFFERENCE, margin),
        )  # fmt: skip
