"""Solutions and batches: rows, tables, paths, units, limits, frames."""

from __future__ import annotations

import copy
import pickle
import sys
from types import SimpleNamespace

import numpy as np
import pytest

import flownet
from flownet.results.finding import Finding
from flownet.results.limits import Limit
from flownet.results.solution import PREFIXES
from flownet.results.tables import (
    BALANCE,
    BRANCH,
    FAN,
    REGIONS,
    SITE,
    STATES,
    TOTALS,
    Field,
    Row,
    Table,
    plain,
)
from flownet.schema import quantities as q
from flownet.schema.errors import CaseError, NoSolution
from tests.each import every
from tests.every_kind import everything

CASE = everything()
ONE = flownet.solve(CASE, scenario="hot", variant="slow")
BATCH = flownet.solve_many(
    CASE,
    {
        "fan.left.speed": ["1400 rpm", 1.0, 0.6],
        "vent.roof.state": ["open", "open", "blanked"],
        "slot.a.state": ["fitted", "empty", "fitted"],
        "limits.margin": "5 K",
    },
)


# --- rows and tables -----------------------------------------------------------------------------


def test_an_attribute_is_si_and_a_suffix_is_in_that_unit():
    part, flow = ONE.parts["chip"], ONE.branches["filter.mat"]
    assert part.temperature_degC == pytest.approx(part.temperature - 273.15)
    assert part.temperature_degF == pytest.approx((part.temperature - 273.15) * 9 / 5 + 32)
    assert part.margin_K == part.limit - part.temperature
    assert part.margin_degF == pytest.approx(1.8 * part.margin)
    assert flow.volume_flow_m3_h == pytest.approx(3600 * flow.volume_flow)
    assert flow.volume_flow_CFM == pytest.approx(flow.volume_flow * 60 / 0.3048**3)
    assert flow.volume_flow_m3_s == flow.volume_flow
    assert flow.drop_inH2O == pytest.approx(flow.drop / 249.08891)
    assert ONE.totals.heat_W == ONE.totals.heat
    assert ONE.fans["fan.left"].life_h == ONE.fans["fan.left"].life_hours


def test_the_suffix_works_on_arrays_of_a_batch_too():
    row = BATCH.branches["filter.mat"]
    assert row.volume_flow_m3_h == pytest.approx(3600 * row.volume_flow)
    assert BATCH.totals.air_rise_K is BATCH.totals.air_rise or np.array_equal(
        BATCH.totals.air_rise_K, BATCH.totals.air_rise
    )


def test_a_result_that_is_not_there_says_which_are():
    with pytest.raises(AttributeError, match='no result "temperatur"; there are heat, air_temp'):
        ONE.parts["chip"].temperatur  # noqa: B018
    with pytest.raises(AttributeError, match='no result "temperature_mm"'):
        ONE.parts["chip"].temperature_mm  # noqa: B018
    with pytest.raises(KeyError, match='no "chp"; did you mean "chip"'):
        ONE.parts["chp"]


def test_results_are_frozen():
    for change in (
        lambda: setattr(ONE.totals, "heat", 1.0),
        lambda: setattr(ONE, "case", None),
        lambda: setattr(BATCH, "status", ()),
        lambda: setattr(ONE.parts, "names", ()),
    ):
        with pytest.raises(AttributeError):
            change()
    with pytest.raises(TypeError):
        ONE.parts["chip"] = 1


def test_rows_are_compared_copied_and_listed():
    row = ONE.parts["chip"]
    for other in (
        ONE.parts["chip"],
        copy.copy(row),
        copy.deepcopy(row),
        pickle.loads(pickle.dumps(row)),
    ):
        assert other == row
    assert row != ONE.parts["drive"]
    assert row != ONE.totals
    assert row != 5
    assert ONE.parts == ONE.parts
    assert BATCH.parts == BATCH.parts
    assert BATCH.parts != ONE.parts
    assert {"temperature", "temperature_degC", "margin_K", "to_dict"} <= set(dir(row))
    assert repr(Row((Field("heat", q.POWER),), {"heat": 2.0})) == "Row(heat=2.0)"


def test_words_of_results_are_words():
    assert ONE.branches["fan.spare"].state == "blanked"
    assert ONE.fans["fan.spare"].region == "blanked"
    assert (ONE.fans["fan.left"].region, ONE.fans["fan.left"].life_kind) == ("normal", "L10")
    assert BATCH["vent.roof.state"].tolist() == ["open", "open", "blanked"]
    assert set(REGIONS) > {"stopped"}
    assert set(STATES) > {"filler"}


def test_a_table_is_a_mapping_of_rows():
    assert list(ONE.parts) == list(CASE.parts)
    assert len(ONE.branches) == len(CASE.branches)
    assert dict(ONE.walls.items())["door"] == ONE.walls["door"]
    assert "nothing" not in ONE.walls
    made = Table((Field("heat", q.POWER),), ("a",), {"heat": np.array([[1.0, 2.0]])})
    assert made.map(lambda column: column[:, 1])["a"].heat == 2.0
    assert made.map(lambda column: 2 * column)["a"].heat.tolist() == [2.0, 4.0]
    assert made.map(lambda column: column[:, 0]).to_dict() == {"a": {"heat_W": 1.0}}


@every(
    ("quantity", "value", "shown"),
    [(q.TEMPERATURE, 300.0, 26.85), (q.TEMPERATURE, np.nan, None), (q.POWER, np.inf, None),
     (q.POWER, None, None), (None, "word", "word"), (q.SPEED, 40.0, 2400.0)],
)  # fmt: skip
def test_plain_values_are_in_the_unit_of_their_key(quantity, value, shown):
    found = plain(Field("x", quantity), value)
    assert found == (shown if shown is None or quantity is None else pytest.approx(shown))


# --- paths ---------------------------------------------------------------------------------------


def test_every_row_and_quantity_has_its_path():
    for name, prefix in PREFIXES.items():
        table = getattr(ONE, name)
        for label in table:
            for field in table.fields:
                value, row = ONE[f"{prefix}{label}.{field.name}"], table[label]
                assert value == getattr(row, field.name) or np.isnan(value)
    for field in TOTALS:
        assert ONE[f"total.{field.name}"] == getattr(ONE.totals, field.name)
    for field in SITE:
        assert ONE[f"site.{field.name}"] == ONE.site[field.name]
    for field in BALANCE:
        assert ONE[f"balance.{field.name}"] == getattr(ONE.balance, field.name)


def test_a_path_may_name_its_unit():
    assert ONE["part.chip.temperature_degC"] == ONE.parts["chip"].temperature_degC
    assert ONE["fan.left.volume_flow_m3_h"] == pytest.approx(3600 * ONE["fan.left.volume_flow"])
    assert ONE["fan.left.rise_inH2O"] == ONE.fans["fan.left"].rise_inH2O
    assert ONE["part.chip.junction.temperature"] == ONE.stations["chip.junction"].temperature


@every(("path", "sentence"), [
    ("part.chp.temperature", 'part.chp.temperature: no "chp"; did you mean "chip"?'),
    ("part.chip.temperatur", 'no result "temperatur"; there are heat'),
    ("part.chip.lid.temperature", 'no "chip.lid"'),
    ("part.x.temperature", 'part.x.temperature: no "x"; known: '),
    ("part.chip", "part.chip: a result is a kind, a name and a quantity: part.rectifier.temp"),
    ("", "a result is a kind, a name and a quantity"),
    ("outside.aisle.temperature", 'no results of "outside"; results are such as'),
    ("total.nois", 'no result "nois"'),
    ("site.altitude", 'no result "altitude"; there are pressure, temperature, density'),
    ("fan.lef.volume_flow", 'no "fan.lef"; did you mean "fan.left"?'),
    ("fan.left.colour", "reynolds, outlet_temperature, counter_flow, rise, region"),
])  # fmt: skip
def test_a_result_path_that_leads_nowhere_says_where_it_stops(path, sentence):
    for solved in (ONE, BATCH):
        with pytest.raises(CaseError) as error:
            solved[path]
        assert sentence in str(error.value)


def test_flows_by_branch():
    assert ONE.mass_flow("filter.mat") == ONE["filter.mat.mass_flow"]
    assert ONE.volume_flow("fan.left") == ONE["fan.left.volume_flow"]


# --- what holds whatever the numbers are ---------------------------------------------------------


@pytest.mark.parametrize("solved", [ONE, *(BATCH.select(i) for i in range(3))], ids=range(4))
def test_mass_is_conserved_at_every_compartment(solved):
    graph = solved.case.graph
    size = max(abs(solved.branches[path].mass_flow) for path in solved.branches)
    for name in solved.case.compartments:
        into = sum(solved.mass_flow(key) for *_, key in graph.in_edges(name, keys=True)
                   if key in solved.branches)  # fmt: skip
        out = sum(solved.mass_flow(key) for *_, key in graph.out_edges(name, keys=True)
                  if key in solved.branches)  # fmt: skip
        assert into - out == pytest.approx(0.0, abs=1e-9 * size)


def test_a_temperature_rises_with_the_heat_over_its_resistance():
    """Closed form of a plain resistance, and of a chain of them on a sink."""
    part = ONE.parts["drive"]
    assert part.temperature - part.air_temperature == pytest.approx(0.28 * part.heat)
    chip, sink = ONE.parts["chip"], ONE.parts["sink"]
    assert chip.air_temperature == sink.temperature
    assert ONE["part.chip.case.temperature"] - sink.temperature == pytest.approx(0.25 * 15.0)
    assert chip.temperature - ONE["part.chip.case.temperature"] == pytest.approx(0.4 * 15.0)
    assert ONE["part.chip.junction.temperature"] == chip.temperature
    density = ONE.branches[CASE.parts["sink"].in_].density
    law = 0.2 + 0.4 * (sink.velocity * density / 1.2) ** -0.6
    assert sink.temperature - sink.air_temperature == pytest.approx(law * 15.0)
    assert ONE.parts["choke"].heat == pytest.approx(2000 * (1 / 0.99 - 1))


def test_branches_agree_with_themselves():
    """Flow, density, velocity and area; an element on another branch has its flow."""
    for path in ("filter.mat", "slot.b", "vent.roof", "opening.gap", "vent.guard"):
        row, item = ONE.branches[path], CASE.branches[path]
        across = item.area * getattr(item, "count", 1.0)
        assert row.velocity == pytest.approx(row.volume_flow / across)
        assert row.mass_flow == pytest.approx(row.volume_flow * row.density, rel=2e-2)
    assert ONE.mass_flow("vent.guard") == ONE.mass_flow("fan.left")
    assert np.isnan(ONE["leak.seal.velocity"])


# --- limits and findings -------------------------------------------------------------------------


def test_limits_hold_values_against_bounds():
    by_subject = {(item.limit, item.subject): item for item in ONE.limits}
    assert set(by_subject) == {
        ("part", "part.drive"), ("part", "part.chip"), ("air", "compartment.low"),
        ("air", "compartment.high"), ("noise", "total.noise"), ("life", "fan.left"),
        ("life", "fan.right"),
    }  # fmt: skip
    chip = by_subject["part", "part.chip"]
    assert chip.value == ONE["part.chip.temperature"]
    assert chip.bound == pytest.approx(423.15)
    assert chip.margin == chip.bound - chip.value == ONE["part.chip.margin"]
    assert chip.holds
    thermal = [item.margin for item in ONE.limits if item.limit in ("part", "air")]
    assert ONE.worst.margin == min(thermal) == ONE.totals.worst_margin
    life = by_subject["life", "fan.left"]
    assert life.margin == life.value - life.bound


def test_a_limit_is_told_in_the_units_of_its_kind():
    made = Limit("part", "part.x", 300.0, 290.0, -10.0, q.TEMPERATURE, q.DIFFERENCE)
    assert made.to_dict() == {
        "limit": "part", "subject": "part.x", "value": pytest.approx(26.85),
        "bound": pytest.approx(16.85), "margin": -10.0, "unit": "degC", "holds": False,
    }  # fmt: skip
    quiet = Limit("noise", "total.noise", np.nan, 50.0, np.inf, q.LEVEL, q.LEVEL_DIFFERENCE)
    assert quiet.to_dict() == {
        "limit": "noise", "subject": "total.noise", "value": None, "bound": 50.0, "margin": None,
        "unit": "dBA", "holds": True,
    }  # fmt: skip


def test_a_finding_speaks_the_units_of_its_reader():
    made = Finding("warning", "x", "fan.left", "{fan} passes {flow}", "try {fan}",
                   {"fan": (None, "left"), "flow": (q.VOLUME_FLOW, 0.01)})  # fmt: skip
    assert made.message() == "left passes 36 m3/h"
    assert made.message("us") == "left passes 21.2 CFM"
    assert made.advice() == "try left"
    assert made.to_dict()["try"] == "try left"
    assert str(made) == "warning x: left passes 36 m3/h"


# --- a batch -------------------------------------------------------------------------------------


def test_a_batch_holds_arrays_over_variants():
    assert len(BATCH) == 3
    assert BATCH.ok.tolist() == [True, True, True]
    assert BATCH.status == ("", "", "")
    assert BATCH["part.drive.temperature"].shape == (3,)
    assert BATCH["compartment.low.limit"].shape == (3,)
    assert BATCH.inputs["fan.left.speed"].tolist() == ["1400 rpm", 1.0, 0.6]
    assert BATCH.inputs["limits.margin"] == "5 K"


def test_a_variant_of_a_batch_is_a_solution_of_its_own():
    picked = BATCH.select(2)
    assert picked.case["vent.roof.state"] == "blanked"
    assert picked.case["fan.left.speed"] == 0.6
    assert picked.to_dict()["changes"] == {
        "fan.left.speed": 0.6, "vent.roof.state": "blanked", "slot.a.state": "fitted",
        "limits.margin": "5 K",
    }  # fmt: skip
    assert picked["part.drive.temperature"] == BATCH["part.drive.temperature"][2]
    assert BATCH.select(-1)["part.drive.temperature"] == picked["part.drive.temperature"]
    with pytest.raises(IndexError):
        BATCH.select(3)


def test_a_part_whose_slot_is_empty_has_no_values_and_no_limit():
    """In one variant of three; its heat is not there either."""
    assert np.isnan(BATCH["part.chip.temperature"]).tolist() == [False, True, False]
    limits = [{item.subject for item in BATCH.select(i).limits} for i in range(3)]
    assert [("part.chip" in subjects) for subjects in limits] == [True, False, True]
    assert BATCH["total.heat"][0] - BATCH["total.heat"][1] == pytest.approx(
        15.0 + 16.0 + BATCH["fan.left.power"][0] - BATCH["fan.left.power"][1]
        + BATCH["fan.right.power"][0] - BATCH["fan.right.power"][1]
    )  # fmt: skip


def test_batches_and_solutions_travel_to_other_processes():
    again = pickle.loads(pickle.dumps(BATCH))
    assert np.array_equal(again["part.drive.temperature"], BATCH["part.drive.temperature"])
    assert pickle.loads(pickle.dumps(ONE)).to_dict() == ONE.to_dict()
    assert len({ONE, ONE, BATCH}) == 2


# --- frames --------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["pandas", "xarray"])
def test_a_library_that_is_missing_is_named(monkeypatch, name):
    monkeypatch.setitem(sys.modules, name, None)
    sentence = f"this table needs {name}, which is not installed; python -m pip install {name}"
    calls = {"pandas": [lambda: ONE.to_frame("parts"), BATCH.to_frame], "xarray": [BATCH.to_xarray]}
    for call in calls[name]:
        with pytest.raises(ImportError, match=sentence):
            call()


class Frame(SimpleNamespace):
    """What a frame is made of, kept."""

    def __init__(self, columns):
        super().__init__(columns=columns)

    @classmethod
    def from_dict(cls, rows, orient):
        assert orient == "index"
        return cls(rows)


def test_frames_have_a_row_for_every_variant_and_units_in_their_names(monkeypatch):
    monkeypatch.setitem(sys.modules, "pandas", SimpleNamespace(DataFrame=Frame))
    monkeypatch.setitem(sys.modules, "xarray", SimpleNamespace(Dataset=Frame))
    columns = BATCH.to_frame().columns
    assert all(len(values) == 3 for values in columns.values())
    assert list(columns["vent.roof.state"]) == ["open", "open", "blanked"]
    assert columns["part.drive.temperature_degC"] == pytest.approx(
        BATCH["part.drive.temperature"] - 273.15
    )
    assert np.array_equal(columns["fan.left.rise_Pa"], BATCH["fan.left.rise"])
    assert columns["total.heat_W"] is not None
    assert columns["wall.door.heat_W"] is not None
    assert columns["part.chip.junction.temperature_degC"] is not None
    assert list(columns["status"]) == ["", "", ""]
    numbers = [f for f in (*BRANCH, *FAN) if f.quantity is not None]
    assert sum(path.startswith("fan.left.") for path in columns) == len(numbers) + 1
    along = BATCH.to_xarray().columns
    assert set(along) == set(columns)
    assert {axis for axis, _ in along.values()} == {"variant"}


def test_a_table_of_a_solution_is_a_frame(monkeypatch):
    monkeypatch.setitem(sys.modules, "pandas", SimpleNamespace(DataFrame=Frame))
    assert ONE.to_frame("parts").columns == ONE.parts.to_dict()
    with pytest.raises(CaseError, match='no table "part"; there are compartments, branches'):
        ONE.to_frame("part")


def test_a_variant_that_was_not_solved_cannot_be_picked():
    """Heat with nowhere to go in the second of three."""
    box = flownet.Enclosure.of(
        flownet.Compartment(name="box", air_limit="70 degC"), flownet.Limits(noise_dBA=40),
        flownet.Part(name="p", in_="box", power=50.0, limit="90 degC"),
        flownet.Vent(name="in", from_="outside", to="box", area=0.01, loss=2.0),
        flownet.Vent(name="out", from_="box", to="outside", area=0.01, loss=2.0),
        flownet.FanType(name="t", curve=((0, 50), (0.05, 0)), flow_area=0.01, noise_dBA=35),
        flownet.Fan(name="f", from_="box", to="outside", type="t"),
    )  # fmt: skip
    shut = ["open", "blanked", "open"]
    batch = flownet.solve_many(box, {
        "vent.*.state": shut, "fan.f.state": ["running", "blanked", "running"]})  # fmt: skip
    assert batch.ok.tolist() == [True, False, True]
    assert "no open branch, wall or exchange joins to the outside" in batch.status[1]
    for path in ("part.p.temperature", "compartment.box.temperature", "total.heat", "fan.f.power",
                 "vent.in.mass_flow", "total.worst_margin", "total.noise"):  # fmt: skip
        assert np.isnan(batch[path][1]), path
    for name in PREFIXES:
        table = getattr(batch, name)
        for field in table.fields:
            gone = [getattr(table[row], field.name)[1] for row in table]
            assert all(v is None or np.isnan(v) for v in gone), (name, field.name)
    for item in batch.limits:
        assert np.isnan([item.value[1], item.bound[1], item.margin[1]]).all()
    assert not np.isnan(batch["compartment.box.temperature"][[0, 2]]).any()
    with pytest.raises(NoSolution, match="no open branch, wall or exchange"):
        batch.select(1)
    with pytest.raises(CaseError, match="no open branch, wall or exchange"):
        flownet.solve(box, changes={"vent.*.state": "blanked", "fan.f.state": "blanked"})
