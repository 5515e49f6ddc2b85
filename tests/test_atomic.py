"""All writers: a full disk is named with what was wanted, and leaves what stood there."""

from __future__ import annotations

import builtins
import errno
import io
import os
import re

import pytest

import flownet
from flownet.casefile.write import save_case
from flownet.schema import atomic
from flownet.schema.errors import CannotWrite
from flownet.studies import sweep_stream
from flownet.studies.sweep import sweep
from tests.cli import box
from tests.each import each, named


class Full(io.FileIO):
    """A file on a disk that takes a hundred bytes more."""

    room = 100

    def write(self, content):
        if len(content) > self.room:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        self.room -= len(content)
        return super().write(content)


@pytest.fixture
def full(monkeypatch):
    """Files that are made beside others come to lie on a full disk."""
    plain = builtins.open

    def opened(path, mode="r", *rest, **more):
        if str(path).endswith(".part") and set(mode) & set("wxa"):
            raw = io.BufferedWriter(Full(path, mode.replace("b", "")))
            return raw if "b" in mode else io.TextIOWrapper(raw, "utf-8")
        return plain(path, mode, *rest, **more)

    monkeypatch.setattr(builtins, "open", opened)
    monkeypatch.setattr(sweep_stream, "FileIO", Full)


RANGE = "fan.left.speed=[0.5, 1.0]"


@pytest.mark.parametrize(("name", "words"), [
    ("shelf/case.toml", ["new", "shelf"]),
    ("a.txt", ["solve", "BOX", "-o", "a.txt"]),
    ("a.json", ["solve", "BOX", "--json", "a.json"]),
    ("a.svg", ["draw", "BOX", "map", "-o", "a.svg"]),
    ("a.json", ["size", "BOX", "-o", "a.json"]),
    ("a.csv", ["uncertainty", "BOX", "--samples", "64", "--seed", "1", "-o", "a.csv"]),
    ("a.csv", ["sweep", "BOX", "--vary", RANGE, "-o", "a.csv"]),
    ("a.parquet", ["sweep", "BOX", "--vary", RANGE, "-o", "a.parquet"]),
    ("a.nc", ["sweep", "BOX", "--vary", RANGE, "-o", "a.nc"]),
])  # fmt: skip
def test_a_full_disk_is_named_and_nothing_is_left(name, words, full, tmp_path, monkeypatch):
    case = box.written(tmp_path, box.SOUND)
    work = tmp_path / "work"
    work.mkdir()
    monkeypatch.chdir(work)
    result = box.run(*[case if word == "BOX" else word for word in words])
    assert result.exit_code == 4, result.stderr
    assert re.fullmatch(
        rf"{re.escape(name)}: cannot be written: no space left on device \(\d+ bytes wanted, "
        r"\d+ free\); make room, or name a file on another disk\n", result.stderr
    )  # fmt: skip
    assert list(work.iterdir()) == []


@pytest.mark.parametrize("suffix", [".json", ".parquet"])
def test_rows_are_kept_where_their_other_form_has_no_room(suffix, full, tmp_path, monkeypatch):
    monkeypatch.setattr(sweep_stream, "FileIO", io.FileIO)
    case = flownet.load_case(box.written(tmp_path, box.SOUND))
    out = tmp_path / f"a{suffix}"
    with pytest.raises(CannotWrite, match=r"--resume \(resume=True\): 2 rows are kept in .*part$"):
        sweep(case, {"fan.left.speed": [0.5, 1.0]}, out=out)
    monkeypatch.undo()
    assert len(sweep(case, {"fan.left.speed": [0.5, 1.0]}, out=out, resume=True)) == 2
    assert sorted(path.name for path in tmp_path.iterdir()) == [out.name, "box.toml"]


def test_what_stood_there_stays_where_the_new_has_no_room(full, tmp_path):
    path = tmp_path / "a.toml"
    path.write_text("old")
    case = flownet.load_case(box.written(tmp_path, box.SOUND))
    with pytest.raises(CannotWrite) as told:
        save_case(case, path, overwrite=True)
    assert told.value.errno == errno.ENOSPC
    assert path.read_text() == "old"
    assert sorted(each.name for each in tmp_path.iterdir()) == ["a.toml", "box.toml"]


def test_permissions_stay_and_links_are_written_through(tmp_path):
    path, link = tmp_path / "a.txt", tmp_path / "link.txt"
    path.write_text("old")
    path.chmod(0o640)
    link.symlink_to(path)
    atomic.write(link, b"new")
    assert link.is_symlink()
    assert (path.read_bytes(), path.stat().st_mode & 0o777) == (b"new", 0o640)


def test_a_file_that_may_not_be_written_is_not_replaced(tmp_path, monkeypatch):
    path = tmp_path / "a.txt"
    path.write_text("old")
    monkeypatch.setattr(os, "access", lambda *_: False)  # a superuser may write everything
    with pytest.raises(CannotWrite, match=r"a\.txt: cannot be written: permission denied; name "):
        atomic.write(path, b"new")
    assert path.read_text() == "old"
    assert [each.name for each in tmp_path.iterdir()] == ["a.txt"]


@pytest.mark.parametrize("place", [".", "a.txt/b.txt", "no/b.txt", 300 * "a"])
def test_a_place_that_takes_no_file_is_named(place, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "a.txt").write_text("old")
    with pytest.raises(CannotWrite, match=rf"^{re.escape(place)}: cannot be written: "):
        atomic.write(place, b"new")
    assert [each.name for each in tmp_path.iterdir()] == ["a.txt"]


@each(
    named(
        [(0, 0, True), (70_000, 0, True), (0, 70_000, True), (70_000, 70_000, False), (9, 9, True)]
    ),
    "before after ours",
)
def test_a_mark_is_looked_for_near_both_ends_of_a_file(before, after, ours, tmp_path):
    path = tmp_path / "a.txt"
    path.write_text("x" * before + "our mark" + "x" * after)
    assert atomic.carries(path, "our mark") is ours
    assert atomic.carries(path, "of another", "our mark") is ours
    assert not atomic.carries(path, "of another")
    path.write_text("")
    assert atomic.carries(path, "our mark")
