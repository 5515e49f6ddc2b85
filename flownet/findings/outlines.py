"""What can be seen before a solve: outlines that overlap or lie beyond the size, tiny areas, walls
of a thickness that nobody builds, a scenario that sets what its variant has set."""

from __future__ import annotations

from collections.abc import Iterator
from types import SimpleNamespace
from typing import Any, cast

from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.overriding import overridden
from flownet.enclosure.slips import MOST_PAIRS, SMALLEST, TOUCH, beyond, covered, extent, tiny_areas
from flownet.findings.rule import Said, rule, say
from flownet.results.finding import Finding
from flownet.results.solution import Solution
from flownet.schema.fields import given

LISTED = 3


@rule(touch=TOUCH)
def outlines_overlap(solution: Solution) -> Iterator[Said]:
    """Pairs of compartments in the same place, the largest overlaps first."""
    if found := covered(solution.case):
        pairs: list[Any] = [
            {"first": each.first.path, "second": each.second.name, "wide": each.width,
             "high": each.height, "part": _part(each.share)} for each in found
        ]  # fmt: skip
        most = len(found) - LISTED if len(found) < MOST_PAIRS else f"at least {len(found) - LISTED}"
        yield say(found[0].first.path, pairs=_cut(pairs, most))


def _part(share: float) -> str:
    return f"{100 * share:.0f} %" if share >= 0.01 else "under 1 %"


def _cut(items: list[Any], more: int | str) -> list[Any]:
    return items if len(items) <= LISTED else [*items[:LISTED], f"{more} more"]


@rule(touch=TOUCH)
def beyond_enclosure(solution: Solution) -> Iterator[Said]:
    """Outlines and positions beyond the size, the farthest first."""
    found, size = beyond(solution.case), extent(solution.case.body)
    if found and size is not None:
        things: list[Any] = [{"path": each.path, "by": each.by} for each in found]
        yield say(found[0].path, wide=size[0], tall=size[1],
                  things=_cut(things, len(found) - LISTED))  # fmt: skip


@rule(least=f"{1e6 * SMALLEST:g} mm2")
def area_unit_suspect(solution: Solution) -> Iterator[Said]:
    """Areas of branches and fan types that are too small to be meant."""
    for tiny in tiny_areas(solution.case):
        yield say(tiny.path, area=tiny.text)


@rule
def wall_thickness_suspect(solution: Solution) -> Iterator[Said]:
    """Panels of which the thickness is beyond what is built."""
    thin, thick = (wall_thickness_suspect[key] / 1000 for key in ("thin", "thick"))
    for wall in solution.case.walls.values():
        computed = given(wall.thickness) and not given(wall.u_value)
        if computed and not thin <= wall.thickness <= thick:
            yield say(f"{wall.path}.thickness", thick_is=f"{1e3 * wall.thickness:g}")


@rule
def variant_overridden(solution: Solution) -> Iterator[Said]:
    """Values of the variant that are lost in the scenario."""
    case, (scenario, variant, *_) = solution.case, solution.case.applied
    for each in overridden(case.source or case, scenario, variant):
        advice = f"{each.hint[0].upper()}{each.hint[1:]}."
        yield say(each.lost[0], hint="own", text=each.message, advice=advice)


DRAWN = (outlines_overlap, beyond_enclosure, area_unit_suspect, wall_thickness_suspect)


def of_case(case: Enclosure, *, overriding: bool = False) -> tuple[Finding, ...]:
    """What these rules say before anything is solved: they look at nothing but the case; what is
    drawn and typed, or what is lost between its scenario and variant."""
    unsolved = cast(Solution, SimpleNamespace(case=case))
    made = (variant_overridden,) if overriding else DRAWN
    return tuple(each for rule in made for each in rule(unsolved))
