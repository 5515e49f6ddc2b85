"""A scenario that sets what its variant has set: the two designs look alike there."""

from __future__ import annotations

from collections.abc import Iterator
from types import SimpleNamespace
from typing import cast

from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.overriding import overridden
from flownet.findings.registry import OUR_OWN, Said, rule, say
from flownet.results.solution import Finding, Solution


@rule(
    name="variant-overridden",
    severity="warning",
    title="a scenario sets what the variant has set",
    cause="Scenarios come after variants and win. A scenario that sets a value absolutely takes "
    "away what the variant has made of it, so both designs look alike there and a comparison says "
    "nothing about them.",
    try_="Write the change of the scenario relative, such as * 0.9 or + 5 K.",
    thresholds="an absolute change of a scenario at a value that the variant has set, or that "
    "takes it back (loss for open_ratio); not the same value again, not an outage",
    source=OUR_OWN,
)
def variant_overridden(solution: Solution) -> Iterator[Said]:
    """Values of the variant that are lost in the scenario."""
    case, (scenario, variant, *_) = solution.case, solution.case.applied
    for each in overridden(case.source or case, scenario, variant):
        hint = f"{each.hint[0].upper()}{each.hint[1:]}."
        yield say(each.lost[0], "{text}", hint, text=(None, each.message))


def of_case(case: Enclosure) -> tuple[Finding, ...]:
    """What the rule says of a case in a scenario and variant, before anything is solved."""
    return tuple(variant_overridden(cast(Solution, SimpleNamespace(case=case))))
