"""`flownet size`: the air flow that a heat load needs, from numbers or from a case."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

import click

from flownet.cli import complete, options
from flownet.cli.answer import deliver
from flownet.cli.request import Request, command_of
from flownet.cli.writing import UNTABLED
from flownet.schema.errors import CaseError
from flownet.studies.size import Sizing, size
from flownet.studies.size_case import CaseSizing, size_case

LOAD = ("heat", "rise", "inlet")
ONLY_NUMBERS = ("heat", "inlet", "altitude")
ONLY_CASE = ("scenario", "variant", "settings", "catalogue")
RENAMED = {"stated": "flow", "settings": "set"}  # keyword -> option


@command_of(
    "size",
    "Size the air flow for a heat load (--heat, --rise, --inlet), or for every compartment of a "
    "case.",
    'flownet size --heat "400 W" --rise "10 K" --inlet "40 degC" --margin 20%',
    "flownet size drive-cabinet -s hot",
    takes=(
        click.argument("case", metavar="[CASE]", required=False, shell_complete=complete.cases),
        click.option("--heat", metavar="W", help='Heat load, such as "400 W".'),
        click.option("--rise", metavar="K",
                     help="Allowed rise of the air; of a case, by its air limits."),
        click.option("--inlet", metavar="T",
                     help='Temperature of the air that enters, "40 degC".'),
        click.option("--altitude", metavar="H", help='Height of the site, "1500 m". Default 0 m.'),
        click.option("--margin", metavar="SHARE", default="0 %",
                     help="Added to the flow, such as 20%."),
        click.option("--flow", "stated", metavar="FLOW",
                     help="A flow that somebody states, to check."),
        click.option("--drop", metavar="P",
                     help="Pressure an opening may cost; says how large it is."),
        click.option("--velocity", metavar="V",
                     help="Velocity on the face of an opening; says how large."),
        options.once(
            "-s", "--scenario", "scenario", what="scenario", hint="-s {joined} joins them",
            metavar="NAME", shell_complete=complete.scenarios,
            help="Scenario of a case; a+b joins several. Default: base.",
        ),
        *options.DESIGN, *options.ANSWER,
    ),
)  # fmt: skip
def command(asked: Request, **given: str | None) -> None:
    """Work the flows out and print them."""
    asked.files.check("size", UNTABLED)
    _check_asked(asked, given)
    found = _of_case(asked, given) if asked.case is not None else _of_numbers(given)
    units = found.solution.case.units if isinstance(found, CaseSizing) else "metric"
    deliver(found.sheet, asked.files, asked.page(units), asked.screen)


def _check_asked(asked: Request, given: Mapping[str, str | None]) -> None:
    """Options that belong to numbers, and those that belong to a case."""
    if asked.case is None:
        missing = [f"--{name}" for name in LOAD if given[name] is None]
        if missing:
            raise click.UsageError(
                f"{', '.join(missing)} missing; give --heat, --rise and --inlet, or a CASE"
            )
        odd = [name for name in ONLY_CASE if getattr(asked, name)]
        if odd:
            raise click.UsageError(f"--{RENAMED.get(odd[0], odd[0])}: only with a CASE")
        return
    odd = [name for name in ONLY_NUMBERS if given[name] is not None]
    if odd:
        hint = {
            "heat": "the heat of a case is that of its parts, slots and fans",
            "inlet": 'use --set "outside.temperature=45 degC"',
            "altitude": 'use --set "outside.altitude=1500 m"',
        }[odd[0]]
        raise click.UsageError(f"--{odd[0]}: not with a CASE; {hint}")


def _of_numbers(given: Mapping[str, str | None]) -> Sizing:
    words = {name: text for name, text in given.items() if text is not None}
    found: Sizing = _told(lambda: size(**words))
    return found


def _of_case(asked: Request, given: Mapping[str, str | None]) -> CaseSizing:
    made = asked.made()
    words = {name: text for name, text in given.items() if text is not None}
    found: CaseSizing = _told(lambda: size_case(made, **words), tuple(words))
    return found


def _told(work: Callable[[], Any], names: Sequence[str] | None = None) -> Any:
    """The faults of values, after the options they were given with."""
    try:
        return work()
    except CaseError as error:
        faults = []
        for fault in error.faults:
            name, colon, rest = fault.partition(":")
            known = name.isalpha() and (names is None or name in names)
            faults.append(f"--{RENAMED.get(name, name)}{colon}{rest}" if known else fault)
        raise CaseError(faults) from None
