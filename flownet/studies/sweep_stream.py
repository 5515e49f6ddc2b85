"""A long table that grows on disk, and goes on growing after an interruption.

While it is made it stands in `FILE.part`, locked: one process at a time adds to it, and the lock
ends with the process. `FILE.part.json` says which job it belongs to, how many rows are whole, how
many bytes they take, what the job remembers of them, and a sum over all of this. What stands behind
these bytes was being written when the work stopped, and is cut off. The finished table is checked
against its sum and moved to its place at one stroke.
"""

from __future__ import annotations

import errno
import hashlib
import json
import os
import sys
from contextlib import suppress
from dataclasses import dataclass, field
from io import FileIO
from pathlib import Path
from typing import Any, NamedTuple, Self

from flownet.schema import atomic
from flownet.schema.errors import CannotWrite, FlownetError

OUR_MARKS = ("written by flownet ", '"flownet": "')  # of tables, of JSON
LINES_BEFORE = 2  # the rows: a remark and the headings
PIECE = 1 << 16  # bytes read at a time
BEHIND = 1 << 30  # where a byte is locked on systems that keep others from reading what is locked


class OtherJob(FlownetError, FileExistsError):  # noqa: N818 - says what is the case
    """What is on the disk belongs to another job, or to nobody we know."""


class NoFolder(FlownetError, FileNotFoundError):  # noqa: N818 - says what is the case
    """A table has no folder to stand in."""


class RowNote(NamedTuple):
    """What is known of an unfinished table."""

    digest: str  # of everything that decides the bytes
    rows: int = 0
    size: int = 0  # bytes
    state: Any = None  # what the job remembers of these rows
    sum: str = ""  # over the bytes of the table and all of the above


@dataclass
class RowStream:
    """A table while it is written: `append` until it is whole, `check`, then read it or `move`."""

    target: Path
    note: RowNote
    file: FileIO  # the unfinished table, locked
    hashed: Any = field(default_factory=hashlib.sha256)  # over the bytes of the table

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, *_: object) -> None:
        if kind is CannotWrite and not self.note.rows:
            self.drop()
        _release(self.file)

    @property
    def part(self) -> Path:
        """The unfinished table."""
        return part_of(self.target)

    def append(self, text: str, rows: int, state: Any) -> None:
        """Further rows; they count when all of them are on the disk."""
        content, done = text.encode(), self.note.rows
        hint = resuming(self.target, done) if done else ""  # with no row yet there is no going on
        with atomic.refusing(self.target, len(content), hint):
            self._put(content)
        self.hashed.update(content)
        note = RowNote(self.note.digest, done + rows, self.note.size + len(content), state)
        note = note._replace(sum=_sum(self.hashed, note))
        noted = json.dumps(note._asdict()).encode()
        with atomic.replacing(note_of(self.target), len(noted), hint) as beside:
            beside.write_bytes(noted)
        self.note = note

    def _put(self, content: bytes) -> None:
        if os.fstat(self.file.fileno()).st_size != self.note.size:
            raise _damaged(self.target, "was changed while it was written")
        rest = memoryview(content)
        try:
            while rest:
                rest = rest[self.file.write(rest) :]
            atomic.to_disk(self.file.fileno())
        except BaseException:
            with suppress(OSError):  # half a block would only take room
                self.file.truncate(self.note.size)
            raise

    def check(self, rows: int) -> None:
        """OtherJob unless the table on the disk is what was written, and has so many rows."""
        hashed, lines = _read(self.file, self.note.size)
        same = os.path.samestat(os.stat(self.part), os.fstat(self.file.fileno()))
        if not same or hashed.digest() != self.hashed.digest():
            raise _damaged(self.target, "was changed while it was written")
        if lines != rows + LINES_BEFORE:
            raise _damaged(self.target, f"holds {lines - LINES_BEFORE} rows of {rows}")

    def move(self) -> None:
        """Put the finished table in its place."""
        if sys.platform == "win32":  # moves no open file
            _release(self.file)
        with atomic.refusing(self.target):
            atomic.settle(self.part, self.target)
        note_of(self.target).unlink(missing_ok=True)

    def drop(self) -> None:
        """Leave nothing of the unfinished table."""
        if sys.platform == "win32":
            _release(self.file)
        for path in (self.part, note_of(self.target)):
            path.unlink(missing_ok=True)


def part_of(target: Path) -> Path:
    """Where a table stands while it is made."""
    return target.with_name(target.name + ".part")


def note_of(target: Path) -> Path:
    """What is known of the unfinished table."""
    return target.with_name(target.name + ".part.json")


def resuming(target: Path, rows: int) -> str:
    """How to go on with so many rows."""
    how = "go on with the same command and --resume (resume=True)"
    return f"{how}: {rows} rows are kept in {part_of(target)}"


def kept(target: Path) -> RowNote | None:
    """What an interrupted job left, by its note; None for nothing that is of use."""
    try:
        left = RowNote(**json.loads(note_of(target).read_text()))
        return left if part_of(target).stat().st_size >= left.size else None
    except (OSError, ValueError, TypeError):
        return None


def begun(target: Path, digest: str, head: str, *, resume: bool, force: bool) -> RowStream:
    """A table that begins with `head`, or goes on where it stopped; to be used in a `with`.

    `target` is where it will stand; a link is followed. A table is only gone on with by the job
    that began it, which `digest` names. `resume`: go on with what is there; `force`: replace it,
    whoever made it. OtherJob where another process is writing this table; where rows of another
    job, rows that are not what their note says, or a file that is not ours, stand in the way.
    NoFolder; CannotWrite where the system does not take the file.
    """
    target = Path(os.path.realpath(target)) if target.is_symlink() else target
    _refuse(target, force)
    made = RowStream(target, RowNote(digest), _alone(target))
    try:
        left = None if force else _left(made, resume)
        if left is not None:
            made.file.truncate(left.size)
            made.note = left
        else:
            _begin(made, head)
    except BaseException:
        _release(made.file)
        raise
    return made


def _alone(target: Path) -> FileIO:
    """The unfinished table, empty or as it was left, for this call alone."""
    try:
        with atomic.refusing(target):
            return _locked(part_of(target))
    except _Taken:
        raise OtherJob(
            f"{target}: another sweep is writing {part_of(target).name} at this moment; wait for "
            "it to end, or name another file"
        ) from None


def _begin(made: RowStream, head: str) -> None:
    try:
        made.file.truncate(0)
        note_of(made.target).unlink(missing_ok=True)
        made.append(head, 0, None)
    except BaseException:
        made.drop()
        raise


def _left(made: RowStream, resume: bool) -> RowNote | None:
    """What there is to go on with; None for no whole row. OtherJob for what is of no use."""
    target, name = made.target, part_of(made.target).name
    if _read(made.file, None)[1] <= LINES_BEFORE:
        return None
    left = kept(target)
    hashed = _read(made.file, left.size)[0] if left is not None else None
    if left is None or _sum(hashed, left) != left.sum:
        raise _damaged(target, f"is not what {note_of(target).name} says of it")
    if not left.rows:
        return None
    if not resume:
        raise OtherJob(
            f"{target}: {name} holds {left.rows} rows of a sweep that was interrupted; "
            "go on with --resume (resume=True), or begin anew with --force (force=True)"
        )
    if left.digest != made.note.digest:
        raise OtherJob(
            f"{target}: {name} was begun with another case, other ranges, another plan or "
            "another version; begin anew with --force (force=True), or name another file"
        )
    made.hashed = hashed
    return left


def _damaged(target: Path, why: str) -> OtherJob:
    return OtherJob(
        f"{target}: {part_of(target).name} beside it {why}: cut short, edited or of another "
        "version; begin anew with --force (force=True), or move it away"
    )


def _refuse(target: Path, force: bool) -> None:
    """OtherJob where a file that is not ours stands at the target, unless forced, or beside it."""
    if target.is_dir():
        raise OtherJob(f"{target}: is a folder; name a file in it")
    if not target.parent.is_dir():
        raise NoFolder(f"{target}: cannot be written: there is no folder {target.parent}")
    if target.exists() and not target.is_file():
        raise OtherJob(f"{target}: is a device or a pipe, which holds no rows; name a file")
    part = part_of(target)
    if part.exists() and not (part.is_file() and atomic.carries(part, *OUR_MARKS)):
        raise OtherJob(
            f"{target}: {part.name} beside it was not written by flownet and stays as it is; "
            "move it away, or name another file"
        )
    table = target.suffix.lower() in (".csv", ".toml")  # may be an input, which nobody else keeps
    if target.exists() and (table or not force) and not atomic.carries(target, *OUR_MARKS):
        hint = "name another file" + ("" if table else ", or replace it with --force (force=True)")
        raise OtherJob(f"{target}: was not written by flownet and stays as it is; {hint}")


def _read(file: FileIO, size: int | None) -> tuple[Any, int]:
    """A sum over the first bytes of a table, of all without a size, and how many lines they are."""
    hashed, lines = hashlib.sha256(), 0
    file.seek(0)
    rest = os.fstat(file.fileno()).st_size if size is None else size
    while rest > 0 and (piece := file.read(min(rest, PIECE))):
        hashed.update(piece)
        lines += piece.count(b"\n")
        rest -= len(piece)
    return hashed, lines


def _sum(hashed: Any, note: RowNote) -> str:
    """Over the table and what its note says."""
    both = hashed.copy()
    both.update(json.dumps(note[:-1]).encode())
    return str(both.hexdigest())


# --- one process at a time, by a lock that ends with the process, however -------------------------

_held: set[FileIO] = set()


class _Taken(FlownetError):  # noqa: N818 - says what is the case
    """Another process, or another call of this one, has the file."""


def _locked(path: Path) -> FileIO:
    """The file, made where there is none, to be read and added to by nobody else until `_release`.

    _Taken where another has it; OSError. A file system without locks gives it to everybody.
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
            _release(file)
            raise
        _release(file)


def _release(file: FileIO) -> None:
    """Let others have it."""
    _held.discard(file)
    file.close()


def _lock(file: FileIO) -> None:
    try:
        if sys.platform == "win32":
            import msvcrt  # noqa: PLC0415 - of this system

            file.seek(BEHIND)
            msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)
        else:
            import fcntl  # noqa: PLC0415 - of other systems

            fcntl.flock(file.fileno(), fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError as error:
        if error.errno in (errno.EAGAIN, errno.EACCES):
            raise _Taken(file.name) from None
        if error.errno not in (*atomic.NOT_THERE, errno.ENOLCK):
            raise


def _not_in_the_child() -> None:
    """A process that was forked must not keep the lock when its parent has ended."""
    for file in list(_held):
        _release(file)


if hasattr(os, "register_at_fork"):
    os.register_at_fork(after_in_child=_not_in_the_child)
