"""The same examples in every run: what fails here fails for everybody. The longest tests first."""

from __future__ import annotations

import pytest
from hypothesis import settings

LONGEST = ("test_docs.py", "test_modes.py", "test_demo_maps.py")  # some take 5 to 20 s each

settings.register_profile("same", derandomize=True, deadline=None)
settings.load_profile("same")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """So that of several processes none works alone at the end."""
    items.sort(key=lambda item: item.path.name not in LONGEST)
