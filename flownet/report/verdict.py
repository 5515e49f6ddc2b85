"""What a solution means, in a sentence or two: which limits break, are tight, or hold."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator

from flownet.report.page import Page, counted
from flownet.report.sheet import Cell, hanging
from flownet.solution import Limit, Solution

LISTED = 4  # subjects, before "and 3 more"


def status(limit: Limit, solution: Solution) -> str:
    """`over` (a life: `short`), `tight`, `ok`; `unknown` where its value is not known."""
    if math.isnan(limit.margin):
        return "unknown"
    if not limit.holds:
        return "short" if limit.limit == "life" else "over"
    thermal = limit.limit in ("part", "air")
    return "tight" if thermal and limit.margin < solution.case.limits.margin else "ok"


def ranked(solution: Solution) -> list[Limit]:
    """All limits, worst first: broken, unknown, tight, kept; temperatures before the others."""
    order = ("over", "short", "unknown", "tight", "ok")
    kinds = ("air", "part", "noise", "life")

    def rank(limit: Limit) -> tuple[int, int, float]:
        word = status(limit, solution)
        return max(order.index(word), 1), max(kinds.index(limit.limit), 1), limit.margin

    return sorted((item for item in solution.limits if _applies(item, solution)), key=rank)


def _applies(limit: Limit, solution: Solution) -> bool:
    """A fan that does not turn has no life to compare."""
    if limit.limit != "life" or not math.isnan(limit.margin):
        return True
    return solution.fans[limit.subject].region not in ("stopped", "blanked")


def verdict(solution: Solution, page: Page) -> Iterator[str]:
    """What the result means, in a sentence or two."""
    limits = ranked(solution)
    found: defaultdict[str, list[Limit]] = defaultdict(list)
    for limit in limits:
        found[status(limit, solution)].append(limit)
    broken, unknown, tight = found["over"] + found["short"], found["unknown"], found["tight"]
    kept = len(limits) - len(broken) - len(unknown)
    if broken:
        lead, style, named = f"{counted(len(broken), 'limit')} broken: ", "bad", broken
    elif tight:
        lead, style, named = f"{_held(kept)}, {len(tight)} tight: ", "doubtful", tight
    elif kept:
        lead, style, named = f"{_held(kept)}; least room: ", "good", found["ok"][:1]
    else:
        lead, style, named = "No limit is held against a result", "doubtful", []
    yield from _sentence(lead, [_room(item, page) for item in named], style, page)
    if unknown:
        names = [item.subject for item in unknown]
        yield from _sentence(f"{counted(len(unknown), 'limit')} unknown: ", names, "doubtful", page)
    others = [f for f in solution.findings if f.severity == "error" and f.rule[:6] != "limit-"]
    if others:
        told = [f"{f.rule} at {f.subject}" for f in others]
        word = "other error" if broken else "error"
        yield from _sentence(f"{counted(len(others), word)}: ", told, "bad", page)
    if not solution.stable:
        yield from _sentence("Unstable: ", ["a small push leads away from this state"], "bad", page)


def _sentence(lead: str, items: list[str], style: str, page: Page) -> list[str]:
    more = f", and {len(items) - LISTED} more" if len(items) > LISTED else ""
    return hanging([Cell(lead, style)], ", ".join(items[:LISTED]) + more, page.width, page.paint)


def _held(count: int) -> str:
    return f"{count} limits hold" if count > 1 else "The one limit holds"


def _room(limit: Limit, page: Page) -> str:
    amount = page.text(limit.margin_quantity, abs(limit.margin))
    word = "left" if limit.holds else "short" if limit.limit == "life" else "over"
    return f"{limit.subject} {amount} {word}"
