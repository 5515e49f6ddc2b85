"""Loss coefficients that do not seem to fit the opening they stand at."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any, NamedTuple

from flownet import quantities as q
from flownet.findings.facts import SHARP_EDGE, column, listed, series, streams
from flownet.findings.registry import COMMON_PRACTICE, OUR_OWN, Said, rule, say
from flownet.solution import Solution
from flownet.things import given

SMALL_LOSS, LARGE_LOSS = 0.05, 100.0
TURBULENT = 300.0  # Reynolds number below which a constant K is doubtful


class Given(NamedTuple):
    """A loss coefficient as the case gives it."""

    key: str
    loss: float
    area: float  # that its velocity refers to [m2]


# --- K on another area --------------------------------------------------------------------------


@rule(
    name="loss-area-suspect",
    severity="warning",
    title="a loss coefficient looks as if it were on another area",
    cause="A loss coefficient K holds for the velocity in one area: here always the area given "
    "beside it. On the holes of a grille it is smaller than on its face by the square of the "
    "open share.",
    try_="Check which area the source of K means; K on the face = K on the holes / open_ratio^2. "
    "Or give open_ratio instead of loss.",
    thresholds="K above {large} or below {small}",
    source=f"thresholds {OUR_OWN}; K scales with the square of the area, by definition",
    numbers={"large": (q.RATIO, LARGE_LOSS), "small": (q.RATIO, SMALL_LOSS)},
)
def loss_area_suspect(solution: Solution) -> Iterator[Said]:
    """Given losses that are very large or very small."""
    for path, item in solution.case.branches.items():
        for own in _given_losses(item):
            if getattr(item, "state", "") == "blanked" or SMALL_LOSS <= own.loss <= LARGE_LOSS:
                continue
            hole = own.area / (SHARP_EDGE * math.sqrt(own.loss))
            yield say(
                path, "{subject}.{key}: K = {loss} on {area} passes no more air than a sharp-edged "
                "hole of {hole}" if own.loss > LARGE_LOSS else
                "{subject}.{key}: K = {loss} on {area} passes as much air as a sharp-edged hole of "
                "{hole}, larger than itself",
                key=(None, own.key), loss=(q.RATIO, own.loss), area=(q.AREA, own.area),
                hole=(q.AREA, hole),
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


# --- nearly laminar -----------------------------------------------------------------------------


@rule(
    name="tiny-flow",
    severity="note",
    title="so little air that a constant loss coefficient is doubtful",
    cause="A loss coefficient is measured in turbulent flow. At a low Reynolds number the loss "
    "follows the velocity, not its square: the true loss is larger.",
    try_="Where this air matters, give a vent open_ratio with hole, or a measured velocity_drop.",
    thresholds="Reynolds number on the opening's size below {turbulent} in an opening, vent, "
    "baffle or open slot with a constant K",
    source=f"{COMMON_PRACTICE}; plates in creeping flow: Idelchik's 30 / (f^2 Re)",
    numbers={"turbulent": (q.COUNT, TURBULENT)},
)
def tiny_flow(solution: Solution) -> Iterator[Said]:
    """All such branches in one note."""
    reynolds = column(solution.branches, "reynolds")
    moving = {stream.path for stream in streams(solution)}
    chains = series(solution.case)
    found = {
        path: reynolds[path]
        for host in chains if host in moving
        for path, item in chains[host].items()
        if _constant_loss(item) and 0 < reynolds.get(path, math.nan) < TURBULENT
    }  # fmt: skip
    if found:
        least = min(found, key=lambda path: found[path])
        yield say(
            least, "Reynolds number {least} in {subject}" +
            (", below {turbulent} in {names}" if len(found) > 1 else "") +
            ": its loss is taken as that of turbulent flow",
            least=(q.COUNT, found[least]), names=(None, listed(found)),
        )  # fmt: skip


def _constant_loss(item: Any) -> bool:
    if item.KIND == "vent":
        by_hole = given(item.open_ratio) and given(item.hole)
        return not by_hole or item.construction == "round-edged"
    if item.KIND == "slot":
        return item.state in ("filler", "empty") or given(item.loss)
    return item.KIND in ("opening", "baffle") or (item.KIND == "filter" and item.state == "removed")
