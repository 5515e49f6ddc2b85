"""What data sheets of parts say: resistances of test boards, powers that are no heat."""

from __future__ import annotations

import math
from collections.abc import Iterator

from flownet.findings.facts import column
from flownet.findings.registry import OUR_OWN, Said, rule, say
from flownet.results.solution import Solution
from flownet.schema import quantities as q
from flownet.schema.fields import given

BOARD = "board-data-sheet"
LEAST_EFFICIENCY = 0.5
TYPICAL = 0.9  # efficiency of a power supply, common practice
NAMEPLATE = (
    "If that is what it delivers, at an efficiency of {typical} its heat is {heat}: give output "
    "and efficiency. If it is what it may draw, measure what it draws."
)


@rule(
    name="board-value-resistance",
    severity="warning",
    title="a resistance measured on a test board stands for the product",
    cause="A junction-to-air value of a data sheet is measured on a standard test board. It "
    "compares packages; on another board it can be tens of percent off.",
    try_="Use the junction-to-case value with the resistance of joint and sink (chain), or a "
    "junction-to-top value with a measured case temperature.",
    thresholds='a part with basis = "{board}"',
    source="JEDEC, JESD51 series: such values are for comparison, not for predicting an "
    "application",
    numbers={"board": (None, BOARD)},
)
def board_value_resistance(solution: Solution) -> Iterator[Said]:
    """Heated parts that say so."""
    warm, near, heat = (
        column(solution.parts, key) for key in ("temperature", "air_temperature", "heat")
    )
    for name, part in solution.case.parts.items():
        if (part.basis or "").strip().lower() == BOARD and heat.get(name, math.nan) > 0:
            own = warm[name] - near[name]
            text = "{subject} takes its resistance from a test board's data sheet"
            text += "; {own} of its temperature rest on it" if given(own) else ""
            yield say(part.path, text, own=(q.DIFFERENCE, own))


@rule(
    name="power-not-heat",
    severity="warning",
    title="a power does not look like heat",
    cause="A nameplate says what a device may draw or deliver, not what it turns into heat. What a "
    "supply or drive delivers leaves the enclosure through its wires; its heat is output times "
    "(1/efficiency - 1). The nameplate of a computer or controller is often twice what it draws.",
    try_="Give output with efficiency, or measure the input and take what leaves off.",
    thresholds='power_basis = "nameplate"; or an efficiency of 1, which leaves no heat; or one '
    "below {least}, at which more heat stays than goes out: perhaps the loss was written",
    source=f"conservation of energy; threshold {OUR_OWN}",
    numbers={"least": (q.RATIO, LEAST_EFFICIENCY)},
)
def power_not_heat(solution: Solution) -> Iterator[Said]:
    """Nameplates, and efficiencies that look like something else."""
    for part in solution.case.parts.values():
        efficiency, output = part.efficiency, part.output
        if part.power_basis == "nameplate" and part.power > 0:
            yield say(
                part.path, "{subject}: a nameplate power of {power} is taken as heat", NAMEPLATE,
                power=(q.POWER, part.power), heat=(q.POWER, part.power * (1 / TYPICAL - 1)),
                typical=(q.RATIO, TYPICAL),
            )  # fmt: skip
        elif (efficiency < LEAST_EFFICIENCY or efficiency == 1) and output > 0:
            text = "{subject}: an efficiency of {efficiency} gives no heat"
            if efficiency < 1:
                text = (
                    "{subject}: an efficiency of {efficiency} gives {heat} of heat for an output "
                    "of {output}; as a loss of that share it would be {meant}"
                )
            yield say(
                part.path, text, efficiency=(q.RATIO, efficiency), output=(q.POWER, output),
                heat=(q.POWER, output * (1 / efficiency - 1)),
                meant=(q.POWER, output * (1 / (1 - efficiency) - 1) if efficiency < 1 else 0.0),
            )  # fmt: skip
