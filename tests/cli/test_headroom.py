"""`flownet headroom`."""

from __future__ import annotations

import csv
import json
import re

import pytest

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


def test_files_and_json_have_every_scenario(case, tmp_path):
    words = ("headroom", case, KEY, "-s", "base", "-s", "hot")
    assert box.run(*words, "-o", "a.csv").stderr == "wrote a.csv\n"
    with open("a.csv") as file:
        next(file)
        rows = list(csv.DictReader(file))
    assert len(rows) == 66
    assert {row["scenario"] for row in rows} == {"base", "hot"}
    assert (rows[0]["unit"], rows[0]["void"]) == ("degC", "")
    assert box.run(*words, "-o", "a.txt").exit_code == 0
    assert (tmp_path / "a.txt").read_text().startswith("Tightest of 2: hot")
    made = json.loads(box.run(*words, "--json", "-").stdout)
    assert (made["command"], made["key"], made["case"]) == ("headroom", KEY, "Test box")
    first, second = made["headroom"]
    assert first["scenario"] == "hot"
    assert first["value"] == pytest.approx(second["value"], abs=1e-5)  # -s hot sets this key
    assert len(first["scan"]) == 33


def test_one_that_is_not_solved_keeps_its_place(case):
    result = box.run("headroom", case, KEY, "-s", "hopeless", "-s", "hot")
    assert result.exit_code == 2
    assert result.stdout.startswith("Tightest of 2: hot\n")
    assert "not solved" in result.stdout
    assert "1 of 2 scenarios not solved: hopeless" in result.stderr
    made = json.loads(box.run("headroom", case, KEY, "-s", "hopeless", "-s", "hot",
                              "--json", "-").stdout)  # fmt: skip
    assert made["headroom"][1]["error"]["kind"] == "case"
