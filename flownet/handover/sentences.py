"""The sentences that answer the questions of a review page, from computed numbers alone."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator

from flownet.enclosure.outages import outage
from flownet.handover.document import sentence
from flownet.handover.reviewed import Reviewed
from flownet.pages.page import counted
from flownet.pictures.caption import Units
from flownet.pictures.scene.words import REGION_WORDS
from flownet.results.solution import Solution
from flownet.results.streams import is_outside, streams
from flownet.results.tables import AT_REST
from flownet.schema import quantities as q
from flownet.schema.fault import listed
from flownet.studies import verdicts

LEAST_TOLD, MOST_OF_IT = 0.005, 0.4  # of the air that comes in: told, and as the main way


def inward(solution: Solution) -> dict[str, float]:
    """Mass flow of every branch that brings air in from outside [kg/s]."""
    return {
        stream.path: stream.mass_flow
        for stream in streams(solution)
        if is_outside(stream.source) and not is_outside(stream.target)
    }


def air(solution: Solution, units: str) -> str:
    """`Of the 255 m3/h that come in, 52 % pass filter.intake and 55 % go through baffle.shelf. 23 %
    come back through fan.right, which stands still.`"""
    came = inward(solution)
    total = sum(came.values())
    if not total or math.isnan(total):
        return "No air comes in from outside."
    volume = q.VOLUME_FLOW.shown(units).text(float(solution.totals.volume_flow))
    filters = [path for path in came if path.startswith("filter.")
               and solution.branches[path].state == "fitted"]  # fmt: skip
    still = [path for path in came if path.startswith("fan.")
             and solution.fans[path].region == "stopped"]  # fmt: skip
    inner = {stream.path: stream.mass_flow for stream in streams(solution)
             if not is_outside(stream.source) and not is_outside(stream.target)}  # fmt: skip
    said = []
    if filters:
        share = sum(came[path] for path in filters) / total
        said.append(f"{_percent(share)} pass {listed(filters)}")
    most = max(inner, key=lambda path: inner[path], default="")
    if most and inner[most] >= MOST_OF_IT * total:
        said.append(f"{_percent(inner[most] / total)} go through {most}")
    first = f"Of the {volume} that come in, {' and '.join(said)}." if said else \
        f"{volume} come in from outside."  # fmt: skip
    back = [f"{_percent(came[path] / total)} come back through {path}, which stands still."
            for path in still if came[path] >= LEAST_TOLD * total]  # fmt: skip
    return " ".join([first, *back])


def _percent(share: float) -> str:
    return f"{100 * share:.0f}\N{NO-BREAK SPACE}%"


def fans(solution: Solution, units: str) -> str:
    """`2 of type axial-119-b: each moves 119 m3/h against 36.8 Pa, in the normal part of its
    curve.`"""
    groups: defaultdict[tuple[str, str], list[str]] = defaultdict(list)
    for path, row in solution.fans.items():
        if row.region not in AT_REST:
            flow = q.VOLUME_FLOW.shown(units).text(abs(float(solution.branches[path].volume_flow)))
            rise = q.PRESSURE.shown(units).text(float(row.rise))
            where = "driven backwards" if row.region == "backflow" else \
                REGION_WORDS.get(row.region, f"in the {row.region} part of its curve")  # fmt: skip
            kind = str(solution.case.fans[path[4:]].type)
            groups[kind, f"moves {flow} against {rise}, {where}."].append(path)
    return " ".join(
        f"{len(paths)} of type {kind}: each {told}" if len(paths) > 1 else
        f"{paths[0]}, {kind}, {told}" for (kind, told), paths in groups.items()
    ) or "No fan runs."  # fmt: skip


def heat(solution: Solution, units: str) -> str:
    """`Heat: 704 W in = 595 W by air + 109 W through walls. The air leaves 7.8 K warmer.`"""
    table = next(each for each in solution.sheet.of("page", units=units) if each.name == "heat")
    told = " ".join(note.plain(units) for note in table.notes)
    told = " ".join(told.replace("Heat ", "Heat: ", 1).split())
    rise = float(solution.totals.air_rise)
    warmer = f" The air leaves {q.DIFFERENCE.shown(units).text(rise)} warmer than it came." \
        if math.isfinite(rise) else ""  # fmt: skip
    return f"{told}.{warmer}"


# --- of the whole review --------------------------------------------------------------------------


def change_filter(found: Reviewed, units: str) -> Iterator[str]:
    """At which drop to change a filter, as a switch reads it while all fans run: with an outage
    first, which must be held too; then without."""
    show = Units(units)
    alarms = sorted(found.alarms, key=lambda item: item.fouling)
    for alarm in alarms:
        out = f" with {listed(alarm.out)} out" if alarm.out else ""
        breaks = f"{alarm.subject or 'a limit'} breaks its limit{out}"
        drop = f"{show.text(q.PRESSURE, alarm.drop)} across it, read while all fans run"
        at = f"Change {alarm.path} at" if alarm is alarms[0] or alarm.out else \
            f"If no outage had to be held, {alarm.path} could stay until there are"  # fmt: skip
        if alarm.fouling < 1:
            yield f"No {alarm.path} is clean enough: {breaks} even at its clean drop."
            continue
        yield (f"{at} {drop}: loaded beyond {alarm.fouling:.3g} times its clean drop at the same "
               f"flow, {breaks}; the air in compartment.{alarm.warm_in} is then at "
               f"{show.text(q.TEMPERATURE, alarm.warm)}.")  # fmt: skip
    today = found.slid[0].subject.present
    if alarms and today > alarms[0].fouling:
        yield f"In {found.condition} it is loaded {today:g} times already."
    for item in found.slid:
        if alarms and item.value not in [alarm.fouling for alarm in alarms]:
            yield f"In {item.case.applied.scenario}: {item.verdicts(units)[0]}."


def of_variant(found: Reviewed, name: str, units: str) -> str:
    """`three-fans holds everywhere except hot+fan.left-out (worst -1.3 K at part.rectifier)`."""
    first, *more = verdicts.sentences({name: found.comparison.column(name)}, units, brief=True)
    more = [f"it{text.removeprefix(name)}" if text.startswith(f"{name} ") else text
            for text in more]  # fmt: skip
    return sentence("; ".join([first, *more]), found.names)


def answer(found: Reviewed, units: str) -> str:
    """What the page says at its head: as drawn, the proposal, how sure."""
    said = [of_variant(found, name, units) for name in dict.fromkeys(["base", found.proposal])]
    if found.sure is not None:
        first = found.sure.verdicts(units)[0].partition(";")[0]
        said.append(f"With all tolerances, in {found.decisive.scenario}: {together(found)}{first}.")
    return " ".join(said)


def together(found: Reviewed) -> str:
    """`all limits hold together in 28 % of 500 samples (24 to 33 %); `, where that is less than
    what the least likely limit alone makes of it."""
    sure = found.sure
    if sure is None or sure.all_hold is None or sure.limits[0].chance is None \
            or sure.all_hold.share >= sure.limits[0].chance.share:  # fmt: skip
        return ""
    return f"all limits hold together in {sure.all_hold.words()} of {len(sure)} samples; "


def question(found: Reviewed, units: str) -> str:
    """What is asked: `Does every limit hold with a margin of 3 K in 7 scenarios, 4 of them with
    something out?`"""
    names = found.comparison.scenarios
    out = [name for name in names
           if any(outage(found.case, one) is not None for one in name.split("+"))]  # fmt: skip
    with_out = f", {len(out)} of them with something out" if out else ""
    wanted = found.case.limits.margin
    margin = f" with a margin of {Units(units).round(q.DIFFERENCE, wanted)}" if wanted else ""
    return f"Does every limit hold{margin} in {counted(len(names), 'scenario')}{with_out}?"
