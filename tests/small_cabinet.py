"""A small cabinet with most kinds of things, quick to solve (invented data)."""

from __future__ import annotations

from flownet.enclosure.branches import Filter, Leak, Opening, Slot, Vent
from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.fans import Fan, FanType
from flownet.enclosure.heat import Part
from flownet.enclosure.surroundings import Compartment, Outside, Supply

CURVE = {"flow": "0 60 110 170 m3/h", "rise": "78 52 44 0 Pa"}


def cabinet(**rest):
    """Two compartments, two fans on one supply, types for slots (invented data)."""
    axial = FanType(
        name="axial", curve=CURVE, flow_area="95 cm2", supply="230 V 50 Hz", power="19 W",
        rated_speed="2800 rpm", noise_dBA=44, origin="invented data",
        rating={"sixty": {"supply": "230 V 60 Hz", "power": 23.0}},
    )  # fmt: skip
    line = {"gap": 0.015, "width": 0.22, "length": 0.16, "power": 16.0}
    return Enclosure.of(
        Outside(temperature="40 degC", altitude="900 m"), Outside(name="aisle", temperature=318.15),
        Supply(name="mains", voltage="230 V", frequency="50 Hz"),
        Compartment(name="low", outline="0 0 800 900 mm", air_limit="55 degC"),
        Compartment(name="high", outline="0 900 800 900 mm"), axial,
        Filter(name="mat", from_="outside", to="low", area="0.045 m2",
               velocity_drop={"velocity": "0.5 1 2 m/s", "drop": "18 42 108 Pa"}),
        Slot(name="a", from_="low", to="high", type="line", given=frozenset(), **line),
        Slot(name="b", from_="low", to="high", area=0.004, loss=3.0),
        Vent(name="roof", from_="high", to="outside", area=0.002, loss=2.5),
        Leak(name="seal", from_="outside", to="low", flow_at=("2 m3/h", "10 Pa")),
        Opening(name="gap", from_="outside.aisle", to="low", area="5 cm2"),
        Part(name="drive", in_="high", power="180 W", resistance="0.28 K/W", limit="110 degC"),
        Fan(name="left", from_="high", to="outside", type="axial", supply="mains"),
        Fan(name="right", from_="high", to="outside", type="axial", supply="mains"),
        title="cabinet",
        types={"slot_type": {"line": line, "wide": {**line, "gap": 0.03, "power": 5.0}}},
        scenarios={"hot": {"outside.temperature": "50 degC"}, "dirty": {"filter.*.fouling": 2.0},
                   "cool": {"outside.temperature": "20 degC"}},
        variants={"slow": {"fan.*.speed": 0.7}}, **rest,
    )  # fmt: skip


CASE = cabinet()
