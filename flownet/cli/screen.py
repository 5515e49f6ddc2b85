"""Where words go: the answer to stdout, everything else to stderr."""

from __future__ import annotations

import os
import re
import shutil
import sys
from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import click

from flownet.cli import faults

if TYPE_CHECKING:
    from flownet.pages.page import Page

LEAST_WIDTH, PIPED, MOST_WIDTH = 60, 80, 120
CONTROL = re.compile(r"(?!\x1b\[[0-9;]*m)[\x00-\x08\x0b-\x1f\x7f-\x9f]")  # colours may pass


@dataclass(frozen=True)
class Screen:
    """The two streams of a command."""

    width: int
    colour: bool
    quiet: bool

    @classmethod
    def of(cls, color: str = "auto", quiet: bool = False) -> Screen:
        """What is at the other end of stdout: a terminal, or a file or pipe (80 columns)."""
        terminal = sys.stdout.isatty()
        width = PIPED
        if terminal:
            width = min(max(shutil.get_terminal_size((PIPED, 24)).columns, LEAST_WIDTH), MOST_WIDTH)
        plain = bool(os.environ.get("NO_COLOR")) or os.environ.get("TERM") == "dumb"
        colour = color == "always" or (color == "auto" and terminal and not plain)
        return cls(width, colour, quiet)

    def page(self, units: str, everything: bool = False) -> Page:
        """How reports are printed here."""
        from flownet.pages.page import Page  # noqa: PLC0415 - only some print pages
        from flownet.pages.table import coloured, plain  # noqa: PLC0415 - likewise

        return Page(units, self.width, everything, coloured if self.colour else plain)

    def answer(self, lines: Iterable[str]) -> None:
        """Lines of the answer."""
        for line in lines:
            click.echo(_harmless(line), color=self.colour)

    def note(self, text: str) -> None:
        """A word beside the answer; `-q` keeps it back."""
        if not self.quiet:
            sys.stdout.flush()  # keeps the order on a terminal that shows both
            faults.say(_harmless(text))


def _harmless(text: str) -> str:
    """Control signs of a file's own text as `?`: they could steer the terminal."""
    return text if text.isprintable() else CONTROL.sub("?", text)
