"""What stands close to fans: too close, or kept without being computed with."""

from __future__ import annotations

import math
from collections.abc import Iterator

from flownet.enclosure.fans import Fan, FanType
from flownet.findings.facts import working_fans
from flownet.findings.rule import Said, rule, say
from flownet.physics import installation
from flownet.results.solution import Solution
from flownet.schema.component import given


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
