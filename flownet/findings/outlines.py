"""What can be seen before a solve: outlines that overlap or lie beyond the size, tiny areas,
walls of a thickness that nobody builds."""

from __future__ import annotations

from collections.abc import Iterator
from types import SimpleNamespace
from typing import cast

from flownet.enclosure.drawing import TOUCH, Covered, beyond, covered, extent
from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.overlaps import MOST
from flownet.enclosure.slips import SMALLEST, tiny_areas
from flownet.findings.registry import OUR_OWN, Said, Value, rule, say
from flownet.results.solution import Finding, Solution
from flownet.schema import quantities as q
from flownet.schema.fault import listed
from flownet.schema.fields import given

LISTED = 3
PANEL = (5e-5, 0.5)  # m: no panel of an enclosure is thinner or thicker


@rule(
    name="outlines-overlap",
    severity="warning",
    title="compartments lie over one another",
    cause="Outlines share a part of the view, so the same room is counted twice: heights, walls "
    "with faces and the map follow the outlines. A width typed for an edge, or x and y exchanged, "
    "looks like this. Flows and temperatures follow the outlines only by the heights.",
    try_="Write each outline as x, y, width, height; where one compartment stands behind the "
    "other in the view, give both their depth.",
    thresholds="more than {touch} in both directions; not where both have a depth and these fit "
    "one behind the other into the size of the enclosure",
    source=OUR_OWN,
    numbers={"touch": (q.LENGTH, TOUCH)},
)
def outlines_overlap(solution: Solution) -> Iterator[Said]:
    """Pairs of compartments in the same place, the largest overlaps first."""
    found = covered(solution.case)
    if not found:
        return
    values: dict[str, Value] = {}
    words = [_pair(values, place, each) for place, each in enumerate(found[:LISTED])]
    if more := max(len(found) - LISTED, 0):
        words.append(f"{more} more" if len(found) < MOST else f"at least {more} more")
    text = f"outlines overlap: {listed(words, len(words))}"
    yield say(found[0].first.path, text, "", **values)


def _pair(values: dict[str, Value], place: int, each: Covered) -> str:
    """`compartment.a and b by {w0} x {h0}`, with the numbers put into values."""
    share = f"{100 * each.share:.0f} %" if each.share >= 0.01 else "under 1 %"
    values |= {f"w{place}": (q.LENGTH, each.width), f"h{place}": (q.LENGTH, each.height)}
    values |= {f"s{place}": (None, share)}
    names = f"{each.first.path} and {each.second.name}"
    return f"{names} by {{w{place}}} x {{h{place}}} ({{s{place}}} of the smaller)"


@rule(
    name="beyond-enclosure",
    severity="warning",
    title="something lies outside the enclosure",
    cause="An outline or a position reaches beyond the size of the enclosure, counted from its "
    "corner at 0, 0. A unit or a digit that slipped looks like this; heights follow it.",
    try_="Mend the outline or the position, or enclosure.size.",
    thresholds="more than {touch}; ducts may lead outwards",
    source=OUR_OWN,
    numbers={"touch": (q.LENGTH, TOUCH)},
)
def beyond_enclosure(solution: Solution) -> Iterator[Said]:
    """Outlines and positions beyond the size, the farthest first."""
    found, size = beyond(solution.case), extent(solution.case.body)
    if not found or size is None:
        return
    values: dict[str, Value] = {f"by{i}": (q.LENGTH, e.by) for i, e in enumerate(found[:LISTED])}
    words = listed((f"{each.path} by {{by{i}}}" for i, each in enumerate(found)), LISTED)
    values |= {"wide": (q.LENGTH, size[0]), "tall": (q.LENGTH, size[1])}
    text = f"beyond the enclosure ({{wide}} x {{tall}} in the view): {words}"
    yield say(found[0].path, text, "", **values)


@rule(
    name="area-unit-suspect",
    severity="warning",
    title="an area looks as if it were in another unit",
    cause="Next to no air passes a hole of this size, and pressures or temperatures beyond all "
    "sense follow, or no solution. Where mm2 stands, cm2 or m2 was probably meant.",
    try_="Write the area with the unit of the drawing: 1 m2 = 10 000 cm2 = 1 000 000 mm2.",
    thresholds="an area that air passes below {least} (a hole of 0.8 mm)",
    source=OUR_OWN,
    numbers={"least": (None, f"{1e6 * SMALLEST:g} mm2")},
)
def area_unit_suspect(solution: Solution) -> Iterator[Said]:
    """Areas of branches and fan types that are too small to be meant."""
    for tiny in tiny_areas(solution.case):
        yield say(tiny.path, "{subject} is {area}: a unit may have slipped", area=(None, tiny.text))


@rule(
    name="wall-thickness-suspect",
    severity="warning",
    title="a wall is as thick or as thin as no panel is",
    cause="Heat is taken to go straight through a panel, and its thickness divides it. A unit that "
    "slipped makes of a sheet a block that insulates, or of a plate a foil.",
    try_="Write the thickness with the unit of the drawing, or give the wall its u_value.",
    thresholds="thickness of a wall without u_value below {thin} or above {thick}",
    source=OUR_OWN,
    numbers={"thin": (None, f"{1e3 * PANEL[0]:g} mm"), "thick": (None, f"{1e3 * PANEL[1]:g} mm")},
)  # fmt: skip
def wall_thickness_suspect(solution: Solution) -> Iterator[Said]:
    """Panels of which the thickness is beyond what is built."""
    for wall in solution.case.walls.values():
        computed = given(wall.thickness) and not given(wall.u_value)
        if computed and not PANEL[0] <= wall.thickness <= PANEL[1]:
            yield say(f"{wall.path}.thickness", "{subject} is {thick_is}: a unit may have slipped",
                      thick_is=(None, f"{1e3 * wall.thickness:g} mm"))  # fmt: skip


def of_case(case: Enclosure) -> tuple[Finding, ...]:
    """What these rules say before anything is solved: they look at nothing but the case."""
    unsolved = cast(Solution, SimpleNamespace(case=case))
    made = (outlines_overlap, beyond_enclosure, area_unit_suspect, wall_thickness_suspect)
    return tuple(each for rule in made for each in rule(unsolved))
