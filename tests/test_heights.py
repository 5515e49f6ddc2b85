"""Heights and areas that follow from a drawing, by elementary geometry."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from flownet.columns import Inputs
from flownet.enclosure.branches import Duct, Opening, Slot, Vent
from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.fans import Fan, FanType
from flownet.enclosure.heat import Exchange, Part, SinkType, Wall
from flownet.enclosure.surroundings import Body, Compartment, Outside
from flownet.equations.assemble import assemble
from flownet.equations.levels import wall_faces
from flownet.equations.topology import Structure
from flownet.schema.component import Thing
from flownet.solving.solve import solve

SIZE = (0.8, 1.8, 0.4)  # m, width x height x depth
ROOMS = (
    Compartment(name="low", outline=(0.0, 0.2, 0.6, 0.4)),  # centre 0.3, 0.4
    Compartment(name="high", outline=(0.1, 0.9, 0.4, 0.6)),  # centre 0.3, 1.2
    Compartment(name="loose"),
)
UP = {"top": (0, 1), "bottom": (0, -1), "left": (-1, 0), "right": (1, 0), "front": (0, 0),
      "back": (0, 0)}  # fmt: skip


def made(*things: Thing, view: str = "front", up: str = "top") -> Enclosure:
    return Enclosure.of(Body(size=SIZE, view=view, up=up), Outside(), *ROOMS, *things)


def ends(case: Enclosure) -> dict[str, tuple[float, float]]:
    """Heights of both ends of every branch."""
    structure = Structure.of(case)
    model = assemble(Inputs.of(case), structure)
    pairs = np.broadcast_arrays(model.start_level, model.end_level)
    return {path: (pairs[0][i, 0], pairs[1][i, 0]) for i, path in enumerate(structure.branches)}


def card(**keys: Any) -> Slot:
    return Slot(name="card", from_="low", to="high", gap=0.01, width=0.2, length=0.3, **keys)


@pytest.mark.parametrize("up", UP)
def test_a_height_is_measured_along_what_is_up(up):
    """Centre of an outline; a point given; a slot's ends half its length to either side."""
    x, y = UP[up]
    case = made(Vent(name="v", from_="low", to="outside", area=0.01, loss=1, at=(0.2, 0.5)), up=up)
    structure = Structure.of(case)
    levels = assemble(Inputs.of(case), structure).levels
    wanted = {"low": 0.3 * x + 0.4 * y, "high": 0.3 * x + 1.2 * y, "loose": 0.0}
    for name, level in wanted.items():
        assert levels[structure.compartments.index(name), 0] == pytest.approx(level), name
    assert ends(case)["vent.v"] == pytest.approx((0.2 * x + 0.5 * y,) * 2)
    for way, step in {"up": (0, 1), "down": (0, -1), "left": (-1, 0), "right": (1, 0),
                      "front": (0, 0), "back": (0, 0)}.items():  # fmt: skip
        middle, half = 0.5 * x + 0.7 * y, 0.15 * (step[0] * x + step[1] * y)
        found = ends(made(card(at=(0.5, 0.7), direction=way), up=up))["slot.card"]
        assert found == pytest.approx((middle - half, middle + half)), way
    for view in ("front", "side"):
        assert ends(made(card(at=(0.5, 0.7)), up=up, view=view))["slot.card"] == pytest.approx(
            (0.5 * x + 0.7 * y,) * 2
        )


def test_views_from_the_side_and_from_above():
    """From the side the view's right-hand way leads to the back; a plan has no heights."""
    for way, step in {"up": 0.15, "down": -0.15, "left": 0, "right": 0, "front": 0,
                      "back": 0}.items():  # fmt: skip
        found = ends(made(card(at=(0.1, 0.7), direction=way), view="side"))["slot.card"]
        assert found == pytest.approx((0.7 - step, 0.7 + step)), way
    for way, step in {"back": 0.15, "front": -0.15, "left": 0, "right": 0, "up": 0}.items():
        found = ends(made(card(at=(0.1, 0.7), direction=way), view="side", up="right"))
        assert found["slot.card"] == pytest.approx((0.1 - step, 0.1 + step)), way
    plan = made(card(at=(0.1, 0.7), direction="up"), view="plan")
    assert ends(plan)["slot.card"] == (0.0, 0.0)
    assert not assemble(Inputs.of(plan), Structure.of(plan)).levels.any()


def test_what_has_no_place_stands_at_the_middle_of_its_compartments():
    """The outside is not counted, and the height of both ends is the same."""
    hole: dict[str, Any] = {"area": 0.01, "loss": 1.0}
    found = ends(made(
        Vent(name="in", from_="outside", to="low", **hole),
        Vent(name="out", from_="high", to="outside", **hole),
        Vent(name="between", from_="low", to="high", **hole),
        Vent(name="loose", from_="loose", to="high", **hole),
        card(direction="up"),
        Slot(name="plain", from_="low", to="high", direction="up", **hole),  # of no length
    ))  # fmt: skip
    assert found == {
        "vent.in": pytest.approx((0.4, 0.4)), "vent.out": pytest.approx((1.2, 1.2)),
        "vent.between": pytest.approx((0.8, 0.8)), "vent.loose": pytest.approx((0.6, 0.6)),
        "slot.card": pytest.approx((0.65, 0.95)), "slot.plain": pytest.approx((0.8, 0.8)),
    }  # fmt: skip


def test_a_slot_between_fins_is_as_long_as_they_are():
    """Their base is 81 mm wide, 100 mm along the air; a duct has a length of its own, a measured
    card none."""
    comb = SinkType(name="comb", base=(0.081, 0.1), fins=21, fin=(0.025, 0.001), conductivity=200.0)
    place: dict[str, Any] = {"from_": "low", "to": "high", "at": (0.5, 0.7), "direction": "up"}
    things = (
        comb, Slot(name="fins", sink="comb", **place), Part(name="p", in_="slot.fins", sink="comb"),
        Slot(name="card", area=0.01, loss=1.0, **place),
        Duct(name="pipe", section=(0.09, 0.03), length=0.2, sink="comb", **place),
        Part(name="q", in_="duct.pipe", sink="comb"),
    )  # fmt: skip
    found = ends(made(*things))
    assert found["slot.fins"] == pytest.approx((0.65, 0.75))
    assert found["slot.card"] == pytest.approx((0.7, 0.7))
    assert found["duct.pipe"] == pytest.approx((0.6, 0.8))


def test_a_route_gives_both_heights():
    """Its first point at `from`, its last at `to`; one without it goes the way it points, or is
    level."""
    pipe: dict[str, Any] = {"from_": "low", "to": "outside", "diameter": 0.05, "length": 2.0}
    route = ((0.1, 0.2), (0.6, 0.9), (0.3, 1.7))
    things = (Duct(name="a", **pipe, route=route), Duct(name="b", **pipe, at=(0.2, 0.9)),
              Duct(name="c", **pipe, at=(0.2, 0.9), direction="down"))  # fmt: skip
    found = ends(made(*things))
    assert found["duct.a"] == pytest.approx((0.2, 1.7))
    assert found["duct.b"] == pytest.approx((0.9, 0.9))
    assert found["duct.c"] == pytest.approx((1.9, -0.1))
    assert ends(made(*things, up="right"))["duct.a"] == pytest.approx((0.1, 0.3))


@pytest.mark.parametrize(("view", "room"), [("front", (0.6, 0.4, 0.25)), ("side", (0.25, 0.4, 0.6)),
                                            ("plan", (0.6, 0.25, 0.4))])  # fmt: skip
def test_areas_of_faces(view, room):
    """Sides of a box, its outline 0.6 x 0.4 m in the view and 0.25 m through it: width, height and
    depth as one stands before the enclosure. Without a depth of its own, that of the enclosure."""
    box = {"from_": "box", "to": "outside", "u_value": 1.0}

    def area(*faces: str, **depth: float) -> float:
        rooms = Compartment(name="box", outline=(0.1, 0.2, 0.6, 0.4), **depth)
        case = made(rooms, Wall(name="w", faces=faces, **box), view=view)
        return float(wall_faces(Inputs.of(case)).area[0, 0])

    wide, tall, deep = room
    wanted = {"front": wide * tall, "back": wide * tall, "left": deep * tall, "right": deep * tall,
              "top": wide * deep, "bottom": wide * deep}  # fmt: skip
    for face, size in wanted.items():
        assert area(face, depth=0.25) == pytest.approx(size), face
    assert area(*wanted, depth=0.25) == pytest.approx(sum(wanted.values()))
    through = {"front": SIZE[2], "side": SIZE[0], "plan": SIZE[1]}[view]
    for face in ("left", "top") if view == "front" else ("front", "bottom"):
        own = area(face, depth=0.25)
        scaled = own * through / 0.25 if face != "bottom" or view == "side" else own
        assert area(face) == pytest.approx(scaled), face


def test_a_wall_by_its_area_and_by_its_faces_lose_heat_alike():
    """U A (T - T0): 0.6 x 0.4 m and 0.4 x 0.4 m of the compartment `low`."""
    rest = (Part(name="p", in_="low", power=50.0),
            Opening(name="gap", from_="outside", to="low", area=1e-4),
            Exchange(name="a", between=("low", "high"), flow=1e-3),
            Exchange(name="b", between=("loose", "high"), flow=1e-3))  # fmt: skip
    found = []
    for how in ({"faces": ("front", "left")}, {"area": 0.6 * 0.4 + 0.4 * 0.4}):
        walls = Wall(name="w", from_="low", to="outside", u_value=5.0, **how)
        found.append(solve(made(*rest, walls))["compartment.low.temperature"])
    assert found[0] == pytest.approx(found[1], abs=1e-9)
    assert found[0] == pytest.approx(293.15 + 50.0 / (5.0 * 0.4), abs=1e-2)


@pytest.mark.parametrize(("way", "gain"), [("up", 1), ("down", -1), ("left", 0)])
def test_a_warm_channel_draws_by_the_height_between_its_ends(way, gain):
    """Hydrostatics: -(rho - rho0) g dz, from the hole at its lower end to the fan at its upper."""
    kind = FanType(name="line", curve=((0.0, 20.0), (0.1, 0.0)), flow_area=0.01, origin="invented")
    level: dict[str, Any] = {"at": (0.5, 0.0)}
    found = solve(Enclosure.of(
        Outside(temperature=293.15), kind, Compartment(name="a"), Compartment(name="b"),
        Slot(name="s", from_="a", to="b", gap=0.02, width=0.2, length=0.5, power=200.0,
             direction=way, **level),
        Opening(name="in", from_="outside", to="a", area=0.02, **level),
        Fan(name="f", from_="b", to="outside", type="line", at=(0.5, 0.25 * gain)),
    ))  # fmt: skip
    lost = sum(found[f"{path}.drop"] for path in ("opening.in", "slot.s", "fan.f"))
    cold, channel = 101325 / (287.05 * 293.15), found["slot.s.density"]
    draught = 9.80665 * gain * (cold - channel) * 0.5
    assert lost - found["fan.f.rise"] == pytest.approx(draught, rel=2e-3, abs=1e-6)
    assert gain == 0 or abs(draught) > 0.01
