"""Cases whose temperatures are straight lines in what is off, and tolerances as a file has them.

A box without air flow: heat leaves through a wall of given U alone, so the air is at
T_out + (P_a + P_b)/(U A) and a part R P above it. Invented data.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from types import MappingProxyType
from typing import Any

from scipy import stats

from flownet.enclosure.branches import Vent
from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.fans import Fan, FanType
from flownet.enclosure.heat import Part, Wall
from flownet.enclosure.ranges import tolerance
from flownet.enclosure.surroundings import Compartment, Outside, Supply

QUANTILE = stats.norm.ppf(0.975)  # standard deviations that hold 95 of 100
TOLERANCES = {"part.a.power": "10 %", "part.b.power": "20 %"}
OUTSIDE, U_VALUE, AREA = 300.0, 5.0, 1.0
POWERS = {"a": 60.0, "b": 80.0}
RESISTANCE = 0.1  # of part a
AIR = OUTSIDE + sum(POWERS.values()) / (U_VALUE * AREA)  # 328 K


def stated(case: Enclosure, raw: Mapping[str, Any]) -> Enclosure:
    """The case with these tolerances."""
    ordered = sorted(raw.items(), key=lambda pair: "*" not in pair[0])
    read = {path: tolerance(case, path, value) for path, value in ordered}
    return dataclasses.replace(case, studies=MappingProxyType({"tolerance": read}))


def box(
    raw: Mapping[str, Any], *others: Any, limit: float | None = None, copies: int = 0
) -> Enclosure:
    """The box with parts a and b, and `copies` more like b; `limit` is that of part a."""
    keys = {} if limit is None else {"limit": limit}
    made = Enclosure.of(
        Outside(temperature=OUTSIDE), Compartment(name="box"),
        Wall(name="skin", from_="box", to="outside", area=AREA, u_value=U_VALUE),
        Part(name="a", in_="box", power=POWERS["a"], resistance=RESISTANCE, **keys),
        Part(name="b", in_="box", power=POWERS["b"]),
        *(Part(name=f"c-{i}", in_="box", power=POWERS["b"]) for i in range(copies)),
        *others, title="invented data",
    )  # fmt: skip
    return stated(made, raw)


def rated_fan(**rating: Any) -> Enclosure:
    """A fan on 60 Hz of a type with a rating for it, invented data."""
    return Enclosure.of(
        Outside(temperature=293.15), Compartment(name="box"),
        Supply(name="mains", voltage=230.0, frequency=60.0),
        Vent(name="hole", from_="outside", to="box", area=0.01, loss=2.5),
        Fan(name="first", from_="box", to="outside", type="axial", supply="mains"),
        FanType(name="axial", curve=[(0, 100.0), (0.05, 0)], flow_area=0.0095, noise_dBA=45.0,
                supply="230 V 50 Hz", rating={"sixty": {"supply": "230 V 60 Hz", **rating}}),
        title="invented",
    )  # fmt: skip


def fan_box(**keys: Any) -> Enclosure:
    """A part in a box with a hole and one fan, invented data."""
    return Enclosure.of(
        Outside(temperature=293.15), Compartment(name="box"),
        Vent(name="hole", from_="outside", to="box", area=0.01, loss=2.5),
        Fan(name="first", from_="box", to="outside", type="axial", **keys),
        FanType(name="axial", curve=[(0, 100.0), (0.05, 0)], flow_area=0.0095,
                rated_speed="2500 rpm", speed_range=(0.4, 1.0)),
        Part(name="load", in_="box", power=20.0, resistance=0.5, limit=400.0), title="invented",
    )  # fmt: skip
