"""Fans from a standstill to full speed: nothing jumps, and no fan that speeds up moves less air."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from scipy.interpolate import CubicHermiteSpline, PchipInterpolator
from scipy.optimize import brentq

import flownet
from flownet import Compartment, Enclosure, Fan, FanType, Opening, Outside, solve, solve_many
from flownet.equations import laws
from flownet.judging.voids import void
from flownet.pages import render
from flownet.pages.page import Page
from flownet.physics.air import Air
from tests.network.law_samples import CURVES, column, fan

AREA, STOPPED, HOLE = 0.0095, 10.0, 0.01  # m2, K of the stopped rotor, m2
DENSITY, VISCOSITY = 101325.0 / (287.05 * 293.15), 1.458e-6 * 293.15**1.5 / (293.15 + 110.4)
PLAIN, DIP, STEEP = CURVES[2], CURVES[0], [(0.0, 300.0), (0.02, 150.0), (0.022, 0.0)]
SPEEDS = np.concatenate([[0.0], np.geomspace(1e-13, 1e-3, 21), np.linspace(0.002, 1.0, 60)])


def box(curve: Any, others: int = 0, kind: Any = None, **where: Any) -> Enclosure:
    """A box with a hole to a second outside, one fan of this curve, others beside it."""
    keys = {"push": 0.0, "altitude": 0.0} | {k: where.pop(k) for k in ("push", "altitude")
                                             if k in where}  # fmt: skip
    ways = {"from_": "box", "to": "outside"}
    return Enclosure.of(
        Outside(temperature=293.15, altitude=keys["altitude"]),
        Outside(name="b", temperature=293.15, over_pressure=keys["push"]),
        Compartment(name="box"), Opening(name="in", from_="outside.b", to="box", area=HOLE),
        FanType(name="own", curve=curve, flow_area=AREA, **(kind or {})),
        FanType(name="other", curve=PLAIN, flow_area=AREA),
        Fan(name="f", type="own", **ways, **where),
        *(Fan(name=f"x{i}", type="other", **ways) for i in range(others)),
        title="invented data",
    )  # fmt: skip


SHUTTER = {"open_loss": 0.5, "closed_leak": 0.02}


WHERE = {
    "beside two": {"others": 2}, "against, thin air": {"push": -30.0, "altitude": 4000.0},
    "shutter": {"others": 1, "shutter": SHUTTER}, "pushed": {"push": 30.0},
    "reversed": {"push": -20.0, "mounted": "reversed"},
    "guard": {"push": 20.0, "guard": {"loss": 0.6}},
}  # fmt: skip
EACH = [(curve, where) for curve, some in ((PLAIN, 6), (STEEP, 6), (DIP, 3))
        for where in list(WHERE.values())[:some]]  # fmt: skip


@pytest.mark.parametrize(("curve", "where"), EACH)
def test_no_fan_that_speeds_up_moves_less_air(curve, where):
    """By the fan laws the rise at a given flow is s^2 C(Q/s), which grows with s where C/Q^2 falls
    with Q; and a rotor whose speed goes to 0 is the one that stands."""
    speeds = np.array([0.0, 1e-10, *SPEEDS[25::4]]) if curve is DIP else SPEEDS  # slower: in time
    batch = solve_many(box(curve, **where), {"fan.f.speed": speeds})
    assert batch.ok.all()
    flow = batch["fan.f.volume_flow"] * (-1 if where.get("mounted") else 1)
    size = np.abs(flow).max()
    assert (np.diff(flow) >= -1e-10 * size).all()
    assert flow[-1] - flow[0] > 0.1 * size  # it does move air
    slow = speeds < 1e-9
    assert np.abs(flow[slow] - flow[0]).max() <= 1e-8 * size


def drop(flow: float, loss: float, area: float) -> float:
    """K rho v^2/2, v^2 rounded at Re 30, of a volume flow at the density of the box."""
    velocity, slow = flow / area, 30 * VISCOSITY / (DENSITY * np.sqrt(4 * area / np.pi))
    return float(loss * DENSITY * velocity * np.sqrt(velocity**2 + slow**2) / 2)


def rise(flow: float, speed: float, curve: Any) -> float:
    """Curve, its end slopes and the rotor's loss by hand, at the density of the box."""
    x, y = np.array(curve).T
    slopes = PchipInterpolator(x, y).derivative()(x)
    slopes[[0, -1]] = np.minimum(slopes[[0, -1]], 0.0)
    head, at = DENSITY / 1.2 * speed**2, flow / speed
    if at < 0:
        return float(head * (y[0] + slopes[0] * at)) + drop(-flow, STOPPED, AREA)
    if at > x[-1]:
        line = head * (y[-1] + slopes[-1] * (at - x[-1]))
        return float(line) - drop(flow - speed * x[-1], STOPPED, AREA)
    return float(head * CubicHermiteSpline(x, y, slopes)(at))


def test_slow_fan_against_a_root_by_hand():
    """Hole and fan in series: scipy's root of push - hole + rise = 0, written out here."""
    curve, loss = CURVES[2], 1 / 0.61**2
    pairs = [(speed, push) for speed in (1e-6, 0.01, 0.2, 0.5, 1.0)
             for push in (-200.0, -30.0, 0.0, 30.0, 200.0)]  # fmt: skip
    speeds, pushes = map(list, zip(*pairs, strict=True))
    found = solve_many(box(curve), {"fan.f.speed": speeds, "outside.b.over_pressure": pushes})
    for (speed, push), flow in zip(pairs, found["fan.f.volume_flow"], strict=True):

        def left(q: float, push: float = push, speed: float = speed) -> float:
            return push - np.sign(q) * drop(abs(q), loss, HOLE) + rise(q, speed, curve)

        wanted = brentq(left, -1.0, 1.0, xtol=1e-16)
        assert flow == pytest.approx(wanted, rel=1e-5, abs=1e-12), (speed, push)


@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_as_its_speed_goes_to_zero_a_fan_is_a_stopped_rotor(sign):
    """Value and slope of the law, for both ways of the air, hot on one side: upstream density."""
    rotor = laws.Square.of(column(*[STOPPED] * 5), column(*[AREA] * 5))
    slow = fan(speed=1e-12, sign=sign)
    for flow in (-0.05, -1e-4, -1e-7, 1e-7, 1e-4, 0.05):
        thick = 1.2 if flow > 0 else 0.9
        here = Air(*(column(x) for x in (thick, 1.8e-5, 1.2, 0.9)))
        for mine, still in zip(slow(column(flow), here), rotor(column(flow), here), strict=True):
            np.testing.assert_allclose(mine, np.broadcast_to(still, mine.shape), rtol=2e-6)


def test_a_standing_rotor_loses_the_most():
    """At any flow the rise never falls with the speed, and no fan of any speed is worse."""
    here = Air(*(column(x) for x in (1.1, 1.8e-5, 1.1, 1.1)))
    flows = np.concatenate([-np.geomspace(0.3, 1e-6, 40), np.geomspace(1e-6, 0.3, 40)])
    table = [CURVES[0], CURVES[2], STEEP, [(0.0, 900.0), (0.01, 800.0), (0.011, 0.0)]]
    found = np.array(
        [fan(table, speed=s).rise(flows[None], here) for s in np.geomspace(1e-9, 2.0, 200)]
    )
    falls = np.diff(found, axis=0)
    assert (falls >= -1e-12 * np.abs(found[1:])).all()


def test_backflow_and_windmill_loss_follow_stopped_loss():
    """One K for all three unless told."""
    for keys in ({"stopped_loss": 25.0}, {"stopped_loss": 25.0, "windmill_loss": 25.0}):
        flows = [
            solve_many(box(PLAIN, push=push, kind=keys), {"fan.f.speed": [0.0, 1e-9]})[
                "fan.f.volume_flow"
            ]
            for push in (50.0, -50.0)
        ]
        for before, after in flows:
            assert after == pytest.approx(before, rel=1e-7)


def test_a_freewheeling_rotor_lets_more_back_than_a_stuck_one():
    """The same root by hand with its own K; no power, noise or life, and what stands beside it
    sees a stopped fan."""
    kind = {"freewheel_loss": 3.0, "power": 9.0, "noise_dBA": 40.0,
            "life": {"hours": 4e4, "at": "40 degC"}}  # fmt: skip
    case, hole = box(PLAIN, push=-30.0, kind=kind), 1 / 0.61**2
    flows = {}
    for state, rotor in (("stopped", STOPPED), ("freewheeling", 3.0)):
        found = solve(case, changes={"fan.f.state": state})
        flows[state] = found.volume_flow("fan.f")
        wanted = brentq(lambda q, k=rotor: 30 - drop(q, hole, HOLE) - drop(q, k, AREA), 0, 1,
                        xtol=1e-16)  # fmt: skip
        assert flows[state] == pytest.approx(-wanted, rel=1e-5)
        row = found.fans["fan.f"]
        assert (row.region, found.branches["fan.f"].state) == ("stopped", state)
        assert (row.power, row.rise, row.speed_ratio) == (0.0, 0.0, 0.0)
        assert np.isnan([row.noise, row.life]).all()
        (line,) = [line for line in render.text(found.sheet, Page()) if "fan.f " in line]
        assert state in line
    assert abs(flows["freewheeling"]) > abs(flows["stopped"])


def test_a_freewheeling_fan_needs_its_loss():
    """In the design, in a change and in one variant of many."""
    lost = r"fan\.f\b.*freewheel_loss"
    with pytest.raises(flownet.CaseError, match=lost):
        box(PLAIN, state="freewheeling")
    with pytest.raises(flownet.CaseError, match=lost):
        box(PLAIN).with_changes({"fan.f.state": "freewheeling"})
    with pytest.raises(flownet.CaseError, match=lost):
        solve_many(box(PLAIN), {"fan.f.state": ["running", "freewheeling"]})
    given = box(PLAIN, kind={"freewheel_loss": 4.0}, state="freewheeling")
    assert solve(given.with_changes({"fan_type.own.freewheel_loss": 5.0})).branches


@pytest.mark.parametrize("curve", [PLAIN, DIP], ids=["plain", "dip"])
def test_a_speed_by_temperature_goes_down_to_zero(curve):
    """At each temperature the speed is the one asked for, down to 0, and the flow never jumps."""
    control = {"by": "outside", "temperature": "10 40 degC", "speed": (0.0, 1.0)}
    case = box(curve, others=1, speed_control=control, kind={"speed_range": (0.0, 1.0)})
    warm = 283.15 + np.array([-5.0, 0.0, 1e-7, 1e-3, 1.0, 15.0, 30.0])
    found = solve_many(case, {"outside.temperature": warm, "outside.b.temperature": warm})
    flows, asked = found["fan.f.volume_flow"], np.clip((warm - 283.15) / 30, 0.0, 1.0)
    assert found["fan.f.speed_ratio"] == pytest.approx(asked, abs=1e-12)
    assert flows[1] == pytest.approx(flows[2], rel=1e-6)
    assert (np.diff(flows) >= -1e-12).all()


@pytest.mark.parametrize("push", [300.0, -300.0])
def test_a_rotor_that_adds_nothing_to_be_seen_reads_as_one_that_stands(push):
    """Closed form: K rho v^2/2 of the stopped rotor and of the hole, in series, take all of the
    push, and the fan's own pressure goes with the square of its speed."""
    speeds = [0.0, 1e-9, 1e-5, 0.9 if push > 0 else 0.3]
    case = box(PLAIN, push=push, kind={"stopped_loss": STOPPED})
    found = [solve(case, changes={"fan.f.speed": speed}) for speed in speeds]
    assert [s.fans["fan.f"].region for s in found[:3]] == ["stopped"] * 3
    assert found[3].fans["fan.f"].region == ("past-free-delivery" if push > 0 else "backflow")
    total = STOPPED + (AREA / HOLE / 0.6) ** 2
    for each in found[:3]:
        assert void(each) == {}
        assert [f.rule for f in each.findings] == [f.rule for f in found[0].findings]
        assert (each.fans["fan.f"].rise, each.fans["fan.f"].power) == (0.0, 0.0)
        assert math.isnan(each.fans["fan.f"].noise)
        drop = each.branches["fan.f"].drop
        assert drop == pytest.approx(push * STOPPED / total, rel=0.03)
        assert drop == pytest.approx(found[0].branches["fan.f"].drop, rel=1e-4)
    assert void(found[3]) == ({} if push > 0 else {"backflow": ["fan.f"]})
