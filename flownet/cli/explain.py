"""`flownet explain`: a key of the case file, a result, or a finding, in full."""

from __future__ import annotations

from itertools import chain

import click

from flownet.cli.request import Request, command_of
from flownet.findings import RULES
from flownet.findings.explain import explain, known_paths, words
from flownet.schema.component import KINDS


def _words(ctx: click.Context, param: click.Parameter, incomplete: str) -> list[str]:
    known = [*RULES, *KINDS, *words()]
    known += chain(*words("results").values())
    known += [f"{kind}.{key}" for kind in KINDS for key in known_paths(kind)]
    return [word for word in known if word.startswith(incomplete)]


@command_of(
    "explain",
    "Say what a key, a kind, a result, a finding or a word of a page means, with its range.",
    "flownet explain filter.fouling",
    "flownet explain fan-backflow",
    "flownet explain filter.drop",
    takes=(
        click.argument("word", metavar="WORD", shell_complete=_words),
        click.option(
            "--units", type=click.Choice(("metric", "us")), default="metric",
            help="Units of what is said. Default: metric.",
        ),
    ),
)  # fmt: skip
def command(asked: Request, word: str) -> None:
    """Print the explanation."""
    asked.screen.answer(explain(word, asked.units or "metric").splitlines())
