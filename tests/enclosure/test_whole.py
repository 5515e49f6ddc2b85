"""The whole enclosure: built, looked at, addressed, compared, sent."""

from __future__ import annotations

import copy
import dataclasses
import pickle

import networkx
import pytest

import flownet
from flownet.enclosure.branches import Opening
from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.fans import Fan, Guard
from flownet.enclosure.surroundings import Body, Compartment, Limits, Outside
from flownet.schema.component import KINDS
from flownet.schema.errors import CaseError
from tests.each import every
from tests.every_kind import alternatives, everything

CASE = everything()
BOX = Compartment(name="box")


# --- built ---------------------------------------------------------------------------------------


def test_what_is_not_said_has_its_default():
    case = Enclosure.of(BOX)
    assert case.outside == Outside()
    assert case.body == Body()
    assert case.limits == Limits()
    assert (case.title, case.units) == ("", "metric")


@every(
    ("make", "lines"),
    [
        (Enclosure.of, ["compartment: there must be at least one"]),
        (lambda: Enclosure.of("box"),
         ["Enclosure.of takes things such as Compartment(...) (got 'box')"]),
        (lambda: Enclosure.of(BOX, Guard()),
         ["Enclosure.of takes things such as Compartment(...) (got Guard(loss=0.0))"]),
        (lambda: Enclosure.of(BOX, BOX), ["compartment.box: stands twice"]),
        (lambda: Enclosure.of(Compartment()),
         ["compartment: needs a name, such as compartment.left"]),
        (lambda: Enclosure.of(BOX, Limits(name="x")),
         ["limits.x: there is only one limits, without a name"]),
        (lambda: Enclosure.of(BOX, units="imperial"),
         ['units: must be "metric" or "us" (got "imperial")']),
        (lambda: Enclosure.of(BOX, scenarios={"base": {}, "a+b": {}, "x-out": {}}),
         ['scenario.base: "base" is reserved',
          "scenario.a+b: a name is made of letters, digits, - and _",
          'scenario.x-out: names ending in "-out" are reserved for outages']),
        (lambda: Enclosure.of(
            BOX, scenarios={"hot": {"outside.temperature": "50 m", "fan.x.speed": 1}},
            variants={"v": {"outside.temperature": 40}}),
         ['scenario.hot.outside.temperature: "50 m" is a length; a temperature is wanted, such as '
          '"40 degC"', 'scenario.hot.fan.x.speed: no fan "x"',
          "variant.v.outside.temperature = 40 is 40 K; Python numbers are SI. Write "
          '"40 degC" or flownet.si("40 degC")']),
        (lambda: Enclosure.of(
            BOX, types={"slots": {}, "slot_type": {"x": {"gapp": 1, "gap": "1 kg"}}}),
         ["types.slots: no such types; write slot_type for types of slots, and fan types as "
          "things of their own", 'slot_type.x.gapp: unknown key; did you mean "gap"?',
          'slot_type.x.gap: "1 kg" is a mass; a length is wanted, such as "120 mm"']),
    ],
)  # fmt: skip
def test_faults_of_an_enclosure_come_at_once(make, lines):
    with pytest.raises(CaseError) as error:
        make()
    assert list(error.value.faults) == lines


def test_types_are_read_like_things():
    made = Enclosure.of(BOX, types={"slot_type": {"line": {"gap": "15 mm", "power": 16}}})
    assert made.types["slot_type"]["line"] == {"gap": 0.015, "power": 16.0}


# --- looked at -----------------------------------------------------------------------------------


def test_views_are_by_name():
    assert list(CASE.compartments) == ["low", "high"]
    assert list(CASE.fans) == ["left", "right", "spare"]
    assert CASE.branches["fan.left"] is CASE.fans["left"]
    assert CASE.parts["chip"].in_ == "part.sink"
    assert CASE.walls["door"].faces == ("front", "left")
    assert repr(CASE) == (
        '<Enclosure "a thing of every kind, invented data": 2 compartments, 15 branches, 3 fans>'
    )


def test_views_cannot_be_changed():
    with pytest.raises(TypeError):
        CASE.fans["left"] = CASE.fans["right"]
    with pytest.raises(dataclasses.FrozenInstanceError):
        CASE.title = "other"


def test_the_graph_has_every_place_and_path():
    graph = CASE.graph
    assert isinstance(graph, networkx.MultiDiGraph)
    assert set(graph) == {"low", "high", "outside", "outside.aisle"}
    keys = {key for *_, key in graph.edges(keys=True)}
    alone = {p for p, b in CASE.branches.items() if getattr(b, "on", None) is None}
    assert keys == alone | {"wall.door", "wall.rear", "exchange.middle"}
    assert graph["outside"]["low"]["filter.mat"]["kind"] == "filter"
    graph.remove_node("low")
    assert "low" in CASE.graph


@every(
    ("volts", "hertz", "name"),
    [(230, 50, "axial"), (230, 60, "axial.rating.sixty"), (231, 60.05, "axial.rating.sixty"),
     (240, 60, "axial.rating.sixty"), (300, 60, "axial"), (230, None, "axial")],
)  # fmt: skip
def test_the_supply_chooses_the_rating(volts, hertz, name):
    """Within 1 % of the voltage and 0.1 Hz, else the nearest that can be scaled, else the first."""
    case = CASE.with_changes({"supply.mains.voltage": volts, "supply.mains.frequency": hertz})
    assert case.rating(case.fans["left"]).name == name


# --- addressed -----------------------------------------------------------------------------------


def test_a_path_gives_its_value_in_si_or_a_word():
    assert CASE["outside.temperature"] == pytest.approx(313.15)
    assert CASE["outside.aisle.temperature"] == pytest.approx(318.15)
    assert CASE["filter.mat.from"] == "outside"
    assert CASE["part.drive.in"] == "high"
    assert CASE["slot.a.type"] == "line"
    assert CASE["fan.left.guard"] == Guard(loss=0.6)
    assert CASE["leak.seal.flow_at.1"] == 10.0
    assert CASE["fan_type.axial.rating.sixty.power"] == 23.0
    assert CASE["fan.spare.shutter.open_loss"] is None


@every(("path", "sentence"), [
    ("fan.lef.speed", 'fan.lef.speed: no fan "lef"; did you mean "left"?'),
    ("fan.left.sped", 'fan.left.sped: fan has no key "sped"; did you mean "speed"?'),
    ("grille.roof.loss", 'grille.roof.loss: no kind "grille"; did you mean "vent"?'),
    ("vent.roof.zeta", 'vent.roof.zeta: vent has no key "zeta"; did you mean "loss"?'),
    ("fan", 'fan: no fan ""'),
    ("fan.left", "fan.left: names a whole fan; add one of its keys"),
    ("fan.left.", "fan.left.: names a whole fan; add one of its keys"),
    ("outside", "outside: names a whole outside; add one of its keys"),
    ("fan.left.guard.los", 'fan has no key "guard.los"; did you mean "guard.loss"?'),
    ("fan.left.at.2", 'fan.left.at.2: fan has no key "at.2"'),
    ("outside.nowhere.temperature", "outside has no key"),
    ("", 'no kind ""'),
    ("fan.left.speed.x", "fan has no key"),
])  # fmt: skip
def test_a_path_that_leads_nowhere_says_where_it_stops(path, sentence):
    with pytest.raises(CaseError) as error:
        CASE[path]
    assert sentence in str(error.value)


def test_keys_are_the_paths_of_what_is_given():
    assert CASE.keys("leak.*") == (
        "leak.seal.from", "leak.seal.to", "leak.seal.flow_at.0", "leak.seal.flow_at.1",
        "leak.seal.exponent", "leak.seal.state",
    )  # fmt: skip
    assert CASE.keys("fan.left.guard") == ("fan.left.guard.loss",)
    assert CASE.keys("*.speed") == ("fan.left.speed", "fan.right.speed", "fan.spare.speed")
    assert CASE.keys("fan.left.shutter*") == ()
    assert set(CASE.keys("fan.*")) < set(CASE.keys())
    kinds = {path.partition(".")[0] for path in CASE.keys("*")}
    assert kinds == set(KINDS)


def test_a_star_stands_for_names_of_one_kind():
    def found(path):
        return [place.path for place in CASE.places(path)]

    assert found("fan.*.speed") == ["fan.left.speed", "fan.right.speed", "fan.spare.speed"]
    assert found("fan.*t.guard.loss") == ["fan.left.guard.loss", "fan.right.guard.loss"]
    assert found("outside.*.temperature") == ["outside.aisle.temperature"]
    assert found("fan_type.*.power") == ["fan_type.axial.power", "fan_type.small.power"]
    with pytest.raises(CaseError, match='"\\*" matches no fan'):
        CASE.places("fan.x*.speed")
    with pytest.raises(CaseError, match='no kind "fam"'):
        CASE.places("fam.*.speed")
    with pytest.raises(CaseError, match="has no key"):
        CASE.places("fan.*.sped")


# --- compared, sent ------------------------------------------------------------------------------


def test_enclosures_are_compared_by_value():
    for other in (everything(), copy.deepcopy(CASE), pickle.loads(pickle.dumps(CASE))):
        assert other == CASE
        assert hash(other) == hash(CASE)
        assert other.digest == CASE.digest
    assert everything(title="another") != CASE
    assert CASE.with_changes({"fan.left.guard.loss": 0.7}) != CASE


def test_there_and_back_is_the_same_enclosure():
    there = {
        "fan.left.speed": "1400 rpm", "vent.roof.open_ratio": 0.5, "outside.pressure": "90 kPa",
        "part.choke.power": "10 W", "slot.a.type": "wide", "duct.riser.section": "30 x 40 mm",
    }  # fmt: skip
    back = {
        "fan.left.speed": 1.0, "vent.roof.loss": 2.5, "outside.altitude": "900 m",
        "part.choke.output": "2 kW", "part.choke.efficiency": 0.99, "slot.a.type": "line",
        "duct.riser.diameter": "40 mm",
    }  # fmt: skip
    assert CASE.with_changes(there) != CASE
    assert CASE.with_changes(there).with_changes(back) == CASE
    assert CASE.with_changes(there).with_changes(back).digest == CASE.digest


def test_the_digest_tells_every_change():
    others = {
        "slot.a.type": "wide", "filter.mat.velocity_drop": [(1.0, 40.0)],
        "fan_type.axial.supply": "230 V 60 Hz", "fan.left.note": "another",
        "fan.right.shutter": None, "fan.left.data": {"shelf": 3}, "fan.left.supply": None,
    }  # fmt: skip
    made = [(path, changed) for path, _, changed in alternatives()]
    assert len(made) > 200
    made += [(path, CASE.with_changes({path: value})) for path, value in others.items()]
    for path, changed in made:
        assert changed.digest != CASE.digest, path
        assert changed != CASE, path


def test_the_digest_is_of_the_inputs_alone():
    """Where a value is written, what a scenario is called, and its title, say nothing of it."""
    assert everything(title="another").digest == CASE.digest
    assert everything(scenarios={}, variants={}).digest == CASE.digest
    assert (
        CASE.under("fan.left-out").digest == CASE.with_changes({"fan.left.state": "stopped"}).digest
    )
    assert CASE.digest.startswith("sha256:")
    assert len(CASE.digest) == len("sha256:") + 64


def test_public_names_are_those_of_the_package():
    assert flownet.Enclosure is Enclosure
    assert {flownet.Opening, flownet.Fan, flownet.Compartment} == {Opening, Fan, Compartment}
    for name in flownet.__all__:
        assert getattr(flownet, name) is not None
    with pytest.raises(AttributeError, match="nothing"):
        flownet.nothing  # noqa: B018
