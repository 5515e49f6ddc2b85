"""`flownet readings`: what was measured beside what is predicted, and what explains it."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from flownet.cli import faults, options, reading
from flownet.cli.request import Request, command_of
from flownet.studies.readings.deviations import check_readings
from flownet.studies.readings.file import Source

file = click.argument("file", metavar="FILE.csv", type=click.Path(path_type=Path))


def beside(case: str | None, path: Path) -> Source:
    """The file as it is named, else the one of that name beside the case; `-`: what is piped in."""
    if str(path) == "-" and sys.stdin is not None:
        return sys.stdin.buffer
    if path.exists() or case is None or path.is_absolute():
        return path
    found = reading.find(case)
    there = (found if found.is_dir() else found.parent) / path
    return there if there.is_file() else path


@command_of(
    "readings",
    "Hold readings against the case: deviations as a share of the rise above outside, what lies "
    "outside of uncertainty and tolerances, and what alone would explain it. FILE.csv has the "
    "columns point (a result), reading, reading_unit, uncertainty (95 %); it may lie beside the "
    "case; - reads what is piped in.",
    "flownet readings drive-cabinet readings.csv -s hot",
    takes=(
        options.case, file,
        click.option("--only-stated", "stated", is_flag=True,
                     help="Only tolerances of the case; no usual ones where it has none."),
        options.scenario, *options.DESIGN, *options.ANSWER,
        click.option("--strict", is_flag=True,
                     help="Exit code 1 where a reading lies outside, or numbers are void."),
    ),
)  # fmt: skip
def command(asked: Request, file: Path, stated: bool) -> int:
    """Compare, print the verdict with what explains it, write what is asked for."""
    asked.files.check("readings")
    found = check_readings(
        asked.made(), beside(asked.case, file), defaults=not stated, units=asked.units
    )
    asked.deliver(found.sheet)
    bad = found.outside.any() or not found.agrees or found.solution.void
    return faults.STRICT if asked.strict and bad else faults.DONE
