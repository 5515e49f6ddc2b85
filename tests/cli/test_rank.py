"""`flownet rank`, and its picture."""

from __future__ import annotations

import json

import pytest

from tests.cli import box

OF = "part.board.temperature"


@pytest.fixture
def case(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    return box.written(tmp_path)


def test_it_says_what_was_ranked(case):
    words = ["-s", "hot", "-v", "open", "--set", "part.board.power=60 W"]
    page = box.run("rank", case, "--of", OF, *words).stdout.splitlines()
    assert page[0].split() == ["Test", "box", "open", "|", "hot"]
    assert page[1:3] == ["with    part.board.power = 60 W", ""]
    found = json.loads(box.run("rank", case, "--of", OF, *words, "--json", "-").stdout)
    solved = json.loads(box.run("solve", case, *words, "--json", "-").stdout)
    assert found["changes"] == solved["changes"]
    assert found["changes"]["part.board.power"] == "60 W"
    found = json.loads(box.run("rank", case, "--of", OF, "--json", "-").stdout)
    assert (found["scenario"], found["variant"]) == (None, None)  # as in `solve`


def test_steps_are_told_in_the_units_of_the_reader(case):
    page = " ".join(box.run("rank", case, "--of", OF, "--units", "us").stdout.split())
    steps = page[page.index("Inputs are moved") :]
    assert "temperatures by 1.8 degF" in steps
    assert " K" not in steps
    assert " m, " not in steps


def test_a_result_must_be_named_and_known(case):
    for words, said in (((), "--of: name the result"), (("--of", "part.x.heat"), "part.x")):
        result = box.run("rank", case, *words)
        assert (result.exit_code, result.stdout) == (2, "")
        assert said in result.stderr
