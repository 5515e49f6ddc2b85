"""What is advised and told, by the conditions that decide it: one case each, worked by hand."""

from __future__ import annotations

import dataclasses
import math
from types import SimpleNamespace
from typing import Any

import pytest

from flownet.enclosure.branches import Baffle, Duct, Filter, Leak, Opening, Slot, Vent
from flownet.enclosure.heat import Part
from flownet.enclosure.surroundings import Compartment, Outside
from flownet.findings import RULES, fan_data, losses, mixing, resistances
from flownet.findings.rule import percent
from tests.each import each, named
from tests.findings import samples as s
from tests.findings import samples_use as u
from tests.findings.build import (
    CP,
    FLOWS,
    GAS,
    SEA_LEVEL,
    WARM,
    ZERO,
    about,
    air_limit,
    numbers,
    panel,
    part_limit,
    solved,
    things,
)
from tests.findings.test_findings_conditions import DROPS, TWO_KM, fixed, share

# --- advice and words, by their conditions ------------------------------------------------------


@each(named([
    (2.0, 30.0, 30.0, "Bring its own"), (2.0, 30.1, 30.0, "Bring it air"),
    (30.0, 5.0, 30.0, "Bring it air"), (29.9, 0.0, 30.0, "Bring its own"),
    (30.0, 0.0, 30.0, "The outside"), (2.0, math.nan, 30.0, "Work on the largest"),
]))  # fmt: skip
def test_advice_for_a_part_follows_what_can_be_had(over, gain, own, begins):
    warm = 25.0 + gain
    value = 25.0 + own + (0.0 if math.isnan(gain) else gain)
    made = solved(parts={"drive": {"air_temperature": warm + ZERO}},
                  limits=(part_limit("drive", value, value - over),))  # fmt: skip
    assert about(made, "limit-part")[0].advice().startswith(begins)


@each(named([(0.02, True), (0.0034, True), (0.0033, False)]))
def test_fresh_air_is_asked_for_where_a_tenth_comes_back(back, fresh):
    """Of what enters above, `back` of `back` + 30 g/s have been there before."""
    made = u.stirred(back)
    made = solved_with(made, air_limit("upper", 52.0, 50.0))
    found = numbers(made, "limit-air")
    assert found["heat"] == pytest.approx(0.03 * CP * 2.0)
    assert found["again"] == percent(back / (back + 0.03))
    assert ("fresh" in about(made, "limit-air")[0].advice()) == fresh


def solved_with(made: Any, *limits: Any) -> Any:
    """The same with limits."""
    return dataclasses.replace(made, limits=limits)


@each(named([(1, True, 0), (2, True, 2), (2, False, 1)]))
def test_stall_tells_of_other_points_where_there_are(points, rest, several):
    made = dataclasses.replace(s.humped("stall", 42.0), points=points, from_rest=rest)
    words = about(made, "fan-stall")[0].message()
    assert ("operating points" in words) + ("from rest" in words) == several


@each(named([("0 Pa", 30.0), ("10 Pa", 40.0), ("-30 Pa", 0.0)]))
def test_what_lies_across_a_closed_hole_counts_the_pressure_outside(over, across):
    made = things(
        second=s.roof(name="second", to="outside.hall"),
        hall=Outside(name="hall", temperature="25 degC", over_pressure=over),
    )
    found = solved(
        made,
        flows={**FLOWS, "fan.second": 0.0},
        gauge={"upper": -30.0},
        scenario="shut",
        scenarios={"shut": {"fan.second.state": "blanked"}},
    )
    told = numbers(found, "failed-fan-sealed")
    assert told["across"] == pytest.approx(across)
    assert ("drive" in about(found, "failed-fan-sealed")[0].message()) == (across > 0)


# --- the shaft of a fan -------------------------------------------------------------------------


@each(named([
    ("front", "top", "up", "vertical"), ("front", "top", "down", "vertical"),
    ("front", "top", "left", "horizontal"), ("front", "top", "front", "horizontal"),
    ("front", "top", None, ""), ("plan", "top", "up", ""), ("side", "left", "up", ""),
    ("side", "right", "up", ""), ("side", "top", "up", "vertical"),
    ("side", "front", "front", "vertical"), ("front", "left", "right", "vertical"),
    ("front", "bottom", "up", "vertical"), ("front", "back", "front", "vertical"),
    ("front", "front", "up", "horizontal"), ("front", "right", "left", "vertical"),
]))  # fmt: skip
def test_how_a_shaft_stands(view, up, direction, shaft):
    case = SimpleNamespace(body=SimpleNamespace(view=view, up=up))
    assert fan_data.shaft_of(case, SimpleNamespace(direction=direction)) == shaft  # type: ignore[arg-type]


# --- constant losses, areas ---------------------------------------------------------------------

ENDS = {"name": "x", "from_": "upper", "to": "outside"}
HOLE = {"area": "50 cm2", "loss": 2.5}
VENT = {"area": "50 cm2", "open_ratio": 0.4}
CARD = {"area": "30 cm2", "filler": HOLE, "empty": HOLE}


@each(named([
    (Vent(**ENDS, **HOLE), True), (Vent(**ENDS, **VENT), True),
    (Vent(**ENDS, **VENT, hole="5 mm"), False), (Vent(**ENDS, **HOLE, hole="5 mm"), True),
    (Vent(**ENDS, **VENT, hole="5 mm", construction="round-edged"), True),
    (Slot(**ENDS, **CARD, loss=6.0), True), (Slot(**ENDS, **CARD, velocity_drop=DROPS), False),
    (Slot(**ENDS, **CARD, velocity_drop=DROPS, state="filler"), True),
    (Slot(**ENDS, **CARD, velocity_drop=DROPS, state="empty"), True),
    (Opening(**ENDS, area="50 cm2"), True), (Leak(**ENDS, flow_at=["5 m3/h", "10 Pa"]), False),
    (Baffle(**ENDS, open_area="50 cm2", cross_section="0.3 m2"), True),
    (Filter(**ENDS, area="50 cm2", velocity_drop=DROPS), False),
    (Filter(**ENDS, area="50 cm2", velocity_drop=DROPS, state="removed"), True),
]))  # fmt: skip
def test_where_a_constant_loss_is_taken(item, constant):
    assert losses._constant_loss(item) == constant


# --- one temperature for a compartment ----------------------------------------------------------


def mixed(excess: float = 2.0, over: tuple[float, ...] = (), divided: str = "",
          solution: bool = True, aside: float = 0.3) -> list[Any]:  # fmt: skip
    """What is said where layers give this much above the mean in one box, 0.5 K in another."""
    rows = {name: SimpleNamespace(temperature=300.0 + i) for i, name in enumerate("abc")}
    hot = {name: SimpleNamespace(temperature=310.0 + i) for i, name in enumerate("abc")}
    broken = [part_limit(f"p{i}", 90.0 + k, 90.0) for i, k in enumerate(over)]
    layered = SimpleNamespace(
        aside=aside,
        lifted=0.5,
        excess={"a": 0.5, "b": excess, "c": 9.0},
        broken=broken,
        solution=SimpleNamespace(compartments=hot) if solution else None,
        failure="none",
    )
    found = SimpleNamespace(
        layered=layered,
        compartments=rows,
        layers_of=lambda name: 4 if name in ("c", divided) else 0,
    )
    return list(mixing.well_mixed.looks(found))  # type: ignore[arg-type]


@each(named([
    (0.99, (), None), (1.0, (), True), (0.99, (1.0,), False), (5.0, (1.0, 3.0, 2.0), False),
]))  # fmt: skip
def test_layers_are_worth_a_word_from_a_kelvin_on_or_where_a_limit_breaks(excess, over, mild):
    found = mixed(excess, over)
    assert [each.mild for each in found] == ([] if mild is None else [mild])
    for told in found:
        assert told.subject == "compartment.b"
        values = told.values
        assert (values["hottest"], values["single"], values["above"]) == (311.0, 301.0, excess)
        assert values["part"] == 0.3
        if over:
            worst = f"part.p{over.index(max(over))}"
            assert (values["over"][1], values["limit"]) == (max(over), worst)


def test_layers_without_a_solution_are_told_with_what_asks_for_them():
    """Where walls carry above 15 %, else buoyancy asks; what is divided is not looked at."""
    for aside, why, part in ((0.14, "buoyancy", 0.5), (0.16, "walls", 0.16)):
        (said,) = mixed(solution=False, aside=aside)
        assert (said.pieces, said.values["part"]) == ((why, "unsolved"), part)
        (said,) = mixed(aside=aside)
        assert (said.pieces, said.values["part"]) == ((why, "hottest"), part)
    assert mixed(5.0, divided="b") == []


@each(named([
    ({"a": 0.9, "b": -0.99}, (), None), ({"a": 0.9, "b": -1.0}, (), "b"), ({"a": 0.5}, (1.0,), "a"),
]))  # fmt: skip
def test_layers_are_too_few_where_a_kelvin_or_a_limit_hangs_on_them(moves, over, subject):
    rows = {name: SimpleNamespace(temperature=300.0) for name in "abc"}
    there = {name: SimpleNamespace(temperature=300.0 + k) for name, k in moves.items()}
    made = SimpleNamespace(
        layers=dict.fromkeys(moves, 8), solution=SimpleNamespace(compartments=there),
        broken=[part_limit(f"p{i}", 90.0 + k, 90.0) for i, k in enumerate(over)], failure="none",
    )  # fmt: skip
    case = SimpleNamespace(compartments={name: SimpleNamespace(layers=4) for name in "abc"})
    found = SimpleNamespace(finer=made, compartments=rows, case=case)
    said = list(mixing.layer_count.looks(found))  # type: ignore[arg-type]
    assert [one.subject for one in said] == [f"compartment.{subject}"] * (subject is not None)
    for one in said:
        assert one.pieces == ("in", "hottest", "well-mixed.broken")[: 2 + len(over)]
        assert one.mild == (not over)
        assert (one.values["here"], one.values["there"]) == (300.0, 300.0 + moves[subject])
        assert (one.values["count"], one.values["given"]) == (8, "4")
        assert not over or one.values["over"][1] == 1.0
    made.solution = None
    (one,) = mixing.layer_count.looks(found)  # type: ignore[arg-type]
    assert (one.subject, one.pieces) == ("compartment.a", ("in", "unsolved"))
    assert (one.values["count"], one.values["given"], one.mild) == (8, "4", False)


# --- edges of the view --------------------------------------------------------------------------


def test_the_nearest_pair_of_each_edge_is_named():
    """On the left 450 mm to 150 mm and on the right 1000 mm to 900 mm; a leak is no mouth."""
    vent = {"area": "50 cm2", "loss": 2.5}
    made = things(
        roof=s.roof(at="0 1000 mm"), near=Vent(name="near", from_="upper", to="outside",
                                               at="0 450 mm", **vent),
        out=Vent(name="out", from_="upper", to="outside", at="800 1000 mm", **vent),
        back=Vent(name="back", from_="outside", to="lower", at="800 900 mm", **vent),
        seam=Leak(name="seam", from_="upper", to="outside", at="0 160 mm",
                  flow_at=["5 m3/h", "10 Pa"]),
    )  # fmt: skip
    flows = {**FLOWS, "vent.near": 0.01, "vent.out": 0.01, "vent.back": 0.02, "leak.seam": 0.001}
    found = about(solved(made, flows=flows), "exhaust-near-intake")
    told = [(e.subject, e.values["intake"][1], e.values["distance"][1]) for e in found]
    assert told == [("vent.near", "filter.intake", pytest.approx(0.3)),
                    ("vent.out", "vent.back", pytest.approx(0.1))]  # fmt: skip


def test_a_gain_is_told_against_the_surroundings_of_the_intake():
    """Exhaust of 31.6 degC, intake from a hall at 20 degC on the same face."""
    hall = {"hall": Outside(name="hall", temperature="20 degC")}
    back = Filter(name="intake", from_="outside.hall", to="lower", area="450 cm2", at="0 150 mm",
                  velocity_drop=DROPS)  # fmt: skip
    made = solved(things(**hall, intake=back, roof=s.roof(to="outside.hall", at="0 270 mm")))
    assert numbers(made, "exhaust-near-intake")["gain"] == pytest.approx(11.6)


# --- slots, boxes -------------------------------------------------------------------------------


def test_slots_of_other_rows_are_counted_by_themselves():
    """One of two in a row from below; one alone from above and one past the upper compartment,
    which are no empty ones."""
    hole = {"area": "60 cm2", "loss": 2.7}
    card = {"area": "30 cm2", "loss": 6.0, "empty": hole}
    ends = {"from_": "lower", "to": "upper"}
    made = things(shelf=None, a=Slot(name="a", **ends, **card, state="empty"),
                  b=Slot(name="b", **ends, **card),
                  c=Slot(name="c", from_="upper", to="lower", **card),
                  d=Slot(name="d", from_="lower", to="outside", **card),
                  e=Slot(name="e", from_="outside", to="upper", **card))  # fmt: skip
    flows = {**FLOWS, "slot.a": 0.03, **dict.fromkeys(map("slot.{}".format, "bcde"), 0.01)}
    assert numbers(solved(made, flows=flows), "slot-empty")["share"] == "75 %"
    still = solved(made, flows={**flows, "slot.a": 0.0, "slot.b": 0.0})  # no share of nothing
    (said,) = RULES["slot-empty"](still)
    assert "slot.b" not in said.message()


def test_each_sealed_place_has_its_own_heat():
    """40 W in one, 30 W of a part and 5 W of the slot between in two that hang together."""
    boxes = {n: Compartment(name=n) for n in ("one", "two", "three")}
    made = things(**boxes, a=Part(name="a", in_="one", power="40 W"),
                  b=Part(name="b", in_="three", power="30 W"),
                  c=Part(name="c", in_="part.b", power="2 W"),
                  way=Slot(name="way", from_="two", to="three", area="30 cm2", loss=6.0),
                  **{f"w{n}": panel(name=f"w{n}", from_=n) for n in boxes})  # fmt: skip
    found = about(solved(made, flows={**FLOWS, "slot.way": 0.0}, warm={
        **WARM, "one": 40.0, "two": 50.0, "three": 60.0},
        branches={"slot.way": {"heat": 5.0}}), "no-through-air")  # fmt: skip
    told = {e.subject: (e.values["heat"][1], e.values["rise"][1]) for e in found}
    assert told == {"compartment.one": (40.0, pytest.approx(15.0)),
                    "compartment.two": (37.0, pytest.approx(35.0))}  # fmt: skip


# --- relations and their arguments --------------------------------------------------------------


@each(named([
    (Vent(**ENDS, **HOLE), []),
    (Vent(**ENDS, **VENT), [("idelchik_thin_plate", {"open_ratio": 0.4})]),
    (Vent(**ENDS, **VENT, construction="round-edged"), [("round_edge_grill", {"open_ratio": 0.4})]),
    (Vent(**ENDS, **VENT, construction="wire screen"),
     [("round_edge_screen", {"open_ratio": 0.4})]),
    (Baffle(**ENDS, open_area="50 cm2", cross_section="0.02 m2"),
     [("idelchik_thin_plate", {"open_ratio": 0.25})]),
    (Baffle(**ENDS, open_area="50 cm2", cross_section="0.02 m2", present=False), []),
    (Duct(**ENDS, length="1 m", diameter="80 mm", roughness="2 mm"),
     [("churchill_product", {"reynolds": 5000.0, "roughness": 0.025})]),
    (Duct(**ENDS, length="1 m", section="60 x 120 mm", roughness="2 mm"),
     [("churchill_product", {"reynolds": 5000.0, "roughness": 0.025})]),
    (Duct(**ENDS, length="1 m", diameter="80 mm", bends=[["90 deg", 1.5]]),
     [("churchill_product", {"reynolds": 5000.0, "roughness": 0.0}),
      ("rennels_bend", {"angle": 90.0, "radius_ratio": 1.5})]),
    (Slot(**ENDS, gap="5 mm", width="200 mm", length="160 mm"),
     [("slot_product", {"reynolds": 5000.0, "aspect_ratio": 0.025})]),
    (Slot(**ENDS, gap="5 mm", width="200 mm", length="160 mm", filler=HOLE, state="filler"), []),
    (Slot(**ENDS, area="30 cm2", loss=6.0), []),
]))  # fmt: skip
def test_which_relations_a_branch_uses(item, uses):
    made = solved(things(x=item), flows={**FLOWS, item.path: 0.01})
    found = [(u.function.__name__, u.arguments) for u in losses._uses(made, item.path, item)]
    assert [name for name, _ in found] == [name for name, _ in uses]
    for (_, here), (_, wanted) in zip(found, uses, strict=True):
        assert here == pytest.approx(wanted)


# --- resistances --------------------------------------------------------------------------------


@each(named([
    ((15.0, 14.0, 13.0), True, "too good"), ((15.0, 14.0, 13.0), False, "on the safe side"),
    ((13.0, 14.0, 12.0), True, "a guess"), ((13.0, 12.0, 12.5), False, "a guess"),
    ((13.0, 14.0, 12.0), False, "on the safe side"), ((13.0, 12.0, 12.5), True, "too good"),
    ((13.0, 13.0), True, "too good"), ((13.0, 13.0), False, "on the safe side"),
]))  # fmt: skip
def test_what_holding_an_end_of_a_table_means(values, slow, which):
    rows = tuple((float(i), value) for i, value in enumerate(values))
    assert resistances._which(rows, slow).startswith(which)


@each(named([
    (0.0, "part.drive"), (1.0, "part.drive"), (11.2, "part.drive"), (11.6, ""), (-0.1, ""),
]))  # fmt: skip
def test_a_part_that_thin_air_brings_over_its_limit_is_named(margin, over):
    """306 W at 0.5 K/W: half of 153 K x ((1.2 kg/m3 over 0.9088)^0.5 - 1) = 11.4 K."""
    drive = fixed(306.0, limit="90 degC").case.parts["drive"]
    outside = Outside(temperature="25 degC", altitude="2000 m")
    made = solved(things(outside=outside, drive=drive), parts={"drive": {"margin": margin}})
    found = numbers(made, "resistance-at-sea-level")
    assert found["change"] == pytest.approx(share(TWO_KM) * 0.5 * 306.0)
    assert 11.2 < found["change"] < 11.6
    assert found["over"] == over


def test_parts_that_cool_and_parts_that_heat_stand_apart():
    """Cold dense air makes it better: 1.32 kg/m3 at -6.1 degC."""
    found = numbers(fixed(180.0, "0 m", -6.1), "resistance-at-sea-level")
    ratio = SEA_LEVEL / (GAS * (ZERO - 6.1)) / 1.2
    assert (found["way"], found["it"]) == ("cooler", "it gets")
    assert found["change"] == pytest.approx(-share(ratio) * 0.5 * 180.0)
