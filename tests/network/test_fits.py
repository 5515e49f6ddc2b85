"""Constants of measured tables, padded to one length."""

from __future__ import annotations

import fluids
import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import nnls

from flownet.network import fits

STEP = 1e-30


@given(
    points=st.lists(
        st.tuples(st.floats(0.05, 3.0), st.floats(1.0, 500.0)), min_size=2, max_size=6,
        unique_by=lambda p: round(p[0], 1),
    )
)  # fmt: skip
@settings(max_examples=60, deadline=None, derandomize=True)
def test_split_is_the_bounded_least_squares(points):
    """The two constants through measured points are those of scipy.optimize.nnls."""
    velocity, drop = np.array(points).T
    wanted = nnls(np.column_stack((velocity, velocity**2)), drop)[0]
    np.testing.assert_allclose(fits.split(points), wanted, rtol=1e-7, atol=1e-7 * drop.max())


def test_one_point_gives_the_square_alone():
    """With a single measured point all of it is inertial."""
    assert fits.split([(2.0, 108.0)]) == (0.0, 27.0)


def test_straight_lines_agree_with_numpy_on_padded_tables():
    """numpy.interp row by row; the ends are held."""
    tables = [[(0.0, 3.0), (1.0, 0.5)], [(1.0, 0.5), (2.0, 0.36), (3.0, 0.3)], [(2.0, 0.1)]]
    table = fits.FITS["part", "resistance_over_velocity"](tables)
    points, values = table["velocity"][..., None], table["resistance"][..., None]
    for x in (-1.0, 0.0, 0.3, 1.0, 1.5, 2.0, 2.7, 3.0, 9.0):
        wanted = [np.interp(x, *np.array(rows_).T) for rows_ in tables]
        found = fits.straight_lines(np.full((3, 1), x), points, values)
        np.testing.assert_allclose(found[:, 0], wanted, rtol=1e-14)
    stepped = fits.straight_lines(np.full((3, 1), 1.5 + STEP * 1j), points, values)
    np.testing.assert_allclose(stepped.imag[:, 0] / STEP, [0.0, -0.14, 0.0], rtol=1e-14)


def test_chain_is_padded_with_nothing():
    """Stations that a shorter chain does not have resist nothing."""
    chain = fits.FITS["part", "chain"]([(("junction", 0.4), ("case", 0.25)), (("coil", 1.0),)])
    np.testing.assert_array_equal(chain["resistance"], [[0.4, 0.25], [1.0, 0.0]])


def test_bends_add_up():
    """A duct's bends are the sum of fluids.fittings.bend_rounded, whatever its diameter."""
    found = fits.FITS["duct", "bends"]([((90.0, 1.5), (45.0, 1.0)), ((180.0, 3.0),)])["loss"]
    for diameter in (0.05, 0.4):
        one, two, three = (
            fluids.bend_rounded(Di=diameter, angle=a, rc=r * diameter, Re=1e5, method="Rennels")
            for a, r in ((90.0, 1.5), (45.0, 1.0), (180.0, 3.0))
        )
        np.testing.assert_allclose(found, [one + two, three], rtol=1e-9)
