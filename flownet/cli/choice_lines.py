"""`flownet choose CASE` without a fan: a choice of the case, its text and its files."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any, NamedTuple

import flownet
from flownet.cli import faults, solving
from flownet.cli.compare import MARK, table
from flownet.cli.screen import PIPED, Screen
from flownet.cli.writing import STDOUT, save_text
from flownet.enclosure.whole import Enclosure
from flownet.errors import NoSolution
from flownet.report import json
from flownet.report.option_choice import option_choice_lines
from flownet.report.page import Page
from flownet.studies.choice.result import OptionChoice
from flownet.studies.choice.study import choose_options


class Wanted(NamedTuple):
    """What the command line said of a choice."""

    name: str | None
    best: Sequence[str]  # none: as the case says
    scenarios: Sequence[str]
    variant: str
    changes: dict[str, Any]
    told: Sequence[str]  # the changes as they were written
    jobs: int
    out: Path | None
    json_file: Path | None
    force: bool
    strict: bool


def answer(case: Enclosure, wanted: Wanted, page: Page, screen: Screen) -> int:
    """Solve the choice, print it, write what is asked for; the exit code."""
    with solving.working("pairs solved", wanted.jobs, screen) as work:
        found = choose_options(
            design(case, wanted.variant, wanted.changes), wanted.name,
            best=tuple(wanted.best) or None, scenarios=wanted.scenarios or None, **work._asdict(),
        )  # fmt: skip
    if wanted.out in (None, STDOUT) and wanted.json_file != STDOUT:
        screen.answer(option_choice_lines(found, page, wanted.told))
    for path in dict.fromkeys(p for p in (wanted.json_file, wanted.out) if p is not None):
        if path == wanted.json_file or path != STDOUT:
            _save(found, path, wanted, Page(page.units, PIPED, page.everything), screen)
    if not any(option.limit or option.holds for option in found.ranked):
        raise NoSolution("\n".join(found.reasons[:3]) or "no design has a solution")
    return faults.STRICT if wanted.strict and found.best is None else faults.DONE


def design(case: Enclosure, variant: str, changes: dict[str, Any]) -> Enclosure:
    """The case in a variant with changes, before anything is chosen."""
    made = case.under(variant=variant)
    return made.with_changes(changes) if changes else made


def _save(found: OptionChoice, path: Path, wanted: Wanted, page: Page, screen: Screen) -> None:
    if path == wanted.json_file or path.suffix == ".json":
        text, mark, as_table = json.text(_content(found)), json.MARK, False
    elif path.suffix == ".csv":
        text, mark, as_table = table(found.rows()), MARK, True
    else:
        text, mark, as_table = "\n".join(_text(found, page, wanted.told)) + "\n", MARK, False
    save_text(path, text, mark, screen, force=wanted.force, table=as_table)


def _text(found: OptionChoice, page: Page, told: Sequence[str]) -> Iterator[str]:
    yield from option_choice_lines(found, page, told)
    yield from ("", MARK + flownet.__version__)


def _content(found: OptionChoice) -> dict[str, Any]:
    case = found.case
    return {
        "flownet": flownet.__version__, "format": 1, "case": case.title or case.origin,
        **found.to_dict(),
    }  # fmt: skip
