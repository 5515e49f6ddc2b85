"""Numbers in findings that take a whole sample to show, against formulae worked by hand.

Solutions are made by hand, so that a number here can only come from the rule. Air: R = 287.05,
cp = 1006 J/(kg K), g = 9.80665 m/s2 (US Standard Atmosphere 1976).
"""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest
import scipy.optimize

from flownet.enclosure.branches import Filter, Leak, Slot, Vent
from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.heat import Part
from flownet.enclosure.surroundings import Compartment, Outside
from flownet.equations.topology import Structure
from flownet.findings.facts import running_fans
from flownet.findings.fans import last_peak
from flownet.findings.filters import unfiltered
from flownet.judging.opposed import holes
from flownet.results.batch import single
from tests.each import each, named
from tests.findings import samples
from tests.findings.build import (
    FLOWS,
    ZERO,
    about,
    axial,
    life_limit,
    numbers,
    part_limit,
    solved,
    things,
)
from tests.published import rows

# --- limits -------------------------------------------------------------------------------------


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


# --- fans ---------------------------------------------------------------------------------------


@each(
    named(
        [
            ((78.0, 52.0, 44.0, 0.0), 0.0),
            ((60.0, 42.0, 46.0, 30.0), 2.0),
            ((60.0, 62.0, 46.0, 30.0), 1.0),
            ((60.0, 42.0, 46.0, 30.0, 31.0, 0.0), 4.0),
            ((60.0, 42.0, 42.0, 0.0), 0.0),
        ]
    )
)
def test_the_last_peak_of_a_curve(rises, peak):
    assert last_peak(tuple((float(i), rise) for i, rise in enumerate(rises))) == peak


@each(named([(0.5, 1.0, 1.0), (1.0, 1.2, 1.2), (1.0, 1.0, None)]))
def test_shut_off_follows_speed_density_and_pressure_factor(speed, factor, stated):
    fan = samples.roof(speed=speed, pressure_factor=factor)
    made = things(roof=fan, type=axial(reference_density=stated))
    (own,) = running_fans(solved(made, fans={"fan.roof": {"speed_ratio": speed}}))
    assert own.shut_off == pytest.approx(70.0 * own.density / (stated or 1.2) * speed**2 * factor)


# --- draught ------------------------------------------------------------------------------------


# --- ways of the air ----------------------------------------------------------------------------


def test_exhaust_to_other_surroundings_is_not_near():
    made = things(
        aisle=Outside(name="aisle", temperature="30 degC"),
        roof=samples.roof(at="0 270 mm", to="outside.aisle"),
    )
    assert not about(solved(made), "exhaust-near-intake")


@each(named([
        (0.0, 0.0, 1.2, 0.0), (0.01, 0.0, 1.2, math.nan), (0.01, 50.0, 0.0, math.nan),
        (0.01, math.nan, 1.2, math.nan), (-1.0, 0.5, 0.9, 1 / (0.61 * 0.9**0.5)),
        (0.61 * 12e-4 * math.sqrt(2 * 65.0 * 1.184), 65.0, 1.184, 12e-4),
    ]))  # fmt: skip
def test_the_hole_that_a_loss_is_worth(flow, drop, density, area):
    """m = 0.61 A (2 rho dp)^0.5, either way; none where nothing passes, unknown without a loss."""
    given = {"mass_flow": flow, "drop": drop, "density": density}
    made = solved(branches={"baffle.shelf": given})
    s = Structure.of(made.case)
    (found,) = holes(s, single(made))[s.branches.index("baffle.shelf")]
    assert found == pytest.approx(area, nan_ok=True)


@each(named([
        ("100 150 mm", "100 270 mm", True), ("900 150 mm", "900 270 mm", True),
        ("300 50 mm", "420 50 mm", True), ("300 1850 mm", "420 1850 mm", True),
        ("0 150 mm", "0 270 mm", False), ("500 150 mm", "500 270 mm", False),
    ]))  # fmt: skip
def test_without_a_size_the_view_is_what_the_outlines_cover(intake, roof, near):
    """From 100 to 900 mm across, from 50 to 1850 mm up: openings 120 mm apart on each edge."""
    made = things(
        body=None, intake=dataclasses.replace(things()["intake"], at=intake),
        lower=Compartment(name="lower", outline="100 50 700 900 mm"),
        upper=Compartment(name="upper", outline="200 950 700 900 mm"), roof=samples.roof(at=roof),
    )  # fmt: skip
    found = about(solved(made), "exhaust-near-intake")
    assert [item.values["distance"][1] for item in found] == [pytest.approx(0.12)] * near


@each(named([({}, "keeps"), ({"second": "180 W"}, "keep"),
                                            ({"second": "90 W"}, "")]))  # fmt: skip
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


# --- filters ------------------------------------------------------------------------------------


def test_bypass_is_the_air_that_has_passed_no_filter():
    """Outside air into a plain room, then a filter into the next: all is clean but the leak."""
    made = things(
        intake=Vent(name="open", from_="outside", to="lower", area="450 cm2", loss=2.5), shelf=None,
        mat=Filter(name="mat", from_="lower", to="upper", area="450 cm2",
                   velocity_drop={"velocity": "0.5 2 m/s", "drop": "18 108 Pa"}),
        seal=Leak(name="seal", from_="lower", to="upper", flow_at=["5 m3/h", "10 Pa"]),
    )  # fmt: skip
    flows = {"vent.open": 0.03, "filter.mat": 0.024, "leak.seal": 0.006, "fan.roof": 0.03}
    total, dirty = unfiltered(solved(made, flows=flows))
    assert total == pytest.approx(0.03)
    assert dirty == pytest.approx({"vent.open": 0.006}, rel=1e-6)


def test_air_that_goes_round_inside_keeps_the_share():
    """A loop between two compartments changes nothing in what leaves."""
    made = things(
        seal=Leak(name="seal", from_="outside", to="upper", flow_at=["5 m3/h", "10 Pa"]),
        back=Vent(name="back", from_="upper", to="lower", area="50 cm2", loss=2.5),
    )
    flows = {"leak.seal": 0.003, "filter.intake": 0.027, "baffle.shelf": 0.077,
             "vent.back": 0.05, "fan.roof": 0.03}  # fmt: skip
    total, dirty = unfiltered(solved(made, flows=flows))
    assert dirty == pytest.approx({"leak.seal": 0.003}, rel=1e-6)
    assert total == pytest.approx(0.03)


# --- parts, site, supplies, curves --------------------------------------------------------------


def test_what_thin_air_makes_of_a_fixed_resistance():
    """Half of it with (rho/1.2)^-0.5: closed form, for equal parts together; heat of what sits on
    a part counts, so that a loaded one stands apart."""
    found = [f.values for f in about(samples.alike(), "resistance-at-sea-level")]
    density = 79501 / (287.05 * 304.75)  # 2000 m, US Standard Atmosphere 1976, table I
    share = ((density / 1.2) ** -0.5 - 1) / 2
    assert [v["names"][1] for v in found] == ["part.drive", "part.twin and part.third"]
    assert [v["change"][1] for v in found] == pytest.approx([share * 45.0, share * 30.0], rel=1e-4)


@each(named([(0.08, True), (0.085, False)]))
def test_a_screen_in_slow_air_leaves_the_table_of_its_source(velocity, fires):
    """Re = rho (v / f) d / mu: 1.158 x (0.08 / 0.5) x 0.002 / 1.868e-5 = 19.8, at 0.085 m/s 21.1.

    Air of 31.6 degC by the gas law and Sutherland; the source's table begins at 20.
    """
    made = things(side=samples.Vent(
        name="side", from_="upper", to="outside", area="50 cm2", open_ratio=0.5, **samples.SCREEN
    ))  # fmt: skip
    flows = {**FLOWS, "fan.roof": 0.025, "vent.side": 0.005}
    found = about(
        solved(made, flows=flows, branches={"vent.side": {"velocity": velocity}}),
        "range-of-validity",
    )
    assert bool(found) == fires


# --- fitted drops -------------------------------------------------------------------------------


@pytest.mark.parametrize("drop", [(40.0, 41.0, 42.0), (18.0, 42.0, 430.0)])
def test_the_fit_of_a_drop_is_the_bounded_least_squares_of_scipy(drop):
    """`scipy.optimize.lsq_linear` finds a and b; the worst point is named with both its drops."""
    velocity = np.array([0.5, 1.0, 2.0])
    columns = np.column_stack((velocity, velocity**2))
    fitted = columns @ scipy.optimize.lsq_linear(columns, drop, (0, np.inf), method="bvls").x
    worst = int(np.argmax(abs(fitted / drop - 1)))
    text = " ".join(map(str, drop)) + " Pa"
    found = numbers(samples.measured(text), "drop-fit-misses")
    assert found["velocity"] == velocity[worst]
    assert found["given"] == drop[worst]
    assert found["fitted"] == pytest.approx(fitted[worst])


def test_cards_with_one_measurement_are_one_finding():
    rows = {"velocity": "0.5 1 2 m/s", "drop": "18 42 430 Pa"}
    cards = {f"s{i}": Slot(name=f"s{i}", from_="lower", to="upper", area="1 cm2",
                           velocity_drop=rows) for i in range(5)}  # fmt: skip
    (found,) = about(solved(things(**cards)), "drop-fit-misses")
    assert found.subject == "slot.s0"
    assert found.message().startswith("slot.s0, slot.s1, slot.s2 and 2 more: at ")


# --- entries ------------------------------------------------------------------------------------


def test_an_idle_key_at_its_default_is_seen_where_the_file_gives_it():
    part = Part(name="chip", in_="upper", power="1 W", position=1.0, given=frozenset({"position"}))
    assert about(solved(things(chip=part)), "key-without-effect")


@each(named([(80.4, False), (80.6, True), (79.4, True)]))
def test_another_state_tells_its_worst_margin_where_that_differs_by_half_a_kelvin(drive, told):
    """10 K here, with the drive at 80 of 90 degC."""
    other = samples.elsewhere("stall", 30.0)
    other = dataclasses.replace(other, limits=(part_limit("drive", drive, 90.0),))
    found = numbers(samples.beside(other), "other-operating-point")
    assert (found["flow"], found["now"]) == pytest.approx((30 / 3600, 55 / 3600))
    assert ("better" in found) == told
    if told:
        assert (found["better"], found["margin"]) == pytest.approx((90.0 - drive, 10.0))


def test_a_sweep_may_load_a_filter():
    for fouling, told in ((2.0, False), (1.0, True)):
        case = Enclosure.of(*things().values(), studies={"sweep": {"load": {
            "filter.intake.fouling": (1.0, fouling)}}})  # fmt: skip
        made = dataclasses.replace(solved(scenarios={}), case=case)
        assert bool(about(made, "loaded-filter-not-tried")) == told
