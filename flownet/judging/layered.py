"""Whether one temperature is enough for a compartment: the same case solved with layers.

Where walls or exchanges carry much of the heat, or buoyancy moves much of the air, it matters at
what height the heat comes in and goes out. And whether the layers that are given are enough: the
same with twice as many.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Iterator, Mapping
from functools import partial
from types import MappingProxyType
from typing import Any

import numpy as np

from flownet.enclosure.checks import undivided
from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.surroundings import MOST_LAYERS
from flownet.physics import air
from flownet.results.solution import Layered, Solution
from flownet.results.streams import both_ways, is_outside, outside_name
from flownet.schema.fields import given

LAYERS = 4
ASIDE = 0.15  # of the heat that walls and exchanges carry: above it compartments are divided
LIFTED = 1 / 3  # of the power that moves the air, likewise
PIECES = 2 * LAYERS  # of a tall hole
HOLES = ("opening", "vent")  # kinds of holes that may be upright
MOST_DIVIDED = 16  # compartments that are divided; an enclosure with more of them is left as it is
Again = Callable[[Enclosure, Mapping[str, Any]], Solution | str]


def beside(solution: Solution, again: Again) -> Solution:
    """The solution, with what layers say where it is worth asking, and what more of them say.

    `again` solves an enclosure with changes, or says why it cannot; a function of a module, so that
    a solution can be sent to another process.
    """
    case = solution.case
    given = {name: int(item.layers) for name, item in case.compartments.items() if item.layers > 1}
    one = [name for name, item in case.compartments.items()
           if name not in given and not undivided(case, item)]  # fmt: skip
    aside, lifted = carried_aside(solution), moved_by_buoyancy(solution)

    def divided(layers: Mapping[str, int]) -> Layered | None:
        solved = partial(again, piled(case))
        return Layered(layers, aside, lifted, solution.limits, solved) if layers else None

    asked = len(one) <= MOST_DIVIDED and (aside > ASIDE or lifted > LIFTED)
    more = {name: 2 * n if 2 * n <= MOST_LAYERS else n // 2 for name, n in given.items()}
    return dataclasses.replace(
        solution, layered=divided(dict.fromkeys(one, LAYERS) if asked else {}),
        finer=divided(more if len(more) <= MOST_DIVIDED else {}),
    )  # fmt: skip


def has_tall(case: Enclosure) -> bool:
    """Whether some hole is upright, so that the case in layers is `piled`."""
    return any(given(item.height) for kind in HOLES for item in case.things[kind].values())


def piled(case: Enclosure) -> Enclosure:
    """The same with each upright hole as a pile of lower ones: one hole meets a layer alone."""
    things = dict(case.things)
    for kind in HOLES:
        made = (one for item in case.things[kind].values() for one in _pile(case, item))
        things[kind] = MappingProxyType({one.name: one for one in made})
    return dataclasses.replace(case, things=MappingProxyType(things))


def _pile(case: Enclosure, item: Any) -> Iterator[Any]:
    """From the lowest on, the first by its own name; itself where it is no upright hole."""
    ends = [case.compartments[end] for end in (item.from_, item.to) if end in case.compartments]
    drawn = [space.outline for space in ends if space.outline is not None]
    if not given(item.height) or case.body.up not in ("top", "bottom") or not drawn:
        yield item
        return
    middles = [(x + wide / 2, y + tall / 2) for x, y, wide, tall in drawn]
    x, y = item.at or np.mean(middles, axis=0)
    for k in range(PIECES):
        name = f"{item.name}-piece-{k}" if k else item.name
        up = item.height * ((k + 0.5) / PIECES - 0.5)
        yield dataclasses.replace(
            item, name=name, area=item.area / PIECES, height=item.height / PIECES,
            at=(float(x), float(y + up)),
        )  # fmt: skip


def carried_aside(solution: Solution) -> float:
    """Heat through walls and exchanges, either way, over that and what the air carries out."""
    totals = solution.totals
    air = abs(totals.heat - totals.wall_heat)
    through = sum(np.abs(t.columns["heat"]).sum() for t in (solution.walls, solution.exchanges))
    return float(through / (through + air)) if through > 0 else 0.0


def moved_by_buoyancy(solution: Solution) -> float:
    """Of the power that is lost on the way of the air, what neither fans nor an over-pressure
    outside give, 0 to 1.

    All are sums of a pressure times a volume flow; what the air gains by expanding counts as
    buoyancy, below zero as none.
    """
    branches = solution.branches.columns
    lost = np.nansum(branches["drop"] * branches["volume_flow"]) + _turned_over(solution)
    return float(np.clip(1 - _driven(solution) / lost, 0.0, 1.0)) if lost > 0 else 0.0


def _turned_over(solution: Solution) -> float:
    """Power of the air that passes tall holes both ways beside their net flow [W]: the mean over
    the height of the pressure differences that move it is 0.6 of that at the edges, closed form
    without a net flow."""
    site, places = solution.site, solution.case.things["outside"]
    warm = {name: space.temperature for name, space in solution.compartments.items()}
    warm |= {f"outside.{name}".rstrip("."): place.temperature for name, place in places.items()}
    power = 0.0
    for path, _, *ends, flow in both_ways(solution):
        hole: Any = solution.case.branches[path]
        one, other = (air.density(warm[end], site["pressure"]) for end in ends)
        edge = abs(one - other) * air.GRAVITY * hole.height / 2
        power += float(0.6 * edge * flow / site["density"])
    return power


def _driven(solution: Solution) -> float:
    """Power that fans and over-pressures outside give to the air [W]."""
    given, outsides = 0.0, solution.case.things["outside"]
    for name, branch in solution.case.branches.items():
        if branch.from_ is None or branch.to is None:  # on another, which counts its air
            continue
        flow = solution.volume_flow(name)
        for end, moved in ((branch.from_, flow), (branch.to, -flow)):
            if is_outside(end):
                given += outsides[outside_name(end)].over_pressure * moved
    for name, fan in solution.fans.items():
        flow = abs(solution.volume_flow(name))
        given += fan.rise * (-flow if fan.region == "backflow" else flow)
    return given
