"""`flownet suggest`, its files and exit codes."""

from __future__ import annotations

import json

from tests.cli import box

LESS = ("--without", "shutter", "--without", "turn")


def test_a_proposal_is_printed_and_written(case):
    words = ("suggest", case, "-s", "hot", *LESS, "--set", "vent.low.area=34 cm2")
    result = box.run(*words, "--write", "new.toml", "--json", "found.json")
    assert result.exit_code == 0, result.stderr
    assert "wrote new.toml: suggested-1" in result.stderr
    assert "Not enough" in result.stdout
    found = json.loads((case.parent / "found.json").read_text())
    assert not found["holds"]
    first = found["proposals"][0]
    again = box.run("compare", "new.toml", "-v", "suggested-1", "-s", "hot", "--json", "-")
    pair = json.loads(again.stdout)["pairs"][0]
    assert pair["status"] == first["status"]
    assert abs(pair["margin"] - first["margin"]) < 1e-6
    refused = box.run(*words, "--write", "new.toml")
    assert refused.exit_code == 4
    assert "is there already" in refused.stderr
    assert box.run(*words, "--write", "new.txt").exit_code == 4
    nowhere = box.run(*words, "--write", "no/new.toml")
    assert (nowhere.exit_code, nowhere.stdout) == (4, "")
    assert "folder is not there" in nowhere.stderr


def test_what_stays_and_what_is_left_out(case):
    kept = box.run("suggest", case, "-s", "hot", "--deep", "1", "--strict", "--keep", "fan.*",
                   "--keep", "vent.low", "--keep", "part.*",
                   "--set", "vent.low.area=34 cm2", "--write", "none.toml")  # fmt: skip
    assert kept.exit_code == 1
    assert "nothing is left that may be changed" in kept.stdout
    assert "not written" in kept.stderr
    wrong = box.run("suggest", case, "--keep", "fan.lefft")
    assert wrong.exit_code == 2
    assert 'did you mean "left"' in wrong.stderr
    assert box.run("suggest", case, "--without", "fans").exit_code == 2
    shut = box.run("suggest", case, "-s", "hopeless", "--keep", "fan.*",
                   "--keep", "vent.*", "--keep", "part.*")  # fmt: skip
    assert shut.exit_code == 2


def test_what_findings_advise_is_tried_on_request(case):
    words = ("solve", case, "-s", "hot", "--set", "vent.low.area=34 cm2")
    result = box.run(*words, "--tried", "--json", "found.json")
    assert result.exit_code == 0, result.stderr
    assert "\nTried\n" in result.stdout
    found = json.loads((case.parent / "found.json").read_text())["tried"]
    first = next(each for each in found if each["rule"] == "limit-air")
    assert first["gone"]
    assert first["changes"] == {"vent.low.area": "68 cm2"}
    assert "tried" not in json.loads(box.run(*words, "--json", "-").stdout)
    assert box.run(*words, "--tried", "--all-points").exit_code == 2
