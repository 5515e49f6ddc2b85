"""Materials of walls and parts: a closed table, each row with its source."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import NamedTuple

import numpy as np

from flownet.physics.registry import COMMON_PRACTICE
from flownet.schema.arrays import Array

EN_12524 = "EN 12524:2000, Building materials and products - tabulated design values"
ASHRAE = "ASHRAE Handbook: Fundamentals, thermal properties of building and insulating materials"


class Material(NamedTuple):
    """What a wall or a part is made of, at room temperature."""

    conductivity: float  # W/(m K)
    heat_capacity: float  # J/(kg K)
    source: str


MATERIALS: Mapping[str, Material] = MappingProxyType(
    {
        "steel": Material(50.0, 450.0, EN_12524),
        "stainless steel": Material(17.0, 460.0, EN_12524),
        "cast iron": Material(50.0, 450.0, EN_12524),
        "aluminium": Material(160.0, 880.0, EN_12524),
        "copper": Material(380.0, 380.0, EN_12524),
        "brass": Material(120.0, 380.0, EN_12524),
        "polycarbonate": Material(0.2, 1200.0, EN_12524),
        "acrylic glass": Material(0.18, 1500.0, EN_12524),
        "PVC": Material(0.17, 900.0, EN_12524),
        "polypropylene": Material(0.22, 1800.0, EN_12524),
        "polystyrene": Material(0.16, 1300.0, EN_12524),
        "polyamide with glass fibre": Material(0.3, 1600.0, EN_12524),
        "epoxy resin": Material(0.2, 1400.0, EN_12524),
        "ABS": Material(0.18, 1400.0, COMMON_PRACTICE),
        "glass-fibre reinforced polyester": Material(0.3, 1200.0, COMMON_PRACTICE),
        "glass": Material(1.0, 750.0, EN_12524),
        "plywood": Material(0.13, 1600.0, EN_12524),
        "particleboard": Material(0.14, 1700.0, EN_12524),
        "polyurethane foam": Material(0.05, 1500.0, EN_12524),
        "mineral wool": Material(0.04, 840.0, ASHRAE),
    }
)
"""By the name a case file uses. Paint is a film of some 0.1 mm: it changes the emissivity of sheet
metal, not its conductivity, and painted sheet is entered as the metal."""


def of_materials(key: str, codes: Array) -> Array:
    """A value of materials by their place in the table; NaN for -1, none."""
    known = np.array([*(getattr(each, key) for each in MATERIALS.values()), np.nan])
    found: Array = known[codes.real.astype(int)]
    return found
