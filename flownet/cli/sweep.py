"""`flownet sweep`: ranges of inputs, and what comes of every combination."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

import click

from flownet.cli import faults, options, varying
from flownet.cli.answer import deliver
from flownet.cli.request import Request, command_of
from flownet.cli.settings import KeyValue
from flownet.cli.writing import STDOUT
from flownet.schema.errors import NoSolution
from flownet.solving.solve import solve
from flownet.studies import sweep_stream
from flownet.studies.designs import DESIGNS
from flownet.studies.sweep import sweep
from flownet.studies.sweep_files import NEEDS
from flownet.studies.sweep_result import Sweep

design = click.option(
    "--design", type=click.Choice(DESIGNS), default=DESIGNS[0],
    help="The plan, which combinations are solved. grid: every one; latin: a Latin hypercube; "
    "sobol: a Sobol sequence, rounded up to a power of two. Default: grid.",
)  # fmt: skip
samples = click.option(
    "--samples", type=click.IntRange(min=1), metavar="N", help="How many, of latin and sobol."
)
seed = click.option(
    "--seed", type=click.IntRange(min=0), metavar="N",
    help="Of latin and sobol: the same seed gives the same rows. Default: 1.",
)  # fmt: skip
keep = click.option(
    "--keep", multiple=True, metavar="RESULT",
    help="A result to print and write with every row, such as fan.*.volume_flow. Repeat for more. "
    "Default: written are sums, and temperature and margin of every part.",
)  # fmt: skip


out = click.option(
    "-o", "--out", metavar="FILE", type=click.Path(path_type=Path, allow_dash=True),
    help="Write rows to .csv, .parquet, .nc or .json as they come, any number of them.",
)  # fmt: skip
resume = click.option(
    "--resume", is_flag=True, help="Go on where an interrupted sweep to the same FILE stopped."
)
force = click.option(
    "--force", is_flag=True,
    help="Replace a file that flownet did not write, or rows of an interrupted sweep.",
)  # fmt: skip
strict = click.option(
    "--strict", is_flag=True, help="Exit code 1 where not every combination holds."
)


@command_of(
    "sweep",
    "Solve every combination of some ranges, or a sample of them: those of [sweep.NAME] in the "
    "case, or of --vary.",
    "flownet sweep drive-cabinet altitude",
    'flownet sweep drive-cabinet --vary "fan.*.speed=0.6 to 1.0 in 5" -s hot',
    'flownet sweep drive-cabinet fouling --keep "part.*.temperature" -o dirt.csv',
    takes=(
        options.case, click.argument("name", metavar="[NAME]", required=False), varying.option,
        design, samples, seed, options.scenario, *options.DESIGN, keep, out, options.json, resume,
        force, options.units, options.everything, strict, options.jobs,
    ),
)  # fmt: skip
def command(
    asked: Request, name: str | None, ranges: Sequence[KeyValue], design: str, samples: int | None,
    seed: int | None, keep: Sequence[str], resume: bool,
) -> int:  # fmt: skip
    """Solve the rows block by block, print the verdict and some of them, or write all."""
    target = _target(asked.out, asked.json_file, resume)
    made = asked.made()
    wanted = varying.varied(made, name, ranges)
    with _kept(target), asked.working("rows solved") as work:
        found = sweep(
            made, wanted, design=design, samples=samples, seed=seed, keep=keep or None, out=target,
            resume=resume, force=asked.force, **work._asdict(),
        )  # fmt: skip
    sheet, files = found.shown(everything=asked.everything), asked.files
    if target is not None:  # the rows are there
        sheet, files = sheet._replace(bare=True, tables=()), files._replace(out=None)
        asked.screen.note(f"wrote {target}")
    deliver(sheet, files, asked.page(), asked.screen, told=asked.told,
            more=lambda: {"rows": list(found.rows()) if target is None else None})  # fmt: skip
    return _exit_code(found, asked.strict)


def _target(out: Path | None, json_file: Path | None, resume: bool) -> Path | None:
    """The file that the rows go to; None: they stay in memory."""
    if out == STDOUT and json_file == STDOUT:
        raise click.UsageError("--out - and --json - cannot both have stdout; drop one")
    if out is None or out == STDOUT or out.suffix == ".txt":
        if resume:
            raise click.UsageError("--resume: only with a file for the rows, --out FILE.csv")
        return None
    if out.suffix.lower() not in NEEDS:
        known = ", ".join(NEEDS)
        raise click.UsageError(
            f'--out: sweep writes {known} or .txt (got "{out}"); "draw CASE sweep" makes the '
            "picture"
        )
    return out


@contextmanager
def _kept(target: Path | None) -> Iterator[None]:
    """What stops the work says how to go on."""
    try:
        yield
    except KeyboardInterrupt:
        left = sweep_stream.kept(target) if target is not None else None
        if target is None or left is None or not left.rows:
            raise
        raise faults.Interrupted(
            f"{left.rows} rows are kept in {sweep_stream.part_of(target)}; go on with the same "
            "command and --resume"
        ) from None
    except ImportError as error:
        raise click.UsageError(str(error)) from None


def _exit_code(found: Sweep, strict: bool) -> int:
    """2 or 3, as `solve` says it of the worst, where nothing at all was solved; with `strict` 1
    where something does not hold."""
    if found.tally.counts["unsolved"] == len(found):
        worst = found.tally.worst[0]
        solve(found.case, changes=found.changes(worst["row"]))
        raise NoSolution(str(worst["why"]))
    return faults.STRICT if strict and found.tally.holds < len(found) else faults.DONE
