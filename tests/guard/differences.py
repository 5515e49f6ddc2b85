"""What differs between two runs of one call, in few lines."""

from __future__ import annotations

import difflib
from collections.abc import Iterator
from typing import Any

from tests.guard import plan


def told(before: dict[str, Any], after: dict[str, Any], most: int) -> list[str]:
    """Nothing where they are the same; else the call, and the first lines that changed."""
    picture = before["call"]["group"] == "draw"
    old, new = (dict(_parts(item["result"], picture)) for item in (before, after))
    lines: list[str] = []
    for part in dict.fromkeys([*old, *new]):
        a, b = old.get(part), new.get(part)
        if a != b:
            lines += _changed(part, a, b, most)
    return [f"--- flownet {plan.name(before['call'])}", *lines] if lines else []


def _parts(result: dict[str, Any], picture: bool) -> Iterator[tuple[str, str]]:
    yield "exit", str(result["exit"])
    yield "stdout", result["stdout"]
    yield "stderr", result["stderr"]
    for name, text in result["files"].items():
        yield name, "\n".join(_redrawn(text)) if picture else text


def _redrawn(text: str) -> list[str]:
    """A picture without its size, which may change, and without numbers of an axis."""
    return [line for line in text.splitlines() if not line.startswith("size ")]


def _changed(part: str, a: str | None, b: str | None, most: int) -> Iterator[str]:
    if a is None or b is None:
        yield f"  {part}: {'is new' if a is None else 'is gone'}"
        return
    old, new = a.splitlines(keepends=True), b.splitlines(keepends=True)
    marks = [line for line in difflib.unified_diff(old, new, n=0) if line[:1] in "+-"][2:]
    removed = sum(line.startswith("-") for line in marks)
    yield f"  {part}: {removed} lines gone, {len(marks) - removed} new"
    for line in marks[:most]:
        yield f"    {line.rstrip()[:200]}"
