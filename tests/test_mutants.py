"""The faults that `python -m tests.mutants` puts into the code: which, and which not."""

from __future__ import annotations

from functools import cache

import pytest

from tests.mutants import faults as mutants
from tests.mutants.__main__ import AREAS, NEARER, NEVER, ROOT, all_faults, nearest, others
from tests.mutants.faults import SAME

faults_of = cache(all_faults)


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


def test_what_no_near_test_notices_is_asked_of_all_others():
    """Each test file once at most, and none of pages, pictures or our own output."""
    every = {str(path.relative_to(ROOT)) for path in (ROOT / "tests").rglob("test_*.py")}
    never = {str(p.relative_to(ROOT)) for name in NEVER for p in (ROOT / "tests").glob(name)}
    for area in AREAS:
        for file in {fault.file for fault in faults_of(area)}:
            asked = nearest(area, file) + others(area, file)
            assert len(asked) == len({*asked})
            assert every - {*asked} <= never
    assert all(any((ROOT / "tests").glob(pattern)) for pattern in NEVER)


def test_what_no_answer_tells_apart_is_one_fault_each_that_is_not_drawn(monkeypatch):
    for one in SAME:
        found = []
        for left_out in ((), (one,)):
            monkeypatch.setattr(mutants, "SAME", left_out)
            found.append(len(mutants.faults(ROOT, f"flownet/{one[0]}")))
        assert found[0] - found[1] == 1, one
