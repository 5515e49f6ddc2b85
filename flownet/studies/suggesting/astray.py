"""Why a change is no proposal though limits hold with it: its air comes in where it should not."""

from __future__ import annotations

from typing import NamedTuple

from flownet.enclosure.enclosure import Enclosure
from flownet.findings import RULES
from flownet.results.solution import Solution
from flownet.results.streams import is_outside, streams

PAST_FILTER = "the air would come in past the filter that is required"
TURNED = "the air would turn round where a recirculation is given, which says nothing of that way"


class Watched(NamedTuple):
    """What is looked at in the air of a case."""

    filtered: bool  # whether a filter is required
    led_back: bool  # whether exhaust comes round

    @classmethod
    def of(cls, case: Enclosure) -> Watched:
        """Of a case as it is."""
        loops = case.things["recirculation"].values()
        return cls(case.limits.intake_filter == "required", any(x.fraction > 0 for x in loops))

    @property
    def any(self) -> bool:
        """Whether there is anything to look at."""
        return self.filtered or self.led_back

    def astray(self, now: Solution | str, then: Solution | str, turned: bool) -> str:
        """Why a state is none to propose; empty: nothing against it. What the case has already,
        where it is sound, is no reason.

        turned : bool
            Whether a fan is turned round for it: outlets and intakes are where they were then,
            and change their parts, which a given recirculation does not follow.
        """
        if isinstance(then, str):
            return ""
        missing = RULES["filter-missing"]
        if any(missing(then)) and (isinstance(now, str) or not any(missing(now))):
            return PAST_FILTER
        return TURNED if turned and self.led_back and _turned(then) else ""


def _turned(solution: Solution) -> bool:
    """Whether air goes in where exhaust is said to leave, or out where it is said to come in."""
    loops = [loop for loop in solution.case.things["recirculation"].values() if loop.fraction > 0]
    outlets, intakes = {loop.from_ for loop in loops}, {loop.to for loop in loops}
    return any((is_outside(each.source) and each.path in outlets)
               or (is_outside(each.target) and each.path in intakes)
               for each in streams(solution))  # fmt: skip
