"""Many variants in one batch: the same as one by one, whatever is changed and whoever solves."""

from __future__ import annotations

import json
from concurrent.futures import ProcessPoolExecutor, ThreadPoolExecutor

import numpy as np
import pytest

import flownet
from flownet.schema.errors import CaseError, NoSolution
from flownet.solver import tolerances
from tests.test_python_face import CASE

MIXED = {
    "fan.left.state": ["running", "stopped", "blanked", "running", "running", "running"],
    "fan.left.mounted": ["forward"] * 4 + ["reversed", "forward"],
    "slot.a.type": ["line", "wide", "line", "wide", "line", "wide"],
    "slot.b.state": ["fitted", "fitted", "blanked", "fitted", "fitted", "fitted"],
    "fan.right.speed": [1.0, 0.9, 0.8, 1.0, 0.4, 0.0],
    "filter.mat.fouling": np.linspace(1.0, 2.5, 6),
    "outside.altitude": [0.0, 500.0, 900.0, 1500.0, 2000.0, 3000.0],
    "supply.mains.frequency": [50.0, 60.0, 50.0, 60.0, 50.0, 60.0],
    "part.drive.power": "200 W",
}
PATHS = ("part.drive.temperature", "fan.left.volume_flow", "fan.right.rise", "fan.right.power",
         "slot.a.mass_flow", "total.heat", "compartment.low.pressure")  # fmt: skip


def picked(changes, variant):
    return {p: v if isinstance(v, str) else v[variant] for p, v in changes.items()}


def test_discrete_changes_ride_in_one_batch():
    """State, type, mounting, supply and numbers mixed: equal to one enclosure a variant."""
    batch = flownet.solve_many(CASE, MIXED)
    assert batch.ok.all()
    for variant in range(6):
        one = flownet.solve(CASE.with_changes(picked(MIXED, variant)))
        for path in PATHS:
            assert batch[path][variant] == pytest.approx(one[path], rel=1e-7, abs=1e-9), path


def test_a_supply_chooses_the_rating_variant_by_variant():
    batch = flownet.solve_many(CASE, {"supply.mains.frequency": [50.0, 60.0]})
    power = batch["fan.left.power"] / batch.branches["fan.left"].density
    assert power[1] / power[0] == pytest.approx(23.0 / 19.0, rel=2e-3)  # each at its own air


def test_a_changed_table_is_one_of_the_batch():
    weak = ((0.0, 40.0), (0.02, 25.0), (0.04, 0.0))
    old = CASE["fan_type.axial.curve"]
    tables = np.empty(3, object)
    tables[:] = [old, weak, old]
    batch = flownet.solve_many(CASE, {"fan_type.axial.curve": tables})
    one = flownet.solve(CASE.with_changes({"fan_type.axial.curve": weak}))
    assert batch["total.volume_flow"][1] == pytest.approx(one["total.volume_flow"], rel=1e-9)
    assert batch["total.volume_flow"][0] == batch["total.volume_flow"][2]


def test_one_variant_is_what_solve_does():
    batch = flownet.solve_many(CASE, {"fan.left.speed": 0.8})
    one = flownet.solve(CASE, changes={"fan.left.speed": 0.8})
    assert len(batch) == 1
    assert batch.select(0).parts.to_dict() == one.parts.to_dict()


def test_arrays_of_different_length_are_named_with_their_lengths():
    with pytest.raises(CaseError, match=r"fan\.left\.speed: 2, filter\.mat\.fouling: 3"):
        flownet.solve_many(CASE, {"fan.left.speed": [1, 0.9], "filter.mat.fouling": [1, 2, 3]})


def test_values_out_of_range_say_which():
    with pytest.raises(CaseError, match=r"fan\.left\.speed: must be from 0 to 2 \(got 9\)"):
        flownet.solve_many(CASE, {"fan.left.speed": [1.0, 9.0]})
    with pytest.raises(CaseError, match="shapes the network"):
        flownet.solve_many(CASE, {"opening.gap.to": ["low", "high"]})


def test_a_variant_that_fails_is_reported_in_its_place():
    """All ways out of the upper compartment closed: its heat has nowhere to go."""
    shut = {
        "fan.left.state": ["running", "blanked"], "fan.right.state": ["running", "blanked"],
        "vent.roof.state": ["open", "blanked"], "slot.b.state": ["fitted", "blanked"],
    }  # fmt: skip
    batch = flownet.solve_many(CASE, shut)
    assert batch.ok.tolist() == [True, False]
    assert "nowhere to go" in batch.status[1]
    assert np.isnan(batch["part.drive.temperature"][1])
    alone = flownet.solve(CASE)
    assert batch["part.drive.temperature"][0] == pytest.approx(alone["part.drive.temperature"])
    with pytest.raises(NoSolution, match="nowhere to go"):
        batch.select(1)


def test_a_box_with_walls_alone_varies_and_may_be_too_hot():
    """Closed form: the rise is the power over the wall's conductance; above 500 K it is refused."""
    box = flownet.Enclosure.of(
        flownet.Outside(temperature="25 degC"), flownet.Compartment(name="box"),
        flownet.Wall(name="sheet", from_="box", to="outside", area=0.5, u_value=4.0),
        flownet.Part(name="load", in_="box", power=100.0),
    )  # fmt: skip
    power = np.array([100.0, 3000.0, 50.0, 5000.0])
    batch = flownet.solve_many(box, {"part.load.power": power})
    assert batch.ok.tolist() == [True, False, True, False]
    rise = batch["compartment.box.temperature"] - 298.15
    assert rise[batch.ok] == pytest.approx(power[batch.ok] / 2.0, rel=1e-9)
    assert "nowhere to go" in batch.status[1]


SPEEDS = {"fan.left.speed": np.linspace(0.5, 1.0, 40), "filter.mat.fouling": np.linspace(1, 3, 40)}


@pytest.mark.parametrize("pool", [ThreadPoolExecutor, ProcessPoolExecutor])
def test_every_executor_returns_the_same_bits(pool, monkeypatch):
    import sys  # noqa: PLC0415

    monkeypatch.setattr(sys.modules["flownet.solving.solve"], "BLOCK", 16)
    expected = flownet.solve_many(CASE, SPEEDS)
    seen = []
    with pool(2) as executor:
        found = flownet.solve_many(
            CASE, SPEEDS, executor=executor, progress=lambda *counts: seen.append(counts)
        )
    for path in PATHS:
        assert np.array_equal(found[path], expected[path])
    assert seen == [(16, 40), (32, 40), (40, 40)]


def test_the_long_way_finds_the_same_states(monkeypatch):
    """With no quick passes, every variant goes through Newton on flow and heat together."""
    quick = flownet.solve_many(CASE, SPEEDS)
    monkeypatch.setattr(tolerances, "PASSES", 0)
    slow = flownet.solve_many(CASE, SPEEDS)
    for path in PATHS:
        assert slow[path] == pytest.approx(quick[path], rel=1e-6, abs=1e-8), path
    monkeypatch.setattr(tolerances, "DIRECT_ROUNDS", 0)
    marched = flownet.solve_many(CASE, {p: v[::13] for p, v in SPEEDS.items()})
    for path in PATHS:
        assert marched[path] == pytest.approx(quick[path][::13], rel=1e-6, abs=1e-8), path


# --- JSON ----------------------------------------------------------------------------------------

KEYS = {
    "": "flownet format case variant scenario changes changed_to input_digest site totals "
    "compartments branches fans parts limits void findings walls exchanges balance "
    "operating_points",
    "site": "pressure_Pa temperature_degC density_kg_m3",
    "totals": "heat_W wall_heat_W volume_flow_m3_s mass_flow_kg_s air_rise_K fan_power_W noise_dBA "
    "noise_distance_m first_failure_hours worst_margin_K worst_subject",
    "compartments": "temperature_degC pressure_Pa limit_degC margin_K level_m "
    "mean_temperature_degC layers",
    "branches": "from to state on mass_flow_kg_s volume_flow_m3_s velocity_m_s drop_Pa heat_W "
    "density_kg_m3 reynolds outlet_temperature_degC",
    "fans": "rise_Pa region speed_ratio air_temperature_degC power_W noise_dBA life_hours "
    "life_kind speed_by speed_by_temperature_degC "
    "noise_share noise_power_dBA blade_pass_Hz",
    "parts": "in heat_W air_temperature_degC temperature_degC limit_degC margin_K stations",
    "balance": "mass_residual pressure_residual energy_residual temperature_step_K flow_step "
    "iterations",
    "operating_points": "count stable",
}


def test_json_has_exactly_the_keys_of_the_format():
    text = json.dumps(flownet.solve(CASE, scenario="hot").to_dict(), allow_nan=False)
    found = json.loads(text)
    for table, keys in KEYS.items():
        rows = found[table] if table else found
        if table in ("compartments", "branches", "fans", "parts"):
            rows = next(iter(rows.values()))
        assert set(rows) == set(keys.split()), table
    assert found["changes"] == {"outside.temperature": "50 degC"}
    assert found["scenario"] == "hot"
    assert found["variant"] is None
    assert found["compartments"]["high"]["limit_degC"] is None
    assert {"limit", "subject", "value", "bound", "margin", "unit", "holds"} == set(
        found["limits"][0])  # fmt: skip


def test_json_is_strict_with_every_fan_out():
    quiet = flownet.solve(CASE, scenario="supply.mains-out").to_dict()
    text = json.dumps(quiet, allow_nan=False)
    assert json.loads(text)["totals"]["noise_dBA"] is None
