"""The page of all rules, from the same texts as `explain`."""

from __future__ import annotations

from collections.abc import Iterable

from flownet.findings.registry import Rule, filled

HEAD = """\
# Findings

What flownet says about a solution beside its numbers: `error`, `warning` or `note`, the place, what
is wrong and by how much, and what to try. Each rule looks at one solution and compares it with
nothing else. `flownet explain RULE` prints the same text.

An `error` says that a limit is broken, or that a running fan stands in stall or is driven
backwards, in a scenario in which the limits must hold: one that `limits.scenarios` names or expands
to; without that list, the one solved. Elsewhere the same is a `warning`. A `warning` otherwise: the
result stands, the design or the input is doubtful. A `note` is for the report. The rules do not
replace local codes and licensed practice.
"""


def severity_of(rule: Rule) -> str:
    """`warning`, or `error where the limits must hold, else warning`, or what a mild case is."""
    if rule.elsewhere:
        return f"{rule.severity} where the limits must hold, else {rule.elsewhere}"
    if rule.mild:
        return f"{rule.severity}, or {rule.mild} as the threshold says"
    return rule.severity


def texts_of(rule: Rule, units: str = "metric") -> dict[str, str]:
    """The texts of a rule by their heading, its numbers in the reader's units."""
    return {
        "Cause": filled(rule.cause, rule.numbers, units),
        "Try": filled(rule.try_, rule.numbers, units),
        "Threshold": filled(rule.thresholds, rule.numbers, units),
        "Severity": severity_of(rule),
        "Source": filled(rule.source, rule.numbers, units),
    }


def document_of(rules: Iterable[Rule]) -> str:
    """Markdown: a heading and one paragraph a rule."""
    return "\n".join([HEAD, *(_paragraph(rule) for rule in rules)])


def _paragraph(rule: Rule) -> str:
    title = rule.title[0].upper() + rule.title[1:]
    texts = {head: text.rstrip(".").replace("*", r"\*") for head, text in texts_of(rule).items()}
    cause = texts.pop("Cause")
    rest = " ".join(f"*{heading}:* {text}." for heading, text in texts.items())
    return f"## {rule.name}\n\n**{title}.** {cause}. {rest}\n"
