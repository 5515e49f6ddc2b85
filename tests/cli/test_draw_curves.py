"""`flownet draw CASE curves`: its file, what is told beside it, and what it refuses."""

from __future__ import annotations

from tests.cli import box
from tests.each import each, named


def test_the_picture_is_written_and_the_gain_told(case, tmp_path):
    result = box.run("draw", case, "curves")
    assert (result.exit_code, result.stdout) == (0, "")
    told, wrote = result.stderr.splitlines()
    assert told.startswith("2 fans in parallel: rule of thumb +100 % flow, here +")
    assert "m3/h" in told
    assert wrote == "wrote box-curves.svg"
    assert (tmp_path / "box-curves.svg").stat().st_size > 10000


def test_units_scenarios_one_fan_and_quiet_are_heeded(case, tmp_path):
    assert "CFM" in box.run("draw", case, "curves", "--units", "us").stderr
    result = box.run("draw", case, "curves", "--fan", "left", "-s", "base", "-s", "hot", "-o",
                     "c.png", "-q")  # fmt: skip
    assert (result.exit_code, result.stderr) == (0, "")
    assert len(list(tmp_path.glob("c*.png"))) == 2


def test_a_case_without_a_running_fan_has_no_curves(case):
    result = box.run("draw", case, "curves", "--set", 'fan.*.state="stopped"', "--set",
                     'part.board.power="0 W"')  # fmt: skip
    assert result.exit_code == 2
    assert "curves: no fan runs here" in result.stderr


@each(
    named(
        [
            (["curves", "--fan", "lefd"], 'no fan "lefd" runs here; did you mean "fan.left"?'),
            (["map", "--fan", "left"], "--fan: only for curves and choose (got map)"),
            (["curves", "--of", "total.noise"], "--of: only for path, choice, headroom, rank"),
        ]
    ),
    "words said",
)
def test_what_it_refuses(case, words, said):
    result = box.run("draw", case, *words)
    assert result.exit_code == 2
    assert said in result.stderr
    assert "Traceback" not in result.stderr
