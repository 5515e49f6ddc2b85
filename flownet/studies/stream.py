"""A long table that grows on disk, and goes on growing after an interruption.

While it is made it stands in `FILE.part`; `FILE.part.json` says which job it belongs to, how many
rows are whole, how many bytes they take, and what the job remembers of them. What stands behind
these bytes was being written when the work stopped, and is cut off. The finished table is moved to
its place at one stroke.
"""

from __future__ import annotations

import json
import os
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, NamedTuple

from flownet.errors import FlownetError

MARKS = (b"written by flownet ", b'"flownet": "')  # of tables, of JSON
LOOKED_AT = 65536  # bytes at each end of a file in which the mark is looked for


class OtherJob(FlownetError, FileExistsError):  # noqa: N818 - says what is the case
    """What is on the disk belongs to another job, or to nobody we know."""


class NoFolder(FlownetError, FileNotFoundError):  # noqa: N818 - says what is the case
    """A table has no folder to stand in."""


class Kept(NamedTuple):
    """What an interrupted job left."""

    digest: str  # of everything that decides the bytes
    rows: int
    size: int  # bytes
    state: Any  # what the job remembers of these rows


@dataclass
class Stream:
    """A table while it is written: `append` until it is whole, then `part` is read or moved."""

    target: Path
    digest: str
    rows: int = 0
    state: Any = None

    @property
    def part(self) -> Path:
        """The unfinished table."""
        return part_of(self.target)

    def append(self, text: str, rows: int, state: Any) -> None:
        """Further rows; they count when all of them are on the disk."""
        with open(self.part, "ab") as file:
            file.write(text.encode())
            file.flush()
            os.fsync(file.fileno())
            size = file.tell()
        self.rows += rows
        self.state = state
        _note(self.target, Kept(self.digest, self.rows, size, state))

    def move(self) -> None:
        """Put the finished table in its place."""
        os.replace(self.part, self.target)
        note_of(self.target).unlink(missing_ok=True)

    def drop(self) -> None:
        """Leave nothing of the unfinished table."""
        for path in (self.part, note_of(self.target)):
            path.unlink(missing_ok=True)


def part_of(target: Path) -> Path:
    """Where a table stands while it is made."""
    return target.with_name(target.name + ".part")


def note_of(target: Path) -> Path:
    """What is known of the unfinished table."""
    return target.with_name(target.name + ".part.json")


def kept(target: Path) -> Kept | None:
    """What an interrupted job left; None for nothing that is of use."""
    try:
        found: Mapping[str, Any] = json.loads(note_of(target).read_text())
        left = Kept(**found)
        return left if part_of(target).stat().st_size >= left.size else None
    except (OSError, ValueError, TypeError):
        return None


def begun(target: Path, digest: str, head: str, *, resume: bool, force: bool) -> Stream:
    """A table that begins with `head`, or goes on where it stopped.

    Parameters
    ----------
    target : Path
        Where the finished table will stand.
    digest : str
        Names the job: a table is only gone on with by the job that began it.
    resume : bool
        Go on with what is there; with nothing there, begin.
    force : bool
        Replace what is there, whoever made it.

    Raises
    ------
    OtherJob
        Where rows of another job, or a file that is not ours, stand in the way.
    NoFolder
        Where the folder of the target is not there.
    """
    refuse(target, force)
    left = kept(target)
    if left is not None and left.rows and not force:
        name = part_of(target).name
        if not resume:
            raise OtherJob(
                f"{target}: {name} holds {left.rows} rows of a sweep that was interrupted; "
                "go on with --resume (resume=True), or begin anew with --force (force=True)"
            )
        if left.digest != digest:
            raise OtherJob(
                f"{target}: {name} was begun with another case, other ranges, another design or "
                "another version; begin anew with --force (force=True), or name another file"
            )
        os.truncate(part_of(target), left.size)
        return Stream(target, digest, left.rows, left.state)
    made = Stream(target, digest)
    made.drop()
    made.append(head, 0, None)
    return made


def refuse(target: Path, force: bool) -> None:
    """OtherJob where a file that is not ours stands at the target, unless forced, or beside it."""
    if target.is_dir():
        raise OtherJob(f"{target}: is a folder; name a file in it")
    if not target.parent.is_dir():
        raise NoFolder(f"{target}: cannot be written: there is no folder {target.parent}")
    part = part_of(target)
    if part.exists() and not (part.is_file() and ours(part)):
        raise OtherJob(
            f"{target}: {part.name} beside it was not written by flownet and stays as it is; "
            "move it away, or name another file"
        )
    table = target.suffix.lower() == ".csv"  # others are inputs, which nobody else keeps
    if target.exists() and (table or not force) and not ours(target):
        hint = "name another file" + ("" if table else ", or replace it with --force (force=True)")
        raise OtherJob(f"{target}: was not written by flownet and stays as it is; {hint}")


def ours(path: Path) -> bool:
    """Whether a file is empty, or carries our mark near one of its ends."""
    size = path.stat().st_size
    with path.open("rb") as file:
        found = file.read(LOOKED_AT)
        file.seek(max(0, size - LOOKED_AT))
        found += file.read()
    return size == 0 or any(mark in found for mark in MARKS)


def _note(target: Path, left: Kept) -> None:
    beside = note_of(target).with_suffix(".new")
    beside.write_text(json.dumps(left._asdict()))
    os.replace(beside, note_of(target))
