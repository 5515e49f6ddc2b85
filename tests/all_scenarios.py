"""Solves a case in every scenario and every variant: `python -m tests.all_scenarios CASE ...`.

One line each, with its balance and its findings; ends with 1 where one has no solution or does not
keep the promise of `docs/theory.md`. A ready-made outage that the case does not name may be
refused.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator

import flownet
from flownet.enclosure.scenarios import expand


def pairs(case: flownet.Enclosure) -> Iterator[tuple[str, str]]:
    """Every scenario, outage and variant, alone and together."""
    outages = [f"fan.{name}-out" for name, fan in case.fans.items() if fan.running]
    required = [one for named in case.limits.scenarios for one in expand(case, named)]
    for scenario in dict.fromkeys(["base", *case.scenarios, *outages, *required]):
        for variant in ["base", *case.variants]:
            yield scenario, variant


def asked_for(case: flownet.Enclosure, scenario: str) -> bool:
    """Whether the case itself names it; a ready-made outage may have no solution."""
    required = [one for named in case.limits.scenarios for one in expand(case, named)]
    return scenario in ("base", *case.scenarios, *required)


def kept(found: flownet.Solution) -> bool:
    """Whether a solution is as good as every result has to be."""
    b = found.balance
    return (
        max(b.mass_residual, b.pressure_residual) <= 1e-9
        and b.energy_residual <= 1e-6
        and b.temperature_step <= 1e-6
        and b.flow_step <= 1e-8
    )


def main(paths: list[str]) -> int:
    failed = solved = refused = 0
    for path in paths:
        case = flownet.load_case(path)
        for scenario, variant in pairs(case):
            where = f"{case.title} {variant} {scenario}:"
            try:
                found = flownet.solve(case, scenario=scenario, variant=variant)
            except flownet.FlownetError as error:
                failed += asked_for(case, scenario)
                refused += not asked_for(case, scenario)
                print(where, error)
                continue
            solved += 1
            rules = " ".join(f"{f.severity[0]}:{f.rule}" for f in found.findings)
            margin = found.totals.worst_margin
            print(where, f"{margin:+.1f} K", "stable" if found.stable else "UNSTABLE", rules)
            if not kept(found):
                failed += 1
                print(where, "does not keep the promise:", found.balance)
    print(f"{solved} solved, {refused} outages refused by name, {failed} failed")
    return failed


if __name__ == "__main__":
    sys.exit(bool(main(sys.argv[1:])))
