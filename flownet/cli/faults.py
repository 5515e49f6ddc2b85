"""What went wrong, in words and as an exit code."""

from __future__ import annotations

import errno
import io
import os
import signal
import sys
import threading
import traceback
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any, TextIO

import click

from flownet.schema.errors import CaseError, FlownetError, NoSolution, WorkerLost
from flownet.schema.fault import did_you_mean, nearest

DONE, STRICT, INPUT, UNSOLVED, UNWRITTEN, BUG, INTERRUPTED = 0, 1, 2, 3, 4, 70, 130


class Interrupted(Exception):  # noqa: N818 - it is not an error
    """The user stopped the work; the words say how to go on."""


def guarded(work: Callable[[], Any], trace: bool) -> int:
    """Run, and turn whatever goes wrong into words on stderr and an exit code."""
    try:
        code = work()
        sys.stdout.flush()
    except BrokenPipeError:
        sys.stdout = _nowhere(sys.stdout)
        return DONE
    except (click.Abort, KeyboardInterrupt):
        if sys.stderr.isatty():
            say("")  # ends the line on which the terminal wrote ^C
        return _told(INTERRUPTED, ["flownet: interrupted; run the same command again"])
    except (Exception, Interrupted) as error:
        if trace and not isinstance(error, click.UsageError):
            traceback.print_exc()
        return _told(*_explained(error))
    return code if isinstance(code, int) else DONE


@contextmanager
def terminable() -> Iterator[None]:
    """SIGTERM ends the work as Ctrl-C does: in words, and with its workers."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    before = signal.signal(signal.SIGTERM, signal.default_int_handler)
    try:
        yield
    finally:
        signal.signal(signal.SIGTERM, before)


def _explained(error: BaseException) -> tuple[int, list[str]]:
    """The exit code and the words for what was raised."""
    for kind, code, words in _WORDS:
        if isinstance(error, kind):
            return code, words(error)
    told = f"{type(error).__name__}: {error}"
    return BUG, [
        f"flownet: a fault of flownet itself, not of your case: {told}",
        "The same command with --trace shows where.",
    ]


def _case_words(error: Any) -> list[str]:
    count = len(error.faults)
    return [*error.faults, *([f"{count} faults"] if count > 1 else [])]


def _file_words(error: Any) -> list[str]:
    if isinstance(error, FlownetError) or not error.strerror:
        return [str(error)]
    return [f"{error.filename or 'output'}: {error.strerror.lower()}"]


def _told(code: int, lines: Sequence[str]) -> int:
    for line in lines:
        say(line)
    return code


# --- usage -------------------------------------------------------------------------------------


def _usage(error: click.UsageError) -> str:
    """`flownet solve: no option "--unit"; did you mean "--units"?`"""
    path = error.ctx.command_path if error.ctx is not None else "flownet"
    return f"{path}: {_usage_words(error, path)}"


def _usage_words(error: click.UsageError, path: str) -> str:
    see = f"see {path} --help"
    if isinstance(error, click.NoSuchOption):
        close = error.possibilities[0] if error.possibilities else ""
        if path == "flownet" and not close:
            return f'no option "{error.option_name}" here; options stand after the command'
        return f'no option "{error.option_name}"; {did_you_mean(close, see)}'
    if isinstance(error, click.MissingParameter) and error.param is not None:
        return f"{error.param.make_metavar(error.ctx or click.Context(click.Command('')))} is missing; {see}"  # noqa: E501
    if isinstance(error, click.BadParameter) and error.param is not None:
        hint = error.param.opts[-1]  # `--units`, or the name of an argument: case, picture
        return f"{hint}: {_one_sentence(error.message)}"
    message = _one_sentence(error.format_message())
    return message if "?" in message or ";" in message else f"{message}; {see}"


def _one_sentence(message: str) -> str:
    message = message.rstrip(".")
    return message[:1].lower() + message[1:] if message[1:2].islower() else message


def no_command(word: str, known: Sequence[str]) -> str:
    """What to say about a first word that is no command."""
    path = Path(word)
    if path.suffix == ".toml" or path.is_dir():
        return f"the command comes first; {did_you_mean(f'flownet solve {word}')}"
    hint = did_you_mean(nearest(word, known), f"there are {', '.join(known)}")
    return f'no command "{word}"; {hint}'


_WORDS: tuple[tuple[type[BaseException], int, Callable[[Any], list[str]]], ...] = (
    (Interrupted, INTERRUPTED, lambda error: [f"flownet: interrupted; {error}"]),
    (click.UsageError, INPUT, lambda error: [_usage(error)]),
    (NoSolution, UNSOLVED, lambda error: [f"no solution: {error}"]),
    (CaseError, INPUT, _case_words),
    (OSError, UNWRITTEN, _file_words),
    (WorkerLost, INTERRUPTED, lambda error: [f"flownet: {error}"]),
    (FlownetError, INPUT, lambda error: [str(error)]),
)


# --- streams -----------------------------------------------------------------------------------


class _Closed(io.TextIOBase):
    """Stands where Python found no stdout."""

    def write(self, text: str) -> int:
        raise OSError(errno.EBADF, "is closed")


def forgiving_output() -> None:
    """Signs that the terminal cannot show become `?`; a closed stream is told when it is used."""
    if sys.stdout is None:
        sys.stdout = _Closed()
    if sys.stderr is None:
        sys.stderr = open(os.devnull, "w", encoding="utf-8")  # noqa: SIM115
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")


def say(text: str) -> None:
    """A line on stderr; where nobody can read it the work goes on all the same."""
    try:
        click.echo(text, err=True)
    except OSError:
        sys.stderr = _nowhere(sys.stderr)


def _nowhere(stream: TextIO) -> TextIO:
    """Nobody reads on: let what is still buffered there go nowhere, without a word."""
    try:
        os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())
    except (OSError, ValueError, io.UnsupportedOperation):  # not a real stream
        return open(os.devnull, "w", encoding="utf-8")
    return stream
