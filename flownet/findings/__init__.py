"""Findings: what is worth a word about one solution, worst first, with what to try."""

from __future__ import annotations

from flownet.findings import (
    curves,
    draught,
    entries,
    fan_data,
    fans,
    filters,
    installation,
    limits,
    losses,
    mixing,
    paths,
    resistances,
    returning,
    site,
    supplies,
)
from flownet.findings.rule import Rule, rule, rules_of, say
from flownet.results.finding import SEVERITIES, Finding
from flownet.results.solution import Solution
from flownet.schema import argument_checks

__all__ = ["RULES", "Finding", "Rule", "find", "rule", "say"]

RULES: dict[str, Rule] = rules_of(
    limits, fans, fan_data, draught, mixing, returning, paths, filters, resistances, site, supplies,
    installation, curves, losses, entries,
)  # fmt: skip


def find(solution: Solution) -> tuple[Finding, ...]:
    """Everything the rules say about a solution: errors first, then in the order of the rules."""
    argument_checks.check("find", solution, Solution)
    order = {name: place for place, name in enumerate(RULES)}
    found = [finding for each in RULES.values() for finding in each(solution)]
    found.sort(key=lambda f: (SEVERITIES.index(f.severity), order[f.rule], f.subject))
    return tuple(found)
