"""The group of commands: each is imported when it is used, its short help before that."""

from __future__ import annotations

import importlib
import os
import sys
from collections.abc import Sequence
from typing import Any

import click

from flownet import __version__
from flownet.cli import faults
from flownet.schema.errors import CaseError

PROGRAM, COMPLETE = "flownet", "_FLOWNET_COMPLETE"
SHELLS = ("bash", "zsh", "fish")
WELCOME = (
    "flownet finds air flow and temperatures in ventilated enclosures with fans.",
    "Start with:  flownet new cabinet   then   flownet solve cabinet",
)
COMMANDS = {
    "Begin": {
        "new": "write a case file to start from",
        "check": "find every fault of a case",
        "show": "print a case as it is understood, defaults included",
        "explain": "what a key, a unit or a finding means",
    },
    "Solve": {
        "solve": "flows, temperatures, margins and findings",
        "transient": "temperatures in time, and when which limit is reached",
        "draw": "draw the enclosure with its flows and temperatures",
    },
    "Size and choose": {
        "size": "the air flow that a heat load or a case needs",
        "choose": "a fan type for a place, or what the case leaves open",
    },
    "Decide": {
        "compare": "all variants in all scenarios; what a dead fan does",
        "suggest": "which changes, solved one by one, make it hold",
        "headroom": "how far one input can go before a limit breaks",
        "rank": "which input matters most for one result",
        "sweep": "ranges of inputs, every combination or a sample",
        "uncertainty": "how likely limits hold, by the tolerances of a case",
    },
    "Hand over": {
        "review": "one page for a design review, as a file",
        "commission": "sheet to fit and test by, drilling template, blanks for readings",
        "export": "boundary conditions, the network, or all results, as files",
    },
    "Measured": {
        "readings": "what was measured, and what explains that it differs",
        "calibrate": "inputs of a case by what was measured on it",
    },
}
NAMES = {name: words for group in COMMANDS.values() for name, words in group.items()}


class Commands(click.Group):
    """Commands from the table above, one module each."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(NAMES)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in NAMES:
            return None
        made: click.Command = importlib.import_module(f"flownet.cli.{cmd_name}").command
        return made

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        if args[0] not in NAMES and not args[0].startswith("-") and not ctx.resilient_parsing:
            raise click.UsageError(faults.no_command(args[0], list(NAMES)), ctx)
        return super().resolve_command(ctx, args)

    def format_help(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        for line in WELCOME:
            formatter.write(line + "\n")
        formatter.write("\nUsage: flownet COMMAND CASE [SUBJECT] [options]\n")
        width = max(map(len, NAMES))
        for title, commands in COMMANDS.items():
            formatter.write(f"\n{title}\n")
            for name, words in commands.items():
                formatter.write(f"  {name:<{width}}  {words}\n")
        formatter.write(
            "\nCASE is a .toml file, or a folder that holds case.toml.\n"
            "flownet COMMAND --help tells more; so does flownet explain WORD.\n"
            "Exit codes: 0 done, 1 with --strict: limits not known to hold, 2 a wrong file or\n"
            "command (heat or air without any way out is one), 3 no solution, 4 a result that\n"
            "cannot be written, 70 a fault of flownet itself, 130 interrupted.\n"
        )
        click.Command.format_options(self, ctx, formatter)  # without importing every command

    def main(
        self,
        args: Sequence[str] | None = None,
        prog_name: str | None = None,
        complete_var: str | None = None,
        standalone_mode: bool = True,
        **extra: Any,
    ) -> Any:
        """Run, print what went wrong in one place, and leave with the exit code."""
        if COMPLETE in os.environ:
            return super().main(args, PROGRAM, COMPLETE, **extra)
        words = list(sys.argv[1:] if args is None else args)
        faults.forgiving_output()
        with faults.terminable():
            code = faults.guarded(lambda: self._run(words, extra), trace="--trace" in words)
        sys.exit(code)

    def _run(self, words: list[str], extra: dict[str, Any]) -> Any:
        try:
            with self.make_context(PROGRAM, list(words), **extra) as ctx:
                return self.invoke(ctx)
        except click.exceptions.Exit as done:  # after --help and the like
            return done.exit_code
        except (click.UsageError, CaseError) as error:
            if (meant := self._turned(words)) is None:
                raise
            raise click.UsageError(f"CASE comes first; write: {meant}") from error

    def _turned(self, words: list[str]) -> str | None:
        """The same with CASE in front of its subject, where it stands behind it."""
        from flownet.cli.order import turned  # noqa: PLC0415 - after an error only

        command = self.get_command(click.Context(self), words[0]) if words else None
        return None if command is None else turned(command, words)


def _print_completion(ctx: click.Context, param: click.Parameter, value: str | None) -> None:
    if value is None or ctx.resilient_parsing:
        return
    from click.shell_completion import get_completion_class  # noqa: PLC0415 - only here

    made = get_completion_class(value)
    assert made is not None  # SHELLS are those that click knows
    click.echo(made(ctx.command, {}, PROGRAM, COMPLETE).source())
    ctx.exit()


@click.group(
    cls=Commands,
    invoke_without_command=True,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 80},
    options_metavar="",
)
@click.version_option(__version__, message="flownet %(version)s", help="Print the version.")
@click.option(
    "--completion",
    type=click.Choice(SHELLS),
    is_eager=True,
    expose_value=False,
    callback=_print_completion,
    help="Print a script for your shell that completes names of the case.",
)
@click.pass_context
def commands(ctx: click.Context) -> None:
    """Air flow and temperatures in ventilated enclosures with fans."""
    if ctx.invoked_subcommand is None:
        click.echo(ctx.get_help())
