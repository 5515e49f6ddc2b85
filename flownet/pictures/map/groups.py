"""Copies side by side that share one label: `slot.card-1…6`."""

from __future__ import annotations

import re
from collections.abc import Callable, Hashable, Iterable
from typing import NamedTuple

_COPY = re.compile(r"(.*)-(\d+)\Z")


class Copies(NamedTuple):
    """Paths (or names) that are told together; one alone is a group of one."""

    paths: tuple[str, ...]

    @property
    def name(self) -> str:
        """`card-1…6`, `card-1, 2, 5…8`; the path itself where there is one."""
        if len(self.paths) == 1:
            return self.paths[0]
        return f"{base(self.paths[0])}-{runs([number(p) for p in self.paths])}"


def base(path: str) -> str:
    """The name without the number of the copy."""
    found = _COPY.match(path)
    return found.group(1) if found else path


def number(path: str) -> int:
    """The number of a copy; 0 where there is none."""
    found = _COPY.match(path)
    return int(found.group(2)) if found else 0


def runs(numbers: Iterable[int]) -> str:
    """`1…3, 7`: runs of three and more are shortened."""
    found: list[list[int]] = []
    for value in sorted(numbers):
        if found and value == found[-1][-1] + 1:
            found[-1].append(value)
        else:
            found.append([value])
    words = []
    for run in found:
        if len(run) > 2:
            words.append(f"{run[0]}…{run[-1]}")
        else:
            words.extend(str(value) for value in run)
    return ", ".join(words)


def grouped(paths: Iterable[str], alike: Callable[[str], Hashable], least: int) -> list[Copies]:
    """Copies that are alike, `least` or more of them, as groups; the rest one by one, in order."""
    sets: dict[Hashable, list[str]] = {}
    listed = list(paths)
    for path in listed:
        if _COPY.match(path):
            sets.setdefault((base(path), alike(path)), []).append(path)
    together = {p: tuple(same) for same in sets.values() if len(same) >= least for p in same}
    found = [together.get(path, (path,)) for path in listed]
    return [Copies(paths) for paths in dict.fromkeys(found)]
