"""What a rule is: a function that looks at one solution, with the texts that explain it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import NamedTuple

from flownet.findings.facts import must_hold
from flownet.results.solution import Finding, Solution
from flownet.schema.quantities import Quantity

SEVERITIES = ("error", "warning", "note")  # worst first
COMMON_PRACTICE = "common practice, no source"
OUR_OWN = "our own choice"
Value = tuple[Quantity | None, float | str]
"""A number with its quantity, shown in the reader's units; None: words, or a number as it is."""


class Said(NamedTuple):
    """What a rule says about one subject; the rest stands in its declaration."""

    subject: str
    template: str
    hint: str  # empty: what the rule always advises
    values: Mapping[str, Value]
    mild: bool = False  # of the lesser severity that its rule has for such a case


@dataclass(frozen=True, kw_only=True)
class Rule:
    """A rule with its texts; called with a solution it yields its findings.

    `try_` and `thresholds` are templates of `numbers`, so that they too follow the reader's units.
    """

    name: str
    severity: str
    title: str
    cause: str
    try_: str
    thresholds: str
    source: str
    looks: Callable[[Solution], Iterable[Said]]
    elsewhere: str = ""  # severity in a scenario in which limits.scenarios asks for nothing
    mild: str = ""  # severity of what the rule itself calls mild
    numbers: Mapping[str, Value] = field(default_factory=dict)

    def __call__(self, solution: Solution) -> Iterator[Finding]:
        """Its findings for one solution."""
        severity = ""
        for said in self.looks(solution):
            severity = severity or self._severity(solution)
            values = {"subject": (None, said.subject), **self.numbers, **said.values}
            hint = said.hint or self.try_
            own = self.mild if said.mild else severity
            yield Finding(own, self.name, said.subject, said.template, hint, values)

    def _severity(self, solution: Solution) -> str:
        if self.elsewhere and not must_hold(solution):
            return self.elsewhere
        return self.severity


def rule(
    *,
    name: str,
    severity: str,
    title: str,
    cause: str,
    try_: str,
    thresholds: str,
    source: str,
    elsewhere: str = "",
    mild: str = "",
    numbers: Mapping[str, Value] | None = None,
) -> Callable[[Callable[[Solution], Iterable[Said]]], Rule]:
    """Make a rule of a function that yields what it has to say about a solution.

    Raises
    ------
    TypeError
        When a text is empty, or a severity is not one of `SEVERITIES`.
    """
    texts = {"title": title, "cause": cause, "try_": try_, "thresholds": thresholds}
    empty = [key for key, text in {**texts, "source": source}.items() if not text.strip()]
    others = {"", *SEVERITIES}
    if empty or severity not in SEVERITIES or not {elsewhere, mild} <= others:
        raise TypeError(
            f"rule {name}: every text and a known severity are wanted "
            f"(empty: {', '.join(empty) or 'none'}; got {severity!r}, {elsewhere!r}, {mild!r})"
        )

    def made(function: Callable[[Solution], Iterable[Said]]) -> Rule:
        return Rule(
            name=name, severity=severity, source=source, looks=function, elsewhere=elsewhere,
            mild=mild, numbers=numbers or {}, **texts,
        )  # fmt: skip

    return made


def say(subject: str, template: str, hint: str = "", **values: Value) -> Said:
    """One finding: `{subject}` and the values may stand in the template and in the hint."""
    return Said(subject, template, hint, values)


def filled(text: str, values: Mapping[str, Value], units: str = "metric") -> str:
    """A template with its values in the reader's units."""
    return Finding("", "", "", text, "", values).message(units)


def rules_of(modules: Iterable[object]) -> dict[str, Rule]:
    """The rules of modules by name, in the order they stand there."""
    found = (item for module in modules for item in vars(module).values() if type(item) is Rule)
    return {item.name: item for item in found}
