"""Files that a command writes, and JSON on stdout."""

from __future__ import annotations

from pathlib import Path

import click

from flownet.cli.screen import Screen
from flownet.report import files

STDOUT = Path("-")


def save(path: Path, content: str | bytes, mark: str, screen: Screen, *, force: bool) -> None:
    """Write a file and say so; `-` is stdout. Files without our mark need `force`."""
    if path == STDOUT:
        click.echo(content, nl=False)
        return
    files.write(path, content, mark, force)
    screen.note(f"wrote {path}")
