"""The faults that `python -m tests.mutants` puts into the code: which, and which not."""

from __future__ import annotations

from functools import cache

import pytest

from tests.mutants.__main__ import AREAS, NEARER, ROOT, all_faults

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
