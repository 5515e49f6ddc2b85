"""`flownet uncertainty`: how likely limits hold when inputs are off by their tolerances."""

from __future__ import annotations

import click

from flownet.cli import faults, options
from flownet.cli.request import Request, command_of
from flownet.studies.uncertainty import uncertainty

SEED = "--seed: name a whole number, such as --seed 1; the same seed draws the same samples"


@command_of(
    "uncertainty",
    "Sample the tolerances of a case: bands of all results, and how likely limits hold.",
    "flownet uncertainty drive-cabinet --seed 1 -s hot+dirty",
    takes=(
        options.case,
        click.option("--seed", "seed", type=int, metavar="N",
                     help="Must be given; the same seed draws the same samples."),
        click.option("--samples", "samples", type=int, default=1000, metavar="N",
                     help="How many. Default: 1000."),
        options.once("--of", "of", what="result", metavar="RESULT",
                     help="P5, P50 and P95 of this result, and whose spread it is, such as "
                     "total.volume_flow. Default: of the limit that is least likely to hold."),
        click.option("--only-stated", "stated", is_flag=True,
                     help="Only tolerances of the case; no usual ones where it has none."),
        options.scenario, *options.DESIGN, *options.ANSWER, options.jobs,
    ),
)  # fmt: skip
def command(asked: Request, seed: int | None, samples: int, of: str | None, stated: bool) -> int:
    """Draw, solve, print the verdict with limits and shares, write what is asked for."""
    if seed is None:
        raise click.UsageError(SEED)
    asked.files.check("uncertainty", picture="uncertainty")
    changes = asked.changes
    with asked.working("samples solved") as work:
        found = uncertainty(
            asked.enclosure, samples=samples, seed=seed, scenario=asked.scenario or "base",
            variant=asked.design, changes=changes or None, of=of, defaults=not stated,
            **work._asdict(),
        )  # fmt: skip
    asked.deliver(found.sheet)
    return faults.DONE
