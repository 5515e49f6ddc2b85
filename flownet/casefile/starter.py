"""The case file that `flownet new` writes to start from."""

from __future__ import annotations

from pathlib import Path

from flownet.enclosure.toml_text import plain

TEMPLATE = Path(__file__).with_name("starter.toml")


def starter(title: str) -> str:
    """The text of a small case that solves, with `# CHANGE` where a user's own numbers belong."""
    return TEMPLATE.read_text(encoding="utf-8").replace('"TITLE"', plain(title), 1)
