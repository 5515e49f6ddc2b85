"""The sections of a review page: questions, the sentences that answer them, tables and pictures."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from functools import partial
from typing import Any

from flownet import __version__, draw
from flownet.handover import airflow, assumed, sentences
from flownet.handover.document import (
    PageBlock,
    PageCell,
    PageSection,
    always,
    bars,
    grid,
    numbered,
    printed,
    sentence,
)
from flownet.handover.figures import SLIM, WIDE, chart, picture
from flownet.handover.reviewed import Reviewed, ShownPair
from flownet.handover.slider import slider
from flownet.handover.web import environment, script_json
from flownet.judging.assessment import THERMAL
from flownet.pages.caption import Caption
from flownet.pages.findings import merged
from flownet.pages.page import counted
from flownet.pages.schedule import fan_schedule
from flownet.pages.sheet import Column, Listing, Sheet
from flownet.pages.verdict import ranked, verdict
from flownet.pictures import margins, style
from flownet.pictures.curves import CURVE_HEADS, curve_points
from flownet.results.finding import SEVERITIES
from flownet.results.solution import Solution
from flownet.schema import quantities as q
from flownet.schema.errors import FlownetError
from flownet.schema.fault import listed
from flownet.studies.fans.curves import fan_curves
from flownet.studies.outages import OUTAGES_LEGEND
from flownet.studies.outcome import PairOutcome
from flownet.studies.verdicts import short

MATRIX_WIDE, MATRIX_TALL = 4, 40  # variants beside each other, scenarios below each other
LINE_SOLVES = 12  # along a system curve: lines between, where `draw curves` has 48
MOST_SURE = 12  # rows of limits and of tolerances
STILL_FAN = """A fan that stops leaves a hole through which air comes back, past everything that
needs it. A shutter closes the hole but costs pressure while the fan runs."""
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


def page(found: Reviewed, units: str) -> str:
    """The whole page as HTML."""
    caption = Caption.of(found.case)
    pairs = {pair.key: _cell(found.comparison.cell(*pair), units) for pair in found.pairs}
    solutions = [_plain(item.to_dict()) for item in found.solutions.values()]
    return environment().get_template("review.html").render(
        title=found.case.title or caption.heading, day=caption.foot().split("   ")[-1],
        version=__version__, digest=found.case.digest.removeprefix("sha256:")[:16],
        question=sentences.question(found, units), answer=printed(sentences.answer(found, units)),
        sections=numbered(_sections(found, units)), pairs=found.pairs,
        scenarios=list(dict.fromkeys(pair.scenario for pair in found.pairs)),
        variants=list(dict.fromkeys(pair.variant for pair in found.pairs)),
        left_out=counted(found.left_out, "more pair") if found.left_out else "",
        data=script_json({"pairs": pairs, "first": found.decisive.key}),
        results=script_json({"flownet": __version__, "format": 1, "solutions": solutions}),
    )  # fmt: skip


def _plain(value: Any) -> Any:
    """What is no number does not exist: null."""
    if isinstance(value, dict):
        return {key: _plain(item) for key, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [_plain(item) for item in value]
    return None if isinstance(value, float) and not math.isfinite(value) else value


def _sections(found: Reviewed, units: str) -> Iterator[PageSection]:
    """All of them, in the order in which a review asks."""
    yield assumed.section(found, units)
    yield _holds(found, units)
    air = _leads(found, partial(sentences.air, units=units))
    yield PageSection("Where does the air go?", air, tuple(airflow.blocks(found, units)))
    yield _fans(found, units)
    if found.failures is not None:
        yield _stops(found, units)
    if found.slid:
        yield _moves(found, units)
    if found.sure is not None:
        yield _sure(found, units)
    yield _change(found, units)
    yield assumed.unseen(found)
    yield assumed.sources(found, units)
    yield assumed.version(found, units)


def _table(sheet: Sheet, name: str, units: str) -> Listing | None:
    """The table of this name that pages show; None where there is none."""
    tables = sheet.of("page", "short", units=units)
    return next((each for each in tables if each.name == name and each.columns), None)


def _leads(found: Reviewed, say: Callable[[Solution], str]) -> tuple[PageBlock, ...]:
    """The answer of a section, one for each pair; where one has no solution, the reason."""
    told = []
    for pair in found.pairs:
        cell = found.comparison.cell(*pair)
        why = f"No solution: {cell.why if cell is not None else ''}"
        text = say(found.solutions[pair.key]) if pair.key in found.solutions else why
        told.append(PageBlock("lead", text=printed(text), when=pair.key))
    return tuple(told)


# --- does it hold ---------------------------------------------------------------------------------


def _holds(found: Reviewed, units: str) -> PageSection:
    said, full = ([sentence(text, found.names) for text in found.comparison.verdicts(units, brief)]
                  for brief in (True, False))  # fmt: skip
    blocks = [*_matrix(found, units), *(always(text) for text in said[1:4])]
    if more := [[PageCell(printed(text), "words")] for text in full if text not in said]:
        blocks.append(PageBlock("details", "What makes pairs void", heads=[PageCell("In full",
                                "words")], rows=more))  # fmt: skip
    for pair, solution in found.shown:
        told = " ".join(sentence(each.plain(units)) for each in verdict(solution, units))
        blocks.append(PageBlock("words", text=printed(f"In {pair.words}: {told}"), when=pair.key))
    first, opening = next(iter(found.shown))
    about = printed(f"{first.words}; {airflow.ALONE}; ticks: the margin that is wanted")
    blocks.append(picture(draw.margins, opening, units, ("Margin, share of what is allowed", about),
                          (110.0, 12.0), margins.height))  # fmt: skip
    for pair, solution in found.shown:
        if (table := _table(solution.sheet, "margins", units)) is not None:
            about = f"{pair.words}; bars: the margin as a share of what is allowed, from the line"
            blocks.append(grid(table, units, "Margins, the worst first", about=about,
                               first="Limit of", when=pair.key,
                               bars={"left": _left(solution, len(table))}))  # fmt: skip
    return PageSection("Does it hold?", (always(said[0], "lead"),), tuple(blocks))


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


def _matrix(found: Reviewed, units: str) -> Iterator[PageBlock]:
    """Every pair of the comparison with its margin, status and what decides: the proposal and base
    first, as many variants beside each other as a page holds; of many scenarios the worst."""
    comparison = found.comparison
    rows = [[cell for cell in cells if cell is not None] for cells in comparison.cells]
    order = sorted(range(len(rows)), key=lambda i: min(cell.order for cell in rows[i]))
    kept = sorted(order[:MATRIX_TALL])
    size = [counted(len(comparison.scenarios), "scenario"),
            counted(len(comparison.variants), "variant")]  # fmt: skip
    about = f"{' x '.join(size)}; heavy frame: worst of its variant; underlined: shown here"
    if len(kept) < len(rows):
        about += f"; the worst {len(kept)} scenarios, {len(rows) - len(kept)} more are left out"
    variants = list(dict.fromkeys([found.proposal, "base", *comparison.variants]))
    variants = [name for name in variants if name in comparison.variants]
    wide = math.ceil(len(variants) / math.ceil(len(variants) / MATRIX_WIDE))
    for start in range(0, len(variants), wide):
        some = variants[start : start + wide]
        worst = {name: _cell(comparison.worst(name), units) for name in some}
        lines = []
        for at in kept:
            scenario = comparison.scenarios[at]
            cells = [_cell(comparison.cell(scenario, name), units) for name in some]
            for cell, name in zip(cells, some, strict=True):
                cell["worst"] = "worst" * all(cell.get(key) == worst[name].get(key) for key in
                                              ("amount", "word", "status"))  # fmt: skip
            lines.append({"scenario": scenario, "cells": cells})
        yield PageBlock("matrix", "The margin that decides, of every scenario in every variant",
                        about if not start else "further variants",
                        data={"variants": some, "rows": lines})  # fmt: skip


# --- which fan ------------------------------------------------------------------------------------


def _fans(found: Reviewed, units: str) -> PageSection:
    blocks = list(_curves(found, units))
    for title, names in SCHEDULES.items():
        for pair, solution in found.shown:
            table = fan_schedule([solution], "page")
            own = {column.name: column for column in table.columns}
            kept = [own[name]._replace(name=SCHEDULE_NAMES.get(name, name.replace("_", " ")),
                                       form="bound" * (name in AS_GIVEN))
                    for name in names.split()]  # fmt: skip
            if len(table):
                blocks.append(grid(Listing("schedule", tuple(kept), notes=table.notes), units,
                                   title, about=pair.words, when=pair.key,
                                   turned=True))  # fmt: skip
    return PageSection(
        "Which fan?", _leads(found, partial(sentences.fans, units=units)), tuple(blocks)
    )


def _curves(found: Reviewed, units: str) -> Iterator[PageBlock]:
    """Of the proposal with nothing out, if that is shown; nothing where no fan runs."""
    shown = dict(found.shown)
    pair = ShownPair(found.condition, found.proposal)
    pair = pair if pair in shown else next(iter(shown))
    try:
        curves = fan_curves(shown[pair], steps=LINE_SOLVES, gain=False)
    except FlownetError:
        return
    title = "What the fans give and what the enclosure asks"
    wide, narrow = (chart(draw.curves, curves, units, size, title) for size in (WIDE, SLIM))
    least = min((float(line.flow.min()) for line in curves.systems if len(line.flow)), default=0.0)
    about = f"{pair.words}; {airflow.ALONE}"
    if least > 0:
        about += f"; system curves begin at {q.VOLUME_FLOW.shown(units).text(least)}, the least " \
            "flow solved: nearer to none the air gets so warm that its draught decides"  # fmt: skip
    yield PageBlock("figure", title, printed(about), wide=wide, narrow=narrow)
    rows = [(" ".join(filter(None, row[:2])), *row[2:]) for row in curve_points(curves, units)]
    columns = [Column(head, [row[i] for row in rows])
               for i, head in enumerate(("point", *CURVE_HEADS[2:]))]  # fmt: skip
    yield grid(Listing("points", tuple(columns)), units, "The numbers in that figure")


# --- what if --------------------------------------------------------------------------------------


def _stops(found: Reviewed, units: str) -> PageSection:
    """The proposal's sentence first, then base."""
    assert found.failures is not None
    names = dict.fromkeys(item.variant for item in found.failures.failures)
    told = dict(zip(names, found.failures.verdicts(units), strict=True))
    said = [sentence(told[name], found.names) for name in
            sorted(told, key=lambda name: name != found.proposal)]  # fmt: skip
    blocks = [always(STILL_FAN), *(always(text) for text in said[1:])]
    for table in found.failures.sheet.of("page", "short", units=units):
        if table.columns and table.title is not None:
            blocks.append(grid(table, units, "The margin that decides with one fan out",
                               first="Out", about=table.title.plain(units)))  # fmt: skip
    blocks.append(always(sentence(OUTAGES_LEGEND.plain(units)), "note"))
    return PageSection("What if a fan stops?", (always(said[0], "lead"),), tuple(blocks))


def _moves(found: Reviewed, units: str) -> PageSection:
    key = found.slid[0].key
    said = [*sentences.change_filter(found, units)] or [
        sentence(f"in {item.case.applied.scenario}: {item.verdicts(units)[0]}")
        for item in found.slid]  # fmt: skip
    question = "When must the filter be changed?" if found.slid[0].today.drops \
        else f"How far can {key} go?"  # fmt: skip
    return PageSection(question, (always(said[0], "lead"),),
                       (*(always(text) for text in said[1:]), slider(found, units)))  # fmt: skip


# --- how sure, what to change ---------------------------------------------------------------------


def _sure(found: Reviewed, units: str) -> PageSection:
    assert found.sure is not None
    sure = found.sure
    first, *more = sure.verdicts(units)
    said = [sentence(text, found.names) for text in (sentences.together(found) + first, *more)]
    about = f"{found.decisive.words}; {len(sure)} samples, seed {sure.seed}"
    blocks = [always(text) for text in said[1:3]]
    warm = [item.margin.ends if item.limit in THERMAL else (math.nan,) for item in sure.limits]
    spread = {"spread": bars((ends[0], ends[-1]) for ends in warm)}
    if (table := _table(sure.sheet, "limits_held", units)) is not None:
        told = f"{about}; P5: 5 % of the samples lie below it"
        blocks.append(grid(table, units, "Limits with all tolerances at once", about=told,
                           first="Limit of", most=MOST_SURE, bars=spread))  # fmt: skip
    if (table := _table(sure.sheet, "spread", units)) is not None:
        share = {row.spread.path: row.share for row in sure.shares.rows}
        drawn = bars((0.0, share[path]) for path in table.columns[0].values)
        blocks.append(grid(table, units, "Whose spread it is", about=f"{about}; {sure.shares.of}",
                           most=MOST_SURE, bars={"of all": drawn}))  # fmt: skip
    for usual in sure.sheet.of("page", units=units):
        if usual.name == "usual":
            blocks.append(always(" ".join(note.plain(units) for note in usual.notes), "note"))
    return PageSection("How sure is it?", (always(said[0], "lead"),), tuple(blocks))


def _change(found: Reviewed, units: str) -> PageSection:
    """What to try: the proposal; the worst of each variant; what the findings of each pair say."""
    lead, name = sentences.of_variant(found, found.proposal, units), found.proposal
    said = f"No variant of the case comes closer than it stands. {lead}"
    if name != "base":
        what = assumed.changes_of(found, name, units)
        said = f"Try {name} ({what}): it {lead.removeprefix(name).strip()}"
    blocks = [always(f"Not proposed, because it takes a filter out: {listed(found.passed_over)}.")
              ] if found.passed_over else []  # fmt: skip
    table = _table(found.comparison.sheet, "Worst of each", units)
    if table is not None and len(table) > 1:
        blocks.append(grid(table, units, "The worst scenario of each variant", first="Variant",
                           without=("air", "flow", "useful")))  # fmt: skip
    for pair, solution in found.shown:
        told = {(each.finding.rule, each.finding.subject): each.words(units)
                for each in found.advice if pair == found.decisive}  # fmt: skip
        rows = sorted(merged(solution.findings, units),
                      key=lambda item: SEVERITIES.index(item.severity))  # fmt: skip
        blocks.append(PageBlock("findings", "Findings", pair.words, pair.key, data=[
            {"severity": item.severity, "rule": item.rule,
             "text": printed(sentence(item.message(units).strip())),
             "advice": printed(item.advice(units).strip()),
             "tried": printed(told.get((item.rule, item.subject), ""))}
            for item in rows]))  # fmt: skip
    return PageSection("What should be changed?", (always(said, "lead"),), tuple(blocks))
