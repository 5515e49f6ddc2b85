"""What other programs are handed: fan tables against the fan laws, porous coefficients against the
laws of the elements, files read back by general libraries."""

from __future__ import annotations

import json
import re
from pathlib import Path

import networkx as nx
import numpy as np
import openpyxl
import pandas as pd
import pytest

import flownet
from flownet.pages.render import records
from flownet.pages.schedule import fan_schedule
from flownet.physics.air import HEAT_CAPACITY
from flownet.schema.errors import CaseError
from flownet.schema.quantities import Quantity
from tests.cli import box

DEMOS = Path(__file__).parents[1] / "cases"
HOSTILE = 'a "quote" \\ back\\\nline <&> ]]> \x01 =1+1'
MORE = """
[filter.mat]
on = "vent.low"
area = "80 cm2"
velocity_drop = { velocity = "1 2 m/s", drop = "11 24 Pa" }
tag = "=1+1"

[vent.wire]
from = "outside"
to = "box"
area = "50 cm2"
open_ratio = 0.5
construction = "wire screen"
hole = "1 mm"

[wall.side]
from = "box"
to = "outside"
area = "0.4 m2"
u_value = "5 W/(m2 K)"
"""
GUARD = 'fan.right.guard.loss = 0.4\nfan.right.state = "stopped"\nfan.left.speed = 0.8\n'


@pytest.fixture(scope="module")
def case(tmp_path_factory):
    folder = tmp_path_factory.mktemp("export")
    text = box.CASE + MORE + f"\n[scenario.one]\n{GUARD}"
    return flownet.load_case(box.written(folder, text.replace("Test box", "=HYPERLINK")))


@pytest.fixture(scope="module")
def solution(case):
    """One fan at 0.8 of its speed, the other stopped, 1500 m above the sea."""
    return flownet.solve(case, scenario="one", changes={"outside.altitude": 1500.0})


@pytest.fixture(scope="module")
def cfd(solution):
    return flownet.export(solution, "cfd")


def rows(exported, table):
    return exported.to_frame(table).to_dict("records")


# --- conditions ----------------------------------------------------------------------------------


def test_a_fan_table_is_the_data_sheet_by_the_fan_laws(cfd, solution):
    """ISO 5801: flow ~ speed, pressure ~ density speed^2, from the curve at 1.2 kg/m3."""
    table = cfd.to_frame("fan_curves")
    assert set(table.fan) == {"fan.left"}  # the other stands
    density = table.density_kg_m3.iloc[0]
    warm = solution.compartments["box"].temperature
    assert density == pytest.approx(84556 / (287.05 * warm), rel=1e-4)  # 1500 m, US Std Atm 1976
    speed, found = (
        0.8,
        dict(zip(table.volume_flow_m3_s.round(9), table.static_rise_Pa, strict=True)),
    )
    for flow, rise in ((0, 40), (40, 25), (80, 0)):
        at = found[round(speed * flow / 3600, 9)]
        assert at == pytest.approx(rise * speed**2 * density / 1.2, rel=1e-6, abs=1e-6)
    at = found[round(solution.volume_flow("fan.left"), 9)]  # where it works is a point of the table
    assert at == pytest.approx(solution.fans["fan.left"].rise, rel=1e-6)
    head = density * (table.volume_flow_m3_s / 40e-4) ** 2 / 2
    assert np.allclose(table.total_rise_Pa - table.static_rise_Pa, head, rtol=1e-9)


def test_a_fan_that_stands_is_a_loss(cfd):
    """K 10 of a rotor held still and 0.4 of its guard on its flow area, as the case has them."""
    found = {row["element"]: row for row in rows(cfd, "porous")}["fan.right"]
    assert (found["state"], found["way"]) == ("stopped", "either")
    assert found["inertial_loss"] == pytest.approx(10.4, rel=1e-3)
    assert (found["a_Pas_m"], found["face_area_m2"]) == (0, pytest.approx(40e-4))


def test_porous_coefficients_are_those_of_the_elements_themselves(cfd):
    """A vent of K 2.5; a mat by 11 and 24 Pa at 1 and 2 m/s: 10 v + 1 v^2 in air of 20 degC and
    101325 Pa, the first part with viscosity, the second with density."""
    found = {row["element"]: row for row in rows(cfd, "porous")}
    vent, mat, wire = found["vent.low"], found["filter.mat"], found["vent.wire"]
    density, viscosity = vent["density_kg_m3"], vent["viscosity_Pas"]
    assert viscosity == pytest.approx(1.91e-5, rel=0.01)  # air of 40 degC, VDI heat atlas
    assert vent["inertial_loss"] == pytest.approx(2.5, rel=1e-3)
    assert mat["stands_on"] == "vent.low"
    assert mat["a_Pas_m"] == pytest.approx(10 * viscosity / 1.813e-5, rel=2e-3)
    assert mat["b_Pas2_m2"] == pytest.approx(1 * density / 1.204, rel=2e-3)
    assert wire["misfit"] > vent["misfit"]


@pytest.mark.parametrize("demo", ["telecom-shelf", "outdoor-cabinet"])
def test_coefficients_give_the_drop_of_the_solution_within_their_misfit(demo):
    exported = flownet.export(flownet.solve(flownet.load_case(DEMOS / demo)), "cfd")
    for row in (row for row in rows(exported, "porous") if row["face_velocity_m_s"]):
        v, name = abs(row["face_velocity_m_s"]), row["element"]
        told = row["a_Pas_m"] * v + row["b_Pas2_m2"] * v * v
        assert told == pytest.approx(abs(row["drop_Pa"]), rel=row["misfit"] + 1e-9), name
        assert row["misfit"] < (0.25 if name.startswith(("slot", "duct", "vent")) else 0.01), name
        layer = (row["viscous_loss_1_m"] * row["viscosity_Pas"] * v
                 + row["inertial_loss"] * row["density_kg_m3"] * v * v / 2)  # fmt: skip
        assert layer == pytest.approx(told, rel=1e-9)  # Darcy and Forchheimer, times a thickness


def test_a_shutter_has_coefficients_for_one_way(case):
    """K 1 open; closed a share of 2 % of the flow area, sharp-edged: 1 / (0.61 0.02)^2."""
    shut = {"fan.right.state": "stopped", "fan.right.shutter.open_loss": 1.0,
            "fan.right.shutter.closed_leak": 0.02}  # fmt: skip
    exported = flownet.export(flownet.solve(case, changes=shut), "cfd")
    (row,) = (row for row in rows(exported, "porous") if row["element"] == "fan.right")
    assert row["way"] == "to > from"  # drawn backwards by the other fan
    assert row["inertial_loss"] == pytest.approx(10 + (0.61 * 0.02) ** -2, rel=0.01)


@pytest.mark.parametrize("demo", ["drive-cabinet", "outdoor-cabinet", "telecom-shelf"])
def test_mass_and_heat_of_the_tables_balance(demo):
    """Conservation: what comes in goes out; heat to the air leaves by air and through walls."""
    found = flownet.solve(flownet.load_case(DEMOS / demo))
    exported = flownet.export(found, "cfd")
    edge, walls = exported.to_frame("boundaries"), exported.to_frame("walls")
    edge = edge[edge.role.isin(["inlet", "outlet"])]
    out = np.where(edge.role == "outlet", 1, -1) * edge.mass_flow_kg_s.abs()
    assert {"inlet", "outlet"} == set(edge.role)
    assert out.sum() == pytest.approx(0, abs=1e-9)
    by_air = (out * HEAT_CAPACITY * edge.outlet_temperature_degC).sum()
    through = walls.heat_W[[str(place).startswith("outside") for place in walls.to]].sum()
    to_air = exported.to_frame("heat").heat_to_air_W.sum()
    # a fan that draws from outside warms its air behind the boundary, one that blows out before it
    drawn = exported.to_frame("fans").set_index("fan").power_W
    behind = sum(drawn[name] for name in edge[edge.role == "inlet"].branch if name in drawn)
    assert to_air - behind == pytest.approx(by_air + through, rel=1e-6)
    assert to_air == pytest.approx(found.totals.heat, rel=1e-6)


def test_every_column_of_a_condition_says_what_it_is(cfd):
    told = {(row["table"], row["column"]) for row in rows(cfd, "about")}
    tables = [table for table in cfd.sheet.of("json") if table.name not in ("about", "scenarios")]
    filled = [table for table in tables if len(table)]
    assert {(table.name, column.name) for table in filled for column in table.columns} == told
    assert all(len(row["is"]) > 3 for row in rows(cfd, "about"))


# --- files read back -----------------------------------------------------------------------------


def test_all_forms_give_the_same_numbers(solution, case, tmp_path):
    made = flownet.export([solution, flownet.solve(case)], comparison=flownet.compare(case))
    for name in ("a.csv", "b.parquet", "c.xlsx", "d.json"):
        made.save(tmp_path / name)
    book = pd.read_excel(tmp_path / "c.xlsx", sheet_name=None)
    kept, seen = json.loads((tmp_path / "d.json").read_text()), 0
    for table in (each for each in made.sheet.of("rows") if len(each)):
        text = pd.read_csv(tmp_path / f"a/{table.name}.csv", skiprows=1, dtype=str)
        frame = pd.read_parquet(tmp_path / f"b/{table.name}.parquet")
        page, own = book[table.name], made.to_frame(table.name)
        assert list(text) == list(frame) == list(own) == list(kept[table.name][0])
        assert page.shape == own.shape
        for number, column in enumerate(table.columns):
            if column.quantity is None:
                continue
            key = own.columns[number]
            wanted = own[key].to_numpy(float)
            for found in (text[key], frame[key], [row[key] for row in kept[table.name]]):
                np.testing.assert_array_equal(np.array(found, float), wanted)
            if isinstance(column.quantity, Quantity):
                shown, si = column.quantity.metric, np.array(column.values, float)
                read = page.iloc[:, number].to_numpy(float)
                np.testing.assert_allclose(read, shown.of(np.where(np.isfinite(si), si, np.nan)))
                assert page.columns[number].endswith(f"[{shown.unit}]" if shown.unit else "")
                seen += 1
    assert seen >= 70
    flow = book["branches"]["volume flow [m3/h]"]  # what people read
    np.testing.assert_allclose(flow, 3600 * made.to_frame("branches").volume_flow_m3_s, rtol=1e-12)


def test_a_workbook_in_us_units(solution, tmp_path):
    """degF and CFM by the definitions of the units; units of mixed columns beside them."""
    made = flownet.export(solution)
    made.save(tmp_path / "a.xlsx", units="us")
    book = pd.read_excel(tmp_path / "a.xlsx", sheet_name=None)
    warm, flow = made.to_frame("parts").temperature_degC, made.to_frame("branches").volume_flow_m3_s
    np.testing.assert_allclose(book["parts"]["temperature [degF]"], 1.8 * warm + 32, rtol=1e-12)
    np.testing.assert_allclose(book["branches"]["volume flow [CFM]"], 60 * flow / 0.3048**3)
    ours, theirs = made.to_frame("margins"), book["margins"]
    told = {("degC", "degF"), ("dBA", "dBA"), ("h", "h"), ("m3/s", "CFM")}
    assert set(zip(ours.unit, theirs["unit"], strict=True)) <= told
    hot = ours.unit == "degC"
    np.testing.assert_allclose(theirs.value[hot], 1.8 * ours.value[hot] + 32)
    np.testing.assert_allclose(theirs.margin[hot], 1.8 * ours.margin[hot])


def test_no_cell_runs(solution, tmp_path):
    flownet.export(solution, "cfd").save(tmp_path / "a.xlsx")
    book = openpyxl.load_workbook(tmp_path / "a.xlsx")
    cells = [cell for page in book for row in page.iter_rows() for cell in row]
    hostile = [cell for cell in cells if cell.value == "=1+1"]
    assert len(hostile) == 1
    assert not [cell for cell in cells if cell.data_type == "f"]
    assert all(cell.quotePrefix and cell.data_type == "s" for cell in hostile)
    assert {page.freeze_panes for page in book} == {"A2"}
    flow = book["boundaries"]["H2"]
    assert (flow.data_type, book["boundaries"]["H1"].value) == ("n", "volume flow [m3/h]")
    widths = [page.column_dimensions["A"].width for page in book]
    assert all(10 <= width <= 62 for width in widths)


# --- network -------------------------------------------------------------------------------------

STRING = r'"((?:[^"\\]|\\.)*)"'


def parsed(text):
    """DOT as it is written here: nodes and edges with their attributes, escapes taken back."""
    statement = re.compile(rf"^  {STRING}(?: -> {STRING})? \[(.*)\];$")
    nodes, edges = {}, []
    for line in text.splitlines():
        if found := statement.match(line):
            pairs = re.findall(rf"(\w+)={STRING}", found[3])
            data = {key: re.sub(r"\\(.)", lambda m: "\n" if m[1] == "n" else m[1], value)
                    for key, value in pairs}  # fmt: skip
            if found[2] is None:
                nodes[found[1]] = data
            else:
                edges.append((found[1], found[2], data))
    return nodes, edges


def hostile_network(case):
    things = [
        flownet.Compartment(name="box", tag=HOSTILE), flownet.Outside(),
        flownet.Vent(name="low", from_="outside", to="box", area=8e-3, loss=2.5, note=HOSTILE),
        flownet.Opening(name="top", from_="box", to="outside", area=8e-3),
        flownet.Part(name="board", in_="box", power=100.0),
    ]  # fmt: skip
    return flownet.Enclosure.of(*things, title=HOSTILE)


def test_a_network_reads_back_with_the_same_numbers(solution, case, tmp_path):
    odd = hostile_network(case)
    for what in (solution, solution.case, odd):
        made = flownet.export(what, "network")
        made.save(tmp_path / "a.graphml")
        made.save(tmp_path / "a.dot")
        read = nx.read_graphml(tmp_path / "a.graphml", force_multigraph=True)
        graph = made.graph
        assert dict(read.nodes(data=True)) == dict(graph.nodes(data=True))
        keyed = {data["path"]: (a, b, data) for a, b, data in read.edges(data=True)}
        assert keyed == {key: (a, b, data) for a, b, key, data in graph.edges(keys=True, data=True)}
        nodes, edges = parsed((tmp_path / "a.dot").read_text(encoding="utf-8"))
        assert set(nodes) == set(graph)
        assert len(edges) == graph.number_of_edges()
        for start, end, data in edges:
            ours = keyed[data["path"]]
            assert (start, end) == ours[:2]
            for key, value in ours[2].items():
                assert type(value)(data[key]) == value or "\n" in value
    assert keyed["vent.low"][2]["note"] == HOSTILE.replace("\x01", "\ufffd")
    assert nx.read_graphml(tmp_path / "a.graphml").graph["title"].startswith('a "quote" \\')


def test_flows_of_a_network_balance_at_each_compartment(solution):
    graph = flownet.export(solution, "network").graph
    net = sum(data.get("mass_flow_kg_s", 0) * (1 if end == "box" else -1)
              for _, end, data in graph.edges(data=True))  # fmt: skip
    assert net == pytest.approx(0, abs=1e-10)
    assert "heat_W" in graph.get_edge_data("box", "outside")["wall.side"]


# --- schedule, refusals --------------------------------------------------------------------------


def test_a_schedule_has_one_row_for_fans_that_are_alike(case):
    shelf = flownet.solve(flownet.load_case(DEMOS / "drive-cabinet"))
    (row,) = records(fan_schedule([shelf]))  # two of four places are blanked
    assert (row["fan"], row["count"], row["blows"]) == ("left, right", 2, "upper > outside")
    assert (row["size_m"], row["direction"], row["alarm"]) == (0.119, "up", "locked rotor")
    both = shelf.volume_flow("fan.left") + shelf.volume_flow("fan.right")
    assert row["count"] * row["flow_m3_s"] == pytest.approx(both, rel=1e-9)
    turned = flownet.solve(shelf.case, changes={"fan.right.mounted": "reversed"})
    ways = {row["fan"]: (row["count"], row["direction"], row["blows"])
            for row in records(fan_schedule([turned]))}  # fmt: skip
    assert ways == {"left": (1, "up", "upper > outside"), "right": (1, "down", "outside > upper")}


def test_what_cannot_be_exported_is_refused(solution, case):
    for words in ((solution, "mesh"), ([solution, solution], "network")):
        with pytest.raises(CaseError):
            flownet.export(*words)
    for words in ((case, "cfd"), ([], "results"), ("case.toml", "network")):
        with pytest.raises(TypeError, match="takes a Solution"):
            flownet.export(*words)
    with pytest.raises(CaseError, match=r"is written as .*\.dot"):
        flownet.export(case, "network").save("a.svg")
    with pytest.raises(CaseError, match="no table"):
        flownet.export(solution).to_frame("rooms")
