"""The network picture: every place and every branch is there, and nothing lies over anything."""

from __future__ import annotations

import math
import re
from itertools import combinations

import matplotlib as mpl
import pytest
from matplotlib import pyplot
from matplotlib.figure import Figure

from flownet import draw
from flownet.pictures.caption import Units
from flownet.pictures.network import network_scene, plan, put
from flownet.pictures.network_grid import OUTSIDE, cells, links
from flownet.pictures.scene.scene import Drawing, Layer, Letters, Shape, bounds
from tests.each import each, named
from tests.pictures import sample
from tests.pictures.legible import faults
from tests.pictures.picture_checks import clashes, shapes, texts
from tests.pictures.random_sample import random_solution
from tests.pictures.sample import SAMPLES

mpl.use("Agg")


def planned(of):
    """Boxes, frame and lines; a word in each box."""
    places = cells(getattr(of, "case", of))
    said = {name: [Letters(0, 0, name)] for name in places}
    return plan(places, list(links(of, Units("metric"))), said)


@each(named(range(16)))
def test_nothing_overlaps_in_random_networks(seed):
    """Words, boxes, flags and marks keep clear of one another, and of lines but their own."""
    solution = random_solution(seed)
    assert clashes(network_scene(solution)) == []
    assert clashes(network_scene(solution.case)) == []
    boxes, inner, lines = planned(solution.case)
    assert not any(a.meets(b) for a, b in combinations(boxes.values(), 2))
    for lane, start, end in lines:
        own = Drawing()
        put(own, lane, start, end)
        flags = [item for item in own.layers[Layer.PLATE] if isinstance(item, Shape)]
        things = [*(shape.rect for shape in flags), *(w.rect for w in own.layers[Layer.LETTER])]
        assert all(inner.holds(rect) for rect in things)
        assert not any(rect.meets(box) for rect in things for box in boxes.values())
        run = bounds([start, end]).grown(0.01)
        assert not any(run.meets(box.grown(-0.1)) for box in boxes.values())
        for other, begin, stop in lines:
            across = bounds([begin, stop]).grown(0.5)
            assert other is lane or not any(rect.meets(across) for rect in things)


@pytest.mark.parametrize("name", SAMPLES)
def test_all_can_be_read_and_lines_are_the_edges_of_the_graph(name):
    """Against the graph of networkx: as many lines, copies counted, between the same places."""
    solution = SAMPLES[name]()
    case = solution.case
    for thing in (solution, case):
        figure = draw.network(thing).figure
        assert faults(figure, math.inf) == []
        pyplot.close(figure)
    boxes, inner, lines = planned(case)
    drawn: dict[frozenset[str], float] = {}
    for lane, start, end in lines:
        places = frozenset((lane.low, lane.flag or lane.high))
        copies = re.search(r"\((\d+)\)\Z", lane.link.name)
        shares = 2 if lane.flag and OUTSIDE not in places else 1  # a flag at both ends
        drawn[places] = drawn.get(places, 0) + (int(copies.group(1)) if copies else 1) / shares
        for place, point in ((lane.low, start), (lane.high, end)):
            edge = boxes.get(place, inner)
            if place == lane.low or not lane.flag:
                assert edge.grown(0.01).distance(point) == 0
                assert edge.grown(-0.01).distance(point) > 0
    wanted: dict[frozenset[str], int] = {}
    for a, b in case.graph.edges():
        wanted[frozenset((a, b))] = wanted.get(frozenset((a, b)), 0) + 1
    assert drawn == wanted
    assert set(boxes) | {OUTSIDE} == set(case.graph.nodes)


def test_boxes_keep_the_order_of_the_outlines():
    boxes, *_ = planned(sample.cabinet_case())
    assert boxes["upper"].y0 > boxes["lower"].y1
    assert boxes["upper"].centre[0] == pytest.approx(boxes["lower"].centre[0])
    found = cells(sample.plan().case)
    columns = [found[name].column for name in ("drive-a", "drive-b", "drive-c", "control")]
    assert columns == sorted(set(columns))
    assert found["shaft"].row > found["control"].row


@pytest.mark.parametrize("name", ["cabinet-hot", "cabinet-odd", "outdoor", "plan", "half-placed"])
def test_arrows_end_where_the_air_goes(name):
    """Filled with a solution, open at `to` without; none where nothing moves, or both ways."""
    solution, turned = SAMPLES[name](), 0
    for solved, of in ((True, solution), (False, solution.case)):
        for lane, start, end in planned(of)[2]:
            drawing, link = Drawing(), lane.link
            put(drawing, lane, start, end)
            arrows = drawing.layers[Layer.ARROW]
            tips = [shape.points[1] for shape in arrows]
            assert all(shape.closed == solved for shape in arrows)
            still = not link.flow if solved else link.kind == "wall"
            if link.kind == "exchange" or still:
                assert tips == []
                continue
            goal = link.to if not solved or link.flow > 0 else link.from_
            goes = end if goal in (lane.high, lane.flag) and goal != lane.low else start
            assert sum(abs(a - b) for a, b in zip(tips[0], goes, strict=True)) < 3
            turned += goal == link.from_
    assert turned or name not in ("cabinet-hot", "cabinet-odd")


def test_what_is_unusual_is_told():
    assert "38 m³/h back" in texts(network_scene(sample.cabinet_hot()))
    assert "fan.door + filter.door-mat" in texts(network_scene(sample.lying().case))
    drawing = network_scene(sample.outdoor().case)
    assert sum(s.dash == (4.0, 2.5) for s in shapes(drawing)) == 2
    assert {"wall.battery", "wall.partition", "roof"} <= set(texts(drawing))
    assert texts(drawing).count("duct.riser") == 2  # past two others: at both of its ends
    assert "A small box" in " ".join(texts(drawing))


def test_the_network_is_drawn_on_given_axes_for_a_case_and_a_solution():
    for thing in (sample.cabinet(), sample.cabinet().case):
        ax = Figure(figsize=(5, 5)).add_subplot()
        assert draw.network(thing, ax=ax) is ax
    with pytest.raises(TypeError, match="takes a Solution"):
        draw.network("case.toml")  # type: ignore[arg-type]
