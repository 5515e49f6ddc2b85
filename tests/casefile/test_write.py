"""What is saved reads back to an equal enclosure, and no file is lost or left half written."""

from __future__ import annotations

import datetime

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from flownet.casefile import case_text, load_case, save_case, starter
from flownet.casefile.write import plain
from flownet.enclosure.branches import Opening
from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.fans import Fan, FanType
from flownet.enclosure.surroundings import Compartment
from flownet.enclosure.toml_text import number
from flownet.schema import quantities as q
from flownet.schema import units
from flownet.schema.errors import CaseError
from flownet.schema.quantities import QUANTITIES
from tests.casefile.generated import enclosures
from tests.casefile.mutate import CASE
from tests.casefile.small import BASE, load
from tests.each import each, named

SLOW = settings(
    max_examples=25, deadline=None, derandomize=True,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large,
                           HealthCheck.function_scoped_fixture],
)  # fmt: skip


def again(case, folder):
    """The enclosure as it is after writing and reading."""
    save_case(case, folder / "again.toml", overwrite=True)
    return load_case(folder / "again.toml")


@given(case=enclosures())
@SLOW
def test_generated_enclosures_read_back_equal(tmp_path, case):
    found = again(case, tmp_path)
    assert found == case
    assert found.digest == case.digest
    assert sorted(case_text(found).splitlines()) == sorted(case_text(case).splitlines())


def test_the_example_with_most_kinds_reads_back_equal(tmp_path):
    case = load_case(CASE)
    found = again(case, tmp_path)
    assert found == case
    assert found.digest == case.digest
    for scenario in ("hot+dirty", "hot+supply.mains-out"):
        there, here = found.under(scenario, "no-shelf"), case.under(scenario, "no-shelf")
        assert there.digest == here.digest


def test_scenarios_and_variants_can_be_saved_as_cases_of_their_own(tmp_path):
    case = load_case(CASE).under("hot+dirty+fan.left-out", "no-shelf")
    found = again(case, tmp_path)
    assert found == case
    assert found["filter.intake.fouling"] == 2.0
    assert found["fan.left.state"] == "stopped"


@each(named([
        {"outside.pressure": "91 kPa"},
        {"fan.*.speed": "1234.5 rpm"},
        {"part.sink.resistance_over_velocity": {"velocity": "1 2 m/s",
                                                "resistance": "0.5 0.36 K/W"}},
        {"wall.door.solar": "210 W/m2"},
        {"slot.card-2.state": "filler", "slot.card-3.gap": "14 mm"},
        {"slot.card-2.area": "9 cm2", "slot.card-2.loss": 3.0},
        {"fan_type.axial-119-b.power": "21 W"},
        {"fan_type.axial-119-b.rating.sixty.power": "23 W"},
        {"fan_type.axial-119-b.rating.sixty.rated_speed": "3300 rpm"},
        {"duct.riser.section": "80 x 120 mm"},
        {"vent.roof.open_ratio": 0.45, "vent.roof.construction": "wire screen"},
        {"fan.left.type": "axial-92-c"},
    ]), "changes")  # fmt: skip
def test_a_changed_case_reads_back_equal(tmp_path, changes):
    case = load_case(CASE).with_changes(changes)
    found = again(case, tmp_path)
    assert found == case
    assert found.digest == case.digest


def test_types_and_what_is_of_them_read_back_equal(tmp_path):
    extra = (
        '[slot_type.line]\ngap = "15 mm"\nwidth = "220 mm"\nlength = "160 mm"\npower = "4 W"\n'
        '[slot_type.measured]\narea = "9 cm2"\nloss = 3\nnote = "n"\n'
        '[vent_type.v]\nloss = 3.0\nhole = "5 mm"\n'
        '[slot.a]\nfrom = "box"\nto = "top"\ntype = "line"\n[slot.b]\nlike = "a"\npower = "0 W"\n'
        '[vent.x]\non = "fan.left"\narea = "3 cm2"\ntype = "v"\nopen_ratio = 0.5\n'
        '[variant.m]\n"slot.*.type" = "measured"\n'
    )
    case = load(tmp_path, BASE + extra)
    found = again(case, tmp_path)
    assert found == case
    assert found.under(variant="m").digest == case.under(variant="m").digest
    changed = case.under(variant="m")
    assert again(changed, tmp_path).digest == changed.digest


def test_a_type_whose_value_was_taken_back_is_written_out(tmp_path):
    extra = (
        '[vent_type.v]\nloss = 3.0\nhole = "5 mm"\n'
        '[vent.x]\non = "fan.left"\narea = "3 cm2"\ntype = "v"\n'
    )
    case = load(tmp_path, BASE + extra).with_changes({"vent.x.hole": None})
    found = again(case, tmp_path)
    assert found.digest == case.digest
    assert found["vent.x.hole"] != found["vent.x.hole"]


def test_paths_that_toml_cannot_nest_are_quoted(tmp_path):
    extra = '[scenario.s]\n"opening.low.at" = "1 2 mm"\n"opening.low.at.0" = "3 mm"\n'
    case = load(tmp_path, BASE + extra)
    assert again(case, tmp_path) == case


@given(st.sampled_from(sorted(QUANTITIES)), st.floats(1e-6, 1e6))
@settings(max_examples=400, deadline=None)
def test_a_number_is_written_without_losing_a_digit(name, value):
    """Except for rpm, the only unit of its kind: it can miss the last bit of a double."""
    quantity = QUANTITIES[name]
    text = plain(number(quantity, value))
    found = units.parse(text.strip('"'), quantity)
    if quantity is q.SPEED:
        assert found == pytest.approx(value, rel=3e-16)
    else:
        assert found == value


def test_zero_has_one_form(tmp_path):
    there = load(tmp_path, BASE + '[part.p]\nin = "box"\npower = "-0 W"\nat = "-0 0 mm"\n')
    here = load(tmp_path, BASE + '[part.p]\nin = "box"\npower = "0 W"\nat = "0 0 mm"\n')
    assert there.digest == here.digest
    assert again(there, tmp_path).digest == there.digest


def test_long_columns_are_written_as_lists(tmp_path):
    rows = [(0.001 * n + 0.1 / 3, 100.0 - n / 7) for n in range(600)]
    curve = ((0.0, 101.0), *rows)
    case = Enclosure.of(
        Compartment(name="box"), FanType(name="t", curve=curve, flow_area=0.01),
        Fan(name="f", from_="outside", to="box", type="t"),
        Opening(name="o", from_="box", to="outside", area="9 cm2"),
    )  # fmt: skip
    assert again(case, tmp_path) == case


def test_free_data_of_every_toml_kind_are_kept(tmp_path):
    data = (
        'data = { a = 1, b = -2.5e-7, c = "q\\"\\u00e9\\n\\u007f", d = [1, [2, "x"]], '
        'e = { "f g" = true }, h = 2026-01-01, i = 07:30:00, j = 2026-01-01T07:30:00Z, '
        "k = inf, l = {}, m = [] }"
    )
    case = load(tmp_path, BASE + '[part.p]\nin = "box"\n' + data)
    assert case.parts["p"].data["h"] == datetime.date(2026, 1, 1)
    assert again(case, tmp_path) == case


def test_free_data_that_toml_cannot_hold_are_refused(tmp_path):
    case = Enclosure.of(Compartment(name="box", data={"a": [1, {"b": None}]}))
    with pytest.raises(CaseError, match=r"compartment.box.data: a case file cannot hold a None"):
        save_case(case, tmp_path / "a.toml")
    with pytest.raises(CaseError, match="a case file cannot hold a object"):
        plain(object())
    odd = Enclosure.of(Compartment(name="box"), title="\ud800")
    with pytest.raises(CaseError, match="text that is not Unicode"):
        save_case(odd, tmp_path / "a.toml")
    assert list(tmp_path.iterdir()) == []


def test_a_file_is_replaced_only_when_asked(tmp_path):
    case = load(tmp_path, BASE)
    before = (tmp_path / "case.toml").read_text()
    with pytest.raises(FileNotFoundError, match=r"a\.toml: there is no folder .*none"):
        save_case(case, tmp_path / "none" / "a.toml")
    with pytest.raises(TypeError, match="takes an Enclosure"):
        save_case("case.toml", tmp_path / "a.toml")  # type: ignore[arg-type]
    with pytest.raises(FileExistsError, match=r"case\.toml: exists already; pass overwrite=True"):
        save_case(case, tmp_path)
    assert (tmp_path / "case.toml").read_text() == before
    (tmp_path / "case.toml").chmod(0o640)
    save_case(case, tmp_path, overwrite=True)
    assert (tmp_path / "case.toml").read_text() != before
    assert (tmp_path / "case.toml").stat().st_mode & 0o777 == 0o640
    assert [item.name for item in tmp_path.iterdir()] == ["case.toml"]
    assert load_case(tmp_path) == case


# --- the first case ----------------------------------------------------------------------------


def test_the_starter_is_short_loads_and_says_what_to_change(tmp_path):
    text = starter('My "box"\\')
    assert len(text.splitlines()) <= 45
    assert text.count("# CHANGE") >= 5
    assert "invented data" in text
    case = load(tmp_path, text)
    assert case.title == 'My "box"\\'
    assert case.limits.scenarios == ("dirty", "dirty+hot")
    assert case.under("dirty+hot")["filter.intake.fouling"] == 2.0
    assert again(case, tmp_path) == case
