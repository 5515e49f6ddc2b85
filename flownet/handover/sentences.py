"""The sentences that answer the questions of a review page, from computed numbers alone."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping

from flownet.handover.review import Review
from flownet.pages.page import counted
from flownet.pictures.scene.words import REGION_WORDS
from flownet.results.solution import Solution
from flownet.results.streams import is_outside, streams
from flownet.schema import quantities as q
from flownet.schema.errors import NoSolution
from flownet.schema.fault import listed
from flownet.solving.solve import solve

LEAST_TOLD, MOST_OF_IT = 0.005, 0.4  # of the air that comes in: told, and as the main way


def inward(solution: Solution) -> dict[str, float]:
    """Mass flow of every branch that brings air in from outside [kg/s]."""
    return {
        stream.path: stream.mass_flow
        for stream in streams(solution)
        if is_outside(stream.source) and not is_outside(stream.target)
    }


def air(solution: Solution, units: str) -> str:
    """`Of the 255 m3/h that come in, 52 % pass filter.intake and 55 % rise through baffle.shelf.
    23 % come back through fan.right, which stands still.`"""
    came = inward(solution)
    total = sum(came.values())
    if not total or math.isnan(total):
        return "No air comes in from outside."
    volume = q.VOLUME_FLOW.shown(units).text(float(solution.totals.volume_flow))
    fitted = {path for path, row in solution.branches.items() if row.state == "fitted"}
    filters = {path: flow / total for path, flow in came.items()
               if path.startswith("filter.") and path in fitted}  # fmt: skip
    still = {path: flow / total for path, flow in came.items()
             if path.startswith("fan.") and solution.fans[path].region == "stopped"}  # fmt: skip
    inner = {stream.path: stream.mass_flow / total for stream in streams(solution)
             if not is_outside(stream.source) and not is_outside(stream.target)}  # fmt: skip
    said = []
    if filters:
        said.append(f"{_percent(sum(filters.values()))} pass {listed(filters, last=' and ')}")
    if inner and (most := max(inner, key=lambda path: inner[path])) and inner[most] >= MOST_OF_IT:
        said.append(f"{_percent(inner[most])} go through {most}")
    first = f"Of the {volume} that come in, {' and '.join(said)}." if said else \
        f"{volume} come in from outside."  # fmt: skip
    back = [f"{_percent(share)} come back through {path}, which stands still."
            for path, share in still.items() if share >= LEAST_TOLD]  # fmt: skip
    return " ".join([first, *back])


def _percent(share: float) -> str:
    return f"{100 * share:.0f} %"


def fans(solution: Solution, units: str) -> str:
    """`2 of type axial-119-b: each moves 119 m3/h against 36.8 Pa, in the normal part of its
    curve.`"""
    groups: defaultdict[tuple[str, str, str, str], list[str]] = defaultdict(list)
    for path, row in solution.fans.items():
        if row.region in ("stopped", "blanked"):
            continue
        flow = q.VOLUME_FLOW.shown(units).text(abs(float(solution.branches[path].volume_flow)))
        rise = q.PRESSURE.shown(units).text(float(row.rise))
        groups[str(solution.case.fans[path[4:]].type), flow, rise, row.region].append(path)
    if not groups:
        return "No fan runs."
    return " ".join(_group(*key, paths) for key, paths in groups.items())


def _group(kind: str, flow: str, rise: str, region: str, paths: list[str]) -> str:
    where = REGION_WORDS.get(region, f"in the {region} part of its curve")
    if region == "backflow":
        where = "driven backwards"
    who = f"{len(paths)} of type {kind}: each" if len(paths) > 1 else f"{paths[0]}, {kind},"
    return f"{who} moves {flow} against {rise}, {where}."


def heat(solution: Solution, units: str) -> str:
    """`Heat: 704 W in = 595 W by air + 109 W through walls. The air leaves 7.8 K warmer.`"""
    table = next(each for each in solution.sheet.of("page", units=units) if each.name == "heat")
    told = " ".join(note.plain(units) for note in table.notes)
    told = " ".join(told.replace("Heat ", "Heat: ", 1).split())
    rise = float(solution.totals.air_rise)
    warmer = f" The air leaves {q.DIFFERENCE.shown(units).text(rise)} warmer than it came." \
        if math.isfinite(rise) else ""  # fmt: skip
    return f"{told}.{warmer}"


def change_filter(found: Review, units: str) -> str:
    """At which drop to change a filter, as a switch reads it while all fans run; empty where the
    key is no fouling, or no limit breaks."""
    if not found.slid[0].key.endswith(".fouling"):
        return ""
    serving = min((item for item in found.slid if item.first is not None and item.first in item.up
                   and item.today.holds), key=lambda item: item.value, default=None)  # fmt: skip
    if serving is None:
        return ""
    path = found.slid[0].key.removesuffix(".fouling")
    drop = running_drop(found, path, serving.value)
    if math.isnan(drop):
        return ""
    told = q.PRESSURE.shown(units).text(drop)
    out = [f"fan.{name}" for name in sorted(serving.case.applied.failed)]
    after = f"a limit breaks with {listed(out)} out" if out \
        else "a limit breaks"  # fmt: skip
    times = f"{serving.value:.3g}"
    return (f"Change {path} at {told} across it, read while all fans run: loaded further than "
            f"{times} times its clean drop, {after}.")  # fmt: skip


def running_drop(found: Review, path: str, fouling: float) -> float:
    """The drop across a filter while nothing is out, so loaded [Pa]; NaN without a solution."""
    changes: Mapping[str, float] = {f"{path}.fouling": fouling}
    try:
        made = solve(found.case, scenario=found.condition, variant=found.proposal,
                     changes=changes)  # fmt: skip
    except NoSolution:
        return math.nan
    return abs(float(made.branches[path].drop))


def answer(found: Review, units: str) -> str:
    """What the page says at its head: as drawn, the proposal, how sure."""
    first = f"{found.comparison.verdicts(units)[0]}."
    sure = f" {found.sure.verdicts(units)[0].partition(';')[0]}." if found.sure else ""
    return first + (f" In {found.decisive.scenario}, {found.proposal}:{sure}" if sure else "")


def question(found: Review) -> str:
    """What is asked: `Does every limit hold in all 7 scenarios, 4 of them with a fan out?`"""
    names = found.comparison.scenarios
    out = [name for name in names if name.endswith("-out") or "-out+" in name]
    with_out = f", {len(out)} of them with something out" if out else ""
    wanted = found.case.limits.margin
    room = f" with {q.DIFFERENCE.metric.text(float(wanted))} to spare" if wanted else ""
    return f"Does every limit hold{room} in {counted(len(names), 'scenario')}{with_out}?"
