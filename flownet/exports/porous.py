"""What stands in the air as a porous jump: dp = a v + b v^2, v the velocity on its face area.

Every number comes from the laws of the solver, evaluated for the air of a solution.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, NamedTuple

import numpy as np

from flownet.columns import Inputs
from flownet.enclosure.heat import BRANCHES
from flownet.equations import elements
from flownet.equations.laws import FlapLaw, Law, Only, Split, Square, Viscous, in_series
from flownet.physics import air
from flownet.results.solution import Solution
from flownet.results.streams import is_still, open_branches, series
from flownet.schema.arrays import Array
from flownet.solver import speeds

SUMS = (Square, Split, Viscous, FlapLaw)  # laws that are a v + b v^2 but for a turn near rest
HELD_FOR = 0.25, 2.0  # of the velocity of a solution: the range that coefficients hold for
AT_REST = 0.1, 2.0  # m/s, where no air moves
VELOCITIES = 41  # of the range
FAST = 1e3  # m/s: there the turn of a law near rest counts for nothing
NO_SLOPE = 1e-6  # of b [s/m]: so much of a is round-off


class Piece(NamedTuple):
    """What stands in a branch, without the rise of a fan that runs."""

    face: float  # area that its velocity is on, of all equal channels [m2]; NaN of a leak
    laws: tuple[Law, ...]  # arrays (1, 1)

    def drop(self, velocity: Array, density: float, viscosity: float) -> Array:
        """Drop [Pa] along the velocity's sign, of velocities (n,) on the face."""
        flow = density * self.face * velocity[None]
        wide = np.full_like(flow, density)
        here = air.Air(wide, np.full_like(flow, viscosity), wide, wide)
        found: Array = in_series(self.laws, flow, here)[0][0].real
        return found


class Drag(NamedTuple):
    """dp = a v + b v^2 [Pa], v [m/s] above zero."""

    a: float
    b: float
    exact: bool  # a sum of such laws, else fitted by the least squares of relative errors
    misfit: float  # largest share by which the law is missed within the range
    low: float  # range of velocities
    high: float


def pieces(solution: Solution) -> dict[str, Piece]:
    """Every element of the case by its path, at the speeds of a solution."""
    ratios = dict(zip(solution.fans.names, solution.fans.columns["speed_ratio"], strict=True))
    inputs = speeds.as_solved(Inputs.of(solution.case), ratios)
    found = {}
    for kind in (kind for kind in BRANCHES if inputs.names(kind)):
        made = elements.element(inputs, kind)
        face = (made.area * made.count)[:, 0].real
        for row, name in enumerate(inputs.names(kind)):
            path = f"{kind}.{name}"
            runs = path in solution.fans and solution.fans[path].region != "stopped"
            kept = [law for law in made.laws if law is not made.fan or not runs]
            found[path] = Piece(float(face[row]), tuple(_of_row(kept, row)))
    return found


def _of_row(laws: list[Law], row: int) -> Iterator[Law]:
    """The laws of one of many elements; nothing of a fan that is none, or where it does not hold.

    A fan that stands still is a loss of its own; its curve is kept where it turns, too slowly to
    raise anything.
    """

    def picked(value: Any) -> Any:
        if isinstance(value, np.ndarray):
            return value[row if len(value) > 1 else 0][None]
        return type(value)(*map(picked, value)) if isinstance(value, tuple) else value

    for law in map(picked, laws):
        if isinstance(law, Only):
            yield from [law.law] if law.mask.all() else []
        elif getattr(law, "running", True):
            yield law


def drag(piece: Piece, velocity: float, density: float, viscosity: float) -> Drag | None:
    """The coefficients of an element for the way its air goes; None where it takes nothing."""
    way = -1.0 if velocity < 0 else 1.0
    low, high = (share * abs(velocity) for share in HELD_FOR) if velocity else AT_REST
    speed = np.geomspace(low, high, VELOCITIES)

    def lost(values: Array) -> Array:
        return way * piece.drop(way * values, density, viscosity)

    if not piece.laws or not (there := lost(speed)).all():
        return None
    exact = all(isinstance(law, SUMS) for law in piece.laws)
    if exact:
        once, twice = lost(np.array([FAST, 2 * FAST]))
        a, b = (4 * once - twice) / (2 * FAST), (twice - 2 * once) / (2 * FAST**2)
        a = a if abs(a) > NO_SLOPE * b else 0.0
    else:
        from scipy.optimize import nnls  # noqa: PLC0415 - only here

        (a, b), _ = nnls(np.column_stack((speed, speed**2)) / there[:, None], np.ones(len(speed)))
    misfit = float(np.max(np.abs((a * speed + b * speed**2) / there - 1)))
    return Drag(float(a), float(b), exact, misfit, low, high)


def porous(solution: Solution) -> Iterator[tuple[Any, ...]]:
    """A row for each open element with a face that takes pressure."""
    case, found, passed = solution.case, pieces(solution), open_branches(solution.case)
    for host, path, item in ((host, path, item) for host, chain in series(case).items()
                             for path, item in chain.items() if host in passed):  # fmt: skip
        row, piece = solution.branches[path], found[path]
        density = float(row.density)
        # the solver takes both at one temperature
        viscosity = float(air.viscosity(solution.site["pressure"] / (air.GAS_CONSTANT * density)))
        velocity = 0.0 if is_still(solution, path) else row.mass_flow / (density * piece.face)
        made = drag(piece, velocity, density, viscosity) if np.isfinite(piece.face) else None
        if made is None:
            continue
        length = float(getattr(item, "length", np.nan))
        thick = length if np.isfinite(length) else 1.0
        yield (
            path, item.tag or "", host if host != path else None, row.state,
            piece.face, velocity, row.drop, _way(piece, velocity), made.a, made.b,
            "exact" if made.exact else "fitted", made.misfit, made.low, made.high, density,
            viscosity, 2 * made.b / density, thick,
            "length in the case" if thick == length else "taken as 1 m", made.a / viscosity / thick,
            2 * made.b / density / thick,
        )  # fmt: skip


def _way(piece: Piece, velocity: float) -> str:
    """The way of the air for which coefficients hold: a shutter opens one way."""
    one_way = any(isinstance(law, FlapLaw) and (law.open_loss != law.closed_loss).any()
                  for law in piece.laws)  # fmt: skip
    return ("to > from" if velocity < 0 else "from > to") if one_way else "either"
