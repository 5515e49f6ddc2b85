"""A stretch in time: its slopes, the heat that it keeps, fans that switch in it."""

from __future__ import annotations

import math

import numpy as np
import pytest

from flownet import (
    Body,
    Compartment,
    Duct,
    Enclosure,
    Exchange,
    Fan,
    FanType,
    Opening,
    Outside,
    Part,
    Recirculation,
    Slot,
    Wall,
    solve,
    transient,
)
from flownet.columns import Inputs
from flownet.enclosure.heat import Sun
from flownet.equations.state import State
from flownet.solver import tolerances as tol
from flownet.solver.in_time import LostError, Stretch
from flownet.solver.switching import Following

CP, OUTSIDE = 1006.0, 293.15
LOW, HIGH = 3000.0, 900.0  # J/K of what stands in the two halves
AXIAL = FanType(name="axial", curve=((0.0, 60.0), (0.03, 30.0), (0.05, 0.0)), flow_area=0.008,
                power=40.0)  # fmt: skip


def halves(**control) -> Enclosure:
    """A box in two halves with all that stores heat, and air that is drawn in again."""
    return Enclosure.of(
        Outside(name="", temperature=OUTSIDE, sky_temperature=270.0),
        Outside(name="hall", temperature=OUTSIDE + 8.0), Body(name="", size="600 x 1000 x 400 mm"),
        Compartment(name="low", outline="0 0 600 500 mm", heat_capacity=LOW),
        Compartment(name="high", outline="0 500 600 500 mm", heat_capacity=HIGH), AXIAL,
        Opening(name="in", from_="outside", to="low", area=0.01),
        Slot(name="cards", from_="low", to="high", gap=0.01, width=0.2, length=0.2, count=4,
             power=15.0),
        Duct(name="pipe", from_="low", to="high", length=0.5, diameter=0.08, u_value=9.0,
             wall_temperature=OUTSIDE + 40.0),
        Slot(name="back", from_="high", to="low", gap=0.02, width=0.2, length=0.2, power=6.0),
        Fan(name="push", from_="low", to="outside", type="axial", mounted="reversed", speed=0.5),
        Fan(name="out", from_="high", to="outside", type="axial", **control),
        Recirculation(name="short", from_="fan.out", to="opening.in", fraction=0.2),
        Exchange(name="gap", between=("low", "high"), flow=0.001),
        Wall(name="top", from_="high", to="outside", area=0.3, thickness=0.004, conductivity=0.2,
             heat_capacity=2000.0, sun=Sun(irradiance=400.0, absorptance=0.6)),
        Wall(name="deck", from_="low", to="high", area=0.2, u_value=3.0, heat_capacity=800.0),
        Wall(name="side", from_="low", to="outside.hall", area=0.5, u_value=4.0),
        Part(name="free", in_="low", power=30.0, resistance=0.4, heat_capacity=150.0),
        Part(name="rider", in_="part.free", power=5.0, resistance=0.3),
        Part(name="card", in_="slot.cards", power=12.0, resistance=0.5, heat_capacity=60.0,
             position=0.3),
        Part(name="next", in_="slot.cards", power=8.0, resistance=0.7, heat_capacity=90.0,
             position=0.8),
        Part(name="inner", in_="duct.pipe", power=7.0, resistance=0.6, heat_capacity=40.0),
        Part(name="behind", in_="slot.back", power=6.0, resistance=0.9, heat_capacity=30.0,
             position=0.2),
        Part(name="head", in_="fan.push", power=4.0, resistance=0.8, heat_capacity=20.0),
        Part(name="tail", in_="fan.out", power=3.0, resistance=0.8, heat_capacity=25.0),
        Part(name="quick", in_="high", power=9.0, resistance=0.2),
    )  # fmt: skip


def begun(case: Enclosure, felt: float = OUTSIDE + 30.0):
    """A stretch in a state that is neither cold nor steady: its unknowns, and flows."""
    inputs = Inputs.of(case)
    stretch = Stretch(lambda times: inputs, True)
    cold = stretch.steady_model.at_rest(1)
    fans = np.full((len(case.fans), 1), felt)
    y = stretch.begun(0.0, stretch.begin_stores.cold(cold), fans, cold)
    now, felt = stretch.split(y[:, None])
    random = np.random.default_rng(5)
    now = now._replace(air=now.air + random.uniform(5, 25, now.air.shape),
                       parts=now.parts + random.uniform(20, 60, now.parts.shape),
                       faces=now.faces + random.uniform(2, 20, now.faces.shape),
                       given=now.given + random.uniform(10, 40, now.given.shape))  # fmt: skip
    return stretch, stretch.unknowns(now, felt)[:, 0]


CONTROL = {"by": "part.card", "temperature": [300.0, 360.0], "speed": [0.4, 1.0]}


@pytest.mark.parametrize("control", [{}, {"speed_control": CONTROL}], ids=["free", "follows"])
def test_slopes_of_all_that_is_integrated_are_those_of_the_rates(control):
    """Against central differences of 0.01 K (W), each flow of them solved anew."""
    stretch, y = begun(halves(**control))
    size, step = len(y), 0.01
    wide = np.hstack([y[:, None] + step * np.eye(size), y[:, None] - step * np.eye(size)])
    one = stretch.moment(0.0, y).state
    guess = State(*(np.repeat(part, 2 * size, axis=1) for part in one))
    rates = stretch._rates(stretch.moments(np.zeros(2 * size), wide, guess), wide)
    differences = (rates[:, :size] - rates[:, size:]) / (2 * step)
    scale = abs(differences).max(axis=1, keepdims=True)
    assert (scale > 0).sum() == size - len(control)  # one fan follows nothing
    assert (abs(stretch.slopes(0.0, y) - differences) <= 2e-5 * scale).all()


def test_flows_by_derivatives_of_an_earlier_time_are_those_of_full_newton():
    """To 1e-8 of the largest, what is drawn in again to as many K; of fewer steps than one."""
    stretch, y = begun(halves())
    stretch.moment(0.0, y)
    for warmer in (0.003, 0.5, 20.0):
        there = y + warmer * np.linspace(-1.0, 1.0, len(y))
        found = stretch.moment(0.0, there).state
        exact = stretch.moments(np.zeros(1), there[:, None], found).state
        largest = abs(exact.mass_flow).max()
        assert abs(found.mass_flow - exact.mass_flow).max() < 2e-8 * largest
        assert abs(found.temperature - exact.temperature).max() < 2e-8 * 300.0
        assert stretch._seen is found


def test_what_parts_give_to_moving_air_fits_from_the_first():
    """It follows within 0.01 s, so that it would begin with a jump of air otherwise."""
    inputs = Inputs.of(halves())
    stretch = Stretch(lambda times: inputs, True)
    cold = stretch.steady_model.at_rest(1)
    now = stretch.begin_stores.cold(cold)
    now = now._replace(parts=now.parts + 40.0)
    y = stretch.begun(0.0, now, np.zeros((0, 1)), cold)
    given, change = (stretch.split(each[:, None])[0].given for each in (y, stretch.rate(0.0, y)))
    assert abs(given).min() > 5.0
    assert abs(change).max() < 1e-5 / 0.01


def test_a_blown_flue_turns_where_its_own_heat_ends_its_flow():
    """1 Pa down an upright duct, p = k m^2 + b q/m, with b q/m what the air lacks in weight that
    q warms on its way: no flow is left from m = sqrt(p/3k), q = 2/3 p m / b on, closed form for
    small rises. Then air goes up, for good; what is before that is found to the last moment."""
    case = Enclosure.of(
        Outside(name="", temperature=OUTSIDE),
        Outside(name="wind", temperature=OUTSIDE, over_pressure=1.0), Body(name="", size="1 3 1 m"),
        Compartment(name="box", outline="0 0 1000 100 mm", heat_capacity=100.0),
        Duct(name="flue", from_="outside.wind", to="box", length=2.0, diameter=0.1, loss=60.0,
             route=((0.5, 2.05), (0.5, 0.05))),
        Opening(name="low", from_="box", to="outside", area=0.1, at=(0.5, 0.05)),
        Part(name="p", in_="duct.flue", power=0.0),
    )  # fmt: skip
    cold = solve(case).mass_flow("duct.flue")
    last, lacks = cold / math.sqrt(3), 1.2041 * 9.80665 * 2.0 / (2 * CP * OUTSIDE)
    most = 2 / 3 * last / lacks
    base = Inputs.of(case)

    def power(times):
        return most * np.interp(times, [0.0, 2.0, 17.0], [0.0, 0.95, 1.1])

    stretch = Stretch(lambda t: base.changed({"part.p.power": power(t)}, len(t)), False)
    still = stretch.steady_model.at_rest(1)
    y = stretch.begun(0.0, stretch.begin_stores.cold(still), np.zeros((0, 1)), still)
    legs, _ = stretch.run(0.0, 17.0, y, lambda _: False)
    (turn,) = stretch.turns
    assert power(turn.time) == pytest.approx(most, rel=0.04)
    assert turn.before.mass_flow[0, 0] == pytest.approx(last, rel=0.04)
    assert turn.after.mass_flow[0, 0] < -0.1 * last
    assert stretch.last.mass_flow[0, 0] < -0.1 * last
    ends = [leg.end for leg in legs]
    assert [leg.start for leg in legs] == [0.0, *ends[:-1]]
    assert ends == sorted(ends)
    assert ends[-1] == 17.0
    place = ends.index(turn.time)
    assert legs[place].start == pytest.approx(turn.time - 0.05)
    assert all((leg.state.mass_flow[0, 0] > 0) == (leg.end <= turn.time) for leg in legs)


def test_past_an_end_of_flows_temperatures_go_on_at_their_rate(monkeypatch):
    stretch, y = begun(halves())
    before = stretch.moment(0.0, y).state
    stretch.last = before
    monkeypatch.setattr(Stretch, "rate", lambda self, time, at: np.full(len(at), 0.5))
    monkeypatch.setattr(Stretch, "marched", lambda self, time, at, begin: begin)
    leg = stretch._turned(3.0, y, 60.0)
    assert (leg.start, leg.end, leg.state) == (3.0, pytest.approx(3.05), before)
    assert np.array([y, y + 0.02]) == pytest.approx(leg.dense(np.array([3.0, 3.04])).T)
    assert stretch._turned(3.0, y, 3.01).end == 3.01
    assert [turn.time for turn in stretch.turns] == pytest.approx([3.05, 3.01])


def test_heat_that_no_store_keeps_leaves():
    """All that is produced, less what the air and walls carry out, is what air, parts and faces
    keep, whatever their temperatures; what parts give to the air of branches is no store."""
    case = halves()
    stretch, y = begun(case)
    moment = stretch.moment(0.0, y)
    stores, now, _, state = moment
    given = stores.rates(now, state, moment.here).given * 0.01 + now.given
    y = stretch.unknowns(now._replace(given=given), np.zeros((0, 1)))[:, 0]
    moment = stretch.moment(0.0, y)
    stores, now, model, state = moment
    rates = stores.rates(now, state, moment.here)
    low, high, drawn = state.temperature[[0, 1, -1], 0]
    flows = dict(zip(model.structure.branches, state.mass_flow[:, 0], strict=True))
    pipe = CP * flows["duct.pipe"]
    density = 101325.0 / (287.05 * np.array([low, high]))
    kept = (CP * density * 0.12 + [LOW, HIGH]) @ rates.air[:, 0]
    kept += np.array([150.0, 60.0, 90.0, 40.0, 30.0, 20.0]) @ rates.parts[:-1, 0]
    kept += np.array([1000.0, 400.0, 400.0]) @ rates.faces[[0, 1, 3], 0]  # not the outermost
    faces = now.faces[[0, 2], 0]
    gone = CP * (flows["fan.out"] * high - flows["opening.in"] * drawn)
    gone += CP * flows["fan.push"] * OUTSIDE  # which is below 0
    gone += 4.0 * 0.5 * (low - OUTSIDE - 8.0) + 0.3 * 0.2 / 0.004 * (faces[0] - faces[1])
    made = 15.0 + 6 + 30 + 5 + 12 + 8 + 7 + 6 + 4 + 9  # but the part behind all
    made += 40.0 * 0.5**3 * 101325.0 / 287.05 / OUTSIDE / 1.2
    made += pipe * (OUTSIDE + 40.0 - low) * (1 - math.exp(-9.0 * math.pi * 0.08 * 0.5 / pipe))
    assert abs(rates.given).max() < 1e-3 * made / 0.01
    assert pipe > 0.0 > flows["slot.back"]
    assert flows["fan.push"] < 0.0 < flows["opening.in"]
    assert abs(kept) > 30.0
    assert kept == pytest.approx(made - gone, abs=0.02)


def test_what_is_steady_stays():
    """Started from what `solve` finds without any store, every temperature stays there; the two
    faces of a wall of given U are nearly one."""
    case = halves()
    plain = case.with_changes({"wall.*.heat_capacity": None, "part.*.heat_capacity": None})
    alone, found = solve(plain), transient(case, until=30.0)
    for path in (p for p in found.courses if p.endswith(".temperature") and "." in p[8:]):
        assert found.courses[path] == pytest.approx(alone[path], abs=5e-5), path
    for name, row in alone.walls.items():
        for at in (found.start.walls[name], found.end.walls[name]):
            assert at.heat == pytest.approx(row.heat, abs=1e-3), name
            faces = at.inside_temperature, at.outside_temperature
            assert faces == pytest.approx(
                (row.inside_temperature, row.outside_temperature), abs=1e-3, nan_ok=True
            )
    assert found.end.totals.heat == pytest.approx(alone.totals.heat, abs=1e-3)


def test_heat_that_is_told_is_all_that_is_produced():
    """While parts keep most of it: 105 W of cards and parts, and motors by the air they draw."""
    found = transient(halves(), start="cold", until=2.0).end
    drawn = [101325.0 / 287.05 / warm for warm in (OUTSIDE, found["compartment.high.temperature"])]
    motors = (40.0 * 0.5**3 * drawn[0] + 40.0 * drawn[1]) / 1.2
    assert found.totals.heat == pytest.approx(105.0 + motors, rel=1e-6)


def test_air_of_the_first_branch_warms_on_its_way_by_what_a_part_gives():
    """Its density is that of half-way, with a store or without: so are flow and temperatures."""
    case = Enclosure.of(
        Outside(name="", temperature=OUTSIDE), Compartment(name="box"), AXIAL,
        Slot(name="cards", from_="outside", to="box", gap=0.01, width=0.1, length=0.2),
        Fan(name="out", from_="box", to="outside", type="axial", speed=0.6),
        Part(name="card", in_="slot.cards", power=50.0, resistance=0.5, heat_capacity=20.0),
    )  # fmt: skip
    alone, found = solve(case), transient(case, until=20.0)
    assert alone["compartment.box.temperature"] > OUTSIDE + 5.0
    for path in ("compartment.box.temperature", "part.card.temperature"):
        assert found.courses[path] == pytest.approx(alone[path], abs=5e-5)


@pytest.mark.parametrize("wall", [{"u_value": 9.0}, {"thickness": 0.01, "conductivity": 0.2}])
def test_heat_that_a_wall_takes_in_is_what_the_inside_loses(wall):
    """While it warms up: all that is produced, less what stays in the air and what the inner face
    takes, is none."""
    case = Enclosure.of(
        Outside(name="", temperature=OUTSIDE), Compartment(name="box", heat_capacity=20e3),
        Wall(name="a", from_="box", to="outside", area=1.0, heat_capacity=30e3, solar=50.0, **wall),
        Wall(name="b", from_="box", to="outside", area=1.0, u_value=2.0),
        Part(name="p", in_="box", power=250.0),
    )  # fmt: skip
    found = transient(case, start="cold", until=900.0)
    warm = found.courses["compartment.box.temperature"]
    last = np.polyfit(found.times[-9:] - 900.0, warm[-9:], 2)[1]
    through = found.end.walls["a"].heat
    assert through > 50.0
    assert 250.0 - through - 2.0 * (warm[-1] - OUTSIDE) == pytest.approx(20e3 * last, rel=2e-3)
    assert found.end.totals.wall_heat == pytest.approx(through + 2.0 * (warm[-1] - OUTSIDE))
    faces = found.end.walls["a"].inside_temperature, found.end.walls["a"].outside_temperature
    if "u_value" not in wall:
        assert OUTSIDE < faces[1] < faces[0] < warm[-1]


@pytest.mark.parametrize("wall", [{"u_value": 5.0}, {"thickness": 0.01, "conductivity": 0.2}])
def test_layers_store_what_their_compartment_does(wall):
    """At one temperature all layers of a closed box warm as it does whole, its wall too."""
    rates = []
    for layers in (1, 4):
        case = Enclosure.of(
            Outside(name="", temperature=OUTSIDE), Body(name="", size="600 x 1000 x 400 mm"),
            Compartment(name="box", outline="0 0 600 1000 mm", heat_capacity=700.0, layers=layers),
            Wall(name="a", from_="box", to="outside", area=0.9, heat_capacity=800.0, **wall),
            Part(name="p", in_="box", power=50.0),
        )  # fmt: skip
        inputs = Inputs.of(case)
        stretch = Stretch(lambda times, inputs=inputs: inputs, True)
        cold = stretch.steady_model.at_rest(1)
        y = stretch.begun(0.0, stretch.begin_stores.cold(cold), np.zeros((0, 1)), cold)
        now, felt = stretch.split(y[:, None] + 12.0)
        rates.append(stretch.split(stretch.rate(0.0, stretch.unknowns(now, felt)[:, 0])[:, None]))
    (one, _), (four, _) = rates
    assert len(four.air) == 4
    assert four.air == pytest.approx(np.repeat(one.air, 4)[:, None], rel=1e-9)
    shares = four.faces.reshape(2, -1).T
    assert shares == pytest.approx(np.tile(one.faces.T, (4, 1)), rel=1e-6)


def test_air_without_a_volume_follows_within_a_second():
    """1 J/K of a compartment at least, by docs/in-time.md; what is given where it is more."""
    for given, store in ((None, 1.0), (0.5, 1.0), (3.0, 3.0)):
        case = Enclosure.of(
            Outside(name="", temperature=OUTSIDE), Compartment(name="box", heat_capacity=given),
            Part(name="p", in_="box", power=2.0),
            Wall(name="a", from_="box", to="outside", area=1.0, u_value=0.5),
        )  # fmt: skip
        found = transient(case, start="cold", until=3.0)
        exact = 4.0 * (1 - np.exp(-found.times * 0.5 / store))
        assert found.courses["compartment.box.temperature"] - OUTSIDE == pytest.approx(
            exact, abs=1e-4
        )


def test_flows_of_many_times_are_all_found_or_the_first_lost_is_named(monkeypatch):
    """In one step from guesses of which the first alone is near."""
    case = Enclosure.of(
        Outside(name="", temperature=OUTSIDE), Compartment(name="box", heat_capacity=900.0), AXIAL,
        Opening(name="in", from_="outside", to="box", area=0.01),
        Fan(name="out", from_="box", to="outside", type="axial"),
    )  # fmt: skip
    inputs = Inputs.of(case)
    stretch = Stretch(lambda times: inputs, True)
    cold = stretch.steady_model.at_rest(1)
    y = stretch.begun(0.0, stretch.begin_stores.cold(cold), np.zeros((1, 1)), cold)
    there = stretch.last
    back = there._replace(mass_flow=-there.mass_flow)
    monkeypatch.setattr(tol, "DIRECT_ROUNDS", 2)
    three = State(*(np.hstack(parts) for parts in zip(there, back, back, strict=True)))
    with pytest.raises(LostError) as lost:
        stretch.moments(np.array([0.0, 5.0, 7.0]), np.repeat(y[:, None], 3, axis=1), three)
    assert lost.value.time == 5.0


# --- fans that switch ----------------------------------------------------------------------------


def fan(name: str, warm, speed, back=0.0, kind="free", by="compartment.box", **more) -> Fan:
    control = {"by": by, "temperature": warm, "speed": speed, "hysteresis": back}
    return Fan(name=name, from_="box", to="outside", type=kind, speed_control=control, **more)


@pytest.fixture
def follow() -> Following:
    """Fans with jumps of every kind, and some with none."""
    curve = {"flow": [0.0, 0.03, 0.05], "rise": [80.0, 50.0, 0.0]}
    free = FanType(name="free", curve=curve, flow_area=0.008)
    slow = FanType(name="slow", curve=curve, flow_area=0.008, speed_range=[0.4, 1.0])
    case = Enclosure.of(
        Outside(name="", temperature=OUTSIDE), Compartment(name="box"), free, slow,
        Opening(name="in", from_="outside", to="box", area=0.01),
        fan("two", [300.0, 300.5, 310.0, 310.9], [0.0, 0.5, 0.5, 1.0], 3.0),
        fan("wide", [300.0, 301.1, 310.0], [0.0, 0.5, 1.0], 3.0),
        fan("quick", [300.0, 300.5], [0.2, 1.0]),
        fan("starts", [305.0, 315.0, 320.0], [0.0, 0.6, 1.0], kind="slow"),
        fan("ends", [300.0, 310.0], [0.8, 0.0], kind="slow", by="outside"),
        fan("both", [300.0, 300.5, 310.0, 320.0], [0.0, 0.5, 0.5, 1.0], 2.0, kind="slow"),
        fan("off", [300.0, 300.5], [0.0, 1.0], 3.0, state="stopped"),
        Fan(name="none", from_="box", to="outside", type="slow"),
        fan("flat", [300.0, 300.4, 300.8, 301.2], [0.0, 0.5, 0.5, 1.0], 3.0),
    )  # fmt: skip
    found = Following.of(Inputs.of(case))
    assert found is not None
    return found


def column(*values: float) -> np.ndarray:
    return np.array(values)[:, None]


def test_jumps_of_the_speed(follow):
    """Between points less than 1 K apart of a fan with hysteresis, and at the lowest speed: there
    the fan stands up to one side of the point and runs from the other."""
    pairs = {"two": [(300.0, 300.5), (310.0, 310.9)], "starts": [(305.0, 305.0)],
             "ends": [(310.0, 310.0)], "both": [(300.0, 300.5)],
             "flat": [(300.0, 300.4), (300.8, 301.2)]}  # fmt: skip
    for name, below, above in zip(follow.names, follow.below, follow.above, strict=True):
        found = np.transpose([below, above])[np.isfinite(below) | np.isfinite(above)]
        assert found == pytest.approx(np.array(pairs.get(name, [])).reshape(-1, 2), abs=1e-5), name
    assert follow.below[3, 0] == 305.0 < follow.above[3, 0]
    assert follow.below[4, 0] < 310.0 == follow.above[4, 0]
    assert follow.back.ravel().tolist() == [3.0, 3.0, 0.0, 0.0, 0.0, 2.0, 3.0, 0.0, 3.0]
    assert not follow.zone.any()


def test_a_fan_keeps_to_its_side_of_a_jump(follow):
    """From the temperature it begins with, held at the edge of what it has or has not passed."""
    for warm, felt, ratio in (
        (295.0, [295.0] * 8, [0.0, 0.0, 0.2, 0.0, 0.8]),
        (300.4, [300.0, *[300.4] * 4, 300.0, 300.4, 300.4], [0.0, 0.5 * 4 / 11, 0.84, 0.0]),
        (300.5, [300.5] * 8, [0.5, 0.5 * 5 / 11, 1.0, 0.0]),
        (310.5, [310.0, *[310.5] * 7], [0.5, 1.0, 1.0, 0.4, 0.0, 0.525]),
        (330.0, [330.0] * 8, [1.0, 1.0, 1.0, 1.0, 0.0, 1.0]),
    ):  # fmt: skip
        found = follow.begun(column(*[warm] * 9))
        assert found.ravel()[:8] == pytest.approx(felt)
        assert follow.speed(found)[: len(ratio), 0] == pytest.approx(ratio)
    follow.begun(column(*[305.0] * 9))
    assert follow.speed(column(*[290.0] * 9))[0] == 0.5  # until it has switched
    assert follow.speed(column(*[330.0] * 9))[0] == 0.5


def test_what_a_fan_goes_by(follow, monkeypatch):
    """It follows what is sensed within 1 s, down once that has fallen by the hysteresis, never past
    an edge; there it is due to switch, by the temperature itself."""
    follow.begun(column(*[305.0] * 9))
    felt = column(*[305.0] * 9)
    for warm, rate, due in (
        (305.0, 0.0, 0), (307.0, 2.0, 0), (310.9, 5.0, 0), (311.0, 5.0, 1), (303.0, 0.0, 0),
        (301.0, -1.0, 0), (297.6, -4.4, 0), (297.4, -4.5, -1),
    ):  # fmt: skip
        monkeypatch.setattr(Following, "own", lambda *_, warm=warm: column(*[warm] * 9))
        assert follow.rate(None, felt)[0, 0] == pytest.approx(rate)
        assert follow.due(None)[0, 0] == due
        assert follow.rate(None, felt)[[1, 6, 7], 0] == pytest.approx(
            [max(warm - 305.0, min(warm - 302.0, 0.0)), 0.0, 0.0]
        )
        assert follow.due(None)[[1, 6, 7], 0].tolist() == [0, 0, 0]


def test_a_fan_that_switches_begins_at_the_other_edge(follow):
    felt = follow.begun(column(*[305.0] * 9))
    follow.zone[5] = 1
    due = np.array([1, 0, 0, 0, 0, -1, 0, 0, 0])[:, None]
    after = follow.switched(7.0, due, felt)
    assert after.ravel()[:8] == pytest.approx([310.9, 305, 305, 305, 305, 300.0, 305, 305])
    assert follow.zone.ravel().tolist()[:6:5] == [2, 0]
    assert follow.switches == [
        (7.0, "two", "compartment.box", (0.5, 1.0)), (7.0, "both", "compartment.box", (0.5, 0.0)),
    ]  # fmt: skip


def test_each_of_several_thermostats_switches_by_itself():
    """Two boxes of 30 K in the end, 1600 and 2000 s: each by its own exponential, the second while
    the first goes on and off; after a stop the first starts at once, by itself."""
    things = []
    for name, store in (("a", 8e3), ("b", 10e3)):
        control = {"by": f"compartment.{name}", "temperature": [303.15, 303.25],
                   "speed": [0.0, 1.0], "hysteresis": 5.0}  # fmt: skip
        things += [
            Compartment(name=name, heat_capacity=store),
            Part(name=name, in_=name, power=150.0),
            Wall(name=name, from_=name, to="outside", area=1.0, u_value=5.0),
            Opening(name=name, from_="outside", to=name, area=0.008),
            Fan(name=name, from_=name, to="outside", type="axial", speed_control=control),
        ]  # fmt: skip
    case = Enclosure.of(Outside(name="", temperature=OUTSIDE), AXIAL, *things)
    found = transient(case, start="cold", until="14 min")
    first = {name: next(e.time for e in found.events if e.text.startswith(f"fan.{name} starts"))
             for name in "ab"}  # fmt: skip
    for name, tau in (("a", 1600.0), ("b", 2000.0)):
        assert first[name] == pytest.approx(tau * math.log(30 / (30 - 10.1)), rel=1e-5)
    stops = ["5 min: fan.a.state=stopped", "12 min: fan.a.state=running"]
    found = transient(case, stops, start="cold", until="12.2 min")
    asks = [(720.0, "fan.a starts"), (720.0, "fan.a starts as compartment.a asks")]
    assert [(e.time, e.text) for e in found.events] == [(300.0, "fan.a stops"), *asks]


def test_a_stretch_may_be_shorter_than_the_first_step():
    """Half a millisecond between two events, late in the course: the closed form of one store."""
    case = Enclosure.of(
        Outside(name="", temperature=OUTSIDE), Compartment(name="box", heat_capacity=20.0),
        Part(name="p", in_="box", power=100.0),
        Wall(name="a", from_="box", to="outside", area=1.0, u_value=5.0),
    )  # fmt: skip
    events = ["6 s: part.p.load=0.5", "6.0005 s: part.p.load=0"]
    found = transient(case, events, start="cold", until=10.0)
    warm = 20.0 * (1 - math.exp(-6.0 / 4))
    exact = np.where(found.times <= 6.0, 20.0 * (1 - np.exp(-found.times / 4)),
                     warm * np.exp(-(found.times - 6.0) / 4))  # fmt: skip
    assert found.courses["compartment.box.temperature"] - OUTSIDE == pytest.approx(exact, abs=2e-3)
