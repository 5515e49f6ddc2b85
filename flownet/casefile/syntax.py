"""TOML text to tables; what its reader refuses is said with the line and what to write."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable
from typing import Any, NamedTuple

from flownet.schema.errors import CaseError

MOST_FAULTS = 20
MOST_REREAD = 200_000  # characters: a longer text is not read again after its first slip
LONGEST_LINE = 300
MOST_STEPS = 100
_STEP = r"[\w\"'-]++\s*+\.\s*+"
_STEPS = re.compile(rf"(?<![\w\"'-])(?:{_STEP}){{{MOST_STEPS}}}")
_SAID = {
    "expected newline or end of document after a statement": "more stands after the value",
    "invalid initial character for a key part": "no key starts like this",
    "expected '=' after a key in a key/value pair": "no = after the key",
    "expected ']' at the end of a table declaration": "no ] after the name of the table",
}
_PLACE = re.compile(r"(.*) \(at (?:line (\d+), column \d+|end of document)\)", re.DOTALL)
_KEY = r"""\s*((?:[A-Za-z0-9_.*-]+|"[^"]*")(?:\.(?:[A-Za-z0-9_*-]+|"[^"]*"))*)\s*"""
_END = r"\s*(?:#.*)?"
_NUMBER = r"[-+]?(?:\d[\d_]*)?[.,]?\d+(?:[eE][-+]?\d+)?"


class Trap(NamedTuple):
    """A usual slip within one line, and what to write instead."""

    line: str  # a pattern, compiled when it is needed
    hint: Callable[[re.Match[str]], str]


def _trap(pattern: str, hint: str | Callable[[re.Match[str]], str]) -> Trap:
    return Trap(pattern, hint if callable(hint) else lambda _: hint)


def _quoted(match: re.Match[str]) -> str:
    value = match[2].strip()
    if re.fullmatch(r"[-+]?\d+,\d+\D.*", value):
        value = value.replace(",", ".", 1)
    return f'text and quantities stand in quotes: {match[1]} = "{value}"'


_TRAPS = (
    _trap(r".*[“”„‟«»‘’‚].*", 'straight quotes are wanted: "..."'),
    _trap(rf"{_KEY}=.*;{_END}", "a line has no ; at its end"),
    _trap(rf"{_KEY}=\s*([-+]?\d+),(\d+){_END}", lambda m: (
        f"decimals take a point: {m[1]} = {m[2]}.{m[3]}")),
    _trap(rf'{_KEY}=\s*"([^"]*)"\s*([A-Za-z%][^#"=]*?){_END}', lambda m: (
        f'the unit stands inside the quotes: {m[1]} = "{m[2]} {m[3]}"')),
    _trap(rf"{_KEY}=\s*([-+]?)\.(\d+){_END}", lambda m: (
        f"a number starts with a digit: {m[1]} = {m[2]}0.{m[3]}")),
    _trap(rf"{_KEY}=\s*([-+]?\d+)\.{_END}", lambda m: (
        f"a number ends with a digit: {m[1]} = {m[2]}.0")),
    _trap(rf"{_KEY}=\s*([-+]?)0+(\d+(?:\.\d+)?){_END}", lambda m: (
        f"a number has no zeros in front: {m[1]} = {m[2]}{m[3]}")),
    _trap(rf"(?i){_KEY}=\s*(true|false|yes|no|on|off){_END}", lambda m: (
        f"true and false are written small: {m[1]} = "
        + ("true" if m[2].lower() in ("true", "yes", "on") else "false"))),
    _trap(rf"(?i){_KEY}=\s*(?:none|null|nil|nan|-){_END}",
          "what is not given has no line: leave it out"),
    _trap(rf"{_KEY}={_END}", lambda m: f"{m[1]} has no value; write one, or leave the line out"),
    _trap(r"\s*([A-Za-z0-9_.-]*\*[A-Za-z0-9_.*-]*)\s*=.*", lambda m: (
        f'a path with * stands in quotes: "{m[1]}" = ...')),
    _trap(rf"{_KEY}=\s*({_NUMBER}\s*[^\s\d\"'#,=\[\]{{}}][^\"'#=\[\]{{}}]*?){_END}", _quoted),
    _trap(rf"{_KEY}=\s*((?:{_NUMBER}\s+)+[^\s\d\"'#,=\[\]{{}}][^\"'#=\[\]{{}}]*?){_END}", _quoted),
    _trap(rf"{_KEY}=\s*([A-Za-z][^\"'#=\[\]{{}}]*?){_END}", _quoted),
    _trap(rf"{_KEY}:\s+(\S.*)", lambda m: f"a value follows =, not a colon: {m[1]} = {m[2]}"),
    _trap(r"\s*(?://|;|--|/\*|%).*", "a remark starts with #"),
    _trap(r"\s*\[+(?:\.[^\]]*|[^\]]*\.|)\s*\].*", "a name is missing: [kind.name]"),
    _trap(r".*=\s*-?\d+(?:\.\d+)?,\d+\s*[,}\]].*", "decimals take a point"),
    _trap(r"\s*\[[^\]#]*(?:#.*)?", "the closing ] of the table's name is missing"),
    _trap(r"\s*\[[^\]]*[^\]A-Za-z0-9_.\"' -][^\]]*\].*|\s*\[+\s*[\w-]+[.\w-]*\s+[\w][^\]]*\].*",
          "a name is made of letters, digits, - and _: [kind.name]"),
    _trap(r"\s*((?:[A-Za-z0-9_-]+\s+)+[A-Za-z0-9_-]+)\s*=.*", lambda m: (
        f"a key has no blanks: {'_'.join(m[1].split())} = ...")),
    _trap(r"[^=\"']*[^\x00-\x7f][^=\"']*=.*", "a key is made of plain letters a to z"),
    _trap(rf"\s*[\w.-]+{_END}", "a line is `key = value` or `[kind.name]`"),
)  # fmt: skip


def parse(text: str, label: str) -> dict[str, Any]:
    """The tables of a TOML text.

    CaseError, each line after `label`, with every slip that can be told from its line alone.
    """
    faults: list[str] = []
    lines = re.split(r"\r?\n", text)
    for number, line in enumerate(lines, 1):
        if len(line) > MOST_STEPS and _STEPS.search(line):  # the reader takes their square in time
            raise CaseError(f"{label}: line {number}: too many names are joined by dots")
    while len(faults) < MOST_FAULTS:
        try:
            found = tomllib.loads("\n".join(lines))
        except tomllib.TOMLDecodeError as error:
            number, what, hint = _explained(str(error), lines)
            faults.append(f"{label}: {what}{hint}")
            if not (number and hint and _alone(lines[number - 1])) or len(text) > MOST_REREAD:
                break  # what follows may be a consequence of it
            lines[number - 1] = ""
        except (RecursionError, ValueError) as error:  # nested or numbers beyond all sense
            deep = isinstance(error, RecursionError)
            what = "lists or tables are nested too deep" if deep else "a number has too many digits"
            faults.append(f"{label}: {what}")
            break
        else:
            if faults:
                break
            return found
    raise CaseError(faults)


def _alone(line: str) -> bool:
    """Whether a line can be left out without changing what the others mean."""
    opened = sum(line.count(sign) for sign in "[{") - sum(line.count(sign) for sign in "]}")
    return "=" in line and opened == 0 and '"""' not in line and "'''" not in line


def _explained(message: str, lines: list[str]) -> tuple[int, str, str]:
    """Line number (0: none), what is wrong with its place, and the hint with its semicolon."""
    match = _PLACE.fullmatch(message)
    what, number = (match[1], int(match[2] or 0)) if match else (message, 0)
    what = what[:1].lower() + what[1:]
    if what == "cannot overwrite a value" and not number:
        number = len(lines)
    if not number:
        return 0, f"{what} at the end of the file", "; a closing quote or bracket is missing"
    line = lines[number - 1].strip()
    if declared := re.match(r"cannot declare \((.*?),?\) twice", what):
        name = ".".join(step.strip(" '\"") for step in declared[1].split(","))
        return number, f"line {number}: [{name}] stands twice", "; give each its own name"
    if what.startswith("cannot overwrite"):
        return number, f"line {number}: a key stands twice in its table (got {_short(line)})", (
            "; leave one of the two")  # fmt: skip
    hint, what = _hint(what, line), _SAID.get(what, what)
    return number, f"line {number}: {what} (got {_short(line)})", f"; {hint}" if hint else ""


def _hint(what: str, line: str) -> str:
    if "escaped" in what or "unescaped" in what.lower():
        return "write / instead of \\"
    for trap in _TRAPS if len(line) < LONGEST_LINE else ():
        if match := re.fullmatch(trap.line, line):
            return trap.hint(match)
    bare = line.split("#", maxsplit=1)[0]
    if bare.count("{") > bare.count("}") or re.search(r"\{[^}]*,\s*\}", bare):
        return "{ ... } stands on one line, without a comma at its end"
    if bare.count('"') % 2:
        return "a closing quote is missing"
    if bare.count("[") > bare.count("]"):
        return "a closing ] is missing"
    return ""


def _short(line: str) -> str:
    return line if len(line) <= 60 else line[:57] + "..."
