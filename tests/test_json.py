"""The JSON of a solution: strict, complete, units in its keys, and its changes read back."""

from __future__ import annotations

import json
import math

import numpy as np
import pytest

import flownet
from flownet.enclosure.fans import Clearance
from flownet.schema import quantities as q
from flownet.schema.quantities import QUANTITIES
from tests.every_kind import LINE, everything

CASE = everything()

# section by section as docs/case-format.md has them
TOP = """flownet format case variant scenario changes changed_to input_digest site totals
    compartments branches fans parts limits void findings walls exchanges balance
    operating_points"""
SITE = "pressure_Pa temperature_degC density_kg_m3 dew_point_degC"
TOTALS = """heat_W wall_heat_W volume_flow_m3_s mass_flow_kg_s air_rise_K fan_power_W noise_dBA
    noise_distance_m first_failure_hours worst_margin_K dew_margin_K worst_subject"""
BALANCE = """mass_residual pressure_residual energy_residual temperature_step_K flow_step
    iterations"""
ROWS = {
    "compartments": """temperature_degC pressure_Pa limit_degC margin_K level_m
        mean_temperature_degC neutral_level_m layers age_s returned_share shares""",
    "branches": """from to state on mass_flow_kg_s volume_flow_m3_s velocity_m_s drop_Pa heat_W
        density_kg_m3 reynolds outlet_temperature_degC counter_flow_kg_s""",
    "fans": """rise_Pa region speed_ratio air_temperature_degC power_W noise_dBA noise_share
        noise_power_dBA blade_pass_Hz life_hours life_kind speed_by
        speed_by_temperature_degC returned_share""",
    "parts": """in heat_W air_temperature_degC temperature_degC limit_degC margin_K
        resistance_K_W volume_flow_m3_s stations""",
    "walls": """heat_W inside_temperature_degC outside_temperature_degC absorbed_sun_W limit_degC
        margin_K""",
    "exchanges": "heat_W",
}
LIMIT = "limit subject value bound margin unit holds"
FINDING = "severity rule subject message try"


def document(solved):
    """Through strict JSON, as a program that reads it has it."""
    return json.loads(json.dumps(solved.to_dict(), allow_nan=False))


PLAIN = flownet.solve(CASE)
ONE = flownet.solve(CASE, scenario="hot+dirty", variant="slow", changes={"fan.left.speed": 0.9})
FOUND = document(ONE)


def test_every_table_has_exactly_its_keys():
    assert list(FOUND) == TOP.split()
    assert list(FOUND["site"]) == SITE.split()
    assert list(FOUND["totals"]) == TOTALS.split()
    assert list(FOUND["balance"]) == BALANCE.split()
    assert list(FOUND["operating_points"]) == ["count", "stable"]
    for table, keys in ROWS.items():
        assert FOUND[table], table
        for name, row in FOUND[table].items():
            assert list(row) == keys.split(), name
    for part in FOUND["parts"].values():
        for station in part["stations"].values():
            assert list(station) == ["temperature_degC"]
    for table, keys in (("limits", LIMIT), ("findings", FINDING)):
        assert FOUND[table], table
        for row in FOUND[table]:
            assert list(row) == keys.split()


def test_every_thing_has_its_row():
    assert list(FOUND["compartments"]) == list(CASE.compartments)
    assert set(FOUND["branches"]) == set(CASE.branches)
    assert list(FOUND["fans"]) == [f"fan.{name}" for name in CASE.fans]
    assert list(FOUND["parts"]) == list(CASE.parts)
    assert list(FOUND["walls"]) == list(CASE.walls)
    assert list(FOUND["exchanges"]) == ["middle"]
    assert list(FOUND["parts"]["chip"]["stations"]) == ["junction", "case"]
    assert FOUND["parts"]["drive"]["stations"] == {}


def test_links_and_words():
    guard, mat = FOUND["branches"]["vent.guard"], FOUND["branches"]["filter.mat"]
    assert (guard["from"], guard["to"], guard["on"]) == ("high", "outside", "fan.left")
    assert (mat["from"], mat["to"], mat["on"], mat["state"]) == ("outside", "low", None, "fitted")
    assert FOUND["branches"]["baffle.shelf"]["state"] == "fitted"
    assert FOUND["parts"]["chip"]["in"] == "part.sink"
    assert FOUND["fans"]["fan.spare"]["region"] == "blanked"
    assert FOUND["fans"]["fan.left"]["life_kind"] == "L10"


def test_the_values_are_those_of_the_solution_in_their_units():
    one = ONE
    suffixes = {quantity.json.unit: quantity for quantity in QUANTITIES.values()}
    for table in ("compartments", "branches", "fans", "parts", "walls", "exchanges"):
        for name, row in FOUND[table].items():
            for field in getattr(one, table).fields:
                if field.key in row and field.quantity is not None:
                    value = getattr(getattr(one, table)[name], field.name)
                    shown = value * field.quantity.json.factor + field.quantity.json.offset
                    wanted = None if math.isnan(value) else pytest.approx(shown)
                    assert row[field.key] == wanted, (name, field.key)
                    suffix = field.key.removeprefix(field.name).lstrip("_")
                    assert suffixes[suffix].json.unit == field.quantity.json.unit
    assert FOUND["site"]["temperature_degC"] == pytest.approx(50.0)
    assert FOUND["totals"]["worst_subject"] == one.worst.subject
    assert FOUND["totals"]["worst_margin_K"] == pytest.approx(one.worst.margin)
    assert FOUND["balance"]["iterations"] >= 1
    assert type(FOUND["balance"]["iterations"]) is int
    assert FOUND["operating_points"] == {"count": None, "stable": True}


def test_what_does_not_exist_is_null():
    assert FOUND["branches"]["leak.seal"]["velocity_m_s"] is None
    assert FOUND["branches"]["leak.seal"]["reynolds"] is None
    assert FOUND["branches"]["fan.spare"]["outlet_temperature_degC"] is None
    assert FOUND["fans"]["fan.spare"]["noise_dBA"] is None
    assert FOUND["fans"]["fan.spare"]["life_hours"] is None
    assert FOUND["parts"]["sink"]["limit_degC"] is None
    assert FOUND["parts"]["sink"]["margin_K"] is None
    panel = flownet.Wall(name="panel", from_="box", to="outside", area=1.0, u_value=5.0)
    bare = flownet.Enclosure.of(flownet.Compartment(name="box"), panel, title="bare")
    found = document(flownet.solve(bare))
    assert found["totals"]["noise_dBA"] is None
    assert found["totals"]["air_rise_K"] is None
    assert found["totals"]["worst_margin_K"] is None
    assert found["totals"]["worst_subject"] is None
    assert (found["branches"], found["fans"], found["parts"], found["limits"]) == ({}, {}, {}, [])


def test_nothing_chosen_is_null():
    plain = document(PLAIN)
    assert (plain["variant"], plain["scenario"], plain["changes"]) == (None, None, {})
    assert (FOUND["variant"], FOUND["scenario"]) == ("slow", "hot+dirty")
    assert plain["case"] == CASE.title
    assert (plain["flownet"], plain["format"]) == (flownet.__version__, 1)


def test_limits_are_told_with_their_unit():
    units = {row["subject"]: row["unit"] for row in FOUND["limits"]}
    assert units == {
        "part.drive": "degC", "part.chip": "degC", "compartment.low": "degC",
        "compartment.high": "degC", "total.noise": "dBA", "fan.left": "h", "fan.right": "h",
    }  # fmt: skip
    for row in FOUND["limits"]:
        assert type(row["holds"]) is bool
        assert row["holds"] == (row["margin"] >= 0)
        above = row["limit"] != "life"
        assert row["margin"] == pytest.approx(
            row["bound"] - row["value"] if above else row["value"] - row["bound"]
        )


def test_findings_are_words():
    for row in FOUND["findings"]:
        assert row["severity"] in ("error", "warning", "note")
        assert "{" not in row["message"] + row["try"]


# --- changes -------------------------------------------------------------------------------------


def test_changes_are_in_the_order_they_were_applied_and_carry_units():
    assert list(FOUND["changes"].items()) == [
        ("fan.*.speed", 0.7), ("outside.temperature", "50 degC"), ("filter.*.fouling", 2.0),
        ("fan.left.speed", 0.9),
    ]  # fmt: skip


CHANGES = {
    "outside.temperature": 318.15, "fan.left.speed": "1400 rpm", "fan.right.state": "stopped",
    "filter.mat.velocity_drop": [(0.5, 20.0), (1.0, 44.0)], "vent.roof.open_ratio": 0.45,
    "fan.left.guard": {"loss": 0.9}, "fan.right.clearance": Clearance(inlet=0.015),
    "leak.seal.flow_at": ("3 m3/h", 10.0), "filter.mat.at": np.array([0.1, 0.2]),
    "baffle.shelf.present": False, "slot.a.type": "wide", "part.chip.chain.": None,
    "compartment.low.outline.3": 1 / 3, "fan_type.axial.rating.sixty.power": 25.0,
    "part.chip.chain": [["junction", 0.41], ["case", 0.26]], "slot.b.count": 3,
}  # fmt: skip
del CHANGES["part.chip.chain."]


def test_changes_are_read_back_by_a_case_file(tmp_path):
    """As a scenario of the saved case: the same inputs, the same results."""
    solved = flownet.solve(CASE, changes=CHANGES)
    told = json.loads(json.dumps(solved.to_dict()["changes"], allow_nan=False))
    assert list(told) == list(CHANGES)
    flownet.save_case(everything(scenarios={}, variants={}), tmp_path / "case.toml")
    lines = [f"{json.dumps(path)} = {_toml(value)}" for path, value in told.items()]
    with (tmp_path / "case.toml").open("a") as file:
        file.write("\n[scenario.told]\n" + "\n".join(lines) + "\n")
    again = flownet.solve(flownet.load_case(tmp_path), scenario="told")
    assert again.to_dict()["input_digest"] == solved.to_dict()["input_digest"]
    assert again.parts.to_dict() == solved.parts.to_dict()


def _toml(value):
    if isinstance(value, dict):
        inner = ", ".join(f"{key} = {_toml(item)}" for key, item in value.items())
        return f"{{ {inner} }}"
    if isinstance(value, list):
        return f"[{', '.join(map(_toml, value))}]"
    return json.dumps(value)


def test_changes_of_a_variant_of_a_batch_are_those_alone():
    """Numbers of arrays are plain numbers; each tells its own."""
    batch = flownet.solve_many(CASE, {
        "fan.left.speed": np.array([0.5, 1.0]), "slot.a.type": np.array(["line", "wide"]),
        "outside.temperature": ["45 degC", 300.0], "fan.left.supply": ["mains", None],
        "slot.b.count": [2, 3], "baffle.shelf.present": np.array([True, False]),
    })  # fmt: skip
    for k in range(2):
        json.dumps(batch.select(k).to_dict(), allow_nan=False)
    assert batch.select(1).to_dict()["changes"] == {
        "fan.left.speed": 1.0, "slot.a.type": "wide", "outside.temperature": "26.85 degC",
        "fan.left.supply": None, "slot.b.count": 3, "baffle.shelf.present": False,
    }  # fmt: skip


def test_the_digest_is_that_of_the_inputs_after_changes():
    assert document(PLAIN)["input_digest"] == CASE.digest
    same = {"fan.*.speed": 0.7, "outside.temperature": "50 degC", "filter.*.fouling": 2.0}
    changed = CASE.with_changes(same | {"fan.left.speed": 0.9})
    assert FOUND["input_digest"] == changed.digest != CASE.digest
    renamed = everything(scenarios={"warm": same}).under("warm")
    assert renamed.with_changes({"fan.left.speed": 0.9}).digest == changed.digest
    catalogue = everything(types={"slot_type": {"line": LINE}})
    assert catalogue.digest == CASE.digest  # a type that nothing is of is no input


# --- files ---------------------------------------------------------------------------------------


def test_every_json_suffix_is_of_one_unit():
    """So that a program can tell the unit from the key."""
    by_unit = {}
    for quantity in QUANTITIES.values():
        by_unit.setdefault(quantity.json.unit, set()).add(
            (quantity.json.factor, quantity.json.offset)
        )
    assert all(len(ways) == 1 for ways in by_unit.values())
    assert q.TEMPERATURE.key("limit") == "limit_degC"
    assert q.RATIO.key("reynolds") == "reynolds"
