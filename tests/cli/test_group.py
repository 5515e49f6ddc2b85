"""Help, usage errors and exit codes that every command shares."""

from __future__ import annotations

import importlib
import json
import os
import re
import shlex
import subprocess
import sys
from pathlib import Path

import click
import pytest
from click.shell_completion import ShellComplete

import flownet
from flownet import cli
from flownet.cli import faults, group
from flownet.schema.errors import CaseError, FlownetError, NoSolution
from tests import test_docs
from tests.cli import box
from tests.each import each, named
from tests.forked import Forked

ROOT = Path(__file__).parents[2]


def test_no_words_at_all_print_the_help():
    result = box.run()
    assert result.exit_code == 0
    assert result.stdout == box.run("--help").stdout


def test_help_lists_each_command_and_each_command_exists():
    text = box.run("--help").stdout
    for name, words in group.NAMES.items():
        assert f"  {name} " in text
        assert words in text
        assert importlib.import_module(f"flownet.cli.{name}").command.name == name


def test_every_command_module_is_in_the_help():
    files = {path.stem for path in (ROOT / "flownet" / "cli").glob("*.py")}
    modules = {n for n in files if hasattr(importlib.import_module(f"flownet.cli.{n}"), "command")}
    assert modules == set(group.NAMES)


@each(named(group.NAMES))
def test_help_of_a_command_is_a_sentence_and_an_example(name):
    result = box.run(name, "--help")
    assert result.exit_code == 0
    assert max(map(len, result.stdout.splitlines())) <= 80
    assert "Example" in result.stdout
    assert f"  flownet {name} " in result.stdout
    assert all(len(record) == 2 for record in help_records(name))


def help_records(name):
    """(option, help) of a command; every option must say what it does."""
    command = group.commands.get_command(click.Context(group.commands), name)
    records = [p.get_help_record(click.Context(command)) for p in command.params]
    options = [r for r, p in zip(records, command.params, strict=True) if p.name != "case"]
    return [r for r in options if r is not None and r[1].strip()]


def plainly(line):
    """A command without where its case lies and where its file goes."""
    return tuple(shlex.split(line.replace("cases/", "").partition(" -o ")[0], comments=True))


def examples():
    """Every example of a help text, but those that the pages have too (`tests/test_docs.py`)."""
    docs = test_docs.build()
    blocks = [block for page in test_docs.pages() for block in docs.blocks(test_docs.text(page))]
    run = {plainly(line) for block in blocks for line in docs.commands(block)}
    run |= set(map(plainly, docs.PICTURES.values()))
    helps = [box.run(name, "--help").stdout.splitlines() for name in group.NAMES]
    lines = [line.strip() for text in helps for line in text if line.startswith("    flownet ")]
    return [line for line in lines if plainly(line) not in run]


@pytest.mark.parametrize("line", examples())
def test_examples_of_the_help_run(line):
    result = box.run(*shlex.split(line)[1:])
    assert result.exit_code == 0, result.stderr


def test_version():
    assert box.run("--version").stdout == f"flownet {flownet.__version__}\n"


@each(named([
        (["slove", "x"], 'flownet: no command "slove"; did you mean "solve"?'),
        (["frobnicate"], 'flownet: no command "frobnicate"; there are new, check, show'),
        (["box.toml"], 'flownet: the command comes first; did you mean "flownet solve box.toml"?'),
        (["--trace"], 'flownet: no option "--trace" here; options stand after the command'),
        (["solve"], "flownet solve: CASE is missing; see flownet solve --help"),
        (["solve", "x", "--unit", "us"], 'flownet solve: no option "--unit"; did you mean "--un'),
        (["solve", "x", "--units", "si"], "flownet solve: --units: 'si' is not one of 'metric', "),
        (["solve", "x", "y"], "flownet solve: got unexpected extra argument (y)"),
        (["solve", "x", "--set", "speed"], "flownet solve: --set: KEY=VALUE is wanted, such as"),
        (["solve", "x", "--set", "a="], "flownet solve: --set: KEY=VALUE is wanted, such as"),
    ]), "words said")  # fmt: skip
def test_wrong_usage_is_said_in_one_line(words, said):
    result = box.run(*words)
    assert result.exit_code == 2
    assert result.stdout == ""
    assert result.stderr.startswith(said)
    assert result.stderr.count("\n") == 1


@each(named([("draw map telecom-shelf -q", "draw telecom-shelf map -q"),
    ("draw map", "draw CASE map"), ("choose fan.rear bench-supply --frame any",
    "choose bench-supply fan.rear --frame any"),
    ("headroom filter.mat.fouling telecom-shelf",
    "headroom telecom-shelf filter.mat.fouling"),
    ("sweep fouling drive-cabinet -s hot", "sweep drive-cabinet fouling -s hot"),
    ("show fan.left drive-cabinet", "show drive-cabinet fan.left")]), "words meant")  # fmt: skip
def test_a_case_behind_its_subject_is_told_the_right_order(words, meant):
    result = box.run(*words.split())
    assert (result.exit_code, result.stdout) == (2, "")
    assert result.stderr == f"flownet: CASE comes first; write: flownet {meant}\n"
    if "CASE" not in meant and "draw" not in meant:
        assert "comes first" not in box.run(*meant.split()).stderr


@each(named(["headroom telecom-shelf", "draw no-case", "sweep no-case"]), "words")
def test_no_order_is_proposed_where_another_thing_is_wrong(words):
    result = box.run(*words.split())
    assert result.exit_code == 2
    assert "comes first" not in result.stderr
    assert "a fault of flownet itself" not in result.stderr


# --- exit codes --------------------------------------------------------------------------------


class Refused(FlownetError, OSError):  # noqa: N818 - named as ours are
    """As a file that cannot be written."""


@pytest.mark.parametrize(("error", "code", "words"),
    [(CaseError("fan.left: wrong"), 2, "fan.left: wrong\n"),
    (CaseError(["a: wrong", "b: wrong"]), 2, "a: wrong\nb: wrong\n2 faults\n"),
    (NoSolution("residual 4.1 Pa at filter.x"), 3,
    "no solution: residual 4.1 Pa at filter.x\n"),
    (Refused("out.json: exists"), 4, "out.json: exists\n"),
    (PermissionError(13, "Permission denied", "out.json"), 4,
    "out.json: permission denied\n"), (FlownetError("cannot"), 2, "cannot\n"),
    (KeyboardInterrupt(), 130, "flownet: interrupted; run the same command again\n"),
    (faults.Interrupted("the rest: -s hot"), 130,
    "flownet: interrupted; the rest: -s hot\n")])  # fmt: skip
def test_what_is_raised_becomes_words_and_a_code(error, code, words, capsys):
    def work():
        raise error

    assert faults.guarded(work, trace=False) == code
    captured = capsys.readouterr()
    assert captured.err == words
    assert captured.out == ""


def test_a_bug_is_owned_and_trace_shows_it(capsys):
    def work():
        raise ZeroDivisionError("oops")

    assert faults.guarded(work, trace=False) == 70
    plain = capsys.readouterr().err
    assert "not of your case: ZeroDivisionError: oops" in plain
    assert "Traceback" not in plain
    assert faults.guarded(work, trace=True) == 70
    assert "Traceback" in capsys.readouterr().err


# --- as a process ------------------------------------------------------------------------------


def process(*words, **options):
    env = os.environ | {"PYTHONPATH": str(ROOT), "OMP_NUM_THREADS": "1", "NO_COLOR": "1"}
    return subprocess.run(
        [sys.executable, *words], env=env, capture_output=True, text=True, check=False, **options
    )


HEAVY = ("scipy.stats", "pandas", "fluids", "ht", "matplotlib", "rich", "jinja2", "pint")


LOADING = """
import contextlib, io, json, sys
from flownet.cli import main
for words in json.loads(sys.argv[1]):
    sys.argv[1:] = words
    with contextlib.redirect_stdout(io.StringIO()), contextlib.suppress(SystemExit):
        main()
    print(*sys.modules)
"""
LOADED = ((  # commands in the order of what they need, each in the process of those before it
    (["--version"], (*HEAVY, "numpy", "flownet.schema.component")),
    (["--help"], (*HEAVY, "numpy", "scipy", "networkx", "flownet.results.solution")),
    (["show", "BOX"], (*HEAVY, "scipy", "networkx")),
), (
    (["check", "BOX"], (*HEAVY, "flownet.pictures.map", "flownet.findings")),
    (["solve", "BOX", "--json", "-"], (*HEAVY, "networkx")),
    (["solve", "BOX"], (*HEAVY, "networkx", "flownet.pictures.map", "flownet.cli.draw")),
), (
    (["explain", "fan.speed"], (*HEAVY, "flownet.solving.solve", "flownet.equations.state")),
))  # fmt: skip


@pytest.mark.parametrize("commands", LOADED)
def test_a_command_imports_only_what_it_needs(commands, tmp_path):
    case = str(box.written(tmp_path, box.SOUND))
    lines = [[case if word == "BOX" else word for word in words] for words, _ in commands]
    told = process("-c", LOADING, json.dumps(lines)).stdout.splitlines()
    assert len(told) == len(commands)
    for (words, never), loaded in zip(commands, told, strict=True):
        odd = [n for n in loaded.split() for no in never if n == no or n.startswith(no + ".")]
        assert not odd, words
    assert "flownet.enclosure.enclosure" in told[-1]


@each(named(["--help", "solve BOX --all", "solve BOX --json -"]), "words")
def test_a_reader_that_stops_early_is_no_error(words, tmp_path):
    reader, writer = os.pipe()
    words = words.replace("BOX", str(box.written(tmp_path))).split()
    made = Forked(words, stdout=writer)
    os.close(reader)
    os.close(writer)
    assert (made.communicate()[1], made.returncode) == ("", 0)


def test_a_reader_that_stops_early_takes_no_file_away(tmp_path):
    """`flownet solve BOX --json it.json | head -1`."""
    reader, writer = os.pipe()
    made = Forked(["solve", str(box.written(tmp_path)), "--all", "--json", f"{tmp_path}/it.json"],
                  stdout=writer)  # fmt: skip
    os.close(reader)
    os.close(writer)
    assert (made.communicate()[1], made.returncode) == ("", 0)
    assert json.loads((tmp_path / "it.json").read_text())["balance"]


def without_stdout():
    """As a shell starts it with `>&-`."""
    os.close(1)
    sys.stdout = None


@each(named([("solve BOX --json -", 4, "output: is closed\n"),
    ("draw BOX network -o -", 4, "output: is closed\n"),
    ("solve BOX -o DIR/page.txt", 0, "wrote DIR/page.txt\n")]), "words code said")  # fmt: skip
def test_a_closed_stdout_is_said_where_it_is_needed(words, code, said, tmp_path):
    words, said = (text.replace("DIR", str(tmp_path)) for text in (words, said))
    words = words.replace("BOX", str(box.written(tmp_path))).split()
    made = Forked(words, first=without_stdout)
    assert (made.communicate()[1], made.returncode) == (said, code)


@pytest.mark.parametrize(("stream", "code", "said"), [
    ("| true", 0, ""), (">&-", 4, "output: is closed\n"),
    pytest.param("> /dev/full", 4, "output: no space left on device\n", marks=pytest.mark.skipif(
        not os.path.exists("/dev/full"), reason="needs a device that is full")),
])  # fmt: skip
def test_a_shell_sees_how_a_page_ends_that_goes_nowhere(stream, code, said, tmp_path):
    """A real interpreter from its start to its end; the others above are forks of this one."""
    command = f"{sys.executable} -m flownet solve {box.written(tmp_path)} {stream}"
    env = os.environ | {"PYTHONPATH": str(ROOT), "OMP_NUM_THREADS": "1"}
    result = subprocess.run(
        ["bash", "-o", "pipefail", "-c", command], env=env, capture_output=True, text=True,
        check=False,
    )  # fmt: skip
    assert (result.returncode, result.stderr) == (code, said)


def test_help_names_every_exit_code():
    text = box.run("--help").stdout
    codes = text[text.index("Exit codes:") : text.index("Options:")]
    named = {int(number) for number in re.findall(r"\b\d+\b", codes)}
    assert named == {
        faults.DONE, faults.STRICT, faults.INPUT, faults.UNSOLVED, faults.UNWRITTEN, faults.BUG,
        faults.INTERRUPTED,
    }  # fmt: skip


def test_an_interrupt_ends_with_130(tmp_path, monkeypatch):
    def stopped(case, **rest):
        raise KeyboardInterrupt

    monkeypatch.setattr("flownet.cli.solving.solve", stopped)
    result = box.run("solve", box.written(tmp_path))
    assert (result.exit_code, result.stdout) == (130, "")
    assert result.stderr == "flownet: interrupted; run the same command again\n"


def test_a_title_does_not_steer_the_terminal(tmp_path):
    title = r"Test \u001b]0;x\u0007 \u009b2J \rbox"
    case = box.written(tmp_path, box.CASE.replace("Test box", title))
    result = box.run("solve", case)
    assert result.exit_code == 0
    assert result.stdout.startswith("Test ]0;x 2J box ")


def test_signs_that_the_terminal_lacks_do_not_stop_it(tmp_path):
    case = box.written(tmp_path, box.CASE.replace("Test box", "Resistor 5 Ω"))
    told = tmp_path / "told"
    with told.open("wb") as stream:
        made = Forked(["solve", case], stdout=stream.fileno(), first=lambda: sys.stdout.reconfigure(
            encoding="cp1252"))  # fmt: skip
    made.communicate()
    assert made.returncode == 0
    assert told.read_bytes().startswith(b"Resistor 5 ?")


def completed(folder, line):
    """What a shell would offer at the end of a line."""
    box.written(folder)
    *words, last = line.split(" ")[1:]
    made = ShellComplete(group.commands, {}, group.PROGRAM, group.COMPLETE)
    return [item.value for item in made.get_completions(words, last)]


def test_a_shell_is_told_the_names_of_a_case(tmp_path):
    assert "_FLOWNET_COMPLETE" in box.run("--completion", "zsh").stdout
    box.written(tmp_path)
    line = "flownet solve box.toml -v o"
    env = {"_FLOWNET_COMPLETE": "bash_complete", "COMP_WORDS": line,
           "COMP_CWORD": str(line.count(" "))}  # fmt: skip
    assert Forked(folder=tmp_path, env=env).communicate()[0] == "plain,open\n"


@each(named([("flownet so", ["solve"]),
    ("flownet solve box.toml -s ho", ["hot", "hopeless"]),
    ("flownet solve box.toml -s hot+fan.l", ["hot+fan.left-out"]),
    ("flownet solve box.toml -s each", ["each-fan-out", "each-supply-out"]),
    ("flownet solve box.toml -v o", ["open"]),
    ("flownet solve box.toml --set fan.left.sp", ["fan.left.speed"]),
    ("flownet show box.toml part", ["part.board"]),
    ("flownet solve box.toml --unit", ["--units"]),
    ("flownet draw box.toml m", ["map"])]), "line offered")  # fmt: skip
def test_names_of_the_case_are_completed(line, offered, tmp_path):
    found = completed(tmp_path, line)
    assert [name for name in offered if name in found] == offered
    last = line.rpartition(" ")[2]
    assert all(name.startswith(last) for name in found)


def test_a_case_with_faults_completes_nothing(tmp_path):
    box.written(tmp_path, "format = 1\n[fan.left]\n")
    (tmp_path / "box.toml").rename(tmp_path / "bad.toml")
    assert completed(tmp_path, "flownet solve bad.toml -s h") == []


def test_an_interrupt_while_modules_are_loaded_ends_with_130_and_no_traceback(monkeypatch):
    class Loading:
        def __getattr__(self, _):
            raise KeyboardInterrupt

    monkeypatch.setitem(sys.modules, "flownet.cli.group", Loading())
    with pytest.raises(SystemExit) as ended:
        cli.main()
    assert ended.value.code == 130
