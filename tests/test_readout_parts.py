"""Parts of a solution, against hand computation from its flows and temperatures."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from flownet.enclosure.fans import FanType
from flownet.enclosure.heat import Part
from flownet.enclosure.surroundings import Outside
from flownet.results.solution import Solution
from flownet.solving.solve import solve, solve_many
from tests.test_readout import CP, FAN, T0, chain, turned


@pytest.mark.parametrize("way", [solve, turned])
@pytest.mark.parametrize("position", [0.0, 0.25, 1.0])
def test_a_part_stands_in_the_air_of_its_place(way, position):
    """In a slot between its two ends, measured from `from`, with all heat of the slot (energy
    balance); in a compartment in its air; in another branch at its outlet."""
    parts = [
        Part(name="chip", in_="slot.card", power=50.0, position=position, resistance=0.3),
        Part(name="box", in_="low", power=10.0, resistance=2.0),
        Part(name="coil", in_="vent.in", power=20.0, resistance=1.5),
    ]
    found = way(chain(*parts))
    row, coil = found.branches["slot.card"], found.parts["coil"]
    upstream = found[f"compartment.{'low' if row.mass_flow > 0 else 'high'}.temperature"]
    step = 260.0 / (CP * row.mass_flow)  # the slot's own 210 W and the chip's 50 W
    ends = (upstream, upstream + step) if row.mass_flow > 0 else (upstream - step, upstream)
    here = ends[0] + position * (ends[1] - ends[0])
    assert found["part.chip.air_temperature"] == pytest.approx(here, abs=1e-2)
    assert found["part.box.air_temperature"] == found["compartment.low.temperature"]
    assert found["part.box.temperature"] - found["part.box.air_temperature"] == pytest.approx(20.0)
    inlet = T0 if row.mass_flow > 0 else found["compartment.low.temperature"]
    warm = inlet + 20.0 / (CP * abs(found.mass_flow("vent.in")))
    assert coil.air_temperature == pytest.approx(warm, abs=1e-2)
    assert coil.temperature == pytest.approx(coil.air_temperature + 30.0, abs=1e-9)


def test_parts_warm_the_air_of_a_slot_each_at_its_place():
    """Energy of the air up to a part: its inlet, the slot's own 210 W up to there, and all of each
    part before it, none of those beside or behind it. What leaves the slot is the same."""
    place = {"one": 0.2, "two": 0.6, "twin": 0.6, "three": 0.9}
    heat = {"one": 40.0, "two": 30.0, "twin": 20.0, "three": 10.0}
    parts = [Part(name=n, in_="slot.card", power=heat[n], position=place[n]) for n in place]
    parts.append(Part(name="rider", in_="part.one", power=15.0))
    heat["one"] += 15.0
    case = chain(*parts)
    for way in (solve, turned):
        spread, found = way(case), way(case.with_changes({"slot.card.part_heat": "at-parts"}))
        flow = found["slot.card.mass_flow"]
        assert found.branches["slot.card"] == spread.branches["slot.card"]
        inlet = found[f"compartment.{'low' if flow > 0 else 'high'}.temperature"]
        for name, at in place.items():
            gone = at if flow > 0 else 1 - at
            before = [n for n in place if (place[n] < at if flow > 0 else place[n] > at)]
            taken = 210.0 * gone + sum(heat[n] for n in before)
            warm = found[f"part.{name}.air_temperature"] - inlet
            assert warm == pytest.approx(taken / (CP * abs(flow)), rel=1e-9), name


def test_without_any_heat_parts_in_a_slot_stand_in_what_comes_in():
    keys = {"power": 0.0, "part_heat": "at-parts"}
    found = solve(chain(Part(name="one", in_="slot.card", power=0.0, position=0.4), **keys))
    assert found["part.one.air_temperature"] == pytest.approx(T0, abs=1e-6)


def test_the_speed_of_the_air_at_a_part():
    """Continuity, with the density of the air in the branch: in a slot of one of its channels, or
    over a flow area of its own; in another branch over its area; in a compartment the stream's."""
    over = {"resistance_law": {"a": 0.2, "b": 0.4, "n": 0.5, "velocity": 2.0}}
    parts = [
        Part(name="chip", in_="slot.card", power=1.0, **over),
        Part(name="fin", in_="slot.card", flow_area=1e-3, **over),
        Part(name="rider", in_="part.fin", power=2.0, resistance=1.0),
        Part(name="coil", in_="vent.in", **over),
        Part(name="sink", in_="low", stream="vent.in", flow_area=4e-3, **over),
        Part(name="still", in_="low", resistance=1.0),
    ]
    for way in (solve, turned):
        found = way(chain(*parts))
        flow = abs(found.mass_flow("slot.card"))
        card, hole = (flow / found[f"{path}.density"] for path in ("slot.card", "vent.in"))
        wanted = {"chip": card / (7 * 0.01 * 0.15), "fin": card / (7 * 1e-3), "coil": hole / 0.02,
                  "sink": hole / 4e-3}  # fmt: skip
        for name, speed in wanted.items():
            assert found[f"part.{name}.velocity"] == pytest.approx(speed, rel=1e-9), name
        assert np.isnan([found["part.still.velocity"], found["part.rider.velocity"]]).all()


def standard(*parts: Part) -> Solution:
    """Cold air of 1.2 kg/m3 everywhere, to which resistances refer."""
    cold = FanType(name="line", curve=FAN.curve, flow_area=0.01, origin="invented")
    case = chain(*parts, cold, Outside(temperature=T0, pressure=1.2 * 287.05 * T0), power=0.0)
    return solve(case, changes={"part.load.power": 0.0})


def test_resistances():
    """T - T_air = P R (Fourier's law of a lumped resistance): plain and scaled, a fitted law, a
    table at its own points and beyond its ends, where it stays."""
    speed = float(standard().mass_flow("vent.in")) / (1.2 * 0.02)
    table = ((0.5 * speed, 0.9), (speed, 0.5), (2 * speed, 0.3))
    small = 1e-9  # W: the air is that of the fan's curve without heat

    def rise(over: float = 1.0, **keys: Any) -> float:
        part = Part(name="p", in_="vent.in", power=small, flow_area=0.02 * over, **keys)
        found = standard(part)
        at = found.parts["p"]
        assert at.velocity == pytest.approx(speed / over, rel=1e-6)
        resistance = (at.temperature - at.air_temperature) / small
        wanted = np.nan if "resistance" in keys else near(resistance)  # where it follows the speed
        assert at.resistance == wanted or np.isnan([at.resistance, wanted]).all()
        return resistance

    def near(value: float) -> Any:
        return pytest.approx(value, rel=1e-3)

    big = 1e9  # the difference of two temperatures near 300 K would round a small rise
    assert rise(resistance=0.4 * big) == near(0.4 * big)
    assert rise(resistance=0.4 * big, resistance_factor=1.7) == near(0.68 * big)
    rows = tuple((v, r * big) for v, r in table)
    for over, wanted in ((2.0, 0.9), (1.0, 0.5), (0.5, 0.3), (4.0, 0.9), (0.25, 0.3)):
        assert rise(over, resistance_over_velocity=rows) == near(wanted * big)
    law = {"a": 0.2 * big, "b": 0.4 * big, "n": 0.6, "velocity": 2.0}
    assert rise(resistance_law=law, resistance_factor=1.3) == near(
        1.3 * (0.2 + 0.4 * (speed / 2.0) ** -0.6) * big)  # fmt: skip


def test_parts_on_parts_and_chains():
    """Resistances in series carry the heat of all that sits above, in whatever order the parts
    are written; every station of a chain its own heat alone times what lies below it."""
    stack = {
        "block": Part(name="block", in_="high", power=5.0, resistance=0.5, limit=390.0),
        "plate": Part(name="plate", in_="part.block", power=10.0, resistance=0.2),
        "die": Part(name="die", in_="part.plate", power=20.0,
                    chain=(("junction", 0.4), ("case", 0.25), ("pad", 0.1))),
        "twin": Part(name="twin", in_="part.plate", power=7.0, resistance=0.3),
    }  # fmt: skip
    for order in (("block", "plate", "die", "twin"), ("twin", "die", "plate", "block")):
        found = solve(chain(*(stack[name] for name in order)))
        air = found["compartment.high.temperature"]
        base = air + 0.5 * (5 + 10 + 20 + 7)
        plate = base + 0.2 * (10 + 20 + 7)
        wanted = {"block": base, "plate": plate, "twin": plate + 0.3 * 7,
                  "die": plate + 20 * (0.4 + 0.25 + 0.1), "die.junction": plate + 20 * 0.75,
                  "die.case": plate + 20 * 0.35, "die.pad": plate + 20 * 0.1}  # fmt: skip
        for name, temperature in wanted.items():
            assert found[f"part.{name}.temperature"] == pytest.approx(temperature, abs=1e-9), name
        under = {"block": air, "plate": base, "die": plate, "twin": plate}
        for name, temperature in under.items():
            assert found[f"part.{name}.air_temperature"] == pytest.approx(temperature, abs=1e-9)
        assert found["part.block.heat"] == 5.0
        assert found["part.block.margin"] == pytest.approx(390.0 - base)
        assert found["total.worst_margin"] == pytest.approx(390.0 - base)


def test_what_sits_in_an_empty_slot_is_not_there():
    """In one variant of two: no heat of it or of what it carries, no temperature, no limit; the
    other part keeps its own."""
    parts = (
        Part(name="chip", in_="slot.card", power=40.0, resistance=0.5, limit=400.0),
        Part(name="die", in_="part.chip", power=8.0, chain=(("junction", 0.5),), limit=400.0),
        Part(name="other", in_="high", output=27.0, efficiency=0.9, resistance=0.5,  # 3 W of loss
             limit=400.0),
    )  # fmt: skip
    case = chain(*parts, empty={"area": 0.0015, "loss": 2.0})
    batch = solve_many(case, {"slot.card.state": ["fitted", "empty"]})
    for path in ("part.chip.temperature", "part.die.temperature", "part.die.junction.temperature",
                 "part.chip.heat", "part.die.air_temperature", "part.chip.velocity"):  # fmt: skip
        assert np.isnan(batch[path]).tolist() == [False, True], path
    motor = batch["fan.out.power"]
    np.testing.assert_allclose(batch["total.heat"] - motor, [210 + 40 + 8 + 300 + 3, 303])
    np.testing.assert_allclose(batch["part.other.temperature"],
                               batch["compartment.high.temperature"] + 1.5)  # fmt: skip
    margins = [min(400.0 - batch[f"part.{n}.temperature"][i] for n in names)
               for i, names in enumerate((("chip", "die", "other"), ("other",)))]  # fmt: skip
    np.testing.assert_allclose(batch["total.worst_margin"], margins)
