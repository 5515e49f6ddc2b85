"""Wall friction against the published equations, the library, and the exact laminar series."""

from __future__ import annotations

import fluids
import numpy as np
import pytest
from scipy.optimize import brentq

from flownet.physics import friction
from tests.each import every
from tests.published import rows

STEP = 1e-30
REYNOLDS = np.concatenate(([0.0, 1e-3, 0.5], np.geomspace(1.0, 1e8, 200)))


def exact_rectangle(aspect_ratio):
    """Fanning f Re from the Fourier series of laminar flow in a rectangle (long by short)."""
    if aspect_ratio == 0.0:
        return 24.0
    odd = np.arange(1, 400, 2) * np.pi / 2
    shape = 1.0 - aspect_ratio * np.sum(np.tanh(odd / aspect_ratio) / odd**5) * 6.0
    return 24.0 / ((1.0 + aspect_ratio) ** 2 * shape)


@pytest.mark.parametrize("row", rows("losses", "L7"), ids=str)
def test_friction_factor(row):
    row.check(friction_factor=friction.churchill_1977(**row.given))


@every("roughness", [0.0, 1e-6, 1e-4, 1e-2, 0.05])
def test_churchill_agrees_with_the_library_over_its_range(roughness):
    reynolds = np.geomspace(1e-3, 1e8, 500)
    library = [fluids.friction.Churchill_1977(re, roughness) for re in reynolds]
    np.testing.assert_allclose(friction.churchill_1977(reynolds, roughness), library, rtol=1e-12)
    product = friction.churchill_product(reynolds, roughness)
    np.testing.assert_allclose(product, reynolds * library, rtol=1e-12)


@pytest.mark.parametrize("row", rows("losses", "L7c"), ids=str)
def test_head_lost_in_a_long_pipe(row):
    """Darcy-Weisbach in feet, standard gravity."""
    given = row.given
    diameter = given["diameter"] / 12
    velocity = given["flow"] / (np.pi * diameter**2 / 4)
    factor = friction.churchill_1977(given["reynolds"], given["roughness"] / diameter)
    gravity = 9.80665 / 0.3048
    row.check(head=factor * given["length"] / diameter * velocity**2 / (2 * gravity))


@pytest.mark.parametrize("row", rows("losses", "L7d"), ids=str)
def test_drop_of_a_steel_pipe(row):
    """The same drop from the factor and from the product f Re that the network uses."""
    given = row.given
    diameter, length, viscosity = (given[k] for k in ("diameter", "length", "viscosity"))
    velocity = given["flow"] / (np.pi * diameter**2 / 4)
    reynolds = given["density"] * velocity * diameter / viscosity
    roughness = given["roughness"] / diameter
    product = friction.churchill_product(reynolds, roughness)
    drop = product * viscosity * velocity * length / (2 * diameter**2)
    row.check(friction_factor=friction.churchill_1977(reynolds, roughness), drop=drop)


@pytest.mark.parametrize("row", rows("losses", "L7f"), ids=str)
def test_size_of_a_smooth_air_duct(row):
    """The diameter at which the duct loses the given head of air."""
    given = row.given

    def state(diameter):
        velocity = given["flow"] / (np.pi * diameter**2 / 4)
        reynolds = velocity * diameter / given["viscosity"]
        return velocity, reynolds, friction.churchill_1977(reynolds, 0.0)

    def excess(diameter):
        velocity, _, factor = state(diameter)
        return factor * given["length"] / diameter * velocity**2 / (2 * 9.80665) - given["head"]

    diameter = brentq(excess, 0.1, 1.0)
    velocity, reynolds, factor = state(diameter)
    row.check(diameter=diameter, friction_factor=factor, velocity=velocity, reynolds=reynolds)


@pytest.mark.parametrize("row", rows("losses", "L8"), ids=str)
def test_laminar_rectangles(row):
    """The tabulated ones; the oracle of the next test is checked by them to their last digits."""
    shapes = row.given["aspect_ratio"]
    row.check(product=friction.laminar_rectangle(np.array(shapes)))
    exact = [exact_rectangle(c) for c in shapes]
    np.testing.assert_allclose(exact, row.expected["product"], rtol=2e-5)


def test_laminar_rectangle_agrees_with_the_exact_series():
    """The source's polynomial stays within 0.1 % of the exact solution."""
    aspect_ratio = np.linspace(0.0, 1.0, 101)
    exact = [exact_rectangle(c) for c in aspect_ratio]
    np.testing.assert_allclose(friction.laminar_rectangle(aspect_ratio), exact, rtol=1e-3)


def test_product_at_rest_is_the_laminar_one():
    """Poiseuille: Darcy f Re = 64 in a round duct, four times Fanning's in a rectangle."""
    assert friction.churchill_product(0.0, 0.0) == pytest.approx(64.0, rel=1e-14)
    square = friction.laminar_rectangle(1.0)
    product = friction.churchill_product(np.array([0.0, 1.0, 100.0]), 1e-3, 4 * square)
    np.testing.assert_allclose(product, 4 * square, rtol=1e-9)


def test_a_rectangle_keeps_the_turbulent_law():
    """The laminar term is gone where the flow is turbulent."""
    reynolds = np.geomspace(2e4, 1e8, 50)
    np.testing.assert_allclose(
        friction.churchill_product(reynolds, 1e-3, 96.0),
        friction.churchill_product(reynolds, 1e-3),
        rtol=1e-5,
    )


@pytest.mark.parametrize("row", rows("losses", "L8d"), ids=str)
def test_flow_developing_in_a_square_duct(row):
    """Exact numerical solutions of the developing flow; length ratio 1 and Re = 1/x+."""
    position = np.array(row.given["position"])
    aspect_ratio = row.given["aspect_ratio"]
    ratio = friction.root_area_ratio(aspect_ratio)
    on_root_area = friction.muzychka_yovanovich_2009(position / ratio**2, aspect_ratio)
    row.check(product=on_root_area / ratio)


def test_developing_flow_meets_both_ends():
    """Short: boundary layer 3.44/sqrt(x+), for every shape. Long: the developed duct."""
    shape = np.array([0.05, 0.3, 1.0])
    short = friction.muzychka_yovanovich_2009(1e-7, shape)
    np.testing.assert_allclose(short * np.sqrt(1e-7), 3.44, rtol=1e-4)
    long = friction.muzychka_yovanovich_2009(1e3, shape)
    developed = [exact_rectangle(c) for c in shape]
    np.testing.assert_allclose(long / friction.root_area_ratio(shape), developed, rtol=1e-3)


def test_root_area_ratio_is_geometry():
    gap, width = 0.015, 0.22
    diameter = 2 * gap * width / (gap + width)
    expected = np.sqrt(gap * width) / diameter
    assert friction.root_area_ratio(gap / width) == pytest.approx(expected, rel=1e-14)


def slot_by_the_letter(reynolds, gap, width, length):
    """The slot law written out with its sources' own symbols, for flow that is not at rest."""
    area, diameter, c = gap * width, 2 * gap * width / (gap + width), gap / width
    laminar = 24 * (1 - 1.3553 * c + 1.9467 * c**2 - 1.7012 * c**3 + 0.9564 * c**4 - 0.2537 * c**5)
    reynolds_s = reynolds * np.sqrt(area) / diameter
    position = length / (np.sqrt(area) * reynolds_s)
    developed = laminar * np.sqrt(area) / diameter
    apparent = np.sqrt((3.44 / np.sqrt(position)) ** 2 + developed**2) / reynolds_s
    a = (2.457 * np.log(1 / (7 / reynolds) ** 0.9)) ** 16
    b = (37530 / reynolds) ** 16
    return 8 * ((apparent / 2) ** 12 + (a + b) ** -1.5) ** (1 / 12)


@every(("gap", "width", "length"), [(0.015, 0.22, 0.16), (0.002, 0.2, 0.1), (0.05, 0.05, 0.4)])
def test_slot_is_the_three_sources_put_together(gap, width, length):
    reynolds = np.geomspace(1.0, 1e7, 300)
    diameter = 2 * gap * width / (gap + width)
    product = friction.slot_product(reynolds, gap / width, length / diameter)
    expected = reynolds * slot_by_the_letter(reynolds, gap, width, length)
    np.testing.assert_allclose(product, expected, rtol=1e-12)


def test_slot_at_rest_is_developed_laminar_flow():
    """Between parallel plates Darcy f Re = 96, without a number that is not finite."""
    product, slope = friction.slot_product_and_slope(0.0, 0.0, 20.0)
    assert product == pytest.approx(96.0, rel=1e-14)
    # from the definition: d/dRe of 4 sqrt(3.44^2 Re/20 + 24^2) at 0
    assert slope == pytest.approx(4 * 3.44**2 / 20 / (2 * 24), rel=1e-13)


@every("pair", [
    lambda re: friction.churchill_product_and_slope(re, 0.0),
    lambda re: friction.churchill_product_and_slope(re, 0.01, 96.0),
    lambda re: friction.slot_product_and_slope(re, 0.07, 6.0),
    lambda re: friction.slot_product_and_slope(re, 1.0, 200.0),
])  # fmt: skip
def test_slopes_are_exact(pair):
    """A complex step against the written derivative, from rest to the end of the range."""
    product, slope = pair(REYNOLDS)
    stepped = pair(REYNOLDS + 1j * STEP)[0]
    np.testing.assert_allclose(stepped.real, product, rtol=1e-13)
    np.testing.assert_allclose(stepped.imag / STEP, slope, rtol=1e-12, atol=1e-14)
    drop_slope = product + REYNOLDS * slope
    assert (drop_slope > 0).all(), "a drop must grow with the flow"


def test_slopes_agree_with_central_differences():
    reynolds = np.geomspace(2.0, 1e7, 100)
    step = 1e-5 * reynolds
    for pair in (
        lambda re: friction.churchill_product_and_slope(re, 1e-4),
        lambda re: friction.slot_product_and_slope(re, 0.2, 12.0),
    ):
        central = (pair(reynolds + step)[0] - pair(reynolds - step)[0]) / (2 * step)
        np.testing.assert_allclose(pair(reynolds)[1], central, rtol=1e-6, atol=1e-8)


def test_nothing_overflows_far_outside():
    far = np.array([0.0, 1e-300, 1e-12, 1e12, 1e15])
    for product in (friction.churchill_product(far, 0.0), friction.slot_product(far, 0.1, 5.0)):
        assert np.isfinite(product).all()
        assert (np.diff(product) >= 0).all()
