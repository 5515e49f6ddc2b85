"""Resistances from parts to air: beyond their table, and fixed ones in air of another density."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import NamedTuple

from flownet.enclosure.heat import LAW_HELD, Part
from flownet.findings.facts import STANDARD_DENSITY, column, number_at, percent
from flownet.findings.registry import COMMON_PRACTICE, OUR_OWN, Said, rule, say
from flownet.findings.site import HIGH, is_high
from flownet.physics import air
from flownet.results.solution import Solution
from flownet.schema import quantities as q
from flownet.schema.fault import listed
from flownet.schema.fields import given

CONVECTED, EXPONENT = 0.5, 0.5  # share of a fixed resistance, and its power of rho v
SAFE = "on the safe side"
OFF = 0.1  # of the standard density
LEAST_CHANGE = 0.2  # K
FASTER = 1.1  # times the highest velocity of a table: what is read beyond is worth a note
READ = "{subject}: {velocity} at {density} count as {read} at the {reference} of "
LAW = (0.1, 10.0)  # of the velocity at which a law is given: common practice, no source


@rule(
    name="resistance-out-of-range",
    severity="warning",
    mild="note",
    title="air passes a part slower or faster than its resistance was measured",
    cause="A resistance over velocity is read at the velocity times the density there over its "
    "reference_density: convection goes with rho v, so that thin air counts as slower. The end "
    "value of the table is held outside it. Where the table falls with velocity, the true "
    "resistance below the lowest one is larger, so that the part gets hotter than shown, and above "
    "the highest one smaller. A law is a fit about its velocity and goes on outside; below "
    "a twentieth of it the value there is held.",
    try_="Add the still-air value, or a point at the velocity that is found here, in a table.",
    thresholds="velocity at the part, times density over reference_density, below the velocities "
    "of resistance_over_velocity, or more than {faster} times the highest: a note where that is on "
    "the safe side; below {slow} or above {fast} of the velocity of resistance_law",
    source="forced convection grows with rho v; the table is the user's; how far a law reaches: "
    f"{COMMON_PRACTICE}; the rest is {OUR_OWN}",
    numbers={
        "faster": (q.RATIO, FASTER),
        "slow": (q.RATIO, LAW[0]),
        "fast": (q.RATIO, LAW[1]),
    },
)
def resistance_out_of_range(solution: Solution) -> Iterator[Said]:
    """Parts whose velocity, brought to the density of their table, or law, lies outside it."""
    velocities = column(solution.parts, "velocity")
    for part in solution.case.parts.values():
        table = part.resistance_over_velocity
        if (followed := table or part.resistance_law) is None:
            continue
        velocity = abs(velocities.get(part.name, math.nan))
        density, reference = _density_past(solution, part), followed.reference_density
        read = velocity * density / reference
        said = _off_table(part, table.rows, read) if table else _off_law(part, read)
        if said is not None:
            yield said._replace(values={
                "velocity": (q.VELOCITY, velocity), "density": (q.DENSITY, density),
                "read": (q.VELOCITY, read), "reference": (q.DENSITY, reference), **said.values,
            })  # fmt: skip


def _off_table(part: Part, rows: tuple[tuple[float, float], ...], read: float) -> Said | None:
    if rows[0][0] <= read <= FASTER * rows[-1][0] or not given(read):
        return None
    slow = read < rows[0][0]
    end, which = rows[0] if slow else rows[-1], _which(rows, slow)
    return say(
        part.path, READ + "its table, {side} what it has ({low} to {high}); {held} is held, "
        "{which}",
        side=(None, "below" if slow else "above"),
        low=(q.VELOCITY, rows[0][0]), high=(q.VELOCITY, rows[-1][0]),
        held=(q.THERMAL_RESISTANCE, end[1] * part.resistance_factor), which=(None, which),
    )._replace(mild=which == SAFE)  # fmt: skip


def _off_law(part: Part, read: float) -> Said | None:
    law = part.resistance_law
    assert law is not None
    low, high = (share * law.velocity for share in LAW)
    if low <= read <= high or not given(read) or law.b * law.n == 0:
        return None
    value = law.a + law.b * max(read / law.velocity, LAW_HELD) ** -law.n
    held = read < LAW_HELD * law.velocity
    return say(
        part.path, READ + "its law, which is given at {given}: {side} ({end}) it is a guess; "
        "{held} is {how}",
        given=(q.VELOCITY, law.velocity), end=(q.VELOCITY, low if read < low else high),
        side=(None, "below a tenth of that" if read < low else "above ten times that"),
        held=(q.THERMAL_RESISTANCE, value * part.resistance_factor),
        how=(None, "held" if held else "what it goes on to"),
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


@rule(
    name="resistance-at-sea-level",
    severity="note",
    title="a fixed resistance stands for convection in other air",
    cause="A fixed resistance from part to air was measured near sea level, and cannot follow: "
    "convection weakens in thin air. How much of it is convection is not known; the finding says "
    "what it makes if half of it is, with (rho v)^0.5 at the same velocity, against {standard}. A "
    "resistance over velocity follows by itself.",
    try_="Give resistance_over_velocity, or the value that holds in this air; else keep this in "
    "hand.",
    thresholds="a site above {high}, or air at the part {off} or more off {standard}; heated parts "
    "in air, not on another part, whose temperature would change by {least} or more",
    source="laminar forced convection, Nu with Re^0.5: any textbook of heat transfer; that half of "
    f"a resistance is convection: {OUR_OWN}",
    numbers={
        "standard": (q.DENSITY, STANDARD_DENSITY), "high": (q.ALTITUDE, HIGH),
        "off": percent(OFF), "least": (q.DIFFERENCE, LEAST_CHANGE),
    },
)  # fmt: skip
def resistance_at_sea_level(solution: Solution) -> Iterator[Said]:
    """Parts in air, those with one resistance and one heat together."""
    alike: dict[tuple[str, str, bool], list[Fixed]] = {}
    for item in _fixed(solution):
        key = (f"{item.resistance:.4g}", f"{item.heat:.3g}", item.change > 0)
        alike.setdefault(key, []).append(item)
    for group in alike.values():
        yield _together(solution, group)


def _together(solution: Solution, group: list[Fixed]) -> Said:
    most = max(group, key=lambda item: abs(item.change))
    over = [
        item.part.path for item in group
        if 0 <= number_at(solution.parts, item.part.name, "margin") < item.change
    ]  # fmt: skip
    text = (
        "{names} {keep} {resistance} in air of {density}: if half of it is convection, {it} "
        "{change} {way} than shown"
    )
    return say(
        most.part.path, text + (", and {over} over the limit" if over else ""),
        names=(None, listed(item.part.path for item in group)),
        keep=(None, "keep" if len(group) > 1 else "keeps"),
        it=(None, "they get up to" if len(group) > 1 else "it gets"),
        resistance=(q.THERMAL_RESISTANCE, most.resistance), density=(q.DENSITY, most.density),
        change=(q.DIFFERENCE, abs(most.change)),
        way=(None, "hotter" if most.change > 0 else "cooler"), over=(None, listed(over)),
    )  # fmt: skip


def _fixed(solution: Solution) -> Iterator[Fixed]:
    """Parts for which the density of their air matters and is not counted."""
    pressure, high = solution.site["pressure"], is_high(solution)
    for name, part in solution.case.parts.items():
        resistance = _to_air(part)
        warm = number_at(solution.parts, name, "air_temperature")
        if part.in_.startswith("part.") or not (resistance > 0 and given(warm)):
            continue
        density, heat = float(air.density(warm, pressure)), _heat_through(solution, name)
        ratio = density / STANDARD_DENSITY
        change = CONVECTED * (ratio**-EXPONENT - 1) * resistance * heat
        if (high or abs(ratio - 1) >= OFF) and abs(change) >= LEAST_CHANGE:
            yield Fixed(part, resistance, heat, density, change)


def _to_air(part: Part) -> float:
    """Its fixed resistance, or the last of its chain without one; NaN where it follows the air."""
    if part.resistance_over_velocity is not None or part.resistance_law is not None:
        return math.nan
    if given(part.resistance):
        return part.resistance * part.resistance_factor
    return part.chain[-1][1] if part.chain else math.nan


def _heat_through(solution: Solution, name: str) -> float:
    """Its own heat and that of all parts on it; NaN where it is not there."""
    riders = [n for n, part in solution.case.parts.items() if part.in_ == f"part.{name}"]
    own = number_at(solution.parts, name, "heat")
    return own + sum(_heat_through(solution, rider) for rider in riders)
