"""Processes that solve side by side, and end with the command that started them."""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import signal
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import BrokenExecutor, Executor, Future
from contextlib import contextmanager
from multiprocessing.connection import Connection
from queue import Empty, SimpleQueue
from typing import Any

PRELOADED = ["flownet.studies.sweep_rows"]  # once, for all workers
Task = tuple[Future[Any], Any]  # and what is called, with what


def usable() -> int:
    """How many cores this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


@contextmanager
def pool(most: int) -> Iterator[Executor]:
    """Up to so many processes; what breaks off the work ends them in the middle of a block."""
    made = _Pool(most)
    try:
        yield made
        made.shutdown()
    finally:
        made.stop()


class _Pool(Executor):
    """A process is started when more is to be done than there are processes, up to `most`.

    Each has a thread here that gives it one task after the other. All hold one end of a pipe whose
    other end is here alone: it closes with `stop`, and when this process ends in whatever way.
    Where a process dies, its task and those that wait fail with BrokenExecutor, the others go on.
    """

    def __init__(self, most: int) -> None:
        self._most = most
        self._context = _context()
        self._heard, self._held = self._context.Pipe(duplex=False)
        self._tasks: SimpleQueue[Task | None] = SimpleQueue()
        self._threads: list[threading.Thread] = []
        self._open = 0  # tasks that are not done
        self._lock = threading.Lock()
        self._broken = False

    def submit(self, fn: Callable[..., Any], /, *args: Any, **kwargs: Any) -> Future[Any]:
        """See Executor."""
        future: Future[Any] = Future()
        future.add_done_callback(self._done)
        with self._lock:
            if self._broken:
                raise BrokenExecutor("a worker process has died")
            self._tasks.put((future, (fn, args, kwargs)))
            self._open += 1
            if len(self._threads) < min(self._open, self._most):
                self._threads.append(threading.Thread(target=self._guide, daemon=True))
                self._threads[-1].start()
        return future

    def shutdown(self, wait: bool = True, *, cancel_futures: bool = False) -> None:
        """See Executor."""
        if cancel_futures:
            self._clear(lambda future: future.cancel())
        for _ in self._threads:
            self._tasks.put(None)
        for thread in self._threads if wait else ():
            thread.join()

    def stop(self) -> None:
        """End every process now."""
        self._held.close()
        self.shutdown(cancel_futures=True)
        self._heard.close()

    def _done(self, _: Future[Any]) -> None:
        with self._lock:
            self._open -= 1

    def _guide(self) -> None:
        """In a thread: one process from its start to its end."""
        ours, theirs = self._context.Pipe()
        process = self._context.Process(target=_serve, args=(theirs, self._heard), daemon=True)
        with ours:
            try:
                process.start()
                theirs.close()
                while (task := self._tasks.get()) is not None:
                    if task[0].set_running_or_notify_cancel():
                        _done_by(ours, *task)
            except (OSError, EOFError):
                self._break()
        if process.pid is not None:
            process.join()

    def _break(self) -> None:
        with self._lock:
            self._broken = True
        self._clear(_lost)

    def _clear(self, each: Callable[[Future[Any]], Any]) -> None:
        """Do this with the tasks that wait, and forget them."""
        with contextlib.suppress(Empty):
            while True:
                if (task := self._tasks.get_nowait()) is not None:
                    each(task[0])


def _lost(future: Future[Any]) -> None:
    if future.running() or future.set_running_or_notify_cancel():
        future.set_exception(BrokenExecutor("a worker process has died"))


def _done_by(worker: Connection, future: Future[Any], call: Any) -> None:
    """Have a process do it; OSError or EOFError where it dies."""
    try:
        worker.send(call)
        good, value = worker.recv()
    except (OSError, EOFError):
        _lost(future)
        raise
    except Exception as error:  # of what cannot be sent
        good, value = False, error
    if good:
        future.set_result(value)
    else:
        future.set_exception(value)


def _context() -> Any:
    """How processes are started: by a small server that never hears Ctrl-C, where there is one."""
    if "forkserver" not in multiprocessing.get_all_start_methods():
        return multiprocessing.get_context("spawn")
    from multiprocessing import forkserver, resource_tracker  # noqa: PLC0415 - not everywhere

    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload(PRELOADED)
    resource_tracker.ensure_running()
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})  # inherited by the server
    try:
        forkserver.ensure_running()
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)
    return context


# --- in the processes -----------------------------------------------------------------------------


def _serve(tasks: Connection, heard: Connection) -> None:
    """One task after the other: deaf to Ctrl-C, which the command hears, and ended with it."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with, args=(heard,), daemon=True).start()
    with contextlib.suppress(EOFError, OSError):
        while True:
            fn, args, kwargs = tasks.recv()
            try:
                answer = True, fn(*args, **kwargs)
            except Exception as error:
                answer = False, error
            tasks.send(answer)


def _end_with(heard: Connection) -> None:
    with contextlib.suppress(EOFError, OSError):
        heard.recv_bytes()
    os._exit(1)
