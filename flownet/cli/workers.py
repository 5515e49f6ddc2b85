"""Processes that solve side by side, and end with the command that started them."""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import signal
import threading
from collections.abc import Iterator
from concurrent.futures import Executor, ProcessPoolExecutor
from contextlib import contextmanager
from multiprocessing.connection import Connection
from typing import Any

LOADED = ["flownet.studies.sweep_rows"]  # once, for all workers


def usable() -> int:
    """How many cores this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


@contextmanager
def pool(most: int) -> Iterator[Executor]:
    """Up to so many processes: one is started for a block when no other is idle.

    They hold the end of a pipe whose other end is here alone. It closes when the work is broken
    off, and when this process ends in whatever way: then they end too, in the middle of a block.
    """
    context = _context()
    heard, held = context.Pipe(duplex=False)
    try:
        with ProcessPoolExecutor(most, context, _begin, (heard,)) as executor:
            try:
                yield executor
            except BaseException:
                held.close()
                raise
    finally:
        held.close()
        heard.close()


def _context() -> Any:
    """How processes are started: by a small server that never hears Ctrl-C, where there is one."""
    if "forkserver" not in multiprocessing.get_all_start_methods():
        return multiprocessing.get_context("spawn")
    from multiprocessing import forkserver, resource_tracker  # noqa: PLC0415 - not everywhere

    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload(LOADED)
    resource_tracker.ensure_running()
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})  # inherited by the server
    try:
        forkserver.ensure_running()
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)
    return context


def _begin(heard: Connection) -> None:
    """In each worker: deaf to Ctrl-C, which the command hears, and ended with it."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with, args=(heard,), daemon=True).start()


def _end_with(heard: Connection) -> None:
    with contextlib.suppress(EOFError, OSError):
        heard.recv_bytes()
    os._exit(1)
