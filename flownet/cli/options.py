"""Options that mean the same in every command that has them."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

import click

from flownet.cli import complete
from flownet.cli.settings import KeyValue

F = TypeVar("F", bound=Callable[..., Any])


def pairs(form: str, example: str) -> Callable[..., tuple[KeyValue, ...]]:
    """Reads `KEY=VALUE` as often as it is given; `form` and `example` say what is wanted."""

    def read(
        ctx: click.Context, param: click.Parameter, values: tuple[str, ...]
    ) -> tuple[KeyValue, ...]:
        made = []
        for text in values:
            key, equals, value = (part.strip() for part in text.partition("="))
            if not (key and equals and value):
                raise click.BadParameter(
                    f'{form} is wanted, such as "{example}" (got "{text}")', ctx, param
                )
            made.append(KeyValue(key, value))
        return tuple(made)

    return read


def once(
    *names: str, what: str, hint: str = "", default: Any = None, **rest: Any
) -> Callable[[F], F]:
    """An option that takes one value: click alone would keep the last of several without a word.

    `what` is that value in a word, `hint` what to write instead, with the values as `{joined}`
    (`a+b`) and `{listed}` (`["a", "b"]`).
    """

    def one(ctx: click.Context, param: click.Parameter, values: tuple[Any, ...]) -> Any:
        if len(values) > 1:
            words = [str(value) for value in values]
            listed = ", ".join(f'"{word}"' for word in words)
            more = hint.format(joined="+".join(words), listed=f"[{listed}]")
            told = f"one {what} at a time (got {', '.join(words)})"
            raise click.BadParameter(f"{told}; {more}" if more else told, ctx, param)
        return values[0] if values else default

    return click.option(*names, multiple=True, callback=one, **rest)


case = click.argument("case", metavar="CASE", shell_complete=complete.cases)


def scenarios_by(default: str, several: str = "each-fan-out: one for every fan, that fan dead. "
                 "Repeat for more. ") -> Callable[[F], F]:  # fmt: skip
    """Scenarios; `default`: which without the option, in words."""
    return click.option(
        "-s", "--scenario", "scenarios", multiple=True, metavar="NAME",
        shell_complete=complete.scenarios,
        help=f"A scenario of the case; a+b joins several. {several}Default: {default}.",
    )  # fmt: skip


def variant_by(default: str) -> Callable[[F], F]:
    """One variant; `default`: which without the option, in words."""
    return once(
        "-v", "--variant", what="variant",
        hint="a [variant.NAME] with like = {listed} joins them", metavar="NAME",
        shell_complete=complete.variants, help=f"A variant of the case. Default: {default}.",
    )  # fmt: skip


scenarios, variant = scenarios_by("base"), variant_by("base")
deciding = scenarios_by("limits.scenarios, else all")
scenario = once(
    "-s", "--scenario", "scenario", what="scenario", hint="-s {joined} joins them",
    metavar="NAME", default="base", shell_complete=complete.scenarios,
    help="A scenario of the case; a+b joins several. Default: base.",
)  # fmt: skip
settings = click.option(
    "--set", "settings", multiple=True, metavar="KEY=VALUE",
    callback=pairs("KEY=VALUE", "outside.temperature=50 degC"),
    shell_complete=complete.keys,
    help='Another value, as in the case file: --set "outside.temperature=50 degC".',
)  # fmt: skip
catalogue = click.option(
    "--catalogue", multiple=True, metavar="DIR", type=click.Path(path_type=Path),
    help="A catalogue file, whose fan types are added (fan-catalogue: the demo), or a folder in "
    "which catalogues that the case names are looked for. Repeat for more.",
)  # fmt: skip
out = click.option(
    "-o", "--out", metavar="FILE", type=click.Path(path_type=Path, allow_dash=True),
    help="Write to FILE (format by suffix); - is stdout.",
)  # fmt: skip
json = click.option(
    "--json", "json_file", metavar="FILE", type=click.Path(path_type=Path, allow_dash=True),
    help="Write JSON to FILE; with - nothing else on stdout.",
)  # fmt: skip
force = click.option("--force", is_flag=True, help="Replace a file that flownet did not write.")
units = click.option(
    "--units", type=click.Choice(("metric", "us")),
    help="Units of the answer. Default: as the case says.",
)  # fmt: skip
everything = click.option(
    "--all", "everything", is_flag=True,
    help="All rows of long tables, and what is kept back otherwise.",
)  # fmt: skip
jobs = click.option(
    "-j", "--jobs", type=click.IntRange(min=0), default=1, metavar="N",
    help="Processes that solve side by side, at most one a core; 0: one a core. Worth it from "
    "thousands of solves on.",
)  # fmt: skip
strict = click.option(
    "--strict", is_flag=True,
    help="Exit code 1 where an error is found (outside limits.scenarios a broken limit is a "
    "warning), numbers are void, a limit has no value, or there is no limit.",
)  # fmt: skip
quiet = click.option("-q", "--quiet", is_flag=True, help="No notes on stderr.")
color = click.option(
    "--color", type=click.Choice(("auto", "always", "never")), default="auto",
    help="Colour; auto: on a terminal, unless NO_COLOR is set.",
)  # fmt: skip
trace = click.option(
    "--trace", is_flag=True, expose_value=False, help="Show where in flownet an error arose."
)
DESIGN = (variant, settings, catalogue)
CHANGES = (scenarios, *DESIGN)
ANSWER = (out, json, force, units, everything)
SCREEN = (quiet, color, trace)
