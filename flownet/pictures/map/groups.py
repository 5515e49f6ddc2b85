"""Copies side by side that share one label: `slot.card-1…6`."""

from __future__ import annotations

import re
from collections.abc import Callable, Hashable, Iterable, Sequence
from itertools import groupby

_COPY = re.compile(r"(.*)-(\d+)\Z")
Copies = tuple[str, ...]  # paths (or names) that are told together; one alone is a group of one


def copies_name(paths: Sequence[str]) -> str:
    """`card-1…6`, `card-1, 2, 5…8`; the path itself where there is one."""
    return paths[0] if len(paths) == 1 else f"{base(paths[0])}-{runs(map(number, paths))}"


def base(path: str) -> str:
    """The name without the number of the copy."""
    return _COPY.sub(r"\1", path)


def number(path: str) -> int:
    """The number of a copy; 0 where there is none."""
    found = _COPY.match(path)
    return int(found.group(2)) if found else 0


def runs(numbers: Iterable[int]) -> str:
    """`1…3, 7`: runs of three and more are shortened."""
    words: list[str] = []
    for _, run in groupby(enumerate(sorted(numbers)), lambda pair: pair[1] - pair[0]):
        found = [str(value) for _, value in run]
        words += [f"{found[0]}…{found[-1]}"] if len(found) > 2 else found
    return ", ".join(words)


def grouped(paths: Iterable[str], alike: Callable[[str], Hashable], least: int) -> list[Copies]:
    """Copies that are alike, `least` or more of them, as groups; the rest one by one, in order."""
    sets: dict[Hashable, list[str]] = {}
    listed = list(paths)
    for path in listed:
        if _COPY.match(path):
            sets.setdefault((base(path), alike(path)), []).append(path)
    together = {p: tuple(same) for same in sets.values() if len(same) >= least for p in same}
    return list(dict.fromkeys(together.get(path, (path,)) for path in listed))
