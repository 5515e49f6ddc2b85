"""The faults that `python -m tests.mutants` puts into the code: which, and which not."""

from __future__ import annotations

import ast
from functools import cache
from random import Random

import pytest

from tests.mutants.__main__ import AREAS, NEARER, ROOT, all_faults, shares
from tests.mutants.faults import drawn, faults

faults_of = cache(all_faults)
CODE = '''"""Says 1 + 1."""
LEAST = 1e-9

def drop(flow: float, low: float, high: float) -> float:
    """2 * 3."""
    if flow > 0.5 and low == high:
        raise ValueError(f"{flow + 1} is too much")
    high = 0 if low else high
    step = np.where(low, -flow, 2)
    return step * swap(low, high) + 0 * flow

def words(flow: float) -> str:
    return "a" if flow > 1 else "b"
'''
WANTED = {
    "2 constant: 1e-9 -> 1e-12",
    "6 operator: flow > 0.5 and low == high -> (flow > 0.5 or low == high)",
    "6 dropped term: flow > 0.5 and low == high -> (low == high)",
    "6 comparison: flow > 0.5 -> (flow < 0.5)",
    "6 constant: 0.5 -> 0.65",
    "6 comparison: low == high -> (low != high)",
    "6 swapped: low -> high",
    "6 swapped: high -> low",
    "8 swapped: 0 if low else high -> (high if low else 0)",
    "8 swapped: low -> high",
    "8 swapped: high -> low",
    "8 constant: 0 -> 1",
    "9 swapped: np.where(low, -flow, 2) -> np.where(low, 2, -flow)",
    "9 swapped: low -> high",
    "9 sign: -flow -> flow",
    "9 constant: 2 -> 3",
    "10 operator: step * swap(low, high) -> (step / swap(low, high))",
    "10 dropped term: step * swap(low, high) -> step",
    "10 swapped: swap(low, high) -> swap(high, low)",
    "10 swapped: low -> high",
    "10 swapped: high -> low",
    "10 constant: 0 -> 1",
}


def test_every_fault_of_a_file_and_none_of_its_texts(tmp_path):
    """Errors, annotations, docstrings and functions that return text are left alone, and sums with
    a zero that only gives an array its shape."""
    (tmp_path / "file.py").write_text(CODE)
    found = faults(tmp_path, "file.py")
    assert {str(fault).removeprefix("file.py:") for fault in found} == WANTED
    for fault in found:
        changed = fault.source(tmp_path)
        ast.parse(changed)
        lines = zip(CODE.splitlines(), changed.splitlines(), strict=True)
        assert [i for i, (a, b) in enumerate(lines, 1) if a != b] == [fault.line]


def test_faults_are_drawn_by_seed_and_line(tmp_path):
    (tmp_path / "file.py").write_text(CODE)
    found = faults(tmp_path, "file.py")
    assert drawn(found, 3, Random("1")) == drawn(found, 3, Random("1"))
    assert sorted(fault.line for fault in drawn(found, 99, Random("1"))) == [2, 6, 8, 9, 10]
    assert shares(list(AREAS), 100) == {name: area.share for name, area in AREAS.items()}


@pytest.mark.parametrize("area", AREAS)
def test_every_area_has_code_and_tests(area):
    assert len(faults_of(area)) > 40
    assert all(any((ROOT / "flownet").glob(pattern)) for pattern in AREAS[area].code)
    assert all(any((ROOT / "tests").glob(pattern)) for pattern in AREAS[area].tests)


def test_every_nearer_entry_has_code_and_tests():
    code = {fault.file for area in AREAS for fault in faults_of(area)}
    for start, tests in NEARER.items():
        assert any(file.startswith(f"flownet/{start}") for file in code), start
        assert all(any((ROOT / "tests").glob(pattern)) for pattern in tests), start
