"""Faults between keys in a batch: the same as where each variant is an enclosure of its own."""

from __future__ import annotations

import numpy as np
import pytest

from flownet.enclosure import combinations
from flownet.enclosure.changes import as_columns, steps
from flownet.enclosure.heat import Recirculation
from flownet.schema.errors import CaseError
from tests.each import each
from tests.every_kind import alternatives, everything

CASE = everything()


def check(changes, case=CASE):
    combinations.check(case, list(steps(case, as_columns(case, changes))))


def faults(changes, case=CASE):
    with pytest.raises(CaseError) as error:
        check(changes, case)
    return error.value.faults


# values of which some are sound together and some are not
MIXED = {
    "open areas": {"baffle.shelf.open_area": [0.01, 0.05, 0.2],
                   "baffle.shelf.cross_section": [0.1, 0.02, 0.3]},
    "states of a slot": {"slot.b.state": ["fitted", "filler", "empty"],
                         "slot.b.filler": [None, {"area": 0.01, "loss": 2}, None]},
    "measured or by size": {"slot.b.gap": [None, 0.01, 0.01], "slot.b.width": [None, 0.2, None],
                            "slot.b.length": 0.1, "slot.b.area": [0.004, None, 0.004]},
    "round edges": {"vent.side.construction": ["round-edged", "square-edged", "round-edged"],
                    "vent.side.open_ratio": [0.45, 0.8, 0.8]},
    "size of a rotor": {"fan_type.axial.flow_area": [0.009, 0.02, 0.012],
                        "fan_type.axial.frame": [(0.119, 0.04), (0.119, 0.04), (0.2, 0.04)]},
    "curves": {"fan_type.small.curve": [[(0, 5), (1, 0)], [(0, 5), (0, 0)], [(0, 0), (1, 0)]]},
    "outlines": {"compartment.low.outline.2": [0.8, 0.0, 0.5]},
    "reference": {"outside.over_pressure": [0.0, 1.0, 0.0]},
    "sun on an inner wall": {"wall.door.solar": [None, 10.0, None],
                             "wall.rear.u_value": [None, 2.0, 3.0]},
    "depth of faces": {"enclosure.size": [(0.8, 1.8, 0.4), None, (0.8, 1.8, 0.4)],
                       "compartment.high.depth": [None, None, 0.3]},
    "resistance": {"part.drive.resistance_over_velocity": [None, [(1, 0.5)], None],
                   "part.drive.flow_area": [None, 0.01, 0.01]},
    "useful output": {"part.drive.output": [None, 100.0, 100.0],
                      "part.drive.efficiency": [None, 0.9, None]},
    "type of a slot": {"slot.a.type": ["line", "wide", "line"], "slot.a.loss": [None, None, 2.0]},
    "back-draught": {"recirculation.short.fraction": [0.1, 0.5, 0.99]},
    "speed control": {"fan.left.speed_control": [
        None, {"by": "outside", "temperature": (340, 330), "speed": (0.5, 1)},
        {"by": "outside", "temperature": (320, 330), "speed": (0.5, 1)}]},
}  # fmt: skip


@each(MIXED)
def test_a_batch_is_sound_where_every_variant_of_it_is(changes):
    """And tells the faults of all variants where one is not."""
    alone = []
    for variant in range(3):
        own = {p: v[variant] if isinstance(v, list) else v for p, v in changes.items()}
        try:
            CASE.with_changes(own)
        except CaseError as error:
            alone += error.faults
    if alone:
        assert set(faults(changes)) == set(alone)
    else:
        check(changes)


def test_most_of_these_mixtures_hold_a_fault():
    unsound = 0
    for changes in MIXED.values():
        try:
            check(changes)
        except CaseError:
            unsound += 1
    assert unsound >= 11


def test_what_may_be_changed_alone_may_be_changed_in_a_batch():
    for path, value, _ in alternatives():
        values = np.empty(2, object)
        values[:] = [CASE[path], value] if CASE[path] is not None else [value, value]
        check({path: values})


def test_fractions_changed_together_are_added_up_variant_by_variant():
    case = everything(
        Recirculation(name="second", from_="fan.right", to="filter.mat", fraction=0.2)
    )
    check({"recirculation.*.fraction": [0.4, 0.49]}, case)
    two = {"recirculation.short.fraction": [0.9, 0.1], "recirculation.second.fraction": [0.05, 0.8]}
    check(two, case)
    (line,) = faults({"recirculation.*.fraction": [0.4, 0.6]}, case)
    assert line == "recirculation: fractions into filter.mat add up to 1.2; must stay below 1"


def test_stations_have_the_same_names_in_every_variant():
    check(
        {"part.chip.chain": [[["junction", 0.4], ["case", 0.25]], [["junction", 0.5], ["case", 1]]]}
    )
    (line,) = faults({"part.chip.chain": [[["junction", 0.4]], [["die", 0.4]]]})[:1]
    assert "between variants only resistances can differ, not stations (got junction)" in line
    assert "(got a)" in faults({"part.drive.chain": [["a", 0.4]]})[0]


def test_derivatives_are_not_looked_at():
    check({"baffle.shelf.open_area": np.array([1.0 + 1e-20j])})


def test_numbers_whose_size_does_not_matter_are_not_built_again(monkeypatch):
    """Ten thousand variants of what faults do not depend on cost nothing."""
    built = []
    monkeypatch.setattr(combinations, "rebuilt", lambda item, values: built.append(item) or item)
    many = np.linspace(0.5, 1.0, 10_000)
    check({"fan.*.speed": many, "part.drive.power": many, "vent.roof.loss": many})
    assert built == []
    check({"baffle.shelf.open_area": np.repeat([0.01, 0.02], 5000), "fan.left.speed": many})
    assert [item.path for item in built] == ["baffle.shelf", "baffle.shelf"]
