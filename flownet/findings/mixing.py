"""Compartments whose air has more than one temperature."""

from __future__ import annotations

from collections.abc import Iterator

from flownet.enclosure.surroundings import MOST_LAYERS
from flownet.findings.facts import percent
from flownet.findings.registry import OUR_OWN, Said, Value, rule, say
from flownet.judging.layered import ASIDE, LAYERS, LIFTED, MOST
from flownet.results.solution import Layered, Solution
from flownet.schema import quantities as q

LEAST = 1.0  # K above the mean, or by more layers: below it one temperature, or they, are enough


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


@rule(
    name="layer-count",
    severity="warning",
    mild="note",
    title="how hot a compartment gets depends on how many layers it is given",
    cause="Air that is warmer above does not mix: heat high up stays in a layer of its own. The "
    "thinner that is, the hotter it gets, and the shorter is the warm column that draws air. Then "
    "the number of layers decides, not the enclosure.",
    try_="Give vents, fans, parts and walls the heights (at) they have, so that the heat finds its "
    "way out; what still moves with the number of layers is not to be trusted: measure it.",
    thresholds="the case is solved once more with twice the layers that are given (half, where "
    "that were more than {finest}), in up to {most} compartments. A warning where a limit breaks "
    "so that holds, or where there is no solution; else a note, where the hottest layer of a "
    "compartment moves by {least}",
    source=f"the same balances in other layers; thresholds {OUR_OWN}",
    numbers={"finest": (None, str(MOST_LAYERS)), "most": (None, str(MOST)),
             "least": (q.DIFFERENCE, LEAST)},
)  # fmt: skip
def layer_count(solution: Solution) -> Iterator[Said]:
    """The compartment whose hottest layer moves farthest with the number of layers."""
    made = solution.finer
    if made is None:
        return
    if made.solution is None:
        name = next(iter(made.layers))
        yield say(
            f"compartment.{name}", "in {count} layers instead of {given} {subject} has no "
            "solution: {reason}", "", reason=(None, made.failure), **_counts(solution, made, name),
        )  # fmt: skip
        return
    here, there = solution.compartments, made.solution.compartments
    moved = {name: there[name].temperature - here[name].temperature for name in made.layers}
    worst = max(moved, key=lambda name: abs(moved[name]))
    if abs(moved[worst]) < LEAST and not made.broken:
        return
    broken, more = _broken(made)
    said = say(
        f"compartment.{worst}", "in {count} layers instead of {given} the hottest of {subject} has "
        "{there} instead of {here}" + broken, "", here=(q.TEMPERATURE, here[worst].temperature),
        there=(q.TEMPERATURE, there[worst].temperature), **_counts(solution, made, worst), **more,
    )  # fmt: skip
    yield said._replace(mild=not made.broken)


def _counts(solution: Solution, made: Layered, name: str) -> dict[str, Value]:
    """Layers of a compartment as tried, and as given."""
    given = solution.case.compartments[name].layers
    return {"count": (None, str(made.layers[name])), "given": (None, f"{given:g}")}


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
    way = "short of" if worst.at_least else "over"
    return f"; {{limit}} would be {{over}} {way} its limit", {
        "limit": (None, worst.subject),
        "over": (worst.margin_quantity, -worst.margin),
    }
