"""First sizing against published figures and conservation of energy."""

from __future__ import annotations

import dataclasses
import math
import sys
from functools import cache
from types import SimpleNamespace

import fluids
import numpy as np
import pytest

import flownet
from flownet.physics import air
from flownet.schema.component import KINDS
from flownet.schema.errors import CaseError
from flownet.schema.fields import roles
from flownet.studies import size_case as size_case_module
from flownet.studies.size import SIZING_RULES, _stated, size
from flownet.studies.size_case import Need, _said, size_case
from tests.published import rows
from tests.test_cases import load

CFM = 0.3048**3 / 60  # m3/s, by the definition of the foot
DEMOS = ("bench-supply", "drive-cabinet", "outdoor-cabinet", "telecom-shelf")


# --- from numbers -------------------------------------------------------------------------------


@pytest.mark.parametrize("row", rows("air", "C1"), ids=str)
def test_flow_of_a_watt(row):
    found = size(heat=1.0, rise=1.0, inlet=row.given["temperature"])
    row.check(flow=found.volume_flow / CFM, heat=CFM / found.volume_flow)


@pytest.mark.parametrize(
    ("name", "unit", "rise"),
    [("C2", CFM, "1 degF"), ("C3", 1 / 3600, "1 K"), ("C4", 1 / 60, "1 K")],
)
def test_flow_of_a_kilowatt_by_rules_of_the_trade(name, unit, rise):
    (row,) = rows("air", name)
    found = size(heat="1 kW", rise=rise, inlet=row.given["temperature"])
    row.check(flow=found.volume_flow / unit)


@pytest.mark.parametrize("row", rows("air", "C5"), ids=str)
def test_computer_at_3000_m(row):
    """The source takes the air as it leaves: so it is sized for air that enters as warm."""
    given = row.given
    found = size(
        heat=given["power"], rise=given["rise"], inlet=given["outlet_temperature"],
        altitude=given["altitude"], velocity=given["velocity"] / 60,
    )  # fmt: skip
    row.check(
        pressure=found.pressure, mass_flow=found.mass_flow, density=found.density,
        volume_flow=found.volume_flow, diameter=math.sqrt(4 * found.area_for_velocity / math.pi),
    )  # fmt: skip
    cooler = size(
        heat=given["power"], rise=given["rise"], altitude=given["altitude"],
        inlet=given["outlet_temperature"] - given["rise"],
    )  # fmt: skip
    row.check(mass_flow=cooler.mass_flow, volume_flow=cooler.volume_flow_at_outlet)


@pytest.mark.parametrize("row", rows("air", "C7"), ids=str)
def test_boards_and_their_fan(row):
    whole = row.given["boards"] + row.given["fan"]
    found = size(heat=whole, rise=row.given["rise"], inlet="25 degC")
    alone = size(heat=row.given["fan"], rise=row.given["rise"], inlet="25 degC")
    row.check(mass_flow=found.mass_flow, fan_share=alone.mass_flow / found.mass_flow)


@pytest.mark.parametrize("row", rows("air", "A7"), ids=str)
def test_altitude_and_heat_ask_for_more_by_the_factors_of_a_fan_catalogue(row):
    places = zip(row.given["altitude"], row.given["temperature"], strict=True)
    standard = size(heat=100.0, rise=10.0, inlet="70 degF").volume_flow
    row.check(factor=[
        standard / size(heat=100.0, rise=10.0, inlet=f"{t} degF", altitude=f"{h} ft").volume_flow
        for h, t in places
    ])  # fmt: skip


@pytest.mark.parametrize("altitude", [-200.0, 0.0, 1500.0, 4500.0])
def test_mass_flow_stays_and_volume_flow_grows_with_altitude(altitude):
    """`fluids.ATMOSPHERE_1976` gives the pressure; volume flow goes as its inverse."""
    found = size(heat=400.0, rise=10.0, inlet=313.15, altitude=altitude)
    assert found.mass_flow == pytest.approx(400.0 / (1006.0 * 10.0), rel=1e-12)
    ratio = 101325.0 / fluids.ATMOSPHERE_1976(altitude).P
    assert found.volume_flow / found.volume_flow_at_sea_level == pytest.approx(ratio, rel=1e-5)


def test_the_opening_passes_the_flow_at_its_drop():
    """The sharp-edged orifice of the general library, at a beta of nearly nothing."""
    found = size(heat=400.0, rise=10.0, inlet=313.15, altitude=1500.0, margin=0.2, drop=15.0)
    speed = found.volume_flow_with_margin / found.area_for_drop
    loss = 1 / 0.61**2
    assert fluids.dP_from_K(loss, found.density, speed) == pytest.approx(15.0, rel=1e-9)
    face = size(heat=400.0, rise=10.0, inlet=313.15, velocity="1.5 m/s")
    assert face.area_for_velocity * 1.5 == pytest.approx(face.volume_flow, rel=1e-12)
    assert math.isnan(face.area_for_drop)


def test_margin_is_a_share_or_a_percentage():
    plain, by_share, by_text = (
        size(heat=100.0, rise=10.0, inlet=300.0, margin=m) for m in (0, 0.25, "25 %")
    )
    assert by_share.volume_flow_with_margin == 1.25 * plain.volume_flow
    np.testing.assert_equal(vars(by_text), vars(by_share))  # NaN beside NaN
    assert plain.volume_flow_with_margin == plain.volume_flow == by_share.volume_flow


def table(found, name):
    every = [each("metric") if callable(each) else each for each in found.sheet.tables]
    (made,) = [each for each in every if each.name == name]
    return {column.name: column.values for column in made.columns}


def test_rules_stand_in_their_own_units_and_flows_at_the_site_too():
    """3.1 m3/h and 1.76 CFM per W/K for 100 W/K; at 2000 m air is thinner by 79 501/101 325 (US
    Standard Atmosphere 1976), and at the outlet, 10 K warmer, wider by 310/300."""
    found = size(heat=1000.0, rise=10.0, inlet=300.0, altitude="2000 m", margin=0.2)
    assert table(found, "rules_of_thumb")["gives"] == ["310 m3/h", "176 CFM"]
    flows = table(found, "flows")
    assert list(flows) == ["Needed", "sea level", "2000 m"]
    at = 1000 / (1006 * 10) / (np.array([101325, 79501]) / (287.05 * 300)) * 3600
    for texts, flow in zip((flows["sea level"], flows["2000 m"]), at, strict=True):
        shown = [float(text.split()[0]) for text in texts]
        assert texts[0] == flows["sea level"][0]
        wanted = [flow, flow / CFM / 3600, *(by * each for by in (310 / 300, 1.2)
                                             for each in (flow, flow / CFM / 3600))]  # fmt: skip
        assert shown[2:] == pytest.approx(wanted, rel=5e-3)
    assert list(table(size(heat=1.0, rise=1.0, inlet=300.0), "flows")) == ["Needed", "sea level"]
    assert len(table(size(heat=1.0, rise=1.0, inlet=300.0), "flows")["Needed"]) == 6


@pytest.mark.parametrize("rule", SIZING_RULES, ids=lambda rule: rule.text)
def test_a_rule_is_right_at_its_own_density_and_its_error_is_told(rule):
    right = size(heat=300.0, rise=8.0, inlet=rule.temperature)
    assert right.by_rule(rule) == pytest.approx(right.volume_flow, rel=1e-12)
    there = size(heat=300.0, rise=8.0, inlet="45 degC", altitude="2000 m")
    pressure, temperature = there.pressure / 101325.0, rule.temperature / there.inlet
    assert there.by_rule(rule) / there.volume_flow == pytest.approx(pressure * temperature)
    assert pressure < 1
    assert temperature < 1


def test_a_stated_flow_with_the_wrong_degree_is_noticed():
    """3.16 W/K, meant for degF, is 1.8 times too much; 1/1.08 W/K is too little."""
    need = {"heat": 50.0, "rise": 10.0, "inlet": 294.15}
    too_much = size(**need, stated=f"{3.16 * 50 / 10} CFM")
    assert too_much.stated_share == pytest.approx(1.8, rel=0.01)
    assert "degF and degC" in too_much.mix.reason
    too_little = size(**need, stated=50 / (1.08 * 10) * CFM)
    assert "BTU/h" in too_little.mix.reason
    assert size(**need, stated="12 CFM").mix is None
    assert size(**need).mix is None


@pytest.mark.parametrize(("name", "low", "high"), [
    ("inlet", 150.0, 450.0), ("altitude", -500.0, 11000.0), ("margin", 0.0, 10.0),
    ("rise", 1e-3, 500.0),
])  # fmt: skip
def test_values_are_taken_up_to_the_ends_of_their_range(name, low, high):
    """Temperatures and altitudes as a case has them; the air 500 K over the outside at most."""
    fine = {"heat": 1.0, "rise": 10.0, "inlet": 300.0}
    for value in (low, high):
        assert getattr(size(**{**fine, name: value}), name) == value
    for value in (low - 1, high + 1e-6 * high):
        with pytest.raises(CaseError, match=name):
            size(**{**fine, name: value})
    if name != "rise":
        role = roles(KINDS["outside"]).get({"inlet": "temperature"}.get(name, name))
        assert role is None or (role.low, role.high) == (low, high)


@pytest.mark.parametrize(("altitude", "sea"), [(0.0, True), (0.5, True), (10.0, False)])
def test_a_site_is_at_sea_level_as_far_as_its_density_tells(altitude, sea):
    """1e-4 of the density is 0.8 m: 9.80665 / (287.05 288.15 K) a metre (barometric law)."""
    assert size(heat=1.0, rise=1.0, inlet=300.0, altitude=altitude).at_sea_level == sea


@pytest.mark.parametrize(("share", "told"), [
    (10.0, "900 % in hand"), (10.4, "Check its unit"), (1.5, "50 % in hand"),
    (0.8, "would leave 12.5 K warmer"),
])  # fmt: skip
def test_a_stated_flow_of_ten_times_the_need_says_no_percentage(share, told):
    need = {"heat": 1000.0, "rise": 10.0, "inlet": 300.0}
    found = size(**need, stated=share * size(**need).volume_flow)
    found = dataclasses.replace(found, stated=share * found.volume_flow)
    assert told in _stated(found, "metric")


@pytest.mark.parametrize(("need", "margin", "told"), [
    (Need("a", 100.0, 0.0, 10.0, 0.1), 0.0, "over 10 times ok"),
    (Need("a", 9.9, 0.0, 10.0, 0.1), 0.0, "hardly any heat"),
    (Need("a", 4.9, 5.5, 10.0, 0.1), 0.0, "over 10 times ok"),
    (Need("a", 10.3, 0.0, 10.0, 0.1), 0.0, "over 10 times ok"),
    (Need("a", 1006.0, 0.0, 10.0, 0.1), 0.0, "100 % ok"),
    (Need("a", 1006.0, 0.0, 10.0, 0.1), 0.25, "80 % short"),
    (Need("a", 100.6, 0.0, 10.0, 0.1), 0.0, "1000 % ok"),
    (Need("a", 0.0, 0.0, 10.0, 0.1), 0.0, "hardly any heat"),
    (Need("a", 9.0, 0.0, 10.0, 0.0), 0.0, "no air"),
    (Need("a", 9.0, 0.0, 0.0, 0.1), 0.0, "too hot outside"),
    (Need("a", 9.0, 0.0, math.nan, 0.1), 0.0, "no limit"),
])  # fmt: skip
def test_what_a_compartment_gets_in_words(need, margin, told):
    """1006 W warm 0.1 kg/s by 10 K; less than 1 % of 1000 W is hardly any."""
    assert _said(need, margin, 1000.0).startswith(told)


def test_every_fault_of_the_values_is_said_at_once():
    with pytest.raises(CaseError) as caught:
        size(heat=-3.0, rise="10 degX", inlet=40, altitude="40 km", margin="20 Pa", drop="0 Pa")
    said = caught.value.faults
    assert [fault.split()[0].rstrip(":") for fault in said] == [
        "heat", "rise", "inlet", "altitude", "margin", "drop"]  # fmt: skip
    assert said[0] == "heat: must be above 0 (got -3 W)"
    assert said[2].startswith('inlet = 40 is 40 K; Python numbers are SI. Write "40 degC"')


# --- from a case --------------------------------------------------------------------------------


@cache
def sized(name):
    return size_case(load(name))


@pytest.mark.parametrize("name", DEMOS)
def test_own_heat_of_all_compartments_is_the_heat_that_air_carries(name):
    """First law: heat taken up on the way in, and on the way out, is that of all sources."""
    found = sized(name)
    solution = found.solution
    leaving = sum(
        row.heat for path, row in solution.branches.items()
        if row.mass_flow and _outlet(solution, path, row.mass_flow).startswith("outside")
    )  # fmt: skip
    own = sum(need.own_heat for need in found.compartments)
    expected = solution.totals.heat - solution.totals.wall_heat
    assert own + leaving == pytest.approx(expected, abs=1e-4 * solution.totals.heat)


def _outlet(solution, path, flow):
    item = solution.case.branches[path]
    if getattr(item, "on", None) is not None:
        return ""
    return item.to if flow > 0 else item.from_


@pytest.mark.parametrize("name", DEMOS)
def test_own_and_brought_heat_are_what_the_temperature_says(name):
    """cp m (T - T_outside) of every compartment, flows and temperatures as solved."""
    found = sized(name)
    outside = found.solution.case.outside.temperature
    for need in found.compartments:
        carried = (
            1006.0 * need.solved * (found.solution.compartments[need.name].temperature - outside)
        )
        assert need.own_heat + need.brought_heat == pytest.approx(carried, abs=1e-9)


def chain(first: float, second: float, fans: float = 1.0, mid=("low", "high")) -> flownet.Enclosure:
    """Two compartments in series; heat in each, no walls, a strong fan at the end."""
    return flownet.Enclosure.of(
        flownet.Outside(temperature="30 degC"),
        flownet.Compartment(name="low", air_limit="45 degC"),
        flownet.Compartment(name="high", air_limit="50 degC"),
        flownet.Vent(name="in", from_="outside", to="low", area="0.01 m2", loss=2.0),
        flownet.Opening(name="mid", from_=mid[0], to=mid[1], area="0.01 m2"),
        flownet.FanType(name="f", curve={"flow": "0 100 200 m3/h", "rise": "60 40 0 Pa"},
                        flow_area="0.008 m2"),
        flownet.Fan(name="out", from_="high", to="outside", type="f", speed=fans),
        flownet.Part(name="a", in_="low", power=first),
        flownet.Part(name="b", in_="high", power=second),
    )  # fmt: skip


def test_two_compartments_in_series_by_hand():
    """Own heat is that of the parts; the second gets the first one's heat brought along."""
    found = size_case(chain(300.0, 200.0))
    low, high = found.compartments
    assert (low.own_heat, low.brought_heat) == pytest.approx((300.0, 0.0), abs=1e-3)
    assert (high.own_heat, high.brought_heat) == pytest.approx((200.0, 300.0), abs=1e-3)
    assert high.alone == pytest.approx(200.0 / (1006.0 * 20.0), rel=1e-5)
    assert high.needed == pytest.approx(500.0 / (1006.0 * 20.0), rel=1e-5)
    assert low.needed == low.alone == pytest.approx(300.0 / (1006.0 * 15.0), rel=1e-5)
    assert high.solved == pytest.approx(low.solved, rel=1e-9)
    assert found.worst in (low, high)
    assert found.margin == 0.0  # unless it is asked for
    turned = size_case(chain(300.0, 200.0, mid=("high", "low"))).compartments
    for need, same in zip(turned, found.compartments, strict=True):  # however it is written
        assert need[1:] == pytest.approx(same[1:], rel=1e-6, abs=1e-6)


def test_a_flow_of_just_the_need_brings_the_air_to_its_limit():
    """Without walls and with the split kept: heat raised by solved over needed, solved again."""
    case = chain(300.0, 200.0)
    share = size_case(case).worst.share
    more = {"part.a.power": 300.0 * share, "part.b.power": 200.0 * share}
    again = size_case(case.with_changes(more))
    assert again.worst.share == pytest.approx(1.0, rel=0.03)  # warmer air shifts the flow a little
    limits = {"low": 318.15, "high": 323.15}
    nearest = min(limits[n] - again.solution.compartments[n].temperature for n in limits)
    assert nearest == pytest.approx(0.0, abs=0.5)


def test_the_whole_is_the_heat_over_the_lowest_limit():
    found = size_case(chain(300.0, 200.0))
    by_hand = size(heat=500.0, rise=15.0, inlet="30 degC")
    assert found.whole.volume_flow == pytest.approx(by_hand.volume_flow, rel=1e-9)
    assert size_case(chain(300.0, 200.0), rise="5 K").whole.rise == 5.0


MOTORS = """
format = 1
outside.temperature = "30 degC"
compartment.low.air_limit = "50 degC"
compartment.high.air_limit = "55 degC"
vent.in = { from = "outside", to = "low", area = "90 cm2", loss = 2 }
fan.mid = { from = "low", to = "high", type = "t" }
fan.out = { from = "high", to = "outside", type = "t" }
wall.side = { from = "high", to = "outside", area = "1 m2", u_value = "5 W/(m2 K)" }
part.a = { in = "low", power = "120 W" }
part.b = { in = "fan.out", power = "7 W" }
[fan_type.t]
origin = "invented"
curve = { flow = "0 100 m3/h", rise = "60 0 Pa" }
flow_area = "95 cm2"
power = "20 W"
"""


@pytest.mark.parametrize(("changes", "left_out"), [
    ({}, ["fan.out"]),
    ({"fan_type.t.motor_in_air": False}, ["fan.out"]),  # the part in it is still there
    ({"fan_type.t.motor_in_air": False, "part.b.power": 0.0}, []),
    ({"fan.*.mounted": "reversed"}, []),  # it blows in now, and the vent has no heat
    ({"fan.out.state": "stopped", "part.b.power": 0.0}, []),
])  # fmt: skip
def test_heat_in_air_on_its_way_out_is_no_load(tmp_path, changes, left_out):
    """Conservation of energy: what is counted leaves through walls, and with air as warm as the
    compartment it comes from. An internal fan counts, an exhaust motor does not."""
    (tmp_path / "case.toml").write_text(MOTORS, encoding="utf-8")
    found = size_case(flownet.load_case(tmp_path / "case.toml").with_changes(changes))
    solution = found.solution
    assert list(found.leaving) == left_out
    carried = 0.0
    for path, row in solution.branches.items():
        item = solution.case.branches[path]
        source, target = (item.from_, item.to)[:: 1 if row.mass_flow > 0 else -1]
        if target == "outside":
            rise = solution.compartments[source].temperature - 303.15
            carried += air.HEAT_CAPACITY * abs(row.mass_flow) * rise
    assert found.whole.heat == pytest.approx(carried + solution.totals.wall_heat, rel=1e-6)
    assert found.to_dict()["heat_leaving_W"] == pytest.approx(
        solution.totals.heat - found.whole.heat, abs=1e-9
    )


def test_what_is_drawn_back_in_of_a_motors_heat_is_counted(tmp_path):
    """Of the air drawn in, 0.25 is what the fan blows out, by nearly equal mass flows."""
    loop = MOTORS + '[recirculation.r]\nfrom = "fan.out"\nto = "vent.in"\nfraction = 0.25\n'
    (tmp_path / "case.toml").write_text(loop, encoding="utf-8")
    found = size_case(flownet.load_case(tmp_path / "case.toml"))
    own = found.solution.branches["fan.out"].heat
    assert found.leaving["fan.out"] == pytest.approx(0.75 * own, rel=1e-6)
    twice = (
        loop.replace("90 cm2", "45 cm2")
        + """[vent.beside]
from = "outside"
to = "low"
area = "45 cm2"
loss = 2.0
"""
    )
    (tmp_path / "case.toml").write_text(twice, encoding="utf-8")
    found = size_case(flownet.load_case(tmp_path / "case.toml"))  # a quarter of half of the air
    own = found.solution.branches["fan.out"].heat
    assert found.leaving["fan.out"] == pytest.approx(7 / 8 * own, rel=0.01)


def test_the_required_flow_of_a_case_is_checked():
    case = chain(300.0, 200.0).with_changes({"limits.flow": "120 m3/h"})
    assert size_case(case).whole.stated == pytest.approx(120 / 3600)
    assert size_case(case, stated="60 CFM").whole.stated == pytest.approx(60 * CFM)


def test_compartments_without_limit_or_air_have_no_share():
    unlimited = Need("a", 100.0, 0.0, math.nan, 0.1)
    hopeless = Need("b", 100.0, 0.0, -3.0, 0.1)
    still = Need("c", 0.0, 0.0, 10.0, 0.0)
    cooled = Need("d", -20.0, 0.0, 10.0, 0.1)
    assert all(math.isnan(need.share) for need in (unlimited, hopeless, still))
    assert (cooled.needed, cooled.share) == (0.0, math.inf)


@pytest.mark.parametrize(
    ("own", "rise", "needed"),
    [(100.0, 0.5, 100 / 503.0), (0.5, 10.0, 0.5 / 10060.0), (100.0, 0.0, math.nan),
     (0.0, 10.0, 0.0), (0.0, math.nan, math.nan), (0.0, -1.0, 0.0)],
)  # fmt: skip
def test_what_a_compartment_needs_is_heat_over_heat_capacity_and_rise(own, rise, needed):
    need = Need("a", own, 0.0, rise, 0.1)
    assert (need.needed, need.alone) == pytest.approx((needed, needed), nan_ok=True)


@pytest.mark.parametrize("warm", [80.0, 20.0])
def test_heat_that_comes_in_through_walls_is_in_the_need_and_what_leaves_is_not_off_it(warm):
    """U A (T_there - T_air) of a wall to other surroundings."""
    case = chain(300.0, 200.0)
    things = [item for named in case.things.values() for item in named.values()]
    side = flownet.Wall(name="side", from_="low", to="outside.room", area=2.0, u_value=4.0)
    room = flownet.Outside(name="room", temperature=f"{warm} degC")
    found = size_case(flownet.Enclosure.of(*things, side, room))
    solution = found.solution
    through = 8.0 * (warm + 273.15 - solution.compartments["low"].temperature)
    assert found.coming == pytest.approx(max(through, 0.0), rel=1e-6)
    assert (found.coming > 50) == (warm == 80)
    assert found.whole.heat == pytest.approx(500.0 + found.coming, rel=1e-9)
    assert found.to_dict()["heat_through_walls_W"] == found.coming


@pytest.mark.parametrize(
    "changes",
    [{"part.*.power": 0.0}, {"compartment.*.air_limit": "25 degC"},
     {"compartment.*.air_limit": "30 degC"}],
)  # fmt: skip
def test_without_heat_or_rise_there_is_no_whole(changes):
    assert size_case(chain(300.0, 200.0).with_changes(changes)).whole is None


def test_frames_are_the_rows_of_the_json(monkeypatch):
    monkeypatch.setitem(sys.modules, "pandas", SimpleNamespace(DataFrame=list))
    found = size_case(chain(300.0, 200.0), stated="60 CFM", margin=0.2)
    assert found.to_frame() == found.to_dict()["compartments"]
    (row,) = found.whole.to_frame()
    whole = found.whole.to_dict()
    assert set(whole) - set(row) == {"command", "rules"}
    assert row["stated_share"] == pytest.approx(60 * CFM / found.whole.volume_flow)
    assert whole["volume_flow_with_margin_CFM"] == pytest.approx(
        1.2 * found.whole.volume_flow / CFM
    )
    for rule in whole["rules"]:
        assert rule["share"] == pytest.approx(rule["volume_flow_m3_s"] / found.whole.volume_flow)


def test_heat_of_a_branch_is_that_of_its_sources(monkeypatch):
    """Of a duct, whose own wall gives heat too, that of the parts in it."""
    places = {"p": "duct.d", "q": "duct.e", "r": "duct.d", "none": "duct.d"}
    monkeypatch.setattr(size_case_module, "root_places", lambda case: places)
    parts = {name: SimpleNamespace(heat=heat) for name, heat in
             {"p": 5.0, "q": 7.0, "r": 2.0, "none": math.nan}.items()}  # fmt: skip
    branches = {"vent.v": SimpleNamespace(heat=None), "slot.s": SimpleNamespace(heat=3.0),
                "duct.d": SimpleNamespace(heat=99.0)}  # fmt: skip
    solution = SimpleNamespace(case=None, parts=parts, branches=branches)
    found = [size_case_module._given_off(solution, path) for path in branches]
    assert found == [0.0, 3.0, 7.0]


def test_a_tall_door_brings_air_in_beside_its_net_flow():
    """All heat of the part leaves with it, but for what goes through the wall."""
    found = size_case(flownet.Enclosure.of(
        flownet.Outside(temperature="30 degC"),
        flownet.Compartment(name="box", outline="0 0 600 1300 mm", depth="400 mm",
                            air_limit="50 degC"),
        flownet.Opening(name="door", from_="outside", to="box", area=0.09, height=0.75,
                        at=(0.0, 0.6)),
        flownet.Part(name="p", in_="box", power=180.0),
        flownet.Wall(name="w", from_="box", to="outside", area=1.5, u_value=5.0),
    ))  # fmt: skip
    (need,), solution = found.compartments, found.solution
    warm = solution.compartments["box"].temperature - 303.15
    assert need.solved > 0.005
    assert need.own_heat == pytest.approx(180.0 - 7.5 * warm, rel=1e-3)
    assert need.own_heat == pytest.approx(1006.0 * need.solved * warm, rel=1e-6)
    assert need.brought_heat == pytest.approx(0.0, abs=1e-6)
    assert need.allowed_rise == pytest.approx(20.0)


def test_a_tall_door_between_compartments_brings_heat_both_ways():
    """No wall: all 180 W of the inner one pass the hall, which warms nothing by itself."""
    tall = {"outline": "0 0 600 1300 mm", "depth": "400 mm"}
    found = size_case(flownet.Enclosure.of(
        flownet.Outside(temperature="30 degC"),
        *(flownet.Compartment(name=name, **tall, air_limit="70 degC") for name in ("hall", "room")),
        *(flownet.Opening(name=name, from_=name, to=to, area=0.09, height=0.75, at=(0.0, 0.6))
          for name, to in (("hall", "outside"), ("room", "hall"))),
        flownet.Part(name="p", in_="room", power=180.0),
    ))  # fmt: skip
    solution, needs = found.solution, {need.name: need for need in found.compartments}
    warm = {name: solution.compartments[name].temperature - 303.15 for name in needs}
    each = {name: solution.branches[f"opening.{name}"].counter_flow for name in needs}
    assert min(each.values()) > 0.005
    assert needs["hall"].own_heat == pytest.approx(0.0, abs=1e-3)
    assert needs["room"].own_heat == pytest.approx(180.0, rel=1e-5)
    assert needs["room"].brought_heat == pytest.approx(1006 * each["room"] * warm["hall"])
    assert needs["hall"].brought_heat == pytest.approx(1006 * each["room"] * warm["room"])
    assert needs["hall"].solved == pytest.approx(each["hall"] + each["room"])


def test_the_table_of_needs_has_flows_at_the_density_of_the_site():
    """The least share first; with the margin that is asked for, and what is hardly any heat."""
    found = size_case(chain(300.0, 200.0), margin=0.2)
    (needs,) = [each for each in found.sheet.of("page") if each.name == "needs"]
    columns = {column.name: column.values for column in needs.columns}
    order = sorted(found.compartments, key=lambda need: need.share)
    assert columns["Compartment"] == [need.name for need in order]
    density = found.solution.site["density"]
    for head, flows in (("needed +20 %", [1.2 * need.needed for need in order]),
                        ("alone", [need.alone for need in order]),
                        ("solved", [need.solved for need in order])):  # fmt: skip
        shown = [float(text.split()[0]) for text in columns[head]]
        assert shown == pytest.approx([3600 * flow / density for flow in flows], rel=6e-3)
    assert len(needs.notes) == 1
    assert columns["own"][order.index(found.compartments[0])] == "300 W"
    bare = size_case(chain(300.0, 0.0))
    (needs,) = [each for each in bare.sheet.of("page") if each.name == "needs"]
    assert "needed" in {column.name for column in needs.columns}
    some = {need["compartment"]: need for need in found.to_dict()["compartments"]}
    for need in found.compartments:
        assert some[need.name]["needed_with_margin_kg_s"] == pytest.approx(1.2 * need.needed)
    cold = size_case(chain(300.0, 200.0).with_changes({"part.*.power": 0.001}))
    (needs,) = [each for each in cold.sheet.of("page") if each.name == "needs"]
    assert len(needs.notes) == 1 + any(
        text.startswith("hardly") for text in needs.columns[-1].values
    )


def test_a_site_of_a_given_pressure_has_no_altitude():
    case = chain(300.0, 200.0)
    assert size_case(case.with_changes({"outside.altitude": 500.0})).whole.altitude == 500.0
    low = size_case(case.with_changes({"outside.pressure": 9e4}))
    assert math.isnan(low.whole.altitude)
    assert low.whole.pressure == 9e4
    assert not low.whole.at_sea_level
    assert size_case(case, rise="5 K").compartments[0].allowed_rise == pytest.approx(5.0)
