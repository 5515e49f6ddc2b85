"""What a solution means, in a sentence or two: what is void, which limits break, which hold."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Container, Iterator, Sequence

from flownet.judging.assessment import OVER, STATUSES, THERMAL, assessed
from flownet.judging.layered import LAYERS
from flownet.judging.voids import told
from flownet.pages.page import counted
from flownet.pages.sheet import Sentence
from flownet.results.limits import Limit
from flownet.results.solution import Solution
from flownet.results.tables import AT_REST
from flownet.schema.fault import listed

BARELY = 0.05  # of a life or a flow; a noise level or a dew margin by less than 1 dB, 1 K: our own
SUBJECTS = 4  # subjects, before "and 3 more"
RULES = {  # a reason for void -> the finding that tells the same
    "supply": "supply-mismatch", "opposed": "fans-opposed", "unstable": "unstable-state",
    "backflow": "fan-backflow", "stall": "fan-stall",
}  # fmt: skip


def ranked(solution: Solution) -> list[tuple[Limit, str]]:
    """All limits that apply with how they stand, worst first: broken, unknown, tight, kept;
    temperatures before the others. `over` (of a least value: `short`), `unknown`, `tight`, `ok`."""
    kinds = ("air", "part", "touch", "flow", "noise", "life", "dew")
    each = assessed(solution).each[:, 0].tolist()
    found = [(item, code) for item, code in zip(solution.limits, each, strict=True)
             if _applies(item, solution)]  # fmt: skip
    found.sort(key=lambda pair: (pair[1], max(kinds.index(pair[0].limit), 2), pair[0].margin))
    return [(item, "short" if item.at_least and code == OVER else STATUSES[code])
            for item, code in found]  # fmt: skip


def _applies(limit: Limit, solution: Solution) -> bool:
    """A fan that does not turn has no life to compare."""
    if limit.limit != "life" or limit.margin == limit.margin:
        return True
    return solution.fans[limit.subject].region not in AT_REST


def verdict(
    solution: Solution, units: str = "metric", of: Container[str] | None = None, where: str = ""
) -> Iterator[Sentence]:
    """What the result means, in a sentence or two; causes before what follows from them.

    With `of`, only limits of these subjects, which are `where`: `in the slots`.
    """
    stand = assessed(solution)
    void, dip = stand.reasons(0), stand.in_dip(0)
    if void:
        yield _sentence("Void: ", [told(void, units)], "bad")
    if dip:
        said = f"{told(dip, units)} while another fan is out"
        yield _sentence("Tight: ", [said], "doubtful")
    for each in _limits(solution, units, bool(void), of):
        lead = re.sub(r"\blimits?\b", rf"\g<0> {where}", each.lead, count=1) if where else each.lead
        yield each._replace(lead=lead)
    if of is not None:
        return
    if solution.layered is not None and solution.layered.broken:
        named = sorted(solution.layered.broken, key=lambda item: item.margin)
        lead = f"But in {LAYERS} layers (well-mixed): "
        yield _sentence(lead, [_amount(item, units) for item in named], "doubtful")
    names = {RULES[word] for word in (*void, *dip) if word in RULES}
    others = [f for f in solution.findings if f.severity == "error" and f.rule not in names
              and not f.rule.startswith("limit-")]  # fmt: skip
    if others:
        lead = counted(len(others), "other error" if void or stand.status[0] == OVER else "error")
        said_of = [f"{f.rule} at {f.subject}" for f in others]
        yield _sentence(f"{lead}: ", said_of, "bad")


def _limits(
    solution: Solution, units: str, void: bool, of: Container[str] | None
) -> Iterator[Sentence]:
    """Which limits break, are tight, or hold; which are unknown."""
    found: defaultdict[str, list[Limit]] = defaultdict(list)
    limits = [pair for pair in ranked(solution) if of is None or pair[0].subject in of]
    for limit, word in limits:
        found["over" if word == "short" else word].append(limit)
    broken, unknown, tight = found["over"], found["unknown"], found["tight"]
    kept = len(limits) - len(broken) - len(unknown)
    if broken:
        paper = " on paper" if void else ""
        lead, style, named = f"{counted(len(broken), 'limit')} broken{paper}: ", "bad", broken
    elif tight:
        many = "tight" if kept == 1 else f"{len(tight)} tight"
        lead, style, named = f"{_held(kept, void)}, {many}: ", "doubtful", tight
    elif kept:
        lead, style, named = f"{_held(kept, void)}; least margin: ", "good", found["ok"][:1]
        named += [item for item in found["ok"][1:] if _barely(item)]
    else:
        lead, style, named = "No limit is held against a result", "doubtful", []
    style = "doubtful" if void and style == "good" else style
    word = " margin" if tight else ""
    said = [_amount(item, units, word) + _at_most(item, solution, units) for item in named]
    yield _sentence(lead, said, style)
    if unknown:
        names = [item.subject for item in unknown]
        yield _sentence(f"{counted(len(unknown), 'limit')} unknown: ", names, "doubtful")


def _barely(limit: Limit) -> bool:
    """Of another kind than temperatures, and held by next to nothing."""
    margin, bound = float(limit.margin), float(limit.bound)
    return margin < (BARELY * bound if limit.limit in ("life", "flow") else 1.0) and (
        limit.limit not in THERMAL
    )


def _sentence(lead: str, items: Sequence[str], style: str) -> Sentence:
    return Sentence(lead, listed(items, SUBJECTS, last=", ", more=", and "), style)


def _held(count: int, void: bool) -> str:
    held = f"{count} limits hold" if count > 1 else "The one limit holds"
    return f"On paper {held[0].lower()}{held[1:]}" if void else held


def _at_most(limit: Limit, solution: Solution, units: str) -> str:
    """` of 3.0 K above the outside`, of one that holds and that outside air alone leaves tight."""
    most = float(limit.bound) - float(solution.site["temperature"])
    usual = float(solution.case.limits.margin)
    if limit.limit not in THERMAL or not limit.holds or not limit.margin <= most < usual:
        return ""
    return f" of {limit.margin_quantity.shown(units).text(most)} above the outside"


def _amount(limit: Limit, units: str, kept: str = " margin") -> str:
    """`part.rectifier 1.5 K over`, `part.rectifier 4.2 K margin`; `kept`: the word of one kept."""
    amount = limit.margin_quantity.shown(units).text(abs(float(limit.margin)))
    word = kept if limit.holds else " short" if limit.at_least else " over"
    return f"{limit.subject} {amount}{word}"


def on_paper(solution: Solution, units: str, text: str) -> str:
    """What a picture says of a result, after what makes it void; paths keep their letters."""
    if void := solution.void:
        return f"Void: {told(void, units)}; on paper {text}"
    return text if "." in text.partition(" ")[0] else f"{text[:1].upper()}{text[1:]}"
