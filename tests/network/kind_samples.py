"""Things of every kind, and what their elements do in plain air."""

from __future__ import annotations

import dataclasses
from typing import Any

import numpy as np

from flownet.columns import Inputs
from flownet.enclosure import enclosure as w
from flownet.equations import elements
from flownet.equations.laws import in_series
from flownet.physics.air import Air

ENDS = {"from_": "outside", "to": "box"}
POINTS = [(0.5, 18.0), (1.0, 42.0), (2.0, 108.0)]
CURVE = [(0.0, 78.0), (60 / 3600, 52.0), (110 / 3600, 55.0), (170 / 3600, 0.0)]
AREA = 0.0095
HOLE = {"area": 2e-3, "loss": 6.0}
FAN_TYPE = w.FanType(name="axial", curve=CURVE, flow_area=AREA, power=19.0, rated_speed="2800 rpm",
                     freewheel_loss=4.0)  # fmt: skip
SPARE = w.FanType(name="spare", curve=[(0.0, 50.0), (0.05, 0.0)], flow_area=0.011, power=9.0,
                  freewheel_loss=3.0)  # fmt: skip
STILL = dict.fromkeys(("density", "at_start", "at_end"), 1.2)


def inputs(*items: Any) -> Inputs:
    return Inputs.of(w.Enclosure.of(w.Compartment(name="box"), *items))


def made(item: Any, *others: Any) -> elements.Element:
    """The element of one thing."""
    named = dataclasses.replace(item, name=item.name or "x")
    return elements.element(inputs(named, *others), item.KIND)


def air(width: int = 1, **changed: float) -> Air:
    values = STILL | {"viscosity": 1.81e-5} | changed
    return Air(*(np.full((1, width), values[name]) for name in Air._fields))


def drop(element: elements.Element, flow: float, here: Air | None = None) -> np.ndarray:
    """(elements, variants) of all laws in series."""
    here = air() if here is None else here
    return in_series(element.laws, np.full((len(element.area), 1), flow), here)[0]


def loss(element: elements.Element, flow: float = 1.0) -> float:
    """K of a single element's drop on its area, at a high Reynolds number."""
    velocity = flow / (1.2 * element.area.item() * element.count.item())
    return drop(element, flow).item() / (1.2 * velocity**2 / 2)


def fan(**keys: Any) -> w.Fan:
    return w.Fan(**{"name": "f", "from_": "box", "to": "outside", "type": "axial"} | keys)


def blown(element: elements.Element, flow: float, here: Air | None = None) -> float:
    """Rise of one fan at a volume flow the way it blows, in air of 1.2 kg/m3."""
    sign = -1.0 if element.reversed.item() else 1.0
    here = air() if here is None else here
    density = here.at_end if element.reversed.item() else here.at_start
    return element.fan.rise(sign * density * flow, here).item()
