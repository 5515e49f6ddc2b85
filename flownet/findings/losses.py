"""Losses that do not seem to fit their opening, and laws and measurements beyond their range."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from typing import Any, NamedTuple

from flownet.enclosure.branches import SHARP_EDGE
from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.fans import Fan, FanType
from flownet.equations.curve_fits import Points, split
from flownet.findings.facts import area_across, number_at
from flownet.findings.rule import Said, rule, say
from flownet.physics import air, find, friction, outside_range
from flownet.physics import losses as loss_laws
from flownet.results.solution import Solution
from flownet.results.streams import column, series, streams
from flownet.schema.fields import given

END_WORTH = (0.5, 1.0, 1.5)  # entry, exit, both
GUARD_WORTH = (1.0, 1.5)


# --- K on another area --------------------------------------------------------------------------


@rule
def loss_area_suspect(solution: Solution) -> Iterator[Said]:
    """Given losses that are very large or very small."""
    large, small = loss_area_suspect["large"], loss_area_suspect["small"]
    for path, item in solution.case.branches.items():
        for key, loss, area in _losses(item) if getattr(item, "state", "") != "blanked" else ():
            if loss < small or loss > large:
                yield say(
                    path, "large" if loss > large else "small", key=key, loss=loss, area=area,
                    hole=area / (SHARP_EDGE * math.sqrt(loss)),
                )  # fmt: skip


def _losses(item: Any) -> Iterator[tuple[str, float, float]]:
    """Key, coefficient (NaN where it is not given), and the area its velocity refers to [m2]."""
    if item.KIND in ("opening", "vent", "slot"):
        yield "loss", item.loss, item.area
    if item.KIND in ("opening", "vent"):
        yield "discharge_coefficient", 1 / item.discharge_coefficient**2, item.area
    if item.KIND == "slot":
        holes = {"filler": item.filler, "empty": item.empty}
        yield from ((f"{k}.loss", h.loss, h.area) for k, h in holes.items() if h is not None)


# --- counted twice -------------------------------------------------------------------------------


@rule
def loss_counted_twice(solution: Solution) -> Iterator[Said]:
    """Losses in the plane of a fan that look like those of its entry and exit."""
    case, chains = solution.case, series(solution.case)
    for fan in case.fans.values():
        if fan.state == "blanked":
            continue
        rating, guard = case.rating(fan), fan.guard.loss
        if _plain(guard, GUARD_WORTH):
            yield say(fan.path, "twice", "guard", key="guard.loss", loss=guard)
        for path, item in chains[fan.path].items():
            loss = getattr(item, "loss", math.nan)
            if _plain(loss, END_WORTH) and _in_plane(case, item, rating):
                yield say(path, "twice", "size", key="loss", loss=loss, fan=fan.path)
        yield from _same_opening(chains[fan.path], fan)


def _same_opening(chain: Mapping[str, Any], fan: Fan) -> Iterator[Said]:
    """An opening before a fan that is a branch on it as well."""
    hole = fan.clearance.opening if fan.clearance is not None else math.nan
    for path, item in chain.items():
        holed = item.KIND in ("opening", "vent", "filter")
        if holed and fan.installation == "on" and _alike(item.area, hole):
            yield say(path, "opening", hint="one-out", area=item.area, fan=fan.path, hole=hole)


def _plain(loss: float, known: tuple[float, ...]) -> bool:
    return any(abs(loss / each - 1) <= loss_counted_twice["near"] for each in known)


def _alike(area: float, size: float) -> bool:
    return abs(area / size - 1) <= loss_counted_twice["alike"]


def _in_plane(case: Enclosure, item: Any, rating: FanType) -> bool:
    """Whether a hole is about as large as the fan."""
    sizes = [rating.flow_area]
    if rating.frame is not None:
        sizes += [rating.frame[0] ** 2, math.pi / 4 * rating.frame[0] ** 2]
    area = area_across(case, item)
    return any(_alike(area, size) for size in sizes)


# --- nearly laminar -----------------------------------------------------------------------------


@rule
def tiny_flow(solution: Solution) -> Iterator[Said]:
    """All such branches in one note."""
    reynolds = column(solution.branches, "reynolds")
    moving = {stream.path for stream in streams(solution)}
    found = {
        path: reynolds[path]
        for host, chain in series(solution.case).items() if host in moving
        for path, item in chain.items()
        if _constant_loss(item) and 0 < reynolds.get(path, math.nan) < tiny_flow["turbulent"]
    }  # fmt: skip
    if found:
        path = min(found, key=lambda path: found[path])
        yield say(path, "says", len(found) > 1 and "several", "taken", least=found[path],
                  names=list(found))  # fmt: skip


def _constant_loss(item: Any) -> bool:
    if item.KIND == "vent":
        by_hole = given(item.open_ratio) and given(item.hole)
        return not by_hole or item.construction == "round-edged"
    if item.KIND == "slot":
        return item.state in ("filler", "empty") or given(item.loss)
    return item.KIND in ("opening", "baffle") or (item.KIND == "filter" and item.state == "removed")


# --- relations beyond their range -------------------------------------------------------------


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
    if item.KIND == "slot" and item.state == "fitted" and (given(item.gap) or item.sink):
        reynolds = number_at(solution.branches, path, "reynolds")
        fins = solution.case.things["sink_type"][item.sink].plates if item.sink else None
        sides = sorted((fins.gap, fins.height) if fins else (item.gap, item.width))
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


# --- measured drops that the curve through them does not follow -------------------------------


class Miss(NamedTuple):
    """The measured point that the fit misses most."""

    velocity: float  # [m/s]
    given: float  # [Pa]
    fitted: float  # [Pa]

    @property
    def share(self) -> float:
        """Of the measured drop; above zero where the fit is too high."""
        return self.fitted / self.given - 1


@rule
def drop_fit_misses(solution: Solution) -> Iterator[Said]:
    """Filters and cards by their tables; those with the same one together."""
    for points, paths in _tables(solution.case).items():
        worst = worst_miss(points)
        if abs(worst.share) > drop_fit_misses["missed"]:
            yield say(
                paths[0], names=paths, velocity=worst.velocity, given=worst.given,
                fitted=worst.fitted, off=abs(worst.share),
                side="much" if worst.share > 0 else "little",
            )  # fmt: skip


def worst_miss(points: Points) -> Miss:
    """Which point of a measured drop the fit `a v + b v^2` misses by the largest share."""
    linear, quadratic = split(points)
    found = [Miss(v, drop, linear * v + quadratic * v * v) for v, drop in points]
    return max(found, key=lambda miss: abs(miss.share))


def _tables(case: Enclosure) -> dict[Points, list[str]]:
    """Every measured drop in use, with whose it is."""
    found: dict[Points, list[str]] = {}
    for path, item in case.branches.items():
        rows = getattr(item, "velocity_drop", None)
        if rows and getattr(item, "state", "") == "fitted":
            found.setdefault(rows, []).append(path)
    return found
