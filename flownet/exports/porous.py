"""What stands in the air as a porous jump: dp = a v + b v^2, v the velocity on its face area.

Every number comes from the laws of the solver, evaluated for the air of a solution.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np

from flownet.columns import Inputs
from flownet.enclosure.heat import BRANCHES
from flownet.equations import elements
from flownet.equations.laws import in_series
from flownet.physics import air
from flownet.results.solution import Solution
from flownet.results.streams import is_still, open_branches, series
from flownet.schema.arrays import Array
from flownet.solver import speeds

HELD_FOR = np.geomspace(0.25, 2.0, 41)  # of the velocity of a solution
STANDING_AIR = 1.0  # m/s: that velocity where no air moves
NO_SLOPE = 1e-3  # of the other part: a linear one below it is the turn of a square near rest
SAME_BOTH_WAYS = 1e-6  # of a drop


def pieces(solution: Solution) -> dict[str, tuple[float, list[Any]]]:
    """Of every element by its path, at the speeds of a solution, the area that its velocity is on
    (of all equal channels; NaN of a leak), and its laws but for a fan's that runs."""
    ratios = dict(zip(solution.fans.names, solution.fans.columns["speed_ratio"], strict=True))
    inputs = speeds.as_solved(Inputs.of(solution.case), ratios)
    found = {}
    for kind in (kind for kind in BRANCHES if inputs.names(kind)):
        made = elements.element(inputs, kind)
        faces = (made.area * made.count)[:, 0].real
        for row, name in enumerate(inputs.names(kind)):
            path = f"{kind}.{name}"
            runs = path in solution.fans and solution.fans[path].region != "stopped"
            laws = (law for law in made.laws if law is not made.fan or not runs)
            found[path] = float(faces[row]), [_of_row(law, row) for law in laws]
    return found


def _of_row(law: Any, row: int) -> Any:
    """The law of one of many elements: arrays (1, 1)."""
    if isinstance(law, np.ndarray):
        return law[row if len(law) > 1 else 0][None]
    return type(law)(*(_of_row(each, row) for each in law)) if isinstance(law, tuple) else law


def _drop(laws: Any, flow: Array, density: float, viscosity: float) -> Array:
    """Drop [Pa] along the sign of mass flows (n,)."""
    wide = np.full((1, len(flow)), density)
    here = air.Air(wide, np.full_like(wide, viscosity), wide, wide)
    found: Array = in_series(laws, flow[None], here)[0][0].real
    return found


def porous(solution: Solution) -> Iterator[tuple[Any, ...]]:
    """A row for each open element with a face that takes pressure.

    `a` and `b` are the least squares of relative errors from a quarter to twice the velocity of
    the solution, `misfit` the largest of these errors.
    """
    from scipy.optimize import nnls  # noqa: PLC0415 - only here

    found, passed = pieces(solution), open_branches(solution.case)
    for host, path, item in ((host, path, item) for host, chain in series(solution.case).items()
                             for path, item in chain.items() if host in passed):  # fmt: skip
        row, (face, laws) = solution.branches[path], found[path]
        density = float(row.density)
        # the solver takes both at one temperature
        viscosity = float(air.viscosity(solution.site["pressure"] / (air.GAS_CONSTANT * density)))
        velocity = 0.0 if is_still(solution, path) else row.mass_flow / (density * face)
        sign, size = -1 if velocity < 0 else 1, abs(velocity) or STANDING_AIR
        speed = size * HELD_FOR
        lost, back = (way * _drop(laws, way * density * face * speed, density, viscosity)
                      for way in (sign, -sign))  # fmt: skip
        if not np.isfinite(face) or not lost.all():
            continue
        powers = np.stack((speed, speed**2), axis=1) / lost[:, None]
        (a, b), _ = nnls(powers, np.ones(len(speed)))
        if a * size < NO_SLOPE * b * size**2:
            a, b = 0.0, 1 / np.mean(powers[:, 1])
        one_way = not np.allclose(lost, back, rtol=SAME_BOTH_WAYS)
        yield (
            path, item.tag, host if host != path else None, row.state, face, velocity,
            row.drop, ("either", "from > to", "to > from")[one_way * sign], float(a), float(b),
            float(np.max(np.abs((a * speed + b * speed**2) / lost - 1))), density, viscosity,
            2 * b / density, a / viscosity,
        )  # fmt: skip
