"""Relative changes against the arithmetic they stand for, and what scenarios take from variants."""

from __future__ import annotations

import json

import numpy as np
import pytest

import flownet
from flownet.casefile import load_case, save_case
from flownet.casefile.resolved import resolved
from flownet.enclosure import relative
from flownet.enclosure.overriding import _kept, alike, notes, of_choice, overridden
from flownet.enclosure.ranges import alternatives
from flownet.schema.errors import CaseError
from tests.casefile.small import BASE, faults, load
from tests.each import every
from tests.every_kind import everything

CASE = everything()
ZERO = 273.15
FILE = BASE + (
    '[vent.v]\nfrom = "top"\nto = "outside"\narea = "5 cm2"\nopen_ratio = 0.5\n[fan.right]\n'
    'like = "left"\nspeed = 0.8\n[scenario.hot]\noutside.temperature = "+ 5 K"\n'
    '[scenario.warm]\noutside.temperature = "+ 9 degF"\n[scenario.slow]\n"fan.*.speed" = "* 0.5"\n'
    '[scenario.one]\nfan.left.speed = "+ 0.1"\n[scenario.full]\n"fan.*.speed" = 1.0\n'
    '[scenario.worst]\nlike = ["full", "slow", "hot", "warm"]\n'
    '[variant.brisk]\nfan.right.speed = 0.6\nvent.v.area = "* 2"\n'
)


@every(("path", "text", "of", "value"), [
    ("fan.right.speed", "* 0.9", "speed", 0.81),
    ("fan.right.speed", "/ 2", "speed", 0.45),
    ("fan.right.speed", "* 110 %", "speed", 0.99),
    ("fan.right.speed", "− 0.1", "speed", 0.8),
    ("fan.right.speed", "* 2 then - 0.8", "speed", 1.0),
    ("fan.left.guard.loss", "+ 0.4", "guard.loss", 1.0),
    ("fan.left.at.1", "- 100 mm", "at.1", 1.7),
    ("leak.seal.flow_at.0", "* 3", "flow_at.0", 6 / 3600),
    ("outside.temperature", "+ 5 K", "temperature", 45 + ZERO),
    ("outside.temperature", "- 5 degC", "temperature", 35 + ZERO),
    ("outside.temperature", "+ 9 degF", "temperature", 45 + ZERO),
    ("outside.temperature", "-5 degC", "temperature", -5 + ZERO),  # no blank: the value
    ("outside.altitude", "+ 1 km", "altitude", 1900.0),
    ("limits.noise_dBA", "- 3 dB", "noise_dBA", 52.0),
    ("part.drive.power", "* 0", "power", 0.0),
    ("slot.b.count", "* 3", "count", 6.0),
])  # fmt: skip
def test_a_relative_change_is_of_the_value_that_stands_there(path, text, of, value):
    made = CASE.with_changes({path: text})
    place = CASE.place(path)
    assert place.key == of
    assert made[path] == pytest.approx(value, rel=1e-12)
    assert made.applied.changes == {path: text}


@every(("path", "text", "words"), [
    ("outside.temperature", "* 1.1", "its zero"),
    ("outside.temperature", "+ 500 K", '"+ 500 K" of 40 degC must be from -123.15 degC'),
    ("outside.temperature", "+ 5", "has no unit"),
    ("outside.temperature", "+5 K", 'write "+ 5 K"'),
    ("fan.left.speed", "+0.1", 'write "+ 0.1"'),
    ("outside.pressure", "* 2", "not given; altitude stands there instead"),
    ("opening.gap.discharge_coefficient", "* 1.1", "its default is 0.61"),
    ("part.sink.power", "* 1.1", "load scales"),
    ("part.drive.power", "+ 10 %", '"* 1.1"'),
    ("part.drive.power", "- 10 %", '"* 0.9"'),
    ("part.drive.power", "/ 0", "divides by 0"),
    ("part.drive.power", "* 2 W", "is a power"),
    ("part.drive.power", "* 2 + 5 W", "is not a number"),
    ("limits.noise_dBA", "* 1.1", "of a sound level"),
    ("vent.side.open_ratio", "* 4", '"* 4" of 0.45 must be from 0.01 to 0.99 (got 1.8)'),
    ("slot.b.count", "* 1.3", "whole number (got 2.6)"),
    ("filter.mat.velocity_drop", "* 2", "fouling"),
    ("fan_type.axial.curve", "* 2", "pressure_factor"),
    ("part.choke.resistance_over_velocity", "* 2", "resistance_factor"),
    ("filter.mat.at", "+ 5 mm", "name one"),
    ("fan.left.state", "* 2", "number"),
    ("fan.left.speed", "+ 200 rpm", "1 stands there"),
])  # fmt: skip
def test_what_has_no_meaning_or_leads_out_of_a_range_is_refused(path, text, words):
    with pytest.raises(CaseError) as caught:
        CASE.with_changes({path: text})
    assert len(caught.value.faults) == 1
    assert caught.value.faults[0].startswith(f"{path}: ")
    assert words in caught.value.faults[0]


def test_each_match_keeps_its_own_value_and_a_speed_its_unit():
    made = CASE.with_changes({"fan.left.speed": "2400 rpm"}).with_changes({"fan.*.speed": "* 0.5"})
    assert made["fan.left.rotation"] == pytest.approx(20.0)
    assert np.isnan(made["fan.left.speed"])
    assert made["fan.right.speed"] == pytest.approx(0.45)
    assert made.with_changes({"fan.left.speed": "+ 60 rpm"})["fan.left.rotation"] == 21.0


def test_a_fan_type_takes_its_ratings_along_unless_they_say_it_themselves():
    made = CASE.with_changes({"fan_type.axial.power": "* 2", "fan_type.axial.noise_dBA": "+ 3 dB"})
    types = made.things["fan_type"]
    assert (types["axial"].power, types["axial.rating.sixty"].power) == (38.0, 23.0)
    assert {types[n].noise_dBA for n in ("axial", "axial.rating.sixty")} == {47.0}


def test_arrays_over_variants_and_what_was_set_before_in_the_same_changes():
    speeds = ["* 0.5", 1.0, "+ 0.1", "1400 rpm"]
    both = flownet.solve_many(CASE, {"fan.*.speed": speeds, "fan.right.speed": "* 0.8"})
    ratio = both.fans.columns["speed_ratio"]
    assert ratio[0] == pytest.approx([0.5, 1.0, 1.1, 0.5])
    assert ratio[1] == pytest.approx([0.36, 0.8, 0.8, 0.4])
    after = {"fan.left.speed": np.array([0.5, 0.8]), "fan.*.speed": "* 0.5"}
    assert flownet.solve_many(CASE, after).fans.columns["speed_ratio"][0] == pytest.approx(
        [0.25, 0.4]
    )


def test_variant_then_scenarios_then_changes_each_act_on_what_stands_there(tmp_path):
    case = load(tmp_path, FILE)
    for scenario, variant, speeds, warmer in (
        ("slow", "base", (0.5, 0.4), 0.0),
        ("slow", "brisk", (0.5, 0.3), 0.0),
        ("slow+one", "brisk", (0.6, 0.3), 0.0),
        ("one+slow", "brisk", (0.55, 0.3), 0.0),
        ("full+slow", "brisk", (0.5, 0.5), 0.0),
        ("hot+warm", "base", (1.0, 0.8), 10.0),
        ("worst", "base", (0.5, 0.5), 10.0),
    ):
        made = case.under(scenario, variant)
        assert [f.speed for f in made.fans.values()] == pytest.approx(speeds)
        assert made.outside.temperature - case.outside.temperature == pytest.approx(warmer)
        more = made.with_changes({"fan.*.speed": "* 0.5"})
        assert [f.speed for f in more.fans.values()] == pytest.approx([0.5 * s for s in speeds])
        assert case.with_changes(more.applied.changes).things == more.things


def test_what_was_read_is_written_and_read_again(tmp_path):
    case = load(tmp_path, FILE)
    assert case.scenarios["worst"] == {
        "fan.*.speed": 0.5, "outside.temperature": "+ 5 K then + 9 degF",
    }  # fmt: skip
    save_case(case, tmp_path / "again.toml")
    again = load_case(tmp_path / "again.toml")
    assert again == case
    assert again.under("worst", "brisk").digest == case.under("worst", "brisk").digest


def test_json_says_the_change_as_written_and_what_it_made(tmp_path):
    case = load(tmp_path, FILE)
    found = flownet.solve(case, scenario="slow", variant="brisk").to_dict()
    written = {"fan.right.speed": 0.6, "vent.v.area": "* 2", "fan.*.speed": "* 0.5"}
    assert found["changes"] == written
    assert found["changed_to"] == {
        "vent.v.area": "10 cm2", "fan.left.speed": 0.5, "fan.right.speed": 0.3,
    }  # fmt: skip
    assert json.dumps(found["changed_to"])
    origins = {row.path: row.origin for row in resolved(case, "slow", "brisk")}
    assert origins["fan.right.speed"] == "scenario slow, * 0.5"


def test_lines_of_one_table_have_no_order(tmp_path):
    extra = '[scenario.x]\n"fan.*.speed" = "* 0.5"\nfan.left.speed = "* 0.5"\n'
    (said,) = faults(tmp_path, FILE + extra)
    assert said.startswith("case.toml: scenario.x.fan.left.speed: fan.*.speed changes")
    extra = '[scenario.x]\n"fan.*.speed" = "* 0.5"\nfan.left.speed = 0.7\n'  # says more, and wins
    speeds = [fan.speed for fan in load(tmp_path, FILE + extra).under("x").fans.values()]
    assert speeds == pytest.approx([0.7, 0.4])


@every(("path", "raw", "values"), [
    ("fan.*.speed", "* 0.8 to 1.2 in 3", ("* 0.8", "* 1", "* 1.2")),
    ("outside.temperature", "+ 0 to 10 K in 3", ("+ 0 K", "+ 5 K", "+ 10 K")),
    ("outside.temperature", "- 5 to 5 K in 3", ("- 5 K", "+ 0 K", "+ 5 K")),
    ("fan.*.speed", ["* 0.8", 1.0], ("* 0.8", 1.0)),
])  # fmt: skip
def test_ranges_of_relative_changes(path, raw, values):
    assert alternatives(CASE, path, raw) == values


@every(
    ("path", "raw"),
    [
        ("fan.*.speed", "* 0.8 to 1.2"), ("fan.*.speed", "* 1.2 to 0.8 in 3"),
        ("fan.*.speed", "* 0.8 to + 1.2 in 3"), ("outside.temperature", "* 0.8 to 1.2 in 3"),
        ("outside.temperature", "+ 0 to 10 in 3"), ("fan.*.speed", "/ 1 to 2 in 3"),
        ("part.drive.power", "+ 10 W to + 1 kW in 3"),
    ],
)  # fmt: skip
def test_ranges_without_a_meaning_are_refused(path, raw):
    with pytest.raises(CaseError, match=path.replace("*", r"\*")):
        alternatives(CASE, path, raw)


def test_a_sweep_of_factors_starts_from_the_variant(tmp_path):
    case = load(tmp_path, FILE)
    found = flownet.sweep(case, {"fan.right.speed": "* 0.5 to 1 in 2"}, variant="brisk",
                          keep=["fan.right.speed_ratio"])  # fmt: skip
    rows = list(found.rows())
    assert [row["fan.right.speed"] for row in rows] == ["* 0.5", "* 1"]
    assert found["fan.right.speed_ratio"] == pytest.approx([0.3, 0.6])


@every(
    ("changes", "left"),
    [
        ({"fan.left.speed": "* 0.9"}, 0.9), ({"fan.left.speed": "/ 4"}, 0.25),
        ({"fan.left.speed": "+ 0.1"}, 1.0), ({"fan.left.speed": 0.9}, 0.0),
        ({"fan.left.speed": "* 2 then - 0.1 then * 3"}, 6.0),
        ({"fan.*.speed": "* 0.5", "fan.left.speed": "* 0.5"}, 0.25),
        ({"fan.*.speed": 0.5, "fan.left.speed": "* 0.5"}, 0.0), ({"fan.right.speed": 1.0}, None),
    ],
)  # fmt: skip
def test_of_a_value_set_before_its_factors_are_left(changes, left):
    assert relative.weights(CASE, changes).get(CASE.place("fan.left.speed")) == (
        left if left is None else pytest.approx(left)
    )


def test_each_variant_keeps_what_stood_there_for_it():
    place = CASE.place("fan.left.speed")
    for stands, third in ((np.array([0.2, 0.4, 0.6]), 0.3), (np.array([0.8]), 0.4), (0.6, 0.3)):
        assert relative.settled(CASE, place, place.role, "* 0.5", {place: stands}, 2) == third


# --- what a scenario takes from a variant -------------------------------------------------------

VARIED = everything(
    scenarios={
        "set": {"fan.left.speed": 0.9}, "wide": {"fan.*.speed": 0.9}, "same": {"fan.*.speed": 0.7},
        "rpm": {"fan.left.speed": "2000 rpm"}, "scaled": {"fan.*.speed": "* 0.9"},
        "clogged": {"vent.side.loss": 20.0}, "line": {"slot.a.type": "wide"},
        "shut": {"fan.spare.state": "stopped"}, "hot": {"outside.temperature": "50 degC"},
        "level": {"fan_type.axial.noise_dBA": 45.0}, "other": {"fan.*.type": "small"},
        "some": {"fan.left.type": "small"},
    },
    variants={
        "slow": {"fan.*.speed": 0.7}, "open": {"vent.side.open_ratio": 0.8},
        "gap": {"slot.a.gap": "12 mm"}, "three": {"fan.spare.state": "running"},
        "loud": {"fan_type.axial.noise_dBA": 40.0}, "cool": {"outside.temperature": "10 degC"},
        "closed": {"fan.spare.state": "blanked", "fan.left.state": "blanked"},
    },
)  # fmt: skip


@every(
    ("scenario", "variant", "sets", "lost"),
    [
        ("set", "slow", ["fan.left.speed"], ["fan.left.speed"]),
        ("hot+wide", "slow", [f"fan.{n}.speed" for n in ("left", "right", "spare")],
         [f"fan.{n}.speed" for n in ("left", "right", "spare")]),
        ("rpm", "slow", ["fan.left.speed"], ["fan.left.speed"]),
        ("clogged", "open", ["vent.side.loss"], ["vent.side.open_ratio"]),
        ("shut", "closed", ["fan.spare.state"], ["fan.spare.state"]),
        ("line", "gap", ["slot.a.type"], ["slot.a.gap"]),
        ("other", "loud", ["fan.*.type"], ["fan_type.axial.noise_dBA"]), ("some", "loud", [], []),
        # what a rating takes along from its type is not what is written
        ("level", "loud", ["fan_type.axial.noise_dBA"],
         ["fan_type.axial.noise_dBA", "fan_type.axial.rating.sixty.noise_dBA"]),
        ("same", "slow", [], []), ("scaled", "slow", [], []), ("hot", "slow", [], []),
        ("line", "slow", [], []),
        ("shut", "three", [], []), ("fan.spare-out", "three", [], []), ("set", "base", [], []),
        ("fan.left-out", "closed", [], []), ("set", "open", [], []),
    ],
)  # fmt: skip
def test_what_is_lost_is_said_by_name(scenario, variant, sets, lost):
    found = overridden(VARIED, scenario, variant)
    assert [path for each in found for path in each.sets] == sets
    assert [path for each in found for path in each.lost] == lost


@every(
    ("scenario", "variant", "instead"),
    [("wide", "slow", "* 0.9"), ("hot", "cool", "+ 30 K"), ("other", "loud", "")],
)
def test_the_advice_does_the_same_to_the_case(scenario, variant, instead):
    """In air of 20 degC and at rated speed; what sets the case's own value is left out."""
    plain = VARIED.with_changes({"outside.temperature": "20 degC", "fan.*.speed": 1.0})
    (found,) = overridden(plain, scenario, variant)
    assert found.instead == instead
    assert ("relative" in found.hint) == bool(instead)
    again = plain.with_changes({"fan.*.speed": 0.9, "outside.temperature": "50 degC"})
    assert not any(each.instead for each in overridden(again, scenario, variant))


def test_a_comparison_says_each_once_and_where_designs_are_the_same():
    compared = flownet.compare(VARIED, variants=["slow", "open"], scenarios=["wide", "clogged"])
    assert len(compared.notes) == 2
    names = ["wide", "hot+wide", "wide+hot", "clogged"]
    assert notes(VARIED, names, ["base", "slow", "open"]) == compared.notes
    assert compared.notes[0].startswith("scenario wide sets fan.left.speed, fan.right.speed and 1")
    assert "slow is base in wide" in compared.notes[0]
    assert compared.to_dict()["notes"] == list(compared.notes)
    assert notes(VARIED, ["base"], ["slow"], {"fan.left.speed": 1.0})[0].startswith("--set sets")


@every(
    ("before", "value", "kept"),
    [
        (0.7, 0.7, True), (0.7, 0.8, False), (1, 1.0, False), ("a", "a", True),
        ("running", "stopped", True), ("running", "freewheeling", True),
        ("running", "blanked", False), ("blanked", "stopped", False), ("stopped", "running", False),
    ],
)  # fmt: skip
def test_nothing_is_lost_of_the_same_again_and_of_a_fan_that_fails(before, value, kept):
    assert _kept(before, value) == kept


@every(
    ("varied", "scenarios", "count"),
    [
        ({"fan.left.speed": [0.5, 0.7]}, ["set"], 1), ({"fan.left.speed": [0.9]}, ["set"], 0),
        ({"fan.left.speed": [0.5, 0.9]}, ["set"], 1), ({"fan.left.speed": [0.5]}, ["scaled"], 0),
        ({"fan.left.speed": [0.5]}, ["set", "wide"], 2), ({"fan.left.speed": [0.5]}, ["hot"], 0),
        ({"fan.left.state": ["running"]}, ["fan.left-out"], 0),
        ({"fan.spare.state": ["running", "blanked"]}, ["shut"], 1),
    ],
)  # fmt: skip
def test_what_scenarios_take_from_a_choice(varied, scenarios, count):
    assert len(of_choice(VARIED, "c", varied, scenarios)) == count


def test_a_variant_is_base_where_all_it_sets_is_set_anew():
    assert alike(VARIED, "wide", "slow")
    assert not alike(VARIED, "set", "slow")
