"""Findings as a table: what is alike is one entry, what was said before is short."""

from __future__ import annotations

from collections.abc import Sequence

from flownet.pages.page import STYLES
from flownet.pages.sheet import BRIEF, Column, Listing
from flownet.results.finding import SEVERITIES, Finding

Told = set[tuple[str, str]]  # rules with what they said or advised


def findings_table(findings: Sequence[Finding], told: Told | None, units: str) -> Listing:
    """The findings, worst first; alike ones are one.

    `told` is what stands on pages before: what was said there is one line, an error apart, and no
    advice comes twice. It grows by what is said here.
    """
    told = set() if told is None else told
    listed = sorted(merged(findings, units), key=lambda f: SEVERITIES.index(f.severity))
    texts = [_told(item, units, told) for item in listed]
    size = max(map(len, SEVERITIES))
    return Listing("findings", (
        Column("Findings", [item.severity.ljust(size) for item in listed],
               styles=[STYLES[item.severity] for item in listed]),
        Column("", [item.rule for item in listed]),
        Column("", [text for text, _ in texts], styles=[style for _, style in texts]),
    ), hang=True)  # fmt: skip


def merged(findings: Sequence[Finding], units: str) -> list[Finding]:
    """Findings that say the same of several subjects as one that names all of them."""
    groups: dict[tuple[str, ...], list[Finding]] = {}
    for item in findings:
        any_one = _about(item, "")
        words = any_one.message(units), any_one.advice(units)
        groups.setdefault((item.severity, item.rule, *words), []).append(item)
    return [_joined(group) for group in groups.values()]


def _joined(group: list[Finding]) -> Finding:
    first = group[0]
    if len(group) == 1:
        return first
    subjects = [item.subject for item in group]
    named = f"{', '.join(subjects[:-1])} and {subjects[-1]}"
    if "{subject}" in first.template:
        return _about(first, f"each of {named}")
    return first._replace(template=f"{first.template} ({named})")


def _about(finding: Finding, subject: str) -> Finding:
    return finding._replace(values={**finding.values, "subject": (None, subject)})


def _told(finding: Finding, units: str, told: Told) -> tuple[str, str]:
    """Message and advice, with its style; what was `told` before is brief, advice comes once."""
    message, advice = finding.message(units).strip(), finding.advice(units).strip()
    said, advised = (finding.rule, message), (finding.rule, advice)
    again, known = said in told, advised in told
    told |= {said, advised}
    if again and finding.severity != "error":
        return message, BRIEF
    if not advice or known:
        return message, ""
    stop = "" if message.endswith((".", "!", "?")) else "."
    return f"{message}{stop} Try: {advice}", ""
