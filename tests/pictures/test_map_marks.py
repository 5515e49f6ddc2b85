"""Marks of walls, fans that stand, numbers of copies and words of parts on the map."""

from __future__ import annotations

import dataclasses

import pytest

import flownet
from flownet.pictures.map import arrows as scene_arrows
from flownet.pictures.map.layout import MapLayout
from flownet.pictures.map.map import BANDS, map_scene
from flownet.pictures.map.parts import DIAMOND
from flownet.pictures.map.sizes import marks
from flownet.pictures.scene import look
from flownet.pictures.scene.labels import BAR
from flownet.pictures.scene.look import Temperatures
from flownet.pictures.scene.scene import Scene, Shape
from flownet.pictures.scene.words import Units, through_slot
from flownet.schema import quantities as q
from tests.pictures import sample
from tests.pictures.picture_checks import clashes
from tests.pictures.sample import SAMPLES
from tests.test_cases import load


def texts(scene: Scene) -> list[str]:
    return [words.text for words in scene.words]


# --- walls -------------------------------------------------------------------------------------


def arrows(scene: Scene) -> list[Shape]:
    """The shafts of the arrows of walls: level or upright lines in quiet ink."""
    return [
        item for item in scene.items
        if isinstance(item, Shape) and item.edge == look.QUIET and item.width == look.THIN
        and not item.closed and len(item.points) == 2
    ]  # fmt: skip


def test_every_wall_that_carries_heat_is_marked_with_its_heat():
    found = flownet.solve(load("drive-cabinet"))
    scene = map_scene(found)
    for name in ("upper", "lower"):
        assert f"wall.{name}" in texts(scene)
        assert f"{Units('metric').text(q.POWER, found.walls[name].heat)} out" \
            in texts(scene)  # fmt: skip
    assert len(arrows(scene)) == 2 * 2
    assert "Double arrows: heat through walls." in " ".join(texts(scene))
    for shaft in arrows(scene):  # both walls lose heat through the left side
        (x0, y0), (x1, y1) = shaft.points
        assert y0 == y1
        assert x1 < x0


def test_heat_that_comes_in_is_drawn_inwards():
    """The sun on the roof and on the shield at the right."""
    found = flownet.solve(load("outdoor-cabinet"))
    assert max(found.walls[name].heat for name in ("roof", "shield")) < 0
    scene = map_scene(found)
    assert sum(text.endswith(" W in") for text in texts(scene)) == 2
    right = max(shaft.points[0][0] for shaft in arrows(scene))
    for shaft in arrows(scene):
        (x0, y0), (x1, y1) = shaft.points
        if x0 == x1:
            assert y1 < y0
        elif x0 == right:
            assert x1 < x0


def test_a_wall_of_less_than_a_hundredth_of_the_heat_is_left_to_the_sum():
    found = flownet.solve(load("outdoor-cabinet"))
    scene = map_scene(found)
    for name, row in found.walls.items():
        assert (f"wall.{name}" in texts(scene)) <= (abs(row.heat) > 0.01 * found.totals.heat)
    assert "wall.behind-shield" in texts(scene)
    assert any(text.endswith(" W to skin") for text in texts(scene))
    assert "Double arrows" not in " ".join(texts(map_scene(sample.shelf())))


@pytest.mark.parametrize("demo", ["drive-cabinet", "outdoor-cabinet", "bench-supply"])
def test_arrows_of_walls_touch_no_words_and_no_other_mark(demo):
    scene = map_scene(flownet.solve(load(demo)))
    assert clashes(scene) == []
    marks = [item.rect for item in scene.items
             if isinstance(item, Shape) and item.closed and len(item.points) == 7]  # fmt: skip
    for shaft in arrows(scene):
        assert not any(words.rect.meets(shaft.rect) for words in scene.words)
        assert not any(mark.meets(shaft.rect) for mark in marks)


# --- fans --------------------------------------------------------------------------------------


def test_a_fan_whose_control_asks_for_no_speed_is_drawn_and_told_as_stopped():
    case = sample.cabinet_case().with_changes({"fan.left.speed_control": {
        "by": "outside", "temperature": "70 80 degC", "speed": "0 1"}})  # fmt: skip
    found = flownet.solve(case)
    assert found.fans["fan.left"].region == "stopped"
    scene, running = map_scene(found), map_scene(sample.cabinet())
    assert "fan.left   stopped" in " ".join(texts(scene))
    dashed = [len([s for s in one.items if isinstance(s, Shape) and s.dash == (3.0, 2.0)
                   and s.fill == look.PAPER and s.edge == look.INK and len(s.points) > 20])
              for one in (scene, running)]  # fmt: skip
    assert dashed == [1, 0]
    row = found.branches["fan.left"]
    assert f"{row.drop:.1f} Pa".lstrip("-") in " ".join(texts(scene))


# --- parts -------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", [*SAMPLES, "drive-cabinet", "bench-supply"])
def test_no_part_loses_its_margin(name):
    """The words of every part that stands alone hold its margin, in one line or in two."""
    found = SAMPLES[name]() if name in SAMPLES else flownet.solve(load(name))
    whole, units = texts(map_scene(found)), Units("metric")
    told = [text for text in whole if text.endswith((" left", " over", " left, tight"))]
    for part, row in found.parts.items():
        if row.margin == row.margin and not part.rpartition("-")[2].isdigit():
            amount = units.text(q.DIFFERENCE, abs(row.margin))
            assert any(amount in text for text in told), part


@pytest.mark.parametrize("at", ["upstream", "downstream", "both"])
def test_numbers_of_copies_keep_clear_of_the_diamonds_of_parts(at):
    """Parts put by hand where the numbers of the slots would stand."""
    shelf = sample.shelf()
    heights = {"upstream": (164, 164), "downstream": (336, 336), "both": (164, 336)}[at]
    parts = dict(shelf.case.parts)
    for number, (name, item) in enumerate(parts.items()):
        slot = shelf.case.things["slot"][item.in_.partition(".")[2]]
        place = (slot.at[0], heights[number % 2] / 1000)
        parts[name] = dataclasses.replace(item, at=place)
    things = {**shelf.case.things, "part": parts}
    moved = dataclasses.replace(shelf, case=dataclasses.replace(shelf.case, things=things))
    scene = map_scene(moved)
    layout = MapLayout(moved, Units("metric"))
    diamonds = [
        item.rect for item in scene.items
        if isinstance(item, Shape) and item.closed and len(item.points) == 4
        and item.points[0][1] == item.points[2][1] and item.rect.wide < 2 * DIAMOND + 4
    ]  # fmt: skip
    assert len(diamonds) >= len(parts)  # and one beside the words of all of them
    numbers = [words for words in scene.words if words.text.isdigit() and words.size == look.TINY]
    assert len(numbers) == sum(len(g.paths) for g in layout.groups if len(g.paths) > 1)
    for words in numbers:
        assert not any(rect.meets(words.rect) for rect in diamonds), words.text


# --- slots, elements in series, directions, parts outside --------------------------------------


def colours(scene: Scene) -> set[str | None]:
    return {item.fill for item in scene.items if isinstance(item, Shape)}


def test_slots_are_filled_from_the_air_that_enters_to_the_air_that_leaves():
    found = flownet.solve(load("telecom-shelf"), scenario="hot")
    row = found.branches["slot.card-5"]
    inlet, outlet = through_slot(found, "slot.card-5")
    assert inlet == pytest.approx(found.compartments["intake"].temperature, abs=1e-3)
    assert outlet == row.outlet_temperature
    middle = inlet + (outlet - inlet) * (0.5 / BANDS)  # of the first band
    scale = Temperatures(303.15, 343.15)
    assert scale.colour(middle) in colours(map_scene(found, temperatures=scale))
    said = texts(map_scene(found))
    for number in range(1, 9):
        own = found.branches[f"slot.card-{number}"]
        flow, warm = own.volume_flow * 3600, own.outlet_temperature - 273.15
        assert f"{number}   {flow:.1f} m³/h   {warm:.1f} °C" in said


def test_a_grille_on_a_fan_keeps_its_side_when_the_air_turns():
    case = load("drive-cabinet")
    forward = flownet.solve(case)
    layout = MapLayout(forward, Units("metric"))
    turned = MapLayout(forward, Units("metric"))
    turned.__dict__["flows"] = {path: -flow for path, flow in layout.flows.items()}
    first, second = marks(layout)["filter.push-mat"], marks(turned)["filter.push-mat"]
    assert first.at == second.at


SIDE = """
format = 1
enclosure.view = "side"
outside.temperature = "30 degC"
[compartment.box]
outline = "0 0 500 600 mm"
[opening.door]
from = "outside"
to = "box"
area = "0.02 m2"
at = "0 300 mm"
[fan.through]
from = "box"
to = "outside"
type = "f"
at = "250 300 mm"
[fan_type.f]
curve = { flow = "0 100 m3/h", rise = "60 0 Pa" }
flow_area = "0.009 m2"
"""


@pytest.mark.parametrize(("direction", "in_view"), [("back", True), ("right", False)])
def test_a_fan_off_every_wall_is_drawn_in_its_direction(tmp_path, direction, in_view):
    """From front to rear lies in the view of the side; to the right leads out of the page."""
    file = tmp_path / "case.toml"
    file.write_text(SIDE.replace("[fan_type", f'direction = "{direction}"\n[fan_type'))
    found = flownet.solve(flownet.load_case(file))
    layout = MapLayout(found, Units("metric"))
    mark = marks(layout)["fan.through"]
    arrow = scene_arrows.arrow(mark, layout.flows["fan.through"], 5.0, 100.0, False, True)
    assert arrow.leaves is not in_view
    assert not in_view or arrow.way == (1.0, 0.0)


@pytest.mark.parametrize("name", ["telecom-shelf", "drive-cabinet", "bench-supply"])
def test_every_part_with_a_limit_has_its_bar_and_every_part_a_diamond(name):
    found = flownet.solve(load(name))
    shapes = [item for item in map_scene(found).items if isinstance(item, Shape)]
    frames = [s for s in shapes if s.closed and len(s.points) == 4 and s.fill == look.PAPER
              and round(s.points[1][0] - s.points[0][0], 6) == BAR[0]]  # fmt: skip
    limited = [row for row in found.parts.values() if row.limit == row.limit]
    assert len(frames) == len(limited)
    fours = [s.points for s in shapes if s.closed and len(s.points) == 4]
    diamonds = [p for p in fours if p[0][1] == p[2][1] and p[1][0] == p[3][0]]
    assert len(diamonds) == len(found.parts)
