"""`flownet rank`: which input matters most for one result."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import click

import flownet
from flownet.cli import complete, options, reading
from flownet.cli.options import Setting
from flownet.cli.screen import Screen
from flownet.cli.writing import STDOUT, save_text
from flownet.report import json
from flownet.report.sheet import Cell, Column, coloured, plain, table
from flownet.studies.rank import Effect, Ranking, rank

scenario = click.option(
    "-s", "--scenario", "scenario", metavar="NAME", default="base",
    shell_complete=complete.scenarios, help="Scenario; a+b joins several.",
)  # fmt: skip


@click.command(
    "rank",
    help=options.help_text(
        "Rank every number of a case by what it does to one result.",
        "flownet rank drive-cabinet --of part.controller.temperature -s hot",
    ),
)
@click.option("--of", "of", metavar="RESULT", required=True,
              help="A result, such as part.NAME.temperature or total.volume_flow.")  # fmt: skip
@options.apply(
    options.case, scenario, options.variant, options.settings, options.catalogue, options.json,
    options.force, options.units, options.everything, *options.SCREEN,
)  # fmt: skip
def command(
    of: str,
    case: str,
    scenario: str,
    variant: str | None,
    settings: Sequence[Setting],
    catalogue: Sequence[Path],
    json_file: Path | None,
    force: bool,
    units: str | None,
    everything: bool,
    quiet: bool,
    color: str,
) -> None:
    """Solve once, differentiate everything, print the largest effects."""
    screen = Screen.of(color, quiet)
    enclosure = reading.load(case, catalogue)
    made = enclosure.under(scenario, variant or "base")
    if settings:
        made = made.with_changes(reading.changes(enclosure, settings))
    found = rank(made, of)
    if json_file != STDOUT:
        screen.answer(_lines(found, units or enclosure.units, everything, screen))
    if json_file is not None:
        content = {
            "flownet": flownet.__version__, "format": 1,
            "case": enclosure.title or enclosure.origin, **found.to_dict(),
        }  # fmt: skip
        save_text(json_file, json.text(content), json.MARK, screen, force=force)


def _lines(found: Ranking, units: str, everything: bool, screen: Screen) -> list[str]:
    value = found.quantity.shown(units).text(found.value)
    lines = [f"{found.of} is {value}; what moves it, largest first", ""]
    columns = [Column("Input"), Column("value", True), Column("step", True),
               Column("effect", True), Column("elasticity", True)]  # fmt: skip
    rows = [_row(effect, found, units) for effect in found.effects]
    most = None if everything else 12
    paint = coloured if screen.colour else plain
    lines += table(columns, rows, width=screen.width, most=most, paint=paint)
    steps = f"Inputs are moved by {100 * found.share:g} %, temperatures by 1 K, one at a time;"
    return [*lines, "", steps, "effects are exact to first order, large steps bend."]


def _row(effect: Effect, found: Ranking, units: str) -> list[Cell]:
    change = found.words(effect, units).rpartition(": ")[2]
    step = found.moved(effect, units)
    value = effect.quantity.shown(units).text(effect.value)
    cells = (effect.path, value, step, change, f"{effect.elasticity:+.3f}")
    return [Cell(text) for text in cells]
