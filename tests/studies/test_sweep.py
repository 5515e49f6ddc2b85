"""Sweeps: rows equal single solves, keep their place when they fail, and stream to files."""

from __future__ import annotations

import csv
import json
import math
import os
import subprocess
import sys
import tracemalloc
from concurrent.futures import BrokenExecutor, Future, ProcessPoolExecutor
from types import SimpleNamespace

import netCDF4
import numpy as np
import pandas as pd
import pyarrow.parquet as pq
import pytest
import xarray as xr

import flownet
from flownet.judging.assessment import STATUSES
from flownet.pages import render
from flownet.pages.page import Page
from flownet.results.tables import Field, plain
from flownet.schema import quantities as q
from flownet.schema.errors import CannotWrite, CaseError, WorkerLost
from flownet.studies import sweep as module
from flownet.studies import sweep_files, sweep_rows
from flownet.studies import sweep_stream as stream
from flownet.studies.sweep import sweep
from flownet.studies.sweep_result import ROW_FIGURES
from flownet.studies.sweep_tally import REMEMBERED, Tally, row_at
from tests.cli import box
from tests.each import each, named
from tests.studies import fan_boxes
from tests.test_cases import load

SPEED = "fan.*.speed"
VARY = {SPEED: "0.5 to 1.0 in 6", "outside.temperature": ["20 degC", "52 degC"]}


@pytest.fixture(scope="module")
def case(tmp_path_factory):
    return flownet.load_case(box.written(tmp_path_factory.mktemp("box"), box.SOUND))


@pytest.fixture(scope="module")
def found(case):
    return sweep(case, VARY)


def test_rows_equal_single_solves(case, found):
    assert len(found) == 12
    for number in (0, 1, 7, 11):
        changes = {SPEED: float(found[SPEED][number]),
                   "outside.temperature": float(found["outside.temperature"][number])}  # fmt: skip
        one = flownet.solve(case, changes=changes)
        for path in ("total.volume_flow", "part.board.temperature", "total.worst_margin"):
            assert found[path][number] == pytest.approx(one[path], rel=1e-7), path
        assert found["decides"][number] == one.worst.subject
        assert found["margin"][number] == pytest.approx(one.worst.margin, abs=1e-6)
        assert found["hottest_air"][number] == pytest.approx(one["compartment.box.temperature"])
        assert (found["status"][number] == "over") == (one.worst.margin < 0)


def test_scenario_and_variant_come_before_what_is_varied(case):
    hot = sweep(case, {SPEED: [1.0]}, scenario="hot", variant="open")
    one = flownet.solve(case, scenario="hot", variant="open")
    assert hot["total.volume_flow"][0] == pytest.approx(one["total.volume_flow"], rel=1e-7)
    assert (hot.head()["scenario"], hot.head()["variant"]) == ("hot", "open")
    again = sweep(case, {"outside.temperature": [300.0]}, scenario="hot")
    assert again["hottest_air"][0] < one["compartment.box.temperature"]


def test_volume_flow_stays_with_altitude_and_pressure_follows_density(case):
    """Fan laws: at constant speed the volume flow through a resistance of second order stays, and
    rise and drop go with density (any textbook on fans, from memory). Without heat the air has one
    density, in proportion to the pressure of the standard atmosphere (ISO 2533, troposphere:
    101325 Pa (1 - 0.0065 h / 288.15 K)^5.25588, from memory) at one temperature."""
    cold = case.with_changes({"part.board.power": "0 W"})
    found = sweep(cold, {"outside.altitude": "0 to 3000 m in 7"},
                  keep=["total.volume_flow", "vent.low.density", "vent.low.drop"])  # fmt: skip
    share = (1 - 0.0065 * found["outside.altitude"] / 288.15) ** 5.25588
    flow, density, drop = (found[column.name] for column in found.layout.kept)
    assert flow == pytest.approx(np.full(7, flow[0]), rel=1e-3)
    assert density / density[0] == pytest.approx(share, rel=2e-3)
    assert drop / drop[0] == pytest.approx(share, rel=4e-3)


def test_flow_is_in_proportion_to_speed_where_every_loss_is_of_second_order(case):
    """Fan laws: flow with speed, rise with its square, where nothing else drives the air; buoyancy
    is none without heat."""
    cold = case.with_changes({"part.board.power": "0 W"})
    found = sweep(cold, {SPEED: "0.5 to 1.0 in 6"}, keep=["vent.low.drop", "total.volume_flow"])
    share = found[SPEED]
    flow = found["total.volume_flow"]
    assert flow / flow[-1] == pytest.approx(share, rel=2e-3)
    assert found["vent.low.drop"] / found["vent.low.drop"][-1] == pytest.approx(share**2, rel=4e-3)


def test_words_supplies_and_tables_can_be_varied():
    case = load("drive-cabinet")
    found = sweep(case, {"fan.left.state": ["running", "stopped", "blanked"],
                         "fan.*.type": ["axial-119-s", "axial-92-a"],
                         "supply.mains.frequency": [50.0, 60.0]},
                  keep=["fan.left.volume_flow", "fan.left.region"])  # fmt: skip
    assert found.design.shape == (3, 2, 2)
    assert set(found["fan.left.region"][4:8]) == {"stopped"}
    assert (found["fan.left.volume_flow"][4:8] < 0).all()  # the other fan draws back through it
    row = next(found.rows())
    assert row["fan.left.state"] == "running"
    assert row["supply.mains.frequency_Hz"] == 50.0
    speeds = sweep(case, {"fan.left.speed": ["1500 rpm", "2000 rpm"]})
    assert [row["fan.left.speed"] for row in speeds.rows()] == ["1500 rpm", "2000 rpm"]
    assert np.diff(speeds["total.volume_flow"])[0] > 0


def test_what_cannot_be_made_or_solved_keeps_its_place(case):
    """With every fan blanked, or the vent, heat has nowhere to go."""
    names = ["running", "blanked"]
    found = sweep(case, {"fan.left.state": names, "fan.right.state": names,
                         "vent.low.state": ["open", "blanked"]})  # fmt: skip
    assert found["status"].tolist()[-1] == "unsolved"
    assert np.isnan(found["total.volume_flow"][-1])
    assert "compartment.box" in found["why"][-1]
    assert found["why"][0] == ""
    assert found.ok.tolist() == [True, False, True, False, True, False, False, False]
    assert found.tally.worst[0]["row"] in np.flatnonzero(~found.ok)
    assert "no solution" in found.verdicts()[-1]
    row = list(found.rows())[-1]
    assert row["total.volume_flow_m3_s"] is None
    assert row["decides"] is None


def test_combinations_that_are_at_odds_have_their_reason(tmp_path):
    """Keys that make no thing together (a flow area larger than the frame) fail in their rows."""
    text = box.SOUND.replace('flow_area = "40 cm2"', 'flow_area = "40 cm2"\nframe = "70 x 25 mm"')
    framed = flownet.load_case(box.written(tmp_path, text))
    area = "fan_type.small.flow_area"
    found = sweep(framed, {area: ["40 cm2", "60 cm2", "45 cm2"], SPEED: [0.8, 1.0]},
                  keep=["total.volume_flow", "fan.left.region"])  # fmt: skip
    assert found["fan.left.region"].tolist() == [*["normal"] * 2, "", "", *["normal"] * 2]
    assert found["status"].tolist() == ["ok", "ok", "unsolved", "unsolved", "ok", "ok"]
    assert "must not be larger than the frame" in found["why"][2]
    fine = flownet.solve(framed, changes={area: "45 cm2", SPEED: 0.8})
    assert found["total.volume_flow"][4] == pytest.approx(fine["total.volume_flow"], rel=1e-7)
    never = sweep(framed, {area: ["60 cm2"]})
    assert never.tally.counts["unsolved"] == 1
    assert never.tally.best is None


def test_what_is_said_of_all_rows(found):
    margin = found["margin"]
    counts = found.tally.counts
    assert sum(counts.values()) == len(found)
    assert found.tally.holds == int(found.holds.sum()) == int((margin >= 0).sum())
    assert found.tally.best["row"] == int(margin.argmax())
    assert [row["row"] for row in found.tally.worst] == np.argsort(margin, kind="stable").tolist()
    first, best, worst = found.verdicts()
    assert first.startswith(f"{found.tally.holds} of 12 combinations hold")
    assert "fan.*.speed 1, outside.temperature 20.0 degC: +" in best
    assert "fan.*.speed 0.5, outside.temperature 52.0 degC: -" in worst
    assert "125.6 degF" in found.verdicts("us")[2]
    assert repr(found) == f'<Sweep "Test box" grid of 6 x 2: {first}>'
    assert "<th>margin</th>" in found._repr_html_()


@pytest.mark.parametrize("count", [4, 15, 16, 20])
def test_few_rows_stand_as_they_were_asked_for_and_of_many_the_hottest(case, count):
    """Up to 15 rows; else the worst 12, which the warmest air around makes."""
    asked = [20.0 + (7 * number) % count for number in range(count)]
    made = sweep(case, {"outside.temperature": [f"{value} degC" for value in asked]})
    told = next(made.sheet.of("page")).columns[0].values
    few = asked if count <= 15 else sorted(asked, reverse=True)[:12]
    assert [float(text.split()[0]) for text in told] == few


@pytest.mark.parametrize(("keep", "heads"), [
    (None, [["margin", "status", "hottest air", "decides"]]),
    (["total.heat", "part.*.temperature", "fan.*.volume_flow"],
     [["margin", "status", "decides"], ["total.heat", "part.board.temperature"],
      ["left", "right"]]),
])  # fmt: skip
def test_results_that_were_asked_for_stand_in_tables_of_their_own(case, keep, heads):
    """Of one key together, by their names; how many rows more there are is said once, below all."""
    asked = {"outside.temperature": np.linspace(290.0, 310.0, 20)}
    found = list(sweep(case, asked, keep=keep).sheet.of("page"))
    assert [[column.name for column in each.columns[1:]] for each in found] == heads
    assert [[note.words for note in each.notes] for each in found] == [
        *[[]] * (len(heads) - 1), ["... 8 more (--all)"]]  # fmt: skip
    titles = ["The worst 12 of 20", None, "fan.*.volume_flow"][: len(heads)]
    assert [each.title and each.title.words for each in found] == titles
    assert [each.fit for each in found] == [False, *[True] * (len(heads) - 1)]


@pytest.mark.parametrize(("paths", "head"), [
    (("outside.temperature", SPEED), "temperature, speed"),  # 32 letters
    (("outside.pressure", SPEED), "outside.pressure, fan.*.speed"),  # 29
])  # fmt: skip
def test_long_paths_give_way_to_their_keys(case, paths, head):
    values = {"outside.temperature": [300.0], "outside.pressure": [1e5], SPEED: [1.0]}
    (table,) = sweep(case, {path: values[path] for path in paths}).sheet.of("page")
    assert table.columns[0].name == head


# --- samples -------------------------------------------------------------------------------------


@each(named([
    ({SPEED: [0.8, 1.0]}, {"flow", "hottest air"}), ({SPEED: [0.8]}, {"flow", "hottest air"}),
    ({"part.board.limit": [350.0, 360.0]}, set()),
]), "vary shown")  # fmt: skip
def test_figures_that_differ_stand_in_the_table_and_those_of_a_single_row(case, vary, shown):
    text = "\n".join(render.text(sweep(case, vary).sheet, Page()))
    assert {name for _, name, _ in ROW_FIGURES if f" {name}" in text} == shown


def test_samples_lie_between_the_ends_and_repeat(case):
    ranges = {"vent.low.area": "40 to 160 cm2", SPEED: "0.6 to 1.0"}
    one = sweep(case, ranges, design="sobol", samples=20, seed=4)
    assert len(one) == 32
    area = one["vent.low.area"]
    assert area.min() > 0.004
    assert area.max() < 0.016
    again = sweep(case, ranges, design="sobol", samples=32, seed=4)
    assert np.array_equal(again["total.volume_flow"], one["total.volume_flow"])
    assert one.head()["design"] == {"sort": "sobol", "size": 32, "seed": 4, "asked": 20}
    assert one.head()["vary"]["vent.low.area_m2"] == {"low": 0.004, "high": 0.016}


def test_arrays_are_si(case):
    found = sweep(case, {"outside.temperature": np.linspace(290.0, 310.0, 3), SPEED: range(1, 2)})
    assert found["outside.temperature"].tolist() == [290.0, 300.0, 310.0]


@pytest.mark.parametrize(
    ("vary", "more", "said"),
    [
        ("altitud", {}, r"no \[sweep\.altitud\] in the case; the case has none"),
        ({"fan.left.sped": [1.0]}, {}, r'fan has no key "sped"; did you mean "speed"'),
        ({SPEED: "1.0 to 0.5 in 4"}, {}, "from low to high"),
        ({SPEED: [0.5, 9.0]}, {}, r"fan\.\*\.speed: must be from 0 to 2"),
        ({SPEED: "0.5 to 1"}, {}, "a grid needs a count"),
        ({SPEED: 0.5}, {}, "takes a list of values"),
        ({"outside.temperature": [20.0]}, {}, "20 K; Python numbers are SI"),
        ({"fan.left.type": ["smal"]}, {}, r'no fan type "smal"; did you mean "small"'),
        ({"vent.low.from": ["box"]}, {}, "shapes the network"),
        ({SPEED: [1.0]}, {"keep": ["part.bord.temperature"]}, 'keep: no result "part.bord.temp'),
        ({SPEED: [1.0]}, {"out": "a.gif"}, r"written as \.csv, \.json, \.parquet, \.nc"),
        ({SPEED: "0.5 to 1 in 99999", "vent.low.loss": "1 to 2 in 9"}, {}, "899991 rows are more"),
        ({SPEED: [1.0]}, {"scenario": "warm"}, "warm"),
    ],
)  # fmt: skip
def test_what_is_wrong_is_said_before_anything_is_solved(case, vary, more, said):
    with pytest.raises(CaseError, match=said):
        sweep(case, vary, **more)


@pytest.mark.parametrize("paths", [(SPEED, "fan.left.speed"), ("fan.left.speed", SPEED)])
def test_two_paths_never_stand_for_the_same_value(case, paths):
    """A row would say a value that was not tried."""
    with pytest.raises(CaseError) as told:
        sweep(case, {path: [0.5, 1.0] for path in paths})
    assert str(told.value) == (f"vary: {paths[0]} and {paths[1]} both stand for fan.left.speed; "
                               "vary it by one of them")  # fmt: skip


def test_all_faults_of_ranges_are_told_together(case):
    with pytest.raises(CaseError) as caught:
        sweep(case, {"fan.left.sped": [1.0], SPEED: [9.0], "vent.low.area": "nothing"})
    assert len(caught.value.faults) == 3


def test_results_are_kept_by_pattern(case):
    found = sweep(case, {SPEED: [1.0]}, keep=["fan.*.volume_flow", "total.heat"])
    kept = [column.name for column in found.layout.kept]
    assert kept == ["fan.left.volume_flow", "fan.right.volume_flow", "total.heat"]
    with pytest.raises(CaseError, match=r"compartment\.box\.share"):
        sweep(case, {SPEED: [1.0]}, keep=["compartment.box.share"])
    with pytest.raises(CaseError, match=r'not kept; did you mean "fan\.left\.volume_flow"'):
        found["fan.left.volume_flw"]


# --- frames --------------------------------------------------------------------------------------


def test_a_grid_is_a_dataset_with_a_dimension_a_key(found):
    dataset = found.to_xarray()
    assert isinstance(dataset, xr.Dataset)
    one = dataset.isel({"fan.*.speed": 4, "outside.temperature_degC": 1})
    assert float(one["total.volume_flow_m3_s"]) == found["total.volume_flow"][9]
    assert dataset.sizes == {"fan.*.speed": 6, "outside.temperature_degC": 2}


def test_a_frame_has_a_row_a_combination(case, found, monkeypatch):
    frame = found.to_frame()
    assert len(frame) == 12
    assert frame["part.board.temperature_degC"].to_numpy() == pytest.approx(
        found["part.board.temperature"] - 273.15
    )
    monkeypatch.setitem(sys.modules, "pandas", SimpleNamespace(DataFrame=len))
    assert found.to_frame() == len(found.layout.columns)
    sampled = sweep(case, {SPEED: "0.5 to 1"}, design="latin", samples=5).to_xarray()
    assert sampled.sizes == {"row": 5}


# --- files ---------------------------------------------------------------------------------------

LONG = {SPEED: "0.5 to 1.0 in 40", "outside.temperature": "20 to 50 degC in 25"}


@pytest.fixture
def small_blocks(monkeypatch):
    """Blocks of 256 rows, so that a thousand rows are several."""
    monkeypatch.setattr("flownet.studies.sweep_rows.LARGEST_BLOCK", 256)


def read(path):
    with open(path, newline="") as file:
        assert file.readline().startswith("# written by flownet ")
        return list(csv.DictReader(file))


def test_a_file_has_what_memory_has_to_ten_digits(case, tmp_path, small_blocks):
    held = sweep(case, LONG)
    told = sweep(case, LONG, out=tmp_path / "a.csv")
    assert told.tally == held.tally
    rows = read(tmp_path / "a.csv")
    assert len(rows) == 1000
    for row, kept in zip(rows[::97], list(held.rows())[::97], strict=True):
        assert list(row) == list(kept)
        for key, value in kept.items():
            if isinstance(value, float):
                assert float(row[key]) == pytest.approx(value, rel=1e-9), key
            else:
                assert row[key] == (value or ""), key
    assert sorted(p.name for p in tmp_path.iterdir()) == ["a.csv"]
    with pytest.raises(CaseError, match=r"in .*a\.csv, not in memory"):
        told["total.volume_flow"]


def test_other_forms_hold_the_same(case, tmp_path, small_blocks):
    names = {"fan.left.state": ["running", "blanked"], "fan.right.state": ["blanked"],
             "vent.low.state": ["open", "blanked"], SPEED: [0.5, 1.0]}  # fmt: skip
    plain = sweep(case, names)  # with one way at most, heat with nowhere to go is told at once
    flow = plain["total.volume_flow"]
    assert np.isnan(flow).any()
    for suffix in (".parquet", ".nc", ".json"):
        sweep(case, names, out=tmp_path / f"a{suffix}")
    frame = pd.read_parquet(tmp_path / "a.parquet")
    assert frame["total.volume_flow_m3_s"].to_numpy() == pytest.approx(flow, nan_ok=True)
    assert frame["status"].tolist() == plain["status"].tolist()
    about = json.loads(pq.read_schema(tmp_path / "a.parquet").metadata[b"flownet"])
    assert about["counts"] == plain.tally.counts
    with netCDF4.Dataset(tmp_path / "a.nc") as data:
        assert np.asarray(data["total.volume_flow_m3_s"]) == pytest.approx(flow, nan_ok=True)
        assert data["total.volume_flow_m3_s"].units == "m3_s"
        assert list(data["fan.left.state"][:]) == plain["fan.left.state"].tolist()
    content = json.loads((tmp_path / "a.json").read_text())
    assert content["counts"] == plain.tally.counts
    assert [row["status"] for row in content["rows"]] == plain["status"].tolist()
    assert content["rows"][-1]["total.volume_flow_m3_s"] is None
    assert sorted(p.name for p in tmp_path.iterdir()) == ["a.json", "a.nc", "a.parquet"]
    for suffix in (".parquet", ".nc", ".json"):
        sweep(case, {SPEED: [0.9]}, out=tmp_path / f"a{suffix}")  # what is ours is replaced
    assert len(pd.read_parquet(tmp_path / "a.parquet")) == 1


@pytest.mark.parametrize(("suffix", "library"), [(".parquet", "pyarrow"), (".nc", "netCDF4")])
def test_a_library_that_is_missing_names_the_extra(case, tmp_path, monkeypatch, suffix, library):
    monkeypatch.setitem(sys.modules, library, None)
    with pytest.raises(ImportError, match=rf"needs {library}.*flownet-enclosure\[frames\]"):
        sweep(case, {SPEED: [1.0]}, out=tmp_path / f"a{suffix}")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("rows", [0, 256, 768])
def test_an_interrupted_sweep_ends_the_same_to_the_byte(
    case, tmp_path, monkeypatch, small_blocks, rows
):
    whole, cut = tmp_path / "whole.csv", tmp_path / "cut.csv"
    wanted = sweep(case, LONG, out=whole)

    def stopping(done, total):
        if done > rows:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        sweep(case, LONG, out=cut, progress=stopping)
    assert not cut.exists()
    left = stream.kept(cut)
    assert left.rows == rows
    with open(stream.part_of(cut), "a") as file:
        file.write("0.5,20.3,ok,half a li")  # what a kill leaves behind
    again = sweep(case, LONG, out=cut, resume=True)
    assert cut.read_bytes() == whole.read_bytes()
    assert again.tally == wanted.tally
    assert not stream.part_of(cut).exists()
    assert not stream.note_of(cut).exists()


def test_every_executor_gives_the_same_bytes(case, tmp_path, small_blocks, monkeypatch):
    sweep(case, LONG, out=tmp_path / "one.csv")
    seen = []
    with ProcessPoolExecutor(2) as pool:
        sweep(case, LONG, out=tmp_path / "parts.csv", executor=pool)
        monkeypatch.setattr(module, "AHEAD", 2)
        sweep(case, LONG, out=tmp_path / "blocks.csv", executor=pool,
              progress=lambda *counts: seen.append(counts))  # fmt: skip
    same = (tmp_path / "one.csv").read_bytes()
    assert (tmp_path / "parts.csv").read_bytes() == same
    assert (tmp_path / "blocks.csv").read_bytes() == same
    assert seen == [(256, 1000), (512, 1000), (768, 1000), (1000, 1000)]


def test_another_job_is_not_gone_on_with(case, tmp_path, small_blocks):
    path = tmp_path / "a.csv"

    def stopping(done, total):
        if done > 300:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        sweep(case, LONG, out=path, progress=stopping)
    part = stream.part_of(path).read_bytes()
    other = case.with_changes({"part.board.power": "60 W"})
    for changed in (
        lambda: sweep(other, LONG, out=path, resume=True),
        lambda: sweep(case, LONG | {SPEED: "0.5 to 1.0 in 41"}, out=path, resume=True),
        lambda: sweep(case, LONG, keep=["total.heat"], out=path, resume=True),
        lambda: sweep(case, LONG, scenario="hot", out=path, resume=True),
    ):
        with pytest.raises(FileExistsError, match="begun with another case"):
            changed()
    with pytest.raises(FileExistsError, match="256 rows of a sweep that was interrupted; go on"):
        sweep(case, LONG, out=path)
    assert stream.part_of(path).read_bytes() == part
    sweep(case, {SPEED: [1.0]}, out=path, force=True)
    assert len(read(path)) == 1


def test_files_of_others_stay(case, tmp_path):
    mine = tmp_path / "mine.csv"
    mine.write_text("flow,rise\n1,2\n")
    for force in (False, True):  # a table may be somebody's input
        with pytest.raises(FileExistsError, match="was not written by flownet"):
            sweep(case, {SPEED: [1.0]}, out=mine, force=force)
    assert mine.read_text() == "flow,rise\n1,2\n"
    data = tmp_path / "mine.json"
    data.write_text("[]")
    with pytest.raises(FileExistsError, match="--force"):
        sweep(case, {SPEED: [1.0]}, out=data)
    sweep(case, {SPEED: [1.0]}, out=data, force=True)
    assert json.loads(data.read_text())["command"] == "sweep"
    (tmp_path / "dir.csv").mkdir()
    with pytest.raises(FileExistsError, match="is a folder"):
        sweep(case, {SPEED: [1.0]}, out=tmp_path / "dir.csv")


def test_an_unfinished_table_of_others_stays(case, tmp_path):
    path = tmp_path / "a.csv"
    stream.part_of(path).write_text("mine")
    for more in ({}, {"resume": True}, {"force": True}):
        with pytest.raises(FileExistsError, match=r"a\.csv\.part beside it was not written"):
            sweep(case, {SPEED: [0.5, 1.0]}, out=path, **more)
    assert stream.part_of(path).read_text() == "mine"
    assert not path.exists()


def test_where_no_row_is_whole_the_table_begins_anew(case, tmp_path):
    path = tmp_path / "a.csv"
    stream.part_of(path).write_text("# written by flownet 0.1.0: half")
    stream.note_of(path).write_text("{nonsense")
    sweep(case, {SPEED: [0.5, 1.0]}, out=path, resume=True)
    assert len(read(path)) == 2


def _noted(path, **changed):
    note = stream.note_of(path)
    note.write_text(json.dumps(json.loads(note.read_text()) | changed))


def _edited(path):
    part = stream.part_of(path)
    part.write_bytes(part.read_bytes().replace(b"0.5,20,ok", b"0.5,20,no", 1))


def _cut(path):
    part = stream.part_of(path)
    part.write_bytes(part.read_bytes()[:-200])


def _of_another(path):
    stream.part_of(path).write_text("# written by flownet 0.1.0: x\nhead\n1\n2\n")


@pytest.mark.parametrize(
    "damage",
    [_edited, _cut, _of_another, lambda path: _noted(path, rows=900),
     lambda path: _noted(path, rows=0), lambda path: _noted(path, state=None),
     lambda path: stream.note_of(path).write_text("{nonsense"),
     lambda path: stream.note_of(path).unlink()],
    ids=["edited", "cut", "other", "rows", "no rows", "state", "nonsense", "no note"],
)  # fmt: skip
def test_a_damaged_table_is_refused_by_name_and_stays(case, tmp_path, small_blocks, damage):
    path = tmp_path / "a.csv"

    def stopping(done, total):
        if done > 512:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        sweep(case, LONG, out=path, progress=stopping)
    damage(path)
    before = {each.name: each.read_bytes() for each in tmp_path.iterdir()}
    for resume in (True, False):
        with pytest.raises(FileExistsError, match=r"a\.csv\.part beside it is not .* --force"):
            sweep(case, LONG, out=path, resume=resume)
    assert {each.name: each.read_bytes() for each in tmp_path.iterdir()} == before
    sweep(case, {SPEED: [1.0]}, out=path, force=True)
    assert len(read(path)) == 1


def test_a_table_that_is_changed_while_it_is_made_is_not_moved(case, tmp_path, small_blocks):
    path = tmp_path / "a.csv"

    def meddling(done, total):
        if done == total:
            _edited(path)

    with pytest.raises(FileExistsError, match="was changed while it was written"):
        sweep(case, LONG, out=path, progress=meddling)
    assert not path.exists()


TITLE = "# written by flownet 0.1.0\nb\n"


def test_a_table_is_made_by_one_call_at_a_time_and_a_child_keeps_no_lock(tmp_path):
    path = tmp_path / "a.csv"
    with stream.begun(path, "job", TITLE, resume=False, force=False):
        for force in (False, True):
            with pytest.raises(FileExistsError, match=r"another sweep is writing a\.csv\.part"):
                stream.begun(path, "job", TITLE, resume=True, force=force)
        if hasattr(os, "fork"):
            child = subprocess.Popen([sys.executable, "-c", FORKING, str(path), TITLE])
            assert child.wait(timeout=60) == 0
    with stream.begun(path, "job", TITLE, resume=False, force=False) as table:
        table.append("1\n", 1, None)
        with pytest.raises(FileExistsError, match="holds 1 rows of 2"):
            table.check(2)


def stopped(path, rows, error):
    with stream.begun(path, "job", TITLE, resume=False, force=True) as table:
        if rows:
            table.append("1\n", 1, None)
        raise error


def test_what_stops_the_work_leaves_whole_rows_and_nothing_else(tmp_path):
    """A file that takes no row goes where the system refused it; all else stays to go on with."""
    path = tmp_path / "a.csv"
    for rows, error, left in ((0, CannotWrite, False), (0, KeyboardInterrupt, True),
                              (1, CannotWrite, True), (1, KeyboardInterrupt, True)):  # fmt: skip
        with pytest.raises(error):
            stopped(path, rows, error)
        assert stream.part_of(path).exists() == left
    assert stream.kept(path).rows == 1
    folder = tmp_path / "b.csv"
    stream.part_of(folder).mkdir()
    with pytest.raises(FileExistsError, match="beside it was not written"):
        stream.begun(folder, "job", TITLE, resume=False, force=True)


class Dying:
    """Solves one block; then its processes are gone."""

    blocks = 0

    def map(self, function, *columns):
        return map(function, *columns)

    def submit(self, function, *args):
        made = Future()
        self.blocks += 1
        if self.blocks > 1:
            made.set_exception(BrokenExecutor("killed"))
        else:
            made.set_result(function(*args))
        return made


@pytest.mark.parametrize("name", [None, "a.csv"])
def test_a_lost_worker_is_said_with_how_to_go_on(case, tmp_path, small_blocks, monkeypatch, name):
    monkeypatch.setattr(module, "AHEAD", 2)
    with pytest.raises(WorkerLost, match="rows 257 to 512 of 1000") as told:
        sweep(case, LONG, out=name and tmp_path / name, executor=Dying())
    again = "256 rows are kept" if name else "run it again"
    assert again in str(told.value)


FORKING = """
import os, sys, time
from pathlib import Path
from flownet.studies import sweep_stream as stream
path, title = Path(sys.argv[1] + "2.csv"), sys.argv[2]
table = stream.begun(path, "job", title, resume=False, force=False)
ready, told = os.pipe()
child = os.fork()
if not child:
    os.write(told, b"x")
    time.sleep(60)
os.read(ready, 1)
os.close(table.file.fileno())  # as when this process is killed: the child lives on
stream.begun(path, "job", title, resume=False, force=False)
os.kill(child, 9)
os._exit(0)
"""


def test_memory_does_not_grow_with_the_rows(case, tmp_path, small_blocks):
    """Peak of what Python and NumPy hold, 600 rows and 2,000."""

    def peak(count, design):
        tracemalloc.start()
        try:
            ranges = {SPEED: f"0.5 to 1.0 in {count // 20}", "vent.low.area": "60 to 99 cm2 in 20"}
            more = {} if design == "grid" else {"samples": count}
            sweep(case, ranges, design=design, out=tmp_path / f"{count}.csv", **more)
            return tracemalloc.get_traced_memory()[1]
        finally:
            tracemalloc.stop()

    peak(300, "grid")  # what is loaded and cached on first use
    assert peak(2000, "grid") < 1.2 * peak(600, "grid")


def test_bounds_of_results_are_the_limits_of_the_case_where_nothing_moves_them():
    case = load("drive-cabinet").with_changes({"limits.noise_dBA": 58.0})
    found = sweep(case, {"outside.temperature": ["25 degC", "30 degC"]})
    bounds = {
        "part.rectifier.temperature": case.parts["rectifier"].limit, "part.rectifier.margin": 0.0,
        "total.worst_margin": 0.0, "total.noise": 58.0, "vent.roof.drop": None,
        "compartment.upper.temperature": case.compartments["upper"].air_limit,
    }  # fmt: skip
    assert {path: found.bound(path) for path in bounds} == pytest.approx(bounds)
    for path in ("part.rectifier.air_temperature", "part.other.temperature", "total.volume_flow",
                 "compartment.upper.pressure"):  # fmt: skip
        assert found.bound(path) is None, path
    shelf = load("telecom-shelf").with_changes({"slot.card-1.air_limit": 330.0})
    cards = sweep(shelf, {"outside.temperature": ["25 degC", "30 degC"]})
    assert cards.bound("slot.card-1.outlet_temperature") == 330.0
    assert cards.bound("slot.card-1.velocity") is None
    moved = sweep(case, {"part.rectifier.limit": ["100 degC", "110 degC"]})
    assert moved.bound("part.rectifier.temperature") is None
    assert moved.bound("part.rectifier.margin") == 0.0


# --- the order and the units of rows -------------------------------------------------------------


@pytest.mark.parametrize(
    ("hot", "status", "margin", "kind"),
    [
        (True, "ok", 3.0, 0), (False, "ok", 3.0, 1), (True, "over", -3.0, 0),
        (False, "over", -3.0, 1), (True, "void", -3.0, 0), (False, "void", -3.0, 1),
        (True, "void", 3.0, 2), (False, "void", 3.0, 3), (False, "void", np.nan, 3),
        (True, "void", 0.0, 2), (True, "unsolved", np.nan, 0),
    ],
)  # fmt: skip
def test_what_is_void_but_breaks_nothing_on_paper_is_behind_what_does(hot, status, margin, kind):
    found = sweep_rows._kind(np.array([hot]), np.array([STATUSES.index(status)]),
                             np.array([margin < 0]))  # fmt: skip
    assert found.tolist() == [kind]


@pytest.mark.parametrize(
    ("quantity", "value", "shown"),
    [(q.SPEED, 40.0, 2400.0), (q.TEMPERATURE, 293.15, 20.0), (q.RATIO, 0.5, 0.5),
     (q.SPEED, np.nan, None), (q.SPEED, None, None), (None, "a", "a")],
)  # fmt: skip
def test_a_cell_is_in_the_unit_of_its_heading(quantity, value, shown):
    column = Field("x", quantity)
    assert plain(column, value) == (pytest.approx(shown) if isinstance(shown, float) else shown)
    if isinstance(shown, float):
        (cell,) = sweep_rows._cells(None, column, np.array([value]), sheet=False)
        assert float(cell) == pytest.approx(shown)


def test_turns_per_minute_are_written_as_such(tmp_path):
    """1 rev/s is 60 rpm by definition, in the file, its head and a frame."""
    made = flownet.load_case(box.written(tmp_path, box.SOUND))
    values = ["2000 rpm", "2400 rpm"]
    names = [f"fan.{name}.rotation" for name in made.fans]
    target = tmp_path / "rows.csv"
    written = sweep(made, {names[0]: values}, out=target)
    with target.open() as file:
        rows = [row for row in csv.reader(file) if row and not row[0].startswith("#")]
    place = rows[0].index(f"{names[0]}_rpm")
    assert [float(row[place]) for row in rows[1:]] == pytest.approx([2000.0, 2400.0])
    assert len(written) == 2
    again = sweep(made, {names[0]: values})
    assert again[names[0]].tolist() == pytest.approx([2000 / 60, 2400 / 60])
    assert again.row(1)[names[0]] == pytest.approx(40.0)


def test_both_ends_of_a_range_may_be_given_by_name(case):
    found = sweep(case, {"outside.temperature": {"low": "20 degC", "high": "30 degC"}},
                  design="latin", samples=8)  # fmt: skip
    drawn = found["outside.temperature"]
    assert drawn.min() >= 293.15
    assert drawn.max() <= 303.15
    assert len(set(np.floor((drawn - 293.15) / 10 * 8))) == 8


@pytest.mark.parametrize("more", [{"seed": True}, {"samples": True}, {"samples": 0}, {"seed": -1}])
def test_counts_that_are_none(case, more):
    words = {"design": "latin", "samples": 4, **more}
    with pytest.raises(CaseError, match=next(iter(more))):
        sweep(case, {"outside.temperature": {"low": 290.0, "high": 300.0}}, **words)


def test_rows_without_any_limit_are_unknown():
    made = fan_boxes.box(1e4, fan_boxes.kind("line", lambda x: 60 - 1200 * x, 0.05),
                         fan_boxes.out("a", "line"))  # fmt: skip
    found = sweep(made, {"outside.temperature": [290.0, 300.0]})
    assert found["status"].tolist() == ["unknown", "unknown"]
    assert found["decides"].tolist() == ["", ""]
    assert np.isnan(found["margin"].astype(float)).all()


@pytest.mark.parametrize(
    ("value", "shown"), [("", None), (math.nan, None), (0.0, 0.0), ("a", "a"), (1.5, 1.5), (0, 0)]
)
def test_what_is_missing_is_null_in_json(value, shown):
    assert sweep_files._missing(value) == shown


def test_rows_are_ordered_by_how_they_stand_then_by_what_decides_then_by_margin():
    """A temperature before a noise, of the limit that decides; where none does after it too."""
    limits = [SimpleNamespace(limit=name) for name in ("noise", "air", "part")]
    status = [STATUSES.index(name) for name in ("over", "over", "ok", "unknown")]
    stand = SimpleNamespace(limits=limits, row=np.array([0, 1, 2, 3]), status=np.array(status),
                            broken=np.array([True, True, False, False]),
                            margin=np.array([-1.0, -2.00000049, 3.0, np.nan]))  # fmt: skip
    assert sweep_rows._order(stand).tolist() == [
        [status[0], 1.0, -1.0], [status[1], 0.0, -2.0], [status[2], 0.0, 3.0],
        [status[3], 1.0, 0.0]]  # fmt: skip


# --- what is remembered --------------------------------------------------------------------------


@pytest.mark.parametrize(("counts", "told"), [
    ({"ok": 3}, "3 combinations: all of them hold"), ({"ok": 1}, "1 combination: it holds"),
    ({"over": 1}, "1 combination: it does not hold"),
    ({"ok": 1, "over": 1}, "1 of 2 combinations holds"),
    ({"over": 2}, "0 of 2 combinations hold"),
    ({"ok": 1, "tight": 2, "over": 9997}, "3 of 10 000 combinations hold, 2 of them tight"),
    ({"ok": 2, "unknown": 1}, "2 of 3 combinations hold; 1 without a limit to hold"),
    ({"ok": 2, "void": 1, "unsolved": 1},
     "2 of 4 combinations hold; 1 is void; 1 has no solution"),
    ({"tight": 4, "void": 2, "unsolved": 3},
     "4 of 9 combinations hold, 4 of them tight; 2 are void; 3 have no solution"),
])  # fmt: skip
def test_rows_in_words_by_how_they_stand(counts, told):
    tally = Tally(dict.fromkeys(STATUSES, 0) | counts)
    assert (tally.words, tally.rows) == (told, sum(counts.values()))


def block(*orders, start=0):
    rows = np.array(orders, float)
    return sweep_rows.Block(start, {"x": rows[:, 1], "y": np.full(len(rows), np.nan)}, rows)


def test_the_worst_few_and_the_first_of_the_best_are_remembered(case):
    """By three numbers, of equal ones the first; what was not solved is never the best."""
    shape = SimpleNamespace(columns=[Field("x", q.RATIO), Field("y", q.RATIO)])
    ok, over, unsolved = (STATUSES.index(name) for name in ("ok", "over", "unsolved"))
    none = Tally().after(case, shape, block((unsolved, 0, 0)))
    assert (none.best, none.counts["unsolved"], none.rows) == (None, 1, 1)
    first = none.after(case, shape, block((ok, 5, 1), (over, 2, 0), (ok, 5, 1), start=1))
    assert [row["row"] for row in first.worst] == [0, 2, 1, 3]
    assert first.best == {"x": 5.0, "y": None, "row": 1, "order": [ok, 5.0, 1.0]}
    alike = first.after(case, shape, block((ok, 5, 1), (ok, 5, 0), start=4))
    assert (alike.best["row"], alike.holds, alike.rows) == (1, 4, 6)
    assert [row["row"] for row in alike.worst] == [0, 2, 5, 1, 3, 4]
    better = alike.after(case, shape, block((ok, 6, 0), (ok, 5, 9), start=6))
    assert better.best["row"] == 6
    many = better.after(case, shape, block(*[(over, i, 0) for i in range(20)], start=8))
    assert [row["row"] for row in many.worst] == [0, 8, 9, 2, *range(10, 18)]
    assert len(many.worst) == REMEMBERED
    assert many.best["row"] == 6
    assert row_at(case, shape, {"x": [1.0, np.inf], "y": [2.0, 3.0]}, 1) == {"x": None, "y": 3.0}
