"""`flownet new`: a case file to start from."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import click

from flownet.casefile import starter
from flownet.cli.demos import CASE_FILE, demos
from flownet.cli.reading import hides_demo
from flownet.cli.request import Request, command_of
from flownet.schema import atomic
from flownet.schema.errors import CannotWrite

GUARD = "expected.toml"  # a demo's regression guard, of no use in a copy
CAUTIONS = (
    "Results are estimates: keep over-temperature cut-outs, measure before you rely on\n"
    "them, follow local codes and licensed practice where there is mains voltage."
)


def _demo(ctx: click.Context, param: click.Parameter, value: str | None) -> Path | None:
    if value is None:
        return None
    known = demos()
    if value not in known:
        raise click.BadParameter(f'no demo "{value}"; there are {", ".join(known)}', ctx, param)
    return known[value]


def _names(ctx: click.Context, param: click.Parameter, incomplete: str) -> list[str]:
    return [name for name in demos() if name.startswith(incomplete)]


@command_of(
    "new",
    "Write a small case that solves, to be changed into yours: NAME is a new folder for it, or a "
    "file if it ends in .toml.",
    "flownet new cabinet",
    "flownet new my-shelf --like telecom-shelf",
    takes=(
        click.argument("name", metavar="NAME"),
        click.option(
            "--like", "demo", metavar="DEMO", callback=_demo, shell_complete=_names,
            help=f"Copy a demo, its catalogue too: {', '.join(demos())}.",
        ),
    ),
)  # fmt: skip
def command(asked: Request, name: str, demo: Path | None) -> None:
    """Write the case, and its catalogues; replace nothing."""
    screen = asked.screen
    path = Path(name) if name.endswith(".toml") else Path(name) / CASE_FILE
    wanted = {path: _first(path)} if demo is None else _copied(demo, path)
    _write(wanted)
    for each in wanted:
        screen.note(f"wrote {each}")
    if hides_demo(name):
        screen.note(f"{name}: from now on the one in this folder, not the demo of that name")
    marks = "change the lines marked CHANGE, then: " if demo is None else ""
    screen.note(f"Next: {marks}flownet solve {_quoted(name)}\n{CAUTIONS}")


def _first(path: Path) -> str:
    """The starter, with a title made of its name."""
    full = path.resolve()
    stem = full.parent.name if path.name == CASE_FILE else full.stem
    words = stem.replace("-", " ").replace("_", " ").strip()
    return starter(words[:1].upper() + words[1:] if words else "New case")


def _copied(demo: Path, path: Path) -> Mapping[Path, str]:
    """Where each file of a demo goes: the case to `path`, the rest beside it."""
    rest = [*sorted(demo.glob("*.toml")), *sorted(demo.glob("*.csv"))]
    beside = {
        path.with_name(item.name): item.read_text(encoding="utf-8")
        for item in rest
        if item.name not in (CASE_FILE, GUARD)
    }
    return {path: (demo / CASE_FILE).read_text(encoding="utf-8"), **beside}


def _write(wanted: Mapping[Path, str]) -> None:
    there = [path for path in wanted if path.exists()]
    if there:
        raise CannotWrite(f"{there[0]}: is there already; new replaces nothing, take another name")
    made: list[Path] = []  # what there was not before, outermost first
    try:
        for path, text in wanted.items():
            with atomic.refusing(path):
                for folder in _missing(path.parent):
                    folder.mkdir()
                    made.append(folder)
            atomic.write(path, text.encode())
            made.append(path)
    except BaseException:
        for path in reversed(made):
            path.rmdir() if path.is_dir() else path.unlink()
        raise


def _missing(folder: Path) -> list[Path]:
    """Those of a folder and its parents that are not there, outermost first."""
    return [each for each in (*reversed(folder.parents), folder) if not each.exists()]


def _quoted(name: str) -> str:
    return f'"{name}"' if " " in name else name
