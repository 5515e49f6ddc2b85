"""The comparison: identical designs, single solves, what applies where, and its words."""

from __future__ import annotations

import json
import math
import sys
from types import SimpleNamespace

import numpy as np
import pytest

import flownet
from flownet import Fan, FanType, Opening
from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.heat import Part, Wall
from flownet.enclosure.surroundings import Compartment
from flownet.pages import render
from flownet.pages.page import Page
from flownet.schema.errors import CaseError, NoSolution
from flownet.schema.quantities import DIFFERENCE
from flownet.studies.compare import compare, expanded, scenarios_of
from flownet.studies.outages import outages
from flownet.studies.verdicts import sentences
from tests.studies import fan_boxes
from tests.studies.test_pairs import box
from tests.test_cases import load

NUMBERS = ("margin", "worst_margin", "hottest_air", "volume_flow", "useful_flow", "noise",
           "fan_power")  # fmt: skip


@pytest.fixture(scope="module")
def drives():
    return compare(load("drive-cabinet"))


def twins():
    """The demo with one variant written in three ways."""
    case = load("drive-cabinet")
    twice = {
        "bigger-vent": case.variants["bigger-vent"],
        "in-inches": {"vent.side.area": "27.900055800111600 in2"},
        "by-name": {"vent.*.area": "180 cm2", "vent.high.area": "250 cm2"},
    }
    return Enclosure.of(
        *(item for kind, named in case.things.items() for item in named.values()
          if ".rating." not in item.name),
        title=case.title, types=case.types, scenarios=case.scenarios, variants=twice,
    )  # fmt: skip


def test_identical_variants_give_identical_columns():
    """However they are written; through a unit to the last digits of its conversion."""
    found = compare(twins(), variants=["bigger-vent", "by-name", "in-inches"])
    rows = found.to_dict()["pairs"]
    count = len(found.scenarios)
    first, second, third = (rows[i * count : (i + 1) * count] for i in range(3))
    assert count == 5
    for a, b, c in zip(first, second, third, strict=True):
        assert {**a, "variant": None} == {**b, "variant": None}
        for name in ("margin", "volume_flow_m3_s", "hottest_air_degC"):
            assert c[name] == pytest.approx(a[name], rel=1e-6)
        assert (c["status"], c["subject"]) == (a["status"], a["subject"])


def test_a_cell_is_what_a_solve_of_it_says(drives):
    """To the promise of the solver: temperatures and flows to well below what is shown."""
    case = drives.case
    tried = (
        ("hot", "base"), ("hot+dirty+fan.left-out", "no-shelf"),
        ("hot+dirty+fan.push-out", "blow-in"), ("high+dirty", "strong-fans"),
    )  # fmt: skip
    for scenario, variant in tried:
        cell = drives.cell(scenario, variant)
        alone = flownet.solve(case, scenario=scenario, variant=variant)
        assert cell.worst_margin == pytest.approx(alone.totals.worst_margin, abs=1e-5)
        assert cell.volume_flow == pytest.approx(alone.totals.volume_flow, rel=1e-6)
        hottest = max(alone.compartments, key=lambda n: alone.compartments[n].temperature)
        assert cell.hottest_air_in == hottest
        assert cell.hottest_air == pytest.approx(alone.compartments[hottest].temperature, abs=1e-5)
        assert cell.fan_power == pytest.approx(alone.totals.fan_power, rel=1e-6)
        assert cell.noise == pytest.approx(alone.totals.noise, nan_ok=True)
        assert cell.stable == (alone.void.get("unstable") is None)
        if cell.limit in ("part", "air"):
            assert cell.subject == alone.worst.subject
        whole = drives.solution(scenario, variant)
        assert whole.case == alone.case
        assert [f.message() for f in whole.findings] == [f.message() for f in alone.findings]


def test_an_outage_is_that_of_a_fan_that_runs_in_the_variant(drives):
    assert drives.cell("hot+dirty+fan.left-out", "blow-in") is None
    assert drives.cell("hot+dirty+fan.push-out", "base") is None
    assert drives.cell("hot+dirty+fan.middle-out", "three-fans") is not None
    assert len(drives.column("blow-in")) == 4
    assert len(drives.column("three-fans")) == 6
    with pytest.raises(CaseError, match="does not apply"):
        drives.solution("hot+dirty+fan.left-out", "blow-in")


def test_the_worst_of_a_variant_has_the_least_margin(drives):
    for column, name in enumerate(drives.variants):
        worst = drives.worst(name)
        assert worst.margin == pytest.approx(np.nanmin(drives.margins[:, column]), abs=1e-6) or (
            worst.limit != "life"
        )
        kelvins = [cell.margin for cell in drives.column(name) if cell.limit == "part"]
        assert worst.margin == pytest.approx(min(kelvins), abs=1e-6)


def test_scenarios_are_those_of_the_limits_else_all():
    case = load("drive-cabinet")
    assert scenarios_of(case, None) == case.limits.scenarios
    assert scenarios_of(case, [" hot + dirty "]) == ("hot+dirty",)
    free = box(air_limit="90 degC")
    assert scenarios_of(free, None) == ("base",)
    rows, applying = expanded(case, ["each-fan-out"], ["base", "blow-in"])
    assert rows == ("fan.left-out", "fan.right-out", "fan.push-out")
    assert applying["blow-in"] == {"fan.push-out": "each-fan-out"}


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ({"scenarios": ["hto"]}, 'did you mean "hot"'),
        ({"variants": ["bigger-vnt"]}, 'did you mean "bigger-vent"'),
        ({"scenarios": ["each-fan-shutt"]}, 'did you mean "each-fan-shut"'),
        ({"changes": {"fan.nobody.speed": 1.0}}, "nobody"),
        ({"scenarios": ["hot", "fan.left-out+fan.right-out+each-fan-out"], "variants": ["base"]},
         "nothing runs that could fail"),
    ],
)  # fmt: skip
def test_what_is_not_known_is_said(words, said):
    with pytest.raises(CaseError, match=said):
        compare(load("drive-cabinet"), **words)


def test_changes_come_last():
    case = load("drive-cabinet")
    words = {"variants": ["bigger-vent"], "scenarios": ["hot"]}
    found = compare(case, **words, changes={"vent.side.area": "60 cm2"})
    (cell,), (note,) = found.column("bigger-vent"), found.notes
    assert "vent.side.area" in note
    assert "leave it out of --set" in note
    (base,) = compare(case, variants=["base"], scenarios=["hot"]).column("base")
    assert cell.volume_flow == base.volume_flow


def test_no_solution_keeps_its_place_and_is_worst():
    found = compare(box(air_limit="41 degC"))
    closed = found.cell("base", "closed")
    assert (closed.status, closed.order, closed.tried) == ("unsolved", 0, False)
    assert found.to_dict()["pairs"][-1]["stable"] is None
    assert "heat in compartment.box has nowhere to go" in closed.why
    assert math.isnan(closed.volume_flow)
    assert found.margins[0].tolist() == [found.cell("base").margin, -math.inf]
    assert found.verdicts()[0].startswith("no variant holds everywhere; base comes closest")
    assert found.verdicts()[1] == "closed does not hold in base (no solution)"
    with pytest.raises(NoSolution, match="nowhere to go"):
        found.solution("base", "closed")


# --- in words ------------------------------------------------------------------------------------


def cell(scenario, margin, order, *, status=None, tight=5.0):
    chosen = "over" if margin < 0 else "tight" if margin < tight else "ok"
    return SimpleNamespace(
        limit="part",
        scenario=scenario, asked=scenario, margin=margin, miss=-margin, order=order,
        status=status or chosen, holds=margin >= 0, subject="part.a", void={}, in_dip={},
        margin_quantity=DIFFERENCE, word=status or chosen,
    )  # fmt: skip


def column(*margins, first=0):
    names = ("hot", "dirty", "fan.left-out", "fan.right-out", "cold")
    return [cell(name, m, first + i) for i, (name, m) in enumerate(zip(names, margins))]  # noqa: B905


@pytest.mark.parametrize(
    ("columns", "wanted"),
    [
        ({"base": column(6, 7, 8)}, ["base holds everywhere"]),
        ({"base": column(6)}, ["base holds in hot"]),
        ({"a": column(6, 7), "b": column(8, 9)}, ["a and b hold everywhere"]),
        ({"a": column(6, 7), "b": column(8, 2)},
         ["a and b hold everywhere", "b is tight in dirty"]),
        ({"bigger-vent": column(6, 7, 9, -1.5)},
         ["bigger-vent holds everywhere except fan.right-out (worst -1.5 K at part.a)"]),
        ({"a": column(6, 7, 8, 9), "b": column(6, -2, 8, 9)},
         ["a holds everywhere", "b holds everywhere except dirty (worst -2.0 K at part.a)"]),
        ({"a": column(-1, -2, first=0), "b": column(-3, 2, first=5)},
         ["no variant holds everywhere; b comes closest: it fails in 1 of 2 scenarios "
          "(worst -3.0 K at part.a)", "a holds nowhere (worst -1.0 K at part.a)"]),
        ({"a": column(-1, -2, -3, 4)}, ["a fails in 3 of 4 scenarios (worst -1.0 K at part.a)"]),
        ({"a": column(-1)}, ["a does not hold in hot (worst -1.0 K at part.a)"]),
        ({"a": column(6), "b": []}, ["a holds in hot", "b: no scenario applies"]),
    ],
)  # fmt: skip
def test_the_verdict_in_words(columns, wanted):
    assert list(sentences(columns)) == wanted


# --- tables --------------------------------------------------------------------------------------


def test_notebooks_and_frames(drives, monkeypatch):
    assert "<table>" in drives._repr_html_()
    matrix = drives._repr_html_().split("</table>")[0]
    assert matrix.count("<tr>") == 1 + len(drives.scenarios)
    made = SimpleNamespace(DataFrame=list)
    monkeypatch.setitem(sys.modules, "pandas", made)
    frame = drives.to_frame()
    assert frame[0]["scenario"] == "hot"
    assert frame[0]["variant"] == "base"
    found = outages(drives.case, variants=["base"])
    assert len(found.to_frame()) == 2
    assert found._repr_html_().count("<tr>") == 2 + 1


def test_the_matrix_marks_the_worst_of_each_variant(drives):
    """And says what a void pair is only where there is one."""
    bare = compare(box(air_limit="41 degC"))
    for found, void in ((drives, any(c.void for row in drives.cells for c in row if c)),
                        (bare, False)):  # fmt: skip
        matrix = next(found.sheet.of("page"))
        for name, column in zip(found.variants, matrix.columns[1:], strict=True):
            texts = [words("metric") for words in column.values]
            marked = [row for row, text in zip(found.scenarios, texts, strict=True) if "*" in text]
            assert marked == [found.worst(name).scenario]
            styles = ["quiet" if row[found.variants.index(name)] is None else "" for row in
                      found.cells]  # fmt: skip
            assert [style == "quiet" for style in column.styles] == [bool(s) for s in styles]
        assert len(matrix.notes) == 1 + void


@pytest.mark.parametrize(("count", "said"), [(3, "hot, dirty and fan.left-out"), (4, "4 of 9")])
def test_up_to_three_scenarios_are_named_one_by_one(count, said):
    names = ("hot", "dirty", "fan.left-out", "cold", "e", "f", "g", "h", "i")
    cells = [cell(name, 2.0 if i < count else 9.0, i) for i, name in enumerate(names)]
    assert said in list(sentences({"a": cells}))[1]
    some = [cell(name, -1.0 if i < count else 9.0, i) for i, name in enumerate(names)]
    (told,) = sentences({"a": some})
    assert said in told
    assert ("except" in told) == (count == 3)


# --- outages -------------------------------------------------------------------------------------


def test_outages_are_told_by_variant_with_what_would_be_enough():
    case = load("drive-cabinet")
    found = outages(case, variants=["base", "three-fans", "no-shelf"])
    assert [item.scenario for item in found.failures] == ["hot+dirty"] * 7
    base, three, shelf = found.verdicts()
    assert base.startswith("base does not hold even with nothing out (-")
    assert three.startswith("three-fans does not hold with fan.left, fan.right or fan.middle out")
    assert "not enough alone: a shutter -" in three
    (milder,) = outages(case, scenarios=["dirty"], variants=["base"]).verdicts()
    assert milder.startswith("base does not hold with fan.left or fan.right out (-")
    assert milder.endswith("a shutter or blanking its hole would be enough")
    assert shelf.startswith("no-shelf does not hold even with nothing out (-")
    for item in found.failures[::3]:
        for name, ending in (("out", "-out"), ("shut", "-shut"), ("blanked", "-blanked"),
                             ("rest_up", "-out-rest-up")):  # fmt: skip
            scenario = f"{item.scenario}+{item.failed}{ending}"
            alone = flownet.solve(case, scenario=scenario, variant=item.variant)
            assert getattr(item, name).worst_margin == pytest.approx(alone.worst.margin, abs=1e-5)
        before = flownet.solve(case, scenario=item.scenario, variant=item.variant)
        assert item.before.worst_margin == pytest.approx(before.worst.margin, abs=1e-5)
    text = json.dumps(found.to_dict(), allow_nan=False)
    assert json.loads(text)["outages"][0]["failed"] == "fan.left"


def test_an_outage_without_a_solution_says_so_and_why():
    """All air through one fan into a box without walls: shut, its heat has no way out."""
    fan = Fan(name="f", from_="box", to="outside", type="t")
    curve = {"flow": "0 60 m3/h", "rise": "40 0 Pa"}
    case = Enclosure.of(
        Compartment(name="box", air_limit="60 degC"), Part(name="p", in_="box", power="50 W"),
        Opening(name="way", from_="outside", to="box", area="50 cm2"), fan,
        FanType(name="t", curve=curve, flow_area="60 cm2"),
        variants={"closed": {"opening.way.state": "blanked"}},
    )  # fmt: skip
    found = outages(case)
    assert found.verdicts()[1] == "closed does not hold even with nothing out (no solution)"
    assert "(-)" not in " ".join(found.verdicts())
    lines = list(render.text(found.sheet, Page()))
    assert any(line.startswith("not solved: ") for line in lines)


def test_a_variant_that_breaks_only_in_layers_says_so():
    """A tall sealed box with its heat at the top, against a solve with four layers."""
    outline = {"outline": "0 0 400 1200 mm", "depth": "300 mm"}
    case = Enclosure.of(
        Compartment(name="box", **outline),
        Wall(name="shell", from_="box", to="outside", u_value="5 W/(m2 K)",
             faces=["front", "back", "left", "right", "top"]),
        Part(name="drive", in_="box", at="200 1000 mm", power="100 W", limit="70 degC",
             resistance="0.2 K/W"),
        variants={"gentle": {"part.drive.power": "20 W"}},
    )  # fmt: skip
    found = flownet.compare(case, variants=["base", "gentle"])
    (scenario, limit) = found.in_layers["base"]
    assert list(found.in_layers) == ["base"]
    assert (scenario, limit.subject) == ("base", "part.drive")
    divided = flownet.solve(case, changes={"compartment.box.layers": 4})
    assert limit.value == pytest.approx(divided["part.drive.temperature"], abs=1e-6)
    assert all(cell.holds for cell in found.column("base"))
    assert "4 layers" in found.verdicts()[1]


def test_json_of_a_cell_has_each_value_under_its_key_and_null_where_there_is_none(drives):
    bare = compare(box(air_limit="41 degC"))
    none = compare(fan_boxes.box(1e3))
    statuses = set()
    for found in (drives, bare, none):
        entries = iter(found.to_dict()["pairs"])
        for cell_ in (cell for name in found.variants for cell in found.column(name)):
            made = next(entries)
            statuses.add(cell_.status)
            words = {
                "limit": cell_.limit, "subject": cell_.subject, "why": cell_.why,
                "hottest_air_in": cell_.hottest_air_in,
                "scenario": cell_.scenario.replace("base", ""),
                "variant": cell_.variant.replace("base", ""),
            }  # fmt: skip
            assert {key: made[key] for key in words} == {k: v or None for k, v in words.items()}
            assert made["status"] == cell_.status
            assert made["margin_unit"] == {"": None, "life": "h", "noise": "dB"}.get(
                cell_.limit, "K")  # fmt: skip
            for key, value in (("margin", cell_.margin), ("worst_margin_K", cell_.worst_margin),
                               ("volume_flow_m3_s", cell_.volume_flow),
                               ("useful_flow_m3_s", cell_.useful_flow),
                               ("noise_dBA", cell_.noise), ("fan_power_W", cell_.fan_power),
                               ("hottest_air_degC", cell_.hottest_air - 273.15)):  # fmt: skip
                assert made[key] == (pytest.approx(value) if math.isfinite(value) else None)
            assert made["troubled_fans"] == dict(cell_.troubled)
            assert {p: v["volume_flow_m3_s"] for p, v in made["standing_fans"].items()} == dict(
                cell_.standing)  # fmt: skip
            assert made["stable"] == (None if cell_.status == "unsolved" else cell_.stable)
    assert statuses >= {"tight", "over", "unsolved", "unknown"}


def test_rows_have_names_and_what_is_nested_in_words(drives):
    for row in drives.rows():
        cell_ = drives.cell(row["scenario"], row["variant"])
        standing = "; ".join(f"{path} {flow:.6g}" for path, flow in cell_.standing.items())
        troubled = "; ".join(f"{path} {region}" for path, region in cell_.troubled.items())
        assert (row["standing_fans"], row["troubled_fans"]) == (standing or None, troubled or None)
    assert any(row["standing_fans"] for row in drives.rows())


def test_a_fan_mounted_backwards_stands_with_the_flow_it_would_blow():
    """Of two fans that blow in, one turned round in the wall; it stands and lets air out."""
    line = fan_boxes.kind("line", lambda x: 60 - 1200 * x, 0.05)
    ends = {"from_": "outside", "to": "box"}
    fans = [fan_boxes.out("a", "line", **ends),
            fan_boxes.out("b", "line", mounted="reversed", state="stopped")]  # fmt: skip
    case = fan_boxes.box(1e4, line, *fans)
    (found,) = compare(case).column("base")
    flow = flownet.solve(case).volume_flow("fan.b")
    assert flow > 0  # from the box to the outside, against the way it would blow
    assert found.standing == {"fan.b": pytest.approx(-flow)}
