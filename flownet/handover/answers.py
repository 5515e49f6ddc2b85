"""The sections of a review page: questions, the sentences that answer them, tables and pictures."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from functools import partial

from flownet import draw
from flownet.handover import assumed, sentences
from flownet.handover.document import Block, Section, always, grid, printed, turned
from flownet.handover.figures import chart_block, map_block
from flownet.handover.review import Pair, Review
from flownet.handover.slider import slider
from flownet.pages.findings import merged
from flownet.pages.page import counted
from flownet.pages.schedule import fan_schedule
from flownet.pages.sheet import Listing, Sheet
from flownet.pages.verdict import verdict
from flownet.results.finding import SEVERITIES
from flownet.results.solution import Solution
from flownet.schema.errors import FlownetError
from flownet.schema.fault import listed
from flownet.studies.fans.curves import fan_curves
from flownet.studies.verdicts import short

SCHEDULE_NAMES = {"air_in": "air drawn", "blows": "from > to", "life_kind": "kind of life"}
STILL_FAN = """A fan that stops leaves a hole through which air comes back, past everything that
needs it. A shutter closes the hole but costs pressure while the fan runs."""


def sections(found: Review, units: str) -> Iterator[Section]:
    """All of them, in the order in which a review asks."""
    yield assumed.section(found, units)
    yield _holds(found, units)
    yield _air(found, units)
    yield _fans(found, units)
    if found.failures is not None:
        yield _stops(found, units)
    if found.slid:
        yield _moves(found, units)
    if found.sure is not None:
        yield _sure(found, units)
    yield _change(found, units)
    yield assumed.unseen(found)
    yield assumed.sources(found)
    yield assumed.version(found)


def table_of(sheet: Sheet, name: str, units: str) -> Listing | None:
    """The table of this name that pages show; None where there is none."""
    tables = sheet.of("page", "short", units=units)
    return next((each for each in tables if each.name == name and each.columns), None)


def each_pair(found: Review, make: Callable[[Solution, Pair], Iterable[Block]]) -> Iterator[Block]:
    """Blocks for every pair; where one has no solution, the reason stands there."""
    for pair in found.pairs:
        solution = found.solutions.get(pair.key)
        if solution is not None:
            yield from make(solution, pair)


def lead_of(found: Review, say: Callable[[Solution], str]) -> tuple[Block, ...]:
    """The answer of a section, one for each pair."""
    told = [Block("lead", text=printed(say(found.solutions[pair.key])), when=pair.key)
            if pair.key in found.solutions else
            Block("lead", text=_unsolved(found, pair), when=pair.key)
            for pair in found.pairs]  # fmt: skip
    return tuple(told)


def _unsolved(found: Review, pair: Pair) -> str:
    cell = found.comparison.cell(*pair)
    return f"No solution: {cell.why if cell is not None else ''}"


# --- does it hold ---------------------------------------------------------------------------------


def _holds(found: Review, units: str) -> Section:
    said = found.comparison.verdicts(units)
    blocks = [_matrix(found, units), *(always(f"{text}.") for text in said[1:4])]

    def margins(solution: Solution, pair: Pair) -> Sequence[Block]:
        table = table_of(solution.sheet, "margins", units)
        told = " ".join(each.plain(units) + "." for each in verdict(solution, units))
        made = [Block("words", text=printed(told), when=pair.key)]
        if table is not None:
            made.append(grid(table, units, "Margins, the worst first", about=_pair(pair),
                             when=pair.key))  # fmt: skip
        return made

    return Section("Does it hold?", (always(f"{said[0]}.", "lead"),),
                   (*blocks, *each_pair(found, margins)))  # fmt: skip


def _pair(pair: Pair) -> str:
    return f"{pair.scenario}, {pair.variant}"


def _matrix(found: Review, units: str) -> Block:
    """Every pair of the comparison with its margin, status and what decides."""
    comparison = found.comparison
    worst = {name: comparison.worst(name) for name in comparison.variants}
    rows = []
    for scenario, cells in zip(comparison.scenarios, comparison.cells, strict=True):
        row: list[Mapping[str, object]] = []
        for name, cell in zip(comparison.variants, cells, strict=True):
            if cell is None:
                row.append({"status": "none", "text": "does not apply"})
                continue
            amount, _, word = printed(short(cell, units)).rpartition(" ")
            row.append({
                "status": cell.status, "key": f"{scenario}|{name}", "amount": amount, "word": word,
                "subject": cell.subject.removeprefix("part."), "worst": cell is worst[name],
            })  # fmt: skip
        rows.append({"scenario": scenario, "cells": row})
    size = [counted(len(comparison.scenarios), "scenario"),
            counted(len(comparison.variants), "variant")]  # fmt: skip
    return Block("matrix", "The margin that decides, of every scenario in every variant",
                 f"{' x '.join(size)}; heavy frame: worst of its variant; underlined: shown here",
                 data={"variants": comparison.variants, "rows": rows})  # fmt: skip


# --- where the air goes ---------------------------------------------------------------------------


def _air(found: Review, units: str) -> Section:
    def shown(solution: Solution, pair: Pair) -> Iterator[Block]:
        yield map_block(solution, units, pair.key, "Air and temperatures, to scale", found.scale)
        table = table_of(solution.sheet, "air", units)
        if table is not None:
            yield grid(table, units, "Ways of the air", about=_pair(pair), when=pair.key)
        yield Block("note", text=printed(sentences.heat(solution, units)), when=pair.key)

    lead = lead_of(found, partial(sentences.air, units=units))
    ways = _path(found, found.decisive, units)
    return Section("Where does the air go?", lead,
                   (*each_pair(found, shown), *([ways] if ways else [])))  # fmt: skip


def _path(found: Review, pair: Pair, units: str) -> Block | None:
    """Pressure along the way of the air; None where no air moves."""
    solution = found.solutions.get(pair.key)
    if solution is None:
        return None
    try:
        title = f"Pressure along the way of the air, {_pair(pair)}"
        return chart_block(draw.path, solution, units, title=title)
    except FlownetError:  # no way through: the map says so
        return None


# --- which fan ------------------------------------------------------------------------------------


def _fans(found: Review, units: str) -> Section:
    lead = lead_of(found, partial(sentences.fans, units=units))
    blocks: list[Block] = []
    running = [pair for pair in found.pairs if pair.key in found.solutions]
    for pair in running[:1]:
        try:
            curves = fan_curves(found.solutions[pair.key])
        except FlownetError:  # no fan runs
            continue
        blocks.append(chart_block(draw.curves, curves, units, title="What the fans give and what "
                                  f"the enclosure asks, {_pair(pair)}"))  # fmt: skip
    for pair in running:
        table = fan_schedule([found.solutions[pair.key]], "page")
        if len(table):
            blocks.append(turned(_schedule(table), units, "Fan schedule", about=_pair(pair),
                                 when=pair.key))  # fmt: skip
    return Section("Which fan?", lead, tuple(blocks))


def _schedule(table: Listing) -> Listing:
    """The schedule without what the page says elsewhere, its names as people write them."""
    kept = [column._replace(name=SCHEDULE_NAMES.get(column.name, column.name.replace("_", " ")))
            for column in table.columns if column.name not in ("scenario", "variant")]  # fmt: skip
    return replace(table, columns=tuple(kept))


# --- what if --------------------------------------------------------------------------------------


def _stops(found: Review, units: str) -> Section:
    assert found.failures is not None
    told = [f"{text}." for text in found.failures.verdicts(units)]
    blocks = [always(STILL_FAN), *(always(text) for text in told[1:])]
    for table in found.failures.sheet.of("page", "short", units=units):
        if table.columns and table.title is not None:
            blocks.append(grid(table, units, "The margin that decides with one fan out",
                               about=table.title.plain(units)))  # fmt: skip
    return Section("What if a fan stops?", (always(told[0], "lead"),), tuple(blocks))


def _moves(found: Review, units: str) -> Section:
    first = found.slid[0]
    said = [f"{name}: {item.verdicts(units)[0]}." for item in found.slid
            for name in [item.case.applied.scenario]]  # fmt: skip
    question = "When must the filter be changed?" if first.key.endswith(".fouling") \
        else f"How far can {first.key} go?"  # fmt: skip
    lead = sentences.change_filter(found, units) or said.pop(0)
    blocks = [always(text) for text in said]
    return Section(question, (always(lead, "lead"),), (*blocks, slider(found, units)))


# --- how sure, what to change ---------------------------------------------------------------------


def _sure(found: Review, units: str) -> Section:
    assert found.sure is not None
    said = [f"{text}." for text in found.sure.verdicts(units)]
    about = f"{_pair(found.decisive)}; {len(found.sure)} samples, seed {found.sure.seed}"
    blocks = [always(text) for text in said[1:3]]
    for name, title in (("limits", "Limits with all tolerances at once"),
                        ("shares", "Whose spread it is")):  # fmt: skip
        table = table_of(found.sure.sheet, name, units)
        if table is not None:
            blocks.append(grid(table, units, title, about=about, most=12))
    return Section("How sure is it?", (always(said[0], "lead"),), tuple(blocks))


def _change(found: Review, units: str) -> Section:
    worst = [each for each in found.comparison.sheet.of("page", "short", units=units)
             if each.name == "Worst of each"]  # fmt: skip
    blocks = [grid(table, units, "The worst scenario of each variant") for table in worst]

    def told(solution: Solution, pair: Pair) -> Sequence[Block]:
        findings = sorted(merged(solution.findings, units),
                          key=lambda item: SEVERITIES.index(item.severity))  # fmt: skip
        rows = [{"severity": item.severity, "rule": item.rule,
                 "text": printed(item.message(units).strip()),
                 "advice": printed(item.advice(units).strip())} for item in findings]  # fmt: skip
        return [Block("findings", "Findings", _pair(pair), pair.key, data=rows)]

    names = [name for name in found.comparison.variants if name != "base"]
    lead = f"{found.proposal} comes closest of {listed(['base', *names])}." if names else \
        "No variant is in the case; the findings say what to try."  # fmt: skip
    return Section("What should be changed?", (always(lead, "lead"),),
                   (*blocks, *each_pair(found, told)))  # fmt: skip
