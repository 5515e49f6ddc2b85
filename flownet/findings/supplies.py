"""Fans on a supply that their data are not for, and altitude that is counted twice."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any

from flownet.enclosure import supply_match
from flownet.findings.facts import percent, running_fans
from flownet.findings.registry import COMMON_PRACTICE, Said, rule, say
from flownet.findings.site import HIGH, density_ratio, is_high
from flownet.judging.voids import of_solution
from flownet.results.solution import Solution
from flownet.schema import quantities as q
from flownet.schema.fields import given
from flownet.schema.units import SupplyText

ALIKE = 0.03


@rule(
    name="supply-mismatch",
    severity="error",
    mild="warning",
    title="a fan's data are for another supply",
    cause="No rating of the fan type has the voltage (within {volts}) and frequency (within "
    "0.1 Hz) of the fan's supply. Where it can be, the nearest rating is scaled: the speed of an "
    "alternating-current fan with the frequency, or by the slip of its motor at another voltage; "
    "that of a direct-current fan with the voltage; flow, pressure, power and noise with the "
    "speed. Else the data are used as they are, and the numbers of a fan that runs so are void.",
    try_="Add the maker's figures for this supply as [fan_type.NAME.rating.OTHER], or choose a "
    "type that has them. Scaling by speed is second best.",
    thresholds="no rating with the voltage and frequency. Scaled by frequency: ratio {low_f} to "
    "{high_f} and a voltage within {mains} (or in voltage_range); by voltage: direct current in "
    "voltage_range, without one {low_v} to {high_v} of the rated. A speed in rpm is never scaled. "
    "Silent where only the voltage of mains differs and voltage_range covers it. An error where a "
    "fan runs on data that cannot be scaled, else a warning",
    source="fan laws, ISO 5801: flow with the speed, pressure with its square, power with its "
    "cube; that speed follows frequency or voltage, the ranges, and noise by 50 log10 of the "
    f"speed: {COMMON_PRACTICE}. Slip: torque of an induction motor by slip and square of the "
    "voltage, that of the fan by the square of the speed (Fitzgerald, Kingsley, Umans, Electric "
    "Machinery, from memory); without a rated speed the data are used as they are",
    numbers={
        "volts": percent(supply_match.SAME_VOLTAGE), "mains": percent(supply_match.MAINS_SCATTER),
        "low_f": (q.RATIO, supply_match.FREQUENCIES[0]),
        "high_f": (q.RATIO, supply_match.FREQUENCIES[1]),
        "low_v": (q.RATIO, supply_match.VOLTAGES[0]),
        "high_v": (q.RATIO, supply_match.VOLTAGES[1]),
    },
)  # fmt: skip
def supply_mismatch(solution: Solution) -> Iterator[Said]:
    """Fans whose supply none of their ratings has."""
    case, void = solution.case, of_solution(solution)[0].get("supply", ())
    for fan in case.fans.values():
        fed = case.fed(fan)
        if fan.state == "blanked" or fed.how in ("rated", "unknown") or _covered(fed):
            continue
        supply, own = case.things["supply"][fan.supply or ""], fed.rating.supply_text
        assert own is not None  # only a stated supply is near, scaled or wrong
        here = SupplyText(supply.voltage, supply.frequency if given(supply.frequency) else 0.0)
        text, hint = SUPPLY_WORDS[fed.how]
        if fed.how == "near" and fed.speed != 1.0:
            text = SLIPPING
        if fed.speed != 1.0 and given(fan.rotation):
            text, hint = NOT_SCALED, ""
        ratio = fed.speed
        yield say(
            fan.path, text, hint, type=(None, fed.rating.path), supply=(None, supply.path),
            here=(None, here.text()), own=(None, own.text()), ratio=(q.RATIO, ratio),
            square=(q.RATIO, ratio**2), noise=(None, f"{50 * math.log10(ratio):+.1f} dB"),
        )._replace(mild=fan.path not in void)  # fmt: skip


SCALED = (
    "{subject}: {type} has no rating for {here}; its data for {own} are scaled by the ratio of the "
    "{0}: speed and flow times {ratio}, pressure times {square}, noise {noise}"
)
SLIPPING = (
    "{subject}: {type} has no rating for {here}; its data for {own} are scaled by the slip of its "
    "motor: speed and flow times {ratio}, pressure times {square}, noise {noise}"
)
NOT_SCALED = (
    "{subject}: {type} has no rating for {here}; its data for {own} are taken at the speed stated "
    "in rpm"
)
SUPPLY_WORDS = {
    "near": (
        "{subject}: {type} has no rating for {here}; its data for {own} are used as they are, "
        "though the fan turns a little slower at a lower voltage, faster at a higher one",
        "State voltage_range of the type where its data sheet allows {here}, or add a rating.",
    ),
    "frequency": (SCALED.replace("{0}", "frequencies"), ""),
    "voltage": (SCALED.replace("{0}", "voltages"), (
        "State voltage_range as the data sheet has it, and add the maker's figures for {here}: "
        "low voltage also decides whether the fan starts."
    )),
    "wrong": (
        "{subject} is on {supply} ({here}), its data are for {own}: no scaling leads from one to "
        "the other, and they are used as they are; expect that this fan does not work there",
        "",
    ),
}  # fmt: skip


def _covered(fed: supply_match.Fed) -> bool:
    """Whether only the voltage differs, and the data sheet says that it may."""
    return fed.how == "near" and fed.rating.voltage_range is not None


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
