"""`flownet solve`: the page of a solution, or of several one after the other."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import click

import flownet
from flownet.cli import faults, options, reading
from flownet.cli.options import Setting
from flownet.cli.screen import PIPED, Screen
from flownet.cli.writing import STDOUT, save
from flownet.enclosure.whole import Enclosure
from flownet.errors import CaseError, NoSolution
from flownet.report import json
from flownet.report.text import Page, Unsolved, solution_lines, unsolved_lines
from flownet.solution import Solution

SUFFIXES = (".json", ".txt")
MARK = "written by flownet "  # last line of a text file


@click.command(
    "solve",
    help=options.help_text(
        "Find flows, temperatures, margins and findings of a case.",
        "flownet solve drive-cabinet -s hot+dirty",
        'flownet solve drive-cabinet --set "outside.temperature=45 degC"',
    ),
)
@options.apply(
    options.case, *options.CHANGES, options.out, options.json, options.force, options.units,
    options.everything, options.strict, *options.SCREEN,
)  # fmt: skip
def command(
    case: str,
    scenarios: Sequence[str],
    variant: str,
    settings: Sequence[Setting],
    catalogue: Sequence[Path],
    out: Path | None,
    json_file: Path | None,
    force: bool,
    units: str | None,
    everything: bool,
    strict: bool,
    quiet: bool,
    color: str,
) -> int:
    """Solve every scenario asked for; print, write, and answer with an exit code."""
    _check_files(out, json_file)
    screen = Screen.of(color, quiet)
    enclosure = reading.load(case, catalogue)
    changes = reading.changes(enclosure, settings)
    names = reading.scenarios(enclosure, scenarios)
    page = screen.page(units or enclosure.units, everything)
    made: list[Solution | Unsolved] = []
    for outcome in outcomes(enclosure, names, variant, changes):
        if (out is None or out == STDOUT) and json_file != STDOUT:
            screen.answer(_lines(outcome, page, settings, first=not made))
        made.append(outcome)
    if json_file is not None:
        _save_json(json_file, made, screen, force)
    if out is not None and out.suffix == ".json":
        _save_json(out, made, screen, force)
    elif out is not None and out != STDOUT:
        plain = Page(page.units, PIPED, everything)
        pages = [_lines(item, plain, settings, first=item is made[0]) for item in made]
        save(out, _text_file(pages), MARK, screen, force=force)
    return _code(made, strict)


def _check_files(out: Path | None, json_file: Path | None) -> None:
    if out is not None and out != STDOUT and out.suffix not in SUFFIXES:
        raise click.UsageError(
            f'--out: solve writes {" or ".join(SUFFIXES)} (got "{out}"); draw makes pictures'
        )
    if out == STDOUT and json_file == STDOUT:
        raise click.UsageError("--out - and --json - cannot both have stdout; drop one")


def outcomes(
    case: Enclosure, names: Sequence[str], variant: str, changes: dict[str, Any]
) -> Iterator[Solution | Unsolved]:
    """Solutions in order; of several, one that fails keeps its place. One alone raises."""
    for done, name in enumerate(names):
        try:
            yield flownet.solve(case, scenario=name, variant=variant, changes=changes or None)
        except (CaseError, NoSolution) as error:
            if len(names) == 1:
                raise
            kind = "no-solution" if isinstance(error, NoSolution) else "case"
            told = error.faults if isinstance(error, CaseError) else (str(error),)
            yield Unsolved(case.title or case.origin, name, variant, kind, told)
        except KeyboardInterrupt:
            if len(names) == 1:
                raise
            rest = " ".join(f"-s {name}" for name in names[done:])
            raise faults.Interrupted(f"the rest: {rest}") from None


def _lines(
    outcome: Solution | Unsolved, page: Page, settings: Sequence[Setting], first: bool
) -> Iterator[str]:
    yield from () if first else ("", "")
    if isinstance(outcome, Unsolved):
        yield from unsolved_lines(outcome, page)
    else:
        yield from solution_lines(outcome, page, [setting.text for setting in settings])


def _save_json(
    path: Path, made: Sequence[Solution | Unsolved], screen: Screen, force: bool
) -> None:
    save(path, json.text(json.document("solve", made)), json.MARK, screen, force=force)


def _text_file(pages: Sequence[Iterator[str]]) -> str:
    lines = [line for page in pages for line in page]
    return "\n".join([*lines, "", f"{MARK}{flownet.__version__}"]) + "\n"


def _code(made: Sequence[Solution | Unsolved], strict: bool) -> int:
    failed = [item for item in made if isinstance(item, Unsolved)]
    if failed:
        names = ", ".join(item.scenario for item in failed)
        click.echo(f"{len(failed)} of {len(made)} scenarios not solved: {names}", err=True)
        unsolved = any(item.kind == "no-solution" for item in failed)
        return faults.UNSOLVED if unsolved else faults.INPUT
    solved = [item for item in made if isinstance(item, Solution)]
    if strict and any(found.severity == "error" for item in solved for found in item.findings):
        return faults.STRICT
    return faults.DONE
