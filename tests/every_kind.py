"""An enclosure with a thing of every kind and a value at nearly every key (invented data)."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator
from contextlib import suppress
from functools import cache
from typing import Any

from flownet.enclosure.branches import Baffle, Duct, Filter, Leak, Opening, Slot, Vent
from flownet.enclosure.contents import Place
from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.fans import Fan, FanType
from flownet.enclosure.heat import Exchange, Part, Recirculation, SinkType, Wall
from flownet.enclosure.surroundings import Body, Compartment, Limits, Outside, Supply
from flownet.schema.component import KINDS, Thing
from flownet.schema.errors import CaseError
from flownet.schema.fields import Choice, Link, Number, Role, Rows, get, given, roles

LINE = {"gap": "15 mm", "width": "220 mm", "length": "160 mm", "free_ratio": 0.6, "power": "16 W"}
WIDE = {**LINE, "gap": "30 mm", "power": "5 W"}
AXIAL = FanType(
    name="axial", origin="invented data", flow_area="95 cm2", supply="230 V 50 Hz", power="19 W",
    curve={"flow": "0 60 110 170 m3/h", "rise": "78 52 44 0 Pa"}, rated_speed="2800 rpm",
    speed_range=(0.3, 1.0), frame="119 x 38 mm", noise_dBA=44, noise={"distance": "1 m"},
    life={"hours": 50000, "at": "40 degC"}, air_range="-20 70 degC", bearing="ball",
    freewheel_loss=4.0,
    rating={"sixty": {"supply": "230 V 60 Hz", "power": "23 W", "rated_speed": "3250 rpm",
                      "curve": {"flow": "0 70 128 198 m3/h", "rise": "104 70 60 0 Pa"}}},
)  # fmt: skip
SMALL = FanType(
    name="small", origin="invented data", flow_area="62 cm2", supply="24 V dc", power="9 W",
    curve={"flow": "0 30 60 110 m3/h", "rise": "60 41 33 0 Pa"}, curve_pressure="total",
    reference_density="1.15 kg/m3", rated_speed="3100 rpm", noise_dBA=39, motor_in_air=False,
    life={"hours": 60000, "at": "40 degC", "kind": "mean"},
)  # fmt: skip
PLACES = (
    Body(size="800 x 1800 x 400 mm"),
    Outside(temperature="40 degC", altitude="900 m", relative_humidity=0.4),
    Outside(name="aisle", temperature="45 degC", over_pressure="1 Pa"),
    Supply(name="mains", voltage="230 V", frequency="50 Hz"),
    Supply(name="battery", voltage="24 V"),
    Compartment(name="low", outline="0 0 800 900 mm", air_limit="60 degC"),
    Compartment(name="high", outline="0 900 800 900 mm", air_limit="65 degC", depth="350 mm"),
)
BRANCHES = (
    Filter(name="mat", from_="outside", to="low", area="450 cm2", at="0 150 mm",
           velocity_drop={"velocity": "0.5 1 2 m/s", "drop": "18 42 108 Pa"}),
    Slot(name="a", from_="low", to="high", type="line", given=frozenset({"from", "to"}),
         filler={"area": "27 cm2", "loss": 6.0}, empty={"area": "60 cm2", "loss": 2.69},
         direction="up", **LINE),
    Slot(name="b", from_="low", to="high", area="40 cm2", loss=3.0, power="12 W", count=2),
    Slot(name="c", from_="low", to="high", area="30 cm2",
         velocity_drop={"velocity": "1 2 m/s", "drop": "4 13 Pa"}),
    Slot(name="fins", from_="low", to="high", sink="comb", part_heat="at-parts", direction="up"),
    Baffle(name="shelf", from_="low", to="high", open_area="15 cm2", cross_section="0.1 m2"),
    Vent(name="roof", from_="high", to="outside", area="20 cm2", loss=2.5, at="400 1800 mm"),
    Vent(name="side", from_="outside", to="low", area="90 cm2", open_ratio=0.45, hole="5 mm"),
    Leak(name="seal", from_="outside", to="low", flow_at=("2 m3/h", "10 Pa")),
    Opening(name="gap", from_="outside.aisle", to="low", area="5 cm2"),
    Duct(name="riser", from_="low", to="outside", length="1.6 m", diameter="40 mm",
         roughness="0.15 mm", bends=[("90 deg", 1.5)], route=["100 200 mm", "100 1750 mm"],
         wall_temperature="60 degC", u_value="8 W/(m2 K)"),
    Vent(name="guard", on="fan.left", area="110 cm2", discharge_coefficient=0.7),
)  # fmt: skip
FANS = (
    Fan(name="left", from_="high", to="outside", type="axial", supply="mains", at="200 1800 mm",
        guard={"loss": 0.6}, clearance={"inlet": "15 mm"}, direction="up"),
    Fan(name="right", from_="high", to="outside", type="axial", supply="mains", speed=0.9,
        shutter={"open_loss": 0.5, "closed_leak": 0.01}),
    Fan(name="spare", from_="low", to="high", type="small", supply="battery", state="blanked"),
)  # fmt: skip
HEAT = (
    Exchange(name="middle", between=["low", "high"], flow="0.002 m3/s"),
    Recirculation(name="short", from_="fan.left", to="filter.mat", fraction=0.1),
    Wall(name="door", from_="high", to="outside", faces=["front", "left"],
         u_value="5.5 W/(m2 K)", sun={"irradiance": "600 W/m2", "absorptance": 0.35}),
    Wall(name="rear", from_="low", to="outside", area="0.3 m2", thickness="2 mm",
         material="steel", height="0.8 m", solar="20 W/m2"),
    Part(name="drive", in_="high", power="120 W", resistance="0.28 K/W", limit="110 degC"),
    Part(name="sink", in_="slot.a", position=0.5, flow_area="22 cm2", heat_capacity="450 J/K",
         resistance_law={"a": "0.2 K/W", "b": "0.4 K/W", "n": 0.6, "velocity": "1 m/s"}),
    Part(name="chip", in_="part.sink", power="15 W", limit="150 degC",
         chain=[["junction", "0.4 K/W"], ["case", "0.25 K/W"]]),
    Part(name="base", in_="slot.fins", sink="comb", power="9 W", position=0.6),
    Part(name="choke", in_="low", output="2 kW", efficiency=0.99, stream="filter.mat",
         flow_area="0.02 m2", mass="3 kg", material="copper",
         resistance_over_velocity={"velocity": "1 2 m/s", "resistance": "0.5 0.36 K/W"}),
)  # fmt: skip
COMB = SinkType(name="comb", base="60 x 80 mm", fins=15, fin="25 x 1.2 mm", material="aluminium")
FINE = SinkType(
    name="fine", base="50 x 70 mm", fins=16, fin="20 x 1 mm", conductivity="200 W/(m K)"
)
LIMITS = Limits(noise_dBA=55, noise_distance="1 m", fan_life_hours=20000, margin="4 K")
THINGS: tuple[Thing, ...] = (*PLACES, AXIAL, SMALL, COMB, FINE, *BRANCHES, *FANS, *HEAT, LIMITS)


def everything(*others: Thing, **rest: Any) -> Enclosure:
    """All of it; a thing of the same kind and name takes the place of the one here."""
    items = {(item.KIND, item.name): item for item in (*THINGS, *others)}
    given: dict[str, Any] = {
        "title": "a thing of every kind, invented data",
        "types": {"slot_type": {"line": LINE, "wide": WIDE}},
        "scenarios": {
            "hot": {"outside.temperature": "50 degC"},
            "cool": {"outside.temperature": "20 degC"},
            "dirty": {"filter.*.fouling": 2.0},
        },
        "variants": {"slow": {"fan.*.speed": 0.7}, "three-fans": {"fan.spare.state": "running"}},
    }
    return Enclosure.of(*items.values(), **(given | rest))


@cache
def alternatives() -> tuple[tuple[str, Any, Enclosure], ...]:
    """Other values at every number, word, name and table of it, each with the case that it makes;
    those that it allows."""
    return tuple(_alternatives(everything()))


def _alternatives(case: Enclosure) -> Iterator[tuple[str, Any, Enclosure]]:
    for kind, named in case.things.items():
        for name, item in named.items():
            for key, role in roles(KINDS[kind]).items():
                path = Place(kind, name, key).path
                for value in _others(case, role, get(item, key)):
                    with suppress(CaseError):
                        yield path, value, case.with_changes({path: value})


def _others(case: Enclosure, role: Role, value: Any) -> Iterator[Any]:
    if isinstance(role, Number) and given(value):
        yield from (value * 1.03, value * 0.96) if value else (0.01,)
    elif isinstance(role, Choice):
        yield from (word for word in role.words if word != value)
    elif isinstance(role, Link) and role.varies:
        names = (n for kind in role.kinds for n in case.things[kind] if ".rating." not in n)
        yield from (name for name in names if name != value)
    elif isinstance(role, Rows) and value:
        rows = value if role.cls is None else value.rows
        other = tuple((*row[:-1], row[-1] * 1.07) for row in rows)
        yield other if role.cls is None else dataclasses.replace(value, rows=other)
