"""Compartments whose air has more than one temperature."""

from __future__ import annotations

from collections.abc import Iterator

from flownet import quantities as q
from flownet.findings.facts import percent
from flownet.findings.registry import OUR_OWN, Said, Value, rule, say
from flownet.layered import ASIDE, LAYERS, LIFTED, MOST, Layered
from flownet.solution import Solution

LEAST = 1.0  # K above the mean: below it one temperature is enough


@rule(
    name="well-mixed",
    severity="warning",
    mild="note",
    title="one temperature for a compartment hides how hot its top gets",
    cause="Each compartment is taken as well mixed. Where walls or exchanges carry much of the "
    "heat, or warm air moves the air itself, it is warmer above than below: the mean of a "
    "compartment says too little about what stands at its top.",
    try_="Give the compartment layers = {count}, with heights (at) of its vents, fans and parts, "
    "and judge by that; or stir its air with a fan inside.",
    thresholds="walls and exchanges carry more than {aside} of the heat, or buoyancy gives more "
    "than {lifted} of the power that moves the air; the case is then solved once more with "
    "{count} layers in each compartment that has an outline with a height, up to {most} of them. "
    "A warning where a limit breaks in layers that holds without, or where there is no solution "
    "with them; else a note, where the hottest layer is {least} above the mean",
    source=f"the same energy and pressure balances in layers; thresholds {OUR_OWN}",
    numbers={"count": (None, str(LAYERS)), "aside": percent(ASIDE), "lifted": percent(LIFTED),
             "most": (None, str(MOST)), "least": (q.DIFFERENCE, LEAST)},
)  # fmt: skip
def well_mixed(solution: Solution) -> Iterator[Said]:
    """What the layers of a solve say, of the compartment whose top is farthest above its mean."""
    made = solution.layered
    if made is None:
        return
    why, values = _why(made)
    if made.solution is None:
        yield say(
            "total.heat", f"{why}, so that heights matter, but in {{count}} layers a compartment "
            "there is no solution: {reason}", "", reason=(None, made.failure), **values,
        )  # fmt: skip
        return
    excess = {name: k for name, k in made.excess.items() if not solution.layers_of(name)}
    worst = max(excess, key=lambda name: excess[name])
    if excess[worst] < LEAST and not made.broken:
        return
    row, one = made.solution.compartments[worst], solution.compartments[worst]
    broken, more = _broken(made)
    said = say(
        f"compartment.{worst}", f"{why}: in {{count}} layers the hottest of {{subject}} has "
        f"{{hottest}}, {{above}} above their mean; here it has {{single}} throughout{broken}",
        "", hottest=(q.TEMPERATURE, row.temperature), above=(q.DIFFERENCE, excess[worst]),
        single=(q.TEMPERATURE, one.temperature), **values, **more,
    )  # fmt: skip
    yield said._replace(mild=not made.broken)


def _why(made: Layered) -> tuple[str, dict[str, Value]]:
    """What asks for layers, and its numbers."""
    if made.aside > ASIDE:
        return "walls and exchanges carry {part} of the heat", {"part": percent(made.aside)}
    return "buoyancy gives {part} of what moves the air", {"part": percent(made.lifted)}


def _broken(made: Layered) -> tuple[str, dict[str, Value]]:
    """Of the limits that break in layers, the one that breaks farthest."""
    if not made.broken:
        return "", {}
    worst = min(made.broken, key=lambda item: item.margin)
    return "; {limit} would be {over} over its limit", {
        "limit": (None, worst.subject),
        "over": (worst.margin_quantity, -worst.margin),
    }
