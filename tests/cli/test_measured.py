"""`flownet readings` and `flownet calibrate`."""

from __future__ import annotations

import json

import pytest

from flownet.cli.demos import demos
from tests.cli import box

DEMO = ("drive-cabinet", "readings.csv", "-s", "hot")
FREE = ("--free", "filter.intake.fouling,leak.door-seal.flow_at.0")


@pytest.fixture(autouse=True)
def folder(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)


def test_readings_of_the_demo_say_what_is_outside_and_why(tmp_path):
    page = box.run("readings", *DEMO, "--strict", "--json", "found.json")
    assert page.exit_code == 1
    assert max(map(len, page.stdout.splitlines())) <= 80
    found = json.loads((tmp_path / "found.json").read_text())
    assert (found["command"], found["left_out"]) == ("readings", 1)
    assert sum(each["outside"] for each in found["readings"]) == found["outside"] > 0
    assert found["explanations"][0]["changes"].keys() == {"filter.intake.fouling"}
    assert f"{found['outside']} of {len(found['readings'])} readings lie outside" in page.stdout
    assert found["readings"][0]["note"]


def test_a_fit_is_printed_as_a_variant_and_the_case_stays(tmp_path):
    """A scenario wins over every variant, which is said."""
    page = box.run(
        "calibrate", *DEMO, *FREE, "--free", "outside.temperature", "--json", "found.json"
    )
    lines = [line.strip() for line in page.stdout.splitlines()]
    assert page.exit_code == 0
    at = lines.index("[variant.as-measured]")
    found = json.loads((tmp_path / "found.json").read_text())
    assert lines[at : at + 4] == found["block"].splitlines()
    one = found["values"]["filter.intake.fouling"]
    assert one["low"] < one["value"] < one["high"]
    assert one["low"] < 1.8 < one["high"]  # the truth that the invented readings were made with
    assert abs(found["correlations"]["filter.intake.fouling"]["leak.door-seal.flow_at.0"]) < 1
    assert len(found["residuals"]) == 12
    assert any("scenario hot sets outside.temperature" in each for each in found["verdict"])


def test_a_void_state_is_said_first():
    """Fans that blow against each other."""
    words = (*DEMO, "--set", "fan.left.mounted=reversed", "--strict")
    for command in (("readings", *words), ("calibrate", *words, "--free", "filter.intake.fouling")):
        page = box.run(*command)
        assert page.exit_code == 1
        assert page.stdout.split("\n\n")[1].startswith("void: fan.left and fan.right blowing")


def test_refusals_have_their_codes():
    for words, code, said in (
        (("calibrate", *DEMO, "--free", "filter.intake.fouling,opening.cables.area"), 3,
         "a reading of"),
        (("calibrate", *DEMO), 2, "--free: name what is to be found"),
        (("calibrate", *DEMO, "--free", "filter.intake.fouling,opening.cables.area", "--units",
          "us"), 3, "CFM here) within"),
        (("readings", "drive-cabinet", "reading.csv"), 2, "no such file"),
    ):  # fmt: skip
        result = box.run(*words)
        assert result.exit_code == code, result.stderr
        assert said in result.stderr


def test_what_is_piped_in_is_read_as_the_file_is():
    text = (demos()["drive-cabinet"] / "readings.csv").read_text()
    piped = box.run("readings", "drive-cabinet", "-", "-s", "hot", given=text)
    assert piped.exit_code == 0, (piped.stderr, piped.exception)
    assert piped.stdout == box.run("readings", *DEMO).stdout.replace(DEMO[1], "standard input")
    for other, words, said in (
        ("", (), "standard input: is empty"),
        (text.replace(",degC,0.8,\n", ",,0.8,\n"), ("--units", "us"), "wanted, in degF"),
    ):
        refused = box.run("readings", "drive-cabinet", "-", *words, given=other)
        assert refused.exit_code == 2
        assert said in refused.stderr
