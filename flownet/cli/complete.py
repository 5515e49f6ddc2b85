"""Names that the shell completes, from the case file on the command line."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

import click
from click.shell_completion import CompletionItem

if TYPE_CHECKING:
    from flownet.enclosure.enclosure import Enclosure


def cases(ctx: click.Context, param: click.Parameter, incomplete: str) -> list[CompletionItem]:
    """Files and folders."""
    return [CompletionItem(incomplete, type="file")]


def scenarios(ctx: click.Context, param: click.Parameter, incomplete: str) -> list[str]:
    """Scenarios and outages; after `hot+` those that can be joined to it."""
    if (case := _case(ctx)) is None:
        return []
    from flownet.enclosure.outages import EACH, outage_names  # noqa: PLC0415 - when completing

    names = ["base", *case.scenarios, *outage_names(case), *EACH]
    head, plus, last = incomplete.rpartition("+")
    return [head + plus + name for name in _starting(names, last)]


def variants(ctx: click.Context, param: click.Parameter, incomplete: str) -> list[str]:
    """Variants."""
    case = _case(ctx)
    return _starting(["base", *case.variants], incomplete) if case else []


def keys(ctx: click.Context, param: click.Parameter, incomplete: str) -> list[str]:
    """Input paths that can be changed."""
    if (case := _case(ctx)) is None:
        return []
    from flownet.enclosure.changes import SHAPING  # noqa: PLC0415 - only when completing
    from flownet.schema.component import KINDS  # noqa: PLC0415 - likewise
    from flownet.schema.fields import roles  # noqa: PLC0415 - likewise

    found = [
        ".".join(step for step in (kind, name, key) if step)
        for kind, named in case.things.items()
        for name in named
        for key in roles(KINDS[kind])
        if key not in SHAPING
    ]
    return _starting(found, incomplete)


def elements(ctx: click.Context, param: click.Parameter, incomplete: str) -> list[str]:
    """Things of the case by their path."""
    case = _case(ctx)
    every = case.things.values() if case else ()
    return _starting((item.path for named in every for item in named.values()), incomplete)


def _starting(names: Iterable[str], incomplete: str) -> list[str]:
    return [name for name in names if name.startswith(incomplete)]


def _case(ctx: click.Context) -> Enclosure | None:
    """The case on the command line; None while it is not there or has faults."""
    from flownet.cli import reading  # noqa: PLC0415 - only when completing
    from flownet.schema.errors import FlownetError  # noqa: PLC0415 - likewise

    text = ctx.params.get("case") or next((w for w in ctx.args if not w.startswith("-")), None)
    try:
        return reading.load(text, ()) if text else None
    except (FlownetError, OSError):
        return None
