"""`flownet new`: what it writes solves, and it replaces nothing."""

from __future__ import annotations

import os

import pytest

import flownet
from flownet.cli.demos import demos
from tests.cli import box


@pytest.fixture(autouse=True)
def folder(tmp_path):
    return tmp_path


def test_starter_is_short_marked_and_solves(folder):
    result = box.run("new", "my-cabinet")
    assert (result.exit_code, result.stdout) == (0, "")
    text = (folder / "my-cabinet" / "case.toml").read_text()
    assert len(text.splitlines()) <= 45
    assert "# CHANGE" in text
    solved = box.run("solve", "my-cabinet", "-s", "base", "-s", "dirty+hot")
    assert solved.exit_code == 0
    assert solved.stdout.startswith("My cabinet")
    assert box.run("check", "my-cabinet").exit_code == 0


def test_it_says_what_to_do_next_and_warns():
    said = box.run("new", "my-cabinet").stderr
    assert "wrote my-cabinet/case.toml\n" in said
    assert "flownet solve my-cabinet" in said
    assert "follow local codes and licensed practice" in said
    assert max(map(len, said.splitlines())) <= 81
    assert box.run("new", "other", "-q").stderr == ""


def test_name_with_suffix_is_a_file(folder):
    box.run("new", "boxes/left.toml")
    assert flownet.load_case(folder / "boxes" / "left.toml").title == "Left"


def test_copies_of_demos_are_the_demos_without_their_guard(folder):
    assert len(demos()) >= 4
    for name, demo in demos().items():
        assert box.run("new", name, "--like", name).exit_code == 0
        made = {item.name: item.read_text() for item in (folder / name).iterdir()}
        wanted = [item for item in demo.iterdir() if item.suffix in (".toml", ".csv")]
        assert made == {item.name: item.read_text() for item in wanted
                        if item.name != "expected.toml"}  # fmt: skip
    assert box.run("solve", "bench-supply", "-q").exit_code == 0


def test_nothing_is_replaced(folder):
    box.run("new", "mine", "--like", "drive-cabinet")
    before = {name: (folder / "mine" / name).read_bytes() for name in os.listdir("mine")}
    again = box.run("new", "mine")
    assert again.exit_code == 4
    assert again.stderr.startswith("mine/case.toml: is there already; new replaces nothing")
    assert before == {name: (folder / "mine" / name).read_bytes() for name in os.listdir("mine")}


def test_a_catalogue_in_the_way_stops_it_before_anything_is_written(folder):
    (folder / "mine").mkdir()
    (folder / "mine" / "fans.toml").write_text("# my own catalogue\n")
    assert box.run("new", "mine", "--like", "drive-cabinet").exit_code == 4
    assert os.listdir(folder / "mine") == ["fans.toml"]


def test_unknown_demo_is_named_with_those_there_are():
    result = box.run("new", "mine", "--like", "submarine")
    assert result.exit_code == 2
    assert 'no demo "submarine"; there are bench-supply, drive-cabinet' in result.stderr


def test_place_that_cannot_be_written(folder):
    (folder / "file").write_text("in the way")
    result = box.run("new", "file/cabinet")
    assert result.exit_code == 4
    assert result.stderr.startswith("file/cabinet/case.toml: cannot be written: ")


def test_a_case_that_hides_a_demo_says_so(folder):
    hidden = "the one in this folder, not the demo of that name"
    said = box.run("new", "drive-cabinet")
    assert hidden in said.stderr
    solved = box.run("solve", "drive-cabinet")
    assert solved.stderr == f"drive-cabinet: {hidden}\n"
    assert solved.stdout.startswith("Drive cabinet")
    assert box.run("solve", "drive-cabinet", "-q").stderr == ""
    assert hidden not in box.run("new", "other").stderr
    assert hidden not in box.run("solve", "telecom-shelf").stderr
