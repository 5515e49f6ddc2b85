"""`flownet rank`: which input matters most for one result."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import click

from flownet.cli import options, reading
from flownet.cli.answer import Files, deliver
from flownet.cli.screen import Screen
from flownet.cli.settings import Setting
from flownet.enclosure.enclosure import Enclosure
from flownet.studies.rank import Ranking, rank

SUFFIXES = (".json", ".txt")


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
    deliver(
        found.sheet, files, screen.page(units or enclosure.units, everything), screen,
        told=[setting.text for setting in settings],
        more=lambda: {"changes": found.solution.to_dict()["changes"]},  # as `solve` writes them
    )  # fmt: skip


def ranked(
    case: Enclosure, of: str, scenario: str, variant: str, settings: Sequence[Setting]
) -> Ranking:
    """The ranking of a case in a scenario and variant, with `--set` on top."""
    changes = reading.changes(case, settings)
    made = case.under(scenario, variant)
    return rank(made.with_changes(changes) if changes else made, of)
