"""The limit of the air that leaves a slot, against the energy balance of its air."""

from __future__ import annotations

import pytest

import flownet
from flownet.physics.air import HEAT_CAPACITY
from flownet.schema.errors import NoSolution
from tests.casefile.small import BASE, load

SLOTS = BASE.replace("100 cm2", "1 cm2").replace("1 cm2", "100 cm2", 1) + (
    '[outside]\ntemperature = "30 degC"\n[slot.card]\ncopies = 3\nfrom = "box"\nto = "top"\n'
    'type = "line"\n[slot.card-3]\nair_limit = "33 degC"\n[slot_type.line]\ngap = "15 mm"\n'
    'width = "200 mm"\nlength = "160 mm"\npower = "40 W"\nair_limit = "50 degC"\n'
    'filler = { area = "20 cm2", loss = 4.0 }\n[part.q]\nin = "slot.card"\ncopies = 3\n'
    'power = "5 W"\n[scenario.back]\nfan.left.mounted = "reversed"\n'
    '[scenario.sparse]\nslot.card-2.state = "filler"\n'
    '[scenario.strict]\n"slot.*.air_limit" = "- 20 K"\n'
)


def limits(solution):
    return {item.subject: item for item in solution.limits if item.subject.startswith("slot.")}


@pytest.mark.parametrize("scenario", ["base", "back"])
def test_the_air_that_leaves_has_taken_up_the_heat_whichever_way_it_goes(tmp_path, scenario):
    """Conservation of energy: 45 W into the flow of each slot, on top of what comes to it."""
    found = flownet.solve(load(tmp_path, SLOTS), scenario=scenario)
    before = found.compartments["box" if scenario == "base" else "top"].temperature
    bounds = {"slot.card-1": 323.15, "slot.card-2": 323.15, "slot.card-3": 306.15}
    assert list(limits(found)) == list(bounds)
    for path, item in limits(found).items():
        flow = found.mass_flow(path)
        assert (flow > 0) == (scenario == "base")
        leaving = before + 45.0 / (HEAT_CAPACITY * abs(flow))
        assert item.value == pytest.approx(leaving, abs=1e-6)
        assert item.bound == pytest.approx(bounds[path])
        assert (item.limit, item.margin) == ("air", pytest.approx(bounds[path] - leaving))


def test_half_a_watt_in_next_to_no_air_is_refused_by_name(tmp_path):
    """Laminar flow in a gap of 0.2 mm by 1 mm and 160 mm (Hagen-Poiseuille, v = dp g^2/(12 mu L))
    is below 1e-8 kg/s at 50 Pa: 0.5 W would warm it by far more than 500 K."""
    thin = ('[slot.thin]\nfrom = "box"\nto = "top"\ngap = "0.2 mm"\nwidth = "1 mm"\n'
            'length = "160 mm"\npower = "0.5 W"\nair_limit = "99 degC"\n')  # fmt: skip
    with pytest.raises(NoSolution, match=r"slot\.thin has nowhere to go"):
        flownet.solve(load(tmp_path, SLOTS + thin))


def test_no_card_has_no_limit_and_every_study_sees_it(tmp_path):
    case = load(tmp_path, SLOTS)
    assert list(limits(flownet.solve(case, scenario="sparse"))) == ["slot.card-1", "slot.card-3"]
    shut = '[filter.mat]\non = "slot.card-1"\narea = "10 cm2"\nloss = 3.0\nstate = "blanked"\n'
    calm = SLOTS.replace('power = "40 W"\n', "").replace('power = "5 W"', 'power = "0 W"')
    closed = flownet.solve(load(tmp_path, calm + shut))  # fitted, but no air leaves it
    assert list(limits(closed)) == ["slot.card-2", "slot.card-3"]
    strict = flownet.solve(case, scenario="strict")
    assert strict.worst.subject == "slot.card-3"
    said = [f.subject for f in strict.findings if f.rule == "limit-air"]
    assert sorted(said) == sorted(p for p, item in limits(strict).items() if not item.holds)
    compared = flownet.compare(case, scenarios=["base", "strict"])
    assert compared.cell("strict").subject == "slot.card-3"
    assert compared.cell("strict").margin == pytest.approx(strict.worst.margin)
    head = flownet.headroom(case, "outside.temperature")
    here = flownet.solve(case, changes={"outside.temperature": head.value})
    assert here.worst.subject == "slot.card-3"
    assert here.worst.margin == pytest.approx(0.0, abs=0.05)
    kept = ["slot.*.outlet_temperature"]
    swept = flownet.sweep(case, {"slot.card-3.load": [0.5, 1.0]}, keep=kept)
    assert swept.bound("slot.card-2.outlet_temperature") == pytest.approx(323.15)
