"""Natural draught: neutral levels, stacks, and upright holes that air passes both ways at once."""

from __future__ import annotations

import dataclasses
import re

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.optimize import root

import flownet
from flownet.enclosure.enclosure import (
    Body,
    Compartment,
    Duct,
    Enclosure,
    Fan,
    FanType,
    Filter,
    Opening,
    Outside,
    Part,
    Recirculation,
    Wall,
)  # fmt: skip
from flownet.equations.tall_hole import ONE_WAY, TallHole
from flownet.judging.layered import moved_by_buoyancy, piled
from flownet.pages import render
from flownet.pages.page import Page
from flownet.pages.solution import solution_sheet
from flownet.schema.errors import CaseError, NoSolution
from flownet.solving.solve import solve_many
from flownet.studies.effective_flow import useful_flow
from tests import derivatives
from tests.each import each, every
from tests.network.law_samples import air, column
from tests.published import rows

GRAVITY, CP, OUTSIDE = 9.80665, 1006.0, 293.15


def density(temperature: float) -> float:
    return 101325.0 / (287.05 * temperature)


def warmed(outside: float, inside: float, height: float, *openings: Opening | Duct) -> Enclosure:
    """A box that much heat through a good wall holds at a temperature."""
    return Enclosure.of(
        Outside(temperature=outside), Compartment(name="box", outline=(0, 0, 1, height)),
        Wall(name="held", from_="box", to="outside", area=20.0, u_value=1000.0),
        Part(name="heat", in_="box", power=2e4 * (inside - outside)), *openings,
    )  # fmt: skip


def told(solution: flownet.Solution) -> str:
    """The page of `solve`, on one line."""
    return " ".join(" ".join(render.text(solution_sheet(solution), Page())).split())


def hole(name: str, area: float, level: float, **keys: float) -> Opening:
    return Opening(name=name, from_="outside", to="box", area=area, at=(0, level), **keys)


def door_box(top: float = 0.0, power: float = 1533.8, **keys: object) -> Enclosure:
    """A box with a door 1 m high, and a hole at its top."""
    above = [hole("top", top, 2.0)] if top else []
    return Enclosure.of(
        Outside(temperature=OUTSIDE), Compartment(name="box", outline=(0, 0, 0.5, 2)),
        Part(name="p", in_="box", power=power), Body(**keys),
        hole("door", 0.4, 0.6, height=1.0), *above,
    )  # fmt: skip


@pytest.mark.parametrize("row", rows("heat", "H9"), ids=str)
def test_draught_of_a_chimney(row):
    """What a plug at the top of a warm column holds back."""
    share, height = row.given["air_per_fuel"], row.given["height"]
    gas = row.given["gas"] * share / (share + 1)
    plug = Duct(name="cap", from_="box", to="outside", at=(0, height), length=0.1, diameter=1e-3)
    found = flownet.solve(warmed(row.given["outside"], gas, height, hole("in", 1.0, 0.0), plug))
    row.check("case", draught=found.branches["duct.cap"].drop / GRAVITY)


@pytest.mark.parametrize("row", rows("heat", "H11"), ids=str)
def test_stack_flow(row):
    """Through an upper opening, the neutral level at a wide lower one."""
    inside, outside = row.given["inside"], row.given["outside"]
    top = hole("top", row.given["area"], row.given["height"],
               discharge_coefficient=row.given["coefficient"])  # fmt: skip
    found = flownet.solve(warmed(outside, inside, 1.0, hole("low", 100.0, 0.0), top))
    mean = np.sqrt(density(inside) * density(outside))
    row.check("case", flow=-found.mass_flow("opening.top") / mean)


@pytest.mark.parametrize("row", rows("heat", "H12"), ids=str)
def test_neutral_level(row):
    """Between two openings; none in a box whose one opening decides its pressure, nor beyond."""
    tall, warm = row.given["height"], (row.given["outside"], row.given["inside"])
    found = [
        flownet.solve(warmed(*warm, tall, hole("low", 0.01 * ratio, 0.0), hole("top", 0.01, tall)))
        for ratio in row.given["ratio"]
    ]
    row.check("case", level=[each["compartment.box.neutral_level"] for each in found])
    alone = flownet.solve(warmed(*warm, tall, hole("low", 0.01, 0.0)))
    assert np.isnan(alone["compartment.box.neutral_level"])
    assert "compartment.box: neutral level" in told(found[0])
    assert "neutral level" not in told(alone)


@pytest.mark.parametrize("row", rows("heat", "O1"), ids=str)
def test_air_both_ways_through_one_opening(row):
    """No net flow, and heat that this alone carries away."""
    found = [flownet.solve(door_box(power=heat)) for heat in row.expected["heat"]]
    assert [each.mass_flow("opening.door") for each in found] == pytest.approx([0, 0], abs=1e-12)
    rise = [each["compartment.box.temperature"] for each in found]
    assert rise == pytest.approx(row.given["inside"], abs=0.01)
    row.check(
        "case", flow=[each["opening.door.counter_flow"] for each in found],
        heat=[each["opening.door.counter_flow"] * CP * each.totals.air_rise for each in found],
    )  # fmt: skip
    assert found[0].totals.mass_flow == found[0]["opening.door.counter_flow"]
    (need,) = flownet.size_case(door_box(power=row.expected["heat"][0]), rise=10.0).compartments
    assert (need.solved, need.brought_heat) == (found[0].totals.mass_flow, 0.0)
    assert need.own_heat == pytest.approx(row.expected["heat"][0])  # no other way out
    assert not {"no-through-air", "tiny-flow"} & {each.rule for each in found[0].findings}
    assert "plus 228 m3/h each way at once" in told(found[0])


def both_streams(drop: float, inside: float) -> list[float]:
    """kg/s in and out of the door, each with its own density, summed over its height."""
    change = (density(OUTSIDE) - density(inside)) * GRAVITY
    level = min(max(drop / change, -0.5), 0.5)

    def passed(low: float, high: float, rho: float, sign: int) -> float:
        def speed(z: float) -> float:
            return np.sqrt(max(2 * rho * sign * (drop - change * z), 0.0))

        return 0.61 * 0.4 * quad(speed, low, high)[0]

    return [passed(-0.5, level, density(OUTSIDE), 1), passed(level, 0.5, density(inside), -1)]


@pytest.mark.parametrize("top", [0.03, 0.1, 0.2, 0.4])
def test_through_flow_outweighs_what_passes_both_ways(top):
    """A hole above draws more and more in through the door: against the integral over its height
    with two densities. Where nothing comes back it is a plain hole."""

    def gaps(unknown):
        drop, inside = unknown
        into, back = both_streams(drop, inside)
        above = (density(OUTSIDE) - density(inside)) * GRAVITY * 1.4 - drop
        out = 0.61 * top * np.sqrt(2 * density(inside) * max(above, 0.0))
        return (into - back - out) * 100, (back + out) * CP * (inside - OUTSIDE) / 1500 - 1

    wanted = root(gaps, (0.1, OUTSIDE + 12)).x
    into, back = both_streams(*wanted)
    found = flownet.solve(door_box(top, 1500.0))
    assert found.stable
    assert found["compartment.box.temperature"] - OUTSIDE == pytest.approx(
        wanted[1] - OUTSIDE, rel=3e-3)  # fmt: skip
    assert found.mass_flow("opening.door") == pytest.approx(into - back, rel=3e-3)
    assert found["opening.door.counter_flow"] == pytest.approx(back, rel=0.04, abs=1e-9)
    assert (found["opening.door.counter_flow"] == 0) == (top == 0.4)


def test_it_vanishes_without_a_jump():
    """What comes back, and its slope, go to nothing at the flow from which air passes one way."""
    law, here = TallHole.of(column(2.69), column(0.4), column(1.0)), air()
    here = here._replace(density=((here.at_start ** (-1 / 3) + here.at_end ** (-1 / 3)) / 2) ** -3)
    edge = ONE_WAY * law._scales(here)[1]
    shares = np.array([[0.9, 0.99, 0.999, 1 - 1e-6, 1 + 1e-6, 1.1]])
    stepped = law.onward(edge * shares + 1e-30j, here)
    back, slope = stepped.real - edge * shares, stepped.imag / 1e-30 - 1
    assert (np.diff(back[0, :4]) < 0).all()
    assert np.abs(back[0, 3:]).max() < 1e-8 * edge
    assert np.abs(slope[0, 3:]).max() < 1e-3
    reversed_ = law.onward(
        -edge * shares, here._replace(at_start=here.at_end, at_end=here.at_start)
    )
    np.testing.assert_allclose(reversed_, stepped.real - edge * shares, atol=1e-15)


@each(
    {up: ({"up": up},) for up in ("left", "right", "front", "back")} | {"plan": ({"view": "plan"},)}
)
def test_laid_down_it_is_a_plain_hole(keys):
    """Bit for bit; with no second opening its heat has nowhere to go."""
    case, fan = door_box(0.1, 50.0, **keys), Fan(name="f", from_="outside", to="box", type="axial")
    kind = FanType(name="axial", curve={"flow": "0 170 m3/h", "rise": "78 0 Pa"}, flow_area=0.0095)
    things = [each for named in case.things.values() for each in named.values()]
    plain = [dataclasses.replace(each, height=np.nan) if each.name == "door" else each
             for each in things]  # fmt: skip
    first, second = (flownet.solve(Enclosure.of(*items, fan, kind)) for items in (things, plain))
    assert first.mass_flow("opening.door") == second.mass_flow("opening.door")
    assert first["compartment.box.temperature"] == second["compartment.box.temperature"]
    with pytest.raises((CaseError, NoSolution), match="nowhere to go"):
        flownet.solve(door_box(**keys))


@pytest.mark.parametrize("top", [0.0, 0.1])
def test_in_layers_a_door_is_a_pile_of_lower_ones(top):
    """An integral over the height is the sum of those over its parts; all is moved by buoyancy."""
    found = flownet.solve(door_box(top, 1500.0), changes={"compartment.box.depth": 0.5})
    parts = flownet.solve(piled(found.case))
    warm = [each.compartments["box"].temperature for each in (found, parts)]
    assert warm[1] - OUTSIDE == pytest.approx(warm[0] - OUTSIDE, rel=3e-3)
    assert parts.totals.mass_flow == pytest.approx(found.totals.mass_flow, rel=3e-3)
    door, holes = found.case.things["opening"]["door"], parts.case.things["opening"]
    pile = [each for name, each in holes.items() if name.startswith("door")]
    steps = [door.at[1] - door.height / 2 + sum(each.height for each in pile[:k])
             for k in range(len(pile) + 1)]  # fmt: skip
    assert [each.at[1] - each.height / 2 for each in pile] == pytest.approx(steps[:-1])
    assert steps[-1] == pytest.approx(door.at[1] + door.height / 2)
    assert sum(each.area for each in pile) == pytest.approx(door.area)
    assert [each.height for each in pile] == pytest.approx([door.height / 8] * 8)  # 4 layers
    assert moved_by_buoyancy(found) == pytest.approx(1.0, abs=1e-6)
    assert found.layered is not None
    assert found.layered.solution is not None


@each({"above": (-0.6, 2.9, 1), "below": (0.6, 0.1, -1)}, "pressure shut side")
def test_a_hole_that_is_shut_reaches_no_neutral_level(pressure, shut, side):
    """Between two alike holes at 1 m half of the pressure beyond one of them: by the column that
    lacks the level lies above or below both. A hole there that is shut leaves it untold."""
    warm = density(OUTSIDE) - density(OUTSIDE + 10.0)
    level = 1.0 - pressure / 2 / (warm * GRAVITY)
    assert 0.2 < level < 2.8
    for state in ("open", "blanked"):
        case = warmed(OUTSIDE, OUTSIDE + 10.0, 3.0, Outside(name="b", temperature=OUTSIDE,
                      over_pressure=pressure), hole("one", 0.001, 1.0),
                      Opening(name="two", from_="outside.b", to="box", area=0.001, at=(0, 1.0)),
                      hole("other", 1e-7, shut, state=state))  # fmt: skip
        found = flownet.solve(case)["compartment.box.neutral_level"]
        if state == "open":
            assert found == pytest.approx(level, abs=0.02)
        else:
            assert np.isnan(found)


def test_a_slow_hole_is_one_whichever_way_it_is_written():
    """Of 1 cm2, where viscosity counts as much as density: what passes both ways, and its heat."""
    found = []
    for ends in (("outside", "box"), ("box", "outside")):
        hole_ = Opening(name="h", from_=ends[0], to=ends[1], area=1e-4, height=0.01, at=(0, 0.5))
        made = flownet.solve(warmed(OUTSIDE, OUTSIDE + 40.0, 1.0, hole_))
        found.append((made["opening.h.counter_flow"], made.walls["held"].heat))
    assert found[0] == pytest.approx(found[1], rel=1e-9)
    assert found[0][0] > 1e-7


def test_nothing_passes_a_door_that_is_shut():
    things = [each for named in door_box(0.1).things.values() for each in named.values()]
    skin = Wall(name="w", from_="box", to="outside", area=2.0, u_value=5.0)
    shut = Enclosure.of(*things, skin).with_changes({"opening.*.state": "blanked"})
    found = flownet.solve(shut, changes={"part.p.power": 200.0})
    assert found["compartment.box.temperature"] - OUTSIDE == pytest.approx(20.0, abs=1e-6)
    assert found.mass_flow("opening.door") == 0.0


def test_a_pile_without_a_place_stands_at_the_middle_of_its_compartments():
    (low, wide), door = ((0, 0, 1, 2), (1, 0, 3, 4)), {"area": 0.8, "height": 1.6}
    case = Enclosure.of(
        Outside(temperature=OUTSIDE), Compartment(name="a", outline=low),
        Compartment(name="b", outline=wide), Opening(name="door", from_="a", to="b", **door),
        Opening(name="out", from_="a", to="outside", area=0.1, at=(0, 0.6)),
    )  # fmt: skip
    made = piled(case).things["opening"]
    heights = [1.5 - 0.8 + 0.2 * (k + 0.5) for k in range(8)]
    found = [each.at for name, each in made.items() if name.startswith("door")]
    assert np.array(found) == pytest.approx(np.array([(1.5, y) for y in heights]))
    assert made["out"] is case.things["opening"]["out"]


def test_power_of_air_that_passes_both_ways():
    """By hand: where a height over the middle of H drives rho_0 - rho_1 times g of it through a
    hole, a stream takes the mean (3/2)/(5/2) of the edge's pressure. Beside it 4 Pa blow through
    another box, which buoyancy has no part in."""
    aside = Outside(name="blown", temperature=OUTSIDE, over_pressure=4.0)
    things = [each for named in door_box().things.values() for each in named.values()]
    found = flownet.solve(Enclosure.of(
        *things, aside, Compartment(name="aside"),
        Opening(name="in", from_="outside.blown", to="aside", area=0.02),
        Opening(name="out", from_="aside", to="outside", area=0.02),
    ))  # fmt: skip
    inside = density(found["compartment.box.temperature"])
    edge = (density(OUTSIDE) - inside) * GRAVITY * 1.0 / 2
    flow = found["opening.door.counter_flow"]
    lifted = 0.6 * edge * (flow / density(OUTSIDE) + flow / inside)
    blown = 4.0 * found.volume_flow("opening.in")
    assert moved_by_buoyancy(found) == pytest.approx(lifted / (lifted + blown), rel=0.04)
    assert 0.1 < lifted / (lifted + blown) < 0.9


def test_a_door_alone_in_layers_is_refused_by_name():
    layers = {"compartment.box.depth": 0.5, "compartment.box.layers": 4}
    with pytest.raises(CaseError, match=r"box\.\d.*opening\.door.*one above the other"):
        flownet.solve(door_box(), changes=layers)


@every(("level", "height"), [(1.0, 2.1), (0.4, 1.0), (3.0, 0.5)])
def test_a_hole_beyond_its_box_is_refused(level, height):
    keys = {"opening.door.at": (0, level), "opening.door.height": height}
    with pytest.raises(CaseError, match=r"opening\.door\.height: reaches from"):
        door_box().with_changes(keys)


def test_upside_down_it_is_as_tall():
    found = [flownet.solve(door_box(**({"up": up}))) for up in ("top", "bottom")]
    warm = [each["compartment.box.temperature"] for each in found]
    assert warm[0] == pytest.approx(warm[1], abs=1e-9)


def test_between_compartments():
    """The heat of a box whose one hole leads to another goes through it."""
    case = Enclosure.of(
        Outside(temperature=OUTSIDE), Compartment(name="a", outline=(0, 0, 0.5, 1)),
        Compartment(name="b", outline=(0.5, 0, 0.5, 1)), Part(name="p", in_="b", power=300.0),
        Opening(name="inner", from_="a", to="b", area=0.3, height=0.8, at=(0.5, 0.5)),
        Opening(name="low", from_="outside", to="a", area=0.02, at=(0, 0.1)),
        Opening(name="top", from_="a", to="outside", area=0.02, at=(0, 0.9)),
    )  # fmt: skip
    batch = flownet.solve_many(case, {"opening.inner.height": [0.8, 0.4]})
    rise = batch["compartment.b.temperature"] - batch["compartment.a.temperature"]
    heat = batch["opening.inner.counter_flow"] * CP * rise
    assert heat == pytest.approx(np.full(2, 300.0), rel=1e-6)
    assert rise[1] / rise[0] == pytest.approx(2 ** (1 / 3), rel=0.01)  # Q ~ A sqrt(H dT), dT Q = P
    found = batch.select(0)
    need = {each.name: each for each in flownet.size_case(case, rise=10.0).compartments}["b"]
    above = found["compartment.a.temperature"] - OUTSIDE
    each_way, through = found["opening.inner.counter_flow"], found.mass_flow("opening.low")
    assert need.own_heat == pytest.approx(300.0, rel=1e-6)  # all of it leaves through the hole
    assert need.brought_heat == pytest.approx(each_way * CP * above, rel=1e-9)
    going = each_way / (each_way + through)  # of the mixed air of a: to b, or out at the top
    drawn = through / density(OUTSIDE)
    assert useful_flow(solve_many(case, {"part.p.limit": [400.0]})) == pytest.approx(going * drawn)


def test_derivatives_are_those_of_whole_solves():
    checked = derivatives.check(door_box(0.1), ("opening.door.height",))
    assert not checked.wrong
    assert checked.held > 10


@every(("place", "item"), {
    "part.x.in": Part(name="x", in_="opening.door", power=1.0),
    "part.x.stream": Part(name="x", in_="box", power=1.0, stream="opening.door"),
    "filter.x.on": Filter(name="x", on="opening.door", area=0.4, loss=9.0),
    "recirculation.x.to": Recirculation(name="x", from_="opening.top", to="opening.door",
                                        fraction=0.1),
}.items())  # fmt: skip
def test_what_needs_one_stream_is_refused(place, item):
    """By name."""
    case = door_box(0.1)
    things = [each for named in case.things.values() for each in named.values()]
    with pytest.raises(CaseError, match=re.escape(f"{place}: opening.door has a height")):
        Enclosure.of(*things, item)


def test_in_series_there_is_no_height():
    with pytest.raises(CaseError, match="height: cannot stand together with on"):
        Opening(name="x", on="fan.f", area=0.01, height=0.1)
