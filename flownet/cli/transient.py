"""`flownet transient`: temperatures in time, and when which limit is reached."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import click

from flownet.cli import complete, faults, options
from flownet.cli.request import Request, command_of
from flownet.pages.caption import Caption
from flownet.pages.sheet import Sheet
from flownet.schema.errors import placed
from flownet.studies.timeline import FORM, STARTS, event_of, seconds
from flownet.studies.transient import transient
from flownet.studies.transient_result import Transient

event = click.option(
    "--event", "events", multiple=True, metavar="EVENT",
    help=f"What happens when: {FORM}; numbers gradually: "
    '"5 min over 2 min: part.*.load=0.4"; several with a ; between. Repeat for more.',
)  # fmt: skip
until = options.once(
    "--until", what="time", metavar="TIME",
    help='When it ends, such as --until "30 min". Default: as the timeline says, or where --inputs '
    "ends.",
)  # fmt: skip
start = options.once(
    "--start", what="start", type=click.Choice(STARTS),
    help="steady: what solve finds; cold: all at outside temperature. Default: as the timeline "
    "says, else steady.",
)  # fmt: skip
scenario = options.once(
    "-s", "--scenario", "scenario", what="scenario", hint="-s {joined} joins them", metavar="NAME",
    shell_complete=complete.scenarios,
    help="A scenario of the case; a+b joins several. Default: that of the timeline, else base.",
)  # fmt: skip
inputs = options.once(
    "--inputs", what="file", metavar="FILE", type=click.Path(path_type=Path),
    help="A day, or any course of inputs: a file with commas whose first line is such as "
    "time[h],outside.temperature[degC],part.psu.load.",
)  # fmt: skip
strict = click.option(
    "--strict", is_flag=True, help="Exit code 1 where a limit is reached, or there is none."
)


@command_of(
    "transient",
    "Follow temperatures in time: which limit is reached when. TIMELINE is one of the case; "
    "without it, and without --event, all of them.",
    "flownet transient drive-cabinet fan-stop",
    'flownet transient bench-supply --event "9s:fan.rear.speed=0.6" --until 1min',
    takes=(
        options.case, click.argument("name", metavar="[TIMELINE]", required=False), event, inputs,
        until, start, scenario, *options.DESIGN, *options.ANSWER, strict,
    ),
)  # fmt: skip
def command(
    asked: Request, name: str | None, events: Sequence[str], until: str | None, start: str | None,
    inputs: Path | None,
) -> int:  # fmt: skip
    """March, print which limit is reached when, write the courses that are asked for."""
    asked.files.check("transient", picture="time")
    if name is not None and events:
        raise click.UsageError(f"--event: belongs to no timeline; drop it, or {name}")
    end = None if until is None else seconds(until, "--until", file=True)
    own = start or until or inputs
    known = list(asked.enclosure.studies.get("timeline", {}))
    plans: list[Any] = [name] if name else [] if events or own else known
    if not plans:
        if end is None and inputs is None:
            raise click.UsageError('--until: must be given, such as --until "30 min"')
        with placed("--event"):
            for text in events:
                event_of(asked.enclosure, text)
        plans = [events]
    found = [
        transient(asked.enclosure, plan, until=end, scenario=asked.scenario, variant=asked.design,
                  changes=asked.changes or None, start=start, inputs=inputs) for plan in plans
    ]  # fmt: skip
    asked.deliver(found[0].sheet if len(found) == 1 else _several(asked, found))
    failed = any(item.first is not None or item.over or not item.limits for item in found)
    return faults.STRICT if asked.strict and failed else faults.DONE


def _several(asked: Request, found: Sequence[Transient]) -> Sheet:
    """One timeline after the other."""
    return Sheet(
        "transient", Caption.of(asked.enclosure), lambda units: (), bare=True,
        parts=[item.sheet.captioned(changes=tuple(asked.told)) for item in found],
        facts={"timelines": [item.entry() for item in found]},
    )  # fmt: skip
