"""Boxes without heat whose fans and losses are plain formulas."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

from flownet import Compartment, Enclosure, Fan, FanType, Opening, Outside
from flownet.schema.component import Thing

PRESSURE, TEMPERATURE = 101325.0, 293.15
DENSITY = PRESSURE / (287.05 * TEMPERATURE)  # of the air everywhere here [kg/m3]
AREA = 0.008  # of a fan [m2]


def air(**changed: Any) -> Outside:
    """The surroundings of all boxes here."""
    return Outside(**{"temperature": TEMPERATURE, "pressure": PRESSURE, **changed})


def kind(
    name: str, law: Callable[[Any], Any], free: float, points: int = 2, **more: Any
) -> FanType:
    """A fan type by the formula of its rise at the density of the box [Pa], m3/s."""
    flow = np.linspace(0.0, free, points)
    curve = tuple((float(x), max(float(law(x)), 0.0)) for x in flow)
    given = {
        "curve": curve,
        "flow_area": AREA,
        "reference_density": DENSITY,
        "rated_speed": "3000 rpm",
    }
    return FanType(name=name, **{**given, **more})


def hole(name: str, source: str, target: str, factor: float) -> Opening:
    """A square-law loss of `factor` Q^2 [Pa s2/m6]."""
    return Opening(name=name, from_=source, to=target, area=0.01,
                   loss=factor * 2 * 0.01**2 / DENSITY)  # fmt: skip


def out(name: str, type_: str, **more: Any) -> Fan:
    """A fan that draws from the box."""
    return Fan(**{"name": name, "from_": "box", "to": "outside", "type": type_, **more})


def box(factor: float, *things: Thing, **rest: Any) -> Enclosure:
    """A box with one hole of `factor` Q^2."""
    return Enclosure.of(air(), Compartment(name="box"), hole("in", "outside", "box", factor),
                        *things, **rest)  # fmt: skip


def path(factor: float, *things: Thing, **rest: Any) -> Enclosure:
    """Two boxes with one hole of `factor` Q^2 between them: for a fan at either end."""
    return Enclosure.of(air(), Compartment(name="mid"), Compartment(name="box"),
                        hole("between", "mid", "box", factor), *things, **rest)  # fmt: skip
