"""`flownet choose CASE` without a fan: a choice of the case, its text and its files."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple

from flownet.cli import faults, solving
from flownet.cli.answer import Answer, Files, give
from flownet.cli.screen import Screen
from flownet.enclosure.enclosure import Enclosure
from flownet.pages.option_choice import option_choice_lines
from flownet.pages.page import Page
from flownet.schema.errors import NoSolution
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
    files: Files
    strict: bool


def answer(case: Enclosure, wanted: Wanted, page: Page, screen: Screen) -> int:
    """Solve the choice, print it, write what is asked for; the exit code."""
    with solving.working("pairs solved", wanted.jobs, screen) as work:
        found = choose_options(
            design(case, wanted.variant, wanted.changes), wanted.name,
            best=tuple(wanted.best) or None, scenarios=wanted.scenarios or None, **work._asdict(),
        )  # fmt: skip
    give(
        Answer(lambda page: option_choice_lines(found, page, wanted.told), found.to_dict,
               found.rows),
        case, wanted.files, page, screen,
    )  # fmt: skip
    if not any(option.limit or option.holds for option in found.ranked):
        raise NoSolution("\n".join(found.reasons[:3]) or "no design has a solution")
    return faults.STRICT if wanted.strict and found.best is None else faults.DONE


def design(case: Enclosure, variant: str, changes: dict[str, Any]) -> Enclosure:
    """The case in a variant with changes, before anything is chosen."""
    made = case.under(variant=variant)
    return made.with_changes(changes) if changes else made
