"""Findings: what is worth a word about one solution, worst first, with what to try."""

from __future__ import annotations

from flownet.findings import (
    curves,
    draught,
    drops,
    entries,
    fan_data,
    fans,
    filters,
    installation,
    limits,
    losses,
    mixing,
    noise,
    outages,
    outlines,
    overriding,
    parts,
    paths,
    ranges,
    resistances,
    returning,
    site,
    states,
    supplies,
)
from flownet.findings.document import document_of
from flownet.findings.registry import SEVERITIES, Rule, rule, rules_of, say
from flownet.results.solution import Finding, Solution
from flownet.schema import argument_checks

__all__ = ["RULES", "Finding", "Rule", "document", "find", "rule", "say"]

RULES: dict[str, Rule] = rules_of(
    (
        limits, fans, fan_data, states, draught, mixing, returning, paths, filters, parts,
        resistances, site, supplies, outages, noise, installation, curves, losses, ranges, drops,
        outlines, overriding, entries,
    )
)  # fmt: skip


def find(solution: Solution) -> tuple[Finding, ...]:
    """Everything the rules say about a solution: errors first, then in the order of the rules."""
    argument_checks.check("find", solution, Solution)
    order = {name: place for place, name in enumerate(RULES)}
    found = [finding for each in RULES.values() for finding in each(solution)]
    found.sort(key=lambda f: (SEVERITIES.index(f.severity), order[f.rule], f.subject))
    return tuple(found)


def document() -> str:
    """The page of all rules (`docs/findings.md`), from the texts of `explain`."""
    return document_of(RULES.values())
