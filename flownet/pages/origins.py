"""Where the air of compartments comes from, as a table of a page."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

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
    """Age, what has been there before, intake by intake; below, fans that move air again.

    On a page that is not asked for all only where compartments differ or air comes back.
    """
    air, again = solution.origins, dict[str, list[str]]()
    rows, fed = list(air.compartments.values()), ~np.isnan(air.share).any(axis=1)
    for fan, row in air.fans.items():
        if row.returned_share >= LEAST_NEWS:
            again.setdefault(f"{100 * row.returned_share:.0f} %", []).append(fan)
    differ = fed.any() and np.ptp(air.share[fed], axis=0).max(initial=0.0) >= LEAST_NEWS
    inside = [row.returned_share >= LEAST_NEWS for row in rows]
    before = [f"{100 * row.returned_share:.0f} %" if told else MISSING
              for row, told in zip(rows, inside, strict=True)]  # fmt: skip
    layered = [f"compartment.{name}" for name in air.compartments if solution.layers_of(name)]
    mixed = [Sentence(f"{INDENT}{listed(layered)}: ", "taken as mixed here, all layers as one")]
    yield Listing("origins", (
        Column("Air of", [f"compartment.{name}" for name in air.compartments]),
        Column("age", [row.age for row in rows], q.TIME),
        *([Column("there before", before, right=True)] if any(inside) else []),
        Column("", [intakes(air.shares(name)) for name in air.compartments]),
    ), "page" if again or differ or any(inside) else "all", (*(mixed if layered else ()), *(
        Sentence(f"{INDENT}{listed(fans)}: ", f"{share} of what {moves} has been through before")
        for share, fans in again.items() for moves in ["they move" if len(fans) > 1 else "it moves"]
    )), apart=False, first=sorted(range(len(rows)), key=lambda i: -rows[i].age))  # fmt: skip


def intakes(shares: dict[str, float] | None) -> str:
    """`77 % filter.intake, 23 % leak.seal`, which add up; `no outside air`."""
    if shares is None:
        return "no outside air"
    largest = sorted(shares.items(), key=lambda pair: -pair[1])
    kept = NAMED_INTAKES + (len(largest) == NAMED_INTAKES + 1)
    parts = dict(largest[:kept])
    if rest := largest[kept:]:
        parts[f"from {len(rest)} more"] = math.fsum(share for _, share in rest)
    whole = apportioned(100, [100 * share for share in parts.values()])
    return ", ".join(f"{n} % {name}" for name, n in zip(parts, whole, strict=True) if n)
