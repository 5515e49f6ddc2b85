"""`flownet rank`, and its picture."""

from __future__ import annotations

import json
import os
import re

import pytest

from tests.cli import box

OF = "part.board.temperature"


@pytest.fixture
def case(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    return box.written(tmp_path)


def test_the_largest_effects_are_printed(case):
    result = box.run("rank", case, "--of", OF)
    assert (result.exit_code, result.stderr) == (0, "")
    lines = result.stdout.splitlines()
    assert (lines[0].split(), lines[1]) == (["Test", "box", "base", "|", "base"], "")
    assert lines[2].startswith(f"{OF} is ")
    assert lines[2].endswith("degC; what moves it, largest first")
    assert lines[4].split() == ["Input", "value", "step", "effect", "elasticity"]
    assert max(map(len, lines)) <= 80
    long = box.run("rank", "drive-cabinet", "--of", "total.volume_flow").stdout
    assert "more (--all)" in long
    whole = box.run("rank", "drive-cabinet", "--of", "total.volume_flow", "--all").stdout
    assert "(--all)" not in whole
    assert whole.count("\n") > long.count("\n")
    assert re.search(r"temperatures by 1(\.0)? K,", " ".join(whole.split()))


def test_scenario_variant_and_settings_count(case):
    def value(*words):
        found = box.run("rank", case, "--of", OF, *words).stdout
        return re.search(rf"{re.escape(OF)} is (\S+) ", found).group(1)

    base, hot = float(value()), float(value("-s", "hot"))
    assert hot - base == pytest.approx(10.0, abs=0.6)
    assert float(value("-v", "open")) < base
    assert float(value("--set", "part.board.power=60 W")) < base
    fahrenheit = float(value("--units", "us"))
    assert fahrenheit == pytest.approx(base * 1.8 + 32, abs=0.2)


def test_json_alone_on_stdout(case):
    result = box.run("rank", case, "--of", OF, "--json", "-")
    found = json.loads(result.stdout)
    assert (found["command"], found["format"], found["case"]) == ("rank", 1, "Test box")
    assert found["effects"][0].keys() >= {"path", "value", "unit", "step", "change_K"}
    assert found["changes"] == {}


def test_it_says_what_was_ranked(case):
    words = ["-s", "hot", "-v", "open", "--set", "part.board.power=60 W"]
    page = box.run("rank", case, "--of", OF, *words).stdout.splitlines()
    assert page[0].split() == ["Test", "box", "open", "|", "hot"]
    assert page[1:3] == ["with    part.board.power = 60 W", ""]
    found = json.loads(box.run("rank", case, "--of", OF, *words, "--json", "-").stdout)
    solved = json.loads(box.run("solve", case, *words, "--json", "-").stdout)
    assert found["changes"] == solved["changes"]
    assert found["changes"]["part.board.power"] == "60 W"


def test_steps_are_told_in_the_units_of_the_reader(case):
    page = " ".join(box.run("rank", case, "--of", OF, "--units", "us").stdout.split())
    steps = page[page.index("Inputs are moved") :]
    assert "temperatures by 1.8 degF" in steps
    assert " K" not in steps
    assert " m, " not in steps


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["-s", "hot", "-s", "base"],
         "--scenario: one scenario at a time (got hot, base); -s hot+base joins them"),
        (["--of", "total.heat"], f"--of: one result at a time (got {OF}, total.heat)"),
        (["-v", "base", "-v", "open"], "one variant at a time (got base, open)"),
    ],
)  # fmt: skip
def test_a_second_value_is_not_taken_in_silence(words, said, case):
    result = box.run("rank", case, "--of", OF, *words)
    assert (result.exit_code, result.stdout) == (2, "")
    assert said in result.stderr


def test_files_are_written_and_only_ours_replaced(case, tmp_path):
    assert box.run("rank", case, "--of", OF, "-o", "a.txt").stderr == "wrote a.txt\n"
    assert (tmp_path / "a.txt").read_text().startswith("Test box")
    assert box.run("rank", case, "--of", OF, "-o", "a.txt").exit_code == 0
    assert box.run("rank", case, "--of", OF, "-o", "a.json").exit_code == 0
    assert json.loads((tmp_path / "a.json").read_text())["of"] == OF
    (tmp_path / "b.txt").write_text("mine\n")
    assert box.run("rank", case, "--of", OF, "-o", "b.txt").exit_code == 4
    assert (tmp_path / "b.txt").read_text() == "mine\n"


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        (["--of", "part.bord.temperature"], 2, "did you mean"),
        ([], 2, "--of: name the result"),
        (["--of", OF, "-o", "a.gif"], 2, "rank writes .json or .txt"),
        (["--of", OF, "-o", "-", "--json", "-"], 2, "cannot both have stdout"),
        (["--of", OF, "-s", "hopeless"], 2, "compartment.box"),
    ],
)
def test_what_cannot_be_ranked_is_said(words, code, said, case):
    result = box.run("rank", case, *words)
    assert result.exit_code == code
    assert said in result.stderr
    assert result.stdout == ""


def test_the_picture_is_drawn(case):
    result = box.run("draw", case, "rank", "--of", OF)
    assert (result.exit_code, result.stdout, result.stderr) == (0, "", "wrote box-rank.svg\n")
    assert os.path.getsize("box-rank.svg") > 5000
    both = box.run("draw", case, "rank", "--of", OF, "-s", "base", "-s", "hot", "-o", "p.png")
    assert both.stderr == "wrote p-base.png\nwrote p-hot.png\n"


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["rank"], "rank needs the result it is about"),
        (["map", "--of", OF], "only for choice, headroom, rank"),
    ],
)
def test_of_belongs_to_the_picture_of_a_ranking(words, said, case):
    result = box.run("draw", case, *words)
    assert result.exit_code == 2
    assert said in result.stderr
