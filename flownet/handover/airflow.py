"""Where the air goes: the map, every way of the air, the pressure along the main one."""

from __future__ import annotations

import math
from collections.abc import Iterator
from contextlib import suppress
from typing import Any

from flownet import draw
from flownet.handover import sentences
from flownet.handover.document import PageBlock, bars, grid, printed, sentence
from flownet.handover.figures import CHART_SIDE, map_block, picture
from flownet.handover.reviewed import Reviewed, ShownPair
from flownet.handover.web import Words
from flownet.pages.caption import Caption
from flownet.pages.sheet import Column, Listing, Sentence
from flownet.pictures import split
from flownet.pictures.air_shares import air_shares
from flownet.pictures.way import steps_of, way_of
from flownet.results.solution import Solution
from flownet.results.streams import is_outside
from flownet.results.tables import AT_REST
from flownet.schema import quantities as q
from flownet.schema.errors import FlownetError
from flownet.schema.fault import listed

WAY_GROUPS = ("Comes in", "Passes between", "Goes out", "Stands on one of these")
MAP_KEY = """Zigzag: filter; bars: vent; three dots: leak; capsule with wedges: fan, pointing the
way it blows, dashed where it stands still; filled: blanked; hollow arrow: air that comes back.
Arrows are as wide as the mass that flows. Bars of parts: share of the allowed rise."""
SHARED, MAIN_WAY = "Which share of the air goes where", "The main way of the air, and its pressure"
ALONE = "drawn for this pair alone, whatever is chosen above"
PATH_KEY = "the steps add up to zero. Draught: what columns of warm air give or take over the " \
    "whole way."  # fmt: skip


def words(found: Reviewed, units: str) -> Words:
    """For every pair the map, all ways and the pressure along the main one; of the first that is
    shown pictures of both. Where no way leads through, the map says so."""
    made: Words = {"maps": _maps(found, units), "shares": [], "ways": [], "way": [], "paths": []}
    first, opening = next(iter(found.shown))
    about = f"{first.words}; {ALONE}"
    told = f"{about}; bands are as high as the mass that flows, hatched: unfiltered"
    for pair, solution in found.shown:
        with suppress(FlownetError):
            made["paths"].append(_path(solution, pair, units))
            made["ways"].append(_ways(solution, pair, units))
            if pair == first:
                made["shares"].append(picture(draw.split, opening, units, (SHARED, printed(told)),
                                              (2.0, 2.0), split.height))  # fmt: skip
                made["way"].append(picture(_path_drawn, opening, units, (
                    MAIN_WAY, printed(about)), (CHART_SIDE, 6.0), under=36.0))  # fmt: skip
    return made


def _maps(found: Reviewed, units: str) -> Iterator[PageBlock]:
    for pair, solution in found.shown:
        block = map_block(solution, units, pair.key, "Air and temperatures, to scale", found.scale)
        caption = Caption.of(solution)
        site, foot = (
            text.replace("   ", "; ")
            for text in (caption.surroundings(units), caption.foot(dated=False))
        )
        yield block._replace(note=printed(f"{sentence(site)} {MAP_KEY} {foot}."))


def _ways(solution: Solution, pair: ShownPair, units: str) -> PageBlock:
    """Every branch that air passes: in, between, out; then what stands on one."""
    rows = sorted(_moving(solution), key=lambda row: (row[0], -row[3]))
    groups, paths, ends, flows, shares, pressures, notes = zip(*rows, strict=True)
    still = [f"{path} ({row.state or 'open'})" for path, row in solution.branches.items()
             if path not in paths]  # fmt: skip
    note = f"No air: {listed(still, 6)}. " if still else ""
    note += f"{sentences.heat(solution, units)} Shares are of mass: so they add up."
    return grid(
        Listing("ways", (
            Column("way", paths), Column("from > to", ends), Column("flow", flows, q.VOLUME_FLOW),
            Column("%", ["" if math.isnan(share) else f"{share:.0f}" for share in shares],
                   right=True),
            Column("pressure", pressures, q.PRESSURE), Column("", notes),
        ), notes=(Sentence("", note),)),
        units, "Ways of the air", about=f"{pair.words}; %: of all air that comes in", when=pair.key,
        groups=[WAY_GROUPS[group] for group in groups],
        bars={"share": bars((0.0, share) for share in shares)},
    )  # fmt: skip


def _moving(solution: Solution) -> Iterator[tuple[Any, ...]]:
    """Of each branch that air passes, or what stands on one: which of `WAY_GROUPS`, path, ends,
    flow [m3/s], percent of all mass, pressure [Pa], whether that is a rise, and back."""
    drops = {path: abs(float(row.drop)) for path, row in solution.branches.items()}
    bands = {band.path: band for band in air_shares(solution).bands}
    for path, band in bands.items():
        group = 0 if is_outside(band.source) else 2 if is_outside(band.target) else 1
        fan = solution.fans.get(path)
        gives = fan is not None and fan.region not in AT_REST
        yield (group, path, f"{band.source} > {band.target}",
               abs(float(solution.volume_flow(path))), band.percent,
               float(fan.rise) if fan is not None and gives else drops[path],
               ("rise" if gives else "drop") + " back" * band.back)  # fmt: skip
    for path, item in solution.case.branches.items():
        host = getattr(item, "on", None)
        if host in bands:
            yield 3, path, f"on {host}", math.nan, math.nan, drops[path], "drop"


def _through(solution: Solution) -> str | None:
    """The branch by which most air comes in that no dead fan lets back."""
    came = {path: flow for path, flow in sentences.inward(solution).items()
            if path not in solution.fans or solution.fans[path].region != "stopped"}  # fmt: skip
    return max(came, key=lambda path: came[path], default=None)


def _path_drawn(solution: Solution, **where: Any) -> Any:
    ax = draw.path(solution, of=_through(solution), clean=False, **where)
    ax.set_xlabel("")  # names of the steps take its place
    return ax


def _path(solution: Solution, pair: ShownPair, units: str) -> PageBlock:
    """Pressure along the way through that branch."""
    through = _through(solution)
    way = way_of(solution, through)
    steps = steps_of(solution, way)
    after = [math.fsum(step.change for step in steps[: i + 1]) for i in range(len(steps))]
    whole = "From outside to outside" if is_outside(way[0].source) else "Round inside"
    note = Sentence("", f"{whole}, by way of {through or way[0].path}; {PATH_KEY}")
    return grid(
        Listing("path", (
            Column("step", [step.name for step in steps]),
            Column("change", [step.change for step in steps], q.PRESSURE, form="+"),
            Column("then", after, q.PRESSURE, form="+")), notes=(note,)),
        units, "Pressure along the way of the air", about=f"{pair.words}; against the outside",
        when=pair.key, bars={"pressure": bars(zip([0.0, *after], after, strict=False))},
    )  # fmt: skip
