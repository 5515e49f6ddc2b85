"""Writes `cases/*/expected.toml`, the regression guard: what the demos gave when it was written."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import flownet
from flownet.enclosure.scenarios import expand

TOLERANCE = {"temperature": 0.02, "volume_flow": 2e-6, "air_rise": 0.02, "wall_heat": 0.1}
HEAD = """\
# Regression guard: what this case gave when the file was written, in SI units. It is our own
# output: it tells of change and proves nothing. `python docs/build.py --expected` rewrites it.
"""


def expected(folder: Path) -> str:
    """The whole text for one demo case."""
    case = flownet.load_case(folder)
    lines = [HEAD + "[tolerance]"]
    lines += [f"{name} = {size}" for name, size in TOLERANCE.items()]
    for scenario, variant in pairs(case):
        found = flownet.solve(case, scenario=scenario, variant=variant)
        lines += ["", "[[solution]]", f'scenario = "{scenario}"', f'variant = "{variant}"']
        lines.append("[solution.values]")
        lines += [f'"{path}" = {found[path]:.7g}' for path in paths(found)]
    return "\n".join(lines) + "\n"


def pairs(case: flownet.Enclosure) -> Iterator[tuple[str, str]]:
    """Base, every scenario in which the limits must hold, every variant."""
    named = [one for scenario in case.limits.scenarios for one in expand(case, scenario)]
    yield from ((scenario, "base") for scenario in dict.fromkeys(["base", *named]))
    yield from (("base", variant) for variant in case.variants)


def paths(found: flownet.Solution) -> Iterator[str]:
    """What is guarded: flows of all branches of their own, temperatures, totals."""
    for path, item in found.case.branches.items():
        if getattr(item, "on", None) is None:
            yield f"{path}.volume_flow"
    yield from (f"compartment.{name}.temperature" for name in found.compartments)
    parts = found.parts
    yield from (
        f"part.{n}.temperature" for n in parts if parts[n].temperature == parts[n].temperature
    )
    yield from ("total.air_rise", "total.wall_heat")
