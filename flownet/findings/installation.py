"""Fans where they stand: levels of noise beside their limit, and what stands too close."""

from __future__ import annotations

import math
from collections.abc import Iterator

from flownet.enclosure.fans import Fan, FanType
from flownet.findings.facts import running_fans, working_fans
from flownet.findings.rule import Said, rule, say
from flownet.physics import installation
from flownet.results.solution import Solution
from flownet.schema.fields import given


@rule
def noise_distance_missing(solution: Solution) -> Iterator[Said]:
    """Limits and levels that do not say where they hold."""
    limits = solution.case.limits
    if not given(limits.noise_dBA):
        return
    if not given(limits.noise_distance):
        yield say("limits.noise_dBA", "limit", level=limits.noise_dBA)
    unsaid = [row.path for row in _heard(solution) if row.noise is None
              or (row.noise.kind == "pressure" and not given(row.noise.distance))]  # fmt: skip
    if unsaid:
        yield say(f"{unsaid[0]}.noise_dBA", "types", types=unsaid)


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


# --- what stands close ------------------------------------------------------------------------


@rule
def clearance_tight(solution: Solution) -> Iterator[Said]:
    """Fans with too little room, with what that costs."""
    for fan in working_fans(solution):
        if fan.item.installation == "off":
            continue
        for key, own, bound, loss in _near(fan.item, fan.rating):
            yield say(
                fan.path, key, "computed", math.isfinite(fan.head) and "cost", own=own,
                bound=bound, loss=loss, cost=loss * fan.head,
            )  # fmt: skip


def _near(fan: Fan, rating: FanType) -> Iterator[tuple[str, float, float, float]]:
    """What is closer to a fan than it should be: which, how much, its bound, and K on the flow
    area."""
    free, area, much = fan.clearance, rating.flow_area, clearance_tight["much"]
    if free is None:
        return
    across = math.sqrt(4 / math.pi * area)
    third = (rating.frame[0] if rating.frame is not None else across) / 3
    laws = {"inlet": installation.inlet_clearance, "outlet": installation.outlet_clearance}
    for key, law in laws.items():
        own = getattr(free, key)
        if own < third:
            yield key, own, third, float(law(own / across))
    ample = installation.AMPLE * area
    if free.opening < ample:
        yield "opening", free.opening, ample, float(installation.inlet_opening(free.opening / area))
    if free.clutter > much:
        yield "clutter", free.clutter, much, float(installation.clutter(free.clutter))


@rule
def clearance_not_used(solution: Solution) -> Iterator[Said]:
    """Fans whose clearance is left out, in one note."""
    off = [
        fan.path
        for fan in solution.case.fans.values()
        if fan.installation == "off" and fan.clearance is not None and fan.state != "blanked"
        and any(given(x) for x in vars(fan.clearance).values())
    ]  # fmt: skip
    if off:
        yield say(off[0], names=off)
