"""Why a change is no proposal though limits hold with it: its air comes in where it should not."""

from __future__ import annotations

from flownet.enclosure.enclosure import Enclosure
from flownet.findings import RULES
from flownet.results.solution import Solution
from flownet.results.streams import is_outside, streams

PAST_FILTER = "the air would come in past the filter that is required"
TURNED = "the air would turn round where a recirculation is given, which says nothing of that way"


def watched(case: Enclosure) -> bool:
    """Whether a case asks where its air comes in."""
    return case.limits.intake_filter == "required" or bool(case.things["recirculation"])


def astray(now: Solution | str, then: Solution | str, turned: bool) -> str:
    """Why a state is none to propose; empty: nothing against it.

    now : Solution or str
        The case as it is; what it has already, where it is sound, is no reason. Text: it is not.
    turned : bool
        Whether a fan is turned round for it: then outlets and intakes that stay where they are
        change their parts, which a given recirculation does not follow.
    """
    missing = RULES["filter-missing"]
    if isinstance(then, str):
        return ""
    if any(missing(then)) and (isinstance(now, str) or not any(missing(now))):
        return PAST_FILTER
    loops = [loop for loop in then.case.things["recirculation"].values() if loop.fraction > 0]
    outlets, intakes = {loop.from_ for loop in loops}, {loop.to for loop in loops}
    back = any((is_outside(each.source) and each.path in outlets)
               or (is_outside(each.target) and each.path in intakes)
               for each in streams(then))  # fmt: skip
    return TURNED if turned and back else ""
