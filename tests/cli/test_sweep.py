"""`flownet sweep`, its files, and its picture."""

from __future__ import annotations

import csv
import json
import sys

import pytest

from tests.cli import box

SPEED = "fan.*.speed=0.5 to 1.0 in 6"
WARM = "outside.temperature=20 to 52 degC in 3"
NAMED = box.SOUND + '\n[sweep.warm]\noutside.temperature = ["20 degC", "30 degC", "52 degC"]\n'


@pytest.fixture
def case(tmp_path):
    return box.written(tmp_path, NAMED)


def test_of_many_rows_the_worst_are_shown(case):
    result = box.run("sweep", case, "--vary", SPEED, "--vary", WARM)
    assert "The worst 12 of 18" in result.stdout
    assert "  ... 6 more (--all)" in result.stdout
    lines = result.stdout.splitlines()
    table = lines[lines.index("The worst 12 of 18") + 2 : -1]
    at = lines[lines.index("The worst 12 of 18") + 1].index("decides")
    assert {line[at:] for line in table} <= {"part.board", "compartment.box"}
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
    mine = box.run("sweep", case, "--vary", "outside.temperature=20 to 52 degC in 5")
    assert mine.stdout.splitlines()[1] == "grid of 5"  # the range of the command counts
    none = box.run("sweep", case, "--vary", "fan.*.state=['blanked']")
    assert (none.exit_code, "compartment.box" in none.stderr) == (2, True)


def test_a_case_without_a_sweep_says_what_to_give(tmp_path):
    result = box.run("sweep", box.written(tmp_path, box.SOUND))
    assert result.exit_code == 2
    assert "give --vary KEY=RANGE or a name; the case has no [sweep.NAME]" in result.stderr


def test_a_library_that_is_missing_is_no_fault_of_the_program(case, monkeypatch):
    monkeypatch.setitem(sys.modules, "pyarrow", None)
    result = box.run("sweep", case, "warm", "-o", "a.parquet")
    assert result.exit_code == 2
    assert "a.parquet: needs pyarrow" in result.stderr
