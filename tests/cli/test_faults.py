"""Long work that is stopped, killed, started twice or short of room: nothing is lost or cut."""

from __future__ import annotations

import os
import re
import resource
import signal
import subprocess
import sys
import time
from multiprocessing import active_children
from pathlib import Path

import pytest

from flownet.cli import solving, workers
from flownet.cli.screen import Screen
from flownet.studies import sweep_rows
from flownet.studies import sweep_stream as stream
from tests.cli import box
from tests.forked import Forked

ROOT = Path(__file__).parents[2]
MANY = ("--vary", "fan.*.speed=0.5 to 1.0 in 150", "--vary", "vent.low.area=60 to 99 cm2 in 40")
ROWS, BLOCK = 6_000, 512  # so that several blocks are made in a short time
ENV = os.environ | {"PYTHONPATH": str(ROOT), "OMP_NUM_THREADS": "1"}
HEARING = (  # what runs in the background may have been told not to hear Ctrl-C
    "import signal; signal.signal(signal.SIGINT, signal.default_int_handler); "
    f"from flownet.studies import sweep_rows; sweep_rows.LARGEST_BLOCK = {BLOCK}; "
    "from flownet.cli import main; main()"
)
ONE_CORE = "-j 2: this process may use 1 core; as many processes solve\n"
SESSIONS = pytest.mark.skipif(
    not Path("/proc/self/stat").exists(), reason="the processes of a session stand in /proc"
)


def started(case, out, *words):
    """The command as a process, in a session of its own, which a signal can reach."""
    words = ("sweep", case, *MANY, "-o", out, *words)
    if "-j" not in words:
        return Forked(words, first=lambda: setattr(sweep_rows, "LARGEST_BLOCK", BLOCK))
    return subprocess.Popen(
        [sys.executable, "-c", HEARING, *map(str, words)],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env=ENV, cwd=ROOT,
        start_new_session=True,
    )  # fmt: skip


def until(what, process=None):
    """Wait for it; a process that should be at work still is."""
    end = time.monotonic() + 60
    while not (found := what()):
        assert process is None or process.poll() is None, process.communicate()
        assert time.monotonic() < end
        time.sleep(0.005)
    return found


def some_rows(process, out):
    """Wait until some block is whole."""
    until(lambda: (left := stream.kept(out)) is not None and left.rows, process)


def ended(process):
    """Exit code and stderr."""
    _, told = process.communicate(timeout=60)
    return process.returncode, told


def members(session):
    """The processes of a session that have not ended, and the parent of each."""
    found = {}
    for path in Path("/proc").glob("[0-9]*/stat"):
        try:
            state, parent, _, own = path.read_text().rpartition(")")[2].split()[:4]
        except OSError:  # gone meanwhile
            continue
        if int(own) == session and state != "Z":
            found[int(path.parent.name)] = int(parent)
    return found


@pytest.fixture(scope="module")
def whole(tmp_path_factory):
    """Case and file of a sweep that nothing stopped."""
    folder = tmp_path_factory.mktemp("whole")
    path = box.written(folder, box.SOUND)
    assert ended(started(path, folder / "whole.csv")) == (0, f"wrote {folder / 'whole.csv'}\n")
    return path, (folder / "whole.csv").read_bytes()


def gone_on(case, out, wanted):
    """The same command ends the work, to the same bytes."""
    assert ended(started(case, out, "--resume")) == (0, f"wrote {out}\n")
    assert out.read_bytes() == wanted
    assert wanted.count(b"\n") == ROWS + 2
    assert [path.name for path in out.parent.iterdir()] == [out.name]


# --- stopped and killed ---------------------------------------------------------------------------


@pytest.mark.parametrize("how", [signal.SIGINT, signal.SIGKILL])
def test_an_interrupted_command_goes_on_and_ends_the_same(whole, tmp_path, how):
    case, wanted = whole
    out = tmp_path / "cut.csv"
    process = started(case, out)
    some_rows(process, out)
    process.send_signal(how)
    code, told = ended(process)
    rows = stream.kept(out).rows
    assert 0 < rows < ROWS
    assert rows % BLOCK == 0
    assert not out.exists()
    if how == signal.SIGINT:
        assert (code, told) == (130, f"flownet: interrupted; {rows} rows are kept in {out}.part; "
                                "go on with the same command and --resume\n")  # fmt: skip
    code, told = ended(started(case, out))
    assert code == 4  # rows that took time are not thrown away
    assert "go on with --resume" in told
    gone_on(case, out, wanted)


@SESSIONS
@pytest.mark.parametrize(
    ("how", "all_hear"),
    [(signal.SIGINT, True), (signal.SIGTERM, False), (signal.SIGKILL, False)],
)
def test_workers_end_with_their_command_and_say_nothing(whole, tmp_path, how, all_hear):
    """Ctrl-C reaches every process of a terminal; what ends the command alone ends them too."""
    out = tmp_path / "cut.csv"
    process = started(whole[0], out, "-j", "2")
    some_rows(process, out)
    (os.killpg if all_hear else os.kill)(process.pid, how)
    told = process.stderr.read()
    process.wait(timeout=60)
    until(lambda: not members(process.pid))
    process.stdout.close()
    process.stderr.close()
    if how == signal.SIGKILL:  # the tracker of shared objects may have a word
        assert "Traceback" not in told
    else:
        rows = stream.kept(out).rows
        alone, told = told.rpartition(ONE_CORE)[1:]
        assert bool(alone) == (workers.usable() == 1)
        assert (process.returncode, told) == (130, f"flownet: interrupted; {rows} rows are kept in "
            f"{out}.part; go on with the same command and --resume\n")  # fmt: skip
    code, told = ended(started(whole[0], out))  # nobody holds the lock
    assert code == 4
    assert "go on with --resume" in told


@SESSIONS
@pytest.mark.skipif(workers.usable() < 2, reason="workers are for several cores; here is one")
def test_a_killed_worker_is_said_with_its_block_and_how_to_go_on(whole, tmp_path):
    case, wanted = whole
    out = tmp_path / "cut.csv"
    process = started(case, out, "-j", "2")
    some_rows(process, out)
    family = members(process.pid)
    worker = next(pid for pid, parent in family.items() if family.get(parent) == process.pid)
    os.kill(worker, signal.SIGKILL)
    code, told = ended(process)
    rows = stream.kept(out).rows
    assert code == 130
    assert told.count("\n") == 1
    assert f"before the block of rows {rows + 1} to {min(rows + BLOCK, ROWS)} of {ROWS}" in told
    assert f"--resume (resume=True): {rows} rows are kept in {out}.part" in told
    gone_on(case, out, wanted)


# --- twice at once --------------------------------------------------------------------------------


def test_a_second_sweep_to_the_same_file_refuses_and_the_first_is_whole(whole, tmp_path):
    case, wanted = whole
    out = tmp_path / "both.csv"
    first = started(case, out)
    some_rows(first, out)
    first.send_signal(signal.SIGSTOP)  # so that it is still at work when the others have ended
    for words in ((), ("--resume",), ("--force",)):
        code, told = ended(started(case, out, *words))
        assert code == 4
        assert told.startswith(f"{out}: another sweep is writing both.csv.part at this moment; ")
    first.send_signal(signal.SIGCONT)
    assert ended(first) == (0, f"wrote {out}\n")
    assert out.read_bytes() == wanted
    assert [path.name for path in tmp_path.iterdir()] == ["both.csv"]


# --- how many -------------------------------------------------------------------------------------


@pytest.mark.parametrize(("jobs", "taken", "said"), [
    (0, 3, ""),
    (2, 2, ""),
    (100_000, 3, "-j 100000: this process may use 3 cores; as many processes solve\n"),
])  # fmt: skip
def test_no_more_processes_than_cores(jobs, taken, said, monkeypatch, capsys):
    seen = []
    monkeypatch.setattr(workers, "usable", lambda: 3)
    monkeypatch.setattr(workers, "pool", lambda most: seen.append(most) or _Nothing())
    with solving.working("pairs solved", jobs, Screen(80, False, False)):
        pass
    assert seen == [taken]
    assert capsys.readouterr().err == said


class _Nothing:
    def __enter__(self):
        return None

    def __exit__(self, *_):
        return None


@pytest.mark.skipif(not hasattr(os, "sched_getaffinity"), reason="cores are not given to processes")
def test_the_cores_are_those_of_the_process(monkeypatch):
    monkeypatch.setattr(os, "sched_getaffinity", lambda _: {4, 7})
    assert workers.usable() == 2


def test_no_more_processes_than_blocks():
    with workers.pool(6) as executor:
        assert list(executor.map(abs, [-1, -2])) == [1, 2]
        assert len(active_children()) <= 2


# --- no room --------------------------------------------------------------------------------------


def on_a_small_disk(folder, kilobytes, *commands):
    """One after the other, in a folder with so much room; skipped where none is."""
    mount = f"mount -t tmpfs -o size={kilobytes}k none {folder}"
    inside = ["unshare", "--user", "--map-root-user", "--mount", "bash", "-c"]
    tried = subprocess.run([*inside, mount], capture_output=True, text=True, check=False)
    if tried.returncode:
        pytest.skip(f"no small disk can be mounted here: {tried.stderr.strip()}")
    program = f'{mount}; cd {folder}; exec {sys.executable} -m tests.forked "$@"'
    result = subprocess.run(
        [*inside, program, "bash", *commands], capture_output=True, text=True, check=False, env=ENV
    )
    return result.stdout, result.stderr


@pytest.mark.parametrize("suffix", ["csv", "nc"])
def test_a_sweep_that_fills_the_disk_goes_on_when_there_is_room(tmp_path, suffix):
    """9,000 rows are three blocks; the disk holds the first two, then all, then other forms too."""
    case, small = box.written(tmp_path, box.SOUND), tmp_path / "small"
    small.mkdir()
    sweep = (f"flownet sweep {case} --vary 'fan.*.speed=0.5 to 1.0 in 90' --vary "
             f"'vent.low.area=60 to 99 cm2 in 100' -q -o a.{suffix}")  # fmt: skip
    out, told = on_a_small_disk(
        small, 1200, sweep, "ls", "mount -o remount,size=1400k .", f"{sweep} --resume",
        "mount -o remount,size=9999k .", f"{sweep} --resume", "ls",
    )  # fmt: skip
    first, *more = told.splitlines()
    assert re.fullmatch(
        rf"a\.{suffix}: cannot be written: no space left on device \(\d+ bytes wanted, \d+ free\); "
        r"make room, then go on with the same command and --resume \(resume=True\): 8192 rows are "
        rf"kept in a\.{suffix}\.part", first
    )  # fmt: skip
    code = 0 if suffix == "csv" else 4
    assert out.split() == ["4", f"a.{suffix}.part", f"a.{suffix}.part.json", str(code), "0",
                           f"a.{suffix}"]  # fmt: skip
    assert len(more) == (code == 4)
    assert all("more than" in line and "9000 rows are kept" in line for line in more)


def test_new_leaves_nothing_on_a_full_disk(tmp_path):
    out, told = on_a_small_disk(tmp_path, 8, "flownet new shelf --like telecom-shelf", "ls")
    assert out == "4\n"
    assert re.match(r"shelf/fans\.toml: cannot be written: no space left on device \(\d+ bytes "
                    r"wanted, 0 free\); make room", told)  # fmt: skip


@pytest.mark.parametrize(
    "words",
    ["sweep BOX --vary fan.left.speed=[0.5,1.0] -o a.nc", "draw BOX map -o a.svg", "new shelf",
     "sweep BOX --vary fan.left.speed=[0.5,1.0] -o a.csv", "solve BOX --json a.json"],
)  # fmt: skip
def test_a_file_that_may_not_grow_leaves_nothing(words, tmp_path):
    """The limit of the system on the size of files, which needs no disk of its own."""
    case = box.written(tmp_path, box.SOUND)
    work = tmp_path / "work"
    work.mkdir()
    limits = resource.getrlimit(resource.RLIMIT_FSIZE)[1]
    with open(os.devnull, "w") as nowhere:
        code, told = ended(Forked(
            words.replace("BOX", str(case)).split(), work, stdout=nowhere.fileno(),
            first=lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (1024, limits)),
        ))  # fmt: skip
    assert code == 4
    assert told.count("\n") == 1
    assert re.search(r"cannot be written: .*\(.*\d+ bytes wanted", told)
    assert list(work.iterdir()) == []


@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="needs a device that is full")
@pytest.mark.parametrize(
    ("words", "code"), [("solve BOX -s no-such", 2), ("solve BOX", 0), ("new shelf", 0)]
)
def test_a_full_stderr_changes_no_exit_code(words, code, tmp_path):
    command = words.replace("BOX", str(box.written(tmp_path, box.SOUND)))
    with open("/dev/full", "w") as full:
        assert ended(Forked(command.split(), tmp_path, stderr=full.fileno()))[0] == code
