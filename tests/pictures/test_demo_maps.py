"""The maps and network pictures of all demos, in all their scenarios and variants."""

from __future__ import annotations

import math
from functools import cache

import pytest
from matplotlib import pyplot

from flownet import draw
from flownet.pictures.map.map import map_scene
from flownet.pictures.scene.page import temperature_range
from flownet.studies.runs import Run, evaluate
from tests.all_scenarios import asked_for, pairs
from tests.pictures.legible import faults
from tests.pictures.picture_checks import clashes, crossed
from tests.test_cases import DEMOS, load


@cache
def wanted(demo):
    """(scenario, variant) that the case asks for; of those that are neither alone every seventh."""
    case = load(demo)
    return [
        Run(scenario, variant)
        for count, (scenario, variant) in enumerate(pairs(case))
        if asked_for(case, scenario) and ("base" in (scenario, variant) or count % 7 == 0)
    ]


@cache
def solved(demo):
    """All of them in one batch."""
    found = evaluate(load(demo), wanted(demo))
    return {setup[:2]: found.select(k) for k, setup in enumerate(wanted(demo))}


@pytest.mark.parametrize("demo", DEMOS)
def test_no_words_clash_and_no_leaders_cross_on_any_map(demo):
    """By the scene's own measure, which is that of the typeface (`test_map.py`)."""
    scale = temperature_range(load(demo))
    for place, solution in solved(demo).items():
        scene = map_scene(solution, temperatures=scale)
        assert clashes(scene) == [], place
        assert crossed(scene) == 0, place


@pytest.mark.parametrize("demo", DEMOS)
def test_nothing_overlaps_and_nothing_leaves_the_page_as_painted(demo):
    """Variants have marks of their own; of the scenarios the first and the last."""
    found = solved(demo)
    plain = [place for place in found if place[1] == "base"]
    for place in {*(p for p in found if p[0] == "base"), plain[0], plain[-1]}:
        ax = draw.map(found[place], temperatures=temperature_range(load(demo)))
        assert faults(ax.figure, math.inf) == [], place
        pyplot.close(ax.figure)


@pytest.mark.parametrize("demo", DEMOS)
def test_the_network_picture_of_a_demo_is_legible(demo):
    assert faults(draw.network(solved(demo)["base", "base"]).figure, math.inf) == []
