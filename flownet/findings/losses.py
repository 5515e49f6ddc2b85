"""Loss coefficients that do not seem to fit the opening they stand at."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from typing import Any, NamedTuple

from flownet.enclosure.branches import SHARP_EDGE
from flownet.enclosure.fans import Fan, FanType
from flownet.findings.facts import column, series, streams
from flownet.findings.rule import Said, rule, say
from flownet.results.solution import Solution
from flownet.schema.component import given

END_WORTH = (0.5, 1.0, 1.5)  # entry, exit, both
GUARD_WORTH = (1.0, 1.5)


class Given(NamedTuple):
    """A loss coefficient as the case gives it."""

    key: str
    loss: float
    area: float  # that its velocity refers to [m2]


# --- K on another area --------------------------------------------------------------------------


@rule
def loss_area_suspect(solution: Solution) -> Iterator[Said]:
    """Given losses that are very large or very small."""
    large, small = loss_area_suspect["large"], loss_area_suspect["small"]
    for path, item in solution.case.branches.items():
        for own in _given_losses(item):
            if getattr(item, "state", "") != "blanked" and not small <= own.loss <= large:
                yield say(
                    path, "large" if own.loss > large else "small", key=own.key, loss=own.loss,
                    area=own.area, hole=own.area / (SHARP_EDGE * math.sqrt(own.loss)),
                )  # fmt: skip


def _given_losses(item: Any) -> Iterator[Given]:
    """Coefficients with a known area; those not given are NaN and left out."""
    found = []
    if item.KIND in ("opening", "vent"):
        found.append(Given("loss", item.loss, item.area))
        coefficient = item.discharge_coefficient
        found.append(Given("discharge_coefficient", 1 / coefficient**2, item.area))
    if item.KIND == "slot":
        found.append(Given("loss", item.loss, item.area))
        holes = {"filler": item.filler, "empty": item.empty}
        found += [Given(f"{k}.loss", h.loss, h.area) for k, h in holes.items() if h is not None]
    return (own for own in found if given(own.loss))


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
            if path != fan.path and _plain(loss, END_WORTH) and _in_plane(item, rating):
                yield say(path, "twice", "size", key="loss", loss=loss, fan=fan.path)
        yield from _same_opening(chains[fan.path], fan)


def _same_opening(chain: Mapping[str, Any], fan: Fan) -> Iterator[Said]:
    """An opening before a fan that is a branch on it as well."""
    hole = fan.clearance.opening if fan.clearance is not None else math.nan
    for path, item in chain.items():
        holed = path != fan.path and item.KIND in ("opening", "vent", "filter")
        if holed and fan.installation == "on" and _alike(item.area, hole):
            yield say(path, "opening", hint="one-out", area=item.area, fan=fan.path, hole=hole)


def _plain(loss: float, known: tuple[float, ...]) -> bool:
    return any(abs(loss / each - 1) <= loss_counted_twice["near"] for each in known)


def _alike(area: float, size: float) -> bool:
    return abs(area / size - 1) <= loss_counted_twice["alike"]


def _in_plane(item: Any, rating: FanType) -> bool:
    """Whether a hole is about as large as the fan."""
    sizes = [rating.flow_area]
    if rating.frame is not None:
        sizes += [rating.frame[0] ** 2, math.pi / 4 * rating.frame[0] ** 2]
    area = _area(item)
    return any(_alike(area, size) for size in sizes)


def _area(item: Any) -> float:
    if item.KIND != "duct":
        return float(item.area)
    if item.section is not None:
        return float(item.section[0] * item.section[1])
    return math.pi / 4 * float(item.diameter) ** 2


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
