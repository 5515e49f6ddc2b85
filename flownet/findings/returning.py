"""Air that comes back: round in a circle inside, or through a fan that stands still."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import NamedTuple

from flownet.findings.facts import (
    Working,
    is_outside,
    is_still,
    number_at,
    percent,
    series,
    temperature_at,
    working_fans,
)
from flownet.findings.registry import COMMON_PRACTICE, OUR_OWN, Said, Value, rule, say
from flownet.results.solution import Solution
from flownet.results.streams import MUCH, SEALED, Return, much, returns
from flownet.schema import quantities as q
from flownet.schema.fault import listed
from flownet.schema.fields import given

LET_BACK = 0.05  # of what the running fans move


@rule(
    name="air-returns-inside",
    severity="warning",
    title="fans move the same air in a circle inside",
    cause="A gap, a passage or an empty slot leads from where fans blow to where they draw from: "
    "part of their air goes round inside instead of leaving, and comes warm to what it should "
    "cool. Only fresh air carries heat out; what the fans move is more than that.",
    try_="Close the way back (seals, brushes, blanking plates), or widen the way out. More speed "
    "or a stronger fan moves more of the same air.",
    thresholds="{much} or more of what running fans move has passed them before, since it came in "
    "(above {sealed} no-through-air speaks, and where only fans that stand still let it back "
    "fan-out). The temperatures with the way back closed are those of a second solve; "
    "they are missing where that has no solution, where the way cannot be closed, and in batches",
    source="shares follow the flows, mixed in every compartment (conservation of mass, exact); the "
    f"way back: the least flow that parts outlet and inlet of the fans; threshold {OUR_OWN}",
    numbers={"much": percent(MUCH), "sealed": (None, f"{100 * SEALED:.1f} %")},
)
def air_returns_inside(solution: Solution) -> Iterator[Said]:
    """Circles inside, each with its way back."""
    stopped = {fan.path for fan in working_fans(solution) if fan.region == "stopped"}
    for found in filter(much, returns(solution)):
        if not stopped.issuperset(found.back):
            several = len(found.fans) > 1
            words, values = closed_words(solution, found)
            yield say(
                found.fans[0], "{share} of the air that {fans} {moves} has passed "
                f"{'them' if several else 'it'} before: it comes back inside through "
                "{back}" + words, "",
                fans=(None, listed(found.fans)), moves=(None, "move" if several else "moves"),
                back=(None, listed(found.back)), share=percent(found.share), **values,
            )  # fmt: skip


def closed_words(solution: Solution, found: Return | None) -> tuple[str, dict[str, Value]]:
    """What the air at the fans, and the worst limit, would be with the way back closed."""
    other = solution.closed
    if found is None or other is None:
        return "", {}
    now, then = (temperature_at(each, found.source) for each in (solution, other))
    words = "; with that closed the air before the fans is at {then} instead of {now}"
    values: dict[str, Value] = {"then": (q.TEMPERATURE, then), "now": (q.TEMPERATURE, now)}
    if solution.worst is not None and other.worst is not None:
        words += ", and the worst margin is {better} ({worst}) instead of {margin}"
        values |= {
            "better": (q.DIFFERENCE, float(other.worst.margin)),
            "worst": (None, other.worst.subject),
            "margin": (q.DIFFERENCE, float(solution.worst.margin)),
        }
    return words, values


# --- through a fan that stands still ------------------------------------------------------------


class LetBack(NamedTuple):
    """Air that comes back through a fan that stands still."""

    fan: Working
    beside: list[Working]  # the running fans it is taken from
    share: float  # of what they move


@rule(
    name="fan-out",
    severity="warning",
    title="a fan that stands still lets air back",
    cause="A dead fan is a hole. The others draw or push part of their air straight back through "
    "it, so what is to be cooled gets less of it. A rotor that the air turns lets more back than "
    "one that is stuck, which is what an outage takes unless told otherwise.",
    try_="Give it a back-draught shutter; compare --outages shows what a shutter, or "
    'covering its hole, would change. State "stopped" is a stuck rotor, "freewheeling" one that '
    "the air turns (its freewheel_loss must be measured).",
    thresholds="air goes through a stopped rotor against the way it would blow, {back} or more of "
    "what the fans beside it move (where none is beside it: of what all fans move)",
    source="flows of the result; past the other sort of rotor at the same pressure, by the square "
    f"root of the losses; stopped_loss: {COMMON_PRACTICE}; freewheel_loss: no source known; "
    f"threshold {OUR_OWN}",
    numbers={"back": percent(LET_BACK)},
)
def fan_out(solution: Solution) -> Iterator[Said]:
    """Fans that stand in an open hole."""
    dead = let_back(solution)
    circles = [found for found in returns(solution) if much(found)] if dead else []
    for fan, beside, share in dead.values():
        text = "{subject} stands still and lets {share} of the air that {fans} {moves} back"
        text += ": {flow}" + (", past the filter" if _past_filter(solution, fan) else "")
        hint = ""
        if fan.item.shutter is not None:
            hint = "Its shutter leaks: take a tighter one, or see closed_leak of {subject}."
        circle = next((found for found in circles if fan.path in found.back), None)
        words, values = closed_words(solution, circle)
        rotor, own = rotor_words(solution, fan)
        yield say(
            fan.path, text + rotor + words, hint, share=percent(share),
            fans=(None, listed(each.path for each in beside)),
            moves=(None, "move" if len(beside) > 1 else "moves"),
            flow=(q.VOLUME_FLOW, -fan.flow), **values, **own,
        )  # fmt: skip


def rotor_words(solution: Solution, fan: Working) -> tuple[str, dict[str, Value]]:
    """What the other sort of dead rotor would let back."""
    other = _other_back(solution, fan)
    about = ", about {other}" if given(other) else ""
    if fan.item.state == "freewheeling":
        here, there, how = "one that the air turns", "a stuck one", "less"
    else:
        here, there, how = "a stuck rotor", "one that the air turns", "more"
    return f"; that is past {here}, {there} lets {{how}} back{about}", {
        "how": (None, how), "other": (q.VOLUME_FLOW, other),
    }  # fmt: skip


def _other_back(solution: Solution, fan: Working) -> float:
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
        if share >= LET_BACK:
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
