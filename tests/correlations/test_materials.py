"""The table of materials against the tables of the library `ht`."""

from __future__ import annotations

import ht.insulation
import pytest

from flownet.physics.materials import ASHRAE, EN_12524, MATERIALS
from flownet.physics.registry import COMMON_PRACTICE
from tests.each import every

LIBRARY = {
    "steel": "Metals, steel",
    "stainless steel": "Metals, stainless steel",
    "cast iron": "Metals, iron, cast",
    "aluminium": "Metals, aluminium alloys",
    "copper": "Metals, copper",
    "brass": "Metals, brass",
    "polycarbonate": "Plastics, polycarbonates",
    "acrylic glass": "Plastics, polymethylmethacrylate (PMMA)",
    "PVC": "Plastics, Polyvinylchloride (PVC)",
    "polypropylene": "Plastics, polypropylene",
    "polystyrene": "Plastics, polystyrene",
    "polyamide with glass fibre": "Plastics, polyamide 6.6 with 25% glass fibre",
    "epoxy resin": "Plastics, epoxy resin",
    "glass": "Glass, soda lime",
    "plywood": "Wood, plywood 500 kg/m^3",
    "particleboard": "Wood, particleboard, 600 kg/m^3",
    "polyurethane foam": "Sealant, polyurethane (PU) foam",
    "mineral wool": "Mineral wool, felted, 32 kg/m^3",
}


@every("name", MATERIALS)
def test_material_is_that_of_its_source_or_says_it_has_none(name):
    """EN 12524 and ASHRAE values as the library transcribes them."""
    material = MATERIALS[name]
    if material.source == COMMON_PRACTICE:
        assert name not in LIBRARY
        assert 0.1 < material.conductivity < 0.5, "a plastic"
        return
    standard = LIBRARY[name] in ht.insulation.building_materials
    assert material.source == (EN_12524 if standard else ASHRAE)
    assert material.conductivity == ht.insulation.k_material(LIBRARY[name])
    assert material.heat_capacity == ht.insulation.Cp_material(LIBRARY[name])


def test_the_table_is_closed():
    with pytest.raises(TypeError):
        MATERIALS["unobtainium"] = MATERIALS["steel"]
