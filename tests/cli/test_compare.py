"""`flownet compare`, its tables and files, and its picture."""

from __future__ import annotations

import json

import pytest

from tests.cli import box

TWO = (
    box.SOUND
    + """
[variant.weak]
"fan.*.speed" = 0.5

[limits]
scenarios = ["base", "hot+each-fan-out"]
"""
)


@pytest.fixture
def case(tmp_path):
    return box.written(tmp_path, TWO)


def test_statuses_are_words_and_numbers_those_of_solve(case):
    text = box.run("compare", case, "--json", "-").stdout
    found = json.loads(text)
    pairs = {(p["variant"], p["scenario"]): p for p in found["pairs"]}
    one = json.loads(box.run("solve", case, "-s", "hot+fan.left-out", "-v", "open",
                             "--json", "-").stdout)  # fmt: skip
    pair = pairs["open", "hot+fan.left-out"]
    assert pair["worst_margin_K"] == pytest.approx(one["totals"]["worst_margin_K"], abs=1e-5)
    assert pair["status"] in ("ok", "tight", "over")
    whole = next(s for s in found["solutions"]
                 if (s["variant"], s["scenario"]) == ("open", "hot+fan.left-out"))  # fmt: skip
    assert whole["branches"].keys() == one["branches"].keys()
    assert whole["input_digest"] == one["input_digest"]
    assert len(found["solutions"]) == len(found["pairs"]) == 9


def test_outages_of_each_fan(case):
    result = box.run("compare", case, "--outages", "-v", "base")
    assert (result.exit_code, result.stderr) == (0, "")
    lines = result.stdout.splitlines()
    assert lines[0].endswith("2 outages")
    assert lines[2].startswith("base does not hold")
    assert "base | hot" in lines
    rows = [line.split() for line in lines if line.startswith("  fan.")]
    assert [row[:2] for row in rows] == [["fan.left,", "fan.right"]]  # alike, to the last digit
    assert all(row[2].startswith("-") for row in rows)
    assert max(map(len, lines)) <= 80
    found = json.loads(box.run("compare", case, "--outages", "--json", "-").stdout)
    assert len(found["outages"]) == 6
    assert found["outages"][0]["out"]["scenario"] == "hot+fan.left-out"


def test_exit_codes(tmp_path):
    case = box.written(tmp_path, box.CASE)
    some = box.run("compare", case, "-s", "hopeless", "-s", "hot")
    assert some.exit_code == 0
    assert "unsolved" in some.stdout
    assert "not solved: base | hopeless" in some.stdout
    assert "island" in some.stdout or "nowhere to go" in some.stdout
    found = json.loads(
        box.run("compare", case, "-s", "hopeless", "-s", "hot", "--json", "-").stdout
    )
    error = next(s["error"] for s in found["solutions"] if "error" in s)
    assert error["kind"] == "case"
    none = box.run("compare", case, "-s", "hopeless", "-v", "base")
    assert none.exit_code == 2


def test_outages_are_those_of_the_variant_in_every_command(tmp_path):
    """`each-fan-out` is worked out for the fans that run in the variant, not in the base case."""
    extra = '[fan.extra]\nlike = "left"\nstate = "blanked"\n\n[part.board]'
    text = box.SOUND.replace("[part.board]", extra)
    text += '\n[variant.more]\nfan.extra.state = "running"\n'
    case = box.written(tmp_path, text)
    both = ["left", "right"]
    for words, wanted in (((), both), (("-v", "more"), [*both, "extra"])):
        text = box.run("solve", case, "-s", "each-fan-out", *words, "--json", "-").stdout
        found = json.loads(text)
        names = [s["scenario"] for s in found.get("solutions", [found])]
        assert names == [f"fan.{name}-out" for name in wanted]
    show = box.run("show", case, "fan.extra.state", "-s", "fan.extra-out", "-v", "more").stdout
    assert '"stopped"' in show
    assert "# scenario fan.extra-out" in show
    assert "# given" in box.run("show", case, "fan.extra.state", "-s", "fan.extra-out").stdout
    drawn = box.run("draw", case, "-s", "each-fan-out", "-v", "more", "-o", "m.svg").stderr
    assert drawn == "".join(f"wrote m-fan.{name}-out.svg\n" for name in (*both, "extra"))
    checked = json.loads(box.run("check", case, "-s", "each-fan-out", "--json", "-").stdout)
    pairs = [(p["variant"], p["scenario"]) for p in checked["scenarios"]]
    assert ("more", "fan.extra-out") in pairs
    assert (None, "fan.extra-out") not in pairs
