"""`flownet headroom`: how far one input can go before the first limit breaks."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from concurrent.futures import Executor
from typing import Any, NamedTuple

import click

from flownet.attempt import changed
from flownet.cli import complete, faults, options, reading, solving
from flownet.cli.answer import Answer
from flownet.cli.request import Request, command_of
from flownet.enclosure.enclosure import Enclosure
from flownet.pages import render
from flownet.pages.headroom_lines import headroom_lines
from flownet.pages.page import Page, Unsolved
from flownet.pages.solution import unsolved_sheet
from flownet.schema.errors import CaseError, NoSolution
from flownet.solve import Progress
from flownet.studies.headroom.ranges import span
from flownet.studies.headroom.result import Headroom, tightest
from flownet.studies.headroom.study import searched
from flownet.studies.headroom.subject import subject


def _filled(ctx: click.Context, param: click.Parameter, text: str | None) -> str | None:
    if text is not None and not text.strip():
        raise click.BadParameter(f'a value is wanted, such as "55 degC" (got "{text}")', ctx, param)
    return text


upto = click.option(
    "--upto", metavar="VALUE", callback=_filled,
    help='How far to go, such as --upto "55 degC". Default: both ways, over a range that fits the '
    "key.",
)  # fmt: skip
strict = click.option(
    "--strict", is_flag=True, help="Exit code 1 where a limit is broken at today's value."
)


class Job(NamedTuple):
    """What is asked for in each scenario."""

    case: Enclosure
    key: str
    variant: str
    changes: dict[str, Any]
    upto: str | None
    executor: Executor | None
    progress: Progress

    def found(self, scenario: str) -> Headroom:
        """The headroom in one scenario; `upto` is read as in a case file."""
        made = changed(self.case, scenario, self.variant, self.changes)
        moved = subject(made, self.key)
        end = None if self.upto is None else reading.value(self.upto)
        ends = span(moved, made, end, file=True)
        return searched(made, moved, ends, self.executor, self.progress)


@command_of(
    "headroom",
    "Find how far one input can go before the first limit breaks. KEY is its path; with * that of "
    "several, moved together.",
    "flownet headroom drive-cabinet filter.intake.fouling -s hot",
    'flownet headroom drive-cabinet outside.temperature --upto "60 degC"',
    'flownet headroom drive-cabinet "fan.*.speed" -s hot -s each-fan-out',
    takes=(
        options.case, click.argument("key", metavar="KEY", shell_complete=complete.keys), upto,
        options.scenarios, options.variant, options.settings, options.catalogue, options.out,
        options.json, options.force, options.units, options.everything, strict, options.jobs,
    ),
)  # fmt: skip
def command(asked: Request, key: str, upto: str | None) -> int:
    """Search in every scenario, print the tightest first, write what is asked for."""
    asked.files.check("headroom", picture="headroom")
    changes, names, told = asked.changes, asked.names, asked.told
    with asked.working("values solved") as work:
        job = Job(asked.enclosure, key, asked.design, changes, upto, *work)
        found = _searched(job, names)
    asked.answer(
        Answer(lambda page: _lines(found, page, told), lambda: _content(found),
               lambda: _rows(found)),
    )  # fmt: skip
    code = solving.exit_code(found)
    if (
        code == faults.DONE
        and asked.strict
        and not all(item.today.holds for item in _solved(found))
    ):
        return faults.STRICT
    return code


Outcome = Headroom | Unsolved


def _searched(job: Job, names: Sequence[str]) -> list[Outcome]:
    """The tightest first; of several, one that fails keeps a place at the end."""
    outcomes = list(solving.each(job.case, names, job.variant, job.found))
    found = _solved(outcomes)
    if not found:
        reasons = dict.fromkeys(f for item in outcomes if isinstance(item, Unsolved)
                                for f in item.faults)  # fmt: skip
        kinds = {item.kind for item in outcomes if isinstance(item, Unsolved)}
        raise (NoSolution if "no-solution" in kinds else CaseError)("\n".join(list(reasons)[:3]))
    first = found[tightest(found)]
    return [first, *(item for item in outcomes if item is not first)]


def _solved(outcomes: Sequence[Outcome]) -> list[Headroom]:
    return [item for item in outcomes if isinstance(item, Headroom)]


def _lines(found: Sequence[Outcome], page: Page, told: Sequence[str]) -> Iterator[str]:
    for number, item in enumerate(found):
        if number:
            yield ""
        elif len(found) > 1 and isinstance(item, Headroom):
            yield page.paint(f"Tightest of {len(found)}: {item.case.applied.scenario}", "heading")
        if isinstance(item, Unsolved):
            yield from render.text(unsolved_sheet(item), page)
        else:
            yield from headroom_lines(item, page, told)


def _rows(found: Sequence[Outcome]) -> Iterator[dict[str, Any]]:
    """Every value of every scan, with the scenario it belongs to."""
    for item in _solved(found):
        applied = item.case.applied
        for row in item.rows():
            yield {"scenario": applied.scenario, "variant": applied.variant, "key": item.key, **row}


def _content(found: Sequence[Outcome]) -> dict[str, Any]:
    """The tightest first, as on the page."""
    return {
        "command": "headroom", "key": _solved(found)[0].key,
        "headroom": [
            item.to_dict() if isinstance(item, Headroom) else
            {"scenario": item.scenario, "error": {"kind": item.kind,
                                                  "message": "\n".join(item.faults)}}
            for item in found
        ],
    }  # fmt: skip
