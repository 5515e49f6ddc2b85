"""Where the air of compartments comes from, as a table of a page."""

from __future__ import annotations

import math
from collections.abc import Iterator

from flownet.pages.page import MISSING
from flownet.pages.sheet import Column, Listing, Sentence
from flownet.pages.table import INDENT
from flownet.results.solution import Solution
from flownet.schema import quantities as q
from flownet.schema.fault import listed
from flownet.schema.shown import apportioned

LEAST_NEWS = 0.01  # of air: what differs by less, or comes back less, is no news
NAMED_INTAKES = 3  # in a row; the rest together


def origins_table(solution: Solution) -> Iterator[Listing]:
    """Intake by intake, what has been there before, age; below, fans that move air again.

    On a page that is not asked for all only where compartments differ or air comes back.
    """
    air, names = solution.origins, list(solution.compartments)
    rows, shares = list(air.compartments.values()), [air.shares(name) for name in names]
    if not names:
        return
    again: dict[str, list[str]] = {}
    for name, row in air.fans.items():
        if row.returned_share >= LEAST_NEWS:
            again.setdefault(_percent(row.returned_share), []).append(name)
    fed = [each for each in shares if each]
    differ = any(
        abs(each.get(name, 0.0) - fed[0].get(name, 0.0)) >= LEAST_NEWS
        for each in fed for name in {*each, *fed[0]}
    )  # fmt: skip
    before = [_percent(row.returned_share) for row in rows]
    inside = any(row.returned_share >= LEAST_NEWS for row in rows)
    yield Listing("origins", (
        Column("Air of", [f"compartment.{name}" for name in names]),
        Column("age", [row.age for row in rows], q.TIME),
        *([Column("there before", before, right=True)] if inside else []),
        Column("", [intakes(each) for each in shares]),
    ), "page" if again or differ or inside else "all", tuple(
        Sentence(f"{INDENT}{listed(fans)}: ", f"{share} of what {moves} has been through before")
        for share, fans in again.items() for moves in ["they move" if len(fans) > 1 else "it moves"]
    ), apart=False, first=sorted(range(len(rows)), key=lambda i: -rows[i].age))  # fmt: skip


def intakes(shares: dict[str, float] | None, most: int = NAMED_INTAKES) -> str:
    """`77 % filter.intake, 23 % leak.seal`, which add up; `no outside air`."""
    if shares is None:
        return "no outside air"
    largest = sorted(shares.items(), key=lambda pair: -pair[1])
    kept = most if len(largest) > most + 1 else most + 1
    parts = dict(largest[:kept])
    if rest := largest[kept:]:
        parts[f"from {len(rest)} more"] = math.fsum(share for _, share in rest)
    whole = apportioned(100, [100 * share for share in parts.values()])
    return ", ".join(f"{n} % {name}" for name, n in zip(parts, whole, strict=True) if n)


def _percent(share: float) -> str:
    return MISSING if not share >= LEAST_NEWS / 2 else f"{100 * share:.0f} %"
