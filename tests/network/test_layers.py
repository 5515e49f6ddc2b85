"""Compartments in layers: against stirred tanks in series, hydrostatics, and what is conserved."""

from __future__ import annotations

import numpy as np
import pytest

import flownet
from flownet.enclosure.branches import Opening, Vent
from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.fans import Fan, FanType
from flownet.enclosure.heat import Exchange, Part, Wall
from flownet.enclosure.surroundings import Body, Compartment, Outside
from flownet.judging.layered import carried_aside, moved_by_buoyancy
from flownet.physics.air import GRAVITY, HEAT_CAPACITY
from flownet.schema.errors import CaseError
from tests import derivatives

OUTSIDE, WIDE, TALL, DEEP = 308.15, 0.8, 1.8, 0.4
GAS, PRESSURE = 287.05, 101325.0  # J/(kg K), Pa


def box(layers=4, *more, heat=200.0, at=None, vents=(0.1, 1.7), blown=0.0, **given):
    """A box with a vent low in it and one high; `blown`: pressure on the high one."""
    outline = (0.0, 0.0, WIDE, TALL)
    inside = {"outline": outline, "depth": DEEP, "layers": layers, "air_limit": 328.15}
    things = [
        Outside(temperature=OUTSIDE), Outside(name="on", temperature=OUTSIDE, over_pressure=blown),
        Compartment(**{"name": "box", **inside, **given}),
        Part(name="part", in_="box", power=heat, at=at), *more,
    ]  # fmt: skip
    for name, place, height in zip(("low", "high"), ("outside", "outside.on"), vents, strict=False):
        things.append(Vent(name=name, from_=place, to="box", area=0.02, loss=4.0, at=(0, height)))
    return Enclosure.of(*things, title="invented")


def wall(**given):
    """To the outside, of 5 W/(m2 K)."""
    area = {} if "faces" in given else {"area": 2.0}
    return Wall(
        **{"name": "skin", "from_": "box", "to": "outside", "u_value": 5.0, **area, **given}
    )


def layers(solution, name="box"):
    """(layers,) rises above the outside, from below [K]."""
    return np.array([row.temperature - OUTSIDE for row in solution.layers_of(name).values()])


@pytest.mark.parametrize("count", [1, 2, 5, 32])
def test_air_pressed_down_past_a_wall_cools_as_in_stirred_tanks(count):
    """Closed form: energy of each tank, (1 + U A/(N m cp))^-1 from one to the next; exp(-U A/(m
    cp)) for very many (O. Levenspiel, Chemical Reaction Engineering, tanks in series; by hand)."""
    solution = flownet.solve(box(count, wall(), at=(0.4, 1.79), vents=(0.01, 1.79), blown=20.0))
    carried = HEAT_CAPACITY * solution.mass_flow("vent.high")
    each = 1 + 5.0 * 2.0 / (count * carried)
    expected = 200.0 / carried / each ** np.arange(1, count + 1)
    one = [solution.compartments["box"].temperature - OUTSIDE]
    found = layers(solution) if count > 1 else np.array(one)
    assert found[::-1] == pytest.approx(expected, rel=1e-5)
    assert solution.compartments["box"].mean_temperature - OUTSIDE == pytest.approx(found.mean())
    levels = [row.level for row in solution.layers_of("box").values()]
    middles = (np.arange(count) + 0.5) * TALL / count
    assert levels == pytest.approx(middles if count > 1 else [])
    if count == 32:
        assert found[0] == pytest.approx(200.0 / carried * np.exp(-10.0 / carried), rel=0.02)


@pytest.mark.parametrize("at", [None, (0.4, 0.1), (0.4, 1.0)])
def test_layers_draw_by_the_column_of_their_own_densities(at):
    """Hydrostatics: the weight that the column lacks is what the vents and openings lose."""
    solution = flownet.solve(box(6, at=at))
    warm = layers(solution) + OUTSIDE
    edges = np.clip(np.linspace(0, TALL, 7), 0.1, 1.7)
    lacking = PRESSURE / GAS * (1 / OUTSIDE - 1 / warm)
    flow = solution.mass_flow("vent.low")
    between = 0.5 / 2 * (flow / (WIDE * DEEP)) ** 2 * (GAS * warm[:-1] / PRESSURE)
    lost = sum(abs(solution.branches[f"vent.{n}"].drop) for n in ("low", "high")) + between.sum()
    assert (lacking * np.diff(edges)).sum() * GRAVITY == pytest.approx(lost, rel=1e-4)
    assert flow * HEAT_CAPACITY * warm[-1] - flow * HEAT_CAPACITY * OUTSIDE == pytest.approx(200.0)


def test_layers_alike_in_temperature_lie_still():
    """Hydrostatics: no heat, no flow, and no pressure but the outside's."""
    solution = flownet.solve(box(5, wall(), heat=0.0))
    assert abs(solution.mass_flow("vent.low")) < 1e-9
    assert layers(solution) == pytest.approx(0, abs=1e-9)
    assert set(solution.branches) == {f"vent.{name}" for name in solution.case.things["vent"]}
    assert solution.compartments["box"].pressure == pytest.approx(0, abs=1e-9)


@pytest.mark.parametrize("count", [2, 8])
def test_heat_below_a_cold_lid_rises_by_eddies(count):
    """q = 0.88 rho cp d^2 sqrt(g/T) (-dT/dz)^1.5 in an upright tube (Cholemari & Arakeri 2009; the
    factor from memory), whatever the number of layers; all of it leaves through the lid."""
    lid = wall(faces=("top",), u_value=50.0)
    solution = flownet.solve(box(count, lid, at=(0.4, 0.01), vents=()))
    rise = layers(solution)
    warm = OUTSIDE + rise.mean()
    across = np.sqrt(4 * WIDE * DEEP / np.pi)
    density = PRESSURE / (GAS * warm)
    scale = 0.88 * density * HEAT_CAPACITY * across**2 * np.sqrt(GRAVITY / warm) * WIDE * DEEP
    gradient = (200.0 / scale) ** (2 / 3)
    assert -np.diff(rise) == pytest.approx(gradient * TALL / count, rel=0.02)
    assert rise[-1] == pytest.approx(200.0 / (50.0 * WIDE * DEEP), rel=1e-6)
    assert solution.walls["skin"].heat == pytest.approx(200.0, rel=1e-6)


@pytest.mark.parametrize("count", [2, 3, 8])
def test_heat_is_conserved_and_faces_are_shared_by_height(count):
    """Sum over layers of U times their part of each face, the top all of the highest layer's; one
    that looks down, of the lowest's."""
    floor = flownet.solve(box(count, wall(faces=("front", "bottom"))))
    sides = WIDE * TALL / count * layers(floor).sum()
    assert floor.walls["skin"].heat == pytest.approx(
        5.0 * (sides + WIDE * DEEP * layers(floor)[0]), rel=1e-9)  # fmt: skip
    solution = flownet.solve(box(count, wall(faces=("front", "left", "top"))))
    rise = layers(solution)
    sides = (WIDE + DEEP) * TALL / count
    expected = 5.0 * (sides * rise.sum() + WIDE * DEEP * rise[-1])
    assert solution.walls["skin"].heat == pytest.approx(expected, rel=1e-9)
    carried = HEAT_CAPACITY * solution.mass_flow("vent.low") * rise[-1]
    assert carried + solution.totals.wall_heat == pytest.approx(200.0, rel=1e-4)


def test_a_computed_wall_in_one_piece_is_its_faces_one_by_one():
    """Panels stand side by side: what each place loses does not depend on how they are named, be
    it divided or, like the one beside it, not."""
    film = {"u_value": None, "area": None, "thickness": 0.002, "material": "steel"}
    more = (Compartment(name="aside", outline=(WIDE, 0.0, WIDE, TALL), depth=DEEP),
            Part(name="q", in_="aside", power=60.0))  # fmt: skip

    def solved(*pieces):
        walls = (wall(name=f"{place}-{faces[0]}", from_=place, faces=faces, **film)
                 for place in ("aside", "box") for faces in pieces)  # fmt: skip
        return flownet.solve(box(3, *more, *walls, vents=(0.2, 1.6)))

    one, each = solved(("front", "top")), solved(("front",), ("top",))
    assert layers(one) == pytest.approx(layers(each), rel=1e-6)
    aside = [found.compartments["aside"].temperature for found in (one, each)]
    assert aside[0] == pytest.approx(aside[1], abs=1e-5)
    assert one.walls["aside-front"].heat == pytest.approx(60.0, rel=1e-6)


def test_heat_above_all_openings_is_refused_and_without_a_place_put_where_air_moves():
    low = {"vents": (0.1, 0.6)}
    with pytest.raises(CaseError, match=r"compartment\.box\.4 has nowhere to go"):
        flownet.solve(box(4, at=(0.4, 1.7), **low))
    rise = layers(flownet.solve(box(4, **low)))
    assert rise[1:] == pytest.approx(rise[1], abs=1e-3)  # layers above only take on its warmth
    assert rise[1] > rise[0] > 0


def turned(up, x, y, width, height):
    """The same picture on another side; the corner with the lowest numbers."""
    corners = {"top": (x, y), "bottom": (x, -y - height), "right": (y, x), "left": (-y - height, x)}
    return (*corners[up], *((width, height) if up in ("top", "bottom") else (height, width)))


def stack(up="top", turn=1):
    """Two divided compartments beside a third, with walls, an exchange and openings between."""
    place = lambda x, y: turned(up, x, y, 0, 0)[:2]  # noqa: E731
    names = {"a": (0, 0, 0.8, 0.9, 4), "b": (0, 0.9, 0.8, 0.9, 3), "c": (0.8, 0, 0.3, 1.8, 5)}
    things = [
        Body(up=up, size=(2, 2, DEEP)), Outside(temperature=OUTSIDE),
        *(Compartment(name=n, outline=turned(up, *o), layers=k) for n, (*o, k) in names.items()),
        Vent(name="low", from_="outside", to="a", area=0.02, loss=4, at=place(0, 0.15)),
        Opening(name="mid", from_="a", to="b", area=0.03),
        Opening(name="side", from_="b", to="c", area=0.03, at=place(0.8, 1.5)),
        Vent(name="high", from_="c", to="outside", area=0.02, loss=4, at=place(1.0, 1.65)),
        Wall(name="ac", from_="a", to="c", area=0.3, thickness=0.002, conductivity=50.0),
        Wall(name="roof", from_="b", to="outside", faces=("front", up), u_value=5.0),
        Exchange(name="x", between=("a", "c"), flow=0.001),
        Part(name="p", in_="a", power=200.0, resistance=0.1),
        Part(name="q", in_="b", power=50.0, at=place(0.4, 1.6)),
        Part(name="r", in_="part.q", power=30.0, resistance=0.3),
    ]  # fmt: skip
    return Enclosure.of(*things[::turn], title="invented")


def test_another_side_up_and_another_order_of_tables_give_the_same():
    first = flownet.solve(stack())
    assert len(first.layers) == 12
    for other in (stack(turn=-1), *map(stack, ("bottom", "left", "right"))):
        found = flownet.solve(other)
        for name, row in first.layers.items():
            assert found.layers[name].temperature == pytest.approx(row.temperature, abs=1e-6)
    q = first.parts["q"]
    assert q.air_temperature == pytest.approx(first.layers["b.3"].temperature)
    assert abs(first.layers["b.3"].temperature - first.layers["b.1"].temperature) > 0.1
    hottest = max(first.layers[f"a.{i}"].temperature for i in range(1, 5))
    assert first.parts["p"].air_temperature == first.compartments["a"].temperature == hottest


def test_an_exchange_is_shared_by_the_layers_of_the_finer_one_that_meet_those_at_their_height():
    """By hand: 1/5 of it in each fifth of c (1.8 m), with what of a (4 in 0.9 m) is as high, or
    its highest; ideal gas."""
    found = flownet.solve(stack())
    heat = 0.0
    for number in range(5):
        beside = min(int((number + 0.5) * 1.8 / 5 / (0.9 / 4)), 3)
        a, c = (found.layers[f"{n}.{i + 1}"].temperature for n, i in (("a", beside), ("c", number)))
        mean = (PRESSURE / GAS / a + PRESSURE / GAS / c) / 2
        heat += HEAT_CAPACITY * 0.001 / 5 * mean * (a - c)
    assert found.exchanges["x"].heat == pytest.approx(heat, rel=1e-4)


def test_variants_of_a_batch_may_differ_in_layers_heights_and_what_is_up():
    case = box(2, wall(), at=(0.4, 0.3))
    changes = {"compartment.box.layers": [1, 4, 2, 4], "vent.high.at.1": [1.7, 1.7, 0.7, 0.9]}
    batch = flownet.solve_many(case, changes)
    for i in range(4):
        one = flownet.solve(case, changes={path: v[i] for path, v in changes.items()})
        assert batch["compartment.box.temperature"][i] == pytest.approx(
            one.compartments["box"].temperature, abs=1e-6)  # fmt: skip
        assert list(batch.select(i).layers) == list(one.layers)
    assert np.isnan(batch["compartment.box.4.temperature"][[0, 2]]).all()


def test_a_box_that_stands_higher_has_the_same_layers():
    """Nothing but differences of height counts, where the outside is as warm as ever."""
    low, high = (
        flownet.solve(box(4, wall(), at=(0.4, up + 0.5), vents=(up + 0.1, up + 1.7),
                          outline=(0.0, up, WIDE, TALL))) for up in (0.0, 1.3)
    )  # fmt: skip
    assert layers(low).std() > 0.1
    assert layers(high) == pytest.approx(layers(low), abs=1e-9)
    assert high["compartment.box.level"] == pytest.approx(1.3 + low["compartment.box.level"])


@pytest.mark.parametrize("count", [2, 3, 4, 6])
def test_the_pressure_of_layers_of_one_temperature_is_that_of_one(count):
    """Heated at its floor all of a box is as warm; the openings between lose next to nothing."""
    one, many = (flownet.solve(box(n, at=(0.4, 0.05), vents=(0.05, 1.75))) for n in (1, count))
    assert layers(many) == pytest.approx([one["compartment.box.temperature"] - OUTSIDE] * count,
                                         abs=0.05)  # fmt: skip
    assert many["compartment.box.level"] == one["compartment.box.level"]
    difference = one["compartment.box.pressure"] - many["compartment.box.pressure"]
    assert abs(difference) < 0.01 * abs(one.branches["vent.low"].drop)


def test_an_exchange_of_as_many_layers_joins_those_of_one_height_too():
    """By hand: a half in each of two layers of a (0.9 m), with the lower one of c (1.8 m)."""
    changes = {"compartment.a.layers": 2, "compartment.c.layers": 2}
    found = flownet.solve(stack(), changes=changes)
    a, c = ([found.layers[f"{name}.{i}"].temperature for i in (1, 2)] for name in "ac")
    heat = sum(HEAT_CAPACITY * 0.001 / 2 * PRESSURE / GAS * (1 / each + 1 / c[0]) / 2
               * (each - c[0]) for each in a)  # fmt: skip
    assert found.exchanges["x"].heat == pytest.approx(heat, rel=1e-4)


@pytest.mark.parametrize(("u_value", "asked"), [(4.5, True), (3.9, False)])
def test_layers_are_asked_for_where_walls_carry_much(u_value, asked):
    """Blown through, so that buoyancy is nothing: only the share of the wall decides, 15 %."""
    found = flownet.solve(box(1, wall(u_value=u_value), blown=20.0))
    assert (carried_aside(found) > 0.15) is asked
    assert (found.layered is not None) is asked
    assert carried_aside(found) == pytest.approx(0.15, abs=0.011)
    assert found.layered is None or found.layered.layers == {"box": 4}


@pytest.mark.parametrize(("power", "asked"), [(2700.0, True), (2400.0, False)])
def test_layers_are_asked_for_where_buoyancy_moves_the_air(power, asked):
    """From a third of the power on, beside a fan; no wall carries any heat."""
    kind = FanType(name="f", curve=((0.0, 20.0), (0.3, 0.0)), flow_area=0.03)
    found = flownet.solve(Enclosure.of(
        Compartment(name="box", outline=(0.0, 0.0, 1.0, 9.0), depth=1.0), kind,
        Outside(temperature=OUTSIDE), Part(name="p", in_="box", power=power),
        Fan(name="low", from_="outside", to="box", type="f", at=(0.5, 0.5)),
        Opening(name="high", from_="box", to="outside", area=0.05, at=(0.5, 8.5)),
    ))  # fmt: skip
    assert moved_by_buoyancy(found) == pytest.approx(1 / 3, abs=0.015)
    assert carried_aside(found) == 0.0
    assert (moved_by_buoyancy(found) > 1 / 3) is asked
    assert (found.layered is not None) is asked


def test_shares_stay_between_none_and_all():
    """Of a closed box its wall carries all, however little; the air in it is still. Against a wind
    of 0.3 Pa from above buoyancy moves all, and more."""
    closed = flownet.solve(box(1, wall(), heat=0.01, vents=()))
    assert (carried_aside(closed), moved_by_buoyancy(closed)) == (pytest.approx(1.0), 0.0)
    against = flownet.solve(box(1, heat=900.0, blown=0.3))
    assert against.mass_flow("vent.low") > 0.0
    assert moved_by_buoyancy(against) == 1.0


@pytest.mark.parametrize("count", [16, 17])
def test_at_most_sixteen_compartments_are_divided_unasked(count):
    things = [Outside(temperature=OUTSIDE)]
    for i in range(count):
        things += [
            Compartment(name=f"c{i}", outline=(i, 0.0, 1.0, 1.0), depth=0.5),
            wall(name=f"w{i}", from_=f"c{i}"), Part(name=f"p{i}", in_=f"c{i}", power=10.0),
        ]  # fmt: skip
    found = flownet.solve(Enclosure.of(*things)).layered
    assert (found and len(found.layers)) == (16 if count == 16 else None)


@pytest.mark.parametrize(("count", "other"), [(2, 4), (4, 8), (32, 64), (33, 16)])
def test_what_more_layers_say_is_of_twice_as_many_or_half(count, other):
    """At most 64 can be given."""
    finer = flownet.solve(box(count, wall())).finer
    assert finer.layers == {"box": other}
    whole = flownet.solve(box(other, wall()))
    assert finer.solution["compartment.box.temperature"] == whole["compartment.box.temperature"]


def test_derivatives_are_those_of_whole_solves():
    moved = ("outside.temperature", "compartment.a.outline.3", "enclosure.size.2", "wall.ac.area",
             "exchange.x.flow", "part.p.power", "vent.low.at.1")  # fmt: skip
    checked = derivatives.check(stack(), moved)
    assert not checked.wrong
    assert checked.held > 300


def test_layers_are_kept_by_a_file_and_shown(tmp_path):
    case = box(3, wall())
    flownet.save_case(case, tmp_path / "case.toml")
    again = flownet.load_case(tmp_path / "case.toml")
    assert again["compartment.box.layers"] == 3
    made = flownet.solve(again).to_dict()["compartments"]["box"]
    assert list(made["layers"]) == ["1", "2", "3"]
    assert made["layers"]["1"]["level_m"] == pytest.approx(0.3)
    assert made["temperature_degC"] == max(
        row["temperature_degC"] for row in made["layers"].values()
    )


@pytest.mark.parametrize(("given", "words"), [
    ({"outline": None}, "height of an outline"), ({"depth": None}, "depth"),
    ({"layers": 2.5}, "whole number"), ({"layers": 0}, "from 1"), ({"layers": 65}, "to 64"),
])  # fmt: skip
def test_what_cannot_be_divided_is_named(given, words):
    with pytest.raises(CaseError, match=rf"compartment\.box\.layers: .*{words}"):
        box(**given)
    with pytest.raises(CaseError, match=r"compartment\.box\.layers: .*plan"):
        box(4, Body(view="plan", size=(1, 1, 1)))


@pytest.mark.parametrize(("sun", "vents"), [(0.0, True), (3000.0, True), (300.0, False)])
def test_the_share_of_walls_is_one_of_all_heat_that_passes(sun, vents):
    """Heat balance by hand: |q| through walls over |q| + m cp dT; of a sealed box all of it, also
    where the sun drives more in than the parts give off."""
    more = [Opening(name=n, from_=a, to=b, area="100 cm2", at=at) for n, a, b, at in (
        ("low", "outside", "box", "300 100 mm"), ("high", "box", "outside", "300 1700 mm"),
    ) if vents]  # fmt: skip
    case = Enclosure.of(
        Compartment(name="box", outline="0 0 600 1800 mm"),
        Part(name="heat", in_="box", power="100 W"),
        Wall(name="roof", from_="box", to="outside", area="1 m2", u_value="4 W/(m2 K)", solar=sun),
        *more,
    )  # fmt: skip
    found = flownet.solve(case)
    wall = abs(found["wall.roof.heat"])
    air = abs(found.totals.mass_flow * 1006.0 * found.totals.air_rise) if vents else 0.0
    assert carried_aside(found) == pytest.approx(wall / (wall + air), rel=1e-3)
    assert carried_aside(found) <= 1.0


def test_a_part_in_a_branch_heats_its_air_alone():
    """Of a divided box: what leaves is as warm as all heat makes it, the layers as of a box whose
    fan's air is not heated. A part on one in a layer stands there too."""

    def solved(power):
        more = (Part(name="behind", in_="vent.high", power=power),
                Part(name="rider", in_="part.part", power=20.0, resistance=0.1))  # fmt: skip
        return flownet.solve(box(3, *more, at=(0.4, 0.9), blown=-5.0))

    plain, found = solved(0.0), solved(60.0)
    carried = HEAT_CAPACITY * abs(found.mass_flow("vent.high"))
    assert layers(found) == pytest.approx(220.0 / carried * np.array([0.0, 1.0, 1.0]), abs=0.02)
    assert found.branches["vent.high"].outlet_temperature - OUTSIDE == pytest.approx(
        280.0 / carried, rel=1e-4)  # fmt: skip
    assert layers(plain) == pytest.approx(layers(found), rel=0.02)


@pytest.mark.parametrize(("low", "layer"), [(1e-7, 0), (1e-10, 1), (0.0, 1), (-1e-7, 1)])
def test_what_stands_at_a_boundary_is_in_the_layer_above(low, layer):
    """To round-off: a billionth of a layer below it counts as above it."""
    found = flownet.solve(box(2, at=(0.4, TALL / 2 - low * TALL / 2)))
    assert found.parts["part"].air_temperature == found.layers[f"box.{layer + 1}"].temperature
    assert layers(found)[1] - layers(found)[0] > 1.0 or layer == 0


@pytest.mark.parametrize("ends", [(6.0, 0.0), (0.0, -6.0), (4.0, -2.0)])
def test_what_buoyancy_gives_is_what_neither_fans_nor_over_pressures_do(ends):
    """By hand: of the power lost in a box blown through from below by 6 Pa, 6 Pa times the mean
    volume flow is given; a fan's rise too."""
    case = Enclosure.of(
        Outside(temperature=OUTSIDE), Outside(name="a", temperature=OUTSIDE, over_pressure=ends[0]),
        Outside(name="b", temperature=OUTSIDE, over_pressure=ends[1]),
        Compartment(name="box", outline=(0.0, 0.0, 1.0, 9.0)), Part(name="p", in_="box", power=9e2),
        Opening(name="low", from_="outside.a", to="box", area=0.02, at=(0.5, 0.5)),
        Opening(name="high", from_="box", to="outside.b", area=0.02, at=(0.5, 8.5)),
    )  # fmt: skip
    found = flownet.solve(case)
    volume = [found.volume_flow(f"opening.{n}") for n in ("low", "high")]
    lost = sum(found.branches[f"opening.{n}"].drop * v
               for n, v in zip(("low", "high"), volume, strict=True))  # fmt: skip
    driven = ends[0] * volume[0] - ends[1] * volume[1]
    assert 0.05 < moved_by_buoyancy(found) < 0.5
    assert moved_by_buoyancy(found) == pytest.approx(1 - driven / lost, rel=1e-6)


@pytest.mark.parametrize("state", ["reversed", "forward"])
def test_a_fan_gives_its_part_of_what_moves_the_air(state):
    """By hand: its rise, beside the weight that a column 8 m high lacks; all is lost in the hole by
    air that the heat has expanded."""
    kind = FanType(name="f", curve=((0.0, 20.0), (0.3, 0.0)), flow_area=0.03)
    ends = ("outside", "box") if state == "forward" else ("box", "outside")
    found = flownet.solve(Enclosure.of(
        Outside(temperature=OUTSIDE), Compartment(name="box", outline=(0.0, 0.0, 1.0, 9.0)), kind,
        Part(name="p", in_="box", power=2e3),
        Fan(name="low", from_=ends[0], to=ends[1], type="f", mounted=state, at=(0.5, 0.5)),
        Opening(name="high", from_="box", to="outside", area=0.05, at=(0.5, 8.5)),
    ))  # fmt: skip
    warm = found["compartment.box.temperature"]
    column = PRESSURE / GAS * (1 / OUTSIDE - 1 / warm) * GRAVITY * 8.0
    rise = found.fans["fan.low"].rise
    given = rise / (column + rise) * OUTSIDE / warm
    assert 0.1 < given < 0.9
    assert moved_by_buoyancy(found) == pytest.approx(1 - given, rel=0.01)


@pytest.mark.parametrize(("tilt", "of"), [(0, [2]), (180, [0]), (90, [0, 1, 2])])
def test_a_wall_meets_the_layers_beside_it_by_its_tilt(tilt, of):
    solution = flownet.solve(box(3, wall(tilt=tilt)))
    rise = layers(solution)
    assert solution.walls["skin"].heat == pytest.approx(10.0 * rise[of].mean(), rel=1e-9)
    assert rise[2] - rise[0] > 0.1


@pytest.mark.parametrize("face", ["bottom", "top"])
def test_a_floor_joins_the_layers_that_it_lies_between(face):
    """By hand, U A of the lowest above and the highest below."""
    ends = ("upper", "box") if face == "bottom" else ("box", "upper")
    upper = Compartment(name="upper", outline=(0.0, TALL, WIDE, 1.0), depth=DEEP, layers=2)
    floor = wall(name="floor", from_=ends[0], to=ends[1], faces=(face,))
    lid = wall(name="lid", from_="upper", faces=("top", "left"))
    found = flownet.solve(box(3, upper, floor, lid, at=(0.4, 0.1)))
    above, below = layers(found, "upper")[0], layers(found)[2]
    sign = 1.0 if ends[0] == "box" else -1.0
    heat = found.walls["floor"].heat
    assert heat == pytest.approx(sign * 5.0 * WIDE * DEEP * (below - above), rel=1e-9)
    assert abs(heat) > 0.5


def test_openings_between_layers_lose_a_half_of_their_velocity_head():
    """By hand, in a slender box: sharp holes and what lies between them meet 10 Pa together."""
    slender = {"outline": (0.0, 0.0, 0.1, TALL), "depth": 0.1}
    found = flownet.solve(box(6, heat=0.0, blown=10.0, vents=(0.1, 1.7), **slender))
    density = PRESSURE / GAS / OUTSIDE
    flow = abs(found.mass_flow("vent.low"))
    lost = (2 * 4.0 / 0.02**2 + 5 * 0.5 / 0.01**2) * flow**2 / (2 * density)
    assert lost == pytest.approx(10.0, rel=1e-3)
    assert 5 * 0.5 / 0.01**2 > 2 * 4.0 / 0.02**2


def test_in_a_flat_box_eddies_are_as_high_as_it_is():
    """The gradient of `overturning` with d = 0.2 m, where the plan is 0.8 m across."""
    flat = {"outline": (0.0, 0.0, WIDE, 0.2), "depth": WIDE}
    found = flownet.solve(box(2, wall(faces=("top",), u_value=50.0), heat=40.0, at=(0.4, 0.01),
                              vents=(), **flat))  # fmt: skip
    rise = layers(found)
    warm = OUTSIDE + rise.mean()
    scale = 0.88 * PRESSURE / (GAS * warm) * HEAT_CAPACITY * 0.2**2 * np.sqrt(GRAVITY / warm)
    gradient = (40.0 / (scale * WIDE * WIDE)) ** (2 / 3)
    assert rise[0] - rise[1] == pytest.approx(gradient * 0.1, rel=0.02)
