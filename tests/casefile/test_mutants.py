"""Spoilt case files load or are refused with readable lines, and nothing else happens."""

from __future__ import annotations

import shutil

from tests.casefile.mutate import CASE, CATALOGUE, WAYS, mutants, outcome
from tests.casefile.small import BASE

MUTANTS = list(mutants(CASE.read_text(), 300, seed=1))
NEVER = ("not a number", "table twice", "twice")  # what can never be right


def readable(faults, *files):
    """Whether each fault is one printable line after the name of its file."""
    return all(
        line.isprintable()
        and any(line.startswith(f"{name}: ") and len(line) > len(name) + 2 for name in files)
        for line in faults
    )


def test_300_spoilt_files_load_or_say_why_not(tmp_path):
    """61 of this seed load."""
    shutil.copy(CATALOGUE, tmp_path)
    refused = 0
    for mutant in MUTANTS:
        faults = outcome(tmp_path, mutant.text)
        assert readable(faults, "case.toml"), (mutant.what, faults)
        assert faults or mutant.what not in NEVER, mutant.text
        refused += bool(faults)
    assert len(MUTANTS) == 300
    assert 200 < refused < 290  # most are refused; some remain sound


def test_every_way_of_spoiling_is_among_them_and_the_seed_decides():
    assert {mutant.what for mutant in MUTANTS} == set(WAYS)
    assert list(mutants(CASE.read_text(), 20, seed=1)) == MUTANTS[:20]
    assert list(mutants(CASE.read_text(), 20, seed=2)) != MUTANTS[:20]


def test_spoilt_catalogues_load_or_say_why_not(tmp_path):
    refused = 0
    for mutant in mutants(CATALOGUE.read_text(), 100, seed=4):
        (tmp_path / "fans.toml").write_text(mutant.text, newline="")
        faults = outcome(tmp_path, CASE.read_text())
        assert readable(faults, "case.toml", "fans.toml"), (mutant.what, faults)
        refused += bool(faults)
    assert refused > 40


def test_spoilt_curve_files_load_or_say_why_not(tmp_path):
    good = "# density: 1.15 kg/m3\nflow[m3/h],rise[Pa]\n0,60\n50,40\n100,0\n"
    case = BASE + '[fan_type.c]\nflow_area = "80 cm2"\ncurve_csv = "c.csv"\n'
    for at in range(0, len(good), 3):
        for sign in '"\n\r,;\t#x-\x00é':
            for content in (good[:at] + sign + good[at:], good[:at] + sign + good[at + 1 :]):
                (tmp_path / "c.csv").write_text(content, encoding="utf-8", newline="")
                faults = outcome(tmp_path, case)
                assert readable(faults, "case.toml"), (content, faults)
