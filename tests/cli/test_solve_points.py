"""`flownet solve --all-points`: every state on the page and in JSON."""

from __future__ import annotations

import json

import pytest

import flownet
from tests.cli import box

DIP = 'curve = { flow = "0 20 30 36 43 60 80 m3/h", rise = "60 40 34 35 37 28 0 Pa" }'
PLAIN = 'curve = { flow = "0 40 80 m3/h", rise = "40 25 0 Pa" }'


@pytest.fixture
def case(tmp_path):
    """The test box, its two equal fans with a dip behind a narrow vent."""
    assert PLAIN in box.CASE
    text = box.CASE.replace(PLAIN, DIP).replace('area = "80 cm2"', 'area = "45 cm2"')
    (tmp_path / "dip.toml").write_text(text)
    return "dip.toml"


def test_the_page_shows_every_point_that_python_finds(case):
    """Each fan's flow in each state, after the page of the state reached from rest."""
    result = box.run("solve", case, "--all-points")
    assert (result.exit_code, result.stderr) == (0, "")
    whole, _, below = result.stdout.partition("\nOperating points")
    found = flownet.operating_points(flownet.load_case(case))
    assert len(found) >= 3
    assert whole.rstrip() == box.run("solve", case).stdout.rstrip()
    first, *lines = below.splitlines()
    assert first == f"  {len(found)} found, {sum(p.stable for p in found)} stable"
    for point in found:
        for path in point.solution.fans:
            flow = f"{point.solution.volume_flow(path) * 3600:.1f} m3/h"
            assert any(path in line and flow in line for line in lines)
    up = sum(line.endswith(", on a rising piece") for line in lines)
    assert up == sum(len(p.rising) for p in found)
    assert any("reached from rest" in line for line in lines)
    assert max(map(len, result.stdout.splitlines())) <= 80


def test_json_lists_every_point_with_what_leads_to_it(case):
    content = json.loads(box.run("solve", case, "--all-points", "--json", "-").stdout)
    assert content["command"] == "solve"
    made = content["solutions"]
    assert [one["operating_point"]["reached_from_rest"] for one in made] == [
        True, *[False] * (len(made) - 1)
    ]  # fmt: skip
    for one in made:
        assert one["operating_points"]["count"] == len(made)
        assert one["operating_points"]["stable"] == one["operating_point"]["stable"]
        assert set(one["operating_point"]) == {
            "stable", "reached_from_rest", "after_restart", "by_loading", "rising", "searched"
        }  # fmt: skip


def test_a_single_state_is_a_list_of_one(case, tmp_path):
    plain = box.written(tmp_path)
    content = json.loads(box.run("solve", plain, "--all-points", "--json", "-").stdout)
    assert [one["operating_points"]["count"] for one in content["solutions"]] == [1]


def test_several_scenarios_have_their_points_each(case):
    result = box.run("solve", case, "--all-points", "-s", "base", "-s", "hot")
    assert result.stdout.count("\nOperating points  ") == 2


def test_a_solve_names_the_states_beside_it(case):
    """Two equal fans: the right one could have what the left one has."""
    result = box.run("solve", case)
    assert "other-operating-point" in result.stdout
    assert f"one of {len(flownet.operating_points(flownet.load_case(case)))} operating points" \
        in result.stdout  # fmt: skip
