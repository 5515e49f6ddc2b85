"""Case files spoilt in the ways people spoil them, from a seed."""

from __future__ import annotations

import random
import re
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import NamedTuple

from flownet.casefile import load_case
from flownet.schema.errors import CaseError
from flownet.schema.quantities import UNITS

HERE = Path(__file__).parent
CASE, CATALOGUE = HERE / "most_kinds.toml", HERE / "fans.toml"
_NUMBER = re.compile(r"(?<![\w.-])-?\d+(?:\.\d+)?")
_TEXT = re.compile(r'"([^"]*)"')
WRONG_TYPES = (
    "true", "5", "-1.5", '""', '"nonsense"', "[]", "[1, 2, 3]", '["a", "b"]', "{}",
    '{ a = 1 }', "2026-01-01", "nan", "inf", "[[1], [2]]", '"0"', "[{}]",
)  # fmt: skip
HUGE = ("1e300", "1" + "0" * 400, "1e-320", "99999999999999999999", "1e999")


class Mutant(NamedTuple):
    """A spoilt file, and how it was spoilt."""

    what: str
    text: str


class Line(NamedTuple):
    """A line `key = value`, taken apart."""

    number: int
    key: str
    value: str


def mutants(text: str, count: int, seed: int) -> Iterator[Mutant]:
    """`count` spoilt versions of a case file, the same for the same seed."""
    rng = random.Random(seed)
    names = list(WAYS)
    while count:
        what = rng.choice(names)
        lines = text.splitlines()
        spoilt = WAYS[what](rng, lines)
        if spoilt is not None and spoilt != lines:
            count -= 1
            yield Mutant(what, "\n".join(spoilt) + "\n")


def _settings(lines: list[str]) -> list[Line]:
    found = []
    for number, line in enumerate(lines):
        match = re.match(r'\s*([\w.*"-]+)\s*=\s*(.*?)\s*(?:#.*)?$', line)
        if match and not line.lstrip().startswith("#"):
            found.append(Line(number, match[1], match[2]))
    return found


def _put(lines: list[str], line: Line, text: str) -> list[str]:
    return [*lines[: line.number], text, *lines[line.number + 1 :]]


def _each(rng: random.Random, lines: list[str], change: Callable[[Line], str]) -> list[str]:
    line = rng.choice(_settings(lines))
    return _put(lines, line, change(line))


def _slip(rng: random.Random, word: str) -> str:
    """One letter dropped, doubled, swapped or replaced."""
    if len(word) < 2:
        return word + "x"
    at = rng.randrange(len(word) - 1)
    return rng.choice(
        [
            word[:at] + word[at + 1 :],
            word[:at] + word[at] + word[at:],
            word[:at] + word[at + 1] + word[at] + word[at + 2 :],
            word[:at] + rng.choice("abcdefghijklmnopqrstuvwxyz_-") + word[at + 1 :],
        ]
    )


def _renamed_key(rng: random.Random, lines: list[str]) -> list[str]:
    return _each(rng, lines, lambda line: f"{_slip(rng, line.key)} = {line.value}")


def _other_number(
    rng: random.Random, lines: list[str], new: Callable[[str], str]
) -> list[str] | None:
    line = rng.choice(_settings(lines))
    numbers = list(_NUMBER.finditer(line.value))
    if not numbers:
        return None
    hit = rng.choice(numbers)
    value = line.value[: hit.start()] + new(hit[0]) + line.value[hit.end() :]
    return _put(lines, line, f"{line.key} = {value}")


def _wrong_unit(rng: random.Random, lines: list[str]) -> list[str] | None:
    line = rng.choice(_settings(lines))
    match = re.search(r'([A-Za-z%/0-9() ]+)"', line.value)
    unit = match and re.search(r"[A-Za-z%][A-Za-z%/0-9() ]*$", match[1])
    if not match or not unit:
        return None
    value = line.value.replace(unit[0], rng.choice([*UNITS, "furlong", "C", ""]), 1)
    return _put(lines, line, f"{line.key} = {value}")


def _missing(rng: random.Random, lines: list[str]) -> list[str]:
    line = rng.choice(_settings(lines))
    return [*lines[: line.number], *lines[line.number + 1 :]]


def _empty(rng: random.Random, lines: list[str]) -> list[str]:
    nothing = rng.choice(["", '""', "[]", "{}"])
    return _each(rng, lines, lambda line: f"{line.key} = {nothing}")


def _twice(rng: random.Random, lines: list[str]) -> list[str]:
    line = rng.choice(_settings(lines))
    return [*lines[: line.number], lines[line.number], *lines[line.number :]]


def _tables(lines: list[str]) -> list[int]:
    return [number for number, line in enumerate(lines) if line.startswith("[")]


def _table_twice(rng: random.Random, lines: list[str]) -> list[str]:
    tables = _tables(lines)
    return [*lines, lines[rng.choice(tables)]]


def _table_gone(rng: random.Random, lines: list[str]) -> list[str]:
    tables = [*_tables(lines), len(lines)]
    at = rng.randrange(len(tables) - 1)
    return lines[: tables[at]] + lines[tables[at + 1] :]


def _renamed_table(rng: random.Random, lines: list[str]) -> list[str]:
    number = rng.choice(_tables(lines))
    inner = re.match(r"\[([^\]]*)\]", lines[number])
    if inner is None:
        return lines
    steps = inner[1].split(".")
    at = rng.randrange(len(steps))
    words = [_slip(rng, steps[at]), "zone", "grille", "outside", "a-out", "x y", "", '"a.b"', "ü"]
    steps[at] = rng.choice(words)
    return [*lines[:number], f"[{'.'.join(steps)}]", *lines[number + 1 :]]


def _wrong_type(rng: random.Random, lines: list[str]) -> list[str]:
    return _each(rng, lines, lambda line: f"{line.key} = {rng.choice(WRONG_TYPES)}")


def _other_word(rng: random.Random, lines: list[str]) -> list[str] | None:
    line = rng.choice(_settings(lines))
    words = list(_TEXT.finditer(line.value))
    if not words:
        return None
    hit = rng.choice(words)
    others = ["lower", "outside", "fan.left", "nothing", " ", "\\u0000"]
    new = rng.choice([_slip(rng, hit[1]), *others])
    value = line.value[: hit.start()] + f'"{new}"' + line.value[hit.end() :]
    return _put(lines, line, f"{line.key} = {value}")


def _bare(rng: random.Random, lines: list[str]) -> list[str]:
    return _each(rng, lines, lambda line: f"{line.key} = {line.value.replace(chr(34), '')}")


def _strange_key(rng: random.Random, lines: list[str]) -> list[str]:
    line = rng.choice(_settings(lines))
    key = rng.choice(
        ['""', '"a\\nb"', '"a.b.c"', "like", "copies", "pitch", "type", "on", "format", "curve_csv",
         "rating", "data", "units", "x" * 300, "2", '"fan.*.speed"', "from.to"]
    )  # fmt: skip
    value = rng.choice([*WRONG_TYPES, '"left"', "3", '"1 2 mm"'])
    return [*lines[: line.number], f"{key} = {value}", *lines[line.number :]]


def _cut(rng: random.Random, lines: list[str]) -> list[str]:
    text = "\n".join(lines)
    return text[: rng.randrange(len(text))].splitlines()


def _stray(rng: random.Random, lines: list[str]) -> list[str]:
    text = "\n".join(lines)
    at = rng.randrange(len(text))
    sign = rng.choice('"[]{}=,.#*\\-\x00\x7f\t é€“𝄞\r')
    return (text[:at] + sign + text[at + rng.randrange(2) :]).split("\n")


WAYS: dict[str, Callable[[random.Random, list[str]], list[str] | None]] = {
    "renamed key": _renamed_key,
    "wrong unit": _wrong_unit,
    "negative": lambda rng, lines: _other_number(rng, lines, lambda n: "-" + n.lstrip("-")),
    "zero": lambda rng, lines: _other_number(rng, lines, lambda _: "0"),
    "huge": lambda rng, lines: _other_number(rng, lines, lambda _: rng.choice(HUGE)),
    "not a number": lambda rng, lines: _other_number(
        rng, lines, lambda _: rng.choice(["nan", "inf", "-inf", "NaN"])
    ),
    "decimal comma": lambda rng, lines: _other_number(rng, lines, lambda n: n + ",5"),
    "times ten": lambda rng, lines: _other_number(rng, lines, lambda n: n + "0"),
    "missing": _missing,
    "empty": _empty,
    "twice": _twice,
    "table twice": _table_twice,
    "table gone": _table_gone,
    "renamed table": _renamed_table,
    "wrong type": _wrong_type,
    "other word": _other_word,
    "no quotes": _bare,
    "strange key": _strange_key,
    "cut": _cut,
    "stray sign": _stray,
}


def outcome(folder: Path, text: str) -> tuple[str, ...]:
    """The faults that reading a spoilt file in `folder` names; none where it loads."""
    path = folder / "case.toml"
    path.write_text(text, encoding="utf-8", newline="")
    try:
        load_case(path)
    except CaseError as error:
        return error.faults
    return ()
