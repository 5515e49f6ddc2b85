"""Samples of rules on how fans are used: supplies, outages, noise, losses, heat. Invented data."""

from __future__ import annotations

from typing import Any

import flownet
from flownet.enclosure.branches import Duct, Vent
from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.fans import Fan
from flownet.enclosure.heat import Part, Wall
from flownet.enclosure.surroundings import Compartment, Limits, Outside, Supply
from flownet.results.solution import Solution
from tests.findings.build import axial, noise_limit, solved, things
from tests.findings.samples import fires, roof, silent

# --- supplies -----------------------------------------------------------------------------------


def fed(voltage: str, frequency: str | None, fan: dict[str, Any] | None = None,
        **row: Any) -> Solution:  # fmt: skip
    """The roof fan, of a type with these keys, on a supply."""
    hertz = {} if frequency is None else {"frequency": frequency}
    supply = Supply(name="mains", voltage=voltage, **hertz)
    return solved(things(supply=supply, type=axial(**row), roof=roof(
        at="400 1800 mm", **(fan or {}))))  # fmt: skip


DIRECT = {"supply": "24 V dc"}
MAINS = {"supply": "230 V 50 Hz"}
fires("supply-mismatch", lambda: fed("230 V", "60 Hz"))
fires("supply-mismatch", lambda: fed("230 V", "60 Hz", {"speed": "2400 rpm"}))
fires("supply-mismatch", lambda: fed("240 V", "50 Hz"))
fires("supply-mismatch", lambda: fed("115 V", "60 Hz"))
fires("supply-mismatch", lambda: fed("230 V", "400 Hz"))
fires("supply-mismatch", lambda: fed("18 V", None, **DIRECT))
fires("supply-mismatch", lambda: fed("9 V", None, **DIRECT))
fires("supply-mismatch", lambda: fed("18 V", None, **DIRECT, voltage_range="20 28 V"))
fires("supply-mismatch", lambda: fed("24 V", "50 Hz", **DIRECT))
silent("supply-mismatch", lambda: fed("24.1 V", None, **DIRECT))
silent("supply-mismatch", lambda: fed("240 V", "50 Hz", **MAINS, voltage_range="200 250 V"))
silent("supply-mismatch", lambda: fed("115 V", "60 Hz", supply=None))


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
TURNED = {"through": -0.01, "state": "freewheeling"}
fires("fan-out", lambda: outage("fan.second-out", through=-0.01))
fires("fan-out", lambda: outage("fan.second-out", through=-0.01, type="plain"))
fires("fan-out", lambda: outage("hot", **TURNED))
silent("fan-out", lambda: outage("fan.second-out", through=-0.001))
silent("fan-out", lambda: outage("fan.second-out", through=0.01))
silent("fan-out", lambda: outage("fan.second-blanked", through=0.0))


fires("shared-supply", lambda: outage("fan.second-out", "each-fan-out"))
fires("shared-supply", lambda: outage("fan.second-out"))
silent("shared-supply", lambda: outage("fan.second-out", "each-fan-out", "each-supply-out"))
silent("shared-supply", lambda: outage("fan.second-out", "each-fan-out", supply="other"))
silent("shared-supply", lambda: outage("fan.second-out", "dirty+supply.mains-out"))
silent("shared-supply", lambda: outage("hot", "each-fan-out"))
fires("outage-not-at-worst", lambda: outage("fan.second-out", "hot", "dirty", "each-fan-out"))
fires("outage-not-at-worst", lambda: outage("fan.second-out"))
fires("outage-not-at-worst", lambda: outage("hot+fan.second-out", "hot+dirty",
                                            "hot+each-fan-out", "dirty+each-fan-out"))  # fmt: skip
silent("outage-not-at-worst", lambda: outage("hot+dirty+fan.second-out"))
silent("outage-not-at-worst", lambda: outage("fan.second-out", "each-fan-out",
                                             "hot+dirty+each-fan-out"))  # fmt: skip
silent("outage-not-at-worst", lambda: outage("hot", "hot", "each-fan-out"))

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


fires("noise-distance-missing", lambda: heard(None))
fires("noise-distance-missing", lambda: heard({"kind": "pressure"}))
fires("noise-distance-missing", lambda: heard(AT, distance=None))
silent("noise-distance-missing", lambda: heard(AT))
silent("noise-distance-missing", lambda: heard({"kind": "power"}))
silent("noise-distance-missing", unlimited)
fires("noise-free-air", lambda: heard(AT))
fires("noise-free-air", lambda: heard(AT, "free air"))
silent("noise-free-air", lambda: heard(AT, "loaded"))
silent("noise-free-air", lambda: heard(AT, level=45.0))  # 5 dB in hand
silent("noise-free-air", unlimited)

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


fires("loss-counted-twice", lambda: on_fan(1.0))
fires("loss-counted-twice", lambda: on_fan(0.0, mouth(0.5, "95 cm2")))
fires("loss-counted-twice", lambda: on_fan(0.0, mouth(1.0, "142 cm2")))
fires("loss-counted-twice", lambda: on_fan(0.0, stack("119 mm")))  # entrance and exit, the default
silent("loss-counted-twice", lambda: on_fan(0.5))
silent("loss-counted-twice", lambda: on_fan(0.0, mouth(0.8, "95 cm2")))
silent("loss-counted-twice", lambda: on_fan(0.0, mouth(1.0, "300 cm2")))
silent("loss-counted-twice", lambda: on_fan(0.0, stack("119 mm", loss=0.2)))
silent("loss-counted-twice", lambda: on_fan(0.0, stack("250 mm")))


def heating(**given: Any) -> Solution:
    """A power supply in the upper compartment."""
    return solved(things(psu=Part(name="psu", in_="upper", **given)))


fires("power-not-heat", lambda: heating(power="600 W", power_basis="nameplate"))
fires("power-not-heat", lambda: heating(output="600 W", efficiency=0.11))
fires("power-not-heat", lambda: heating(output="600 W", efficiency=1.0))
silent("power-not-heat", lambda: heating(output="600 W", efficiency=0.89))
silent("power-not-heat", lambda: heating(power="74 W", power_basis="measured"))
silent("power-not-heat", lambda: heating(power="0 W", power_basis="nameplate"))


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


fires("well-mixed", lambda: box(5.5))
fires("well-mixed", lambda: box(5.5, air_limit="47.5 degC"))  # breaks in layers only
fires("well-mixed", lambda: box(1e-3))  # buoyancy moves the air
silent("well-mixed", lambda: box(0.5, blows=True))
silent("well-mixed", lambda: box(5.5, layers=4))
silent("well-mixed", lambda: box(5.5, outline=None))


def pocket(u_value: float, **given: Any) -> Solution:
    """The box in layers, its heat above the upper vent, where only the wall takes it."""
    return box(u_value, layers=4, heat_at="400 1750 mm", **given)


fires("layer-count", lambda: pocket(5.5))
fires("layer-count", lambda: pocket(5.5, air_limit="90 degC"))  # breaks in more layers only
silent("layer-count", lambda: box(5.5, layers=8))
silent("layer-count", lambda: box(5.5))
