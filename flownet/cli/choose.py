"""`flownet choose`: a fan type for a place, or values for what the case leaves open."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import click

from flownet.cli import faults, options
from flownet.cli.request import Request, command_of
from flownet.schema.errors import unsolved
from flownet.studies.choice.fan_result import FanChoice
from flownet.studies.choice.order import MEASURES
from flownet.studies.choice.result import OptionChoice
from flownet.studies.choose import choose


@command_of(
    "choose",
    "Choose a fan type for a place, each accepted or excluded with every reason; without a fan, "
    "values for what a [choice] of the case leaves open.",
    "flownet choose bench-supply fan.rear --catalogue fan-catalogue --frame any",
    'flownet choose telecom-shelf "fan.*" --catalogue fan-catalogue --best noise',
    "flownet choose drive-cabinet --name exhaust",
    takes=(
        options.case, click.argument("subject", metavar="[fan.NAME]", required=False),
        click.option(
            "--best", multiple=True, type=click.Choice(tuple(MEASURES)),
            help="What ranks. Of a fan: default temperature, the largest margin. Of a choice: one "
            "or two, default as the case says.",
        ),
        click.option(
            "--frame", metavar="SIZE",
            help='Of a fan: the frame that the place takes, "119 x 38 mm"; any compares none. '
            "Default: as the type in place.",
        ),
        options.once(
            "--name", what="choice", metavar="NAME",
            help="Of a choice: which one, where the case has several.",
        ),
        options.deciding, *options.DESIGN, *options.ANSWER,
        click.option("--strict", is_flag=True,
                     help="Exit code 1 where nothing serves, or there is no limit."),
        options.jobs,
    ),
)  # fmt: skip
def command(
    asked: Request, subject: str | None, best: Sequence[str], frame: str | None, name: str | None
) -> int:
    """Solve what could serve, print the verdict and the tables, write what is asked for."""
    asked.files.check("choose", picture="choose")
    if subject is not None and name is not None:
        raise click.UsageError(f"--name: names a choice; {subject} is a fan: one of both")
    if subject is None and frame is not None:
        raise click.UsageError("--frame: belongs to the choice of a fan; name one, fan.NAME")
    if subject is not None and len(best) > 1:
        raise click.UsageError(f"--best: one word ranks the types of a fan (got {', '.join(best)})")
    wanted: dict[str, Any] = {
        "fan": subject, "name": name, "scenarios": asked.scenarios or None, "best": best or None,
        "variant": asked.design, "changes": asked.changes or None, "frame": frame,
    }  # fmt: skip
    with asked.working("pairs solved") as work:
        found = choose(asked.enclosure, **wanted, **work._asdict())
    asked.deliver(found.sheet)
    _check_solved(found)
    return faults.STRICT if asked.strict and not _checked(found) else faults.DONE


def _check_solved(found: FanChoice | OptionChoice) -> None:
    """Exit code 2 where all that was asked for was refused, 3 where nothing has a solution."""
    if isinstance(found, OptionChoice):
        if not any(option.limit or option.holds for option in found.ranked):
            raise unsolved(found.reasons or ["no design has a solution"], found.case.origin)
    elif found.solved is not None and not found.solved.pairs.ok.any():
        raise unsolved(found.solved.pairs.status, found.case.origin)


def _checked(found: FanChoice | OptionChoice) -> bool:
    """Whether something serves, and there is a limit that could tell."""
    if isinstance(found, OptionChoice):
        return found.best is not None
    return bool(found.best and found.solved is not None and found.solved.pairs.limits)
