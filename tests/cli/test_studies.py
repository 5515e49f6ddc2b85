"""What the commands of all studies have in common: pages, files, JSON, pictures, exit codes."""

from __future__ import annotations

import csv
import json
import os

import pytest

from tests.cli import box

OF, KEY, SPEED = "part.board.temperature", "outside.temperature", "fan.*.speed=0.5 to 1.0 in 6"
LOSS = "vent.low.loss=[1, 2]"
SEED = ("--seed", "1", "--samples", "100")
MORE = """
[sweep.warm]
outside.temperature = ["20 degC", "30 degC", "52 degC"]

[tolerance]
"fan.*.pressure_factor" = "8 %"
"part.board.load" = { within = "10 %", shape = "uniform" }
"""
WORDS = {  # of each command, behind the case
    "compare": ("-s", "base", "-s", "hot"), "headroom": (KEY,), "rank": ("--of", OF), "size": (),
    "sweep": ("--vary", SPEED), "uncertainty": SEED,
}  # fmt: skip
TABLES = ("compare", "headroom", "sweep", "uncertainty")  # that write .csv


@pytest.fixture(autouse=True)
def here(tmp_path):
    box.written(tmp_path, box.CASE + MORE)


def run(command, *words):
    return box.run(command, "box.toml", *WORDS[command], *words)


def test_a_page_begins_with_the_case_and_fits():
    for command in WORDS:
        result = run(command)
        lines = result.stdout.splitlines()
        assert (result.exit_code, result.stderr) == (0, ""), command
        assert lines[0].startswith("Test box"), command
        assert max(map(len, lines)) <= 80, command
        assert "\x1b" not in result.stdout
        assert "\x1b[" in run(command, "--color", "always").stdout, command


@pytest.mark.parametrize("command", WORDS)
def test_files_are_written_and_only_ours_replaced(command, tmp_path):
    for suffix in ("csv", "json", "txt")[command not in TABLES :]:
        for _ in range(2):
            result = run(command, "-o", f"a.{suffix}")
            assert (result.exit_code, result.stderr) == (0, f"wrote a.{suffix}\n")
            assert result.stdout == "" or (command, suffix) != ("sweep", "txt")
    assert (tmp_path / "a.txt").read_text().startswith("Test box")
    told = json.loads(run(command, "--json", "-").stdout)
    kept = json.loads((tmp_path / "a.json").read_text())
    if command != "sweep":  # whose file has ten digits
        assert told == kept
    assert (told["command"], told["format"], told["case"]) == (command, 1, "Test box")
    mine = tmp_path / "b.txt"
    mine.write_text("mine\n")
    assert run(command, "-o", "b.txt").exit_code == 4
    assert mine.read_text() == "mine\n"
    if command not in TABLES:
        return
    head, *table = (tmp_path / "a.csv").read_text().splitlines()
    assert head.startswith("# written by flownet ")
    rows = list(csv.DictReader(table))
    name = {"compare": "pairs", "uncertainty": "results"}.get(command)
    assert len(rows) == (len(kept[name]) if name else {"headroom": 33, "sweep": 6}[command])
    curve = tmp_path / "b.csv"  # the name of an input, which nobody else keeps
    curve.write_text("flow,rise\n")
    for words in ((), ("--force",)):
        assert run(command, "-o", "b.csv", *words).exit_code == 4
        assert curve.read_text() == "flow,rise\n"


NUMBERS = {  # a margin of the part or the air, or the negative of a temperature
    "headroom": lambda made: made["headroom"][0]["today"]["margin"],
    "rank": lambda made: -made["value_degC"],
    "size": lambda made: made["compartments"][0]["share"],
    "sweep": lambda made: made["worst"][0]["margin"],
    "uncertainty": lambda made: -next(row["value_p50_degC"] for row in made["limits"]
                                      if row["subject"] == "part.board"),
}  # fmt: skip


@pytest.mark.parametrize("command", NUMBERS)
def test_scenario_variant_settings_and_units_count(command):
    def number(*words):
        return NUMBERS[command](json.loads(run(command, *words, "--json", "-").stdout))

    base = number()
    assert number("-s", "hot") < base
    assert number("-v", "open") > base
    assert number("--set", "part.board.power=60 W") > base
    told = run(command, "--units", "us").stdout
    assert "degF" in told
    assert " K" not in told.replace("K (", "")


WRONG = [
    ("compare -s ht", 'did you mean "hot"'), ("compare -s fan.left-blankd", "fan.left-blanked"),
    ("compare -v opn", 'did you mean "open"'), ("compare -o a.gif", '"draw CASE matrix" makes'),
    ("compare --set fan.left.speed=9", "must be from 0 to 2"), ("compare -j -1", "--jobs"),
    ("headroom -o a.gif", "headroom writes .csv, .json or .txt"),
    ("headroom --upto 60", "upto: outside.temperature: "), ("headroom -s hott", "mean \"hot\""),
    ("headroom --upto= ", '--upto: a value is wanted, such as "55 degC" (got "'),
    ("headroom -s hopeless", "compartment.box"),
    ("rank -s hot -s base", "one scenario at a time (got hot, base); -s hot+base joins them"),
    ("rank --of total.heat", f"--of: one result at a time (got {OF}, total.heat)"),
    ("rank -v base -v open", "one variant at a time (got base, open)"),
    ("rank -o a.gif", "rank writes .json or .txt"), ("rank -s hopeless", "compartment.box"),
    ("size --heat 3W", "--heat: not with a CASE"), ("size -o a.gif", "size writes .json or .txt"),
    ("size --inlet 3K", '--set "outside.temperature=45 degC"'),
    ("size --rise 10", '--rise: "10" has no unit'), ("size -s hopeless", "compartment.box"),
    ("size --flow 10Pa", '--flow: "10Pa" is a pressure'),
    ("sweep warn", 'no [sweep.warn] in the case; did you mean "warm"?'),
    ("sweep --vary fan.*.speed", "KEY=RANGE is wanted"), ("sweep -s cold", "cold"),
    ("sweep --vary fan.*.sped=1", '--vary fan.left.sped: fan has no key "sped"'),
    ("sweep --design latin", "samples: how many?"), ("sweep --samples 9", "samples: a grid has"),
    ("sweep -o a.gif", "sweep writes .csv, .json, .parquet, .nc or .txt"),
    ("sweep --resume", "--resume: only with a file"), ("sweep -o no/a.csv", "no folder no"),
    ("sweep --keep total.nois", 'no result "total.nois"; did you mean "total.noise"?'),
    ("sweep -s hot -s base", "one scenario at a time (got hot, base); -s hot+base"),
    ("sweep --vary fan.*.speed=[1]", "--vary fan.*.speed: stands twice"),
    ("sweep --vary fan.left.speed=[1]", "both stand for fan.left.speed"),
    ("uncertainty --samples 0", "samples: a whole number of 2 to 1 000 000"),
    ("uncertainty --seed x", "--seed"), ("uncertainty -s each-fan-out", "each-fan-out"),
    ("uncertainty --of part.bord.temperature", 'did you mean "part.board.temperature"?'),
    ("uncertainty -s hopeless", "none of 100 samples was solved"),
    *((f"{command} -o - --json -", "cannot both have stdout") for command in WORDS),
]  # fmt: skip


def test_what_is_asked_wrongly_is_said():
    """Exit code 2, heat without a way out too; 4 where a file has no place."""
    codes = {"sweep -o no/a.csv": 4}
    odd = []
    for words, said in WRONG:
        command, *rest = words.split(" ")
        if "--upto= " in words:
            rest = ["--upto", " "]
        result = run(command, *rest)
        told = " ".join(result.stderr.split())
        if (result.exit_code, result.stdout) != (codes.get(words, 2), "") or said not in told:
            odd.append((words, result.exit_code, result.stdout, told))
    assert odd == []


PICTURES = {
    "margins": (), "split": (), "path": ("--of", "left"),
    "matrix": (), "headroom": ("--of", KEY), "rank": ("--of", OF), "uncertainty": SEED,
    "sweep": ("--name", "warm", "--of", OF),
}  # fmt: skip


@pytest.mark.parametrize("name", PICTURES)
def test_the_picture_is_drawn(name, tmp_path):
    words = ("draw", "box.toml", name, *PICTURES[name])
    result = box.run(*words)
    assert (result.exit_code, result.stdout) == (0, "")
    assert result.stderr.endswith(f"wrote box-{name}.svg\n")
    assert os.path.getsize(f"box-{name}.svg") > 5000
    both = box.run(*words, "-s", "base", "-s", "hot", "-q", "-o", "p.png")
    assert (both.exit_code, both.stderr) == (0, "")
    wanted = ["p.png"] if name == "matrix" else ["p-base.png", "p-hot.png"]
    assert sorted(path.name for path in tmp_path.glob("p*.png")) == wanted


def test_a_picture_in_time_takes_what_transient_takes(tmp_path):
    """Events, a day and a start; both say the same first."""
    (tmp_path / "day.csv").write_text("time[h],outside.temperature[degC]\n0,20\n1,34\n")
    for words in (
        ("--event", "60 s: fan.left.state=stopped", "--until", "5 min", "-s", "hot"),
        ("--inputs", "day.csv", "--start", "cold", "--until", "10 min"),
    ):
        result = box.run("draw", "box.toml", "time", *words, "-o", "t.svg", "--force")
        assert result.exit_code == 0, result.stderr
        said = box.run("transient", "box.toml", *words).stdout
        assert result.stderr.splitlines()[0] in " ".join(said.split())


def test_what_has_no_picture_is_said():
    three = ("sweep", "--vary", SPEED, "--vary", LOSS, "--vary", "vent.low.area=60 to 99 cm2 in 2")
    for words, said in (
        (("headroom",), "--of: headroom needs"), (("rank",), "rank needs the result it is about"),
        (("uncertainty",), "--seed: uncertainty needs a whole number"), (three, "got 3"),
        (("map", "--of", OF), "only for path, choice, headroom"),
        (("slot",), "slot: the case has no slot to draw"),
        (("path", "--of", "lft"), 'path: no fan or branch "lft"; did you mean "fan.left"?'),
        (("matrix", "-s", "x"), "x"),
        (("map", "--seed", "1"), "--seed: only for uncertainty"), (("sweep", "--of", "t"), "t"),
        (("map", "--vary", SPEED), "--vary: only for sweep"),
        (("map", "fan-stop"), "TIMELINE: only for time (got map)"),
        (("map", "--until", "9 s"), "--until: only for time (got map)"),
        (("map", "--event", "9 s: a=1"), "--event: only for time (got map)"),
        (("time", "--event", "9 s: fan.left.state=stopped"), "draw: --until: must be given"),
        (("time", "--event", "9 s: fan.lft.state=stopped", "--until", "9 s"), 'no fan "lft"'),
        (("time",), "TIMELINE or --until: must be given"),
        (("time", "x"), "timeline.x: no such timeline"),
        (("time", "x", "-s", "a", "-s", "b"), "-s: time takes one scenario"),
    ):  # fmt: skip
        result = box.run("draw", "box.toml", *words)
        assert result.exit_code == 2, words
        assert said in result.stderr, words


def test_strict_ends_with_1_where_a_limit_breaks():
    broken = ("--set", "part.board.power=600 W")
    for command in ("compare", "headroom", "sweep"):
        assert run(command, "--strict", *broken).exit_code == 1, command
        assert run(command, *broken).exit_code == 0, command
    void = ("--set", "supply.mains.voltage=110 V", "--strict")
    assert run("compare", *void).exit_code == 1
    assert box.run("solve", "box.toml", *void).exit_code == 1
    assert run("headroom", "--strict").exit_code == run("sweep", "--strict").exit_code == 0
    assert run("compare", "--strict", "--set", "outside.temperature=0 degC").exit_code == 0


def test_two_processes_print_the_same_bytes():
    for command in ("compare", "uncertainty"):
        one, two = (run(command, "--all", "-j", jobs).stdout for jobs in (1, 2))
        assert one == two, command
