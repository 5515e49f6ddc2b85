"""`flownet uncertainty`: how likely limits hold when inputs are off by their tolerances."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import click

import flownet
from flownet.cli import complete, faults, options, reading, solving
from flownet.cli.compare import MARK, SUFFIXES, table
from flownet.cli.options import Setting
from flownet.cli.screen import PIPED, Screen
from flownet.cli.writing import STDOUT, save_text
from flownet.report import json
from flownet.report.page import Page
from flownet.report.uncertainty import uncertainty_lines
from flownet.studies.uncertainty.study import Uncertainty, uncertainty

SEED = "--seed: name a whole number, such as --seed 1; the same seed draws the same samples"


@click.command(
    "uncertainty",
    help=options.help_text(
        "Sample the tolerances of a case: bands of all results, and how likely limits hold.",
        "flownet uncertainty drive-cabinet --seed 1 -s hot+dirty",
    ),
)
@options.case
@click.option("--seed", "seed", type=int, metavar="N",
              help="Must be given; the same seed draws the same samples.")  # fmt: skip
@click.option("--samples", "samples", type=int, default=1000, metavar="N",
              help="How many. Default: 1000.")  # fmt: skip
@click.option("--of", "of", metavar="RESULT",
              help="Share out the spread of this result, such as total.volume_flow. Default: that "
              "of the limit that is least likely to hold.")  # fmt: skip
@click.option("--only-stated", "stated", is_flag=True,
              help="Only tolerances of the case; no usual ones where it has none.")  # fmt: skip
@click.option("-s", "--scenario", "scenario", metavar="NAME", default="base",
              shell_complete=complete.scenarios, help="Scenario; a+b joins several.")  # fmt: skip
@options.apply(
    options.variant, options.settings, options.catalogue, options.out, options.json, options.force,
    options.units, options.everything, options.jobs, *options.SCREEN,
)  # fmt: skip
def command(
    case: str,
    seed: int | None,
    samples: int,
    of: str | None,
    stated: bool,
    scenario: str,
    variant: str | None,
    settings: Sequence[Setting],
    catalogue: Sequence[Path],
    out: Path | None,
    json_file: Path | None,
    force: bool,
    units: str | None,
    everything: bool,
    jobs: int,
    quiet: bool,
    color: str,
) -> int:
    """Draw, solve, print the verdict with limits and shares, write what is asked for."""
    if seed is None:
        raise click.UsageError(SEED)
    _check_files(out, json_file)
    screen = Screen.of(color, quiet)
    enclosure = reading.load(case, catalogue)
    changes = reading.changes(enclosure, settings)
    with solving.working("samples solved", jobs, screen) as work:
        found = uncertainty(
            enclosure, samples=samples, seed=seed, scenario=scenario, variant=variant or "base",
            changes=changes or None, of=of, defaults=not stated, **work._asdict(),
        )  # fmt: skip
    page = screen.page(units or enclosure.units, everything)
    told = [setting.text for setting in settings]
    if (out is None or out == STDOUT) and json_file != STDOUT:
        screen.answer(uncertainty_lines(found, page, told))
    for path in dict.fromkeys(p for p in (json_file, out) if p is not None):
        _save(found, path, path == json_file, Page(page.units, PIPED, everything), told, screen,
              force)  # fmt: skip
    return faults.DONE


def _check_files(out: Path | None, json_file: Path | None) -> None:
    if out is not None and out != STDOUT and out.suffix not in SUFFIXES:
        raise click.UsageError(
            f'--out: uncertainty writes .csv, .json or .txt (got "{out}"); "draw CASE '
            'uncertainty" makes the picture'
        )
    if out == STDOUT and json_file == STDOUT:
        raise click.UsageError("--out - and --json - cannot both have stdout; drop one")


def _save(
    found: Uncertainty, path: Path, as_json: bool, page: Page, told: Sequence[str],
    screen: Screen, force: bool,
) -> None:  # fmt: skip
    if as_json or path.suffix == ".json":
        save_text(path, json.text(_content(found)), json.MARK, screen, force=force)
    elif path.suffix == ".csv":
        save_text(path, table(found.rows()), MARK, screen, force=force, table=True)
    elif path != STDOUT:
        lines = [*uncertainty_lines(found, page, told), "", MARK + flownet.__version__]
        save_text(path, "\n".join(lines) + "\n", MARK, screen, force=force)


def _content(found: Uncertainty) -> dict[str, Any]:
    case = found.case
    return {
        "flownet": flownet.__version__, "format": 1, "case": case.title or case.origin,
        **found.to_dict(),
    }  # fmt: skip
