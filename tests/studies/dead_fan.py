"""Two equal exhaust fans with straight curves on a box with one vent: one dead, by closed form.

Invented data. Nothing is heated, so one density holds everywhere, and it is that of the curve. The
box draws through the vent and through the dead fan's hole, both K rho v^2/2, so with a suction p
the flow through the running fan is C sqrt(p), C the sum of A sqrt(2/(rho K)) of both. Its curve is
p0 (1 - Q/Q0); with Q = C sqrt(p) that is a quadratic equation in sqrt(p).
"""

from __future__ import annotations

import math
from typing import Any, NamedTuple

from flownet.enclosure.branches import Vent
from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.fans import Fan, FanType
from flownet.enclosure.surroundings import Compartment, Outside
from flownet.physics import air

SHUT_OFF, FREE = 60.0, 0.05  # Pa, m3/s
AREA, STOPPED = 0.008, 10.0  # of the fan, K of its stopped rotor
VENT, LOSS = 0.012, 2.5
TEMPERATURE, PRESSURE = 293.15, 101325.0
DENSITY = float(air.density(TEMPERATURE, PRESSURE))


def box(speed_range: tuple[float, float] | None = (0.3, 1.25), **fan: Any) -> Enclosure:
    """The box, both fans running at rated speed."""
    axial = FanType(
        name="axial", curve=[(0.0, SHUT_OFF), (FREE, 0.0)], flow_area=AREA, rated_speed=50.0,
        reference_density=DENSITY, stopped_loss=STOPPED, speed_range=speed_range,
    )  # fmt: skip
    return Enclosure.of(
        Outside(temperature=TEMPERATURE, pressure=PRESSURE), Compartment(name="box"), axial,
        Vent(name="low", from_="outside", to="box", area=VENT, loss=LOSS),
        *(Fan(name=n, from_="box", to="outside", type="axial", **fan) for n in ("left", "right")),
        title="two fans, one dead, invented data",
    )  # fmt: skip


class Crossing(NamedTuple):
    """What the closed form says."""

    suction: float
    running: float  # flow through the fan that runs
    back: float  # through the dead one


def conductance(area: float, loss: float) -> float:
    """Q over sqrt(p) of a hole."""
    return area * math.sqrt(2 / (DENSITY * loss))


def crossing(dead_loss: float | None, speed: float = 1.0) -> Crossing:
    """One fan at a speed ratio, the other standing with this loss; None: its hole is closed.

    Speed by the fan laws (ISO 5801): flow as the speed, pressure as its square.
    """
    hole = 0.0 if dead_loss is None else conductance(AREA, dead_loss)
    total = conductance(VENT, LOSS) + hole
    shut_off, free = SHUT_OFF * speed**2, FREE * speed
    half = shut_off * total / free / 2
    root = -half + math.sqrt(half * half + shut_off)
    return Crossing(root * root, total * root, hole * root)
