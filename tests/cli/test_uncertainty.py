"""`flownet uncertainty`, and its picture."""

from __future__ import annotations

import json

import pytest

from tests.cli import box

TOLERANCE = """
[tolerance]
"fan.*.pressure_factor" = "8 %"
"part.board.load" = { within = "10 %", shape = "uniform" }
"""
SEED = ("--seed", "1", "--samples", "300")


@pytest.fixture
def case(tmp_path):
    return box.written(tmp_path, box.CASE + TOLERANCE)


def test_usual_tolerances_can_be_left_out_and_all_results_shown(case):
    assert " *" in box.run("uncertainty", case, *SEED).stdout
    stated = box.run("uncertainty", case, *SEED, "--only-stated", "--all").stdout
    assert "Every tolerance is stated in the case." in stated
    assert " *" not in stated
    assert "  compartment.box.pressure" in stated
    assert "compartment.box.pressure" not in box.run("uncertainty", case, *SEED).stdout


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
    assert "The case states no tolerance" in " ".join(usual.stdout.split())
    bare = box.run("uncertainty", path, *SEED, "--only-stated")
    assert bare.exit_code == 2
    assert "tolerance: nothing is off; write [tolerance] in the case" in bare.stderr


def test_a_seed_must_be_named(case):
    for words, said in (((), "--seed: name a whole number"), (("--seed", "-3"), "(got -3)")):
        result = box.run("uncertainty", case, *words)
        assert (result.exit_code, result.stdout) == (2, "")
        assert said in result.stderr
    other = [box.run("uncertainty", case, *SEED, "--seed", seed).stdout for seed in ("5", "6")]
    assert other[0] != other[1]
