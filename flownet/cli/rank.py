"""`flownet rank`: which input matters most for one result."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from pathlib import Path

import click

import flownet
from flownet.cli import complete, options, reading
from flownet.cli.answer import Answer, Files, give
from flownet.cli.options import Setting
from flownet.cli.screen import Screen
from flownet.report.page import Page
from flownet.report.sheet import Cell, Column
from flownet.studies.rank import Ranking, rank

SUFFIXES = (".json", ".txt")
COLUMNS = (
    Column("Input"), Column("value", True), Column("step", True), Column("effect", True),
    Column("elasticity", True),
)  # fmt: skip


@click.command(
    "rank",
    help=options.help_text(
        "Rank every number of a case by what it does to one result.",
        "flownet rank drive-cabinet --of part.controller.temperature -s hot",
    ),
)
@click.option("--of", "of", metavar="RESULT",
              help="A result, such as part.NAME.temperature or total.volume_flow.")  # fmt: skip
@click.option(
    "-s", "--scenario", "scenario", metavar="NAME", default="base",
    shell_complete=complete.scenarios, help="Scenario; a+b joins several.",
)  # fmt: skip
@options.apply(
    options.case, options.variant, options.settings, options.catalogue, options.out, options.json,
    options.force, options.units, options.everything, *options.SCREEN,
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
    give(Answer(lambda page: _lines(found, page), found.to_dict), enclosure, files, page, screen)


def ranked(
    case: flownet.Enclosure, of: str, scenario: str, variant: str, settings: Sequence[Setting]
) -> Ranking:
    """The ranking of a case in a scenario and variant, with `--set` on top."""
    changes = reading.changes(case, settings)
    made = case.under(scenario, variant)
    return rank(made.with_changes(changes) if changes else made, of)


def _lines(found: Ranking, page: Page) -> list[str]:
    value = page.text(found.quantity, found.value)
    rows = [[Cell(text) for text in found.texts(effect, page.units)] for effect in found.effects]
    return [
        f"{found.of} is {value}; what moves it, largest first", "",
        *page.table(COLUMNS, rows), "", *textwrap.wrap(found.steps, page.width),
    ]  # fmt: skip
