"""The demo cases: each loads, and each keeps the solver's promise wherever its limits must hold."""

from __future__ import annotations

import json
import re
import tomllib
from functools import cache
from pathlib import Path
from typing import Any

import pytest

import flownet
from flownet.enclosure.heat import BRANCHES
from flownet.enclosure.scenarios import expand
from flownet.studies.runs import Outcomes, Run, evaluate
from tests.test_json import TOP

CASES = Path(__file__).parents[1] / "cases"
DEMOS = tuple(sorted(path.parent.name for path in CASES.glob("*/case.toml")))
KINDS = {*BRANCHES, "wall", "exchange", "recirculation", "part", "supply"}


@cache
def load(name: str) -> flownet.Enclosure:
    return flownet.load_case(CASES / name)


def required(case: flownet.Enclosure) -> list[str]:
    """Every single scenario in which the limits of a case must hold."""
    return [one for named in case.limits.scenarios for one in expand(case, named)]


def solved() -> list[tuple[str, str, str]]:
    """(demo, scenario, variant): all required scenarios, each scenario and variant by itself."""
    found = []
    for demo in DEMOS:
        case = load(demo)
        alone = dict.fromkeys(["base", *case.scenarios, *required(case)])
        found += [(demo, scenario, "base") for scenario in alone]
        found += [(demo, "base", variant) for variant in case.variants]
    return found


@cache
def together(demo: str) -> Outcomes:
    """All of a demo in one batch, which `test_one_answer.py` and `test_pairs.py` compare with
    single solves."""
    return evaluate(load(demo), [Run(*pair) for own, *pair in solved() if own == demo])


@cache
def solve(demo: str, scenario: str, variant: str) -> flownet.Solution:
    if scenario == variant == "base":
        return flownet.solve(load(demo))
    found = together(demo)
    return found.select(found.runs.index(Run(scenario, variant)))


def test_four_demos_use_every_kind():
    used = {kind for demo in DEMOS for kind, named in load(demo).things.items() if named}
    on = [b for demo in DEMOS for b in load(demo).branches.values() if getattr(b, "on", None)]
    assert len(DEMOS) == 4
    assert used >= KINDS
    assert on


@pytest.mark.parametrize("demo", DEMOS)
def test_demo_says_that_its_data_is_invented(demo):
    for file in ("case.toml", "fans.toml"):
        assert (CASES / demo / file).read_text().startswith("# Invented data")
    assert all(t.origin == "invented data" for t in load(demo).things["fan_type"].values())
    assert "nvented data" in (CASES / demo / "README.md").read_text()


@pytest.mark.parametrize("demo", DEMOS)
def test_readme_of_a_demo_names_what_the_case_has(demo):
    case, page = load(demo), (CASES / demo / "README.md").read_text()
    named = re.findall(r"(-[sv]) ([\w.+-]+)", page)
    assert len(named) >= 4
    for option, name in named:
        case.under(**{"scenario" if option == "-s" else "variant": name})


@pytest.mark.parametrize(("demo", "scenario", "variant"), solved())
def test_solution_keeps_its_promise(demo, scenario, variant):
    """Mass and pressure to 1e-9, energy to 1e-6, the last step still: what the theory promises."""
    found = solve(demo, scenario, variant).balance
    assert found.mass_residual <= 1e-9
    assert found.pressure_residual <= 1e-9
    assert found.energy_residual <= 1e-6
    assert found.temperature_step <= 1e-6
    assert found.flow_step <= 1e-8


@pytest.mark.parametrize(("demo", "scenario", "variant"), solved())
def test_its_json_is_strict(demo, scenario, variant):
    found = json.dumps(solve(demo, scenario, variant).to_dict(), allow_nan=False)
    assert list(json.loads(found)) == TOP.split()


@pytest.mark.parametrize(("demo", "scenario", "variant"), solved())
def test_air_carries_what_walls_do_not(demo, scenario, variant):
    """First law: heat of sources = heat by air + heat through walls, that of the sun counted."""
    found = solve(demo, scenario, variant)
    by_air = 0.0
    for path, item in found.case.branches.items():
        if getattr(item, "on", None) is None:
            by_air += enthalpy_out(found, path, item)
    into_walls = sum(
        row.heat for name, row in found.walls.items() if is_outside(found.case.walls[name].to)
    )
    exchanged = sum(
        row.heat * (is_outside(pair[1]) - is_outside(pair[0]))
        for name, row in found.exchanges.items()
        for pair in [found.case.things["exchange"][name].between]
    )
    source = found.totals.heat
    assert by_air + into_walls + exchanged == pytest.approx(source, abs=1e-5 * max(source, 1.0))


def is_outside(place: str) -> bool:
    return place.partition(".")[0] == "outside"


def enthalpy_out(found: flownet.Solution, path: str, item: Any) -> float:
    """Heat above the outside temperature that a branch carries out [W], cp 1006 J/(kg K)."""
    row, outside = found.branches[path], found.case.outside.temperature
    if row.mass_flow == 0:
        return 0.0
    leaves = item.to if row.mass_flow > 0 else item.from_
    enters = item.from_ if row.mass_flow > 0 else item.to
    carried = 0.0
    if is_outside(leaves):
        carried = abs(row.mass_flow) * 1006.0 * (row.outlet_temperature - outside)
    if is_outside(enters) and found.case.things["recirculation"]:
        inlet = row.outlet_temperature - row.heat / (1006.0 * max(abs(row.mass_flow), 1e-12))
        carried -= abs(row.mass_flow) * 1006.0 * (inlet - outside)
    return carried


@pytest.mark.parametrize("demo", DEMOS)
def test_base_is_a_sound_design(demo):
    """A demo is believable: limits hold, no fan stalls or is driven back, the air rise is usual."""
    found = solve(demo, "base", "base")
    assert all(limit.holds for limit in found.limits)
    assert found.stable
    assert 4.0 < found.totals.air_rise < 16.0  # K; common practice, no source
    regions = {row.region for row in found.fans.values()}
    assert regions <= {"normal", "blanked"}
    assert not [f for f in found.findings if f.severity == "error"]


@pytest.mark.parametrize("demo", DEMOS)
def test_some_required_scenario_is_instructive(demo):
    """Each demo has something to find: a required scenario or a variant that breaks a limit."""
    case = load(demo)
    found = [solve(demo, scenario, "base") for scenario in required(case)]
    assert any(not limit.holds for one in found for limit in one.limits)


@pytest.mark.parametrize("demo", DEMOS)
def test_regression_guard(demo):
    """`expected.toml` is our own earlier output: it tells of change, it proves nothing right."""
    guard = tomllib.loads((CASES / demo / "expected.toml").read_text())
    assert guard["solution"], "nothing is guarded"
    for entry in guard["solution"]:
        found = solve(demo, entry["scenario"], entry["variant"])
        for path, value in entry["values"].items():
            tolerance = guard["tolerance"][path.rpartition(".")[2]]
            assert found[path] == pytest.approx(value, abs=tolerance), (entry["scenario"], path)
