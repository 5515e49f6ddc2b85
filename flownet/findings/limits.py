"""Limits that are broken: of parts, air, flow, noise and fan life."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any

from flownet.findings.facts import column, inflow, number_at, percent, streams
from flownet.findings.registry import COMMON_PRACTICE, Said, rule, say
from flownet.physics.air import HEAT_CAPACITY
from flownet.physics.life import MOST_GAINED, life_at
from flownet.results.solution import Limit, Solution
from flownet.results.streams import MUCH, been_before
from flownet.schema import quantities as q
from flownet.schema.fields import given

ROUND = (
    "{again} of the air that enters has been there before: moving it faster brings nothing. At the "
    "present flow of fresh air that is {heat} too much heat; at the present heat it takes about "
    "{times} times the fresh air, where walls carry little."
)
ANY = "the limit is broken by any amount"
DECIBELS_PER_DECADE = 50.0  # of speed


def _broken(solution: Solution, limit: str) -> Iterator[Limit]:
    return (item for item in solution.limits if item.limit == limit and item.broken)


@rule(
    name="limit-part",
    severity="error",
    elsewhere="warning",
    title="a part is hotter than its limit",
    cause="The temperature of a part is that of the outside air, plus what the air has gained when "
    "it gets there, plus the part's own rise over that air. The finding gives all three.",
    try_="Work on the largest of the three: lower resistance from part to air and faster air past "
    "it; more air, or a place nearer the intake; cooler surroundings.",
    thresholds=ANY,
    source="limit: the part's own; sum of rises: energy balance",
)
def limit_part(solution: Solution) -> Iterator[Said]:
    """Parts over their limit."""
    outside = solution.case.outside.temperature
    for item in _broken(solution, "part"):
        warm = _air_at(solution, item.subject.removeprefix("part."))
        over, air_gain, own = -item.margin, warm - outside, item.value - warm
        shown: dict[str, Any] = {
            "over": (q.DIFFERENCE, over), "bound": (q.TEMPERATURE, item.bound),
            "outside": (q.TEMPERATURE, outside), "gain": (q.DIFFERENCE, air_gain),
            "own": (q.DIFFERENCE, own), "allowed": (q.DIFFERENCE, own - over),
        }  # fmt: skip
        parts = ": outside air {outside}, air at the part {gain} above it, its own rise {own}"
        text = "{subject} is {over} over {bound}" + (parts if given(warm) else "")
        yield say(
            item.subject, text, _part_hint(item.bound <= outside, over, air_gain, own), **shown
        )


def _air_at(solution: Solution, name: str) -> float:
    """Temperature of the air at a part, or at the part it sits on."""
    parts = solution.case.parts
    while name in parts and parts[name].in_.startswith("part."):
        name = parts[name].in_.removeprefix("part.")
    return number_at(solution.parts, name, "air_temperature")


def _part_hint(hopeless: bool, over: float, air_gain: float, own: float) -> str:
    if hopeless:
        return "The outside air alone is at the limit: cooler surroundings, or a hardier part."
    if own > over and own >= air_gain:
        return (
            "Bring its own rise from {own} down to {allowed}: lower resistance to the air, faster "
            "air past it, or less heat in it."
        )
    if air_gain > 0:
        return (
            "Bring it air that is {over} cooler: more flow, a place nearer the intake, less heat "
            "before it."
        )
    return ""


@rule(
    name="limit-air",
    severity="error",
    elsewhere="warning",
    title="air is warmer than its limit",
    cause="The air gains more heat on its way than its flow can carry at the allowed rise.",
    try_="More air through the compartment or slot, less heat in it or before it, cooler "
    "surroundings; a short way round that leaves it out (a leak, a gap, an empty slot) costs it "
    "air.",
    thresholds=ANY,
    source="limit: air_limit of the compartment or slot; flow and heat: P = m cp dT",
)
def limit_air(solution: Solution) -> Iterator[Said]:
    """Compartments over their limit, and slots by the air that leaves them."""
    outside, moving = solution.case.outside.temperature, streams(solution)
    for item in _broken(solution, "air"):
        over, allowed = -item.margin, item.bound - outside
        kind, _, name = item.subject.partition(".")
        passing = [stream.mass_flow for stream in moving if stream.path == item.subject]
        again = been_before(moving, name) if kind == "compartment" else 0.0
        flow = inflow(moving, name) * (1 - again) if kind == "compartment" else sum(passing)
        hint = ""
        if allowed > 0 and flow > 0:
            hint = (
                "At the present flow that is {heat} too much heat; at the present heat it takes "
                "about {times} times the air, where walls carry little."
            )
            if again >= MUCH:
                hint = ROUND
        elif allowed <= 0:
            hint = "The outside air alone is at the limit: cooler surroundings, or a higher limit."
        yield say(
            item.subject,
            "{subject} is {over} over {bound}: {air} is {gain} above the outside air", hint,
            air=(None, "its air" if kind == "compartment" else "the air that leaves it"),
            over=(q.DIFFERENCE, over), bound=(q.TEMPERATURE, item.bound),
            gain=(q.DIFFERENCE, item.value - outside),
            heat=(q.POWER, flow * HEAT_CAPACITY * over),
            again=percent(again),
            times=(q.RATIO, (item.value - outside) / allowed if allowed > 0 else math.nan),
        )  # fmt: skip


@rule(
    name="limit-flow",
    severity="error",
    elsewhere="warning",
    title="less air is drawn in than required",
    cause="limits.flow is the least that must come in from outside, through all openings together. "
    "What goes round inside does not count.",
    try_="Less resistance on the way (larger openings, cleaner filters), more or faster fans; or a "
    "lower limit where only temperatures are meant.",
    thresholds=ANY,
    source="limit: limits.flow; pressure against flow: the laws of docs/theory.md",
)
def limit_flow(solution: Solution) -> Iterator[Said]:
    """Less air drawn in than `limits.flow`."""
    for item in _broken(solution, "flow"):
        yield say(
            item.subject, "{value} drawn in from outside, {short} less than {bound}", "",
            value=(q.VOLUME_FLOW, item.value), bound=(q.VOLUME_FLOW, item.bound),
            short=(q.VOLUME_FLOW, -item.margin),
        )  # fmt: skip


@rule(
    name="limit-noise",
    severity="error",
    elsewhere="warning",
    title="the fans together are louder than allowed",
    cause="The levels of all fans add as energies, at limits.noise_distance. Catalogue levels hold "
    "in free air; an installed fan is often several dB louder.",
    try_="Slower, larger or fewer fans, starting with the loudest; less resistance lets all of "
    "them turn slower.",
    thresholds=ANY,
    source="sum of energies: any acoustics textbook; 50 log10 of the speed: common practice",
)
def limit_noise(solution: Solution) -> Iterator[Said]:
    """A total level over its limit."""
    levels = column(solution.fans, "noise")
    heard = {path: level for path, level in levels.items() if given(level)}
    for item in _broken(solution, "noise"):
        hint = ""
        if heard:
            hint = (
                "Loudest is {loudest} with {level}. All fans at {ratio} of their present speed "
                "would keep the limit; check the temperatures there."
            )
        loudest = max(heard, key=lambda path: heard[path], default="")
        yield say(
            item.subject, "the fans together are {over} over {bound} at {distance}", hint,
            over=(q.LEVEL_DIFFERENCE, -item.margin), bound=(q.LEVEL, item.bound),
            distance=(q.DISTANCE, solution.totals.noise_distance), loudest=(None, loudest),
            level=(q.LEVEL, heard.get(loudest, math.nan)),
            ratio=(q.RATIO, 10 ** (item.margin / DECIBELS_PER_DECADE)),
        )  # fmt: skip


@rule(
    name="limit-life",
    severity="error",
    elsewhere="warning",
    title="a fan does not live as long as required",
    cause="Bearings age faster in warm air: the life of the data sheet holds at its temperature, "
    "and changes by the fan type's factor for every 10 K. In cold air it gains {most} times its "
    "rated hours at most: grease gets no better.",
    try_="Let the fan draw cooler air (blow in instead of out, sit before the heat), or take one "
    "with a longer life.",
    thresholds=ANY,
    source=f"factor per 10 K: the fan type's; 1.5 where it gives none ({COMMON_PRACTICE}; makers "
    "state 1.3 to 1.5); the most gained in the cold: a maker of rolling bearings, grease life. L10 "
    "and mean lives are never compared",
    numbers={"most": (q.RATIO, MOST_GAINED)},
)
def limit_life(solution: Solution) -> Iterator[Said]:
    """Fans whose life is too short."""
    for item in _broken(solution, "life"):
        fan = solution.case.fans.get(item.subject.split(".")[1])
        life = solution.case.rating(fan).life if fan is not None else None
        warm = number_at(solution.fans, f"fan.{fan.name}" if fan else "", "air_temperature")
        text = "{subject} lives {value}, {short} less than {bound}"
        hint, needed, factor, reach = "", math.nan, math.nan, math.inf
        if life is not None and given(warm):
            text = "{subject} lives {value} ({kind}) in air of {air}, {short} less than {bound}"
            factor = life.factor_per_10K
            reach = item.value * MOST_GAINED / float(life_at(1.0, life.at, warm, factor))
        if item.bound > reach:
            hint = (
                "No air is cold enough: {most} times its rated hours, {reach}, is the most it gets "
                "there. Take a fan with a longer life."
            )
        elif factor > 1 and item.value > 0:
            needed = warm - 10 * math.log(item.bound / item.value) / math.log(factor)
            hint = (
                "It would take air of {needed} (life times {factor} for 10 K cooler air), or a fan "
                "with a longer life."
            )
        yield say(
            item.subject, text, hint, value=(q.HOURS, item.value), bound=(q.HOURS, item.bound),
            short=(q.HOURS, -item.margin), air=(q.TEMPERATURE, warm),
            reach=(q.HOURS, reach),
            kind=(None, life.kind if life else ""), needed=(q.TEMPERATURE, needed),
            factor=(q.RATIO, factor),
        )  # fmt: skip
