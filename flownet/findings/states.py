"""Other states that the enclosure could be in."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from flownet.findings.facts import Working, column, running_fans
from flownet.findings.rule import Said, rule, say
from flownet.results.solution import Solution


@rule
def other_operating_point(solution: Solution) -> Iterator[Said]:
    """Stable states that were found beside this one."""
    told = [said for other in solution.others if other.stable
            for said in _compared(solution, other)]  # fmt: skip
    yield from told[: other_operating_point.numbers["most"]]


def _compared(here: Solution, there: Solution) -> Iterator[Said]:
    """How another state differs: by its fans, else by the temperature of a compartment."""
    at = other_operating_point.numbers
    pairs = zip(running_fans(here), running_fans(there), strict=True)
    moved = [(now, then) for now, then in pairs
             if abs(then.flow - now.flow) > at["same"] * now.last_flow]  # fmt: skip
    moved.sort(key=lambda pair: -abs(pair[1].flow - pair[0].flow) / pair[0].last_flow)
    margin = worst_of(here, there, at["warmer"])
    tail = bool(margin) and "margin"
    if moved:
        (now, then), *others = moved
        yield say(
            then.path, "flow", bool(others) and "others", tail, flow=abs(then.flow),
            back=_way(then), now=abs(now.flow), back_now=_way(now),
            others=_three([{"fan": each.path, "at": abs(each.flow), "way": _way(each)}
                           for _, each in others]), **margin,
        )  # fmt: skip
        return
    now_, then_ = (column(one.compartments, "temperature") for one in (here, there))
    name = max(now_, key=lambda each: abs(then_[each] - now_[each]))
    if abs(then_[name] - now_[name]) > at["warmer"]:
        yield say(f"compartment.{name}", "warmer", tail, hot=then_[name], warm=now_[name], **margin)


def _way(fan: Working) -> str:
    return " backwards" if fan.flow < 0 else ""


def _three(others: list[Any]) -> list[Any]:
    return others if len(others) <= 3 else [*others[:3], f"{len(others) - 3} more"]


def worst_of(here: Solution, there: Solution, least: float = 0.0) -> dict[str, Any]:
    """What another solution means for the worst margin, where it means at least so much [K]."""
    if here.worst is None or there.worst is None:
        return {}
    now, then = float(here.worst.margin), float(there.worst.margin)
    if abs(then - now) < least:
        return {}
    return {"better": then, "worst": there.worst.subject, "margin": now}
