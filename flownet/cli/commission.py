"""`flownet commission`: the sheet for who fits and tests, and the file of readings."""

from __future__ import annotations

import csv
from pathlib import Path

import click

from flownet.cli import faults, options
from flownet.cli.request import Request, command_of
from flownet.cli.review import check_page, pdf, save_page
from flownet.cli.writing import STDOUT, check, save
from flownet.handover.commission import CSV_MARK, commission
from flownet.judging.voids import told
from flownet.schema.atomic import carries
from flownet.schema.errors import CannotWrite


@command_of(
    "commission",
    "Write the sheet for fitting and commissioning: where each fan sits and which way it blows, a "
    "drilling template in full size, the order of work, checks, what every test point reads and "
    "within which band, what each wrong thing would read. With it a CSV file with blanks, which "
    "flownet readings takes once it is filled in.",
    "flownet commission drive-cabinet",
    "flownet commission drive-cabinet -s half-load -o sheet.html --pdf sheet.pdf",
    takes=(
        options.case, options.scenario, *options.DESIGN,
        click.option("--paper", "paper", type=click.Choice(("a4", "a3")), default="a4",
                     help="Of templates that A4 does not hold: a3, or a4 in parts that overlap. "
                     "Default: a4."),
        click.option("--only-stated", "stated", is_flag=True,
                     help="Only tolerances of the case; no usual ones where it has none."),
        pdf,
        click.option("--csv", "table", type=click.Path(path_type=Path), metavar="FILE",
                     help="Where the blanks for readings go. Default: CASE-readings.csv, beside "
                     "the sheet."),
        options.out, options.force, options.units,
        click.option("--strict", is_flag=True, help="Exit code 1 where numbers are void."),
    ),
)  # fmt: skip
def command(
    asked: Request, paper: str, stated: bool, pdf: Path | None, table: Path | None
) -> int:  # fmt: skip
    """Solve the state of the test, write the sheet and the blanks, say what is written."""
    out = asked.out or Path(f"{asked.name}-fitting.html")
    if table is None and out != STDOUT:
        table = out.with_name(f"{asked.name}-readings.csv")
    check_page(out, pdf, asked.force, table)
    if table is not None:
        if table.is_file() and not without_readings(table):
            raise CannotWrite(f"{table}: is no file of blanks, or somebody has filled it in; it "
                              "stays as it is; name another file with --csv")  # fmt: skip
        check(table, without_readings, force=asked.force, table=True)
    found, units = commission(asked.made(), defaults=not stated), asked.page().units
    save_page(out, pdf, found.html(units, paper=paper), asked)
    if table is not None:
        save(table, found.csv(units).encode(), without_readings, asked.screen, force=asked.force,
             table=True)  # fmt: skip
    if found.solution.void:
        asked.screen.note(f"void: {told(found.solution.void, units)}")
    return faults.STRICT if asked.strict and found.solution.void else faults.DONE


def without_readings(path: Path) -> bool:
    """Whether a file of blanks is ours and nobody has filled in a reading."""
    if not carries(path, CSV_MARK):
        return False
    lines = [line for line in path.read_text(encoding="utf-8", errors="replace").splitlines()
             if not line.startswith("#")]  # fmt: skip
    return not any((row.get("reading") or "").strip() for row in csv.DictReader(lines))
