"""Areas so small that a unit has probably slipped."""

from __future__ import annotations

import math
from typing import NamedTuple

from flownet.enclosure.enclosure import Enclosure
from flownet.schema.fields import given

SMALLEST = 5e-7  # m2: a hole of 0.8 mm; what is made for air is larger
KEYS = ("area", "open_area", "flow_area")


class Tiny(NamedTuple):
    """An area that is too small to be meant."""

    path: str  # of the value
    area: float  # m2

    @property
    def text(self) -> str:
        """The area with the digits it takes: in units of ducts it would be 0."""
        return f"{self.area * 1e6:.3g} mm2"


def tiny_areas(case: Enclosure) -> list[Tiny]:
    """Areas that air passes, of branches and of the types of fans, below `SMALLEST`."""
    types = dict.fromkeys(fan.type for fan in case.fans.values())
    items = [*case.branches.values(), *(case.things["fan_type"][name] for name in types)]
    return [
        Tiny(f"{item.path}.{key}", area)
        for item in items for key in KEYS
        if given(area := getattr(item, key, math.nan)) and area < SMALLEST
    ]  # fmt: skip
