"""`flownet headroom`."""

from __future__ import annotations

import csv
import json
import re

import pytest

import flownet
from tests.cli import box

KEY = "outside.temperature"


@pytest.fixture
def case(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    return box.written(tmp_path)


def test_the_verdict_comes_first_then_a_dozen_rows(case):
    result = box.run("headroom", case, KEY)
    assert (result.exit_code, result.stderr) == (0, "")
    lines = result.stdout.splitlines()
    assert lines[0].split() == ["Test", "box", "base", "|", "base"]
    assert lines[2].startswith("outside.temperature can rise to ")
    assert " before " in " ".join(lines[2:4])
    head = next(i for i, line in enumerate(lines) if line.startswith(KEY + "  "))
    assert lines[head].split() == [KEY, "margin", "status", "decides"]
    rows = lines[head + 1 :]
    assert rows[-1].strip() == "... 22 more (--all)"
    assert len(rows) == 13
    assert sum(line.endswith("today") for line in rows) == 1
    limit = [line for line in rows if line.endswith("limit")]
    assert len(limit) == 1
    assert "+0.0 K" in limit[0]
    assert max(map(len, lines)) <= 80
    whole = box.run("headroom", case, KEY, "--all").stdout.splitlines()
    assert len(whole) == head + 1 + 33 + 1


def test_it_says_what_python_says(case):
    found = flownet.headroom(flownet.load_case(case), KEY, scenario="hot", upto="70 degC")
    told = box.run("headroom", case, KEY, "-s", "hot", "--upto", "70 degC").stdout
    assert found.verdict in " ".join(told.split())
    assert found.high == pytest.approx(343.15)
    assert found.low == found.subject.present


def test_the_tightest_of_several_scenarios_comes_first(case):
    result = box.run("headroom", case, "part.board.power", "-s", "base", "-s", "hot",
                     "-s", "each-fan-out")  # fmt: skip
    assert result.exit_code == 0
    lines = result.stdout.splitlines()
    assert lines[0] == "Tightest of 4: hot"
    blocks = [line.split("|")[1].strip() for line in lines if line.startswith("Test box")]
    assert blocks == ["hot", "base", "fan.left-out", "fan.right-out"]
    values = [float(x) for x in re.findall(r"can rise to ([0-9.]+) W", " ".join(lines))]
    assert values[0] == min(values)


def test_settings_variant_and_units_count(case):
    def room(*words):
        text = " ".join(box.run("headroom", case, KEY, *words).stdout.split())
        return float(re.search(r"can rise to ([0-9.]+) deg", text)[1])

    base = room()
    assert room("-v", "open") > base
    assert room("--set", "part.board.power=60 W") > base
    assert room("--units", "us") == pytest.approx(base * 1.8 + 32, abs=0.2)


def test_files_and_json(case, tmp_path):
    words = ("headroom", case, KEY, "-s", "base", "-s", "hot")
    assert box.run(*words, "-o", "a.csv").stderr == "wrote a.csv\n"
    with open("a.csv") as file:
        assert file.readline().startswith("# written by flownet ")
        rows = list(csv.DictReader(file))
    assert len(rows) == 66
    assert {row["scenario"] for row in rows} == {"base", "hot"}
    assert rows[0]["unit"] == "degC"
    assert box.run(*words, "-o", "a.txt").exit_code == 0
    assert (tmp_path / "a.txt").read_text().startswith("Tightest of 2: hot")
    alone = box.run(*words, "--json", "-")
    made = json.loads(alone.stdout)
    assert (made["command"], made["key"], made["case"]) == ("headroom", KEY, "Test box")
    first, second = made["headroom"]
    assert first["scenario"] == "hot"
    assert first["value"] == pytest.approx(second["value"], abs=1e-5)  # -s hot sets this key
    assert len(first["scan"]) == 33
    (tmp_path / "b.txt").write_text("mine\n")
    assert box.run(*words, "-o", "b.txt").exit_code == 4
    assert (tmp_path / "b.txt").read_text() == "mine\n"


def test_one_that_is_not_solved_keeps_its_place(case):
    result = box.run("headroom", case, KEY, "-s", "hopeless", "-s", "hot")
    assert result.exit_code == 2
    assert result.stdout.startswith("Tightest of 2: hot\n")
    assert "not solved" in result.stdout
    assert "1 of 2 scenarios not solved: hopeless" in result.stderr
    made = json.loads(box.run("headroom", case, KEY, "-s", "hopeless", "-s", "hot",
                              "--json", "-").stdout)  # fmt: skip
    assert made["headroom"][1]["error"]["kind"] == "case"


def test_strict_asks_whether_limits_hold_today(case):
    assert box.run("headroom", case, KEY, "--strict").exit_code == 0
    broken = box.run("headroom", case, KEY, "--strict", "--set", "part.board.power=600 W")
    assert broken.exit_code == 1
    assert "over its" in broken.stdout


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["fan.left.state"], "fan.left.state: is no number"),
        (["outside.temprature"], 'did you mean "temperature"'),
        ([KEY, "--upto", "3 m"], "upto: outside.temperature: "),
        ([KEY, "--upto", "hot"], "upto: outside.temperature: "),
        ([KEY, "--upto", "60"], "upto: outside.temperature: "),
        ([KEY, "-s", "hott"], 'did you mean "hot"'),
        ([KEY, "-s", "hopeless"], "compartment.box"),
        (["part.bord.power", "-s", "base", "-s", "hot"], 'did you mean "board"'),
        ([KEY, "-o", "a.gif"], "headroom writes .csv, .json or .txt"),
        ([KEY, "-o", "-", "--json", "-"], "cannot both have stdout"),
        ([KEY, "--upto", " "], '--upto: a value is wanted, such as "55 degC" (got " ")'),
        ([""], 'key: a key is wanted, such as outside.temperature (got "")'),
        ([], "KEY is missing"),
    ],
)
def test_what_cannot_be_done_is_said(words, said, case):
    result = box.run("headroom", case, *words)
    assert result.exit_code == 2
    assert said in result.stderr
    assert result.stdout == ""


def test_the_picture_is_drawn(case):
    result = box.run("draw", case, "headroom", "--of", KEY)
    assert (result.exit_code, result.stdout) == (0, "")
    assert "can rise to" in result.stderr
    assert result.stderr.endswith("wrote box-headroom.svg\n")
    missing = box.run("draw", case, "headroom")
    assert missing.exit_code == 2
    assert "--of: headroom needs" in missing.stderr
