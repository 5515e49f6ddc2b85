"""`flownet suggest`: which changes make a case hold."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import click

from flownet.casefile import save_case
from flownet.cli import complete, faults, options
from flownet.cli.request import Request, command_of
from flownet.schema.errors import CannotWrite, unsolved
from flownet.studies.suggest import suggest
from flownet.studies.suggesting.steps import EFFORT_OF


@command_of(
    "suggest",
    "Find which changes make a case hold, least effort first: each is solved in every scenario its "
    "limits must hold in.",
    "flownet suggest bench-supply",
    takes=(
        options.case, options.deciding, *options.DESIGN,
        click.option("--without", multiple=True, metavar="KIND", type=click.Choice([*EFFORT_OF]),
                     help=f"A kind of change that is left out: {', '.join(EFFORT_OF)}. Repeat for "
                     "more."),
        click.option("--keep", multiple=True, metavar="PATH", shell_complete=complete.keys,
                     help="What stays as it is: filter.intake, fan.*, fan.left.type, "
                     "scenario.dirty. Repeat for more."),
        click.option("--deep", type=click.IntRange(min=1), default=2, metavar="N",
                     help="The most changes that are made together. Default: 2."),
        options.once("--write", what="file", metavar="NEW.toml", type=click.Path(path_type=Path),
                     help="Write the case to a new file, each proposal as a variant."),
        *options.ANSWER,
        click.option("--strict", is_flag=True,
                     help="Exit code 1 where the case does not hold and no change makes it."),
        options.jobs,
    ),
)  # fmt: skip
def command(
    asked: Request, without: Sequence[str], keep: Sequence[str], deep: int, write: Path | None
) -> int:
    """Solve the changes, print what holds, write what is asked for."""
    asked.files.check("suggest")
    if write is not None:
        there = "is there already; --write replaces nothing, take another name" * write.exists()
        wrong = "is no .toml file" * (write.suffix != ".toml")
        if why := there or wrong or "its folder is not there" * (not write.parent.is_dir()):
            raise CannotWrite(f"{write}: {why}")
    case = asked.made()
    with asked.working("pairs solved") as work:
        found = suggest(case, scenarios=asked.scenarios or None, keep=keep, without=without,
                        deep=deep, **work._asdict())  # fmt: skip
    if write is not None and found.variants:
        save_case(found.with_variants, write)
    asked.deliver(found.sheet)
    if write is not None:
        asked.screen.note(f"wrote {write}: {', '.join(found.variants)}" if found.variants else
                          f"{write}: not written, there is no variant to write")  # fmt: skip
    if all(each.status == "unsolved" for each in (found.base, *found.proposals, *found.tried)):
        raise unsolved(found.reasons or ["no change has a solution"], found.case.origin)
    return faults.DONE if found.proposals or found.holds or not asked.strict else faults.STRICT
