"""Samples of rules on use and data of fans, air that comes back, outlines. Invented data."""

from __future__ import annotations

import dataclasses
from typing import Any

import flownet
from flownet.enclosure.branches import Duct, Leak, Opening, Slot, Vent
from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.fans import Fan
from flownet.enclosure.heat import Part, Recirculation, Wall
from flownet.enclosure.surroundings import Body, Compartment, Limits, Outside, Supply
from flownet.results.solution import Solution
from tests.findings.build import FLOWS, axial, noise_limit, solved, things
from tests.findings.samples import roof, two_fans

# --- supplies -----------------------------------------------------------------------------------


def fed(voltage: str, frequency: str | None, fan: dict[str, Any] | None = None,
        **row: Any) -> Solution:  # fmt: skip
    """The roof fan, of a type with these keys, on a supply."""
    hertz = {} if frequency is None else {"frequency": frequency}
    supply = Supply(name="mains", voltage=voltage, **hertz)
    return solved(things(supply=supply, type=axial(**row), roof=roof(
        at="400 1800 mm", **(fan or {}))))  # fmt: skip


DIRECT = {"supply": "24 V dc"}


# --- outages ------------------------------------------------------------------------------------

SCENARIOS = {"hot": {"outside.temperature": 313.15}, "dirty": {"filter.*.fouling": 2.0}}


def outage(
    scenario: str,
    *named: str,
    through: float = 0.03,
    drop: float = 10.0,
    alone: bool = False,
    **more: Any,
) -> Solution:
    """Two fans on one supply, one of them out, and what passes it [kg/s] at what drop;
    `alone`: there is no other supply."""
    flows = {"filter.intake": 0.06, "baffle.shelf": 0.06, "fan.roof": 0.03, "fan.second": through}
    second = Fan(name="second", from_="upper", to="outside", at="600 1800 mm",
                 **{"type": "axial", "supply": "mains", **more})  # fmt: skip
    made = things(second=second, limits=Limits(scenarios=list(named)),
                  type=axial(freewheel_loss=WHEEL), roof=roof(type="plain"), plain=axial("plain"),
                  other=None if alone else Supply(name="other", voltage="230 V",
                                                  frequency="50 Hz"))  # fmt: skip
    return solved(made, flows=flows, scenario=scenario, scenarios=SCENARIOS,
                  branches={"fan.second": {"drop": -drop}})  # fmt: skip


WHEEL = 4.0  # K of the rotor of the second fan where the air turns it


# --- noise --------------------------------------------------------------------------------------

AT = {"kind": "pressure", "distance": "1 m"}


def heard(noise: dict[str, Any] | None, condition: str | None = None,
          distance: str | None = "1 m", level: float = 46.0) -> Solution:  # fmt: skip
    """A noise limit, and what the type says of its level."""
    made = things(
        type=axial(noise=noise, noise_condition=condition),
        limits=Limits(noise_dBA=50, noise_distance=distance, scenarios=["base", "dirty"]),
    )
    return solved(made, limits=(noise_limit(level, 50.0),))


def unlimited() -> Solution:
    """A level that no limit is held against."""
    return solved(things(type=axial(noise=None)))


# --- losses and heat ----------------------------------------------------------------------------


def on_fan(guard: float = 0.0, *items: Any) -> Solution:
    """The roof fan with a guard, and elements in its air."""
    made = things(roof=roof(at="400 1800 mm", guard={"loss": guard}), **{i.name: i for i in items})
    return solved(made)


def mouth(loss: float, area: str) -> Vent:
    """A vent on the fan; its frame is 119 mm square, 142 cm2, its flow area 95 cm2."""
    return Vent(name="mouth", on="fan.roof", area=area, loss=loss)


def stack(diameter: str, **loss: float) -> Duct:
    """A duct on the fan."""
    return Duct(name="stack", on="fan.roof", length="1 m", diameter=diameter, **loss)


def heating(**given: Any) -> Solution:
    """A power supply in the upper compartment."""
    return solved(things(psu=Part(name="psu", in_="upper", **given)))


# --- one temperature for a compartment ----------------------------------------------------------


def box(u_value: float, blows: bool = False, heat_at: Any = None, **changed: Any) -> Solution:
    """A vented box with a wall, 400 W in it; `blows`: a fan moves its air."""
    given = {"outline": "0 0 800 1800 mm", "depth": "400 mm", "air_limit": "50 degC"}
    top = (
        Fan(name="top", from_="box", to="outside", type="axial", at="0 1650 mm") if blows else
        Vent(name="top", from_="box", to="outside", area="200 cm2", loss=4, at="0 1650 mm")
    )  # fmt: skip
    return flownet.solve(Enclosure.of(
        Compartment(**{"name": "box", **given, **changed}), axial(), top,
        Vent(name="low", from_="outside", to="box", area="200 cm2", loss=4, at="0 150 mm"),
        Wall(name="skin", from_="box", to="outside", area="4.6 m2", u_value=u_value),
        Part(name="drive", in_="box", power="400 W", at=heat_at), Outside(temperature="35 degC"),
    ))  # fmt: skip


def pocket(u_value: float, **given: Any) -> Solution:
    """The box in layers, its heat above the upper vent, where only the wall takes it."""
    return box(u_value, layers=4, heat_at="400 1750 mm", **given)


# --- fans and their data sheets -------------------------------------------------------------------


LIFE = {"hours": 50000, "at": "40 degC"}


def one(row: dict[str, Any], fan: dict[str, Any] | None = None, **more: Any) -> Solution:
    """The roof fan, of a type with these keys, placed so."""
    made = things(type=axial(**row), roof=roof(at="400 1800 mm", **(fan or {})))
    return solved(made, **more)


def two(kind: str) -> Solution:
    """Two fans, the life figure of the second of this kind."""
    other = axial("other", life={**LIFE, "kind": kind})
    made = things(other=other, second=roof(name="second", type="other"))
    flows = {"filter.intake": 0.06, "baffle.shelf": 0.06, "fan.roof": 0.03, "fan.second": 0.03}
    return solved(made, flows=flows, fans={"fan.second": {"life_kind": kind}})


def on_its_side(direction: str) -> Solution:
    """The cabinet laid on its left side: its right is up."""
    body = Body(size="800 x 1800 x 400 mm", up="right")
    return solved(things(body=body, type=axial(bearing="sleeve"), roof=roof(direction=direction)))


def at_speed(ratio: float) -> Solution:
    """The roof fan at a ratio to its rated speed, allowed 0.3 to 1."""
    fan, row = {"speed": ratio}, {"speed_range": "0.3 1.0"}
    return one(row, fan, fans={"fan.roof": {"speed_ratio": ratio}})


# --- air that comes back --------------------------------------------------------------------------


def stirred(back: float, fresh: float = 0.03, above: float = 0.0) -> Solution:
    """A fan that lifts the air from below to above; so much comes back through the shelf.

    `above` enters there through a seal.
    """
    seal = Leak(name="seal", from_="outside", to="upper", flow_at=["5 m3/h", "10 Pa"])
    made = things(
        stir=Fan(name="stir", from_="lower", to="upper", type="axial", supply="mains"), seal=seal,
        limits=Limits(scenarios=["base", "dirty"], intake_filter="none"),
    )  # fmt: skip
    flows = {"filter.intake": fresh, "fan.roof": fresh + above, "fan.stir": fresh + back,
             "leak.seal": above}  # fmt: skip
    return solved(made, flows={**FLOWS, **flows, "baffle.shelf": -back})


def drifting(back: float) -> Solution:
    """Air that rises through the shelf, of which so much sinks back through a gap, without a fan
    between them."""
    gap = Opening(name="gap", from_="upper", to="lower", area="50 cm2")
    flows = {**FLOWS, "baffle.shelf": 0.03 + back, "opening.gap": back}
    return solved(things(gap=gap), flows=flows)


def drawn_round(fraction: float, side: float = 0.0, **more: Any) -> Solution:
    """Exhaust of which a fraction of the intake air consists; so much enters elsewhere."""
    made = things(
        side=Vent(name="side", from_="outside", to="upper", area="50 cm2", loss=2.0),
        short=Recirculation(name="short", from_="fan.roof", to="filter.intake", fraction=fraction),
        limits=Limits(scenarios=["base", "dirty"], intake_filter="none"), **more,
    )  # fmt: skip
    return solved(made, flows={**FLOWS, "vent.side": side, "fan.roof": 0.03 + side})


def standing(flow: float, **changed: object) -> Solution:
    """A fan that stands beside the running one, with this flow the way it would blow."""
    fan = roof(name="weak", type="small", state="stopped", **changed)
    return two_fans(fan, flow=flow, region="stopped")


def rack(gap: str = "200 cm2", gap_state: str = "open") -> Enclosure:
    """Two fans behind servers; a gap leads from the warm side back to the cold one."""
    fans = [Fan(name=name, from_="mid", to="rear", type="axial") for name in ("a", "b")]
    curve = {"flow": "0 200 400 m3/h", "rise": "80 60 0 Pa"}
    return Enclosure.of(
        Compartment(name="front", air_limit="35 degC"), Compartment(name="mid"),
        Compartment(name="rear"), axial(curve=curve, power="0 W"), *fans,
        Vent(name="door", from_="outside", to="front", area="150 cm2", loss=2.5),
        Vent(name="out", from_="rear", to="outside", area="150 cm2", loss=2.5),
        Opening(name="gap", from_="rear", to="front", area=gap, state=gap_state),
        Opening(name="edge", from_="rear", to="front", area="20 cm2", state=gap_state),
        Slot(name="servers", from_="front", to="mid", area="400 cm2", loss=2, power="1500 W"),
        Limits(margin="5 K"),
    )  # fmt: skip


# --- outlines and positions -----------------------------------------------------------------------


def drawn(upper: str, *, lower: str = "0 0 800 900 mm", depth: str | None = None,
          **given: Any) -> Solution:  # fmt: skip
    """The cabinet (800 x 1800 x 400 mm) with other outlines."""
    made = things(
        lower=Compartment(name="lower", outline=lower, depth=depth),
        upper=Compartment(name="upper", outline=upper, depth=depth), **given,
    )  # fmt: skip
    return solved(made)


def panel(thickness: str, **given: Any) -> Solution:
    """The cabinet with a steel wall."""
    wall = {"from_": "lower", "to": "outside", "area": "1 m2", "thickness": thickness, **given}
    return solved(things(skin=Wall(name="skin", **{"material": "steel", **wall})))


def varied(change: dict[str, Any]) -> Solution:
    """The cabinet with a slower fan as a variant, in a scenario with one change."""
    case = Enclosure.of(
        *things().values(), scenarios={"windy": change}, variants={"slow": {"fan.roof.speed": 0.7}}
    )
    return dataclasses.replace(solved(), case=case.under("windy", "slow"))
