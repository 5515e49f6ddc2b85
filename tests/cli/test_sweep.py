"""`flownet sweep`, its files, and its picture."""

from __future__ import annotations

import csv
import json
import os
import sys
from pathlib import Path

import pytest

from tests.cli import box

SPEED = "fan.*.speed=0.5 to 1.0 in 6"
WARM = "outside.temperature=20 to 52 degC in 3"
NAMED = box.SOUND + '\n[sweep.warm]\noutside.temperature = ["20 degC", "30 degC", "52 degC"]\n'


@pytest.fixture
def case(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    return box.written(tmp_path, NAMED)


def test_the_verdict_comes_first_then_all_rows_in_order(case):
    result = box.run("sweep", case, "--vary", SPEED)
    assert (result.exit_code, result.stderr) == (0, "")
    lines = result.stdout.splitlines()
    assert lines[0].split() == ["Test", "box", "base", "|", "base"]
    assert lines[1] == "grid of 6"
    assert lines[3] == "6 combinations: all of them hold"
    assert lines[4].startswith("  best: fan.*.speed 1: +")
    assert lines[5].startswith("  worst: fan.*.speed 0.5: +")
    assert lines[7].split()[:3] == ["fan.*.speed", "margin", "status"]
    assert [line.split()[0] for line in lines[8:]] == ["0.5", "0.6", "0.7", "0.8", "0.9", "1.0"]
    assert max(map(len, lines)) <= 80


def test_of_many_rows_the_worst_are_shown(case):
    result = box.run("sweep", case, "--vary", SPEED, "--vary", WARM)
    assert "The worst 12 of 18" in result.stdout
    assert "  ... 6 more (--all)" in result.stdout
    lines = result.stdout.splitlines()
    table = lines[lines.index("The worst 12 of 18") + 2 : -1]
    margins = [float(line.split()[3]) for line in table]
    assert len(margins) == 12
    assert margins == sorted(margins)
    whole = box.run("sweep", case, "--vary", SPEED, "--vary", WARM, "--all").stdout
    assert "(--all)" not in whole
    assert "The worst" not in whole


def test_what_is_kept_is_printed(case):
    """Under the sums: columns of results, those of one key together by their names."""
    words = ["--vary", SPEED, "--keep", "fan.*.volume_flow", "--keep", "total.noise"]
    result = box.run("sweep", case, *words)
    found = json.loads(box.run("sweep", case, *words, "--json", "-").stdout)["rows"]
    *_, single, pattern = result.stdout.split("\n\n")
    alone, title, heads, *rows = [single.splitlines()[0], *pattern.splitlines()]
    assert title == "fan.*.volume_flow"
    assert heads.split() == ["fan.*.speed", "left", "right"]
    assert alone.split() == ["fan.*.speed", "total.noise"]
    for line, row in zip(rows, found, strict=True):
        speed, left, _, right, _ = line.split()
        assert float(speed) == pytest.approx(row["fan.*.speed"], rel=1e-3)
        for text, name in ((left, "left"), (right, "right")):
            flow = 3600 * row[f"fan.{name}.volume_flow_m3_s"]
            assert float(text) == pytest.approx(flow, rel=0.01)
    assert "hottest air" not in result.stdout  # only what was asked for


def test_tables_of_what_is_kept_fit_the_page(case):
    result = box.run("sweep", "drive-cabinet", "fouling", "--keep", "part.*.temperature")
    lines = result.stdout.splitlines()
    assert lines.count("part.*.temperature") == 2
    assert max(map(len, lines)) <= 80


def test_the_limit_that_decides_is_named_in_each_row(case):
    rows = json.loads(box.run("sweep", case, "--vary", SPEED, "--json", "-").stdout)["rows"]
    assert {(row["limit"], row["decides"]) for row in rows} == {("air", "compartment.box")}
    box.run("sweep", case, "--vary", SPEED, "-o", "rows.csv")
    with open("rows.csv") as file:
        table = list(csv.DictReader(line for line in file if not line.startswith("#")))
    assert [row["limit"] for row in table] == ["air"] * 6


def test_a_sentence_is_said_once_where_best_and_worst_are_one(case):
    one = box.run("sweep", case, "--vary", "vent.low.loss=[2.5]").stdout.splitlines()
    assert one[3] == "1 combination: it holds"
    assert one[4].startswith("  vent.low.loss 2.5: +")
    assert one[5] == ""
    alike = box.run("sweep", case, "--vary", "vent.low.loss=[2.5, 2.5]").stdout.splitlines()
    assert alike[4].startswith("  all alike: +")
    assert alike[5] == ""


def test_a_sweep_of_the_case_is_named_or_the_only_one(case):
    named = box.run("sweep", case, "warm")
    assert named.stdout == box.run("sweep", case).stdout
    assert "grid of 3" in named.stdout
    beside = box.run("sweep", case, "warm", "--vary", SPEED)
    assert "grid of 3 x 6" in beside.stdout


def test_scenario_variant_settings_and_units_count(case):
    def margin(*words):
        told = box.run("sweep", case, "warm", *words, "--json", "-").stdout
        return json.loads(told)["worst"][0]["margin"]

    base = margin()
    assert margin("-v", "open") > base
    assert margin("--set", "part.board.power=60 W") > base
    assert margin("--set", "fan.*.speed=0.5") < base
    assert "degF" in box.run("sweep", case, "warm", "--units", "us").stdout
    assert (
        "with    fan.*.speed = 0.5"
        in box.run("sweep", case, "warm", "--set", "fan.*.speed=0.5").stdout
    )


def test_json_alone_on_stdout(case):
    result = box.run("sweep", case, "warm", "--keep", "fan.*.power", "--json", "-")
    found = json.loads(result.stdout)
    assert (found["command"], found["format"], found["case"]) == ("sweep", 1, "Test box")
    assert [row["outside.temperature_degC"] for row in found["rows"]] == pytest.approx([20, 30, 52])
    assert found["rows"][0]["fan.left.power_W"] > 0
    assert "total.noise_dBA" not in found["rows"][0]


def test_a_file_has_units_in_its_headings(case, tmp_path):
    result = box.run("sweep", case, "warm", "-o", "a.csv")
    assert (result.exit_code, result.stderr) == (0, "wrote a.csv\n")
    assert result.stdout.startswith("2 of 3 combinations hold")
    with open("a.csv", newline="") as file:
        assert file.readline().startswith("# written by flownet ")
        rows = list(csv.DictReader(file))
    assert [row["outside.temperature_degC"] for row in rows] == ["20", "30", "52"]
    assert [row["status"] for row in rows] == ["ok", "ok", "over"]
    assert rows[0]["part.board.margin_K"]
    assert box.run("sweep", case, "warm", "-o", "a.csv", "-q").stderr == ""
    assert box.run("sweep", case, "warm", "-o", "a.txt").stderr == "wrote a.txt\n"
    assert "outside.temperature" in Path("a.txt").read_text()


def test_sobol_says_how_many_it_made(case):
    result = box.run("sweep", case, "--vary", "vent.low.area=60 to 99 cm2", "--design", "sobol",
                     "--samples", "20")  # fmt: skip
    assert "Sobol sequence of 32 (20 asked for: a power of two), seed 1" in result.stdout


def test_strict_fails_where_a_limit_is_broken(case):
    assert box.run("sweep", case, "warm", "--strict").exit_code == 1
    assert box.run("sweep", case, "--vary", "fan.*.speed=[1.0]", "--strict").exit_code == 0


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        (["warn"], 2, 'no [sweep.warn] in the case; did you mean "warm"?'),
        (["--vary", "fan.*.speed"], 2, "KEY=RANGE is wanted"),
        (["--vary", "fan.*.sped=0.5 to 1 in 3"], 2, '--vary fan.left.sped: fan has no key "sped"'),
        (["--vary", "outside.temperature=[20, 30]"], 2, "20 has no unit"),
        (["--vary", "fan.*.speed=1 to 0.5 in 3"], 2, "from low to high"),
        (["--vary", "vent.low.area=60 to 99 cm2"], 2, "a grid needs a count"),
        (["warm", "--design", "latin"], 2, "samples: how many?"),
        (["warm", "--samples", "9"], 2, "samples: a grid has none"),
        (["warm", "-o", "a.gif"], 2, "sweep writes .csv, .json, .parquet, .nc or .txt"),
        (["warm", "-o", "-", "--json", "-"], 2, "cannot both have stdout"),
        (["warm", "--resume"], 2, "--resume: only with a file"),
        (
            ["warm", "--keep", "total.nois"],
            2,
            'no result "total.nois"; did you mean "total.noise"?',
        ),
        (["--vary", "fan.*.state=['blanked']"], 3, "compartment.box"),
        (["warm", "-s", "cold"], 2, "cold"),
        (
            ["warm", "-s", "hot", "-s", "base"],
            2,
            "one scenario at a time (got hot, base); -s hot+base",
        ),
        (
            ["--vary", SPEED, "--vary", "fan.*.speed=1 to 2 in 2"],
            2,
            "--vary fan.*.speed: stands twice",
        ),
        (
            ["--vary", SPEED, "--vary", "fan.left.speed=1 to 2 in 2"],
            2,
            "both stand for fan.left.speed",
        ),
        (["warm", "-o", "no/a.csv"], 4, "no/a.csv: cannot be written: there is no folder no"),
    ],
)
def test_what_is_wrong_is_said(words, code, said, case):
    result = box.run("sweep", case, *words)
    assert result.exit_code == code
    assert said in result.stderr
    assert result.stdout == "" or code == 3
    assert "Traceback" not in result.stderr


def test_a_range_of_the_case_gives_way_to_one_of_the_command(case):
    assert box.run("sweep", case, "warm").stdout.splitlines()[1] == "grid of 3"
    mine = box.run("sweep", case, "warm", "--vary", "outside.temperature=20 to 52 degC in 5")
    assert mine.stdout.splitlines()[1] == "grid of 5"


def test_a_case_without_a_sweep_says_what_to_give(tmp_path):
    result = box.run("sweep", box.written(tmp_path, box.SOUND))
    assert result.exit_code == 2
    assert "give --vary KEY=RANGE or a name; the case has no [sweep.NAME]" in result.stderr


def test_a_library_that_is_missing_is_no_fault_of_the_program(case, monkeypatch):
    monkeypatch.setitem(sys.modules, "pyarrow", None)
    result = box.run("sweep", case, "warm", "-o", "a.parquet")
    assert result.exit_code == 2
    assert "a.parquet: needs pyarrow" in result.stderr


def test_files_of_others_stay(case):
    Path("mine.csv").write_text("flow,rise\n")
    result = box.run("sweep", case, "warm", "-o", "mine.csv", "--force")
    assert result.exit_code == 4
    assert "was not written by flownet" in result.stderr
    assert Path("mine.csv").read_text() == "flow,rise\n"


# --- the picture ---------------------------------------------------------------------------------


def test_the_picture_is_drawn(case):
    result = box.run("draw", case, "sweep", "--name", "warm", "--of", "part.board.temperature")
    assert (result.exit_code, result.stdout) == (0, "")
    assert result.stderr == "2 of 3 combinations hold\nwrote box-sweep.svg\n"
    assert os.path.getsize("box-sweep.svg") > 5000
    both = box.run("draw", case, "sweep", "--vary", SPEED, "-s", "base", "-s", "hot", "-q",
                   "-o", "p.png")  # fmt: skip
    assert (both.exit_code, both.stderr) == (0, "")
    assert sorted(path.name for path in Path().glob("p-*.png")) == ["p-base.png", "p-hot.png"]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["map", "--vary", SPEED], "--vary: only for sweep"),
        (["sweep", "--of", "total.nois"], "total.nois"),
        (["sweep", "--vary", SPEED, "--vary", WARM, "--vary", "vent.low.loss=[1, 2]"], "got 3"),
    ],
)
def test_what_has_no_picture_is_said(words, said, case):
    result = box.run("draw", case, *words)
    assert result.exit_code == 2
    assert said in result.stderr
