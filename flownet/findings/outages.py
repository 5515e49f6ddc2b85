"""Outages: supplies that several share, milder conditions."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.outages import EACH, Outage, outage
from flownet.enclosure.scenarios import scenario_changes
from flownet.findings.facts import expanded, running_fans
from flownet.findings.registry import COMMON_PRACTICE, Said, rule, say
from flownet.results.solution import Solution
from flownet.schema import quantities as q
from flownet.schema.errors import CaseError
from flownet.schema.fault import listed

ONLY_FEED = "Where the heat does not stop with this feed, add {out} to limits.scenarios."


@rule(
    name="shared-supply",
    severity="warning",
    mild="note",
    title="fans that fail together are only tried one at a time",
    cause="Fans on one supply stop together when a fuse, plug or power unit fails. The outages "
    "that are tried stop one of them while the others, on the same supply, run on.",
    try_="Try it too: add each-supply-out, or {out}, to limits.scenarios; or divide the fans among "
    "supplies (a supply here is what fails as one: a fuse, a power unit).",
    thresholds="a scenario in which one fan fails while another runs on its supply, and no "
    "scenario of limits.scenarios that stops the supply; a note where it is the only one",
    source=f"{COMMON_PRACTICE}; that supplies fail as one: the case's own word",
    numbers={"out": (None, "supply.NAME-out")},
)
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
            f"supply.{supply}", "{subject} feeds {stopped}, which fails in this scenario, and "
            "{running}, which runs on; one fault of the supply stops all of them",
            ONLY_FEED if alone else "",
            stopped=(None, listed(stopped)), running=(None, listed(running)),
            out=(None, f"supply.{supply}-out"),
        )._replace(mild=alone)  # fmt: skip


@rule(
    name="outage-not-at-worst",
    severity="warning",
    title="a fan's outage is not tried at the worst",
    cause="An enclosure that holds with a fan out in mild air and with clean filters may not hold "
    "on the hottest day with loaded ones, and fans do not fail by season.",
    try_="Join the scenarios: {name} in limits.scenarios.",
    thresholds="a scenario with a fan or supply out, and a higher outside temperature or fouling "
    "in a scenario of limits.scenarios (without that list: in any of the case), while no listed "
    "outage has the highest of both",
    source=COMMON_PRACTICE,
    numbers={"name": (None, "hot+dirty+each-fan-out")},
)
def outage_not_at_worst(solution: Solution) -> Iterator[Said]:
    """An outage in milder conditions than others that are tried."""
    case = solution.case
    if not _failed(case, solution.scenario):
        return
    listed_ = case.limits.scenarios or tuple(case.scenarios)
    tried = {entry: _severity(case, entry) for entry in listed_}
    here = Severity(case.outside.temperature, _most_fouled(case))
    hottest = max(each.temperature for each in (here, *tried.values()))
    dirtiest = max(each.fouling for each in (here, *tried.values()))
    outages = [found for entry, found in tried.items() if _stops(case, entry)]
    if any(each == Severity(hottest, dirtiest) for each in (here, *outages)):
        return
    milder = []
    if here.temperature < hottest:
        milder.append("{outside} outside (others go up to {hottest})")
    if here.fouling < dirtiest:
        milder.append("a fouling of {fouling} (others go up to {dirtiest})")
    yield say(
        "limits.scenarios", "{scenario} is tried with " + " and ".join(milder),
        scenario=(None, solution.scenario), outside=(q.TEMPERATURE, here.temperature),
        hottest=(q.TEMPERATURE, hottest), fouling=(q.RATIO, here.fouling),
        dirtiest=(q.RATIO, dirtiest),
    )  # fmt: skip


class Severity(NamedTuple):
    """How hard a scenario is on the air."""

    temperature: float  # of the outside [K]
    fouling: float  # of the most loaded filter


def _severity(case: Enclosure, entry: str) -> Severity:
    """That of the case as it was read, in an entry of `limits.scenarios`, outages left aside."""
    read = case.source or case
    kept = [name for name in _names(entry) if name not in EACH and outage(read, name) is None]
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


def _stops(case: Enclosure, entry: str) -> bool:
    """Whether an entry of `limits.scenarios` lets something fail."""
    return any(name in EACH or outage(case, name) is not None for name in _names(entry))


def _failed(case: Enclosure, scenario: str) -> list[Outage]:
    """The outages among the names that a scenario joins."""
    found = (outage(case, name) for name in _names(scenario))
    return [item for item in found if item is not None]


def _names(scenario: str) -> list[str]:
    return [name.strip() for name in scenario.split("+")]
