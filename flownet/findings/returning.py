"""Air that comes back: round in a circle inside, or through a fan that stands still."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any, NamedTuple

from flownet.findings.draught import worst_of
from flownet.findings.facts import Working, number_at, temperature_at, working_fans
from flownet.findings.rule import Said, rule, say
from flownet.results.solution import Solution
from flownet.results.streams import (
    MUCH,
    SEALED,
    Return,
    drawn_again,
    is_outside,
    is_still,
    much,
    returns,
    rounds,
    series,
)
from flownet.schema.fields import given

AS_PRINTED = 0.005  # by which shares of fans may differ that are told as one


@rule(much=MUCH, sealed=f"{100 * SEALED:.1f} %")
def air_returns_inside(solution: Solution) -> Iterator[Said]:
    """Circles inside, each with its way back."""
    stopped = {fan.path for fan in working_fans(solution) if fan.region == "stopped"}
    for found in filter(much, returns(solution)):
        if not stopped.issuperset(found.back):
            several = len(found.fans) > 1
            pieces, closed = if_closed(solution, found)
            yield say(
                found.fans[0], "says", *pieces, share=found.share, fans=found.fans,
                moves="move" if several else "moves", them="them" if several else "it",
                back=found.back, **closed,
            )  # fmt: skip


def if_closed(
    solution: Solution, found: Return | None, said: str = "air-returns-inside.closed"
) -> tuple[list[str], dict[str, Any]]:
    """The air at the fans, and the worst limit, with the way back closed: texts and values."""
    other = solution.closed
    if found is None or other is None:
        return [], {}
    now, then = (temperature_at(each, found.source) for each in (solution, other))
    worst = worst_of(solution, other)
    return [said] + ["air-returns-inside.margin"] * bool(worst), {"then": then, "now": now, **worst}


@rule(much=MUCH)
def recirculation_inside(solution: Solution) -> Iterator[Said]:
    """Circles inside round which air goes without a fan, each with its way back."""
    by_fans = any(map(much, returns(solution)))
    for found in rounds(solution):
        pieces, closed = if_closed(solution, None if by_fans else found, "closed")
        yield say(f"compartment.{found.source}", "says", *pieces, share=found.share,
                  back=found.back, **closed)  # fmt: skip


@rule(much=MUCH)
def short_circuit(solution: Solution) -> Iterator[Said]:
    """Air that was blown out and is drawn in again, by the branch that draws it in."""
    for path, (share, loops) in drawn_again(solution).items():
        item, other = solution.case.branches[path], solution.parted
        place = next(str(end) for end in (item.to, item.from_) if not is_outside(str(end)))
        shares = {fan: row.returned_share for fan, row in solution.origins.fans.items()
                  if _moves(solution, fan, path)}  # fmt: skip
        again = max((x for x in shares.values() if x >= MUCH), default=math.nan)
        fans = [fan for fan, x in shares.items() if x > again - AS_PRINTED]
        values: dict[str, Any] = {}
        if other is not None:
            now, then = (temperature_at(each, place) for each in (solution, other))
            values = {"now": now, "then": then, "place": place, **worst_of(solution, other)}
        yield say(
            path, "says", bool(fans) and "fans", other is not None and "closed",
            "better" in values and "air-returns-inside.margin", share=share,
            loops=[loop.path for loop in loops], ways=[loop.from_ for loop in loops],
            fans=fans, moves="move" if len(fans) > 1 else "moves", again=again, **values,
        )  # fmt: skip


def _moves(solution: Solution, fan: str, intake: str) -> bool:
    """Whether most of what a fan draws came in through this branch."""
    item: Any = solution.case.branches[fan]
    source = str(item.from_ if solution.mass_flow(fan) >= 0 else item.to)
    if is_outside(source):
        return fan == intake
    shares = solution.origins.shares(source) or {intake: 0.0}
    return shares.get(intake) == max(shares.values())


# --- through a fan that stands still ------------------------------------------------------------


class LetBack(NamedTuple):
    """Air that comes back through a fan that stands still."""

    fan: Working
    beside: list[Working]  # the running fans it is taken from
    share: float  # of what they move


@rule
def fan_out(solution: Solution) -> Iterator[Said]:
    """Fans that stand in an open hole."""
    dead = let_back(solution)
    circles = [found for found in returns(solution) if much(found)] if dead else []
    for fan, beside, share in dead.values():
        circle = next((found for found in circles if fan.path in found.back), None)
        pieces, closed = if_closed(solution, circle)
        other = other_back(solution, fan)
        yield say(
            fan.path, "says", _past_filter(solution, fan) and "dirty",
            "turned" if fan.item.state == "freewheeling" else "stuck", given(other) and "about",
            *pieces, hint=fan.item.shutter is not None and "leaks", share=share,
            fans=[each.path for each in beside], moves="move" if len(beside) > 1 else "moves",
            flow=-fan.flow, other=other, **closed,
        )  # fmt: skip


def other_back(solution: Solution, fan: Working) -> float:
    """Flow back at the same pressure past a rotor that is turned where this one is stuck, or stuck
    where it is turned [m3/s]; NaN without its loss."""
    rotors = fan.rating.stopped_loss, fan.rating.freewheel_loss
    own, other = rotors[::-1] if fan.item.state == "freewheeling" else rotors
    density = number_at(solution.branches, fan.path, "density")
    head = density * (fan.flow / fan.rating.flow_area) ** 2 / 2
    loss = abs(number_at(solution.branches, fan.path, "drop")) / head
    return float(-fan.flow * math.sqrt(loss / (max(loss - own, 0.0) + other)))


def let_back(solution: Solution) -> dict[str, LetBack]:
    """Fans that stand still and let much air back, by path."""
    fans = list(working_fans(solution))
    running = [fan for fan in fans if fan.region != "stopped" and fan.flow > 0]
    found: dict[str, LetBack] = {}
    for fan in fans:
        if fan.region != "stopped" or not fan.flow < 0 or is_still(solution, fan.path):
            continue
        beside = [each for each in running if _side(each) == _side(fan)] or running
        moved = math.fsum(_mass(solution, each) for each in beside)
        share = _mass(solution, fan) / moved if moved > 0 else 0.0
        if share >= fan_out["back"]:
            found[fan.path] = LetBack(fan, beside, share)
    return found


def _side(fan: Working) -> tuple[str, str]:
    """The places it is mounted to draw from and to blow to; all surroundings as one."""
    drawn, blown = ("outside" if is_outside(p) else p for p in (fan.source, fan.target))
    return drawn, blown


def _mass(solution: Solution, fan: Working) -> float:
    return abs(number_at(solution.branches, fan.path, "mass_flow"))


def _past_filter(solution: Solution, fan: Working) -> bool:
    """Whether what it lets in from outside passes no filter, where there is one."""
    fitted = [f for f in solution.case.things["filter"].values() if f.state == "fitted"]
    own = series(solution.case)[fan.path].values()
    return is_outside(fan.target) and bool(fitted) and not any(f in fitted for f in own)
