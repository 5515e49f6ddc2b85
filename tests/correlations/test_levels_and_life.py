"""Sound levels and fan life against published arithmetic."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import weibull_min

from flownet.physics import life, sound
from tests.each import every
from tests.published import rows

STEP = 1e-30


@pytest.mark.parametrize("row", rows("noise_life", "S1", "S2", "S3", "S5", "S9"), ids=str)
def test_levels_add_as_energies(row):
    row.check(level=sound.add_levels(np.array(row.given["levels"])))


@pytest.mark.parametrize("row", rows("noise_life", "S4"), ids=str)
def test_many_equal_sources(row):
    row.check(change=sound.add_levels(np.full(row.given["count"], 60.0)) - 60.0)


@pytest.mark.parametrize("row", rows("noise_life", "S6", "S7"), ids=str)
def test_level_follows_the_speed(row):
    row.check(change=sound.speed_change(row.given["speed_ratio"]))


@pytest.mark.parametrize("row", rows("noise_life", "S8"), ids=str)
def test_power_to_pressure(row):
    row.check(level=sound.power_to_pressure(**row.given))


@pytest.mark.parametrize("row", rows("noise_life", "S11"), ids=str)
def test_two_slow_fans_against_a_fast_one(row):
    each = 50.0 + sound.speed_change(row.given["speed_ratio"])
    row.check(change=sound.add_levels(np.full(row.given["count"], each)) - 50.0)


def test_field_losses_are_those_of_a_sphere_and_its_half():
    """10 log10 of the area at 1 m, rounded to whole dB."""
    assert sound.FIELD_LOSS["sphere"] == round(10 * np.log10(4 * np.pi))
    assert sound.FIELD_LOSS["hemisphere"] == round(10 * np.log10(2 * np.pi))
    half = sound.power_to_pressure(70.0, 1.0, sound.FIELD_LOSS["hemisphere"])
    assert half == 62.0


def test_distance_in_a_free_field():
    """Intensity falls with the square of the distance: 20 dB per decade, 6.02 dB per doubling."""
    np.testing.assert_allclose(sound.distance_change(np.array([1.0, 10.0])), [0.0, -20.0])
    assert sound.distance_change(2.0) == pytest.approx(-20 * np.log10(2.0), rel=1e-14)
    near = sound.power_to_pressure(80.0, 0.5)
    far = sound.power_to_pressure(80.0, 4.0)
    assert far - near == pytest.approx(sound.distance_change(8.0), rel=1e-14)


@pytest.mark.parametrize("row", rows("noise_life", "S12"), ids=str)
def test_a_room_adds_its_reflected_sound(row):
    given, floor = row.given, sound.FIELD_LOSS["hemisphere"]
    direct = sound.power_to_pressure(given["power_level"], given["distance"], floor)
    reflected = sound.reverberant(given["power_level"], given["room_constant"])
    row.check(level=sound.add_levels(np.array([direct, reflected])))


def test_where_a_room_is_as_loud_as_its_source():
    """At the critical distance r = sqrt(Q R / (16 pi)) direct and reflected sound are alike."""
    for room in (10.0, 200.0):
        reach = np.sqrt(room / (16 * np.pi))
        exact = 10 * np.log10(4 * np.pi)
        direct = sound.power_to_pressure(70.0, reach, exact)
        assert sound.reverberant(70.0, room) == pytest.approx(direct, rel=1e-13)


def test_power_and_pressure_lead_back_to_each_other():
    near = sound.power_to_pressure(63.0, 0.7, 8.0)
    assert sound.pressure_to_power(near, 0.7, 8.0) == pytest.approx(63.0, rel=1e-14)


def test_shares_are_those_of_the_energies():
    """60 and 57 dB: 10 ** 6.0 and 10 ** 5.7; what is off has none."""
    found = sound.shares(np.array([60.0, 57.0, sound.SILENCE]))
    energies = np.array([10**6.0, 10**5.7])
    np.testing.assert_allclose(found[:2], energies / energies.sum(), rtol=1e-12)
    assert np.isnan(found[2])
    assert np.isnan(sound.shares(np.full((2, 1), sound.SILENCE))).all()


def test_blade_pass():
    """Seven blades at 2400 rpm pass 280 times a second."""
    assert sound.blade_pass(7.0, 2400 / 60) == pytest.approx(280.0)


def test_sources_that_are_off_add_nothing():
    """Silence has no energy; no source at all is silence again, over the axis asked for."""
    off = sound.SILENCE
    table = np.array([[60.0, off, off], [60.0, 40.0, off]])
    total = sound.add_levels(table)
    np.testing.assert_allclose(total, [60.0 + 10 * np.log10(2.0), 40.0, off])
    np.testing.assert_array_equal(sound.add_levels(table, axis=1)[:1], [60.0])
    assert sound.speed_change(0.0) == off
    np.testing.assert_array_equal(sound.speed_change(np.array([0.0, 1.0])), [off, 0.0])


def test_the_sum_has_a_derivative():
    """d/dLi of the sum is the share of source i in the energy; a silent one has none."""
    single = np.array([60.0, 57.0, 50.0, sound.SILENCE])
    energies = 10 ** (single / 10)
    for k in range(3):
        stepped = single.astype(complex)
        stepped[k] += 1j * STEP
        slope = sound.add_levels(stepped).imag / STEP
        assert slope == pytest.approx(energies[k] / energies.sum(), rel=1e-12)


@pytest.mark.parametrize("row", rows("noise_life", "B1"), ids=str)
def test_life_against_temperature(row):
    given = row.given
    rated, factor = given["rated_temperature"] + 273.15, given["factor_per_10K"]
    warm, test = (
        life.life_at(given["life"], rated, given[k] + 273.15, factor) for k in ("warm", "test")
    )
    row.check(life_warm=warm, acceleration=given["life"] / test)
    assert life.life_at(given["life"], rated, rated, factor) == given["life"]


@pytest.mark.parametrize("row", rows("noise_life", "B7"), ids=str)
def test_life_gains_a_factor_two_at_most(row):
    """2 per 15 K is 2^(2/3) per 10 K; a complex step finds no slope in the cold."""
    given = row.given
    warm = np.array(given["temperatures"]) + 273.15
    found = life.life_at(given["life"], given["rated_temperature"] + 273.15, warm, 2 ** (2 / 3))
    row.check(life=found)
    cold = life.life_at(1.0, 313.15, np.array([250.0 + 1j * STEP, 330.0 + 1j * STEP]), 1.5)
    assert cold[0].imag == 0.0
    assert cold[1].imag / STEP == pytest.approx(-np.log(1.5) / 10 * cold[1].real)


@every("slope", [0.8, 1.1, 2.0, 3.5])
def test_first_failure_is_where_a_weibull_distribution_says(slope):
    """Survival of the set is the product of the survivals: scipy.stats.weibull_min at 0.9."""
    lives = np.array([40e3, 55e3, 90e3, np.inf])
    found = float(life.first_failure(lives, slope))
    survival = 1.0
    for tenth in lives[:3]:
        scale = tenth / weibull_min.ppf(0.1, slope)
        survival *= weibull_min.sf(found, slope, scale=scale)
    assert survival == pytest.approx(0.9, rel=1e-12)


def test_the_weakest_of_equal_fans():
    """L10 / N ** (1 / slope); one fan alone is itself, none never fails."""
    for count in (1, 2, 8):
        lives = np.full((count, 2), 50e3)
        expected = 50e3 / count ** (1 / np.array([1.1, 2.0]))
        np.testing.assert_allclose(life.first_failure(lives, np.array([1.1, 2.0])), expected)
    assert life.first_failure(np.array([np.inf])) == np.inf


def test_first_failure_has_a_derivative():
    """d ln t / d ln L_i is the share of fan i in the hazard; they add up to one."""
    lives, slope = np.array([40e3, 60e3]), 1.4
    found = life.first_failure(lives, slope)
    slopes = []
    for k in range(2):
        stepped = lives.astype(complex)
        stepped[k] += 1j * STEP
        slopes.append(life.first_failure(stepped, slope).imag / STEP * lives[k] / found)
    hazards = lives**-slope
    np.testing.assert_allclose(slopes, hazards / hazards.sum(), rtol=1e-12)


def test_the_default_slope_is_about_the_one_that_a_maker_implies():
    """Mean over L10 of a Weibull distribution, both by scipy.stats.weibull_min; a maker's note has
    about seven (Jamicon, technical note on fan life), which a slope of 1.13 gives."""
    tenth = weibull_min.ppf(0.1, life.SLOPE)
    assert weibull_min.mean(life.SLOPE) / tenth == pytest.approx(7.0, abs=0.5)
