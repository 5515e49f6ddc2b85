"""Rebuilds what is generated in the docs: tables, command output, findings, the map.

    python docs/build.py            rewrite every page that is out of date
    python docs/build.py --check    say which pages are out of date, write nothing
    python docs/build.py PAGE ...   only these pages (README.md, docs/validation.md, ...)
    python docs/build.py --expected   rewrite cases/*/expected.toml, the regression guard

A page keeps its hand-written text. Replaced are the lines between `<!-- generated: NAME -->` and
`<!-- end -->`, and what follows each `$ command` of a `console` block, by really running it in an
empty folder that holds the demo cases (`console quiet`: it is run, the output is not shown).
"""

from __future__ import annotations

import argparse
import os
import re
import shlex
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator, Sequence
from contextlib import chdir, contextmanager
from itertools import zip_longest
from math import isclose
from pathlib import Path
from typing import NamedTuple

ROOT = Path(__file__).resolve().parents[1]
sys.path[:0] = [str(ROOT), str(ROOT / "docs")]

import build_tables  # noqa: E402 - needs the path above

MAP = "docs/drive-cabinet-map.svg"
MAP_COMMAND = f"flownet draw cases/drive-cabinet -s hot+dirty+fan.right-out -o {MAP} --force"
CURVES = "docs/drive-cabinet-curves.svg"
FAN_CURVE = "docs/fan-curve.svg"
MATRIX = "docs/telecom-shelf-matrix.svg"
CHOICE = "docs/telecom-shelf-choose.svg"
FRONT = "docs/drive-cabinet-choice.svg"
HEADROOM = "docs/drive-cabinet-headroom.svg"
SWEEP = "docs/drive-cabinet-sweep.svg"
UNCERTAINTY = "docs/drive-cabinet-uncertainty.svg"
OUT = "-s hot+dirty+fan.left-out"
SINGLE = {  # of one solution: CASE-NAME.svg
    "drive-cabinet margins": OUT, "drive-cabinet split": OUT,
    "drive-cabinet path": "-s hot+dirty", "telecom-shelf slot": OUT,
}  # fmt: skip
PICTURES = {
    MAP: MAP_COMMAND,
    MATRIX: f"flownet draw cases/telecom-shelf matrix -o {MATRIX} --force",
    CHOICE: 'flownet draw cases/telecom-shelf choose --fan "fan.*" --catalogue fan-catalogue '
    f"-o {CHOICE} --force",
    FRONT: f"flownet draw cases/drive-cabinet choice --of places -o {FRONT} --force",
    FAN_CURVE: f"flownet draw cases/fan-catalogue/read-off.csv curves -o {FAN_CURVE} --force",
    HEADROOM: "flownet draw cases/drive-cabinet headroom --of filter.intake.fouling -s hot "
    f"-o {HEADROOM} --force",
    SWEEP: "flownet draw cases/drive-cabinet sweep "
    '--vary "fan.*.speed=0.5 to 1.0 in 21" --vary "outside.temperature=25 to 50 degC in 21" '
    f"-o {SWEEP} --force",
    UNCERTAINTY: "flownet draw cases/drive-cabinet uncertainty --seed 1 -s hot+dirty "
    f"-o {UNCERTAINTY} --force",
    CURVES: f"flownet draw cases/drive-cabinet curves -s hot -o {CURVES} --force",
    **{(file := f"docs/{name.replace(' ', '-')}.svg"):
       f"flownet draw cases/{name} {words} -o {file} --force" for name, words in SINGLE.items()},
}  # fmt: skip
PAGES = (
    "README.md",
    "DEVELOPERS.md",
    "docs/case-format.md",
    "docs/choose-fan.md",
    "docs/choose.md",
    "docs/cluster.md",
    "docs/collect.md",
    "docs/compare.md",
    "docs/curves.md",
    "docs/decide.md",
    "docs/export.md",
    "docs/fan-curve.md",
    "docs/first-case.md",
    "docs/fitting.md",
    "docs/headroom.md",
    "docs/in-time.md",
    "docs/installation.md",
    "docs/keys.md",
    "docs/measured.md",
    "docs/mistakes.md",
    "docs/noise-and-life.md",
    "docs/nomenclature.md",
    "docs/pictures.md",
    "docs/rank.md",
    "docs/recipes.md",
    "docs/review.md",
    "docs/size.md",
    "docs/solver.md",
    "docs/speed-control.md",
    "docs/suggest.md",
    "docs/sweep.md",
    "docs/theory.md",
    "docs/troubles.md",
    "docs/uncertainty.md",
    "docs/validation.md",
    "docs/which-number.md",
    "docs/findings.md",
    *(f"cases/{name}/README.md" for name in sorted(p.name for p in (ROOT / "cases").iterdir())),
)
SPAN = re.compile(r"(<!-- generated: ([a-z-]+) -->\n).*?(<!-- end -->)", re.DOTALL)
NUMBER = re.compile(r"[-+]?\d+(?:\.\d+)?(?:e[-+]?\d+)?")
QUIET = ("Balance", "wrote ")  # residuals of the solver; what is written to another stream
FENCE = re.compile(r"^```(\S+)?[ \t]*([^\n]*)\n(.*?)^```$", re.DOTALL | re.MULTILINE)


class Block(NamedTuple):
    """One fenced block: ```language words, and its lines."""

    language: str
    words: str
    body: str
    start: int  # of the body within the page
    stop: int


class Run(NamedTuple):
    """One command of a page, what it printed, and how it ended."""

    command: str
    output: str
    code: int

    @property
    def wanted(self) -> int:
        """The exit code the page announces: `# exit 1` after the command."""
        found = re.search(r"#\s*exit\s+(\d+)\s*$", self.command)
        return int(found[1]) if found else 0


def blocks(text: str) -> list[Block]:
    """Fenced blocks of a page, in order."""
    return [Block(m[1] or "", m[2].strip(), m[3], *m.span(3)) for m in FENCE.finditer(text)]


@contextmanager
def workplace() -> Iterator[Path]:
    """An empty folder with the demo cases, as a reader has it after the first command."""
    with tempfile.TemporaryDirectory() as name:
        shutil.copytree(ROOT / "cases", Path(name) / "cases")
        (Path(name) / "docs").mkdir()
        yield Path(name)


def run(command: str, folder: Path) -> Run:
    """Run one command of a page; `flownet` and `python` are those of this checkout."""
    words = shlex.split(command, comments=True)
    if words[0] not in RUNNERS:
        raise ValueError(f"{command}: pages run flownet, python or cat")
    output, code = RUNNERS[words[0]](words, folder)
    return Run(command, output.replace(str(folder) + "/", ""), code)


def in_this_process(words: Sequence[str], folder: Path) -> tuple[str, int]:
    """What `flownet` prints on both streams, and how it ends; its libraries are loaded once."""
    from click.testing import CliRunner  # noqa: PLC0415 - only where pages are run

    from flownet.cli.group import commands as flownet  # noqa: PLC0415 - likewise

    with chdir(folder):
        done = CliRunner(env=FIXED).invoke(flownet, words[1:], prog_name=words[0])
    return done.output, done.exit_code


def in_another_process(words: Sequence[str], folder: Path) -> tuple[str, int]:
    """The same of `python` or `cat`."""
    done = subprocess.run(
        [sys.executable if words[0] == "python" else words[0], *words[1:]],
        cwd=folder,
        env={**os.environ, **FIXED, "PYTHONPATH": str(ROOT)},
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        check=False,
        timeout=300,
    )
    return done.stdout, done.returncode


RUNNERS = {"flownet": in_this_process, "python": in_another_process, "cat": in_another_process}
# no colour, 80 columns, one thread
FIXED = {
    "NO_COLOR": "1", "COLUMNS": "80", "OMP_NUM_THREADS": "1", "PYTHONDONTWRITEBYTECODE": "1",
    "MPLBACKEND": "agg", "SOURCE_DATE_EPOCH": "1767225600",  # a day that stays
}  # fmt: skip


def commands(block: Block) -> list[str]:
    """The commands of a console block, a trailing backslash joining lines."""
    joined = block.body.replace("\\\n> ", "").replace("\\\n", "")
    return [line[2:] for line in joined.splitlines() if line.startswith("$ ")]


def play(text: str, folder: Path) -> Iterator[tuple[Block, list[Run]]]:
    """Act a page out from top to bottom: write named files, run console and python blocks.

    `toml NAME` and `python NAME` blocks are written as files; other python blocks are run, and
    what they print is compared with the `text` block that follows.
    """
    for block in blocks(text):
        if block.words and block.language in ("toml", "python", "csv"):
            (folder / block.words).write_text(block.body)
            yield block, []
        elif block.language == "python":
            (folder / "page.py").write_text(block.body)
            yield block, [run("python page.py", folder)]
        elif block.language == "console":
            yield block, [run(command, folder) for command in commands(block)]


def pasted(block: Block, runs: list[Run]) -> str:
    """A console block with the output of its commands; as it is where it is marked `quiet`."""
    if len(runs) != len(commands(block)):
        raise ValueError("every command of a block is run")
    if block.words == "quiet":
        return block.body
    return "".join(f"$ {r.command}\n{shown(r.output)}" for r in runs)


def shown(output: str) -> str:
    """Output as a page prints it: no blanks at line ends, one newline at the end."""
    lines = [line.rstrip() for line in output.strip("\n").splitlines()]
    return "".join(line + "\n" for line in lines)


def with_output(text: str) -> str:
    """The page with the output of its commands as it is today."""
    outputs: dict[int, str] = {}
    found = blocks(text)
    with workplace() as folder:
        for block, runs in play(text, folder):
            for each in runs:
                if each.code != each.wanted:
                    raise RuntimeError(f"{each.command}: exit {each.code}\n{each.output}")
            if block.language == "console":
                outputs[block.start] = pasted(block, runs)
            elif runs and (after := follows(found, block)) is not None:
                outputs[after.start] = shown(runs[0].output)
    for block in reversed(found):
        if block.start in outputs:
            text = text[: block.start] + outputs[block.start] + text[block.stop :]
    return text


def difference(now: str, page: str) -> str:
    """The first line that says something else; empty where none does.

    Numbers may differ by what another machine's round-off changes; residuals are left out.
    """
    kept = [[x for x in t.splitlines() if not x.startswith(QUIET)] for t in (now, page)]
    for here, there in zip_longest(*kept, fillvalue=""):
        words = [NUMBER.sub("0", line).split() for line in (here, there)]
        pairs = zip(NUMBER.findall(here), NUMBER.findall(there), strict=False)
        close = all(isclose(float(a), float(b), rel_tol=0.02, abs_tol=0.11) for a, b in pairs)
        if words[0] != words[1] or not close:
            return f"{here!r} is on the page {there!r}"
    return ""


def shapes(svg: str) -> tuple[int, int]:
    """Paths and groups of a drawing: what remains when fonts and versions change the bytes."""
    return svg.count("<path"), svg.count("<g ")


def follows(found: list[Block], block: Block) -> Block | None:
    """The `text` block right behind a python block."""
    after = found[found.index(block) + 1 :]
    return after[0] if after and after[0].language == "text" else None


def with_tables(text: str, generators: dict[str, Callable[[], str]] | None = None) -> str:
    """The page with its generated spans as the code has them today."""
    known = build_tables.GENERATORS if generators is None else generators
    return SPAN.sub(lambda m: f"{m[1]}{known[m[2]]().strip()}\n{m[3]}", text)


def rebuilt(page: str) -> str:
    """The whole text of a page as it should be."""
    if page == "docs/findings.md":
        from flownet.findings.explain import document  # noqa: PLC0415 - written beside the rules

        return document().rstrip() + "\n"
    return with_output(with_tables((ROOT / page).read_text()))


def drawn(picture: str) -> str:
    """A picture of the pages, as its command draws it."""
    with workplace() as folder:
        done = run(PICTURES[picture], folder)
        if done.code:
            raise RuntimeError(done.output)
        return (folder / picture).read_text()


def write_expected() -> int:
    """Write the regression guard of every demo case."""
    from build_expected import expected  # noqa: PLC0415 - it solves, pages need not

    for folder in sorted(path.parent for path in (ROOT / "cases").glob("*/case.toml")):
        (folder / "expected.toml").write_text(expected(folder))
        print(f"wrote cases/{folder.name}/expected.toml")
    return 0


def main() -> int:
    """Write or check pages; 1 where a check finds one out of date."""
    parser = argparse.ArgumentParser(description="Rebuild the generated parts of the docs.")
    parser.add_argument("pages", nargs="*", metavar="PAGE", help="default: all, and pictures")
    parser.add_argument("--check", action="store_true", help="write nothing, exit 1 if stale")
    parser.add_argument("--expected", action="store_true", help="rewrite cases/*/expected.toml")
    given = parser.parse_args()
    if given.expected:
        return write_expected()
    pages = given.pages or [*PAGES, *PICTURES]
    stale = [page for page in pages if renewed(page, write=not given.check)]
    for page in stale:
        print(f"{'out of date' if given.check else 'wrote'} {page}")
    return 1 if given.check and stale else 0


def renewed(page: str, *, write: bool) -> bool:
    """Whether a page was out of date; with `write` it no longer is."""
    path = ROOT / page
    text = drawn(page) if page in PICTURES else rebuilt(page)
    old = path.read_text() if path.exists() else ""
    if write:
        path.write_text(text)
        return old != text
    return shapes(old) != shapes(text) if page in PICTURES else bool(difference(text, old))


if __name__ == "__main__":
    sys.exit(main())
