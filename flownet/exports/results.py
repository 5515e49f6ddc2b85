"""All that solves have found, one table a sort of result."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import partial
from typing import Any

from flownet.pages.caption import own_changes
from flownet.pages.page import Unsolved
from flownet.pages.schedule import fan_schedule
from flownet.pages.sheet import Column, Heads, Listing, Tabled, by_rows
from flownet.pages.verdict import ranked, verdict
from flownet.results.solution import TABLE_NAMES, Solution
from flownet.results.tables import BALANCE, SITE, TOTALS
from flownet.schema import quantities as q
from flownet.schema.fields import NONE, attribute
from flownet.studies.compare import Comparison
from flownet.studies.outcome import margin_unit, pairs_table

WHERE: Heads = (("scenario", None), ("variant", None))
SUMS = [(f"{kind}.{field.name}", field) for kind, fields in
        (("total", TOTALS), ("site", SITE), ("balance", BALANCE)) for field in fields]  # fmt: skip
WORDS_OF = {  # words of the case beside results
    "compartments": ("tag",), "branches": ("from", "to", "on", "tag"), "fans": ("tag",),
    "parts": ("in", "tag"),
}  # fmt: skip


def scenarios_table(outcomes: Sequence[Solution | Unsolved], units: str) -> Listing:
    """What was solved, how it stands, totals, site and balance; what was not solved keeps its
    place, with the reason."""
    words = ("verdict", "void", "changes", "input_digest")
    heads = (*WHERE, *((word, None) for word in words),
             *((path.replace(".", "_"), field.quantity) for path, field in SUMS))  # fmt: skip
    rows: list[tuple[Any, ...]] = []
    for item in outcomes:
        if isinstance(item, Unsolved):
            told = [f"not solved: {' '.join(item.faults)}", *[None] * (len(heads) - 3)]
        else:
            void = "; ".join(f"{word}: {', '.join(names)}" for word, names in item.void.items())
            told = [" ".join(sentence.plain(units) for sentence in verdict(item, units)), void,
                    "; ".join(own_changes(item.case)), item.case.digest,
                    *(item[path] for path, _ in SUMS)]  # fmt: skip
        rows.append((item.scenario, item.variant, *told))
    return by_rows("scenarios", heads, rows)


def tables(solutions: Sequence[Solution], comparison: Comparison | None = None) -> list[Tabled]:
    """Margins, the fan schedule, every table of a solution, findings; a comparison's matrix."""
    made: list[Tabled] = [
        _margins(solutions), fan_schedule(solutions),
        *(_table(name, solutions) for name in TABLE_NAMES), partial(_findings, solutions),
    ]  # fmt: skip
    if comparison is None:
        return made
    every = [cell for name in comparison.variants for cell in comparison.column(name)]
    return [*made, _matrix(comparison), pairs_table("pairs", every)]


def _margins(solutions: Sequence[Solution]) -> Listing:
    """Every limit that applies, the worst of its scenario first; units stand behind."""
    every = [(each, item, word) for each in solutions for item, word in ranked(each)]
    held, lost = ([item[place] for _, item, _ in every] for place in (-2, -1))
    heads: Any = (
        *WHERE, ("limit", None), ("subject", None), ("value", held), ("bound", held),
        ("unit", None), ("margin", lost), ("margin_unit", None), ("status", None),
    )  # fmt: skip
    return by_rows("margins", heads, [
        (each.scenario, each.variant, item.limit, item.subject, item.value, item.bound,
         margin_unit(item.quantity), item.margin, margin_unit(item.margin_quantity), word)
        for each, item, word in every
    ])  # fmt: skip


def _table(name: str, solutions: Sequence[Solution]) -> Listing:
    """One table of the solutions below each other, with where its things stand."""
    words, fields = WORDS_OF.get(name, ()), getattr(solutions[0], name).fields
    heads = (*WHERE, ("name", None), *((word, None) for word in words),
             *((field.name, field.quantity) for field in fields))  # fmt: skip
    return by_rows(name, heads, [row for each in solutions for row in _rows(each, name, words)])


def _rows(solution: Solution, name: str, words: Sequence[str]) -> Iterator[tuple[Any, ...]]:
    table, case = getattr(solution, name), solution.case
    things = case.branches if name in ("branches", "fans") else case.things.get(name[:-1], NONE)
    for label, row in table.items():
        item = things.get(label)
        yield (solution.scenario, solution.variant, label,
               *(getattr(item, attribute(word), None) for word in words),
               *(getattr(row, field.name) for field in table.fields))  # fmt: skip


def _findings(solutions: Sequence[Solution], units: str) -> Listing:
    words = ("severity", "rule", "subject", "message", "try")
    rows = [(each.scenario, each.variant, found.severity, found.rule, found.subject,
             found.message(units), found.advice(units))
            for each in solutions for found in each.findings]  # fmt: skip
    return by_rows("findings", (*WHERE, *((word, None) for word in words)), rows)


def _matrix(found: Comparison) -> Listing:
    """Scenarios as rows; of each variant the margin of the limit that decides, and how it stands.

    A pair that is void or not solved has no margin.
    """
    made = [Column("scenario", found.scenarios)]
    for place, name in enumerate(found.variants):
        cells = [row[place] for row in found.cells]
        kinds = [cell.margin_quantity if cell else q.DIFFERENCE for cell in cells]
        made += [
            Column(f"margin.{name}", found.margins[:, place], kinds),
            Column(f"unit.{name}", [*map(margin_unit, kinds)]),
            Column(f"decides.{name}", [cell.subject if cell else "" for cell in cells]),
            Column(f"status.{name}", [cell.word if cell else "does not apply" for cell in cells]),
        ]  # fmt: skip
    return Listing("matrix", tuple(made), "data")
