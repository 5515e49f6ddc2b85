"""Properties of air against the standard atmosphere and handbook arithmetic."""

from __future__ import annotations

import fluids
import numpy as np
import pytest

from flownet.physics import air
from flownet.schema.arrays import magnitude
from tests.each import every
from tests.published import rows

INCH_OF_MERCURY = 3386.389  # Pa
STEP = 1e-30


def celsius(value):
    return np.asarray(value) + 273.15


def fahrenheit(value):
    return (np.asarray(value) + 459.67) / 1.8


@pytest.mark.parametrize("row", rows("air", "A1"), ids=str)
def test_standard_atmosphere(row):
    """Temperature, pressure and density of the standard at geometric altitudes."""
    altitude = np.array(row.given["altitude"])
    temperature = air.standard_temperature(altitude)
    row.check(
        temperature=temperature - 273.15,
        pressure=air.site_pressure(altitude),
        density=air.site_density(temperature, altitude),
    )


@pytest.mark.parametrize("row", rows("air", "A1m"), ids=str)
def test_standard_atmosphere_between(row):
    altitude = np.array(row.given["altitude"])
    temperature = air.standard_temperature(altitude)
    density = air.density(temperature, air.site_pressure(altitude))
    row.check(temperature=temperature, pressure=air.site_pressure(altitude), density=density)


@pytest.mark.parametrize("row", rows("air", "A1s"), ids=str)
def test_pressure_agrees_with_the_rounded_closed_form(row):
    row.check(pressure=air.site_pressure(np.array(row.given["altitude"])))


@pytest.mark.parametrize("row", rows("air", "A2"), ids=str)
def test_pressure_agrees_with_a_makers_fit(row):
    altitude = np.array(row.given["altitude"]) * 304.8
    row.check(pressure=air.site_pressure(altitude) / INCH_OF_MERCURY)


@pytest.mark.parametrize("row", rows("air", "A5000"), ids=str)
def test_properties_at_5000_m(row):
    temperature = air.standard_temperature(row.given["altitude"])
    row.check(
        pressure=air.site_pressure(row.given["altitude"]),
        viscosity=air.viscosity(temperature),
        conductivity=air.conductivity(temperature),
    )


def test_whole_troposphere_agrees_with_the_library():
    """`fluids.ATMOSPHERE_1976` at every 100 m from below sea level to 11 km geopotential."""
    altitude = np.arange(-600.0, 11000.0, 100.0)
    library = [fluids.ATMOSPHERE_1976(z) for z in altitude]
    temperature = air.standard_temperature(altitude)
    for ours, theirs in (
        (temperature, [a.T for a in library]),
        (air.site_pressure(altitude), [a.P for a in library]),
        (air.viscosity(temperature), [a.mu for a in library]),
        (air.conductivity(temperature), [a.k for a in library]),
    ):
        np.testing.assert_allclose(ours, theirs, rtol=1e-12)
    # 287.05 is the standard's 8314.32 / 28.9644 = 287.0529 rounded
    density = air.site_density(temperature, altitude)
    np.testing.assert_allclose(density, [a.rho for a in library], rtol=2e-5)


@pytest.mark.parametrize("row", rows("air", "A7"), ids=str)
def test_density_factors_of_a_fan_catalogue(row):
    altitude = np.array(row.given["altitude"]) * 0.3048
    density = air.site_density(fahrenheit(row.given["temperature"]), altitude)
    row.check(factor=density / air.site_density(fahrenheit(70.0), 0.0))


@pytest.mark.parametrize("row", rows("air", "A8"), ids=str)
def test_density_factor_of_hot_air(row):
    hot = air.density(fahrenheit(row.given["temperature"]), 101325.0)
    row.check(factor=air.density(fahrenheit(row.given["reference"]), 101325.0) / hot)


@pytest.mark.parametrize("row", rows("air", "dew"), ids=str)
def test_dew_point(row):
    found = air.dew_point(celsius(row.given["temperature"]), row.given["relative_humidity"])
    row.check(dew_point=found - 273.15)


def saturation_pressure(temperature):
    """Wagner and Pruss 1993 for ordinary water, coefficients from memory [Pa]."""
    critical = 647.096
    t = 1.0 - np.asarray(temperature) / critical
    terms = (
        (-7.85951783, 1.0),
        (1.84408259, 1.5),
        (-11.7866497, 3.0),
        (22.6807411, 3.5),
        (-15.9618719, 4.0),
        (1.80122502, 7.5),
    )
    total = sum(a * t**n for a, n in terms)
    return 22.064e6 * np.exp(critical / np.asarray(temperature) * total)


def test_dew_point_agrees_with_the_vapour_pressure_of_water():
    """Air at its dew point holds the vapour that it held before, within 0.1 K."""
    # the triple point and the normal boiling point of water, from memory
    held = saturation_pressure(np.array([273.16, 373.124]))
    np.testing.assert_allclose(held, [611.657, 101325.0], rtol=1e-4)
    temperature = celsius(np.linspace(5.0, 50.0, 46))[:, None]
    humidity = np.linspace(0.2, 1.0, 17)
    found = air.dew_point(temperature, humidity)
    above = found > 273.16  # the vapour pressure is that over liquid water
    held = humidity * saturation_pressure(temperature)
    colder, warmer = saturation_pressure(found - 0.1), saturation_pressure(found + 0.1)
    assert above.sum() > 500
    assert ((colder < held) & (held < warmer))[above].all()


def test_saturated_air_is_at_its_dew_point():
    temperature = celsius([-20.0, 0.0, 20.0, 50.0])
    np.testing.assert_allclose(air.dew_point(temperature, 1.0), temperature, atol=1e-11)


@every(("function", "low", "high"), [
    (lambda x: air.density(x, 9e4), 230.0, 600.0),
    (lambda x: air.density(300.0, x), 2e4, 1.1e5),
    (air.viscosity, 230.0, 600.0),
    (air.conductivity, 230.0, 600.0),
    (air.prandtl, 230.0, 600.0),
    (air.standard_temperature, -500.0, 11000.0),
    (air.site_pressure, -500.0, 11000.0),
    (lambda x: air.site_density(300.0, x), -500.0, 11000.0),
    (lambda x: air.dew_point(x, 0.4), 240.0, 330.0),
    (lambda x: air.dew_point(300.0, x), 0.05, 1.0),
])  # fmt: skip
def test_a_complex_step_is_the_derivative(function, low, high):
    x = np.linspace(low, high, 13)[:, None] * np.ones(2)
    step = 1e-6 * high
    central = (function(x + step) - function(x - step)) / (2 * step)
    found = function(x + 1j * STEP)
    assert found.shape == x.shape
    np.testing.assert_array_equal(found.real, function(x + 0j).real)
    np.testing.assert_allclose(found.real, function(x), rtol=1e-14)
    np.testing.assert_allclose(found.imag / STEP, central, rtol=1e-6, atol=1e-12)


def test_magnitude_keeps_the_step():
    """d|x|/dx is the sign of x; rounded, it is x / sqrt(x^2 + e^2) and 0 at rest."""
    x = np.array([-2.0, 3.0])
    np.testing.assert_array_equal(magnitude(x), [2.0, 3.0])
    np.testing.assert_array_equal(magnitude(x + 1j * STEP).imag, [-STEP, STEP])
    rounded = magnitude(np.array([-4.0, 0.0]) + 1j * STEP, rounding=3.0)
    np.testing.assert_allclose(rounded.real, [5.0, 3.0], rtol=1e-15)
    np.testing.assert_allclose(rounded.imag / STEP, [-0.8, 0.0], atol=1e-15)
