"""`flownet commission`: the sheet for who fits and tests, and the file of readings."""

from __future__ import annotations

import csv
from functools import partial
from pathlib import Path

import click

from flownet.cli import faults, options
from flownet.cli.draw import case_name
from flownet.cli.request import Request, command_of
from flownet.cli.review import PAGE_MARK, PDF_MARK
from flownet.cli.writing import STDOUT, check, save
from flownet.handover.commission import CSV_MARK, commission
from flownet.handover.paper import printed_page
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
        click.option("--pdf", "pdf", type=click.Path(path_type=Path), metavar="FILE",
                     help="Print the sheet to a PDF too, with a Chromium that is found here."),
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
    assert asked.case is not None  # it is an argument of the command
    name = case_name(asked.case)
    out = asked.out or Path(f"{name}-fitting.html")
    if table is None and out != STDOUT:
        table = out.with_name(f"{name}-readings.csv")
    files = [(path, option, suffixes, ours) for path, option, suffixes, ours in (
        (out, "--out", (".html", ".htm"), partial(carries, mark=PAGE_MARK)),
        (pdf, "--pdf", (".pdf",), partial(carries, mark=PDF_MARK)),
        (table, "--csv", (".csv",), without_readings),
    ) if path is not None]  # fmt: skip
    for path, option, suffixes, ours in files:
        if path != STDOUT and path.suffix.lower() not in suffixes:
            raise click.UsageError(f'{option}: a name that ends in {suffixes[0]} is wanted '
                                   f'(got "{path}")')  # fmt: skip
        if path == table and path.is_file() and not ours(path):
            raise CannotWrite(f"{path}: is no file of blanks, or somebody has filled it in; it "
                              "stays as it is; name another file with --csv")  # fmt: skip
        check(path, ours, force=asked.force, table=path == table)
    found = commission(
        asked.enclosure, scenario=asked.scenario or "base", variant=asked.design,
        changes=asked.changes or None, defaults=not stated,
    )  # fmt: skip
    units = asked.page().units
    text = found.html(units, paper=paper)
    for path, _, _, ours in files:
        content = printed_page(text) if path == pdf else \
            (found.csv(units) if path == table else text).encode()  # fmt: skip
        save(path, content, ours, asked.screen, force=asked.force, table=path == table)
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
