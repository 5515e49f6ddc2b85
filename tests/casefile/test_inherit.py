"""`like`, `copies`, lists in `in` and `type`."""

from __future__ import annotations

import pytest

from flownet.casefile import load_case, resolved
from flownet.enclosure.branches import Opening
from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.surroundings import Compartment
from tests.casefile.small import BASE, faults, load
from tests.each import each, named

CARD = (
    '[slot.card]\ncopies = 3\npitch = "45 0 mm"\nfrom = "box"\nto = "top"\nat = "30 900 mm"\n'
    'gap = "15 mm"\nwidth = "220 mm"\nlength = "160 mm"\n'
)
VENT = '[vent.a]\nfrom = "top"\nto = "outside"\narea = "5 cm2"\nloss = 3\n'


def test_like_takes_all_keys_but_the_designation(tmp_path):
    extra = (
        '[fan.a]\nlike = "left"\ntag = "-M2"\nnote = "n"\nguard = { loss = 0.4 }\n'
        '[fan.b]\nlike = "a"\nstate = "blanked"\n'
    )
    case = load(tmp_path, BASE + extra)
    fan = case.fans["b"]
    assert (fan.from_, fan.type, fan.guard.loss, fan.note) == ("top", "plain", 0.4, "n")
    assert (fan.state, fan.tag) == ("blanked", None)
    assert case.fans["a"].state == "running"


def test_like_works_for_types_and_further_outsides(tmp_path):
    extra = (
        '[fan_type.quick]\nlike = "plain"\npower = "9 W"\n'
        '[outside.a]\ntemperature = "40 degC"\n[outside.b]\nlike = "a"\nover_pressure = "2 Pa"\n'
    )
    case = load(tmp_path, BASE + extra)
    assert case["fan_type.quick.flow_area"] == case["fan_type.plain.flow_area"]
    assert (case["outside.b.temperature"], case["outside.b.over_pressure"]) == (313.15, 2.0)


def test_a_key_takes_back_those_that_it_excludes(tmp_path):
    extra = (
        VENT + '[vent.b]\nlike = "a"\nopen_ratio = 0.5\n'
        '[vent.c]\nlike = "b"\non = "fan.left"\n'
        '[vent.d]\nlike = "c"\nfrom = "box"\nto = "top"\n'
        '[part.p]\nin = "box"\noutput = "9 W"\nefficiency = 0.9\n'
        '[part.q]\nlike = "p"\npower = "2 W"\n'
    )
    case = load(tmp_path, BASE + extra)
    vents = case.things["vent"]
    assert vents["b"].open_ratio == 0.5
    assert vents["b"].loss != vents["b"].loss
    assert (vents["c"].from_, vents["c"].to, vents["c"].on) == (None, None, "fan.left")
    assert (vents["d"].from_, vents["d"].to, vents["d"].on) == ("box", "top", None)
    assert case["part.q.power"] == 2.0
    assert case["part.q.efficiency"] != case["part.q.efficiency"]


@each(named([
        ('[fan.a]\nlike = "lft"', ['fan.a.like: no fan "lft"; did you mean "left"?']),
        ('[fan.c]\nlike = "a"\n[fan.a]\nlike = "b"\n[fan.b]\nlike = "c"', [
            "fan.a.like: a circle: a -> b -> c -> a"]),
        ('[fan.a]\nlike = ["left"]', [
            'fan.a.like: takes the name of one table (got ["left"])']),
        (CARD + '[slot.row]\nlike = "card-2"\ngap = "9"', [
            'slot.row.gap: "9" has no unit; a length is wanted, such as "120 mm"']),
        (CARD.replace("copies = 3", "copies = 0"), [
            "slot.card.copies: must be a whole number from 1 to 1000 (got 0)"]),
        (CARD + "[slot.card-2]\ncopies = 2", [
            "slot.card-2.copies: a copy has no copies of its own"]),
        (CARD + '[part.p]\nin = "slot.card"', [
            'part.p.in: no compartment, branch or part "slot.card"; '
            'did you mean "slot.card-3"?']),
        ('[part.p]\nin = ["box", "tp"]\ncopies = 3', [
            "part.p.copies: 3, but in names 2 places; leave copies out",
            'part.p.in: no compartment, branch or part "tp"; did you mean "top"?']),
        ("[part.p]\nin = []", ["part.p.in: takes a name or a list of names (got [])"]),
        ("[vent_type.fine]\nloss = 3\n" + VENT + 'type = "fin"', [
            'vent.a.type: no vent type "fin"; did you mean "fine"?']),
        ('[slot_type.s]\ncopies = 3', [
            "slot_type.s.copies: unknown key; the keys of slot_type are from, to, count, gap, "
            "width, length, free_ratio, area, loss, velocity_drop, sink, power, part_heat, load, "
            "air_limit, state, filler, empty, at, direction"]),
    ]), "extra said")  # fmt: skip
def test_what_cannot_be_taken_over_is_said_once(tmp_path, extra, said):
    assert list(faults(tmp_path, BASE + extra)) == [f"case.toml: {line}" for line in said]


def test_a_fault_that_many_copies_share_is_said_once_at_its_own_place(tmp_path):
    wrong = CARD.replace('"box"', '"bx"').replace('length = "160 mm"\n', "")
    said = faults(tmp_path, BASE + wrong)
    assert said == (
        "case.toml: slot.card.gap: needs width and length beside it",
        'case.toml: slot.card.from: no compartment "bx"; did you mean "box"?',
    )


def test_a_fault_of_a_type_is_said_once_at_the_type(tmp_path):
    extra = (
        '[slot_type.line]\ngap = "15"\nwidth = "220 mm"\nlength = "160 mm"\nfrom = "bx"\n'
        '[slot.a]\nto = "top"\ntype = "line"\n[slot.b]\nlike = "a"\n'
    )
    assert faults(tmp_path, BASE + extra) == (
        'case.toml: slot_type.line.gap: "15" has no unit; a length is wanted, such as "120 mm"',
        'case.toml: slot_type.line.from: no compartment "bx"; did you mean "box"?',
    )


def test_copies_stand_side_by_side_and_can_be_changed_one_by_one(tmp_path):
    extra = (
        CARD + '[slot.card-2]\npower = "9 W"\n[slot.card-3]\nat = "0 0 mm"\n'
        '[slot.spare]\nlike = "card-2"\n[slot.card-4]\nlike = "card-1"\nstate = "blanked"\n'
    )
    slots = load(tmp_path, BASE + extra).things["slot"]
    assert list(slots) == ["card-1", "card-2", "card-3", "spare", "card-4"]
    assert slots["card-2"].at == pytest.approx((0.075, 0.9), abs=1e-12)
    assert slots["card-3"].at == (0.0, 0.0)
    assert [slots[name].power for name in slots] == [0.0, 9.0, 0.0, 9.0, 0.0]


def test_the_pitch_moves_outlines_and_routes(tmp_path):
    extra = (
        '[compartment.bay]\ncopies = 2\npitch = "100 0 mm"\noutline = "0 0 100 200 mm"\n'
        '[duct.d]\nfrom = "bay-1"\nto = "bay-2"\ncopies = 2\npitch = "0 10 mm"\n'
        'route = ["0 0 mm", "5 5 mm"]\nlength = "1 m"\ndiameter = "3 mm"\n'
    )
    case = load(tmp_path, BASE + extra)
    assert case.compartments["bay-2"].outline == (0.1, 0.0, 0.1, 0.2)
    assert case.things["duct"]["d-2"].route == ((0.0, 0.01), (0.005, 0.015))


def test_a_part_in_several_places(tmp_path):
    extra = (
        '[part.q]\nin = ["box", "fan.left"]\npower = "3 W"\npitch = "5 0 mm"\nat = "0 0 mm"\n'
        '[part.q-2]\npower = "7 W"\n[part.r]\nlike = "q"\n[part.s]\nlike = "q"\nin = "top"\n'
    )
    parts = load(tmp_path, BASE + extra).parts
    assert {name: part.in_ for name, part in parts.items()} == {
        "q-1": "box", "q-2": "fan.left", "r-1": "box", "r-2": "fan.left", "s": "top",
    }  # fmt: skip
    assert [part.power for part in parts.values()] == [3.0, 7.0, 3.0, 3.0, 3.0]
    assert parts["q-2"].at == (0.005, 0.0)


@each(named([
        ("opening", 'area = "3 cm2"', 'on = "fan.left"'),
        ("filter", 'velocity_drop = { velocity = "1 m/s", drop = "9 Pa" }',
         'on = "fan.left"\narea = "3 cm2"'),
        ("baffle", 'cross_section = "9 cm2"', 'from = "box"\nto = "top"\nopen_area = "1 cm2"'),
        ("duct", 'diameter = "9 mm"', 'from = "box"\nto = "top"\nlength = "1 m"'),
        ("leak", 'flow_at = ["2 m3/h", "10 Pa"]', 'from = "box"\nto = "top"'),
        ("exchange", 'flow = "2 m3/h"', 'between = ["box", "top"]'),
        ("recirculation", "fraction = 0.1", 'from = "fan.left"\nto = "opening.low"'),
        ("wall", 'u_value = "5 W/(m2 K)"', 'from = "box"\nto = "outside"\narea = "1 m2"'),
        ("part", 'power = "3 W"', 'in = "box"'),
        ("supply", 'voltage = "24 V"', ""),
        ("compartment", 'air_limit = "50 degC"', ""),
        ("outside", 'temperature = "50 degC"', ""),
    ]), "kind below table")  # fmt: skip
def test_every_kind_may_have_types(tmp_path, kind, below, table):
    extra = f'[{kind}_type.t]\n{below}\nnote = "of the type"\n[{kind}.x]\ntype = "t"\n{table}\n'
    case = load(tmp_path, BASE + extra)
    item = case.things[kind]["x"]
    key = below.partition(" ")[0]
    assert item.type == "t"
    assert key not in (item.given or ())
    assert item.note is None
    assert getattr(item, key) == case.types[f"{kind}_type"]["t"][key]


def test_another_type_in_a_variant_brings_its_keys_and_no_others(tmp_path):
    extra = (
        '[slot_type.line]\ngap = "15 mm"\nwidth = "220 mm"\nlength = "160 mm"\npower = "4 W"\n'
        '[slot_type.measured]\narea = "9 cm2"\nloss = 3\nnote = "remark on the type"\n'
        '[slot.a]\nfrom = "box"\nto = "top"\ntype = "line"\nload = 0.5\n'
        '[variant.m]\nslot.a.type = "measured"\n'
    )
    slot = load(tmp_path, BASE + extra).under(variant="m").things["slot"]["a"]
    assert (slot.area, slot.loss, slot.load, slot.power) == (0.0009, 3.0, 0.5, 0.0)
    assert slot.gap != slot.gap
    assert slot.note is None


def test_where_every_value_comes_from(tmp_path):
    (tmp_path / "fans.toml").write_text(
        '[fan_type.big]\ncurve = { flow = "0 9 m3/h", rise = "8 0 Pa" }\nflow_area = "9 cm2"\n'
    )
    extra = (
        CARD.replace('gap = "15 mm"\n', 'type = "line"\n') + '[slot_type.line]\ngap = "15 mm"\n'
        '[fan.right]\nlike = "left"\ntype = "big"\n'
        "[scenario.slow]\nfan.left.speed = 0.5\n[variant.none]\n"
        'fan.right.state = "blanked"\n[opening.o]\nfrom = "box"\nto = "outside"\narea = "1 cm2"\n'
        '[part.p]\nin = "box"\n'
    )
    text = BASE.replace("format = 1", 'format = 1\ncatalogue = "fans.toml"') + extra
    case = load(tmp_path, text)
    found = {row.path: (row.value, row.origin) for row in resolved(case, "slow", "none")}
    assert found["fan.left.from"] == ('"top"', "given")
    assert found["fan.right.from"] == ('"top"', "like left")
    assert found["fan.right.type"] == ('"big"', "given")
    assert found["fan.right.state"] == ('"blanked"', "variant none")
    assert found["fan.left.speed"] == ("0.5", "scenario slow")
    assert found["fan.right.speed"][1] == "default"
    assert found["slot.card-2.gap"] == ('"15 mm"', "type line")
    assert found["slot.card-2.at"] == ('"75 900 mm"', "copies of card")
    assert found["fan_type.big.flow_area"] == ('"9 cm2"', "given (fans.toml)")
    assert found["fan_type.big.stopped_loss"] == ("10.0", "default (common practice, no source)")
    assert found["opening.o.discharge_coefficient"] == (
        "0.61", "default (handbook value of a sharp-edged orifice)",
    )  # fmt: skip
    assert found["part.p.power"] == ("0 W", "default")
    assert found["limits.margin"] == ('"5 K"', "default (common practice, no source)")
    assert "opening.o.loss" not in found
    # once each, and every value that is given is there
    rows = [row.path for row in resolved(case)]
    assert len(rows) == len(set(rows))
    wanted = [path for path in case.keys("*") if "rating" not in path]
    assert all(path in rows or path.rpartition(".")[0] in rows for path in wanted)


def test_a_case_built_in_python_shows_its_defaults_too():
    case = Enclosure.of(
        Compartment(name="box"),
        Opening(name="o", from_="outside", to="box", area="3 cm2"),
    )
    found = {row.path: row.origin for row in resolved(case)}
    assert found["opening.o.area"] == "given"
    assert found["opening.o.state"] == "default"


def test_the_same_type_in_two_files_is_a_fault(tmp_path):
    same = '[fan_type.plain]\ncurve = { flow = "0 9 m3/h", rise = "8 0 Pa" }\nflow_area = "9 cm2"\n'
    text = BASE.replace("format = 1", 'format = 1\ncatalogue = ["fans.toml"]')
    assert faults(tmp_path, text, fans_toml=same) == (
        "fans.toml: fan_type.plain: stands in case.toml too; rename one of them",
    )
    with pytest.raises(ValueError, match=r"stands in case\.toml too"):
        load_case(tmp_path)


NAMING = (
    '[slot.other]\nlike = "card-2"\n[part.chip]\nin = "slot.card-1"\npower = "2 W"\n'
    '[scenario.low]\n"slot.card-3.width" = "200 mm"\n"slot.card-*.gap" = "14 mm"\n'
    '[tolerance]\n"slot.card-1.gap" = "5 %"\n'
)


@each(named(["0", "-1", "1.5", '"many"', "true", "1001"]), "written")
def test_a_wrong_number_of_copies_is_told_alone(tmp_path, written):
    wrong = CARD.replace("copies = 3", f"copies = {written}")
    said = f"case.toml: slot.card.copies: must be a whole number from 1 to 1000 (got {written})"
    assert faults(tmp_path, BASE + wrong + NAMING) == (said,)
    assert faults(tmp_path, BASE + wrong) == (said,)
    pattern = '[variant.thin]\n"slot.card-*.gap" = "14 mm"\n'
    assert faults(tmp_path, BASE + wrong + pattern) == (said,)
    load(tmp_path, BASE + CARD + NAMING)


PAIRED = CARD + (
    '[fan.unit]\ncopies = 3\nfrom = "top"\nto = "outside"\ntype = "plain"\n'
    '[vent.mat]\non = "fan.unit"\ncopies = 3\narea = "50 cm2"\nloss = 2\n'
    '[part.sink]\nin = "slot.card"\ncopies = 3\nresistance = "1 K/W"\n'
    '[part.chip]\nin = "part.sink"\ncopies = 3\npower = "3 W"\nstream = "fan.unit"\n'
    '[compartment.bay]\ncopies = 3\n[opening.door]\nfrom = "bay"\nto = "box"\ncopies = 3\n'
    'area = "9 cm2"\n[exchange.x]\nbetween = ["bay", "top"]\nflow = "1 l/s"\ncopies = 3\n'
)


def test_copies_are_paired_with_copies_of_the_same_number(tmp_path):
    more = '[vent.mat-2]\nloss = 5\n[vent.more]\nlike = "mat-3"\n'
    case = load(tmp_path, BASE + PAIRED + more)
    for n in (1, 2, 3):
        assert case[f"vent.mat-{n}.on"] == f"fan.unit-{n}"
        assert case[f"part.sink-{n}.in"] == f"slot.card-{n}"
        assert case[f"part.chip-{n}.in"] == f"part.sink-{n}"
        assert case[f"part.chip-{n}.stream"] == f"fan.unit-{n}"
        assert (case[f"opening.door-{n}.from"], case[f"opening.door-{n}.to"]) == (f"bay-{n}", "box")
        assert case.things["exchange"][f"x-{n}"].between == (f"bay-{n}", "top")
    assert (case["vent.mat-2.loss"], case["vent.more.on"]) == (5.0, "fan.unit-3")


def test_copies_of_different_numbers_are_told_once(tmp_path):
    few = PAIRED.replace('on = "fan.unit"\ncopies = 3', 'on = "fan.unit"\ncopies = 2')
    (said,) = faults(tmp_path, BASE + few)
    assert said.startswith("case.toml: vent.mat.on: fan.unit has 3 copies, vent.mat has 2; give")
