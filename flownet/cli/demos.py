"""The demo cases."""

from __future__ import annotations

from pathlib import Path

CASE_FILE = "case.toml"


def demos() -> dict[str, Path]:
    """Folders of the demo cases by name: part of the package, or beside it in a checkout."""
    package = Path(__file__).parents[1]
    for folder in (package / "demos", package.parent / "cases"):
        if folder.is_dir():
            return {item.parent.name: item.parent for item in sorted(folder.glob(f"*/{CASE_FILE}"))}
    return {}
