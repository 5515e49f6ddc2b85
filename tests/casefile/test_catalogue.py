"""Catalogues and curve files: where they are looked for, what they hold, what stays shut."""

from __future__ import annotations

import os

import pytest

from flownet.casefile import load_case
from flownet.schema.errors import CaseError
from tests.casefile.small import BASE, faults, load
from tests.each import each, named

BIG = '[fan_type.big]\ncurve = { flow = "0 100 m3/h", rise = "80 0 Pa" }\nflow_area = "80 cm2"\n'
NAMED = BASE.replace("format = 1", 'format = 1\ncatalogue = ["fans.toml"]')
WITH_CSV = BASE + '[fan_type.c]\nflow_area = "80 cm2"\ncurve_csv = "c.csv"\n'
GOOD = (
    "# density: 1.15 kg/m3\n# speed: 2650 rpm\n# supply: 230 V 50 Hz\n# pressure: total\n"
    "# seen on a sheet: nobody's\nflow[m3/h],rise[Pa]\n0,60\n50,40\n100,0\n"
)


@pytest.fixture(autouse=True)
def no_catalogues_of_the_machine(monkeypatch):
    monkeypatch.delenv("FLOWNET_CATALOGUE", raising=False)


def naming(folder, name):
    """A case in `folder` that names one catalogue."""
    folder.mkdir(exist_ok=True)
    literal = name.replace("\\", "\\\\").replace("\0", "\\u0000")
    text = BASE.replace("format = 1", f'format = 1\ncatalogue = ["{literal}"]')
    (folder / "case.toml").write_text(text)
    return folder


def test_a_catalogue_is_found_beside_the_case_then_in_folders_then_by_the_variable(
    tmp_path, monkeypatch
):
    case, first, second = (tmp_path / name for name in ("case", "first", "second"))
    naming(case, "fans.toml")
    for folder, area in ((first, 20), (second, 30)):
        folder.mkdir()
        (folder / "fans.toml").write_text(BIG.replace("80 cm2", f"{area} cm2"))
    area = lambda **more: load_case(case, **more)["fan_type.big.flow_area"]  # noqa: E731
    with pytest.raises(CaseError, match=r'no file "fans.toml"; looked beside the case'):
        area()
    monkeypatch.setenv("FLOWNET_CATALOGUE", os.pathsep.join(["", "/nowhere", str(second)]))
    assert area() == 0.003
    assert area(catalogue=[first]) == area(catalogue=str(first)) == 0.002
    (case / "fans.toml").write_text(BIG)
    assert area(catalogue=[first]) == 0.008


def test_a_catalogue_file_is_read_besides(tmp_path):
    (tmp_path / "mine.toml").write_text(BIG)
    (tmp_path / "case").mkdir()
    (tmp_path / "case" / "case.toml").write_text(BASE)
    case = load_case(tmp_path / "case", catalogue=[tmp_path / "mine.toml"])
    assert list(case.things["fan_type"]) == ["plain", "big"]
    with pytest.raises(CaseError, match=r"case.toml: catalogue: no folder or file .*no.toml"):
        load_case(tmp_path / "case", catalogue=[tmp_path / "no.toml"])


def test_a_slip_in_the_name_of_a_catalogue(tmp_path):
    assert faults(tmp_path, NAMED, fnas_toml=BIG) == (
        'case.toml: catalogue: no file "fans.toml"; did you mean "fnas.toml"?',
    )


def test_a_case_is_no_catalogue(tmp_path):
    (line,) = faults(tmp_path, NAMED, fans_toml=NAMED)
    assert line == (
        "fans.toml: is a case, not a catalogue: a catalogue holds types only, such as "
        "[fan_type.NAME] (got catalogue, compartment, fan); move its types to a file of their own"
    )


def test_a_catalogue_holds_types_and_faults_of_it_carry_its_name(tmp_path):
    content = (
        BIG.replace("80 0 Pa", "80 0 m").replace("80 cm2", "-3 cm2")
        + '[vent.x]\n[scenario.s]\n[slot_type.x]\ngap = "2 mm"\ngip = 3\n[bla]\nx = 1\n'
    )
    assert faults(tmp_path, NAMED, fans_toml=content) == (
        "fans.toml: vent: a catalogue holds types only, such as [fan_type.NAME]",
        "fans.toml: scenario: a catalogue holds types only, such as [fan_type.NAME]",
        'fans.toml: bla: no kind "bla"; kinds are fan_type, sink_type, wall_type, exchange_type, '
        "recirculation_type, part_type, opening_type, vent_type, filter_type, baffle_type, "
        "slot_type, duct_type, leak_type, outside_type, supply_type, compartment_type",
        'fans.toml: fan_type.big.curve: column "rise": "80 0 m" is a length; '
        'a pressure is wanted, such as "18 Pa"',
        "fans.toml: fan_type.big.flow_area: must be above 0 (got -3 cm2)",
        'fans.toml: slot_type.x.gip: unknown key; did you mean "gap"?',
    )


@each(named([
        ("", "fans.toml: is empty"),
        ("format = 2\n", "fans.toml: format: must be 1, which this version reads (got 2)"),
        ("[fan_type]\nx = 3\n", "fans.toml: fan_type.x: belongs into a table with a name; "
                                "write [fan_type.NAME] above it"),
        ("[fan_type.a]\npower = 3 W\n",
         "fans.toml: line 2: more stands after the value (got power = 3 W); "
         'text and quantities stand in quotes: power = "3 W"'),
    ]), "content line")  # fmt: skip
def test_a_catalogue_that_cannot_be_read(tmp_path, content, line):
    assert faults(tmp_path, NAMED, fans_toml=content) == (line,)


@each(named(["../fans.toml", "a/../../fans.toml", "..", "/etc/passwd", "C:/x.toml", "C:x.toml",
     "a\\b.toml", "\\\\host\\share\\x.toml", "~/x.toml", "x\0y.toml", ".", "x" * 300 + ".toml",
     "///etc/passwd", "..\\fans.toml"]), "name")  # fmt: skip
def test_a_catalogue_never_leaves_its_folder(tmp_path, name):
    (tmp_path / "fans.toml").write_text(BIG)
    with pytest.raises(CaseError) as caught:
        load_case(naming(tmp_path / "case", name))
    (line,) = caught.value.faults
    assert line.startswith("case.toml: catalogue: ")
    assert "leads out" in line or "is not a name below" in line or "cannot be read" in line


@pytest.mark.parametrize("through", ["file", "folder"])
def test_a_link_out_of_the_folder_is_not_followed(tmp_path, through):
    outside, case = tmp_path / "outside", naming(tmp_path / "case", "in/fans.toml")
    outside.mkdir()
    (outside / "fans.toml").write_text(BIG)
    if through == "folder":
        (case / "in").symlink_to(outside)
    else:
        (case / "in").mkdir()
        (case / "in" / "fans.toml").symlink_to(outside / "fans.toml")
    with pytest.raises(CaseError, match="is a link that leads out of its folder"):
        load_case(case)
    (case / "in").unlink() if through == "folder" else (case / "in" / "fans.toml").unlink()
    (case / "in").mkdir(exist_ok=True)
    (case / "in" / "fans.toml").write_text(BIG)
    assert "big" in load_case(case).things["fan_type"]


def test_a_link_in_a_circle_is_a_fault(tmp_path):
    case = naming(tmp_path / "case", "fans.toml")
    (case / "fans.toml").symlink_to(case / "fans.toml")
    with pytest.raises(CaseError, match=r'case.toml: catalogue: .*"fans.toml"'):
        load_case(case)


# --- curve files -------------------------------------------------------------------------------


def test_a_curve_file_gives_the_curve_and_what_its_remarks_say(tmp_path):
    made = load(tmp_path, WITH_CSV, c_csv=GOOD).things["fan_type"]["c"]
    assert made.curve == ((0.0, 60.0), (50 / 3600, 40.0), (100 / 3600, 0.0))
    assert (made.reference_density, made.rated_speed) == (1.15, 2650 / 60)
    assert (made.supply, made.curve_pressure) == ("230 V 50 Hz", "total")


@each(
    named(
        [
            "\ufeff" + GOOD,
            GOOD.replace("\n", "\r\n"),
            GOOD.replace("\n", ",,\n"),
            GOOD.replace("0,60\n", '"0","60"\n'),
            GOOD.replace("flow[m3/h],rise[Pa]", " Flow [m3/h] , Rise [Pa] "),
            GOOD.replace("# density: 1.15 kg/m3", '"# density: 1.15 kg/m3"'),
            GOOD.replace("50,40\n", "\n,\n50,40\n"),
        ]
    ),
    "content",
)
def test_a_curve_file_as_spreadsheets_export_it(tmp_path, content):
    plain = load(tmp_path, WITH_CSV, c_csv=GOOD)
    assert load(tmp_path, WITH_CSV, c_csv=content).digest == plain.digest


def test_a_curve_file_in_other_units_and_order(tmp_path):
    content = "rise[inH2O],flow[CFM]\n0.3,0\n0.2,50\n"
    curve = load(tmp_path, WITH_CSV, c_csv=content).things["fan_type"]["c"].curve
    assert curve[1] == pytest.approx((50 * 0.3048**3 / 60, 0.2 * 249.08891), rel=1e-14)


HEAD = "flow[m3/h],rise[Pa]\n"


@each(named([
        ("flow[m3/h];rise[Pa]\n0;60\n50,5;40\n", [
            'line 1: columns are separated by ";"; '
            "export with commas between columns and points in numbers"]),
        ("flow,rise\n0,60\n9,0\n", [
            'line 1: column "flow" has no unit; write flow[m3/h] or flow[CFM]',
            'line 1: column "rise" has no unit; write rise[Pa] or rise[inH2O]']),
        ("flow[m3/h],rise[Pa],power[W]\n0,60,3\n", [
            'line 1: unknown column "power[W]"; the first line is flow[m3/h],rise[Pa]']),
        ("flow[m3/h]\n0\n", ["line 1: the columns are flow and rise, each once (got flow)"]),
        (HEAD + "0,60\n50\n50,5,40\n60,abc\n70,1 Pa\n80,nan\n", [
            "line 3: a cell is empty; each row has a flow and a rise",
            "line 4: 3 cells under 2 columns; numbers take a point, not a comma",
            'line 5: "abc Pa" is not a number followed by a unit; a pressure is wanted, '
            'such as "18 Pa"',
            'line 6: "1 Pa Pa" has more after its unit "Pa"; the unit stands once, at the end; '
            'a pressure is wanted, such as "18 Pa"',
            'line 7: "nan Pa" is not a finite number; a pressure is wanted, such as "18 Pa"']),
        (HEAD + "100,0\n", [
            "holds 1 points; a free-air flow is reached at 0 Pa only; give the pressure-flow "
            'curve, such as curve = { flow = "0 60 110 170 m3/h", rise = "78 52 44 0 Pa" }']),
        ("# x\n", ["holds no rows; its first line is flow[m3/h],rise[Pa]"]),
        ("", ["is empty"]),
        (HEAD + '0,"60\n', ['line 2: a quote (") opens here that does not end']),
        ("# densty: 1.2\n# density: 1.2\n# speed: 9 m\n# pressure: statc\n" + HEAD + "0,9\n9,0\n", [
            'line 1: "# densty:" means nothing; did you mean "# density:"?',
            'line 2: density: "1.2" has no unit; a density is wanted, such as "1.2 kg/m3"',
            'line 3: speed: "9 m" is a length; a speed of rotation is wanted, such as "2400 rpm"',
            'line 4: pressure: must be one of "static", "total" (got "statc"); '
            'did you mean "static"?']),
    ]), "content said")  # fmt: skip
def test_a_curve_file_that_cannot_be_read(tmp_path, content, said):
    start = "case.toml: fan_type.c.curve_csv: c.csv: "
    assert list(faults(tmp_path, WITH_CSV, c_csv=content)) == [start + line for line in said]


@each(named([
        ('rated_speed = "2800 rpm"',
         "fan_type.c.curve_csv: its file says another rated_speed; give it once"),
        ('curve = { flow = "0 1 m3/h", rise = "5 0 Pa" }',
         "fan_type.c.curve_csv: cannot stand together with curve; give one of the two"),
        ('[fan_type.c.rating.x]\ncurve_csv = "c.csv"\nsupply = "230 V 60 Hz"',
         "fan_type.c.rating.x.curve_csv: its file says another supply; give it once"),
        ('[fan_type.c.rating.x]\ncurve_csv = "d.csv"',
         'fan_type.c.rating.x.curve_csv: no file "d.csv" beside the case; '
         'did you mean "c.csv"?'),
        ('[fan_type.c.rating.x]\ntag = "x"', "fan_type.c.rating.x.tag: a rating has none"),
        ('[fan_type.c.rating.x]\npwr = "1 W"',
         'fan_type.c.rating.x.pwr: unknown key; did you mean "power"?'),
        ('[fan_type.c.rating.x]\nflow_area = "5 cm"',
         'fan_type.c.rating.x.flow_area: "5 cm" is a length; an area is wanted, '
         'such as "450 cm2"'),
        ('[fan_type.c.rating.x]\nframe = "9 x 9 mm"',
         "fan_type.c.rating.x.flow_area: must not be larger than the frame"),
        ('[fan_type.c.rating.x]\ncurve = { flow = "9 m3/h", rise = "0 Pa" }',
         "fan_type.c.rating.x.curve: has one point only; a free-air flow is reached at 0 Pa "
         "only; give the pressure-flow curve, such as "
         'curve = { flow = "0 60 110 170 m3/h", rise = "78 52 44 0 Pa" }'),
        ('[fan_type.c.rating."a.b"]',
         'fan_type.c.rating."a.b": a name is made of letters, digits, - and _'),
        ("[fan_type.c.rating]\nx = 3",
         "fan_type.c.rating: is a table; write [fan_type.c.rating.NAME]"),
    ]), "extra line")  # fmt: skip
def test_a_fan_type_and_its_curve_files_agree(tmp_path, extra, line):
    assert faults(tmp_path, WITH_CSV + extra, c_csv=GOOD) == (f"case.toml: {line}",)


def test_a_rating_may_have_a_curve_file_of_its_own(tmp_path):
    extra = '[fan_type.c.rating.sixty]\ncurve_csv = "d.csv"\n'
    sixty = GOOD.replace("50 Hz", "60 Hz").replace("100,0", "120,0")
    rows = load(tmp_path, WITH_CSV + extra, c_csv=GOOD, d_csv=sixty).things["fan_type"]
    assert rows["c.rating.sixty"].curve[-1] == (120 / 3600, 0.0)
    assert rows["c.rating.sixty"].supply == "230 V 60 Hz"
    assert rows["c.rating.sixty"].flow_area == rows["c"].flow_area


def test_a_curve_file_stands_beside_its_catalogue(tmp_path):
    (tmp_path / "fans").mkdir()
    (tmp_path / "fans" / "fans.toml").write_text(
        '[fan_type.c]\nflow_area = "80 cm2"\ncurve_csv = "c.csv"\n'
    )
    (tmp_path / "fans" / "c.csv").write_text(GOOD)
    (tmp_path / "case").mkdir()
    (tmp_path / "case" / "case.toml").write_text(NAMED)
    case = load_case(tmp_path / "case", catalogue=[tmp_path / "fans"])
    assert case["fan_type.c.reference_density"] == 1.15
