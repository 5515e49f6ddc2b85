"""Findings as lines of text: what is alike is one entry, what was said before is short."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence
from itertools import groupby

from flownet.pages.page import STYLES, Page, counted
from flownet.pages.table import INDENT, Cell, cut, hanging
from flownet.results.solution import Finding

Told = set[tuple[str, str]]  # rules with what they said or advised


def findings_lines(
    findings: Sequence[Finding], page: Page, told: Told | None = None
) -> Iterator[str]:
    """The findings, worst first, each wrapped beside its rule; alike ones are one.

    `told` is what stands on pages before: what was said there is one line, an error apart, and no
    advice comes twice. It grows by what is said here.
    """
    if not findings:
        return
    told = set() if told is None else told
    yield page.paint("Findings", "heading")
    order = ("error", "warning", "note")
    listed = sorted(merged(findings, page.units), key=lambda f: order.index(f.severity))
    shown = cut(listed, page.most, lambda item: item.severity == "error")
    size = max(len(item.rule) for item in shown)
    for item in shown:
        words = [Cell(INDENT), Cell(f"{item.severity:<9}", STYLES[item.severity])]
        lead = [*words, Cell(item.rule.ljust(size) + "  ")]
        room = page.width - sum(len(cell.text) for cell in lead)
        yield from hanging(lead, _told(item, page.units, told, room), page.width, page.paint)
    if len(listed) > len(shown):
        rest = [item.severity for item in listed if item not in shown]
        more = ", ".join(counted(len(list(same)), word) for word, same in groupby(rest))
        yield f"{INDENT}... {more} more (--all)"


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


def _told(finding: Finding, units: str, told: Told, room: int) -> str:
    """Message and advice; what was `told` before on one line, advice once."""
    message, advice = finding.message(units).strip(), finding.advice(units).strip()
    said, advised = (finding.rule, message), (finding.rule, advice)
    again, known = said in told, advised in told
    told |= {said, advised}
    if again and finding.severity != "error":
        return textwrap.shorten(message, max(room, 30), placeholder=" ...")
    if not advice or known:
        return message
    return f"{message}{'' if message.endswith(('.', '!', '?')) else '.'} Try: {advice}"
