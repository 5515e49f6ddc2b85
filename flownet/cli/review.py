"""`flownet review`: one page for a design review, that opens from a mail attachment."""

from __future__ import annotations

from functools import partial
from pathlib import Path

import click

from flownet.cli import faults, options
from flownet.cli.draw import case_name
from flownet.cli.request import Request, command_of
from flownet.cli.writing import check, save
from flownet.handover.paper import printed_page
from flownet.handover.review import review
from flownet.handover.reviewed import SAMPLED
from flownet.schema.atomic import carries

# in every file of ours
PAGE_MARK, PDF_MARK = '<meta name="generator" content="flownet ', "Skia/PDF"


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
        click.option("--pdf", "pdf", type=click.Path(path_type=Path), metavar="FILE",
                     help="Print the page to a PDF too, with a Chromium that is found here."),
        *options.CHANGES, options.out, options.force, options.units, options.strict, options.jobs,
    ),
)  # fmt: skip
def command(asked: Request, key: str | None, samples: int, seed: int, pdf: Path | None) -> int:
    """Solve all of it, write the page, say the verdict."""
    assert asked.case is not None  # it is an argument of the command
    out = asked.out or Path(f"{case_name(asked.case)}-review.html")
    if out != Path("-") and out.suffix.lower() not in (".html", ".htm"):
        raise click.UsageError(f'--out: review writes .html (got "{out}")')
    if pdf is not None and pdf.suffix.lower() != ".pdf":
        raise click.UsageError(f'--pdf: a name that ends in .pdf is wanted (got "{pdf}")')
    check(out, partial(carries, mark=PAGE_MARK), force=asked.force)
    if pdf is not None:
        check(pdf, partial(carries, mark=PDF_MARK), force=asked.force)
    with asked.working("pairs solved") as work:
        found = review(
            asked.enclosure, variant=asked.variant, scenarios=asked.scenarios or None, key=key,
            samples=samples, seed=seed, changes=asked.changes or None, executor=work.executor,
        )  # fmt: skip
    units = asked.page().units
    text = found.html(units)
    save(out, text.encode(), partial(carries, mark=PAGE_MARK), asked.screen, force=asked.force)
    if pdf is not None:
        save(pdf, printed_page(text), partial(carries, mark=PDF_MARK), asked.screen,
             force=asked.force)  # fmt: skip
    asked.screen.note(found.comparison.verdicts(units)[0])
    broken = not all(cell.holds for cell in found.comparison.column(found.proposal))
    return faults.STRICT if asked.strict and broken else faults.DONE
