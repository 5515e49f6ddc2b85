"""The docs tell the truth: TOML loads and solves, commands run, generated parts are up to date."""

from __future__ import annotations

import importlib.util
import os
import re
import sys
import tomllib
from functools import cache
from pathlib import Path
from tempfile import TemporaryFile
from types import ModuleType

import pytest

import flownet
from tests import published, remembered
from tests.forked import Forked, script

ROOT = Path(__file__).parents[1]


@cache
def build() -> ModuleType:
    """The script that generates the docs, loaded from its file."""
    sys.path.insert(0, str(ROOT / "docs"))
    try:
        spec = importlib.util.spec_from_file_location("docs_build", ROOT / "docs" / "build.py")
        assert spec is not None
        assert spec.loader is not None
        module = importlib.util.module_from_spec(spec)
        spec.loader.exec_module(module)
        return module
    finally:
        sys.path.pop(0)


@pytest.fixture(autouse=True)
def _once(monkeypatch):
    for place, name, work in remembered.WORK:
        monkeypatch.setattr(place, name, work)


def pages() -> list[str]:
    found = [*ROOT.glob("*.md"), *ROOT.glob("docs/**/*.md"), *ROOT.glob("cases/*/README.md")]
    return sorted(str(path.relative_to(ROOT)) for path in found)


def text(page: str) -> str:
    return (ROOT / page).read_text()


def forked(words: list[str], folder: Path) -> tuple[str, int]:
    """`python SCRIPT WORDS` as a fork of this process, which has its libraries loaded already; a
    script that starts processes of its own is run by a new one."""
    if not hasattr(os, "fork") or "__main__" in (folder / words[1]).read_text():
        return build().in_another_process(words, folder)
    with TemporaryFile() as told:
        both = {"stdout": told.fileno(), "stderr": told.fileno()}
        made = Forked((*words[2:],), folder, work=script(words[1]), env=build().FIXED, **both)
        made.communicate()
        told.seek(0)
        return told.read().decode(), made.returncode


def with_commands() -> list[str]:
    return [p for p in pages() if re.search(r"^```(console|python)", text(p), re.MULTILINE)]


def toml_blocks() -> list[tuple[str, str]]:
    """(page, TOML): blocks that are a whole case by themselves, or the page's blocks joined."""
    found = []
    for page in pages():
        faulty = re.findall(r"(\S+\.toml)\s+# exit 2", text(page))
        listed = [b for b in build().blocks(text(page)) if b.language == "toml"]
        bodies = [b.body for b in listed if b.words not in faulty]
        whole = [
            body for body in bodies if body.startswith(("format", "#")) and "[outside]" in body
        ]
        if bodies and "one case file" in text(page):
            found.append((page, "\n".join(bodies)))
        else:
            found += [(page, body) for body in whole]
    return found


@pytest.mark.parametrize(("page", "body"), toml_blocks(), ids=lambda value: str(value)[:30])
def test_toml_of_the_docs_loads_and_solves(page, body, tmp_path):
    (tmp_path / "case.toml").write_text(body)
    case = flownet.load_case(tmp_path / "case.toml")
    for scenario in ("base", *case.scenarios):
        assert flownet.solve(case, scenario=scenario).balance.mass_residual <= 1e-9
    for variant in case.variants:
        assert flownet.solve(case, variant=variant).balance.mass_residual <= 1e-9


def test_every_toml_block_is_toml():
    for page in pages():
        for block in build().blocks(text(page)):
            if block.language == "toml":
                assert tomllib.loads(block.body), page


@pytest.mark.parametrize("page", with_commands())
def test_commands_of_a_page_run_and_print_what_it_says(page, monkeypatch):
    found, docs = text(page), build()
    monkeypatch.setitem(docs.RUNNERS, "python", forked)
    listed = docs.blocks(found)
    with docs.workplace() as folder:
        for block, runs in docs.play(found, folder):
            for each in runs:
                assert each.code == each.wanted, f"{each.command}\n{each.output}"
            if block.language == "console":
                assert_same(docs.pasted(block, runs), block.body)
            elif runs and (after := docs.follows(listed, block)) is not None:
                assert_same(docs.shown(runs[0].output), after.body)


def assert_same(now: str, page: str) -> None:
    assert not (what := build().difference(now, page)), f"{what}\n{now}"


@pytest.mark.parametrize(
    "changed", ["48.2 degC   ok", "43.2 degC   over", "", "43.2 degC   ok\nmore", "43.2 K   ok"]
)
def test_output_that_differs_is_noticed(changed):
    assert build().difference("43.2 degC   ok\n", changed)


def test_output_that_differs_by_round_off_is_not():
    docs = build()
    assert not docs.difference("43.2 degC  ok\nBalance 2e-16\n", "43.21 degC ok\nBalance 1e-15\n")


def generated() -> list[str]:
    return [p for p in pages() if "<!-- generated:" in text(p) and p != "docs/validation.md"]


@pytest.mark.parametrize("page", generated())
def test_generated_tables_agree_with_the_code(page):
    assert build().with_tables(text(page)) == text(page), "run: python docs/build.py"


def test_findings_page_agrees_with_the_rules():
    assert build().rebuilt("docs/findings.md") == text("docs/findings.md")


def test_validation_lists_every_check_value_that_the_tests_use():
    """The numbers of ours are made while those tests run; theirs must be those of the files."""
    page = text("docs/validation.md")
    listed = {line.split(" | ")[0].strip("| ") for line in page.splitlines() if line[:2] == "| "}
    used = [Path(f).read_text() for f in build().build_tables.using_rows()]
    for file in published.FOLDER.glob("*.toml"):
        for row in published.rows(file.stem):
            name = row.where.split(".")[1]
            if any(f'rows("{file.stem}")' in t or f'"{name}"' in t for t in used):
                assert row.where in listed, f"{row.where}: run python docs/build.py"


@pytest.mark.parametrize("picture", sorted(build().PICTURES))
def test_pictures_of_the_pages_are_what_their_commands_draw(picture):
    """As many shapes; fonts and library versions change the bytes, not what is drawn."""
    docs = build()
    now, page = docs.drawn(picture), text(picture)
    assert docs.shapes(page) == pytest.approx(docs.shapes(now), rel=0.02)


def test_links_between_pages_lead_somewhere():
    for page in pages():
        for target in re.findall(r"\]\((?!https?:)([^)#]+)(?:#[^)]*)?\)", text(page)):
            assert (ROOT / page).parent.joinpath(target).exists(), f"{page}: {target}"


def test_readme_has_two_set_up_commands_and_no_foreign_package():
    page = text("README.md")
    set_up = [line for line in page.splitlines() if line.startswith("python3 -m venv")]
    assert len(set_up) == 2
    assert "flownet solve cases/drive-cabinet" in set_up[0]
    assert set_up[1].endswith("python -m pytest")
    assert not any(re.search(r"pip install (-q )?flownet\b", text(p)) for p in pages())
    assert "Not connected with any other product or package of a similar name." in page
