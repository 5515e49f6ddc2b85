"""What several studies' tests begin with."""

from __future__ import annotations

import pytest

import flownet


@pytest.fixture
def read(tmp_path):
    """Read a case from text."""

    def made(text):
        path = tmp_path / "case.toml"
        path.write_text(text)
        return flownet.load_case(path)

    return made
