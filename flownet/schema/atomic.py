"""The one way to a file: written beside, then moved into its place at one stroke."""

from __future__ import annotations

import errno
import os
import stat
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from flownet.schema.errors import CannotWrite, FlownetError

FULL = (errno.ENOSPC, getattr(errno, "EDQUOT", errno.ENOSPC), errno.EFBIG)
NOT_THERE = (errno.EINVAL, errno.ENOSYS, getattr(errno, "ENOTSUP", errno.EINVAL))
ENDS_READ = 65536  # bytes at each end of a file in which a mark is looked for
StrPath = str | os.PathLike[str]


def write(path: StrPath, content: bytes) -> None:
    """Put bytes into a file: all of them, or what stood there stays as it was.

    A link is written through, a file keeps its permissions, a device or a pipe takes the bytes as
    they come.

    Raises
    ------
    CannotWrite
        With the reason, and how many bytes were wanted where there is no room.
    BrokenPipeError
        Where nobody reads on.
    """
    with replacing(path, len(content)) as beside, open(beside, "wb") as stream:
        stream.write(content)


@contextmanager
def replacing(path: StrPath, wanted: int = 0, hint: str = "") -> Iterator[Path]:
    """Where to write what is to stand at `path`; it is moved there when the block has ended well.

    `wanted` says how many bytes, if that is known; `hint` how to go on. What goes wrong leaves
    nothing beside the old file, and is a CannotWrite.
    """
    with refusing(path):
        target = Path(os.path.realpath(path))
        direct = os.path.exists(path) and not (os.path.isfile(path) or os.path.isdir(path))
    beside = target.with_name(f".{target.name[:40]}.{os.urandom(4).hex()}.part")
    if direct:
        with refusing(path, wanted):
            yield Path(path)
        return
    try:
        with refusing(path, wanted, hint, beside):
            yield beside
            settle(beside, target)
    finally:
        with suppress(OSError):
            beside.unlink(missing_ok=True)


def carries(path: Path, mark: str, *others: str) -> bool:
    """Whether a file is empty, or carries one of the marks near one of its ends."""
    size = path.stat().st_size
    with path.open("rb") as file:
        found = file.read(ENDS_READ)
        file.seek(max(file.tell(), size - ENDS_READ))
        found += file.read()
    return size == 0 or any(each.encode() in found for each in (mark, *others))


def settle(beside: Path, target: Path) -> None:
    """Move a finished file to its place, with the permissions of what it replaces; OSError."""
    with open(beside, "r+b") as stream:
        to_disk(stream.fileno())
    if target.exists():
        if not os.access(target, os.W_OK):
            raise PermissionError(errno.EACCES, os.strerror(errno.EACCES))
        os.chmod(beside, stat.S_IMODE(target.stat().st_mode))
    os.replace(beside, target)


def to_disk(descriptor: int) -> None:
    """Wait until a file stands on its disk; some say only now that there is no room."""
    try:
        os.fsync(descriptor)
    except OSError as error:
        if error.errno not in NOT_THERE:
            raise


@contextmanager
def refusing(
    path: StrPath, wanted: int = 0, hint: str = "", written: Path | None = None
) -> Iterator[None]:
    """What the system says of a file as a CannotWrite, in words; a closed pipe stays what it is.

    `written` is the file whose size counts where it is not known how much is `wanted`.
    """
    try:
        yield
    except (FlownetError, BrokenPipeError):
        raise
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        full = error.errno in FULL
        if full:
            reason += _sizes(path, wanted, written)
        if hint:
            advice = f"{'make room' if full else 'see to that'}, then {hint}"
        else:
            advice = "make room, or name a file on another disk" if full else "name another file"
        made = CannotWrite(f"{path}: cannot be written: {reason}; {advice}")
        made.errno = error.errno
        raise made from error


def _sizes(path: StrPath, wanted: int, written: Path | None) -> str:
    """How many bytes are wanted, and how many are free."""
    import shutil  # noqa: PLC0415 - only where there is no room

    sizes = [f"{wanted} bytes wanted"] if wanted else []
    device = os.path.exists(path) and not os.path.isfile(path)
    with suppress(OSError):
        if written is not None and not wanted:
            sizes.append(f"more than {written.stat().st_size} bytes wanted")
        if not device:
            sizes.append(f"{shutil.disk_usage(Path(os.path.realpath(path)).parent).free} free")
    return f" ({', '.join(sizes)})" if sizes else ""
