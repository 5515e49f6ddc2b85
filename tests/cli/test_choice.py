"""`flownet choose` without a fan: a choice of the case, its files, and its picture."""

from __future__ import annotations

import json

import pytest

from tests.cli import box
from tests.cli.test_choose import MORE
from tests.each import each, named

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


def test_the_verdict_comes_first_then_the_tables(case):
    result = box.run("choose", case)
    assert (result.exit_code, result.stderr) == (0, "")
    lines = result.stdout.splitlines()
    assert lines[1] == "choice  types, best by noise and price"
    assert "of 9 designs" in lines[3]
    assert max(map(len, lines)) <= 80
    assert "Every combination was tried, 9; the order is proved." in result.stdout


def test_json_is_all_of_it(case):
    found = json.loads(box.run("choose", case, "--name", "types", "--json", "-").stdout)
    assert (found["command"], found["choice"], found["combinations"]) == ("choose", "types", 9)
    assert found["exhaustive"]
    assert found["best"] == ["noise", "price"]
    assert set(found["ranked"][0]["changes"]) == {"fan.left.type", "fan.right.type"}
    out = sum(item["designs"] for item in found["excluded"])
    assert out + found["accepted"] == found["different"] == 9


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


@each(
    named(
        [
            (["--name", "type"], 'choice "type": no such choice; did you mean "types"'),
            (["--best", "life"], "best: takes one or two of noise, power, temperature, price"),
            (["fan.left", "--name", "types"], "--name: names a choice; fan.left is a fan"),
            (["--frame", "any"], "--frame: belongs to the choice of a fan"),
            (["-s", "nowhere"], 'no scenario "nowhere"'),
        ]
    ),
    "words said",
)
def test_mistakes_are_told_in_one_line(case, words, said):
    result = box.run("choose", case, *words)
    assert result.exit_code == 2
    assert said in result.stderr
    assert "Traceback" not in result.stderr
    assert result.stdout == ""
