"""First sizing: the flow that a heat load needs, and what a case needs in each compartment."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any, NamedTuple

from flownet.enclosure.branches import SHARP_EDGE
from flownet.enclosure.enclosure import Enclosure
from flownet.equations.topology import root_places
from flownet.findings.entries import Mix, mixed_degrees
from flownet.findings.facts import is_outside, open_branches
from flownet.physics import air
from flownet.physics.registry import COMMON_PRACTICE
from flownet.results.solution import Solution, extra
from flownet.results.tables import Field, html_table, plain
from flownet.schema import argument_checks
from flownet.schema import quantities as q
from flownet.schema.convert import convert
from flownet.schema.errors import CaseError, placed
from flownet.schema.fault import Fault
from flownet.schema.fields import TINY, Number, given
from flownet.schema.quantities import UNITS, Quantity
from flownet.solve import solve


class Rule(NamedTuple):
    """A rule of thumb: a flow per heat and rise."""

    text: str
    rate: float  # m3/s per W/K
    source: str

    @property
    def density(self) -> float:
        """The density of air at which it is right [kg/m3]."""
        return 1 / (self.rate * air.HEAT_CAPACITY)

    @property
    def temperature(self) -> float:
        """The temperature that air of this density has at sea level [K]."""
        return air.SEA_LEVEL_PRESSURE / (air.GAS_CONSTANT * self.density)


RULES = (
    Rule("3.1 m3/h per W/K", 3.1 / 3600, COMMON_PRACTICE),
    Rule("1.76 CFM per W/K", 1.76 * UNITS["CFM"].factor, "notes of the trade, for 1.2 kg/m3"),
)

ROLES = {
    "heat": Number(q.POWER, low=TINY),
    "rise": Number(q.DIFFERENCE, low=TINY, high=500.0),
    "inlet": Number(q.TEMPERATURE, low=150, high=450),
    "altitude": Number(q.ALTITUDE, low=-500, high=11000),
    "margin": Number(q.RATIO, low=0.0, high=10.0),
    "stated": Number(q.VOLUME_FLOW, low=TINY),
    "drop": Number(q.PRESSURE, low=TINY),
    "velocity": Number(q.VELOCITY, low=TINY),
}


@dataclass(frozen=True, repr=False)
class Sizing:
    """The flow that carries a heat load; SI. `margin` is in no figure that does not say so."""

    heat: float
    rise: float
    inlet: float
    pressure: float  # of the site
    altitude: float  # NaN where the pressure is given instead
    margin: float = 0.0
    stated: float = math.nan  # a flow named elsewhere
    drop: float = math.nan  # that the opening may cost
    velocity: float = math.nan  # on the face of the opening

    @property
    def mass_flow(self) -> float:
        """Air by heat balance: heat over heat capacity and rise."""
        return self.heat / (air.HEAT_CAPACITY * self.rise)

    @property
    def density(self) -> float:
        """Of the air that enters."""
        return float(air.density(self.inlet, self.pressure))

    @property
    def density_at_sea_level(self) -> float:
        """Of air of the same temperature under the standard pressure of sea level."""
        return float(air.density(self.inlet, air.SEA_LEVEL_PRESSURE))

    @property
    def volume_flow(self) -> float:
        """At the inlet."""
        return self.mass_flow / self.density

    @property
    def volume_flow_at_sea_level(self) -> float:
        """At the inlet, if the site were at sea level."""
        return self.mass_flow / self.density_at_sea_level

    @property
    def volume_flow_at_outlet(self) -> float:
        """The same air, warmed."""
        return self.volume_flow * (self.inlet + self.rise) / self.inlet

    @property
    def volume_flow_with_margin(self) -> float:
        """At the inlet, the margin added: what to look for."""
        return self.volume_flow * (1 + self.margin)

    @property
    def area_for_drop(self) -> float:
        """Sharp-edged hole that passes the flow with margin at `drop`; NaN without one."""
        speed = SHARP_EDGE * math.sqrt(2 * self.drop / self.density)
        return self.volume_flow_with_margin / speed

    @property
    def area_for_velocity(self) -> float:
        """Face that passes the flow with margin at `velocity`; NaN without one."""
        return self.volume_flow_with_margin / self.velocity

    @property
    def stated_share(self) -> float:
        """The stated flow over the flow needed at the inlet, margin not counted."""
        return self.stated / self.volume_flow

    @property
    def mix(self) -> Mix | None:
        """Whether the stated flow looks as if degF and degC were mixed."""
        if not given(self.stated):
            return None
        return mixed_degrees(self.stated, self.heat, self.rise, self.density)

    def by_rule(self, rule: Rule) -> float:
        """What a rule of thumb gives [m3/s]."""
        return rule.rate * self.heat / self.rise

    def thinner(self, rule: Rule) -> tuple[float, float]:
        """Density here over that of the rule: the share of the pressure, and of the temperature."""
        return self.pressure / air.SEA_LEVEL_PRESSURE, rule.temperature / self.inlet

    def __repr__(self) -> str:
        flow, cubic_feet = _both(self.volume_flow_with_margin)
        margin = f" with {100 * self.margin:g} %" if self.margin else ""
        return f"<Sizing {q.POWER.metric.text(self.heat)}: {flow}, {cubic_feet}{margin}>"

    def _repr_html_(self) -> str:
        """Flows, for notebooks."""
        rows = [
            (name, *_both(value)) for name, value in (
                ("at the inlet", self.volume_flow),
                ("at the inlet, at sea level", self.volume_flow_at_sea_level),
                ("at the outlet", self.volume_flow_at_outlet),
                ("at the inlet, with margin", self.volume_flow_with_margin),
            )
        ]  # fmt: skip
        return html_table(repr(self), ("flow", "m3/h", "CFM"), rows)

    def to_dict(self) -> dict[str, Any]:
        """As in JSON: units in the keys, null where nothing was asked for."""
        found = {
            quantity.key(name): plain(Field("", quantity), getattr(self, name))
            for name, quantity in _FIELDS
        }
        for name in ("volume_flow", "volume_flow_with_margin"):
            value: float = getattr(self, name)
            shown = {"m3_h": q.VOLUME_FLOW.metric, "CFM": q.VOLUME_FLOW.us}
            found |= {f"{name}_{unit}": each.of(value) for unit, each in shown.items()}
        found["rules"] = [
            {"rule": rule.text, "volume_flow_m3_s": self.by_rule(rule),
             "share": self.by_rule(rule) / self.volume_flow, "density_kg_m3": rule.density,
             "source": rule.source}
            for rule in RULES
        ]  # fmt: skip
        found["stated_mix"] = self.mix.reason if self.mix else None
        return {"command": "size", **found}

    def to_frame(self) -> Any:
        """A pandas DataFrame of one row; ImportError without pandas, an extra."""
        flat = {k: v for k, v in self.to_dict().items() if k not in ("command", "rules")}
        return extra("pandas").DataFrame([flat])


_FIELDS: tuple[tuple[str, Quantity], ...] = (
    ("heat", q.POWER), ("rise", q.DIFFERENCE), ("inlet", q.TEMPERATURE),
    ("altitude", q.ALTITUDE), ("pressure", q.SITE_PRESSURE), ("margin", q.RATIO),
    ("mass_flow", q.MASS_FLOW), ("density", q.DENSITY), ("density_at_sea_level", q.DENSITY),
    ("volume_flow", q.VOLUME_FLOW), ("volume_flow_at_sea_level", q.VOLUME_FLOW),
    ("volume_flow_at_outlet", q.VOLUME_FLOW), ("volume_flow_with_margin", q.VOLUME_FLOW),
    ("stated", q.VOLUME_FLOW), ("stated_share", q.RATIO), ("drop", q.PRESSURE),
    ("area_for_drop", q.AREA), ("velocity", q.VELOCITY), ("area_for_velocity", q.AREA),
)  # fmt: skip


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
class CaseSizing:
    """What a case needs, as a whole and in each compartment, beside what it gets.

    `leaving` is heat that motors, slots and parts give to air on its last way out, by branch: it
    warms no compartment, and is in no need. What is drawn back in of it (recirculation) is.
    `coming` is heat that comes in through walls from outside, less what leaves so [W]: it is in the
    need, and what leaves through walls, if that is more, is not taken off it.
    """

    solution: Solution
    whole: Sizing | None  # None without any air limit or allowed rise
    compartments: tuple[Need, ...]
    margin: float = field(default=0.0)
    leaving: Mapping[str, float] = field(default_factory=dict)  # path -> W
    coming: float = 0.0

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

    def _repr_html_(self) -> str:
        """Compartments, for notebooks."""
        rows = [
            (need.name, f"{need.own_heat:.3g}", f"{need.brought_heat:.3g}",
             *(f"{flow:.3g}" for flow in (need.alone, need.needed, need.solved)))
            for need in self.compartments
        ]  # fmt: skip
        heads = ("compartment", "own heat W", "brought W", "alone kg/s", "needed kg/s",
                 "solved kg/s")  # fmt: skip
        return html_table(repr(self), heads, rows)

    def to_dict(self) -> dict[str, Any]:
        """As in JSON; flows by mass, margins in `needed_with_margin_kg_s` only."""
        of = self.solution
        return {
            "command": "size", "scenario": of.scenario, "variant": of.variant,
            "whole": self.whole.to_dict() if self.whole else None,
            "heat_leaving_W": sum(self.leaving.values()), "heat_through_walls_W": self.coming,
            "solved_mass_flow_kg_s": of.totals.mass_flow,
            "solved_volume_flow_m3_s": of.totals.volume_flow,
            "compartments": [
                {
                    "compartment": need.name, "own_heat_W": need.own_heat,
                    "brought_heat_W": need.brought_heat, "allowed_rise_K": need.allowed_rise,
                    "alone_kg_s": need.alone, "needed_kg_s": need.needed,
                    "needed_with_margin_kg_s": need.needed * (1 + self.margin),
                    "solved_kg_s": need.solved,
                    "share": need.share if math.isfinite(need.share) else None,
                }
                for need in self.compartments
            ],
        }  # fmt: skip

    def to_frame(self) -> Any:
        """A pandas DataFrame, one row a compartment; ImportError without pandas, an extra."""
        return extra("pandas").DataFrame(self.to_dict()["compartments"])


def size(
    *,
    heat: float | str,
    rise: float | str,
    inlet: float | str,
    altitude: float | str = "0 m",
    margin: float | str = 0.0,
    stated: float | str | None = None,
    drop: float | str | None = None,
    velocity: float | str | None = None,
) -> Sizing:
    """The air flow that carries a heat load at an allowed rise.

    The heat balance `heat = mass_flow cp rise` with dry air, cp 1006 J/(kg K), and the pressure of
    the standard atmosphere (US Standard Atmosphere 1976). All heat goes into the air: what leaves
    through walls is a margin.

    Parameters
    ----------
    heat, rise, inlet, altitude : float or str
        Heat load [W], how much warmer the air may leave [K], temperature at which it enters [K],
        height of the site [m]. Text carries its own unit: "400 W".
    margin : float or str
        Share added to the flow, 0.2 or "20 %".
    stated : float or str, optional
        A flow [m3/s] named elsewhere, to be checked.
    drop, velocity : float or str, optional
        Pressure [Pa] that a sharp-edged opening may cost (discharge coefficient 0.61), and
        velocity [m/s] on a face: the areas for the flow with margin are worked out.

    Raises
    ------
    CaseError
        Every value that is missing a unit, of another kind or out of range, after its name.
    """
    raw = {
        "heat": heat, "rise": rise, "inlet": inlet, "altitude": altitude, "margin": margin,
        "stated": stated, "drop": drop, "velocity": velocity,
    }  # fmt: skip
    values = _converted({name: value for name, value in raw.items() if value is not None})
    return Sizing(pressure=float(air.site_pressure(values["altitude"])), **values)


def size_case(
    case: Enclosure,
    *,
    scenario: str = "base",
    variant: str = "base",
    rise: float | str | None = None,
    margin: float | str = 0.0,
    stated: float | str | None = None,
    drop: float | str | None = None,
    velocity: float | str | None = None,
) -> CaseSizing:
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
    raw = {"rise": rise, "margin": margin, "stated": stated, "drop": drop, "velocity": velocity}
    values = _converted({name: value for name, value in raw.items() if value is not None})
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
    solution: Solution,
    heat: float,
    needs: tuple[Need, ...],
    allowed: float,
    values: dict[str, float],
) -> Sizing | None:
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
        total = air.HEAT_CAPACITY * entering * (row.temperature - outside)
        limit = outside + allowed if given(allowed) else row.limit
        yield Need(name, total - brought, brought, limit - outside, entering)


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


def _converted(raw: dict[str, Any]) -> dict[str, float]:
    """Values in SI; CaseError with the fault of every one."""
    found: dict[str, float] = {}
    faults: list[Fault] = []
    for name, value in raw.items():
        with placed(name, faults=faults):
            found[name] = convert(ROLES[name], value)
    if faults:
        raise CaseError(faults)
    return found


def _both(flow: float) -> tuple[str, str]:
    """A volume flow in m3/h and in CFM."""
    return q.VOLUME_FLOW.metric.text(flow), q.VOLUME_FLOW.us.text(flow)
