"""Commands are run in an empty folder; the test box is there as `case`."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.cli import box


@pytest.fixture(autouse=True)
def _here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


@pytest.fixture
def case(tmp_path: Path) -> Path:
    return box.written(tmp_path)
