"""Which of the changes that hold are proposed: nothing larger than another one that is enough, and
no air that comes in where it should not."""

from __future__ import annotations

from collections.abc import Sequence

from flownet.enclosure.enclosure import Enclosure
from flownet.findings import RULES
from flownet.judging.assessment import OK, STATUSES
from flownet.results.solution import Solution
from flownet.results.streams import is_outside, streams
from flownet.solving.solve import again
from flownet.studies.suggesting.search import TriedChange

MOST_HELD = 48  # changes that hold and are counted
WITHOUT_NUMBER = ("unsolved", "void")
PAST_FILTER = "the air would come in past the filter that is required"
TURNED = "the air would turn round where a recirculation is given, which says nothing of that way"


def sound(
    case: Enclosure, base: TriedChange, found: Sequence[TriedChange]
) -> tuple[list[TriedChange], list[str]]:
    """What holds, least effort first, of sizes of one change the smallest that has its margin, else
    that holds, nothing with more than another that holds; and why others were left out."""
    holding = sorted((each for each in found if each.holds), key=lambda x: (x.effort, -x.margin))
    sizes = dict[object, TriedChange]()
    for each in holding:
        own, size = each.changes.items(), tuple(one.group for one in each.made)
        before, full = sizes.get(size), each.status == STATUSES[OK]
        less = any(other.changes.items() < own and not (full and other.status != each.status)
                   for other in holding if not other.edits)  # fmt: skip
        if not less and (before is None or (full and before.status != each.status)):
            sizes[size] = each
    kept = sorted(sizes.values(), key=lambda each: each.rank)[:MOST_HELD]
    if not kept or not watched(case):
        return kept, []
    now = solved(case, base) if base.status not in WITHOUT_NUMBER else ""
    why = [astray(now, solved(case, each), any(one.kind == "turn" for one in each.made))
           for each in kept]  # fmt: skip
    good = [each for each, word in zip(kept, why, strict=True) if not word]
    return good, [word for word in why if word]


def solved(case: Enclosure, each: TriedChange) -> Solution | str:
    """A change solved where it decides; or why there is no solution."""
    made = case
    for one in each.made:
        made = one.case or made
    made = made.with_changes(each.changes) if each.changes else made
    return again(made.under(each.scenario or "base"))


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
