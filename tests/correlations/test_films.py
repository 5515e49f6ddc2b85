"""Natural convection and radiation at a wall against textbook examples and the library."""

from __future__ import annotations

import ht
import numpy as np
import pytest
from scipy.constants import Stefan_Boltzmann

from flownet.physics import air, films
from tests.published import rows

STEP = 1e-30
KELVIN = 273.15


def state(row):
    """Surface and air temperature, height and pressure of a row, in kelvin."""
    given = row.given
    surface, still = given["surface_temperature"] + KELVIN, given["air_temperature"] + KELVIN
    return surface, still, given["height"], given["pressure"]


@pytest.mark.parametrize("row", rows("heat", "H1"), ids=str)
def test_glass_door(row):
    surface, still, height, pressure = state(row)
    film = films.natural_film(surface, still, height, pressure)
    row.check(
        rayleigh=films.rayleigh_number(surface, still, height, pressure),
        heat=film * height * row.given["width"] * (surface - still),
    )


@pytest.mark.parametrize("row", rows("heat", "H1n"), ids=str)
def test_nusselt_number(row):
    prandtl = row.given["prandtl"]
    row.check(nusselt=films.churchill_chu_1975(prandtl * row.given["grashof"], prandtl))


def test_nusselt_number_agrees_with_the_library_over_its_range():
    rayleigh = np.geomspace(0.1, 1e12, 200)
    for prandtl in (0.69, 0.71, 7.0, 100.0):
        library = [ht.Nu_vertical_plate_Churchill(prandtl, ra / prandtl) for ra in rayleigh]
        ours = films.churchill_chu_1975(rayleigh, prandtl)
        np.testing.assert_allclose(ours, library, rtol=1e-12)


@pytest.mark.parametrize("row", rows("heat", "H3"), ids=str)
def test_square_plate(row):
    surface, still, height, pressure = state(row)
    area = height * row.given["width"]
    film = films.natural_film(surface, still, height, pressure)
    row.check(
        rayleigh=films.rayleigh_number(surface, still, height, pressure),
        vertical=film * area * (surface - still),
        radiation=films.radiation_flux(surface, still, 1.0) * area,
    )


@pytest.mark.parametrize("row", rows("heat", "H5", "H6"), ids=str)
def test_horizontal_nusselt_numbers(row):
    """H5 in watts, on a quarter of the side of a square; H6 as they are."""
    given = row.given
    side = given.get("side")
    rayleigh = given["prandtl"] * given["grashof"] / (64.0 if side else 1.0)
    watts = given["conductivity"] / (side / 4) * side**2 * given["difference"] if side else 1.0
    row.check(
        up=films.lloyd_moran_1974(rayleigh) * watts, down=films.mcadams_1954(rayleigh) * watts
    )


def test_horizontal_films_agree_with_the_library_and_do_not_jump():
    """Except from 4.7e6 to 1e7, where the third root is already taken: up to 6 % more."""
    rayleigh = np.geomspace(1e4, 1e10, 400)
    for up, ours in ((True, films.lloyd_moran_1974), (False, films.mcadams_1954)):
        library = np.array([ht.Nu_horizontal_plate_McAdams(0.7, r / 0.7, up) for r in rayleigh])
        found = ours(rayleigh)
        early = (rayleigh > 4.7e6) & (rayleigh <= 1e7) & up
        np.testing.assert_allclose(found[~early], library[~early], rtol=1e-3)
        assert np.all(found[early] < 1.065 * library[early])
        assert np.all(np.diff(np.log(found)) < 0.35 * np.diff(np.log(rayleigh)))
    warm = np.array([305.0, 300.0])
    assert films.natural_film(*warm, 0.2, 9e4, 1) == pytest.approx(
        films.natural_film(*warm[::-1], 0.2, 9e4, -1), rel=1e-14
    )  # a warm face that looks up and a cold one that looks down


def test_film_is_the_same_for_a_warm_and_a_cold_wall():
    warm = films.natural_film(320.0, 300.0, 0.8, 9e4)
    assert films.natural_film(300.0, 320.0, 0.8, 9e4) == pytest.approx(warm, rel=1e-14)


def test_film_without_difference_is_that_of_still_air():
    """At Ra -> 0 the source gives Nu = 0.825^2; at 1 mK the film has begun to move."""
    assert films.churchill_chu_1975(0.0, 0.7) == pytest.approx(0.825**2, rel=1e-14)
    rest = films.natural_film(300.0, 300.0, 0.1, 101325.0)
    creeping = films.natural_film(300.0 + 1e-3, 300.0, 0.1, 101325.0)
    assert 0.825**2 * air.conductivity(300.0) / 0.1 < rest < creeping


def test_rounding_at_rest_is_not_felt_at_a_tenth_of_a_kelvin():
    """Ra from its definition, without the rounding, at differences that matter."""
    difference = np.array([0.1, 1.0, 30.0])
    mean = 300.0 + difference / 2
    nu = air.viscosity(mean) / air.density(mean, 101325.0)
    grashof = 9.80665 / mean * difference * 0.5**3 / nu**2
    ours = films.rayleigh_number(300.0 + difference, 300.0, 0.5, 101325.0)
    np.testing.assert_allclose(ours, grashof * air.prandtl(mean), rtol=1e-4)


def test_heat_flux_has_a_slope_at_rest():
    """q = h dT is odd in dT and its complex step at rest is the film there."""

    def flux(surface):
        return films.natural_film(surface, 300.0, 1.0, 101325.0) * (surface - 300.0)

    stepped = flux(np.array([300.0 + 1j * STEP]))
    film = films.natural_film(300.0, 300.0, 1.0, 101325.0)
    np.testing.assert_allclose(stepped.imag / STEP, film, rtol=1e-12)


def test_radiation_is_the_law_of_stefan_and_boltzmann():
    """The constant is CODATA's; film times difference is the difference of fourth powers."""
    np.testing.assert_allclose(films.STEFAN_BOLTZMANN, Stefan_Boltzmann, rtol=1e-9)
    hot, cold = np.array([250.0, 300.0, 400.0]), 290.0
    expected = 0.9 * Stefan_Boltzmann * (hot**4 - cold**4)
    np.testing.assert_allclose(films.radiation_flux(hot, cold, 0.9), expected, rtol=1e-9)
    film = films.radiation_flux(300.0 + 1j * STEP, 300.0, 1.0).imag / STEP
    assert film == pytest.approx(4 * Stefan_Boltzmann * 300.0**3, rel=1e-9)
