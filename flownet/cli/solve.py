"""`flownet solve`: the page of a solution, or of several one after the other."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Union

import click

from flownet import __version__
from flownet.cli import options, solving
from flownet.cli.request import Request, command_of
from flownet.cli.screen import PIPED
from flownet.cli.settings import KeyValue
from flownet.cli.writing import STDOUT, UNTABLED, save_text
from flownet.pages import json, render
from flownet.pages.findings import Told
from flownet.pages.page import Page, Unsolved
from flownet.pages.render import MARK
from flownet.pages.solution import points_table, solution_sheet, unsolved_sheet
from flownet.results.solution import Solution

if TYPE_CHECKING:
    from flownet.solving.operating_points import OperatingPoint

Answer = Union["tuple[OperatingPoint, ...]", Solution, Unsolved]

all_points = click.option(
    "--all-points", "every_point", is_flag=True,
    help="Every steady state that fans with a dip could settle in, and what leads to each.",
)  # fmt: skip


@command_of(
    "solve",
    "Find flows, temperatures, margins and findings of a case.",
    "flownet solve drive-cabinet -s hot+dirty",
    'flownet solve drive-cabinet --set "outside.temperature=45 degC"',
    takes=(
        options.case, *options.CHANGES, all_points, options.out, options.json, options.force,
        options.units, options.everything, options.strict,
    ),
)  # fmt: skip
def command(asked: Request, every_point: bool) -> int:
    """Solve every scenario asked for; print, write, and answer with an exit code."""
    _check_files(asked)
    out, json_file, screen, settings = asked.out, asked.json_file, asked.screen, asked.settings
    changes, names, page = asked.changes, asked.names, asked.page()
    made: list[Answer] = []
    told: Told = set()
    for outcome in solving.outcomes(asked.enclosure, names, asked.design, changes, every_point):
        if (out is None or out == STDOUT) and json_file != STDOUT:
            screen.answer(_lines(outcome, page, settings, told, first=not made))
        made.append(outcome)
    if json_file is not None:
        _save_json(json_file, made, asked)
    if out is not None and out.suffix == ".json":
        _save_json(out, made, asked)
    elif out is not None and out != STDOUT:
        plain = Page(page.units, PIPED, asked.everything)
        told = set()
        pages = (_lines(item, plain, settings, told, first=item is made[0]) for item in made)
        lines = [line for page in pages for line in page]
        text = "\n".join([*lines, "", f"{MARK}{__version__}"]) + "\n"
        save_text(out, text, MARK, screen, force=asked.force)
    return solving.exit_code([_first(item) for item in made], asked.strict)


def _check_files(asked: Request) -> None:
    out = asked.out
    if out is not None and out != STDOUT and out.suffix not in UNTABLED:
        raise click.UsageError(
            f'--out: solve writes {" or ".join(UNTABLED)} (got "{out}"); draw makes pictures'
        )
    if out == STDOUT and asked.json_file == STDOUT:
        raise click.UsageError("--out - and --json - cannot both have stdout; drop one")


def _first(outcome: Answer) -> Solution | Unsolved:
    """The state reached from rest, of one or of all."""
    return outcome if isinstance(outcome, (Solution, Unsolved)) else outcome[0].solution


def _lines(
    outcome: Answer, page: Page, settings: Sequence[KeyValue], told: Told, first: bool
) -> Iterator[str]:
    yield from () if first else ("", "")
    if isinstance(outcome, Unsolved):
        yield from render.text(unsolved_sheet(outcome), page)
        return
    solution = outcome if isinstance(outcome, Solution) else outcome[0].solution
    changes = tuple(setting.text for setting in settings)
    yield from render.text(solution_sheet(solution, told).captioned(changes=changes), page)
    if not isinstance(outcome, Solution):
        yield ""
        yield from render.listing(points_table(outcome, page.units), page)


def _save_json(path: Path, made: Sequence[Answer], asked: Request) -> None:
    each: list[Solution | OperatingPoint | Unsolved] = []
    for item in made:
        each += [item] if isinstance(item, (Solution, Unsolved)) else item
    several = not (len(made) == 1 and isinstance(made[0], (Solution, Unsolved)))
    content = json.document("solve", each, several=several)
    save_text(path, json.text(content), json.MARK, asked.screen, force=asked.force)
