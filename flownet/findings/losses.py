"""Loss coefficients that do not seem to fit the opening they stand at."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from typing import Any, NamedTuple

from flownet.enclosure.fans import Fan, FanType
from flownet.findings.facts import SHARP_EDGE, column, percent, series, streams
from flownet.findings.registry import COMMON_PRACTICE, OUR_OWN, Said, rule, say
from flownet.results.solution import Solution
from flownet.schema import quantities as q
from flownet.schema.fault import listed
from flownet.schema.fields import given

SMALL_LOSS, LARGE_LOSS = 0.05, 100.0
NEAR = 0.02  # of a loss by rule of thumb
ALIKE = 0.2  # areas of a fan and of what stands on it
END_WORTH = (0.5, 1.0, 1.5)  # entry, exit, both
GUARD_WORTH = (1.0, 1.5)
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


# --- counted twice -------------------------------------------------------------------------------


@rule(
    name="loss-counted-twice",
    severity="warning",
    title="entry or exit loss seems to stand at a fan a second time",
    cause="A fan curve is measured with the fan's own entry and exit: air that comes to rest "
    "behind it has been counted. An entry loss of 0.5 or an exit loss of 1 in the very plane of "
    "the fan takes it off once more, and the flow comes out too small.",
    try_="Take it out. What belongs at a fan is what the test did not have: a guard, a filter, a "
    "grille; or a duct, with loss for what its far end adds only.",
    thresholds="on a fan: a loss of 0.5, 1 or 1.5 (within {near}) of an opening, vent or duct "
    "whose area is within {alike} of the fan's flow area, or of the circle or square of its frame; "
    "or a guard of 1 or 1.5; an opening, vent or filter on a fan within {alike} of its "
    "clearance.opening",
    source="ISO 5801: fan pressure is that between inlet and outlet of the tested fan; values of "
    f"entry and exit: {COMMON_PRACTICE}; thresholds {OUR_OWN}",
    numbers={"near": percent(NEAR), "alike": percent(ALIKE)},
)
def loss_counted_twice(solution: Solution) -> Iterator[Said]:
    """Losses in the plane of a fan that look like those of its entry and exit."""
    case, chains = solution.case, series(solution.case)
    for fan in case.fans.values():
        if fan.state == "blanked":
            continue
        rating = case.rating(fan)
        if _plain(fan.guard.loss, GUARD_WORTH):
            yield _twice(fan.path, "guard.loss", fan.guard.loss, "a guard is worth 0.1 to 0.5")
        for path, item in chains[fan.path].items():
            loss = getattr(item, "loss", math.nan)
            plain = path != fan.path and given(loss) and _plain(loss, END_WORTH)
            if plain and _in_plane(item, rating):
                yield _twice(path, "loss", loss, f"{path} has the size of {fan.path}")
        yield from _same_opening(chains[fan.path], fan)


def _same_opening(chain: Mapping[str, Any], fan: Fan) -> Iterator[Said]:
    """An opening before a fan that is a branch on it as well."""
    hole = fan.clearance.opening if fan.clearance is not None else math.nan
    for path, item in chain.items():
        holed = path != fan.path and item.KIND in ("opening", "vent", "filter")
        if holed and fan.installation == "on" and abs(item.area / hole - 1) <= ALIKE:
            yield say(
                path, "{subject} of {area} stands on {fan}, whose clearance.opening of {hole} "
                "looks like the same opening: its loss is taken twice",
                "Leave one of the two out; a branch says more.",
                area=(q.AREA, item.area), fan=(None, fan.path), hole=(q.AREA, hole),
            )  # fmt: skip


def _twice(path: str, key: str, loss: float, why: str) -> Said:
    return say(
        path, "{subject}.{key} = {loss} looks like the fan's own entry or exit: its curve has both "
        "in it ({why})", key=(None, key), loss=(q.RATIO, loss), why=(None, why),
    )  # fmt: skip


def _plain(loss: float, known: tuple[float, ...]) -> bool:
    return any(abs(loss / each - 1) <= NEAR for each in known)


def _in_plane(item: Any, rating: FanType) -> bool:
    """Whether a hole is about as large as the fan."""
    sizes = [rating.flow_area]
    if rating.frame is not None:
        sizes += [rating.frame[0] ** 2, math.pi / 4 * rating.frame[0] ** 2]
    area = _area(item)
    return any(abs(area / size - 1) <= ALIKE for size in sizes)


def _area(item: Any) -> float:
    if item.KIND != "duct":
        return float(item.area)
    if item.section is not None:
        return float(item.section[0] * item.section[1])
    return math.pi / 4 * float(item.diameter) ** 2


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
