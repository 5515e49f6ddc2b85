"""Numbers in findings on filters, parts, sites and entries, against formulae worked by hand.

Solutions are made by hand, so that a number here can only come from the rule. Air: R = 287.05,
cp = 1006 J/(kg K), g = 9.80665 m/s2 (US Standard Atmosphere 1976).
"""

from __future__ import annotations

import numpy as np
import pytest
import scipy.optimize

from flownet.enclosure.branches import Filter, Leak, Slot, Vent
from flownet.enclosure.heat import Part
from flownet.enclosure.surroundings import Compartment, Outside
from flownet.findings.facts import percent
from flownet.findings.filters import unfiltered
from flownet.schema.fault import listed
from tests.findings import samples
from tests.findings.build import (
    CP,
    FLOWS,
    ZERO,
    about,
    axial,
    numbers,
    solved,
    things,
)
from tests.published import rows

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


def test_a_filter_on_another_branch_counts_and_one_at_the_way_out_does_not():
    rows_ = {"velocity": "0.5 2 m/s", "drop": "18 108 Pa"}
    opening = Vent(name="open", from_="outside", to="lower", area="450 cm2", loss=2.5)
    flows = {"vent.open": 0.03, "baffle.shelf": 0.03, "fan.roof": 0.03}
    for host, share in (("vent.open", 0.0), ("fan.roof", 1.0)):
        mat = Filter(name="mat", on=host, area="450 cm2", velocity_drop=rows_)
        total, dirty = unfiltered(solved(things(intake=opening, mat=mat), flows=flows))
        assert sum(dirty.values()) / total == pytest.approx(share, abs=1e-6)


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


def test_a_resistance_beyond_its_table_names_what_is_held():
    """A table of 1, 2, 3 m/s with 15.5, 14.3, 13.5 K/W: its ends are held."""
    assert numbers(samples.chip(0.4), "resistance-out-of-range")["held"] == pytest.approx(15.5)
    assert numbers(samples.chip(3.5), "resistance-out-of-range")["held"] == pytest.approx(13.5)


def test_a_fixed_resistance_counts_with_its_factor():
    """Twice the resistance by its factor, or itself twice as large: the same change."""
    once, twice = (
        [found.values["change"][1] for found in about(samples.alike(**keys), rule)]
        for rule in ["resistance-at-sea-level"]
        for keys in ({"resistance": "1 K/W"}, {"resistance_factor": 2.0})
    )
    assert twice == pytest.approx(once, rel=1e-12)


def test_a_relation_names_the_end_of_its_range_that_is_passed():
    """An open ratio of 0.015 is below the 0.02 of the source of its law, 0.9 above the table's."""
    for ratio, keys, side, end in (
        (0.015, {}, "below", "least"), (0.9, samples.SCREEN, "above", "most"),
    ):  # fmt: skip
        found = numbers(samples.vented(open_ratio=ratio, **keys), "range-of-validity")
        assert (found["side"], found["end"], found["value"]) == (side, end, ratio)
        assert (found["bound"] > ratio) == (side == "below")


def test_a_velocity_beyond_a_table_is_that_at_its_density():
    """1 m/s of air at 31.6 degC (ideal gas) against a table in air of 1.2 kg/m3."""
    found = numbers(samples.chip(1.0), "resistance-out-of-range")
    assert found["read"] == pytest.approx(101325 / (287.05 * 304.75) / 1.2, rel=1e-9)
    assert (found["side"], found["which"]) == ("below", "too good")


def test_what_thin_air_makes_of_a_fixed_resistance():
    """Half of it with (rho/1.2)^-0.5: closed form, for equal parts together; heat of what sits on
    a part counts, so that a loaded one stands apart."""
    found = [f.values for f in about(samples.alike(), "resistance-at-sea-level")]
    density = 79501 / (287.05 * 304.75)  # 2000 m, US Standard Atmosphere 1976, table I
    share = ((density / 1.2) ** -0.5 - 1) / 2
    assert [v["names"][1] for v in found] == ["part.drive", "part.twin and part.third"]
    assert [v["change"][1] for v in found] == pytest.approx([share * 45.0, share * 30.0], rel=1e-4)


def test_thin_air_weighs_what_the_standard_atmosphere_says():
    """US Standard Atmosphere 1976: pressure at 2000 m over that at 0 m, at one temperature."""
    (row,) = rows("air", "A1")
    pressure = dict(zip(row.given["altitude"], row.expected["pressure"], strict=True))
    found = numbers(samples.site(pressure=pressure[2000.0]), "thin-air")
    assert found["times"] == pytest.approx(pressure[0.0] / pressure[2000.0], rel=1e-6)
    assert found["share"] == "78 %"


def test_dew_point_of_a_warm_day():
    """35 degC and 40 % give 19.4 degC (a trade note quotes it from the Magnus formula)."""
    found = numbers(samples.damp(cold=19.0), "condensation")
    assert found["dew"] == pytest.approx(19.4 + ZERO, abs=0.05)
    assert found["heat"] == pytest.approx(0.03 * CP * (found["dew"] - 19.0 - ZERO))


def test_a_dew_point_may_be_given_and_a_cold_duct_gets_wet():
    made = things(
        outside=Outside(temperature="35 degC", dew_point="22 degC"),
        pipe=samples.Duct(name="pipe", from_="upper", to="outside", length="1 m", diameter="80 mm",
                          wall_temperature="10 degC", u_value="8 W/(m2 K)"),
    )  # fmt: skip
    found = about(solved(made, warm={"lower": 35.0, "upper": 41.0}), "condensation")
    assert [finding.subject for finding in found] == ["duct.pipe"]


def test_the_other_supply_in_numbers():
    """50 to 60 Hz: 1.2 times the speed, 1.44 the pressure, 50 log10(1.2) = 3.96 dB."""
    found = numbers(samples.FIRES["supply-mismatch"][0](), "supply-mismatch")
    assert found["ratio"] == pytest.approx(1.2)
    assert found["square"] == pytest.approx(1.44)
    assert found["noise"] == "+4.0 dB"


def test_another_voltage_is_not_scaled():
    made = things(supply=samples.Supply(name="mains", voltage="115 V", frequency="60 Hz"))
    (found,) = about(solved(made), "supply-mismatch")
    assert "times" not in found.advice()


def test_a_rating_for_the_supply_is_taken():
    sixty = {"sixty": {"supply": "230 V 60 Hz", "rated_speed": "3250 rpm"}}
    made = things(
        supply=samples.Supply(name="mains", voltage="230 V", frequency="60 Hz"),
        type=axial(rating=sixty),
    )
    assert not about(solved(made), "supply-mismatch")


def test_the_density_ratio_of_the_site():
    """2000 m: 79 501 Pa (US Standard Atmosphere 1976) at 25 degC over 1.2 kg/m3."""
    found = numbers(samples.derated(0.77), "altitude-counted-twice")
    assert found["ratio"] == pytest.approx(79501.0 / (287.05 * 298.15) / 1.2)


@pytest.mark.parametrize(
    ("sample", "factor"),
    [
        (0, 3600 / (60 / 0.3048**3)),  # m3/h in a CFM: international foot, exact
        (1, 249.08891),  # Pa in conventional inches of water, NIST SP 811
        (2, 9.80665),  # Pa in conventional millimetres of water, NIST SP 811
    ],
)
def test_the_factors_between_units_of_the_trade(sample, factor):
    made = samples.FIRES["flow-unit-suspect"][sample]()
    assert numbers(made, "flow-unit-suspect")["factor"] == pytest.approx(factor, rel=1e-3)


@pytest.mark.parametrize(("velocity", "fires"), [(0.08, True), (0.085, False)])
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


def test_the_heat_balance_of_a_stated_flow():
    """50 W and 10 K: V = P / (rho cp dT); printed as 8.8 CFM, 15.8 CFM with the degF rule.

    15.8 = 3.16 x 50 / 10 is the sizing rule for degF with degC put in, so 1.8 times too much.
    """
    found = numbers(samples.required("15.8 CFM"), "flow-degree-mix")
    density = 101325.0 / (287.05 * 298.15)
    assert found["needed"] == pytest.approx(50.0 / (density * CP * 10.0))
    assert found["needed"] * 60 / 0.3048**3 == pytest.approx(8.8, rel=0.02)
    assert found["ratio"] == pytest.approx(1.8, rel=0.02)


def test_watts_in_a_rule_for_btu():
    """CFM = BTU/h / (1.08 dF): 100 W and 35 K give 2.6, and 5.0 CFM is right (3.412 / 1.8)."""
    found = numbers(samples.required("2.646 CFM", 100.0, "60 degC"), "flow-degree-mix")
    assert found["ratio"] == pytest.approx(1.8 / 3.412, rel=0.02)
    assert found["needed"] * 60 / 0.3048**3 == pytest.approx(5.0, rel=0.02)


def test_at_a_high_site_the_rule_for_sea_level_is_recognised_too():
    """The rule's constant holds at 1.2 kg/m3; the density of the site would hide the 1.8."""
    made = things(
        outside=Outside(temperature="25 degC", altitude="3000 m"),
        lower=Compartment(name="lower", air_limit="35 degC"),
        limits=samples.limits(flow="15.8 CFM"),
    )
    found = numbers(solved(made, heat=50.0), "flow-degree-mix")
    assert found["needed"] == pytest.approx(50.0 / (1.2 * CP * 10.0))


def test_a_margin_in_kelvin_is_shown_as_the_temperature_it_was():
    made = solved(things(limits=samples.limits(margin="313 K")))
    assert "39.9 degC" in about(made, "rise-looks-absolute")[0].message()


def test_a_rise_as_a_limit_is_put_right():
    (found,) = about(samples.FIRES["rise-looks-absolute"][1](), "rise-looks-absolute")
    assert found.subject == "part.drive.limit"
    assert found.advice() == "If a rise of 20.0 K is meant, the limit is 45.0 degC."


def test_with_two_surroundings_the_colder_counts():
    made = things(
        room=Outside(name="room", temperature="10 degC"),
        drive=Part(name="drive", in_="upper", power="180 W", limit="20 degC"),
    )
    assert not about(solved(made), "rise-looks-absolute")


def test_idle_keys_of_copies_are_one_note():
    chips = {f"c{i}": Part(name=f"c{i}", in_="upper", power="1 W", position=0.5) for i in range(6)}
    (found,) = about(solved(things(**chips)), "key-without-effect")
    assert found.subject == "part.c0.position"
    assert "part.c0, part.c1, part.c2 and 3 more" in found.message()


def test_an_idle_key_at_its_default_is_seen_where_the_file_gives_it():
    part = Part(name="chip", in_="upper", power="1 W", position=1.0, given=frozenset({"position"}))
    assert about(solved(things(chip=part)), "key-without-effect")


def test_words():
    assert listed(["a"]) == "a"
    assert listed(["a", "b"]) == "a and b"
    assert listed(["a", "b", "c"]) == "a, b and c"
    assert listed("abcde") == "a, b, c and 2 more"
    assert listed([]) == ""
    assert listed("abcdef", last=" or ", more=" or ") == "a, b, c or 3 more"
    assert listed("abc", 2, last=", ") == "a, b and 1 more"
    assert listed("abcd", most=4) == "a, b, c and d"
    assert [percent(x)[1] for x in (0.14, 1.0, 0.004)] == ["14 %", "100 %", "0.4 %"]
