"""What stands close to fans: too close, or kept without being computed with."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import NamedTuple

from flownet.enclosure.fans import Fan, FanType
from flownet.findings.facts import percent, working_fans
from flownet.findings.registry import COMMON_PRACTICE, Said, rule, say
from flownet.physics import installation
from flownet.results.solution import Solution
from flownet.schema import quantities as q
from flownet.schema.fault import listed
from flownet.schema.fields import given
from flownet.schema.quantities import Quantity

THIRD = 1 / 3  # of the frame size: what should be free on both sides
AMPLE = installation.AMPLE  # times the flow area: what an opening should have
MUCH = 0.4  # covered share
WORDS = {
    "inlet": "{subject}: {own} before its inlet is less than a third of its size ({bound})",
    "outlet": "{subject}: {own} behind its outlet is less than a third of its size ({bound})",
    "opening": "{subject} draws through an opening of {own}, less than twice its flow area "
    "({bound})",
    "clutter": "{subject}: cables cover {own} of its inlet, more than {bound}",
}


class Near(NamedTuple):
    """Something closer to a fan than it should be."""

    key: str
    own: tuple[Quantity | None, float | str]
    bound: tuple[Quantity | None, float | str]
    loss: float  # K on the flow area


@rule(
    name="clearance-tight",
    severity="warning",
    title="something stands too close to a fan",
    cause="Objects, small openings and cables close to a fan take flow and add noise. The loss "
    "that is computed for them has no source: how much it is depends on their shape. The noise "
    "they add is not computed.",
    try_="Keep a third of the frame size free on both sides, give the air an opening of twice the "
    "flow area, tie cables out of the way; or measure the fan as it is mounted.",
    thresholds="inlet or outlet less than a third of the frame size (without a frame: of the "
    "circle of the flow area), opening below twice the flow area, clutter above {much}",
    source=COMMON_PRACTICE,
    numbers={"much": percent(MUCH)},
)
def clearance_tight(solution: Solution) -> Iterator[Said]:
    """Fans with too little room, with what that costs."""
    for fan in working_fans(solution):
        if fan.item.installation == "off":
            continue
        velocity = fan.flow / fan.rating.flow_area
        head = fan.density * velocity * velocity / 2
        for near in _near(fan.item, fan.rating):
            yield say(
                fan.path, WORDS[near.key] + "; computed as K = {loss} on its flow area" +
                (", {cost} here" if math.isfinite(head) else ""),
                own=near.own, bound=near.bound, loss=(q.RATIO, near.loss),
                cost=(q.PRESSURE, near.loss * head),
            )  # fmt: skip


def _near(fan: Fan, rating: FanType) -> Iterator[Near]:
    free, area = fan.clearance, rating.flow_area
    if free is None:
        return
    across = math.sqrt(4 / math.pi * area)
    third = THIRD * (rating.frame[0] if rating.frame is not None else across)
    laws = {"inlet": installation.inlet_clearance, "outlet": installation.outlet_clearance}
    for key, law in laws.items():
        own = getattr(free, key)
        if own < third:
            yield Near(key, (q.LENGTH, own), (q.LENGTH, third), float(law(own / across)))
    if free.opening < AMPLE * area:
        loss = float(installation.inlet_opening(free.opening / area))
        yield Near("opening", (q.AREA, free.opening), (q.AREA, AMPLE * area), loss)
    if free.clutter > MUCH:
        loss = float(installation.clutter(free.clutter))
        yield Near("clutter", percent(free.clutter), percent(MUCH), loss)


@rule(
    name="clearance-not-used",
    severity="note",
    title="clearances are kept, not computed with",
    cause="With installation off the losses of what stands close before and behind a fan are left "
    "out: the fan is taken as free.",
    try_='Set installation = "on", unless these losses are in the curve or in pressure_factor.',
    thresholds="clearance given, installation off",
    source=f"the losses: {COMMON_PRACTICE}",
)
def clearance_not_used(solution: Solution) -> Iterator[Said]:
    """Fans whose clearance is left out, in one note."""
    off = [
        fan.path
        for fan in solution.case.fans.values()
        if fan.installation == "off" and fan.clearance is not None and fan.state != "blanked"
        and any(given(x) for x in vars(fan.clearance).values())
    ]  # fmt: skip
    if off:
        yield say(
            off[0], "{names}: installation is off, clearance is not computed with; the fan is "
            "taken as free", names=(None, listed(off)),
        )  # fmt: skip
