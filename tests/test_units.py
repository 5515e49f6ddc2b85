"""Units: each factor against pint, each mistake with the message it gets."""

from __future__ import annotations

import math
from fractions import Fraction

import numpy as np
import pint
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from flownet.schema import quantities as q
from flownet.schema import units
from flownet.schema.errors import CaseError
from flownet.schema.quantities import UNITS
from flownet.schema.units import (
    SupplyText,
    convert,
    parse,
    parse_list,
    parse_supply,
    si,
    split,
    unit_of,
    write,
)
from tests.each import each, named

REGISTRY = pint.UnitRegistry()
# Water columns are those of conventional water, 1000 kg/m3 under standard gravity, which NIST
# SP 811 (2008), appendix B, tabulates as "mmH2O, conventional" and "inH2O, conventional"; BTU
# is its British thermal unit of the international table.
WATER = "kg / l * standard_gravity"
# What each of our names means to pint, by the SI unit it must come out in.
BASES = {
    "m": {"m": "meter", "mm": "millimeter", "cm": "centimeter", "in": "inch", "km": "kilometer",
        "ft": "foot"},
    "m**2": {"m2": "meter**2", "cm2": "centimeter**2", "mm2": "millimeter**2", "in2": "inch**2"},
    "kelvin": {"degC": "degC", "degF": "degF", "K": "kelvin"},
    "m**3 / s": {"m3/s": "meter**3 / second", "m3/h": "meter**3 / hour", "l/s": "liter / second",
        "l/min": "liter / minute", "CFM": "foot**3 / minute", "cfm": "foot**3 / minute"},
    "kg / s": {"kg/s": "kilogram / second"},
    "m / s": {"m/s": "meter / second", "ft/min": "foot / minute", "LFM": "foot / minute"},
    "Pa": {"Pa": "pascal", "hPa": "hectopascal", "kPa": "kilopascal", "mbar": "millibar",
        "mmH2O": f"millimeter * {WATER}", "inH2O": f"inch * {WATER}", "inWG": f"inch * {WATER}"},
    "W": {"W": "watt", "kW": "kilowatt", "BTU/h": "Btu_it / hour"},
    "W / m**2": {"W/m2": "watt / meter**2"},
    "W / m**2 / K": {"W/(m2 K)": "watt / meter**2 / kelvin", "W/m2K": "watt / meter**2 / kelvin"},
    "W / m / K": {"W/(m K)": "watt / meter / kelvin"},
    "K / W": {"K/W": "kelvin / watt", "degC/W": "delta_degC / watt"},
    "J / K": {"J/K": "joule / kelvin", "kJ/K": "kilojoule / kelvin"},
    "kg": {"kg": "kilogram", "g": "gram"},
    "kg / m**3": {"kg/m3": "kilogram / meter**3"},
    "s": {"s": "second", "min": "minute", "h": "hour"},
    "1 / s": {"rpm": "1 / minute"},  # turns, not radians: pint's own rpm counts 2 pi a turn
    "radian": {"deg": "degree"},
    "V": {"V": "volt"},
    "Hz": {"Hz": "hertz"},
    "A": {"A": "ampere"},
    "dimensionless": {"%": "percent"},
}  # fmt: skip
PINT = {name: (words, base) for base, row in BASES.items() for name, words in row.items()}
# Levels are numbers on a scale of their own and are never converted.
LEVELS = {"dBA", "dB"}
NUMBERS = st.floats(-1e9, 1e9).map(lambda v: f"{v if abs(v) > 1e-290 else 0.0:.9g}")


def refusal(function, *arguments):
    with pytest.raises(CaseError) as caught:
        function(*arguments)
    assert len(caught.value.faults) == 1
    assert "\n" not in str(caught.value)
    return str(caught.value)


def test_the_table_is_closed():
    assert set(UNITS) == set(PINT) | LEVELS
    assert {UNITS[name].factor for name in LEVELS} == {1.0}


@each({f"{number} {name}": (name, number) for name in PINT for number in (-40.0, 0.0, 1.0, 37.5)})
def test_every_unit_agrees_with_pint(name, number):
    expression, base = PINT[name]
    unit = UNITS[name]
    ours = (number + unit.offset) * unit.times / unit.per
    theirs = REGISTRY.Quantity(number, expression).to(base).magnitude
    assert ours == pytest.approx(theirs, rel=4e-15, abs=1e-13)


@each(named({*PINT} | LEVELS))
def test_every_unit_belongs_to_a_quantity_that_reads_it(name):
    quantity = unit_of(name)
    assert quantity.dimension == UNITS[name].dimension
    internal = parse(f"1{name}", quantity)
    assert internal == pytest.approx(
        (1 + UNITS[name].offset) * UNITS[name].factor / quantity.internal, rel=1e-15
    )
    assert si(f"1 {name}") == convert(1, name, quantity) == internal


def test_a_difference_in_degrees_has_no_offset():
    """27 degF is 15 K: the degree Fahrenheit is 5/9 K, NIST SP 811 (2008), B.8."""
    expected = REGISTRY.Quantity(27, "delta_degF").to("kelvin").magnitude
    assert parse("27 degF", q.DIFFERENCE) == pytest.approx(expected, rel=1e-15)
    assert parse("15 degC", q.DIFFERENCE) == parse("15 K", q.DIFFERENCE) == 15.0
    assert parse("15 K", q.TEMPERATURE) == 15.0
    assert convert(5, "degC", q.DIFFERENCE) == 5.0


def test_the_same_amount_in_other_units_is_the_same_float():
    assert parse("119 mm", q.LENGTH) == parse("0.119 m", q.LENGTH) == 0.119
    assert parse("12 cm", q.LENGTH) == parse("120 mm", q.LENGTH) == 0.12
    assert parse("450 cm2", q.AREA) == parse("45000 mm2", q.AREA) == 0.045
    assert parse("2400 rpm", q.SPEED) == 40.0
    assert parse("-0 Pa", q.PRESSURE) == 0.0
    assert math.copysign(1, parse("-0 Pa", q.PRESSURE)) == 1.0


@given(NUMBERS, st.sampled_from(sorted(PINT)))
def test_conversion_is_exact_to_the_last_digits(number, name):
    unit, quantity = UNITS[name], unit_of(name)
    if quantity.dimension == "temperature":
        number = number.lstrip("-")
    exact = (Fraction(number) + Fraction(unit.offset)) * Fraction(unit.times) / Fraction(unit.per)
    value = parse(f"{number} {name}", quantity) * quantity.internal
    assert abs(Fraction(value) - exact) <= 4 * Fraction(math.ulp(value))


@each(named((("50degC", q.TEMPERATURE, "50 degC"),
    ("  +50   degC ", q.TEMPERATURE, "50 degC"), ("50 °C", q.TEMPERATURE, "50 degC"),
    ("122°F", q.TEMPERATURE, "122 degF"), ("50 ℃", q.TEMPERATURE, "50 degC"),
    ("−20 degC", q.TEMPERATURE, "-20 degC"), ("65 m³/h", q.VOLUME_FLOW, "65 m3/h"),
    ("65 m^3/h", q.VOLUME_FLOW, "65 m3/h"), ("65 m3 / h", q.VOLUME_FLOW, "65 m3/h"),
    ("6.5e1\u00a0m3/h", q.VOLUME_FLOW, "65 m3/h"), ("3 L/s", q.VOLUME_FLOW, "3 l/s"),
    ("12 cfm", q.VOLUME_FLOW, "12 CFM"), (".5 cm²", q.AREA, "0.5 cm2"),
    ("5.5 W/(m² K)", q.U_VALUE, "5.5 W/m2K"), ("5.5 W/(m2·K)", q.U_VALUE, "5.5 W/m2K"),
    ("44 dB(A)", q.LEVEL, "44 dBA"), ("90°", q.ANGLE, "90"), ("90 deg", q.ANGLE, "90"),
    ("50000 h", q.HOURS, "50000"), ("30 min", q.HOURS, "0.5"),
    ("6 %", q.RATIO, "0.06"))))  # fmt: skip
def test_spellings_with_one_meaning(text, quantity, same):
    assert parse(text, quantity) == parse(same, quantity)


def test_bare_numbers_are_in_the_unit_their_name_says():
    assert parse("90", q.ANGLE) == 90.0
    assert parse("50000", q.HOURS) == 50000.0
    assert parse("44", q.LEVEL) == 44.0
    assert parse("0.61", q.RATIO) == 0.61
    assert parse("6", q.COUNT) == 6.0
    assert parse("31.0", q.PRICE) == 31.0


MISTAKES = (
    ("0.045 m", q.AREA, '"0.045 m" is a length; an area is wanted, such as "450 cm2"'),
    ("18 K", q.PRESSURE, '"18 K" is a temperature; a pressure is wanted, such as "18 Pa"'),
    ("50 Hz", q.SPEED, '"50 Hz" is a frequency; a speed of rotation is wanted, such as'),
    ("44 dB", q.LEVEL, '"44 dB" is a level difference; a sound level is wanted, such as "44 dBA"'),
    ("50 %", q.COUNT, '"50 %" is a percentage; a count is wanted, such as "6"'),
    ("0.6 m", q.RATIO, '"0.6 m" is a length; a plain number is wanted, such as "0.61"'),
    ("40", q.TEMPERATURE, '"40" has no unit; a temperature is wanted, such as "40 degC"'),
    ("40 C", q.TEMPERATURE, '"40 C" has the unknown unit "C"; did you mean "40 degC"?'),
    ("40C", q.TEMPERATURE, 'did you mean "40degC"?'),
    ("104 F", q.TEMPERATURE, 'did you mean "104 degF"?'),
    ("104 F", q.DIFFERENCE, 'did you mean "104 degF"?'),
    ("40 deg C", q.TEMPERATURE, 'did you mean "40 degC"?'),
    ("300 k", q.TEMPERATURE, 'did you mean "300 K"?'),
    ("40 °", q.TEMPERATURE, '"40 °" is an angle; a temperature is wanted, such as "40 degC"'),
    ("-300 degC", q.TEMPERATURE, '"-300 degC" is below absolute zero'),
    ("0,5 m", q.LENGTH, '"0,5 m" has a comma; write "0.5 m"'),
    ("1,200 Pa", q.PRESSURE, '"1,200 Pa" has a comma; decimals take a point, thousands no mark'),
    ("1,200,000 Pa", q.PRESSURE, "has a comma; decimals take a point, thousands no mark"),
    ("nan Pa", q.PRESSURE, '"nan Pa" is not a finite number; a pressure is wanted'),
    ("-NaN", q.RATIO, '"-NaN" is not a finite number'),
    ("inf Pa", q.PRESSURE, '"inf Pa" is not a finite number'),
    ("-Infinity Pa", q.PRESSURE, '"-Infinity Pa" is not a finite number'),
    ("1e999 m", q.LENGTH, '"1e999 m" is too large'),
    ("1e306 kPa", q.PRESSURE, '"1e306 kPa" is too large'),
    ("1e-999 m", q.LENGTH, '"1e-999 m" is too small; write 0'),
    ("", q.PRESSURE, '"" is empty; a pressure is wanted, such as "18 Pa"'),
    ("dirty", q.RATIO, '"dirty" is not a number; a plain number is wanted, such as "0.61"'),
    (" ", q.RATIO, '" " is empty; a plain number is wanted'),
    ("Pa", q.PRESSURE, '"Pa" is not a number followed by a unit; a pressure is wanted'),
    ("12 CfM", q.VOLUME_FLOW, '"12 CfM" has the unknown unit "CfM"; did you mean "12 CFM"?'),
    ("12 pa", q.PRESSURE, 'did you mean "12 Pa"?'),
    ("7 Min", q.TIME, '"7 Min" has the unknown unit "Min"; did you mean "7 min"?'),
    ("5 M", q.LENGTH, 'did you mean "5 m"?'),
    ("5 KW", q.POWER, 'did you mean "5 kW"?'),
    ("12 inches", q.LENGTH, 'did you mean "12 in"?'),
    ("300 fpm", q.VELOCITY, 'did you mean "300 ft/min"?'),
    ("12 mmH20", q.PRESSURE, 'did you mean "12 mmH2O"?'),
    ("12 mH2O", q.PRESSURE, "a pressure is wanted, in Pa, hPa, kPa, mbar, mmH2O, inH2O, inWG"),
    ("20 dm", q.LENGTH, '"20 dm" has the unknown unit "dm"; a length is wanted, in m, mm, cm, km'),
    ("5 m3/min", q.VOLUME_FLOW, "a volume flow is wanted, in m3/h, m3/s, l/s, l/min, CFM, cfm"),
    ("9 MW", q.POWER, '"9 MW" has the unknown unit "MW"; a power is wanted, in W, kW, BTU/h'),
    ("12 parsec", q.LENGTH, "a length is wanted, in m, mm, cm, km, in, ft"),
    ("12 kelvim", q.DIFFERENCE, "a temperature difference is wanted, in degC, degF, K"),
    ("12 m^", q.LENGTH, '"12 m^" is not a number followed by a unit'),
    ("31 gold", q.PRICE, 'unknown unit "gold"; a price is wanted, such as "31.0"'),
    ("5 5 m", q.LENGTH, '"5 5 m" holds 2 numbers; a length is wanted, such as "120 mm"'),
    ("119 x 38 mm", q.LENGTH, '"119 x 38 mm" holds 2 numbers'),
    ("5 m 3 m", q.LENGTH, '"5 m 3 m" has more after its unit "m"; the unit stands once'),
    ("1_000 m", q.LENGTH, '"1_000 m" is not a number followed by a unit'),
    ("1/2 in", q.LENGTH, '"1/2 in" is not a number followed by a unit'),
    ("1.2.3 m", q.LENGTH, '"1.2.3 m" is not a number followed by a unit'),
    ("0x10 m", q.LENGTH, '"0x10 m" holds 2 numbers'),
    ("٣ m", q.LENGTH, '"٣ m" is not a number followed by a unit'),
    ("12\nPa", q.LENGTH, '"12 Pa" is a pressure; a length is wanted'),
    ("1" * 81, q.RATIO, f'"{"1" * 60}..." has 81 characters; at most 80 are read'),
)


@each(named(MISTAKES))
def test_every_mistake_says_what_to_write(text, quantity, message):
    assert message in refusal(parse, text, quantity)


@pytest.mark.parametrize("text", ("9**9**9 m", "__import__('os') m", "(1).__class__ m",
    "1 m if True else 2", "1 m; import os", "1 m**9999999", "2*3 m", "1e1e1 m",
    "1" * 10**6 + " m", "m" * 10**6, " " * 10**6 + "1 m", "1 " * 10**5 + "m",
    "{0.__class__} m", "1 m\x00"))  # fmt: skip
@pytest.mark.parametrize("read", (parse, parse_list))
def test_nothing_is_evaluated(text, read):
    """Some of these would take for ever, or all memory."""
    refusal(read, text, q.LENGTH)


def read_or_refused(function, *arguments):
    try:
        return function(*arguments)
    except CaseError as error:
        return str(error)


@settings(max_examples=40)
@given(st.text(max_size=40) | st.text("0123456789.,eE+-x mKPaCVHzdc%/()", max_size=30))
def test_any_text_is_read_or_refused(text):
    results = [read_or_refused(parse_supply, text)]
    for quantity in q.QUANTITIES.values():
        results.append(read_or_refused(lambda kind: (parse(text, kind),), quantity))
        results.append(read_or_refused(parse_list, text, quantity))
    for result in results:
        if isinstance(result, str):
            assert result.startswith('"')
            assert "\n" not in result
        else:
            assert all(math.isfinite(value) for value in result)


@given(
    st.floats(-1e30, 1e30, allow_subnormal=False).filter(lambda value: abs(value) > 1e-30),
    st.sampled_from(list(q.QUANTITIES.values())),
)
def test_what_is_written_is_read_back(value, quantity):
    if quantity.dimension == "temperature":
        value = abs(value)
    again = parse(write(value, quantity), quantity)
    if quantity is q.SPEED:  # kept in turns a second, written in turns a minute
        assert abs(again - value) <= math.ulp(value)
    else:
        assert again == value


def test_what_is_written_is_short():
    assert write(313.15, q.TEMPERATURE) == "40 degC"
    assert write(0.119, q.LENGTH) == "119 mm"
    assert write(0.5, q.RATIO) == "0.5"
    assert write(50000.0, q.HOURS) == "50000 h"
    assert write(parse("65 m3/h", q.VOLUME_FLOW), q.VOLUME_FLOW) == "65 m3/h"
    assert write(0.0, q.PRESSURE) == "0 Pa"


@each(named((("0 0 800 900 mm", q.LENGTH, (0.0, 0.0, 0.8, 0.9)),
    ("800 x 1800 x 400 mm", q.LENGTH, (0.8, 1.8, 0.4)),
    ("119 x 38 mm", q.LENGTH, (0.119, 0.038)), ("119x38mm", q.LENGTH, (0.119, 0.038)),
    ("119 × 38 mm", q.LENGTH, (0.119, 0.038)),
    ("-20 70 degC", q.TEMPERATURE, (253.15, 343.15)), ("0.3 1.0", q.RATIO, (0.3, 1.0)),
    ("5 %", q.RATIO, (0.05,)), ("0 -5 +5 Pa", q.PRESSURE, (0.0, -5.0, 5.0)))))  # fmt: skip
def test_lists_have_one_unit_at_the_end(text, quantity, values):
    assert parse_list(text, quantity) == pytest.approx(values, rel=1e-15)
    assert parse_list(text, quantity, len(values)) == parse_list(text, quantity)


@given(st.lists(NUMBERS, min_size=1, max_size=50), st.sampled_from((" ", " x ", "  ", "x")))
def test_a_list_is_its_numbers_one_by_one(numbers, between):
    values = parse_list(between.join(numbers) + " mm", q.LENGTH, len(numbers))
    assert values == tuple(parse(f"{number} mm", q.LENGTH) for number in numbers)


@each(named((("0 800 900 mm", 4,
    '"0 800 900 mm" holds 3 numbers; 4 are wanted, then the unit "mm" once'),
    ("5 mm", 2, '"5 mm" holds 1 number; 2 are wanted'),
    ("0, 60, 110 mm", None, '"0, 60, 110 mm" has a comma; decimals take a point'),
    ("0,5 1,2 mm", None, '"0,5 1,2 mm" has a comma; decimals take a point'),
    ("119 mm x 38 mm", 2, '"119 mm x 38 mm" has more after its unit "mm"'),
    ("119 x x 38 mm", 2, '"119 x x 38 mm" has the unknown unit "x x 38 mm"'),
    ("119 x 38", 2, '"119 x 38" has no unit; a length is wanted, such as "120 mm"'),
    ("0 nan mm", None, '"0 nan mm" has the unknown unit "nan mm"'),
    ("0 60 m3/h", None, '"0 60 m3/h" is a volume flow; a length is wanted'),
    ("0 1e999 mm", None, '"0 1e999 mm" is too large'), ("", 2, '"" is empty'),
    ("1 " * 2001 + "m", None, "has 4003 characters; at most 4000 are read"))))  # fmt: skip
def test_every_mistake_in_a_list_says_what_to_write(text, count, message):
    assert message in refusal(parse_list, text, q.LENGTH, count)


def test_supplies():
    assert parse_supply("230 V 50 Hz") == parse_supply("230V 50Hz") == SupplyText(230.0, 50.0)
    for text, meant in (("-48 V dc", "48 V dc"), ("-48 V", "48 V dc"), ("-9 V 50 Hz", "9 V 50 Hz")):
        with pytest.raises(CaseError, match=f'write "{meant}"'):
            parse_supply(text)
    assert parse_supply("24 V dc") == parse_supply("24 V DC") == SupplyText(24.0, 0.0)
    assert SupplyText(230.0, 50.0).text() == "230 V 50 Hz"
    assert SupplyText(24.0, 0.0).text() == "24 V dc"
    assert parse_supply(SupplyText(115.5, 16.7).text()) == SupplyText(115.5, 16.7)


@each(named((("230 V",
    '"230 V" has no frequency; a supply is wanted, such as "230 V 50 Hz"'),
    ("230 V ac", "has no frequency; a supply is wanted"),
    ("230 V 0 Hz", '"230 V 0 Hz" has no frequency; write "230 V dc"'),
    ("0 V dc", '"0 V dc" must have a voltage above 0'),
    ("-24 V dc", '"-24 V dc" must have a voltage above 0'),
    ("50 Hz 230 V", '"50 Hz 230 V" is not a voltage, then a frequency or dc'),
    ("230 V 5.5.5 Hz", '"230 V 5.5.5 Hz" is not a voltage, then a frequency or dc'),
    ("230 V 1e999 Hz", '"1e999 Hz" is too large'),
    ("100-240 V 50 Hz", "is not a number followed by a unit; a supply is wanted"),
    ("230,5 V 50 Hz", '"230,5 V 50 Hz" has a comma; write "230.5 V 50 Hz"'),
    ("nan V dc", '"nan V dc" is not a finite number; a supply is wanted'),
    ("1e999 V dc", '"1e999 V dc" is too large'),
    ("", '"" is empty; a supply is wanted'))))  # fmt: skip
def test_every_mistake_in_a_supply_says_what_to_write(text, message):
    assert message in refusal(parse_supply, text)


def test_split_and_unit_of():
    assert split("65 m³/h") == (65.0, "m3/h")
    assert split("0.5") == (0.5, "")
    assert unit_of("CFM") is q.VOLUME_FLOW
    assert unit_of("m³/h") is q.VOLUME_FLOW
    assert unit_of("K") is q.TEMPERATURE
    assert 'did you mean "CFM"?' in refusal(unit_of, "Cfm")
    assert "units are m, mm," in refusal(unit_of, "parsec")
    assert 'did you mean "degC"?' in refusal(split, "40 C")
    assert "holds 2 numbers" in refusal(split, "5 5 m")
    assert "is too large" in refusal(split, "1e999 m")


def test_si_reads_text_numbers_and_arrays():
    assert si("40 degC") == 313.15
    assert si("18 Pa") == 18.0
    assert si("0.61") == 0.61
    assert si("90 deg") == 90.0
    foot_cubed_a_minute = REGISTRY.Quantity(12, "foot**3 / minute").to("m**3 / s").magnitude
    assert si(12, "CFM") == pytest.approx(foot_cubed_a_minute, rel=1e-15)
    assert type(si(12, "CFM")) is float
    grid = np.array([[0.0, 20.0], [40.0, 60.0]])
    np.testing.assert_allclose(si(grid, "degC"), grid + 273.15, rtol=1e-15)
    np.testing.assert_array_equal(si([1, 2], "mm"), [0.001, 0.002])
    step = convert(np.array([40 + 1e-30j]), "degC", q.TEMPERATURE)
    assert step[0].real == 313.15
    assert step[0].imag == 1e-30


@each(named(((40, None, '40 has no unit; write si("40 degC") or si(40, "degC")'),
    ("40 degC", "degC", '"40 degC" is text and carries its own unit'),
    (math.nan, "m", '"nan m" is not a finite number; a length is wanted'),
    (1e308, "kPa", '"1e+308 kPa" is too large'),
    (-300, "degC", '"-300 degC" is below absolute zero'),
    (True, "m", '"True" is not numbers; a length is wanted'),
    (["1"], "m", "is not numbers; a length is wanted"),
    ([1.0, math.nan], "m", 'an array in "m" holds values that are not finite'),
    ([20.0, -300.0], "degC", 'an array in "degC" goes below absolute zero'),
    (10**400, "m", "is not numbers; a length is wanted"),
    (1, "Cfm", 'did you mean "CFM"?'))))  # fmt: skip
def test_si_refuses(value, unit, message):
    assert message in refusal(si, value, unit)


def test_convert_refuses_a_unit_of_another_quantity():
    message = '"m" is a length; an area is wanted, such as "450 cm2"'
    assert refusal(convert, 1.0, "m", q.AREA) == message
    assert '"" has no unit' in refusal(convert, 1.0, "", q.AREA)
    assert convert(3, "", q.RATIO) == 3.0


def test_every_hint_names_a_unit_of_the_table():
    assert set(units._MEANT.values()) <= set(UNITS)
    assert set(units._SPELLINGS.values()) <= set(UNITS)
    assert not set(units._SPELLINGS) & set(UNITS)
    assert not set(units._MEANT) & set(UNITS)
