"""Fan curves as they are given: two points, no density, another unit, an end above zero."""

from __future__ import annotations

import statistics
from collections.abc import Iterator
from typing import NamedTuple

from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.fans import FanType
from flownet.findings.facts import STANDARD_DENSITY, types_in_use
from flownet.findings.registry import COMMON_PRACTICE, OUR_OWN, Said, rule, say
from flownet.results.solution import Solution
from flownet.schema import quantities as q
from flownet.schema.fault import listed
from flownet.schema.fields import given
from flownet.schema.quantities import Quantity

NEAR = 0.03  # of a factor between units
SAME_FRAME = 0.02
LIKE = 1.3  # how far siblings may lie apart in what is not suspected
CUBIC_FEET = 1.699  # m3/h in a CFM


@rule(
    name="curve-two-points",
    severity="warning",
    title="a fan curve has two points only",
    cause="A straight line is drawn from shut-off pressure to free flow. Real curves of axial fans "
    "sag in between or even dip: the operating flow may be a quarter off.",
    try_="Read five points off the data sheet's curve (docs/fan-curve), or give the curve a wide "
    "[tolerance] on pressure_factor.",
    thresholds="a curve of two rows",
    source=f"a quarter: {COMMON_PRACTICE}",
)
def curve_two_points(solution: Solution) -> Iterator[Said]:
    """Types in use with a straight line."""
    for path, row in types_in_use(solution.case).items():
        if len(row.curve) == 2:
            (_, rise), (flow, _) = row.curve
            yield say(
                path, "{subject} has two points: a straight line is taken from {rise} to {flow}",
                rise=(q.PRESSURE, rise), flow=(q.VOLUME_FLOW, flow),
            )  # fmt: skip


@rule(
    name="curve-ends-above-zero",
    severity="note",
    title="a fan curve ends before 0 Pa",
    cause="The last point of the curve has pressure left. What lies beyond it is not measured: its "
    "end slope is carried on.",
    try_="Add the free-flow point (0 Pa) of the data sheet.",
    thresholds="a last point above 0 Pa",
    source="an assumption of the model, stated in every result that rests on it",
)
def curve_ends_above_zero(solution: Solution) -> Iterator[Said]:
    """Types in use whose curve stops early."""
    for path, row in types_in_use(solution.case).items():
        flow, rise = row.curve[-1]
        if rise > 0:
            yield say(
                path, "{subject} ends at {flow} with {rise}; beyond it the end slope is carried on "
                "(assumption)", flow=(q.VOLUME_FLOW, flow), rise=(q.PRESSURE, rise),
            )  # fmt: skip


@rule(
    name="curve-density-assumed",
    severity="warning",
    title="a fan curve states no air density",
    cause="Fan pressure is proportional to density, so a curve has a meaning only with the density "
    "it was measured or stated at. {standard} is assumed, the usual one of catalogues.",
    try_="Write reference_density (the data sheet may say standard air, or a temperature and "
    "altitude).",
    thresholds="no reference_density in a fan type in use",
    source="standard air of fan testing, ISO 5801",
    numbers={"standard": (q.DENSITY, STANDARD_DENSITY)},
)
def curve_density_assumed(solution: Solution) -> Iterator[Said]:
    """Types in use without a density."""
    for path, row in types_in_use(solution.case).items():
        if not given(row.reference_density):
            yield say(
                path, "{subject}: no density is stated for its curve, {standard} is assumed; here "
                "the air is {density}", density=(q.DENSITY, solution.site["density"]),
            )  # fmt: skip


# --- another unit -------------------------------------------------------------------------------


class Slip(NamedTuple):
    """A unit read as another, and the factor that leaves behind."""

    factor: float
    meant: str
    read: str


FLOW_SLIPS = (Slip(CUBIC_FEET, "CFM", "m3/h"),)
PRESSURE_SLIPS = (
    Slip(249.09, "inH2O", "Pa"), Slip(25.4, "inH2O", "mmH2O"), Slip(9.807, "mmH2O", "Pa"),
)  # fmt: skip


@rule(
    name="flow-unit-suspect",
    severity="warning",
    title="a fan curve looks as if it were read in another unit",
    cause="Beside the types of the same frame, its free flow or shut-off pressure is too small by "
    "just the factor between two units of the trade.",
    try_="Look at the axis of the data sheet once more, also for the type it is compared with.",
    thresholds="same frame (within 2 %), and smaller than the middle of its siblings by 1.699 "
    "(CFM as m3/h), 249.1 (inH2O as Pa), 25.4 (inH2O as mmH2O) or 9.81 (mmH2O as Pa), each within "
    "3 %, while the other of flow and pressure, and the rated speed if given, differ by less than "
    "a factor 1.3",
    source=f"factors: NIST SP 811; how alike siblings are: {OUR_OWN}",
)
def flow_unit_suspect(solution: Solution) -> Iterator[Said]:
    """Types in use that are a unit away from their siblings."""
    for path, row in types_in_use(solution.case).items():
        siblings = _siblings(solution.case, row)
        if not siblings:
            continue
        flow, rise = (
            statistics.median(r.curve[i][j] for r in siblings) for i, j in ((-1, 0), (0, 1))
        )
        flow_ratio, rise_ratio = flow / row.curve[-1][0], rise / row.curve[0][1]
        found: list[tuple[Slip, str, Quantity, float, float]] = []
        if _like(rise_ratio):
            own_flow = row.curve[-1][0]
            slips = _slips(FLOW_SLIPS, flow_ratio)
            found += [(slip, "free flow", q.VOLUME_FLOW, own_flow, flow) for slip in slips]
        if _like(flow_ratio):
            own_rise = row.curve[0][1]
            slips = _slips(PRESSURE_SLIPS, rise_ratio)
            found += [(slip, "shut-off pressure", q.PRESSURE, own_rise, rise) for slip in slips]
        for slip, what, quantity, own, theirs in found:
            yield say(
                path, "{subject}: its {what} {own} beside {theirs} of {names} (same frame) looks "
                "like {meant} entered as {read} (factor {factor})",
                what=(None, what), own=(quantity, own), theirs=(quantity, theirs),
                names=(None, listed(r.path for r in siblings)),
                meant=(None, slip.meant), read=(None, slip.read), factor=(q.RATIO, slip.factor),
            )  # fmt: skip


def _slips(known: tuple[Slip, ...], ratio: float) -> list[Slip]:
    """Those whose factor a ratio is near to."""
    return [slip for slip in known if abs(ratio / slip.factor - 1) <= NEAR]


def _siblings(case: Enclosure, row: FanType) -> list[FanType]:
    """Other types of the same frame and about the same speed."""
    base = row.name.partition(".")[0]
    if row.frame is None:
        return []
    size = row.frame[0]
    return [
        other
        for name, other in case.things["fan_type"].items()
        if name.partition(".")[0] != base and other.frame is not None
        and abs(other.frame[0] / size - 1) <= SAME_FRAME
        and not _unlike(other.rated_speed / row.rated_speed)
    ]  # fmt: skip


def _like(ratio: float) -> bool:
    return 1 / LIKE < ratio < LIKE


def _unlike(ratio: float) -> bool:
    """Known to differ; NaN is not."""
    return ratio <= 1 / LIKE or ratio >= LIKE
