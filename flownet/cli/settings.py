"""`--set KEY=VALUE` and `--vary KEY=RANGE`, as they were written."""

from __future__ import annotations

from typing import NamedTuple


class KeyValue(NamedTuple):
    """One `--set KEY=VALUE`, as it was written."""

    key: str
    value: str

    @property
    def text(self) -> str:
        """As it stands on a page."""
        return f"{self.key} = {self.value}"
