"""Fans on a supply that their data are not for, altitude counted twice, what fails together."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, NamedTuple

from flownet.enclosure import supply_match
from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.outages import EACH, Outage, outage
from flownet.enclosure.scenarios import scenario_changes
from flownet.findings.facts import expanded, names_of, running_fans
from flownet.findings.rule import Said, rule, say
from flownet.findings.site import is_high, thin_air
from flownet.judging.voids import of_solution
from flownet.physics.air import STANDARD_DENSITY
from flownet.physics.sound import speed_change
from flownet.results.solution import Solution
from flownet.schema.errors import CaseError
from flownet.schema.fields import given
from flownet.schema.units import SupplyText


@rule(
    volts=supply_match.SAME_VOLTAGE, mains=supply_match.MAINS_SCATTER,
    low_f=supply_match.FREQUENCIES[0], high_f=supply_match.FREQUENCIES[1],
    low_v=supply_match.VOLTAGES[0], high_v=supply_match.VOLTAGES[1],
)  # fmt: skip
def supply_mismatch(solution: Solution) -> Iterator[Said]:
    """Fans whose supply none of their ratings has; one that makes the result void is an error."""
    case, void = solution.case, of_solution(solution)[0].get("supply", ())
    for fan in case.fans.values():
        fed = case.fed(fan)
        if fan.state == "blanked" or fed.how in ("rated", "unknown") or _covered(fed):
            continue
        supply, own = case.things["supply"][fan.supply or ""], fed.rating.supply_text
        assert own is not None  # only a stated supply is near, scaled or wrong
        here = SupplyText(supply.voltage, supply.frequency if given(supply.frequency) else 0.0)
        scaled, ratio = fed.speed != 1.0, fed.speed
        text = "slip" if fed.how == "near" and scaled else fed.how
        if stated := scaled and given(fan.rotation):
            text = "rpm"
        advice = ADVICE.get(fed.how, "") if fed.rating.voltage_range is None else ""
        yield say(
            fan.path, *PIECES[text], hint=not stated and advice, here=here.text(),
            type=fed.rating.path, supply=supply.path, own=own.text(), ratio=ratio,
            square=ratio**2, noise=f"{float(speed_change(ratio)):+.1f} dB",
            mild=fan.path not in void,
        )  # fmt: skip


PIECES = {
    "near": ("none", "unscaled"), "frequency": ("none", "frequency", "factors"),
    "voltage": ("none", "voltage", "factors"), "slip": ("none", "slip", "factors"),
    "rpm": ("none", "rpm"), "wrong": ("wrong",),
}  # fmt: skip
ADVICE = {"near": "state-range", "voltage": "low-voltage"}


def _covered(fed: supply_match.Fed) -> bool:
    """Whether only the voltage differs, and the data sheet says that it may."""
    return fed.how == "near" and fed.rating.voltage_range is not None


@rule(high=lambda: thin_air["high"])
def altitude_counted_twice(solution: Solution) -> Iterator[Said]:
    """Fans with the density ratio as their pressure factor."""
    if not is_high(solution):
        return
    ratio = float(solution.site["density"]) / STANDARD_DENSITY
    for fan in running_fans(solution):
        factor: Any = fan.item.pressure_factor
        near = abs(factor / ratio - 1) <= altitude_counted_twice["alike"]
        if near and abs(factor - ratio) < abs(factor - 1):
            yield say(fan.path, factor=factor, ratio=ratio)


# --- outages -------------------------------------------------------------------------------------


@rule
def shared_supply(solution: Solution) -> Iterator[Said]:
    """Supplies that feed a failed fan and running ones, whose own outage is not asked for."""
    case = solution.case
    failed = [item for item in _failed(case, solution.scenario) if item.kind == "fan"]
    asked = {item.target for entry in case.limits.scenarios for name in expanded(case, entry)
             for item in _failed(case, name) if item.kind == "supply"}  # fmt: skip
    for supply in dict.fromkeys(case.fans[item.target].supply for item in failed):
        running = [fan.path for fan in running_fans(solution) if fan.item.supply == supply]
        if supply is None or supply in asked or not running:
            continue
        stopped = [f"fan.{item.target}" for item in failed
                   if case.fans[item.target].supply == supply]  # fmt: skip
        alone = len(case.things["supply"]) == 1
        yield say(
            f"supply.{supply}", hint=alone and "only-feed", mild=alone, stopped=stopped,
            running=running, out=f"supply.{supply}-out",
        )  # fmt: skip


@rule
def outage_not_at_worst(solution: Solution) -> Iterator[Said]:
    """An outage in milder conditions than others that are tried."""
    case = solution.case
    if not _failed(case, solution.scenario):
        return
    tried = {entry: _severity(case, entry) for entry in case.limits.scenarios or case.scenarios}
    here = Severity(case.outside.temperature, _most_fouled(case))
    worst = Severity(*map(max, zip(here, *tried.values(), strict=True)))
    outages = [
        found
        for entry, found in tried.items()
        if any(name in EACH or outage(case, name) is not None for name in names_of(entry))
    ]
    if worst in (here, *outages):
        return
    cooler, cleaner = here.temperature < worst.temperature, here.fouling < worst.fouling
    yield say(
        "limits.scenarios", "tried", cooler and "cooler", cooler and cleaner and "and",
        cleaner and "cleaner", scenario=solution.scenario, outside=here.temperature,
        hottest=worst.temperature, fouling=here.fouling, dirtiest=worst.fouling,
    )  # fmt: skip


class Severity(NamedTuple):
    """How hard a scenario is on the air."""

    temperature: float  # of the outside [K]
    fouling: float  # of the most loaded filter


def _severity(case: Enclosure, entry: str) -> Severity:
    """That of the case as it was read, in an entry of `limits.scenarios`, outages left aside."""
    read = case.source or case
    kept = [name for name in names_of(entry) if name not in EACH and outage(read, name) is None]
    changes = scenario_changes(read, "+".join(kept) or "base")
    hard = {path: value for path, value in changes.items()
            if path == "outside.temperature" or path.endswith(".fouling")}  # fmt: skip
    try:
        made = read.with_changes(hard)
    except CaseError:  # it cannot be made, which is said where it is solved
        made = read
    return Severity(float(made.outside.temperature), _most_fouled(made))


def _most_fouled(case: Enclosure) -> float:
    loaded = (*case.things["filter"].values(), *case.things["vent"].values())
    return max((item.fouling for item in loaded if item.state in ("fitted", "open")), default=0.0)


def _failed(case: Enclosure, scenario: str) -> list[Outage]:
    """The outages among the names that a scenario joins."""
    found = (outage(case, name) for name in names_of(scenario))
    return [item for item in found if item is not None]
