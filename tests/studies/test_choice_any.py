"""What "any" stands for in a choice, and what a choice says of blanked fans."""

from __future__ import annotations

import numpy as np
import pytest

import flownet
from flownet.schema.errors import CaseError
from flownet.studies.choice.study import choose_options
from tests.studies.test_choice import ANY, BOX

OTHERS = """
[supply.s]
voltage = "24 V"

[fan_type.mains]
like = "large"
supply = "230 V 50 Hz"
noise_dBA = 20

[fan_type.sleeve]
like = "large"
bearing = "sleeve"
noise_dBA = 21
"""
FED = BOX.replace('type = "small"', 'type = "small"\nsupply = "s"\ndirection = "up"')


def test_any_leaves_out_what_supply_or_shaft_forbid(read):
    """What a 24 V feed or an upright shaft forbids is excluded by a choice for the place too."""
    case = read(FED + OTHERS + ANY)
    found = choose_options(case, best="noise")
    assert [axis.values for axis in found.axes] == [("small", "large")]
    told = {item.type: [reason.kind for reason in item.reasons] for item in found.unfit}
    assert {name: set(kinds) for name, kinds in told.items()} == {
        "mains": {"supply"}, "sleeve": {"shaft"},
    }  # fmt: skip
    place = flownet.choose(case, "fan.*")
    assert {item.type for item in place.excluded if not item.solved} == set(told)
    assert found.verdicts()[-1] == "2 types are not tried at fan.* (1 supply, 1 shaft)"
    assert {item["type"] for item in found.to_dict()["not_tried"]} == set(told)


def test_a_list_is_tried_as_it_stands_and_a_varied_supply_forbids_nothing(read):
    listed = ANY.replace('"any"', '["small", "mains"]')
    found = choose_options(read(FED + OTHERS + listed), best="noise")
    assert (found.axes[0].values, found.unfit) == (("small", "mains"), ())
    varied = ANY + 'supply.s.voltage = ["24 V", "230 V"]\n'
    found = choose_options(read(FED + OTHERS + varied), best="noise")
    assert [item.type for item in found.unfit] == ["sleeve"]


def test_no_type_for_the_supply_is_said(read):
    text = FED + OTHERS.replace('"24 V"', '"110 V"') + ANY
    with pytest.raises(CaseError, match=r"and none can be used there \(4 supply\); such as small"):
        choose_options(read(text))


def test_free_values_beside_a_blanked_fan_that_has_a_life(read):
    """A blanked fan has no life, so no limit of it counts: nothing else may be said of it."""
    life = 'life = { hours = 40000, at = "40 degC", kind = "L10", factor_per_10K = 1.5 }'
    text = BOX.replace("price = 12.0", f"price = 12.0\n{life}")
    text = text.replace("[limits]", "[limits]\nfan_life_hours = 39000")
    text += """
[choice.hole]
best = "noise"
fan.left.state = ["running", "blanked"]
vent.low.area = "60 to 140 cm2"
"""
    found = choose_options(read(text), scenarios=["warm"], levels=3)
    assert found.way == "grid"
    for option in found.ranked:
        alone = flownet.solve(found.case.with_changes(option.changes), scenario="warm")
        assert all(np.isnan(i.margin) or i.margin >= 0 for i in alone.limits) == option.holds
