"""The bar of a long study: on a terminal, after a second, and nowhere else."""

from __future__ import annotations

import io
import sys

import pytest

from flownet.cli import solving, workers
from flownet.cli.screen import Screen
from tests.cli import box


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def shown(monkeypatch, stream, *, quiet=False, patience=0.0, steps=(1, 2, 3)):
    """What stands on stderr while some steps of three are done."""
    monkeypatch.setattr(sys, "stderr", stream)
    monkeypatch.setattr(solving, "BAR_AFTER", patience)
    monkeypatch.setenv("TERM", "xterm")
    monkeypatch.delenv("NO_COLOR", raising=False)
    with solving.working("pairs solved", 1, Screen(80, False, quiet)) as work:
        assert work.executor is None
        for done in steps:
            work.progress(done, 3)
    return stream.getvalue()


def test_a_terminal_sees_how_far_the_work_is(monkeypatch):
    text = shown(monkeypatch, Terminal())
    assert "pairs solved" in text
    assert "/3" in text


@pytest.mark.parametrize(("stream", "how"), [
    (io.StringIO, {}),
    (Terminal, {"quiet": True}),
    (Terminal, {"patience": 60.0}),
    (Terminal, {"steps": (3,)}),  # all done at once
])  # fmt: skip
def test_nothing_is_shown_where_nobody_waits(monkeypatch, stream, how):
    assert shown(monkeypatch, stream(), **how) == ""


def test_jobs_are_processes(monkeypatch):
    monkeypatch.setattr(workers, "usable", lambda: 2)  # this machine may lend one core only
    with solving.working("pairs solved", 2, Screen(80, False, True)) as work:
        assert list(work.executor.map(abs, [-1, 2])) == [1, 2]


def test_a_file_that_has_no_place_is_told_before_the_work(tmp_path, monkeypatch):
    def never(*_args, **_keywords):
        raise AssertionError("solved first")

    monkeypatch.setattr("flownet.cli.uncertainty.uncertainty", never)
    case = box.written(tmp_path, "")
    (tmp_path / "mine.csv").write_text("mine\n")
    for words, said in (
        (["-o", "none/x.csv"], "there is no folder none"),
        (["-o", "mine.csv"], "mine.csv: is named like an input"),
        (["--json", str(tmp_path)], "is a folder"),
    ):
        result = box.run("uncertainty", case, "--seed", "1", *words)
        assert (result.exit_code, result.stdout) == (4, "")
        assert said in result.stderr
    assert (tmp_path / "mine.csv").read_text() == "mine\n"
