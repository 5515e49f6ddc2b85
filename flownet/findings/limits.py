"""Limits that are broken: of parts, air, flow, noise and fan life."""

from __future__ import annotations

import math
from collections.abc import Iterator

from flownet.findings.facts import number_at
from flownet.findings.rule import Said, few, rule, say
from flownet.physics.air import HEAT_CAPACITY
from flownet.physics.life import MOST_GAINED, life_at
from flownet.results.dew import coldest_first
from flownet.results.limits import Limit
from flownet.results.solution import Solution
from flownet.results.streams import MUCH, column, inflow, is_outside, streams
from flownet.schema.fields import given


def _broken(solution: Solution, limit: str) -> Iterator[Limit]:
    return (item for item in solution.limits if item.limit == limit and item.broken)


@rule
def limit_part(solution: Solution) -> Iterator[Said]:
    """Parts over their limit."""
    outside = solution.case.outside.temperature
    for item in _broken(solution, "part"):
        warm = _air_at(solution, item.subject.removeprefix("part."))
        over, gain, own = -item.margin, warm - outside, item.value - warm
        hint = "cooler-air" if gain > 0 else ""
        if item.bound <= outside:
            hint = "hopeless"
        elif own > over and own >= gain:
            hint = "own-rise"
        yield say(
            item.subject, "says", given(warm) and "rises", hint=hint, over=over, bound=item.bound,
            outside=outside, gain=gain, own=own, allowed=own - over,
        )  # fmt: skip


def _air_at(solution: Solution, name: str) -> float:
    """Temperature of the air at a part, or at the part it sits on."""
    return number_at(solution.parts, solution.case.roots[name].name, "air_temperature")


@rule
def limit_air(solution: Solution) -> Iterator[Said]:
    """Compartments over their limit, and slots by the air that leaves them."""
    outside, moving = solution.case.outside.temperature, streams(solution)
    for item in _broken(solution, "air"):
        over, allowed = -item.margin, item.bound - outside
        kind, _, name = item.subject.partition(".")
        again, flow, air = 0.0, math.nan, "the air that leaves it"
        if kind == "compartment":
            again, air = solution.origins.compartments[name].returned_share, "its air"
            flow = inflow(moving, name) * (1 - again)
        else:
            flow = sum(stream.mass_flow for stream in moving if stream.path == item.subject)
        hint = "hopeless" if allowed <= 0 else ""
        if allowed > 0 and flow > 0:
            hint = "round" if again >= MUCH else "more-air"
        yield say(
            item.subject, hint=hint, air=air, over=over, bound=item.bound,
            gain=item.value - outside, heat=flow * HEAT_CAPACITY * over, again=again,
            times=(item.value - outside) / allowed if allowed > 0 else math.nan,
        )  # fmt: skip


@rule
def limit_touch(solution: Solution) -> Iterator[Said]:
    """Walls that are too hot to touch."""
    for item in _broken(solution, "touch"):
        yield say(item.subject, over=-item.margin, bound=item.bound, value=item.value)


@rule
def limit_dew(solution: Solution) -> Iterator[Said]:
    """Too near the dew point, and the places that are."""
    dew = solution.site["dew_point"]
    for item in _broken(solution, "dew"):
        places = coldest_first(solution)
        names = [path for path in places if places[path] < dew + item.bound] or [*places][:1]
        walls = {wall.path: wall for wall in solution.case.walls.values() if given(wall.u_value)}
        blind = [path for path in names if path in walls and is_outside(walls[path].to)]
        yield say(item.subject, "under" if item.value < 0 else "over", len(names) > 1 and "all",
                  hint=bool(blind) and "faceless", value=abs(item.value), dew=dew, bound=item.bound,
                  coldest=names[0], wet=few(names), blind=few(blind))  # fmt: skip


@rule
def limit_flow(solution: Solution) -> Iterator[Said]:
    """Less air drawn in than `limits.flow`."""
    for item in _broken(solution, "flow"):
        yield say(item.subject, value=item.value, bound=item.bound, short=-item.margin)


@rule
def limit_noise(solution: Solution) -> Iterator[Said]:
    """A total level over its limit."""
    heard = {path: x for path, x in column(solution.fans, "noise").items() if given(x)}
    for item in _broken(solution, "noise"):
        loudest = max(heard, key=lambda path: heard[path], default="")
        yield say(
            item.subject, hint=bool(heard) and "slower", over=-item.margin, bound=item.bound,
            distance=solution.totals.noise_distance, loudest=loudest,
            level=heard.get(loudest, math.nan), ratio=10 ** (item.margin / limit_noise["decade"]),
        )  # fmt: skip


@rule(most=MOST_GAINED)
def limit_life(solution: Solution) -> Iterator[Said]:
    """Fans whose life is too short."""
    for item in _broken(solution, "life"):
        fan = solution.case.fans.get(item.subject.split(".")[1])
        life = solution.case.rating(fan).life if fan is not None else None
        warm = number_at(solution.fans, f"fan.{fan.name}" if fan else "", "air_temperature")
        hint, needed, factor, reach = "", math.nan, math.nan, math.inf
        known = life is not None and given(warm)
        if life is not None and given(warm):
            factor = life.factor_per_10K
            reach = item.value * MOST_GAINED / float(life_at(1.0, life.at, warm, factor))
        if item.bound > reach:
            hint = "never"
        elif factor > 1 and item.value > 0:
            hint = "cooler"
            needed = warm - 10 * math.log(item.bound / item.value) / math.log(factor)
        yield say(
            item.subject, "life", known and "in-air", "short", hint=hint, value=item.value,
            bound=item.bound, short=-item.margin, air=warm, reach=reach,
            kind=life.kind if life else "", needed=needed, factor=factor,
        )  # fmt: skip
