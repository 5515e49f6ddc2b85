"""`flownet headroom`: how far one input can go before the first limit breaks."""

from __future__ import annotations

from collections.abc import Sequence

import click

from flownet.cli import complete, faults, options, solving
from flownet.cli.request import Request, command_of
from flownet.pages.caption import Caption
from flownet.pages.page import Unsolved
from flownet.pages.sheet import Column, Listing, Sheet
from flownet.pages.solution import unsolved_sheet
from flownet.schema.errors import CaseError, NoSolution
from flownet.schema.text_file import written_value
from flownet.studies.headroom import searched, tightest
from flownet.studies.headroom_result import Headroom
from flownet.studies.headroom_subject import span, subject


def _filled(ctx: click.Context, param: click.Parameter, text: str | None) -> str | None:
    if text is not None and not text.strip():
        raise click.BadParameter(f'a value is wanted, such as "55 degC" (got "{text}")', ctx, param)
    return text


upto = click.option(
    "--upto", metavar="VALUE", callback=_filled,
    help='How far to go, such as --upto "55 degC". Default: both ways, over a range that fits the '
    "key.",
)  # fmt: skip
strict = click.option(
    "--strict", is_flag=True, help="Exit code 1 where a limit is broken at today's value."
)


@command_of(
    "headroom",
    "Find how far one input can go before the first limit breaks. KEY is its path; with * that of "
    "several, moved together.",
    "flownet headroom drive-cabinet filter.intake.fouling -s hot",
    'flownet headroom drive-cabinet outside.temperature --upto "60 degC"',
    'flownet headroom drive-cabinet "fan.*.speed" -s hot -s each-fan-out',
    takes=(
        options.case, click.argument("key", metavar="KEY", shell_complete=complete.keys), upto,
        *options.CHANGES, *options.ANSWER, strict, options.jobs,
    ),
)  # fmt: skip
def command(asked: Request, key: str, upto: str | None) -> int:
    """Search in every scenario, print the tightest first, write what is asked for."""
    asked.files.check("headroom", picture="headroom")
    with asked.working("values solved") as work:

        def search(scenario: str) -> Headroom:
            made = asked.made(scenario)
            moved = subject(made, key)
            end = None if upto is None else written_value(upto)  # read as in a case file
            return searched(made, moved, span(moved, made, end, file=True), *work)

        outcomes = list(solving.each(asked.enclosure, asked.names, asked.design, search))
    found = _ordered(outcomes)
    asked.deliver(_sheet(found, asked))
    code = solving.exit_code(found)
    broken = not all(item.today.holds for item in _solved(found))
    return faults.STRICT if code == faults.DONE and asked.strict and broken else code


Outcome = Headroom | Unsolved


def _ordered(outcomes: Sequence[Outcome]) -> list[Outcome]:
    """The tightest first; of several, one that fails keeps a place at the end."""
    found = _solved(outcomes)
    if not found:
        reasons = dict.fromkeys(f for item in outcomes if isinstance(item, Unsolved)
                                for f in item.faults)  # fmt: skip
        kinds = {item.kind for item in outcomes if isinstance(item, Unsolved)}
        raise (NoSolution if "no-solution" in kinds else CaseError)("\n".join(list(reasons)[:3]))
    first = found[tightest(found)]
    return [first, *(item for item in outcomes if item is not first)]


def _solved(outcomes: Sequence[Outcome]) -> list[Headroom]:
    return [item for item in outcomes if isinstance(item, Headroom)]


def _sheet(found: Sequence[Outcome], asked: Request) -> Sheet:
    """One scenario after the other; as data the tightest first too, and every value of every scan
    with the scenario it belongs to."""
    solved = _solved(found)
    first = f"Tightest of {len(found)}: {solved[0].case.applied.scenario}"
    told = [first] if len(found) > 1 else []
    rows = [
        {"scenario": item.case.applied.scenario, "variant": item.case.applied.variant,
         "key": item.key, **row}
        for item in solved for row in item.rows()
    ]  # fmt: skip
    columns = [Column(key, [row.get(key) for row in rows])
               for key in dict.fromkeys(key for row in rows for key in row)]  # fmt: skip
    return Sheet(
        "headroom", Caption.of(asked.enclosure), lambda units: told,
        [Listing("rows", tuple(columns), "rows")], bare=True,
        parts=[unsolved_sheet(item) if isinstance(item, Unsolved) else
               item.sheet.captioned(changes=tuple(asked.told)) for item in found],
        facts={"key": solved[0].key, "headroom": [
            item.to_dict() if isinstance(item, Headroom) else
            {"scenario": item.scenario, "error": {"kind": item.kind,
                                                  "message": "\n".join(item.faults)}}
            for item in found
        ]},
    )  # fmt: skip
