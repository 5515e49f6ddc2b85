"""Runs test files in processes of their own, with a fault in one module or with none.

The fault stands in no file: an import hook hands the changed source to the process that was
started for it. Heavy libraries are imported once, before any of those processes.
"""

from __future__ import annotations

import importlib.abc
import importlib.machinery
import json
import os
import re
import signal
import sys
import tempfile
import time
from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from functools import cache
from hashlib import sha256
from itertools import islice
from pathlib import Path
from typing import Any, NamedTuple, TypeVar

import pytest

from tests import each

HEAVY = ("numpy", "scipy.optimize", "scipy.integrate", "scipy.interpolate", "scipy.sparse.linalg",
         "scipy.stats", "networkx", "fluids", "ht", "click", "rich.console")  # fmt: skip
T = TypeVar("T")
# Of how something is said, and guards of our own output.
PROSE = re.compile(
    r"regression_guard|repr|html|sentence|one_line|says_itself|speaks|reads_well|has_all_texts|_page"
)
POLL = 0.02  # s


class Covered(NamedTuple):
    """A test file that passes without any fault."""

    file: str
    seconds: float
    # Of each test, by its id, the functions it calls (file below the root, first line); of "" those
    # that are called before any, or for several.
    functions: dict[str, frozenset[tuple[str, int]]]

    def calling(self, function: tuple[str, int]) -> list[str]:
        """The tests that call a function; "" where it may matter to all."""
        return [test for test, called in self.functions.items() if function in called]


class Child:
    """One process that runs some test files; `code` is None while it runs."""

    def __init__(self, work: Callable[[], int], limit: float) -> None:
        self.started, self.limit = time.monotonic(), limit
        self.code: int | None = None
        self.pid = os.fork()
        if self.pid == 0:
            _alone(work)

    @property
    def seconds(self) -> float:
        return time.monotonic() - self.started

    def poll(self) -> bool:
        """Whether it has ended; one that takes too long is ended and counts as failed."""
        if self.code is None and self.seconds > self.limit:
            os.killpg(self.pid, signal.SIGKILL)
            os.waitpid(self.pid, 0)
            self.code = 124
        elif self.code is None:
            pid, status = os.waitpid(self.pid, os.WNOHANG)
            if pid:
                self.code = os.waitstatus_to_exitcode(status)
        return self.code is not None


def prepare() -> None:
    """Import what every run needs, none of it from this project."""
    for name in HEAVY:
        importlib.import_module(name)


def covered(root: Path, files: Sequence[str], jobs: int) -> dict[str, Covered]:
    """What test files call, by name: each is run without a fault, so many at a time.

    Kept beside other temporary files until the package, the file or what tests share changes.

    Raises
    ------
    RuntimeError
        For files that fail, once all have run.
    """
    kept = {file: _kept(root, file) for file in files}
    unknown = [(file, path) for file, path in kept.items() if not path.exists()]
    runs = ((file, _tracing(root, file, path)) for file, path in unknown)
    if failed := [file for file, child in side_by_side(runs, jobs) if child.code]:
        raise RuntimeError(f"{', '.join(failed)}: fails without any fault")
    return {file: _read(file, path) for file, path in kept.items()}


def side_by_side(
    runs: Iterable[tuple[T, Callable[[], Child]]], jobs: int
) -> Iterator[tuple[T, Child]]:
    """Start so many runs at a time; each with its name, once it has ended."""
    waiting, running = iter(runs), list[tuple[T, Child]]()
    while True:
        running += [(name, start()) for name, start in islice(waiting, jobs - len(running))]
        if not running:
            return
        for name, child in [one for one in running if one[1].poll()]:
            running.remove((name, child))
            yield name, child
        time.sleep(POLL)


def faulty(
    files: Sequence[str], first: Collection[str], module: str, source: str, limit: float
) -> Child:
    """Start the test files with the source of one module changed: some tests, then the rest, which
    may see what those have left."""

    def work() -> int:
        sys.meta_path.insert(0, _Changed(module, source))
        return tests(files, _Chosen(first)) or tests(files, _Chosen(first, rest=True))

    return Child(work, limit)


def tests(files: Sequence[str], chosen: _Chosen) -> int:
    """Exit code of tests in these files, stopped at the first failure."""
    each.FIRST[0] = True
    options = ("-q", "-x", "--no-header", "-p", "no:cacheprovider", "-p", "no:faulthandler")
    code = pytest.main([*options, *files], plugins=[chosen])
    return 0 if code == pytest.ExitCode.NO_TESTS_COLLECTED else int(code)


class _Chosen:
    """A plugin that takes tests of how something is said out of a run, and runs some of the others,
    or the rest; while one runs, its id is `now`."""

    def __init__(self, some: Collection[str] = (), rest: bool = False) -> None:
        self.some, self.rest, self.now = some, rest, ""

    def pytest_collection_modifyitems(self, items: list[Any]) -> None:
        items[:] = [item for item in items if not PROSE.search(item.name.partition("[")[0])
                    and (item.nodeid in self.some) != self.rest]  # fmt: skip

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_call(self, item: Any) -> Iterator[None]:
        self.now = item.nodeid
        try:
            return (yield)
        finally:
            self.now = ""


class _Changed(importlib.abc.MetaPathFinder, importlib.abc.SourceLoader):
    """Finds one module in a text instead of its file."""

    def __init__(self, module: str, source: str) -> None:
        self.module, self.source = module, source.encode()
        self.path = ""

    def find_spec(self, name: str, path: Any, target: Any = None) -> Any:
        if name != self.module:
            return None
        found = importlib.machinery.PathFinder.find_spec(name, path)
        assert found is not None
        assert found.origin is not None
        self.path = found.origin
        places = found.submodule_search_locations
        spec = importlib.machinery.ModuleSpec(
            name, self, origin=self.path, is_package=places is not None
        )
        spec.submodule_search_locations = places
        spec.has_location = True
        return spec

    def get_filename(self, fullname: str) -> str:
        return self.path

    def get_data(self, path: str) -> bytes:
        if path != self.path:  # nothing compiled before
            raise OSError(path)
        return self.source


def _alone(work: Callable[[], int]) -> None:
    """The life of a child: its own group, no output, no way back into the parent."""
    os.setsid()
    silent = os.open(os.devnull, os.O_WRONLY)
    os.dup2(silent, 1)
    os.dup2(silent, 2)
    code = 70
    try:
        code = work()
    finally:
        os._exit(code)


def _tracing(root: Path, file: str, seen: Path) -> Callable[[], Child]:
    return lambda: Child(lambda: _traced(root, file, seen), 1800.0)


def _traced(root: Path, file: str, seen: Path) -> int:
    called = defaultdict[str, dict[int, Any]](dict)  # by identity: to hash code is dear
    every = _Chosen(rest=True)

    def note(frame: Any, event: str, argument: Any) -> None:
        called[every.now][id(frame.f_code)] = frame.f_code

    began = time.monotonic()
    sys.settrace(note)
    code = tests([file], every)
    sys.settrace(None)
    package = str(root / "flownet") + os.sep
    below = {test: [(str(Path(own.co_filename).relative_to(root)), own.co_firstlineno)
                    for own in some.values() if own.co_filename.startswith(package)]
             for test, some in called.items()}  # fmt: skip
    if code == 0:
        seen.write_text(json.dumps([time.monotonic() - began, below]))
    return code


def _kept(root: Path, file: str) -> Path:
    """Where it stands what a test file calls: another place where anything in it may differ."""
    folder = Path(tempfile.gettempdir()) / f"mutants-by-test-{os.getuid()}-{_shared(root)}"
    folder.mkdir(exist_ok=True)
    return folder / f"{sha256(file.encode() + (root / file).read_bytes()).hexdigest()}.json"


@cache
def _shared(root: Path) -> str:
    """Of the package and of what several test files use."""
    found = [path for folder in ("flownet", "tests", "cases") for path in (root / folder).rglob("*")
             if path.suffix in {".py", ".toml", ".json"}]  # fmt: skip
    shared = sorted(path for path in found if not path.name.startswith("test_")
                    and "mutants" not in path.parts)  # fmt: skip
    whole = b"".join(bytes(path.relative_to(root)) + path.read_bytes() for path in shared)
    return sha256(whole).hexdigest()[:16]


def _read(file: str, seen: Path) -> Covered:
    seconds, called = json.loads(seen.read_text())
    return Covered(file, seconds, {test: frozenset((name, line) for name, line in some)
                                   for test, some in called.items()})  # fmt: skip
