"""`flownet compare`: every variant in every scenario its limits must hold in."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import click

from flownet.cli import complete, faults, options
from flownet.cli.request import Request, command_of
from flownet.pages.page import Unsolved
from flownet.schema.errors import unsolved
from flownet.studies.compare import Comparison, compare
from flownet.studies.outages import Outages, outages

Found = Comparison | Outages

variants = click.option(
    "-v", "--variant", "variants", multiple=True, metavar="NAME", shell_complete=complete.variants,
    help="A variant of the case; base is one too. Repeat for more. Default: all.",
)  # fmt: skip
strict = click.option(
    "--strict",
    is_flag=True,
    help="Exit code 1 where not every limit holds in every pair, outside limits.scenarios too.",
)
failing = click.option(
    "--outages", "failing", is_flag=True,
    help="Each fan out in turn: the flow back through it, and what a shutter, blanking or more "
    "speed would change.",
)  # fmt: skip
riding = click.option(
    "--ride-through", "riding", is_flag=True,
    help="How long each variant takes, from the steady state before each outage, to the first "
    "limit.",
)  # fmt: skip


@command_of(
    "compare",
    "Compare all variants of a case in all scenarios its limits must hold in.",
    "flownet compare drive-cabinet",
    "flownet compare drive-cabinet -v base -v three-fans --outages",
    takes=(
        options.case, options.deciding, variants, options.settings, options.catalogue, failing,
        riding, *options.ANSWER, strict, options.jobs,
    ),
)  # fmt: skip
def command(asked: Request, failing: bool, riding: bool) -> int:
    """Solve every pair together, print the verdict and the matrix, write what is asked for."""
    asked.files.check("compare", picture="matrix")
    if failing and riding:
        raise click.UsageError("--ride-through: belongs to the comparison; drop it, or --outages")
    found: Found
    more: dict[str, Any] = {"ride_through": True} if riding else {}
    with asked.working("pairs solved") as work:
        found = (outages if failing else compare)(
            asked.enclosure, variants=asked.variants or None, scenarios=asked.scenarios or None,
            changes=asked.changes or None, **more, **work._asdict(),
        )  # fmt: skip
    asked.deliver(found.sheet, more=lambda: _more(found))
    return _exit_code(found, asked.strict)


def _more(found: Found) -> dict[str, Any]:
    return {"solutions": list(_solutions(found))} if isinstance(found, Comparison) else {}


def _solutions(found: Comparison) -> Iterator[dict[str, Any]]:
    """Every pair as `solve` writes it; one that was not solved keeps its place."""
    for variant in found.variants:
        for cell in found.column(variant):
            if cell.status != "unsolved":
                yield found.solution(cell.scenario, variant).to_dict()
            else:
                title = found.case.title or found.case.origin
                kind = "no-solution" if cell.tried else "case"
                yield Unsolved(title, cell.scenario, variant, kind, (cell.why,)).to_dict()


def _exit_code(found: Found, strict: bool) -> int:
    """2 where every pair was refused, 3 where nothing at all was solved; with `strict` 1 where
    something does not hold."""
    if isinstance(found, Comparison):
        cells = [cell for name in found.variants for cell in found.column(name)]
    else:
        cells = [cell for item in found.failures for cell in (item.before, item.out)]
    if cells and all(cell.status == "unsolved" for cell in cells):
        raise unsolved((cell.why for cell in cells), found.case.origin)
    if strict and any(not cell.holds for cell in cells):
        return faults.STRICT
    return faults.DONE
