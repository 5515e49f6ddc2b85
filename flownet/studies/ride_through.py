"""How long an outage is ridden through: from the steady state before it to the first limit."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple, TypeAlias

from flownet.enclosure.contents import Changes
from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.outages import outage
from flownet.pages.duration import duration
from flownet.pages.sheet import Column, Listing, Sentence, by_rows
from flownet.results.solution import Solution
from flownet.schema import quantities as q
from flownet.schema.errors import CaseError, NoSolution
from flownet.schema.fault import listed
from flownet.solving.attempt import changed
from flownet.studies.outcome import PairOutcome
from flownet.studies.spell import Now, Plan
from flownet.studies.timeline import Happening
from flownet.studies.transient import onward, steady_start

NO_OUTAGE = "no scenario here is an outage to ride through; name one, such as -s fan.NAME-out"
LONGEST_RIDE = 3600.0  # s that are looked at: our own choice
RIDE_PLAN = Plan(None, LONGEST_RIDE, cold=False)


class Ride(NamedTuple):
    """What a variant does in an outage."""

    scenario: str
    variant: str
    time: float  # s until the first limit; 0: broken before, or at once; inf: none; NaN: no course
    subject: str  # of that limit
    why: str  # where there is no course, or BROKEN_BEFORE

    @property
    def text(self) -> str:
        """As a table has it."""
        if math.isnan(self.time):
            return "no course"
        if math.isinf(self.time):
            return f"{duration(LONGEST_RIDE)} and more"
        return self.why or f"{duration(self.time) if self.time else 'at once'} {self.subject}"


BROKEN_BEFORE = "broken before"
Starts: TypeAlias = dict[tuple[str, str], tuple[Enclosure, tuple[Solution, Now]]]
"""(scenario, variant) before an outage -> the case, and its steady state."""


def ride(
    case: Enclosure, scenario: str, variant: str, changes: Changes, known: Starts | None = None
) -> Ride | None:
    """One outage in one variant; None where the scenario names none. `known`: what it may use of
    others, and adds to."""
    design = case.under(variant=variant)
    names = scenario.split("+")
    kept = "+".join(name for name in names if outage(design, name) is None) or "base"
    out = [name for name in names if outage(design, name) is not None]
    if not out:
        return None
    known = {} if known is None else known
    try:
        if (kept, variant) not in known:
            before = changed(case, kept, variant, changes or None)
            known[kept, variant] = before, steady_start(before)
        before, start = known[kept, variant]
        if broken := [item for item in start[0].limits if item.broken and item.limit != "life"]:
            worst = min(broken, key=lambda item: item.margin)
            return Ride(scenario, variant, 0.0, worst.subject, BROKEN_BEFORE)
        made: dict[str, object] = {}
        for name in out:
            failed = outage(before, name)
            made |= failed.changes(before) if failed is not None else {}
        found = onward(before, start, [Happening(0.0, 0.0, made)], (), RIDE_PLAN, to_first=True)
    except (CaseError, NoSolution) as error:
        return Ride(scenario, variant, math.nan, "", str(error))
    if found.over:
        return Ride(scenario, variant, 0.0, found.over[0].subject, "")
    if found.first is None:
        return Ride(scenario, variant, math.inf, "", "")
    return Ride(scenario, variant, found.first.time, found.first.subject, "")


def rides(case: Enclosure, pairs: Sequence[PairOutcome], changes: Changes) -> tuple[Ride, ...]:
    """Of all pairs whose scenario names an outage."""
    known: Starts = {}
    found = (ride(case, pair.scenario, pair.variant, changes, known) for pair in pairs)
    return tuple(each for each in found if each is not None)


def rides_tables(rides: Sequence[Ride], variants: Sequence[str]) -> list[Listing]:
    """Outages as rows, variants as columns; and as data."""
    rows = list(dict.fromkeys(each.scenario for each in rides))
    cell = {(each.scenario, each.variant): each.text for each in rides}
    columns = [Column("Until the first limit", rows)]
    columns += [Column(name, [cell.get((row, name), "-") for row in rows], right=True)
                for name in variants]  # fmt: skip
    heads = (("scenario", None), ("variant", None), ("time", q.TIME), ("subject", None),
             ("why", None))  # fmt: skip
    said = Sentence("", "From the steady state before the outage; what stores nothing in the case "
                    "makes it shorter than it is.")  # fmt: skip
    return [Listing("rides", tuple(columns), notes=(said,), fit=True),
            by_rows("ride_through", heads, rides, "json")]  # fmt: skip


def told(rides: Sequence[Ride] | None) -> str:
    """`shortest ride: base 45 s (hot+fan.left-out), three-fans 12 min (...)`, the longest first."""
    if not rides:
        return "" if rides is None else NO_OUTAGE
    worst = {name: min((r for r in rides if r.variant == name and not math.isnan(r.time)),
                       key=lambda each: each.time, default=None)
             for name in dict.fromkeys(each.variant for each in rides)}  # fmt: skip
    some = sorted((each for each in worst.values() if each is not None), key=lambda e: -e.time)
    words = [f"{each.variant} {each.text} ({each.scenario})" for each in some]
    return f"shortest ride through an outage: {listed(words, len(words))}" if words else ""
