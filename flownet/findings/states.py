"""Other states that the enclosure could be in."""

from __future__ import annotations

from collections.abc import Iterator

from flownet.findings.facts import Working, column, running_fans
from flownet.findings.registry import OUR_OWN, Said, Value, rule, say
from flownet.results.solution import Solution
from flownet.schema import quantities as q
from flownet.schema.fault import listed

SAME = 0.02  # of a fan's last flow
WARMER = 0.5  # K
MOST = 3  # states that are told


@rule(
    name="other-operating-point",
    severity="warning",
    title="the same fans could settle at other flows",
    cause="Where a fan's curve has a dip one pressure belongs to several flows, and fans that "
    "share a resistance can divide the air in several ways. Which one it is depends on what was "
    "before: a fan that was off, a filter that loaded, a door that was open.",
    try_="Keep every fan right of its dip: lower the resistance they share, or take fans without a "
    "dip. solve --all-points shows each state in full and what leads to it.",
    thresholds="another stable state was found in which a fan passes {same} of its free flow more "
    "or less, or a compartment is {warmer} warmer or cooler; at most {most} are told; beside a "
    "single solve the search is short, and none is made where no fan has a dip or above 2000 "
    "compartments",
    source=f"all crossings of fans and system at the temperatures found; thresholds {OUR_OWN}",
    numbers={"same": (q.RATIO, SAME), "warmer": (q.DIFFERENCE, WARMER), "most": (None, str(MOST))},
)
def other_operating_point(solution: Solution) -> Iterator[Said]:
    """Stable states that were found beside this one."""
    told = [said for other in solution.others if other.stable
            for said in _compared(solution, other)]  # fmt: skip
    yield from told[:MOST]


def _compared(here: Solution, there: Solution) -> Iterator[Said]:
    """How another state differs: by its fans, else by the temperature of a compartment."""
    pairs = zip(running_fans(here), running_fans(there), strict=True)
    moved = sorted(
        (pair for pair in pairs if abs(pair[1].flow - pair[0].flow) > SAME * pair[0].last_flow),
        key=lambda pair: -abs(pair[1].flow - pair[0].flow) / pair[0].last_flow,
    )
    tail, worst = _worst(here, there)
    if moved:
        (first, then), others = moved[0], moved[1:]
        template, values = _fans([then for _, then in others])
        way, now = _way(then), _way(first)
        yield say(
            then.path, f"{{subject}} could also settle at {{flow}}{way} instead of {{now}}{now}"
            f"{template}{tail}", "",
            flow=(q.VOLUME_FLOW, abs(then.flow)), now=(q.VOLUME_FLOW, abs(first.flow)),
            **values, **worst,
        )  # fmt: skip
    else:
        yield from _warmer(here, there, tail, worst)


def _way(fan: Working) -> str:
    return " backwards" if fan.flow < 0 else ""


def _fans(others: list[Working]) -> tuple[str, dict[str, Value]]:
    """`, with fan.right at 120 m3/h` as a template with its values."""
    words = [f"{fan.path} at {{flow_{n}}}{_way(fan)}" for n, fan in enumerate(others)]
    values: dict[str, Value] = {
        f"flow_{n}": (q.VOLUME_FLOW, abs(fan.flow)) for n, fan in enumerate(others)
    }
    return f", with {listed(words)}" if words else "", values


def _worst(here: Solution, there: Solution) -> tuple[str, dict[str, Value]]:
    """What it means for the worst margin, where it means anything."""
    if here.worst is None or there.worst is None:
        return "", {}
    if abs(there.worst.margin - here.worst.margin) < WARMER:
        return "", {}
    now, then = float(here.worst.margin), float(there.worst.margin)
    words = "; the worst margin is then {then} ({worst}) instead of {margin}"
    return words, {
        "then": (q.DIFFERENCE, then), "worst": (None, there.worst.subject),
        "margin": (q.DIFFERENCE, now),
    }  # fmt: skip


def _warmer(here: Solution, there: Solution, tail: str, worst: dict[str, Value]) -> Iterator[Said]:
    now, then = (column(one.compartments, "temperature") for one in (here, there))
    name = max(now, key=lambda each: abs(then[each] - now[each]))
    if abs(then[name] - now[name]) > WARMER:
        yield say(
            f"compartment.{name}",
            f"{{subject}} could also settle at {{hot}} instead of {{warm}}{tail}", "",
            hot=(q.TEMPERATURE, then[name]), warm=(q.TEMPERATURE, now[name]), **worst,
        )  # fmt: skip
