"""What data sheets of parts say: powers that are no heat, resistances that hold elsewhere."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any, NamedTuple

from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.fans import Fan
from flownet.enclosure.heat import LAW_HELD, Part
from flownet.findings.facts import area_across, number_at
from flownet.findings.rule import Said, rule, say
from flownet.findings.site import is_high, thin_air
from flownet.physics import air, find, sinks
from flownet.results.solution import Solution
from flownet.results.streams import column, open_branches
from flownet.schema.fields import given


@rule
def board_value_resistance(solution: Solution) -> Iterator[Said]:
    """Heated parts that say so."""
    warm, near, heat = (
        column(solution.parts, key) for key in ("temperature", "air_temperature", "heat")
    )
    board = board_value_resistance.numbers["board"]
    for name, part in solution.case.parts.items():
        on_board = (part.basis or "").strip().lower() == board
        if on_board and heat.get(name, math.nan) > 0:
            own = warm[name] - near[name]
            yield say(part.path, "says", given(own) and "rest", own=own)


@rule
def power_not_heat(solution: Solution) -> Iterator[Said]:
    """Nameplates, and efficiencies that look like something else."""
    typical = power_not_heat["typical"]
    for part in solution.case.parts.values():
        efficiency, output = part.efficiency, part.output
        if part.power_basis == "nameplate" and part.power > 0:
            heat = part.power * (1 / typical - 1)
            yield say(part.path, "plate", hint="deliver", power=part.power, heat=heat)
        elif (efficiency < power_not_heat["least"] or efficiency == 1) and output > 0:
            yield say(
                part.path, "gives", "little" if efficiency < 1 else "none",
                efficiency=efficiency, output=output, heat=output * (1 / efficiency - 1),
                meant=output * (1 / (1 - efficiency) - 1) if efficiency < 1 else 0.0,
            )  # fmt: skip


# --- resistances beyond their table, or in air of another density -----------------------------


SAFE = "on the safe side"


@rule(slowest=sinks.SLOWEST)
def resistance_out_of_range(solution: Solution) -> Iterator[Said]:
    """Parts whose velocity, brought to the density of their table, or law, lies outside it."""
    velocities = column(solution.parts, "velocity")
    for part in solution.case.parts.values():
        if part.sink is not None:
            yield from _off_sink(solution, part)
        table = part.resistance_over_velocity
        if (followed := table or part.resistance_law) is None:
            continue
        velocity = abs(velocities.get(part.name, math.nan))
        density, reference = _density_past(solution, part), followed.reference_density
        read = velocity * density / reference
        found = _off_table(part, table.rows, read) if table else _off_law(part, read)
        if found:
            own = "table" if table else "law"
            yield say(part.path, "read", own, velocity=velocity, density=density, read=read,
                      reference=reference, **found)  # fmt: skip


def _off_table(part: Part, rows: tuple[tuple[float, float], ...], read: float) -> dict[str, Any]:
    if rows[0][0] <= read <= resistance_out_of_range["faster"] * rows[-1][0] or not given(read):
        return {}
    slow = read < rows[0][0]
    end, which = rows[0] if slow else rows[-1], _which(rows, slow)
    return {
        "side": "below" if slow else "above", "low": rows[0][0], "high": rows[-1][0],
        "held": end[1] * part.resistance_factor, "which": which, "mild": which == SAFE,
    }  # fmt: skip


def _off_law(part: Part, read: float) -> dict[str, Any]:
    law, at = part.resistance_law, resistance_out_of_range.numbers
    assert law is not None
    low, high = at["slow"] * law.velocity, at["fast"] * law.velocity
    if low <= read <= high or not given(read) or law.b * law.n == 0:
        return {}
    value = law.a + law.b * max(read / law.velocity, LAW_HELD) ** -law.n
    return {
        "given": law.velocity, "end": low if read < low else high,
        "side": "below a tenth of that" if read < low else "above ten times that",
        "held": value * part.resistance_factor,
        "how": "held" if read < LAW_HELD * law.velocity else "what it goes on to",
    }  # fmt: skip


def _off_sink(solution: Solution, part: Part) -> Iterator[Said]:
    """Air between fins that is slower than counted, or turbulent."""
    velocity = abs(number_at(solution.parts, part.name, "velocity"))
    density = _density_past(solution, part)
    warm = solution.site["pressure"] / (air.GAS_CONSTANT * density)
    fins = solution.case.things["sink_type"][str(part.sink)].plates
    reynolds = float(fins.reynolds(velocity * density, air.viscosity(warm)))
    most = find(sinks.developing_nusselt).valid["reynolds"][1]
    if velocity < sinks.SLOWEST:
        yield say(part.path, "still", hint="fins", velocity=velocity)
    elif reynolds > most:
        yield say(part.path, "turbulent", hint="fins", velocity=velocity, mild=True,
                  reynolds=f"{reynolds:.0f}", most=f"{most:g}")  # fmt: skip


# --- sinks and the air that passes them by ------------------------------------------------------


@rule
def sink_bypass_missing(solution: Solution) -> Iterator[Said]:
    """Sinks to which all air of a branch or stream is counted."""
    case, near = solution.case, sink_bypass_missing["near"]
    types = case.things["sink_type"]
    for path, item in open_branches(case).items():
        sink = getattr(item, "sink", None)
        if sink is None or item.state not in ("fitted", "open") or _way_round(case, item):
            continue
        front = types[sink].base[0] * types[sink].fin[0]
        beside = area_across(case, item) - front if item.KIND == "duct" else 0.0
        if item.KIND == "slot" or beside > near * front:
            yield say(path, "free" if beside else "whole", mild=not beside, sink=sink, free=beside)
    for part in case.parts.values():
        inside = part.in_ in case.compartments
        path = str(part.stream if inside else part.in_)
        if part.sink is None or getattr(case.branches[path], "sink", None):
            continue
        area, free = area_across(case, case.branches[path]), types[part.sink].plates.free_area
        if inside:
            flow = abs(number_at(solution.branches, path, "volume_flow"))
            yield say(part.path, "stream", hint="own", path=path, flow=flow)
        elif area > (1 + near) * free:
            yield say(part.path, "channel", hint="own", path=path, area=area, free=free)


def _way_round(case: Enclosure, item: Any) -> bool:
    """Whether a way between the same places is drawn, open or blanked, that passes no fins."""
    others = (each for each in case.branches.values() if not isinstance(each, Fan))
    return any(
        {other.from_, other.to} == {item.from_, item.to} and not getattr(other, "sink", None)
        for other in others
    )  # fmt: skip


def _which(rows: tuple[tuple[float, float], ...], slow: bool) -> str:
    """What holding an end value means, by the way the table goes there."""
    near = rows[:2] if slow else rows[-2:]
    if len(rows) > 1 and near[0][1] < near[1][1]:
        return "a guess: it rises with velocity there"
    return "too good" if slow else SAFE


def _density_past(solution: Solution, part: Part) -> float:
    """Of the air whose velocity a resistance follows; NaN where it is not known."""
    path = part.stream if part.in_ in solution.case.compartments else part.in_
    return number_at(solution.branches, path or "", "density")


class Fixed(NamedTuple):
    """A heated part with a fixed resistance, in air that is not that of the data sheet."""

    part: Part
    resistance: float
    heat: float  # through it
    density: float
    change: float  # of its temperature, if half of the resistance followed [K]


@rule(standard=air.STANDARD_DENSITY, high=lambda: thin_air["high"])
def resistance_at_sea_level(solution: Solution) -> Iterator[Said]:
    """Parts in air, those with one resistance and one heat together."""
    alike: dict[tuple[str, str, bool], list[Fixed]] = {}
    for item in _fixed(solution):
        key = (f"{item.resistance:.4g}", f"{item.heat:.3g}", item.change > 0)
        alike.setdefault(key, []).append(item)
    for group in alike.values():
        yield _together(solution, group)


def _together(solution: Solution, group: list[Fixed]) -> Said:
    most, several = max(group, key=lambda item: abs(item.change)), len(group) > 1
    over = [
        item.part.path for item in group
        if 0 <= number_at(solution.parts, item.part.name, "margin") < item.change
    ]  # fmt: skip
    return say(
        most.part.path, "says", bool(over) and "over", names=[item.part.path for item in group],
        keep="keep" if several else "keeps", it="they get up to" if several else "it gets",
        resistance=most.resistance, density=most.density, change=abs(most.change),
        way="hotter" if most.change > 0 else "cooler", over=over,
    )  # fmt: skip


def _fixed(solution: Solution) -> Iterator[Fixed]:
    """Parts for which the density of their air matters and is not counted."""
    at = resistance_at_sea_level.numbers
    pressure, high = solution.site["pressure"], is_high(solution)
    for name, part in solution.case.parts.items():
        resistance = _to_air(part)
        warm = number_at(solution.parts, name, "air_temperature")
        if part.in_.startswith("part."):
            continue
        density, heat = float(air.density(warm, pressure)), _heat_through(solution, name)
        ratio = density / air.STANDARD_DENSITY
        change = at["convected"] * (ratio ** -at["exponent"] - 1) * resistance * heat
        if (high or abs(ratio - 1) >= at["off"]) and abs(change) >= at["least"]:
            yield Fixed(part, resistance, heat, density, change)


def _to_air(part: Part) -> float:
    """Its fixed resistance, or the last of its chain without one; NaN where it follows the air."""
    if part.follows_velocity:
        return math.nan
    if given(part.resistance):
        return part.resistance * part.resistance_factor
    return part.chain[-1][1] if part.chain else math.nan


def _heat_through(solution: Solution, name: str) -> float:
    """Its own heat and that of all parts on it; NaN where it is not there."""
    riders = [n for n, part in solution.case.parts.items() if part.in_ == f"part.{name}"]
    own = number_at(solution.parts, name, "heat")
    return own + sum(_heat_through(solution, rider) for rider in riders)
