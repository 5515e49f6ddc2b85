"""`flownet choose`: a fan type for a place, or values for what the case leaves open."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import click

from flownet.cli import faults, options, reading, solving
from flownet.cli.answer import Answer, Files, give
from flownet.cli.choice_lines import Wanted, answer
from flownet.cli.screen import Screen
from flownet.cli.settings import Setting
from flownet.enclosure.enclosure import Enclosure
from flownet.pages.fan_choice import fan_choice_lines
from flownet.pages.page import Page
from flownet.schema.errors import NoSolution
from flownet.studies.choice.fan import BEST, FanChoice
from flownet.studies.choose import choose


@click.command(
    "choose",
    help=options.help_text(
        "Choose a fan type for a place, each accepted or excluded with every reason; without a "
        "fan, values for what a [choice] of the case leaves open.",
        "flownet choose bench-supply fan.rear --catalogue fan-catalogue --frame any",
        'flownet choose telecom-shelf "fan.*" --catalogue fan-catalogue --best noise',
        "flownet choose drive-cabinet --name exhaust",
    ),
)
@options.case
@click.argument("subject", metavar="[fan.NAME]", required=False)
@click.option(
    "--best", multiple=True, type=click.Choice(tuple(BEST)),
    help="What ranks. Of a fan: default temperature, the largest margin. Of a choice: one or two, "
    "default as the case says.",
)  # fmt: skip
@click.option(
    "--frame", metavar="SIZE",
    help='Of a fan: the frame that the place takes, "119 x 38 mm"; any compares none. Default: as '
    "the type in place.",
)  # fmt: skip
@options.once(
    "--name", what="choice", metavar="NAME",
    help="Of a choice: which one, where the case has several.",
)  # fmt: skip
@options.apply(
    options.deciding, options.variant, options.settings, options.catalogue, options.out,
    options.json, options.force, options.units, options.everything,
    click.option(
        "--strict", is_flag=True, help="Exit code 1 where nothing serves, or there is no limit."
    ),
    options.jobs, *options.SCREEN,
)  # fmt: skip
def command(
    case: str,
    subject: str | None,
    best: Sequence[str],
    frame: str | None,
    name: str | None,
    scenarios: Sequence[str],
    variant: str | None,
    settings: Sequence[Setting],
    catalogue: Sequence[Path],
    out: Path | None,
    json_file: Path | None,
    force: bool,
    units: str | None,
    everything: bool,
    strict: bool,
    jobs: int,
    quiet: bool,
    color: str,
) -> int:
    """Solve what could serve, print the verdict and the tables, write what is asked for."""
    files = Files(out, json_file, force)
    files.check("choose", picture="choose")
    if subject is not None and name is not None:
        raise click.UsageError(f"--name: names a choice; {subject} is a fan: one of both")
    if subject is None and frame is not None:
        raise click.UsageError("--frame: belongs to the choice of a fan; name one, fan.NAME")
    if subject is not None and len(best) > 1:
        raise click.UsageError(f"--best: one word ranks the types of a fan (got {', '.join(best)})")
    screen = Screen.of(color, quiet)
    enclosure = reading.load(case, catalogue)
    changes = reading.changes(enclosure, settings)
    page = screen.page(units or enclosure.units, everything)
    told = [setting.text for setting in settings]
    wanted = Wanted(name, best, scenarios, variant or "base", changes, told, jobs, files, strict)
    if subject is None:
        return answer(enclosure, wanted, page, screen)
    return _fan(enclosure, subject, frame, wanted, page, screen)


def _fan(
    case: Enclosure, fan: str, frame: str | None, wanted: Wanted, page: Page, screen: Screen
) -> int:  # fmt: skip
    with solving.working("pairs solved", wanted.jobs, screen) as work:
        found = choose(
            case, fan, scenarios=wanted.scenarios or None, best=wanted.best or None,
            variant=wanted.variant, changes=wanted.changes or None, frame=frame, **work._asdict(),
        )  # fmt: skip
    give(
        Answer(lambda page: fan_choice_lines(found, page, wanted.told), found.to_dict, found.rows),
        case, wanted.files, page, screen,
    )  # fmt: skip
    return _exit_code(found, wanted.strict)


def _exit_code(found: FanChoice, strict: bool) -> int:
    """3 where nothing that was tried has a solution; with `strict` 1 where no type serves, or
    there is no limit that could tell."""
    if found.solved is not None and not found.solved.pairs.ok.any():
        reasons = list(dict.fromkeys(found.solved.pairs.status))
        raise NoSolution("\n".join(reasons[:3]))
    checked = found.solved is not None and bool(found.solved.pairs.limits)
    return faults.STRICT if strict and not (found.best and checked) else faults.DONE
