"""All that solves have found, one table a sort of result."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import partial
from typing import Any

import numpy as np

from flownet.exports.legend import tabled
from flownet.pages.caption import own_changes
from flownet.pages.page import Unsolved
from flownet.pages.schedule import fan_schedule
from flownet.pages.sheet import Column, Heads, Listing, Tabled, by_rows
from flownet.pages.verdict import ranked, verdict
from flownet.results.solution import TABLE_NAMES, Solution
from flownet.results.tables import BALANCE, SITE, TOTALS, Field
from flownet.schema import quantities as q
from flownet.schema.fields import NONE, attribute
from flownet.studies.compare import Comparison
from flownet.studies.outcome import pairs_table

WHERE: Heads = (("scenario", None), ("variant", None))
WORDS_OF = {  # words of the case beside results
    "compartments": ("tag",), "branches": ("from", "to", "on", "tag"), "fans": ("tag",),
    "parts": ("in", "tag"),
}  # fmt: skip


def scenarios_table(outcomes: Sequence[Solution | Unsolved], units: str) -> Listing:
    """What was solved and how it stands; what was not keeps its place, with the reason."""
    rows: list[tuple[Any, ...]] = []
    for item in outcomes:
        if isinstance(item, Unsolved):
            rows.append((item.scenario, item.variant, f"not solved: {' '.join(item.faults)}",
                         None, None, None, None))  # fmt: skip
        else:
            said = " ".join(sentence.plain(units) for sentence in verdict(item))
            void = "; ".join(f"{word}: {', '.join(names)}" for word, names in item.void.items())
            rows.append((item.scenario, item.variant, said, void or None, item.stable,
                         "; ".join(own_changes(item.case)) or None, item.case.digest))  # fmt: skip
    return tabled("scenarios", rows)


def tables(solutions: Sequence[Solution], comparison: Comparison | None = None) -> list[Tabled]:
    """Margins, the fan schedule, every table of a solution, findings; a comparison's matrix."""
    groups = (("totals", TOTALS), ("site", SITE), ("balance", BALANCE))
    made: list[Tabled] = [
        _margins(solutions), fan_schedule(solutions),
        *(_table(name, solutions) for name in TABLE_NAMES),
        *(_group(name, fields, solutions) for name, fields in groups),
        partial(_findings, solutions),
    ]  # fmt: skip
    if comparison is None:
        return made
    every = [cell for name in comparison.variants for cell in comparison.column(name)]
    return [*made, _matrix(comparison), pairs_table("pairs", every)]


def _margins(solutions: Sequence[Solution]) -> Listing:
    """Every limit that applies, the worst of its scenario first."""
    every = [(each, item, word) for each in solutions for item, word in ranked(each)]
    values = [item.quantity for _, item, _ in every]
    return Listing("margins", (
        Column("scenario", [each.scenario for each, *_ in every]),
        Column("variant", [each.variant for each, *_ in every]),
        Column("limit", [item.limit for _, item, _ in every]),
        Column("subject", [item.subject for _, item, _ in every]),
        Column("value", [item.value for _, item, _ in every], values),
        Column("bound", [item.bound for _, item, _ in every], values),
        Column("margin", [item.margin for _, item, _ in every],
               [item.margin_quantity for _, item, _ in every]),
        Column("status", [word for *_, word in every]),
    ), "data")  # fmt: skip


def _table(name: str, solutions: Sequence[Solution]) -> Listing:
    """One table of the solutions below each other, with where its things stand."""
    words, first = WORDS_OF.get(name, ()), getattr(solutions[0], name)
    heads = (*WHERE, ("name", None), *((word, None) for word in words), *_heads(first.fields))
    return by_rows(name, heads, [row for each in solutions for row in _rows(each, name, words)])


def _heads(fields: Sequence[Field]) -> Iterator[tuple[str, Any]]:
    return ((field.name, field.quantity) for field in fields)


def _rows(solution: Solution, name: str, words: Sequence[str]) -> Iterator[tuple[Any, ...]]:
    table, case = getattr(solution, name), solution.case
    things = case.branches if name in ("branches", "fans") else case.things.get(name[:-1], NONE)
    for label, row in table.items():
        item = things.get(label)
        yield (solution.scenario, solution.variant, label,
               *(getattr(item, attribute(word), None) for word in words),
               *(getattr(row, field.name) for field in table.fields))  # fmt: skip


def _group(name: str, fields: Sequence[Field], solutions: Sequence[Solution]) -> Listing:
    values = {"totals": "totals_", "site": "site", "balance": "balance_"}[name]
    rows = [(each.scenario, each.variant, *(getattr(each, values)[f.name] for f in fields))
            for each in solutions]  # fmt: skip
    return by_rows(name, (*WHERE, *_heads(fields)), rows)


def _findings(solutions: Sequence[Solution], units: str) -> Listing:
    rows = [(each.scenario, each.variant, found.severity, found.rule, found.subject,
             found.message(units), found.advice(units))
            for each in solutions for found in each.findings]  # fmt: skip
    return tabled("findings", rows)


def _matrix(found: Comparison) -> Listing:
    """Scenarios as rows; of each variant the margin of the limit that decides, and how it stands.

    A pair that is void or not solved has no margin.
    """
    made = [Column("scenario", found.scenarios)]
    for place, name in enumerate(found.variants):
        column = [row[place] for row in found.cells]
        margins = found.margins[:, place]
        made += [
            Column(name, np.where(np.isfinite(margins), margins, np.nan),
                   [cell.margin_quantity if cell else q.DIFFERENCE for cell in column]),
            Column(f"{name}_decides", [cell.subject or None if cell else None for cell in column]),
            Column(f"{name}_status", [cell.word if cell else "does not apply" for cell in column]),
        ]  # fmt: skip
    return Listing("matrix", tuple(made), "data")
