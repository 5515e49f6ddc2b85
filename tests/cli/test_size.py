"""`flownet size`."""

from __future__ import annotations

import re

from tests.cli import box

LOAD = ("--heat", "400 W", "--rise", "10 K", "--inlet", "40 degC")


def test_stated_flow_and_openings():
    result = box.run("size", *LOAD, "--flow", "230 m3/h", "--drop", "15 Pa",
                     "--velocity", "1.5 m/s")  # fmt: skip
    words = " ".join(result.stdout.split())
    assert "1.81 times the heat balance: 1.8 is the factor between degF and degC" in words
    assert "Opening for a drop of 15.0 Pa" in words
    assert "Face for 1.50 m/s" in words
    short = " ".join(box.run("size", *LOAD, "--flow", "100 m3/h").stdout.split())
    assert "the air would leave 12.7 K warmer" in short


def test_a_case_without_limits_asks_for_a_rise(case):
    text = box.CASE.replace('air_limit = "55 degC"', "")
    bare = box.written(case.parent, text, "bare.toml")
    assert "give --rise" in box.run("size", bare).stdout
    assert "\n\n\n" not in box.run("size", bare).stdout  # no room for what is not void
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


def test_what_is_missing_or_belongs_to_a_case_is_said():
    for words, said in (
        ((), "--heat, --rise, --inlet missing; give --heat, --rise and --inlet, or a CASE"),
        (("--heat", "400 W"), "--rise, --inlet missing"),
        ((*LOAD, "-s", "hot"), "--scenario: only with a CASE"),
        ((*LOAD, "--set", "a=1"), "--set: only with a CASE"), (("no-box.toml",), "no such file"),
        ((*LOAD[:4], "--inlet", "40 m"), '--inlet: "40 m" is a length'),
    ):  # fmt: skip
        result = box.run("size", *words)
        assert (result.exit_code, result.stdout) == (2, ""), words
        assert said in result.stderr
