"""`flownet rank`: which input matters most for one result."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import click

import flownet
from flownet.cli import complete, options, reading
from flownet.cli.options import Setting
from flownet.cli.screen import PIPED, Screen
from flownet.cli.writing import STDOUT, save_text
from flownet.report import json
from flownet.report.sheet import Cell, Column, Paint, coloured, plain, table
from flownet.studies.rank import Ranking, rank

SUFFIXES = (".json", ".txt")
MARK = "written by flownet "  # last line of a text file
ROWS = 12
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
    _check_files(out, json_file)
    screen = Screen.of(color, quiet)
    enclosure = reading.load(case, catalogue)
    found = ranked(enclosure, of, scenario, variant or "base", settings)
    units = units or enclosure.units
    if (out is None or out == STDOUT) and json_file != STDOUT:
        paint = coloured if screen.colour else plain
        screen.answer(_lines(found, units, everything, screen.width, paint))
    for path in (json_file, out if out is not None and out.suffix == ".json" else None):
        if path is not None:
            save_text(path, json.text(_content(found)), json.MARK, screen, force=force)
    if out is not None and out.suffix == ".txt":
        lines = [*_lines(found, units, everything, PIPED, plain), "", MARK + flownet.__version__]
        save_text(out, "\n".join(lines) + "\n", MARK, screen, force=force)


def ranked(
    case: flownet.Enclosure, of: str, scenario: str, variant: str, settings: Sequence[Setting]
) -> Ranking:
    """The ranking of a case in a scenario and variant, with `--set` on top."""
    changes = reading.changes(case, settings)
    made = case.under(scenario, variant)
    return rank(made.with_changes(changes) if changes else made, of)


def _check_files(out: Path | None, json_file: Path | None) -> None:
    if out is not None and out != STDOUT and out.suffix not in SUFFIXES:
        raise click.UsageError(
            f'--out: rank writes {" or ".join(SUFFIXES)} (got "{out}"); "draw CASE rank" makes '
            "the picture"
        )
    if out == STDOUT and json_file == STDOUT:
        raise click.UsageError("--out - and --json - cannot both have stdout; drop one")


def _content(found: Ranking) -> dict[str, Any]:
    case = found.solution.case
    return {
        "flownet": flownet.__version__, "format": 1, "case": case.title or case.origin,
        **found.to_dict(),
    }  # fmt: skip


def _lines(found: Ranking, units: str, everything: bool, width: int, paint: Paint) -> list[str]:
    value = found.quantity.shown(units).text(found.value)
    rows = [[Cell(text) for text in found.texts(effect, units)] for effect in found.effects]
    most = None if everything else ROWS
    return [
        f"{found.of} is {value}; what moves it, largest first", "",
        *table(COLUMNS, rows, width=width, most=most, paint=paint), "",
        *textwrap.wrap(found.steps, width),
    ]  # fmt: skip
