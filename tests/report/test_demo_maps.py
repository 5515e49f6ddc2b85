"""The maps and network pictures of all demos, in all their scenarios and variants."""

from __future__ import annotations

from functools import cache

import pytest

import flownet
from flownet.report.figures import map as maps
from flownet.report.figures import network
from flownet.report.scene_map import map_scene
from flownet.report.scene_page import temperature_range
from tests.all_scenarios import asked_for, pairs
from tests.report.picture_checks import crossed, off_page, overlaps
from tests.test_cases import CASES, DEMOS, load


@cache
def wanted():
    """(demo, scenario, variant): every pair that the case asks for; the seldom ones by turns."""
    found = []
    for demo in DEMOS:
        case = load(demo)
        for count, (scenario, variant) in enumerate(pairs(case)):
            alone = variant == "base" or scenario == "base"
            if asked_for(case, scenario) and (alone or count % 7 == 0):
                found.append((demo, scenario, variant))
    return found


@pytest.mark.parametrize(("demo", "scenario", "variant"), wanted())
def test_nothing_overlaps_and_nothing_leaves_the_page(demo, scenario, variant):
    case = load(demo)
    found = flownet.solve(case, scenario=scenario, variant=variant)
    figure = maps.figure(found, temperatures=temperature_range(case))
    assert not overlaps(figure)
    assert not off_page(figure)
    assert crossed(map_scene(found)) == 0


@pytest.mark.parametrize("demo", DEMOS)
def test_the_network_picture_of_a_demo_is_legible(demo):
    figure = network.figure(flownet.solve(flownet.load_case(CASES / demo)))
    assert not overlaps(figure)
    assert not off_page(figure)
