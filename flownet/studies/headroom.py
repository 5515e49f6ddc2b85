"""The value of one key at which the first limit breaks."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import replace
from typing import Any

import numpy as np

from flownet.enclosure.contents import Changes
from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.outages import outage
from flownet.judging.assessment import ALIKE, THERMAL
from flownet.results.limits import Limit
from flownet.schema import argument_checks
from flownet.schema.arrays import Array
from flownet.schema.errors import unsolved
from flownet.schema.quantities import Quantity
from flownet.solving.attempt import changed
from flownet.solving.solve import Progress, solve
from flownet.studies import headroom_search as search
from flownet.studies.headroom_result import Headroom
from flownet.studies.headroom_search import FilterChange
from flownet.studies.headroom_subject import Subject, span, subject
from flownet.studies.runs import Run, evaluate


def headroom(
    case: Enclosure, key: str, *, scenario: str = "base", variant: str = "base",
    changes: Changes | None = None, upto: Any = None, executor: Executor | None = None,
    progress: Progress | None = None,
) -> Headroom:  # fmt: skip
    """How far a key can go before the first limit breaks, above and below today's value.

    A range is scanned in one batch, 33 values; every change of holding is narrowed down and set
    where the margin of the limit that breaks is zero. A range in which limits break and hold again
    between two neighbours of the scan is not seen.

    Parameters
    ----------
    key : str
        Input path of a number, `*` for several: all get one value, or, where they differ today, a
        common factor.
    scenario, variant, changes : as for `solve`
        They make today's values.
    upto : float or str, optional
        Value to search up (or down) to: SI, or text with a unit. Default: both ways, as far as the
        table of ranges goes.
    executor, progress : as for `solve_many`, of values; progress is that of the scan

    Raises
    ------
    CaseError
        A path that is no number or has no value today, an `upto` that does not fit it, unknown
        names.
    NoSolution
        No solution at today's value.
    """
    argument_checks.check("headroom", case, Enclosure)
    argument_checks.check_path("headroom: key", key, "outside.temperature")
    made = changed(case, scenario, variant, changes)
    moved = subject(made, key)
    return searched(made, moved, span(moved, made, upto), executor, progress)


def searched(
    case: Enclosure, moved: Subject, ends: tuple[float, float], executor: Executor | None = None,
    progress: Progress | None = None, rounds: int = search.NARROWINGS,
) -> Headroom:  # fmt: skip
    """The headroom of a case as it is, between two values; each of the `rounds` that narrow a
    crossing down leaves a seventeenth of where it may be."""
    now = evaluate(case, [Run()])
    if not now.ok[0]:
        solve(case)  # says what is wrong, with the right kind of error
        raise unsolved(now.status, case.where)
    unknown = search.unjudged(now)[0]
    watched = [place.path.removesuffix(".fouling") for place in moved.places
               if place.key == "fouling"]  # fmt: skip
    watched = [path for path in watched if np.isfinite(now[f"{path}.drop"][0])]
    bench = search.Bench(case, moved, tuple(watched), executor, unknown)
    scan = bench.points(search.grid(ends[0], moved.present, ends[1], moved.whole), progress)
    at = next(i for i, point in enumerate(scan) if point.value == moved.present)
    sides = [search.crossings(bench, outward, moved.whole, rounds)
             for outward in (scan[at:], scan[at::-1])]  # fmt: skip
    found = Headroom(
        case, moved, *ends, scan[at], tuple(scan), tuple(sides[0]), tuple(sides[1]),
        tuple(search.turns(scan)), tuple(sorted(unknown)), None, (),
    )  # fmt: skip
    return _with_there(found, bench)


def tightest(found: Sequence[Headroom]) -> int:
    """Which has the least room: broken today first, then the nearest break."""
    return min(range(len(found)), key=lambda i: float(f"{found[i].room:.6e}"))  # ties: the first


def _with_there(found: Headroom, bench: search.Bench) -> Headroom:
    """With what is solved again where limits break, and when to change filters."""
    first = found.first
    if first is None:
        return found
    there = bench.points([first.value])[0]
    if found.limit is not None and not first.jumps:
        there = _at_limit(there, found.limit)
    serve = found.today.holds and first in found.up and first.after.status in ("over", "void")
    found = replace(found, there=there)
    gauge = running_drops(found) if serve else {}
    filters = [_change(path, found, there, first, gauge) for path in gauge]
    return replace(found, filters=tuple(filters))


def running_drops(found: Headroom) -> Mapping[str, float]:
    """What a gauge across each filter that was watched reads at the value that was found, before
    anything is out: as a pressure switch must be set [Pa]."""
    if found.there is None:
        return {}
    calm = _without_outages(found.case)
    if calm is None:
        return found.there.drops
    bench = search.Bench(calm, found.subject, tuple(found.there.drops))
    return bench.points([found.value])[0].drops


def _without_outages(case: Enclosure) -> Enclosure | None:
    """The case with what is out in its scenario running again; None where nothing is out."""
    (scenario, variant, changes, _), source = case.applied, case.source
    names = scenario.split("+")
    kept = [name for name in names if outage(case, name) is None]
    if source is None or len(kept) == len(names):
        return None
    given = source.under(scenario, variant).applied.changes
    own = {path: value for path, value in changes.items()
           if path not in given or given[path] != value}  # fmt: skip
    return changed(source, "+".join(kept) or "base", variant, own)


def _at_limit(there: search.Point, limit: Limit) -> search.Point:
    """The point with the limit that breaks there as the one that decides: its margin is zero."""
    margin = there.margins.get((limit.limit, limit.subject))
    if margin is None:
        return there
    value = limit.bound + margin if limit.at_least else limit.bound - margin
    status = "ok" if limit.limit not in THERMAL else "tight"
    if abs(margin) < 10.0**-ALIKE * max(1.0, abs(limit.bound)):  # round-off
        there = there._replace(status=status)
    return there._replace(limit=limit._replace(value=value, margin=margin))


def _change(
    path: str, found: Headroom, there: search.Point, first: search.LimitCrossing,
    gauge: Mapping[str, float],
) -> FilterChange:  # fmt: skip
    before = [point.drops[path] for point in found.scan
              if found.today.value <= point.value < first.value]  # fmt: skip
    return FilterChange(path, found.today.drops[path], there.drops[path], gauge[path],
                        all(drop < there.drops[path] for drop in before))  # fmt: skip


def close_up(
    found: Headroom, values: Sequence[float] | Array
) -> tuple[list[search.Point], dict[search.Name, Quantity]]:
    """Further values of the key, solved as those of the scan were, for a picture of the answer;
    and what the margin of each limit is measured in."""
    bench = search.Bench(found.case, found.subject, tuple(found.today.drops), ignored=found.unknown)
    now = evaluate(found.case, [Run()])
    quantities = {(item.limit, item.subject): item.margin_quantity for item in now.limits}
    return bench.points(values), quantities
