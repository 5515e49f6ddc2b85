"""Faults between things: links that lead nowhere, ends, circles, names."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

import flownet
from flownet.columns import Inputs
from flownet.enclosure.branches import Baffle, Filter, Opening, Slot, Vent
from flownet.enclosure.checks import drawn_faults, name_fault
from flownet.enclosure.fans import Fan, FanType
from flownet.enclosure.heat import Exchange, Part, Recirculation, Wall
from flownet.enclosure.surroundings import Compartment, Outside
from flownet.schema.errors import CaseError
from tests.each import every
from tests.every_kind import everything

CURVE = ((0.0, 60.0), (0.03, 0.0))
LAW = {"resistance_over_velocity": [(1.0, 0.5)]}
WALL = {"from_": "high", "to": "outside", "u_value": 5.0}

FAULTS = [
    (Opening(name="x", from_="lo", to="outside", area=1),
     'opening.x.from: no compartment "lo"; did you mean "low"?'),
    (Opening(name="x", from_="low", to="outsid", area=1), 'did you mean "outside"?'),
    (Opening(name="x", from_="low", to="outside.asle", area=1), 'did you mean "outside.aisle"?'),
    (Opening(name="x", from_="low", to="low", area=1), 'both ends are "low"; a branch joins two'),
    (Opening(name="x", from_="ambient", to="low", area=1), 'did you mean "outside"?'),
    (Vent(name="x", on="fan.lef", area=1, loss=1), 'vent.x.on: no branch "fan.lef"; did you mean'),
    (Vent(name="x", on="vent.guard", area=1, loss=1), '"vent.guard" itself stands on fan.left'),
    (Fan(name="x", from_="low", to="outside", type="axiall"), 'no fan type "axiall"; did you mean'),
    (Fan(name="x", from_="low", to="outside", type="axial.rating.sixty"), "no fan type"),
    (Fan(name="x", from_="low", to="outside", type="axial", supply="main"), 'no supply "main"'),
    (Fan(name="x", from_="low", to="outside", type="axial", speed_control={
        "by": "part.driv", "temperature": "40 60 degC", "speed": (0.5, 1)}),
     'fan.x.speed_control.by: no part, compartment or outside "part.driv"'),
    (Fan(name="x", from_="low", to="outside", type="axial", speed_control={
        "by": "low", "temperature": "40 60 degC", "speed": (0.5, 1)}),
     'fan.x.speed_control.by: no part, compartment or outside "low"'),
    (Part(name="x", in_="slot.z"), 'part.x.in: no compartment, branch or part "slot.z"'),
    (Part(name="x", in_="part.x"), "part.x.in: a circle: x -> x"),
    (Part(name="sink", in_="part.chip"), "part.chip.in: a circle: chip -> sink -> chip"),
    (Part(name="x", in_="high", stream="fan.x"), 'part.x.stream: no branch "fan.x"'),
    (Part(name="x", in_="high", **LAW), "needs stream and flow_area"),
    (Part(name="x", in_="part.sink", **LAW), "on another part only a plain resistance"),
    (Exchange(name="x", between=["low", "hig"], flow=1),
     'exchange.x.between: no compartment "hig"; did you mean "high"?'),
    (Exchange(name="x", between=["low", "low"], flow=1), "both ends are the same place"),
    (Recirculation(name="x", from_="fan.left", to="slot.a", fraction=0.1),
     "recirculation.x.to: slot.a does not lead to the outside"),
    (Recirculation(name="x", from_="fan.left", to="fan.left", fraction=0.1),
     'recirculation.x.to: must be another branch than from (got "fan.left" for both)'),
    (Recirculation(name="x", from_="fan.left", to="fan.right", fraction=0.1),
     "recirculation.x.to: must be a branch that draws in outside air (got fan.right, which blows"),
    (Recirculation(name="x", from_="fan.lef", to="filter.mat", fraction=0.1), "no branch"),
    (Recirculation(name="x", from_="vent.guard", to="filter.mat", fraction=0.1), "no branch"),
    (Recirculation(name="x", from_="fan.left", to="filter.mat", fraction=0.1),
     "recirculation.x.to: recirculation.short already joins the same two branches"),
    (Recirculation(name="x", from_="fan.right", to="filter.mat", fraction=0.95),
     "fractions into filter.mat add up to 1.05; must stay below 1"),
    (Wall(name="x", area=1, from_="outside", to="low", u_value=5), "must be a compartment"),
    (Wall(name="x", area=1, from_="high", to="low", u_value=5, solar=10), "has sun"),
    (Wall(name="x", faces=["front"], **(WALL | {"from_": "bare"})), "has no outline; give area"),
    (Wall(name="x", area=1, **(WALL | {"to": "hgh"})), 'wall.x.to: no compartment "hgh"'),
    (Outside(name="altitude"), "may not be named like a key of [outside]"),
    (Fan(name="outside", from_="low", to="high", type="axial"), '"outside" is reserved'),
    (Compartment(name="two words"), "a name is made of letters, digits, - and _"),
    (Fan(name="a.b", from_="low", to="high", type="axial"), "a name is made of letters"),
]  # fmt: skip


@every(("thing", "sentence"), FAULTS)
def test_a_thing_that_does_not_fit_the_others_is_told(thing, sentence):
    with pytest.raises(CaseError) as error:
        everything(Compartment(name="bare"), thing)
    (fault,) = error.value.faults
    assert sentence in fault


@every(("rows", "sentence"), [
    ([(0.5, 70.0), (1.0, 29.0)], "row 2: drop 29 Pa at 1 m/s is below the row before (70 Pa"),
    ([(0.5, 7.0), (1.0, 7.0)], "row 2: drop 7 Pa at 1 m/s is that of the row before"),
    ([(1.0, 7.0), (0.5, 9.0)], "row 2: velocity 0.5 m/s is below the row before"),
    ([(0.0, 0.0), (1.0, 7.0)], "row 1: velocity and drop must be above 0 (got 0 m/s and 0 Pa)"),
])  # fmt: skip
def test_a_measured_drop_rises_with_velocity(rows, sentence):
    with pytest.raises(CaseError) as error:
        everything(Filter(name="x", from_="outside", to="low", area=1, velocity_drop=rows))
    (fault,) = error.value.faults
    assert fault.startswith(f"filter.x.velocity_drop: {sentence}")


def test_a_count_is_whole_in_python_too():
    """One value, one of many, a change of a case; complex numbers carry derivatives and pass."""
    case = everything()
    slot = next(iter(case.things["slot"].values())).path
    words = rf"{slot}\.count: must be a whole number \(got 1\.5\)"
    for call in (
        lambda: case.with_changes({f"{slot}.count": 1.5}),
        lambda: flownet.solve(case, changes={f"{slot}.count": 1.5}),
        lambda: flownet.solve_many(case, {f"{slot}.count": [1, 1.5, 2]}),
    ):
        with pytest.raises(CaseError, match=words):
            call()
    given = Inputs.of(case).changed({f"{slot}.count": np.array([1.5 + 1e-30j])})
    assert given.row(f"{slot}.count") == 1.5 + 1e-30j


def test_a_speed_in_rpm_needs_the_speed_of_the_data():
    kind = FanType(name="plain", curve=CURVE, flow_area=0.01)
    with pytest.raises(CaseError) as error:
        everything(kind, Fan(name="x", from_="low", to="outside", type="plain", speed="2400 rpm"))
    assert str(error.value).startswith(
        "fan.x.speed: a speed in rpm needs the rated_speed of fan_type.plain (got 2400 rpm, and"
    )


def test_the_sample_has_no_fault():
    assert everything(Compartment(name="bare")).compartments["bare"].outline is None


def test_only_some_kinds_stand_on_another_branch():
    """Their classes have no such key; those that have it all may stand there."""
    for made in (
        Filter(name="x", on="fan.left", area=1, velocity_drop=[(1.0, 5.0)]),
        Opening(name="x", on="fan.left", area=1),
        Vent(name="x", on="fan.left", area=1, loss=1),
    ):
        assert everything(made).branches[made.path].on == "fan.left"
    for cls, keys in (
        (Slot, {"area": 1, "loss": 1}),
        (Baffle, {"open_area": 1, "cross_section": 1}),
    ):
        with pytest.raises(TypeError):
            cls(name="x", on="fan.left", from_="low", to="high", **keys)


@every(("keys", "sentence"), [
    ({}, "from: must be given (or on"),
    ({"from_": "low"}, "to: must be given (or on"),
    ({"to": "low"}, "from: must be given (or on"),
    ({"on": "fan.left", "from_": "low", "to": "high"}, "from: cannot stand together with on"),
    ({"on": "fan.left", "to": "high"}, "to: cannot stand together with on"),
])  # fmt: skip
def test_a_branch_has_two_ends_or_stands_on_another(keys, sentence):
    with pytest.raises(CaseError) as error:
        Opening(name="x", area=1, **keys)
    assert sentence in str(error.value)


def test_faults_of_several_things_come_at_once():
    with pytest.raises(CaseError) as error:
        everything(
            Opening(name="x", from_="lo", to="hgh", area=1),
            FanType(name="outside", curve=CURVE, flow_area=0.01),
            Part(name="y", in_="nowhere-at-all"),
        )
    assert [fault.partition(":")[0] for fault in error.value.faults] == [
        "fan_type.outside", "opening.x.from", "opening.x.to", "part.y.in",
    ]  # fmt: skip


@every("name", ["a", "A-1", "x_y", "fan2", "-", "outside2", "base", "x-out"])
def test_good_names(name):
    assert name_fault("fan", name) == ""


@every("name", ["", "a b", "a.b", "é", "a+b", "a\n", "outside"])
def test_bad_names(name):
    assert name_fault("fan", name)


def test_a_branch_draws_back_less_than_all_it_draws():
    assert list(drawn_faults("filter.mat", 0.99)) == []
    assert list(drawn_faults("filter.mat", 0.991)) == [
        "recirculation: fractions into filter.mat add up to 0.991; must stay below 1"
    ]


def test_a_type_without_a_rated_speed_is_refused_in_one_of_many_variants():
    """`fan.x` turns at 2400 rpm; a change to data that state no speed is the same fault."""
    kind = FanType(name="plain", curve=CURVE, flow_area=0.01)
    rated = FanType(name="rated", curve=CURVE, flow_area=0.01, rated_speed="2700 rpm")
    fan = Fan(name="x", from_="low", to="outside", type="rated", speed="2400 rpm")
    case = everything(kind, rated, fan)
    words = r"fan\.x\.speed: a speed in rpm needs the rated_speed of fan_type\.plain"
    for call in (
        lambda: case.with_changes({"fan.x.type": "plain"}),
        lambda: flownet.solve(case, changes={"fan.x.type": "plain"}),
        lambda: flownet.solve_many(case, {"fan.x.type": ["rated", "plain"]}),
        lambda: flownet.solve_many(case, {
            "fan.x.type": "plain", "fan.x.speed": [0.5, "2000 rpm"]}),
    ):  # fmt: skip
        with pytest.raises(CaseError, match=words):
            call()
    assert case.with_changes({"fan.x.type": "plain", "fan.x.speed": 0.5})["fan.x.speed"] == 0.5


def test_a_fan_draws_in_and_blows_out_the_way_it_stands():
    """A vent passes air both ways; of a fan mounted reversed nothing is said."""
    inward = Fan(name="x", from_="outside", to="low", type="axial")
    loop = Recirculation(name="x", from_="fan.x", to="filter.mat", fraction=0.1)
    with pytest.raises(CaseError, match=r"x\.from: must be a branch whose air leaves .* fan\.x"):
        everything(inward, loop)
    everything(dataclasses.replace(inward, mounted="reversed"), loop)
    everything(inward, Recirculation(name="x", from_="filter.mat", to="fan.x", fraction=0.1))
