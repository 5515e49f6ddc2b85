"""The Python face: units, paths, changes, scenarios; every sentence a caller can meet."""

from __future__ import annotations

import dataclasses
import pickle

import numpy as np
import pytest

import flownet
from flownet.enclosure.branches import Filter, Leak, Opening, Slot, Vent
from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.fans import Fan, FanType
from flownet.enclosure.heat import Part
from flownet.enclosure.scenarios import expand
from flownet.enclosure.surroundings import Compartment, Outside, Supply
from flownet.schema.errors import CaseError

CURVE = {"flow": "0 60 110 170 m3/h", "rise": "78 52 44 0 Pa"}


def cabinet(**rest):
    """Two compartments, two fans on one supply, types for slots (invented data)."""
    axial = FanType(
        name="axial", curve=CURVE, flow_area="95 cm2", supply="230 V 50 Hz", power="19 W",
        rated_speed="2800 rpm", noise_dBA=44, origin="invented data",
        rating={"sixty": {"supply": "230 V 60 Hz", "power": 23.0}},
    )  # fmt: skip
    line = {"gap": 0.015, "width": 0.22, "length": 0.16, "power": 16.0}
    return Enclosure.of(
        Outside(temperature="40 degC", altitude="900 m"), Outside(name="aisle", temperature=318.15),
        Supply(name="mains", voltage="230 V", frequency="50 Hz"),
        Compartment(name="low", outline="0 0 800 900 mm", air_limit="55 degC"),
        Compartment(name="high", outline="0 900 800 900 mm"), axial,
        Filter(name="mat", from_="outside", to="low", area="0.045 m2",
               velocity_drop={"velocity": "0.5 1 2 m/s", "drop": "18 42 108 Pa"}),
        Slot(name="a", from_="low", to="high", type="line", given=frozenset(), **line),
        Slot(name="b", from_="low", to="high", area=0.004, loss=3.0),
        Vent(name="roof", from_="high", to="outside", area=0.002, loss=2.5),
        Leak(name="seal", from_="outside", to="low", flow_at=("2 m3/h", "10 Pa")),
        Opening(name="gap", from_="outside.aisle", to="low", area="5 cm2"),
        Part(name="drive", in_="high", power="180 W", resistance="0.28 K/W", limit="110 degC"),
        Fan(name="left", from_="high", to="outside", type="axial", supply="mains"),
        Fan(name="right", from_="high", to="outside", type="axial", supply="mains"),
        title="cabinet",
        types={"slot_type": {"line": line, "wide": {**line, "gap": 0.03, "power": 5.0}}},
        scenarios={"hot": {"outside.temperature": "50 degC"}, "dirty": {"filter.*.fouling": 2.0},
                   "cool": {"outside.temperature": "20 degC"}},
        variants={"slow": {"fan.*.speed": 0.7}}, **rest,
    )  # fmt: skip


CASE = cabinet()


# --- units ---------------------------------------------------------------------------------------


def test_a_number_is_si_and_text_carries_its_unit():
    assert CASE.outside.temperature == pytest.approx(313.15)
    assert CASE["filter.mat.area"] == 0.045
    assert CASE["leak.seal.flow_at.0"] == pytest.approx(2 / 3600)
    assert CASE["compartment.low.outline.3"] == pytest.approx(0.9)
    assert flownet.si("40 degC") == pytest.approx(313.15)


def test_a_bare_temperature_below_150_says_what_to_write():
    sentence = (
        r'outside\.temperature = 40 is 40 K; Python numbers are SI\. Write "40 degC" '
        r'or flownet\.si\("40 degC"\)'
    )
    with pytest.raises(CaseError, match=sentence):
        Outside(temperature=40)
    with pytest.raises(CaseError, match=sentence):
        CASE.with_changes({"outside.temperature": 40})


@pytest.mark.parametrize(
    ("make", "sentence"),
    [
        (lambda: Opening(name="x", from_="a", to="b", area="0.045 m"), r"opening\.x\.area: "),
        (lambda: Opening(name="x", from_="a", to="b", area=-1.0), "must be above 0"),
        (lambda: Opening(name="x", from_="a", area=1.0), "opening.x.to: must be given"),
        (lambda: Vent(name="v", from_="a", to="b", area=1.0), r"vent\.v\.loss: must be given"),
        (lambda: Vent(name="v", from_="a", to="b", area=1.0, loss=2, open_ratio=0.5), "together"),
        (lambda: Fan(name="f", from_="a", to="b", type="t", state="of"), "must be one of"),
        (lambda: Fan(name="f", from_="a", to="b", type="t", guard={"los": 1}), "did you mean"),
        (lambda: Filter(name="m", from_="a", to="b", area=1, velocity_drop=((0.5, 2), (0.4, 1))),
         "must rise"),
    ],
)  # fmt: skip
def test_a_thing_is_checked_when_it_is_built(make, sentence):
    with pytest.raises(CaseError, match=sentence):
        make()


def test_all_faults_of_a_thing_come_at_once():
    with pytest.raises(CaseError) as error:
        Fan(name="f", from_="a", to="b", type="t", speed=7, state="of", guard={"loss": -1})
    assert len(error.value.faults) == 3


def test_inputs_and_results_are_frozen():
    with pytest.raises(dataclasses.FrozenInstanceError):
        CASE.outside.temperature = 300.0
    with pytest.raises(AttributeError, match="frozen"):
        flownet.solve(CASE).totals.heat = 1.0


# --- links ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("thing", "sentence"),
    [
        (Opening(name="o", from_="lo", to="outside", area=1), r'opening\.o\.from: no .* "lo"; did'),
        (Opening(name="o", from_="low", to="low", area=1), "both ends"),
        (Fan(name="f", from_="low", to="outside", type="axiall"), 'no fan type "axiall"; did you'),
        (Part(name="p", in_="part.p", power=1.0), "circle: p -> p"),
        (Part(name="p", in_="nowhere", power=1.0), 'no compartment, branch or part "nowhere"'),
        (Compartment(name="two words"), "letters, digits"),
    ],
)
def test_links_must_lead_somewhere(thing, sentence):
    items = [item for named in CASE.things.values() for item in named.values()
             if ".rating." not in item.name]  # fmt: skip
    with pytest.raises(CaseError, match=sentence):
        Enclosure.of(*items, thing)


# --- paths and changes ---------------------------------------------------------------------------


def test_keys_lists_what_is_given():
    assert "fan.left.speed" in CASE.keys("fan.*")
    assert all(path.startswith("filter.") for path in CASE.keys("filter.*"))


@pytest.mark.parametrize(
    ("path", "sentence"),
    [
        ("fan.lef.speed", 'fan.lef.speed: no fan "lef"; did you mean "left"?'),
        ("fan.left.sped", 'fan has no key "sped"; did you mean "speed"?'),
        ("fam.left.speed", 'no kind "fam"; did you mean "fan"?'),
        ("fan.x*.speed", "matches no fan"),
        ("fan.left.from", "shapes the network"),
        ("part.drive.in", "shapes the network"),
    ],
)
def test_unknown_paths_suggest_the_nearest(path, sentence):
    with pytest.raises(CaseError) as error:
        CASE.with_changes({path: 1.0})
    assert sentence in str(error.value)


def test_with_changes_leaves_the_old_one():
    new = CASE.with_changes({"fan.*.speed": 0.5, "leak.seal.flow_at.0": "4 m3/h",
                             "fan.left.guard.loss": 0.8})  # fmt: skip
    assert [fan.speed for fan in new.fans.values()] == [0.5, 0.5]
    assert new["leak.seal.flow_at.0"] == pytest.approx(4 / 3600)
    assert new["fan.left.guard.loss"] == 0.8
    assert CASE["fan.left.speed"] == 1.0


def test_a_change_to_one_of_several_keys_takes_back_the_others():
    new = CASE.with_changes({"vent.roof.open_ratio": 0.5})
    assert new["vent.roof.open_ratio"] == 0.5
    assert np.isnan(new["vent.roof.loss"])
    new = CASE.with_changes({"outside.pressure": "91 kPa"})
    assert np.isnan(new["outside.altitude"])


def test_speed_takes_revolutions_too():
    new = CASE.with_changes({"fan.left.speed": "1400 rpm"})
    found = flownet.solve(new)
    assert found.fans["fan.left"].speed_ratio == pytest.approx(0.5)
    again = flownet.solve(new, changes={"fan.left.speed": 1.0})
    assert again.fans["fan.left"].speed_ratio == 1.0


def test_another_type_brings_its_keys_but_not_over_the_things_own():
    new = CASE.with_changes({"slot.a.type": "wide"})
    assert (new["slot.a.gap"], new["slot.a.power"]) == (0.03, 5.0)
    with pytest.raises(CaseError, match='no slot type "lin"; did you mean "line"'):
        CASE.with_changes({"slot.a.type": "lin"})


def test_a_change_of_a_fan_type_reaches_the_ratings_that_do_not_say_it_themselves():
    new = CASE.with_changes({"fan_type.axial.noise_dBA": 50, "fan_type.axial.power": 30.0})
    sixty = new.things["fan_type"]["axial.rating.sixty"]
    assert sixty.noise_dBA == 50
    assert sixty.power == 23.0


# --- scenarios -----------------------------------------------------------------------------------


def test_scenarios_join_from_left_to_right_and_changes_come_last():
    assert CASE.under("hot+cool").outside.temperature == pytest.approx(293.15)
    assert CASE.under("cool+hot").outside.temperature == pytest.approx(323.15)
    changes = {"fan.left.speed": 0.9}
    found = flownet.solve(CASE, scenario="hot+dirty", variant="slow", changes=changes)
    assert found.case["filter.mat.fouling"] == 2.0
    assert (found.case["fan.left.speed"], found.case["fan.right.speed"]) == (0.9, 0.7)
    assert (found.scenario, found.variant) == ("hot+dirty", "slow")


def test_outages_exist_without_being_written():
    assert CASE.under("fan.left-out").fans["left"].state == "stopped"
    assert {f.state for f in CASE.under("supply.mains-out").fans.values()} == {"stopped"}
    assert expand(CASE, "hot+each-fan-out") == ["hot+fan.left-out", "hot+fan.right-out"]
    with pytest.raises(CaseError, match="compare"):
        flownet.solve(CASE, scenario="each-fan-out")
    with pytest.raises(CaseError, match='no scenario "hto"; did you mean "hot"'):
        flownet.solve(CASE, scenario="hto")
    with pytest.raises(CaseError, match="no such variant"):
        flownet.solve(CASE, variant="quick")


def test_a_speed_may_follow_a_temperature():
    """By the outside it needs no balance: half-way between the points at 57.5 degC."""
    control = {"by": "outside", "temperature": ("45 degC", "70 degC"), "speed": (0.5, 1.0)}
    items = [item for named in CASE.things.values() for item in named.values()
             if ".rating." not in item.name and item.path != "fan.left"]  # fmt: skip
    fan = Fan(name="left", from_="high", to="outside", type="axial", speed_control=control)
    found = flownet.solve(Enclosure.of(*items, fan), changes={"outside.temperature": "57.5 degC"})
    assert found["fan.left.speed_ratio"] == pytest.approx(0.75)
    assert found.followed("fan.left").by == "outside"


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ({"scenario": 3}, "scenario: a name is wanted"),
        ({"scenario": ["hot", "dirty"]}, r"scenario: a name is wanted, several as \"a\+b\""),
        ({"scenario": None}, "scenario: a name is wanted"),
        ({"variant": None}, "variant: a name is wanted"),
        ({"changes": ["fan.left.speed"]}, "changes: a mapping of input paths to values is wanted"),
        ({"changes": {3: 1.0}}, "changes: a mapping of input paths to values is wanted"),
    ],
)
def test_arguments_of_a_wrong_type_are_said_in_words(words, said):
    with pytest.raises(TypeError, match=said):
        flownet.solve(CASE, **words)


def test_a_path_that_ends_at_a_thing_asks_for_a_key():
    for path in ("fan.left", "fan.left.", "outside"):
        kind = path.partition(".")[0]
        with pytest.raises(CaseError, match=f"names a whole {kind}; add one of its keys"):
            CASE.with_changes({path: 1.0})


# --- results -------------------------------------------------------------------------------------


def test_results_are_si_and_a_suffix_is_in_that_unit():
    found = flownet.solve(CASE)
    row = found.parts["drive"]
    assert found["part.drive.temperature"] == row.temperature
    assert row.temperature_degC == pytest.approx(row.temperature - 273.15)
    assert row.temperature_degF == pytest.approx(row.temperature * 1.8 - 459.67)
    flow = found.branches["filter.mat"]
    assert flow.volume_flow_m3_h == pytest.approx(3600 * flow.volume_flow)
    assert found.volume_flow("filter.mat") == flow.volume_flow
    with pytest.raises(AttributeError, match="no result"):
        row.temperatur  # noqa: B018
    with pytest.raises(CaseError, match='did you mean "drive"'):
        found["part.driv.temperature"]
    assert repr(found).startswith('<Solution "cabinet" base: worst ')


def test_an_enclosure_and_its_solutions_travel_to_other_processes():
    again = pickle.loads(pickle.dumps(CASE))
    assert again.digest == CASE.digest
    found = pickle.loads(pickle.dumps(flownet.solve(again)))
    assert found.to_dict() == flownet.solve(CASE).to_dict()


def test_the_digest_tells_every_change_and_nothing_else():
    assert CASE.with_changes({"fan.left.guard.loss": 0.1}).digest != CASE.digest
    assert CASE.with_changes({"fan_type.axial.power": 20.0}).digest != CASE.digest
    assert cabinet().digest == CASE.digest


def test_the_graph_is_a_networkx_view():
    graph = CASE.graph
    assert set(graph.nodes) == {"low", "high", "outside", "outside.aisle"}
    assert graph.has_edge("outside", "low", key="filter.mat")
