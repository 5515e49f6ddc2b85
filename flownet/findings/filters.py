"""Filters: missing where required, passed by, or only tried clean."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np

from flownet.enclosure.changes import steps
from flownet.enclosure.enclosure import Enclosure
from flownet.findings.returning import let_back
from flownet.findings.rule import Said, rule, say
from flownet.results.solution import Solution
from flownet.results.streams import NOUGHT, Stream, column, is_outside, least_flow, series, streams
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
    case, moving = solution.case, streams(solution)
    cleaned = _cleaned(case)
    entering = [s for s in moving if is_outside(s.source) and not is_outside(s.target)]
    total = math.fsum(s.mass_flow for s in entering)
    if not entering:
        return 0.0, {}
    through = _passes_uncleaned(list(case.compartments), moving, cleaned)
    dirty = {s.path: s.mass_flow * through[s.target] for s in entering if s.path not in cleaned}
    ordered = sorted(dirty.items(), key=lambda pair: -pair[1])
    return total, {path: flow for path, flow in ordered if flow > NOUGHT * total}


def _cleaned(case: Enclosure) -> set[str]:
    """Branches whose air passes a fitted filter."""
    return {host for host, chain in series(case).items() if any(map(_filters, chain.values()))}


def _filters(item: Any) -> bool:
    return item.KIND == "filter" and bool(item.state == "fitted")


def _passes_uncleaned(
    places: list[str], moving: list[Stream], cleaned: set[str]
) -> Mapping[str, float]:
    """Share of the air in each compartment that leaves without passing a filter from there on."""
    from scipy import sparse  # noqa: PLC0415 - only where there are filters
    from scipy.sparse.linalg import spsolve  # noqa: PLC0415 - likewise

    number = {place: i for i, place in enumerate(places)}
    leaving, right = np.zeros(len(places)), np.zeros(len(places))
    onward: list[tuple[float, int, int]] = []  # flow, from, to
    for stream in moving:
        if is_outside(stream.source):
            continue
        row = number[stream.source]
        leaving[row] += stream.mass_flow
        if is_outside(stream.target):
            right[row] += stream.mass_flow
        elif stream.path not in cleaned:
            onward.append((stream.mass_flow, row, number[stream.target]))
    least = least_flow(leaving)  # keeps places that nothing leaves regular
    flows, rows, columns = np.array(onward).reshape(-1, 3).T
    passed = sparse.csc_matrix((flows, (rows.astype(int), columns.astype(int))), (len(places),) * 2)
    shares = spsolve(sparse.diags(leaving + 1e-3 * least, format="csc") - passed, right)
    return dict(zip(places, shares.tolist(), strict=True))


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
