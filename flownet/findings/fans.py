"""Fans that do not work where they should: stall, backflow, past free delivery, head-on."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from typing import Any

from flownet.enclosure.scenarios import scenario_changes
from flownet.findings.facts import (
    Working,
    column,
    hole_area,
    is_outside,
    is_still,
    number_at,
    open_branches,
    outside_name,
    percent,
    running_fans,
    series,
    working_fans,
)
from flownet.findings.registry import COMMON_PRACTICE, OUR_OWN, Said, rule, say
from flownet.judging.opposed import GAP, Facing, facing
from flownet.judging.voids import STALL, of_solution
from flownet.results.batch import single
from flownet.results.solution import Solution
from flownet.schema import quantities as q
from flownet.schema.fault import listed
from flownet.schema.fields import given

NARROW = 0.5  # hole of all ways out over flow area of the fans
CREEPING = 0.01  # of the rated speed: below it losses are no longer those of its square
THROTTLED = 1 / 3  # flow over free flow
PUSHED = (
    "Slow the stronger fan, take fans of equal size, or leave this one out: it may be in the way. "
    "Treat its numbers as an assumption."
)
DRAWN = (
    "No other fan runs: draught or the pressure of the surroundings pushes the air. Check heights "
    "and over_pressure; where they are right, the fan may be in the way: try it stopped or left "
    "out. Treat its numbers as an assumption."
)
SHORT = (
    "The curve of {type} ends with {left} left: add the points of the data sheet down to 0 Pa. "
    "Until then its numbers are an assumption."
)
CLOSED_HOLE = (
    "the hole of {subject} is closed in scenario {scenario}, as if the failed fan were sealed"
)


def last_peak(curve: tuple[tuple[float, float], ...]) -> float:
    """Flow at the last local maximum of a curve [m3/s]; 0 where it only falls."""
    rises = [rise for _, rise in curve]
    climbs = [i for i in range(1, len(rises)) if rises[i] > rises[i - 1]]
    return curve[climbs[-1]][0] if climbs else 0.0


@rule(
    name="fan-stall",
    severity="error",
    elsewhere="warning",
    mild="warning",
    title="a fan works in its stall range",
    cause="The resistance holds the fan left of the last peak of its curve. There one pressure "
    "belongs to several flows: the flow hunts, the fan is loud and its blades are shaken.",
    try_="Lower the resistance in its air (larger vents, filter area, fewer turns), take a fan "
    "with more pressure at this flow, or several that share it; never select a fan there.",
    thresholds="any flow between zero and the last local maximum of a curve that dips, scaled to "
    "the speed; a warning as long as a fan that runs in the design is out: an hour in the dip is "
    "not a life",
    source="ISO 5801 defines the curve; staying right of the dip, and bearing it in an outage, is "
    f"{COMMON_PRACTICE}",
)
def fan_stall(solution: Solution) -> Iterator[Said]:
    """Fans between zero flow and the last peak."""
    several = solution.points is not None and solution.points > 1
    for_a_while = STALL in of_solution(solution)[1]
    for fan in running_fans(solution):
        if fan.region == "stall":
            text = "{subject} works in its stall range: {flow}, and the curve peaks last at {peak}"
            if several:
                text += "; {points} operating points exist"
                text += ", this one is reached from rest" if solution.from_rest else ""
            hint = (
                "It must pass more than {peak}, at {rise} or less: lower the resistance in its "
                "air, or take a fan with more pressure at {flow}."
            )
            yield say(
                fan.path, text, hint if given(fan.rise) else "", flow=(q.VOLUME_FLOW, fan.flow),
                peak=(q.VOLUME_FLOW, fan.at_speed(last_peak(fan.rating.curve))),
                points=(None, str(solution.points)), rise=(q.PRESSURE, fan.rise),
            )._replace(mild=for_a_while)  # fmt: skip


@rule(
    name="fan-past-free-delivery",
    severity="warning",
    title="a fan passes more air than its curve reaches",
    cause="Its curve ends with pressure left and is too short for this resistance; or other fans "
    "or draught push more air through it than it moves by itself at no resistance. Then it gives "
    "no pressure and may turn into a resistance.",
    try_="Give the curve down to 0 Pa; slow the stronger fan, or take fans of equal size. Treat "
    "its numbers as an assumption.",
    thresholds="any flow past the last point of its curve, scaled to the speed",
    source="beyond the measured points the end slope is carried on, less a loss of windmill_loss "
    f"on the flow area: an assumption ({COMMON_PRACTICE})",
)
def fan_past_free_delivery(solution: Solution) -> Iterator[Said]:
    """Fans beyond the end of their curve."""
    running = running_fans(solution)
    for fan in running:
        if fan.region == "past-free-delivery":
            text = "{subject} is pushed past its free delivery: {flow}, {ratio} times {last}"
            hint = PUSHED if len(running) > 1 else DRAWN
            left = fan.rating.curve[-1][1]
            if left > 0:
                hint = SHORT
                text = (
                    "{subject} works past the last point of its curve: {flow}, {ratio} times {last}"
                )
            ratio = fan.flow / fan.last_flow if fan.last_flow > 0 else math.nan
            yield say(
                fan.path, text + "; its rise of {rise} there is an assumption", hint,
                flow=(q.VOLUME_FLOW, fan.flow), last=(q.VOLUME_FLOW, fan.last_flow),
                ratio=(q.RATIO, ratio), rise=(q.PRESSURE, fan.rise), left=(q.PRESSURE, left),
                type=(None, fan.rating.path),
            )  # fmt: skip


@rule(
    name="fan-backflow",
    severity="error",
    elsewhere="warning",
    title="a running fan is driven backwards",
    cause="Stronger fans, or draught, hold more pressure across it than it reaches at zero flow: "
    "air passes it against its blades, and it works for nothing.",
    try_="Remove it, give it a back-draught shutter, take fans of equal pressure, or lower the "
    "resistance they share (often the inlet) so that they do not fight.",
    thresholds="any flow against the way a running fan blows",
    source="below zero flow the slope at zero is carried on, plus a loss of backflow_loss on the "
    f"flow area: an assumption ({COMMON_PRACTICE})",
)
def fan_backflow(solution: Solution) -> Iterator[Said]:
    """Running fans with flow against them."""
    for fan in running_fans(solution):
        shut = fan.item.shutter is not None
        if fan.region == "backflow" and (shut or not is_still(solution, fan.path)):
            text = (
                "{subject} blows backwards: {flow} against {rise}, and its pressure at zero flow "
                "is {shut_off}"
            )
            hint = ""
            if shut:
                text = (
                    "{subject} delivers nothing: {rise} shut its shutter, and its pressure at zero "
                    "flow is {shut_off}"
                )
                hint = "Leave it out, take fans of equal pressure, or lower what they share."
            yield say(
                fan.path, text, hint, flow=(q.VOLUME_FLOW, -fan.flow),
                rise=(q.PRESSURE, fan.rise), shut_off=(q.PRESSURE, fan.shut_off),
            )  # fmt: skip


@rule(
    name="fans-opposed",
    severity="error",
    elsewhere="warning",
    title="fans face each other",
    cause="Fans in series blow against each other: a part of the enclosure has next to no way in "
    "or out but running fans, and all blow into it, or all out of it. Or of fans side by side "
    "some are mounted backwards: what they blow the others take back at once.",
    try_="Check the arrows on the frames and mounted of each; if the fans are meant so, give the "
    "air between them a way out.",
    thresholds="in series: what else is open, leaks aside, is worth no more than a sharp-edged "
    "hole of {gap} times the fans' flow area; two fans side by side that all blow in or out the "
    "same way count as outlet-missing instead. Side by side: the same from and to, mounted not "
    "the same",
    source=f"conservation of mass; threshold {OUR_OWN}",
    numbers={"gap": (q.RATIO, GAP)},
)
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
    others = [fan for fan in fans if fan.item.mounted != "reversed"]
    round_ = [fan.flow for fan in turned if fan.flow > 0]
    text = "{turned} blow the other way than {others} beside: mounted backwards"
    if len(turned) == 1:
        text = text.replace("blow", "blows")
    if round_:
        text += "; {flow} go round there"
    return say(
        turned[0].path, text, turned=(None, listed(fan.path for fan in turned)),
        others=(None, listed(fan.path for fan in others)), flow=(q.VOLUME_FLOW, math.fsum(round_)),
    )  # fmt: skip


def _head_on(solution: Solution, group: Facing, fans: list[Working]) -> Said:
    names = list(solution.case.compartments)
    flows = [abs(fan.flow) for fan in fans if fan.flow == fan.flow]
    return say(
        fans[0].path, "{fans} blow against each other, {way} {places}; {flow} pass",
        fans=(None, listed(fan.path for fan in fans)),
        way=(None, "into" if group.inward else "out of"),
        places=(None, listed(f"compartment.{names[place]}" for place in group.places)),
        flow=(q.VOLUME_FLOW, max(flows, default=math.nan)),
    )  # fmt: skip


@rule(
    name="outlet-missing",
    severity="warning",
    title="fans blow in and the air has no way out, or the reverse",
    cause="All fans blow into the enclosure (or all out of it) and what is left open for the air's "
    "other way is small: the fans work near their shut-off pressure.",
    try_="Give the air a way out (or in) of at least the fans' flow area, better twice that.",
    thresholds="all other ways together pass no more than a sharp-edged hole of {narrow} times "
    "the fans' flow area, and the fans move less than {throttled} of their free flow; at least one "
    "at {slow} of its rated speed or more",
    source=f"{OUR_OWN}; a sharp-edged hole has the discharge coefficient 0.61",
    numbers={
        "narrow": (q.RATIO, NARROW),
        "throttled": (None, "a third"),
        "slow": percent(CREEPING),
    },
)
def outlet_missing(solution: Solution) -> Iterator[Said]:
    """All fans one way, and nearly nothing the other."""
    fans = [
        fan
        for fan in running_fans(solution)
        if is_outside(fan.item.from_) != is_outside(fan.item.to)
    ]
    inward = {not is_outside(fan.target) for fan in fans}
    if len(inward) != 1 or any(group.places for group in _facing(solution)):
        return
    own = {fan.path for fan in fans}
    hole = _hole(solution, (
        path for path, item in open_branches(solution.case).items()
        if path not in own and is_outside(item.from_) != is_outside(item.to)
    ))  # fmt: skip
    if all(solution.fans[fan.path].speed_ratio < CREEPING for fan in fans):
        return  # what little they move creeps: its drop says nothing of the hole
    area = math.fsum(fan.rating.flow_area for fan in fans)
    flow, free = (
        math.fsum(x) for x in zip(*((fan.flow, fan.last_flow) for fan in fans), strict=True)
    )
    if hole < NARROW * area and flow < THROTTLED * free:
        words = ("in", "out") if inward == {True} else ("out", "in")
        yield say(
            "enclosure",
            "the fans blow {way} {flow} of {free} against {rise}: all ways {other} are worth a "
            "hole of {hole}, the fans' flow area is {area}",
            way=(None, words[0]), other=(None, words[1]), flow=(q.VOLUME_FLOW, flow),
            free=(q.VOLUME_FLOW, free), rise=(q.PRESSURE, max(fan.rise for fan in fans)),
            hole=(q.AREA, hole), area=(q.AREA, area),
        )  # fmt: skip


def _hole(solution: Solution, ways: Iterable[str]) -> float:
    """Area of the sharp-edged hole that branches together are worth."""
    drops, chains = column(solution.branches, "drop"), series(solution.case)
    return math.fsum(
        _hole_of(solution, path, math.fsum(drops.get(each, math.nan) for each in chains[path]))
        for path in ways
    )


def _hole_of(solution: Solution, path: str, drop: float) -> float:
    """Area of the sharp-edged hole that a branch with what is `on` it is worth."""
    flow, density = (number_at(solution.branches, path, key) for key in ("mass_flow", "density"))
    return hole_area(flow, drop, density)


@rule(
    name="failed-fan-sealed",
    severity="warning",
    title="a failed fan is treated as sealed",
    cause="The scenario sets the fan to blanked, which closes its hole. A fan that fails stands "
    "still in an open hole, and the others draw or push air back through it.",
    try_="Use {out}, in which its rotor stands in the hole, or give it a shutter; blanked is for a "
    "fan that is taken out and covered.",
    thresholds="a scenario (not a variant) that sets the state of a fan to blanked",
    source=f"{OUR_OWN}; the flow through the stopped rotor is by stopped_loss on the flow area",
    numbers={"out": (None, "fan.NAME-out")},
)
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
        text = CLOSED_HOLE
        if back > 0:
            text += "; the {across} across it could drive up to {back} through its stopped rotor"
        yield say(
            fan.path, text, scenario=(None, solution.scenario), across=(q.PRESSURE, across),
            back=(q.VOLUME_FLOW, back), out=(None, f"{fan.path}-out"),
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
