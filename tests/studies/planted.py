"""A small rack that holds, and twelve faults, each one change of it (invented data)."""

from __future__ import annotations

from typing import Any, NamedTuple

RACK = """
title = "Rack of twelve faults"
[outside]
temperature = "40 degC"
[supply.mains]
voltage = "230 V"
frequency = "50 Hz"
[supply.control]
voltage = "24 V"
[compartment.low]
[compartment.middle]
[compartment.high]
[vent.front]
from = "outside"
to = "low"
area = "150 cm2"
open_ratio = 0.6
[filter.mat]
on = "vent.front"
area = "300 cm2"
velocity_drop = { velocity = "0.5 1 2 m/s", drop = "8 19 50 Pa" }
fouling = 1.0
[opening.gap]
from = "outside"
to = "middle"
area = "60 cm2"
state = "blanked"
[slot.card]
copies = 3
from = "low"
to = "middle"
area = "35 cm2"
loss = 4.0
power = "20 W"
filler = { area = "25 cm2", loss = 4.0 }
empty = { area = "140 cm2", loss = 2.0 }
[slot.card-3]
state = "filler"
[baffle.shelf]
from = "middle"
to = "high"
open_area = "25 cm2"
cross_section = "400 cm2"
present = false
[recirculation.round]
from = "fan.right"
to = "vent.front"
fraction = 0.0
[fan.left]
from = "high"
to = "outside"
type = "good"
supply = "mains"
shutter = { open_loss = 0.5, closed_leak = 0.02 }
clearance = { inlet = "60 mm" }
[fan.right]
like = "left"
[part.chip]
in = "slot.card-1"
power = "10 W"
resistance_over_velocity = { velocity = "0.5 1 2 4 m/s", resistance = "2.4 1.7 1.2 0.85 K/W" }
limit = "54.5 degC"
[part.heater]
in = "high"
power = "120 W"
resistance = "0.1 K/W"
limit = "100 degC"
[limits]
margin = "1 K"
scenarios = ["base", "each-fan-out"]
[fan_type.good]
curve = { flow = "0 60 110 160 m3/h", rise = "80 60 42 0 Pa" }
flow_area = "79 cm2"
frame = "119 x 38 mm"
supply = "230 V 50 Hz"
power = "15 W"
[fan_type.weak]
curve = { flow = "0 30 60 90 m3/h", rise = "30 22 14 0 Pa" }
flow_area = "79 cm2"
frame = "119 x 38 mm"
supply = "230 V 50 Hz"
power = "8 W"
"""


class Planted(NamedTuple):
    """A fault, and what undoes it."""

    name: str
    fault: dict[str, Any]  # changes of the rack; of what no change reaches see `moved`
    cure: str  # the path that a proposal must change
    scenario: str = "fan.left-out"


FAULTS = (
    Planted("undersized vent", {"vent.front.area": "40 cm2"}, "vent.front.area"),
    Planted("wrong fan", {"fan.*.type": "weak"}, "fan.right.type"),
    Planted("reversed fan", {"fan.right.mounted": "reversed"}, "fan.right.mounted"),
    Planted("open slot", {"slot.card-3.state": "empty"}, "slot.card-3.state"),
    Planted("bypass leak", {"opening.gap.state": "open"}, "opening.gap.state"),
    Planted("dirty filter", {"filter.mat.fouling": 8.0}, "filter.mat.fouling"),
    Planted("missing shutter", {"fan.*.shutter": None}, "fan.left.shutter"),
    Planted("baffle in the way", {"baffle.shelf.present": True}, "baffle.shelf.present"),
    Planted("wrong supply", {"fan.right.supply": "control"}, "fan.right.supply"),
    Planted("exhaust near intake", {"recirculation.round.fraction": 0.5},
            "recirculation.round.fraction"),
    Planted("undersized plenum", {"fan.*.clearance.inlet": "9 mm"}, "fan.right.clearance.inlet"),
    Planted("hot part in the wrong place", {}, "part.heater.in"),
)  # fmt: skip
MISPLACED = RACK.replace('[part.heater]\nin = "high"', '[part.heater]\nin = "low"')
