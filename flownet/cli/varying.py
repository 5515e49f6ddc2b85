"""What `--vary KEY=RANGE` and the name of a `[sweep.NAME]` ask for."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import click

from flownet.cli import complete
from flownet.cli.options import pairs
from flownet.cli.settings import KeyValue
from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.ranges import alternatives
from flownet.schema.errors import CaseError
from flownet.schema.fault import Fault, did_you_mean, nearest
from flownet.schema.text_file import written_value

option = click.option(
    "--vary", "ranges", multiple=True, metavar="KEY=RANGE",
    callback=pairs("KEY=RANGE", "fan.*.speed=0.5 to 1.0 in 6"),
    shell_complete=complete.keys,
    help='What to vary: "outside.altitude=0 to 3000 m in 7", "fan.left.type=[\'a\', \'b\']". '
    "Repeat for more; with the name of a sweep, beside its ranges or in place of one.",
)  # fmt: skip


def varied(case: Enclosure, name: str | None, ranges: Sequence[KeyValue]) -> dict[str, Any]:
    """Input path -> its values or ends, of a sweep of the case and of `--vary`, which wins."""
    found = dict(_named(case, name)) if name is not None or not ranges else {}
    faults: list[str] = []
    given: set[str] = set()
    for path, text in ranges:
        if path in given:
            faults.append(
                f'--vary {path}: stands twice; give all its values at once (got "{text}")'
            )
        given.add(path)
        try:
            raw = written_value(text)
            found[path] = alternatives(case, path, raw)
        except CaseError as error:
            faults += [f"--vary {fault}" for fault in error.faults]
    if faults:
        raise CaseError(faults)
    return found


def _named(case: Enclosure, name: str | None) -> Mapping[str, Any]:
    """A sweep of the case; without a name the only one there is."""
    known: Mapping[str, Mapping[str, Any]] = case.studies.get("sweep", {})
    if name is None and len(known) == 1:
        return next(iter(known.values()))
    there = f"the case has {', '.join(known)}" if known else "the case has no [sweep.NAME]"
    if name is None:
        raise click.UsageError(f"what to vary? give --vary KEY=RANGE or a name; {there}")
    if name not in known:
        hint = did_you_mean(nearest(name, known), f"{there}; --vary KEY=RANGE does without")
        raise CaseError(Fault("sweep", f"no [sweep.{name}] in the case", hint=hint))
    return known[name]
