"""`flownet solve` from the file to the page, the JSON and the exit code."""

from __future__ import annotations

import errno
import json
import os
import re
from pathlib import Path

import pytest

import flownet
from flownet.cli import faults, solving
from flownet.schema.errors import CaseError, NoSolution
from flownet.schema.text_file import written_value
from tests.cli import box
from tests.each import each, named


def refuse(constant):
    raise AssertionError(f"{constant} is not JSON")


def read(text):
    return json.loads(text, parse_constant=refuse)


def test_page_shows_what_python_finds(case):
    """The screen against the library: the same solution, and not a word on stderr."""
    result = box.run("solve", case)
    found = flownet.solve(flownet.load_case(case))
    assert (result.exit_code, result.stderr) == (0, "")
    assert f"{found.parts['board'].temperature_degC:.1f} degC" in result.stdout
    assert result.stdout.startswith("Test box")
    assert "base | base" in result.stdout.splitlines()[0]


def test_piped_output_has_eighty_columns_no_colour_no_boxes(case):
    result = box.run("solve", case, "-s", "hot", "-s", "each-fan-out", "--all")
    assert result.stdout.isascii()
    assert "\x1b" not in result.stdout
    assert max(map(len, result.stdout.splitlines())) <= 80


def test_colour_can_be_asked_for_and_refused(case):
    assert "\x1b[" in box.run("solve", case, "--color", "always").stdout
    assert "\x1b[" not in box.run("solve", case, "--color", "never").stdout
    assert "\x1b[" not in box.run("solve", case, env={"NO_COLOR": "1"}).stdout


@each(named([
    ("cabinet", "flownet new cabinet writes one to start from"),
    ("-", "flownet new NAME writes one to start from"),  # a name that would be an option
    ("bxo.toml", 'did you mean "box.toml"?'),
]), "word hint")  # fmt: skip
def test_a_case_that_is_not_there_says_what_to_do(word, hint, case):
    result = box.run("solve", word)
    assert result.exit_code == 2
    assert result.stderr == f"{word}: no such file or folder; {hint}\n"


def test_all_faults_of_a_file_are_told_at_once(tmp_path):
    wrong = box.CASE.replace('"120 W"', '"120 m"').replace('"80 cm2"', '"80 cm"')
    result = box.run("solve", box.written(tmp_path, wrong))
    assert (result.exit_code, result.stdout) == (2, "")
    first, second, last = result.stderr.splitlines()
    assert {"vent.low.area", "part.board.power"} == {x.split(": ")[1] for x in (first, second)}
    assert last == "2 faults"


# --- scenarios, variants, --set ----------------------------------------------------------------


def test_several_scenarios_follow_one_another(case):
    result = box.run("solve", case, "-s", "base", "-s", "hot+fan.left-out", "-v", "open")
    heads = [x for x in result.stdout.splitlines() if x.startswith("Test box")]
    assert [head.split(" " * 3)[-1].strip() for head in heads] == [
        "open | base", "open | hot+fan.left-out",
    ]  # fmt: skip


def test_a_scenario_asked_for_twice_is_solved_once(case):
    assert box.run("solve", case, "-s", "hot", "-s", "hot").stdout.count("Test box") == 1


@each(named([(["-s", "hto"], 'no scenario "hto"; did you mean "hot"?'),
    (["-v", "opne"], 'variant "opne": no such variant; did you mean "open"?'),
    (["--set", "fan.lef.speed=0.5"],
    '--set fan.lef.speed: no fan "lef"; did you mean "left"?'),
    (["--set", "vent.low.area=0.05"],
    "--set vent.low.area: 0.05 has no unit; an area is"),
    (["--set", "part.board.in=left"],
    "--set part.board.in: this key shapes the network"),
    (["--set", "fan.left.speed=fast"],
    '--set fan.left.speed: "fast" is not a number; a plain number, such as 0.61, or a '
    'speed of rotation is wanted, such as "2400 rpm"'),
    (["--set", "fan.left.state=of"], "--set fan.left.state: must be one of"),
    (["--set", "vent.low.area=[1"], "--set vent.low.area: [1: not a value"),
    (["--set", "fan.left=3"],
    "--set fan.left: names a whole fan; add one of its keys")]), "words said")  # fmt: skip
def test_names_and_values_that_are_wrong_are_named(words, said, case):
    result = box.run("solve", case, *words)
    assert (result.exit_code, result.stdout) == (2, "")
    assert result.stderr.startswith(said)


def test_set_wins_over_the_scenario_and_is_named_on_the_page(case):
    result = box.run("solve", case, "-s", "hot", "--set", "outside.temperature=45 degC")
    assert "outside 45.0 degC" in result.stdout
    assert "with    outside.temperature = 45 degC" in result.stdout
    made = read(box.run("solve", case, "-s", "hot", "--set", "outside.temperature=45 degC",
                        "--json", "-").stdout)  # fmt: skip
    assert made["site"]["temperature_degC"] == pytest.approx(45)
    assert made["changes"] == {"outside.temperature": "45 degC"}


@each(named([
        ("0.8", 0.8), ("2", 2), ("true", True), ("false", False), ("50 degC", "50 degC"),
        ('"50 degC"', "50 degC"), ("stopped", "stopped"), ("12%", "12%"),
        ('["2 m3/h", "10 Pa"]', ["2 m3/h", "10 Pa"]), ("{ loss = 0.6 }", {"loss": 0.6}),
    ]))  # fmt: skip
def test_values_are_read_as_in_a_case_file(text, raw):
    assert written_value(text) == raw
    assert type(written_value(text)) is type(raw)


@each(named(['"50 degC', "[1, 2", "{ loss = }"]))
def test_half_a_value_is_refused(text):
    with pytest.raises(CaseError, match="not a value as a case file has it"):
        written_value(text)


# --- JSON and files ----------------------------------------------------------------------------


def test_json_on_stdout_is_alone_and_strict(case):
    result = box.run("solve", case, "--json", "-")
    made = read(result.stdout)
    assert result.stderr == ""
    assert (made["scenario"], made["variant"]) == (None, None)
    assert made["flownet"] == flownet.__version__
    assert made["parts"]["board"]["temperature_degC"] == pytest.approx(
        flownet.solve(flownet.load_case(case)).parts["board"].temperature_degC
    )
    assert abs(made["balance"]["mass_residual"]) < 1e-9


def test_json_file_comes_beside_the_page(case, tmp_path):
    result = box.run("solve", case, "--json", "box.json")
    assert result.stdout.startswith("Test box")
    assert result.stderr == "wrote box.json\n"
    assert read((tmp_path / "box.json").read_text())["case"] == "Test box"


def test_out_replaces_stdout(case, tmp_path):
    page = box.run("solve", case).stdout
    result = box.run("solve", case, "-o", "box.txt")
    assert (result.stdout, result.stderr) == ("", "wrote box.txt\n")
    assert (tmp_path / "box.txt").read_text().startswith(page)
    assert box.run("solve", case, "-o", "-").stdout == page
    assert box.run("solve", case, "-o", "b.json", "-q").stderr == ""
    assert read((tmp_path / "b.json").read_text())["case"] == "Test box"


def test_our_files_are_replaced_others_only_by_force(case, tmp_path):
    other = tmp_path / "mine.json"
    other.write_text('{"precious": true}')
    result = box.run("solve", case, "--json", "mine.json")
    assert result.exit_code == 4
    assert "was not written by flownet and stays as it is" in result.stderr
    assert other.read_text() == '{"precious": true}'
    assert box.run("solve", case, "--json", "mine.json", "--force").exit_code == 0
    assert box.run("solve", case, "--json", "mine.json").exit_code == 0
    assert sorted(os.listdir(tmp_path)) == ["box.toml", "mine.json"]


@pytest.mark.parametrize("words", [(), ("--force",)])
def test_no_result_replaces_a_case_or_a_curve(words, case, tmp_path):
    curve = tmp_path / "curve.csv"
    curve.write_text("flow[m3/h],rise[Pa]\n0,40\n80,0\n")
    for path in (Path(case), curve):
        before = path.read_bytes()
        result = box.run("solve", case, "--json", path, *words)
        assert (result.exit_code, path.read_bytes()) == (4, before)
        assert "is named like an input, which no result replaces" in result.stderr


@pytest.mark.parametrize("force", [(), ("--force",)])
@pytest.mark.parametrize(("option", "name"), [("--json", "link.json"), ("-o", "link.txt")])
def test_no_result_replaces_an_input_through_a_link(option, name, force, case, tmp_path):
    curve = tmp_path / "curve.csv"
    curve.write_text("flow[m3/h],rise[Pa]\n0,40\n80,0\n")
    for path in (Path(case), curve):
        link, before = tmp_path / name, path.read_bytes()
        link.unlink(missing_ok=True)
        link.symlink_to(path)
        result = box.run("solve", case, option, name, *force)
        assert (result.exit_code, path.read_bytes(), link.is_symlink()) == (4, before, True)
        assert f"leads to {path}, named like an input" in result.stderr


def test_a_second_variant_is_not_taken_in_silence(case):
    result = box.run("solve", case, "-v", "base", "-v", "slow")
    assert (result.exit_code, result.stdout) == (2, "")
    assert "one variant at a time (got base, slow)" in result.stderr


def test_a_folder_that_may_not_be_read_is_a_fault_of_the_input(case, monkeypatch):
    def refused(self, **rest):
        raise PermissionError(errno.EACCES, "Permission denied", str(self))

    monkeypatch.setattr(Path, "stat", refused)
    result = box.run("solve", case)
    assert result.exit_code == 2
    assert "cannot be read: permission denied" in result.stderr


@each(named([(["-o", "box.svg"],
    '--out: solve writes .json or .txt (got "box.svg"); "draw CASE map"'),
    (["-o", "-", "--json", "-"], "--out - and --json - cannot both have stdout")]),
    "words said")  # fmt: skip
def test_outputs_that_make_no_sense_are_refused(words, said, case):
    result = box.run("solve", case, *words)
    assert result.exit_code == 2
    assert said in result.stderr


# --- what cannot be solved ---------------------------------------------------------------------


COMMANDS = (
    "check", "solve", "size", "compare", "draw", "uncertainty --seed 1 --samples 2",
    "headroom outside.temperature", "rank --of part.board.temperature", "choose fan.left",
    "sweep --vary part.board.load=[1,2]",
)  # fmt: skip


@each({words: words for words in COMMANDS}, "words")
def test_heat_with_nowhere_to_go_is_a_fault_of_the_case_in_every_command(words, tmp_path):
    """Told with its file, its place, what shuts it in, and what to open."""
    shut = box.SOUND + '[scenario.shut]\nvent.low.state = "blanked"\nfan.right.state = "blanked"\n'
    case = box.written(tmp_path, shut + '[tolerance]\npart.board.load = "2 %"\n')
    name, *more = words.split()
    result = box.run(name, case, *more, "-s", "shut")
    assert result.exit_code == 2, result.output
    for told in ("box.toml: ", "compartment.box", "vent.low", "are blanked", "open one"):
        assert told in result.stderr


def test_others_are_printed_when_one_of_several_fails(case):
    result = box.run("solve", case, "-s", "hopeless", "-s", "hot")
    assert result.exit_code == 2
    assert "base | hopeless" in result.stdout
    assert "not solved" in result.stdout
    assert "base | hot" in result.stdout
    assert "Balance" in result.stdout
    assert result.stderr == "1 of 2 scenarios not solved: hopeless\n"


def test_the_one_that_fails_keeps_its_place_in_json(case):
    made = read(box.run("solve", case, "-s", "hopeless", "-s", "hot", "--json", "-").stdout)
    first, second = made["solutions"]
    assert first["scenario"] == "hopeless"
    assert first["error"]["kind"] == "case"
    assert "compartment.box" in first["error"]["message"]
    assert second["scenario"] == "hot"


def failing(case, *, scenario="base", **rest):
    raise NoSolution(f"residual 4.1 Pa at vent.low in {scenario}")


def test_no_solution_is_exit_three(case, monkeypatch):
    monkeypatch.setattr("flownet.cli.solving.solve", failing)
    result = box.run("solve", case)
    assert (result.exit_code, result.stdout) == (3, "")
    assert result.stderr == "no solution: residual 4.1 Pa at vent.low in base\n"
    several = box.run("solve", case, "-s", "base", "-s", "hot")
    assert several.exit_code == 3
    assert several.stdout.count("not solved") == 2


def stopped(case, *, scenario="base", **rest):
    if scenario != "base":
        raise KeyboardInterrupt
    return flownet.load_case


def test_interrupt_says_what_is_left(case, monkeypatch):
    monkeypatch.setattr("flownet.cli.solving.solve", stopped)
    made = solving.outcomes(flownet.load_case(case), ["base", "hot", "hopeless"], "base", {})
    next(made)
    with pytest.raises(faults.Interrupted, match="the rest: -s hot -s hopeless"):
        next(made)


def test_strict_turns_an_error_finding_into_exit_one(case):
    hot = ["--set", "part.board.limit=45 degC"]
    assert box.run("solve", case, *hot).exit_code == 0
    strict = box.run("solve", case, *hot, "--strict")
    assert strict.exit_code == 1
    assert "limit broken: part.board" in strict.stdout
    cool = ["--set", "part.board.limit=200 degC", "--set", "compartment.box.air_limit=200 degC"]
    assert box.run("solve", case, *cool, "--strict").exit_code == 0
    deaf = [*cool, "--set", "limits.noise_dBA=60"]
    for command in ("solve", "compare"):  # a limit without a value is not known to hold
        assert box.run(command, case, *deaf, "--strict").exit_code == 1


def test_a_limit_broken_outside_limits_scenarios_fails_a_comparison_not_a_solve(tmp_path):
    """An error where the limits must hold, else a warning; a pair that was asked for must hold."""
    text = box.SOUND + '[limits]\nscenarios = ["hot"]\n'
    case, broken = box.written(tmp_path, text), ("--set", "part.board.limit=41 degC", "--strict")
    for scenario, codes in (("hot", (1, 1)), ("base", (0, 1))):
        found = [box.run(each, case, "-s", scenario, *broken) for each in ("solve", "compare")]
        assert tuple(each.exit_code for each in found) == codes


def test_strict_fails_where_nothing_is_checked(tmp_path):
    """A case without any limit: every command alike, and in words."""
    free = box.written(tmp_path, re.sub(r"(?m)^(air_)?limit = .*\n", "", box.SOUND))
    assert flownet.solve(flownet.load_case(free)).limits == ()
    swept = ("sweep", "--vary", "fan.*.speed=[1.0]")
    chosen = ("choose", "fan.left", "-s", "base")
    for command, *more in (("solve",), ("compare", "-s", "base"), swept, chosen):
        assert box.run(command, free, *more).exit_code == 0
        strict = box.run(command, free, *more, "--strict")
        assert strict.exit_code == 1
        assert "limit" in strict.stdout + strict.stderr
    assert "no limit is held" in box.run("solve", free, "--strict").stderr


# --- units -------------------------------------------------------------------------------------


def test_units_of_the_reader(case):
    us = box.run("solve", case, "--units", "us").stdout
    assert "CFM" in us
    assert "degF" in us
    assert "m3/h" not in us
    assert "degC" not in us


def test_units_of_the_case_are_the_default(tmp_path):
    case = box.written(tmp_path, box.CASE.replace("format = 1", 'format = 1\nunits = "us"'))
    assert "CFM" in box.run("solve", case).stdout
    assert "m3/h" in box.run("solve", case, "--units", "metric").stdout
