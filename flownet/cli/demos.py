"""The demo cases, and the demo catalogue."""

from __future__ import annotations

from pathlib import Path

CASE_FILE = "case.toml"


CATALOGUE_FILE = "fans.toml"


def demos() -> dict[str, Path]:
    """Folders of the demo cases by name: part of the package, or beside it in a checkout."""
    return {item.parent.name: item.parent for item in sorted(_folder().glob(f"*/{CASE_FILE}"))}


def catalogues() -> dict[str, Path]:
    """Catalogues that stand by themselves, by the name of their folder."""
    files = sorted(_folder().glob(f"*/{CATALOGUE_FILE}"))
    return {item.parent.name: item for item in files if not (item.parent / CASE_FILE).exists()}


def _folder() -> Path:
    package = Path(__file__).parents[1]
    inside = package / "demos"
    return inside if inside.is_dir() else package.parent / "cases"
