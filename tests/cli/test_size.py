"""`flownet size`."""

from __future__ import annotations

import json
import re

import pytest

from tests.cli import box

LOAD = ("--heat", "400 W", "--rise", "10 K", "--inlet", "40 degC")


@pytest.fixture
def case(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    return box.written(tmp_path)


def test_flows_of_a_heat_load_are_printed_in_both_units():
    result = box.run("size", *LOAD, "--altitude", "1500 m", "--margin", "20%")
    assert (result.exit_code, result.stderr) == (0, "")
    text = result.stdout
    assert max(map(len, text.splitlines())) <= 80
    assert "0.0398 kg/s" in text  # 400 W / (1006 J/(kg K) 10 K)
    assert "152 m3/h" in text
    assert "89.6 CFM" in text
    assert "at the inlet with 20 %" in text
    assert "common practice, no\nsource" in text or "common practice, no source" in text


def test_stated_flow_and_openings():
    result = box.run("size", *LOAD, "--flow", "230 m3/h", "--drop", "15 Pa",
                     "--velocity", "1.5 m/s")  # fmt: skip
    words = " ".join(result.stdout.split())
    assert "1.81 times the heat balance: 1.8 is the factor between degF and degC" in words
    assert "Opening for a drop of 15.0 Pa" in words
    assert "Face for 1.50 m/s" in words
    short = " ".join(box.run("size", *LOAD, "--flow", "100 m3/h").stdout.split())
    assert "the air would leave 12.7 K warmer" in short


def test_a_case_is_sized_compartment_by_compartment(case):
    result = box.run("size", case, "-s", "hot", "--margin", "10%")
    assert (result.exit_code, result.stderr) == (0, "")
    lines = result.stdout.splitlines()
    assert lines[0] == "Test box, hot"
    assert any(line.startswith("Compartment") and "needed +10 %" in line for line in lines)
    assert "The solve draws in" in result.stdout
    assert max(map(len, lines)) <= 80
    base, opened = box.run("size", case), box.run("size", case, "-v", "open")
    assert base.stdout != opened.stdout
    changed = box.run("size", case, "--set", "part.board.power=60 W")
    assert changed.stdout != base.stdout


def test_a_case_without_limits_asks_for_a_rise(case):
    text = box.CASE.replace('air_limit = "55 degC"', "")
    bare = box.written(case.parent, text, "bare.toml")
    assert "give --rise" in box.run("size", bare).stdout
    assert "that may leave 8.0 K warmer" in box.run("size", bare, "--rise", "8 K").stdout


def test_a_share_far_above_the_need_is_told_in_words(case):
    """Hardly any heat is not passed over in silence; percentages end at ten times the need."""
    cool = box.run("size", case, "--set", "part.board.power=0.001 W").stdout
    wide = box.run("size", case, "--rise", "200 K").stdout
    assert "over 10 times ok" in wide
    assert "hardly any heat" not in wide
    assert "hardly any heat" in cool
    for shown in (cool, wide):
        assert "more than 10 times the need" in shown
        assert max(int(text) for text in re.findall(r"(\d+) %", shown)) <= 1000


def test_json_and_files(case, tmp_path):
    found = json.loads(box.run("size", *LOAD, "--json", "-").stdout)
    assert (found["command"], found["format"]) == ("size", 1)
    assert found["heat_W"] == 400.0
    whole = json.loads(box.run("size", case, "--json", "-").stdout)
    assert whole["case"] == "Test box"
    assert whole["compartments"][0]["compartment"] == "box"
    assert box.run("size", case, "-o", "a.txt").stderr == "wrote a.txt\n"
    assert (tmp_path / "a.txt").read_text().startswith("Test box, base\n")
    assert box.run("size", *LOAD, "-o", "a.json").exit_code == 0
    (tmp_path / "b.txt").write_text("mine\n")
    assert box.run("size", *LOAD, "-o", "b.txt").exit_code == 4


def test_units_of_the_reader():
    text = box.run("size", *LOAD, "--units", "us").stdout
    assert "104.0 degF" in text
    assert "m3/h" in text
    assert "CFM" in text


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ((), "--heat, --rise, --inlet missing; give --heat, --rise and --inlet, or a CASE"),
        (("--heat", "400 W"), "--rise, --inlet missing"),
        ((*LOAD, "-s", "hot"), "--scenario: only with a CASE"),
        ((*LOAD, "--set", "a=1"), "--set: only with a CASE"),
        (("box.toml", "--heat", "3 W"), "--heat: not with a CASE"),
        (("box.toml", "--inlet", "3 K"), '--set "outside.temperature=45 degC"'),
        (("box.toml", "--rise", "10"), '--rise: "10" has no unit'),
        (("box.toml", "--flow", "10 Pa"), '--flow: "10 Pa" is a pressure'),
        (("no-box.toml",), "no such file"),
        (("box.toml", "-s", "hopeless"), "compartment.box"),
        ((*LOAD[:4], "--inlet", "40 m"), '--inlet: "40 m" is a length'),
        ((*LOAD, "-o", "a.gif"), "size writes .json or .txt"),
        ((*LOAD, "-o", "-", "--json", "-"), "cannot both have stdout"),
    ],
)  # fmt: skip
def test_what_cannot_be_sized_is_said(words, said, case):
    result = box.run("size", *words)
    assert result.exit_code == 2
    assert said in result.stderr
    assert result.stdout == ""
