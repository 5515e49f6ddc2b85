"""What a rule is: a function that looks at one solution, with texts and numbers of `texts.toml`."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import cache, cached_property
from pathlib import Path
from typing import Any, NamedTuple, overload

from flownet.findings.facts import must_hold
from flownet.results.finding import Finding
from flownet.results.solution import Solution
from flownet.schema import quantities as q
from flownet.schema.fault import listed
from flownet.schema.quantities import Quantity

HEADINGS = {  # of what is explained, by the key of the text
    "Cause": "cause", "Try": "try", "Threshold": "thresholds", "Severity": "", "Source": "source",
}  # fmt: skip
GAP = re.compile(r"\{(\w+)(?::([^}]*))?\}")  # {flow:volume_flow}, {share:%}, {names}
Value = tuple[Quantity | None, Any]
"""A number with its quantity, shown in the reader's units; None: words, or a number as it is."""


@cache
def texts(file: str = "texts.toml") -> dict[str, Any]:
    """A file of texts beside this one; lines of long ones are joined by a space."""

    def joined(value: Any) -> Any:
        if isinstance(value, dict):
            return {key: joined(each) for key, each in value.items()}
        return " ".join(value.split()) if isinstance(value, str) and "\n" in value else value

    read: dict[str, Any] = joined(tomllib.loads(Path(__file__).with_name(file).read_text("utf-8")))
    return read


class Said(NamedTuple):
    """What a rule says about one subject: which of its texts, and what fills them."""

    subject: str
    pieces: tuple[str, ...]  # of the message, one after the other
    hint: str
    mild: bool  # of the lesser severity that its rule has for such a case
    values: Mapping[str, Any]


Looks = Callable[[Solution], Iterable[Said]]


def say(
    subject: str, *pieces: str | bool, hint: str | bool = "", mild: bool = False, **values: Any
) -> Said:
    """One finding: the texts of its rule by their keys, `says` unless told; what is empty or False
    is left out. `hint` too is a key; without one it is what the rule always advises.

    A value is a number, whose quantity stands in the text (`{flow:volume_flow}`, or `%` of a
    ratio), a word, several words or names, or a quantity with its number; also several mappings,
    for each of which the text that its gap names (`{pairs:*pair}`) is filled.
    """
    kept = tuple(piece for piece in pieces if isinstance(piece, str) and piece) or ("says",)
    return Said(subject, kept, hint if isinstance(hint, str) and hint else "try", mild, values)


def few(items: list[Any], least: str = "") -> list[Any]:
    """The first three of several things to tell, and how many more there are, or `least`."""
    return items if len(items) <= 3 else [*items[:3], f"{least}{len(items) - 3} more"]


def percent(ratio: float) -> str:
    """A ratio in words: `14 %`, `0.3 %`."""
    shown = 100 * ratio
    return f"{shown:.0f} %" if shown >= 1 else f"{shown:.1g} %"


@dataclass(frozen=True)
class Rule:
    """A rule, called with a solution for its findings; its texts are read when first needed.

    `rule["near"]` is a number of its own, from `texts.toml` or, as `given`, from where it counts.
    """

    looks: Looks
    given: Mapping[str, Any] = field(default_factory=dict)

    def __call__(self, solution: Solution) -> Iterator[Finding]:
        """Its findings for one solution."""
        severity = ""
        for said in self.looks(solution):
            severity = severity or self._severity(solution)
            yield self._finding(said, self.texts["mild"] if said.mild else severity)

    def __getitem__(self, name: str) -> float:
        number: float = self.numbers[name]
        return number

    @cached_property
    def name(self) -> str:
        """That of its function, with hyphens."""
        return self.looks.__name__.replace("_", "-")

    @cached_property
    def texts(self) -> Mapping[str, Any]:
        """Its table in the file: its severity and those of other cases too."""
        own: Mapping[str, Any] = texts()[self.name]
        return own

    @cached_property
    def numbers(self) -> Mapping[str, Any]:
        """What its texts and its function share: thresholds, each once."""
        given = {key: x() if callable(x) else x for key, x in self.given.items()}
        return {**self.texts.get("numbers", {}), **given}

    def text(self, key: str, units: str = "metric") -> str:
        """A text with the numbers of the rule in the reader's units."""
        return self._finding(Said("", (key,), key, False, {}), "").message(units)

    def pages(self, units: str = "metric") -> dict[str, str]:
        """Its texts by their heading."""
        severity = self.texts["severity"]
        if "elsewhere" in self.texts:
            severity += f" where the limits must hold, else {self.texts['elsewhere']}"
        elif "mild" in self.texts:
            severity += f", or {self.texts['mild']} as the threshold says"
        return {heading: self.text(key, units) if key else severity
                for heading, key in HEADINGS.items()}  # fmt: skip

    def _severity(self, solution: Solution) -> str:
        away = "elsewhere" in self.texts and not must_hold(solution)
        return str(self.texts["elsewhere" if away else "severity"])

    def _finding(self, said: Said, severity: str) -> Finding:
        whole, hint = "".join(map(self._text, said.pieces)), self._text(said.hint)
        values = dict[str, Any](subject=said.subject, **self.numbers)
        values |= said.values
        for name, key in GAP.findall(whole):
            if key.startswith("*"):
                whole = whole.replace(f"{{{name}:{key}}}", self._spread(key[1:], values, name))
        kinds = dict(self._kinds) | {gap: kind for gap, kind in GAP.findall(whole) if kind}
        made = {name: _value(kinds.get(name, ""), value) for name, value in values.items()}
        plain, advice = (GAP.sub(r"{\1}", text) for text in (whole, hint))
        return Finding(severity, self.name, said.subject, plain, advice, made)

    def _text(self, key: str) -> str:
        """One of its texts, or of another rule: `air-returns-inside.closed`."""
        other, _, own = key.rpartition(".")
        found: str = texts()[other or self.name][own]
        return found

    @cached_property
    def _kinds(self) -> Mapping[str, str]:
        """How each value is shown, where a text says so."""
        whole = "".join(text for text in self.texts.values() if isinstance(text, str))
        return {name: kind for name, kind in GAP.findall(whole) if kind[:1] not in ("", "*")}

    def _spread(self, key: str, values: dict[str, Any], name: str) -> str:
        """A text for each of several things, its gaps numbered; words stand as they are."""
        words: list[str] = []
        text = self._text(key)
        for number, each in enumerate(values.pop(name)):
            if isinstance(each, str):
                words.append(each)
                continue
            words.append(GAP.sub(rf"{{\g<1>_{number}:\2}}", text))
            values |= {f"{gap}_{number}": value for gap, value in each.items()}
        return listed(words, len(words))


def _value(kind: str, value: Any) -> Value:
    if isinstance(value, tuple) and value and isinstance(value[0], Quantity):
        return value[0], value[1]
    if kind == "%":
        return None, percent(value)
    if kind:
        return getattr(q, kind.upper()), value
    return None, listed(value) if isinstance(value, (list, tuple)) else str(value)


@overload
def rule(looks: Looks, /) -> Rule: ...
@overload
def rule(**numbers: Any) -> Callable[[Looks], Rule]: ...
def rule(looks: Looks | None = None, /, **numbers: Any) -> Rule | Callable[[Looks], Rule]:
    """Make a rule of a function that yields what it has to say about a solution.

    `numbers` are thresholds that stand elsewhere in the code, or functions that fetch them; others
    stand beside its texts.
    """
    return (lambda function: Rule(function, numbers)) if looks is None else Rule(looks, numbers)


def rules_of(*modules: object) -> dict[str, Rule]:
    """The rules of modules by name, in the order they stand there."""
    return {
        item.name: item
        for module in modules for item in vars(module).values()
        if type(item) is Rule and item.looks.__module__ == vars(module)["__name__"]
    }  # fmt: skip
