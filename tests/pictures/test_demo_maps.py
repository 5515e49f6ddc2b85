"""The maps and network pictures of all demos, in all their scenarios and variants."""

from __future__ import annotations

import math

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


@pytest.mark.parametrize("demo", DEMOS)
def test_nothing_overlaps_no_leaders_cross_and_nothing_leaves_the_page(demo):
    """What the case asks for; of pairs that are neither alone every 13th. By the measure of the
    drawing, which is that of the typeface (`test_map.py`); the first and the last as painted."""
    case = load(demo)
    wanted = [
        Run(scenario, variant)
        for count, (scenario, variant) in enumerate(pairs(case))
        if asked_for(case, scenario) and ("base" in (scenario, variant) or count % 13 == 0)
    ]
    found, scale = evaluate(case, wanted), temperature_range(case)
    for k, place in enumerate(wanted):
        drawing = map_scene(found.select(k), temperatures=scale)
        assert clashes(drawing) == [], place
        assert crossed(drawing) == 0, place
    for k in (0, len(wanted) - 1):
        assert faults(draw.map(found.select(k), temperatures=scale).figure, math.inf) == []
    assert faults(draw.network(found.select(0)).figure, math.inf) == []
    pyplot.close("all")
