"""`flownet draw` of a curve file, and of a fan type in a catalogue."""

from __future__ import annotations

import os

import pytest

from tests.cli import box
from tests.each import each, named

CSV = "# speed: 2650 rpm\n# density: 1.2 kg/m3\nflow[m3/h],rise[Pa]\n0,78\n60,52\n110,44\n170,0\n"
TWO = (
    '[fan_type.a]\nflow_area = "80 cm2"\ncurve = { flow = "0 50 m3/h", rise = "30 0 Pa" }\n'
    '[fan_type.b]\nlike = "a"\n'
)


@pytest.fixture(autouse=True)
def files(tmp_path):
    (tmp_path / "five.csv").write_text(CSV)
    (tmp_path / "two.toml").write_text(TWO)
    (tmp_path / "one.toml").write_text(TWO.partition("[fan_type.b]")[0])
    (tmp_path / "bad.csv").write_text("flow,rise\n0,3\n")


@each(named([
        (("five.csv", "curves"), "five-curves.svg"),
        (("two.toml", "curves", "--of", "b"), "b-curves.svg"),
        (("two.toml", "curves", "--of", "fan_type.a"), "a-curves.svg"),
        (("one.toml", "curves"), "a-curves.svg"),
        (("fan-catalogue", "curves", "--of", "axial-119x38-230v.rating.sixty"),
         "axial-119x38-230v.rating.sixty-curves.svg"),
        (("five.csv", "curves", "-o", "x.png", "--units", "us"), "x.png"),
    ]))  # fmt: skip
def test_the_picture_is_written(words, name):
    result = box.run("draw", *words)
    assert (result.exit_code, result.stdout, result.stderr) == (0, "", f"wrote {name}\n")
    assert os.path.getsize(name) > 5000


@each(
    named(
        [
            (("two.toml", "curves"), "--of: name the fan type; two.toml has a, b"),
            (("two.toml", "curves", "--of", "ab"), 'two.toml: no fan type "ab"'),
            (("two.toml",), "a catalogue has one picture; write: draw two.toml curves"),
            (("five.csv",), "a curve file has one picture; write: draw five.csv curves"),
            (("five.csv", "curves", "--of", "a"), "a curve file holds one curve"),
            (("five.csv", "curves", "-s", "hot"), "belong to a case"),
            (("fife.csv", "curves"), 'fife.csv: no such file; did you mean "five.csv"?'),
            (("bad.csv", "curves"), 'bad.csv: line 1: column "flow" has no unit'),
            (("five.csv", "curves", "-o", "x.gif"), "--out"),
        ]
    )
)
def test_what_cannot_be_drawn_is_said(words, said):
    result = box.run("draw", *words)
    assert result.exit_code == 2
    assert said in result.stderr
    assert result.stdout == ""
