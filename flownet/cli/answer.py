"""The answer of a study: printed, and written to the files that are asked for."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from functools import partial
from pathlib import Path
from typing import Any, NamedTuple

import click

from flownet import __version__
from flownet.cli.screen import PIPED, Screen
from flownet.cli.writing import STDOUT, check, save_text
from flownet.pages import json, render
from flownet.pages.page import Page
from flownet.pages.render import MARK
from flownet.pages.sheet import Sheet
from flownet.schema.atomic import carries

SUFFIXES = (".csv", ".json", ".txt")


class Files(NamedTuple):
    """Where an answer goes beside the screen."""

    out: Path | None
    json: Path | None
    force: bool

    def check(
        self, command: str, suffixes: Sequence[str] = SUFFIXES, *, picture: str = ""
    ) -> None:  # fmt: skip
        """What is wrong with them, before any work; `picture`: what `draw` calls that of the
        command. UsageError, or CannotWrite where a file has no place."""
        if self.out is not None and self.out != STDOUT and self.out.suffix not in suffixes:
            known = " or ".join(filter(None, (", ".join(suffixes[:-1]), suffixes[-1])))
            hint = f'; "draw CASE {picture}" makes the picture' if picture else ""
            raise click.UsageError(f'--out: {command} writes {known} (got "{self.out}"){hint}')
        if self.out == STDOUT and self.json == STDOUT:
            raise click.UsageError("--out - and --json - cannot both have stdout; drop one")
        for path in filter(None, (self.out, self.json)):
            mark = json.JSON_MARK if path == self.json or path.suffix == ".json" else MARK
            check(path, partial(carries, mark=mark), force=self.force, table=path.suffix == ".csv")


def deliver(
    sheet: Sheet, files: Files, page: Page, screen: Screen, *, told: Sequence[str] = (),
    more: Callable[[], Mapping[str, Any]] = dict,
) -> None:  # fmt: skip
    """A sheet to the screen, unless JSON has stdout; then each file that was asked for.

    `told`: what `--set` changed, as it was typed. `more`: what JSON has beside the sheet.
    """
    made = sheet.captioned(changes=tuple(told))
    try:
        if files.out in (None, STDOUT) and files.json != STDOUT:
            screen.answer(render.text(made, page))
    finally:  # also where the reader of a pipe, such as head, has seen enough
        _save(made, files, page, screen, more)


def _save(
    made: Sheet, files: Files, page: Page, screen: Screen, more: Callable[[], Mapping[str, Any]]
) -> None:  # fmt: skip
    """Each file that was asked for."""
    for path in dict.fromkeys(p for p in (files.json, files.out) if p is not None):
        if path == files.json or path.suffix == ".json":
            save_text(path, render.json(made, more()), json.JSON_MARK, screen, force=files.force)
        elif path.suffix == ".csv" and any(made.of("rows")):
            text = render.table_csv(render.rows(made), __version__)
            save_text(path, text, MARK, screen, force=files.force, table=True)
        elif path != STDOUT:
            plain = Page(page.units, PIPED, page.everything)
            lines = [*render.text(made, plain), "", MARK + __version__]
            save_text(path, "\n".join(lines) + "\n", MARK, screen, force=files.force)
