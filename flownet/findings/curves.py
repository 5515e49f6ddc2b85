"""Fan curves as they are given: two points, no density, another unit, an end above zero."""

from __future__ import annotations

import statistics
from collections.abc import Iterator

from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.fans import FanType
from flownet.findings.facts import types_in_use
from flownet.findings.rule import Said, rule, say
from flownet.physics.air import STANDARD_DENSITY
from flownet.results.solution import Solution
from flownet.schema.fields import given
from flownet.schema.quantities import UNITS

SLIPS = {  # unit that was meant, and the one it was read as, by the axis of the curve
    "flow": (("CFM", "m3/h"),),
    "rise": (("inH2O", "Pa"), ("inH2O", "mmH2O"), ("mmH2O", "Pa")),
}


@rule
def curve_two_points(solution: Solution) -> Iterator[Said]:
    """Types in use with a straight line."""
    for path, row in types_in_use(solution.case).items():
        if len(row.curve) == 2:
            (_, rise), (flow, _) = row.curve
            yield say(path, rise=rise, flow=flow)


@rule
def curve_ends_above_zero(solution: Solution) -> Iterator[Said]:
    """Types in use whose curve stops early."""
    for path, row in types_in_use(solution.case).items():
        flow, rise = row.curve[-1]
        if rise > 0:
            yield say(path, flow=flow, rise=rise)


@rule(standard=STANDARD_DENSITY)
def curve_density_assumed(solution: Solution) -> Iterator[Said]:
    """Types in use without a density."""
    for path, row in types_in_use(solution.case).items():
        if not given(row.reference_density):
            yield say(path, density=solution.site["density"])


@rule
def flow_unit_suspect(solution: Solution) -> Iterator[Said]:
    """Types in use that are a unit away from their siblings."""
    for path, row in types_in_use(solution.case).items():
        siblings = _siblings(solution.case, row)
        if not siblings:
            continue
        own = {"flow": row.curve[-1][0], "rise": row.curve[0][1]}
        theirs = {"flow": statistics.median(each.curve[-1][0] for each in siblings),
                  "rise": statistics.median(each.curve[0][1] for each in siblings)}  # fmt: skip
        for axis, beside in (("flow", "rise"), ("rise", "flow")):
            for meant, read in () if _unlike(theirs[beside] / own[beside]) else SLIPS[axis]:
                factor = UNITS[meant].factor / UNITS[read].factor
                if abs(theirs[axis] / own[axis] / factor - 1) <= flow_unit_suspect["near"]:
                    yield say(
                        path, axis, "slipped", own=own[axis], theirs=theirs[axis],
                        names=[each.path for each in siblings], meant=meant, read=read,
                        factor=factor,
                    )  # fmt: skip


def _siblings(case: Enclosure, row: FanType) -> list[FanType]:
    """Other types of the same frame and about the same speed."""
    base = row.name.partition(".")[0]
    if row.frame is None:
        return []
    return [
        other
        for name, other in case.things["fan_type"].items()
        if name.partition(".")[0] != base and other.frame is not None
        and abs(other.frame[0] / row.frame[0] - 1) <= flow_unit_suspect["frame"]
        and not _unlike(other.rated_speed / row.rated_speed)
    ]  # fmt: skip


def _unlike(ratio: float) -> bool:
    """Known to differ; NaN is not."""
    like = flow_unit_suspect["like"]
    return ratio <= 1 / like or ratio >= like
