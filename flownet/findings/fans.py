"""Fans that do not work where they should: stall, backflow, past free delivery, head-on."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from typing import Any

from flownet.enclosure.scenarios import scenario_changes
from flownet.equations.topology import Structure
from flownet.findings.facts import Working, running_fans, working_fans
from flownet.findings.rule import Said, rule, say
from flownet.judging.opposed import SHUT_SHARE, Facing, facing, holes
from flownet.judging.voids import STALL, of_solution
from flownet.results.batch import single
from flownet.results.solution import Solution
from flownet.results.streams import column, is_outside, is_still, open_branches, outside_name
from flownet.schema.fields import given


def last_peak(curve: tuple[tuple[float, float], ...]) -> float:
    """Flow at the last local maximum of a curve [m3/s]; 0 where it only falls."""
    rises = [rise for _, rise in curve]
    climbs = [i for i in range(1, len(rises)) if rises[i] > rises[i - 1]]
    return curve[climbs[-1]][0] if climbs else 0.0


@rule
def fan_stall(solution: Solution) -> Iterator[Said]:
    """Fans between zero flow and the last peak; that of a while where it makes nothing void."""
    void, for_a_while = (found.get(STALL, ()) for found in of_solution(solution))
    several = solution.points is not None and solution.points > 1
    for fan in running_fans(solution):
        if fan.path in (*void, *for_a_while):
            yield say(
                fan.path, "says", several and "several",
                several and solution.from_rest and "from-rest",
                hint=given(fan.rise) and "pass-more", mild=fan.path in for_a_while,
                flow=fan.flow, peak=fan.at_speed(last_peak(fan.rating.curve)),
                points=solution.points, rise=fan.rise,
            )  # fmt: skip


@rule
def fan_past_free_delivery(solution: Solution) -> Iterator[Said]:
    """Fans beyond the end of their curve."""
    running = running_fans(solution)
    for fan in running:
        if fan.region == "past-free-delivery":
            left = fan.rating.curve[-1][1]
            hint = "too-short" if left > 0 else "pushed" if len(running) > 1 else "drawn"
            yield say(
                fan.path, "beyond" if left > 0 else "past", "says", hint=hint, flow=fan.flow,
                last=fan.last_flow, rise=fan.rise, left=left, type=fan.rating.path,
                ratio=fan.flow / fan.last_flow if fan.last_flow > 0 else math.nan,
            )  # fmt: skip


@rule
def fan_backflow(solution: Solution) -> Iterator[Said]:
    """Running fans with flow against them."""
    driven = of_solution(solution)[0].get("backflow", ())
    for fan in running_fans(solution):
        shut = fan.item.shutter is not None
        if fan.path in driven and (shut or not is_still(solution, fan.path)):
            yield say(
                fan.path, shut and "shut", hint=shut and "leave-out", flow=-fan.flow,
                rise=fan.rise, shut_off=fan.shut_off,
            )  # fmt: skip


@rule(gap=SHUT_SHARE)
def fans_opposed(solution: Solution) -> Iterator[Said]:
    """Places that only fans lead to, all blowing in or all out; fans side by side, one reversed."""
    rows = {fan.path: fan for fan in working_fans(solution)}
    for group in _facing(solution):
        fans = [rows[solution.fans.names[row]] for row in group.fans]
        yield _head_on(solution, group, fans) if group.places else _beside(fans)


def _facing(solution: Solution) -> list[Facing]:
    return [group for group in facing(single(solution)) if group.runs[0]]


def _beside(fans: list[Working]) -> Said:
    """Side by side, some mounted backwards."""
    turned = [fan for fan in fans if fan.item.mounted == "reversed"]
    round_ = [fan.flow for fan in turned if fan.flow > 0]
    return say(
        turned[0].path, "beside", bool(round_) and "round", turned=[fan.path for fan in turned],
        blow="blow" if len(turned) > 1 else "blows", flow=math.fsum(round_),
        others=[fan.path for fan in fans if fan.item.mounted != "reversed"],
    )  # fmt: skip


def _head_on(solution: Solution, group: Facing, fans: list[Working]) -> Said:
    names = list(solution.case.compartments)
    return say(
        fans[0].path, "head-on", fans=[fan.path for fan in fans],
        way="into" if group.inward else "out of",
        places=[f"compartment.{names[place]}" for place in group.places],
        flow=max((abs(fan.flow) for fan in fans if given(fan.flow)), default=math.nan),
    )  # fmt: skip


@rule
def outlet_missing(solution: Solution) -> Iterator[Said]:
    """All fans one way, and nearly nothing the other."""
    fans = [fan for fan in running_fans(solution)
            if is_outside(fan.item.from_) != is_outside(fan.item.to)]  # fmt: skip
    inward = {not is_outside(fan.target) for fan in fans}
    if len(inward) != 1 or any(group.places for group in _facing(solution)):
        return
    own = {fan.path for fan in fans}
    others = (path for path, item in open_branches(solution.case).items()
              if path not in own and is_outside(item.from_) != is_outside(item.to))  # fmt: skip
    at = outlet_missing.numbers
    if all(solution.fans[fan.path].speed_ratio < at["slow"] for fan in fans):
        return  # what little they move creeps: its drop says nothing of the hole
    hole = _hole(solution, others)
    area = math.fsum(fan.rating.flow_area for fan in fans)
    flow, free = math.fsum(fan.flow for fan in fans), math.fsum(fan.last_flow for fan in fans)
    if hole < at["narrow"] * area and at["throttled"] * flow < free:
        way, other = ("in", "out") if inward == {True} else ("out", "in")
        yield say(
            "enclosure", way=way, other=other, flow=flow, free=free, hole=hole, area=area,
            rise=max(fan.rise for fan in fans),
        )  # fmt: skip


def _hole(solution: Solution, ways: Iterable[str]) -> float:
    """Area of the sharp-edged hole that branches together are worth [m2]."""
    s = Structure.of(solution.case)
    found = dict(zip(s.branches, holes(s, single(solution))[:, 0].tolist(), strict=True))
    return math.fsum(found[path] for path in ways)


@rule
def failed_fan_sealed(solution: Solution) -> Iterator[Said]:
    """Fans that a scenario closes."""
    pressures = column(solution.compartments, "pressure")
    for name in _blanked_by_scenario(solution):
        fan = solution.case.fans[name]
        rating = solution.case.rating(fan)
        across = abs(_gauge(solution, pressures, fan.from_) - _gauge(solution, pressures, fan.to))
        back = rating.flow_area * math.sqrt(
            2 * across / (rating.stopped_loss * solution.site["density"])
        )
        yield say(
            fan.path, "says", back > 0 and "could", scenario=solution.scenario, across=across,
            back=back, out=f"{fan.path}-out",
        )  # fmt: skip


def _blanked_by_scenario(solution: Solution) -> list[str]:
    case = solution.case
    if not any(fan.state == "blanked" for fan in case.fans.values()):
        return []
    changes = scenario_changes(case, solution.scenario)
    closed = [place for path, word in changes.items() if word == "blanked"
              for place in case.places(path)]  # fmt: skip
    names = dict.fromkeys(p.name for p in closed if (p.kind, p.key) == ("fan", "state"))
    return [name for name in names if case.fans[name].state == "blanked"]


def _gauge(solution: Solution, pressures: dict[str, float], place: str) -> float:
    """Gauge pressure of a place [Pa]."""
    if not is_outside(place):
        return pressures.get(place, math.nan)
    surroundings: Any = solution.case.things["outside"][outside_name(place)]
    return float(surroundings.over_pressure)
