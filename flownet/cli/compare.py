"""`flownet compare`: every variant in every scenario its limits must hold in."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import click

from flownet.cli import complete, faults, options, reading, solving
from flownet.cli.answer import Files, deliver
from flownet.cli.screen import Screen
from flownet.cli.settings import Setting
from flownet.schema.errors import CaseError, NoSolution
from flownet.studies.compare import Comparison, compare
from flownet.studies.outages import Outages, outages

Found = Comparison | Outages

variants = click.option(
    "-v", "--variant", "variants", multiple=True, metavar="NAME", shell_complete=complete.variants,
    help="Variant of the design; base is one too. Repeat for more. Default: all.",
)  # fmt: skip
strict = click.option(
    "--strict", is_flag=True, help="Exit code 1 where not every limit holds in every pair."
)
failing = click.option(
    "--outages", "failing", is_flag=True,
    help="Each fan out in turn: the flow back through it, and what a shutter, blanking or more "
    "speed would change.",
)  # fmt: skip


@click.command(
    "compare",
    help=options.help_text(
        "Compare all variants of a case in all scenarios its limits must hold in.",
        "flownet compare drive-cabinet",
        "flownet compare drive-cabinet -v base -v three-fans --outages",
    ),
)
@options.apply(
    options.case, options.deciding, variants, options.settings, options.catalogue, failing,
    options.out, options.json, options.force, options.units, options.everything, strict,
    options.jobs, *options.SCREEN,
)  # fmt: skip
def command(
    case: str,
    scenarios: Sequence[str],
    variants: Sequence[str],
    settings: Sequence[Setting],
    catalogue: Sequence[Path],
    failing: bool,
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
    """Solve every pair together, print the verdict and the matrix, write what is asked for."""
    files = Files(out, json_file, force)
    files.check("compare", picture="matrix")
    screen = Screen.of(color, quiet)
    enclosure = reading.load(case, catalogue)
    changes = reading.changes(enclosure, settings)
    found: Found
    with solving.working("pairs solved", jobs, screen) as work:
        found = (outages if failing else compare)(
            enclosure, variants=variants or None, scenarios=scenarios or None,
            changes=changes or None, **work._asdict(),
        )  # fmt: skip
    told = [setting.text for setting in settings]
    deliver(
        found.sheet, files, screen.page(units or enclosure.units, everything), screen, told=told,
        more=lambda: _more(found),
    )  # fmt: skip
    return _exit_code(found, strict)


def _more(found: Found) -> dict[str, Any]:
    return {"solutions": list(_solutions(found))} if isinstance(found, Comparison) else {}


def _solutions(found: Comparison) -> Iterator[dict[str, Any]]:
    """Every pair as `solve` writes it; one that was not solved keeps its place."""
    for variant in found.variants:
        for cell in found.column(variant):
            if cell.status != "unsolved":
                yield found.solution(cell.scenario, variant).to_dict()
            else:
                yield {
                    "case": found.case.title or found.case.origin,
                    "variant": None if variant == "base" else variant,
                    "scenario": None if cell.scenario == "base" else cell.scenario,
                    "error": {"kind": "no-solution" if cell.tried else "case",
                              "message": cell.why},
                }  # fmt: skip


def _exit_code(found: Found, strict: bool) -> int:
    """3 where nothing at all was solved; with `strict` 1 where something does not hold."""
    if isinstance(found, Comparison):
        cells = [cell for name in found.variants for cell in found.column(name)]
    else:
        cells = [cell for item in found.failures for cell in (item.before, item.out)]
    if cells and all(cell.status == "unsolved" for cell in cells):
        reasons = list(dict.fromkeys(cell.why for cell in cells))
        raise (NoSolution if any(c.tried for c in cells) else CaseError)("\n".join(reasons[:3]))
    if strict and any(not cell.holds for cell in cells):
        return faults.STRICT
    return faults.DONE
