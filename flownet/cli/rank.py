"""`flownet rank`: which input matters most for one result."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from typing import Any

import click

from flownet.cli import options
from flownet.cli.answer import Answer
from flownet.cli.request import Request, command_of
from flownet.pages.heading import changed_lines, head_lines, titled
from flownet.pages.page import Page
from flownet.pages.sheet import Cell, Column
from flownet.studies.levers import Effect
from flownet.studies.rank import Ranking, difference, rank

SUFFIXES = (".json", ".txt")
COLUMNS = (
    Column("Input"), Column("value", True), Column("step", True), Column("effect", True),
    Column("elasticity", True),
)  # fmt: skip


@command_of(
    "rank",
    "Rank every number of a case by what it does to one result.",
    "flownet rank drive-cabinet --of part.controller.temperature -s hot",
    takes=(
        options.once("--of", "of", what="result", metavar="RESULT",
                     help="Must be given: a result, such as part.NAME.temperature or "
                     "total.volume_flow."),
        options.case, options.scenario, options.variant, options.settings, options.catalogue,
        options.out, options.json, options.force, options.units, options.everything,
    ),
)  # fmt: skip
def command(asked: Request, of: str | None) -> None:
    """Solve once, differentiate everything, print the largest effects."""
    if of is None:
        raise click.UsageError("--of: name the result, such as --of part.NAME.temperature")
    asked.files.check("rank", SUFFIXES, picture="rank")
    found, told = rank(asked.made(), of), asked.told
    asked.answer(Answer(lambda page: _lines(found, page, told), lambda: _content(found)))


def _content(found: Ranking) -> dict[str, Any]:
    """Of JSON; changes as `solve` writes them."""
    return {**found.to_dict(), "changes": found.solution.to_dict()["changes"]}


def _row(found: Ranking, effect: Effect, page: Page) -> list[Cell]:
    words = found.texts(effect, page.units)
    return [
        Cell(words.path), page.bound(effect.quantity, effect.value), Cell(words.step),
        page.cell(difference(found.quantity), effect.change, "+"), Cell(words.elasticity),
    ]  # fmt: skip


def _lines(found: Ranking, page: Page, told: Sequence[str]) -> list[str]:
    state = f"{found.solution.variant} | {found.solution.scenario}"
    rows = [_row(found, effect, page) for effect in found.effects]
    return [
        *head_lines(titled(found.solution.case), state, page), *changed_lines(told), "",
        *textwrap.wrap(found.head(page.units), page.width, break_on_hyphens=False), "",
        *page.table(COLUMNS, rows), "", *textwrap.wrap(found.steps_in(page.units), page.width),
    ]  # fmt: skip
