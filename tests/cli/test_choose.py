"""`flownet choose` for a fan, its files, and its picture."""

from __future__ import annotations

import csv
import json
import re

import pytest

from flownet.cli.pictures import PICTURES
from tests.cli import box

MORE = (
    box.SOUND
    + """
[limits]
margin = "3 K"
noise_dBA = 50
noise_distance = "1 m"
scenarios = ["base", "hot+each-fan-out"]

[fan_type.strong]
origin = "invented data"
curve = { flow = "0 60 120 m3/h", rise = "80 55 0 Pa" }
rated_speed = "2800 rpm"
flow_area = "40 cm2"
supply = "24 V dc"
power = "9 W"
noise_dBA = 46
price = 30.0

[fan_type.still]
origin = "invented data"
curve = { flow = "0 20 40 m3/h", rise = "20 12 0 Pa" }
rated_speed = "1500 rpm"
flow_area = "40 cm2"
supply = "24 V dc"
power = "1 W"
noise_dBA = 20
price = 12.0

[fan_type.mains]
origin = "invented data"
curve = { flow = "0 60 120 m3/h", rise = "80 55 0 Pa" }
rated_speed = "2800 rpm"
flow_area = "40 cm2"
supply = "230 V 50 Hz"
"""
)


@pytest.fixture
def case(tmp_path):
    return box.written(tmp_path, MORE)


WRONG = ("--set", "supply.mains.voltage=48 V")  # no data are for it


@pytest.mark.parametrize(
    ("words", "first"),
    [(("uncertainty", "--samples", "20", "--seed", "1"), "100 % of 20 samples are void (supply"),
     (("size",), "The solve is void, its flows do not count: ")],
)  # fmt: skip
def test_what_makes_everything_void_comes_first(case, words, first):
    result = box.run(words[0], case, *words[1:], *WRONG)
    assert result.exit_code == 0, result.output
    assert result.stdout.split("\n\n")[1].startswith(first)


def test_a_choice_in_a_variant_names_it(tmp_path):
    more = '[variant.wide]\nvent.low.area = "* 2"\n[choice.c]\nbest = "price"\n' \
           'fan.left.type = ["small", "strong"]\n'  # fmt: skip
    case = box.written(tmp_path, MORE + more)
    for subject in ([], ["fan.left"]):
        heads = [box.run("choose", case, *subject, *words).stdout.partition("\n\n")[0]
                 for words in ([], ["-v", "wide"])]  # fmt: skip
        assert heads[1] == f"{heads[0]}\nvariant wide"


def test_json_has_every_reason_with_its_number(case):
    found = json.loads(box.run("choose", case, "fan.*", "--json", "-").stdout)
    assert (found["command"], found["fans"]) == ("choose", ["fan.left", "fan.right"])
    (best,) = found["accepted"]
    solved = [json.loads(box.run("solve", case, "-s", s, "--set", 'fan.*.type="strong"', "--json",
                                 "-").stdout) for s in found["scenarios"]]  # fmt: skip
    least = min(each["totals"]["worst_margin_K"] for each in solved)
    assert best["margin_K"] == pytest.approx(least, abs=1e-5)
    excluded = {item["type"]: item for item in found["excluded"]}
    assert set(excluded) == {"small", "still", "mains"}
    reason = excluded["still"]["reasons"][0]
    assert reason["value"] > reason["bound"]
    assert reason["unit"] == "degC"
    assert reason["scenario"].startswith("hot+fan.")


def test_files(case, tmp_path):
    result = box.run("choose", case, "fan.left", "-o", "types.csv")
    assert (result.stdout, result.stderr) == ("", "wrote types.csv\n")
    rows = list(csv.DictReader((tmp_path / "types.csv").read_text().splitlines()[1:]))
    assert {row["type"] for row in rows} == {"small", "strong", "still", "mains"}
    assert "margin_K" in rows[0]
    assert box.run("choose", case, "fan.left", "-o", "types.png").exit_code == 2


def test_what_is_asked_for_is_heeded(case):
    cold = box.run("choose", case, "fan.*", "-s", "base", "--set", "outside.temperature=10 degC",
                   "--best", "noise", "--units", "us", "--color", "always").stdout  # fmt: skip
    assert "outside.temperature = 10 degC" in cold
    assert "CFM" in cold
    assert "\x1b[" in cold
    ranks = [line.split()[1] for line in re.sub("\x1b[^m]*m", "", cold).splitlines()
             if line[2:3].isdigit()]  # fmt: skip
    assert ranks[0] == "still"
    assert ranks[-1] == "small"  # its level is not stated
    words = ("choose", case, "fan.*", "--catalogue", "fan-catalogue", "--frame", "40 x 10 mm")
    many, whole = box.run(*words).stdout, box.run(*words, "--all").stdout
    assert "51 types" in many.splitlines()[0]
    assert "more (--all)" in many
    assert "more (--all)" not in whole
    assert "  axial-200x70-48v" in whole


def test_exit_codes(case, tmp_path):
    assert box.run("choose", case, "fan.*", "--strict").exit_code == 0
    assert box.run("choose", case, "fan.left", "--strict", "--set",
                   'part.board.limit="41 degC"').exit_code == 1  # fmt: skip
    for words, said in (
        (("fan.lft",), 'fan.lft: no such fan; did you mean "left"?'),
        ((), "choice"),
        (("fan.left", "--best", "colour"), "colour"),
        (("fan.left", "--frame", "40"), "frame: "),
        (("fan.left", "-o", "-", "--json", "-"), "-o"),
        (("fan.left", "--best", "noise", "--best", "price"), "--best: one word ranks"),
        (("fan.left", "--name", "exhaust"), "--name: names a choice; fan.left is a fan"),
        (("--frame", "any"), "--frame: belongs to the choice of a fan"),
    ):
        wrong = box.run("choose", case, *words)
        assert (wrong.exit_code, wrong.stdout) == (2, "")
        assert said in wrong.stderr
    shut = box.written(tmp_path, box.CASE.replace("format = 1", "format = 1", 1), "shut.toml")
    none = box.run("choose", shut, "fan.*", "-s", "hopeless")
    assert none.exit_code == 2
    assert "Traceback" not in none.stderr


def test_the_picture(case, tmp_path):
    result = box.run("draw", case, "choose", "--fan", "fan.*")
    assert result.exit_code == 0, result.stderr
    assert result.stderr.startswith("strong holds everywhere")
    assert result.stderr.endswith("wrote box-choose.svg\n")
    first = (tmp_path / "box-choose.svg").read_bytes()
    assert b"<svg" in first
    other = box.run("draw", case, "choose", "--fan", "fan.*", "--best", "price")
    assert ", price 60.00; 3 of 4 excluded" in other.stderr
    assert (tmp_path / "box-choose.svg").read_bytes() != first  # its head says the price
    bare = box.run("draw", case, "choose")
    assert bare.exit_code == 2
    assert "--fan: choose needs" in bare.stderr
    assert box.run("draw", case, "map", "--frame", "any").exit_code == 2
    assert PICTURES["choose"].needs == ("fan",)
