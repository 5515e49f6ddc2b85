"""Temperatures in time against closed forms and handbook examples, and what a course says."""

from __future__ import annotations

import json
import math
import re
from dataclasses import replace

import numpy as np
import pytest
from scipy.constants import Stefan_Boltzmann
from scipy.integrate import solve_ivp
from scipy.linalg import expm
from scipy.special import gammainc

from flownet import (
    Body,
    CaseError,
    Compartment,
    Duct,
    Enclosure,
    Fan,
    FanType,
    Limits,
    NoSolution,
    Opening,
    Outside,
    Part,
    Transient,
    Wall,
    compare,
    load_case,
    save_case,
    solve,
    transient,
)
from flownet.columns import Inputs
from flownet.enclosure.heat import Sun
from flownet.judging.voids import STALL
from flownet.physics import films
from flownet.solver.in_time import Stretch
from flownet.studies.ride_through import ride
from tests.cli import box as small
from tests.each import every
from tests.published import rows
from tests.studies.test_assessment import pair

OUTSIDE = 293.15
AIR = "compartment.box.temperature"
PART = "part.p.temperature"


def box(*things, store: float = 20e3, conductance: float = 18.0, limit: float = 900.0):
    """A box without any flow: one store, one wall."""
    inside = Compartment(name="box", heat_capacity=store, air_limit=OUTSIDE + limit)
    wall = Wall(name="a", from_="box", to="outside", area=1.0, u_value=conductance)
    return Enclosure.of(Outside(name="", temperature=OUTSIDE), inside, wall, *things)


def source(power: float = 250.0, **keys) -> Part:
    return Part(name="p", in_="box", power=power, **keys)


def rise(found: Transient, path: str = AIR) -> np.ndarray:
    return found.courses[path] - OUTSIDE


def heated(t, power: float = 250.0, conductance: float = 18.0, store: float = 20e3):
    """Closed form of one store."""
    return power / conductance * (1 - np.exp(-np.asarray(t) * conductance / store))


# --- closed forms and printed examples -----------------------------------------------------------


@every("row", rows("time", "T1", "T2", "T12"))
def test_one_store_of_a_handbook(row):
    """A bead in a stream: its course reaches a share of the step when the example says."""
    g = row.given
    across = g.get("diameter") or 6 * g["film"] * g["time_constant"] / (g["density"] * g["heat"])
    area, mass = math.pi * across**2, g["density"] * math.pi / 6 * across**3
    resistance, share = 1 / (g["film"] * area), g["share"]
    bead = source(100 / resistance, resistance=resistance, heat_capacity=mass * g["heat"],
                  limit=OUTSIDE + 100 * share)  # fmt: skip
    found = transient(box(bead, store=1e12, conductance=1e9), start="cold", until=60.0)
    computed = {"time": found.first.time, "diameter": across}
    row.check(**{name: computed[name] for name in row.expected})


@pytest.mark.parametrize("row", rows("time", "T13"), ids=str)
def test_a_bead_between_a_stream_and_walls_that_radiate(row, monkeypatch):
    """T13: no input states a film beside radiation, so the film is one of this test, `film` at the
    inner face and none outside. All else is what cases are solved by: a thin wall with the bead's
    surface and store, solved, and marched by its two faces. In time against the bead's own
    equation, m c dT/dt = A (h (T_air - T) + sigma (T_walls^4 - T^4))."""
    g = row.given
    across, cold, hot = g["diameter"], g["air"] + g["zero"], g["walls"] + g["zero"]
    surface, store = math.pi * across**2, g["density"] * g["heat"] * math.pi / 6 * across**3

    def film(faces, *_):
        return np.stack([g["film"] + 0 * faces[0], 0 * faces[1]])

    monkeypatch.setattr(films, "natural_film", film)
    bead = Wall(name="bead", from_="box", to="outside.walls", area=surface, thickness=1e-6,
                conductivity=400.0, emissivity=1.0, inside_emissivity=0.0,
                heat_capacity=store, touch_limit=cold + 8.0)  # fmt: skip
    warm = Outside(name="walls", temperature=hot)
    case = box(bead, warm, conductance=1e3).with_changes({"outside.temperature": cold})
    faces = [f"wall.bead.{side}_temperature" for side in ("inside", "outside")]
    found = transient(case, until=120.0, start="cold")
    for solution in (solve(case), found.end):
        for face in faces:
            row.check("solver", temperature=solution[face] - g["zero"])

    def rate(_, warm):
        shone = Stefan_Boltzmann * (hot**4 - warm**4)
        return surface / store * (g["film"] * (cold - warm) + shone)

    there = solve_ivp(rate, (0.0, 120.0), [cold], rtol=1e-10, atol=1e-10,
                      events=lambda _, warm: warm[0] - cold - 8.0)  # fmt: skip
    assert found.first.time == pytest.approx(there.t_events[0][0], rel=1e-4)


def test_one_store_follows_its_exponential():
    """T5 (250 W, 12 + 6 W/K, 20 kJ/K: 5.795 K after 600 s), at every point of the course."""
    found = transient(box(source()), start="cold", until=6000.0)
    assert abs(rise(found) - heated(found.times)).max() < 1e-4
    assert found.highest["compartment.box"] == (found.courses[AIR][-1], 6000.0)
    assert heated(600.0) == pytest.approx(5.795, abs=5e-4)


def test_two_stores_in_a_chain():
    """T6: the matrix exponential of air and part."""
    case = box(source(resistance=0.1, heat_capacity=5e3))
    found = transient(case, start="cold", until=3600.0)
    slopes = np.array([[-28 / 20e3, 10 / 20e3], [10 / 5e3, -10 / 5e3]])
    steady = np.linalg.solve(-slopes, [0.0, 250 / 5e3])
    assert steady == pytest.approx([13.8889, 38.8889], abs=1e-4)
    exact = np.array([steady - expm(slopes * t) @ steady for t in found.times]).T
    assert abs(rise(found) - exact[0]).max() < 1e-4
    assert abs(rise(found, PART) - exact[1]).max() < 1e-4
    assert rise(found)[-1] == pytest.approx(12.16831, abs=1e-4)


def test_a_store_on_a_plate_that_follows_at_once():
    """One store of C (R1 + R2): the plate of P1 has R1 to air that is held, the block of P2 on it
    R2 to its foot; its junction lies above that by all heat through it."""
    first, then, below, above, inner, store = 40.0, 25.0, 0.3, 0.7, 0.05, 400.0
    plate = Part(name="base", in_="box", power=first, resistance=below, chain=(("die", inner),))
    block = Part(name="block", in_="part.base", power=then, resistance=above, heat_capacity=store)
    found = transient(box(plate, block, store=1e12, conductance=1e9), start="cold", until=400.0)
    end = then * (below + above) + first * below
    warm = end * (1 - np.exp(-found.times / (store * (below + above))))
    foot = (first + warm / above) * below * above / (below + above)
    die = foot + inner * (first + (warm - foot) / above)
    assert abs(rise(found, "part.block.temperature") - warm).max() < 1e-3
    assert abs(rise(found, "part.base.temperature") - die).max() < 1e-3


def test_a_swing_of_an_hour_through_the_chain():
    """T9: of a swing outside, air has .393996, part .296855, by the slopes that are integrated."""
    case = box(source(resistance=0.1, heat_capacity=5e3))
    inputs = Inputs.of(case)
    stretch = Stretch(lambda times: inputs, True)
    state = stretch.steady_model.at_rest(1)
    y = stretch.begun(0.0, stretch.begin_stores.cold(state), np.zeros((0, 1)), state)
    rate = 2j * np.pi / 3600 * np.eye(2) - stretch.slopes(0.0, y)
    share = abs(np.linalg.solve(rate, [18 / 20e3, 0.0]))
    assert share == pytest.approx([0.393996, 0.296855], abs=2e-6)


def test_outside_air_that_ramps_and_swings():
    """T7: y = r (t - tau (1 - e^(-t/tau))). T8: 8 K over 24 h at tau 16 000 s from the beginning:
    y = 8 (sin wt - w tau (cos wt - e^(-t/tau))) / (1 + (w tau)^2), its ratio and lag."""
    ramp = [{"after": 0.0, "over": "2 h", "set": {"outside.temperature": OUTSIDE + 20}}]
    found, tau = transient(box(), ramp, until=1800.0), 20e3 / 18
    exact = 10 / 3600 * (1800 - tau * (1 - math.exp(-1800 / tau)))
    assert rise(found)[-1] == pytest.approx(exact, abs=1e-4)
    assert exact == pytest.approx(2.52438, abs=1e-5)
    w, tau, end = 2 * math.pi / 86400, 16000.0, 7 * 3600.0
    times = np.linspace(0, end, 61)
    swing = {"outside.temperature": (times, OUTSIDE + 8 * np.sin(w * times))}
    t, y = (found := transient(box(store=tau * 18), inputs=swing, until=end)).times, rise(found)
    fades = np.cos(w * t) - np.exp(-t / tau)
    exact = 8 * (np.sin(w * t) - w * tau * fades) / (1 + (w * tau) ** 2)
    assert abs(y - exact).max() < 1e-3  # lines between points 7 min apart
    assert 1 / math.hypot(1, w * tau) == pytest.approx(0.651794, abs=1e-6)
    assert math.atan(w * tau) / w / 3600 == pytest.approx(3.28820, abs=1e-4)


def test_a_limit_after_an_event():
    """T10: 18 to 6 W/K at once: 30 K above outside after 2891.669 s."""
    more = Wall(name="b", from_="box", to="outside", area=1.0, u_value=12.0)
    case = box(source(), more, conductance=6.0, limit=30.0)
    found = transient(case, [{"after": "10 s", "set": {"wall.b.u_value": 0.0}}], until="3 h")
    assert found.first.time - 10 == pytest.approx(2891.669, rel=1e-5)
    assert found.first[:2] == ("compartment.box", "air")
    assert "reaches 50 degC 48 min 12 s after wall.b" in found.verdict


def test_faces_that_store_heat_are_judged():
    """Sun on an insulated wall: its outer face warms by a I A/(C/2) a second, closed form while it
    is hardly warmer than the air; what is steady does not depend on a capacity."""
    case = Enclosure.of(
        Outside(name="", temperature=OUTSIDE, relative_humidity=0.5, sky_temperature=260.0),
        Limits(dew_margin=1.0),
        Compartment(name="box", heat_capacity=1e6),
        Wall(name="a", from_="box", to="outside", area=1.0, thickness=0.1, conductivity=0.02,
             heat_capacity=20e3, sun=Sun(irradiance=0.0, absorptance=1.0), touch_limit=OUTSIDE),
        source(20.0),
    )  # fmt: skip
    before = solve(case)
    limit = before.walls["a"].outside_temperature + 1.0
    found = transient(case, [{"after": "10 s", "set": {"wall.a.sun.irradiance": 700.0}}],
                      until="1 min", changes={"wall.a.touch_limit": limit})  # fmt: skip
    assert found.first[:2] == ("wall.a", "touch")
    assert found.first.time - 10 == pytest.approx(20e3 / 2 / 700.0, rel=0.02)
    for path in ("wall.a.inside_temperature", "wall.a.outside_temperature", "total.dew_margin"):
        assert found.start.value(path) == pytest.approx(before.value(path), abs=1e-6)


@pytest.mark.parametrize("kind", [{"u_value": 4.0}, {"thickness": 0.02, "conductivity": 0.1}])
def test_what_stores_heat_changes_nothing_that_is_steady(kind):
    """A start from what is steady stays there: no face of a sunlit wall gives or takes heat."""
    case = Enclosure.of(
        Outside(name="", temperature=OUTSIDE), Compartment(name="box", heat_capacity=2e3),
        Wall(name="a", from_="box", to="outside", area=1.5, heat_capacity=8e3, solar=90.0, **kind),
        source(60.0),
    )  # fmt: skip
    alone, found = solve(case), transient(case, until="20 min")
    assert alone.value(AIR) > OUTSIDE + 5
    assert found.courses[AIR] == pytest.approx(alone.value(AIR), abs=0.005)  # its faces are two


def test_a_part_with_a_store_feels_the_warm_wall_of_its_duct():
    """In the state that `solve` finds it neither warms nor cools."""
    case = Enclosure.of(
        Outside(name="", temperature=OUTSIDE), Compartment(name="box"),
        FanType(name="f", curve=((0.0, 60.0), (0.03, 0.0)), flow_area=0.008),
        Duct(name="d", from_="outside", to="box", length=1.5, diameter=0.1, u_value=9.0,
             wall_temperature=OUTSIDE + 60),
        Fan(name="a", from_="box", to="outside", type="f"),
        Part(name="p", in_="duct.d", power=20.0, resistance=0.5, heat_capacity=50.0),
    )  # fmt: skip
    alone, found = solve(case), transient(case, until="10 min")
    assert alone.value(PART) > OUTSIDE + 0.5 * 20 + 3
    assert found.courses[PART] == pytest.approx(alone.value(PART), abs=1e-4)


def test_boxes_in_a_row():
    """T14: a step of the intake through n alike stirred boxes: P(n, t/tau)."""
    case = load_case("cases/bench-supply")  # front, then rear: two boxes in its stream
    quiet = {"part.*.power": 0.0, "wall.*.u_value": 0.0, "slot.sink.state": "blanked",
             "leak.cover.state": "blanked", "fan_type.*.motor_in_air": False,
             "compartment.*.heat_capacity": 1e5}  # fmt: skip
    made = case.with_changes(quiet)
    flow = 1006 * solve(made).mass_flow("fan.rear")
    start, until = made.outside.temperature, 3e5 / flow
    step = [{"after": 0.0, "set": {"outside.temperature": start + 0.1}}]
    found = transient(made, step, until=until)
    for n, name in ((1, "front"), (2, "rear")):
        share = (found.courses[f"compartment.{name}.temperature"] - start) / 0.1
        assert abs(share - gammainc(n, found.times * flow / 1e5)).max() < 1e-3  # flow moves with T


def test_draught_that_overcomes_the_wind():
    """Wind of 1 Pa blows down a box 2 m high until its heat turns the air: where the column is as
    light as the wind presses, rho_0 g H (1 - T_0/T) = 1 Pa."""
    case = Enclosure.of(
        Outside(name="", temperature=OUTSIDE),
        Outside(name="wind", temperature=OUTSIDE, over_pressure=1.0), Body(name="", size="1 2 1 m"),
        Compartment(name="box", outline="0 0 1 2 m", heat_capacity=500.0), source(20.0),
        Opening(name="top", from_="outside.wind", to="box", area=0.01, at="0 2 m"),
        Opening(name="low", from_="box", to="outside", area=0.01, at="0 0 m"),
    )  # fmt: skip
    more = [{"after": 0, "over": "20 min", "set": {"part.p.power": 80.0}}]
    found = transient(case, more, until="20 min")
    time, words = found.turns[0]
    column = 101325 / 287.05 / OUTSIDE * 9.80665 * 2.0
    at = np.interp(time, found.times, found.courses[AIR])
    assert at == pytest.approx(OUTSIDE / (1 - 1 / column), abs=0.5)
    assert "opening.top turns round" in words
    assert "turns round after" in found.verdicts()[-1]


# --- what a course says --------------------------------------------------------------------------


@pytest.fixture(scope="module")
def stopped() -> Transient:
    """The drive cabinet as its timeline has it: a fan stops, later the load falls over 2 min."""
    return transient(load_case("cases/drive-cabinet"), "fan-stop")


def test_the_answer_is_when_the_first_limit_is_reached(stopped):
    first = stopped.first
    assert (first.subject, first.limit, first.rising) == ("part.rectifier", "part", True)
    path, t = "part.rectifier.temperature", stopped.times
    at = np.interp(first.time, t, stopped.courses[path])
    assert at == pytest.approx(stopped.case["part.rectifier.limit"], abs=0.01)
    words = f"part.rectifier reaches 125 degC {int(first.time - 60) // 60} min"
    assert stopped.verdict.startswith(words)
    assert stopped.verdict.endswith("after fan.left stops")
    assert [(event.time, event.over) for event in stopped.events] == [(60.0, 0.0), (600.0, 120.0)]
    assert (stopped.scenario, stopped.name, t[0], t[-1]) == ("hot", "fan-stop", 0.0, 1800.0)
    apart = np.diff(t)  # 120 points at least, none closer than a two-thousandth but at a jump
    assert apart.max() <= 1800 / 120 * (1 + 1e-9)
    assert apart[apart > 0].min() >= 1800 / 2000 * (1 - 1e-9)
    words = "parts that follow what they sit on, whose store is theirs too: rectifier"
    assert words in stopped.notes
    made = stopped.to_dict()
    assert made["timelines"][0]["times_s"] == made["times_s"] == t.tolist()
    assert made["crossings"][0]["time_s"] == first.time
    degrees = made["courses"][f"{path}_degC"]
    assert np.array(degrees) == pytest.approx(stopped.courses[path] - 273.15)
    table = stopped.rows()
    assert [row["time_s"] for row in table] == t.tolist()
    json.dumps(made, allow_nan=False)
    short = transient(stopped.case, "fan-stop", until="5 min", scenario="base")
    assert short.notes[0].startswith(
        "comes at the end or later and is left out: part.rectifier.load goes"
    )


def test_start_and_end_are_steady_states(stopped):
    """A long stretch ends in what `solve` finds, parts in slots and walls with stores too."""
    for path in ("part.rectifier.temperature", "compartment.lower.temperature"):
        begin = stopped.courses[path][stopped.times < 60]
        assert begin == pytest.approx(stopped.start[path], abs=1e-6), path
    stores = {"wall.cover.heat_capacity": 900.0, "part.*.heat_capacity": 100.0}
    case = load_case("cases/bench-supply").with_changes(stores)
    found = transient(case, start="cold", until="4 h")
    end = solve(case)
    for path in (p for p in found.courses if p.endswith(".temperature") and "outside" not in p):
        assert found.courses[path][-1] == pytest.approx(end[path], abs=0.01), path
    assert found.courses["part.sink.temperature"][0] == case.outside.temperature


@every(("limit", "events", "start", "words"), [
    (20.0, [], "cold", "no limit reached in 5 min; compartment.box comes closest, 16.7 K margin"),
    (3.0, [{"after": 280, "set": {"part.p.load": 2.0}}], "cold",
     "compartment.box reaches 23 degC after 4 min 30 s of a cold start, before part.p.load"),
    (13.0, [{"after": 280, "set": {"part.p.load": 0.0}}], "steady",
     "compartment.box is 0.9 K over 33 degC from the start"),
    (16.0, [{"after": 9, "set": {"compartment.box.air_limit": OUTSIDE + 1}}], "steady",
     "compartment.box reaches 21 degC at once as compartment.box.air_limit becomes"),
])  # fmt: skip
def test_first_lines(limit, events, start, words):
    """3 K are reached after tau ln(P/(P - 18 W/K 3 K)) = 270 s."""
    found = transient(box(source(), limit=limit), events, start=start, until=300.0)
    assert found.verdict.startswith(words), found.verdict


def test_limits_are_told_in_the_order_in_which_they_are_reached():
    """What is over from the start first, then by the closed form of one store, then the rest."""
    parts = [Part(name=n, in_="box", power=0.0, resistance=0.01, limit=OUTSIDE + k)
             for n, k in (("slow", 5.0), ("fast", 2.0), ("never", 90.0))]  # fmt: skip
    found = transient(box(source(), *parts, limit=-1.0), start="cold", until=900.0)
    table = next(each for each in found.sheet.of("page") if each.name == "limits")
    told = {column.name: column.values for column in table.columns}
    assert told["Limits"] == ["compartment.box", "part.fast", "part.slow", "part.never"]
    times = [-20e3 / 18 * math.log(1 - k * 18 / 250) for k in (2.0, 5.0)]
    assert [c.time for c in found.crossings] == pytest.approx(times, rel=1e-3)
    assert told["reached"][0] == "from the start"
    assert told["reached"][3] == "-"


def test_a_fan_that_stands_in_the_design_is_not_out():
    """Its neighbour in stall makes numbers void; once one that ran stands, that is an outage."""
    case = pair(scenarios={}).with_changes({"compartment.box.heat_capacity": 300.0})
    stops = [{"after": 5.0, "set": {"fan.b.state": "stopped"}}]
    found = transient(case, start="cold", until=10.0, events=stops)
    assert {(v.subject, v.dip) for v in found.void} == {
        ("fan.a", False), ("fan.b", False), ("fan.a", True)}  # fmt: skip
    spare = case.with_changes({"fan.b.state": "stopped"})
    (only,) = transient(spare, start="cold", until=10.0).void
    assert (only.word, only.subject, only.dip) == (STALL, "fan.a", False)


def thermostat(**more):
    """A quiet box: 150 W, 5 W/K through its wall, 8 kJ/K, a fan that starts at its lowest speed."""
    control = {"by": "compartment.box", "temperature": [318.15, 318.25], "speed": [0.0, 1.0],
               "hysteresis": 5.0}  # fmt: skip
    curve = {"flow": [0.0, 0.03, 0.05], "rise": [80.0, 50.0, 0.0]}
    kind = FanType(name="f", curve=curve, flow_area=0.008, speed_range=[0.4, 1.0])
    vent = Opening(name="in", from_="outside", to="box", area=0.008)
    fan = Fan(name="rear", from_="box", to="outside", type="f", speed_control=control | more)
    return box(kind, vent, fan, source(150.0), store=8e3, conductance=5.0)


def test_a_thermostat_runs_between_its_two_temperatures():
    """On at 45.1 degC, off 5 K below, at full speed between; while it is off the box follows its
    exponential: tau ln((30 - 20.1)/(30 - 25.1)) until it starts again."""
    found = transient(thermostat(), start="cold", until="80 min")
    words = [event.text for event in found.events]
    assert words[:3] == ["fan.rear starts as compartment.box asks",
                         "fan.rear stops as compartment.box asks",
                         "fan.rear starts as compartment.box asks"]  # fmt: skip
    first, off, on = (event.time for event in found.events[:3])
    assert first == pytest.approx(8e3 / 5 * math.log(30 / (30 - 25.1)), rel=1e-5)
    assert on - off == pytest.approx(8e3 / 5 * math.log((30 - 20.1) / (30 - 25.1)), rel=1e-5)
    ratio, t = found.courses["fan.rear.speed_ratio"], found.times
    assert set(ratio) == {0.0, 1.0}
    assert (ratio[(t > first) & (t < off)] == 1.0).all()
    assert (ratio[(t > off) & (t < on)] == 0.0).all()
    assert found.courses[AIR][t > off].min() == pytest.approx(313.25, abs=1e-3)


def test_noise_that_begins_is_over_its_limit_from_then_on():
    """Silence has no level, yet keeps the limit. At once where the box by its exponential asks for
    the fan; as the fan speeds up from rest, where 50 log10 of its speed is 5 dB below the whole."""
    loud = {"fan_type.f.noise_dBA": 50.0, "fan_type.f.noise.distance": 1.0}
    held = {"limits.noise_dBA": 45.0, "limits.noise_distance": 1.0}
    case = thermostat().with_changes(loud | held)
    found = transient(case, start="cold", until="60 min")
    assert (found.first.subject, found.first.rising) == ("total.noise", True)
    assert found.first.time == pytest.approx(8e3 / 5 * math.log(30 / (30 - 25.1)), rel=1e-5)
    assert found.verdict.startswith("total.noise reaches 45 dBA at once as fan.rear starts")
    free = {"fan.rear.speed_control": None, "fan.rear.speed": 0.0, "fan_type.f.speed_range": None}
    event = {"after": 10.0, "over": 100.0, "set": {"fan.rear.speed": 1.0}}
    ramp = transient(case, [event], changes=free, until="3 min")
    assert ramp.first.subject == "total.noise"
    assert ramp.first.time == pytest.approx(10 + 100 * 10 ** (-5 / 50), abs=0.01)


def test_a_thermostat_that_is_switched_off_comes_back_where_its_box_asks():
    """While its fan is stopped the box nears 30 K; once it may run it starts at once, and stops."""
    off = ["40 min: fan.rear.state=stopped", "80 min: fan.rear.state=running"]
    found = transient(thermostat(), off, start="cold", until="90 min")
    words = [(event.time, event.text) for event in found.events]
    asks = "as compartment.box asks"
    assert words[:3] == [(2400.0, "fan.rear stops"), (4800.0, "fan.rear starts"),
                         (4800.0, f"fan.rear starts {asks}")]  # fmt: skip
    assert words[3][1] == f"fan.rear stops {asks}"
    at = np.interp(4800.0, found.times, rise(found))
    assert at == pytest.approx(30 * (1 - math.exp(-4800 / 1600)), abs=1e-3)


def test_a_start_from_the_mean_speed_of_a_thermostat_is_said():
    """Steady between its two speeds; then off, its box by the exponential, until it switches."""
    case = thermostat().with_changes({"fan_type.f.speed_range": None})
    found = transient(case, until="1 min")
    mean, begin = found.start["fan.rear.speed_ratio"], found.courses[AIR][0]
    assert 0.0 < mean < 1.0
    assert 318.15 < begin < 318.25
    assert found.courses["fan.rear.speed_ratio"][0] == 0.0
    waits = 1600 * math.log((begin - OUTSIDE - 30) / (25.1 - 30))
    assert found.events[0].time == pytest.approx(waits, rel=1e-3)
    (note,) = [each for each in found.notes if "mean speed" in each]
    assert f"fan.rear at speed {mean:.3g}, which goes on at 0;" in note
    for other, more in ((case, {"start": "cold"}), (box(source()), {})):
        assert "mean speed" not in str(transient(other, until=9.0, **more).notes)


def test_a_fan_that_would_switch_without_end_is_refused():
    with pytest.raises(NoSolution, match="switches to and fro without end"):
        transient(thermostat(hysteresis=0.0), start="cold", until="1 h")
    with pytest.raises(NoSolution, match="which needs no steady state"):
        transient(thermostat(), until="1 h")


def test_a_part_on_one_that_stores_heat_is_not_told_to_be_quicker():
    """The store of what carries it is its own: with R between, both follow tau = C / G of one."""
    base = Part(name="base", in_="box", power=0.0, resistance=0.1, heat_capacity=5e3)
    on, alone = (Part(name=name, in_=inside, power=50.0, resistance=0.2)
                 for name, inside in (("on", "part.base"), ("alone", "box")))  # fmt: skip
    wall = {"wall.a.heat_capacity": 1.0}
    held = box(base, on, store=1e12, conductance=1e9).with_changes(wall)
    found = transient(held, start="cold", until="20 min")
    foot = 50 * 0.1 * (1 - np.exp(-found.times / (5e3 * 0.1)))
    assert abs(rise(found, "part.on.temperature") - foot - 50 * 0.2).max() < 0.01
    assert "quicker" not in str(found.notes)
    assert "parts that follow what they sit on, whose store is theirs too: on" in found.notes
    both = transient(box(base, on, alone, store=1e12).with_changes(wall), until=9.0).notes
    assert "parts without heat_capacity or mass, which follow at once: alone" in both
    assert "quicker" in str(both)


def test_nothing_flows_through_what_is_closed_at_a_time():
    """A box blown through is shut: from then on it follows the exponential of its wall alone; the
    same events as text."""
    control = {"fan.rear.speed_control": None, "fan.rear.speed": 1.0}
    made = thermostat().with_changes(control)
    shut = "10 s: fan.rear.state=blanked; opening.in.state=blanked"
    found = transient(made, [shut, "50 min over 5 min: part.p.load=0.5"], until="1 h")
    assert found.end.mass_flow("opening.in") == found.end.mass_flow("fan.rear") == 0.0
    t = found.times[(found.times > 10) & (found.times < 3000)]
    begin = rise(found)[0]
    exact = 30 - (30 - begin) * np.exp(-(t - 10) * 5 / 8e3)
    assert abs(np.interp(t, found.times, rise(found)) - exact).max() < 1e-3
    assert found.events[-1].over == 300.0


def test_flows_that_end_are_followed_by_those_the_air_comes_to():
    """Past a fold the air is marched at held temperatures: mass and pressure balance there, and
    those before are not among what balances."""
    case = thermostat().with_changes({"fan.rear.speed_control": None, "fan.rear.speed": 1.0})
    inputs = Inputs.of(case)
    stretch = Stretch(lambda times: inputs, True)
    start = stretch.steady_model.at_rest(1)
    y = stretch.begun(0.0, stretch.begin_stores.cold(start), np.zeros((1, 1)), start)
    settled, turned = stretch.last, start._replace(mass_flow=-stretch.last.mass_flow)
    stretch.last = turned  # flows that there are none of: backwards through a running fan
    leg = stretch._turned(0.0, y, 60.0)
    assert leg.end == pytest.approx(0.05)
    assert [turn.time for turn in stretch.turns] == [leg.end]
    assert stretch.last.mass_flow == pytest.approx(settled.mass_flow, rel=1e-4)
    assert stretch.last.mass_flow.sum() == pytest.approx(2 * stretch.last.mass_flow[0, 0])


def test_a_timeline_may_name_the_day_it_follows(tmp_path):
    """`inputs_csv` beside the case: its end is that of the timeline, its faults are found."""
    day = tmp_path / "day.csv"
    day.write_text("time[h],outside.temperature[degC]\n0,20\n2,32\n")
    text = small.SOUND + '[timeline.day]\ninputs_csv = "day.csv"\n'
    case = load_case(small.written(tmp_path, text))
    found = transient(case, "day")
    assert (found.until, found.courses["outside.temperature"][-1]) == (7200.0, 305.15)
    save_case(case, tmp_path / "again.toml")
    assert load_case(tmp_path / "again.toml").studies["timeline"] == case.studies["timeline"]
    note = "follows its course, whatever the scenario says of it: outside.temperature 20 degC to 32"
    assert found.notes[0].startswith(note)
    for units, head in (("metric", "outside 20.0 to 32.0 degC"), ("us", "68.0 to 89.6 degF")):
        assert head in "\n".join(found.sheet.caption.lines(units))
    assert found.caption.surroundings().startswith("outside 20 to 32 degC")
    early = transient(case, "day", until="1 h")
    assert early.until == 3600.0
    again = transient(case, inputs=day)
    assert again.courses[AIR] == pytest.approx(found.courses[AIR])
    for rows_, words in (
        ("0,20\n0,21\n", "line 3: time: must rise from row to row"), ("0,x\n", "line 2: outside"),
    ):  # fmt: skip
        day.write_text(f"time[h],outside.temperature[degC]\n{rows_}")
        with pytest.raises(CaseError, match=rf"timeline\.day\.inputs_csv: day\.csv: {words}"):
            load_case(small.written(tmp_path, text))
    day.unlink()
    with pytest.raises(CaseError, match=r"^day\.csv: cannot be read"):
        transient(case, inputs=day)


def test_an_event_that_changes_nothing_is_noted():
    """Also one that comes as the course ends; not one that stops what moves."""
    events = ["1 s: part.p.load=1", "2 s: part.p.load=0.5", "3 s over 2 s: part.p.load=0.9",
              "4 s: part.p.load=0.7", "8 s: part.p.load=0.7", "9 s: part.p.load=0"]  # fmt: skip
    notes = transient(box(source()), events, until=9.0).notes
    assert notes[:2] == (
        "comes at the end or later and is left out: part.p.load becomes 0",
        "changes nothing, since it is so already: part.p.load becomes 1 after 1 s and part.p.load "
        "becomes 0.7 after 8 s",
    )
    still = transient(box(source()), ["2 s: part.p.load=0.5"], until=9.0).notes
    assert "changes nothing" not in str(still)


def test_wrong_input_is_refused_by_name(tmp_path):
    case = box(source())
    for words, more in (
        ("until: must be given", {}), ("until: must be above 0 s", {"until": 0.0}),
        ("start: must be", {"until": 9.0, "start": "warm"}),
        ("timeline.x: no such timeline", {"events": "x"}),
        ("events.0: a time and what is set then is wanted", {"until": 9.0, "events": ["stop"]}),
        ("events.0.after", {"until": 9.0, "events": [{"after": "5 kg", "set": {"a": 1}}]}),
        ("events.0.set", {"until": 9.0, "events": [{"after": 5.0}]}),
        ("events.0.after: comes after the end, 9 s (got 10 s)", {"until": 9.0, "events": [
            {"after": 10.0, "set": {"part.p.load": 0.0}}]}),
        ("events.0: part.p.load: stands twice", {"until": 9.0, "events": [
            "1 s: part.p.load=1; part.p.load=2"]}),
        ("events.1: part.p.load is set at 1 s by events.0 as well", {"until": 9.0, "events": [
            {"after": 1, "set": {"part.p.load": 0.0}}, "1 s: part.*.load=0.5"]}),
        ("part.p.limit: has no value", {"until": 9.0, "events": [
            {"after": 1, "over": 1, "set": {"part.p.limit": 400.0}}]}),
        ("outside.temperature: times must rise", {"until": 9.0, "inputs": {
            "outside.temperature": ([0, 0], [300, 301])}}),
    ):  # fmt: skip
        with pytest.raises(CaseError, match=re.escape(words)):
            transient(case, **more)
    (file := tmp_path / "day.csv").write_text("time[h],outside.temperature[degC]\n0,20\n1,x\n")
    with pytest.raises(CaseError, match=r"day\.csv: line 3: "):
        transient(case, until=9.0, inputs=file)
    file.write_text("time[min],outside.temperature[degC],part.p.load\n0,20,1\n30,30,2\n")
    found = transient(case, until=1800.0, inputs=file)
    assert found.courses["outside.temperature"][-1] == pytest.approx(303.15)
    assert found.courses["total.heat"][-1] == pytest.approx(500.0)


def test_an_outage_in_a_scenario_is_ridden_through_from_the_state_of_that_scenario():
    """Without its fan the box is one store: from the steady state T0 of 2 K more outside it reaches
    its limit after C/UA ln((T1 - T0)/(T1 - T)), T1 = P/UA above the outside."""
    fan_type = FanType(name="f", curve=[(0.0, 50.0), (0.05, 0.0)], flow_area=0.01)
    case = box(source(), Opening(name="o", from_="box", to="outside", area=0.01), fan_type,
               Fan(name="in", from_="outside", to="box", type="f"), limit=14.0)  # fmt: skip
    case = replace(case, scenarios={"warm": {"outside.temperature": "+ 2 K"}})
    for scenario, warmer in (("fan.in-out", 0.0), ("warm+fan.in-out", 2.0)):
        begun = solve(case.with_changes({"outside.temperature": OUTSIDE + warmer}))[AIR] - OUTSIDE
        still = warmer + 250 / 18
        time = 20e3 / 18 * math.log((still - begun) / (still - 12.0))
        found = ride(case.with_changes({"compartment.box.air_limit": OUTSIDE + 12.0}), scenario,
                     "base", {})  # fmt: skip
        assert (found.scenario, found.time) == (scenario, pytest.approx(time, rel=1e-3))


def test_how_long_an_outage_is_ridden_through(tmp_path):
    """Of each outage the time to the first limit, longer with more to heat."""
    text = small.SOUND.replace('limit = "80 degC"', 'limit = "57 degC"')
    case = load_case(small.written(tmp_path, text + "[variant.heavy]\npart.board.mass = \"9 kg\"\n"
                                   'part.board.material = "steel"\n'))  # fmt: skip
    case = case.with_changes({"part.board.heat_capacity": 900.0})
    found = compare(case, variants=["base", "heavy"], scenarios=["base", "fan.left-out"],
                    ride_through=True)  # fmt: skip
    light, heavy = found.rides
    assert (light.scenario, light.subject) == ("fan.left-out", "part.board")
    assert 1.0 < light.time < heavy.time < 3600.0
    assert "shortest ride through an outage: heavy" in found.verdicts()[-1]
    assert [row["variant"] for row in found.to_dict()["ride_through"]] == [None, "heavy"]
    plain = compare(case, variants=["base", "heavy"], scenarios=["base", "fan.left-out"])
    every, others = ([table.name for table in each.sheet.tables] for each in (found, plain))
    assert len(every) > len(others)  # behind the matrix, and none of the others is gone
    assert [*every[:1], *every[1 + len(every) - len(others) :]] == others
    none = compare(case, scenarios=["base"], ride_through=True)
    assert "no scenario here is an outage to ride through" in none.verdicts()[-1]
