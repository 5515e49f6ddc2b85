"""Filters: missing where required, passed by, or only tried clean."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from typing import Any

from flownet.enclosure.changes import steps
from flownet.enclosure.enclosure import Enclosure
from flownet.findings.returning import let_back
from flownet.findings.rule import Said, rule, say
from flownet.results.origins import NOUGHT
from flownet.results.solution import Solution
from flownet.results.streams import carried, column, is_outside, series, streams
from flownet.schema.errors import CaseError
from flownet.schema.fields import given


@rule
def filter_missing(solution: Solution) -> Iterator[Said]:
    """Intake air that is to be filtered and is not."""
    if solution.case.limits.intake_filter == "required":
        total, dirty = unfiltered(solution)
        if total > 0 and math.fsum(dirty.values()) >= filter_missing["all"] * total:
            yield say(next(iter(dirty)), flow=solution.totals.volume_flow, names=list(dirty))


@rule
def filter_bypass(solution: Solution) -> Iterator[Said]:
    """Air that goes round a filter."""
    if solution.case.limits.intake_filter == "none" or not solution.case.things["filter"]:
        return
    total, dirty = unfiltered(solution)
    dead = let_back(solution)
    dirty = {path: flow for path, flow in dirty.items() if path not in dead}
    share = math.fsum(dirty.values()) / total if total > 0 else 0.0
    if filter_bypass["bypass"] < share < filter_missing["all"]:
        mild = share <= filter_bypass["much"]
        yield say(next(iter(dirty)), mild=mild, share=share, names=list(dirty))


def unfiltered(solution: Solution) -> tuple[float, dict[str, float]]:
    """Air drawn in [kg/s], and how much of each way in leaves again without a filter passed.

    A filter at the very way out does not count: the dust has been inside.
    """
    moving, cleaning = streams(solution), cleaned(solution.case)
    entering = [s for s in moving if is_outside(s.source) and not is_outside(s.target)]
    total = math.fsum(s.mass_flow for s in entering)
    held = {s.path for s in moving if s.path in cleaning and not is_outside(s.target)}
    through = carried([s._replace(source=s.target, target=s.source) for s in moving], held)
    dirty = {s.path: s.mass_flow * through.get(s.target, 0.0) for s in entering
             if s.path not in cleaning}  # fmt: skip
    ordered = sorted(dirty.items(), key=lambda pair: -pair[1])
    return total, {path: flow for path, flow in ordered if flow > NOUGHT * total}


def cleaned(case: Enclosure) -> set[str]:
    """Branches whose air passes a fitted filter."""
    return {host for host, chain in series(case).items() if any(map(_filters, chain.values()))}


def _filters(item: Any) -> bool:
    return item.KIND == "filter" and bool(item.state == "fitted")


@rule
def loaded_filter_not_tried(solution: Solution) -> Iterator[Said]:
    """A case whose filters are always clean."""
    case, chains = solution.case, series(solution.case)
    moving = {stream.path for stream in streams(solution)}
    fitted = [item for host in chains if host in moving for item in chains[host].values()
              if _filters(item)]  # fmt: skip
    if fitted and all(item.fouling <= 1 for item in fitted) and not _tried(case):
        drop = abs(column(solution.branches, "drop").get(fitted[0].path, math.nan))
        more = len(fitted) - 1
        yield say(
            fitted[0].path, "subject", more > 0 and "more", "clean", given(drop) and "drop",
            "untried", more=more, drop=drop,
        )  # fmt: skip


def _tried(case: Enclosure) -> bool:
    """Whether a scenario or a sweep raises a filter's fouling."""
    read = case.source or case
    changes = [*read.scenarios.values(), *read.studies.get("sweep", {}).values()]
    return any(_loads(read, path, value) for named in changes if isinstance(named, Mapping)
               for path, value in named.items())  # fmt: skip


def _loads(case: Enclosure, path: str, value: Any) -> bool:
    """Whether a change, or any of several values, leaves some filter loaded."""
    if not (path.startswith("filter.") and path.endswith(".fouling")):
        return False
    if isinstance(value, Mapping):
        value = (value["low"], value["high"])
    for one in value if isinstance(value, tuple) else (value,):
        try:
            made = list(steps(case, {path: one}))
        except CaseError:  # out of range, which its own row of the sweep says
            continue
        if any(step.value > 1 for step in made):
            return True
    return False
