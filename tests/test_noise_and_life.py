"""Noise, life and supply of fans as a solve finds them, against laws worked by hand."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.stats import weibull_min

import flownet
from flownet.pages import render
from flownet.pages.noise import noise_budget
from flownet.pages.page import Page
from tests.each import each
from tests.published import rows

AT_1_M = {"kind": "pressure", "distance": "1 m"}


Keys = dict[str, Any]


def box(*, limits: Keys | None = None, mains: Keys | None = None, warm: str = "25 degC",
        second: Keys | None = None, fan: Keys | None = None,
        **row: Any) -> flownet.Enclosure:  # fmt: skip
    """A box that one or two fans blow into, without heat but theirs (invented data)."""
    given: dict[str, Any] = {
        "curve": {"flow": "0 60 110 170 m3/h", "rise": "78 52 44 0 Pa"}, "flow_area": "95 cm2",
        "rated_speed": "2700 rpm", "supply": "230 V 50 Hz", "power": "18 W", "noise_dBA": 44,
        "noise": AT_1_M, "blades": 7, "motor_in_air": False,
        "life": {"hours": 75000, "at": "40 degC", "kind": "L10", "factor_per_10K": 1.5},
    }  # fmt: skip
    place = {"from_": "outside", "to": "box", "supply": "mains"}
    items: list[Any] = [
        flownet.Outside(temperature=warm), flownet.Compartment(name="box"),
        flownet.Opening(name="out", from_="box", to="outside", area="60 cm2"),
        flownet.Supply(name="mains", **(mains or {"voltage": "230 V", "frequency": "50 Hz"})),
        flownet.FanType(name="axial", **(given | row)),
        flownet.Fan(name="one", type="axial", **(place | (fan or {}))),
        flownet.Limits(**(limits or {})),
    ]  # fmt: skip
    if second is not None:
        items.append(flownet.FanType(name="other", **(given | row | second)))
        items.append(flownet.Fan(name="two", type="other", **place))
    return flownet.Enclosure.of(*items)


def level(**how: Any) -> float:
    return float(flownet.solve(box(**how))["total.noise"])


@pytest.mark.parametrize("row", rows("noise_life", "S1", "S2"), ids=str)
def test_fans_add_as_energies(row):
    first, then = row.given["levels"]
    row.check(level=level(noise_dBA=first, second={"noise_dBA": then}))


@pytest.mark.parametrize("row", rows("noise_life", "S7"), ids=str)
def test_a_slower_fan_is_quieter(row):
    row.check(change=level(fan={"speed": row.given["speed_ratio"]}) - level())


def test_a_level_follows_the_distance():
    """20 log10 of the ratio of distances, from 1 m to 3 m and from 0.5 m to 1 m; 1 m unless
    stated."""
    far = level(limits={"noise_distance": "3 m"})
    assert far == pytest.approx(44 - 20 * np.log10(3.0), abs=1e-9)
    near = level(noise={"kind": "pressure", "distance": "0.5 m"})
    assert near == pytest.approx(44 - 20 * np.log10(2.0), abs=1e-9)
    assert level(noise={"kind": "pressure"}) == pytest.approx(44, abs=1e-9)


@pytest.mark.parametrize(("field", "directivity"), [("sphere", 1.0), ("hemisphere", 2.0)])
@pytest.mark.parametrize("room", [None, 40.0])
def test_sound_power_becomes_pressure(field, directivity, room):
    """Lw + 10 log10(Q/(4 pi r^2) + 4/R); the trade's 11 and 8 dB are within 0.02 dB of exact."""
    limits: dict[str, Any] = {"noise_distance": "2 m", "noise_field": field, "room_constant": room}
    found = level(noise_dBA=60, noise={"kind": "power"}, limits=limits)
    direct = directivity / (4 * np.pi * 4.0)
    expected = 60 + 10 * np.log10(direct + (0.0 if room is None else 4.0 / room))
    assert found == pytest.approx(expected, abs=0.02)


def test_sound_power_is_told_beside_pressure():
    found = flownet.solve(box(noise_dBA=60, noise={"kind": "power"}))
    assert found["fan.one.noise_power"] == pytest.approx(60.0)
    found = flownet.solve(box())
    assert found["fan.one.noise_power"] == pytest.approx(44 + 10 * np.log10(4 * np.pi), abs=0.01)


def test_the_tone_of_the_blades():
    """Seven blades at 0.8 times 2700 rpm: 252 Hz; none without blades."""
    assert flownet.solve(box(fan={"speed": 0.8}))["fan.one.blade_pass"] == pytest.approx(252.0)
    assert np.isnan(flownet.solve(box(blades=None))["fan.one.blade_pass"])


def test_a_budget_says_what_each_fan_is_worth():
    """50 and 44 dBA: without the first 44, with it 10 % slower its 50 fall by 2.29 dB."""
    found = noise_budget(flownet.solve(box(noise_dBA=44, second={"noise_dBA": 50})))
    first, then = found.fans
    assert (first.fan, then.fan) == ("fan.two", "fan.one")
    assert first.without == pytest.approx(44.0)
    assert then.without == pytest.approx(50.0)
    energies = np.array([10**5.0, 10**4.4])
    np.testing.assert_allclose([first.share, then.share], energies / energies.sum(), rtol=1e-9)
    assert first.slower == pytest.approx(10 * np.log10(0.9**5 * energies[0] + energies[1]))
    assert found.total == pytest.approx(10 * np.log10(energies.sum()))
    assert "fan.two 50.0 dBA, 80 % of the energy" in repr(found)
    assert found.to_dict()["fans"][0]["given"] == "sound pressure at 1 m"
    (page,) = found.sheet.of("page")
    assert {len(column.values) for column in page.columns} == {2}
    assert page.columns[2].values == ["80 %", "20 %"]
    (page,) = noise_budget(flownet.solve(box(second={"noise_dBA": 66}))).sheet.of("page")
    assert page.columns[2].values == ["99 %", "1 %"]  # 99.373 and 0.627 of 100


def test_a_budget_of_one_fan_and_of_one_that_is_not_known():
    alone = noise_budget(flownet.solve(box()))
    assert alone.to_dict()["fans"][0]["without_dBA"] is None
    unknown = noise_budget(flownet.solve(box(noise_dBA=None, noise=None)))
    assert (unknown.fans, unknown.silent) == ((), ("fan.one",))
    assert [table.columns for table in unknown.sheet.of("page")] == [()]
    assert all(table.columns for table in alone.sheet.of("page"))


@pytest.mark.parametrize("row", rows("noise_life", "B1"), ids=str)
def test_life_is_that_in_the_air_of_the_fan(row):
    given = row.given
    lives = [flownet.solve(box(warm=f"{given[key]} degC"))["fan.one.life"]
             for key in ("warm", "test")]  # fmt: skip
    row.check(life_warm=lives[0], acceleration=given["life"] / lives[1])


@pytest.mark.parametrize("slope", [None, 2.0])
def test_the_first_failure_of_unequal_fans(slope):
    """Survival of both is 0.9 there: scipy.stats.weibull_min. 40 degC: rated lives."""
    limits = {} if slope is None else {"weibull_slope": slope}
    other = {"life": {"hours": 40000, "at": "40 degC", "kind": "L10"}}
    found = flownet.solve(box(warm="40 degC", second=other, limits=limits))
    shape = 1.1 if slope is None else slope
    survival = 1.0
    for tenth in (75000.0, 40000.0):
        scale = tenth / weibull_min.ppf(0.1, shape)
        survival *= weibull_min.sf(found["total.first_failure"], shape, scale=scale)
    assert survival == pytest.approx(0.9, rel=1e-9)
    for case, told in ((found, True), (flownet.solve(box()), False)):  # of one fan it is its life
        words = "\n".join(render.text(case.sheet, Page(everything=True)))
        assert ("the first fails within" in words) is told


def test_a_mean_is_never_mixed_into_a_first_failure():
    mean = {"life": {"hours": 400000, "at": "40 degC", "kind": "mean"}}
    assert np.isnan(flownet.solve(box(second=mean))["total.first_failure"])
    assert np.isnan(flownet.solve(box(second={"life": None}))["total.first_failure"])
    one = flownet.solve(box(second=mean), changes={"fan.two.state": "stopped"})
    assert one["total.first_failure"] == pytest.approx(one["fan.one.life"])
    none = flownet.solve(box(), changes={"fan.one.state": "stopped"})
    assert np.isnan(none["total.first_failure"])


def test_fans_that_run_half_the_time_serve_twice_as_long():
    """Hours of service are hours of running over the share of the time; duty decides."""
    limits = {"fan_life_hours": 100000, "running_share": 0.5}
    (held,) = flownet.solve(box(warm="40 degC", limits={**limits, "duty": "intermittent"})).limits
    assert held.value == pytest.approx(150000.0)
    for own in (limits, {"fan_life_hours": 100000, "duty": "intermittent"}):  # share not known
        (held,) = flownet.solve(box(warm="40 degC", limits=own)).limits
        assert held.value == pytest.approx(75000.0)


@pytest.mark.parametrize(("bound", "margin"), [(60.0, np.nan), (44.5, np.nan), (40.0, -4.0)])
def test_a_fan_without_a_level_can_break_the_noise_limit_but_not_hold_it(bound, margin):
    """The sum is at least that of the others: 44 dBA of one fan."""
    silent = box(second={"noise_dBA": None, "noise": None}, limits={"noise_dBA": bound})
    (limit,) = flownet.solve(silent).limits
    assert limit.margin == pytest.approx(margin, nan_ok=True)
    assert not limit.holds
    stopped = flownet.solve(silent, changes={"fan.two.state": "stopped"})
    assert stopped.limits[0].margin == pytest.approx(bound - 44.0)


def test_nothing_that_runs_makes_no_noise():
    (limit,) = flownet.solve(box(limits={"noise_dBA": 40.0}, fan={"state": "stopped"})).limits
    assert limit.margin == np.inf


# --- supply -------------------------------------------------------------------------------------

SIXTY = {"voltage": "230 V", "frequency": "60 Hz"}


@pytest.mark.parametrize(
    ("supply", "row", "ratio"),
    [(SIXTY, {}, 1.2), ({"voltage": "18 V"}, {"supply": "24 V dc"}, 0.75),
     ({"voltage": "115 V", "frequency": "60 Hz"}, {}, 1.0),
     ({"voltage": "9 V"}, {"supply": "24 V dc"}, 1.0),
     ({"voltage": "20 V"}, {"supply": "24 V dc", "voltage_range": "21 28 V"}, 1.0)],
)  # fmt: skip
def test_data_of_another_supply_are_scaled_by_the_fan_laws(supply, row, ratio):
    """ISO 5801: against a square law flow with speed, pressure with its square, power its cube."""
    rated = {"voltage": "24 V"} if "supply" in row else None
    before = flownet.solve(box(mains=rated, **row))
    after = flownet.solve(box(mains=supply, **row))
    assert after["fan.one.speed_ratio"] == pytest.approx(ratio)
    for path, power in (("volume_flow", 1), ("rise", 2), ("power", 3)):
        grown = after[f"fan.one.{path}"] / before[f"fan.one.{path}"]
        assert grown == pytest.approx(ratio**power, rel=1e-3), path
    assert after["total.noise"] - before["total.noise"] == pytest.approx(50 * np.log10(ratio))
    assert [f.rule for f in after.findings].count("supply-mismatch") == 1
    assert "supply-mismatch" not in [f.rule for f in before.findings]


@pytest.mark.parametrize(("rated", "field"), [(2800, 3000), (2350, 3000), (1380, 1500)])
@pytest.mark.parametrize("volts", [0.9, 0.95, 1.05, 1.1])
def test_at_another_voltage_of_mains_the_motor_slips(rated, field, volts):
    """scipy.optimize.brentq where the motor's torque (by slip and square of the voltage) meets the
    fan's (by square of the speed); both 1 at the rated point."""
    found = flownet.solve(box(mains={"voltage": f"{230 * volts} V", "frequency": "50 Hz"},
                              rated_speed=f"{rated} rpm"))  # fmt: skip

    def surplus(speed):
        return volts**2 * (field - speed * rated) / (field - rated) - speed**2

    speed = brentq(surplus, 0.5, 1.2, xtol=1e-14)
    assert found["fan.one.speed_ratio"] == pytest.approx(speed, rel=1e-9)
    (said,) = [f for f in found.findings if f.rule == "supply-mismatch"]
    assert "scaled by the slip of its motor" in said.message()


@pytest.mark.parametrize("rated", ["3400 rpm", "1600 rpm", None])
def test_a_motor_without_such_a_slip_is_taken_as_it_is(rated):
    """Faster than the field of two poles, a slip of 47 %, and a speed that is not stated."""
    found = flownet.solve(box(mains={"voltage": "210 V", "frequency": "50 Hz"}, rated_speed=rated))
    assert found["fan.one.speed_ratio"] == 1.0
    (said,) = [f for f in found.findings if f.rule == "supply-mismatch"]
    assert "used as they are" in said.message()


def test_a_rating_of_the_supply_comes_before_scaling():
    rating = {"sixty": {"supply": "230 V 60 Hz", "rated_speed": "3100 rpm", "power": "22 W"}}
    found = flownet.solve(box(mains=SIXTY, rating=rating))
    assert found["fan.one.speed_ratio"] == 1.0
    assert found["fan.one.blade_pass"] == pytest.approx(7 * 3100 / 60)
    assert "supply-mismatch" not in [f.rule for f in found.findings]


def test_a_speed_in_rpm_is_not_scaled_and_that_is_said():
    found = flownet.solve(box(mains=SIXTY, fan={"speed": "2700 rpm"}))
    assert found["fan.one.speed_ratio"] == pytest.approx(1.0)
    (said,) = [f for f in found.findings if f.rule == "supply-mismatch"]
    assert "are taken at the speed stated in rpm" in said.message()


def test_supplies_may_vary_in_a_batch():
    """Each variant as an enclosure of its own."""
    case, hertz = box(), np.array([50.0, 55.0, 60.0, 400.0])
    batch = flownet.solve_many(case, {"supply.mains.frequency": hertz})
    for place, value in enumerate(hertz):
        own = flownet.solve(case, changes={"supply.mains.frequency": float(value)})
        assert batch["fan.one.volume_flow"][place] == pytest.approx(own["fan.one.volume_flow"])
    np.testing.assert_allclose(batch["fan.one.speed_ratio"], [1.0, 1.1, 1.2, 1.0])


def test_mains_do_not_put_a_fan_out_of_its_range_of_speeds():
    """60 Hz turn it 1.2 times as fast as its 50 Hz data; its control goes up to 1.0 of either."""
    found = flownet.solve(box(mains=SIXTY, speed_range="0.5 1.0"))
    assert "speed-below-minimum" not in [f.rule for f in found.findings]


@each({"as it switches": (0.1, 1.0, 1.0), "no faster than its type": (0.1, 0.8, 0.8),
       "no thermostat": (5.0, 1.0, None)}, "ramp top heard")  # fmt: skip
def test_a_thermostat_is_heard_at_its_fast_speed_also_as_a_mean(ramp, top, heard):
    """Solved as the mean of on and off, it is heard as it runs, at the speeds of its voltage; 50
    log10 of the speed."""
    control = {"by": "compartment.box", "temperature": [318.15, 318.15 + ramp], "speed": [0.5, 1.0]}
    for volts, power, most in ((24, 400.0, 0.8), (18, 320.0, 0.5)):
        made = box(mains={"voltage": volts}, supply="24 V dc", speed_range=[0.1, top],
                   fan={"speed_control": control})  # fmt: skip
        things = [thing for named in made.things.values() for thing in named.values()]
        load = flownet.Part(name="hot", in_="box", power=power)
        found = flownet.solve(flownet.Enclosure.of(*things, load))
        ratio, full = found["fan.one.speed_ratio"], volts / 24
        assert 0.5 * full < ratio < most
        turned = ratio if heard is None else heard * full
        assert found["fan.one.noise"] == pytest.approx(44 + 50 * math.log10(turned), abs=1e-9)
