"""`flownet choose` without a fan: a choice of the case, its files, and its picture."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pytest

from flownet.cli.pictures import PICTURES
from tests.cli import box
from tests.cli.test_choose import MORE

CHOICE = """
[choice.types]
best = ["noise", "price"]
fan.left.type = ["small", "strong", "still"]
fan.right.type = ["small", "strong", "still"]
"""


@pytest.fixture
def case(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    return box.written(tmp_path, MORE + CHOICE)


def test_files(case):
    assert box.run("choose", case, "-o", "types.csv").exit_code == 0
    with Path("types.csv").open() as stream:
        assert stream.readline().startswith("# written by flownet")
        rows = list(csv.DictReader(stream))
    assert [row["place"] for row in rows] == [str(i + 1) for i in range(len(rows))]
    assert "fan.left.type" in rows[0]
    assert "noise_dBA" in rows[0]
    assert box.run("choose", case, "-o", "types.txt").exit_code == 0
    assert Path("types.txt").read_text().splitlines()[-1].startswith("written by flownet")


def test_one_measure_variant_and_set_go_before_the_choice(case):
    heard = ("--set", "fan_type.small.noise_dBA=40")  # without a level nothing is known to hold
    words = ("choose", case, "--best", "price", "--json", "-", *heard)
    single = json.loads(box.run(*words).stdout)
    prices = [row["price"] for row in single["ranked"]]
    assert prices == sorted(prices)
    assert single["front"] == []
    less = json.loads(box.run(*words, "--set", "part.board.load=0.5").stdout)
    assert less["accepted"] > single["accepted"]
    two = json.loads(
        box.run("choose", case, "--best", "power", "--best", "price", "--json", "-").stdout
    )
    assert two["best"] == ["power", "price"]
    assert two["front"]
    assert box.run("choose", case, "--set", "limits.noise_dBA=1", "--strict").exit_code == 1


def test_mistakes_are_told_in_one_line(case):
    for words, said in (
        (["--name", "type"], 'choice "type": no such choice; did you mean "types"'),
        (["--best", "life"], "best: takes one or two of noise, power, temperature, price"),
        (["-s", "nowhere"], 'no scenario "nowhere"'),
    ):
        result = box.run("choose", case, *words)
        assert (result.exit_code, result.stdout) == (2, "")
        assert said in result.stderr
        assert "Traceback" not in result.stderr


def test_the_picture(case):
    assert "choice" in PICTURES
    result = box.run("draw", case, "choice", "-o", "front.svg")
    assert result.exit_code == 0, result.stderr
    assert "<svg" in Path("front.svg").read_text()
    wrong = box.run("draw", case, "choice", "--of", "types", "--fan", "left")
    assert wrong.exit_code == 2
    assert "--fan: only for" in wrong.stderr
    none = box.run("draw", case, "choice", "--set", "limits.noise_dBA=1")
    assert none.exit_code == 0, none.stderr
    assert "designs holds everywhere" in none.stderr
