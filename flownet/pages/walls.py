"""The faces of walls on the page of a solution, and how far they are above the dew point."""

from __future__ import annotations

import math
from collections.abc import Iterator

from flownet.pages.sheet import Column, Listing, Sentence
from flownet.pages.table import INDENT
from flownet.results.dew import coldest_first
from flownet.results.solution import Solution
from flownet.schema import quantities as q


def wall_faces(solution: Solution) -> Iterator[Listing]:
    """Walls whose films are computed, the hottest to touch first; the coldest place below them."""
    rows = {name: row for name, row in solution.walls.items()
            if not math.isnan(row.outside_temperature)}  # fmt: skip
    if not rows:
        return

    def coldest(units: str) -> str:
        """`compartment.skin, 1.4 K above the dew point 3.3 degC`."""
        above = solution.totals.dew_margin
        point = q.TEMPERATURE.shown(units).text(float(solution.site["dew_point"]))
        apart = q.DIFFERENCE.shown(units).text(abs(above))
        word = "above" if above >= 0 else "below"
        return f"{next(iter(coldest_first(solution)))}, {apart} {word} the dew point {point}"

    stated = not math.isnan(solution.totals.dew_margin)
    yield Listing("walls", (
        Column("Walls", [f"wall.{name}" for name in rows]),
        Column("inner face", [row.inside_temperature for row in rows.values()], q.TEMPERATURE),
        Column("outer face", [row.outside_temperature for row in rows.values()], q.TEMPERATURE),
        Column("heat", [row.heat for row in rows.values()], q.POWER),
        Column("from > to", [f"{wall.from_} > {wall.to}" for name in rows
                             for wall in [solution.case.walls[name]]]),
    ), first=sorted(range(len(rows)), key=lambda i: -[*rows.values()][i].outside_temperature),
        notes=(Sentence(f"{INDENT}coldest: ", coldest),) if stated else ())  # fmt: skip
