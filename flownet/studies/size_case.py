"""What the heat of a case needs in air, as a whole and in each compartment, beside what it gets."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import partial
from typing import NamedTuple

from flownet.enclosure.enclosure import Enclosure
from flownet.equations.topology import root_places
from flownet.judging.voids import told
from flownet.pages.caption import Caption
from flownet.pages.result import Result
from flownet.pages.sheet import Column, Listing, Sentence, Sheet, Tabled
from flownet.physics import air
from flownet.results.solution import Solution
from flownet.results.streams import both_ways, is_outside, open_branches, outside_name
from flownet.schema import argument_checks
from flownet.schema import quantities as q
from flownet.schema.fault import listed
from flownet.schema.fields import given
from flownet.schema.shown import one_line
from flownet.solving.solve import solve
from flownet.studies.size import VAST, Sizing, both_units, converted, paragraph, text

LITTLE = 0.01  # share of all heat below which a compartment has hardly any
HARDLY = "hardly any heat"
SCARCE = (
    f"{HARDLY}: less than {100 * LITTLE:g} % of all, or its walls take it off; check that the heat "
    "of the compartment is in the case."
)
MEANING = (
    "own: heat that the air takes up in the compartment and on the way into it. brought: what it "
    "brings along from upstream, above outside. needed: both over the allowed rise, which holds "
    "when all flows grow alike and split as now. alone: the own heat only, as if all its air came "
    "straight from outside; the difference is the price of standing downstream. Flows are volumes "
    "of outside air."
)
NO_RISE = (
    "No compartment has an air_limit above the outside temperature: give --rise to size the whole."
)


class Need(NamedTuple):
    """What one compartment needs, and what it gets; SI, flows by mass [kg/s].

    `own_heat` warms the air on its way through the compartment and through the branches that lead
    to it, heat through its walls taken off. `brought_heat` is what its air brings along from
    upstream: mass flow times heat capacity times temperature above outside.
    """

    name: str
    own_heat: float
    brought_heat: float
    allowed_rise: float  # of its air over outside; NaN without a limit
    solved: float  # that enters it now

    @property
    def needed(self) -> float:
        """Own and brought heat over the allowed rise: all flows grown alike, their split kept."""
        return _flow(self.own_heat + self.brought_heat, self.allowed_rise)

    @property
    def alone(self) -> float:
        """The own heat alone over the allowed rise: as if all its air came straight from outside"""
        return _flow(self.own_heat, self.allowed_rise)

    @property
    def share(self) -> float:
        """Solved over needed; infinite where it needs none, NaN without air or limit."""
        if not self.solved or math.isnan(self.needed):
            return math.nan
        return self.solved / self.needed if self.needed > 0 else math.inf


@dataclass(frozen=True, repr=False)
class CaseSizing(Result):
    """What a case needs, as a whole and in each compartment, beside what it gets.

    `leaving` is heat that motors, slots and parts give to air on its last way out, by branch: it
    warms no compartment, and is in no need. What is drawn back in of it (recirculation) is.
    `coming` is heat that comes in through walls from outside, less what leaves so [W]: it is in the
    need, and what leaves through walls, if that is more, is not taken off it.
    """

    solution: Solution
    whole: Sizing | None  # None without any air limit or allowed rise
    compartments: tuple[Need, ...]
    margin: float
    leaving: Mapping[str, float]  # path -> W
    coming: float

    @property
    def worst(self) -> Need | None:
        """The compartment with the least flow beside its need."""
        known = [need for need in self.compartments if not math.isnan(need.share)]
        return min(known, key=lambda need: need.share, default=None)

    def __repr__(self) -> str:
        worst = self.worst
        told = "no compartment has a limit and air"
        if worst is not None:
            told = f"worst compartment.{worst.name} with {worst.share:.0%} of its need"
        case = self.solution.case
        return f'<CaseSizing "{case.title or case.origin}" {self.solution.scenario}: {told}>'

    def verdicts(self, units: str = "metric") -> tuple[str, ...]:
        """What it is about, and whether that is void."""
        case = self.solution.case
        title = one_line(case.title or case.origin) or "untitled"
        return f"{title}, {self.solution.scenario}", *self._void(units)

    def _void(self, units: str) -> list[str]:
        if not self.solution.void:
            return []
        return [f"The solve is void, its flows do not count: {told(self.solution.void, units)}."]

    @property
    def sheet(self) -> Sheet:
        """The whole, then compartment by compartment, the one with the least share first."""
        solution, whole = self.solution, self.whole
        facts = {
            "scenario": solution.scenario, "variant": solution.variant,
            "whole": whole.to_dict() if whole else None,
            "heat_leaving_W": sum(self.leaving.values()), "heat_through_walls_W": self.coming,
            "solved_mass_flow_kg_s": solution.totals.mass_flow,
            "solved_volume_flow_m3_s": solution.totals.volume_flow,
        }  # fmt: skip
        tables: list[Tabled] = [paragraph(lambda u: "".join(self._void(u)))] * bool(solution.void)
        tables += [paragraph(NO_RISE)] if whole is None else [
            paragraph(lambda u: whole.verdicts(u)[0]), *whole.tables,
            paragraph(partial(_counted, self), partial(_solved, self, whole)),
        ]  # fmt: skip
        tables += [partial(_needs_table, self), self._data()]
        return Sheet("size", Caption.of(solution.case), lambda units: self.verdicts(units)[:1],
                     tables, facts=facts, bare=True)  # fmt: skip

    def _data(self) -> Listing:
        needs, more = self.compartments, 1 + self.margin
        return Listing("compartments", (
            Column("compartment", [need.name for need in needs]),
            Column("own_heat", [need.own_heat for need in needs], q.POWER),
            Column("brought_heat", [need.brought_heat for need in needs], q.POWER),
            Column("allowed_rise", [need.allowed_rise for need in needs], q.DIFFERENCE),
            Column("alone", [need.alone for need in needs], q.MASS_FLOW),
            Column("needed", [need.needed for need in needs], q.MASS_FLOW),
            Column("needed_with_margin", [need.needed * more for need in needs], q.MASS_FLOW),
            Column("solved", [need.solved for need in needs], q.MASS_FLOW),
            Column("share", [need.share for need in needs], q.RATIO),
        ), "data")  # fmt: skip


def size_case(
    case: Enclosure, *, scenario: str = "base", variant: str = "base",
    rise: float | str | None = None, margin: float | str = 0.0, stated: float | str | None = None,
    drop: float | str | None = None, velocity: float | str | None = None,
) -> CaseSizing:  # fmt: skip
    """What the heat of a case needs in air, beside what a solve gives.

    Parameters
    ----------
    case : Enclosure
    scenario, variant : str
        Names in the case, as for `solve`.
    rise : float or str, optional
        Allowed rise of the air over outside [K], everywhere. Default by the `air_limit` of each
        compartment, and for the whole by the lowest of them.
    margin, stated, drop, velocity
        As for `size`; `stated` by default the `limits.flow` of the case.

    Raises
    ------
    CaseError
        A value that does not fit; an allowed rise that is not above zero; what `solve` raises.
    NoSolution
        What `solve` raises.
    """
    values = converted(rise=rise, margin=margin, stated=stated, drop=drop, velocity=velocity)
    argument_checks.check("size_case", case, Enclosure)
    solution = solve(case, scenario=scenario, variant=variant)
    allowed = values.pop("rise", math.nan)
    needs = tuple(_needs(solution, allowed))
    if not given(values.get("stated", math.nan)):
        values["stated"] = solution.case.limits.flow
    leaving = dict(_leaving(solution))
    coming = max(-solution.totals.wall_heat, 0.0)
    heat = solution.totals.heat + coming - math.fsum(leaving.values())
    whole = _whole(solution, heat, needs, allowed, values)
    return CaseSizing(solution, whole, needs, values.get("margin", 0.0), leaving, coming)


def _leaving(solution: Solution) -> Iterator[tuple[str, float]]:
    """Heat of branches through which air goes to the outside, less what comes back of it."""
    flows = {path: row.mass_flow for path, row in solution.branches.items()}
    for path, item in open_branches(solution.case).items():
        flow = flows[path]
        if not is_outside(item.to if flow > 0 else item.from_) or not abs(flow) > 0:
            continue
        back = math.fsum(
            loop.fraction * abs(flows[loop.to] / flow)
            for loop in solution.case.things["recirculation"].values() if loop.from_ == path
        )  # fmt: skip
        heat = _given_off(solution, path) * (1 - min(back, 1.0))
        if heat > 0:
            yield path, heat


def _given_off(solution: Solution, path: str) -> float:
    """Heat of sources in a branch; what a duct's own wall gives is none."""
    if not path.startswith("duct."):
        return solution.branches[path].heat or 0.0
    places = root_places(solution.case)
    return math.fsum(
        row.heat for name, row in solution.parts.items()
        if places[name] == path and given(row.heat)
    )  # fmt: skip


def _whole(
    solution: Solution, heat: float, needs: tuple[Need, ...], allowed: float,
    values: dict[str, float],
) -> Sizing | None:  # fmt: skip
    """This heat over the lowest allowed rise; None where there is no such thing."""
    known = [need.allowed_rise for need in needs if given(need.allowed_rise)]
    rise = allowed if given(allowed) else min(known, default=math.nan)
    if not (rise > 0 and heat > 0):
        return None
    outside = solution.case.outside
    altitude = math.nan if given(outside.pressure) else outside.altitude
    return Sizing(heat, rise, outside.temperature, solution.site["pressure"], altitude, **values)


def _needs(solution: Solution, allowed: float) -> Iterator[Need]:
    """Every compartment, its heat told apart by where the air took it up."""
    outside = solution.case.outside.temperature
    for name, row in solution.compartments.items():
        entering, brought = 0.0, 0.0
        for path, item in solution.case.branches.items():
            if getattr(item, "on", None) is not None:
                continue
            flow = solution.branches[path].mass_flow
            if not flow or name != (item.to if flow > 0 else item.from_):
                continue
            entering += abs(flow)
            brought += _brought(solution, path, abs(flow), outside)
        for _, _, source, _, each_way in (one for one in both_ways(solution) if one[3] == name):
            entering += each_way
            brought += air.HEAT_CAPACITY * each_way * (_warmth(solution, source) - outside)
        total = air.HEAT_CAPACITY * entering * (row.temperature - outside)
        limit = outside + allowed if given(allowed) else row.limit
        yield Need(name, total - brought, brought, limit - outside, entering)


def _warmth(solution: Solution, place: str) -> float:
    """Temperature of the air of a compartment, or of what surroundings have."""
    if is_outside(place):
        return float(solution.case.things["outside"][outside_name(place)].temperature)
    return float(solution.compartments[place].temperature)


def _brought(solution: Solution, path: str, flow: float, outside: float) -> float:
    """Heat above outside that air brings to a branch: what it leaves with, less what it took up."""
    row = solution.branches[path]
    carried: float = air.HEAT_CAPACITY * flow * (row.outlet_temperature - outside)
    return carried - (row.heat or 0.0)


def _flow(heat: float, rise: float) -> float:
    """Mass flow for a heat and a rise; none for no heat, NaN where no flow is enough."""
    if heat <= 0:
        return 0.0 if given(rise) else math.nan
    return heat / (air.HEAT_CAPACITY * rise) if rise > 0 else math.nan


# --- words ----------------------------------------------------------------------------------------


def _counted(found: CaseSizing, units: str) -> str:
    """Which heat the need is made of, and which it is not."""
    words = "Counted is the heat of parts, slots and fan motors whose air passes a compartment"
    if found.coming:
        words += f", and {text(q.POWER, found.coming, units)} that come in through walls"
    words += "."
    if found.leaving:
        heat = text(q.POWER, sum(found.leaving.values()), units)
        words += f" Not counted: {heat} in air on its way out, from {listed(found.leaving)}."
    return words


def _solved(found: CaseSizing, whole: Sizing, units: str) -> str:
    """The flow that the solve gives, beside the need of the whole."""
    totals = found.solution.totals
    metric, us = both_units(totals.mass_flow / whole.density)
    share = totals.mass_flow / whole.mass_flow
    of = f"more than {VAST} times" if share > VAST else f"{100 * share:.0f} % of"
    words = f"The solve draws in {metric} ({us}): {of} the need."
    if totals.wall_heat > 0:
        words += (
            f" {text(q.POWER, totals.wall_heat, units)} of the heat leave through walls; the need "
            "counts them as if they did not."
        )
    return words


def _needs_table(found: CaseSizing, units: str) -> Listing:
    needs = sorted(found.compartments, key=lambda need: (math.isnan(need.share), need.share))
    more, density = 1 + found.margin, float(found.solution.site["density"])
    flows = [("alone", [need.alone for need in needs]),
             (f"needed +{100 * found.margin:g} %" if found.margin else "needed",
              [need.needed * more for need in needs]),
             ("solved", [need.solved for need in needs])]  # fmt: skip
    said = [_said(need, found.margin, found.solution.totals.heat) for need in needs]
    notes = [MEANING, SCARCE] if HARDLY in said else [MEANING]
    return Listing("needs", (
        Column("Compartment", [need.name for need in needs]),
        Column("own", [f"{need.own_heat:.0f} W" for need in needs], right=True),
        Column("brought", [f"{need.brought_heat:.0f} W" for need in needs], right=True),
        Column("allowed", [text(q.DIFFERENCE, need.allowed_rise, units) for need in needs],
               right=True),
        *(Column(name, [text(q.VOLUME_FLOW, flow / density, units) for flow in each], right=True)
          for name, each in flows),
        Column("", said),
    ), notes=tuple(Sentence("", each) for each in notes))  # fmt: skip


def _said(need: Need, margin: float, heat: float) -> str:
    """What a compartment gets of its need, in words too; `heat`: of the whole."""
    if math.isnan(need.allowed_rise):
        return "no limit"
    if need.allowed_rise <= 0:
        return "too hot outside"
    if not need.solved:
        return "no air"
    if not need.needed:
        return HARDLY
    share = need.share / (1 + margin)
    if share <= VAST:
        return f"{100 * share:.0f} % {'ok' if share >= 1 else 'short'}"
    return HARDLY if need.own_heat + need.brought_heat < LITTLE * heat else f"over {VAST} times ok"
