"""`flownet export`: what other programs need of a case, as files."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import click

from flownet.cli import options, solving
from flownet.cli.draw import case_name
from flownet.cli.request import Request, command_of
from flownet.cli.writing import STDOUT, check, save
from flownet.exports import files
from flownet.exports.export import SUBJECTS, export, suffixes
from flownet.pages.page import Unsolved
from flownet.results.solution import Solution
from flownet.schema import atomic
from flownet.schema.errors import CannotWrite, CaseError, NoSolution
from flownet.studies.compare import compare

USUAL = {"cfd": files.TABLE, "network": ".graphml", "results": files.TABLE}


@command_of(
    "export",
    "Hand a case to other programs: cfd (boundary conditions, fan curves, porous coefficients and "
    "heat for a flow simulation), network (places and what joins them), or results (all tables, "
    "margins, the matrix of variants, the fan schedule). FILE ends in .csv or .parquet (a folder "
    "with a file for each table), .xlsx, .json, of a network in .graphml or .dot too.",
    "flownet export drive-cabinet cfd -s hot",
    "flownet export drive-cabinet network -o cabinet.dot",
    "flownet export drive-cabinet results -o cabinet.json -s hot -s hot+dirty",
    takes=(
        options.case, click.argument("subject", metavar="SUBJECT", type=click.Choice(SUBJECTS)),
        *options.CHANGES, options.out, options.json, options.force, options.units, options.strict,
    ),
)  # fmt: skip
def command(asked: Request, subject: str) -> int:
    """Solve every scenario asked for and write the files."""
    assert asked.case is not None  # it is an argument of the command
    asked.changes  # noqa: B018 - its faults are told before any work
    usual = Path(f"{case_name(asked.case)}-{subject}{USUAL[subject]}")
    out = asked.out or (usual if asked.json_file is None else None)
    _check(asked, subject, out)
    made = _outcomes(asked, subject)
    if any(not isinstance(item, Unsolved) for item in made):
        matrix = None if subject != "results" else compare(
            asked.enclosure, variants=[asked.variant] if asked.variant else None,
            scenarios=asked.scenarios or None, changes=asked.changes or None,
        )  # fmt: skip
        given, units = export(made, subject, comparison=matrix), asked.page().units
        if asked.json_file is not None:
            _save(asked, given.contents(Path("x.json")), asked.json_file)
        if out == STDOUT:
            _print(given.contents(Path(f"x{USUAL[subject]}"), units))
        elif out is not None:
            try:
                _save(asked, given.contents(out, units), out)
            except ImportError as error:
                raise click.UsageError(str(error)) from None
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


def _check(asked: Request, subject: str, out: Path | None) -> None:
    """What is wrong with the files, before any work."""
    known = suffixes(subject)
    if out is not None and out != STDOUT and out.suffix.lower() not in known:
        raise click.UsageError(f'--out: {subject} is written as {", ".join(known)} (got "{out}")')
    if out == STDOUT and asked.json_file == STDOUT:
        raise click.UsageError("--out - and --json - cannot both have stdout; drop one")
    if subject == "network" and len(asked.names) > 1:
        raise click.UsageError("export network: one scenario at a time (got several)")
    for path in filter(None, (out, asked.json_file)):
        folder = files.folder_of(path) if path != asked.json_file else None
        if folder is None:
            check(path, files.ours, force=asked.force)
        elif folder.exists() and not folder.is_dir():
            raise CannotWrite(f"{folder}: is a file; name another folder for the tables")
        elif not folder.parent.is_dir():
            raise CannotWrite(f"{folder}: cannot be written: there is no folder {folder.parent}")


def _print(each: Mapping[Path, bytes]) -> None:
    """To stdout, several tables one after the other under their names."""
    for name, content in each.items():
        click.echo(f"# {name.stem}\n" * (len(each) > 1) + content.decode(), nl=False)


def _save(asked: Request, each: Mapping[Path, bytes], path: Path) -> None:
    """One file, or a folder of tables: those of ours are replaced, what else is there stays."""
    folder = files.folder_of(path) if path != asked.json_file else None
    if folder is None:
        (content,) = each.values()
        save(path, content, files.ours, asked.screen, force=asked.force)
        return
    with atomic.refusing(folder):
        folder.mkdir(exist_ok=True)
        for name in each:
            check(name, files.ours, force=asked.force, table=True)
    for name, content in each.items():
        atomic.write(name, content)
    asked.screen.note(f"wrote {folder}/: {', '.join(sorted(name.name for name in each))}")
    if others := sorted(found.name for found in folder.iterdir() if found not in each):
        asked.screen.note(f"{folder}: holds from before: {', '.join(others)}")
