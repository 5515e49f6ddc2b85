"""Tables, names, keys and values of a case file, each rule with what it says."""

from __future__ import annotations

from pathlib import Path

import pytest

from flownet.casefile import load_case
from tests.casefile.small import BASE, faults, load
from tests.each import each, named

HERE = Path(__file__).parent
VENT = '[vent.v]\nfrom = "top"\nto = "outside"\narea = "50 cm2"\n'
TYPE = '[fan_type.z]\nflow_area = "80 cm2"\n'
CURVE = (
    "a free-air flow is reached at 0 Pa only; give the pressure-flow curve, "
    'such as curve = { flow = "0 60 110 170 m3/h", rise = "78 52 44 0 Pa" }'
)


def test_the_example_with_most_kinds_loads():
    case = load_case(HERE / "most_kinds.toml")
    assert case.title == "Packing-line drive cabinet"
    assert case["filter.intake.area"] == 0.045
    assert case["outside.temperature"] == pytest.approx(313.15, abs=1e-12)
    assert list(case.things["slot"]) == [f"card-{n}" for n in range(1, 7)]
    assert case["slot.card-3.gap"] == 0.015
    assert case["slot.card-3.at.0"] == pytest.approx(0.120, abs=1e-12)
    assert case["fan.right.guard.loss"] == case["fan.left.guard.loss"] == 0.6
    assert case["part.q1.chain"] == (("junction", 0.4), ("case", 0.25))
    assert case["fan_type.axial-119-b.rating.sixty.rated_speed"] == 3250 / 60
    assert case["fan_type.axial-119-b.rating.sixty.power"] == 19.0  # from the type
    assert case.scenarios["worst-day"] == {"outside.temperature": 323.15, "filter.*.fouling": 2.0}
    assert case.variants["no-shelf"] == {"baffle.shelf.present": False}
    assert set(case.studies) == {"sweep", "tolerance", "choice", "timeline"}


@each(named([
        # units and kinds of numbers
        (VENT.replace("50 cm2", "0.045 m") + "loss = 2", [
            'vent.v.area: "0.045 m" is a length; an area is wanted, such as "450 cm2"']),
        (VENT.replace('"50 cm2"', "50") + "loss = 2", [
            'vent.v.area: 50 has no unit; an area is wanted, such as "450 cm2"']),
        ('[outside]\ntemperature = "40 C"\naltitude = "0,9 m"\nrelative_humidity = "nan"', [
            'outside.temperature: "40 C" has the unknown unit "C"; did you mean "40 degC"?',
            'outside.altitude: "0,9 m" has a comma; write "0.9 m"; an altitude is wanted, '
            'such as "900 m"',
            'outside.relative_humidity: "nan" is not a finite number; a plain number is wanted, '
            'such as "0.61"']),
        ("[outside]\ntemperature = nan\n", [
            'outside.temperature: nan has no unit; a temperature is wanted, such as "40 degC"']),
        (VENT.replace("50 cm2", "1e300 mm2") + "loss = 1e13", [
            'vent.v.area: is beyond all measure (got "1e300 mm2"); an area is wanted, '
            'such as "450 cm2"',
            "vent.v.loss: is beyond all measure (got 10000000000000.0); a plain number is wanted, "
            'such as "0.61"']),
        (VENT + "open_ratio = 63", [
            "vent.v.open_ratio: must be from 0.01 to 0.99 (got 63); did you mean 0.63?"]),
        ('[filter.f]\non = "fan.left"\narea = "2 cm2"\nfouling = 0\n'
         'velocity_drop = { velocity = "1 2 m/s", drop = "10 25 Pa" }', [
            "filter.f.fouling: must be above 0 (got 0); 1.0 is clean"]),
        ('[fan.r]\nlike = "left"\nspeed = 2400', [
            'fan.r.speed: must be from 0 to 2 (got 2400); a speed in rpm is text, "2400 rpm"']),
        (VENT + 'loss = 2\nstate = "blank"', [
            'vent.v.state: must be one of "open", "blanked" (got "blank"); '
            'did you mean "blanked"?']),
        ('[baffle.b]\nfrom = "box"\nto = "top"\nopen_area = "1 cm2"\ncross_section = "9 cm2"\n'
         "present = 1", ["baffle.b.present: must be one of true, false (got 1)"]),
        (VENT + 'loss = 2\ntag = 5\nnote = ["x"]\ndata = 3', [
            "vent.v.tag: takes text (got 5)",
            'vent.v.note: takes text (got ["x"])',
            "vent.v.data: takes a table of anything, { ... } (got 3)"]),
        # keys that exclude or need one another
        (VENT + "open_ratio = 0.5\nloss = 2", [
            "vent.v.open_ratio: cannot stand together with loss; "
            "give one of loss, discharge_coefficient, open_ratio"]),
        (VENT, ["vent.v.loss: must be given (or discharge_coefficient, open_ratio)"]),
        ('[vent.v]\non = "fan.left"\nfrom = "top"\narea = "5 cm2"\nloss = 2', [
            "vent.v.from: cannot stand together with on; give from and to, or on"]),
        ('[leak.l]\nfrom = "outside"\nto = "box"\nflow_at = "2 m3/h"', [
            'leak.l.flow_at: takes two values, such as ["40 m3/h", "18 Pa"] (got "2 m3/h")']),
        ('[slot.s]\nfrom = "box"\nto = "top"\ncount = 2.5\narea = "9 cm2"\nloss = 3', [
            "slot.s.count: must be a whole number (got 2.5)"]),
        ('[fan.r]\nlike = "left"\n'
         'speed_control = { by = "outside", temperature = "70 45 degC", speed = "0.5 1.0" }', [
            "fan.r.speed_control.temperature: the second must be above the first"]),
        ('[fan.r]\nlike = "left"\n'
         'speed_control = { by = "part.x", temperature = "45 70 degC", speed = "0.5 1.0" }', [
            'fan.r.speed_control.by: no part, compartment or outside "part.x"; known: '
             "compartment.box, compartment.top, outside"]),
        # fan curves
        (TYPE + 'max_flow = "100 m3/h"', [
            "fan_type.z.max_flow: unknown key; the flow of a fan follows from its curve and what "
            "resists it", f"fan_type.z.curve: must be given; {CURVE}"]),
        (TYPE + 'curve = { flow = "100 m3/h", rise = "0 Pa" }', [
            f"fan_type.z.curve: has one point only; {CURVE}"]),
        (TYPE + 'curve = { flow = "0 50 50 40 m3/h", rise = "31 30 28 3 Pa" }', [
            "fan_type.z.curve: row 3: flow 50 m3/h appears twice with 30 and 28 Pa; "
            "flows must rise",
            "fan_type.z.curve: row 4: flow 40 m3/h is below the row before; flows must rise"]),
        (TYPE + 'curve = { flow = "-10 50 m3/h", rise = "31 -5 Pa" }', [
            "fan_type.z.curve: a flow below zero belongs to no fan curve",
            "fan_type.z.curve: a pressure rise below 0 Pa belongs to no fan curve; "
            "end it at 0 Pa"]),
        (TYPE + 'curve = { flow = "0 50 m3/h", rise = "31 5 3 Pa" }', [
            "fan_type.z.curve: columns must have the same length (got flow 2, rise 3)"]),
        # links
        (VENT.replace('"top"', '"tpo"') + "loss = 2", [
            'vent.v.from: no compartment "tpo"; did you mean "top"?']),
        (VENT.replace('"outside"', '"ambient"') + "loss = 2", [
            'vent.v.to: no compartment "ambient"; did you mean "outside"?']),
        ('[part.p]\nin = "part.q"\n[part.q]\nin = "part.p"', [
            "part.p.in: a circle: p -> q -> p"]),
        ('[part.p]\nin = "box"\nefficiency = 0.9', [
            "part.p.output: needs efficiency beside it, and efficiency needs output"]),
        # names and tables
        ('[vent.outside]\non = "fan.left"\narea = "1 cm2"\nloss = 1\n[vent.x-out]\n'
         'like = "outside"\n[vent."a b"]\n[vent.base]\nlike = "outside"', [
            'vent.outside: "outside" is reserved',
            'vent."a b": a name is made of letters, digits, - and _']),
        ('[vent]\nfrom = "top"', [
            "vent.from: belongs into a table with a name; write [vent.NAME] above it"]),
        ('[[vent]]\nfrom = "top"', ["vent: [[vent]] has no name; write [vent.NAME]"]),
        ('[limits.x]\nmargin = "5 K"', ["limits.x: [limits] stands once, without a name"]),
        ('[outside]\naltitude = "900 m"\npressure = "91 kPa"\n[outside.aisle]\naltitude = "3 m"', [
            "outside.pressure: cannot stand together with altitude; give one of altitude, "
            "pressure",
            "outside.aisle.altitude: belongs to [outside], the reference of all surroundings"]),
    ]), "extra said")  # fmt: skip
def test_a_wrong_value_is_said_with_its_place_and_what_to_write(tmp_path, extra, said):
    assert list(faults(tmp_path, BASE + extra)) == [f"case.toml: {line}" for line in said]


@each(named([
        ("[vent.v]\nare = 1", 'vent.v.are: unknown key; did you mean "area"?'),
        ("[vent.v]\nk = 1", 'vent.v.k: unknown key; did you mean "loss"?'),
        ("[opening.v]\nfouling = 1", "opening.v.fouling: unknown key; it is a key of vent, filter"),
        ("[leak.v]\non = 1", "leak.v.on: unknown key; it is a key of opening, vent, filter, duct"),
        ("[vent.v]\nunits = 'us'", (
            "vent.v.units: unknown key; units belongs at the top of the file, above the first "
            "table (here it is read as a key of [vent.v])")),
        ("[vent.v]\ncatalogue = 'x'", (
            "vent.v.catalogue: unknown key; catalogue belongs at the top of the file, above the "
            "first table (here it is read as a key of [vent.v])")),
        ("[exchange.e]\nxyzzy = 1", (
            "exchange.e.xyzzy: unknown key; the keys of exchange are between, flow")),
        ("[limits]\nlike = 1", (
            "limits.like: unknown key; the keys of limits are margin, touch_limit, dew_margin, "
            "noise_dBA, noise_distance, noise_field, room_constant, fan_life_hours, duty, "
            "running_share, weibull_slope, intake_filter, flow, scenarios")),
    ]), "table line")  # fmt: skip
def test_an_unknown_key_gets_the_known_one_that_is_meant(tmp_path, table, line):
    assert f"case.toml: {line}" in faults(tmp_path, BASE + table)


def test_a_mistyped_key_is_not_called_missing_as_well(tmp_path):
    wrong = VENT.replace("area", "aera") + "loss = 2"
    assert faults(tmp_path, BASE + wrong) == (
        'case.toml: vent.v.aera: unknown key; did you mean "area"?',
    )


@each(named([
        ("grille", "vent"), ("plenum", "compartment"), ("node", "compartment"), ("card", "slot"),
        ("mat", "filter"), ("blower", "fan"), ("ambient", "outside"), ("cabinet", "enclosure"),
        ("Fan", "fan"), ("fliter", "filter"), ("scenarios", "scenario"), ("fan-type", "fan_type"),
    ]), "word kind")  # fmt: skip
def test_a_word_of_the_trade_gets_the_kind_it_means(tmp_path, word, kind):
    said = faults(tmp_path, BASE + f"[{word}.x]\n")
    assert said[0] == f'case.toml: {word}.x: no kind "{word}"; did you mean "{kind}"?'


def test_what_links_to_a_table_of_a_wrong_kind_still_finds_it(tmp_path):
    extra = '[plenum.side]\n[vent.v]\nfrom = "side"\nto = "outside"\narea = "1 cm2"\nloss = 1'
    said = faults(tmp_path, BASE + extra)
    assert said == ('case.toml: plenum.side: no kind "plenum"; did you mean "compartment"?',)


@each(named([
        ("format = 2", ["format: must be 1, which this version reads (got 2)"]),
        ('format = 1\ntitle = 5\nunits = "imperial"\ncatalogue = 5', [
            "title: takes text (got 5)",
            'units: must be "metric" or "us" (got "imperial")',
            'catalogue: takes names of files, such as ["fans.toml"] (got 5)']),
        ('format = 1\ntile = "x"', [
            'tile: unknown key at the top of the file; did you mean "title"?']),
        ('format = 1\narea = "1 m2"', [
            "area: unknown key at the top of the file; it belongs below a table, such as "
            "[wall.NAME]"]),
        ("format = 1\nxyzzy = 3", [
            "xyzzy: unknown key at the top of the file; at the top stand format, title, "
            "catalogue, units"]),
    ]), "text said")  # fmt: skip
def test_the_top_of_the_file(tmp_path, text, said):
    body = BASE.partition("[compartment.box]")
    found = faults(tmp_path, text + "\n" + body[1] + body[2])
    assert list(found) == [f"case.toml: {line}" for line in said]


def test_the_format_may_be_left_out(tmp_path):
    assert load(tmp_path, BASE.replace("format = 1", "")) == load(tmp_path, BASE)


def test_an_enclosure_has_at_least_one_compartment(tmp_path):
    assert faults(tmp_path, "format = 1\n") == (
        "case.toml: compartment: there must be at least one",
    )


def test_units_and_title_are_kept(tmp_path):
    assert load(tmp_path, BASE.replace("format = 1", 'format = 1\nunits = "us"')).units == "us"
    assert load(tmp_path, BASE).units == "metric"
    untitled = BASE.replace('title = "Small box, invented data"', "")
    assert load(tmp_path, untitled).title == tmp_path.name
    (tmp_path / "other.toml").write_text(untitled)
    assert load_case(tmp_path / "other.toml").title == "other"


def test_percent_and_speed_in_rpm_are_understood(tmp_path):
    extra = VENT + 'open_ratio = "63 %"\n[fan.r]\nlike = "left"\nspeed = "2400 rpm"'
    case = load(tmp_path, BASE + extra)
    assert case["vent.v.open_ratio"] == 0.63
    assert case["fan.r.rotation"] == 40.0


def test_a_slip_in_a_list_of_words(tmp_path):
    wall = '[wall.w]\nfrom = "box"\nto = "outside"\nu_value = "5 W/(m2 K)"\nfaces = ["frnt"]\n'
    assert faults(tmp_path, BASE + wall) == (
        "case.toml: wall.w.faces: must be among front, back, left, right, top, bottom "
        '(got "frnt"); did you mean "front"?',
    )


def test_all_faults_come_at_once_each_where_it_stands(tmp_path):
    """Wrong values, unknown links, a bad scenario and a bad limit of one file, in one error."""
    extra = (
        VENT.replace("50 cm2", "5 m").replace('"top"', '"tp"') + "loss = 2\n"
        '[filter.f]\non = "vent.v"\narea = "5 cm2"\n'
        '[part.p]\nin = "vent.w"\npower = "-3 W"\n'
        '[scenario.hot]\noutside.temperature = "50"\n'
        '[limits]\nscenarios = ["hit"]\n'
        '[sweep.s]\n"part.p.power" = []\n'
    )
    assert faults(tmp_path, BASE + extra) == tuple(
        f"case.toml: {line}"
        for line in (
            'vent.v.area: "5 m" is a length; an area is wanted, such as "450 cm2"',
            "part.p.power: must be at least 0 W (got -3 W)",
            "filter.f.velocity_drop: must be given (or loss)",
            'vent.v.from: no compartment "tp"; did you mean "top"?',
            'part.p.in: no compartment, branch or part "vent.w"; did you mean "vent.v"?',
            'scenario.hot.outside.temperature: "50" has no unit; a temperature is wanted, '
            'such as "40 degC"',
            "sweep.s.part.p.power: takes a list of values, or a range such as "
            '"96 to 192 W in 5" (got [])',
            'limits.scenarios: no scenario "hit"; did you mean "hot"?',
        )
    )
