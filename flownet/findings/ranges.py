"""Relations and measurements used beyond the range that is known."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from typing import Any, NamedTuple

from flownet.findings.facts import column, number_at, series, streams
from flownet.findings.rule import Said, rule, say
from flownet.physics import air, find, friction, outside_range
from flownet.physics import losses as loss_laws
from flownet.results.solution import Solution
from flownet.schema.component import given


class Use(NamedTuple):
    """A correlation as a branch uses it."""

    function: Callable[..., Any]
    arguments: Mapping[str, float]


@rule
def range_of_validity(solution: Solution) -> Iterator[Said]:
    """Relations beyond their source, and measured drops beyond their last point."""
    velocity = column(solution.branches, "velocity")
    moving = {stream.path for stream in streams(solution)}
    for host, chain in series(solution.case).items():
        for path, item in chain.items() if host in moving else ():
            yield from _relations(solution, path, item)
            yield from _measured(path, item, abs(velocity.get(path, math.nan)))


def _relations(solution: Solution, path: str, item: Any) -> Iterator[Said]:
    for function, arguments in _uses(solution, path, item):
        for beyond in outside_range(function, **arguments):
            value = arguments[beyond.argument]
            low = value < beyond.low
            yield say(
                path, "relation", argument=beyond.argument.replace("_", " "), value=value,
                side="below" if low else "above", bound=beyond.low if low else beyond.high,
                end="least" if low else "most", source=find(function).source,
            )  # fmt: skip


def _measured(path: str, item: Any, velocity: float) -> Iterator[Said]:
    rows = getattr(item, "velocity_drop", None)
    if rows and item.state == "fitted" and velocity > range_of_validity["beyond"] * rows[-1][0]:
        yield say(path, "measured", hint="measure", velocity=velocity, last=rows[-1][0])


def _uses(solution: Solution, path: str, item: Any) -> Iterator[Use]:
    """The relations of a branch with the arguments they get."""
    if item.KIND == "vent" and given(item.open_ratio):
        yield _vent_use(solution, path, item)
    if item.KIND == "baffle" and item.present and item.plate == "passage":
        share = item.open_area / item.cross_section
        yield Use(loss_laws.idelchik_thin_plate, {"open_ratio": share})
    if item.KIND == "duct":
        reynolds = number_at(solution.branches, path, "reynolds")
        rough = item.roughness / _hydraulic_diameter(item)
        yield Use(friction.churchill_product, {"reynolds": reynolds, "roughness": rough})
        for angle, ratio in item.bends or ():
            yield Use(loss_laws.rennels_bend, {"angle": angle, "radius_ratio": ratio})
    if item.KIND == "slot" and item.state == "fitted" and given(item.gap):
        reynolds = number_at(solution.branches, path, "reynolds")
        sides = sorted((item.gap, item.width))
        yield Use(
            friction.slot_product, {"reynolds": reynolds, "aspect_ratio": sides[0] / sides[1]}
        )


def _vent_use(solution: Solution, path: str, vent: Any) -> Use:
    if vent.construction == "square-edged":
        return Use(loss_laws.idelchik_thin_plate, {"open_ratio": vent.open_ratio})
    if vent.construction == "round-edged":
        return Use(loss_laws.round_edge_grill, {"open_ratio": vent.open_ratio})
    arguments = {"open_ratio": vent.open_ratio}
    if given(vent.hole):
        arguments["reynolds"] = _hole_reynolds(solution, path, vent)
    return Use(loss_laws.round_edge_screen, arguments)


def _hole_reynolds(solution: Solution, path: str, vent: Any) -> float:
    """On the size of a hole and the velocity in it."""
    density = number_at(solution.branches, path, "density")
    velocity = abs(number_at(solution.branches, path, "velocity")) / vent.open_ratio
    warm = solution.site["pressure"] / (air.GAS_CONSTANT * density)
    return float(density * velocity * vent.hole / air.viscosity(warm))


def _hydraulic_diameter(duct: Any) -> float:
    if duct.section is None:
        return float(duct.diameter)
    a, b = duct.section
    return float(2 * a * b / (a + b))
