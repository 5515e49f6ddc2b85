"""First sizing: the air flow that a heat load needs, beside rules of thumb and stated flows."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import partial
from typing import Any, NamedTuple

from flownet.enclosure.branches import SHARP_EDGE
from flownet.findings.entries import Mix, mixed_degrees
from flownet.pages.caption import Caption
from flownet.pages.page import MISSING
from flownet.pages.result import Result
from flownet.pages.sheet import Column, Listing, Said, Sentence, Sheet, Tabled
from flownet.physics import air
from flownet.physics.registry import COMMON_PRACTICE
from flownet.results.tables import Field, plain
from flownet.schema import quantities as q
from flownet.schema.convert import convert
from flownet.schema.errors import CaseError, placed
from flownet.schema.fault import Fault
from flownet.schema.fields import TINY, Number, given
from flownet.schema.quantities import UNITS, Quantity

DENSITY_ALIKE = 1e-4  # of the density: told once
VAST = 10  # times the need, above which a percentage says nothing


class ThumbRule(NamedTuple):
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


SIZING_RULES = (
    ThumbRule("3.1 m3/h per W/K", 3.1 / 3600, COMMON_PRACTICE),
    ThumbRule("1.76 CFM per W/K", 1.76 * UNITS["CFM"].factor, "notes of the trade, for 1.2 kg/m3"),
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
class Sizing(Result):
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
        known = given(self.stated)
        return mixed_degrees(self.stated, self.heat, self.rise, self.density) if known else None

    @property
    def at_sea_level(self) -> bool:
        """Whether the site is no higher, as far as its density tells."""
        return abs(self.density / self.density_at_sea_level - 1) < DENSITY_ALIKE

    def by_rule(self, rule: ThumbRule) -> float:
        """What a rule of thumb gives [m3/s]."""
        return rule.rate * self.heat / self.rise

    def __repr__(self) -> str:
        flow, cubic_feet = both_units(self.volume_flow_with_margin)
        margin = f" with {100 * self.margin:g} %" if self.margin else ""
        return f"<Sizing {q.POWER.metric.text(self.heat)}: {flow}, {cubic_feet}{margin}>"

    def verdicts(self, units: str = "metric") -> tuple[str, ...]:
        """What is asked."""
        heat, rise = text(q.POWER, self.heat, units), text(q.DIFFERENCE, self.rise, units)
        return (f"{heat} into air of {text(q.TEMPERATURE, self.inlet, units)} that may leave "
                f"{rise} warmer",)  # fmt: skip

    @property
    def sheet(self) -> Sheet:
        """Flows by the heat balance, rules of thumb, what a stated flow means, openings."""
        facts, caption = self._facts(), Caption(title="Air flow for a heat load")
        row = tuple(Column(key, [value]) for key, value in facts.items() if key != "rules")
        tables = (*self.tables, Listing("sizing", row, "rows"))
        return Sheet("size", caption, self.verdicts, tables, facts=facts, bare=True)

    @property
    def tables(self) -> list[Tabled]:
        """Tables and paragraphs of a page."""
        beside = {"stated": _stated, "drop": _opening, "velocity": _face}
        asked = [words for name, words in beside.items() if given(getattr(self, name))]
        return [partial(_flows, self), partial(_rules, self),
                *(paragraph(partial(words, self)) for words in asked)]  # fmt: skip

    def _facts(self) -> dict[str, Any]:
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
            for rule in SIZING_RULES
        ]  # fmt: skip
        found["stated_mix"] = self.mix.reason if self.mix else None
        return found


_FIELDS: tuple[tuple[str, Quantity], ...] = (
    ("heat", q.POWER), ("rise", q.DIFFERENCE), ("inlet", q.TEMPERATURE),
    ("altitude", q.ALTITUDE), ("pressure", q.SITE_PRESSURE), ("margin", q.RATIO),
    ("mass_flow", q.MASS_FLOW), ("density", q.DENSITY), ("density_at_sea_level", q.DENSITY),
    ("volume_flow", q.VOLUME_FLOW), ("volume_flow_at_sea_level", q.VOLUME_FLOW),
    ("volume_flow_at_outlet", q.VOLUME_FLOW), ("volume_flow_with_margin", q.VOLUME_FLOW),
    ("stated", q.VOLUME_FLOW), ("stated_share", q.RATIO), ("drop", q.PRESSURE),
    ("area_for_drop", q.AREA), ("velocity", q.VELOCITY), ("area_for_velocity", q.AREA),
)  # fmt: skip


def size(
    *, heat: float | str, rise: float | str, inlet: float | str, altitude: float | str = "0 m",
    margin: float | str = 0.0, stated: float | str | None = None, drop: float | str | None = None,
    velocity: float | str | None = None,
) -> Sizing:  # fmt: skip
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
    values = converted(
        heat=heat, rise=rise, inlet=inlet, altitude=altitude, margin=margin, stated=stated,
        drop=drop, velocity=velocity,
    )  # fmt: skip
    return Sizing(pressure=float(air.site_pressure(values["altitude"])), **values)


def converted(**raw: Any) -> dict[str, float]:
    """What is given, in SI; CaseError with the fault of every value."""
    found: dict[str, float] = {}
    faults: list[Fault] = []
    for name, value in raw.items():
        with placed(name, faults=faults):
            if value is not None:
                found[name] = convert(ROLES[name], value)
    if faults:
        raise CaseError(faults)
    return found


def paragraph(*words: Said) -> Listing:
    """Words under each other, apart from what is above."""
    return Listing("", (), notes=tuple(Sentence("", each) for each in words))


def text(quantity: Quantity, value: float, units: str) -> str:
    """A value in the units of the reader; `-` where there is none."""
    return MISSING if math.isnan(value) else quantity.shown(units).text(value)


def both_units(flow: float) -> tuple[str, str]:
    """A volume flow in m3/h and in CFM."""
    return q.VOLUME_FLOW.metric.text(flow), q.VOLUME_FLOW.us.text(flow)


def _site(found: Sizing, units: str) -> str:
    if given(found.altitude):
        return text(q.ALTITUDE, found.altitude, units)
    return text(q.SITE_PRESSURE, found.pressure, units)


def _flows(found: Sizing, units: str) -> Listing:
    """Flows by the heat balance, at sea level and at the site where that is not the same."""
    places = {"sea level": found.density_at_sea_level}
    if not found.at_sea_level:
        places[_site(found, units)] = found.density
    warmer, more = (found.inlet + found.rise) / found.inlet, 1 + found.margin
    names = ["mass flow", "density at the inlet", "volume flow at the inlet", "",
             "at the outlet, warmed", ""]  # fmt: skip
    names += [f"at the inlet with {100 * found.margin:g} %", ""] if found.margin else []
    columns = []
    for place, density in places.items():
        flow = found.mass_flow / density
        texts = [text(q.MASS_FLOW, found.mass_flow, units), text(q.DENSITY, density, units)]
        texts += [each for by in (1.0, warmer, more) for each in both_units(flow * by)]
        columns.append(Column(place, texts[: len(names)], right=True))
    return Listing("flows", (Column("Needed", names), *columns))


def _rules(found: Sizing, units: str) -> Listing:
    """What rules of thumb give, and why not the same."""
    flows = [(rule, found.by_rule(rule)) for rule in SIZING_RULES]
    return Listing("rules_of_thumb", (
        Column("Rule of thumb", [rule.text for rule in SIZING_RULES]),
        Column("gives", [both_units(flow)["CFM" in rule.text] for rule, flow in flows], right=True),
        Column("", [f"{100 * flow / found.volume_flow:.0f} % of the need" for _, flow in flows]),
        Column("", [f"right at {text(q.DENSITY, rule.density, units)}" for rule in SIZING_RULES]),
    ), notes=(Sentence("", _why(found, units)),), apart=False)  # fmt: skip


def _why(found: Sizing, units: str) -> str:
    """The two reasons for which a rule is off, with their shares."""
    rule = SIZING_RULES[0]
    by_pressure = found.pressure / air.SEA_LEVEL_PRESSURE
    by_temperature = rule.temperature / found.inlet
    warm = text(q.TEMPERATURE, rule.temperature, units)
    reasons = [f"{text(q.TEMPERATURE, found.inlet, units)} makes it {_change(by_temperature)}"]
    if not found.at_sea_level:
        reasons.append(f"{_site(found, units)} {_change(by_pressure)}")
    return (
        f"A rule has a density in it. That of {rule.text} ({rule.source}) is that of {warm} at sea "
        f"level; here {' and '.join(reasons)}, so a m3 carries "
        f"{100 * by_pressure * by_temperature:.0f} % of the heat."
    )


def _change(ratio: float) -> str:
    return f"{100 * abs(ratio - 1):.1f} % {'thinner' if ratio < 1 else 'denser'}"


def _opening(found: Sizing, units: str) -> str:
    return (
        f"Opening for a drop of {text(q.PRESSURE, found.drop, units)}: "
        f"{text(q.AREA, found.area_for_drop, units)} of free area, sharp-edged (discharge "
        f"coefficient 0.61){_within(found)}; a grille needs this much open, a filter has its own "
        "curve."
    )


def _face(found: Sizing, units: str) -> str:
    return f"Face for {text(q.VELOCITY, found.velocity, units)}: " \
           f"{text(q.AREA, found.area_for_velocity, units)}{_within(found)}."  # fmt: skip


def _within(found: Sizing) -> str:
    return f", {100 * found.margin:g} % margin in it" if found.margin else ""


def _stated(found: Sizing, units: str) -> str:
    metric, us = both_units(found.stated)
    words = f"The stated {metric} ({us}) is {found.stated_share:.2f} times the heat balance"
    if found.mix is not None:
        return f"{words}: {found.mix.reason}. Check which degree was used."
    if found.stated_share < 1:
        warmer = text(q.DIFFERENCE, found.rise / found.stated_share, units)
        return f"{words}: the air would leave {warmer} warmer."
    if found.stated_share > VAST:
        return f"{words}. Check its unit."
    return f"{words}: {100 * (found.stated_share - 1):.0f} % in hand."
