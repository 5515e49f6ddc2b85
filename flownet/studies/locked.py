"""A file that one process at a time has open, by a lock that ends with the process, however."""

from __future__ import annotations

import errno
import os
import sys
from io import FileIO
from pathlib import Path

from flownet.schema import atomic
from flownet.schema.errors import FlownetError

FAR = 1 << 30  # where a byte is locked on systems that keep others from reading what is locked

_held: set[FileIO] = set()


class Taken(FlownetError):  # noqa: N818 - says what is the case
    """Another process, or another call of this one, has the file."""


def opened(path: Path) -> FileIO:
    """The file, made where there is none, to be read and added to by nobody else until `release`.

    Taken where another has it; OSError. A file system without locks gives it to everybody.
    """
    while True:
        file = FileIO(path, "a+")
        _held.add(file)
        try:
            _lock(file)
            if os.path.samestat(os.fstat(file.fileno()), os.stat(path)):
                return file
        except FileNotFoundError:  # moved away after it was opened: once more
            pass
        except BaseException:
            release(file)
            raise
        release(file)


def release(file: FileIO) -> None:
    """Let others have it."""
    _held.discard(file)
    file.close()


def _lock(file: FileIO) -> None:
    try:
        if sys.platform == "win32":
            import msvcrt  # noqa: PLC0415 - of this system

            file.seek(FAR)
            msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)
        else:
            import fcntl  # noqa: PLC0415 - of other systems

            fcntl.flock(file.fileno(), fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError as error:
        if error.errno in (errno.EAGAIN, errno.EACCES):
            raise Taken(file.name) from None
        if error.errno not in (*atomic.NOT_THERE, errno.ENOLCK):
            raise


def _not_in_the_child() -> None:
    """A process that was forked must not keep the lock when its parent has ended."""
    for file in list(_held):
        release(file)


if hasattr(os, "register_at_fork"):
    os.register_at_fork(after_in_child=_not_in_the_child)
