"""Compartments whose air has more than one temperature."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from flownet.enclosure.surroundings import MOST_LAYERS
from flownet.findings.rule import Said, rule, say
from flownet.judging.layered import ASIDE, LAYERS, LIFTED, MOST_DIVIDED
from flownet.results.solution import Layered, Solution


@rule(count=str(LAYERS), aside=ASIDE, lifted=LIFTED, most=str(MOST_DIVIDED))
def well_mixed(solution: Solution) -> Iterator[Said]:
    """What the layers of a solve say, of the compartment whose top is farthest above its mean."""
    made = solution.layered
    if made is None:
        return
    why = "walls" if made.aside > ASIDE else "buoyancy"
    values: dict[str, Any] = {"part": made.aside if why == "walls" else made.lifted}
    if made.solution is None:
        yield say("total.heat", why, "unsolved", reason=made.failure, **values)
        return
    excess = {name: k for name, k in made.excess.items() if not solution.layers_of(name)}
    worst = max(excess, key=lambda name: excess[name])
    if excess[worst] >= well_mixed["least"] or made.broken:
        yield say(
            f"compartment.{worst}", why, "hottest", bool(made.broken) and "broken",
            hottest=made.solution.compartments[worst].temperature, above=excess[worst],
            single=solution.compartments[worst].temperature, **_broken(made), **values,
        )  # fmt: skip


@rule(finest=str(MOST_LAYERS), most=str(MOST_DIVIDED))
def layer_count(solution: Solution) -> Iterator[Said]:
    """The compartment whose hottest layer moves farthest with the number of layers."""
    made = solution.finer
    if made is None:
        return
    here, other = solution.compartments, made.solution
    if other is None:
        name = next(iter(made.layers))
        yield say(f"compartment.{name}", "in", "unsolved", reason=made.failure,
                  count=made.layers[name], given=_layers(solution, name))  # fmt: skip
        return
    there = other.compartments
    moved = {name: there[name].temperature - here[name].temperature for name in made.layers}
    worst = max(moved, key=lambda name: abs(moved[name]))
    if abs(moved[worst]) >= layer_count["least"] or made.broken:
        yield say(
            f"compartment.{worst}", "in", "hottest",
            bool(made.broken) and "well-mixed.broken",
            here=here[worst].temperature, there=there[worst].temperature,
            count=made.layers[worst], given=_layers(solution, worst), **_broken(made),
        )  # fmt: skip


def _layers(solution: Solution, name: str) -> str:
    return f"{solution.case.compartments[name].layers:g}"


def _broken(made: Layered) -> dict[str, Any]:
    """Of the limits that break in layers, the one that breaks farthest."""
    if not made.broken:
        return {"mild": True}
    worst = min(made.broken, key=lambda item: item.margin)
    return {"limit": worst.subject, "over": (worst.margin_quantity, -worst.margin),
            "way": "short of" if worst.at_least else "over"}  # fmt: skip
