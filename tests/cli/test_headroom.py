"""`flownet headroom`."""

from __future__ import annotations

import json
import re

import pytest

from tests.cli import box

KEY = "outside.temperature"


@pytest.fixture
def case(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    return box.written(tmp_path)


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


def test_one_that_is_not_solved_keeps_its_place(case):
    result = box.run("headroom", case, KEY, "-s", "hopeless", "-s", "hot")
    assert result.exit_code == 2
    assert result.stdout.startswith("Tightest of 2: hot\n")
    assert "not solved" in result.stdout
    assert "1 of 2 scenarios not solved: hopeless" in result.stderr
    made = json.loads(box.run("headroom", case, KEY, "-s", "hopeless", "-s", "hot",
                              "--json", "-").stdout)  # fmt: skip
    assert made["headroom"][1]["error"]["kind"] == "case"
