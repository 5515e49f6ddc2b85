"""`flownet choose`: a fan type for a place, or values for what the case leaves open."""

from __future__ import annotations

from collections.abc import Sequence

import click

from flownet.cli import faults, options
from flownet.cli.answer import Answer
from flownet.cli.request import Request, command_of
from flownet.pages.fan_choice import fan_choice_lines
from flownet.pages.option_choice import option_choice_lines
from flownet.schema.errors import NoSolution
from flownet.studies.choice.study import choose_options
from flownet.studies.choose import choose
from flownet.studies.fan_choice.study import BEST, FanChoice


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
            "--best", multiple=True, type=click.Choice(tuple(BEST)),
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
        options.deciding, options.variant, options.settings, options.catalogue, options.out,
        options.json, options.force, options.units, options.everything,
        click.option(
            "--strict", is_flag=True,
            help="Exit code 1 where nothing serves, or there is no limit.",
        ),
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
    if subject is None:
        return _choice(asked, name, best)
    return _fan(asked, subject, frame, best)


def _choice(asked: Request, name: str | None, best: Sequence[str]) -> int:
    """What the case leaves open."""
    changes, told = asked.changes, asked.told
    case = asked.enclosure.under(variant=asked.design)
    with asked.working("pairs solved") as work:
        found = choose_options(
            case.with_changes(changes) if changes else case, name,
            best=tuple(best) or None, scenarios=asked.scenarios or None, **work._asdict(),
        )  # fmt: skip
    asked.answer(
        Answer(lambda page: option_choice_lines(found, page, told), found.to_dict, found.rows)
    )
    if not any(option.limit or option.holds for option in found.ranked):
        raise NoSolution("\n".join(found.reasons[:3]) or "no design has a solution")
    return faults.STRICT if asked.strict and found.best is None else faults.DONE


def _fan(asked: Request, fan: str, frame: str | None, best: Sequence[str]) -> int:
    changes, told = asked.changes, asked.told
    with asked.working("pairs solved") as work:
        found = choose(
            asked.enclosure, fan, scenarios=asked.scenarios or None, best=best or None,
            variant=asked.design, changes=changes or None, frame=frame, **work._asdict(),
        )  # fmt: skip
    asked.answer(
        Answer(lambda page: fan_choice_lines(found, page, told), found.to_dict, found.rows)
    )
    return _exit_code(found, asked.strict)


def _exit_code(found: FanChoice, strict: bool) -> int:
    """3 where nothing that was tried has a solution; with `strict` 1 where no type serves, or
    there is no limit that could tell."""
    if found.solved is not None and not found.solved.pairs.ok.any():
        reasons = list(dict.fromkeys(found.solved.pairs.status))
        raise NoSolution("\n".join(reasons[:3]))
    checked = found.solved is not None and bool(found.solved.pairs.limits)
    return faults.STRICT if strict and not (found.best and checked) else faults.DONE
