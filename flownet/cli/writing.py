"""Files that a command writes, and answers on stdout that are not lines."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

import click

from flownet.cli.screen import Screen
from flownet.pictures.save import INPUT_SUFFIXES
from flownet.schema import atomic
from flownet.schema.errors import CannotWrite

STDOUT = Path("-")
UNTABLED = (".json", ".txt")  # suffixes of what is no table


def save_text(
    path: Path, text: str, mark: str, screen: Screen, *, force: bool, table: bool = False
) -> None:
    """Write text and say so; `-` is stdout.

    `mark` stands in every text of this sort: a file without it is replaced only with `force`, and
    one named like an input never; a `table` may have the name `.csv` where no other has it yet.
    """
    if path == STDOUT:
        click.echo(text, nl=False)
    else:
        ours: Callable[[Path], bool] = lambda found: atomic.carries(found, mark)  # noqa: E731 - typed
        save(path, text.encode(), ours, screen, force=force, table=table)


def save(
    path: Path, content: bytes, ours: Callable[[Path], bool], screen: Screen, *, force: bool,
    table: bool = False,
) -> None:  # fmt: skip
    """Write a file at one stroke and say so; what is not ours is replaced only with `force`."""
    if path == STDOUT:
        click.echo(content, nl=False)
        return
    with atomic.refusing(path):
        check(path, ours, force=force, table=table)
    as_it_comes = path.exists() and not path.is_file()  # a device or a pipe
    atomic.write(path, content)
    if not as_it_comes:
        screen.note(f"wrote {path}")


def check(
    path: Path, ours: Callable[[Path], bool], *, force: bool, table: bool = False
) -> None:  # fmt: skip
    """CannotWrite where a file has no place or is not ours; to be known before long work too."""
    if path == STDOUT:
        return
    if path.is_dir():
        raise CannotWrite(f"{path}: is a folder; name a file in it")
    if not path.parent.is_dir():
        raise CannotWrite(f"{path}: cannot be written: there is no folder {path.parent}")
    if path.exists() and not path.is_file():
        return
    free = table and path.suffix.lower() == ".csv" and (not path.exists() or ours(path))
    target = Path(os.path.realpath(path))  # a link is written through
    if path.suffix.lower() in INPUT_SUFFIXES and not free:
        raise CannotWrite(
            f"{path}: is named like an input, which no result replaces; take another suffix"
        )
    if target.suffix.lower() in INPUT_SUFFIXES and not free:
        raise CannotWrite(
            f"{path}: leads to {target}, named like an input, which no result replaces; "
            "take another name"
        )
    if path.exists() and not force and not ours(path):
        raise CannotWrite(
            f"{path}: was not written by flownet and stays as it is; "
            "name another file, or replace it with --force"
        )
