"""`flownet review`: one page for a design review, that opens from a mail attachment."""

from __future__ import annotations

from functools import partial
from pathlib import Path

import click

from flownet.cli import faults, options
from flownet.cli.request import Request, command_of
from flownet.cli.writing import STDOUT, check, save, save_text
from flownet.handover.paper import printed_page
from flownet.handover.review import review
from flownet.handover.reviewed import SAMPLED
from flownet.schema.atomic import carries

PAGE_MARK, PDF_MARK = '<meta name="generator" content="flownet ', "Skia/PDF"  # in each of ours
pdf = click.option("--pdf", "pdf", type=click.Path(path_type=Path), metavar="FILE",
                   help="Print the page to a PDF too, with a Chromium that is found here."
                   )  # fmt: skip


@command_of(
    "review",
    "Write one page for a design review: what is asked and assumed, whether it holds, where the "
    "air goes, which fan, what a dead fan does, when to change the filter, how sure it is, what to "
    "change. One HTML file that needs nothing else, with the case and all results in it.",
    "flownet review drive-cabinet -v three-fans -o cabinet.html",
    takes=(
        options.case,
        options.once("--key", "key", what="key", metavar="KEY",
                     help="What the slider of the page moves. Default: the fouling of the filter "
                     "that most air passes, else outside.temperature."),
        click.option("--samples", "samples", type=click.IntRange(min=0), default=SAMPLED,
                     metavar="N",
                     help=f"Of the tolerances; 0 leaves them out. Default: {SAMPLED}."),
        click.option("--seed", "seed", type=int, default=1, metavar="N",
                     help="What starts their draws. Default: 1."),
        pdf, *options.CHANGES, options.out, options.force, options.units, options.strict,
        options.jobs,
    ),
)  # fmt: skip
def command(asked: Request, key: str | None, samples: int, seed: int, pdf: Path | None) -> int:
    """Solve all of it, write the page, say the verdict."""
    out = asked.out or Path(f"{asked.name}-review.html")
    check_page(out, pdf, asked.force)
    with asked.working("pairs solved") as work:
        found = review(
            asked.enclosure, variant=asked.variant, scenarios=asked.scenarios or None, key=key,
            samples=samples, seed=seed, changes=asked.changes or None, executor=work.executor,
        )  # fmt: skip
    units = asked.page().units
    save_page(out, pdf, found.html(units), asked)
    asked.screen.note(found.comparison.verdicts(units)[0])
    broken = not all(cell.holds for cell in found.comparison.column(found.proposal))
    return faults.STRICT if asked.strict and broken else faults.DONE


def check_page(out: Path, pdf: Path | None, force: bool, table: Path | None = None) -> None:
    """What is wrong with the files of a page, before any work: UsageError, CannotWrite."""
    for path, option, suffixes, mark in (
        (out, "--out", (".html", ".htm"), PAGE_MARK), (pdf, "--pdf", (".pdf",), PDF_MARK),
        (table, "--csv", (".csv",), ""),
    ):  # fmt: skip
        if path is not None and path != STDOUT and path.suffix.lower() not in suffixes:
            raise click.UsageError(f'{option}: a name that ends in {suffixes[0]} is wanted '
                                   f'(got "{path}")')  # fmt: skip
        if path is not None and mark:
            check(path, partial(carries, mark=mark), force=force)


def save_page(out: Path, pdf: Path | None, text: str, asked: Request) -> None:
    """Write the page, and its print."""
    save_text(out, text, PAGE_MARK, asked.screen, force=asked.force)
    if pdf is not None:
        save(pdf, printed_page(text), partial(carries, mark=PDF_MARK), asked.screen,
             force=asked.force)  # fmt: skip
