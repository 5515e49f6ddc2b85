"""Quantities: every unit people or programs see against pint, and how numbers look."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from flownet.schema import quantities as q
from flownet.schema.fault import listed
from flownet.schema.quantities import QUANTITIES, UNITS, Quantity
from flownet.schema.shown import Shown
from flownet.schema.units import parse
from tests.each import each, named
from tests.test_units import PINT, REGISTRY

# Units that are shown only, as pint expressions; BTU is that of the international table (NIST
# SP 811 (2008), appendix B). A JSON suffix is a unit without its signs.
SPELLED = {name: words for name, (words, _) in PINT.items()} | {
    "lb/min": "pound / minute", "BTU/(h ft2)": "Btu_it / hour / foot**2",
    "lb/ft3": "pound / foot**3",
    "BTU/(h ft2 degF)": "Btu_it / hour / foot**2 / delta_degF", "psi": "psi", "lb": "pound",
    "BTU/(h ft degF)": "Btu_it / hour / foot / delta_degF", "hours": "hour",
}  # fmt: skip
SPELLED |= {re.sub(r"[() ]", "", name.replace("/", "_")): words for name, words in SPELLED.items()}
INTERNAL = {UNITS[name].dimension: base for name, (_, base) in PINT.items()}
INTERNAL |= {"temperature difference": "kelvin"}
KEPT = {"angle": "degree", "number of hours": "hour"}  # kept in another unit than SI
UNITLESS = {"plain number", "count", "price", "sound level", "level difference"}
EVERY_SHOWN = [
    (quantity, shown)
    for quantity in QUANTITIES.values()
    for shown in dict.fromkeys((quantity.json, quantity.metric, quantity.us))
]


def test_the_registry_holds_every_quantity_once():
    constants = {value for value in vars(q).values() if isinstance(value, Quantity)}
    assert constants == set(QUANTITIES.values())
    assert len(constants) == len(QUANTITIES)


@each({f"{row[0].name}: {row[1]}": row for row in EVERY_SHOWN})
def test_every_shown_unit_agrees_with_pint(quantity, shown):
    if quantity.name in UNITLESS:
        assert (shown.factor, shown.offset) == (1.0, 0.0)
        return
    unit, internal = SPELLED[shown.unit], KEPT.get(quantity.name, INTERNAL[quantity.dimension])
    if quantity is q.DIFFERENCE and shown.unit == "degF":
        unit = "delta_degF"
    for value in (1.0, 312.5):
        theirs = REGISTRY.Quantity(value, internal).to(unit).magnitude
        ours = value * shown.factor + shown.offset
        assert ours == pytest.approx(theirs, rel=1e-14, abs=1e-12)


@each(QUANTITIES)
def test_every_example_is_one(quantity):
    value = parse(quantity.example, quantity)
    assert value > 0
    assert quantity.wanted.endswith(f'is wanted, such as "{quantity.example}"')


@pytest.mark.parametrize(
    "quantity, shown", [row for row in EVERY_SHOWN if not row[1].unit or row[1].unit in UNITS]
)
@given(number=st.floats(200.0, 400.0))
def test_what_people_read_can_be_typed_back(quantity, shown, number):
    """No display drops more than half a unit of a three-digit number."""
    value = (number - shown.offset) / shown.factor
    again = parse(shown.text(value), quantity)
    assert again * shown.factor + shown.offset == pytest.approx(number, abs=0.5 + 1e-9)


@each(named(((q.TEMPERATURE, "temperature", "temperature_degC"),
    (q.VOLUME_FLOW, "volume_flow", "volume_flow_m3_s"),
    (q.DENSITY, "density", "density_kg_m3"), (q.HOURS, "life", "life_hours"),
    (q.RATIO, "speed_ratio", "speed_ratio"))))  # fmt: skip
def test_json_keys_carry_their_unit(quantity, name, key):
    assert quantity.key(name) == key


@each(named(((q.TEMPERATURE, 316.35, "43.2 degC", "109.8 degF"),
    (q.DIFFERENCE, -1.5, "-1.5 K", "-2.7 degF"),
    (q.PRESSURE, 36.0, "36.0 Pa", "0.145 inH2O"),
    (q.SITE_PRESSURE, 91000.0, "91.0 kPa", "13.20 psi"),
    (q.VOLUME_FLOW, 159 / 3600, "159 m3/h", "93.6 CFM"),
    (q.VOLUME_FLOW, 2, "7200 m3/h", "4238 CFM"),
    (q.LENGTH, 0.119, "119 mm", "4.69 in"), (q.ALTITUDE, 900.0, "900 m", "2953 ft"),
    (q.VELOCITY, 1.5, "1.50 m/s", "295 ft/min"),
    (q.HOURS, 25700.0, "25 700 h", "25 700 h"),
    (q.SPEED, 40.0, "2400 rpm", "2400 rpm"), (q.RATIO, 0.61, "0.61", "0.61"),
    (q.PRICE, 31.0, "31.00", "31.00"))))  # fmt: skip
def test_numbers_look_as_an_engineer_reads_them(quantity, value, metric, us):
    assert quantity.shown("metric").text(value) == metric
    assert quantity.shown("us").text(value) == us


def test_numbers_have_no_minus_zero_and_no_needless_exponent():
    assert Shown("K", digits=".1f").text(-0.01) == "0.0 K"
    assert Shown("K", digits=".1f").text(6, "+") == "+6.0 K"
    assert Shown("W").number(12345.6) == "12346"
    assert Shown("W").number(-12345.6, "+") == "-12346"
    assert Shown("W").number(0.00001234) == "1.23e-05"
    assert Shown("").text(2.0) == "2"


@each(named([
        (q.DIFFERENCE, -0.04, "-0.04 K"), (q.DIFFERENCE, 0.0004, "+0.0004 K"),
        (q.DIFFERENCE, 1e-9, "+0.0 K"), (q.HOURS, -0.3, "-0.3 h"), (q.HOURS, -14300.0, "-14 300 h"),
        (q.LEVEL_DIFFERENCE, -0.02, "-0.02 dB"), (q.PRESSURE, 0.52, "+0.52 Pa"),
        (q.VOLUME_FLOW, 8e-29, "+0 m3/h"), (q.POWER, -1.14e-13, "+0 W"),
    ]))  # fmt: skip
def test_small_numbers_keep_their_sign_and_noughts_are_nought(quantity, value, text):
    assert quantity.metric.text(value, "+") == text


@each(named([
        (q.POWER, (222.4, 79.2, 32.0, 7.9), "222.4 79.2 32.0 7.9"),
        (q.POWER, (120.0, 120.0, 0.0), "120 120 0"),
        (q.POWER, (222.4, 0.03), "222.40 0.03"), (q.POWER, (222.4, 0.003), "222 0"),
        (q.POWER, (1234.5, 987.0), "1234 987"), (q.POWER, (), ""),
        (q.PRESSURE, (26.3, 0.52), "26.30 0.52"), (q.PRESSURE, (26.3, 0.052), "26.3 0.052"),
        (q.PRESSURE, (0.068, 0.3), "0.068 0.300"), (q.DIFFERENCE, (16.0, -0.04), "16.0 -0.04"),
        (q.HOURS, (53686.0, 25700.0), "53 686 25 700"),
    ]))  # fmt: skip
def test_a_column_has_one_number_of_decimals_but_for_what_is_far_smaller(quantity, values, texts):
    shown = quantity.metric
    decimals = shown.decimals(values)
    assert " ".join(shown.number(value, "", decimals) for value in values) == texts


@given(st.lists(st.floats(-1e4, 1e5), min_size=1, max_size=6))
def test_parts_add_up_as_they_are_printed(parts):
    """Each is off by less than one of the last place, and the printed sum is the printed total."""
    total, texts = q.POWER.metric.shares(sum(parts), parts)
    numbers = [float(text.removesuffix(" W")) for text in texts]
    places = len(total.removesuffix(" W").partition(".")[2])
    assert sum(numbers) == pytest.approx(float(total.removesuffix(" W")), abs=1e-6)
    off = [abs(number - part) for number, part in zip(numbers, parts, strict=True)]
    assert max(off) < 1.000001 * 10.0**-places + 1e-7


def test_articles():
    assert q.AREA.article == "an area"
    assert q.PRESSURE.article == "a pressure"


def test_only_two_systems_of_units():
    with pytest.raises(ValueError, match=r'"metric" or "us" \(got \'imperial\'\)'):
        q.LENGTH.shown("imperial")


def test_lists_in_words():
    assert [listed("abcde"[:n]) for n in (0, 1, 2, 3, 5)] == [
        "", "a", "a and b", "a, b and c", "a, b, c and 2 more",
    ]  # fmt: skip
    assert listed("abcdef", last=" or ", more=" or ") == "a, b, c or 3 more"
    assert listed("abc", 2, last=", ") == "a, b and 1 more"
