"""Enclosures at the edges of what pictures of air have to show (invented data)."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

from flownet import (
    Body,
    Compartment,
    Enclosure,
    Fan,
    FanType,
    Filter,
    Leak,
    Opening,
    Outside,
    Part,
    Slot,
    Vent,
    Wall,
)

AXIAL = FanType(name="axial", flow_area="79 cm2", curve={
    "flow": "0 60 120 m3/h", "rise": "60 40 0 Pa"})  # fmt: skip
OUT = Outside(temperature="30 degC")


def chain(count: int) -> Enclosure:
    """Bays one behind the other; some draw from a second surrounding under pressure."""
    names = [f"bay-{i}" for i in range(1, count + 1)]
    return Enclosure.of(
        OUT, Outside(name="rear", temperature="35 degC", over_pressure="2 Pa"), AXIAL,
        *(Compartment(name=name) for name in names),
        Filter(name="mat", from_="outside", to="bay-1", area="0.05 m2", loss=20),
        *(Opening(name=f"{a}-to-{b}", from_=a, to=b, area="0.02 m2")
          for a, b in pairwise(names)),
        *(Vent(name=f"v-{x}", from_="outside.rear", to=x, area="0.002 m2", loss=3)
          for x in names[1::3]),
        Opening(name="bypass", from_="bay-2", to=names[-2], area="0.003 m2"),
        Fan(name="out", from_=names[-1], to="outside", type="axial"),
        Part(name="p", in_="bay-2", power="80 W"), title="Chain (invented data)",
    )  # fmt: skip


def closed(*more: Any) -> Enclosure:
    """A circle of three places without outside air."""
    return Enclosure.of(
        OUT, AXIAL, *(Compartment(name=name) for name in ("cold", "hot", "back")),
        Fan(name="mix", from_="cold", to="hot", type="axial"),
        Opening(name="up", from_="hot", to="back", area="0.01 m2"),
        Opening(name="down", from_="back", to="cold", area="0.01 m2"),
        Wall(name="skin", from_="hot", to="outside", area="1 m2", u_value="5 W/(m2 K)"),
        Part(name="p", in_="hot", power="20 W"), *more, title="Circle (invented data)",
    )  # fmt: skip


def loop() -> Enclosure:
    """The same with a filter, a leak and a way out: part of the air comes round again."""
    return closed(
        Filter(name="mat", from_="outside", to="cold", area="0.02 m2", loss=40),
        Leak(name="seam", from_="outside", to="hot", flow_at=["3 m3/h", "10 Pa"]),
        Fan(name="out", from_="hot", to="outside", type="axial"),
    )


def rack(count: int, **out: Any) -> Enclosure:
    """Slots that go every way, with long names, fillers, limits of air, and many parts in some."""
    things: list[Any] = []
    for i in range(1, count + 1):
        name = f"a-long-name-of-a-card-{i}" if i % 5 == 0 else f"card-{i}"
        things.append(Slot(
            name=name, from_="front", to="rear-compartment", gap="10 mm", width="100 mm",
            length="150 mm", power="10 W", direction=("up", "left", "back", "down")[i % 4],
            air_limit="40 degC" if i % 3 == 0 or i == 4 else None,
            state="filler" if i == 4 else "fitted",
            filler={"area": "4 cm2", "loss": 4.0}))  # fmt: skip
        if i in (2, 7):
            things += [Part(name=f"part-with-long-name-{i}-{k}", in_=f"slot.{name}", power="3 W",
                            resistance=f"{4 + 2 * k} K/W", limit="70 degC",
                            position=0.5 + 0.03 * k) for k in range(6)]  # fmt: skip
    return Enclosure.of(
        Body(size="800 x 600 x 400 mm"), OUT, AXIAL, Compartment(name="front"),
        Compartment(name="rear-compartment"),
        Vent(name="in", from_="outside", to="front", area="0.05 m2", loss=3),
        Fan(name="out", from_="rear-compartment", to="outside", type="axial", **out), *things,
        Part(name="sink", in_="slot.card-3", position=0.2, power="5 W", resistance="2 K/W"),
        Part(name="chip", in_="part.sink", power="6 W", resistance="1 K/W", limit="60 degC"),
        title="Rack (invented data)",
    )  # fmt: skip
