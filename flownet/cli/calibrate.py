"""`flownet calibrate`: inputs of a case by what was measured on it."""

from __future__ import annotations

from pathlib import Path

import click

from flownet.cli import complete, faults, options
from flownet.cli.readings import beside, file
from flownet.cli.request import Request, command_of
from flownet.studies.readings.calibrate import calibrate

FREE = "--free: name what is to be found, such as --free filter.intake.fouling,wall.door.u_value"


@command_of(
    "calibrate",
    "Find the values of some inputs that fit readings best, with intervals of 95 %, and print them "
    "as a variant; the case file stays as it is. FILE.csv is as for readings.",
    "flownet calibrate drive-cabinet readings.csv -s hot --free vent.side.area",
    takes=(
        options.case, file,
        click.option("--free", "free", multiple=True, metavar="KEYS", shell_complete=complete.keys,
                     help="Must be given: the inputs to find, with commas between; * in a name for "
                     "several that are moved together. Repeat for more."),
        options.scenario, *options.DESIGN, *options.ANSWER,
        click.option("--strict", is_flag=True, help="Exit code 1 where the readings do not fit "
                     "within their uncertainty, or numbers are void."),
    ),
)  # fmt: skip
def command(asked: Request, file: Path, free: tuple[str, ...]) -> int:
    """Fit, print values with intervals and the block for the case, write what is asked for."""
    paths = [path.strip() for words in free for path in words.split(",") if path.strip()]
    if not paths:
        raise click.UsageError(FREE)
    asked.files.check("calibrate")
    found = calibrate(asked.made(), beside(asked.case, file), free=paths, units=asked.units)
    asked.deliver(found.sheet)
    bad = not found.fit.fits or found.solution.void
    return faults.STRICT if asked.strict and bad else faults.DONE
