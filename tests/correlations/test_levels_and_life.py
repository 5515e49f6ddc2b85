"""Sound levels and fan life against published arithmetic."""

from __future__ import annotations

import numpy as np
import pytest

from flownet.correlations import levels, life
from tests.published import rows

STEP = 1e-30


@pytest.mark.parametrize("row", rows("noise_life", "S1", "S2", "S3", "S5"), ids=str)
def test_levels_add_as_energies(row):
    row.check(level=levels.add_levels(np.array(row.given["levels"])))


@pytest.mark.parametrize("row", rows("noise_life", "S4"), ids=str)
def test_many_equal_sources(row):
    row.check(change=levels.add_levels(np.full(row.given["count"], 60.0)) - 60.0)


@pytest.mark.parametrize("row", rows("noise_life", "S6"), ids=str)
def test_level_follows_the_speed(row):
    row.check(change=levels.speed_change(row.given["speed_ratio"]))


@pytest.mark.parametrize("row", rows("noise_life", "S8"), ids=str)
def test_power_to_pressure(row):
    row.check(level=levels.power_to_pressure(**row.given))


@pytest.mark.parametrize("row", rows("noise_life", "S11"), ids=str)
def test_two_slow_fans_against_a_fast_one(row):
    each = 50.0 + levels.speed_change(row.given["speed_ratio"])
    row.check(change=levels.add_levels(np.full(row.given["count"], each)) - 50.0)


def test_field_losses_are_those_of_a_sphere_and_its_half():
    """10 log10 of the area at 1 m, rounded to whole dB."""
    assert levels.FIELD_LOSS["sphere"] == round(10 * np.log10(4 * np.pi))
    assert levels.FIELD_LOSS["hemisphere"] == round(10 * np.log10(2 * np.pi))
    half = levels.power_to_pressure(70.0, 1.0, levels.FIELD_LOSS["hemisphere"])
    assert half == 62.0


def test_distance_in_a_free_field():
    """Intensity falls with the square of the distance: 20 dB per decade, 6.02 dB per doubling."""
    np.testing.assert_allclose(levels.distance_change(np.array([1.0, 10.0])), [0.0, -20.0])
    assert levels.distance_change(2.0) == pytest.approx(-20 * np.log10(2.0), rel=1e-14)
    near = levels.power_to_pressure(80.0, 0.5)
    far = levels.power_to_pressure(80.0, 4.0)
    assert far - near == pytest.approx(levels.distance_change(8.0), rel=1e-14)


def test_sources_that_are_off_add_nothing():
    """Silence has no energy; no source at all is silence again, over the axis asked for."""
    off = levels.SILENCE
    table = np.array([[60.0, off, off], [60.0, 40.0, off]])
    total = levels.add_levels(table)
    np.testing.assert_allclose(total, [60.0 + 10 * np.log10(2.0), 40.0, off])
    np.testing.assert_array_equal(levels.add_levels(table, axis=1)[:1], [60.0])
    assert levels.speed_change(0.0) == off
    np.testing.assert_array_equal(levels.speed_change(np.array([0.0, 1.0])), [off, 0.0])


def test_the_sum_has_a_derivative():
    """d/dLi of the sum is the share of source i in the energy; a silent one has none."""
    single = np.array([60.0, 57.0, 50.0, levels.SILENCE])
    energies = 10 ** (single / 10)
    for k in range(3):
        stepped = single.astype(complex)
        stepped[k] += 1j * STEP
        slope = levels.add_levels(stepped).imag / STEP
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
