"""`flownet check`: every fault of a case, found without solving it."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence
from typing import Any, NamedTuple

from flownet import __version__
from flownet.cli import faults, options, reading
from flownet.cli.request import Request, command_of
from flownet.cli.screen import Screen
from flownet.cli.writing import STDOUT, save_text
from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.overriding import of_pairs
from flownet.enclosure.slips import beyond, covered, narrow_ramps, tiny_areas
from flownet.pages import json
from flownet.pages.caption import Caption
from flownet.pages.table import Cell, hanging
from flownet.results.finding import Finding
from flownet.results.tables import unnamed
from flownet.schema.errors import CaseError
from flownet.schema.fault import listed
from flownet.studies.runs import Run, refused_runs

SILENT = ("enclosure", "limits")  # kinds of which there is always one


class Tried(NamedTuple):
    """A scenario in a variant, and why it cannot be solved."""

    scenario: str
    variant: str
    faults: tuple[str, ...]


@command_of(
    "check",
    "Find every fault of a case, without solving it.",
    "flownet check drive-cabinet",
    takes=(
        options.case, options.scenarios_by("every one"), options.variant_by("every one"),
        options.catalogue, options.json, options.force,
    ),
)  # fmt: skip
def command(asked: Request) -> int:
    """Read, count, and try every scenario in every variant."""
    screen, json_file, variant = asked.screen, asked.json_file, asked.variant
    enclosure, found = _read(asked)
    tried: list[Tried] = []
    doubts: Sequence[Finding] = ()
    if enclosure is not None:
        variants = [variant] if variant else ["base", *enclosure.variants]
        names = asked.scenarios or _every_scenario(enclosure)
        setups = [
            Run(name, each)
            for each in variants
            for name in reading.scenarios(enclosure, names, each, idle=each != variants[0])
        ]
        refused = refused_runs(enclosure, setups)
        tried = [Tried(s.scenario, s.variant, f) for s, f in zip(setups, refused, strict=True)]
        told = _told(tried, enclosure.origin)
        found, doubts = [*found, *told], _findings(enclosure, tried)
        if json_file != STDOUT:
            screen.answer(_counted(enclosure, screen.width))
            screen.answer(_solvable(tried))
            screen.answer(_doubtful(doubts, enclosure, screen))
    if json_file is not None:
        content = json.text(_document(asked, enclosure, found, doubts, tried))
        save_text(json_file, content, json.JSON_MARK, screen, force=asked.force)
    if found:
        raise CaseError(found)
    return faults.DONE


def _read(asked: Request) -> tuple[Enclosure | None, list[str]]:
    try:
        return asked.enclosure, []
    except CaseError as error:
        return None, list(error.faults)


def _every_scenario(case: Enclosure) -> list[str]:
    return list(dict.fromkeys(["base", *case.scenarios, *case.limits.scenarios]))


def _counted(case: Enclosure, width: int) -> Iterator[str]:
    """One line per kind of thing: how many, and their names."""
    yield from textwrap.wrap(f"{Caption.of(case).heading}: read without a fault", width)
    for kind, names in counts(case).items():
        lead = [Cell(f"  {kind:<14}{len(names):>4}  ")]
        yield from hanging(lead, listed(names, 24, last=", ", more=", and "), width)


def counts(case: Enclosure) -> dict[str, list[str]]:
    """Names by kind, of the kinds that are there; scenarios, variants and studies too."""
    found = {
        kind: [name or kind for name in case.things[kind] if ".rating." not in name]
        for kind in reading.written_order(case)
        if kind not in SILENT
    }
    found |= {"scenario": list(case.scenarios), "variant": list(case.variants)}
    found |= {kind: list(named) for kind, named in case.studies.items()}
    return {kind: names for kind, names in found.items() if names}


def _solvable(tried: Sequence[Tried]) -> Iterator[str]:
    good = sum(not item.faults for item in tried)
    variants = len({item.variant for item in tried})
    scenarios = len({item.scenario for item in tried})
    told = f"{scenarios} scenario{'s' if scenarios > 1 else ''}"
    if variants > 1 and len(tried) == scenarios * variants:
        told += f" x {variants} variants"
    elif variants > 1:  # what can fail differs between them
        told = f"{len(tried)} pairs of {told} and {variants} variants"
    yield f"{told}: " + ("each can be solved" if good == len(tried) else
                         f"{good} of {len(tried)} can be solved")  # fmt: skip


def _findings(case: Enclosure, tried: Sequence[Tried]) -> Sequence[Finding]:
    """What is worth a word before a solve; the rules are loaded where there is something to say."""
    pairs = [(item.scenario, item.variant) for item in tried if not item.faults]
    taken = [pair for pair, lost in zip(pairs, of_pairs(case, pairs), strict=True) if lost]
    drawn = covered(case) or beyond(case) or tiny_areas(case) or narrow_ramps(case)
    if not (taken or drawn):
        return []
    from flownet.findings.entries import of_case  # noqa: PLC0415 - rarely

    each = [of_case(case.under(*pair), overriding=True) for pair in taken]
    told = {finding.message(): finding for made in each for finding in made}
    return [*(of_case(case) if drawn else ()), *told.values()]


def _doubtful(found: Sequence[Finding], case: Enclosure, screen: Screen) -> Iterator[str]:
    if found:
        from flownet.pages import render  # noqa: PLC0415 - rarely
        from flownet.pages.findings import findings_table  # noqa: PLC0415 - likewise

        page = screen.page(case.units, everything=True)
        yield from render.listing(findings_table(found, None, case.units), page)


def _told(tried: Sequence[Tried], file: str) -> Iterator[str]:
    """Each fault once, with where it arises first and how often again."""
    places: dict[str, list[Tried]] = {}
    for item in tried:
        for fault in item.faults:
            places.setdefault(fault, []).append(item)
    for fault, where in places.items():
        first = where[0]
        label = f"{file}: scenario {first.scenario}"
        if first.variant != "base":
            label += f", variant {first.variant}"
        if len(where) > 1:
            label += f", and {len(where) - 1} more of the {len(tried)}"
        yield f"{label}: {fault}"


def _document(
    asked: Request, enclosure: Enclosure | None, found: Sequence[str], doubts: Sequence[Finding],
    tried: Sequence[Tried],
) -> dict[str, Any]:  # fmt: skip
    return {
        "flownet": __version__, "format": 1, "command": "check",
        "case": asked.case if enclosure is None else enclosure.title or enclosure.origin,
        "faults": list(found), "findings": [each.to_dict() for each in doubts],
        "counts": {} if enclosure is None else {k: len(v) for k, v in counts(enclosure).items()},
        "scenarios": [
            unnamed(item._asdict() | {"faults": list(item.faults)}) for item in tried
        ],
    }  # fmt: skip
