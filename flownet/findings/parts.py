"""What data sheets of parts say: resistances of test boards, powers that are no heat."""

from __future__ import annotations

import math
from collections.abc import Iterator

from flownet.findings.facts import column
from flownet.findings.rule import Said, rule, say
from flownet.results.solution import Solution
from flownet.schema.component import given


@rule
def board_value_resistance(solution: Solution) -> Iterator[Said]:
    """Heated parts that say so."""
    warm, near, heat = (
        column(solution.parts, key) for key in ("temperature", "air_temperature", "heat")
    )
    board = board_value_resistance.numbers["board"]
    for name, part in solution.case.parts.items():
        on_board = (part.basis or "").strip().lower() == board
        if on_board and heat.get(name, math.nan) > 0:
            own = warm[name] - near[name]
            yield say(part.path, "says", given(own) and "rest", own=own)


@rule
def power_not_heat(solution: Solution) -> Iterator[Said]:
    """Nameplates, and efficiencies that look like something else."""
    typical = power_not_heat["typical"]
    for part in solution.case.parts.values():
        efficiency, output = part.efficiency, part.output
        if part.power_basis == "nameplate" and part.power > 0:
            heat = part.power * (1 / typical - 1)
            yield say(part.path, "plate", hint="deliver", power=part.power, heat=heat)
        elif (efficiency < power_not_heat["least"] or efficiency == 1) and output > 0:
            yield say(
                part.path, "gives", "little" if efficiency < 1 else "none",
                efficiency=efficiency, output=output, heat=output * (1 / efficiency - 1),
                meant=output * (1 / (1 - efficiency) - 1) if efficiency < 1 else 0.0,
            )  # fmt: skip
