"""`flownet export`: what other programs need of a case, as files."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from flownet.cli import options, solving
from flownet.cli.request import Request, command_of
from flownet.cli.writing import STDOUT
from flownet.exports.export import FORMS, Export, check, export, folder_of
from flownet.pages.page import Unsolved
from flownet.results.solution import Solution
from flownet.schema.errors import CaseError, NoSolution
from flownet.studies.compare import compare


@command_of(
    "export",
    "Hand a case to other programs: cfd (boundary conditions, fan curves, porous coefficients and "
    "heat for a flow simulation), network (places and what joins them), or results (all tables, "
    "margins, the matrix of variants, the fan schedule). FILE ends in .csv or .parquet (a folder "
    "with a file for each table), .xlsx, .json, of a network in .graphml or .dot too; - is JSON on "
    "stdout.",
    "flownet export drive-cabinet cfd -s hot",
    "flownet export drive-cabinet network -o cabinet.dot",
    "flownet export drive-cabinet results -o cabinet.json -s hot -s hot+dirty",
    takes=(
        options.case, click.argument("subject", metavar="SUBJECT", type=click.Choice(tuple(FORMS))),
        *options.CHANGES, options.out, options.force, options.units, options.strict,
    ),
)  # fmt: skip
def command(asked: Request, subject: str) -> int:
    """Solve every scenario asked for and write the files."""
    asked.changes  # noqa: B018 - its faults are told before any work
    out = asked.out or Path(f"{asked.name}-{subject}{FORMS[subject]}")
    if subject == "network" and len(asked.names) > 1:
        raise click.UsageError("export network: one scenario at a time (got several)")
    if out != STDOUT:
        try:
            check(subject, out)
        except (CaseError, ImportError) as error:
            raise click.UsageError(f"--out: {error}") from None
    made = _outcomes(asked, subject)
    if any(not isinstance(item, Unsolved) for item in made):
        matrix = None if subject != "results" else compare(
            asked.enclosure, variants=[asked.variant] if asked.variant else None,
            scenarios=asked.scenarios or None, changes=asked.changes or None,
        )  # fmt: skip
        _deliver(asked, export(made, subject, comparison=matrix), out)
    for item in made:
        if isinstance(item, Solution) and item.void:
            asked.screen.note(f"{item.scenario}: its numbers are void ({', '.join(item.void)})")
    return solving.exit_code(made, asked.strict)


def _outcomes(asked: Request, subject: str) -> list[Any]:
    """A network helps most where nothing can be solved: then it stands without results."""
    try:
        return [*solving.outcomes(asked.enclosure, asked.names, asked.design, asked.changes)]
    except (CaseError, NoSolution) as error:
        if subject != "network":
            raise
        asked.screen.note(f"without results, not solved: {error}")
        return [asked.made(asked.names[0])]


def _deliver(asked: Request, made: Export, out: Path) -> None:
    """JSON to stdout; one file; or a folder, in which what is not a table of these stays."""
    if out == STDOUT:
        (content,) = made.contents(Path("stdout.json")).values()
        click.echo(content, nl=False)
        return
    written = made.save(out, units=asked.page().units, force=asked.force)
    folder = folder_of(out)
    if folder is None:
        asked.screen.note(f"wrote {out}")
        return
    asked.screen.note(f"wrote {folder}/: {', '.join(sorted(path.name for path in written))}")
    if others := sorted(found.name for found in folder.iterdir() if found not in written):
        asked.screen.note(f"{folder}: holds from before: {', '.join(others)}")
