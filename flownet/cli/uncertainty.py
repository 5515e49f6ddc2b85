"""`flownet uncertainty`: how likely limits hold when inputs are off by their tolerances."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import click

from flownet.cli import faults, options, reading, solving
from flownet.cli.answer import Files, deliver
from flownet.cli.screen import Screen
from flownet.cli.settings import Setting
from flownet.studies.uncertainty import uncertainty

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
@options.once("--of", "of", what="result", metavar="RESULT",
              help="P5, P50 and P95 of this result, and whose spread it is, such as "
              "total.volume_flow. Default: of the limit that is least likely to hold.")  # fmt: skip
@click.option("--only-stated", "stated", is_flag=True,
              help="Only tolerances of the case; no usual ones where it has none.")  # fmt: skip
@options.apply(
    options.scenario, options.variant, options.settings, options.catalogue, options.out,
    options.json, options.force, options.units, options.everything, options.jobs, *options.SCREEN,
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
    files = Files(out, json_file, force)
    files.check("uncertainty", picture="uncertainty")
    screen = Screen.of(color, quiet)
    enclosure = reading.load(case, catalogue)
    changes = reading.changes(enclosure, settings)
    with solving.working("samples solved", jobs, screen) as work:
        found = uncertainty(
            enclosure, samples=samples, seed=seed, scenario=scenario, variant=variant or "base",
            changes=changes or None, of=of, defaults=not stated, **work._asdict(),
        )  # fmt: skip
    deliver(found.sheet, files, screen.page(units or enclosure.units, everything), screen,
            told=[setting.text for setting in settings])  # fmt: skip
    return faults.DONE
