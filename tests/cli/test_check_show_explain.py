"""What is read, told back: faults, resolved values, explanations."""

from __future__ import annotations

import json
import re

import pytest

from flownet.cli.demos import demos
from tests.cli import box
from tests.each import each, named


@pytest.fixture
def case(tmp_path):
    return box.written(tmp_path, box.SOUND)


# --- check -------------------------------------------------------------------------------------


def test_sound_case_is_counted(case):
    result = box.run("check", case)
    assert (result.exit_code, result.stderr) == (0, "")
    lines = [line.split() for line in result.stdout.splitlines()]
    assert ["fan", "2", "left,", "right"] in lines
    assert ["scenario", "1", "hot"] in lines
    assert result.stdout.startswith("Test box: read without a fault")
    assert result.stdout.splitlines()[-1] == "2 scenarios x 2 variants: each can be solved"


@each(demos())
def test_demos_are_sound_and_fit(demo):
    for command in ("check", "show"):
        result = box.run(command, demo)
        assert result.exit_code == 0
        assert max(map(len, result.stdout.splitlines())) <= 80


def test_what_the_drawing_says_is_told_without_solving(tmp_path):
    text = box.SOUND + (
        '[enclosure]\nsize = "400 x 600 x 300 mm"\n'
        '[compartment.top]\noutline = "0 300 400 400 mm"\n'
        '[opening.up]\nfrom = "box"\nto = "top"\narea = "1 cm2"\n'
    ).replace("[compartment.box]\n", "")
    text = text.replace("[compartment.box]", '[compartment.box]\noutline = "0 0 400 350 mm"')
    result = box.run("check", box.written(tmp_path, text), "--json", tmp_path / "said.json")
    assert result.exit_code == 0
    words = " ".join(result.stdout.split())
    assert "outlines overlap: compartment.box and top by 400 mm x 50 mm" in words
    assert "(400 mm x 600 mm in the view): compartment.top.outline by 100 mm" in words
    said = json.loads((tmp_path / "said.json").read_text())["findings"]
    assert [each["rule"] for each in said] == ["outlines-overlap", "beyond-enclosure"]


def test_a_thermostat_is_solved_at_its_mean_speed_and_check_and_solve_say_so(tmp_path):
    """The air settles where it switches, at a speed that is neither of its two."""
    control = (
        'supply = "mains"\nspeed_control = { by = "compartment.box", '
        'temperature = "46 46.01 degC", speed = "0.2 1.0" }\n'
    )
    case = box.written(tmp_path, box.SOUND.replace('supply = "mains"\n', control, 1))
    result = box.run("check", case)
    assert (result.exit_code, "speed-as-mean" in result.stdout) == (0, True)
    found = json.loads(box.run("solve", case, "--json", "-").stdout)
    assert 46.0 < found["compartments"]["box"]["temperature_degC"] < 46.01
    assert 0.25 < found["fans"]["fan.left"]["speed_ratio"] < 0.95
    said = [each for each in found["findings"] if each["rule"] == "speed-as-mean"]
    assert [each["subject"] for each in said] == ["fan.left", "fan.right"]


def test_scenarios_that_cannot_be_solved_are_found_without_solving(tmp_path, monkeypatch):
    monkeypatch.setattr("flownet.solver.steady.solve", None)
    result = box.run("check", box.written(tmp_path))
    assert result.exit_code == 2
    assert "3 scenarios x 2 variants: 4 of 6 can be solved" in result.stdout
    assert result.stderr.startswith(
        "box.toml: scenario hopeless, and 1 more of the 6: compartment.box: "
    )


def test_check_of_one_scenario(tmp_path):
    path = box.written(tmp_path)
    assert box.run("check", path, "-s", "hot").exit_code == 0
    assert box.run("check", path, "-s", "hopeless").exit_code == 2
    assert box.run("check", path, "-v", "opne").exit_code == 2


def test_check_as_json(tmp_path, case):
    made = json.loads(box.run("check", case, "--json", "-").stdout)
    assert made["faults"] == []
    assert made["counts"]["fan"] == 2
    assert [item["scenario"] for item in made["scenarios"]] == [None, "hot"] * 2
    bad = box.written(tmp_path, box.SOUND.replace('"120 W"', '"120 m"'), "bad.toml")
    result = box.run("check", bad, "--json", "-")
    assert result.exit_code == 2
    assert json.loads(result.stdout)["faults"] == result.stderr.splitlines()


# --- show --------------------------------------------------------------------------------------


def values(result):
    """Path -> (value, origin) of what show printed as JSON."""
    return {row["path"]: (row["value"], row["origin"])
            for row in json.loads(result.stdout)["values"]}  # fmt: skip


def test_show_tells_values_and_where_they_come_from(case):
    found = values(box.run("show", case, "--json", "-"))
    assert found["fan.left.type"] == ('"small"', "given")
    assert found["fan.right.type"] == ('"small"', "like left")
    assert found["fan.left.pressure_factor"] == ("1.0", "default")
    assert found["outside.temperature"] == ('"40 degC"', "given")


def test_show_after_scenario_variant_and_set(case):
    words = ["-s", "hot", "-v", "open", "--set", "fan.*.speed=0.5", "--json", "-"]
    found = values(box.run("show", case, *words))
    assert found["outside.temperature"] == ('"50 degC"', "scenario hot")
    assert found["vent.low.area"] == ('"200 cm2"', "variant open")
    assert found["fan.left.speed"] == found["fan.right.speed"] == ("0.5", "--set")


def test_show_prints_tables_as_they_are_written(case):
    text = box.run("show", case).stdout
    heads = [line for line in text.splitlines() if line.startswith("[")]
    assert heads[0] in ("[enclosure]", "[outside]")
    assert heads.index("[fan.left]") + 1 == heads.index("[fan.right]")
    assert re.search(r'^area +? = "80 cm2" +# given$', text, re.MULTILINE)
    assert max(map(len, text.splitlines())) <= 80


def test_show_leaves_out_defaults_without_effect(case):
    """A wall of given U without sun: its outside film is read nowhere."""
    wall = '[wall.door]\nfrom = "box"\nto = "outside"\narea = "1 m2"\nu_value = "5 W/(m2 K)"\n'
    case.write_text(box.SOUND + wall)
    found = values(box.run("show", case, "--json", "-"))
    assert not {"wall.door.outside_film", "wall.door.emissivity"} & found.keys()
    case.write_text(box.SOUND + wall + 'solar = "100 W/m2"\n')
    assert "wall.door.outside_film" in values(box.run("show", case, "--json", "-"))
    case.write_text(box.SOUND + wall + 'outside_film = "12 W/(m2 K)"\n')
    assert values(box.run("show", case, "--json", "-"))["wall.door.outside_film"][1] == "given"


def test_show_tells_the_blade_pass_tone(case):
    """Blades times revolutions per second, by its definition: 5 x 2600 / 60 = 217 Hz."""
    text = box.SOUND.replace('rated_speed = "2600 rpm"', 'rated_speed = "2600 rpm"\nblades = 5')
    case.write_text(text)
    tone, origin = values(box.run("show", case, "--json", "-"))["fan.left.blade_pass"]
    assert float(tone.removesuffix(" Hz")) == pytest.approx(5 * 2600 / 60, abs=0.5)
    assert origin == "5 blades at 2600 rpm"
    half = values(box.run("show", case, "--set", "fan.left.speed=0.5", "--json", "-"))
    assert float(half["fan.left.blade_pass"][0].removesuffix(" Hz")) == pytest.approx(108, abs=0.5)
    still = values(box.run("show", case, "--set", "fan.left.state=stopped", "--json", "-"))
    assert "fan.left.blade_pass" not in still
    assert "fan.right.blade_pass" in still
    case.write_text(box.SOUND)
    assert "fan.left.blade_pass" not in values(box.run("show", case, "--json", "-"))


@each(
    named(
        [("fan", 2), ("fan.left", 1), ("fan.*.type", 2), ("f*.type", 2), ("part.board.limit", 1)]
    ),
    "path count",
)
def test_show_of_a_path(path, count, case):
    text = box.run("show", case, path).stdout
    assert sum(line.startswith("[") for line in text.splitlines()) == count


def test_show_of_a_path_that_is_not_there(case):
    result = box.run("show", case, "fan.lefft")
    assert (result.exit_code, result.stdout) == (2, "")
    assert result.stderr == (
        'fan.lefft: nothing in the case has this path; did you mean "fan.left"?\n'
    )


def test_show_takes_one_scenario(case):
    result = box.run("show", case, "-s", "each-fan-out")
    assert result.exit_code == 2
    assert "show takes one scenario" in result.stderr


# --- explain -----------------------------------------------------------------------------------


def test_explain_takes_units():
    assert "\n  takes       a temperature" in box.run("explain", "outside.temperature").stdout
    assert "degC" in box.run("explain", "outside.temperature").stdout
    assert "degF" in box.run("explain", "outside.temperature", "--units", "us").stdout
