"""`flownet transient`: temperatures in time, and when which limit is reached."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any

import click

from flownet.cli import complete, faults, options
from flownet.cli.request import Request, command_of
from flownet.pages.caption import Caption
from flownet.pages.sheet import Sheet
from flownet.schema.errors import placed
from flownet.studies.timeline import FORM, STARTS, happening, seconds
from flownet.studies.transient import transient
from flownet.studies.transient_result import Transient


def timing(lead: str = "") -> tuple[Callable[[Any], Any], ...]:
    """The options that say what happens when; `lead` stands before their help."""
    return (
        click.option(
            "--event", "events", multiple=True, metavar="EVENT",
            help=f"{lead}What happens when: {FORM}; numbers gradually: "
            '"5 min over 2 min: part.*.load=0.4"; several with a ; between. Repeat for more.',
        ),
        options.once(
            "--inputs", what="file", metavar="FILE", type=click.Path(path_type=Path),
            help=f"{lead}A day, or any course of inputs: a file with commas whose first line is "
            "such as time[h],outside.temperature[degC],part.psu.load.",
        ),
        options.once(
            "--until", what="time", metavar="TIME",
            help=f'{lead}When it ends, such as --until "30 min". Default: as the timeline says, or '
            "where --inputs ends.",
        ),
        options.once(
            "--start", what="start", type=click.Choice(STARTS),
            help=f"{lead}steady: what solve finds; cold: all at outside temperature. Default: as "
            "the timeline says, else steady.",
        ),
    )  # fmt: skip


scenario = options.once(
    "-s", "--scenario", "scenario", what="scenario", hint="-s {joined} joins them", metavar="NAME",
    shell_complete=complete.scenarios,
    help="A scenario of the case; a+b joins several. Default: that of the timeline, else base.",
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
        options.case, click.argument("name", metavar="[TIMELINE]", required=False), *timing(),
        scenario, *options.DESIGN, *options.ANSWER, strict,
    ),
)  # fmt: skip
def command(asked: Request, name: str | None, **given: Any) -> int:
    """March, print which limit is reached when, write the courses that are asked for."""
    asked.files.check("transient", picture="time")
    found = [course(asked, plan, asked.scenario, given) for plan in plans(asked, name, given)]
    asked.deliver(found[0].sheet if len(found) == 1 else _several(asked, found))
    failed = any(item.first is not None or item.over or not item.limits for item in found)
    return faults.STRICT if asked.strict and failed else faults.DONE


def plans(asked: Request, name: str | None, given: Mapping[str, Any]) -> list[Any]:
    """Timelines, all of the case where nothing else is asked, or events; `given`: as `timing`."""
    events = given["events"] or ()
    if name is not None and events:
        raise click.UsageError(f"--event: belongs to no timeline; drop it, or {name}")
    known = list(asked.enclosure.studies.get("timeline", {}))
    if name or (known and not any(given.values())):
        return [name] if name else known
    if given["until"] is None and given["inputs"] is None:
        lead = "" if any(given.values()) else "TIMELINE or "
        raise click.UsageError(f'{lead}--until: must be given, such as --until "30 min"')
    with placed("--event"):
        for text in events:
            happening(asked.enclosure, text)
    return [events]


def course(
    asked: Request, plan: Any, scenario: str | None, given: Mapping[str, Any]
) -> Transient:  # fmt: skip
    """The course of one of `plans`."""
    until = None if given["until"] is None else seconds(given["until"], "--until", file=True)
    return transient(asked.enclosure, plan, until=until, scenario=scenario, variant=asked.design,
                     changes=asked.changes or None, start=given["start"],
                     inputs=given["inputs"])  # fmt: skip


def _several(asked: Request, found: Sequence[Transient]) -> Sheet:
    """One timeline after the other."""
    return Sheet(
        "transient", Caption.of(asked.enclosure), lambda units: (), bare=True,
        parts=[item.sheet.captioned(changes=tuple(asked.told)) for item in found],
        facts={"timelines": [item.entry() for item in found]},
    )  # fmt: skip
