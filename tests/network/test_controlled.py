"""Speeds that follow temperatures: closed forms, conservation, whole solves at the speeds found.

Invented data throughout.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import brentq

import flownet
from flownet.enclosure import enclosure as w
from flownet.schema.errors import CaseError, NoSolution
from flownet.solver import tolerances
from flownet.studies.rank import rank
from tests.test_cases import load

CP, GAS, PRESSURE = 1006.0, 287.05, 101325.0
OUTSIDE, POWER, RESISTANCE, AREA, LOSS = 293.15, 200.0, 0.1, 0.01, 2.5
SHUT_OFF, FREE = 100.0, 0.05  # Pa, m3/s of the straight curve at 1.2 kg/m3
KELVIN = 273.15
DIP = [(0.0, 90.0), (0.015, 45.0), (0.025, 62.0), (0.05, 0.0)]


def control(by="part.load", temperature=(30, 70), speed=(0.2, 1.0)):
    """Temperatures in degC."""
    return {"by": by, "temperature": [t + KELVIN for t in temperature], "speed": speed}


def case(follow=None, *others, fan=None, **kind):
    """A part in a box with a hole and one fan."""
    curve = {"curve": [(0, SHUT_OFF), (FREE, 0)], "flow_area": 0.0095, "reference_density": 1.2}
    ends = {"from_": "box", "to": "outside", "type": "axial", "speed_control": follow}
    return w.Enclosure.of(
        w.Outside(temperature=OUTSIDE), w.Compartment(name="box"),
        w.Vent(name="hole", from_="outside", to="box", area=AREA, loss=LOSS),
        w.Fan(**{"name": "first", **ends, **(fan or {})}),
        w.FanType(**{"name": "axial", **curve, **kind}),
        w.Part(name="load", in_="box", power=POWER, resistance=RESISTANCE), *others,
    )  # fmt: skip


def mass_flow(speed):
    """Fan laws on a straight curve against K rho v^2/2, the air behind the hole warmed: scalar."""
    cold = PRESSURE / (GAS * OUTSIDE)
    viscosity = 1.458e-6 * OUTSIDE**1.5 / (OUTSIDE + 110.4)  # US Standard Atmosphere 1976
    slow = 30 * viscosity / (cold * np.sqrt(4 * AREA / np.pi))  # where the drop turns linear

    def gap(flow):
        warm = PRESSURE / (GAS * (OUTSIDE + POWER / (CP * flow)))
        rise = SHUT_OFF * warm / 1.2 * speed**2 * (1 - flow / (warm * FREE * speed))
        velocity = flow / (cold * AREA)
        return rise - LOSS * cold * velocity * np.sqrt(velocity**2 + slow**2) / 2

    return brentq(gap, 1e-3, 1.19 * FREE * speed, xtol=1e-15, rtol=1e-14)


def part_temperature(speed):
    return OUTSIDE + POWER / (CP * mass_flow(speed)) + POWER * RESISTANCE


@pytest.mark.parametrize(("temperature", "speed"), [
    ((30, 70), (0.2, 1.0)),
    ((45, 50), (0.2, 1.0)),
    ((48, 48.001), (0.3, 1.0)),
    ((30, 46, 47, 80), (0.2, 0.3, 0.8, 1.0)),
])  # fmt: skip
def test_the_balance_of_one_fan_and_one_part(temperature, speed):
    """The root of speed = points(T(speed)), by a root finder on the scalar equation."""
    points = [t + KELVIN for t in temperature]
    expected = brentq(
        lambda s: s - np.interp(part_temperature(s), points, speed), speed[0], speed[-1],
        xtol=1e-14,
    )  # fmt: skip
    found = flownet.solve(case(control(temperature=temperature, speed=speed)))
    assert found["fan.first.speed_ratio"] == pytest.approx(expected, rel=3e-6)
    assert found["part.load.temperature"] == pytest.approx(part_temperature(expected), abs=1e-4)
    asked = np.interp(found["part.load.temperature"], points, speed)
    near = abs(found["part.load.temperature"] - np.interp(
        found["fan.first.speed_ratio"], speed, points))  # fmt: skip
    assert near < 1e-6 or asked == pytest.approx(found["fan.first.speed_ratio"], rel=1e-6)


def test_heat_is_carried_by_the_air_that_the_speed_moves():
    """Conservation of energy and mass at the speed found."""
    found = flownet.solve(case(control()))
    flow, warm = found.mass_flow("fan.first"), found["compartment.box.temperature"]
    assert CP * flow * (warm - OUTSIDE) == pytest.approx(POWER, rel=1e-6)
    assert found.mass_flow("vent.hole") == pytest.approx(flow, rel=1e-9)


@pytest.mark.parametrize(("temperature", "speed"), [((60, 80), (0.6, 1.0)), ((20, 30), (0.2, 0.7))])
def test_speed_is_constant_beyond_the_ends(temperature, speed):
    """Cooler than the first point, warmer than the last: a plain solve at that end."""
    found = flownet.solve(case(control(temperature=temperature, speed=speed)))
    end = speed[0] if temperature[0] == 60 else speed[1]
    assert found["fan.first.speed_ratio"] == end
    assert same_numbers(found, flownet.solve(case(fan={"speed": end})))


def same_numbers(one, other):
    tables = [
        {path: row.to_dict() for path, row in getattr(s, name).items()}
        for s in (one, other) for name in ("compartments", "branches", "fans", "parts")
    ]  # fmt: skip
    return tables[:4] == tables[4:]


def test_a_result_is_that_of_a_plain_solve_at_its_speed():
    """Of the demo with both fans following, key by key."""
    changes = {
        "fan.left.speed_control": control("part.rectifier", (110, 150)),
        "fan.right.speed_control": control("compartment.upper", (50, 55, 65), (0.3, 0.5, 1)),
    }
    demo = load("drive-cabinet")
    found = flownet.solve(demo, scenario="hot", changes=changes)
    ratios = {f"fan.{n}.speed": found[f"fan.{n}.speed_ratio"] for n in ("left", "right")}
    assert all(0.2 < ratio < 1 for ratio in ratios.values())
    plain = flownet.solve(demo, scenario="hot", changes=ratios)
    assert same_numbers(found, plain)
    warm = [found["part.rectifier.temperature"], found["compartment.upper.temperature"]]
    asked = (np.interp(warm[0] - KELVIN, (110, 150), (0.2, 1)),
             np.interp(warm[1] - KELVIN, (50, 55, 65), (0.3, 0.5, 1)))  # fmt: skip
    assert tuple(ratios.values()) == pytest.approx(asked, rel=1e-6)


def second(follow, **keys):
    ends = {"from_": "box", "to": "outside", "type": "axial", "speed_control": follow}
    return w.Fan(**{"name": "second", **ends, **keys})


def test_two_fans_on_one_sensor():
    """Alike: half the flow each of one fan with twice the flow. Not alike: each by its points."""
    alike = flownet.solve(case(control(), second(control())))
    double = flownet.solve(case(control(), curve=[(0, SHUT_OFF), (2 * FREE, 0)], flow_area=0.019))
    for path in ("fan.first.speed_ratio", "part.load.temperature"):
        assert alike[path] == pytest.approx(double[path], rel=1e-6)
    assert 2 * alike.mass_flow("fan.second") == pytest.approx(double.mass_flow("fan.first"))
    late = control(temperature=(40, 50, 60), speed=(0.4, 0.5, 1.0))
    found = flownet.solve(case(control(), second(late)))
    warm = found["part.load.temperature"] - KELVIN
    asked = np.interp(warm, (30, 70), (0.2, 1)), np.interp(warm, (40, 50, 60), (0.4, 0.5, 1))
    ratios = found["fan.first.speed_ratio"], found["fan.second.speed_ratio"]
    assert ratios == pytest.approx(asked, rel=1e-6)


def rooms(seed, steep):
    """Two rooms in a row, each with a fan out and a part; each fan follows one of four things."""
    draw = np.random.default_rng(seed)
    sensors = ("part.load", "compartment.next", "part.more", "compartment.box")

    def follow():
        steps = [0.02, 0.01] if steep else 1 + 20 * draw.random(2)
        points = np.cumsum([25 + 30 * draw.random(), *steps])
        speed = np.sort(0.15 + 0.85 * draw.random(3))
        return control(str(draw.choice(sensors)), points, tuple(speed))

    return case(
        follow(), w.Compartment(name="next"),
        w.Vent(name="between", from_="box", to="next", area=0.006, loss=1.5),
        w.Vent(name="own", from_="outside", to="next", area=0.003 + 0.01 * draw.random(), loss=2),
        w.Part(name="more", in_="next", power=50 + 150 * draw.random(), resistance=0.15),
        second(follow(), from_="next"), second(follow(), name="third"),
    )  # fmt: skip


@pytest.mark.parametrize("seed", [0, 1, 2, 3])
def test_several_sensors_fit_their_speeds(seed):
    found = flownet.solve(rooms(seed, steep=seed % 3 == 0))
    assert_fits(found)


def assert_fits(found):
    for path in found.fans:
        points = found.case.fans[path[4:]].speed_control
        follows = found.followed(path)
        low, high = (points.asked(follows.temperature + d) for d in (-1e-6, 1e-6))
        ratio = found.fans[path].speed_ratio
        assert low - 1e-6 * ratio <= ratio <= high + 1e-6 * ratio


# --- many at a time ------------------------------------------------------------------------------


def test_variants_with_and_without_control_and_one_that_fails():
    """Each as it is alone; the one without a steady speed says so in its place."""
    made = case(fan={"speed": 0.6}, speed_range=(0.4, 1.0))
    follows = [
        None, control(), control(temperature=(60, 60.001), speed=(0, 1.0)),
        control("compartment.box"), control("outside", (0, 40)),
    ]  # fmt: skip
    batch = flownet.solve_many(made, {"fan.first.speed_control": follows})
    assert list(batch.ok) == [True, True, False, True, True]
    assert "fan.first stands still and starts by turns" in batch.status[2]
    assert np.isnan(batch["part.load.temperature"][2])
    for place in (0, 1, 3, 4):
        alone = flownet.solve(made, changes={"fan.first.speed_control": follows[place]})
        assert batch["fan.first.speed_ratio"][place] == pytest.approx(
            alone["fan.first.speed_ratio"], rel=1e-6)  # fmt: skip
    assert batch["fan.first.speed_ratio"][[0, 4]] == pytest.approx([0.6, 0.6])
    assert batch.select(1).followed("fan.first").by == "part.load"
    assert batch.select(0).followed("fan.first") is None


def test_warmer_outside_is_answered_by_more_speed():
    """The balance as a function of the outside: speed rises, and less warm than at fixed speed."""
    outside = np.linspace(283.15, 313.15, 7)
    batch = flownet.solve_many(case(control()), {"outside.temperature": outside})
    assert (np.diff(batch["fan.first.speed_ratio"]) > 0).all()
    rise = np.diff(batch["part.load.temperature"])
    assert ((rise > 0) & (rise < np.diff(outside))).all()


def test_points_and_power_may_vary():
    batch = flownet.solve_many(
        case(control()),
        {"fan.first.speed_control.temperature.1": [330.0, 340.0], "part.load.power": [150, 250]},
    )
    for place, (high, power) in enumerate(((330.0, 150), (340.0, 250))):
        follow = {**control(), "temperature": [303.15, high]}
        alone = flownet.solve(case(follow), changes={"part.load.power": power})
        ratio = batch["fan.first.speed_ratio"][place]
        assert ratio == pytest.approx(alone["fan.first.speed_ratio"], rel=1e-6)


def test_a_dead_fan_is_not_controlled_and_the_other_answers():
    made = case(control(), second(control()))
    both, one = flownet.solve(made), flownet.solve(made, scenario="fan.second-out")
    assert (one["fan.second.speed_ratio"], one.followed("fan.second")) == (0.0, None)
    assert one["fan.first.speed_ratio"] > both["fan.first.speed_ratio"]
    given = {"fan.first.speed_control": None, "fan.first.speed": one["fan.first.speed_ratio"]}
    plain = flownet.solve(made, scenario="fan.second-out", changes=given)
    assert same_numbers(one, plain)


# --- what has no balance -------------------------------------------------------------------------


def test_an_on_off_fan_has_no_steady_speed():
    """Off it is above 60 degC, at its slowest speed below: it cycles."""
    made = case(control(temperature=(60, 60.001), speed=(0, 1.0)), speed_range=(0.4, 1.0))
    with pytest.raises(NoSolution, match=r"no steady speed: by part.load fan.first stands still"):
        flownet.solve(made)


def test_a_fan_with_a_dip_finds_its_speed_or_says_that_it_hunts():
    """At most speeds one flow, at some a jump of stall; nothing is returned that does not fit."""
    follows = [control("compartment.box", (t, t + 8), (0.2, 1.0)) for t in range(20, 60, 2)]
    batch = flownet.solve_many(
        case(curve=DIP), {"fan.first.speed_control": follows, "vent.hole.area": [0.003] * 20}
    )
    solved = [place for place in range(20) if batch.ok[place]]
    assert len(solved) > 10
    for place in solved:
        assert_fits(batch.select(place))
    for words in batch.status:
        assert not words or "hunts" in words


def test_a_part_that_is_not_there_sets_no_speed():
    slot = w.Slot(name="card", from_="outside", to="box", area=0.004, loss=2.0, state="empty",
                  empty={"area": 0.004, "loss": 2.7})  # fmt: skip
    made = case(control("part.chip"), slot, w.Part(name="chip", in_="slot.card", power=5))
    with pytest.raises(NoSolution, match=r"speed_control.by: part.chip is not there"):
        flownet.solve(made)


def test_what_does_not_converge_says_what_was_left(monkeypatch):
    monkeypatch.setattr(tolerances, "SPEED_ROUNDS", 1)
    with pytest.raises(NoSolution, match=r"speed 0\.\d+ where part.load asks for 0\.\d+"):
        flownet.solve(case(control()))


def test_operating_points_are_refused_by_name():
    with pytest.raises(CaseError, match=r"fan.first.speed_control: all operating points"):
        flownet.operating_points(case(control(), curve=DIP))
    assert flownet.solve(case(control("outside"), curve=DIP)).points is None


# --- limits, words, derivatives ------------------------------------------------------------------


def test_the_speed_range_holds_a_speed_and_says_so():
    """Asked for 0.29 to 0.4: held at the lowest speed, as four-wire fans do (common practice)."""
    held = flownet.solve(case(control(temperature=(40, 90)), speed_range=(0.5, 1.0)))
    assert held["fan.first.speed_ratio"] == 0.5
    (finding,) = [f for f in held.findings if f.rule == "speed-below-minimum"]
    assert "held at 0.5" in finding.message()
    high = flownet.solve(case(control(temperature=(20, 30)), speed_range=(0.2, 0.8)))
    assert high["fan.first.speed_ratio"] == 0.8
    free = flownet.solve(case(control(), speed_range=(0.2, 1.0)))
    assert not [f for f in free.findings if f.rule == "speed-below-minimum"]


def test_a_speed_of_zero_stands():
    found = flownet.solve(case(
        control(temperature=(90, 100), speed=(0, 1)), second(None, speed=0.5)))  # fmt: skip
    assert (found["fan.first.speed_ratio"], found["fan.first.region"]) == (0.0, "stopped")


def test_the_supply_turns_a_ratio_as_it_turns_a_given_one():
    """At 60 Hz the ratio of the points is on top of what the mains do."""
    mains = w.Supply(name="mains", voltage=230.0, frequency=60.0)
    keys = {"fan": {"supply": "mains"}, "supply": "230 V 50 Hz"}
    found = flownet.solve(case(control("outside", (0, 10), (0.2, 0.6)), mains, **keys))
    given = {**keys, "fan": {"supply": "mains", "speed": 0.6}}
    assert same_numbers(found, flownet.solve(case(None, mains, **given)))


def test_the_ranking_holds_the_answer_of_the_control():
    """Every derivative against central differences of whole balances."""
    made = case(control(), second(control("compartment.box", (25, 60), (0.1, 0.9))))
    of = ("part.load.temperature", "fan.first.speed_ratio")
    answers = [{e.path: e for e in rank(made, each).effects} for each in of]
    paths = answers[0].keys() & answers[1].keys()
    assert {"fan.first.speed_control.temperature.0", "fan.second.speed_control.speed.1",
            "part.load.power", "outside.temperature"} <= paths  # fmt: skip
    every = answers[0] | answers[1]
    assert not {"fan.first.speed", "fan.second.speed"} & every.keys()
    step = {path: 0.02 if one.shift else 1e-3 * abs(one.value) for path, one in every.items()}
    moved = {path: np.full(2 * len(every), one.value) for path, one in every.items()}
    for k, path in enumerate(every):
        moved[path][2 * k : 2 * k + 2] += -step[path], step[path]
    ends = flownet.solve_many(made, moved)
    for name, answer in zip(of, answers, strict=True):
        slopes = np.diff(ends[name].reshape(-1, 2))[:, 0] / (2 * np.array(list(step.values())))
        for path, slope in zip(every, slopes, strict=True):
            if path in answer:
                wanted = pytest.approx(slope, rel=1e-4, abs=1e-9)
                assert answer[path].derivative == wanted, (path, name)


def test_speeds_and_what_they_follow_are_told():
    found = flownet.solve(case(control()))
    row = found.to_dict()["fans"]["fan.first"]
    assert row["speed_by"] == "part.load"
    assert row["speed_by_temperature_degC"] == found["part.load.temperature"] - KELVIN
    plain = flownet.solve(case()).to_dict()["fans"]["fan.first"]
    assert (plain["speed_by"], plain["speed_by_temperature_degC"]) == (None, None)


@pytest.mark.parametrize(("temperature", "speed", "sentence"), [
    ((30, 30), (0.2, 1), "speed_control.temperature: the second must be above the first"),
    ((30, 50, 40), (0.2, 0.5, 1), "temperature: the third must be above the second"),
    ((30, 50), (0.2, 0.5, 1), r"speed: one for each temperature is wanted \(got 3 for 2\)"),
    ((30, 50), (0.8, 0.5), "speed: the second must not be below the first"),
    (range(30, 43), [0.5] * 13, "takes 2 to 12 values"),
    ((30,), (0.5,), "takes 2 to 12 values"),
])  # fmt: skip
def test_points_that_make_no_curve_are_refused(temperature, speed, sentence):
    with pytest.raises(CaseError, match=sentence):
        case(control(temperature=temperature, speed=speed))
