"""`flownet solve`: the page of a solution, or of several one after the other."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any, Union

import click

from flownet.cli import options, solving
from flownet.cli.request import Request, command_of
from flownet.cli.writing import UNTABLED
from flownet.pages.caption import Caption
from flownet.pages.findings import Told
from flownet.pages.operating_points import points_sheet
from flownet.pages.page import Unsolved
from flownet.pages.sheet import Listing, Sheet
from flownet.pages.solution import solution_sheet, unsolved_sheet
from flownet.results.solution import Solution

if TYPE_CHECKING:
    from flownet.solving.operating_points import OperatingPoint

Answer = Union["tuple[OperatingPoint, ...]", Solution, Unsolved]
ONE = (Solution, Unsolved)  # else all operating points, that from rest first

all_points = click.option(
    "--all-points", "every_point", is_flag=True,
    help="Every steady state that fans with a dip could settle in, and what leads to each.",
)  # fmt: skip
tried = click.option(
    "--tried", is_flag=True,
    help="Solve what the findings advise, where it is a change that can be made, and say what each "
    "brings.",
)  # fmt: skip


@command_of(
    "solve",
    "Find flows, temperatures, margins and findings of a case.",
    "flownet solve drive-cabinet -s hot+dirty",
    'flownet solve drive-cabinet --set "outside.temperature=45 degC"',
    takes=(
        options.case, *options.CHANGES, all_points, tried, *options.ANSWER, options.strict,
    ),
)  # fmt: skip
def command(asked: Request, every_point: bool, tried: bool) -> int:
    """Solve every scenario asked for; print each at once, write, and answer with an exit code."""
    asked.files.check("solve", UNTABLED, picture="map")
    if tried and every_point:
        raise click.UsageError("--tried: tries the advice for one state; leave --all-points out")
    changes, names, made = asked.changes, asked.names, list[Answer]()
    left = solving.outcomes(asked.enclosure, names, asked.design, changes, every_point)
    several = every_point or len(names) > 1

    def pages() -> Iterator[Sheet]:
        told: Told = set()
        yield from (_sheet(item, asked, told, tried) for item in made)
        for item in left:
            made.append(item)
            yield _sheet(item, asked, told, tried)

    def content() -> dict[str, Any]:
        made.extend(left)
        found = [point.to_dict() | _advised(point if tried else None)[0] for item in made
                 for point in ((item,) if isinstance(item, ONE) else item)]  # fmt: skip
        return {"solutions": found} if several else found[0]

    whole = Sheet("solve" if several else "", Caption(), lambda units: (), bare=True,
                  parts=pages(), gap=2)  # fmt: skip
    asked.deliver(whole, more=content)
    from_rest = [item if isinstance(item, ONE) else item[0].solution for item in made]
    return solving.exit_code(from_rest, asked.strict)


def _sheet(item: Answer, asked: Request, told: Told, tried: bool) -> Sheet:
    if isinstance(item, Unsolved):
        return unsolved_sheet(item)
    made = solution_sheet(item, told) if isinstance(item, Solution) else points_sheet(item, told)
    more = _advised(item if tried else None)[1]
    return made._replace(tables=(*made.tables, *more)).captioned(changes=tuple(asked.told))


def _advised(item: object) -> tuple[dict[str, Any], tuple[Listing, ...]]:
    """What the findings of a solution advise, tried: as in JSON, and as tables."""
    if not isinstance(item, Solution):
        return {}, ()
    from flownet.studies.suggesting.advice import advised, tried_table  # noqa: PLC0415 - on request

    some = advised(item)
    return {"tried": [each.to_dict() for each in some]}, tuple(tried_table(some))
