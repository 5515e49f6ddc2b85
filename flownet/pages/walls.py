"""Faces of walls on the page of a solution, how far they are above the dew point; heat sinks."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from flownet.pages.sheet import Column, Listing, Sentence
from flownet.pages.table import INDENT
from flownet.results.dew import coldest_first
from flownet.results.solution import Solution
from flownet.schema import quantities as q


def wall_faces(solution: Solution) -> Iterator[Listing]:
    """Walls whose films are computed or that take up sun, the hottest to touch first; the coldest
    place below them."""
    rows = {name: row for name, row in solution.walls.items()
            if not math.isnan(row.outside_temperature) or row.absorbed_sun > 0}  # fmt: skip
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
    sun, touched = ([getattr(row, key) for row in rows.values()]
                    for key in ("absorbed_sun", "outside_temperature"))  # fmt: skip
    yield Listing("walls", (
        Column("Walls", [f"wall.{name}" for name in rows]),
        Column("inner face", [row.inside_temperature for row in rows.values()], q.TEMPERATURE),
        Column("outer face", touched, q.TEMPERATURE),
        *([Column("absorbed sun", sun, q.POWER)] if any(sun) else []),
        Column("heat", [row.heat for row in rows.values()], q.POWER),
        Column("from > to", [f"{wall.from_} > {wall.to}" for name in rows
                             for wall in [solution.case.walls[name]]]),
    ), first=np.argsort(-np.nan_to_num(touched), kind="stable").tolist(),
        notes=(Sentence(f"{INDENT}coldest: ", coldest),) if stated else ())  # fmt: skip


def heat_sinks(solution: Solution) -> Iterator[Listing]:
    """What the geometry of heat sinks comes to in their air, the warmest first."""
    rows = {name: row for name, row in solution.parts.items() if not math.isnan(row.volume_flow)}
    warmest = np.argsort([-row.temperature for row in rows.values()], kind="stable")
    columns = (
        Column("Heat sinks", [f"part.{name}" for name in rows]),
        Column("to air", [row.resistance for row in rows.values()], q.THERMAL_RESISTANCE),
        Column("flow", [row.volume_flow for row in rows.values()], q.VOLUME_FLOW),
        Column("between fins", [row.velocity for row in rows.values()], q.VELOCITY),
        Column("of", [solution.case.parts[name].sink for name in rows]),
    )
    if rows:
        yield Listing("sinks", columns, first=warmest.tolist())
