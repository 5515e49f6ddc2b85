"""`flownet choose`: a fan type for a place, or values for what the case leaves open."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import click

from flownet.cli import faults, options, reading, solving
from flownet.cli.answer import Files, deliver
from flownet.cli.screen import Screen
from flownet.cli.settings import Setting
from flownet.schema.errors import NoSolution
from flownet.studies.choice.fan_result import BEST, FanChoice
from flownet.studies.choice.result import OptionChoice
from flownet.studies.choose import choose

FAULTS = 3  # that are told where nothing has a solution


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
    asked: dict[str, Any] = {
        "fan": subject, "name": name, "scenarios": scenarios or None, "best": best or None,
        "variant": variant or "base", "changes": changes or None, "frame": frame,
    }  # fmt: skip
    with solving.working("pairs solved", jobs, screen) as work:
        found = choose(enclosure, **asked, **work._asdict())
    deliver(found.sheet, files, page, screen, told=[setting.text for setting in settings])
    _check_solved(found)
    return faults.STRICT if strict and not _checked(found) else faults.DONE


def _check_solved(found: FanChoice | OptionChoice) -> None:
    """NoSolution, exit code 3, where nothing that was tried has one."""
    if isinstance(found, OptionChoice):
        if not any(option.limit or option.holds for option in found.ranked):
            raise NoSolution("\n".join(found.reasons[:FAULTS]) or "no design has a solution")
    elif found.solved is not None and not found.solved.pairs.ok.any():
        raise NoSolution("\n".join(list(dict.fromkeys(found.solved.pairs.status))[:FAULTS]))


def _checked(found: FanChoice | OptionChoice) -> bool:
    """Whether something serves, and there is a limit that could tell."""
    if isinstance(found, OptionChoice):
        return found.best is not None
    return bool(found.best and found.solved is not None and found.solved.pairs.limits)
