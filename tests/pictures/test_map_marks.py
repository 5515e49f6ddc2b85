"""Marks of walls, fans that stand, numbers of copies and words of parts on the map."""

from __future__ import annotations

import dataclasses
from functools import cache
from typing import Any

import pytest

import flownet
from flownet import Body, Compartment, Enclosure, Fan, Outside, Part, Slot, Vent
from flownet.enclosure.heat import SinkType
from flownet.pictures.caption import Units
from flownet.pictures.map import arrows as scene_arrows
from flownet.pictures.map.layout import MapLayout, marks
from flownet.pictures.map.map import SLOT_BANDS, map_scene
from flownet.pictures.map.parts import DIAMOND, chips
from flownet.pictures.map.room import BAR
from flownet.pictures.network import SIZES, network_scene
from flownet.pictures.scene import look
from flownet.pictures.scene.look import Temperatures
from flownet.pictures.scene.scene import Drawing, Shape
from flownet.pictures.scene.words import through_slot
from flownet.schema import quantities as q
from tests.findings.build import axial
from tests.pictures import sample
from tests.pictures.picture_checks import arrows, clashes, shapes, texts
from tests.test_cases import load


@cache
def solved(demo: str, scenario: str = "base") -> Any:
    return flownet.solve(load(demo), scenario=scenario)


@cache
def drawn(demo: str) -> Drawing:
    return map_scene(solved(demo))


def laid(solution: Any) -> MapLayout:
    return MapLayout(solution, Units("metric"))


# --- walls -------------------------------------------------------------------------------------


def shafts(drawing: Drawing) -> list[Shape]:
    """The shafts of the arrows of walls: level or upright lines in quiet ink."""
    return [item for item in shapes(drawing) if not item.closed and len(item.points) == 2
            and (item.edge, item.width) == (look.QUIET, look.FINE)]  # fmt: skip


def test_heat_through_walls_is_drawn_the_way_it_goes():
    """Out of the drive through its left side; the sun comes in by roof and shield at the right."""
    found, drawing = solved("drive-cabinet"), drawn("drive-cabinet")
    for name in ("upper", "lower"):
        heat = Units("metric").text(q.POWER, found.walls[name].heat)
        assert {f"wall.{name}", f"{heat} out"} <= set(texts(drawing))
    assert "Double arrows: heat through walls." in " ".join(texts(drawing))
    ways = [(b[0] - a[0], b[1] - a[1]) for a, b in (shaft.points for shaft in shafts(drawing))]
    assert len(ways) == 2 * 2
    assert all(x < 0 and y == 0 for x, y in ways)
    sunny = drawn("outdoor-cabinet")
    assert max(solved("outdoor-cabinet").walls[name].heat for name in ("roof", "shield")) < 0
    assert sum(text.endswith(" W in") for text in texts(sunny)) == 2
    right = max(shaft.points[0][0] for shaft in shafts(sunny))
    for (x0, y0), (x1, y1) in (shaft.points for shaft in shafts(sunny)):
        assert y1 < y0 if x0 == x1 else x1 < x0 or x0 != right


def test_a_wall_of_less_than_a_hundredth_of_the_heat_is_left_to_the_sum():
    found, told = solved("outdoor-cabinet"), texts(drawn("outdoor-cabinet"))
    for name, row in found.walls.items():
        assert (f"wall.{name}" in told) <= (abs(row.heat) > 0.01 * found.totals.heat)
    assert "wall.behind-shield" in told
    assert any(text.endswith(" W to skin") for text in told)
    assert "Double arrows" not in " ".join(texts(map_scene(sample.shelf())))


@pytest.mark.parametrize("demo", ["drive-cabinet", "outdoor-cabinet", "bench-supply"])
def test_arrows_of_walls_touch_no_words_and_no_other_mark(demo):
    drawing = drawn(demo)
    assert clashes(drawing) == []
    covered = [*(arrow.rect for arrow in arrows(drawing)), *(w.rect for w in drawing.words)]
    assert not any(rect.meets(shaft.rect) for rect in covered for shaft in shafts(drawing))


# --- fans --------------------------------------------------------------------------------------


def test_a_fan_whose_control_asks_for_no_speed_is_drawn_and_told_as_stopped():
    case = sample.cabinet_case().with_changes({"fan.left.speed_control": {
        "by": "outside", "temperature": "70 80 degC", "speed": "0 1"}})  # fmt: skip
    found, running = flownet.solve(case), sample.cabinet()
    assert found.fans["fan.left"].region == "stopped"
    told = " ".join(texts(map_scene(found)))
    assert "fan.left   stopped" in told
    assert f"{found.branches['fan.left'].drop:.1f} Pa".lstrip("-") in told
    for scene in (map_scene, network_scene):
        dashed = [[s for s in shapes(scene(one)) if s.dash == (3.0, 2.0)
                   and (s.fill, s.edge) == (look.WHITE, look.INK) and s.rect.wide > 20]
                  for one in (found, running)]  # fmt: skip
        assert [len(found) for found in dashed] == [1, 0]
    assert round(dashed[0][0].rect.wide - dashed[0][0].width) == 2 * SIZES["fan"][0]


# --- parts -------------------------------------------------------------------------------------


@pytest.mark.parametrize("at", [(164, 164), (336, 336), (164, 336)])
def test_numbers_of_copies_keep_clear_of_the_diamonds_of_parts(at):
    """Parts put by hand where the numbers of the slots would stand: upstream, downstream, both."""
    shelf = sample.shelf()
    parts = dict(shelf.case.parts)
    for number, (name, item) in enumerate(parts.items()):
        slot = shelf.case.things["slot"][item.in_.partition(".")[2]]
        parts[name] = dataclasses.replace(item, at=(slot.at[0], at[number % 2] / 1000))
    things = {**shelf.case.things, "part": parts}
    moved = dataclasses.replace(shelf, case=dataclasses.replace(shelf.case, things=things))
    drawing = map_scene(moved)
    diamonds = [item.rect for item in shapes(drawing) if item.closed and len(item.points) == 4
                and item.points[0][1] == item.points[2][1]
                and item.rect.wide < 2 * DIAMOND + 4]  # fmt: skip
    assert len(diamonds) >= len(parts)  # and one beside the words of all of them
    numbers = [
        words for words in drawing.words if words.text.isdigit() and words.size == look.FINE_PRINT
    ]
    assert len(numbers) == sum(len(paths) for paths in laid(moved).groups if len(paths) > 1)
    for words in numbers:
        assert not any(rect.meets(words.rect) for rect in diamonds), words.text


def test_what_sits_on_a_part_in_a_slot_is_drawn_there_and_a_sink_at_its_middle():
    case = Enclosure.of(
        Body(size="200 x 300 x 100 mm", view="side"), Outside(temperature="30 degC"),
        *(Compartment(name=name, outline=f"{x} 0 30 200 mm") for name, x in (("a", 0), ("b", 270))),
        Vent(name="in", from_="outside", to="a", area="50 cm2", loss=2.0, at="0 100 mm"),
        Vent(name="out", from_="b", to="outside", area="50 cm2", loss=2.0, at="300 100 mm"),
        Slot(name="fins", from_="a", to="b", sink="comb", at="150 80 mm", direction="right"),
        SinkType(name="comb", base="40 x 60 mm", fins=12, fin="20 x 1 mm", material="aluminium"),
        Part(name="base", in_="slot.fins", sink="comb"),
        Part(name="chip", in_="part.base", power="5 W", resistance="0.3 K/W"),
        Fan(name="pull", from_="a", to="b", type="small", at="150 160 mm"),
        axial("small", curve={"flow": "0 20 40 m3/h", "rise": "20 10 0 Pa"}),
    )  # fmt: skip
    layout = laid(flownet.solve(case))
    mark = marks(layout)["slot.fins"]
    for chip in chips(layout, marks(layout)):
        assert chip.points == [pytest.approx(mark.place(0.0, 0.0))]


@pytest.mark.parametrize("demo", ["telecom-shelf", "drive-cabinet", "bench-supply"])
def test_every_part_with_a_limit_has_its_bar_and_every_part_a_diamond(demo):
    fours = [s for s in shapes(drawn(demo)) if s.closed and len(s.points) == 4]
    frames = [s for s in fours if s.fill == look.WHITE
              and round(s.points[1][0] - s.points[0][0], 6) == BAR[0]]  # fmt: skip
    parts = solved(demo).parts
    assert len(frames) == sum(row.limit == row.limit for row in parts.values())
    corners = [s.points for s in fours]
    assert len([p for p in corners if p[0][1] == p[2][1] and p[1][0] == p[3][0]]) == len(parts)


# --- slots, elements in series, directions -----------------------------------------------------


def test_slots_are_filled_from_the_air_that_enters_to_the_air_that_leaves():
    found = solved("telecom-shelf", "hot")
    inlet, outlet = through_slot(found, "slot.card-5")
    assert inlet == pytest.approx(found.compartments["intake"].temperature, abs=1e-3)
    assert outlet == found.branches["slot.card-5"].outlet_temperature
    scale = Temperatures(303.15, 343.15)
    drawing = map_scene(found, temperatures=scale)
    middle = inlet + (outlet - inlet) * (0.5 / SLOT_BANDS)  # of the first band
    assert scale.colour(middle) in {item.fill for item in shapes(drawing)}
    for number in range(1, 9):
        own = found.branches[f"slot.card-{number}"]
        flow, warm = own.volume_flow * 3600, own.outlet_temperature - 273.15
        assert f"{number}   {flow:.1f} m³/h   {warm:.1f} °C" in texts(drawing)


def test_a_grille_on_a_fan_keeps_its_side_when_the_air_turns():
    layout, turned = laid(solved("drive-cabinet")), laid(solved("drive-cabinet"))
    turned.__dict__["flows"] = {path: -flow for path, flow in layout.flows.items()}
    first, second = (marks(one)["filter.push-mat"].at for one in (layout, turned))
    assert first == second


@pytest.mark.parametrize(("direction", "in_view"), [("back", True), ("right", False)])
def test_a_fan_off_every_wall_is_drawn_in_its_direction(direction, in_view):
    """From front to rear lies in the view of the side; to the right leads out of the page."""
    lying = sample.lying()
    fan = dataclasses.replace(lying.case.fans["door"], direction=direction, at=(0.22, 0.7))
    things = {**lying.case.things, "fan": {"door": fan}}
    layout = laid(dataclasses.replace(lying, case=dataclasses.replace(lying.case, things=things)))
    mark = marks(layout)["fan.door"]
    arrow = scene_arrows.arrow(mark, layout.flows["fan.door"], 5.0, 100.0, False, True)
    assert arrow.leaves is not in_view
    assert not in_view or arrow.way == (1.0, 0.0)
