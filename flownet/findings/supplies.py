"""Fans on a supply that their data are not for, and altitude that is counted twice."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any

from flownet import quantities as q
from flownet.enclosure.whole import matches
from flownet.findings.facts import percent, running_fans
from flownet.findings.registry import COMMON_PRACTICE, Said, rule, say
from flownet.findings.site import HIGH, density_ratio, is_high
from flownet.solution import Solution
from flownet.things import given
from flownet.units import Supply

ALIKE = 0.03


@rule(
    name="supply-mismatch",
    severity="warning",
    title="a fan's data are for another supply",
    cause="No rating of the fan type has the voltage (within 1 %) and frequency (within 0.1 Hz) of "
    "the fan's supply. Its first rating is used as it stands; nothing is scaled.",
    try_="Add the maker's figures for this supply as [fan_type.NAME.rating.OTHER], or choose a "
    "type that has them. Scaling by speed is second best.",
    thresholds="voltage more than 1 % or frequency more than 0.1 Hz from every rating",
    source="fan laws, ISO 5801: flow with the speed, pressure with its square; noise 50 log10 of "
    f"the speed ({COMMON_PRACTICE})",
)
def supply_mismatch(solution: Solution) -> Iterator[Said]:
    """Fans whose supply none of their ratings has."""
    case = solution.case
    for fan in case.fans.values():
        supply, rating = case.things["supply"].get(fan.supply or ""), case.rating(fan)
        own = rating.supply_text
        if fan.state == "blanked" or supply is None or own is None or matches(rating, supply):
            continue
        frequency = 0.0 if not given(supply.frequency) else supply.frequency
        here = Supply(supply.voltage, frequency)
        ratio = frequency / own.frequency if own.frequency else math.nan
        same_voltage = abs(own.voltage - supply.voltage) <= 0.01 * own.voltage
        induction = same_voltage and ratio > 0
        hint = (
            "Add the maker's figures for {here} as a rating. An induction motor turns about "
            "{ratio} times as fast there: flow times {ratio}, pressure times {square}, noise "
            "{noise}."
        )
        yield say(
            fan.path, "{subject} is on {supply} ({here}), its data are for {own} and used as they "
            "are",
            hint if induction else "", supply=(None, supply.path), here=(None, here.text()),
            own=(None, own.text()), ratio=(q.RATIO, ratio), square=(q.RATIO, ratio**2),
            noise=(None, _decibels(50 * math.log10(ratio)) if induction else ""),
        )  # fmt: skip


def _decibels(change: float) -> str:
    return f"{change:+.1f} dB"


@rule(
    name="altitude-counted-twice",
    severity="warning",
    title="altitude seems to be counted twice",
    cause="The curve of every fan is scaled to the density of the air it draws. A pressure_factor "
    "equal to the density ratio of the site does the same once more.",
    try_="Set pressure_factor back to 1.0, unless the factor has another reason.",
    thresholds="site above {high}, and pressure_factor (not 1) within {alike} of site density over "
    "1.2 kg/m3",
    source="fan laws, ISO 5801: pressure is proportional to density",
    numbers={"high": (q.ALTITUDE, HIGH), "alike": percent(ALIKE)},
)
def altitude_counted_twice(solution: Solution) -> Iterator[Said]:
    """Fans with the density ratio as their pressure factor."""
    if not is_high(solution):
        return
    ratio = density_ratio(solution)
    for fan in running_fans(solution):
        factor: Any = fan.item.pressure_factor
        if abs(factor / ratio - 1) <= ALIKE and abs(factor - ratio) < abs(factor - 1):
            yield say(
                fan.path, "{subject}: pressure_factor {factor} is about the density ratio of the "
                "site, {ratio}, which the curve is scaled with anyway",
                factor=(q.RATIO, factor), ratio=(q.RATIO, ratio),
            )  # fmt: skip
