"""`flownet rank`: which input matters most for one result."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import click

from flownet.cli import options, reading
from flownet.cli.answer import Answer, Files, give
from flownet.cli.screen import Screen
from flownet.cli.settings import Setting
from flownet.enclosure.enclosure import Enclosure
from flownet.pages.heading import changed_lines, head_lines, titled
from flownet.pages.page import Page
from flownet.pages.table import Cell, Head
from flownet.studies.levers import Effect
from flownet.studies.rank import Ranking, difference, rank

SUFFIXES = (".json", ".txt")
COLUMNS = (
    Head("Input"), Head("value", True), Head("step", True), Head("effect", True),
    Head("elasticity", True),
)  # fmt: skip


@click.command(
    "rank",
    help=options.help_text(
        "Rank every number of a case by what it does to one result.",
        "flownet rank drive-cabinet --of part.controller.temperature -s hot",
    ),
)
@options.once("--of", "of", what="result", metavar="RESULT",
              help="Must be given: a result, such as part.NAME.temperature or "
              "total.volume_flow.")  # fmt: skip
@options.apply(
    options.case, options.scenario, options.variant, options.settings, options.catalogue,
    options.out, options.json, options.force, options.units, options.everything, *options.SCREEN,
)  # fmt: skip
def command(
    of: str | None,
    scenario: str,
    case: str,
    variant: str | None,
    settings: Sequence[Setting],
    catalogue: Sequence[Path],
    out: Path | None,
    json_file: Path | None,
    force: bool,
    units: str | None,
    everything: bool,
    quiet: bool,
    color: str,
) -> None:
    """Solve once, differentiate everything, print the largest effects."""
    if of is None:
        raise click.UsageError("--of: name the result, such as --of part.NAME.temperature")
    files = Files(out, json_file, force)
    files.check("rank", SUFFIXES, picture="rank")
    screen = Screen.of(color, quiet)
    enclosure = reading.load(case, catalogue)
    found = ranked(enclosure, of, scenario, variant or "base", settings)
    page = screen.page(units or enclosure.units, everything)
    told = [setting.text for setting in settings]
    give(Answer(lambda page: _lines(found, page, told), lambda: _content(found)), enclosure, files,
         page, screen)  # fmt: skip


def ranked(
    case: Enclosure, of: str, scenario: str, variant: str, settings: Sequence[Setting]
) -> Ranking:
    """The ranking of a case in a scenario and variant, with `--set` on top."""
    changes = reading.changes(case, settings)
    made = case.under(scenario, variant)
    return rank(made.with_changes(changes) if changes else made, of)


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
