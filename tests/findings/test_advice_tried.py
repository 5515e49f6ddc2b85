"""What a finding advises, where the program can make the change, improves what it complains of."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
import pytest

from flownet.findings import RULES
from flownet.judging.assessment import UNSOLVED, VOID
from flownet.solving.solve import again
from flownet.studies.searches import solved
from flownet.studies.suggesting.advice import ADVICE, advised, tried
from flownet.studies.suggesting.kinds import KINDS, PLACED, SERVED
from tests.casefile.small import load
from tests.each import each
from tests.studies.planted import RACK

SHAFT = """
title = "A shaft that fans blow through"
[outside]
temperature = "20 degC"
[enclosure]
size = "400 x 2000 x 400 mm"
[compartment.box]
outline = "0 0 400 2000 mm"
[vent.low]
from = "outside"
to = "box"
area = "200 cm2"
loss = 2.5
at = "0 50 mm"
[vent.high]
from = "outside"
to = "box"
area = "200 cm2"
loss = 2.5
at = "0 1950 mm"
state = "blanked"
[part.heater]
in = "box"
power = "60 W"
limit = "90 degC"
resistance = "0.1 K/W"
[wall.sides]
from = "box"
to = "outside"
area = "2 m2"
u_value = "5 W/(m2 K)"
"""
SERIES = """
title = "A weak fan behind a strong one"
[compartment.low]
[compartment.high]
[fan.strong]
from = "outside"
to = "low"
type = "good"
[fan.weak]
from = "low"
to = "high"
type = "weak"
[opening.way]
from = "high"
to = "outside"
area = "200 cm2"
[opening.beside]
from = "high"
to = "low"
area = "30 cm2"
state = "blanked"
[part.heater]
in = "high"
power = "60 W"
limit = "90 degC"
resistance = "0.1 K/W"
""" + RACK[RACK.index("[fan_type.good]") :]
BACK = SERIES.replace('state = "blanked"', 'state = "open"').replace("30 cm2", "150 cm2").replace(
    '''[fan.strong]
from = "outside"
to = "low"
type = "good"''', '''[vent.in]
from = "outside"
to = "low"
area = "60 cm2"
loss = 2.5''')  # fmt: skip
DOWN = (
    SHAFT.replace('state = "blanked"', "")
    + """
[fan.low]
from = "box"
to = "outside"
type = "weak"
speed = 0.3
at = "0 50 mm"
"""
    + RACK[RACK.index("[fan_type.weak]") :]
)


class Example(NamedTuple):
    """A case in which a rule speaks."""

    changes: dict[str, Any]
    text: str = RACK
    scenario: str = "base"


SPEEDS = {"fan_type.good.speed_range": "0.5 1.0"}
EXAMPLES = {
    "limit-part": Example({"vent.front.area": "40 cm2", "part.chip.limit": "46 degC"}),
    "limit-air": Example({"vent.front.area": "40 cm2", "compartment.high.air_limit": "46 degC"}),
    "limit-flow": Example({"vent.front.area": "40 cm2", "limits.flow": "150 m3/h"}),
    "limit-noise": Example({**SPEEDS, "fan_type.good.noise_dBA": 48, "limits.noise_dBA": 50}),
    "limit-life": Example({
        "fan_type.good.life": {"hours": 50000, "at": "40 degC", "kind": "L10"},
        "limits.fan_life_hours": 49000}),
    "fan-stall": Example({"vent.front.area": "25 cm2", "fan_type.good.curve": {
        "flow": "0 30 50 110 160 m3/h", "rise": "80 50 56 42 0 Pa"}}),
    "fan-past-free-delivery": Example({}, SERIES),
    "fan-backflow": Example({"vent.front.area": "25 cm2", "fan.right.type": "weak",
                             "fan.right.shutter": None}),
    "fans-opposed": Example({"fan.right.mounted": "reversed"}),
    "outlet-missing": Example({"vent.front.area": "25 cm2"}),
    "bearing-unsuited": Example({"fan_type.good.bearing": "sleeve", "fan.*.direction": "up"}),
    "fan-air-range": Example({"fan_type.good.air_range": "-10 44 degC"}),
    "speed-below-minimum": Example({**SPEEDS, "fan.*.speed": 0.4}),
    "draught-against-fan": Example({"vent.low.state": "blanked"}, DOWN),
    "air-returns-inside": Example({}, BACK),
    "fan-out": Example({"fan.*.shutter": None}, scenario="fan.left-out"),
    "no-through-air": Example({}, SHAFT),
    "slot-empty": Example({"slot.card-3.state": "empty"}),
    "filter-bypass": Example({"opening.gap.state": "open"}),
    "clearance-tight": Example({"fan.*.clearance.inlet": "25 mm"}),
    "supply-mismatch": Example({"fan.right.supply": "control"}),
    "short-circuit": Example({"recirculation.round.fraction": 0.3}),
}  # fmt: skip


def test_every_kind_of_advice_is_known_and_has_its_example():
    assert {*ADVICE} == {*EXAMPLES} <= {*RULES}
    assert {kind for kinds in ADVICE.values() for kind in kinds} <= {*KINDS} - {PLACED, SERVED}


@each({name: (name, example) for name, example in EXAMPLES.items()}, "name example")
def test_what_is_advised_improves_what_is_complained_of(name, example, tmp_path):
    case = load(tmp_path, example.text)
    case = case.with_changes(example.changes) if example.changes else case
    solution = again(case.under(example.scenario))
    found = [each for each in advised(solution) if each.finding.rule == name]
    assert found, [finding.rule for finding in solution.findings]
    best = max(found, key=lambda each: each.helps)
    assert best.helps, best
    assert best.change.kind in ADVICE[name]
    then = again(case.under(example.scenario), best.change.changes)
    still = [each for each in RULES[name](then) if each.subject == best.finding.subject]
    assert bool(still) != best.gone
    told = best.to_dict()
    assert told["words"].startswith(best.change.words)
    if name.startswith("limit-"):
        margin = {limit.subject: limit.margin for limit in then.limits}
        now = {limit.subject: limit.margin for limit in solution.limits}
        subject = best.finding.subject
        assert best.gain == pytest.approx(margin[subject] - now[subject], abs=1e-6)


@pytest.mark.parametrize(("now", "then", "advised_"), [
    (None, UNSOLVED, False), (None, VOID, False), (VOID, VOID, True), (VOID, UNSOLVED, False),
])  # fmt: skip
def test_what_has_no_solution_or_makes_numbers_void_is_not_advised(now, then, advised_, tmp_path):
    """What was solved of a rack, with another word on how it stands as it is and with changes."""
    search = tried(again(load(tmp_path, RACK).with_changes(EXAMPLES["limit-part"].changes)))
    (found,) = solved(next(search))
    status = np.where(found.ok, then, UNSOLVED)
    status[0] = found.stand.status[0] if now is None else now
    found.__dict__["stand"] = found.stand._replace(status=status)
    with pytest.raises(StopIteration) as ended:
        search.send([found])
    assert [each.change is not None for each in ended.value.value] == [advised_] * len(
        ended.value.value)  # fmt: skip
    assert not any(each.helps for each in ended.value.value if "limit-" in each.finding.rule)
