"""`flownet rank`: which input matters most for one result."""

from __future__ import annotations

import click

from flownet.cli import options
from flownet.cli.request import Request, command_of
from flownet.cli.writing import UNTABLED
from flownet.studies.rank import rank


@command_of(
    "rank",
    "Rank every number of a case by what it does to one result.",
    "flownet rank drive-cabinet --of part.controller.temperature -s hot",
    takes=(
        options.once("--of", "of", what="result", metavar="RESULT",
                     help="Must be given: the result that inputs are ranked by, such as "
                     "part.NAME.temperature or total.volume_flow."),
        options.case, options.scenario, *options.DESIGN, *options.ANSWER,
    ),
)  # fmt: skip
def command(asked: Request, of: str | None) -> None:
    """Solve once, differentiate everything, print the largest effects."""
    if of is None:
        raise click.UsageError("--of: name the result, such as --of part.NAME.temperature")
    asked.files.check("rank", UNTABLED, picture="rank")
    found = rank(asked.made(), of)
    asked.deliver(  # changes as `solve` writes them
        found.sheet, more=lambda: {"changes": found.solution.to_dict()["changes"]}
    )
