"""Numbers in findings on limits, fans and ways of the air, against formulae worked by hand.

Solutions are made by hand, so that a number here can only come from the rule. Air: R = 287.05,
cp = 1006 J/(kg K), g = 9.80665 m/s2 (US Standard Atmosphere 1976).
"""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest

from flownet.enclosure.branches import Leak, Vent
from flownet.enclosure.heat import Part
from flownet.enclosure.surroundings import Compartment, Outside
from flownet.equations.topology import Structure
from flownet.findings.draught import branch_ends, main_stream
from flownet.findings.facts import running_fans, streams
from flownet.findings.fans import last_peak
from flownet.judging.opposed import holes
from flownet.results.batch import single
from tests.findings import samples, samples_use
from tests.findings.build import (
    CP,
    FLOWS,
    WARM,
    ZERO,
    about,
    axial,
    life_limit,
    noise_limit,
    numbers,
    panel,
    part_limit,
    solved,
    things,
)
from tests.published import rows

# --- limits -------------------------------------------------------------------------------------


def test_a_part_over_its_limit_shows_where_its_temperature_comes_from():
    """25 outside, 31.6 in the air, 92 at the part: 6.6 K and 60.4 K; 2 K too many."""
    found = numbers(solved(limits=(part_limit("drive", 92.0, 90.0),)), "limit-part")
    assert found["gain"] == pytest.approx(6.6)
    assert found["own"] == pytest.approx(60.4)
    assert found["allowed"] == pytest.approx(58.4)
    assert found["over"] == pytest.approx(2.0)


@pytest.mark.parametrize(
    ("value", "bound", "air", "advice"),
    [
        (92.0, 90.0, 31.6, "lower resistance to the air"),
        (92.0, 90.0, 80.0, "Bring it air that is 2.0 K cooler"),
        (92.0, 25.0, 31.6, "cooler surroundings"),
        (92.0, 90.0, 25.0, "lower resistance to the air"),
    ],
)
def test_advice_for_a_part_goes_to_the_larger_share(value, bound, air, advice):
    parts = {"drive": {"air_temperature": air + ZERO}}
    (found,) = about(solved(parts=parts, limits=(part_limit("drive", value, bound),)), "limit-part")
    assert advice in found.advice()


def test_a_part_on_a_part_is_measured_against_the_air_of_the_lowest():
    """The chip's own row names the sink's temperature; what counts is the air at the sink."""
    chip = Part(name="chip", in_="part.drive", power="5 W", limit="60 degC")
    parts = {"chip": {"air_temperature": 67.0 + ZERO, "temperature": 67.0 + ZERO}}
    made = solved(things(chip=chip), parts=parts, limits=(part_limit("chip", 67.0, 60.0),))
    assert numbers(made, "limit-part")["own"] == pytest.approx(67.0 - 31.6)


def test_air_over_its_limit_names_the_heat_and_the_flow():
    """P = m cp dT: 0.03 x 1006 x 2 = 60.4 W; 27 K in place of 25 K: 1.08 times the air."""
    found = numbers(samples.FIRES["limit-air"][0](), "limit-air")
    assert found["heat"] == pytest.approx(0.03 * CP * 2.0)
    assert found["times"] == pytest.approx(27.0 / 25.0)
    assert found["gain"] == pytest.approx(27.0)


def test_noise_over_its_limit_names_the_speed_that_keeps_it():
    """50 log10 of the speed (common practice); a maker's note: 10 % more speed is 2 dB more."""
    ratio = numbers(solved(limits=(noise_limit(44.0, 41.0),)), "limit-noise")["ratio"]
    assert 50 * math.log10(ratio) == pytest.approx(-3.0)
    louder = numbers(solved(limits=(noise_limit(43.0, 41.0),)), "limit-noise")["ratio"]
    assert 1 / louder == pytest.approx(1.1, abs=0.005)


def test_life_below_its_limit_names_the_air_that_it_takes():
    """A maker's page: 75 000 h at 40 degC are 33 333 h at 60 degC with the factor 1.5."""
    (row,) = rows("noise_life", "B1")
    life, rated = row.given["life"], row.given["rated_temperature"] + ZERO
    data = {"hours": life, "at": rated, "factor_per_10K": row.given["factor_per_10K"]}
    made = solved(
        things(type=axial(life=data)),
        fans={"fan.roof": {"air_temperature": row.given["warm"] + ZERO}},
        limits=(life_limit("roof", row.expected["life_warm"], life),),
    )
    found = numbers(made, "limit-life")
    assert found["needed"] == pytest.approx(rated, abs=0.01)
    assert found["short"] == pytest.approx(life - row.expected["life_warm"])
    assert found["air"] == pytest.approx(row.given["warm"] + ZERO)
    beyond = solved(
        things(type=axial(life=data)),
        fans={"fan.roof": {"air_temperature": row.given["warm"] + ZERO}},
        limits=(life_limit("roof", row.expected["life_warm"], 2.1 * life),),
    )
    assert numbers(beyond, "limit-life")["reach"] == pytest.approx(2 * life, rel=1e-4)
    assert np.isnan(numbers(beyond, "limit-life")["needed"])


@pytest.mark.parametrize(
    ("sample", "rule", "severity"),
    [
        (lambda: samples.leaky(0.14), "filter-bypass", "note"),
        (lambda: samples.leaky(0.16), "filter-bypass", "warning"),
        (lambda: samples.chip(0.9), "resistance-out-of-range", "warning"),
        (lambda: samples.chip(3.5), "resistance-out-of-range", "note"),  # 17 % above, safe side
    ],
)
def test_what_is_mild_is_a_note(sample, rule, severity):
    assert [found.severity for found in about(sample(), rule)] == [severity]


# --- fans ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("rises", "peak"),
    [
        ((78.0, 52.0, 44.0, 0.0), 0.0),
        ((60.0, 42.0, 46.0, 30.0), 2.0),
        ((60.0, 62.0, 46.0, 30.0), 1.0),
        ((60.0, 42.0, 46.0, 30.0, 31.0, 0.0), 4.0),
        ((60.0, 42.0, 42.0, 0.0), 0.0),
    ],
)
def test_the_last_peak_of_a_curve(rises, peak):
    assert last_peak(tuple((float(i), rise) for i, rise in enumerate(rises))) == peak


def test_stall_is_named_at_the_speed_and_flow_factor_of_the_fan():
    """The peak at 50 m3/h moves with the speed (fan laws, ISO 5801) and the flow factor."""
    made = solved(
        things(type=axial(curve=samples.HUMP), roof=samples.roof(speed=0.8, flow_factor=1.1)),
        branches={"fan.roof": {"volume_flow": 30 / 3600}},
        fans={"fan.roof": {"region": "stall", "rise": 25.0, "speed_ratio": 0.8}}, points=3,
    )  # fmt: skip
    found = numbers(made, "fan-stall")
    assert found["peak"] == pytest.approx(50 / 3600 * 0.8 * 1.1)
    assert "3 operating points" in about(made, "fan-stall")[0].message()


def test_a_fan_that_is_pushed_names_how_far():
    found = numbers(samples.FIRES["fan-past-free-delivery"][0](), "fan-past-free-delivery")
    assert found["ratio"] == pytest.approx(121 / 110)


def test_past_the_last_point_of_a_curve_with_pressure_left_is_called_that():
    curve = {"flow": "0 80 120 m3/h", "rise": "70 50 30 Pa"}
    made = solved(
        things(type=axial(curve=curve)), fans={"fan.roof": {"region": "past-free-delivery"}}
    )
    (found,) = about(made, "fan-past-free-delivery")
    assert "past the last point of its curve" in found.message()
    assert "assumption" in found.message()
    assert found.advice().startswith("The curve of fan_type.axial ends with 30.0 Pa left: add the")


def test_what_to_do_past_free_delivery_depends_on_what_pushes():
    (alone,) = about(samples.FIRES["fan-past-free-delivery"][0](), "fan-past-free-delivery")
    assert alone.advice().startswith("No other fan runs: draught or the pressure of the")
    pushed = samples.two_fans(flow=0.02, rise=-4.0, region="past-free-delivery")
    (beside,) = about(pushed, "fan-past-free-delivery")
    assert beside.subject == "fan.weak"
    assert beside.advice().startswith("Slow the stronger fan, take fans of equal size, or leave")


def test_backflow_names_the_shut_off_pressure_in_the_air_it_draws():
    """Shut-off 30 Pa at 1.2 kg/m3; fan laws: proportional to density and the speed squared.

    Air of 31.6 degC at 101 325 Pa: 101325 / (287.05 x 304.75) = 1.1583 kg/m3.
    """
    density = 101325.0 / (287.05 * 304.75)
    found = numbers(samples.two_fans(), "fan-backflow")
    assert found["shut_off"] == pytest.approx(30.0 * density / 1.2)
    assert found["flow"] == pytest.approx(0.008 / (101325.0 / (287.05 * 298.15)))


@pytest.mark.parametrize(("speed", "factor"), [(0.5, 1.0), (1.0, 1.2)])
def test_shut_off_follows_speed_and_pressure_factor(speed, factor):
    fan = samples.roof(speed=speed, pressure_factor=factor)
    (own,) = running_fans(solved(things(roof=fan), fans={"fan.roof": {"speed_ratio": speed}}))
    assert own.shut_off == pytest.approx(70.0 * own.density / 1.2 * speed**2 * factor)


def test_a_reversed_fan_blows_the_other_way():
    (own,) = running_fans(samples.downward(40.0, 30.0))
    assert (own.source, own.target) == ("outside", "upper")
    assert own.flow > 0
    assert own.density == pytest.approx(101325.0 / (287.05 * 298.15))


def test_a_speed_in_rpm_is_a_ratio_where_the_result_has_none():
    made = solved(
        things(roof=samples.roof(speed="1350 rpm")), fans={"fan.roof": {"speed_ratio": math.nan}}
    )
    (own,) = running_fans(made)
    assert own.speed == pytest.approx(0.5)


def test_fans_in_series_head_on_over_several_compartments():
    (found,) = about(samples.head_on(), "fans-opposed")
    assert found.values["places"] == (None, "compartment.lower and compartment.upper")
    assert "fan.front" in found.message()
    assert "fan.roof" in found.message()


def test_fans_side_by_side_without_an_outlet_are_not_called_opposed():
    made = things(
        intake=None, roof=samples.roof(name="roof", from_="outside", to="upper"),
        front=samples.roof(name="front", from_="outside", to="lower"),
        seam=Leak(name="seam", from_="upper", to="outside", flow_at=["2 m3/h", "10 Pa"]),
    )  # fmt: skip
    flows = {"fan.front": 1e-3, "fan.roof": 1e-3, "baffle.shelf": 1e-3, "leak.seam": 2e-3}
    solution = solved(made, flows=flows, scenarios={}, branches={"leak.seam": {"drop": 65.0}})
    assert not about(solution, "fans-opposed")
    assert about(solution, "outlet-missing")


def test_fans_that_blow_out_need_a_way_in():
    made = things(intake=Vent(name="in", from_="outside", to="lower", area="12 cm2", loss=2.5))
    flows = {"vent.in": 0.002, "baffle.shelf": 0.002, "fan.roof": 0.002}
    solution = solved(made, flows=flows, scenarios={}, branches={"vent.in": {"drop": 65.0}})
    (found,) = about(solution, "outlet-missing")
    assert found.values["way"] == (None, "out")
    expected = 0.002 / (0.61 * math.sqrt(2 * 65.0 * 101325.0 / (287.05 * 298.15)))
    assert found.values["hole"][1] == pytest.approx(expected)


def test_a_sealed_failed_fan_names_what_could_flow_back():
    """K rho v^2 / 2 = 30 Pa with K = 10 on 95 cm2: v = sqrt(60 / (10 x 1.184)) = 2.251 m/s."""
    found = numbers(samples.FIRES["failed-fan-sealed"][0](), "failed-fan-sealed")
    density = 101325.0 / (287.05 * 298.15)
    assert found["across"] == pytest.approx(30.0)
    assert found["back"] == pytest.approx(95e-4 * math.sqrt(2 * 30.0 / (10.0 * density)))


def test_a_fan_that_a_variant_leaves_out_is_no_failed_fan():
    made = things(second=samples.roof(name="second", state="blanked"))
    assert not about(solved(made, flows={**FLOWS, "fan.second": 0.0}), "failed-fan-sealed")


# --- draught ------------------------------------------------------------------------------------


def test_draught_along_the_way_of_the_air_is_that_of_a_chimney():
    """Lift = (rho_0 - rho) g h, any textbook: 1.8 m of air at 65 degC beside air at 25 degC."""
    outside, warm = (101325.0 / (287.05 * t) for t in (298.15, 338.15))
    found = numbers(samples.downward(65.0, 10.0), "draught-against-fan")
    assert found["against"] == pytest.approx((outside - warm) * 9.80665 * 1.8)
    assert found["against"] == pytest.approx(0.2 * 12.35, rel=0.01)  # what the near miss rests on


def test_draught_that_helps_is_not_worth_a_word():
    made = solved(warm={"lower": 40.0, "upper": 65.0}, fans={"fan.roof": {"rise": 1.0}})
    assert not about(made, "draught-against-fan")


def test_the_main_stream_follows_the_largest_branches():
    made = things(hole=Vent(name="hole", from_="upper", to="outside", area="50 cm2", loss=2.5))
    solution = solved(made, flows={**FLOWS, "fan.roof": 0.02, "vent.hole": 0.01})
    (fan,) = running_fans(solution)
    moving = {stream.path: stream for stream in streams(solution)}
    way = [stream.path for stream in main_stream(fan, moving)]
    assert way == ["filter.intake", "baffle.shelf", "fan.roof"]


def test_a_fan_inside_has_a_closed_way():
    stir = samples.roof(name="roof", from_="upper", to="lower")
    flows = {"baffle.shelf": 0.02, "fan.roof": 0.02}
    solution = solved(things(roof=stir, intake=None), flows=flows, scenarios={})
    (fan,) = running_fans(solution)
    moving = {stream.path: stream for stream in streams(solution)}
    assert [s.path for s in main_stream(fan, moving)] == ["fan.roof", "baffle.shelf"]


def test_ends_of_branches_stand_where_at_puts_them():
    ends = branch_ends(solved().case)
    assert ends["filter.intake"] == pytest.approx((0.15, 0.15))
    assert ends["fan.roof"] == pytest.approx((1.8, 1.8))
    assert ends["baffle.shelf"] == pytest.approx((0.9, 0.9))  # mean of 0.45 and 1.35 m


# --- ways of the air ----------------------------------------------------------------------------


def test_a_sealed_place_names_its_heat_and_rise():
    found = numbers(samples.FIRES["no-through-air"][0](), "no-through-air")
    assert found["heat"] == pytest.approx(30.0)
    assert found["rise"] == pytest.approx(27.0)


def test_a_fan_in_a_sealed_box_only_mixes():
    twin = Compartment(name="twin")
    made = things(
        box=Compartment(name="box"), twin=twin, side=panel(name="side", from_="box"),
        way=Vent(name="way", from_="twin", to="box", area="50 cm2", loss=2.5),
        stir=samples.roof(name="stir", from_="box", to="twin"),
        heat=Part(name="heat", in_="twin", power="30 W"),
    )  # fmt: skip
    flows = {**FLOWS, "fan.stir": 0.02, "vent.way": 0.02}
    solution = solved(
        made, flows=flows, warm={**WARM, "box": 60.0, "twin": 61.0},
        branches={"fan.stir": {"heat": 18.0}},
    )  # fmt: skip
    (found,) = about(solution, "no-through-air")
    assert "fan.stir only mix the air" in found.message()
    assert found.values["heat"][1] == pytest.approx(48.0)
    assert found.values["rise"][1] == pytest.approx(36.0)


def test_exhaust_beside_intake_names_distance_and_gain():
    found = numbers(samples.same_face("0 270 mm"), "exhaust-near-intake")
    assert found["distance"] == pytest.approx(0.120)
    assert found["gain"] == pytest.approx(6.6)


def test_exhaust_to_other_surroundings_is_not_near():
    made = things(
        aisle=Outside(name="aisle", temperature="30 degC"),
        roof=samples.roof(at="0 270 mm", to="outside.aisle"),
    )
    assert not about(solved(made), "exhaust-near-intake")


def test_without_a_size_the_outlines_are_the_enclosure():
    made = things(body=None, roof=samples.roof(at="0 270 mm"))
    assert about(solved(made), "exhaust-near-intake")


def test_empty_slots_name_their_share():
    """Four parts of six."""
    assert numbers(samples.shelf("fitted", "fitted", "empty"), "slot-empty")["share"] == "67 %"


def test_a_loss_is_turned_into_the_hole_it_is_worth():
    """dp = K rho v^2 / 2 and Q = 0.61 A sqrt(2 dp / rho) give A_hole = A / (0.61 sqrt(K))."""
    found = numbers(samples.vented(loss=250.0), "loss-area-suspect")
    velocity = math.sqrt(2 * 10.0 / (250.0 * 1.2))
    assert found["hole"] == pytest.approx(velocity * 50e-4 / (0.61 * math.sqrt(2 * 10.0 / 1.2)))


@pytest.mark.parametrize(("life", "warm"), [(None, 40.0 + ZERO), (samples.axial().life, math.nan)])
def test_a_life_too_short_is_told_without_what_is_not_known(life, warm):
    made = solved(things(type=axial(life=life)), limits=(life_limit("roof", 33333.0, 50000.0),),
                  fans={"fan.roof": {"air_temperature": warm}})  # fmt: skip
    (found,) = about(made, "limit-life")
    assert "in air of" not in found.message()
    assert numbers(made, "limit-life")["short"] == pytest.approx(50000.0 - 33333.0)


@pytest.mark.parametrize(
    ("flow", "drop", "density", "area"),
    [
        (0.0, 0.0, 1.2, 0.0), (0.01, 0.0, 1.2, math.nan), (0.01, 50.0, 0.0, math.nan),
        (0.01, math.nan, 1.2, math.nan), (-1.0, 0.5, 0.9, 1 / (0.61 * 0.9**0.5)),
        (0.61 * 12e-4 * math.sqrt(2 * 65.0 * 1.184), 65.0, 1.184, 12e-4),
    ],
)  # fmt: skip
def test_the_hole_that_a_loss_is_worth(flow, drop, density, area):
    """m = 0.61 A (2 rho dp)^0.5, either way; none where nothing passes, unknown without a loss."""
    given = {"mass_flow": flow, "drop": drop, "density": density}
    made = solved(branches={"baffle.shelf": given})
    s = Structure.of(made.case)
    (found,) = holes(s, single(made))[s.branches.index("baffle.shelf")]
    assert found == pytest.approx(area, nan_ok=True)


@pytest.mark.parametrize(("u_value", "cause"), [(5.5, "walls and exchanges carry"),
                                                (1e-3, "buoyancy gives")])  # fmt: skip
def test_layers_matter_by_walls_first_and_else_by_buoyancy(u_value, cause):
    """A box that its wall cools and one that it hardly does, both with buoyancy alone."""
    (found,) = about(samples_use.box(u_value), "well-mixed")
    assert found.message().startswith(cause)


@pytest.mark.parametrize(
    ("intake", "roof", "near"),
    [
        ("100 150 mm", "100 270 mm", True), ("900 150 mm", "900 270 mm", True),
        ("300 50 mm", "420 50 mm", True), ("300 1850 mm", "420 1850 mm", True),
        ("0 150 mm", "0 270 mm", False), ("500 150 mm", "500 270 mm", False),
    ],
)  # fmt: skip
def test_without_a_size_the_view_is_what_the_outlines_cover(intake, roof, near):
    """From 100 to 900 mm across, from 50 to 1850 mm up: openings 120 mm apart on each edge."""
    made = things(
        body=None, intake=dataclasses.replace(things()["intake"], at=intake),
        lower=Compartment(name="lower", outline="100 50 700 900 mm"),
        upper=Compartment(name="upper", outline="200 950 700 900 mm"), roof=samples.roof(at=roof),
    )  # fmt: skip
    found = about(solved(made), "exhaust-near-intake")
    assert [item.values["distance"][1] for item in found] == [pytest.approx(0.12)] * near


@pytest.mark.parametrize(("more", "keep"), [({}, "keeps"), ({"second": "180 W"}, "keep"),
                                            ({"second": "90 W"}, "")])  # fmt: skip
def test_parts_with_one_resistance_and_one_heat_stand_together(more, keep):
    parts = {name: Part(name=name, in_="upper", power=power, limit="90 degC", resistance="0.2 K/W")
             for name, power in more.items()}  # fmt: skip
    high = Outside(temperature="25 degC", altitude="3000 m")
    found = about(solved(things(outside=high, **parts)), "resistance-at-sea-level")
    words = [{k: v for k, (_, v) in each.values.items()} for each in found]
    if keep:
        assert [each["keep"] for each in words] == [keep]
    else:
        assert [each["keep"] for each in words] == ["keeps", "keeps"]
