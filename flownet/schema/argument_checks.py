"""What the public calls take: a wrong type is refused at the door, in words, not deep inside."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from numbers import Integral
from os import PathLike
from typing import Any

HINTS = {  # by the name of what is wanted: where one comes from
    "Enclosure": "read it with load_case, or make it with Enclosure.of",
    "Solution": "solve(case) gives one",
}


def check(where: str, value: Any, wanted: type, hint: str = "") -> None:
    """TypeError unless it is one: `solve: takes an Enclosure (got "case.toml"); ...`."""
    if not isinstance(value, wanted):
        name = wanted.__name__
        article = "an" if name[0] in "AEIOU" else "a"
        hint = hint or HINTS.get(name, "")
        raise TypeError(_refusal(where, f"takes {article} {name}", value, hint))


def check_text(where: str, value: Any, what: str, hint: str = "") -> None:
    """TypeError unless it is text; `what` names it and its form: `a name is wanted`."""
    if not isinstance(value, str):
        raise TypeError(_refusal(where, what, value, hint))


def check_path(where: str, value: Any, example: str) -> None:
    """TypeError unless it is text, as paths of values and of results are."""
    check_text(where, value, f'a path is wanted, such as "{example}"')


def check_file(where: str, value: Any) -> None:
    """TypeError unless it names a file or folder."""
    if not isinstance(value, (str, PathLike)):
        raise TypeError(_refusal(where, 'the path of a file is wanted, such as "case.toml"', value))


def check_names(where: str, value: Any) -> None:
    """TypeError unless it is several names, or None; a single text would be taken by letters."""
    if value is None:
        return
    if isinstance(value, str):
        raise TypeError(_refusal(where, "a list of names is wanted", value, f'write ["{value}"]'))
    if not isinstance(value, Collection) or not all(isinstance(name, str) for name in value):
        raise TypeError(_refusal(where, 'a list of names is wanted, such as ["base"]', value))


def check_changes(value: Any, where: str = "changes") -> None:
    """TypeError unless it is a mapping whose keys are text."""
    if not isinstance(value, Mapping) or not _all_text(value):
        what = 'a mapping of input paths to values is wanted, such as {"fan.left.speed": 0.8}'
        raise TypeError(_refusal(where, what, value))


def check_workers(executor: Any, progress: Any) -> None:
    """TypeError unless these are None, or something that maps, and something to call."""
    if executor is not None and not callable(getattr(executor, "map", None)):
        what = "an executor is wanted, such as concurrent.futures.ProcessPoolExecutor(2)"
        raise TypeError(_refusal("executor", what, executor))
    if progress is not None and not callable(progress):
        what = "a function of two numbers is wanted: pairs done, of how many"
        raise TypeError(_refusal("progress", what, progress))


def check_index(where: str, value: Any, count: int) -> None:
    """TypeError unless it is a whole number, IndexError unless it counts one of so many."""
    what = f"a whole number from 0 to {count - 1} is wanted"
    if isinstance(value, bool) or not isinstance(value, Integral):
        raise TypeError(_refusal(where, what, value))
    if not -count <= int(value) < count:
        raise IndexError(_refusal(where, what, value))


def _all_text(keys: Iterable[Any]) -> bool:
    return all(isinstance(key, str) for key in keys)


def _refusal(where: str, what: str, value: Any, hint: str = "") -> str:
    got = f'"{value:.60}"' if isinstance(value, str) else _short(value)
    return f"{where}: {what} (got {got})" + (f"; {hint}" if hint else "")


def _short(value: Any) -> str:
    text = " ".join(repr(value).split())
    return text if len(text) <= 60 else text[:57] + "..."
