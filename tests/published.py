"""Reads the check values in `tests/published/*.toml`; their schema is in README.md there."""

from __future__ import annotations

import sys
import tomllib
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np

FOLDER = Path(__file__).with_name("published")
PUBLISHABLE = frozenset({"READ", "READ(c)", "READ(2)", "LIB"})
UNPUBLISHED = frozenset({"READ-F", "READ-IN", "MEMORY", "DERIVED"})
REQUIRED = {
    "title": str,
    "source": str,
    "provenance": str,
    "published": bool,
    "given": dict,
    "expected": dict,
    "tolerance": dict,
}
OPTIONAL = {"units": dict, "note": str, "same_formula": bool}
WAYS = ("case", "study", "law", "correlation", "solver")
BY_FOLDER = {"correlations": "correlation", "network": "law", "studies": "study"}
BY_FILE = {"test_published_networks.py": "solver", "test_air.py": "correlation"}


@dataclass(frozen=True, kw_only=True)
class Row:
    """One check: inputs, the results somebody else found, and how closely they are known."""

    where: str
    title: str
    source: str
    provenance: str
    published: bool
    given: Mapping[str, Any]
    expected: Mapping[str, Any]
    tolerance: Mapping[str, Mapping[str, float]]
    units: Mapping[str, str]
    note: str
    same_formula: bool  # a library's value by the formula that is used here as well

    def __str__(self) -> str:
        return f"{self.where}-{self.title}"

    def check(self, by: str = "", /, **computed: Any) -> None:
        """Assert that each computed result agrees with the expected one of the same name.

        `by` says what of this project computed it, one of WAYS; where it is left out, the place of
        the test says so.
        """
        assert computed, f"{self.where}: nothing was checked"
        by = by or evaluated_by(Path(sys._getframe(1).f_code.co_filename))
        assert by in WAYS, f"{self.where}: evaluated by one of {WAYS}"
        unknown = computed.keys() - self.expected.keys()
        assert not unknown, f"{self.where}: no expected value called {sorted(unknown)}"
        for name, value in computed.items():
            allowed = self.tolerance[name]
            np.testing.assert_allclose(
                np.asarray(value, dtype=float),
                np.asarray(self.expected[name], dtype=float),
                rtol=allowed.get("relative", 0.0),
                atol=allowed.get("absolute", 0.0),
                err_msg=f"{self.where} {self.title}: {name} ({self.provenance}: {self.source})",
            )
            for record in _RECORDS:
                record.append(Check(self, name, value, by))


class Check(NamedTuple):
    """One comparison that held: a result of a row, and what was computed for it."""

    row: Row
    name: str
    value: Any
    by: str


def evaluated_by(test: Path) -> str:
    """What the tests of a file call: those that are in no folder solve whole cases."""
    return BY_FILE.get(test.name) or BY_FOLDER.get(test.parent.name, "case")


_RECORDS: list[list[Check]] = []


@contextmanager
def recording() -> Iterator[list[Check]]:
    """Collect every comparison made meanwhile; `docs/build.py` writes its table from them."""
    record: list[Check] = []
    _RECORDS.append(record)
    try:
        yield record
    finally:
        _RECORDS.remove(record)


def rows(file: str, *ids: str) -> list[Row]:
    """All rows of `tests/published/<file>.toml` with these ids; of all when none is named."""
    table = _read(FOLDER / f"{file}.toml")
    missing = set(ids) - table.keys()
    if missing:
        raise KeyError(f"{file}.toml has no {sorted(missing)}; it has {sorted(table)}")
    return [row for name in (ids or table) for row in table[name]]


@cache
def _read(path: Path) -> dict[str, list[Row]]:
    with path.open("rb") as stream:
        return parse(tomllib.load(stream), path.stem)


def parse(document: Mapping[str, Any], file: str) -> dict[str, list[Row]]:
    """Check a whole document and turn it into rows by id."""
    table = {}
    for name, entries in document.items():
        if not isinstance(entries, list) or not entries:
            raise ValueError(f"{file}.{name}: every id is a list of tables, [[{name}]]")
        several = len(entries) > 1
        table[name] = [
            _row(entry, f"{file}.{name}" + (f".{k}" if several else ""))
            for k, entry in enumerate(entries)
        ]
    return table


def _row(entry: Mapping[str, Any], where: str) -> Row:
    _check_keys(entry, where)
    _check_provenance(entry, where)
    return Row(
        where=where,
        title=entry["title"],
        source=entry["source"],
        provenance=entry["provenance"],
        published=entry["published"],
        given=entry["given"],
        expected=entry["expected"],
        tolerance=_tolerances(entry, where),
        units=entry.get("units", {}),
        note=entry.get("note", ""),
        same_formula=entry.get("same_formula", False),
    )


def _check_keys(entry: Mapping[str, Any], where: str) -> None:
    known = REQUIRED | OPTIONAL
    missing, unknown = REQUIRED.keys() - entry.keys(), entry.keys() - known.keys()
    if missing or unknown:
        raise ValueError(f"{where}: missing {sorted(missing)}, unknown {sorted(unknown)}")
    for key, value in entry.items():
        if not isinstance(value, known[key]) or (
            not value and value in ("", {}) and key != "given"
        ):
            raise ValueError(f"{where}.{key}: must be a filled {known[key].__name__}")
    if not all(_numeric(value) for value in entry["expected"].values()):
        raise ValueError(f"{where}.expected: must be numbers or lists of numbers")
    strangers = entry.get("units", {}).keys() - entry["given"].keys() - entry["expected"].keys()
    if strangers:
        raise ValueError(f"{where}.units: {sorted(strangers)} are neither given nor expected")


def _numeric(value: Any) -> bool:
    if isinstance(value, list):
        return bool(value) and all(_numeric(item) for item in value)
    return isinstance(value, int | float) and not isinstance(value, bool)


def _check_provenance(entry: Mapping[str, Any], where: str) -> None:
    label = entry["provenance"]
    if label not in PUBLISHABLE | UNPUBLISHED:
        known = ", ".join(sorted(PUBLISHABLE | UNPUBLISHED))
        raise ValueError(f"{where}.provenance: must be one of {known} (got {label})")
    if entry["published"] and label in UNPUBLISHED:
        raise ValueError(f"{where}: a number marked {label} was not published by its source")


def _tolerances(entry: Mapping[str, Any], where: str) -> dict[str, Mapping[str, float]]:
    given, names = entry["tolerance"], entry["expected"].keys()
    kinds = {"relative", "absolute"}
    table = dict.fromkeys(names, given) if given.keys() <= kinds else given
    if table.keys() != names:
        raise ValueError(f"{where}.tolerance: must name {sorted(names)} (got {sorted(table)})")
    for name, allowed in table.items():
        fine = isinstance(allowed, dict) and allowed and allowed.keys() <= kinds
        if not fine or not all(0 <= size < np.inf for size in allowed.values()):
            raise ValueError(f"{where}.tolerance.{name}: relative = ... or absolute = ..., >= 0")
    return dict(table)
