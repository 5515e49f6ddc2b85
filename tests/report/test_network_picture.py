"""The network picture: every place and every branch is there, and no words overlap."""

from __future__ import annotations

import re
from itertools import pairwise

import matplotlib as mpl
import pytest
from matplotlib.figure import Figure

import flownet
from flownet import draw
from flownet.pictures.network import axes as network_figure
from flownet.pictures.network.grid import cells
from flownet.pictures.network.lines import put_lines
from flownet.pictures.network.net import Net
from flownet.pictures.network.network import network_scene
from flownet.pictures.network.routes import lines
from flownet.pictures.scene import look
from flownet.pictures.scene.scene import Drawing, Layer, Rect, Scene, Shape
from flownet.pictures.scene.words import Units
from tests.each import each, named
from tests.report import sample
from tests.report.picture_checks import clashes, foreign_fonts, misplaced
from tests.report.random_sample import random_solution
from tests.report.sample import SAMPLES

mpl.use("Agg")


def texts(scene: Scene) -> list[str]:
    return [words.text for words in scene.words]


@pytest.mark.parametrize("solved", [True, False])
@pytest.mark.parametrize("name", SAMPLES)
def test_no_text_overlaps_another_or_leaves_the_page(name, solved):
    solution = SAMPLES[name]()
    figure = network_figure.figure(solution if solved else solution.case)
    assert misplaced(figure) == ([], [])


def test_only_bundled_fonts_are_used():
    assert foreign_fonts(network_figure.figure(sample.cabinet())) == set()


@each(named(range(40)))
def test_nothing_overlaps_in_random_networks(seed):
    solution = random_solution(seed)
    assert clashes(network_scene(solution.case, solution)) == []
    assert clashes(network_scene(solution.case)) == []


@pytest.mark.parametrize("name", SAMPLES)
def test_lines_are_the_edges_of_the_graph(name):
    """Against the graph of networkx: as many lines, copies counted, between the same places."""
    case = SAMPLES[name]().case
    net = Net(case, None, Units("metric"))
    drawn = {}
    for one in lines(net):
        pair = frozenset((one.link.from_, one.link.to))
        copies = re.search(r"\((\d+)\)\Z", one.link.name)
        drawn[pair] = drawn.get(pair, 0) + (int(copies.group(1)) if copies else 1)
    wanted: dict[frozenset[str], int] = {}
    for a, b in case.graph.edges():
        wanted[frozenset((a, b))] = wanted.get(frozenset((a, b)), 0) + 1
    assert drawn == wanted
    assert set(net.boxes) | {"outside"} == set(case.graph.nodes)


@each(named(range(25)))
def test_lines_end_at_their_boxes_and_cross_no_other(seed):
    net = Net(random_solution(seed).case, None, Units("metric"))
    for one in lines(net):
        near, far = (one.link.from_, one.link.to)[:: 1 if one.forward else -1]
        for name, point in ((near, one.points[0]), (far, one.points[-1])):
            edge = net.boxes.get(name, net.inner)
            assert edge.grown(0.01).distance(point) == 0
            assert edge.grown(-0.01).distance(point) > 0
        for name, box in net.boxes.items():
            inside = box.grown(-0.1)
            for (xa, ya), (xb, yb) in pairwise(one.points):
                run = Rect(min(xa, xb), min(ya, yb), max(xa, xb), max(ya, yb)).grown(0.01)
                assert not run.meets(inside), (one.link.name, name)


def test_boxes_do_not_overlap_and_keep_the_order_of_the_outlines():
    case = sample.cabinet_case()
    net = Net(case, None, Units("metric"))
    assert net.boxes["upper"].y0 > net.boxes["lower"].y1
    assert net.boxes["upper"].centre[0] == net.boxes["lower"].centre[0]
    found = cells(sample.plan().case)
    columns = [found[name].column for name in ("drive-a", "drive-b", "drive-c", "control")]
    assert columns == sorted(set(columns))
    assert found["shaft"].row > found["control"].row


@each(named(range(25)))
def test_boxes_of_random_networks_do_not_overlap(seed):
    boxes = list(Net(random_solution(seed).case, None, Units("metric")).boxes.values())
    assert not any(a.meets(b) for i, a in enumerate(boxes) for b in boxes[:i])


def arrows(scene: Scene, filled: bool) -> list[Shape]:
    if filled:
        shapes = [s for s in scene.items if isinstance(s, Shape) and len(s.points) == 3]
        return [s for s in shapes if s.closed and s.fill == look.INK and s.edge is None]
    shapes = [s for s in scene.items if isinstance(s, Shape) and len(s.points) == 3]
    return [s for s in shapes if not s.closed]


def test_arrows_are_open_for_a_case_and_filled_for_a_solution():
    solution = sample.cabinet()
    wedges = 3 * len(solution.fans)
    assert len(arrows(network_scene(solution.case), filled=False)) == len(solution.branches)
    solved = network_scene(solution.case, solution)
    assert len(arrows(solved, filled=True)) == len(solution.branches) + wedges
    assert arrows(solved, filled=False) == []


@pytest.mark.parametrize("name", ["cabinet-hot", "cabinet-odd", "outdoor", "plan", "half-placed"])
def test_arrows_end_where_the_air_goes(name):
    solution = SAMPLES[name]()
    net = Net(solution.case, solution, Units("metric"))
    turned = 0
    for one in lines(net):
        drawing = Drawing()
        put_lines(drawing, [one], net.boxes, net.inner)
        tips = [shape.points[1] for shape in drawing.layers[Layer.ARROW]]
        flow = one.link.flow or 0.0
        if one.link.kind == "exchange" or not flow:
            assert tips == []
            continue
        goal, start = (one.link.to, one.link.from_)[:: 1 if flow > 0 else -1]
        assert len(tips) == 1
        if goal in net.boxes:
            assert net.boxes[goal].distance(tips[0]) < 3
        else:
            assert net.inner.grown(-3.0).distance(tips[0]) > 0
        assert start not in net.boxes or net.boxes[start].distance(tips[0]) > 10
        turned += flow < 0
    assert turned or name != "cabinet-hot"


def test_air_that_comes_back_is_told():
    hot = sample.cabinet_hot()
    assert "38 m³/h back" in texts(network_scene(hot.case, hot))


def test_walls_are_dashed_and_branches_are_not():
    scene = network_scene(sample.outdoor().case)
    dashed = [s for s in scene.items if isinstance(s, Shape) and s.dash == (4.0, 2.5)]
    assert len(dashed) == 2
    assert {"wall.battery", "wall.partition"} <= set(texts(scene))


def test_a_fan_whose_control_asks_for_no_speed_is_drawn_as_one_that_stands():
    case = sample.cabinet_case().with_changes({"fan.left.speed_control": {
        "by": "outside", "temperature": "70 80 degC", "speed": "0 1"}})  # fmt: skip
    found = flownet.solve(case)
    assert found.fans["fan.left"].region == "stopped"
    dashed = [len([s for s in network_scene(one.case, one).items if isinstance(s, Shape)
                   and s.dash == (3.0, 2.0) and s.fill == look.PAPER and len(s.points) > 20])
              for one in (found, sample.cabinet())]  # fmt: skip
    assert dashed == [1, 0]


def test_what_stands_in_series_is_named_with_its_branch():
    assert "fan.door + filter.door-mat" in texts(network_scene(sample.lying().case))


def test_the_network_is_drawn_on_given_axes_for_a_case_and_a_solution():
    for thing in (sample.cabinet(), sample.cabinet().case):
        ax = Figure(figsize=(5, 5)).add_subplot()
        assert draw.network(thing, ax=ax) is ax
    with pytest.raises(TypeError, match="takes a Solution"):
        draw.network("case.toml")  # type: ignore[arg-type]
