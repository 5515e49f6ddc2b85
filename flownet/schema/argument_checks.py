"""What the public calls take: a wrong type is refused at the door, in words, not deep inside."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from numbers import Integral
from os import PathLike
from typing import Any

from flownet.schema.fault import Fault, cut, with_article

HINTS = {  # by the name of what is wanted: where one comes from
    "Enclosure": "read it with load_case, or make it with Enclosure.of",
    "Solution": "solve(case) gives one",
}


def check(where: str, value: Any, wanted: type, hint: str = "") -> None:
    """TypeError unless it is one: `solve: takes an Enclosure (got "case.toml"); ...`."""
    name = wanted.__name__
    hint = hint or HINTS.get(name, "")
    _require(isinstance(value, wanted), where, f"takes {with_article(name)}", value, hint)


def check_text(where: str, value: Any, what: str, hint: str = "") -> None:
    """TypeError unless it is text; `what` names it and its form: `a name is wanted`."""
    _require(isinstance(value, str), where, what, value, hint)


def check_path(where: str, value: Any, example: str) -> None:
    """TypeError unless it is text, as paths of values and of results are."""
    check_text(where, value, f'a path is wanted, such as "{example}"')


def check_file(where: str, value: Any) -> None:
    """TypeError unless it names a file or folder."""
    what = 'the path of a file is wanted, such as "case.toml"'
    _require(isinstance(value, (str, PathLike)), where, what, value)


def check_names(where: str, value: Any) -> None:
    """TypeError unless it is several names, or None; a single text would be taken by letters."""
    if isinstance(value, str):
        _require(False, where, "a list of names is wanted", value, f'write ["{value}"]')
    names = value is None or (isinstance(value, Collection) and _all_text(value))
    _require(names, where, 'a list of names is wanted, such as ["base"]', value)


def check_changes(value: Any, where: str = "changes") -> None:
    """TypeError unless it is a mapping whose keys are text."""
    what = 'a mapping of input paths to values is wanted, such as {"fan.left.speed": 0.8}'
    _require(isinstance(value, Mapping) and _all_text(value), where, what, value)


def check_workers(executor: Any, progress: Any) -> None:
    """TypeError unless these are None, or something that maps, and something to call."""
    maps = executor is None or callable(getattr(executor, "map", None))
    what = "an executor is wanted, such as concurrent.futures.ProcessPoolExecutor(2)"
    _require(maps, "executor", what, executor)
    what = "a function of two numbers is wanted: pairs done, of how many"
    _require(progress is None or callable(progress), "progress", what, progress)


def check_index(where: str, value: Any, count: int) -> None:
    """TypeError unless it is a whole number, IndexError unless it counts one of so many."""
    what = f"a whole number from 0 to {count - 1} is wanted"
    _require(isinstance(value, Integral) and not isinstance(value, bool), where, what, value)
    _require(-count <= int(value) < count, where, what, value, error=IndexError)


def _all_text(keys: Collection[Any]) -> bool:
    return all(isinstance(key, str) for key in keys)


def _require(
    holds: bool, where: str, what: str, value: Any, hint: str = "",
    error: type[Exception] = TypeError,
) -> None:  # fmt: skip
    if not holds:
        got = f'"{value:.60}"' if isinstance(value, str) else cut(" ".join(repr(value).split()))
        raise error(Fault(where, what, got, hint))
