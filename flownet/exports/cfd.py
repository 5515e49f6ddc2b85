"""What a flow simulation of the enclosure is given: one table a sort of condition.

`legend.toml` declares the columns. What each is (total or static, gauge to what, which sign) goes
with the tables as one of them, `about`.
"""

from __future__ import annotations

import functools
import importlib.resources
import re
import tomllib
from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np

from flownet.columns import Inputs
from flownet.enclosure.heat import BRANCHES
from flownet.equations import elements
from flownet.equations.laws import in_series
from flownet.equations.levels import wall_faces
from flownet.equations.topology import root_places
from flownet.findings.facts import running_fans, temperature_at, working_fans
from flownet.pages.sheet import Listing, by_rows
from flownet.physics import air
from flownet.results.solution import Solution
from flownet.results.streams import (
    each_way,
    is_outside,
    is_still,
    open_branches,
    outside_name,
    series,
)  # fmt: skip
from flownet.schema.arrays import Array
from flownet.schema.fields import given
from flownet.schema.quantities import QUANTITIES, RATIO, Quantity
from flownet.schema.shown import Shown
from flownet.solver import speeds
from flownet.studies.fans import lines
from flownet.studies.fans.groups import FanGroup

CURVE_STEPS = 20  # of a fan curve, beside the points of its data sheet and its working point
HELD_FOR = np.geomspace(0.25, 2.0, 41)  # of the velocity of a solution
STANDING_AIR = 1.0  # m/s: that velocity where no air moves
NO_SLOPE = 1e-3  # of the other part: a linear one below it is the turn of a square near rest
SAME_BOTH_WAYS = 1e-6  # of a drop
Rows = Iterator[tuple[Any, ...]]


def tables(solutions: Sequence[Solution]) -> list[Listing]:
    """All conditions of some solutions, scenario by scenario, and what the columns are."""
    sorts = {
        "outside": _outside, "boundaries": _boundaries, "fans": _fans, "fan_curves": _curves,
        "porous": _porous, "heat": _heat, "walls": _walls, "compartments": _spaces,
    }  # fmt: skip
    made = []
    for name, rows in sorts.items():
        heads = [(head, _quantity(kind)) for head, (kind, _) in declared()[name].items()]
        every = [(each.scenario, *row) for each in solutions for row in rows(each)]
        made.append(by_rows(name, heads, every))
    about = [(table.name, column, words) for table in made if len(table)
             for column, (_, words) in declared()[table.name].items()]  # fmt: skip
    return [*made, by_rows("about", (("table", None), ("column", None), ("is", None)), about)]


@functools.cache
def declared() -> dict[str, dict[str, tuple[str, str]]]:
    """Table -> column -> quantity or unit, and what it is."""
    text = importlib.resources.files("flownet.exports").joinpath("legend.toml").read_text("utf-8")
    known = tomllib.loads(text)
    common = known.pop("all")
    return {name: {key: tuple(common[key] if told == "all" else told)
                   for key, told in {"scenario": "all", **each}.items()}
            for name, each in known.items()}  # fmt: skip


def _quantity(kind: str) -> Quantity | None:
    """A quantity by its name; one of its own for a unit that none has."""
    if not kind or kind in QUANTITIES:
        return QUANTITIES.get(kind)
    shown, key = Shown(kind), re.sub("[ ]", "", kind.replace("/", "_"))
    return RATIO._replace(name=kind, json=Shown(key), metric=shown, us=shown)


# --- what crosses the enclosure ------------------------------------------------------------------


def _outside(solution: Solution) -> Rows:
    site = solution.site["pressure"]
    for name, item in solution.case.things["outside"].items():
        warm, gauge = item.temperature, item.over_pressure
        yield (f"outside.{name}" if name else "outside", warm, gauge, site + gauge,
               float(air.density(warm, site)), float(air.viscosity(warm)))  # fmt: skip


def _boundaries(solution: Solution) -> Rows:
    """Each branch with an end in the open, closed ones too."""
    passed = open_branches(solution.case)
    for path in series(solution.case):
        item: Any = solution.case.branches[path]
        ends, row = (item.from_, item.to), solution.branches[path]
        inner, outer = sorted(ends, key=is_outside)
        if not is_outside(outer):
            continue
        moves = path in passed and not is_still(solution, path)
        role = "inlet" if is_outside(ends[0]) == (row.mass_flow > 0) else "outlet"
        role = role if not is_outside(inner) else "outside to outside"
        role = role if moves else "still" if path in passed else "closed"
        role = "both ways at once" if each_way(solution, path) else role
        density = row.mass_flow / row.volume_flow if moves else np.nan
        yield (
            path, item.tag, role, *ends,
            row.mass_flow, row.volume_flow, density,
            solution.site["pressure"] / (air.GAS_CONSTANT * density),
            row.outlet_temperature if moves else np.nan,
            _pressure(solution, outer), _pressure(solution, inner),
        )  # fmt: skip


def _pressure(solution: Solution, place: str) -> float:
    """Gauge pressure of a place."""
    if is_outside(place):
        return float(solution.case.things["outside"][outside_name(place)].over_pressure)
    return float(solution.compartments[place].pressure)


# --- fans ----------------------------------------------------------------------------------------


def _fans(solution: Solution) -> Rows:
    for fan in working_fans(solution):
        rating, row = fan.rating, solution.fans[fan.path]
        yield (
            fan.path, fan.item.tag, f"{fan.source} > {fan.target}", fan.item.state, fan.region,
            rating.rated_speed * row.speed_ratio, row.speed_ratio, lines.density(solution, fan),
            fan.flow, fan.rise, rating.flow_area, row.power,
        )  # fmt: skip


def _curves(solution: Solution) -> Rows:
    """The curve of every fan that runs, as the solver has it: at its speed and the density it
    draws, its working point among the points."""
    running = running_fans(solution)
    known = lines.curves(solution, (FanGroup(tuple(running)),)) if running else {}
    for fan in running:
        curve, density = known[fan.path], lines.density(solution, fan)
        points = [fan.flow, *(fan.at_speed(flow) for flow, _ in fan.rating.curve)]
        even = np.linspace(min(0.0, fan.flow), max(curve.free, fan.flow), CURVE_STEPS + 1)
        flows = np.unique(np.round([*even, *points], 12))
        rises, head = curve.rise(flows), density * (flows / fan.rating.flow_area) ** 2 / 2
        for flow, rise, outlet in zip(flows, rises, head, strict=True):
            yield fan.path, float(flow), float(rise), float(rise + outlet), density


# --- what stands in the air as a porous jump: dp = a v + b v^2, v the velocity on its face area ---


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


def _porous(solution: Solution) -> Rows:
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


# --- heat, places --------------------------------------------------------------------------------


def _heat(solution: Solution) -> Rows:
    """Parts, slots with heat of their own, and motors; those that are not there left out."""
    case, at = solution.case, root_places(solution.case)
    for name, row in solution.parts.items():
        if given(row.heat):
            part = case.parts[name]
            yield (part.path, part.tag, part.in_, at[name], row.heat, row.heat, row.temperature,
                   row.resistance, row.volume_flow)  # fmt: skip
    for slot in case.things["slot"].values():
        if slot.state == "fitted" and (heat := slot.power * slot.load):
            yield slot.path, slot.tag, slot.path, slot.path, heat, heat, *[np.nan] * 3
    for fan in working_fans(solution):
        if power := solution.fans[fan.path].power:
            warms = power if fan.rating.motor_in_air else 0.0
            yield fan.path, fan.item.tag, fan.path, fan.path, power, warms, *[np.nan] * 3


def _walls(solution: Solution) -> Rows:
    """Panels, then ducts with a wall of their own."""
    case = solution.case
    faces = wall_faces(Inputs.of(case)).area[:, 0].real if case.walls else ()
    for wall, face in zip(case.walls.values(), faces, strict=True):
        row, area = solution.walls[wall.name], wall.area if given(wall.area) else float(face)
        yield (wall.path, wall.from_, wall.to, row.heat, area, row.heat / area, row.absorbed_sun,
               temperature_at(solution, wall.from_), temperature_at(solution, wall.to))  # fmt: skip
    for duct in case.things["duct"].values():
        heat = solution.branches[duct.path].heat
        if given(duct.u_value) and given(heat):
            own = sum(solution.parts[name].heat for name, place in root_places(case).items()
                      if place == duct.path)  # fmt: skip
            yield (duct.path, duct.path, f"wall of {duct.path}", own - heat, *[np.nan] * 4,
                   duct.wall_temperature)  # fmt: skip


def _spaces(solution: Solution) -> Rows:
    for name, row in solution.compartments.items():
        item = solution.case.compartments[name]
        yield name, item.tag, row.mean_temperature, row.pressure
