"""The review page: what a design review asks of a case, as one file that needs nothing else.

Words, tables and pictures that its template shows; the sentences between them are its own.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from concurrent.futures import Executor
from dataclasses import dataclass

from flownet import __version__, draw
from flownet.enclosure.contents import Changes
from flownet.enclosure.enclosure import Enclosure
from flownet.handover import airflow, assumed, sentences
from flownet.handover.document import PageBlock, PageCell, bars, grid, printed, sentence
from flownet.handover.figures import SLIM, WIDE, chart, picture
from flownet.handover.reviewed import SAMPLED, Reviewed, ShownPair, reviewed
from flownet.handover.slider import slider
from flownet.handover.web import Words, rendered, script_json
from flownet.judging.assessment import THERMAL
from flownet.pages.findings import merged
from flownet.pages.page import counted
from flownet.pages.schedule import fan_schedule
from flownet.pages.sheet import Column, Listing, Sheet
from flownet.pages.verdict import ranked, verdict
from flownet.pictures import margins, style
from flownet.pictures.curves import CURVE_HEADS, curve_points
from flownet.results.finding import SEVERITIES, Finding
from flownet.results.solution import Solution
from flownet.schema import argument_checks
from flownet.schema import quantities as q
from flownet.schema.errors import FlownetError
from flownet.studies.fans.curves import fan_curves
from flownet.studies.outages import OUTAGES_LEGEND
from flownet.studies.outcome import PairOutcome
from flownet.studies.verdicts import short

MATRIX_WIDE, MATRIX_TALL = 4, 40  # variants beside each other, scenarios below each other
LINE_SOLVES = 12  # along a system curve: lines between, where `draw curves` has 48
MOST_SURE = 12  # rows of limits and of tolerances
SCHEDULES = {  # what the state decides, and what is bought and fitted: columns of the fan schedule
    "Fan schedule, operating": "fan tag count speed speed_ratio speed_by flow rise region power "
    "air_in noise noise_distance life life_kind state",
    "Fan schedule, what to order and fit": "fan tag count type size depth bearing supply "
    "rated_current blows direction guard_loss shutter alarm",
}
AS_GIVEN = ("size", "depth", "rated_current", "guard_loss", "noise_distance")  # as they are given
SCHEDULE_NAMES = {"rise": "static pressure rise", "air_in": "air drawn", "noise": "noise of one",
                  "noise_distance": "noise at", "life": "life at that air", "blows": "from > to",
                  "life_kind": "kind of life", "speed_by": "speed follows"}  # fmt: skip


@dataclass(frozen=True, repr=False, eq=False)
class Review(Reviewed):
    """What stands on the page, solved; the page shows it and computes nothing."""

    def __repr__(self) -> str:
        return f'<Review "{self.case.title}" {len(self.pairs)} pairs: {self.comparison.verdict}>'

    def html(self, units: str | None = None) -> str:
        """The page."""
        return _page(self, units or self.case.units)


def review(
    case: Enclosure, *, variant: str | None = None, scenarios: Sequence[str] | None = None,
    key: str | None = None, samples: int = SAMPLED, seed: int = 1,
    changes: Changes | None = None, executor: Executor | None = None,
) -> Review:  # fmt: skip
    """Solve what a design review asks: every variant in every scenario, outages, the room for one
    key, tolerances.

    Parameters
    ----------
    variant : str, optional
        The proposal. Default the one that comes closest to holding everywhere, and takes no filter
        out.
    scenarios, changes, executor : as for `compare`
    key : str, optional
        What the slider moves. Default the fouling of the filter that passes most air, else the
        outside temperature.
    samples, seed : int
        Of the tolerances; 0 samples leave them out.

    Raises
    ------
    CaseError
        Unknown names, a key that cannot move.
    NoSolution
        Where no pair is solved.
    """
    argument_checks.check("review", case, Enclosure)
    return Review(**reviewed(case, variant, scenarios, key, (samples, seed), changes, executor))


# --- the page -------------------------------------------------------------------------------------


def _page(found: Reviewed, units: str) -> str:
    """The whole page as HTML."""
    pairs = {pair.key: _cell(found.comparison.cell(*pair), units) for pair in found.pairs}
    solutions = [item.to_dict() for item in found.solutions.values()]
    return rendered(
        "review.html", found.case, found=found, units=units, first=found.decisive.key,
        question=sentences.question(found, units), answer_told=sentences.answer(found, units),
        say={"air": sentences.air, "fans": sentences.fans, "verdict": _verdict,
             "findings": _findings},
        **assumed.words(found, units), **_holds(found, units), **airflow.words(found, units),
        **_fans(found, units), **_stops(found, units), **_moves(found, units),
        **_sure(found, units), **_change(found, units),
        left_out=counted(found.left_out, "more pair") if found.left_out else "",
        data=script_json({"pairs": pairs, "first": found.decisive.key}),
        results=script_json({"flownet": __version__, "format": 1, "solutions": solutions}),
    )  # fmt: skip


def _table(sheet: Sheet, name: str, units: str) -> Listing | None:
    """The table of this name that pages show; None where there is none."""
    tables = sheet.of("page", "short", units=units)
    return next((each for each in tables if each.name == name and each.columns), None)


# --- does it hold ---------------------------------------------------------------------------------


def _holds(found: Reviewed, units: str) -> Words:
    said, full = ([sentence(text, found.names) for text in found.comparison.verdicts(units, brief)]
                  for brief in (True, False))  # fmt: skip
    first, opening = next(iter(found.shown))
    about = printed(f"{first.words}; {airflow.ALONE}; ticks: the margin that is wanted")
    told = "bars: the margin as a share of what is allowed, from the line"
    return {
        "holds": said[:4], "in_full": [text for text in full if text not in said],
        "matrix": _matrix(found, units),
        "limits_drawn": picture(draw.margins, opening, units, (
            "Margin, share of what is allowed", about), (110.0, 12.0), margins.height),
        "limits": [grid(table, units, "Margins, the worst first", about=f"{pair.words}; {told}",
                        first="Limit of", when=pair.key, bars={"left": _left(solution, len(table))})
                   for pair, solution in found.shown
                   if (table := _table(solution.sheet, "margins", units)) is not None],
    }  # fmt: skip


def _verdict(solution: Solution, units: str) -> str:
    return " ".join(sentence(each.plain(units)) for each in verdict(solution, units))


def _left(solution: Solution, count: int) -> list[PageCell]:
    """The share of what is allowed that each limit leaves, cut at none and all of it."""
    outside, found = solution.site["temperature"], ranked(solution)
    shares = [style.left(item, float(item.margin), outside) for item, _ in found]
    spans = [(0.0, min(max(share, style.CUT_AT), 1.0)) for share in shares]
    none = [(math.nan, math.nan)] * (count - len(spans))
    return bars([*spans, *none], [word for _, word in found] + [""] * len(none))


def _cell(cell: PairOutcome | None, units: str) -> dict[str, str]:
    """A pair as the matrix shows it, and what stands beside the selects."""
    if cell is None:
        return {"status": "none", "text": "does not apply"}
    amount, _, word = printed(short(cell, units)).rpartition(" ")
    if cell.subject:  # `-1.3 K void: stall`
        number = printed(short(cell._replace(status="ok", void={}), units)).split()
        amount, word = " ".join(number[:2]), str(cell.word)
    return {"status": cell.status, "key": f"{cell.scenario}|{cell.variant}", "amount": amount,
            "word": word, "subject": cell.subject}  # fmt: skip


def _matrix(found: Reviewed, units: str) -> Words:
    """Every pair of the comparison: the proposal and base first, as many variants beside each other
    as a page holds; of many scenarios the worst."""
    every, cells = found.comparison, found.comparison.cells
    order = sorted(range(len(cells)), key=lambda i: min(
        cell.order for cell in cells[i] if cell is not None))  # fmt: skip
    variants = [name for name in dict.fromkeys([found.proposal, "base", *every.variants])
                if name in every.variants]  # fmt: skip
    wide = math.ceil(len(variants) / math.ceil(len(variants) / MATRIX_WIDE))
    return {
        "variants": [variants[i : i + wide] for i in range(0, len(variants), wide)],
        "scenarios": [every.scenarios[i] for i in sorted(order[:MATRIX_TALL])],
        "worst": {name: _cell(every.worst(name), units) for name in variants},
        "cell": lambda *pair: _cell(every.cell(*pair), units),
        "size": f"{counted(len(order), 'scenario')} x {counted(len(variants), 'variant')}",
    }  # fmt: skip


# --- which fan ------------------------------------------------------------------------------------


def _fans(found: Reviewed, units: str) -> Words:
    schedules = []
    for title, names in SCHEDULES.items():
        for pair, solution in found.shown:
            table = fan_schedule([solution], "page")
            own = {column.name: column for column in table.columns}
            kept = [own[name]._replace(name=SCHEDULE_NAMES.get(name, name.replace("_", " ")),
                                       form="bound" * (name in AS_GIVEN))
                    for name in names.split()]  # fmt: skip
            if len(table):
                schedules.append(grid(Listing("schedule", tuple(kept), notes=table.notes), units,
                                      title, about=pair.words, when=pair.key,
                                      turned=True))  # fmt: skip
    return {"curves": _curves(found, units), "schedules": schedules}


def _curves(found: Reviewed, units: str) -> tuple[PageBlock, PageBlock] | None:
    """Picture and its numbers, of the proposal with nothing out, if that is shown; None where no
    fan runs."""
    shown = dict(found.shown)
    pair = ShownPair(found.condition, found.proposal)
    pair = pair if pair in shown else next(iter(shown))
    try:
        curves = fan_curves(shown[pair], steps=LINE_SOLVES, gain=False)
    except FlownetError:
        return None
    title = "What the fans give and what the enclosure asks"
    least = min((float(line.flow.min()) for line in curves.systems if len(line.flow)), default=0.0)
    about = f"{pair.words}; {airflow.ALONE}"
    if least > 0:
        about += f"; system curves begin at {q.VOLUME_FLOW.shown(units).text(least)}, the least " \
            "flow solved: nearer to none the air gets so warm that its draught decides"  # fmt: skip
    wide, narrow = (chart(draw.curves, curves, units, size, title) for size in (WIDE, SLIM))
    rows = [(" ".join(filter(None, row[:2])), *row[2:]) for row in curve_points(curves, units)]
    columns = [Column(head, [row[i] for row in rows])
               for i, head in enumerate(("point", *CURVE_HEADS[2:]))]  # fmt: skip
    numbers = grid(Listing("points", tuple(columns)), units, "The numbers in that figure")
    return PageBlock(title, printed(about), wide=wide, narrow=narrow), numbers


# --- what if --------------------------------------------------------------------------------------


def _stops(found: Reviewed, units: str) -> Words:
    """The proposal's sentence first, then base."""
    if found.failures is None:
        return {"stops": ()}
    names = dict.fromkeys(item.variant for item in found.failures.failures)
    told = dict(zip(names, found.failures.verdicts(units), strict=True))
    return {
        "stops": [sentence(told[name], found.names)
                  for name in sorted(told, key=lambda name: name != found.proposal)],
        "outages": [grid(table, units, "The margin that decides with one fan out", first="Out",
                         about=table.title.plain(units))
                    for table in found.failures.sheet.of("page", "short", units=units)
                    if table.columns and table.title is not None],
        "outages_legend": sentence(OUTAGES_LEGEND.plain(units)),
    }  # fmt: skip


def _moves(found: Reviewed, units: str) -> Words:
    if not found.slid:
        return {"moves": ()}
    said = [*sentences.change_filter(found, units)] or [
        sentence(f"in {item.case.applied.scenario}: {item.verdicts(units)[0]}")
        for item in found.slid]  # fmt: skip
    return {"moves": said, "slider": slider(found, units)}


# --- how sure, what to change ---------------------------------------------------------------------


def _sure(found: Reviewed, units: str) -> Words:
    sure, tables = found.sure, []
    if sure is None:
        return {"sure": ()}
    first, *more = sure.verdicts(units)
    about = f"{found.decisive.words}; {len(sure)} samples, seed {sure.seed}"
    warm = [item.margin.ends if item.limit in THERMAL else (math.nan,) for item in sure.limits]
    if (table := _table(sure.sheet, "limits_held", units)) is not None:
        told = f"{about}; P5: 5 % of the samples lie below it"
        tables.append(grid(table, units, "Limits with all tolerances at once", about=told,
                           most=MOST_SURE, first="Limit of",
                           bars={"spread": bars((end[0], end[-1]) for end in warm)}))  # fmt: skip
    if (table := _table(sure.sheet, "spread", units)) is not None:
        share = {row.spread.path: row.share for row in sure.shares.rows}
        drawn = bars((0.0, share[path]) for path in table.columns[0].values)
        tables.append(grid(table, units, "Whose spread it is", about=f"{about}; {sure.shares.of}",
                           most=MOST_SURE, bars={"of all": drawn}))  # fmt: skip
    said = [sentence(text, found.names) for text in (sentences.together(found) + first, *more)]
    return {"sure": said[:3], "spreads": tables, "usual": [
        " ".join(note.plain(units) for note in table.notes)
        for table in sure.sheet.of("page", units=units) if table.name == "usual"]}  # fmt: skip


def _change(found: Reviewed, units: str) -> Words:
    """What to try: the proposal; the worst of each variant."""
    lead, name = sentences.of_variant(found, found.proposal, units), found.proposal
    said = f"No variant of the case comes closer than it stands. {lead}"
    if name != "base":
        what = assumed.changes_of(found, name, units)
        said = f"Try {name} ({what}): it {lead.removeprefix(name).strip()}"
    table = _table(found.comparison.sheet, "Worst of each", units)
    worst = [grid(table, units, "The worst scenario of each variant", first="Variant",
                  without=("air", "flow", "useful"))
             for table in (table,) if table is not None and len(table) > 1]  # fmt: skip
    return {"change": said, "worst": worst}


def _findings(solution: Solution, units: str) -> list[Finding]:
    return sorted(merged(solution.findings, units),
                  key=lambda item: SEVERITIES.index(item.severity))  # fmt: skip
