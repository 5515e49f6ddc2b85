"""Enclosures with results that nobody computed: invented data, to see how pictures cope."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

import numpy as np

from flownet.enclosure.branches import Baffle, Duct, Filter, Leak, Opening, Slot, Vent
from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.fans import Fan, FanType
from flownet.enclosure.heat import Exchange, Part, Recirculation, Wall
from flownet.enclosure.surroundings import Body, Compartment, Limits, Outside, Supply
from flownet.results.limits import Limit
from flownet.results.solution import Solution
from flownet.results.tables import (  # fmt: skip
    BALANCE,
    BRANCH,
    COMPARTMENT,
    FAN,
    HEAT,
    PART,
    SITE,
    STATION,
    TOTALS,
    WALL,
    Field,
    Table,
)
from flownet.schema import quantities as q
from flownet.schema.component import Thing
from flownet.schema.fields import NONE
from flownet.solving.attempt import JUDGE

KELVIN = 273.15
MAT = {"velocity": "0.5 1 2 m/s", "drop": "18 42 108 Pa"}


def table(fields: tuple[Field, ...], rows: Mapping[str, Mapping[str, Any]]) -> Table:
    """A table of results; what a row does not give is NaN, or no word."""

    def column(field: Field) -> Any:
        if field.quantity is not None:
            return np.array([row.get(field.name, math.nan) for row in rows.values()], float)
        words = [row.get(field.name) for row in rows.values()]
        return np.array([-1 if word is None else field.words.index(word) for word in words], int)

    return Table(fields, tuple(rows), {field.name: column(field) for field in fields})


def invented(
    case: Enclosure, air: Mapping[str, float], flows: Mapping[str, float],
    drops: Mapping[str, float] = NONE, rises: Mapping[str, tuple[float, str]] = NONE,
    parts: Mapping[str, float] = NONE, outlets: Mapping[str, float] = NONE,
    exchanged: Mapping[str, float] = NONE, totals: Mapping[str, float] = NONE,
    stable: bool = True,
) -> Solution:  # fmt: skip
    """A solution with these numbers: degC, m3/h, Pa, W."""
    site = {"pressure": 91e3, "temperature": case.outside.temperature, "density": 0.981,
            "dew_point": math.nan}  # fmt: skip
    compartments = {name: _held(air[name], item.air_limit) | {"pressure": 0.0, "level": 0.0}
                    for name, item in case.compartments.items()}  # fmt: skip
    branches = {}
    for path, item in case.branches.items():
        flow = flows.get(path, flows.get(getattr(item, "on", "") or "", 0.0)) / 3600
        state = item.state if item.KIND != "baffle" else "open" if item.present else None
        branches[path] = {
            "state": state, "mass_flow": flow * 1.05, "volume_flow": flow,
            "drop": math.copysign(drops[path], flow) if path in drops else math.nan,
            "heat": 20.0 if path in outlets else 0.0, "density": 1.05,
            "outlet_temperature": outlets.get(path, math.nan) + KELVIN,
        }  # fmt: skip
    found = {name: _held(parts[name], item.limit) if name in parts else {}
             for name, item in case.parts.items()}  # fmt: skip
    return Solution(
        judge=JUDGE,
        compartments=table(COMPARTMENT, compartments),
        branches=table(BRANCH, branches),
        fans=table(FAN, {f"fan.{name}": _fan(item, rises.get(f"fan.{name}"))
                         for name, item in case.fans.items()}),
        parts=table(PART, found),
        stations=table(STATION, {}),
        walls=table(WALL, {name: {"heat": 12.0} for name in case.walls}),
        exchanges=table(HEAT, {name: {"heat": exchanged.get(name, math.nan)}
                               for name in case.things["exchange"]}),
        site={field.name: site[field.name] for field in SITE},
        totals_=dict.fromkeys((field.name for field in TOTALS), math.nan) | dict(totals),
        balance_=dict.fromkeys((field.name for field in BALANCE), 1e-10) | {"stable": stable},
        limits=tuple(_limits(compartments, found)),
        case=case,
    )  # fmt: skip


def _held(temperature: float, limit: float) -> dict[str, float]:
    kelvin = temperature + KELVIN
    return {"temperature": kelvin, "limit": limit, "margin": limit - kelvin}


def _fan(item: Fan, rise: tuple[float, str] | None) -> dict[str, Any]:
    if rise is None:
        region = "blanked" if item.state == "blanked" else "stopped"
        return {"region": region}
    speed = 1.0 if math.isnan(item.speed) else item.speed
    return {"rise": rise[0], "region": rise[1], "speed_ratio": speed}


def _limits(compartments: Mapping[str, Any], parts: Mapping[str, Any]) -> list[Limit]:
    return [
        Limit(kind, f"{path}.{name}", row["temperature"], row["limit"], row["margin"],
              q.TEMPERATURE, q.DIFFERENCE)
        for kind, path, rows in (("air", "compartment", compartments), ("part", "part", parts))
        for name, row in rows.items()
        if row and not math.isnan(row["limit"])
    ]  # fmt: skip


def fan_type(
    name: str = "axial", frame: str | None = "119 x 38 mm", area: str = "0.0095 m2"
) -> FanType:
    """An invented fan."""
    return FanType(
        name=name, curve={"flow": "0 60 110 170 m3/h", "rise": "78 52 44 0 Pa"}, frame=frame,
        flow_area=area, supply="230 V 50 Hz",
    )  # fmt: skip


# --- cabinet -----------------------------------------------------------------------------------


def cabinet_case(*more: Thing) -> Enclosure:
    """Two compartments, two fans in the roof, a loaded filter, a vent, a baffle, a leak."""
    out, low, up = "outside", "lower", "upper"
    return Enclosure.of(
        Body(size="800 x 1800 x 400 mm"),
        Outside(temperature="40 degC", altitude="900 m"),
        Supply(name="mains", voltage="230 V", frequency="50 Hz"),
        fan_type(),
        Compartment(name=low, outline="0 0 800 900 mm", air_limit="55 degC"),
        Compartment(name=up, outline="0 900 800 900 mm", air_limit="55 degC"),
        Filter(name="intake", from_=out, to=low, area="0.045 m2", at="0 250 mm", velocity_drop=MAT,
               fouling=2.0),
        Vent(name="side", from_=out, to=up, area="0.03 m2", loss=2.5, at="800 1150 mm"),
        Baffle(name="shelf", from_=low, to=up, open_area="0.06 m2", cross_section="0.32 m2",
               at="640 900 mm"),
        Leak(name="glands", from_=out, to=low, flow_at=["2 m3/h", "10 Pa"], at="800 120 mm"),
        Fan(name="left", from_=up, to=out, type="axial", supply="mains", at="200 1800 mm"),
        Fan(name="right", from_=up, to=out, type="axial", supply="mains", at="600 1800 mm"),
        Part(name="controller", in_=up, power="30 W", limit="60 degC", resistance="0.2 K/W",
             at="120 1440 mm"),
        Part(name="rectifier", in_=up, power="180 W", limit="110 degC", at="620 1330 mm"),
        Part(name="choke", in_=low, power="160 W", limit="120 degC", at="600 480 mm"),
        Limits(noise_dBA=55),
        *more,
        title="Packing-line drive cabinet (invented data)",
        scenarios={
            "hot": {"outside.temperature": "50 degC"},
            "dirty": {"filter.*.fouling": 2.0},
        },
        variants={"no-shelf": {"baffle.shelf.present": False}},
    )  # fmt: skip


CABINET_FLOWS = {
    "filter.intake": 118, "vent.side": 36, "baffle.shelf": 123, "leak.glands": 5, "fan.left": 159,
}  # fmt: skip
CABINET_TOTALS = {
    "heat": 376.0, "wall_heat": 31.0, "volume_flow": 159 / 3600, "air_rise": 8.2, "noise": 49.8,
    "noise_distance": 1.0,
}  # fmt: skip


def cabinet() -> Solution:
    """The cabinet in its base state: both fans run, everything holds."""
    return invented(
        cabinet_case(),
        {"lower": 43.1, "upper": 49.4},
        CABINET_FLOWS | {"fan.left": 98, "fan.right": 97, "filter.intake": 150, "vent.side": 42},
        {"filter.intake": 31.2, "vent.side": 4.1, "baffle.shelf": 9.0, "leak.glands": 33.0},
        {"fan.left": (44.0, "normal"), "fan.right": (44.2, "normal")},
        {"controller": 55.4, "rectifier": 98.0, "choke": 79.0},
        totals=CABINET_TOTALS,
    )


def cabinet_hot() -> Solution:
    """On a hot day, one fan stopped: air comes back in through it, two limits are broken."""
    case = cabinet_case().under("hot+dirty+fan.right-out", variant="base")
    return invented(
        case,
        {"lower": 52.2, "upper": 56.4},
        CABINET_FLOWS | {"fan.right": -38},
        {"filter.intake": 31.2, "vent.side": 4.1, "baffle.shelf": 9.0, "leak.glands": 33.0},
        {"fan.left": (36.0, "normal")},
        {"controller": 61.5, "rectifier": 104.0, "choke": 84.0},
        totals=CABINET_TOTALS,
    )


def cabinet_odd() -> Solution:
    """Reversed, driven back and blanked: every unusual state of the cabinet's marks."""
    case = cabinet_case(
        Fan(name="spare", from_="upper", to="outside", type="axial", state="blanked",
            at="400 1800 mm"),
        Vent(name="shut", from_="outside", to="lower", area="0.02 m2", loss=2, state="blanked",
             at="800 500 mm"),
        Filter(name="gone", from_="outside", to="upper", area="0.02 m2", velocity_drop=MAT,
               state="removed", at="0 1300 mm"),
        Filter(name="mat", on="fan.left", area="0.01 m2", velocity_drop=MAT),
        Exchange(name="gap", between=("lower", "upper"), flow="7 m3/h"),
    ).with_changes({"fan.left.mounted": "reversed", "baffle.shelf.present": False})  # fmt: skip
    flows = CABINET_FLOWS | {"fan.left": -80, "fan.right": -22, "vent.side": -12, "filter.gone": 9}
    return invented(
        case,
        {"lower": 53.2, "upper": 62.4},
        flows | {"baffle.shelf": -31},
        {"filter.intake": 31.2, "vent.side": 4.1, "baffle.shelf": 9.0, "filter.mat": 7.0},
        {"fan.left": (36.0, "stall"), "fan.right": (80.0, "backflow")},
        {"controller": 59.1, "rectifier": 104.0, "choke": 84.0},
        exchanged={"gap": 12.0},
        stable=False,
    )


# --- card shelves ------------------------------------------------------------------------------


def shelf() -> Solution:
    """Ten cards side by side over a fan tray of three; an empty slot takes four times the air."""
    slots: list[Thing] = []
    for k in range(1, 11):
        slots.append(
            Slot(name=f"card-{k}", from_="below", to="above", gap="15 mm", width="220 mm",
                 length="160 mm", power="16 W", direction="up", free_ratio=0.6,
                 empty={"area": "0.006 m2", "loss": 2.69}, at=f"{45 * k - 7.5} 250 mm",
                 state="empty" if k in (4, 9) else "fitted")
        )  # fmt: skip
        if k not in (4, 9):
            slots.append(Part(name=f"cpu-{k}", in_=f"slot.card-{k}", power="9 W", limit="95 degC",
                              position=0.6))  # fmt: skip
    case = Enclosure.of(
        Body(size="480 x 400 x 250 mm"),
        Outside(temperature="35 degC", altitude="0 m"),
        Supply(name="dc", voltage="24 V"),
        fan_type(),
        Compartment(name="below", outline="0 0 480 170 mm", air_limit="50 degC"),
        Compartment(name="above", outline="0 330 480 110 mm", air_limit="60 degC"),
        *slots,
        *(Fan(name=f"tray-{k}", from_="outside", to="below", type="axial", supply="dc",
              at=f"{160 * k - 80} 0 mm") for k in (1, 2, 3)),
        Vent(name="top", from_="above", to="outside", area="0.02 m2", open_ratio=0.5,
             at="240 440 mm"),
        title="Card shelf, front view (invented data)",
    )  # fmt: skip
    each = {f"slot.card-{k}": 17.5 if k in (4, 9) else 4.0 + 0.11 * k for k in range(1, 11)}
    total, fitted = sum(each.values()), [k for k in range(1, 11) if k not in (4, 9)]
    fans = {f"fan.tray-{k}": total / 3 for k in (1, 2, 3)}
    return invented(
        case,
        {"below": 35.9, "above": 57.2},
        each | fans | {"vent.top": total},
        dict.fromkeys(each, 3.1) | {"vent.top": 2.2},
        dict.fromkeys(fans, (9.4, "normal")),
        {f"cpu-{k}": 71.0 + 1.3 * k for k in fitted},
        {f"slot.card-{k}": 58.0 + 0.4 * k for k in fitted},
        totals={"heat": 290.0, "volume_flow": total / 3600, "air_rise": 21.0},
    )


# --- other shapes ------------------------------------------------------------------------------


def outdoor() -> Solution:
    """A tall outdoor cabinet: ducts along their routes, walls, two surroundings, an exchange."""
    out, shade = "outside", "outside.shade"
    case = Enclosure.of(
        Body(size="700 x 2200 x 600 mm"),
        Outside(temperature="38 degC", altitude="1500 m"),
        Outside(name="shade", temperature="34 degC"),
        Supply(name="battery", voltage="48 V"),
        fan_type(),
        Compartment(name="battery", outline="0 0 700 600 mm", air_limit="45 degC"),
        Compartment(name="power", outline="0 600 700 700 mm", air_limit="60 degC"),
        Compartment(name="radio", outline="0 1300 700 500 mm", air_limit="65 degC"),
        Compartment(name="roof", outline="0 1800 700 300 mm"),
        Filter(name="door", from_=shade, to="power", area="0.06 m2", velocity_drop=MAT,
               at="0 800 mm"),
        Duct(name="riser", from_="battery", to="roof", length="1.6 m", diameter="80 mm",
             route=["620 350 mm", "620 1900 mm"]),
        Duct(name="spout", from_="roof", to=out, length="0.3 m", section="80 x 200 mm",
             at="700 1960 mm"),
        Fan(name="radio-1", from_="power", to="radio", type="axial", supply="battery",
            at="180 1300 mm"),
        Fan(name="radio-2", from_="power", to="radio", type="axial", supply="battery",
            at="380 1300 mm", speed=0.7),
        Opening(name="cable", from_="radio", to="roof", area="0.012 m2", at="250 1800 mm"),
        Vent(name="eaves", from_="roof", to=out, area="0.05 m2", loss=4, at="0 2000 mm"),
        Vent(name="sill", from_=shade, to="battery", area="0.01 m2", loss=4, at="0 120 mm"),
        Exchange(name="floor", between=("battery", "power"), flow="5 m3/h"),
        Wall(name="battery", from_="battery", to=out, faces=["front", "left"], u_value=5.5),
        Wall(name="partition", from_="power", to="battery", area="0.4 m2", u_value=3.0),
        Recirculation(name="down", from_="vent.eaves", to="filter.door", fraction=0.08),
        Part(name="cells", in_="battery", power="20 W", limit="45 degC", at="300 250 mm"),
        Part(name="rectifier-1", in_="power", power="60 W", limit="85 degC", at="150 950 mm"),
        Part(name="rectifier-2", in_="power", power="60 W", limit="85 degC", at="350 950 mm"),
        Part(name="sink", in_="radio", power="90 W", limit="80 degC", at="350 1500 mm"),
        Part(name="transistor", in_="part.sink", power="40 W", limit="150 degC"),
        title="Outdoor cabinet with battery (invented data)",
    )  # fmt: skip
    return invented(
        case,
        {"battery": 44.1, "power": 47.5, "radio": 55.8, "roof": 57.0},
        {"filter.door": 140, "duct.riser": 6, "duct.spout": 40, "fan.radio-1": 84,
         "fan.radio-2": 56, "opening.cable": 140, "vent.eaves": 106, "vent.sill": 6},
        {"filter.door": 22, "duct.riser": 0.4, "duct.spout": 6.0, "opening.cable": 9,
         "vent.eaves": 6, "vent.sill": 1.1},
        {"fan.radio-1": (33.0, "normal"), "fan.radio-2": (16.0, "stall")},
        {"cells": 44.6, "rectifier-1": 71.0, "rectifier-2": 73.2, "sink": 77.5,
         "transistor": 101.0},
        exchanged={"floor": -3.2},
        totals={"heat": 270.0, "wall_heat": -18.0, "volume_flow": 146 / 3600, "air_rise": 19.0},
    )  # fmt: skip


def plan() -> Solution:
    """Seen from above: four compartments side by side and one behind them all."""
    names = ("drive-a", "drive-b", "drive-c", "control")
    rooms = [Compartment(name=name, outline=f"{400 * k} 0 400 450 mm", air_limit="50 degC")
             for k, name in enumerate(names)]  # fmt: skip
    vents = [Vent(name=f"front-{k + 1}", from_="outside", to=name, area="0.02 m2", loss=3,
                  at=f"{400 * k + 200} 0 mm") for k, name in enumerate(names)]  # fmt: skip
    holes = [Opening(name=f"back-{k + 1}", from_=name, to="shaft", area="0.01 m2",
                     at=f"{400 * k + 120} 450 mm") for k, name in enumerate(names)]  # fmt: skip
    case = Enclosure.of(
        Body(size="1600 x 2000 x 650 mm", view="plan"),
        Outside(temperature="30 degC", altitude="200 m"),
        fan_type(),
        *rooms, *vents, *holes,
        Compartment(name="shaft", outline="0 450 1600 200 mm", air_limit="60 degC"),
        Fan(name="east", from_="shaft", to="outside", type="axial", at="1600 550 mm"),
        Fan(name="west", from_="shaft", to="outside", type="axial", at="0 550 mm",
            mounted="reversed"),
        Opening(name="door", from_="drive-a", to="drive-b", area="0.02 m2"),
        Part(name="inverter", in_="drive-a", power="300 W", limit="90 degC", at="200 250 mm"),
        title="Drive row seen from above (invented data)",
    )  # fmt: skip
    flows = {f"vent.front-{k}": 30.0 + k for k in range(1, 5)}
    flows |= {f"opening.back-{k}": 31.0 + k for k in range(1, 5)}
    return invented(
        case,
        {"drive-a": 44.0, "drive-b": 41.5, "drive-c": 47.9, "control": 33.0, "shaft": 42.5},
        flows | {"fan.east": 190, "fan.west": -55, "opening.door": -2.4},
        dict.fromkeys(flows, 5.0),
        {"fan.east": (30.0, "past-free-delivery"), "fan.west": (41.0, "normal")},
        {"inverter": 81.0},
    )


def names() -> Solution:
    """Very short and very long names, a very small compartment, parts without a place."""
    long = "transformer-compartment-behind-the-main-isolator-of-line-seven"
    case = Enclosure.of(
        Body(size="600 x 900 x 300 mm"),
        Outside(temperature="25 degC", altitude="0 m"),
        fan_type("f", None),
        Compartment(name="a", outline="0 0 600 300 mm", air_limit="50 degC"),
        Compartment(name=long, outline="0 300 520 600 mm", air_limit="40 degC"),
        Compartment(name="z", outline="520 300 80 600 mm"),
        Vent(name="i", from_="outside", to="a", area="0.02 m2", loss=3, at="0 100 mm",
             tag="-E1"),
        Opening(name="the-cable-entry-that-was-cut-open-during-commissioning-and-never-closed",
                from_="a", to=long, area="0.001 m2", at="100 300 mm"),
        Opening(name="n", from_=long, to="z", area="0.001 m2", at="520 600 mm"),
        Fan(name="fan-with-a-name-longer-than-any-sensible-designation-would-ever-be",
            from_=long, to="outside", type="f", at="260 900 mm", tag="-M1"),
        Leak(name="l", from_="z", to="outside", flow_at=["2 m3/h", "10 Pa"], at="600 500 mm"),
        Part(name="p", in_="a", power="1 W", limit="60 degC"),
        Part(name="part-with-a-name-that-does-not-fit-in-any-compartment-of-this-size-at-all",
             in_="a", power="1 W", limit="60 degC", at="300 150 mm"),
        Part(name="in-the-shaft", in_="z", power="1 W", limit="50 degC", at="560 700 mm"),
        *(Part(name=f"q{chr(97 + k)}", in_=long, power="1 W", limit="45 degC") for k in range(9)),
        title="A title that is longer than any line: the enclosure of the emergency supply "
              "behind the control room of the third machine hall (invented data)",
    )  # fmt: skip
    fan = "fan.fan-with-a-name-longer-than-any-sensible-designation-would-ever-be"
    hole = "opening.the-cable-entry-that-was-cut-open-during-commissioning-and-never-closed"
    return invented(
        case,
        {"a": 31.0, long: 43.0, "z": 24.0},
        {"vent.i": 60, hole: 55, "opening.n": 4, fan: 51, "leak.l": 4},
        {"vent.i": 3.0, hole: 12.0},
        {fan: (16.0, "normal")},
        {"p": 44.0, "in-the-shaft": 38.0} | {f"q{chr(97 + k)}": 38.0 + k for k in range(9)}
        | {"part-with-a-name-that-does-not-fit-in-any-compartment-of-this-size-at-all": 61.0},
    )  # fmt: skip


def lying() -> Solution:
    """A side view, laid on its back: marks in the front and the sides, elements in series."""
    case = Enclosure.of(
        Body(size="400 x 900 x 700 mm", view="side", up="left"),
        Outside(temperature="45 degC", pressure="95 kPa"),
        Supply(name="dc", voltage="24 V"),
        fan_type(),
        Compartment(name="foot", outline="0 0 700 400 mm", air_limit="60 degC"),
        Compartment(name="head", outline="0 400 450 500 mm", air_limit="60 degC"),
        Vent(name="flank", from_="outside", to="foot", area="0.02 m2", loss=3, at="350 180 mm"),
        Filter(name="flank-mat", on="vent.flank", area="0.02 m2", velocity_drop=MAT),
        Fan(name="door", from_="head", to="outside", type="axial", supply="dc", direction="right",
            at="220 700 mm"),
        Filter(name="door-mat", on="fan.door", area="0.02 m2", velocity_drop=MAT, fouling=1.6),
        Vent(name="louvre", from_="head", to="outside", area="0.01 m2", loss=3, at="120 520 mm"),
        Slot(name="sink", from_="foot", to="head", area="0.004 m2", loss=6, at="225 400 mm",
             direction="up", power="80 W", filler=None),
        Opening(name="bypass", from_="foot", to="head", area="0.002 m2"),
        Part(name="module", in_="slot.sink", power="60 W", limit="110 degC"),
        title="Drive with a cold plate, lying (invented data)",
    )  # fmt: skip
    return invented(
        case,
        {"foot": 48.0, "head": 59.2},
        {"vent.flank": 70, "fan.door": 60, "vent.louvre": 10, "slot.sink": 55,
         "opening.bypass": 15},
        {"vent.flank": 4.0, "filter.flank-mat": 16.0, "filter.door-mat": 12.0, "vent.louvre": 2.0,
         "slot.sink": 8.8, "opening.bypass": 8.8},
        {"fan.door": (38.0, "normal")},
        {"module": 99.0},
        {"slot.sink": 61.0},
    )  # fmt: skip


def unplaced() -> Solution:
    """No outline at all."""
    case = Enclosure.of(
        Outside(temperature="20 degC"),
        fan_type(),
        Compartment(name="inlet-plenum"),
        Compartment(name="module"),
        Compartment(name="outlet-plenum", air_limit="50 degC"),
        Vent(name="grille", from_="outside", to="inlet-plenum", area="0.02 m2", loss=3),
        Slot(name="fins", from_="inlet-plenum", to="module", area="0.004 m2", loss=4),
        Opening(name="past", from_="inlet-plenum", to="module", area="0.001 m2"),
        Opening(name="around", from_="inlet-plenum", to="outlet-plenum", area="0.002 m2"),
        Opening(name="exit", from_="module", to="outlet-plenum", area="0.01 m2"),
        Fan(name="exhaust", from_="outlet-plenum", to="outside", type="axial"),
        Part(name="chip", in_="module", power="50 W", limit="80 degC"),
        title="Module without a drawing (invented data)",
    )
    return invented(
        case,
        {"inlet-plenum": 20.4, "module": 36.0, "outlet-plenum": 31.0},
        {"vent.grille": 30, "slot.fins": 12, "opening.past": 6, "opening.around": 12,
         "opening.exit": 18, "fan.exhaust": 30},
        {"vent.grille": 1.0, "slot.fins": 9.0, "opening.past": 9.0, "opening.around": 12.0},
        {"fan.exhaust": (16.0, "normal")},
        {"chip": 66.0},
    )  # fmt: skip


def half_placed() -> Solution:
    """Outlines of some compartments only, and two that lie one over the other."""
    case = Enclosure.of(
        Body(size="600 x 1000 x 300 mm"),
        Outside(temperature="30 degC", altitude="0 m"),
        fan_type(),
        Compartment(name="front", outline="0 0 600 600 mm", air_limit="55 degC"),
        Compartment(name="rear", outline="0 0 600 600 mm", air_limit="60 degC"),
        Compartment(name="hood"),
        Vent(name="door", from_="outside", to="front", area="0.03 m2", loss=3, at="0 200 mm"),
        Opening(name="gap", from_="front", to="rear", area="0.02 m2", at="420 150 mm"),
        Opening(name="top", from_="rear", to="hood", area="0.02 m2"),
        Fan(name="hood", from_="hood", to="outside", type="axial"),
        Leak(name="lid", from_="hood", to="outside", flow_at=["2 m3/h", "10 Pa"]),
        title="Front and rear bay (invented data)",
    )
    return invented(
        case,
        {"front": 34.0, "rear": 47.0, "hood": 47.5},
        {"vent.door": 80, "opening.gap": 80, "opening.top": 80, "fan.hood": 77, "leak.lid": 3},
        {"vent.door": 4.0, "opening.gap": 8.0, "opening.top": 8.0},
        {"fan.hood": (22.0, "normal")},
    )


SAMPLES = {
    "cabinet": cabinet, "cabinet-hot": cabinet_hot, "cabinet-odd": cabinet_odd, "shelf": shelf,
    "outdoor": outdoor, "plan": plan, "names": names, "lying": lying, "unplaced": unplaced,
    "half-placed": half_placed,
}  # fmt: skip
