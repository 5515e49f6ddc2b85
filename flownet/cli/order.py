"""CASE comes first: what to write where it stands behind the subject of a command."""

from __future__ import annotations

import shlex
from collections.abc import Sequence

import click


def turned(command: click.Command, words: Sequence[str]) -> str | None:
    """The command line (words, the name of the command first) with CASE in its place; None where
    that is not what is wrong."""
    names = [item.name for item in command.params if isinstance(item, click.Argument)]
    if names[:1] != ["case"] or len(names) < 2:
        return None
    found = _parsed(command, list(words[1:]))
    case, subject = (found.get(name) for name in names[:2])
    if not case or _is_case(case):
        return None
    picks = next(item for item in command.params if item.name == names[1]).type
    if subject and _is_case(subject):
        swap = {case: subject, subject: case}
        return f"flownet {shlex.join([swap.get(word, word) for word in words])}"
    if not subject and isinstance(picks, click.Choice) and case in picks.choices:
        return f"flownet {shlex.join([*words[:1], 'CASE', *words[1:]])}"
    return None


def _parsed(command: click.Command, words: list[str]) -> dict[str, str]:
    """Options and arguments that are given; nothing where they cannot be told apart."""
    try:
        context = click.Context(command, info_name=command.name)
        found = command.make_parser(context).parse_args(words)[0]
    except click.UsageError:
        return {}
    return {name: value for name, value in found.items() if isinstance(value, str)}


def _is_case(text: str) -> bool:
    from flownet.cli import reading  # noqa: PLC0415 - after an error only
    from flownet.schema.errors import CaseError  # noqa: PLC0415 - likewise

    try:
        reading.find(text)
    except CaseError:
        return False
    return True
