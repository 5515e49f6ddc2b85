"""A command as a process of its own that has its libraries loaded already: a fork of this one.

Run: python -m tests.forked COMMAND ...   one after the other: `flownet` forked, others by the shell
"""

from __future__ import annotations

import importlib
import os
import runpy
import shlex
import signal
import subprocess
import sys
import time
import traceback
import warnings
from collections.abc import Callable, Iterable, Mapping
from contextlib import suppress
from pathlib import Path
from tempfile import TemporaryFile
from typing import Any, NoReturn

from flownet.cli import main

PLAIN = {"NO_COLOR": "1", "COLUMNS": "80"}


class Forked:
    """What tests ask of `subprocess.Popen`, of a fork that runs `flownet WORDS` or other work.

    `stdout`, `stderr`: descriptors; None is kept for `ended`. `first` is done in the child before.
    """

    def __init__(
        self, words: Iterable[object] = (), folder: Path | str = ".", *,
        work: Callable[[], Any] = main, stdout: int | None = None, stderr: int | None = None,
        first: Callable[[], Any] = lambda: None, env: Mapping[str, str] = PLAIN,
    ) -> None:  # fmt: skip
        self._kept = TemporaryFile(), TemporaryFile()  # noqa: SIM115 - closed with this
        given = zip((stdout, stderr), self._kept, strict=True)
        streams = [file.fileno() if own is None else own for own, file in given]
        self.returncode: int | None = None
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", DeprecationWarning)  # of a fork beside threads
            self.pid = os.fork()
        if not self.pid:
            os.environ |= env
            _run_and_end([str(word) for word in words], folder, streams, work, first)

    def poll(self) -> int | None:
        """The exit code; None while it runs."""
        if self.returncode is None:
            ended, status = os.waitpid(self.pid, os.WNOHANG)
            self.returncode = os.waitstatus_to_exitcode(status) if ended else None
        return self.returncode

    def send_signal(self, number: int) -> None:
        """As that of Popen."""
        if self.poll() is None:
            os.kill(self.pid, number)

    def communicate(self, timeout: float = 300.0) -> tuple[str, str]:
        """Both streams when it has ended."""
        end = time.monotonic() + timeout
        while self.poll() is None:
            if time.monotonic() > end:
                os.kill(self.pid, signal.SIGKILL)
                raise TimeoutError(f"no end after {timeout} s")
            time.sleep(0.002)
        return self._told(0), self._told(1)

    def _told(self, stream: int) -> str:
        with self._kept[stream] as file:
            file.seek(0)
            return file.read().decode()


def script(path: str) -> Callable[[], Any]:
    """Work: a Python script."""
    return lambda: runpy.run_path(path, run_name="__main__")


def _run_and_end(
    words: list[str], folder: Path | str, streams: list[int], work: Callable[[], Any],
    first: Callable[[], Any],
) -> NoReturn:  # fmt: skip
    """As a new interpreter would: signals, streams, arguments, and the exit code of the work."""
    code = 1
    try:
        os.setsid()
        signal.signal(signal.SIGINT, signal.default_int_handler)
        signal.signal(signal.SIGTERM, signal.SIG_DFL)
        for number, stream in enumerate(streams, 1):
            os.dup2(stream, number)
        os.closerange(3, 1024)  # so that nobody waits for the end of a pipe that stays open here
        sys.stdout, sys.stderr = (os.fdopen(i, "w", closefd=False) for i in (1, 2))
        os.chdir(folder)
        sys.argv[1:], sys.path[:0] = words, [str(folder)]
        first()
        work()
        code = 0
    except SystemExit as end:
        code = end.code if isinstance(end.code, int) else int(end.code is not None)
    except BaseException:
        with suppress(OSError):
            traceback.print_exc()
    try:
        sys.stdout.flush()
    except (AttributeError, OSError):
        code = code if sys.stdout is None else 120
    with suppress(AttributeError, OSError):
        sys.stderr.flush()
    os._exit(code)


if __name__ == "__main__":
    for module in ("cli.sweep", "cli.solving", "studies.sweep_rows", "solving.solve"):
        importlib.import_module(f"flownet.{module}")
    for command in sys.argv[1:]:
        name, *rest = shlex.split(command)
        if name == "flownet":
            told = Forked(tuple(rest), stderr=2)
            told.communicate()
            print(told.returncode, flush=True)
        else:
            subprocess.run(command, shell=True, check=False)
