"""`flownet uncertainty`, and its picture."""

from __future__ import annotations

import csv
import json
import os

import pytest

from tests.cli import box

TOLERANCE = """
[tolerance]
"fan.*.pressure_factor" = "8 %"
"part.board.load" = { within = "10 %", shape = "uniform" }
"""
SEED = ("--seed", "1", "--samples", "300")


@pytest.fixture
def case(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    return box.written(tmp_path, box.CASE + TOLERANCE)


def test_the_verdict_comes_first_then_limits_and_shares(case):
    result = box.run("uncertainty", case, *SEED, "-s", "hot")
    assert (result.exit_code, result.stderr) == (0, "")
    lines = result.stdout.splitlines()
    assert lines[0].split() == ["Test", "box", "300", "samples,", "seed", "1"]
    assert lines[1] == "scenario hot, variant base"
    assert " stays within " in lines[3]
    assert " of 300 samples (" in " ".join(result.stdout.split())
    heads = [line.split()[0] for line in lines if line.startswith(("Limit", "Input", "Spread"))]
    assert heads == ["Limit", "Spread", "Input"]
    assert "common practice, no source" in " ".join(result.stdout.split())
    assert max(map(len, lines)) <= 80


def test_usual_tolerances_can_be_left_out_and_all_results_shown(case):
    assert " *" in box.run("uncertainty", case, *SEED).stdout
    stated = box.run("uncertainty", case, *SEED, "--only-stated", "--all").stdout
    assert "Every tolerance is stated in the case." in stated
    assert " *" not in stated
    assert "  compartment.box.pressure" in stated
    assert "compartment.box.pressure" not in box.run("uncertainty", case, *SEED).stdout


def test_scenario_variant_settings_and_units_count(case):
    def chance(*words):
        content = json.loads(box.run("uncertainty", case, *SEED, *words, "--json", "-").stdout)
        (row,) = [item for item in content["limits"] if item["subject"] == "part.board"]
        return row["value_p50_degC"]

    base, hot = chance(), chance("-s", "hot")
    assert hot - base == pytest.approx(10.0, abs=0.7)
    assert chance("-v", "open") < base
    assert chance("--set", "part.board.power=60 W") < base
    assert "degF" in box.run("uncertainty", case, *SEED, "--units", "us").stdout


def test_the_same_seed_prints_the_same_bytes_with_any_number_of_processes(case):
    words = ("uncertainty", case, "--seed", "5", "--samples", "600", "--all")
    alone = box.run(*words).stdout
    assert alone == box.run(*words, "-j", "2").stdout
    assert alone != box.run(*words, "--seed", "6").stdout


def test_shares_are_of_the_result_asked_for(case):
    result = box.run("uncertainty", case, *SEED, "--of", "total.volume_flow", "--json", "-")
    found = json.loads(result.stdout)
    assert (found["command"], found["format"], found["case"]) == ("uncertainty", 1, "Test box")
    assert found["of"] == "total.volume_flow"
    assert found["deviation_m3_s"] > 0
    shares = [row["share"] for row in found["shares"]]
    assert shares == sorted(shares, reverse=True)
    assert sum(shares) + found["unexplained"] == pytest.approx(1.0)
    assert {row["stated"] for row in found["tolerances"]} == {True, False}
    assert (found["scenario"], found["solved"], found["why"]) == (None, 300, None)
    (band,) = [row for row in found["results"] if row["result"] == "total.volume_flow"]
    low, middle, high = (found[f"of_{name}_m3_s"] for name in ("p5", "p50", "p95"))
    assert (low, middle, high) == (band["p5"], band["p50"], band["p95"])
    page = box.run("uncertainty", case, *SEED, "--of", "total.volume_flow").stdout.splitlines()
    row = next(line.split() for line in page if line.startswith("  total.volume_flow"))
    assert [float(text) for text in row[1::2]] == pytest.approx(
        [3600 * value for value in (low, middle, high)], rel=0.01)  # fmt: skip


def test_files_are_written_and_only_ours_replaced(case, tmp_path):
    for name in ("a.txt", "a.csv", "a.json"):
        result = box.run("uncertainty", case, *SEED, "-o", name)
        assert (result.stdout, result.stderr) == ("", f"wrote {name}\n")
        assert box.run("uncertainty", case, *SEED, "-o", name).exit_code == 0
    assert (tmp_path / "a.txt").read_text().startswith("Test box")
    with (tmp_path / "a.csv").open() as file:
        next(file)
        rows = {row["result"]: row for row in csv.DictReader(file)}
    content = json.loads((tmp_path / "a.json").read_text())
    bands = {row["result"]: row for row in content["results"]}
    assert rows.keys() == bands.keys()
    row = rows["part.board.temperature"]
    assert float(row["p5"]) < float(row["p50"]) < float(row["p95"])
    assert float(row["p95"]) == bands["part.board.temperature"]["p95"]
    (tmp_path / "b.txt").write_text("mine\n")
    assert box.run("uncertainty", case, *SEED, "-o", "b.txt").exit_code == 4
    assert (tmp_path / "b.txt").read_text() == "mine\n"


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        ([], 2, "--seed: name a whole number, such as --seed 1"),
        (["--seed", "1", "--samples", "0"], 2, "samples: a whole number of 2 to 1 000 000"),
        (["--seed", "-3"], 2, "seed: a whole number from 0 is wanted (got -3)"),
        (["--seed", "x"], 2, "--seed"),
        ([*SEED, "--of", "part.bord.temperature"], 2, 'did you mean "part.board.temperature"?'),
        ([*SEED, "-s", "hopeless"], 3, "none of 300 samples was solved"),
        ([*SEED, "-s", "each-fan-out"], 2, "each-fan-out"),
        ([*SEED, "-s", "hto"], 2, 'did you mean "hot"?'),
        ([*SEED, "-o", "a.gif"], 2, "uncertainty writes .csv, .json or .txt"),
        ([*SEED, "-o", "-", "--json", "-"], 2, "cannot both have stdout"),
    ],
)
def test_what_is_asked_wrongly_is_said(words, code, said, case):
    result = box.run("uncertainty", case, *words)
    assert result.exit_code == code
    assert said in " ".join(result.stderr.split())
    assert result.stdout == ""


def test_a_wrong_key_in_the_tolerances_of_a_case_is_said(tmp_path):
    for entry, said in (
        ('"part.board.pwer" = "8 %"', 'did you mean "power"?'),
        ('"part.board.power" = { withn = "8 %" }', "tolerance.part.board.power.withn"),
        ('"part.board.power" = { within = "8 %", shape = "bell" }', "must be one of normal"),
        ('"outside.temperature" = "8 %"', "of a temperature has no meaning"),
        ('"fan.left.state" = "8 %"', "is no number and has no tolerance"),
    ):
        path = box.written(tmp_path, f"{box.CASE}\n[tolerance]\n{entry}\n")
        result = box.run("uncertainty", path, *SEED)
        assert result.exit_code == 2
        assert said in result.stderr


def test_a_case_without_tolerances_rests_on_usual_ones_or_says_so(tmp_path):
    path = box.written(tmp_path)
    usual = box.run("uncertainty", path, *SEED)
    assert "0 inputs with a tolerance of the case" in " ".join(usual.stdout.split())
    bare = box.run("uncertainty", path, *SEED, "--only-stated")
    assert bare.exit_code == 2
    assert "tolerance: nothing is off; write [tolerance] in the case" in bare.stderr


def test_the_picture_is_drawn(case):
    result = box.run("draw", case, "uncertainty", *SEED)
    assert (result.exit_code, result.stdout) == (0, "")
    assert result.stderr == "wrote box-uncertainty.svg\n"
    assert os.path.getsize("box-uncertainty.svg") > 5000
    words = ("draw", case, "uncertainty", *SEED, "-s", "base", "-s", "hot", "-o", "p.png")
    assert box.run(*words).stderr == "wrote p-base.png\nwrote p-hot.png\n"
    bare = box.run("draw", case, "uncertainty")
    assert bare.exit_code == 2
    assert "--seed: uncertainty needs a whole number" in bare.stderr
    assert "--seed: only for uncertainty" in box.run("draw", case, "map", "--seed", "1").stderr
